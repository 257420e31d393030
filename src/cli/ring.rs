//! `homehook ring`, `missing` and `found`.

use std::path::Path;

use jiff::Timestamp;
use serde_json::json;

use super::args::RingCommand;
use super::failure::Failure;
use super::output::Output;
use super::pin::ids;
use super::{fabric, key, open, plain, progress, pull, run, thread};
use crate::exchange::export::{CardOut, RingOut};
use crate::model::ids::RingId;
use crate::stash::change::Change;
use crate::stash::command::ring;
use crate::stash::event::{Act, Event};
use crate::stash::kit::low::{low, low_in_words};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::act_in_words;

/// Does what was asked of rings.
pub fn run(command: RingCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        RingCommand::Take { project, cards } => change(dir, output, |state, now| {
            ring::take(state, &project, &ids(state, &cards)?, now)
        }),
        RingCommand::Return {
            project,
            cards,
            all,
        } => change(dir, output, |state, now| {
            let ring = state.need_ring(&project)?;
            if all {
                ring::give_back_all(state, ring, now)
            } else {
                ring::give_back(state, ring, &ids(state, &cards)?, now)
            }
        }),
        RingCommand::Park { project, mark } => change(dir, output, |state, now| {
            ring::park(state, state.need_ring(&project)?, &mark, now)
        }),
        RingCommand::Unpark { project } => change(dir, output, |state, _| {
            ring::unpark(state.need_ring(&project)?)
        }),
        RingCommand::Close { project } => change(dir, output, |state, now| {
            ring::close(state, state.need_ring(&project)?, now)
        }),
        RingCommand::Decant(args) => thread::decant(&args, dir, output),
        RingCommand::Merge { project, card } => thread::merge(&project, &card, dir, output),
        RingCommand::Open { project } => {
            change(dir, output, |state, now| ring::open(state, &project, now))
        }
        RingCommand::Pull(args) => pull::run(&args, dir, output),
        RingCommand::Key { project } => key::show(&project, dir, output),
        RingCommand::Progress(args) => progress::run(&args, dir, output),
        RingCommand::Fabric(args) => fabric::run(&args, dir, output),
        RingCommand::List => {
            let reading = open::reading(dir, output)?;
            list(reading.state(), output)
        }
    }
}

/// Declares cards missing.
pub fn missing(cards: &[String], dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        ring::missing(state, &ids(state, cards)?, now)
    })
}

/// Finds a card again.
pub fn found(card: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        ring::found(state, state.find_card(card)?, now)
    })
}

/// Makes a change, and says which cards it moved and what has become of the ring.
fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    let changed = run::change(dir, output, ask)?;
    let state = changed.keeper.state();
    let words = act_in_words(state, &changed.event.act);
    let moved = || {
        let cards = changed
            .event
            .changes
            .iter()
            .filter_map(|change| match change {
                Change::Place { card, .. } => Some(*card),
                _ => None,
            });
        cards.filter_map(|id| state.card(id))
    };
    if !output.is_json() {
        output.line(format_args!("{words}."))?;
        for kept in moved() {
            output.line(format_args!(
                "  {}  {}: {}",
                state.card_name(kept),
                kept.card.name,
                state.place_in_words(kept)
            ))?;
        }
        return Ok(());
    }
    let ring = ring_of(&changed.event.act).and_then(|id| state.ring(id));
    let cards: Vec<CardOut> = moved().map(|kept| CardOut::of(state, kept)).collect();
    output.object(&json!({
        "done": words,
        "event": changed.seq,
        "moved": cards,
        "ring": ring.map(|ring| RingOut::of(state, ring)),
    }))?;
    Ok(())
}

const fn ring_of(act: &Act) -> Option<RingId> {
    match act {
        Act::OpenRing { ring }
        | Act::Take { ring, .. }
        | Act::Return { ring, .. }
        | Act::Park { ring }
        | Act::Unpark { ring }
        | Act::Close { ring } => Some(*ring),
        _ => None,
    }
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        let rings: Vec<RingOut> = state.rings().map(|ring| RingOut::of(state, ring)).collect();
        output.object(&json!({ "rings": rings }))?;
        return Ok(());
    }
    let now = Timestamp::now();
    for ring in state.rings() {
        output.line(plain::ring_line(state, ring, now))?;
        let cards: Vec<String> = state
            .cards_on(ring)
            .map(|kept| state.card_name(kept))
            .collect();
        if !cards.is_empty() {
            output.line(format_args!("  {}", cards.join(", ")))?;
        }
        for low in low(state, ring) {
            output.line(format_args!("  Low: {}.", low_in_words(state, &low)))?;
        }
    }
    if state.rings().len() == 0 {
        output.line("There are no rings yet.")?;
    }
    Ok(())
}
