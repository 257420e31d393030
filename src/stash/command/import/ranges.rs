//! Ranges: those that a list names, and range lists.

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::{RANGE_WITHOUT_NAME, RangeRow, if_it_fits, label, settle};
use crate::model::card::CardFamily;
use crate::model::ids::{NewIds, RangeId};
use crate::model::label::{Label, fold};
use crate::model::number::Number;
use crate::model::range::{PutUp, Range, Shade};
use crate::stash::colours::shade;
use crate::stash::columns::Column;
use crate::stash::command::family::Families;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::State;

/// The outcome of importing a range list.
#[derive(Debug, Clone)]
pub struct RangeOutcome {
    /// The event; `None` if the list has nothing new.
    pub event: Option<Event>,
    /// New shades.
    pub added: u32,
    /// Changed shades.
    pub changed: u32,
    /// Refused rows.
    pub rejected: Vec<Rejected>,
}

/// Imports the values of a range list, and gives cards of that range a missing name and colour.
///
/// # Errors
/// When the range has no name, there are no rows, none can be accepted, or the event would be too
/// long for the record.
pub fn range(
    state: &State,
    rows: &[RangeRow],
    unreadable: Vec<Rejected>,
    name: &str,
) -> Result<RangeOutcome, Refusal> {
    let total = rows.len() + unreadable.len();
    if total == 0 {
        return Err(Refusal::NoRows);
    }
    let name = range_name(name)?;
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
    settle(&mut rejected, total, none_taken)?;
    let event = (added + changed > 0).then(|| {
        let act = Act::ImportRange {
            range: new.id,
            shades: added + changed,
        };
        let changes = range_changes(state, old, new, families);
        if_it_fits(Event { act, changes })
    });
    Ok(RangeOutcome {
        event: event.transpose()?,
        added,
        changed,
        rejected,
    })
}

/// The changes to a range, to families added with it, and to cards that lacked data.
fn range_changes(
    state: &State,
    old: Option<&Range>,
    new: Range,
    mut families: Families,
) -> Vec<Change> {
    let cards = fuller_cards(state, &new, &mut families);
    let mut changes: Vec<Change> = families.change(state).into_iter().collect();
    changes.push(Change::Range {
        before: old.cloned(),
        after: Some(new),
    });
    changes.extend(cards);
    changes
}

/// The shade that a row gives. `seen` has the line of each number so far.
fn said(
    row: &RangeRow,
    seen: &mut HashMap<String, u64>,
    families: &mut Families,
) -> Result<(Number, Shade), RowFault> {
    let number = Number::new(&row.number).map_err(RowFault::Number)?;
    let name = Label::new(&row.name).map_err(|why| RowFault::Label(Column::Name, why))?;
    let family = label(row.family.as_ref(), Column::Family)?.filter(|f| !f.is_empty());
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
        ..Shade::default()
    };
    Ok((number, shade))
}

/// The effect of a row on a range.
enum Learnt {
    Added,
    Changed,
    Known,
}

