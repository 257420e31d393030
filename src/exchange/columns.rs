//! Columns: the meaning of titles, the columns assigned by the user, and guesses before that.

use std::collections::HashSet;

use super::table::{Row, shown};
use crate::model::colour::Srgb;
use crate::stash::columns::Column;

/// The titles don't make a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ColumnsError {
    /// No column holds the number of each row.
    NoNumber {
        /// The titles in the file, shortened.
        found: Vec<String>,
        /// The columns such a list may have.
        known: Vec<Column>,
    },
    /// No column holds the matching number, in a conversion list.
    NoMatch {
        /// The titles in the file, shortened.
        found: Vec<String>,
    },
    /// Two titles mean the same column.
    Twice {
        /// The column they mean.
        column: Column,
        /// The first title.
        first: String,
        /// The second title.
        second: String,
    },
}

/// What the user has to clarify about the columns before a list can be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unclear {
    /// Several columns could be the same one.
    Several {
        /// The column they could be.
        column: Column,
        /// Their titles.
        titles: Vec<String>,
    },
    /// No column could be the number.
    NoNumber {
        /// The titles of all columns.
        titles: Vec<String>,
    },
}

/// Maps the fields of a row to columns.
#[derive(Debug, Clone)]
pub(super) struct Header {
    /// The recognized columns in file order, each with its index in a row.
    pub(super) columns: Vec<(Column, usize)>,
    /// The titles that aren't recognized.
    pub(super) ignored: Vec<String>,
    /// Number of fields in a row.
    pub(super) width: usize,
}

impl Header {
    /// Matches a header row to the columns a list may have.
    pub(super) fn of(row: &Row<'_>, known: &[Column]) -> Result<Self, ColumnsError> {
        let mut columns: Vec<(Column, usize)> = Vec::new();
        let mut ignored = Vec::new();
        for (at, header) in row.fields.iter().enumerate() {
            let Some(column) = Column::called(header, known) else {
                ignored.push(title(at, Some(header)));
                continue;
            };
            let place = |of| columns.iter().find(|(other, _)| *other == of);
            // A conversion list often has the same titles for both colours.
            let second = column.second().filter(|of| known.contains(of));
            let second = second.filter(|of| place(*of).is_none());
            let column = second.filter(|_| place(column).is_some()).unwrap_or(column);
            if let Some(&(_, first)) = place(column) {
                return Err(ColumnsError::Twice {
                    column,
                    first: shown(&row.fields[first]),
                    second: shown(header),
                });
            }
            columns.push((column, at));
        }
        if !columns.iter().any(|(column, _)| *column == Column::Number) {
            return Err(ColumnsError::NoNumber {
                found: row.fields.iter().map(|header| shown(header)).collect(),
                known: known.to_vec(),
            });
        }
        let matched = columns
            .iter()
            .any(|(column, _)| *column == Column::MatchNumber);
        if known.contains(&Column::MatchNumber) && !matched {
            return Err(ColumnsError::NoMatch {
                found: row.fields.iter().map(|header| shown(header)).collect(),
            });
        }
        Ok(Self {
            columns,
            ignored,
            width: row.fields.len(),
        })
    }

    pub(super) fn has(&self, column: Column) -> bool {
        self.columns.iter().any(|(other, _)| *other == column)
    }
}

/// The most columns examined.
pub const MOST_COLUMNS: usize = 200;
/// Number of rows below the first that are examined to guess the columns.
const LOOKED_AT: usize = 100;
/// The most characters of a card number, and of a value taken for one.
const LONGEST_NUMBER: usize = 10;

/// How the columns of a file are interpreted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Columns {
    /// Whether the first row names the columns; if not, it is read like any other.
    pub header: bool,
    /// The use of each column, in file order; `None` leaves it out.
    pub uses: Vec<Option<Column>>,
}

impl Columns {
    /// Maps the fields of a row to columns, given the first row of the file and the columns such a
    /// list may have.
    pub(super) fn header_over(
        &self,
        first: &Row<'_>,
        known: &[Column],
    ) -> Result<Header, ColumnsError> {
        let title = |at: usize| self.title(at, first.fields.get(at).map(AsRef::as_ref));
        let mut columns: Vec<(Column, usize)> = Vec::new();
        let mut ignored = Vec::new();
        for at in 0..first.fields.len() {
            let Some(column) = self.uses.get(at).copied().flatten() else {
                ignored.push(title(at));
                continue;
            };
            if let Some(&(_, other)) = columns.iter().find(|(other, _)| *other == column) {
                return Err(ColumnsError::Twice {
                    column,
                    first: title(other),
                    second: title(at),
                });
            }
            columns.push((column, at));
        }
        if !columns.iter().any(|(column, _)| *column == Column::Number) {
            return Err(ColumnsError::NoNumber {
                found: (0..first.fields.len()).map(title).collect(),
                known: known.to_vec(),
            });
        }
        Ok(Header {
            columns,
            ignored,
            width: first.fields.len(),
        })
    }

