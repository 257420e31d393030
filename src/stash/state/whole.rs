//! A stash told in one piece, beside the events that made it.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{CardState, State};
use crate::model::board::Board;
use crate::model::card::{Family, WallOrder};
use crate::model::ids::IdSeed;
use crate::model::range::Range;
use crate::model::ring::Ring;
use crate::model::whereabouts::Underway;
use crate::stash::index::Index;

/// What is told: all but the index, which follows from the cards.
#[derive(Serialize)]
struct Told<'a> {
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
        Told {
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
    /// O(cards · log cards). The laws are not checked: they held when the state was told.
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
