//! The stash as it stands: everything that is known, and the one way it changes.

mod change;
mod index;

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

pub use self::change::Mismatch;
pub use self::index::{AwayReason, Index};
use crate::model::board::{Board, HookRef};
use crate::model::card::{Card, Family, WallOrder};
use crate::model::ids::{BoardId, CardId, FamilyId, IdSeed, NewIds, RangeId, RingId};
use crate::model::range::Range;
use crate::model::ring::Ring;
use crate::model::thread::{Strands, Thread};
use crate::model::whereabouts::{Place, Underway, Whereabouts};

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
            underway: whole.underway,
            index,
            seed: IdSeed::default(),
        })
    }
}
