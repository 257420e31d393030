//! The stash as it stands: everything that is known, and the one way it changes.
//! Look-ups that follow from the cards are kept up as they change ([`Index`]).

mod change;

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::Timestamp;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::model::board::{Board, HookRef};
use crate::model::card::{Card, Family, WallOrder};
use crate::model::ids::{BoardId, CardId, FamilyId, IdSeed, NewIds, PurchaseId, RangeId, RingId};
use crate::model::matches::Matches;
use crate::model::range::Range;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{Strands, Thread};
use crate::model::whereabouts::{Place, Underway, Whereabouts};

pub use self::change::Mismatch;

/// A card with all that is known about it now.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct CardState {
    /// What is written on it.
    pub card: Card,
    /// Where it is.
    pub place: Place,
    /// Where it belongs, if it has a hook of its own.
    pub home: Option<HookRef>,
    /// The thread on it and beside it, lot by lot.
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

    /// The colour it is of.
    #[must_use]
    pub fn colour_ref(&self) -> ColourRef {
        ColourRef::new(self.card.range, self.card.number.clone())
    }

    /// Uncut skeins beside it, of all lots.
    #[must_use]
    pub fn skeins(&self) -> u32 {
        self.thread.skeins()
    }
}

/// A stash. Built from nothing by applying events in order.
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
    /// The index follows from the rest, and the seed says nothing of the stash: neither is compared.
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
    /// Says where new ids come from. Whoever opens a stash gives a seed of its own, or two copies would give
    /// their new cards the same ids.
    pub const fn seed_ids(&mut self, seed: IdSeed) {
        self.seed = seed;
    }

    /// An event was taken, so the next ids are of another row.
    pub(super) const fn step_ids(&mut self) {
        self.seed.step();
    }

    /// Ids for new cards, later than all there are.
    #[must_use]
    pub fn new_card_ids(&self) -> NewIds<CardId> {
        let newest = self.cards.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest)
    }

    /// Ids for new families, later than all there are.
    #[must_use]
    pub fn new_family_ids(&self) -> NewIds<FamilyId> {
        let newest = self.families.iter().map(|family| family.id.0).max();
        self.seed.ids(newest)
    }

    /// An id for a new board, later than all there are.
    #[must_use]
    pub fn new_board_id(&self) -> BoardId {
        let newest = self.boards.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest).draw()
    }

    /// An id for a new ring, later than all there are.
    #[must_use]
    pub fn new_ring_id(&self) -> RingId {
        let newest = self.rings.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest).draw()
    }

    /// Ids for new ranges, later than all there are.
    #[must_use]
    pub fn new_range_ids(&self) -> NewIds<RangeId> {
        let newest = self.ranges.last_key_value().map(|(id, _)| id.0);
        self.seed.ids(newest)
    }

    /// A random number for a pocket page that is made now.
    #[must_use]
    pub fn new_pocket_page(&self, now: Timestamp) -> u32 {
        let clock = now.as_microsecond().unsigned_abs();
        let PurchaseId(id) = IdSeed(self.seed.0 ^ clock).ids(None).draw();
        // The upper half counts.
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

    /// The rings that are not closed, in the order in which their owner put them, then as they were opened.
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

    /// The family of an id.
    #[must_use]
    pub fn family(&self, id: FamilyId) -> Option<&Family> {
        self.families().iter().find(|family| family.id == id)
    }

    /// What the wall is ordered by.
    #[must_use]
    pub const fn order(&self) -> WallOrder {
        self.order
    }

    /// The purchases that were imported, and when.
    #[must_use]
    pub const fn purchases(&self) -> &BTreeMap<PurchaseId, Timestamp> {
        &self.purchases
    }

    /// Which colours match, as the user's conversion lists say.
    #[must_use]
    pub const fn matches(&self) -> &Matches {
        &self.matches
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

    /// The cards that went out on a ring and are neither home, nor on a ring, nor missing.
    ///
    /// A card without a home is home to hang; not so a split card, whose thread belongs on
    /// another card.
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
                _ => true,
            })
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

/// What is written: all but the index, which follows from the cards.
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

/// What is read.
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
    /// O(cards · log cards). The laws are not checked: they held when the state was written.
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
