//! The order of the wall: hooks in reading order, cards in wanted order.

use std::cmp::{Ordering, Reverse};
use std::collections::HashMap;

use super::names::by_tag;
use super::state::{CardState, State};
use crate::engine::colour::lab;
use crate::model::board::HookRef;
use crate::model::card::{CardFamily, Family, MoveCost, WallOrder};
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, FamilyId};
use crate::model::ring::{Ring, RingState};
use crate::stash::colours::shade;

/// A sort order for cards.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// By family in the order of the stash, then range, then number.
    Family,
    /// By range, then number.
    Number,
    /// By family, then from light to dark, then range, then number.
    Lightness,
    /// As [`Order::Family`], but these families first, in this order.
    Families(Vec<FamilyId>),
}

impl From<WallOrder> for Order {
    fn from(order: WallOrder) -> Self {
        match order {
            WallOrder::Family => Self::Family,
            WallOrder::Number => Self::Number,
            WallOrder::Lightness => Self::Lightness,
        }
    }
}

impl Order {
    /// The rank of a colour within its family: light before dark and unknown colours last if the
    /// order uses lightness, else equal.
    #[must_use]
    pub fn depth(&self, colour: Option<Srgb>) -> Depth {
        match self {
            Self::Lightness => Depth::of(colour),
            Self::Family | Self::Number | Self::Families(_) => Depth::default(),
        }
    }
}

/// How far below white a colour is: 100 minus its CIELAB lightness, in whole thousandths, so that
/// it is the same on every machine. Unknown colours are deepest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Depth(u32);

impl Depth {
    fn of(colour: Option<Srgb>) -> Self {
        let Some(colour) = colour else {
            return Self(u32::MAX);
        };
        let depth = ((100.0 - lab(colour).l) * 1000.0).round();
        // Lightness is 0 to 100, so this is 0 to 100,000.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        Self(depth.clamp(0.0, 100_000.0) as u32)
    }
}

/// The ranks of the families in an order.
pub(super) struct FamilyRanks(Option<HashMap<FamilyId, usize>>);

impl FamilyRanks {
    /// O(families).
    pub(super) fn new(state: &State, order: &Order) -> Self {
        let first: &[FamilyId] = match order {
            Order::Number => return Self(None),
            Order::Family | Order::Lightness => &[],
            Order::Families(first) => first,
        };
        let all = state.families().iter().map(|family| family.id);
        let mut ranks = HashMap::new();
        for id in first.iter().copied().chain(all) {
            let next = ranks.len();
            ranks.entry(id).or_insert(next);
        }
        Self(Some(ranks))
    }

    /// Whether the order uses families at all.
    pub(super) const fn matter(&self) -> bool {
        self.0.is_some()
    }

    /// The rank of a family; cards without one come last.
    pub(super) fn of(&self, family: Option<FamilyId>) -> usize {
        self.0.as_ref().map_or(0, |ranks| {
            let rank = family.and_then(|id| ranks.get(&id).copied());
            rank.unwrap_or(usize::MAX)
        })
    }
}

/// A card and the hook it belongs on.
pub type Neighbour<'a> = (HookRef, &'a CardState);

impl State {
    /// The cards that belong on the nearest hooks before and after a hook, on its board, in reading
    /// order. O(hooks between them · log cards).
    #[must_use]
    pub fn cards_beside(&self, hook: HookRef) -> (Option<Neighbour<'_>>, Option<Neighbour<'_>>) {
        self.beside(hook, |hook| self.homes_on(hook).next())
    }

    /// Like [`Self::cards_beside`], for the cards that hang there, ignoring one card.
    #[must_use]
    pub fn hanging_beside(
        &self,
        hook: HookRef,
        but: CardId,
    ) -> (Option<Neighbour<'_>>, Option<Neighbour<'_>>) {
        let other = |kept: &&CardState| kept.card.id != but;
        self.beside(hook, |hook| self.hanging_on(hook).find(other))
    }

