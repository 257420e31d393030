//! How an event changes the state: all of it, or nothing.

use std::collections::BTreeMap;

use super::{CardState, State};
use crate::model::board::HookRef;
use crate::model::card::Card;
use crate::model::ids::CardId;
use crate::model::ring::{MOST_USED_CM, Ring};
use crate::model::thread::Thread;
use crate::model::whereabouts::Place;
use crate::stash::change::{Change, edited, inverse};
use crate::stash::event::Event;
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
        let fits = |fits: bool, what: &'static str| if fits { Ok(()) } else { Err(what) };
        match change {
            Change::Range { before, after } => fits(
                swap(&mut self.ranges, |r| r.id, before.as_ref(), after.as_ref()),
                "the range",
            ),
            Change::Board { before, after } => fits(
                swap(&mut self.boards, |b| b.id, before.as_ref(), after.as_ref()),
                "the board",
            ),
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
                let ring = self.rings.get_mut(ring).filter(|ring| ring.key == *before);
                ring.ok_or("the key of the ring")?.key.clone_from(after);
                Ok(())
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
            Change::Order { before, after } => {
                fits(self.order == *before, "the order of the wall")?;
                self.order = *after;
                Ok(())
            }
            Change::Families { before, after } => {
                fits(self.families == *before, "the list of families")?;
                self.families.clone_from(after);
                Ok(())
            }
            Change::Underway { before, after } => {
                fits(self.underway == *before, "the re-hang underway")?;
                self.underway.clone_from(after);
                Ok(())
            }
            Change::Progress { before, after } => {
                let underway = self.underway.as_mut();
                let underway = underway.filter(|underway| underway.done == *before);
                let underway = underway.ok_or("the progress of the re-hang")?;
                underway.done = *after;
                Ok(())
            }
            Change::Card { before, after } => {
                let id = match (before, after) {
                    (Some(a), Some(b)) if a.id != b.id => return Err("the card"),
                    (Some(card), _) | (None, Some(card)) => card.id,
                    (None, None) => return Err("the card"),
                };
                self.part(id, open, |parts| {
                    fits(parts.card == *before, "the card")?;
                    parts.card.clone_from(after);
                    Ok(())
                })
            }
            Change::Place {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                fits(parts.place == *before, "the card's place")?;
                parts.place.clone_from(after);
                Ok(())
            }),
            Change::Home {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                fits(parts.home == *before, "the card's home")?;
                parts.home = *after;
                Ok(())
            }),
            Change::Lot {
                card,
                lot,
                before,
                after,
            } => self.part(*card, open, |parts| {
                let wrong = "the dye lots of the card";
                let thread = &mut parts.thread;
                let listed = thread.lot(lot).map(|of| &of.kept_at);
                fits(listed == before.as_ref(), wrong)?;
                match (before, after) {
                    (None, None) => Err(wrong),
                    (None, Some(kept_at)) => {
                        thread.list(lot.clone(), kept_at.clone());
                        Ok(())
                    }
                    (Some(_), Some(kept_at)) => {
                        let of = thread.lot_mut(lot).ok_or(wrong)?;
                        of.kept_at.clone_from(kept_at);
                        Ok(())
                    }
                    // Only a lot of which nothing is left.
                    (Some(_), None) => fits(thread.strike(lot), wrong),
                }
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
