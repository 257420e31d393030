//! Writing in a pattern's key by hand, line by line.

use std::collections::BTreeSet;

use super::key_line;
use crate::model::ids::RangeId;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, KeyWork, Needle, NeedleError, Ring};
use crate::stash::command::import::ranges::Ranges;
use crate::stash::event::{Act, Change, Event, ring_changes};
use crate::stash::intake::KeyRow;
use crate::stash::refusal::{Refusal, RowFault};
use crate::stash::state::State;

/// Writes a line of a key: in place of line `at`, counted from 0, or at its end where there is no
/// such line. Of a blend the first thread is written anew and the others stay. `None` where the key says just that already.
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
    let new = key_line(state, &mut ranges, row).map_err(Refusal::NotALine)?;
    let old = at.and_then(|at| ring.key.get(at));
    let new =
        with_the_rest_of(old, new).map_err(|wrong| Refusal::NotALine(RowFault::Needle(wrong)))?;
    let used: BTreeSet<RangeId> = new.threads().iter().map(|t| t.colour.range).collect();
    let changed = put(ring, at, new)?;
    Ok(changed.map(|mut event| {
        let mut changes: Vec<Change> = ranges.changes(&used).collect();
        changes.append(&mut event.changes);
        Event { changes, ..event }
    }))
}

/// A line of one thread in place of another: the other threads of a blend stay, and a thread of the same
/// colour is stitched with what it was.
fn with_the_rest_of(old: Option<&KeyLine>, new: KeyLine) -> Result<KeyLine, NeedleError> {
    let old = old.map_or(&[][..], KeyLine::threads);
    let KeyWork::Threads { needle, stitches } = &new.work else {
        return Ok(new);
    };
    let (Some((first, rest)), [thread]) = (old.split_first(), needle.threads()) else {
        return Ok(new);
    };
    let with = first.stitched_with.clone();
    let thread = KeyThread {
        stitched_with: with.filter(|_| first.colour == thread.colour),
        ..thread.clone()
    };
    let threads = [&[thread], rest].concat();
    Ok(KeyLine {
        work: KeyWork::Threads {
            needle: Needle::new(threads)?,
            stitches: *stitches,
        },
        symbol: new.symbol,
    })
}

/// Puts a line in a key, of one thread, a blend or a notion: in place of line `at`, counted from 0, or
/// at its end where there is no such line. `None` where the key says just that already.
///
/// # Errors
/// When the ring is closed.
pub fn put(ring: &Ring, at: Option<usize>, line: KeyLine) -> Result<Option<Event>, Refusal> {
    edited(ring, |key| match at.and_then(|at| key.get_mut(at)) {
        Some(old) => *old = line,
        None => key.push(line),
    })
}

/// Says which colour a thread of a line is stitched with in place of the one in the chart; with `None`
/// it is stitched as the chart says. `None` where the key says just that already, or has no such thread.
///
/// # Errors
/// When the ring is closed, or the colour is that of the chart.
pub fn stitch_with(
    ring: &Ring,
    at: usize,
    thread: usize,
    with: Option<ColourRef>,
) -> Result<Option<Event>, Refusal> {
    let Some(old) = ring.key.get(at) else {
        return Ok(None);
    };
    let KeyWork::Threads { needle, stitches } = &old.work else {
        return Ok(None);
    };
    let mut threads = needle.threads().to_vec();
    if let Some(thread) = threads.get_mut(thread) {
        thread.stitched_with = with;
    }
    let needle =
        Needle::new(threads).map_err(|wrong| Refusal::NotALine(RowFault::Needle(wrong)))?;
    let line = KeyLine {
        symbol: old.symbol.clone(),
        work: KeyWork::Threads {
            needle,
            stitches: *stitches,
        },
    };
    put(ring, Some(at), line)
}

