//! Applies one change, or several, to the state.

use std::collections::{BTreeMap, BTreeSet};

use super::{CardState, State};
use crate::model::board::HookRef;
use crate::model::card::Card;
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::matches::ColourMatch;
use crate::model::ring::{MOST_USED_CM, Ring};
use crate::model::thread::{Lot, Thread, ThreadPart};
use crate::model::whereabouts::Place;
use crate::stash::event::{AmountChange, Change, edited, inverse};

/// The part of the state that differs from a change's old value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Mismatch {
    /// A range.
    #[error("range")]
    Range,
    /// A match of two colours.
    #[error("match")]
    Match,
    /// The list of families.
    #[error("families")]
    Families,
    /// The order of the wall.
    #[error("order")]
    Order,
    /// A board.
    #[error("board")]
    Board,
    /// A card.
    #[error("card")]
    Card,
    /// The place of a card.
    #[error("place")]
    Place,
    /// The hook a card belongs on.
    #[error("home")]
    Home,
    /// The dye lots of a card.
    #[error("lots")]
    Lots,
    /// The thread of a card.
    #[error("thread")]
    Thread,
    /// A ring.
    #[error("ring")]
    Ring,
    /// A ring written with lists that have their own changes.
    #[error("ring_with_lists")]
    RingWithLists,
    /// The cards that were on a ring.
    #[error("went_out")]
    WentOut,
    /// The chart key of a ring.
    #[error("key")]
    Key,
    /// The thread used for a ring.
    #[error("used")]
    Used,
    /// When a purchase was imported.
    #[error("purchase")]
    Purchase,
    /// The re-hang underway.
    #[error("underway")]
    Underway,
    /// The progress of the re-hang.
    #[error("progress")]
    Progress,
}

/// A card being added or removed: within an event, its parts come and go one change at a time.
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

/// Replaces the value in a slot by `after` if it is currently `before`.
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

/// Sets a field that is currently `before` to `after`.
fn set<T: PartialEq + Clone>(
    field: &mut T,
    before: &T,
    after: &T,
    what: Mismatch,
) -> Result<(), Mismatch> {
    if field != before {
        return Err(what);
    }
    field.clone_from(after);
    Ok(())
}

/// Lists a lot on a card, removes it, or changes where its uncut skeins are stored.
fn lot_listed(
    thread: &mut Thread,
    lot: &Lot,
    before: Option<&Label>,
    after: Option<&Label>,
) -> Result<(), Mismatch> {
    let wrong = Mismatch::Lots;
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
        // Only a used-up lot.
        (Some(_), None) => return thread.strike(lot).then_some(()).ok_or(wrong),
    }
    Ok(())
}

/// Changes an amount of a listed lot.
fn amount_changed(
    thread: &mut Thread,
    lot: &Lot,
    part: ThreadPart,
    amount: AmountChange,
) -> Result<(), Mismatch> {
    let of = thread.lot_mut(lot).ok_or(Mismatch::Thread)?;
    let there = of.amount_mut(part);
    let now = amount.of(u64::from(*there), u32::MAX.into());
    let now = now.and_then(|now| u32::try_from(now).ok());
    *there = now.ok_or(Mismatch::Thread)?;
    Ok(())
}

impl State {
    /// Applies changes in order: all of them, or none.
    ///
    /// # Errors
    /// The first that doesn't fit, counted from 1. If only part of a card exists in the end, the
    /// last change doesn't fit.
    pub(in crate::stash) fn change_all(
        &mut self,
        changes: &[Change],
    ) -> Result<(), (usize, Mismatch)> {
        let mut open = BTreeMap::new();
        for (done, change) in changes.iter().enumerate() {
            if let Err(what) = self.change(change, &mut open) {
                self.turn_back(&changes[..done], open);
                return Err((done + 1, what));
            }
        }
        if open.is_empty() {
            return Ok(());
        }
        self.turn_back(changes, open);
        Err((changes.len(), Mismatch::Place))
    }

    /// Reverts changes that were just applied.
    pub(in crate::stash) fn take_back(&mut self, changes: &[Change]) {
        self.turn_back(changes, BTreeMap::new());
    }

    /// Reverts applied changes, which fit by construction.
    fn turn_back(&mut self, done: &[Change], mut open: BTreeMap<CardId, Parts>) {
        for change in inverse(done) {
            let fits = self.change(&change, &mut open);
            debug_assert!(fits == Ok(()), "{change:?}");
        }
    }

