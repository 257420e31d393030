//! The current state of a stash, and how a change alters it. Lookups derived from the cards are
//! kept up to date ([`Index`]).

mod change;

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::Timestamp;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use strum::VariantArray;

use crate::model::board::{Board, HookRef};
use crate::model::card::{Card, Family, WallOrder};
use crate::model::ids::{BoardId, CardId, FamilyId, IdSeed, NewIds, PurchaseId, RangeId, RingId};
use crate::model::matches::Matches;
use crate::model::range::Range;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{Strands, Thread};
use crate::model::whereabouts::{Place, Underway, Whereabouts};

pub use self::change::Mismatch;

/// A card with its current data.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct CardState {
    /// Its data.
    pub card: Card,
    /// Where it is.
    pub place: Place,
    /// The hook it belongs on, if it has one.
    pub home: Option<HookRef>,
    /// Its thread, on it or uncut, by lot.
    pub thread: Thread,
}

impl CardState {
    /// Whether it hangs on the hook where it belongs.
    #[must_use]
    pub fn is_home(&self) -> bool {
        self.home.is_some() && self.place.at.hook() == self.home
    }

    /// Strands on it, of all lots.
    #[must_use]
    pub fn strands(&self) -> Strands {
        self.thread.strands()
    }

    /// Its colour.
    #[must_use]
    pub fn colour_ref(&self) -> ColourRef {
        ColourRef::new(self.card.range, self.card.number.clone())
    }

    /// Its uncut skeins, of all lots.
    #[must_use]
    pub fn skeins(&self) -> u32 {
        self.thread.skeins()
    }
}

/// A stash, built from nothing by applying events in order.
#[derive(Clone, Default, Debug)]
pub struct State {
    ranges: BTreeMap<RangeId, Range>,
    families: Vec<Family>,
    order: WallOrder,
    boards: BTreeMap<BoardId, Board>,
    cards: BTreeMap<CardId, CardState>,
    rings: BTreeMap<RingId, Ring>,
    /// When each purchase was imported.
    purchases: BTreeMap<PurchaseId, Timestamp>,
    matches: Matches,
    underway: Option<Underway>,
    index: Index,
    seed: IdSeed,
}

impl PartialEq for State {
    /// Ignores the index, which is derived from the rest, and the seed, which isn't part of the
    /// stash.
    fn eq(&self, other: &Self) -> bool {
        self.ranges == other.ranges
            && self.families == other.families
            && self.order == other.order
            && self.boards == other.boards
            && self.cards == other.cards
            && self.rings == other.rings
            && self.purchases == other.purchases
            && self.matches == other.matches
            && self.underway == other.underway
    }
}

impl State {
    /// Seeds the source of new ids. Whoever opens a stash supplies a fresh seed, or two copies
    /// would give their new cards the same ids.
    pub const fn seed_ids(&mut self, seed: IdSeed) {
        self.seed = seed;
    }

    /// Steps the seed after an event, so that the next ids differ.
    pub(super) const fn step_ids(&mut self) {
        self.seed.step();
    }

