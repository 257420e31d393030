//! `homehook remove`.

use std::path::Path;

use clap::Args;
use serde::Serialize;

use super::change;
use super::failure::Failure;
use super::output::Output;
use crate::exchange::export::CardOut;
use crate::model::ids::CardId;
use crate::stash::command::leave::remove;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;

/// Which cards, and why.
#[derive(Debug, Args)]
pub struct RemoveArgs {
    /// NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// Why, for the log: given to Bea, moths.
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub why: String,
}

/// What was removed.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Removed {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The number of the event in the record.
    event: u64,
    /// The cards as they were before.
    cards: Vec<CardOut>,
}

fn asked(state: &State, args: &RemoveArgs) -> Result<(Vec<CardId>, Event), Refusal> {
    let cards = state.find_cards(&args.cards)?;
    let event = remove(state, &cards, &args.why)?;
    Ok((cards, event))
}

/// Takes cards out of the stash, and says what was on them and where they were.
pub fn run(args: &RemoveArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let ask = |state: &State, _| asked(state, args);
    let (writing, now, (cards, event)) = change::ask(dir, output, ask)?;
    let state = writing.state();
    let done = text::history::act(state, &event.act);
    let going = || cards.iter().filter_map(|&card| state.card(card));
    let lines: Vec<String> = going()
        .map(|kept| {
            format!(
                "  {card}  {name}: {amount} on it{skeins}; it was {place}",
                card = state.card_name(kept),
                name = kept.card.name,
                amount = text::thread::amount(kept.strands(), state.put_up(&kept.card)),
                skeins = text::thread::and_skeins(kept.skeins()),
                place = text::places::place_of(state, kept)
            )
        })
        .collect();
    let cards: Vec<CardOut> = going().map(|kept| CardOut::of(state, kept)).collect();
    let (_, event) = writing.commit(now, &event, output)?;
    if output.is_json() {
        output.object(&Removed { done, event, cards })?;
        return Ok(());
    }
    output.line(format_args!("{done}."))?;
    for line in lines {
        output.line(line)?;
    }
    Ok(())
}
