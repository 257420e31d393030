//! All that a stash holds, open to be written on, and the changes from one to the other.

use std::collections::BTreeMap;

use super::NotJoined;
use super::identity::Ids;
use crate::model::board::{Board, HookRef};
use crate::model::card::CardFamily;
use crate::model::family::{Family, WallOrder};
use crate::model::ids::{BoardId, CardId, RangeId, RingId};
use crate::model::range::Range;
use crate::model::ring::{Ring, RingState};
use crate::model::thread::Strands;
use crate::model::underway::Underway;
use crate::model::whereabouts::{LastSeen, Whereabouts};
use crate::stash::change::{Change, ring_changes, without_lists};
use crate::stash::event::{Act, Event};
use crate::stash::state::{Kept, State};

/// What a [`State`] holds, without its laws.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub(super) struct Sheet {
    pub(super) ranges: BTreeMap<RangeId, Range>,
    pub(super) families: Vec<Family>,
    pub(super) order: WallOrder,
    pub(super) boards: BTreeMap<BoardId, Board>,
    pub(super) cards: BTreeMap<CardId, Kept>,
    pub(super) rings: BTreeMap<RingId, Ring>,
    pub(super) underway: Option<Underway>,
}

impl Sheet {
    pub(super) fn of(state: &State) -> Self {
        Self {
            ranges: state.ranges().map(|of| (of.id, of.clone())).collect(),
            families: state.families().to_vec(),
            order: state.order(),
            boards: state.boards().map(|of| (of.id, of.clone())).collect(),
            cards: state.cards().map(|of| (of.card.id, of.clone())).collect(),
            rings: state.rings().map(|of| (of.id, of.clone())).collect(),
            underway: state.underway().cloned(),
        }
    }

    /// The same with other numbers. What has no number there any more is not spoken of.
    pub(super) fn renumbered(self, ids: &Ids) -> Self {
        let hook = |hook: HookRef| HookRef {
            board: ids.board(hook.board),
            ..hook
        };
        let range = |mut of: Range| {
            of.id = ids.range(of.id);
            for shade in of.shades.values_mut() {
                shade.family = shade.family.map(|family| ids.family(family));
            }
            (of.id, of)
        };
        let card = |mut of: Kept| {
            of.card.id = ids.card(of.card.id);
            of.card.range = ids.range(of.card.range);
            of.card.parent = of.card.parent.map(|parent| ids.card(parent));
            of.card.family = match of.card.family {
                CardFamily::Chosen(family) => CardFamily::Chosen(ids.family(family)),
                CardFamily::WorkedOut(family) => CardFamily::WorkedOut(ids.family(family)),
                CardFamily::Unknown => CardFamily::Unknown,
            };
            of.home = of.home.map(hook);
            match &mut of.place.at {
                Whereabouts::Hook { hook: at } => *at = hook(*at),
                Whereabouts::Ring { ring } => *ring = ids.ring(*ring),
                Whereabouts::Missing {
                    last_seen: LastSeen::Hook(at),
                } => *at = hook(*at),
                Whereabouts::Missing {
                    last_seen: LastSeen::Ring(ring),
                } => *ring = ids.ring(*ring),
                _ => {}
            }
            (of.card.id, of)
        };
        let ring = |mut of: Ring| {
            of.id = ids.ring(of.id);
            of.went_out.retain(|card| ids.cards.contains_key(card));
            for card in &mut of.went_out {
                *card = ids.card(*card);
            }
            for line in &mut of.key {
                line.range = ids.range(line.range);
            }
            if let RingState::Parked { hook: at, .. } = &mut of.state {
                *at = hook(*at);
            }
            (of.id, of)
        };
        let mut families = self.families;
        for family in &mut families {
            family.id = ids.family(family.id);
        }
        let underway = self.underway.map(|mut of| {
            of.homes.retain(|(card, _)| ids.cards.contains_key(card));
            for (card, at) in &mut of.homes {
                (*card, *at) = (ids.card(*card), hook(*at));
            }
            of
        });
        Self {
            ranges: self.ranges.into_values().map(range).collect(),
            families,
            order: self.order,
            boards: (self.boards.into_values())
                .map(|mut of| {
                    of.id = ids.board(of.id);
                    (of.id, of)
                })
                .collect(),
            cards: self.cards.into_values().map(card).collect(),
            rings: self.rings.into_values().map(ring).collect(),
            underway: underway.filter(|of| !of.homes.is_empty()),
        }
    }

