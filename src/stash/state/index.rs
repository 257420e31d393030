//! Look-ups that follow from the cards and are kept up as they change.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::CardState;
use crate::model::board::HookRef;
use crate::model::ids::{CardId, RangeId};
use crate::model::whereabouts::Whereabouts;

/// How a card is away from home.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AwayReason {
    /// On a ring.
    OnRing,
    /// In the hand.
    InHand,
    /// On another hook, in a place the program does not keep, or a split card that is to hang.
    Elsewhere,
    /// Declared missing.
    Missing,
    /// To hang, where a re-hang can hang it.
    ToHang,
}

impl AwayReason {
    /// How a card is away; `None` where it hangs on the hook it belongs on.
    #[must_use]
    pub fn of(kept: &CardState) -> Option<Self> {
        Some(match kept.place.at {
            Whereabouts::Hook { hook } if kept.home == Some(hook) => return None,
            Whereabouts::Ring { .. } => Self::OnRing,
            Whereabouts::Hand => Self::InHand,
            Whereabouts::Missing { .. } => Self::Missing,
            Whereabouts::Unhung if kept.card.parent.is_none() => Self::ToHang,
            _ => Self::Elsewhere,
        })
    }
}

/// Which cards live on a hook, hang on a hook, bear a number, or are not at home.
#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub struct Index {
    homes: HashMap<HookRef, Vec<CardId>>,
    hanging: HashMap<HookRef, Vec<CardId>>,
    numbers: BTreeMap<String, Vec<(RangeId, CardId)>>,
    abroad: BTreeMap<AwayReason, BTreeSet<CardId>>,
    at_home: usize,
    with_home: usize,
    /// How many cards have a number and tag of so many characters.
    lengths: BTreeMap<usize, usize>,
}

/// Adds to a sorted list.
fn add<K: std::hash::Hash + Eq>(map: &mut HashMap<K, Vec<CardId>>, key: K, id: CardId) {
    let list = map.entry(key).or_default();
    if let Err(at) = list.binary_search(&id) {
        list.insert(at, id);
    }
}

/// Takes from a sorted list, and forgets the list when it is empty.
fn drop_from<K: std::hash::Hash + Eq>(map: &mut HashMap<K, Vec<CardId>>, key: &K, id: CardId) {
    if let Some(list) = map.get_mut(key) {
        list.retain(|&other| other != id);
        if list.is_empty() {
            map.remove(key);
        }
    }
}

/// How many characters its number has, with its tag.
fn length(kept: &CardState) -> usize {
    let chars = |text: &str| text.chars().count();
    let tag = chars(kept.card.tag.as_str());
    chars(kept.card.number.as_str()) + tag + usize::from(tag > 0)
}

impl Index {
    pub(in crate::stash) fn learn(&mut self, kept: &CardState) {
        let id = kept.card.id;
        if let Some(home) = kept.home {
            add(&mut self.homes, home, id);
        }
        if let Some(hook) = kept.place.at.hook() {
            add(&mut self.hanging, hook, id);
        }
        let list = self.numbers.entry(kept.card.number.key()).or_default();
        if let Err(at) = list.binary_search(&(kept.card.range, id)) {
            list.insert(at, (kept.card.range, id));
        }
        match AwayReason::of(kept) {
            Some(abroad) => {
                self.abroad.entry(abroad).or_default().insert(id);
            }
            None => self.at_home += 1,
        }
        self.with_home += usize::from(kept.home.is_some());
        *self.lengths.entry(length(kept)).or_default() += 1;
    }

    pub(super) fn forget(&mut self, kept: &CardState) {
        let id = kept.card.id;
        if let Some(home) = kept.home {
            drop_from(&mut self.homes, &home, id);
        }
        if let Some(hook) = kept.place.at.hook() {
            drop_from(&mut self.hanging, &hook, id);
        }
        let key = kept.card.number.key();
        if let Some(list) = self.numbers.get_mut(&key) {
            list.retain(|&(_, other)| other != id);
            if list.is_empty() {
                self.numbers.remove(&key);
            }
        }
        match AwayReason::of(kept) {
            Some(abroad) => {
                if let Some(cards) = self.abroad.get_mut(&abroad) {
                    cards.remove(&id);
                    if cards.is_empty() {
                        self.abroad.remove(&abroad);
                    }
                }
            }
            None => self.at_home -= 1,
        }
        self.with_home -= usize::from(kept.home.is_some());
        let length = length(kept);
        if let Some(count) = self.lengths.get_mut(&length) {
            *count -= 1;
            if *count == 0 {
                self.lengths.remove(&length);
            }
        }
    }

    /// The cards whose home is on a hook, by id.
    #[must_use]
    pub fn homes_on(&self, hook: HookRef) -> &[CardId] {
        self.homes.get(&hook).map_or(&[], Vec::as_slice)
    }

    /// The cards that hang on a hook, by id.
    #[must_use]
    pub fn hanging_on(&self, hook: HookRef) -> &[CardId] {
        self.hanging.get(&hook).map_or(&[], Vec::as_slice)
    }

    /// The hooks that are some card's home.
    pub fn homes(&self) -> impl Iterator<Item = (HookRef, &[CardId])> {
        self.homes
            .iter()
            .map(|(&hook, list)| (hook, list.as_slice()))
    }

    /// The cards with a number (see [`crate::model::number::Number::key`]), by range and id.
    #[must_use]
    pub fn numbered(&self, key: &str) -> &[(RangeId, CardId)] {
        self.numbers.get(key).map_or(&[], Vec::as_slice)
    }

    /// The cards that are so away from home, by id.
    pub fn abroad(&self, so: AwayReason) -> impl Iterator<Item = CardId> + '_ {
        self.abroad.get(&so).into_iter().flatten().copied()
    }

    /// The cards that are not at home, in no order that means anything.
    pub fn not_at_home(&self) -> impl Iterator<Item = CardId> + '_ {
        self.abroad.values().flatten().copied()
    }

    /// How many cards are so away from home. O(1).
    #[must_use]
    pub fn count_abroad(&self, so: AwayReason) -> usize {
        self.abroad.get(&so).map_or(0, BTreeSet::len)
    }

    /// How many cards hang on the hook they belong on. O(1).
    #[must_use]
    pub const fn count_at_home(&self) -> usize {
        self.at_home
    }

    /// How many cards have a hook of their own. O(1).
    #[must_use]
    pub const fn count_with_home(&self) -> usize {
        self.with_home
    }

    /// How many characters the longest number on a card has, with its tag; 0 without cards. O(1).
    #[must_use]
    pub fn longest_number(&self) -> usize {
        self.lengths
            .last_key_value()
            .map_or(0, |(&length, _)| length)
    }
}
