//! Columns that a person names, and what they are likely to be before anybody has said so.

use std::collections::HashSet;

use super::error::{FileError, shown};
use super::header::{Column, Header};
use super::sheet::rows_of;
use super::table::Row;
use crate::model::colour::Srgb;

/// The most columns that are looked at.
pub const MOST_COLUMNS: usize = 200;
/// Rows below the first that are looked at for what the columns may be.
const LOOKED_AT: usize = 100;
/// The most characters of a number on a card, and of what is taken for one.
const LONGEST_NUMBER: usize = 10;

/// How the columns of a file are taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Columns {
    /// Whether the first row names the columns; else it is read like any other.
    pub header: bool,
    /// What each column is taken for, in file order; `None` leaves it out.
    pub uses: Vec<Option<Column>>,
}

impl Columns {
    /// Which field of a row is which column, over the first row of the file.
    pub(super) fn header_over(&self, first: &Row<'_>) -> Result<Header, FileError> {
        let title = |at: usize| self.title(at, first.fields.get(at).map(AsRef::as_ref));
        let mut columns: Vec<(Column, usize)> = Vec::new();
        let mut ignored = Vec::new();
        for at in 0..first.fields.len() {
            let Some(column) = self.uses.get(at).copied().flatten() else {
                ignored.push(title(at));
                continue;
            };
            if let Some(&(_, other)) = columns.iter().find(|(other, _)| *other == column) {
                return Err(FileError::ColumnTwice {
                    column,
                    first: title(other),
                    second: title(at),
                });
            }
            columns.push((column, at));
        }
        if !columns.iter().any(|(column, _)| *column == Column::Number) {
            return Err(FileError::NoNumberColumn {
                found: (0..first.fields.len()).map(title).collect(),
                known: Column::OF_CARD_LIST.to_vec(),
            });
        }
        Ok(Header {
            columns,
            ignored,
            width: first.fields.len(),
        })
    }

    /// What a column is called: what stands above it, else its place.
    fn title(&self, at: usize, first: Option<&str>) -> String {
        let named = first.filter(|title| self.header && !title.trim().is_empty());
        named.map_or_else(|| format!("column {at}", at = at + 1), shown)
    }
}

/// The columns of a file before anybody has said what they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// What they are likely to be: by what stands above them, then by what stands in them.
    pub guess: Columns,
    /// The first row, shortened and made safe to show.
    first: Vec<String>,
    /// The rows below it, as many as were looked at; likewise.
    below: Vec<Vec<String>>,
}

impl Found {
    /// How many columns there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.first.len()
    }

    /// What a column is called with these columns: what stands above it, else its place.
    #[must_use]
    pub fn title(&self, columns: &Columns, at: usize) -> String {
        columns.title(at, self.first.get(at).map(String::as_str))
    }

    /// The first values of a column that are not empty.
    pub fn values<'a>(&'a self, columns: &Columns, at: usize) -> impl Iterator<Item = &'a str> {
        let first = Some(&self.first).filter(|_| !columns.header);
        let rows = first.into_iter().chain(&self.below);
        rows.filter_map(move |row| row.get(at))
            .map(String::as_str)
            .filter(|value| !value.is_empty())
    }
}

/// Looks over the columns of a file and guesses which of a card list's they are. A header that
/// [`read_cards`](super::read_stock) understands is taken as it does; of any other a single word
/// will do, and failing that the values. O(first row + rows looked at).
///
/// # Errors
/// When the file is empty, too large or no text, or its first row is no row.
pub fn look_over(bytes: &[u8]) -> Result<Found, FileError> {
    let (_, mut rows) = rows_of(bytes)?;
    let first = rows.next().ok_or(FileError::Empty)??;
    let cells = |row: &Row<'_>| -> Vec<String> {
        let fields = row.fields.iter().take(MOST_COLUMNS);
        fields.map(|field| shown(field)).collect()
    };
    let below = rows.filter_map(Result::ok).filter(|row| !row.is_blank());
    let mut found = Found {
        guess: Columns {
            header: true,
            uses: vec![None; first.fields.len()],
        },
        below: below.take(LOOKED_AT).map(|row| cells(&row)).collect(),
        first: cells(&first),
    };
    found.guess.header = found.has_header();
    found.guess_uses();
    Ok(found)
}

fn has_digit(text: &str) -> bool {
    text.bytes().any(|byte| byte.is_ascii_digit())
}

impl Found {
    /// Whether the first row names the columns. One understood header says so; else a first row
    /// that is like the rows below it, with figures where they have some, is one of them.
    fn has_header(&self) -> bool {
        let known = |title: &String| Column::called(title, &Column::OF_CARD_LIST).is_some();
        if self.first.iter().any(known) {
            return true;
        }
        let like_below = |at: usize, cell: &String| {
            let below = self.below.iter().filter_map(|row| row.get(at));
            let below: Vec<_> = below.filter(|value| !value.is_empty()).collect();
            let figures = below.iter().filter(|value| has_digit(value)).count();
            has_digit(cell) && figures * 2 >= below.len()
        };
        let mut cells = self.first.iter().enumerate();
        !cells.any(|(at, cell)| like_below(at, cell))
    }