    /// A column's title: its heading, or else its position.
    fn title(&self, at: usize, first: Option<&str>) -> String {
        title(at, first.filter(|_| self.header))
    }
}

/// A column's title: its heading, or else its position.
fn title(at: usize, above: Option<&str>) -> String {
    let named = above.filter(|title| !title.trim().is_empty());
    named.map_or_else(|| format!("column {at}", at = at + 1), shown)
}

/// The column meant by a single word of a title. The last word usually names the thing itself:
/// 'thread number', 'name of colour'.
fn by_word(title: &str, known: &[Column]) -> Option<Column> {
    let words = title.split(|c: char| !c.is_alphanumeric());
    let mut words = words.filter(|word| !word.is_empty());
    let meant = |word| Column::called(word, known);
    let last = words.next_back().and_then(meant);
    last.or_else(|| words.find_map(meant))
}

/// The columns of a file before the user assigns them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Their likely uses: judged by their titles, then by their values.
    pub guess: Columns,
    /// The columns such a list may have.
    pub known: &'static [Column],
    /// The first row, shortened and made safe to show.
    first: Vec<String>,
    /// The rows below it that were examined; likewise.
    below: Vec<Vec<String>>,
}

impl Found {
    /// Guesses the columns. A title that [`read_cards`](super::read_cards) understands has the same
    /// meaning here; in any other title a single word is enough; failing that, the values decide.
    /// O(first row + examined rows).
    pub(super) fn of<'a>(
        first: &Row<'_>,
        below: impl Iterator<Item = Row<'a>>,
        known: &'static [Column],
    ) -> Self {
        let cells = |row: &Row<'_>| -> Vec<String> {
            let fields = row.fields.iter().take(MOST_COLUMNS);
            fields.map(|field| shown(field)).collect()
        };
        let below = below.filter(|row| !row.is_blank());
        let mut found = Self {
            guess: Columns {
                header: true,
                uses: vec![None; first.fields.len()],
            },
            known,
            below: below.take(LOOKED_AT).map(|row| cells(&row)).collect(),
            first: cells(first),
        };
        found.guess.header = found.has_header();
        found.guess_uses();
        found
    }

    /// Takes a column for the range whose values are mostly the names of ranges that are known, whatever its title.
    pub fn know_ranges(&mut self, is_range: impl Fn(&str) -> bool) {
        if self.guess.uses.contains(&Some(Column::Range)) {
            return;
        }
        let named = |at: usize| {
            let values = self.values(&self.guess, at);
            let (known, all) = values.fold((0, 0), |(known, all), value| {
                (known + usize::from(is_range(value)), all + 1)
            });
            known * 2 > all
        };
        // Words that repeat may have been taken for names.
        let may_be = |at: usize| match self.guess.uses[at] {
            None => true,
            Some(Column::Name) => self
                .first
                .get(at)
                .is_none_or(|title| self.exactly(title).is_none()),
            Some(_) => false,
        };
        let found = (0..self.count()).find(|&at| may_be(at) && named(at));
        self.give(found, Column::Range);
        self.take_by_values(Column::Name, are_names);
    }

    /// Number of columns.
    #[must_use]
    pub fn count(&self) -> usize {
        self.first.len()
    }

    /// A column's title under these assignments: its heading, or else its position.
    #[must_use]
    pub fn title(&self, columns: &Columns, at: usize) -> String {
        columns.title(at, self.first.get(at).map(String::as_str))
    }

    /// The first nonempty values of a column.
    pub fn values<'a>(&'a self, columns: &Columns, at: usize) -> impl Iterator<Item = &'a str> {
        let first = Some(&self.first).filter(|_| !columns.header);
        let rows = first.into_iter().chain(&self.below);
        rows.filter_map(move |row| row.get(at))
            .map(String::as_str)
            .filter(|value| !value.is_empty())
    }
}

