//! Conversion lists: matching colours of two ranges.

use std::collections::{BTreeMap, BTreeSet};

use super::{if_it_fits, settle};
use crate::model::ids::RangeId;
use crate::model::label::fold;
use crate::model::matches::{ColourMatch, Matches};
use crate::model::number::Number;
use crate::model::ring::ColourRef;
use crate::stash::columns::Column;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::State;

/// The most matches that lists may give one colour. More wouldn't help the user choose.
pub const MOST_OF_ONE: usize = 20;

/// One row of a conversion list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MatchRow {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// The range of the first colour.
    pub range: Option<String>,
    /// Its number.
    pub number: String,
    /// The range of the colour that matches it.
    pub match_range: Option<String>,
    /// The number of the matching colour.
    pub match_number: String,
}

/// The outcome of importing a conversion list.
#[derive(Debug, Clone)]
pub struct MatchesOutcome {
    /// The event; `None` if the list has nothing new.
    pub event: Option<Event>,
    /// New matches.
    pub added: u32,
    /// Rows with a known match, or one of an earlier row.
    pub known: u32,
    /// Matches removed.
    pub removed: u32,
    /// Refused rows.
    pub rejected: Vec<Rejected>,
}

/// Imports a conversion list. With `replace`, it is the complete list between the ranges it names:
/// any other match between two of them is removed, and one bad row refuses the whole list. O(rows ·
/// log matches), and with `replace` also the matches.
///
/// # Errors
/// When there are no rows, none can be accepted, or the event would be too long for the record.
pub fn matches(
    state: &State,
    rows: &[MatchRow],
    unreadable: Vec<Rejected>,
    replace: bool,
) -> Result<MatchesOutcome, Refusal> {
    let total = rows.len() + unreadable.len();
    if total == 0 {
        return Err(Refusal::NoRows);
    }
    let ranges = state.ranges().map(|of| (fold(of.name.as_str()), of.id));
    let mut list = List {
        state,
        ranges: ranges.collect(),
        said: Matches::default(),
        new: Vec::new(),
        known: 0,
    };
    let mut rejected = unreadable;
    for row in rows {
        if let Err(reason) = list.take(row) {
            rejected.push(Rejected {
                line: row.line,
                reason,
                number: Some(row.number.clone()),
            });
        }
    }
    let all_or_none = replace || rejected.len() == total;
    settle(&mut rejected, total, all_or_none)?;
    let gone = if replace { list.left_out() } else { Vec::new() };
    let count = |list: &[ColourMatch]| u32::try_from(list.len()).unwrap_or(u32::MAX);
    let (added, removed) = (count(&list.new), count(&gone));
    let gone = gone.into_iter().map(|of| Change::Match {
        before: Some(of),
        after: None,
    });
    let new = list.new.into_iter().map(|of| Change::Match {
        before: None,
        after: Some(of),
    });
    let changes: Vec<Change> = gone.chain(new).collect();
    let act = Act::ImportMatches { added, removed };
    let event = (!changes.is_empty()).then(|| if_it_fits(Event { act, changes }));
    Ok(MatchesOutcome {
        event: event.transpose()?,
        added,
        known: list.known,
        removed,
        rejected,
    })
}

/// A list while its rows are processed.
struct List<'a> {
    state: &'a State,
    ranges: BTreeMap<String, RangeId>,
    /// Its matches so far.
    said: Matches,
    /// The matches that the stash doesn't have, in the order of the rows.
    new: Vec<ColourMatch>,
    known: u32,
}

