//! Look-ups that follow from the cards and are kept up as they change.

use std::collections::{BTreeMap, HashMap};

use super::state::Kept;
use crate::model::board::HookRef;
use crate::model::ids::{CardId, RangeId};

/// Which cards live on a hook, hang on a hook, or bear a number.
#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub struct Index {
    homes: HashMap<HookRef, Vec<CardId>>,
    hanging: HashMap<HookRef, Vec<CardId>>,
    numbers: BTreeMap<String, Vec<(RangeId, CardId)>>,
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

impl Index {
    pub(super) fn learn(&mut self, kept: &Kept) {
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
    }

    pub(super) fn forget(&mut self, kept: &Kept) {
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
}