    /// Ids for new cards, greater than all existing ones.
    #[must_use]
    pub fn new_card_ids(&self) -> NewIds<CardId> {
        let newest = self.cards.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest)
    }

    /// Ids for new families, greater than all existing ones.
    #[must_use]
    pub fn new_family_ids(&self) -> NewIds<FamilyId> {
        let newest = self.families.iter().map(|family| family.id.0).max();
        self.seed.ids(newest)
    }

    /// An id for a new board, greater than all existing ones.
    #[must_use]
    pub fn new_board_id(&self) -> BoardId {
        let newest = self.boards.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest).draw()
    }

    /// An id for a new ring, greater than all existing ones.
    #[must_use]
    pub fn new_ring_id(&self) -> RingId {
        let newest = self.rings.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest).draw()
    }

    /// Ids for new ranges, greater than all existing ones.
    #[must_use]
    pub fn new_range_ids(&self) -> NewIds<RangeId> {
        let newest = self.ranges.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest)
    }

    /// A random number for a new pocket page.
    #[must_use]
    pub fn new_pocket_page(&self, now: Timestamp) -> u32 {
        let clock = now.as_microsecond().unsigned_abs();
        let PurchaseId(id) = IdSeed(self.seed.0 ^ clock).ids(None).draw();
        // The upper half is a counter.
        u32::try_from(id & u64::from(u32::MAX)).unwrap_or_default()
    }

    /// Every card, by id.
    pub fn cards(&self) -> impl ExactSizeIterator<Item = &CardState> {
        self.cards.values()
    }

    /// One card.
    #[must_use]
    pub fn card(&self, id: CardId) -> Option<&CardState> {
        self.cards.get(&id)
    }

    /// Every board, in order of creation.
    pub fn boards(&self) -> impl ExactSizeIterator<Item = &Board> {
        self.boards.values()
    }

    /// One board.
    #[must_use]
    pub fn board(&self, id: BoardId) -> Option<&Board> {
        self.boards.get(&id)
    }

    /// Every ring, including closed ones, in the order they were opened.
    pub fn rings(&self) -> impl ExactSizeIterator<Item = &Ring> {
        self.rings.values()
    }

    /// The rings that aren't closed: first in the order the user chose, then in the order they were
    /// opened.
    #[must_use]
    pub fn rings_in_order(&self) -> Vec<&Ring> {
        let mut rings: Vec<&Ring> = self.rings().filter(|ring| !ring.is_closed()).collect();
        rings.sort_by_key(|ring| (ring.place == 0, ring.place, ring.id));
        rings
    }

    /// One ring.
    #[must_use]
    pub fn ring(&self, id: RingId) -> Option<&Ring> {
        self.rings.get(&id)
    }

    /// Every range, in order of creation.
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

    /// The family with an id.
    #[must_use]
    pub fn family(&self, id: FamilyId) -> Option<&Family> {
        self.families().iter().find(|family| family.id == id)
    }

    /// The sort order of the wall.
    #[must_use]
    pub const fn order(&self) -> WallOrder {
        self.order
    }

    /// The imported purchases, and when they were imported.
    #[must_use]
    pub const fn purchases(&self) -> &BTreeMap<PurchaseId, Timestamp> {
        &self.purchases
    }

    /// The matching colours of the user's conversion lists.
    #[must_use]
    pub const fn matches(&self) -> &Matches {
        &self.matches
    }

    /// The re-hang underway.
    #[must_use]
    pub const fn underway(&self) -> Option<&Underway> {
        self.underway.as_ref()
    }

    /// The lookups.
    #[must_use]
    pub const fn index(&self) -> &Index {
        &self.index
    }

    /// The cards that belong on a hook, in order of their ids.
    pub fn homes_on(&self, hook: HookRef) -> impl Iterator<Item = &CardState> {
        self.index
            .homes_on(hook)
            .iter()
            .filter_map(|&id| self.card(id))
    }

    /// The cards that hang on a hook now.
    pub fn hanging_on(&self, hook: HookRef) -> impl Iterator<Item = &CardState> {
        self.index
            .hanging_on(hook)
            .iter()
            .filter_map(|&id| self.card(id))
    }

    /// The cards on a ring, in the order they were taken.
    pub fn cards_on(&self, ring: &Ring) -> impl Iterator<Item = &CardState> {
        let id = ring.id;
        ring.went_out
            .iter()
            .filter_map(|&card| self.card(card))
            .filter(move |kept| kept.place.at == Whereabouts::Ring { ring: id })
    }

    /// The cards that were on a ring and are neither put away, nor on another ring, nor missing.
    ///
    /// A card without a hook is put away when it is to hang. A split card isn't, because its thread
    /// belongs on another card.
    pub fn unaccounted(&self, ring: &Ring) -> impl Iterator<Item = &CardState> {
        let id = ring.id;
        ring.went_out
            .iter()
            .filter_map(|&card| self.card(card))
            .filter(move |kept| match kept.place.at {
                Whereabouts::Hook { hook } => kept.home != Some(hook),
                Whereabouts::Ring { ring } => ring == id,
                Whereabouts::Missing { .. } => false,
                Whereabouts::Unhung => kept.home.is_some() || kept.card.parent.is_some(),
                Whereabouts::Hand | Whereabouts::Elsewhere { .. } => true,
            })
    }

    /// How many cards may hang on a hook: 0 if it is blocked or doesn't exist.
    #[must_use]
    pub fn capacity(&self, hook: HookRef) -> u8 {
        self.board(hook.board).map_or(0, |b| b.capacity(hook))
    }

    /// How many more cards may belong on a hook.
    #[must_use]
    pub fn free_places(&self, hook: HookRef) -> usize {
        usize::from(self.capacity(hook)).saturating_sub(self.index.homes_on(hook).len())
    }
}

/// The serialized form: everything but the index, which is derived from the cards.
#[derive(Serialize)]
struct Written<'a> {
    ranges: Vec<&'a Range>,
    families: &'a [Family],
    order: WallOrder,
    boards: Vec<&'a Board>,
    cards: Vec<&'a CardState>,
    rings: Vec<&'a Ring>,
    purchases: &'a BTreeMap<PurchaseId, Timestamp>,
    matches: &'a Matches,
    underway: Option<&'a Underway>,
}

/// The deserialized form.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Whole {
    ranges: Vec<Range>,
    families: Vec<Family>,
    order: WallOrder,
    boards: Vec<Board>,
    cards: Vec<CardState>,
    rings: Vec<Ring>,
    purchases: BTreeMap<PurchaseId, Timestamp>,
    matches: Matches,
    underway: Option<Underway>,
}

impl Serialize for State {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        Written {
            ranges: self.ranges.values().collect(),
            families: &self.families,
            order: self.order,
            boards: self.boards.values().collect(),
            cards: self.cards.values().collect(),
            rings: self.rings.values().collect(),
            purchases: &self.purchases,
            matches: &self.matches,
            underway: self.underway.as_ref(),
        }
        .serialize(to)
    }
}

