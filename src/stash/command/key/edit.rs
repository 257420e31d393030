//! Writing in a pattern's key by hand, line by line.

use std::collections::BTreeSet;

use super::entry;
use crate::model::ring::{KeyEntry, Ring};
use crate::stash::change::{Change, ring_changes};
use crate::stash::command::import::ranges::Ranges;
use crate::stash::event::{Act, Event};
use crate::stash::intake::KeyRow;
use crate::stash::kit::progress::carry_used;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// Writes a line of a key: in place of line `at`, counted from 0, or at its end where there is no
/// such line. `None` where the key says just that already.
///
/// # Errors
/// When the ring is closed, or the row cannot be a line of a key.
pub fn write(
    state: &State,
    ring: &Ring,
    at: Option<usize>,
    row: &KeyRow,
) -> Result<Option<Event>, Refusal> {
    let mut ranges = Ranges::new(state, None)?;
    let new = entry(state, &mut ranges, row).map_err(Refusal::NotALine)?;
    let used = BTreeSet::from([new.range]);
    let changed = edited(state, ring, |key| match at.and_then(|at| key.get_mut(at)) {
        Some(old) => *old = new,
        None => key.push(new),
    })?;
    Ok(changed.map(|mut event| {
        let mut changes: Vec<Change> = ranges.changes(&used).collect();
        changes.append(&mut event.changes);
        Event { changes, ..event }
    }))
}

/// Strikes line `at` out, counted from 0. `None` where there is no such line.
///
/// # Errors
/// When the ring is closed.
pub fn strike(state: &State, ring: &Ring, at: usize) -> Result<Option<Event>, Refusal> {
    edited(state, ring, |key| {
        if at < key.len() {
            key.remove(at);
        }
    })
}

/// Moves line `from`, counted from 0, so that it becomes line `to`: the order of the key is the
/// order of the ring. `None` where one of them is not there, or they are the same.
///
/// # Errors
/// When the ring is closed.
pub fn shift(state: &State, ring: &Ring, from: usize, to: usize) -> Result<Option<Event>, Refusal> {
    edited(state, ring, |key| {
        if from < key.len() && to < key.len() {
            let line = key.remove(from);
            key.insert(to, line);
        }
    })
}

/// The event that a key was changed, if it was. What was used stays with its colour.
fn edited(
    state: &State,
    ring: &Ring,
    edit: impl FnOnce(&mut Vec<KeyEntry>),
) -> Result<Option<Event>, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    let mut after = ring.clone();
    for entry in &mut after.key {
        entry.used_cm = 0;
    }
    edit(&mut after.key);
    carry_used(state, &ring.key, &mut after);
    Ok((after != *ring).then(|| Event {
        act: Act::EditKey { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::import::Terms;
    use crate::stash::command::{key, ring};
    use crate::stash::testing::{apply, at, wall};
    use crate::stash::words::act_in_words;

    fn row(number: &str, stitches: u32) -> KeyRow {
        KeyRow {
            line: 1,
            number: number.to_owned(),
            stitches,
            ..KeyRow::default()
        }
    }

    fn keyed(numbers: &[&str]) -> State {
        let mut state = wall(1, 3, 1);
        let rows: Vec<KeyRow> = numbers.iter().map(|number| row(number, 5)).collect();
        let keyed = key::import(
            &state,
            &rows,
            Vec::new(),
            "Harbour",
            &Terms::default(),
            at(5),
        );
        apply(&mut state, &keyed.unwrap().event.unwrap());
        state
    }

    fn numbers(state: &State) -> Vec<&str> {
        let key = &state.need_ring("Harbour").unwrap().key;
        key.iter().map(|entry| entry.number.as_str()).collect()
    }

    #[test]
    fn lines_are_written_moved_and_struck_out() {
        let mut state = keyed(&["1", "2", "3"]);
        let mut does = |ask: fn(&State, &Ring) -> Result<Option<Event>, Refusal>| {
            let event = ask(&state, state.need_ring("Harbour").unwrap()).unwrap();
            if let Some(event) = &event {
                assert_eq!(
                    act_in_words(&state, &event.act),
                    "Changed the key of the ring 'Harbour'"
                );
                apply(&mut state, event);
            }
            (event.is_some(), numbers(&state).join(" "))
        };
        let told = |text: &str| (true, text.to_owned());
        assert_eq!(
            does(|s, r| write(s, r, Some(1), &row("9", 7))),
            told("1 9 3")
        );
        assert_eq!(
            does(|s, r| write(s, r, None, &row("4", 0))),
            told("1 9 3 4")
        );
        assert_eq!(does(|s, r| shift(s, r, 3, 0)), told("4 1 9 3"));
        assert_eq!(does(|s, r| shift(s, r, 0, 1)), told("1 4 9 3"));
        assert_eq!(does(|s, r| strike(s, r, 2)), told("1 4 3"));
        for unchanged in [
            does(|s, r| shift(s, r, 1, 1)),
            does(|s, r| shift(s, r, 0, 3)),
            does(|s, r| strike(s, r, 3)),
            does(|s, r| write(s, r, Some(2), &row("3", 5))),
        ] {
            assert_eq!(unchanged, (false, "1 4 3".to_owned()));
        }
    }

    #[test]
    fn what_cannot_be_a_line_is_told() {
        let mut state = keyed(&["1"]);
        let harbour = state.need_ring("Harbour").unwrap();
        let wrong = write(&state, harbour, None, &row("", 1)).unwrap_err();
        assert!(
            matches!(&wrong, Refusal::NotALine(why) if !why.is_empty()),
            "{wrong}"
        );
        let close = ring::close(&state, harbour, at(6)).unwrap();
        apply(&mut state, &close);
        let harbour = state.need_ring("Harbour").unwrap();
        for event in [
            write(&state, harbour, None, &row("2", 1)),
            strike(&state, harbour, 0),
            shift(&state, harbour, 0, 0),
        ] {
            assert!(matches!(event, Err(Refusal::RingClosed(_))));
        }
    }
}
