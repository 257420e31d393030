//! The invariants that hold in every stash after every event.
//!
//! A card is in exactly one place by construction: it has one [`Place`], and no other list says
//! where it is.
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

/// Something a card may refer to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Referent {
    /// Its range.
    Range,
    /// Its family.
    Family,
    /// The card it was split from.
    Parent,
    /// The ring it is on.
    Ring,
}

/// Something that must have a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nameless {
    /// A range.
    Range,
    /// A family.
    Family,
    /// The project of a ring.
    Project,
}

/// A broken invariant.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Violation {
    /// More cards belong on a hook than it takes.
    #[error("capacity")]
    Capacity {
        /// Name of the hook.
        hook_name: String,
        /// Cards that belong there.
        homes: usize,
        /// Cards it takes.
        cards_per_hook: u8,
    },
    /// A card hangs, or a ring hangs, on a hook that doesn't exist or is blocked.
    #[error("no_hook")]
    NoHook {
        /// Name of the hook.
        hook_name: String,
    },
    /// A card refers to something that doesn't exist.
    #[error("dangling")]
    Dangling {
        /// Which card.
        card: CardId,
        /// What it refers to.
        what: Referent,
    },
    /// A card is on a ring whose list of cards doesn't contain it.
    #[error("never_taken")]
    NeverTaken {
        /// Which card.
        card: CardId,
        /// The project.
        project: String,
    },
    /// Two cards of a range that aren't split cards have the same number and tag.
    #[error("twice")]
    Twice {
        /// The number, with its tag.
        number: String,
    },
    /// A card lists a dye lot twice, in different case.
    #[error("same_lot")]
    SameLot {
        /// Which card.
        card: CardId,
        /// The lot.
        lot: Lot,
    },
    /// A split card has a tag of its own.
    #[error("tagged_split")]
    TaggedSplit {
        /// Which card.
        card: CardId,
    },
    /// A closed ring has a card on it.
    #[error("closed_ring")]
    ClosedRing {
        /// The project.
        project: String,
    },
    /// A ring closes with a card unaccounted for.
    #[error("unaccounted")]
    Unaccounted {
        /// The project.
        project: String,
        /// Which card.
        card: CardId,
    },
    /// A re-hang is underway with nothing to do.
    #[error("aimless")]
    Aimless,
    /// A re-hang has two target hooks for a card.
    #[error("two_aims")]
    TwoAims {
        /// Which card.
        card: CardId,
    },
    /// Something has no name.
    #[error("nameless")]
    Nameless(Nameless),
    /// A board's size is out of bounds.
    #[error("board")]
    Board(#[from] ParseBoardError),
    /// Two hooks have the same name.
    #[error("same_hook_name")]
    SameHookName {
        /// The name.
        hook_name: String,
    },
    /// A chart key refers to a range that doesn't exist.
    #[error("key_range")]
    KeyRange {
        /// The project.
        project: String,
    },
    /// A match refers to a range that doesn't exist.
    #[error("match_range")]
    MatchRange,
    /// The assumptions about a project's stitching are out of bounds.
    #[error("assumed")]
    Assumed(#[from] crate::model::assumptions::ParseAssumptionError),
}

/// The parts of a state that an event may affect.
#[derive(Default)]
struct Affected {
    hooks: BTreeSet<HookRef>,
    cards: BTreeSet<CardId>,
    rings: BTreeSet<RingId>,
    underway: bool,
    matches: bool,
    everything: bool,
}

impl Affected {
    fn by(changes: &[Change]) -> Self {
        let mut affected = Self::default();
        for change in changes {
            match change {
                Change::Card { after, .. } => affected.cards.extend(after.iter().map(|c| c.id)),
                Change::Place { card, after, .. } => {
                    affected.cards.insert(*card);
                    if let Some(ring) = after.as_ref().and_then(|place| place.at.ring()) {
                        affected.rings.insert(ring);
                    }
                }
                Change::Home { card, after, .. } => {
                    affected.cards.insert(*card);
                    affected.hooks.extend(*after);
                }
                Change::Lot { card, after, .. } => {
                    affected.cards.extend(after.is_some().then_some(*card));
                }
                Change::Thread { .. }
                | Change::Order { .. }
                | Change::Purchase { .. }
                | Change::Progress { .. } => {}
                // Only the families that cards refer to.
                Change::Shade { .. } => {}
                Change::Underway { .. } => affected.underway = true,
                Change::Used { .. } => {}
                Change::Match { .. } => affected.matches = true,
                Change::Key { ring, .. } | Change::WentOut { ring, .. } => {
                    affected.rings.insert(*ring);
                }
                Change::Ring { after, .. } => affected.rings.extend(after.iter().map(|r| r.id)),
                // Rare, and the affected cards may be anywhere.
                Change::Range { .. } | Change::Board { .. } | Change::Families { .. } => {
                    affected.everything = true;
                }
            }
            if let Change::Ring { after: None, .. } | Change::Card { after: None, .. } = change {
                affected.everything = true;
            }
        }
        affected
    }

    fn everything(state: &State) -> Self {
        Self {
            hooks: state.index().homes().map(|(hook, _)| hook).collect(),
            cards: state.cards().map(|kept| kept.card.id).collect(),
            rings: state.rings().map(|ring| ring.id).collect(),
            underway: true,
            matches: true,
            everything: true,
        }
    }
}

/// Checks the invariants that an event may have broken.
///
/// # Errors
/// The first one found broken.
pub(super) fn check_after(state: &State, event: &Event) -> Result<(), Violation> {
    let mut affected = Affected::by(&event.changes);
    if affected.everything {
        affected = Affected::everything(state);
    }
    let broken = find_broken(state, &affected).into_iter().next();
    match broken.or_else(|| closed_too_early(state, event)) {
        None => Ok(()),
        Some(broken) => Err(broken),
    }
}

/// A ring that closes while a card that was on it is unaccounted for. Only the moment of closing
/// counts. Later moves of its cards don't matter, and neither does undoing the reopening of a ring,
/// or merging a copy in which it was closed.
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

/// Checks every invariant on the whole state. O(cards · log cards + boards · hooks).
#[must_use]
pub fn check_all(state: &State) -> Vec<Violation> {
    find_broken(state, &Affected::everything(state))
}

fn find_broken(state: &State, affected: &Affected) -> Vec<Violation> {
    let mut broken = Vec::new();
    if affected.everything {
        boards(state, &mut broken);
    }
    if affected.underway {
        underway(state, &mut broken);
    }
    if affected.matches {
        matches(state, &mut broken);
    }
    for &hook in &affected.hooks {
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
    for &id in &affected.cards {
        card(state, id, &mut broken);
    }
    for &id in &affected.rings {
        ring(state, id, &mut broken);
    }
    broken
}

fn boards(state: &State, broken: &mut Vec<Violation>) {
    if state.ranges().any(|range| range.name.is_empty()) {
        broken.push(Violation::Nameless(Nameless::Range));
    }
    if state.families().iter().any(|family| family.name.is_empty()) {
        broken.push(Violation::Nameless(Nameless::Family));
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

fn matches(state: &State, broken: &mut Vec<Violation>) {
    let mut ranges = BTreeSet::new();
    for of in state.matches().iter() {
        ranges.extend(of.colours().iter().map(|colour| colour.range));
    }
    if ranges.into_iter().any(|range| state.range(range).is_none()) {
        broken.push(Violation::MatchRange);
    }
}

fn card(state: &State, id: CardId, broken: &mut Vec<Violation>) {
    let Some(kept) = state.card(id) else { return };
    let card = &kept.card;
    let mut dangling = |missing: bool, what: Referent| {
        if missing {
            broken.push(Violation::Dangling { card: id, what });
        }
    };
    let no_range = |range: RangeId| state.range(range).is_none();
    let no_family = |family: FamilyId| !state.families().iter().any(|f| f.id == family);
    dangling(no_range(card.range), Referent::Range);
    dangling(card.family.id().is_some_and(no_family), Referent::Family);
    dangling(
        card.parent
            .is_some_and(|parent| state.card(parent).is_none()),
        Referent::Parent,
    );
    let ring_gone = |ring: RingId| state.ring(ring).is_none();
    dangling(kept.place.at.ring().is_some_and(ring_gone), Referent::Ring);
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
        broken.push(Violation::Nameless(Nameless::Project));
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
