//! The families on the screen: their list, the cards of one, and where to send cards.

use std::collections::BTreeMap;

use crate::model::card::Family;
use crate::model::ids::{CardId, FamilyId};
use crate::stash::order::Order;
use crate::stash::state::{CardState, State};
use crate::tui::keymap::Scope;

/// What of the families is looked at.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Stage {
    /// Their list.
    List,
    /// The cards of one, or those without any.
    Cards(Shelf),
    /// Choosing where to send cards: the one named, else all that were chosen.
    Send(Option<CardId>, From),
}

/// The cards of a family, and which of them is looked at.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Shelf {
    /// The family; `None` for the cards without one.
    pub family: Option<FamilyId>,
    /// Which card, from 0.
    pub at: usize,
}

/// Where it was asked to send cards.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum From {
    /// On the board.
    Board,
    /// In the list of families.
    List,
    /// Among the cards of one.
    Cards(Shelf),
}

/// The page of the families.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Families {
    /// Which line of the list is chosen.
    pub at: usize,
    /// What is looked at.
    pub stage: Stage,
}

/// A line of the list: a family and its cards from light to dark.
#[derive(Debug)]
pub struct Entry<'a> {
    /// The family; `None` for the cards without one.
    pub family: Option<&'a Family>,
    /// Its cards; split cards are left out, since they never hang.
    pub cards: Vec<&'a CardState>,
}

/// The families in the order of the wall, then the cards without one, if there are any.
/// O(cards · log cards + families).
#[must_use]
pub fn entries(state: &State) -> Vec<Entry<'_>> {
    let cards = state.cards().filter(|kept| kept.card.parent.is_none());
    let mut of: BTreeMap<Option<FamilyId>, Vec<&CardState>> = BTreeMap::new();
    for kept in state.in_order(&Order::Lightness, cards) {
        of.entry(state.family_of(kept)).or_default().push(kept);
    }
    let families = state.families().iter().map(Some);
    let mut entries: Vec<Entry<'_>> = families
        .map(|family| Entry {
            family,
            cards: of.remove(&family.map(|one| one.id)).unwrap_or_default(),
        })
        .collect();
    entries.extend(of.remove(&None).map(|cards| Entry {
        family: None,
        cards,
    }));
    entries
}

/// The cards of a family, or those without one, from light to dark; see [`entries`].
#[must_use]
pub fn cards_of(state: &State, family: Option<FamilyId>) -> Vec<&CardState> {
    let of = |entry: &Entry<'_>| entry.family.map(|one| one.id) == family;
    let entry = entries(state).into_iter().find(of);
    entry.map_or_else(Vec::new, |entry| entry.cards)
}

impl Families {
    /// Which keys hold.
    #[must_use]
    pub const fn scope(&self) -> Scope {
        match self.stage {
            Stage::List => Scope::Families,
            Stage::Cards(_) => Scope::FamilyCards,
            Stage::Send(..) => Scope::SendTo,
        }
    }

    /// How many lines the list has.
    #[must_use]
    pub fn lines(&self, state: &State) -> usize {
        match self.stage {
            // Cards are not sent where there is no family.
            Stage::Send(..) => state.families().len(),
            Stage::List | Stage::Cards(_) => entries(state).len(),
        }
    }

    /// Keeps it true to the stash: lines and families that are there.
    pub fn settle(&mut self, state: &State) {
        let gone = |family: Option<FamilyId>| family.is_some_and(|id| state.family(id).is_none());
        match &mut self.stage {
            Stage::Cards(shelf) | Stage::Send(_, From::Cards(shelf)) => {
                let count = cards_of(state, shelf.family).len();
                shelf.at = shelf.at.min(count.saturating_sub(1));
                if gone(shelf.family) {
                    self.stage = Stage::List;
                }
            }
            Stage::List | Stage::Send(..) => {}
        }
        self.at = self.at.min(self.lines(state).saturating_sub(1));
    }
}
