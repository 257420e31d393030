//! The order of the wall, the families on it, and which cards belong to them.

#[cfg(test)]
mod properties;

use std::cmp::Ordering;
use std::collections::HashMap;

use crate::engine::colour::Standing;
use crate::engine::colour_families::{EverydayFamily, family_of, family_of_name};
use crate::model::board::HookRef;
use crate::model::card::{Card, CardFamily, Family, WallOrder};
use crate::model::colour::Srgb;
use crate::model::ids::{BoardId, CardId, FamilyId, NewIds};
use crate::model::label::{Label, fold};
use crate::stash::colours::shade;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Chooses the sort order of the wall. Nothing moves until the next re-hang.
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

/// Puts the named families first, in that order; the others keep theirs.
///
/// # Errors
/// When a name isn't a family, or is given twice.
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

/// Moves a family up or down the order by a number of steps, stopping at the end.
///
/// # Errors
/// When the name isn't a family, or it is already at that end.
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

/// Sorts the families by the colours of their cards: whites, then around the circle of hues from
/// red, then greys and blacks; see [`Standing`]. Families without a coloured card follow in their
/// old order. O(cards + families · log families).
///
/// # Errors
/// When they are already in that order.
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

/// The cards of a family, by id, without split cards, which never hang. O(cards).
fn members(state: &State, family: FamilyId) -> impl Iterator<Item = &CardState> {
    state
        .cards()
        .filter(move |kept| kept.card.parent.is_none() && state.family_of(kept) == Some(family))
}

/// How many cards of a family belong to it for each reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Membership {
    /// Chosen by the user, by hand or in a list.
    pub chosen: usize,
    /// By their range.
    pub by_range: usize,
    /// Worked out from their colour or name.
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

    /// The total.
    #[must_use]
    pub const fn all(self) -> usize {
        self.chosen + self.by_range + self.by_colour
    }
}

/// Why a card belongs to its family.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// Chosen by the user, by hand or in a list.
    Chosen,
    /// By its range.
    ByRange,
    /// Worked out from its colour or name, or it has no family.
    ByColour,
}

/// Why a card belongs to its family. O(log shades).
#[must_use]
pub fn how(state: &State, kept: &CardState) -> How {
    match kept.card.family {
        CardFamily::Chosen(_) => How::Chosen,
        _ if of_range(state, kept).is_some() => How::ByRange,
        _ => How::ByColour,
    }
}

/// Chooses a family for cards. From then on their range and colour don't count, and a list changes
/// the family only if it names one for the card. Nothing moves until the next re-hang.
///
/// # Errors
/// When the name isn't a family, or all the cards already have it by choice.
pub fn assign(state: &State, family: &str, cards: &[CardId]) -> Result<Event, Refusal> {
    let family = state.find_family(family)?;
    let changes = changed(state, cards, |_| CardFamily::Chosen(family.id));
    if changes.is_empty() {
        return Err(Refusal::FamilySame {
            family: family.name.to_string(),
            cards: called(state, cards),
        });
    }
    let act = Act::AssignFamily {
        name: family.name.to_string(),
        cards: super::count(&changes),
    };
    Ok(Event { act, changes })
}

/// Lets the family of cards follow their range again, or else their colour. Adds the everyday
/// family if it doesn't exist yet.
///
/// # Errors
/// When that changes no card.
pub fn unassign(state: &State, cards: &[CardId]) -> Result<Event, Refusal> {
    let mut families = Families::new(state);
    let changes = changed(state, cards, |kept| by_itself(state, kept, &mut families));
    if changes.is_empty() {
        return Err(Refusal::FamilyNotChosen(called(state, cards)));
    }
    let act = Act::UnassignFamily {
        cards: super::count(&changes),
    };
    let changes = families.change(state).into_iter().chain(changes).collect();
    Ok(Event { act, changes })
}

/// The family of a card without a choice: worked out from its colour, else from its name, unless
/// its range has one.
pub(super) fn by_itself(state: &State, kept: &CardState, families: &mut Families) -> CardFamily {
    if of_range(state, kept).is_some() {
        return CardFamily::Unknown;
    }
    families.worked_out(kept.card.colour, &kept.card.name)
}

/// The family that a card's range gives it.
pub(super) fn of_range(state: &State, kept: &CardState) -> Option<FamilyId> {
    let range = state.range(kept.card.range)?;
    shade(range, &kept.card.number)?.1.family
}

/// The change that moves one card to another family, if it differs.
pub(super) fn into(kept: &CardState, family: CardFamily) -> Option<Change> {
    (kept.card.family != family).then(|| Change::Card {
        before: Some(kept.card.clone()),
        after: Some(Card {
            family,
            ..kept.card.clone()
        }),
    })
}