impl List<'_> {
    fn take(&mut self, row: &MatchRow) -> Result<(), RowFault> {
        let one = self.colour(row.range.as_deref(), &row.number, Column::Range)?;
        let other = self.colour(
            row.match_range.as_deref(),
            &row.match_number,
            Column::MatchRange,
        )?;
        let of = ColourMatch::new(one, other)
            .map_err(|_| RowFault::MatchesItself(row.number.clone()))?;
        if self.said.find(&of).is_some() {
            self.known = self.known.saturating_add(1);
            return Ok(());
        }
        if self.state.matches().find(&of).is_some() {
            self.known = self.known.saturating_add(1);
            self.said.insert(&of);
            return Ok(());
        }
        if let Some(full) = of.colours().iter().find(|colour| self.is_full(colour)) {
            return Err(RowFault::TooManyMatches(full.number.clone()));
        }
        self.said.insert(&of);
        self.new.push(of);
        Ok(())
    }

    fn is_full(&self, colour: &ColourRef) -> bool {
        let known = self.state.matches().of(colour);
        let new = self.said.of(colour).iter();
        let new = new.filter(|other| !known.contains(other)).count();
        known.len() + new >= MOST_OF_ONE
    }

    /// A colour as written on its card or in its range list.
    fn colour(
        &self,
        range: Option<&str>,
        number: &str,
        column: Column,
    ) -> Result<ColourRef, RowFault> {
        let name = range.ok_or(RowFault::NoRange(column))?;
        let known = self.ranges.get(&fold(name));
        let range = *known.ok_or_else(|| RowFault::RangeUnknown(name.to_owned()))?;
        let number = Number::new(number).map_err(RowFault::Number)?;
        Ok(self.state.as_written(ColourRef::new(range, number)))
    }

    /// The stash's matches between ranges that the list names, but without a row in it.
    fn left_out(&self) -> Vec<ColourMatch> {
        let between = |of: &ColourMatch| of.colours().clone().map(|colour| colour.range);
        let named: BTreeSet<[RangeId; 2]> = self.said.iter().map(|of| between(&of)).collect();
        let known = self.state.matches().iter();
        let known = known.filter(|of| named.contains(&between(of)));
        known.filter(|of| self.said.find(of).is_none()).collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stash::event::inverse;
    use crate::stash::testing::{add_cards, apply, assert_sound, kept, wall};

    fn rows(texts: &[&str]) -> Vec<MatchRow> {
        let row = |(text, line): (&&str, u64)| {
            let (one, other) = text.split_once('=').unwrap();
            let colour = |text: &str| {
                let (range, number) = text.split_once(':').unwrap();
                let range = Some(range.to_owned()).filter(|range| !range.is_empty());
                (range, number.to_owned())
            };
            let ((range, number), (match_range, match_number)) = (colour(one), colour(other));
            MatchRow {
                line,
                range,
                number,
                match_range,
                match_number,
            }
        };
        texts.iter().zip(2..).map(row).collect()
    }

    fn import(state: &State, texts: &[&str]) -> Result<MatchesOutcome, Refusal> {
        matches(state, &rows(texts), Vec::new(), false)
    }

    fn two_ranges() -> State {
        let mut state = wall(2, 4, 1);
        add_cards(&mut state, &["Heath:701", "Heath:B5", "Cove:12", "Moor:7"]);
        state
    }

    fn names(state: &State, name: &str) -> Vec<String> {
        let card = &kept(state, name).card;
        let colour = ColourRef::new(card.range, card.number.clone());
        let others = state.matches().of(&colour).iter();
        others.map(|other| other.number.to_string()).collect()
    }

    #[test]
    fn a_list_adds_matches_in_both_directions() {
        let mut state = two_ranges();
        let outcome = import(&state, &["heath:701=Cove:12", "Cove:12=Heath:b5"]).unwrap();
        assert_eq!((outcome.added, outcome.known), (2, 0));
        apply(&mut state, &outcome.event.unwrap());
        assert_eq!(names(&state, "Cove:12"), ["701", "B5"]);
        assert_eq!(names(&state, "Heath:701"), ["12"]);
        let again = import(&state, &["Cove:12=Heath:701", "Heath:701=Cove:12"]).unwrap();
        assert_eq!((again.event, again.known), (None, 2));
    }

    #[test]
    fn a_row_without_a_match_is_refused_and_the_others_are_imported() {
        let state = two_ranges();
        let list = [
            "Heath:701=Cove:12",
            "Heath:701=Sand:12",
            ":701=Cove:1",
            "Heath:b5=Heath:B5",
            "Cove:12=Heath:701",
            "Heath:=Cove:1",
        ];
        let outcome = import(&state, &list).unwrap();
        assert_eq!((outcome.added, outcome.known), (1, 1));
        let faults = outcome.rejected.into_iter().map(|row| row.reason);
        let faults: Vec<RowFault> = faults.collect();
        assert_eq!(faults[0], RowFault::RangeUnknown("Sand".to_owned()));
        assert_eq!(faults[1], RowFault::NoRange(Column::Range));
        assert_eq!(faults[2], RowFault::MatchesItself("b5".to_owned()));
        assert!(matches!(faults[3], RowFault::Number(_)));
        let refused = |list: &[&str]| import(&state, list).unwrap_err().to_string();
        assert_eq!(refused(&[]), "no_rows");
        assert_eq!(refused(&list[1..3]), "rows_rejected");
    }

    #[test]
    fn the_number_of_matches_of_a_colour_is_limited() {
        let mut state = two_ranges();
        let many: Vec<String> = (0..25).map(|n| format!("Heath:701=Cove:{n}")).collect();
        let many: Vec<&str> = many.iter().map(String::as_str).collect();
        let outcome = import(&state, &many).unwrap();
        assert_eq!((outcome.added, outcome.rejected.len()), (20, 5));
        apply(&mut state, &outcome.event.unwrap());
        let full = import(&state, &["Cove:99=Heath:701", "Cove:99=Heath:B5"]).unwrap();
        assert_eq!((full.added, full.rejected.len()), (1, 1));
    }

    #[test]
    fn a_replacing_list_leaves_other_ranges_alone() {
        let mut state = two_ranges();
        let all = ["Heath:701=Cove:12", "Heath:B5=Cove:13", "Heath:701=Moor:7"];
        let event = import(&state, &all).unwrap().event;
        apply(&mut state, &event.unwrap());
        let replaced = |state: &State, list: &[&str]| matches(state, &rows(list), Vec::new(), true);
        let list = ["Cove:12=Heath:701", "Heath:B5=Cove:14"];
        let outcome = replaced(&state, &list).unwrap();
        assert_eq!((outcome.added, outcome.known, outcome.removed), (1, 1, 1));
        apply(&mut state, &outcome.event.unwrap());
        assert_eq!(names(&state, "Heath:701"), ["12", "7"]);
        assert_eq!(names(&state, "Heath:B5"), ["14"]);
        assert_eq!(replaced(&state, &list).unwrap().event, None);
        // With one bad row, its match would be removed.
        let refused = replaced(&state, &["Cove:12=Heath:701", "Heath:B5=Cave:14"]);
        assert_eq!(refused.unwrap_err().to_string(), "rows_rejected");
    }

    fn a_row() -> impl Strategy<Value = String> {
        let colour = || {
            let range = prop::sample::select(&["Heath", "cove", "Moor", "Sand"][..]);
            let number = prop::sample::select(&["1", "B5", "b5", "12"][..]);
            (range, number).prop_map(|(range, number)| format!("{range}:{number}"))
        };
        (colour(), colour()).prop_map(|(one, other)| format!("{one}={other}"))
    }

    proptest! {
        /// Compares with a set of pairs of folded names.
        #[test]
        fn lists_agree_with_a_set_of_pairs(
            lists in prop::collection::vec((any::<bool>(), prop::collection::vec(a_row(), 1..8)), 1..5)
        ) {
            let mut state = two_ranges();
            let mut plain: BTreeSet<[String; 2]> = BTreeSet::new();
            for (replace, list) in lists {
                let pair = |text: &String| {
                    let (one, other) = text.split_once('=').unwrap();
                    let mut pair = [fold(one), fold(other)];
                    pair.sort();
                    pair
                };
                let is_taken = |[one, other]: &[String; 2]| {
                    one != other && !one.starts_with("sand") && !other.starts_with("sand")
                };
                let ranges = |pair: &[String; 2]| {
                    let range = |text: &String| text.split_once(':').unwrap().0.to_owned();
                    let mut ranges = [range(&pair[0]), range(&pair[1])];
                    ranges.sort();
                    ranges
                };
                let texts: Vec<&str> = list.iter().map(String::as_str).collect();
                let outcome = matches(&state, &rows(&texts), Vec::new(), replace);
                let all: Vec<[String; 2]> = list.iter().map(pair).collect();
                let taken: Vec<&[String; 2]> = all.iter().filter(|pair| is_taken(pair)).collect();
                let refused = if replace { taken.len() < all.len() } else { taken.is_empty() };
                prop_assert_eq!(outcome.is_err(), refused);
                let Ok(outcome) = outcome else { continue };
                let before = plain.clone();
                if replace {
                    let named: BTreeSet<_> = taken.iter().map(|pair| ranges(pair)).collect();
                    plain.retain(|pair| !named.contains(&ranges(pair)) || taken.contains(&pair));
                }
                prop_assert_eq!(before.len() - plain.len(), outcome.removed as usize);
                plain.extend(taken.into_iter().cloned());
                prop_assert_eq!(outcome.event.is_none(), before == plain);
                if let Some(event) = outcome.event {
                    let was = state.clone();
                    apply(&mut state, &event);
                    assert_sound(&state);
                    let undone = Event { act: Act::Undo { seq: 0 }, changes: inverse(&event.changes) };
                    let mut back = state.clone();
                    apply(&mut back, &undone);
                    prop_assert_eq!(back, was);
                }
                let has: BTreeSet<[String; 2]> = state.matches().iter().map(|of| {
                    let mut pair = of.colours().clone().map(|colour| {
                        let range = state.range(colour.range).unwrap();
                        fold(&format!("{}:{}", range.name, colour.number))
                    });
                    pair.sort();
                    pair
                }).collect();
                prop_assert_eq!(&has, &plain);
            }
        }
    }
}
