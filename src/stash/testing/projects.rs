//! Small kits for tests.

use super::{apply, at, id, read, rows, wall};
use crate::engine::need::{Stitches, need};
use crate::model::assumptions::Assumptions;
use crate::model::ids::CardId;
use crate::model::label::{Label, Name};
use crate::model::number::Number;
use crate::model::ring::{
    ColourRef, KeyLine, KeyThread, KeyWork, Needle, Notion, NotionKind, StitchCounts,
};
use crate::model::thread::Strands;
use crate::stash::command::import::{Amount, KeyRow, Terms};
use crate::stash::command::{key, ring, thread};
use crate::stash::state::State;

/// Full crosses that need about this many strands, with the usual assumptions.
fn crosses(strands: u32) -> u32 {
    let of = |full| {
        let stitches = Stitches {
            full,
            ..Stitches::default()
        };
        need(&stitches, &Assumptions::default(), 100)
            .unwrap()
            .strands
            .0
    };
    (0..)
        .take_while(|&full| of(full) <= strands)
        .last()
        .unwrap()
}

/// A stash with cards `NUMBER` or `NUMBER/TAG`, each with a number of strands and of uncut skeins.
pub(crate) fn stash(cards: &[(&str, u32, u32)]) -> State {
    let mut state = wall(3, 6, 1);
    let names: Vec<&str> = cards.iter().map(|(name, ..)| *name).collect();
    let mut list = rows(&names);
    for (row, &(name, strands, uncut)) in list.iter_mut().zip(cards) {
        if let Some((number, tag)) = name.split_once('/') {
            (row.number, row.tag) = (number.to_owned(), Some(tag.to_owned()));
        }
        row.amount = Some(Amount::Lengths(f64::from(strands) / 6.0));
        row.uncut = Some(uncut);
    }
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    state
}

/// Gives a project a chart key of `(NUMBER, strands needed)`.
pub(crate) fn give_key(state: &mut State, project: &str, key: &[(&str, u32)]) {
    let rows: Vec<KeyRow> = key
        .iter()
        .zip(2..)
        .map(|(&(number, strands), line)| KeyRow {
            line,
            number: number.to_owned(),
            stitches: crosses(strands),
            ..KeyRow::default()
        })
        .collect();
    let keyed = key::import(state, &rows, Vec::new(), project, &Terms::default(), at(9));
    if let Some(event) = keyed.unwrap().event {
        apply(state, &event);
    }
}

/// A thread of a number in the first range, with this many strands in the needle.
pub(crate) fn thread(state: &State, number: &str, strands: u8) -> KeyThread {
    let range = state.ranges().next().unwrap().id;
    KeyThread {
        strands,
        ..KeyThread::new(ColourRef::new(range, Number::new(number).unwrap()))
    }
}

/// A line of full crosses.
pub(crate) fn line_of(threads: &[KeyThread], full: u32) -> KeyLine {
    KeyLine {
        symbol: Label::empty(),
        work: KeyWork::Threads {
            needle: Needle::new(threads.to_vec()).unwrap(),
            stitches: StitchCounts {
                full,
                ..StitchCounts::default()
            },
        },
    }
}

/// A line of beads.
pub(crate) fn notion(name: &str, pieces: u32) -> KeyLine {
    KeyLine {
        symbol: Label::empty(),
        work: KeyWork::Notion(Notion {
            name: Name::new(name).unwrap(),
            kind: NotionKind::Bead,
            pieces,
        }),
    }
}

/// Takes cards to a ring.
pub(crate) fn take(state: &mut State, project: &str, cards: &[&str]) {
    let ids: Vec<CardId> = cards.iter().map(|name| id(state, name)).collect();
    let event = ring::take(state, project, &ids, at(3)).unwrap();
    apply(state, &event);
}

/// Uses strands of a card, or of the thread on the ring it is on.
pub(crate) fn use_up(state: &mut State, name: &str, strands: u32) {
    let event = thread::use_thread(state, None, id(state, name), Strands(strands), None).unwrap();
    apply(state, &event);
}