impl Found {
    /// Whether the titles alone determine all the column uses.
    #[must_use]
    pub fn is_by_title(&self) -> bool {
        let said = self.first.iter().map(|title| self.exactly(title));
        self.guess.header && said.eq(self.guess.uses.iter().copied())
    }

    /// What the user has to clarify before the guess can be used: two columns have equal claims to
    /// the same use, or none can be the number. O(columns · examined rows).
    #[must_use]
    pub fn unclear(&self) -> Option<Unclear> {
        let titles = |all: &[usize]| -> Vec<String> {
            let titles = all.iter().map(|&at| self.title(&self.guess, at));
            titles.collect()
        };
        let several = |column, all: Vec<usize>| {
            (all.len() > 1).then(|| Unclear::Several {
                column,
                titles: titles(&all),
            })
        };
        let mut known = self.known.iter();
        let twice = known
            .find_map(|&column| several(column, self.claims(column, |title| self.exactly(title))));
        if twice.is_some() {
            return twice;
        }
        let uses = &self.guess.uses;
        let Some(number) = uses.iter().position(|of| *of == Some(Column::Number)) else {
            let all: Vec<usize> = (0..self.count()).collect();
            return Some(Unclear::NoNumber {
                titles: titles(&all),
            });
        };
        let free = |at: usize| at == number || uses.get(at).is_some_and(Option::is_none);
        let of_number = |meant: fn(&str, &[Column]) -> Option<Column>| {
            let mut claims = self.claims(Column::Number, |title| meant(title, self.known));
            claims.retain(|&at| free(at));
            claims
        };
        if of_number(Column::called).contains(&number) {
            return None;
        }
        let by_word = of_number(by_word);
        if by_word.contains(&number) {
            return several(Column::Number, by_word);
        }
        let alike = (0..self.count()).filter(|&at| {
            let values: Vec<_> = self.values(&self.guess, at).collect();
            at == number || (free(at) && !values.is_empty() && are_numbers(&values))
        });
        several(Column::Number, alike.collect())
    }

    /// A starting point for the user: the guess, with some column as the number.
    #[must_use]
    pub fn proposal(&self) -> Columns {
        let mut columns = self.guess.clone();
        if !columns.uses.contains(&Some(Column::Number)) {
            let free = columns.uses.iter().position(Option::is_none);
            if let Some(place) = columns.uses.get_mut(free.unwrap_or(0)) {
                *place = Some(Column::Number);
            }
        }
        columns
    }

    /// The columns whose titles mean this column and whose values allow it.
    fn claims(&self, column: Column, meant: impl Fn(&str) -> Option<Column>) -> Vec<usize> {
        let titles = self.first.iter().enumerate();
        let titles = titles.filter(|_| self.guess.header);
        titles
            .filter(|(_, title)| meant(title) == Some(column))
            .map(|(at, _)| at)
            .filter(|&at| self.values(&self.guess, at).next().is_some() && self.may_be(at, column))
            .collect()
    }
}

fn has_digit(text: &str) -> bool {
    text.bytes().any(|byte| byte.is_ascii_digit())
}

impl Found {
    /// The column that a complete title means.
    fn exactly(&self, title: &str) -> Option<Column> {
        Column::called(title, self.known)
    }

