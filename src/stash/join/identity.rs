//! Which things of two records are the same, and the numbers they get.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::lived::Lived;
use crate::model::ids::{BoardId, CardId, FamilyId, RangeId, RingId};
use crate::model::label::fold;
use crate::stash::state::State;

/// Something that has a number of its own.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// A range.
    Range(RangeId),
    /// A family.
    Family(FamilyId),
    /// A board.
    Board(BoardId),
    /// A card.
    Card(CardId),
    /// A ring.
    Ring(RingId),
}

impl Thing {
    pub(super) const fn number(self) -> u32 {
        match self {
            Self::Range(RangeId(id))
            | Self::Family(FamilyId(id))
            | Self::Board(BoardId(id))
            | Self::Card(CardId(id))
            | Self::Ring(RingId(id)) => id,
        }
    }

    const fn with(self, id: u32) -> Self {
        match self {
            Self::Range(_) => Self::Range(RangeId(id)),
            Self::Family(_) => Self::Family(FamilyId(id)),
            Self::Board(_) => Self::Board(BoardId(id)),
            Self::Card(_) => Self::Card(CardId(id)),
            Self::Ring(_) => Self::Ring(RingId(id)),
        }
    }

    fn is_kin(self, other: Self) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }
}

/// Where and as what a thing came into being: the same in every record, whatever its number there.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
pub struct Birth {
    /// The checksum of the line.
    pub sum: String,
    /// The number it got there.
    pub id: u32,
}

/// That a thing of this record is one which came into being elsewhere.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Same {
    /// The thing.
    pub thing: Thing,
    /// Its births elsewhere.
    pub births: Vec<Birth>,
}

/// The numbers that the things of one record have in another.
#[derive(Clone, Default, Debug)]
pub(super) struct Ids {
    ranges: BTreeMap<RangeId, RangeId>,
    families: BTreeMap<FamilyId, FamilyId>,
    boards: BTreeMap<BoardId, BoardId>,
    pub(super) cards: BTreeMap<CardId, CardId>,
    rings: BTreeMap<RingId, RingId>,
}

/// The number there, or its own where it is not known: then nothing is there to be mistaken for it.
fn there<T: Ord + Copy>(map: &BTreeMap<T, T>, id: T) -> T {
    map.get(&id).copied().unwrap_or(id)
}

impl Ids {
    pub(super) fn range(&self, id: RangeId) -> RangeId {
        there(&self.ranges, id)
    }

    pub(super) fn family(&self, id: FamilyId) -> FamilyId {
        there(&self.families, id)
    }

    pub(super) fn board(&self, id: BoardId) -> BoardId {
        there(&self.boards, id)
    }

    pub(super) fn card(&self, id: CardId) -> CardId {
        there(&self.cards, id)
    }

    pub(super) fn ring(&self, id: RingId) -> RingId {
        there(&self.rings, id)
    }

    pub(super) fn thing(&self, thing: Thing) -> Thing {
        match thing {
            Thing::Range(id) => Thing::Range(self.range(id)),
            Thing::Family(id) => Thing::Family(self.family(id)),
            Thing::Board(id) => Thing::Board(self.board(id)),
            Thing::Card(id) => Thing::Card(self.card(id)),
            Thing::Ring(id) => Thing::Ring(self.ring(id)),
        }
    }

    fn put(&mut self, from: Thing, to: Thing) {
        let id = to.number();
        match from {
            Thing::Range(from) => drop(self.ranges.insert(from, RangeId(id))),
            Thing::Family(from) => drop(self.families.insert(from, FamilyId(id))),
            Thing::Board(from) => drop(self.boards.insert(from, BoardId(id))),
            Thing::Card(from) => drop(self.cards.insert(from, CardId(id))),
            Thing::Ring(from) => drop(self.rings.insert(from, RingId(id))),
        }
    }
}

/// The numbers of our record, for the things of the common beginning and of the other one.
pub(super) struct Matched {
    pub(super) base: Ids,
    pub(super) theirs: Ids,
    /// What the join writes down about whose births are whose.
    pub(super) same: Vec<Same>,
}

/// Everything there is, what others speak of first.
fn things(state: &State) -> Vec<Thing> {
    let ranges = state.ranges().map(|of| Thing::Range(of.id));
    let families = state.families().iter().map(|of| Thing::Family(of.id));
    let boards = state.boards().map(|of| Thing::Board(of.id));
    let cards = state.cards().map(|of| Thing::Card(of.card.id));
    let rings = state.rings().map(|of| Thing::Ring(of.id));
    (ranges
        .chain(families)
        .chain(boards)
        .chain(cards)
        .chain(rings))
    .collect()
}

