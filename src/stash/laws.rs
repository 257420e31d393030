//! The laws every stash keeps after every event.
//!
//! That a card is in exactly one place holds by construction: it has one [`Place`] and no other
//! list says where it is.
//!
//! [`Place`]: crate::model::whereabouts::Place

use std::collections::BTreeSet;

use super::change::Change;
use super::event::{Act, Event};
use super::state::State;
use crate::model::assumptions::NotAssumed;
use crate::model::board::{HookRef, NotABoard};
use crate::model::ids::{CardId, FamilyId, RangeId, RingId};
use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;

/// A law that would be broken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Broken {
    /// More cards at home on a hook than it has places.
    #[error("hook {mark} would be home to {homes} cards but has room for {places}")]
    Capacity {
        /// The hook's mark.
        mark: String,
        /// Cards at home there.
        homes: usize,
        /// Places there.
        places: u8,
    },
    /// A card would hang on, or a ring would be parked at, a hook that is not there or is blocked.
    #[error("hook {mark} cannot be used: it is blocked or not on any board")]
    NoHook {
        /// The hook's mark.
        mark: String,
    },
    /// A card speaks of something that does not exist.
    #[error("card {card} speaks of a {what} that does not exist")]
    Dangling {
        /// Which card.
        card: CardId,
        /// What it speaks of.
        what: &'static str,
    },
    /// A card would be on a ring whose list of cards does not have it.
    #[error("card {card} would be on the ring '{project}', but was never taken to it")]
    NeverTaken {
        /// Which card.
        card: CardId,
        /// The project.
        project: String,
    },
    /// Two cards that are not spare cards have the same range and number.
    #[error("number {number} is there twice in one range")]
    Twice {
        /// The number.
        number: String,
    },
    /// A closed ring would have a card on it.
    #[error("a card would be on the ring '{project}', which is closed")]
    ClosedRing {
        /// The project.
        project: String,
    },
    /// A ring would close with a card unaccounted for.
    #[error("the ring '{project}' cannot close: card {card} is not accounted for")]
    Unaccounted {
        /// The project.
        project: String,
        /// Which card.
        card: CardId,
    },
    /// A key speaks of a range that does not exist.
    #[error("the key of the project '{project}' speaks of a range that does not exist")]
    KeyRange {
        /// The project.
        project: String,
    },
    /// What is assumed of a project's stitching is out of bounds.
    #[error(transparent)]
    Assumed(#[from] NotAssumed),
    /// A board's measures are out of bounds.
    #[error(transparent)]
    Board(#[from] NotABoard),
    /// Two hooks would have the same mark.
    #[error("two hooks would have the mark {mark}")]
    SameMark {
        /// The mark.
        mark: String,
    },
}

/// What of a state an event may have touched.
#[derive(Default)]
struct Touched {
    hooks: BTreeSet<HookRef>,
    cards: BTreeSet<CardId>,
    rings: BTreeSet<RingId>,
    everything: bool,
}

impl Touched {
    fn by(changes: &[Change]) -> Self {
        let mut touched = Self::default();
        for change in changes {
            match change {
                Change::Card { after, .. } => touched.cards.extend(after.iter().map(|c| c.id)),
                Change::Place { card, after, .. } => {
                    touched.cards.insert(*card);
                    if let Some(ring) = after.as_ref().and_then(|place| place.at.ring()) {
                        touched.rings.insert(ring);
                    }
                }
                Change::Home { card, after, .. } => {
                    touched.cards.insert(*card);
                    touched.hooks.extend(*after);
                }
                Change::Thread { .. } | Change::Order { .. } => {}
                Change::Ring { after, .. } => touched.rings.extend(after.iter().map(|r| r.id)),
                // Rare, and what hangs on them may be anywhere.
                Change::Range { .. } | Change::Board { .. } | Change::Families { .. } => {
                    touched.everything = true;
                }
            }
            if let Change::Ring { after: None, .. } | Change::Card { after: None, .. } = change {
                touched.everything = true;
            }
        }
        touched
    }

    fn everything(state: &State) -> Self {
        Self {
            hooks: state.index().homes().map(|(hook, _)| hook).collect(),
            cards: state.cards().map(|kept| kept.card.id).collect(),
            rings: state.rings().map(|ring| ring.id).collect(),
            everything: true,
        }
    }
}

/// Checks the laws where an event may have broken them.
///
/// # Errors
/// The first law found broken.
pub(super) fn check_touched(state: &State, event: &Event) -> Result<(), Broken> {
    let mut touched = Touched::by(&event.changes);
    if touched.everything {
        touched = Touched::everything(state);
    }
    let broken = find_broken(state, &touched).into_iter().next();
    match broken.or_else(|| closed_too_early(state, event)) {
        None => Ok(()),
        Some(broken) => Err(broken),
    }
}

/// A ring that closes while a card that went out on it is unaccounted for. Only the moment of
/// closing counts: where the cards go later is not the closed ring's business, nor is it a new closing
/// when its opening is taken back.
fn closed_too_early(state: &State, event: &Event) -> Option<Broken> {
    if matches!(event.act, Act::Undo { .. }) {
        return None;
    }
    event.changes.iter().find_map(|change| match change {
        Change::Ring {
            before: Some(before),
            after: Some(after),
        } if after.is_closed() && !before.is_closed() => {
            let left = state.unaccounted(after).next()?;
            Some(Broken::Unaccounted {
                project: after.project.to_string(),
                card: left.card.id,
            })
        }
        _ => None,
    })
}

/// Checks every law on the whole state. O(cards · log cards + boards · hooks).
#[must_use]
pub fn check_all(state: &State) -> Vec<Broken> {
    find_broken(state, &Touched::everything(state))
}

fn find_broken(state: &State, touched: &Touched) -> Vec<Broken> {
    let mut broken = Vec::new();
    if touched.everything {
        boards(state, &mut broken);
    }
    for &hook in &touched.hooks {
        let homes = state.index().homes_on(hook).len();
        let places = state.capacity(hook);
        if homes > usize::from(places) {
            let mark = state.mark(hook);
            broken.push(if places == 0 {
                Broken::NoHook { mark }
            } else {
                Broken::Capacity {
                    mark,
                    homes,
                    places,
                }
            });
        }
    }
    for &id in &touched.cards {
        card(state, id, &mut broken);
    }
    for &id in &touched.rings {
        ring(state, id, &mut broken);
    }
    broken
}

fn boards(state: &State, broken: &mut Vec<Broken>) {
    broken.extend(
        state
            .boards()
            .filter_map(|board| board.check().err().map(Broken::from)),
    );
    for (at, board) in state.boards().enumerate() {
        for other in state.boards().skip(at + 1) {
            if let Some(mark) = super::names::shared_mark(board, other) {
                broken.push(Broken::SameMark { mark });
            }
        }
    }
}

fn card(state: &State, id: CardId, broken: &mut Vec<Broken>) {
    let Some(kept) = state.card(id) else { return };
    let card = &kept.card;
    let mut dangling = |missing: bool, what: &'static str| {
        if missing {
            broken.push(Broken::Dangling { card: id, what });
        }
    };
    let no_range = |range: RangeId| state.range(range).is_none();
    let no_family = |family: FamilyId| !state.families().iter().any(|f| f.id == family);
    dangling(no_range(card.range), "range");
    dangling(card.family.id().is_some_and(no_family), "family");
    dangling(
        card.parent
            .is_some_and(|parent| state.card(parent).is_none()),
        "parent card",
    );
    let ring_gone = |ring: RingId| state.ring(ring).is_none();
    dangling(kept.place.at.ring().is_some_and(ring_gone), "ring");
    if let Some(ring) = kept.place.at.ring().and_then(|ring| state.ring(ring))
        && !ring.went_out.contains(&id)
    {
        let project = ring.project.to_string();
        broken.push(Broken::NeverTaken { card: id, project });
    }
    if let Whereabouts::Hook { hook } = kept.place.at
        && state.capacity(hook) == 0
    {
        let mark = state.mark(hook);
        broken.push(Broken::NoHook { mark });
    }
    let twins = state.index().numbered(&card.number.key());
    let twice = |&(range, other): &(RangeId, CardId)| {
        range == card.range
            && other != id
            && state.card(other).is_some_and(|k| k.card.parent.is_none())
    };
    if card.parent.is_none() && twins.iter().any(twice) {
        let number = card.number.to_string();
        broken.push(Broken::Twice { number });
    }
}

