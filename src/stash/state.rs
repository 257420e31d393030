//! The stash as it stands: everything that is known, and the one way it changes.

mod whole;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::change::{Change, turned};
use super::event::Event;
use super::index::Index;
use super::laws::{self, Broken};
use crate::language::{say, word};
use crate::model::board::{Board, HookRef};
use crate::model::card::Card;
use crate::model::family::{Family, WallOrder};
use crate::model::ids::{BoardId, CardId, RangeId, RingId};
use crate::model::range::Range;
use crate::model::ring::Ring;
use crate::model::thread::Strands;
use crate::model::underway::Underway;
use crate::model::whereabouts::{Place, Whereabouts};

/// A card with all that is known about it now.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Kept {
    /// What is written on it.
    pub card: Card,
    /// Where it is.
    pub place: Place,
    /// Where it belongs, if it has a hook of its own.
    pub home: Option<HookRef>,
    /// The thread on it.
    pub strands: Strands,
}

impl Kept {
    /// Whether it hangs on the hook where it belongs.
    #[must_use]
    pub fn is_home(&self) -> bool {
        self.home.is_some() && self.place.at.hook() == self.home
    }
}

/// A card on its way in or out: its parts come and go one change at a time within an event.
#[derive(Clone, Default, PartialEq, Eq, Debug)]
struct Parts {
    card: Option<Card>,
    place: Option<Place>,
    home: Option<HookRef>,
    strands: Strands,
}

impl From<Kept> for Parts {
    fn from(kept: Kept) -> Self {
        Self {
            card: Some(kept.card),
            place: Some(kept.place),
            home: kept.home,
            strands: kept.strands,
        }
    }
}

/// A stash. Built from nothing by applying events in order.
#[derive(Clone, Default, Debug)]
pub struct State {
    ranges: BTreeMap<RangeId, Range>,
    families: Vec<Family>,
    order: WallOrder,
    boards: BTreeMap<BoardId, Board>,
    cards: BTreeMap<CardId, Kept>,
    rings: BTreeMap<RingId, Ring>,
    underway: Option<Underway>,
    index: Index,
}

impl PartialEq for State {
    /// The index follows from the rest and is not compared.
    fn eq(&self, other: &Self) -> bool {
        self.ranges == other.ranges
            && self.families == other.families
            && self.order == other.order
            && self.boards == other.boards
            && self.cards == other.cards
            && self.rings == other.rings
            && self.underway == other.underway
    }
}

