//! `homehook hang`.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

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

/// A card on a hook of one's choice.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Hung {
    /// All there is to know, in sentences.
    done: String,
    /// The number of the event in the record; `null` after `--dry-run`.
    event: Option<u64>,
    /// The card.
    card: CardRef,
    /// The hook it belonged on.
    from: Option<String>,
    /// The hook it belongs on now.
    to: String,
    /// Whether the card itself is hung; false where it is away and only its home changes.
    hangs: bool,
    /// Whether the wall stays in order.
    keeps_order: bool,
    /// The other cards that belong on that hook.
    with: Vec<CardRef>,
    /// The nearest cards before and after that hook.
    between: Sides,
    /// The cards that the wanted order has it between.
    belongs: Sides,
    /// What else there is to know, in sentences without a full stop.
    warnings: Vec<String>,
}

/// The cards on both sides.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct Sides {
    /// The card that comes before; the hung one is after it.
    after: Option<CardRef>,
    /// The card that comes next; the hung one is before it.
    before: Option<CardRef>,
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
        let (mut words, hung) = told(state, &asked(state, args)?);
        words.push("This was a dry run: nothing was changed.".to_owned());
        return tell(&words, hung, output);
    }
    let ask = |state: &State, now: Timestamp| {
        let hanging = asked(state, args)?;
        Ok((hanging.event(now)?, told(state, &hanging)))
    };
    let (writing, now, (event, (words, mut hung))) = change::ask(dir, output, ask)?;
    let (_, seq) = writing.commit(now, &event, output)?;
    hung.event = Some(seq);
    tell(&words, hung, output)
}

/// What there is to know, in sentences and for scripts.
fn told(state: &State, hanging: &Hanging<'_>) -> (Vec<String>, Hung) {
    let card = |kept: &CardState| CardRef::of(state, kept);
    let sides = |(after, before): (Option<&CardState>, Option<&CardState>)| Sides {
        after: after.map(card),
        before: before.map(card),
    };
    let hung = Hung {
        done: String::new(),
        event: None,
        card: card(hanging.kept),
        from: hanging.kept.home.map(|hook| state.hook_name(hook)),
        to: state.hook_name(hanging.hook),
        hangs: hanging.is_moved(),
        keeps_order: hanging.keeps_order,
        with: hanging.beside.iter().map(|kept| card(kept)).collect(),
        between: sides((hanging.before, hanging.after)),
        belongs: sides(hanging.belongs),
        warnings: text::hang::warnings(hanging),
    };
    (text::hang::all(hanging), hung)
}

fn tell(words: &[String], mut hung: Hung, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        hung.done = words.join(" ");
        output.object(&hung)?;
        return Ok(());
    }
    for sentence in words {
        output.line(sentence)?;
    }
    Ok(())
}
