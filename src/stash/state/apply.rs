//! How an event changes the state: all of it, or nothing.

use std::collections::{BTreeMap, BTreeSet};

use super::{CardState, State};
use crate::model::board::HookRef;
use crate::model::card::Card;
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::ring::{MOST_USED_CM, Ring};
use crate::model::thread::{Lot, Thread};
use crate::model::whereabouts::Place;
use crate::stash::event::{Change, Event, edited, inverse};
use crate::stash::invariants::{self, Violation};

/// A card on its way in or out: its parts come and go one change at a time within an event.
#[derive(Clone, Default, PartialEq, Eq, Debug)]
struct Parts {
    card: Option<Card>,
    place: Option<Place>,
    home: Option<HookRef>,
    thread: Thread,
}

impl From<CardState> for Parts {
    fn from(kept: CardState) -> Self {
        Self {
            card: Some(kept.card),
            place: Some(kept.place),
            home: kept.home,
            thread: kept.thread,
        }
    }
}

/// An event does not fit the state, or would break a law. The state is as it was before.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ApplyError {
    /// The state was not as the event says it was.
    #[error("change {position} of the event does not fit: {what} is not as the event says it was")]
    Before {
        /// Which change of the event, from 1.
        position: usize,
        /// What the change is about.
        what: &'static str,
    },
    /// A law of the stash would be broken.
    #[error(transparent)]
    Law(#[from] Violation),
}

/// Replaces `slot`'s value by `after` if it is `before` now.
fn swap<K: Ord + Copy, V: PartialEq + Clone>(
    map: &mut BTreeMap<K, V>,
    key: impl Fn(&V) -> K,
    before: Option<&V>,
    after: Option<&V>,
) -> bool {
    let keys: Vec<K> = before.iter().chain(after.iter()).map(|v| key(v)).collect();
    let Some(&id) = keys.first() else {
        return false;
    };
    if keys.iter().any(|&k| k != id) || map.get(&id) != before {
        return false;
    }
    match after {
        Some(value) => map.insert(id, value.clone()),
        None => map.remove(&id),
    };
    true
}

/// Sets a field that is `before` now to `after`.
fn set<T: PartialEq + Clone>(
    field: &mut T,
    before: &T,
    after: &T,
    what: &'static str,
) -> Result<(), &'static str> {
    if field != before {
        return Err(what);
    }
    field.clone_from(after);
    Ok(())
}

/// Lists a lot on a card, strikes it off, or says where its uncut skeins lie.
fn lot_listed(
    thread: &mut Thread,
    lot: &Lot,
    before: Option<&Label>,
    after: Option<&Label>,
) -> Result<(), &'static str> {
    let wrong = "the dye lots of the card";
    if thread.lot(lot).map(|of| &of.kept_at) != before {
        return Err(wrong);
    }
    match (before, after) {
        (None, None) => return Err(wrong),
        (None, Some(kept_at)) => {
            thread.list(lot.clone(), kept_at.clone());
        }
        (Some(_), Some(kept_at)) => {
            let of = thread.lot_mut(lot).ok_or(wrong)?;
            of.kept_at.clone_from(kept_at);
        }
        // Only a lot of which nothing is left.
        (Some(_), None) => return thread.strike(lot).then_some(()).ok_or(wrong),
    }
    Ok(())
}

impl State {
    /// Applies one event: all of it, or none.
    ///
    /// O(changes · log cards), and O(cards on the hooks concerned) for the laws.
    ///
    /// # Errors
    /// When a change does not fit the state, or the outcome breaks a law; the state is unchanged.
    pub fn apply(&mut self, event: &Event) -> Result<(), ApplyError> {
        let mut open = BTreeMap::new();
        for (done, change) in event.changes.iter().enumerate() {
            if let Err(what) = self.change(change, &mut open) {
                self.take_back(&event.changes[..done], open);
                return Err(ApplyError::Before {
                    position: done + 1,
                    what,
                });
            }
        }
        if !open.is_empty() {
            self.take_back(&event.changes, open);
            return Err(ApplyError::Before {
                position: event.changes.len(),
                what: "a card's place",
            });
        }
        if let Err(broken) = invariants::check_touched(self, event) {
            self.take_back(&event.changes, open);
            return Err(broken.into());
        }
        self.seed.step();
        Ok(())
    }

    /// Turns around changes that were applied. They fit by construction.
    fn take_back(&mut self, done: &[Change], mut open: BTreeMap<CardId, Parts>) {
        for change in inverse(done) {
            let fits = self.change(&change, &mut open);
            debug_assert!(fits.is_ok() && fits == Ok(()), "{change:?}");
        }
    }