    fn guess_uses(&mut self) {
        if self.guess.header {
            self.take_by_title(true, |title| Column::called(title, &Column::OF_CARD_LIST));
            // The last word is mostly the thing itself: 'thread number', 'name of colour'.
            self.take_by_title(true, |title| {
                let words = title.split(|c: char| !c.is_alphanumeric());
                let mut words = words.filter(|word| !word.is_empty());
                let meant = |word| Column::called(word, &Column::OF_CARD_LIST);
                let last = words.next_back().and_then(meant);
                last.or_else(|| words.find_map(meant))
            });
        }
        self.take_by_values(Column::Hex, are_colours);
        self.take_by_values(Column::Number, are_numbers);
        if self.guess.header {
            // Numbers without figures, as some makers have: the title must do.
            self.take_by_title(false, |title| Column::called(title, &[Column::Number]));
        }
        self.take_by_values(Column::Name, are_names);
    }

    /// Takes the first free column whose values fit.
    fn take_by_values(&mut self, column: Column, fits: impl Fn(&[&str]) -> bool) {
        let mut open = (0..self.count()).filter(|&at| self.is_open(at, column));
        let fitting = open.find(|&at| {
            let values: Vec<_> = self.values(&self.guess, at).collect();
            !values.is_empty() && fits(&values)
        });
        self.give(fitting, column);
    }

    /// Whether a column is free, and no other is taken for this.
    fn is_open(&self, at: usize, column: Column) -> bool {
        let uses = &self.guess.uses;
        uses.get(at).is_some_and(Option::is_none) && !uses.contains(&Some(column))
    }

    fn give(&mut self, at: Option<usize>, column: Column) {
        if let Some(place) = at.and_then(|at| self.guess.uses.get_mut(at)) {
            *place = Some(column);
        }
    }

    /// Whether the values do not speak against the title: 'colour' stands above names as often as
    /// above hex digits, and 'shade' as often as above numbers.
    fn may_be(&self, at: usize, column: Column) -> bool {
        let values: Vec<_> = self.values(&self.guess, at).collect();
        let of_number = |value: &&&str| has_digit(value) && value.chars().count() <= LONGEST_NUMBER;
        values.is_empty()
            || match column {
                Column::Hex => values.iter().any(|value| value.parse::<Srgb>().is_ok()),
                Column::Number => {
                    let marked = values.iter().any(|value| value.starts_with('#'));
                    values.iter().filter(of_number).count() * 2 >= values.len()
                        && !(marked && are_colours(&values))
                }
                _ => true,
            }
    }

    /// Takes free columns for what their titles mean, where `careful` only if their values may be.
    fn take_by_title(&mut self, careful: bool, meant: impl Fn(&str) -> Option<Column>) {
        for at in 0..self.count() {
            let Some(column) = self.first.get(at).and_then(|title| meant(title)) else {
                continue;
            };
            if self.is_open(at, column) && (!careful || self.may_be(at, column)) {
                self.give(Some(at), column);
            }
        }
    }
}

/// Six hex digits in most; figures alone are a number sooner than a colour.
fn are_colours(values: &[&str]) -> bool {
    let plain = |value: &&str| value.bytes().all(|byte| byte.is_ascii_digit());
    let colours = values.iter().filter(|value| value.parse::<Srgb>().is_ok());
    colours.count() * 2 > values.len() && !values.iter().all(plain)
}

/// Short, with figures, and nearly all different.
fn are_numbers(values: &[&str]) -> bool {
    let short = |value: &&str| value.chars().count() <= LONGEST_NUMBER;
    let figures = values.iter().filter(|value| has_digit(value)).count();
    values.iter().all(short) && figures * 10 >= values.len() * 8 && are_different(values)
}

/// Words, and nearly all different.
fn are_names(values: &[&str]) -> bool {
    let words = |value: &&&str| !has_digit(value) && value.chars().any(char::is_alphabetic);
    values.iter().filter(words).count() * 10 >= values.len() * 8 && are_different(values)
}