fn ring(state: &State, id: RingId, broken: &mut Vec<Broken>) {
    let Some(ring) = state.ring(id) else { return };
    let no_range = |range: RangeId| state.range(range).is_none();
    if ring.key.iter().any(|entry| no_range(entry.range)) {
        let project = ring.project.to_string();
        broken.push(Broken::KeyRange { project });
    }
    let assumed = ring.fabric.map(|assumed| assumed.check());
    broken.extend(assumed.and_then(Result::err).map(Broken::from));
    match ring.state {
        RingState::Live => {}
        RingState::Parked { hook, .. } => {
            if state.capacity(hook) == 0 {
                let mark = state.mark(hook);
                broken.push(Broken::NoHook { mark });
            }
        }
        RingState::Closed { .. } => {
            if state.cards_on(ring).next().is_some() {
                let project = ring.project.to_string();
                broken.push(Broken::ClosedRing { project });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::assumptions::Assumptions;
    use crate::model::ids::BoardId;
    use crate::model::ring::{KeyEntry, Ring};
    use crate::model::thread::Strands;
    use crate::model::whereabouts::Place;
    use crate::stash::command::board::{Unhang, block};
    use crate::stash::command::ring;
    use crate::stash::testing::{apply, at, bring_in, home, id, wall};

    /// Card 1 at home on A01, 2 on the live ring Robin, A02 blocked, and Kite, a closed ring.
    fn stash() -> State {
        let mut state = wall(1, 3, 1);
        bring_in(&mut state, &["1@A01", "2", "3@A03"]);
        let event = block(&state, "A02", "light", Unhang::Refused, at(1)).unwrap();
        apply(&mut state, &event);
        for project in ["Kite", "Robin"] {
            let event = ring::take(&state, project, &[id(&state, "2")], at(1)).unwrap();
            apply(&mut state, &event);
            if project == "Kite" {
                let kite = state.need_ring("Kite").unwrap().clone();
                let event = ring::give_back_all(&state, &kite, at(2)).unwrap();
                apply(&mut state, &event);
                let event = ring::close(&state, &kite, at(3)).unwrap();
                apply(&mut state, &event);
            }
        }
        state
    }

    fn refusal(state: &mut State, change: Change) -> String {
        let before = state.clone();
        let event = Event {
            act: Act::Demonstrate,
            changes: vec![change],
        };
        let refusal = state.apply(&event).unwrap_err().to_string();
        assert_eq!(state, &before);
        refusal
    }

    #[test]
    fn no_card_goes_where_it_cannot_be() {
        let mut state = stash();
        let kept = state.card(id(&state, "3")).unwrap().clone();
        let card = kept.card.id;
        let (a01, a02) = (
            state.find_mark("A01").unwrap(),
            state.find_mark("A02").unwrap(),
        );
        let mut nowhere = a01;
        nowhere.board = BoardId(9);
        let goes = |after| Change::Home {
            card,
            before: kept.home,
            after: Some(after),
        };
        let unusable =
            |mark| format!("hook {mark} cannot be used: it is blocked or not on any board");
        assert_eq!(
            refusal(&mut state, goes(a01)),
            "hook A01 would be home to 2 cards but has room for 1"
        );
        assert_eq!(refusal(&mut state, goes(a02)), unusable("A02"));
        assert_eq!(refusal(&mut state, goes(nowhere)), unusable("9/0.0"));
        let moves = |at_place| Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place {
                at: at_place,
                since: at(9),
            }),
        };
        let hangs = moves(Whereabouts::Hook { hook: a02 });
        assert_eq!(refusal(&mut state, hangs), unusable("A02"));
        let rings = [1, 2, 7].map(|ring| moves(Whereabouts::Ring { ring: RingId(ring) }));
        let words = rings.map(|change| refusal(&mut state, change));
        assert_eq!(
            words,
            [
                "card 3 would be on the ring 'Kite', but was never taken to it",
                "card 3 would be on the ring 'Robin', but was never taken to it",
                "card 3 speaks of a ring that does not exist",
            ]
        );
        assert_eq!(home(&state, "3").as_deref(), Some("A03"));
    }

    #[test]
    fn no_card_speaks_of_what_is_not_there_or_is_there_twice() {
        let mut state = stash();
        let before = state.card(id(&state, "3")).unwrap().card.clone();
        let written = |write: &dyn Fn(&mut crate::model::card::Card)| {
            let mut after = before.clone();
            write(&mut after);
            Change::Card {
                before: Some(before.clone()),
                after: Some(after),
            }
        };
        let says = |what| format!("card 3 speaks of a {what} that does not exist");
        let range = written(&|card| card.range = RangeId(8));
        assert_eq!(refusal(&mut state, range), says("range"));
        let family = written(&|card| {
            card.family = crate::model::card::CardFamily::Chosen(FamilyId(8));
        });
        assert_eq!(refusal(&mut state, family), says("family"));
        let parent = written(&|card| card.parent = Some(CardId(8)));
        assert_eq!(refusal(&mut state, parent), says("parent card"));
        let one = state.card(id(&state, "1")).unwrap().card.number.clone();
        let twin = written(&|card| card.number = one.clone());
        assert_eq!(
            refusal(&mut state, twin),
            "number 1 is there twice in one range"
        );
        // A spare card may have its parent's number.
        let parent = id(&state, "1");
        let spare = written(&|card| {
            card.number = one.clone();
            card.parent = Some(parent);
        });
        let event = Event {
            act: Act::Demonstrate,
            changes: vec![spare],
        };
        apply(&mut state, &event);
    }

    #[test]
    fn no_ring_closes_over_its_cards_or_goes_from_under_them() {
        let mut state = stash();
        let robin = state.need_ring("Robin").unwrap().clone();
        let change = |after| Change::Ring {
            before: Some(robin.clone()),
            after,
        };
        let mut closed = robin.clone();
        closed.state = RingState::Closed { at: at(9) };
        assert_eq!(
            refusal(&mut state, change(Some(closed))),
            "a card would be on the ring 'Robin', which is closed"
        );
        assert_eq!(
            refusal(&mut state, change(None)),
            "card 2 speaks of a ring that does not exist"
        );
        let mut parked = robin.clone();
        let hook = state.find_mark("A02").unwrap();
        parked.state = RingState::Parked { hook, since: at(9) };
        assert_eq!(
            refusal(&mut state, change(Some(parked))),
            "hook A02 cannot be used: it is blocked or not on any board"
        );
    }

    #[test]
    fn no_ring_has_a_key_of_nowhere_or_a_cloth_that_cannot_be() {
        let mut state = stash();
        let robin = state.need_ring("Robin").unwrap().clone();
        let written = |write: &dyn Fn(&mut Ring)| {
            let mut after = robin.clone();
            write(&mut after);
            Change::Ring {
                before: Some(robin.clone()),
                after: Some(after),
            }
        };
        let number = state.card(id(&state, "3")).unwrap().card.number.clone();
        let nowhere = written(&|ring| ring.key = vec![KeyEntry::of(RangeId(9), number.clone())]);
        assert_eq!(
            refusal(&mut state, nowhere),
            "the key of the project 'Robin' speaks of a range that does not exist"
        );
        let cannot_be = written(&|ring| {
            ring.fabric = Some(Assumptions {
                over: 3,
                ..Assumptions::default()
            });
        });
        assert_eq!(
            refusal(&mut state, cannot_be),
            "a number of threads stitched over of 3 cannot be; from 1 to 2 is possible"
        );
    }

    #[test]
    fn no_board_goes_wrong() {
        let mut state = stash();
        let before = state.boards().next().unwrap().clone();
        let mut twin = before.clone();
        twin.id = BoardId(2);
        let put_up = Change::Board {
            before: None,
            after: Some(twin),
        };
        assert_eq!(
            refusal(&mut state, put_up),
            "two hooks would have the mark A01"
        );
        let mut flat = before.clone();
        flat.places = 0;
        let measured = Change::Board {
            before: Some(before.clone()),
            after: Some(flat),
        };
        assert!(refusal(&mut state, measured).starts_with("0 places on a hook"));
        let taken_down = Change::Board {
            before: Some(before),
            after: None,
        };
        assert!(refusal(&mut state, taken_down).starts_with("hook 1/0."));
        let thread = Change::Thread {
            card: CardId(1),
            before: Strands(1),
            after: Strands(2),
        };
        assert!(refusal(&mut state, thread).starts_with("change 1 of the event"));
    }
}
