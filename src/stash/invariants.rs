//! The laws every stash keeps after every event.
//!
//! That a card is in exactly one place holds by construction: it has one [`Place`] and no other
//! list says where it is.
//!
//! [`Place`]: crate::model::whereabouts::Place

use std::collections::BTreeSet;

use super::event::{Act, Event};
use super::state::State;
use crate::model::board::{HookRef, ParseBoardError};
use crate::model::ids::{CardId, FamilyId, RangeId, RingId};
use crate::model::label::fold;
use crate::model::ring::RingState;
use crate::model::thread::Lot;
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::Change;

/// A law that would be broken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Violation {
    /// More cards at home on a hook than it has places.
    #[error("hook {hook_name} takes {cards_per_hook}, and {homes} would be at home there")]
    Capacity {
        /// The hook's mark.
        hook_name: String,
        /// Cards at home there.
        homes: usize,
        /// Places there.
        cards_per_hook: u8,
    },
    /// A card would hang on, or a ring would be hanging at, a hook that is not there or is blocked.
    #[error("hook {hook_name} cannot be used: it is blocked or not on any board")]
    NoHook {
        /// The hook's mark.
        hook_name: String,
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
    /// Two cards of a range that are not split cards are written alike: the same number and tag.
    #[error("number {number} is there twice in one range")]
    Twice {
        /// The number, with its tag.
        number: String,
    },
    /// A card would list a dye lot twice, in other capitals.
    #[error("card {card} would have the dye lot {lot} twice")]
    SameLot {
        /// Which card.
        card: CardId,
        /// The lot.
        lot: Lot,
    },
    /// A split card would have a tag of its own.
    #[error("split card {card} would have a tag; it goes by the tag of the card it was split from")]
    TaggedSplit {
        /// Which card.
        card: CardId,
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
    /// A re-hang would be underway with nothing to do.
    #[error("a re-hang would be underway with nothing to do")]
    Aimless,
    /// A re-hang would take a card to two homes.
    #[error("a re-hang would take card {card} to two homes")]
    TwoAims {
        /// Which card.
        card: CardId,
    },
    /// Something would have no name.
    #[error("{what} would have no name")]
    Nameless {
        /// What it is.
        what: &'static str,
    },
    /// A board's size is out of bounds.
    #[error(transparent)]
    Board(#[from] ParseBoardError),
    /// Two hooks would have the same mark.
    #[error("two hooks would be called {hook_name}")]
    SameHookName {
        /// The mark.
        hook_name: String,
    },
    /// A key speaks of a range that does not exist.
    #[error("the key of the project '{project}' speaks of a range that does not exist")]
    KeyRange {
        /// The project.
        project: String,
    },
    /// What is assumed of a project's stitching is out of bounds.
    #[error(transparent)]
    Assumed(#[from] crate::model::assumptions::ParseAssumptionError),
}

/// What of a state an event may have touched.
#[derive(Default)]
struct Touched {
    hooks: BTreeSet<HookRef>,
    cards: BTreeSet<CardId>,
    rings: BTreeSet<RingId>,
    underway: bool,
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
                Change::Lot { card, after, .. } => {
                    touched.cards.extend(after.is_some().then_some(*card));
                }
                Change::Thread { .. } | Change::Order { .. } | Change::Progress { .. } => {}
                Change::Underway { .. } => touched.underway = true,
                Change::Used { .. } => {}
                Change::Key { ring, .. } | Change::WentOut { ring, .. } => {
                    touched.rings.insert(*ring);
                }
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
            underway: true,
            everything: true,
        }
    }
}

/// Checks the laws where an event may have broken them.
///
/// # Errors
/// The first law found broken.
pub(super) fn check_touched(state: &State, event: &Event) -> Result<(), Violation> {
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
/// when its opening is taken back, nor when it was closed in another copy that is joined.
fn closed_too_early(state: &State, event: &Event) -> Option<Violation> {
    if matches!(event.act, Act::Undo { .. } | Act::Merge { .. }) {
        return None;
    }
    event.changes.iter().find_map(|change| match change {
        Change::Ring {
            before: Some(before),
            after: Some(after),
        } if after.is_closed() && !before.is_closed() => {
            let left = state.unaccounted(after).next()?;
            Some(Violation::Unaccounted {
                project: after.project.to_string(),
                card: left.card.id,
            })
        }
        _ => None,
    })
}

/// Checks every law on the whole state. O(cards · log cards + boards · hooks).
#[must_use]
pub fn check_all(state: &State) -> Vec<Violation> {
    find_broken(state, &Touched::everything(state))
}

fn find_broken(state: &State, touched: &Touched) -> Vec<Violation> {
    let mut broken = Vec::new();
    if touched.everything {
        boards(state, &mut broken);
    }
    if touched.underway {
        underway(state, &mut broken);
    }
    for &hook in &touched.hooks {
        let homes = state.index().homes_on(hook).len();
        let cards_per_hook = state.capacity(hook);
        if homes > usize::from(cards_per_hook) {
            let hook_name = state.hook_name(hook);
            broken.push(if cards_per_hook == 0 {
                Violation::NoHook { hook_name }
            } else {
                Violation::Capacity {
                    hook_name,
                    homes,
                    cards_per_hook,
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

fn boards(state: &State, broken: &mut Vec<Violation>) {
    if state.ranges().any(|range| range.name.is_empty()) {
        broken.push(Violation::Nameless { what: "a range" });
    }
    if state.families().iter().any(|family| family.name.is_empty()) {
        broken.push(Violation::Nameless { what: "a family" });
    }
    broken.extend(
        state
            .boards()
            .filter_map(|board| board.check().err().map(Violation::from)),
    );
    for (at, board) in state.boards().enumerate() {
        for other in state.boards().skip(at + 1) {
            if let Some(hook_name) = super::names::shared_hook_name(board, other) {
                broken.push(Violation::SameHookName { hook_name });
            }
        }
    }
}

fn underway(state: &State, broken: &mut Vec<Violation>) {
    let Some(underway) = state.underway() else {
        return;
    };
    if underway.homes.is_empty() || underway.steps == 0 {
        broken.push(Violation::Aimless);
    }
    let mut seen = BTreeSet::new();
    for &(card, _) in &underway.homes {
        if !seen.insert(card) {
            broken.push(Violation::TwoAims { card });
        }
    }
}

fn card(state: &State, id: CardId, broken: &mut Vec<Violation>) {
    let Some(kept) = state.card(id) else { return };
    let card = &kept.card;
    let mut dangling = |missing: bool, what: &'static str| {
        if missing {
            broken.push(Violation::Dangling { card: id, what });
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
        broken.push(Violation::NeverTaken { card: id, project });
    }
    if let Whereabouts::Hook { hook } = kept.place.at
        && state.capacity(hook) == 0
    {
        let hook_name = state.hook_name(hook);
        broken.push(Violation::NoHook { hook_name });
    }
    let alike = || state.written_alike(card.range, &card.number, &card.tag, Some(id));
    if card.parent.is_none() && alike().is_some() {
        let number = state.number_and_tag(kept).into_owned();
        broken.push(Violation::Twice { number });
    }
    let mut lots = BTreeSet::new();
    for (lot, _) in kept.thread.lots() {
        if !lots.insert(fold(lot.as_str())) {
            let lot = lot.clone();
            broken.push(Violation::SameLot { card: id, lot });
        }
    }
    if card.parent.is_some() && !card.tag.is_empty() {
        broken.push(Violation::TaggedSplit { card: id });
    }
}

fn ring(state: &State, id: RingId, broken: &mut Vec<Violation>) {
    let Some(ring) = state.ring(id) else { return };
    if ring.project.is_empty() {
        broken.push(Violation::Nameless { what: "a project" });
    }
    let no_range = |range: RangeId| state.range(range).is_none();
    if ring
        .threads()
        .flat_map(|thread| [&thread.colour, thread.stitched()])
        .chain(ring.used.keys())
        .any(|colour| no_range(colour.range))
    {
        let project = ring.project.to_string();
        broken.push(Violation::KeyRange { project });
    }
    let assumed = ring.fabric.map(|assumed| assumed.check());
    broken.extend(assumed.and_then(Result::err).map(Violation::from));
    match ring.state {
        RingState::Live => {}
        RingState::Hanging { hook, .. } => {
            if state.capacity(hook) == 0 {
                let hook_name = state.hook_name(hook);
                broken.push(Violation::NoHook { hook_name });
            }
        }
        RingState::Closed { .. } => {
            if state.cards_on(ring).next().is_some() {
                let project = ring.project.to_string();
                broken.push(Violation::ClosedRing { project });
            }
        }
    }
}

#[cfg(test)]
mod tests;
