//! `homehook hang`.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde_json::{Value, json};

use super::failure::Failure;
use super::output::Output;
use super::{change, open};
use crate::exchange::export::CardRef;
use crate::stash::command::hang::{Hanging, Wall};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;

/// Which card, and where.
#[derive(Debug, Args)]
pub struct HangArgs {
    /// NUMBER or RANGE:NUMBER.
    pub card: String,
    /// The hook's mark.
    pub hook: String,
    /// Say what there is to know of it, and change nothing.
    #[arg(long)]
    pub dry_run: bool,
}

/// What is asked for, on a stash as it stands.
fn asked<'a>(state: &'a State, args: &HangArgs) -> Result<Hanging<'a>, Refusal> {
    let wall = Wall::new(state, state.find_card(&args.card)?)?;
    wall.at(state.find_hook(&args.hook)?)
}

/// Hangs a card on a hook, or says what there is to know of it.
pub fn run(args: &HangArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.dry_run {
        let reading = open::reading(dir, output)?;
        let state = reading.state();
        let (mut words, object) = told(state, &asked(state, args)?);
        words.push("This was a dry run: nothing was changed.".to_owned());
        return tell(&words, object, output);
    }
    let ask = |state: &State, now: Timestamp| {
        let hanging = asked(state, args)?;
        Ok((hanging.event(now)?, told(state, &hanging)))
    };
    let (writing, now, (event, (words, mut object))) = change::ask(dir, output, ask)?;
    let (_, seq) = writing.commit(now, &event, output)?;
    object["event"] = json!(seq);
    tell(&words, object, output)
}

/// What there is to know, in sentences and for scripts.
fn told(state: &State, hanging: &Hanging<'_>) -> (Vec<String>, Value) {
    let card = |kept: Option<&CardState>| kept.map(|kept| CardRef::of(state, kept));
    let sides = |(after, before)| json!({"after": card(after), "before": card(before)});
    let cards = |cards: &[&CardState]| -> Vec<CardRef> {
        let cards = cards.iter();
        cards.map(|kept| CardRef::of(state, kept)).collect()
    };
    let object = json!({
        "event": null,
        "card": CardRef::of(state, hanging.kept),
        "from": hanging.kept.home.map(|hook| state.hook_name(hook)),
        "to": state.hook_name(hanging.hook),
        "hangs": hanging.is_moved(),
        "keeps_order": hanging.keeps_order,
        "with": cards(&hanging.beside),
        "between": sides((hanging.before, hanging.after)),
        "belongs": sides(hanging.belongs),
        "warnings": text::hang::warnings(hanging),
    });
    (text::hang::all(hanging), object)
}

fn tell(words: &[String], mut object: Value, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        object["done"] = json!(words.join(" "));
        output.object(&object)?;
        return Ok(());
    }
    for sentence in words {
        output.line(sentence)?;
    }
    Ok(())
}
