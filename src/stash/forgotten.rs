//! Rings to call out: hung up long ago, or in use and idle.

use jiff::Timestamp;

use super::state::State;
use crate::model::board::HookRef;
use crate::model::ring::{Ring, RingState};

/// A ring that has been hanging for so many days is called out.
pub const HANGING_DAYS: i64 = 7;
/// A ring in use that no card came to for so many days is called out.
pub const IDLE_DAYS: i64 = 30;

/// A ring to call out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Forgotten<'a> {
    /// Which ring.
    pub ring: &'a Ring,
    /// The hook it hangs on; `None` for one that is in use.
    pub hanging: Option<HookRef>,
    /// Whole days since it was hanging, or since a card last came to it (else since it was opened).
    pub days: i64,
}

/// The rings to call out: hanging ones first, then idle ones, each kind longest first.
///
/// When a hanging ring is taken up again is not kept, so one whose cards lie on it for long is idle
/// at once. O(cards on rings).
#[must_use]
pub fn forgotten(state: &State, now: Timestamp) -> Vec<Forgotten<'_>> {
    let mut found: Vec<(bool, Timestamp, Forgotten<'_>)> = state
        .rings()
        .filter_map(|ring| {
            let (hanging, since, least) = match ring.state {
                RingState::Hanging { hook, since } => (Some(hook), since, HANGING_DAYS),
                RingState::Live => {
                    let came = state.cards_on(ring).map(|kept| kept.place.since).max();
                    (None, came.unwrap_or(ring.opened), IDLE_DAYS)
                }
                RingState::Closed { .. } => return None,
            };
            let days = now.duration_since(since).as_hours() / 24;
            let one = Forgotten {
                ring,
                hanging,
                days,
            };
            (days >= least).then_some((hanging.is_none(), since, one))
        })
        .collect();
    found.sort_by_key(|(idle, since, one)| (*idle, *since, one.ring.id));
    found.into_iter().map(|(_, _, one)| one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::ring;
    use crate::stash::testing::{add_cards, apply, at, id, wall};

    const DAY: i64 = 24 * 3600;

    fn names(state: &State, now: i64) -> Vec<(String, i64)> {
        let found = forgotten(state, at(now)).into_iter();
        found
            .map(|one| (one.ring.project.to_string(), one.days))
            .collect()
    }

    #[test]
    fn a_ring_is_called_out_from_its_day_on() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "2@A02", "3@A03"]);
        let take = |state: &mut State, project: &str, card: &str, when| {
            let event = ring::take(state, project, &[id(state, card)], at(when)).unwrap();
            apply(state, &event);
        };
        take(&mut state, "Robin", "1", 0);
        take(&mut state, "Kite", "2", 0);
        let kite = state.need_ring("Kite").unwrap();
        let event = ring::hang_up(&state, kite, "A04", at(DAY)).unwrap();
        apply(&mut state, &event);
        assert_eq!(names(&state, 8 * DAY - 1), []);
        assert_eq!(names(&state, 8 * DAY), [("Kite".to_owned(), 7)]);
        assert_eq!(
            names(&state, 30 * DAY),
            [("Kite".to_owned(), 29), ("Robin".to_owned(), 30)]
        );
        // A card that comes to it makes it busy again.
        take(&mut state, "Robin", "3", 10 * DAY);
        assert_eq!(names(&state, 40 * DAY - 1), [("Kite".to_owned(), 38)]);
        assert_eq!(names(&state, 40 * DAY).len(), 2);
        // A clock that was set back calls nothing out, nor is a closed ring called out.
        assert_eq!(names(&state, -DAY), []);
        for project in ["Kite", "Robin"] {
            let ring = state.need_ring(project).unwrap().clone();
            let event = ring::give_back_all(&state, &ring, at(41 * DAY)).unwrap();
            apply(&mut state, &event);
        }
        // An empty ring counts from its opening.
        assert_eq!(names(&state, 42 * DAY).len(), 2);
        let event = ring::close(&state, state.need_ring("Kite").unwrap(), at(41 * DAY)).unwrap();
        apply(&mut state, &event);
        assert_eq!(names(&state, 42 * DAY), [("Robin".to_owned(), 42)]);
    }
}