    /// The same with all lists sorted whose order says little: both ways of a join order them by who
    /// came first.
    pub(super) fn in_any_order(mut self) -> Self {
        self.families.sort_by_key(|family| family.id);
        for ring in self.rings.values_mut() {
            ring.went_out.sort_unstable();
            ring.key.sort_by_key(|line| (line.range, line.number.key()));
        }
        self
    }

    /// The state that holds this.
    pub(super) fn into_state(self) -> Result<State, NotJoined> {
        let mut state = State::default();
        let event = Event {
            // Taking something back is by no law a new closing of a ring.
            act: Act::Undo { seq: 0 },
            changes: self.changes_from(&state),
        };
        state.apply(&event).map_err(NotJoined::Unfit)?;
        Ok(state)
    }

    /// The changes that make of a state what stands here. O(all there is).
    pub(super) fn changes_from(&self, state: &State) -> Vec<Change> {
        let old = Self::of(state);
        let mut changes = Vec::new();
        pairs(&old.ranges, &self.ranges, |before, after| {
            changes.push(Change::Range { before, after });
        });
        if old.families != self.families {
            changes.push(Change::Families {
                before: old.families.clone(),
                after: self.families.clone(),
            });
        }
        if old.order != self.order {
            changes.push(Change::Order {
                before: old.order,
                after: self.order,
            });
        }
        pairs(&old.boards, &self.boards, |before, after| {
            changes.push(Change::Board { before, after });
        });
        pairs(&old.rings, &self.rings, |before, after| {
            match (before, after) {
                (before, Some(after)) => changes.extend(ring_changes(before.as_ref(), &after)),
                (Some(before), None) => {
                    let bare = without_lists(&before);
                    changes.extend(ring_changes(Some(&before), &bare));
                    changes.push(Change::Ring {
                        before: Some(bare),
                        after: None,
                    });
                }
                (None, None) => {}
            }
        });
        pairs(&old.cards, &self.cards, |before, after| {
            card(&mut changes, before, after)
        });
        if old.underway != self.underway {
            changes.push(Change::Underway {
                before: old.underway,
                after: self.underway.clone(),
            });
        }
        changes
    }
}

/// Tells every pair that differs.
fn pairs<K: Ord + Copy, V: Clone + PartialEq>(
    old: &BTreeMap<K, V>,
    new: &BTreeMap<K, V>,
    mut tell: impl FnMut(Option<V>, Option<V>),
) {
    for (id, before) in old {
        let after = new.get(id);
        if after != Some(before) {
            tell(Some(before.clone()), after.cloned());
        }
    }
    for (id, after) in new {
        if !old.contains_key(id) {
            tell(None, Some(after.clone()));
        }
    }
}

/// The changes of one card, part by part.
fn card(changes: &mut Vec<Change>, before: Option<Kept>, after: Option<Kept>) {
    let Some(card) = after.as_ref().or(before.as_ref()).map(|of| of.card.id) else {
        return;
    };
    let text = |of: &Option<Kept>| of.as_ref().map(|of| of.card.clone());
    let place = |of: &Option<Kept>| of.as_ref().map(|of| of.place.clone());
    let home = |of: &Option<Kept>| of.as_ref().and_then(|of| of.home);
    let strands = |of: &Option<Kept>| of.as_ref().map_or(Strands(0), |of| of.strands);
    if text(&before) != text(&after) {
        changes.push(Change::Card {
            before: text(&before),
            after: text(&after),
        });
    }
    if place(&before) != place(&after) {
        changes.push(Change::Place {
            card,
            before: place(&before),
            after: place(&after),
        });
    }
    if home(&before) != home(&after) {
        changes.push(Change::Home {
            card,
            before: home(&before),
            after: home(&after),
        });
    }
    if strands(&before) != strands(&after) {
        changes.push(Change::Thread {
            card,
            before: strands(&before),
            after: strands(&after),
        });
    }
}
