//! The order of the wall: hooks as they are read, cards as they should hang.

use std::cmp::Ordering;
use std::collections::HashMap;

use super::shade::shade;
use super::state::{Kept, State};
use crate::model::board::HookRef;
use crate::model::card::CardFamily;
use crate::model::family::WallOrder;
use crate::model::ids::FamilyId;

impl State {
    /// Every hook of every board, board after board, each in its reading order.
    pub fn hooks(&self) -> impl Iterator<Item = HookRef> + '_ {
        self.boards().flat_map(|board| board.hooks())
    }

    /// The family of a card: the user's choice, else the range's, else worked out from its colour.
    #[must_use]
    pub fn family_of(&self, kept: &Kept) -> Option<FamilyId> {
        if let CardFamily::Chosen(id) = kept.card.family {
            return Some(id);
        }
        self.range(kept.card.range)
            .and_then(|range| shade(range, &kept.card.number))
            .and_then(|(_, shade)| shade.family)
            .or_else(|| kept.card.family.id())
    }

    /// The name of a card's family; empty where it has none.
    #[must_use]
    pub fn family_name(&self, kept: &Kept) -> &str {
        self.family_of(kept)
            .and_then(|id| self.family(id))
            .map_or("", |family| family.name.as_str())
    }

    /// Cards in the order they should hang in, by [`State::order`]: by family as the user ordered
    /// them (cards without one last) where families matter, then range as first given, then
    /// number, then id. O(n log n).
    #[must_use]
    pub fn in_wanted_order<'a>(&'a self, cards: impl Iterator<Item = &'a Kept>) -> Vec<&'a Kept> {
        self.ordered_by(self.order(), cards)
    }

    /// The order that the cards hang in now: the one that fewer neighbours on the wall break; by
    /// family where both are broken alike. O(n log n).
    #[must_use]
    pub fn order_on_the_wall(&self) -> WallOrder {
        let wall = self.in_board_order(self.cards().filter(|kept| kept.home.is_some()));
        let breaks = |order| {
            let wanted = self.ordered_by(order, wall.iter().copied());
            let rank: HashMap<_, _> = wanted
                .iter()
                .enumerate()
                .map(|(at, kept)| (kept.card.id, at))
                .collect();
            let broken = |pair: &&[&Kept]| {
                let [a, b] = pair else { return false };
                rank.get(&a.card.id) > rank.get(&b.card.id)
            };
            wall.windows(2).filter(broken).count()
        };
        if breaks(WallOrder::Number) < breaks(WallOrder::Family) {
            WallOrder::Number
        } else {
            WallOrder::Family
        }
    }

    fn ordered_by<'a>(
        &'a self,
        order: WallOrder,
        cards: impl Iterator<Item = &'a Kept>,
    ) -> Vec<&'a Kept> {
        let place: HashMap<FamilyId, usize> = self
            .families()
            .iter()
            .enumerate()
            .map(|(at, family)| (family.id, at))
            .collect();
        let rank = |kept: &Kept| match order {
            WallOrder::Number => 0,
            WallOrder::Family => self
                .family_of(kept)
                .and_then(|id| place.get(&id).copied())
                .unwrap_or(usize::MAX),
        };
        let mut sorted: Vec<(usize, &Kept)> = cards.map(|kept| (rank(kept), kept)).collect();
        sorted.sort_by(|(a_rank, a), (b_rank, b)| a_rank.cmp(b_rank).then_with(|| by_number(a, b)));
        sorted.into_iter().map(|(_, kept)| kept).collect()
    }

    /// Cards in the order the hand meets their homes on the wall; those without a home last.
    #[must_use]
    pub fn in_board_order<'a>(&'a self, cards: impl Iterator<Item = &'a Kept>) -> Vec<&'a Kept> {
        let at = |kept: &Kept| {
            kept.home.map_or((true, 0, 0), |hook| {
                let index = self.board(hook.board).map_or(0, |b| b.reading_index(hook));
                (false, hook.board.0, index)
            })
        };
        let mut sorted: Vec<&Kept> = cards.collect();
        sorted.sort_by(|a, b| at(a).cmp(&at(b)).then_with(|| by_number(a, b)));
        sorted
    }
}

fn by_number(a: &Kept, b: &Kept) -> Ordering {
    let (a, b) = (&a.card, &b.card);
    a.range
        .cmp(&b.range)
        .then_with(|| a.number.cmp(&b.number))
        .then_with(|| a.id.cmp(&b.id))
}