/// The changes of these cards, each once.
fn changed(
    state: &State,
    cards: &[CardId],
    mut to: impl FnMut(&CardState) -> CardFamily,
) -> Vec<Change> {
    let mut once = cards.to_vec();
    once.sort_unstable();
    once.dedup();
    let cards = once.into_iter().filter_map(|id| state.card(id));
    cards.filter_map(|kept| into(kept, to(kept))).collect()
}

fn called(state: &State, cards: &[CardId]) -> Vec<String> {
    let kept = cards.iter().filter_map(|&id| state.card(id));
    kept.map(|kept| state.card_name(kept)).collect()
}

/// A name that no other family has.
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

/// Adds an empty family after the others.
///
/// # Errors
/// When the name is empty, too long, or taken.
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

/// Renames a family. Its cards and its position stay.
///
/// # Errors
/// When the family doesn't exist, or the name is empty, too long, unchanged, or taken.
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

/// Removes a family. Cards with that family by choice fall back to their range or colour, and
/// shades without a card forget it.
///
/// # Errors
/// When the family doesn't exist, or cards would still belong to it by their range or colour.
pub fn remove(state: &State, family: &str) -> Result<Event, Refusal> {
    let gone = state.find_family(family)?;
    let mut families = Families::new(state);
    let mut staying = Vec::new();
    let mut cards = Vec::new();
    for kept in state.cards() {
        let of_it = state.family_of(kept) == Some(gone.id);
        let after = match kept.card.family {
            CardFamily::Chosen(id) if id == gone.id => by_itself(state, kept, &mut families),
            // The range's family overrides the one worked out.
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

/// The families of the stash and those that a list adds.
pub(super) struct Families {
    by_name: HashMap<String, FamilyId>,
    ids: NewIds<FamilyId>,
    new: Vec<New>,
}

struct New {
    family: Family,
    /// Its position among everyday families, if colours put it there.
    everyday: Option<EverydayFamily>,
    /// Where its cards hang: board and position in reading order.
    hangs: Vec<(BoardId, u32)>,
}

impl Families {
    pub fn new(state: &State) -> Self {
        Self {
            by_name: state
                .families()
                .iter()
                .map(|family| (fold(family.name.as_str()), family.id))
                .collect(),
            ids: state.new_family_ids(),
            new: Vec::new(),
        }
    }

    /// The family with a name, added if necessary.
    pub fn named(&mut self, name: &Label) -> FamilyId {
        self.get(name, None)
    }

    /// The everyday family of a colour, added if necessary; for an unknown colour, the one its name
    /// suggests.
    pub fn worked_out(&mut self, colour: Option<Srgb>, name: &Label) -> CardFamily {
        let everyday = colour
            .map(family_of)
            .or_else(|| family_of_name(name.as_str()));
        let Some(everyday) = everyday else {
            return CardFamily::Unknown;
        };
        // The names are built in and short, so they are labels.
        let name = Label::new(everyday.name()).unwrap_or_default();
        CardFamily::WorkedOut(self.get(&name, Some(everyday)))
    }

    fn get(&mut self, name: &Label, everyday: Option<EverydayFamily>) -> FamilyId {
        *self.by_name.entry(fold(name.as_str())).or_insert_with(|| {
            let id = self.ids.draw();
            self.new.push(New {
                family: Family {
                    id,
                    name: name.clone(),
                    held: false,
                },
                everyday,
                hangs: Vec::new(),
            });
            id
        })
    }

    /// Records that a card of this family hangs on a hook.
    pub fn seen_at(&mut self, id: FamilyId, state: &State, hook: HookRef) {
        // New families are in order of their ids.
        let new = self.new.binary_search_by_key(&id, |new| new.family.id);
        if let (Ok(at), Some(board)) = (new, state.board(hook.board)) {
            self.new[at]
                .hangs
                .push((hook.board, board.reading_index(hook)));
        }
    }

    /// The change that adds the new families after the existing ones: first those that already
    /// hang, in wall order (by the middle card of each), then those named in the list in its order,
    /// then those worked out from colours in everyday order.
    pub fn change(mut self, state: &State) -> Option<Change> {
        if self.new.is_empty() {
            return None;
        }
        self.new.sort_by_key(|new| {
            let mut hangs = new.hangs.clone();
            hangs.sort_unstable();
            let middle = hangs.get(hangs.len() / 2).copied();
            (middle.is_none(), middle, new.everyday)
        });
        let before = state.families().to_vec();
        let mut after = before.clone();
        after.extend(self.new.into_iter().map(|new| new.family));
        Some(Change::Families { before, after })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::testing::{apply, read, rows, wall};

    #[test]
    fn named_families_come_first_and_the_others_follow() {
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
        assert_eq!(words(&["two", "TWO"]), "The family 'TWO' is named twice.");
        assert_eq!(
            words(&["four"]),
            "There is no family 'four'. The families are: one, two, three."
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
