//! The order of the wall, and of the families on it.

use crate::model::family::{Family, WallOrder};
use crate::stash::change::Change;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

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
        let words = |names| named(names).unwrap_err().to_string();
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