    /// One change. `open` holds cards of which only a part is there, in the middle of an event.
    fn change(
        &mut self,
        change: &Change,
        open: &mut BTreeMap<CardId, Parts>,
    ) -> Result<(), &'static str> {
        match change {
            Change::Card { before, after } => {
                let told = before.iter().chain(after);
                let ids: BTreeSet<CardId> = told.map(|card| card.id).collect();
                let id = ids.first().filter(|_| ids.len() == 1).ok_or("the card")?;
                self.part(*id, open, |parts| {
                    set(&mut parts.card, before, after, "the card")
                })
            }
            Change::Place {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                set(&mut parts.place, before, after, "the card's place")
            }),
            Change::Home {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                set(&mut parts.home, before, after, "the card's home")
            }),
            Change::Lot {
                card,
                lot,
                before,
                after,
            } => self.part(*card, open, |parts| {
                lot_listed(&mut parts.thread, lot, before.as_ref(), after.as_ref())
            }),
            Change::Thread {
                card,
                lot,
                part,
                amount,
            } => self.part(*card, open, |parts| {
                let wrong = "the thread of the card";
                let of = parts.thread.lot_mut(lot).ok_or(wrong)?;
                let there = of.amount_mut(*part);
                let now = amount.of(u64::from(*there), u32::MAX.into());
                *there = now.and_then(|now| u32::try_from(now).ok()).ok_or(wrong)?;
                Ok(())
            }),
            Change::Ring { .. }
            | Change::WentOut { .. }
            | Change::Key { .. }
            | Change::Used { .. } => self.ring_change(change),
            Change::Range { .. }
            | Change::Board { .. }
            | Change::Order { .. }
            | Change::Families { .. }
            | Change::Underway { .. }
            | Change::Progress { .. } => self.wall_change(change),
        }
    }

    /// A change of a range, of the wall or of the re-hang underway; any other doesn't fit.
    fn wall_change(&mut self, change: &Change) -> Result<(), &'static str> {
        match change {
            Change::Range { before, after } => {
                swap(&mut self.ranges, |r| r.id, before.as_ref(), after.as_ref())
                    .then_some(())
                    .ok_or("the range")
            }
            Change::Board { before, after } => {
                swap(&mut self.boards, |b| b.id, before.as_ref(), after.as_ref())
                    .then_some(())
                    .ok_or("the board")
            }
            Change::Order { before, after } => {
                set(&mut self.order, before, after, "the order of the wall")
            }
            Change::Families { before, after } => {
                set(&mut self.families, before, after, "the list of families")
            }
            Change::Underway { before, after } => {
                set(&mut self.underway, before, after, "the re-hang underway")
            }
            Change::Progress { before, after } => {
                let wrong = "the progress of the re-hang";
                let underway = self.underway.as_mut().ok_or(wrong)?;
                set(&mut underway.done, before, after, wrong)
            }
            _ => Err("the wall"),
        }
    }

    /// A change of a ring or of one of its lists; any other doesn't fit.
    fn ring_change(&mut self, change: &Change) -> Result<(), &'static str> {
        match change {
            Change::Ring { before, after } => {
                self.ring_told_without_lists(before.as_ref(), after.as_ref())
            }
            Change::WentOut {
                ring,
                before,
                after,
            } => {
                let wrong = "the cards that went out on the ring";
                let list = &mut self.rings.get_mut(ring).ok_or(wrong)?.went_out;
                *list = edited(list, before, after).ok_or(wrong)?;
                Ok(())
            }
            Change::Key {
                ring,
                before,
                after,
            } => {
                let wrong = "the key of the ring";
                let ring = self.rings.get_mut(ring).ok_or(wrong)?;
                set(&mut ring.key, before, after, wrong)
            }
            Change::Used {
                ring,
                colour,
                amount,
            } => {
                let wrong = "what was used for the ring";
                let used = &mut self.rings.get_mut(ring).ok_or(wrong)?.used;
                let had = used.get(colour).copied().unwrap_or(0);
                match amount.of(had, MOST_USED_CM).ok_or(wrong)? {
                    0 => {
                        used.remove(colour);
                    }
                    now => {
                        *used.entry(colour.clone()).or_default() = now;
                    }
                }
                Ok(())
            }
            _ => Err("the ring"),
        }
    }

    /// Changes a ring and leaves its key, what was used, and the cards that went out on it as they
    /// are. A ring comes and goes without them.
    fn ring_told_without_lists(
        &mut self,
        before: Option<&Ring>,
        after: Option<&Ring>,
    ) -> Result<(), &'static str> {
        let has_lists = |ring: &Ring| {
            !(ring.key.is_empty() && ring.used.is_empty() && ring.went_out.is_empty())
        };
        let mut told = before.into_iter().chain(after);
        if told.clone().any(has_lists) {
            return Err("the ring, which is told with its lists");
        }
        let id = told.next().ok_or("the ring")?.id;
        let lists = |ring: &mut Ring| {
            (
                std::mem::take(&mut ring.key),
                std::mem::take(&mut ring.used),
                std::mem::take(&mut ring.went_out),
            )
        };
        let (key, used, went_out) = self.rings.get_mut(&id).map(lists).unwrap_or_default();
        // A ring that still has its lists does not go.
        let is_bare = key.is_empty() && used.is_empty() && went_out.is_empty();
        let goes = after.is_some() || is_bare;
        let fits = goes && swap(&mut self.rings, |ring| ring.id, before, after);
        if let Some(ring) = self.rings.get_mut(&id) {
            (ring.key, ring.used, ring.went_out) = (key, used, went_out);
        }
        if fits { Ok(()) } else { Err("the ring") }
    }

    /// Changes one part of a card, whether it is whole or on its way in or out.
    fn part(
        &mut self,
        id: CardId,
        open: &mut BTreeMap<CardId, Parts>,
        change: impl FnOnce(&mut Parts) -> Result<(), &'static str>,
    ) -> Result<(), &'static str> {
        let mut parts = match self.cards.remove(&id) {
            Some(kept) => {
                self.index.forget(&kept);
                Parts::from(kept)
            }
            None => open.remove(&id).unwrap_or_default(),
        };
        // A change that does not fit leaves the parts as they were, so they go back unchanged.
        let fits = change(&mut parts);
        match parts {
            Parts {
                card: Some(card),
                place: Some(place),
                home,
                thread,
            } => {
                let kept = CardState {
                    card,
                    place,
                    home,
                    thread,
                };
                self.index.learn(&kept);
                self.cards.insert(id, kept);
            }
            parts if parts == Parts::default() => {}
            parts => {
                open.insert(id, parts);
            }
        }
        fits
    }
}