/// Finds the same things, first by their births and then by what a person would call the same.
pub(super) fn match_up(base: &Lived, ours: &Lived, theirs: &Lived) -> Matched {
    // Where each birth is now, by our numbers; and every number that must not be given again.
    let mut known: BTreeMap<(Thing, &Birth), Thing> = BTreeMap::new();
    let key = |thing: Thing| thing.with(0);
    for thing in things(&ours.state) {
        for birth in ours.births.get(&thing).into_iter().flatten() {
            known.insert((key(thing), birth), thing);
        }
    }
    let mut last: BTreeMap<Thing, u32> = BTreeMap::new();
    let all = [base, ours, theirs];
    for thing in all.iter().flat_map(|lived| lived.births.keys()) {
        let most = last.entry(key(*thing)).or_default();
        *most = (*most).max(thing.number());
    }
    let mut matched = Matched {
        base: Ids::default(),
        theirs: Ids::default(),
        same: Vec::new(),
    };
    let mut used: BTreeSet<Thing> = BTreeSet::new();
    let there = things(&theirs.state);
    let births = |of: Thing| theirs.births.get(&of).into_iter().flatten();
    // First those that are certain, so that nobody else is taken for them.
    let mut found: BTreeMap<Thing, Thing> = BTreeMap::new();
    for &thing in &there {
        let same = births(thing).find_map(|birth| known.get(&(key(thing), birth)));
        if let Some(&same) = same.filter(|same| !used.contains(same)) {
            used.insert(same);
            found.insert(thing, same);
            matched.theirs.put(thing, same);
        }
    }
    for &thing in &there {
        let ours_is = found.get(&thing).copied().or_else(|| {
            let same = alike(thing, &theirs.state, &matched.theirs, &ours.state)?;
            used.insert(same).then_some(same)
        });
        let to = ours_is.unwrap_or_else(|| {
            let last = last.entry(key(thing)).or_default();
            *last += 1;
            thing.with(*last)
        });
        debug_assert!(to.is_kin(thing));
        matched.theirs.put(thing, to);
        let known_here = ours_is.and_then(|ours_is| ours.births.get(&ours_is));
        let new: Vec<Birth> = births(thing)
            .filter(|birth| !known_here.is_some_and(|known| known.contains(birth)))
            .cloned()
            .collect();
        if !new.is_empty() {
            let births = new;
            matched.same.push(Same { thing: to, births });
        }
        for birth in births_of(theirs, thing) {
            known.entry((key(thing), birth)).or_insert(to);
        }
    }
    for thing in things(&base.state) {
        let births = births_of(base, thing);
        let now = births
            .into_iter()
            .find_map(|birth| known.get(&(key(thing), birth)));
        let to = now.copied().unwrap_or_else(|| {
            let last = last.entry(key(thing)).or_default();
            *last += 1;
            thing.with(*last)
        });
        matched.base.put(thing, to);
    }
    matched
}

fn births_of(lived: &Lived, thing: Thing) -> impl Iterator<Item = &Birth> {
    lived.births.get(&thing).into_iter().flatten()
}

/// What a person would call the same thing here: of the same name, or number in the same range.
fn alike(thing: Thing, theirs: &State, ids: &Ids, ours: &State) -> Option<Thing> {
    match thing {
        Thing::Range(id) => {
            let name = fold(theirs.range(id)?.name.as_str());
            let mut same = ours.ranges().filter(|of| fold(of.name.as_str()) == name);
            same.next().map(|of| Thing::Range(of.id))
        }
        Thing::Family(id) => {
            let name = fold(theirs.family(id)?.name.as_str());
            let mut same = (ours.families().iter()).filter(|of| fold(of.name.as_str()) == name);
            same.next().map(|of| Thing::Family(of.id))
        }
        Thing::Board(id) => {
            let name = fold(theirs.board(id)?.name.as_str());
            let mut same = ours.boards().filter(|of| fold(of.name.as_str()) == name);
            same.next().map(|of| Thing::Board(of.id))
        }
        Thing::Card(id) => {
            let card = &theirs.card(id)?.card;
            let numbered = ours.index().numbered(&card.number.key());
            let whole = |id: CardId| ours.card(id).is_some_and(|of| of.card.parent.is_none());
            let mut same = (numbered.iter())
                .filter(|&&(range, other)| range == ids.range(card.range) && whole(other));
            let same = same.next().filter(|_| card.parent.is_none());
            same.map(|&(_, id)| Thing::Card(id))
        }
        Thing::Ring(id) => {
            // A project has one ring, which is opened again where it was closed.
            let same = ours.find_ring(theirs.ring(id)?.project.as_str());
            same.map(|of| Thing::Ring(of.id))
        }
    }
}