    /// Applies one change. `open` holds cards that are incomplete in the middle of an event.
    fn change(
        &mut self,
        change: &Change,
        open: &mut BTreeMap<CardId, Parts>,
    ) -> Result<(), Mismatch> {
        match change {
            Change::Card { before, after } => {
                let told = before.iter().chain(after);
                let ids: BTreeSet<CardId> = told.map(|card| card.id).collect();
                let id = ids.first().filter(|_| ids.len() == 1);
                self.part(*id.ok_or(Mismatch::Card)?, open, |parts| {
                    set(&mut parts.card, before, after, Mismatch::Card)
                })
            }
            Change::Place {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                set(&mut parts.place, before, after, Mismatch::Place)
            }),
            Change::Home {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                set(&mut parts.home, before, after, Mismatch::Home)
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
                amount_changed(&mut parts.thread, lot, *part, *amount)
            }),
            Change::Ring { .. }
            | Change::WentOut { .. }
            | Change::Key { .. }
            | Change::Used { .. } => self.ring_change(change),
            Change::Range { .. }
            | Change::Shade { .. }
            | Change::Match { .. }
            | Change::Board { .. }
            | Change::Order { .. }
            | Change::Families { .. }
            | Change::Purchase { .. }
            | Change::Underway { .. }
            | Change::Progress { .. } => self.wall_change(change),
        }
    }

    /// Applies a change of a range, the wall or the re-hang underway; any other doesn't fit.
    fn wall_change(&mut self, change: &Change) -> Result<(), Mismatch> {
        match change {
            Change::Range { before, after } => {
                swap(&mut self.ranges, |r| r.id, before.as_ref(), after.as_ref())
                    .then_some(())
                    .ok_or(Mismatch::Range)
            }
            Change::Shade {
                range,
                number,
                before,
                after,
            } => {
                let wrong = Mismatch::Range;
                let shades = &mut self.ranges.get_mut(range).ok_or(wrong)?.shades;
                if shades.get(number) != before.as_ref() {
                    return Err(wrong);
                }
                match after {
                    Some(shade) => shades.insert(number.clone(), shade.clone()),
                    None => shades.remove(number),
                };
                Ok(())
            }
            Change::Match { before, after } => self.match_changed(before.as_ref(), after.as_ref()),
            Change::Board { before, after } => {
                swap(&mut self.boards, |b| b.id, before.as_ref(), after.as_ref())
                    .then_some(())
                    .ok_or(Mismatch::Board)
            }
            Change::Order { before, after } => set(&mut self.order, before, after, Mismatch::Order),
            Change::Families { before, after } => {
                set(&mut self.families, before, after, Mismatch::Families)
            }
            Change::Purchase {
                purchase,
                before,
                after,
            } => {
                if self.purchases.get(purchase) != before.as_ref() {
                    return Err(Mismatch::Purchase);
                }
                match after {
                    Some(at) => self.purchases.insert(*purchase, *at),
                    None => self.purchases.remove(purchase),
                };
                Ok(())
            }
            Change::Underway { before, after } => {
                set(&mut self.underway, before, after, Mismatch::Underway)
            }
            Change::Progress { before, after } => {
                let wrong = Mismatch::Progress;
                let underway = self.underway.as_mut().ok_or(wrong)?;
                set(&mut underway.done, before, after, wrong)
            }
            _ => Err(Mismatch::Order),
        }
    }

    /// Adds, removes or rewrites a match.
    fn match_changed(
        &mut self,
        before: Option<&ColourMatch>,
        after: Option<&ColourMatch>,
    ) -> Result<(), Mismatch> {
        let either = before.or(after).ok_or(Mismatch::Match)?;
        // Both must be of the same two colours.
        let fits = after.is_none_or(|after| after.colours() == either.colours());
        if !fits || self.matches.find(either).as_ref() != before {
            return Err(Mismatch::Match);
        }
        match after {
            Some(after) => self.matches.insert(after),
            None => self.matches.remove(either),
        }
        Ok(())
    }

    /// Applies a change of a ring or of one of its lists; any other doesn't fit.
    fn ring_change(&mut self, change: &Change) -> Result<(), Mismatch> {
        match change {
            Change::Ring { before, after } => {
                self.ring_told_without_lists(before.as_ref(), after.as_ref())
            }
            Change::WentOut {
                ring,
                before,
                after,
            } => {
                let wrong = Mismatch::WentOut;
                let list = &mut self.rings.get_mut(ring).ok_or(wrong)?.went_out;
                *list = edited(list, before, after).ok_or(wrong)?;
                Ok(())
            }
            Change::Key {
                ring,
                before,
                after,
            } => {
                let wrong = Mismatch::Key;
                let ring = self.rings.get_mut(ring).ok_or(wrong)?;
                set(&mut ring.key, before, after, wrong)
            }
            Change::Used {
                ring,
                colour,
                amount,
            } => {
                let wrong = Mismatch::Used;
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
            _ => Err(Mismatch::Ring),
        }
    }

    /// Changes a ring, but not its key, the thread used, and the cards that were on it. A ring is
    /// added and removed without them.
    fn ring_told_without_lists(
        &mut self,
        before: Option<&Ring>,
        after: Option<&Ring>,
    ) -> Result<(), Mismatch> {
        let has_lists = |ring: &Ring| {
            !(ring.key.is_empty() && ring.used.is_empty() && ring.went_out.is_empty())
        };
        let mut told = before.into_iter().chain(after);
        if told.clone().any(has_lists) {
            return Err(Mismatch::RingWithLists);
        }
        let id = told.next().ok_or(Mismatch::Ring)?.id;
        let lists = |ring: &mut Ring| {
            (
                std::mem::take(&mut ring.key),
                std::mem::take(&mut ring.used),
                std::mem::take(&mut ring.went_out),
            )
        };
        let (key, used, went_out) = self.rings.get_mut(&id).map(lists).unwrap_or_default();
        // A ring that still has its lists can't be removed.
        let is_bare = key.is_empty() && used.is_empty() && went_out.is_empty();
        let goes = after.is_some() || is_bare;
        let fits = goes && swap(&mut self.rings, |ring| ring.id, before, after);
        if let Some(ring) = self.rings.get_mut(&id) {
            (ring.key, ring.used, ring.went_out) = (key, used, went_out);
        }
        if fits { Ok(()) } else { Err(Mismatch::Ring) }
    }

    /// Changes one part of a card, whether it is complete or being added or removed.
    fn part(
        &mut self,
        id: CardId,
        open: &mut BTreeMap<CardId, Parts>,
        change: impl FnOnce(&mut Parts) -> Result<(), Mismatch>,
    ) -> Result<(), Mismatch> {
        let mut parts = match self.cards.remove(&id) {
            Some(kept) => {
                self.index.forget(&kept);
                Parts::from(kept)
            }
            None => open.remove(&id).unwrap_or_default(),
        };
        // A change that doesn't fit leaves the parts unchanged, so they go back as they were.
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