/// An event does not fit the state, or would break a law. The state is as it was before.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Misfit {
    /// The state was not as the event says it was.
    #[error("{}", say!(
        "change {position} of the event does not fit: {what} is not as the event says it was",
        position,
        what
    ))]
    Before {
        /// Which change of the event, from 1.
        position: usize,
        /// What the change is about.
        what: &'static str,
    },
    /// A law of the stash would be broken.
    #[error(transparent)]
    Law(#[from] Broken),
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
    pub fn apply(&mut self, event: &Event) -> Result<(), Misfit> {
        let mut open = BTreeMap::new();
        for (done, change) in event.changes.iter().enumerate() {
            if let Err(what) = self.change(change, &mut open) {
                self.take_back(&event.changes[..done], open);
                return Err(Misfit::Before {
                    position: done + 1,
                    what,
                });
            }
        }
        if !open.is_empty() {
            self.take_back(&event.changes, open);
            return Err(Misfit::Before {
                position: event.changes.len(),
                what: word!("a card's place"),
            });
        }
        if let Err(broken) = laws::check_touched(self, event) {
            self.take_back(&event.changes, open);
            return Err(broken.into());
        }
        Ok(())
    }

    /// Turns around changes that were applied. They fit by construction.
    fn take_back(&mut self, done: &[Change], mut open: BTreeMap<CardId, Parts>) {
        for change in turned(done) {
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
                word!("the range"),
            ),
            Change::Board { before, after } => fits(
                swap(&mut self.boards, |b| b.id, before.as_ref(), after.as_ref()),
                word!("the board"),
            ),
            Change::Ring { before, after } => {
                self.ring_told_without_lists(before.as_ref(), after.as_ref())
            }
            Change::WentOut {
                ring,
                at,
                rest,
                before,
                after,
            } => {
                let wrong = word!("the cards that went out on the ring");
                let at = usize::try_from(*at).unwrap_or(usize::MAX);
                let list = &mut self.rings.get_mut(ring).ok_or(wrong)?.went_out;
                let end = at.saturating_add(before.len());
                let rest = usize::try_from(*rest).unwrap_or(usize::MAX);
                let stays = list.len().checked_sub(end) == Some(rest);
                fits(stays && list.get(at..end) == Some(before), wrong)?;
                list.splice(at..end, after.iter().copied());
                Ok(())
            }
            Change::Key {
                ring,
                before,
                after,
            } => {
                let ring = self.rings.get_mut(ring).filter(|ring| ring.key == *before);
                ring.ok_or(word!("the key of the ring"))?
                    .key
                    .clone_from(after);
                Ok(())
            }
            Change::Used {
                ring,
                line,
                before,
                after,
            } => {
                let at = usize::try_from(*line).unwrap_or(usize::MAX);
                let ring = self.rings.get_mut(ring);
                let entry = ring.and_then(|ring| ring.key.get_mut(at));
                let entry = entry.filter(|entry| entry.used_cm == *before);
                entry.ok_or(word!("what was used for the key"))?.used_cm = *after;
                Ok(())
            }
            Change::Order { before, after } => {
                fits(self.order == *before, word!("the order of the wall"))?;
                self.order = *after;
                Ok(())
            }
            Change::Families { before, after } => {
                fits(self.families == *before, word!("the list of families"))?;
                self.families.clone_from(after);
                Ok(())
            }
            Change::Underway { before, after } => {
                fits(self.underway == *before, word!("the re-hang underway"))?;
                self.underway.clone_from(after);
                Ok(())
            }
            Change::Progress { before, after } => {
                let underway = self.underway.as_mut();
                let underway = underway.filter(|underway| underway.done == *before);
                let underway = underway.ok_or(word!("the progress of the re-hang"))?;
                underway.done = *after;
                Ok(())
            }
            Change::Card { before, after } => {
                let id = match (before, after) {
                    (Some(a), Some(b)) if a.id != b.id => return Err(word!("the card")),
                    (Some(card), _) | (None, Some(card)) => card.id,
                    (None, None) => return Err(word!("the card")),
                };
                self.part(id, open, |parts| {
                    fits(parts.card == *before, word!("the card"))?;
                    parts.card.clone_from(after);
                    Ok(())
                })
            }
            Change::Place {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                fits(parts.place == *before, word!("the card's place"))?;
                parts.place.clone_from(after);
                Ok(())
            }),
            Change::Home {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                fits(parts.home == *before, word!("the card's home"))?;
                parts.home = *after;
                Ok(())
            }),
            Change::Thread {
                card,
                before,
                after,
            } => self.part(*card, open, |parts| {
                fits(parts.strands == *before, word!("the thread on the card"))?;
                parts.strands = *after;
                Ok(())
            }),
        }
    }

    /// Changes a ring and leaves its key and the cards that went out on it as they are. A ring comes and
    /// goes without them.
    fn ring_told_without_lists(
        &mut self,
        before: Option<&Ring>,
        after: Option<&Ring>,
    ) -> Result<(), &'static str> {
        let mut told = before.into_iter().chain(after);
        if told.clone().any(|ring| !ring.key.is_empty()) {
            return Err(word!("the ring, which is told with its key"));
        }
        // As the first records had it.
        let in_whole = told.clone().any(|ring| !ring.went_out.is_empty());
        let id = told.next().ok_or(word!("the ring"))?.id;
        let (mut key, mut went_out) = (Vec::new(), Vec::new());
        if let Some(ring) = self.rings.get_mut(&id) {
            key = std::mem::take(&mut ring.key);
            if !in_whole {
                went_out = std::mem::take(&mut ring.went_out);
            }
        }
        // A ring that still has its lists does not go.
        let goes = after.is_some() || (key.is_empty() && went_out.is_empty());
        let fits = goes && swap(&mut self.rings, |ring| ring.id, before, after);
        if let Some(ring) = self.rings.get_mut(&id) {
            ring.key = key;
            if !in_whole {
                ring.went_out = went_out;
            }
        }
        if fits { Ok(()) } else { Err(word!("the ring")) }
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
                strands,
            } => {
                let kept = Kept {
                    card,
                    place,
                    home,
                    strands,
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

    /// Every card, by id.
    pub fn cards(&self) -> impl ExactSizeIterator<Item = &Kept> {
        self.cards.values()
    }

    /// One card.
    #[must_use]
    pub fn card(&self, id: CardId) -> Option<&Kept> {
        self.cards.get(&id)
    }

    /// Every board, in the order they were put up.
    pub fn boards(&self) -> impl ExactSizeIterator<Item = &Board> {
        self.boards.values()
    }

    /// One board.
    #[must_use]
    pub fn board(&self, id: BoardId) -> Option<&Board> {
        self.boards.get(&id)
    }

    /// Every ring, closed ones too, in the order they were opened.
    pub fn rings(&self) -> impl ExactSizeIterator<Item = &Ring> {
        self.rings.values()
    }

    /// One ring.
    #[must_use]
    pub fn ring(&self, id: RingId) -> Option<&Ring> {
        self.rings.get(&id)
    }

    /// Every range, in the order they were given.
    pub fn ranges(&self) -> impl ExactSizeIterator<Item = &Range> {
        self.ranges.values()
    }

    /// One range.
    #[must_use]
    pub fn range(&self, id: RangeId) -> Option<&Range> {
        self.ranges.get(&id)
    }

    /// The families in the order of the wall.
    #[must_use]
    pub fn families(&self) -> &[Family] {
        &self.families
    }

    /// What the wall is ordered by.
    #[must_use]
    pub const fn order(&self) -> WallOrder {
        self.order
    }

    /// The re-hang that is begun and not at its end.
    #[must_use]
    pub const fn underway(&self) -> Option<&Underway> {
        self.underway.as_ref()
    }

    /// What is quickly looked up.
    #[must_use]
    pub const fn index(&self) -> &Index {
        &self.index
    }

    /// The cards that have their home on a hook, in order of their ids.
    pub fn homes_on(&self, hook: HookRef) -> impl Iterator<Item = &Kept> {
        self.index
            .homes_on(hook)
            .iter()
            .filter_map(|&id| self.card(id))
    }

    /// The cards that hang on a hook now.
    pub fn hanging_on(&self, hook: HookRef) -> impl Iterator<Item = &Kept> {
        self.index
            .hanging_on(hook)
            .iter()
            .filter_map(|&id| self.card(id))
    }

    /// The cards on a ring, in the order they were taken.
    pub fn cards_on(&self, ring: &Ring) -> impl Iterator<Item = &Kept> {
        let id = ring.id;
        ring.went_out
            .iter()
            .filter_map(|&card| self.card(card))
            .filter(move |kept| kept.place.at == Whereabouts::Ring { ring: id })
    }

    /// Places on a hook that may be used: 0 where it is blocked or does not exist.
    #[must_use]
    pub fn capacity(&self, hook: HookRef) -> u8 {
        self.board(hook.board).map_or(0, |b| b.capacity(hook))
    }

    /// Places on a hook that are no card's home.
    #[must_use]
    pub fn free_places(&self, hook: HookRef) -> usize {
        usize::from(self.capacity(hook)).saturating_sub(self.index.homes_on(hook).len())
    }
}

#[cfg(test)]
pub(crate) mod tests;