    /// Whether the first row names the columns. One recognized title is enough. Otherwise, a first
    /// row that looks like the rows below it, with digits where they have some, is data.
    fn has_header(&self) -> bool {
        let known = |title: &String| self.exactly(title).is_some();
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
            let known = self.known;
            self.take_by_title(true, |title| Column::called(title, known));
            self.take_by_title(true, |title| by_word(title, known));
        }
        self.take_by_values(Column::Hex, are_colours);
        self.take_by_values(Column::Number, are_numbers);
        if self.guess.header {
            // Some makers' numbers have no digits: rely on the title.
            self.take_by_title(false, |title| Column::called(title, &[Column::Number]));
        }
        if self.guess.header {
            // 'Colour' above words, which repeat if many colours have the same name.
            let named = (0..self.count())
                .find(|&at| self.is_open(at, Column::Name) && self.names_colours(at));
            self.give(named, Column::Name);
        }
        self.take_by_values(Column::Name, are_names);
        if self.known.contains(&Column::Hook) {
            self.take_by_values(Column::Hook, are_hooks);
        }
    }

    /// Takes the first free column whose values fit.
    fn take_by_values(&mut self, column: Column, fits: impl Fn(&[&str]) -> bool) {
        // A symbol is short and unique to its row, like a number.
        let of_chart = |at: usize| {
            let title = self.first.get(at).filter(|_| self.guess.header);
            title
                .is_some_and(|title| Column::called(title, &Column::OF_KEY) == Some(Column::Symbol))
        };
        let mut open = (0..self.count()).filter(|&at| self.is_open(at, column) && !of_chart(at));
        let fitting = open.find(|&at| {
            let values: Vec<_> = self.values(&self.guess, at).collect();
            // A column that most rows leave empty is more likely a remark than a number or a name.
            values.len() * 2 >= self.below.len() && fits(&values)
        });
        self.give(fitting, column);
    }

    /// Whether a column is free and this use is still unassigned.
    fn is_open(&self, at: usize, column: Column) -> bool {
        let uses = &self.guess.uses;
        uses.get(at).is_some_and(Option::is_none) && !uses.contains(&Some(column))
    }

    fn give(&mut self, at: Option<usize>, column: Column) {
        if let Some(place) = at.and_then(|at| self.guess.uses.get_mut(at)) {
            *place = Some(column);
        }
    }

    /// Whether the values allow the title's meaning, if the title is ambiguous.
    fn may_be(&self, at: usize, column: Column) -> bool {
        let title = self.first.get(at);
        if title.is_some_and(|title| self.exactly(title) == Some(column) && Column::is_sure(title))
        {
            return true;
        }
        let values: Vec<_> = self.values(&self.guess, at).collect();
        let of_number = |value: &&&str| has_digit(value) && value.chars().count() <= LONGEST_NUMBER;
        values.is_empty()
            || match column {
                Column::Hex => values.iter().any(|value| value.parse::<Srgb>().is_ok()),
                Column::Name => {
                    title.is_none_or(|title| Column::is_sure(title)) || are_words(&values)
                }
                Column::Number => {
                    let marked = values.iter().any(|value| value.starts_with('#'));
                    values.iter().filter(of_number).count() * 2 >= values.len()
                        && !(marked && are_colours(&values))
                }
                _ => true,
            }
    }

    /// Whether a column has a title that could mean hex digits, but words below it.
    fn names_colours(&self, at: usize) -> bool {
        let title = self.first.get(at);
        let values: Vec<_> = self.values(&self.guess, at).collect();
        title.is_some_and(|title| {
            self.exactly(title) == Some(Column::Hex) && !Column::is_sure(title)
        }) && !values.is_empty()
            && are_words(&values)
    }

    /// Assigns free columns by the meanings of their titles; if `careful`, only if their values
    /// allow it.
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

/// Mostly six hex digits; digits alone are more likely a number than a colour.
fn are_colours(values: &[&str]) -> bool {
    let plain = |value: &&str| value.bytes().all(|byte| byte.is_ascii_digit());
    let colours = values.iter().filter(|value| value.parse::<Srgb>().is_ok());
    colours.count() * 2 > values.len() && !values.iter().all(plain)
}

/// Short, with digits, and nearly all different.
fn are_numbers(values: &[&str]) -> bool {
    let short = |value: &&str| value.chars().count() <= LONGEST_NUMBER;
    let figures = values.iter().filter(|value| has_digit(value)).count();
    values.iter().all(short) && figures * 10 >= values.len() * 8 && are_different(values)
}

/// Words, and nearly all different.
fn are_names(values: &[&str]) -> bool {
    are_words(values) && are_different(values)
}

/// Mostly words without digits.
fn are_words(values: &[&str]) -> bool {
    let words = |value: &&&str| !has_digit(value) && value.chars().any(char::is_alphabetic);
    values.iter().filter(words).count() * 10 >= values.len() * 8
}

/// Letters followed by digits, like hook names, and all different.
fn are_hooks(values: &[&str]) -> bool {
    let is_hook = |value: &&&str| {
        let figures = value.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        let letters = value.len() - figures.len();
        (1..=2).contains(&letters)
            && (1..=3).contains(&figures.len())
            && figures.bytes().all(|byte| byte.is_ascii_digit())
    };
    values.iter().all(|value| is_hook(&value)) && are_different(values)
}

fn are_different(values: &[&str]) -> bool {
    let different: HashSet<_> = values.iter().collect();
    different.len() * 10 >= values.len() * 8
}

#[cfg(test)]
mod tests;
