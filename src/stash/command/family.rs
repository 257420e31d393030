//! The order of the families on the wall.

use crate::model::family::Family;
use crate::stash::change::Change;
use crate::stash::event::{Act, Event};
use crate::stash::names::list;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// Puts the named families first, in the order named; the others follow as they were.
///
/// # Errors
/// When a name is no family, or is there twice.
pub fn order(state: &State, names: &[String]) -> Result<Event, Refusal> {
    let before = state.families().to_vec();
    let mut rest = before.clone();
    let mut after: Vec<Family> = Vec::with_capacity(rest.len());
    for name in names {
        let at = rest.iter().position(|family| family.name.same_as(name));
        let Some(at) = at else {
            let twice = after.iter().any(|family| family.name.same_as(name));
            return Err(Refusal::Families(if twice {
                format!("the family '{name}' is named twice")
            } else {
                let known = list(before.iter().map(|family| family.name.to_string()));
                format!("there is no family '{name}'; the families are: {known}")
            }));
        };
        after.push(rest.remove(at));
    }
    after.append(&mut rest);
    Ok(Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Families { before, after }],
    })
}