/// Strikes line `at` out, counted from 0. `None` where there is no such line.
///
/// # Errors
/// When the ring is closed.
pub fn strike(ring: &Ring, at: usize) -> Result<Option<Event>, Refusal> {
    edited(ring, |key| {
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
pub fn shift(ring: &Ring, from: usize, to: usize) -> Result<Option<Event>, Refusal> {
    edited(ring, |key| {
        if from < key.len() && to < key.len() {
            let line = key.remove(from);
            key.insert(to, line);
        }
    })
}

/// The event that a key was changed, if it was. What was used of its colours stays.
fn edited(ring: &Ring, edit: impl FnOnce(&mut Vec<KeyLine>)) -> Result<Option<Event>, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    let mut after = ring.clone();
    edit(&mut after.key);
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
    use crate::stash::kit::testing::{line_of, notion, thread};
    use crate::stash::testing::{apply, at, wall};
    use crate::text;

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
        let threads = key.iter().flat_map(KeyLine::threads);
        threads
            .map(|thread| thread.colour.number.as_str())
            .collect()
    }

    #[test]
    fn lines_are_written_moved_and_struck_out() {
        let mut state = keyed(&["1", "2", "3"]);
        let mut does = |ask: fn(&State, &Ring) -> Result<Option<Event>, Refusal>| {
            let event = ask(&state, state.need_ring("Harbour").unwrap()).unwrap();
            if let Some(event) = &event {
                assert_eq!(
                    text::history::act(&state, &event.act),
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
        assert_eq!(does(|_, r| shift(r, 3, 0)), told("4 1 9 3"));
        assert_eq!(does(|_, r| shift(r, 0, 1)), told("1 4 9 3"));
        assert_eq!(does(|_, r| strike(r, 2)), told("1 4 3"));
        for unchanged in [
            does(|_, r| shift(r, 1, 1)),
            does(|_, r| shift(r, 0, 3)),
            does(|_, r| strike(r, 3)),
            does(|s, r| write(s, r, Some(2), &row("3", 5))),
        ] {
            assert_eq!(unchanged, (false, "1 4 3".to_owned()));
        }
    }

    #[test]
    fn a_line_written_over_a_blend_changes_its_first_thread() {
        let mut state = keyed(&["1"]);
        let harbour = state.need_ring("Harbour").unwrap();
        let mut second = thread(&state, "2", 1);
        second.stitched_with = Some(thread(&state, "7", 0).colour);
        let mut first = thread(&state, "1", 1);
        first.stitched_with = Some(thread(&state, "8", 0).colour);
        let event = put(harbour, Some(0), line_of(&[first, second.clone()], 5)).unwrap();
        apply(&mut state, &event.unwrap());
        for (number, with) in [("1", Some("8")), ("3", None)] {
            let harbour = state.need_ring("Harbour").unwrap();
            let event = write(&state, harbour, Some(0), &row(number, 9)).unwrap();
            apply(&mut state, &event.unwrap());
            let line = &state.need_ring("Harbour").unwrap().key[0];
            let [one, two] = line.threads() else {
                panic!("{line:?}")
            };
            assert_eq!((one.colour.number.as_str(), two), (number, &second));
            let stitched = one.stitched_with.as_ref().map(|with| with.number.as_str());
            assert_eq!((stitched, line.stitches().full), (with, 9));
        }
        // A colour is in a needle once.
        let harbour = state.need_ring("Harbour").unwrap();
        let twice = write(&state, harbour, Some(0), &row("2", 9)).unwrap_err();
        assert_eq!(
            twice.to_string(),
            Refusal::NotALine(RowFault::Amount).to_string()
        );
        // Over a notion it is a line of its own.
        let event = put(harbour, Some(0), notion("bead", 3)).unwrap();
        apply(&mut state, &event.unwrap());
        assert_eq!(state.need_ring("Harbour").unwrap().colours().len(), 0);
        let harbour = state.need_ring("Harbour").unwrap();
        let event = write(&state, harbour, Some(0), &row("4", 2)).unwrap();
        apply(&mut state, &event.unwrap());
        assert_eq!(numbers(&state), ["4"]);
    }

    #[test]
    fn what_cannot_be_a_line_is_told() {
        let mut state = keyed(&["1"]);
        let harbour = state.need_ring("Harbour").unwrap();
        let wrong = write(&state, harbour, None, &row("", 1)).unwrap_err();
        assert!(
            matches!(&wrong, Refusal::NotALine(RowFault::Number(_))),
            "{wrong:?}"
        );
        let close = ring::close(&state, harbour, at(6)).unwrap();
        apply(&mut state, &close);
        let harbour = state.need_ring("Harbour").unwrap();
        for event in [
            write(&state, harbour, None, &row("2", 1)),
            strike(harbour, 0),
            shift(harbour, 0, 0),
        ] {
            assert!(matches!(event, Err(Refusal::RingClosed(_))));
        }
    }
}