    /// The nearest hooks before and after a hook that have a card, on its board, in reading order.
    fn beside<'a>(
        &self,
        hook: HookRef,
        card: impl Fn(HookRef) -> Option<&'a CardState>,
    ) -> (Option<Neighbour<'a>>, Option<Neighbour<'a>>) {
        let Some(board) = self.board(hook.board) else {
            return (None, None);
        };
        let at = board.reading_index(hook);
        let all = u32::from(board.rows) * u32::from(board.columns);
        let on = |index: u32| {
            let hook = board.hook_at(index);
            Some((hook, card(hook)?))
        };
        ((0..at).rev().find_map(on), (at + 1..all).find_map(on))
    }

    /// Every hook of every board, board by board, each in its reading order.
    pub fn hooks(&self) -> impl Iterator<Item = HookRef> + '_ {
        self.boards().flat_map(|board| board.hooks())
    }

    /// The family of a card: the user's choice, else the range's, else the one worked out from its
    /// colour or name.
    #[must_use]
    pub fn family_of(&self, kept: &CardState) -> Option<FamilyId> {
        if let CardFamily::Chosen(id) = kept.card.family {
            return Some(id);
        }
        self.range(kept.card.range)
            .and_then(|range| shade(range, &kept.card.number))
            .and_then(|(_, shade)| shade.family)
            .or_else(|| kept.card.family.id())
    }

    /// The name of a card's family; empty if it has none.
    #[must_use]
    pub fn family_name(&self, kept: &CardState) -> &str {
        self.family_of(kept)
            .and_then(|id| self.family(id))
            .map_or("", |family| family.name.as_str())
    }

    /// The family of a card, if that family is held.
    #[must_use]
    pub fn family_hold(&self, kept: &CardState) -> Option<&Family> {
        self.family_of(kept)
            .and_then(|id| self.family(id))
            .filter(|family| family.held)
    }

    /// Whether every re-hang leaves the card on its hook, because it or its family is held.
    #[must_use]
    pub fn stays(&self, kept: &CardState) -> bool {
        kept.home.is_some()
            && (kept.card.touch == MoveCost::Held || self.family_hold(kept).is_some())
    }

    /// Sorts cards by the order of the wall, [`State::order`]; see [`State::in_order`]. O(n log n).
    #[must_use]
    pub fn in_wanted_order<'a>(
        &'a self,
        cards: impl Iterator<Item = &'a CardState>,
    ) -> Vec<&'a CardState> {
        self.in_order(&self.order().into(), cards)
    }

    /// The order that the cards hang in now: the one broken by the fewest neighbours on the wall.
    /// Ties go to family, then number, then lightness. O(n log n).
    #[must_use]
    pub fn order_on_the_wall(&self) -> WallOrder {
        let wall = self.in_board_order(self.cards().filter(|kept| kept.home.is_some()));
        let breaks = |order| {
            let wanted = self.in_order(&Order::from(order), wall.iter().copied());
            let rank: HashMap<_, _> = wanted
                .iter()
                .enumerate()
                .map(|(at, kept)| (kept.card.id, at))
                .collect();
            let broken = |pair: &&[&CardState]| {
                let [a, b] = pair else { return false };
                rank.get(&a.card.id) > rank.get(&b.card.id)
            };
            wall.windows(2).filter(broken).count()
        };
        let orders = [WallOrder::Family, WallOrder::Number, WallOrder::Lightness];
        let least = orders.into_iter().min_by_key(|&order| breaks(order));
        least.unwrap_or_default()
    }

    /// Sorts cards by an order: by family if the order uses it (cards without one last), then from
    /// light to dark if it uses lightness (cards without a colour last), then range in order of
    /// creation, then number, then tag, then id. A total order. O(n log n).
    #[must_use]
    pub fn in_order<'a>(
        &'a self,
        order: &Order,
        cards: impl Iterator<Item = &'a CardState>,
    ) -> Vec<&'a CardState> {
        let ranks = FamilyRanks::new(self, order);
        let rank = |kept: &CardState| match ranks.matter() {
            true => ranks.of(self.family_of(kept)),
            false => 0,
        };
        let key = |kept: &CardState| (rank(kept), order.depth(kept.card.colour));
        let mut sorted: Vec<((usize, Depth), &CardState)> =
            cards.map(|kept| (key(kept), kept)).collect();
        sorted
            .sort_by(|(a_key, a), (b_key, b)| a_key.cmp(b_key).then_with(|| by_number(self, a, b)));
        sorted.into_iter().map(|(_, kept)| kept).collect()
    }

    /// Sorts cards in the order the hand reaches their hooks; those without a hook come last.
    #[must_use]
    pub fn in_board_order<'a>(
        &'a self,
        cards: impl Iterator<Item = &'a CardState>,
    ) -> Vec<&'a CardState> {
        let at = |kept: &CardState| {
            kept.home.map_or((true, 0, 0), |hook| {
                let index = self.board(hook.board).map_or(0, |b| b.reading_index(hook));
                (false, hook.board.0, index)
            })
        };
        let mut sorted: Vec<&CardState> = cards.collect();
        sorted.sort_by(|a, b| at(a).cmp(&at(b)).then_with(|| by_number(self, a, b)));
        sorted
    }
}

fn by_number(state: &State, one: &CardState, other: &CardState) -> Ordering {
    let (a, b) = (&one.card, &other.card);
    a.range
        .cmp(&b.range)
        .then_with(|| a.number.cmp(&b.number))
        .then_with(|| by_tag(state, one, other))
        .then_with(|| a.id.cmp(&b.id))
}

impl State {
    /// Every ring: open ones in the order of their projects, then closed ones, last closed first.
    #[must_use]
    pub fn listed_rings(&self) -> Vec<&Ring> {
        let closed_at = |ring: &Ring| match ring.state {
            RingState::Closed { at } => Some(at),
            _ => None,
        };
        let mut closed: Vec<&Ring> = self.rings().filter(|ring| ring.is_closed()).collect();
        closed.sort_by_key(|ring| (Reverse(closed_at(ring)), ring.id));
        let mut rings = self.rings_in_order();
        rings.append(&mut closed);
        rings
    }
}
