//! `homehook undo` and `redo`.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::export::CardOut;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::Act;
use crate::stash::history::UndoEntry;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::export;

/// What was undone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Undone {
    /// The changes that were undone, the newest first.
    undone: Vec<TurnOut>,
    /// The cards that are somewhere else by it, as they are now.
    cards: Vec<CardOut>,
}

/// What was redone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Redone {
    /// The changes that were redone, in the order they came about.
    redone: Vec<TurnOut>,
    /// The cards that are somewhere else by it, as they are now.
    cards: Vec<CardOut>,
}

/// A change that was undone or redone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct TurnOut {
    /// The number of the new event in the record.
    event: u64,
    /// What was undone or redone, as a sentence without its full stop.
    what: String,
}

/// Which way.
#[derive(Clone, Copy)]
enum Turn {
    Undo,
    Redo,
}

/// What was taken back or done again.
#[derive(Default)]
struct Done {
    /// The number of each event, and what it took back or did again, newest first.
    events: Vec<(u64, String)>,
    /// The cards it put somewhere: where they were before all of it, and what was the act.
    moved: BTreeMap<CardId, (Option<Whereabouts>, Act)>,
}

impl Done {
    /// Notes what is about to be taken back or done again.
    fn note(&mut self, state: &State, past: &UndoEntry) {
        for card in past.event.moved() {
            let at = || state.card(card).map(|kept| kept.place.at.clone());
            let was = self.moved.remove(&card).map_or_else(at, |(was, _)| was);
            self.moved.insert(card, (was, past.act.clone()));
        }
    }

    /// The cards that are somewhere else now than before all of it, in board order.
    fn elsewhere<'a>(&self, state: &'a State) -> Vec<&'a CardState> {
        let moved = self.moved.iter();
        let cards = moved.filter_map(|(&card, (was, _))| {
            let kept = state.card(card)?;
            (was.as_ref() != Some(&kept.place.at)).then_some(kept)
        });
        state.in_board_order(cards)
    }
}

/// Takes back the last `count` changes, or as many as there are.
pub(crate) fn undo(count: u32, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let (mut writing, ..) = open::writing(dir, output, |_, _| Ok(()))?;
    let mut done = Done::default();
    while done.events.len() < count as usize {
        let Some(past) = writing.store().history().last_done().cloned() else {
            break;
        };
        // The names are known before the change is undone, perhaps not after.
        let words = text::history::act(writing.state(), &past.act);
        done.note(writing.state(), &past);
        let seq = writing.turn(|store| store.undo(Timestamp::now()), output)?;
        done.events.push((seq, words));
    }
    let store = writing.release(output);
    if done.events.is_empty() {
        return Err(Refusal::NothingToUndo.into());
    }
    tell(Turn::Undo, store.state(), &done, count, output)
}

/// Does again the last `count` changes that were taken back, or as many as there are.
pub(crate) fn redo(count: u32, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let (mut writing, ..) = open::writing(dir, output, |_, _| Ok(()))?;
    let mut done = Done::default();
    while done.events.len() < count as usize {
        let Some(past) = writing.store().history().last_undone().cloned() else {
            break;
        };
        done.note(writing.state(), &past);
        let seq = writing.turn(|store| store.redo(Timestamp::now()), output)?;
        done.events
            .push((seq, text::history::act(writing.state(), &past.act)));
    }
    let store = writing.release(output);
    if done.events.is_empty() {
        return Err(Refusal::NothingToRedo.into());
    }
    tell(Turn::Redo, store.state(), &done, count, output)
}

/// Says what was done, newest first, and then where the cards go by it, in board order.
fn tell(
    turn: Turn,
    state: &State,
    done: &Done,
    count: u32,
    output: &mut Output,
) -> Result<(), Failure> {
    let cards = done.elsewhere(state);
    if output.is_json() {
        let events = done.events.iter();
        let events = events.map(|&(event, ref what)| TurnOut {
            event,
            what: what.clone(),
        });
        let events = events.collect();
        let cards = cards
            .iter()
            .map(|kept| CardOut::of(export(state), kept))
            .collect();
        match turn {
            Turn::Undo => output.object(&Undone {
                undone: events,
                cards,
            })?,
            Turn::Redo => output.object(&Redone {
                redone: events,
                cards,
            })?,
        }
        return Ok(());
    }
    let words = match turn {
        Turn::Undo => "Taken back",
        Turn::Redo => "Done again",
    };
    for (_, what) in &done.events {
        output.line(format_args!("{words}: {what}."))?;
    }
    for kept in cards {
        if let Some((_, act)) = done.moved.get(&kept.card.id) {
            output.line(format_args!(
                "  {}: {}",
                text::places::card_and_colour(state, kept),
                text::places::again(state, kept, act)
            ))?;
        }
    }
    if done.events.len() < count as usize {
        output.line(format!(
            "There is nothing more: {done} of {count}.",
            done = done.events.len()
        ))?;
    }
    Ok(())
}
