//! Families that come, go, or are called something else.

use super::assign::{by_itself, into, of_range};
use crate::model::card::CardFamily;
use crate::model::family::Family;
use crate::model::ids::FamilyId;
use crate::model::label::Label;
use crate::stash::command::families::Families;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// A family's name that no other family has.
fn free_name(state: &State, name: &str, but: Option<FamilyId>) -> Result<Label, Refusal> {
    let name = Label::new(name)?;
    if name.is_empty() {
        return Err(Refusal::FamilyName);
    }
    let taken = |family: &&Family| family.name.same_as(name.as_str()) && Some(family.id) != but;
    match state.families().iter().find(taken) {
        Some(family) => Err(Refusal::FamilyThere(family.name.to_string())),
        None => Ok(name),
    }
}

/// Makes a family with no card in it, after the others.
///
/// # Errors
/// When the name is empty, too long, or another family has it.
pub fn add(state: &State, name: &str) -> Result<Event, Refusal> {
    let name = free_name(state, name, None)?;
    let before = state.families().to_vec();
    let mut after = before.clone();
    let act = Act::NewFamily {
        name: name.to_string(),
    };
    after.push(Family {
        id: state.new_family_ids().draw(),
        name,
        held: false,
    });
    Ok(Event {
        act,
        changes: vec![Change::Families { before, after }],
    })
}

/// Gives a family another name; its cards and its place stay.
///
/// # Errors
/// When the family is not there, or the name is empty, too long, its own, or another family's.
pub fn rename(state: &State, family: &str, name: &str) -> Result<Event, Refusal> {
    let old = state.find_family(family)?;
    let name = free_name(state, name, Some(old.id))?;
    if name == old.name {
        return Err(Refusal::FamilyThere(name.to_string()));
    }
    let act = Act::RenameFamily {
        before: old.name.to_string(),
        after: name.to_string(),
    };
    let before = state.families().to_vec();
    let mut after = before.clone();
    for family in after.iter_mut().filter(|family| family.id == old.id) {
        family.name = name.clone();
    }
    Ok(Event {
        act,
        changes: vec![Change::Families { before, after }],
    })
}

/// Gives up a family. Cards that a person put there fall back to what their range or colour says,
/// and shades of a range that no card bears forget it.
///
/// # Errors
/// When the family is not there, or cards would still be of it by their range or colour.
pub fn remove(state: &State, family: &str) -> Result<Event, Refusal> {
    let gone = state.find_family(family)?;
    let mut families = Families::new(state);
    let mut staying = Vec::new();
    let mut cards = Vec::new();
    for kept in state.cards() {
        let of_it = state.family_of(kept) == Some(gone.id);
        let after = match kept.card.family {
            CardFamily::Chosen(id) if id == gone.id => by_itself(state, kept, &mut families),
            // What its range says hides what was worked out.
            CardFamily::WorkedOut(id) if id == gone.id && !of_it => CardFamily::Unknown,
            as_before => as_before,
        };
        let falls_to = match after {
            CardFamily::Chosen(id) => Some(id),
            _ => of_range(state, kept).or(after.id()),
        };
        if falls_to == Some(gone.id) {
            staying.push(state.card_name(kept));
        }
        cards.extend(into(kept, after));
    }
    if !staying.is_empty() {
        return Err(Refusal::FamilyInUse {
            family: gone.name.to_string(),
            cards: staying,
        });
    }
    let mut changes = Vec::new();
    let mut before = state.families().to_vec();
    if let Some(new) = families.change(state) {
        if let Change::Families { after, .. } = &new {
            before.clone_from(after);
        }
        changes.push(new);
    }
    changes.append(&mut cards);
    for range in state.ranges() {
        let mut after = range.clone();
        for shade in after.shades.values_mut() {
            shade.family = shade.family.filter(|&id| id != gone.id);
        }
        if after != *range {
            changes.push(Change::Range {
                before: Some(range.clone()),
                after: Some(after),
            });
        }
    }
    let mut after = before.clone();
    after.retain(|family| family.id != gone.id);
    changes.push(Change::Families { before, after });
    let act = Act::RemoveFamily {
        name: gone.name.to_string(),
    };
    Ok(Event { act, changes })
}