fn are_different(values: &[&str]) -> bool {
    let different: HashSet<_> = values.iter().collect();
    different.len() * 10 >= values.len() * 8
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::{read_cards, read_cards_as};
    use proptest::prelude::*;

    fn guessed(text: &str) -> (bool, Vec<Option<Column>>) {
        let found = look_over(text.as_bytes()).unwrap();
        (found.guess.header, found.guess.uses)
    }

    #[test]
    fn columns_are_guessed_by_title_then_by_word_then_by_value() {
        use Column::{Hex, Hook, Lengths, Name, Note, Number, Range};
        for (text, header, uses) in [
            ("number,name\n1,a", true, vec![Some(Number), Some(Name)]),
            (
                "Thread number;My notes;Where on the wall, place\n1;x;A01\n",
                true,
                vec![Some(Number), Some(Note), Some(Hook)],
            ),
            (
                "Farbe,Bezeichnung,Ton\n310,soot,#101214\n9,chalk,#FFFFFF\n",
                true,
                vec![Some(Number), Some(Name), Some(Hex)],
            ),
            (
                "310,soot,#101214,8\n9,chalk,#FFFFFF,8\n",
                false,
                vec![Some(Number), Some(Name), Some(Hex), None],
            ),
            ("7\n", false, vec![Some(Number)]),
            (
                "No,Colour,Lengths\n7,soot,8\n8,chalk,8",
                true,
                vec![Some(Number), Some(Name), Some(Lengths)],
            ),
            // A title that means two things, and values that settle it.
            (
                "Maker;Shade;Thread no\nMeadow;shade of grey 1;3\nMeadow;shade of red 2;9\n",
                true,
                vec![Some(Range), None, Some(Number)],
            ),
            (
                "Code,Colour\nsnow,#FFFFFF\nsoot,#000000\n",
                true,
                vec![Some(Number), Some(Hex)],
            ),
            // What stands above numbers or names as often, above colours but for a slip.
            (
                "Shade,No,Title\n#F4E3B2,3,straw\nyellowish,4,wheat\n#C8102E,5,poppy\n",
                true,
                vec![Some(Hex), Some(Number), Some(Name)],
            ),
            (
                "No;Tone;Colour\n3;#F4E3B2;straw\n4;#D8C070;wheat\n5;reddish;poppy\n",
                true,
                vec![Some(Number), Some(Hex), Some(Name)],
            ),
            (
                "Colour;Shade\nstraw;3\nwheat;4\npoppy;5\n",
                true,
                vec![Some(Name), Some(Number)],
            ),
            // Two that mean the same: the first is taken, nothing is refused.
            ("number,no,x\n1,2,\n", true, vec![Some(Number), None, None]),
            ("soot\nchalk\n", true, vec![Some(Name)]),
        ] {
            assert_eq!(guessed(text), (header, uses), "{text}");
        }
    }

    #[test]
    fn a_file_without_a_header_keeps_its_first_row() {
        let text = "soot,310\nchalk,9\n";
        let found = look_over(text.as_bytes()).unwrap();
        assert!(!found.guess.header);
        let read = read_cards_as(text.as_bytes(), &found.guess).unwrap();
        let rows: Vec<_> = read
            .rows
            .iter()
            .map(|row| (row.line, &*row.number))
            .collect();
        assert_eq!(rows, [(1, "310"), (2, "9")]);
        assert_eq!(read.rows[0].name.as_deref(), Some("soot"));
        assert_eq!(found.title(&found.guess, 1), "column 2");
        let values: Vec<_> = found.values(&found.guess, 0).collect();
        assert_eq!(values, ["soot", "chalk"]);
    }

    #[test]
    fn columns_that_cannot_be_so_are_refused() {
        let columns = |uses| Columns { header: true, uses };
        let text = b"a,b\n1,2\n";
        let twice = columns(vec![Some(Column::Number), Some(Column::Number)]);
        let error = read_cards_as(text, &twice).unwrap_err();
        assert!(matches!(error, FileError::ColumnTwice { .. }), "{error}");
        let none = columns(vec![None, Some(Column::Name)]);
        let error = read_cards_as(text, &none).unwrap_err();
        assert!(matches!(error, FileError::NoNumberColumn { .. }), "{error}");
        let few = columns(vec![Some(Column::Number)]);
        let read = read_cards_as(text, &few).unwrap();
        assert_eq!((read.rows.len(), read.ignored), (1, vec!["b".to_owned()]));
    }

    proptest! {
        #[test]
        fn any_bytes_are_looked_over_and_read_or_refused(
            bytes in prop::collection::vec(any::<u8>(), 0..200)
        ) {
            if let Ok(found) = look_over(&bytes) {
                let _ = read_cards_as(&bytes, &found.guess);
            }
        }

        /// What is understood without help is understood the same with it.
        #[test]
        fn a_list_that_is_understood_is_guessed_as_it_is_read(
            numbers in prop::collection::vec("[0-9]{1,4}", 1..6),
            at in 0usize..3,
        ) {
            let mut titles = vec!["brand", "skeins", "note"];
            titles.insert(at, "no.");
            let mut text = titles.join(";");
            for number in &numbers {
                let mut row = vec!["Meadow", "2", "x"];
                row.insert(at, number);
                text += &format!("\n{}", row.join(";"));
            }
            let found = look_over(text.as_bytes()).unwrap();
            let guessed = read_cards_as(text.as_bytes(), &found.guess).unwrap();
            prop_assert_eq!(guessed, read_cards(text.as_bytes()).unwrap());
        }
    }
}
