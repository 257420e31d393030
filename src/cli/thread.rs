//! `homehook ring decant`, `ring merge` and `use`.

use std::path::Path;

use jiff::Timestamp;
use serde_json::json;

use super::args::{Amount, DecantArgs, UseArgs};
use super::failure::Failure;
use super::output::Output;
use super::run;
use crate::exchange::export::CardOut;
use crate::exchange::export::LowOut;
use crate::language::say;
use crate::model::thread::Strands;
use crate::stash::change::Change;
use crate::stash::command::thread;
use crate::stash::event::{Act, Event};
use crate::stash::kit::low::{low_in_words, low_of};
use crate::stash::kit::words::amount_in_words;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::act_in_words;

/// Winds thread onto a spare card on a project's ring.
pub fn decant(args: &DecantArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        let card = state.find_card(&args.card)?;
        let amount = strands(&args.amount);
        thread::decant(state, &args.project, card, amount, &args.label, now)
    })
}

/// Winds thread back from a spare card.
pub fn merge(project: &str, card: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, _| {
        thread::merge(state, state.need_ring(project)?, state.find_card(card)?)
    })
}

/// Uses thread.
pub fn use_thread(args: &UseArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, _| {
        let project = args.project.as_ref();
        let ring = project
            .map(|project| state.need_ring(project))
            .transpose()?;
        let card = state.find_card(&args.card)?;
        thread::use_thread(state, ring, card, strands(&args.amount))
    })
}

fn strands(amount: &Amount) -> Strands {
    let whole = Strands::from_lengths(amount.lengths.unwrap_or(0));
    Strands(whole.0.saturating_add(amount.strands.unwrap_or(0)))
}

/// Makes a change, and says what is left on the cards it touched.
fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    let changed = run::change(dir, output, ask)?;
    let state = changed.keeper.state();
    let words = act_in_words(state, &changed.event.act);
    let touched = changed
        .event
        .changes
        .iter()
        .filter_map(|change| match change {
            Change::Thread { card, .. } => state.card(*card),
            _ => None,
        });
    let low = match changed.event.act {
        Act::Use { card, .. } => {
            let ring = state.card(card).and_then(|kept| kept.place.at.ring());
            let ring = ring.and_then(|ring| state.ring(ring));
            ring.and_then(|ring| low_of(state, ring, card))
        }
        _ => None,
    };
    if output.is_json() {
        let cards: Vec<CardOut> = touched.map(|kept| CardOut::of(state, kept)).collect();
        output.object(&json!({
            "done": words,
            "event": changed.seq,
            "cards": cards,
            "low": low.map(|low| LowOut::of(state, &low)),
        }))?;
        return Ok(());
    }
    output.line(format_args!("{words}."))?;
    for kept in touched {
        output.line(say!(
            "  {card}  {name}: {amount} on it, {place}",
            card = state.card_name(kept),
            name = kept.card.name,
            amount = amount_in_words(kept.strands),
            place = state.place_in_words(kept)
        ))?;
    }
    if let Some(low) = low {
        output.line(say!("  Low: {low}.", low = low_in_words(state, &low)))?;
    }
    Ok(())
}
