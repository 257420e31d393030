//! Bringing in a range's range list.

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap};

use super::draft::label;
use super::ranges::range_name;
use crate::model::card::CardFamily;
use crate::model::label::Label;
use crate::model::number::Number;
use crate::model::range::{PutUp, Range, Shade};
use crate::stash::colours::shade;
use crate::stash::command::family::Families;
use crate::stash::event::{Act, Change, Event};
use crate::stash::intake::RangeRow;
use crate::stash::refusal::{Field, Refusal, Rejected, RowFault};
use crate::stash::state::State;

/// What came of a range list.
#[derive(Debug, Clone)]
pub struct Shades {
    /// The event; `None` where the list says nothing new.
    pub event: Option<Event>,
    /// Shades that the range did not have.
    pub added: u32,
    /// Shades that are described anew.
    pub changed: u32,
    /// Rows that were not taken.
    pub rejected: Vec<Rejected>,
}

/// Brings in a range's range list, as far as each row says anything, and gives cards of that range
/// the name and colour they lack.
///
/// # Errors
/// When the range has no name, there are no rows, or none can be taken, or the event would be too long for
/// the record.
pub fn shades(
    state: &State,
    rows: &[RangeRow],
    unreadable: Vec<Rejected>,
    range: &str,
) -> Result<Shades, Refusal> {
    let total = rows.len() + unreadable.len();
    if total == 0 {
        return Err(Refusal::NoRows);
    }
    let name = range_name(range)?;
    let old = state.find_range(name.as_str());
    let mut new = old.cloned().unwrap_or_else(|| Range {
        id: state.new_range_ids().draw(),
        name,
        shades: BTreeMap::new(),
        put_up: PutUp::default(),
    });
    let mut families = Families::new(state);
    let mut rejected = unreadable;
    let (mut added, mut changed) = (0, 0);
    let mut seen: HashMap<String, u64> = HashMap::new();
    for row in rows {
        match said(row, &mut seen, &mut families) {
            Ok((number, said)) => match learn(&mut new, number, said) {
                Learnt::Added => added += 1,
                Learnt::Changed => changed += 1,
                Learnt::Known => {}
            },
            Err(reason) => rejected.push(Rejected {
                line: row.line,
                reason,
                number: None,
            }),
        }
    }
    let none_taken = rejected.len() == total;
    super::settle(&mut rejected, total, none_taken)?;
    let event = if added + changed == 0 {
        None
    } else {
        let act = Act::ImportRange {
            range: new.id,
            shades: added + changed,
        };
        let cards = fuller_cards(state, &new, &mut families);
        let mut changes: Vec<Change> = families.change(state).into_iter().collect();
        changes.push(Change::Range {
            before: old.cloned(),
            after: Some(new),
        });
        changes.extend(cards);
        Some(super::if_it_fits(Event { act, changes })?)
    };
    Ok(Shades {
        event,
        added,
        changed,
        rejected,
    })
}

/// What a row says of a shade. `seen` has the line of each number so far.
fn said(
    row: &RangeRow,
    seen: &mut HashMap<String, u64>,
    families: &mut Families,
) -> Result<(Number, Shade), RowFault> {
    let number = Number::new(&row.number).map_err(RowFault::Number)?;
    let name = Label::new(&row.name).map_err(|why| RowFault::Label(Field::Name, why))?;
    let family = label(row.family.as_ref(), Field::Family)?.filter(|f| !f.is_empty());
    match seen.entry(number.key()) {
        Entry::Occupied(first) => {
            return Err(RowFault::Twice {
                number: number.to_string(),
                range: None,
                line: *first.get(),
                lot: false,
            });
        }
        Entry::Vacant(free) => free.insert(row.line),
    };
    let shade = Shade {
        name,
        colour: row.colour,
        family: family.map(|family| families.named(&family)),
        variegated: false,
    };
    Ok((number, shade))
}

/// What a range learns from a row.
enum Learnt {
    Added,
    Changed,
    Known,
}

/// Writes what is said of a shade into its range. What the row leaves out stays as it was.
fn learn(range: &mut Range, number: Number, mut said: Shade) -> Learnt {
    // The list may write the number in other capitals than before.
    let known = shade(range, &number).map(|(number, shade)| (number.clone(), shade.clone()));
    let Some((number, known)) = known else {
        range.shades.insert(number, said);
        return Learnt::Added;
    };
    if said.name.is_empty() {
        said.name.clone_from(&known.name);
    }
    said.variegated |= known.variegated;
    said.colour = said.colour.or(known.colour);
    said.family = said.family.or(known.family);
    let is_known = said == known;
    range.shades.insert(number, said);
    if is_known {
        Learnt::Known
    } else {
        Learnt::Changed
    }
}

/// Gives the cards of a range the name, colour and family that they lack and it has.
fn fuller_cards(state: &State, range: &Range, families: &mut Families) -> Vec<Change> {
    let of_range = || state.cards().filter(|kept| kept.card.range == range.id);
    let mut changes = Vec::new();
    for kept in of_range() {
        let Some((_, shade)) = shade(range, &kept.card.number) else {
            continue;
        };
        let mut card = kept.card.clone();
        if card.name.is_empty() {
            card.name = shade.name.clone();
        }
        card.colour = card.colour.or(shade.colour);
        if let (CardFamily::Unknown, None, Some(colour)) = (card.family, shade.family, card.colour)
        {
            card.family = CardFamily::WorkedOut(families.of_colour(colour));
        }
        if card != kept.card {
            changes.push(Change::Card {
                before: Some(kept.card.clone()),
                after: Some(card),
            });
        }
    }
    for kept in of_range() {
        let family = shade(range, &kept.card.number).and_then(|(_, shade)| shade.family);
        if let (Some(family), Some(hook)) = (family, kept.home) {
            families.seen_at(family, state, hook);
        }
    }
    changes
}

#[cfg(test)]
mod tests;