/// Writes a shade into its range. Values missing from the row stay.
fn learn(range: &mut Range, number: Number, mut said: Shade) -> Learnt {
    // The list may write the number in different case.
    let known = shade(range, &number).map(|(number, shade)| (number.clone(), shade.clone()));
    let Some((number, known)) = known else {
        range.shades.insert(number, said);
        return Learnt::Added;
    };
    if said.name.is_empty() {
        said.name.clone_from(&known.name);
    }
    said.variegated |= known.variegated;
    said.discontinued |= known.discontinued;
    said.wanted = known.wanted;
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
        let is_new = kept.card.colour != card.colour;
        if (is_new && card.family.is_worked_out()) || card.family == CardFamily::Unknown {
            card.family = match shade.family {
                Some(_) => CardFamily::Unknown,
                None => families.worked_out(card.colour, &card.name),
            };
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

/// A valid name for a range. It has no colon, because cards are named `RANGE:NUMBER`.
pub(in crate::stash::command) fn range_name(name: &str) -> Result<Label, Refusal> {
    let name = Label::new(name)?;
    if name.is_empty() || name.as_str().contains(':') {
        return Err(Refusal::RangeName);
    }
    Ok(name)
}

/// Folds a text and removes its spaces.
pub(in crate::stash::command) fn tight(text: &str) -> String {
    fold(text).split_whitespace().collect()
}

/// The text after a name, and whether a space, a colon or a hyphen separates them. The name is
/// folded and without spaces; spaces in the text are ignored.
pub(in crate::stash::command) fn after<'a>(text: &'a str, name: &str) -> Option<(&'a str, bool)> {
    let mut left = name;
    let mut rest = text.trim_start();
    while !left.is_empty() {
        let first = rest.chars().next()?;
        if !first.is_whitespace() {
            left = left.strip_prefix(first.to_lowercase().to_string().as_str())?;
        }
        rest = &rest[first.len_utf8()..];
    }
    let between = |c: char| c.is_whitespace() || matches!(c, ':' | '-');
    let number = rest.trim_start_matches(between).trim_end();
    (!name.is_empty() && !number.is_empty()).then_some((number, rest.starts_with(between)))
}

/// The ranges of the stash and those that a list adds.
pub(in crate::stash::command) struct Ranges {
    known: BTreeMap<RangeId, Range>,
    ids: NewIds<RangeId>,
    by_name: HashMap<String, RangeId>,
    new: Vec<RangeId>,
    without_name: Label,
    asked: bool,
}

impl Ranges {
    /// The ranges of the stash. Rows that name none use `asked`, else the stash's only range, else
    /// [`RANGE_WITHOUT_NAME`].
    pub fn new(state: &State, asked: Option<&str>) -> Result<Self, Refusal> {
        let mut ranges = state.ranges();
        let without_name = match (asked, ranges.next(), ranges.next()) {
            (Some(name), ..) => range_name(name)?,
            (None, Some(only), None) => only.name.clone(),
            _ => Label::new(RANGE_WITHOUT_NAME)?,
        };
        Ok(Self {
            ids: state.new_range_ids(),
            known: state.ranges().map(|r| (r.id, r.clone())).collect(),
            by_name: state
                .ranges()
                .map(|r| (fold(r.name.as_str()), r.id))
                .collect(),
            new: Vec::new(),
            without_name,
            asked: asked.is_some(),
        })
    }

    /// Whether a range was given for rows that name none.
    pub const fn is_asked(&self) -> bool {
        self.asked
    }

    /// The range with a name, added if necessary.
    pub fn named(&mut self, name: Option<&str>) -> Result<RangeId, RowFault> {
        let name = match name {
            Some(name) if !name.trim().is_empty() => Label::new(name).map_err(RowFault::Range)?,
            _ => self.without_name.clone(),
        };
        if name.as_str().contains(':') {
            return Err(RowFault::RangeColon(name));
        }
        let key = fold(name.as_str());
        if let Some(&id) = self.by_name.get(&key) {
            return Ok(id);
        }
        let id = self.ids.draw();
        self.by_name.insert(key, id);
        self.new.push(id);
        self.known.insert(
            id,
            Range {
                id,
                name,
                shades: BTreeMap::new(),
                put_up: PutUp::default(),
            },
        );
        Ok(id)
    }

    /// The range and the number of a row. A number may follow its range in one cell, `Cove:701` or
    /// `Cove 701`, if the range is in the stash or was given; a number that the stash has as it is
    /// written stays whole.
    ///
    /// # Errors
    /// When the row names another range than the cell.
    pub fn split<'a>(
        &'a self,
        state: &State,
        (range, number): (Option<&'a str>, &'a str),
    ) -> Result<(Option<&'a str>, &'a str), RowFault> {
        let known = self.known.values().filter(|of| !self.new.contains(&of.id));
        let asked = self.without_name.as_str();
        let names = known
            .map(|range| range.name.as_str())
            .chain(self.asked.then_some(asked));
        let is_number = !state.index().numbered(&fold(number)).is_empty();
        let named = names.filter_map(|name| {
            let (rest, _) = after(number, &tight(name))?;
            let between = number.trim_end().strip_suffix(rest)?;
            let is_apart = between.ends_with(|c: char| c == ':' || c.is_whitespace());
            is_apart.then_some((name, rest))
        });
        let longest = named.max_by_key(|(name, _)| name.len());
        let Some((name, rest)) = longest.filter(|_| !is_number) else {
            return Ok((range, number));
        };
        match range.filter(|range| !range.trim().is_empty()) {
            Some(other) if fold(other) != fold(name) => Err(RowFault::TwoRanges {
                column: other.to_owned(),
                number: name.to_owned(),
            }),
            _ => Ok((Some(name), rest)),
        }
    }

    /// The name of a range.
    pub fn name(&self, id: RangeId) -> &str {
        self.known.get(&id).map_or("", |range| range.name.as_str())
    }

    /// The kind and put-up of a range's thread.
    pub fn put_up(&self, id: RangeId) -> PutUp {
        self.known
            .get(&id)
            .map_or_else(PutUp::default, |range| range.put_up)
    }

    /// The shade of a number in a range.
    pub fn shade(&self, id: RangeId, number: &Number) -> Option<&Shade> {
        shade(self.known.get(&id)?, number).map(|(_, shade)| shade)
    }

    /// The changes that add the new ranges, as far as they are used.
    pub fn changes(&self, used: &BTreeSet<RangeId>) -> impl Iterator<Item = Change> {
        self.new
            .iter()
            .filter(|id| used.contains(id))
            .filter_map(|id| self.known.get(id))
            .map(|range| Change::Range {
                before: None,
                after: Some(range.clone()),
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::colour::Srgb;
    use crate::stash::columns::Column;
    use crate::stash::refusal::RowFault;
    use crate::stash::testing::{GREEN, RED, add_cards, apply, families, kept, read, rows, wall};

    fn range_row(line: u64, number: &str, name: &str, colour: Option<Srgb>) -> RangeRow {
        RangeRow {
            line,
            number: number.into(),
            name: name.into(),
            colour,
            family: None,
        }
    }

    #[test]
    fn a_range_list_fills_in_missing_data_of_cards() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["Cove:b5", "Cove:9 moss", "Sandbank:9"]);
        let list = [
            range_row(2, "B5", "plum jam", Some(RED)),
            range_row(3, "9", "meadow", Some(GREEN)),
            range_row(4, "10", "chalk", None),
        ];
        let outcome = super::range(&state, &list, Vec::new(), "cove").unwrap();
        assert_eq!((outcome.added, outcome.changed), (3, 0));
        apply(&mut state, &outcome.event.unwrap());
        let card = |name| {
            let card = &kept(&state, name).card;
            (card.name.as_str(), card.colour)
        };
        assert_eq!(card("b5"), ("plum jam", Some(RED)));
        assert_eq!(card("Cove:9"), ("moss", Some(GREEN)));
        assert_eq!(card("Sandbank:9"), ("", None));
        let red = crate::engine::colour_families::family_of(RED).name();
        assert_eq!(state.family_name(kept(&state, "b5")), red);
        // The same list changes nothing, even in different case.
        let again = [range_row(2, "b5", "plum jam", Some(RED))];
        assert_eq!(
            super::range(&state, &again, Vec::new(), "Cove")
                .unwrap()
                .event,
            None
        );
        // A card added later is filled in as well.
        let mut list = rows(&["Cove:10"]);
        list[0].colour = Some(RED);
        let event = read(&state, &list).event.unwrap();
        apply(&mut state, &event);
        assert_eq!(kept(&state, "10").card.name.as_str(), "chalk");
    }

    #[test]
    fn a_range_list_sets_families_unless_the_user_chose_them() {
        let mut state = wall(1, 2, 1);
        let mut list = rows(&["Cove:1", "Cove:B2"]);
        list[0].family = Some("mine".into());
        let event = read(&state, &list).event.unwrap();
        apply(&mut state, &event);
        let said = |line, number| RangeRow {
            family: Some("theirs".into()),
            ..range_row(line, number, "", None)
        };
        let list = [said(2, "1"), said(3, "b2")];
        let event = super::range(&state, &list, Vec::new(), "Cove")
            .unwrap()
            .event
            .unwrap();
        apply(&mut state, &event);
        assert_eq!(state.family_name(kept(&state, "1")), "mine");
        assert_eq!(state.family_name(kept(&state, "B2")), "theirs");
    }

    #[test]
    fn bad_rows_of_a_range_list_are_rejected_and_the_others_imported() {
        let state = wall(1, 1, 1);
        let list = [
            range_row(2, "B5", "", None),
            range_row(3, "b5", "", None),
            range_row(4, "6", "bell\u{7}", None),
        ];
        let outcome = super::range(&state, &list, Vec::new(), "Cove").unwrap();
        assert_eq!(outcome.added, 1);
        let twice = RowFault::Twice {
            number: "b5".to_owned(),
            range: None,
            line: 2,
            lot: false,
        };
        assert_eq!(outcome.rejected[0].reason, twice);
        assert!(matches!(
            outcome.rejected[1].reason,
            RowFault::Label(Column::Name, _)
        ));
        let refused = |rows: &[RangeRow], name| {
            super::range(&state, rows, Vec::new(), name)
                .unwrap_err()
                .to_string()
        };
        assert_eq!(refused(&[], "Cove"), "no_rows");
        assert_eq!(refused(&list[2..], "Cove"), "rows_rejected");
        assert_eq!(refused(&list[..1], "Hi:ll"), "range_name");
    }

    #[test]
    fn a_range_list_with_fewer_values_removes_nothing() {
        let mut state = wall(1, 1, 1);
        let list = [range_row(2, "9", "moss", Some(GREEN))];
        let event = super::range(&state, &list, Vec::new(), "Cove")
            .unwrap()
            .event
            .unwrap();
        apply(&mut state, &event);
        let list = [RangeRow {
            family: Some("greens".into()),
            ..range_row(2, "9", "", None)
        }];
        let outcome = super::range(&state, &list, Vec::new(), "Cove").unwrap();
        assert_eq!((outcome.added, outcome.changed), (0, 1));
        apply(&mut state, &outcome.event.unwrap());
        let shade = state
            .ranges()
            .next()
            .unwrap()
            .shades
            .values()
            .next()
            .unwrap();
        assert_eq!((shade.name.as_str(), shade.colour), ("moss", Some(GREEN)));
        assert!(shade.family.is_some());
    }

    #[test]
    fn families_of_a_range_list_are_ordered_as_on_the_wall() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["Cove:1@A02", "Cove:2@A01"]);
        let said = |line, number, family: &str| RangeRow {
            family: Some(family.into()),
            ..range_row(line, number, "", None)
        };
        let list = [said(2, "1", "right"), said(3, "2", "left")];
        let event = super::range(&state, &list, Vec::new(), "Cove")
            .unwrap()
            .event
            .unwrap();
        apply(&mut state, &event);
        assert_eq!(families(&state), ["left", "right"]);
    }
}
