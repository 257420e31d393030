//! The order of the wall, and of the families on it.

mod assign;
mod edit;

pub use assign::{assign, unassign};
pub use edit::{add, remove, rename};

use std::cmp::Ordering;

use crate::engine::hue::Standing;
use crate::model::card::CardFamily;
use crate::model::family::{Family, WallOrder};
use crate::model::ids::FamilyId;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Chooses what the wall is ordered by. Nothing moves until the next re-hang.
#[must_use]
pub fn order_wall(state: &State, by: WallOrder) -> Event {
    Event {
        act: Act::OrderWall,
        changes: vec![Change::Order {
            before: state.order(),
            after: by,
        }],
    }
}

/// Puts the named families first, in the order named; the others follow as they were.
///
/// # Errors
/// When a name is no family, or is there twice.
pub fn order(state: &State, names: &[String]) -> Result<Event, Refusal> {
    let before = state.families().to_vec();
    let mut rest = before.clone();
    let mut after: Vec<Family> = Vec::with_capacity(rest.len());
    for name in names {
        let id = state.find_family(name)?.id;
        let Some(at) = rest.iter().position(|family| family.id == id) else {
            return Err(Refusal::FamilyTwice(name.clone()));
        };
        after.push(rest.remove(at));
    }
    after.append(&mut rest);
    Ok(Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Families { before, after }],
    })
}

/// Moves a family up or down the order by so many steps, as far as there is room.
///
/// # Errors
/// When a name is no family, or it is at that end already.
pub fn shift(state: &State, name: &str, by: isize) -> Result<Event, Refusal> {
    let id = state.find_family(name)?.id;
    let mut after = state.families().to_vec();
    let last = after.len().saturating_sub(1);
    let at = after.iter().position(|family| family.id == id).unwrap_or(0);
    let to = at.saturating_add_signed(by).min(last);
    let family = after.remove(at);
    after.insert(to, family);
    reordered(state, after)
}

/// Arranges the families by the colours of their cards: whites, round the circle of hues from red,
/// greys and blacks; see [`Standing`]. Families in which no card has a colour follow as they were.
/// O(cards + families · log families).
///
/// # Errors
/// When they are in that order already.
pub fn order_by_colour(state: &State) -> Result<Event, Refusal> {
    let mut after: Vec<(Option<Standing>, Family)> = state
        .families()
        .iter()
        .map(|family| {
            let cards = members(state, family.id);
            let colours = cards.filter_map(|kept| kept.card.colour);
            (Standing::of(colours), family.clone())
        })
        .collect();
    after.sort_by(|(one, _), (other, _)| match (one, other) {
        (Some(one), Some(other)) => one.compare(other),
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => Ordering::Equal,
    });
    reordered(state, after.into_iter().map(|(_, family)| family).collect())
}

fn reordered(state: &State, after: Vec<Family>) -> Result<Event, Refusal> {
    let before = state.families().to_vec();
    if before == after {
        return Err(Refusal::FamilyOrderSame);
    }
    Ok(Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Families { before, after }],
    })
}

/// The cards of a family, by id; split cards are none, since they never hang. O(cards).
fn members(state: &State, family: FamilyId) -> impl Iterator<Item = &CardState> {
    state
        .cards()
        .filter(move |kept| kept.card.parent.is_none() && state.family_of(kept) == Some(family))
}

/// How the cards of a family came to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Membership {
    /// Cards that a person put there, by hand or in a list.
    pub chosen: usize,
    /// Cards whose range says so.
    pub by_range: usize,
    /// Cards for which it was worked out from their colour.
    pub by_colour: usize,
}

impl Membership {
    /// Counts the cards of a family. O(cards).
    #[must_use]
    pub fn of(state: &State, family: FamilyId) -> Self {
        let mut counts = Self::default();
        for kept in members(state, family) {
            *match how(state, kept) {
                How::Chosen => &mut counts.chosen,
                How::ByRange => &mut counts.by_range,
                How::ByColour => &mut counts.by_colour,
            } += 1;
        }
        counts
    }

    /// All of them.
    #[must_use]
    pub const fn all(self) -> usize {
        self.chosen + self.by_range + self.by_colour
    }
}

/// How a card came to its family.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// A person said so, by hand or in a list.
    Chosen,
    /// Its range says so.
    ByRange,
    /// It was worked out from its colour; or it has none.
    ByColour,
}

/// How a card came to its family. O(log shades).
#[must_use]
pub fn how(state: &State, kept: &CardState) -> How {
    match kept.card.family {
        CardFamily::Chosen(_) => How::Chosen,
        _ if assign::of_range(state, kept).is_some() => How::ByRange,
        _ => How::ByColour,
    }
}

#[cfg(test)]
mod properties;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::testing::{apply, read, rows, wall};

    #[test]
    fn the_named_families_come_first_and_the_others_follow() {
        let mut state = wall(1, 1, 1);
        let mut list = rows(&["1", "2", "3"]);
        for (row, family) in list.iter_mut().zip(["one", "two", "three"]) {
            row.family = Some(family.into());
        }
        let event = read(&state, &list).event.unwrap();
        apply(&mut state, &event);
        let named = |names: &[&str]| {
            let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
            order(&state, &names)
        };
        let words = |names| crate::text::refusal::sentence(&named(names).unwrap_err());
        assert_eq!(words(&["two", "TWO"]), "the family 'TWO' is named twice");
        assert_eq!(
            words(&["four"]),
            "there is no family 'four'; the families are: one, two, three"
        );
        let event = named(&["Three", "one"]).unwrap();
        apply(&mut state, &event);
        let order: Vec<&str> = state.families().iter().map(|f| f.name.as_str()).collect();
        assert_eq!(order, ["three", "one", "two"]);
        let wanted = state.in_wanted_order(state.cards());
        let wanted: Vec<String> = wanted.iter().map(|kept| state.card_name(kept)).collect();
        assert_eq!(wanted, ["3", "1", "2"]);
    }
}
