//! What a change is told as once it is on disk.

use std::collections::BTreeSet;

use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Change};
use crate::stash::history::UndoEntry;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::Stash;

/// What an act was, in words, and what the hands have to do for it; for an undo or a redo, what it took
/// back or did again.
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
            match place {
                Some(Whereabouts::Hook { hook }) => {
                    format!("{what}: hang it on {hook}", hook = state.hook_name(*hook))
                }
                Some(Whereabouts::Unhung) => {
                    format!("{what}: it is to hang, since it has no hook yet")
                }
                _ => what,
            }
        }
        act => {
            let what = std::iter::once(text::history::act(state, act));
            what.chain(scarce(stash, act))
                .collect::<Vec<_>>()
                .join(". ")
        }
    }
}

/// Which of the colours whose thread an act changed are no longer made, and how much uncut thread is the last:
/// `3: discontinued, this is the last uncut skein`. Nothing for an act that is about more than a few cards.
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

/// What the hands have to do after an event was taken back or done again, so that the wall is as the
/// record says: `; hang it on G11 again`. Nothing where no card moved.
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
