//! Messages about changes that are on disk.

use std::collections::BTreeSet;

use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::colours::lookalikes;
use crate::stash::event::{Act, Change};
use crate::stash::history::UndoEntry;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::Stash;

/// A summary of an act, with what the user has to do at the wall. For an undo or redo, it describes
/// the act undone or redone.
pub fn told(stash: Stash<'_>, act: &Act) -> String {
    let state = stash.state;
    let words = |past: Option<&UndoEntry>| {
        past.map_or_else(String::new, |past| text::history::act(state, &past.act))
    };
    let last = stash.history.last_done();
    match act {
        Act::Undo { .. } => {
            let undone = stash.history.last_undone();
            format!(
                "Undone: {words}{now}",
                words = words(undone),
                now = undone.map_or_else(String::new, |past| put_right(state, past))
            )
        }
        Act::Redo { .. } => format!(
            "Redone: {words}{now}",
            words = words(last),
            now = last.map_or_else(String::new, |past| put_right(state, past))
        ),
        Act::Missing { cards: 1 } => match last
            .and_then(|past| past.event.moved().next())
            .and_then(|card| state.card(card))
        {
            Some(kept) => format!("{card} is marked as missing", card = state.card_name(kept)),
            _ => text::history::act(state, act),
        },
        Act::Found { card } => {
            let what = text::history::act(state, act);
            let place = state.card(*card).map(|kept| &kept.place.at);
            if let Some(hook) = place.and_then(Whereabouts::hook) {
                format!("{what}: hang it on {hook}", hook = state.hook_name(hook))
            } else if place == Some(&Whereabouts::Unhung) {
                format!("{what}: it is to hang, since it has no hook yet")
            } else {
                what
            }
        }
        act => {
            let what = std::iter::once(text::history::act(state, act));
            what.chain(scarce(stash, act))
                .chain(similar(stash))
                .collect::<Vec<_>>()
                .join(". ")
        }
    }
}

/// The first of the last change's new cards whose number reads like another: `0310 is a new card. Did
/// you mean 310?`
fn similar(stash: Stash<'_>) -> Option<String> {
    let last = stash.history.last_done()?;
    let found = lookalikes(stash.state, &last.event);
    found.first().map(text::lookalike)
}

/// Warnings about discontinued colours whose thread an act used, cut, counted, split or rejoined:
/// `3: discontinued, this is the last uncut skein`.
pub fn scarce(stash: Stash<'_>, act: &Act) -> Vec<String> {
    let is_of_thread = matches!(
        act,
        Act::Use { .. }
            | Act::Cut { .. }
            | Act::Count { .. }
            | Act::Split { .. }
            | Act::Rejoin { .. }
    );
    let last = stash.history.last_done().filter(|_| is_of_thread);
    let changes = last.into_iter().flat_map(|past| &past.event.changes);
    let cards: BTreeSet<CardId> = changes
        .filter_map(|change| match change {
            Change::Thread { card, .. } => Some(*card),
            _ => None,
        })
        .collect();
    let cards = cards.into_iter().filter_map(|card| stash.state.card(card));
    let told = cards.filter_map(|kept| {
        let words = text::thread::scarcity(stash.state, &kept.colour_ref())?;
        Some(format!(
            "{card}: {words}",
            card = stash.state.card_name(kept)
        ))
    });
    told.collect()
}

/// What the user has to do at the wall so that it matches the record after an undo or redo, such as
/// `; hang it on G11 again`. Empty if no card moved.
fn put_right(state: &State, past: &UndoEntry) -> String {
    let mut cards = past.event.moved().filter_map(|card| state.card(card));
    let (Some(kept), others) = (cards.next(), cards.count()) else {
        return String::new();
    };
    if others > 0 {
        return "; the board shows where the cards belong now".to_owned();
    }
    format!("; {}", text::places::again(state, kept, &past.act))
}