impl<'de> Deserialize<'de> for State {
    /// O(cards · log cards). Doesn't check the invariants, which held when the state was written.
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let whole = Whole::deserialize(from)?;
        let mut index = Index::default();
        for kept in &whole.cards {
            index.learn(kept);
        }
        Ok(Self {
            ranges: whole.ranges.into_iter().map(|r| (r.id, r)).collect(),
            families: whole.families,
            order: whole.order,
            boards: whole.boards.into_iter().map(|b| (b.id, b)).collect(),
            cards: whole.cards.into_iter().map(|k| (k.card.id, k)).collect(),
            rings: whole.rings.into_iter().map(|r| (r.id, r)).collect(),
            purchases: whole.purchases,
            matches: whole.matches,
            underway: whole.underway,
            index,
            seed: IdSeed::default(),
        })
    }
}

/// How a card is away from its hook, the most pressing first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, VariantArray)]
pub enum AwayReason {
    /// Declared missing.
    Missing,
    /// In the hand.
    InHand,
    /// On another hook, somewhere the program doesn't track, or a split card to hang.
    Elsewhere,
    /// To hang, and a re-hang can hang it.
    ToHang,
    /// On a ring.
    OnRing,
}

impl AwayReason {
    /// How a card is away; `None` if it hangs on the hook it belongs on.
    #[must_use]
    pub fn of(kept: &CardState) -> Option<Self> {
        Some(match kept.place.at {
            Whereabouts::Hook { hook } if kept.home == Some(hook) => return None,
            Whereabouts::Ring { .. } => Self::OnRing,
            Whereabouts::Hand => Self::InHand,
            Whereabouts::Missing { .. } => Self::Missing,
            Whereabouts::Unhung if kept.card.parent.is_none() => Self::ToHang,
            Whereabouts::Hook { .. } | Whereabouts::Elsewhere { .. } | Whereabouts::Unhung => {
                Self::Elsewhere
            }
        })
    }
}

/// Lookups: cards by the hook they belong on, the hook they hang on, their number, and how they are
/// away.
#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub struct Index {
    homes: HashMap<HookRef, Vec<CardId>>,
    hanging: HashMap<HookRef, Vec<CardId>>,
    numbers: BTreeMap<String, Vec<(RangeId, CardId)>>,
    abroad: BTreeMap<AwayReason, BTreeSet<CardId>>,
    at_home: usize,
    with_home: usize,
    /// How many cards have a number and tag of each length, in characters.
    lengths: BTreeMap<usize, usize>,
}

/// Adds to a sorted list.
fn add<K: std::hash::Hash + Eq>(map: &mut HashMap<K, Vec<CardId>>, key: K, id: CardId) {
    let list = map.entry(key).or_default();
    if let Err(at) = list.binary_search(&id) {
        list.insert(at, id);
    }
}

/// Removes from a sorted list, and drops the list if it is empty.
fn drop_from<K: std::hash::Hash + Eq>(map: &mut HashMap<K, Vec<CardId>>, key: &K, id: CardId) {
    if let Some(list) = map.get_mut(key) {
        list.retain(|&other| other != id);
        if list.is_empty() {
            map.remove(key);
        }
    }
}

/// The length of its number with its tag, in characters.
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

    fn forget(&mut self, kept: &CardState) {
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

    /// The cards that belong on a hook, by id.
    #[must_use]
    pub fn homes_on(&self, hook: HookRef) -> &[CardId] {
        self.homes.get(&hook).map_or(&[], Vec::as_slice)
    }

    /// The cards that hang on a hook, by id.
    #[must_use]
    pub fn hanging_on(&self, hook: HookRef) -> &[CardId] {
        self.hanging.get(&hook).map_or(&[], Vec::as_slice)
    }

    /// The hooks that cards belong on.
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

    /// The cards that are away in this way, by id.
    pub fn abroad(&self, so: AwayReason) -> impl Iterator<Item = CardId> + '_ {
        self.abroad.get(&so).into_iter().flatten().copied()
    }

    /// The cards that aren't on the hooks they belong on, in no particular order.
    pub fn not_at_home(&self) -> impl Iterator<Item = CardId> + '_ {
        self.abroad.values().flatten().copied()
    }

    /// How many cards are away in this way. O(1).
    #[must_use]
    pub fn count_abroad(&self, so: AwayReason) -> usize {
        self.abroad.get(&so).map_or(0, BTreeSet::len)
    }

    /// How many cards hang on the hook they belong on. O(1).
    #[must_use]
    pub const fn count_at_home(&self) -> usize {
        self.at_home
    }

    /// How many cards have a hook they belong on. O(1).
    #[must_use]
    pub const fn count_with_home(&self) -> usize {
        self.with_home
    }

    /// The length of the longest number on a card with its tag, in characters; 0 without cards.
    /// O(1).
    #[must_use]
    pub fn longest_number(&self) -> usize {
        self.lengths
            .last_key_value()
            .map_or(0, |(&length, _)| length)
    }
}
