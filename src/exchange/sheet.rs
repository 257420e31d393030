//! What all lists have in common: bytes to rows of known columns, and why a file or a row of it is not
//! taken.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::hash::Hash;

use super::amount::ParseAmountError;
use super::columns::{Column, Columns, ColumnsError, Found, Header};
use super::table::{self, Delimiter, Fault, Row, Rows, line_ends};
use crate::model::colour::{ParseColourError, Srgb};
use crate::model::label::{Label, ParseLabelError, is_invisible};
use crate::stash::intake::Rejected;

/// The most bytes a file may have, 64 MiB.
pub const LARGEST_FILE: usize = 64 << 20;
/// The most rows a file may have after its header.
pub const MOST_ROWS: usize = 50_000;
/// The most characters a field may have.
pub const LONGEST_FIELD: usize = 1_000;

/// The file as a whole could not be read. Nothing of it was taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FileError {
    /// More than [`LARGEST_FILE`] bytes.
    #[error("the file has {bytes} bytes; a list may have up to {LARGEST_FILE}")]
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// More than [`MOST_ROWS`] rows.
    #[error(
        "the file has more than {MOST_ROWS} rows, which is the most; split it into smaller files and import them one after the other"
    )]
    TooManyRows,
    /// Not UTF-8.
    #[error("line {line} is not UTF-8 text; save the file again as 'CSV UTF-8'")]
    NotUtf8 {
        /// The first line that is not, counted from 1.
        line: u64,
    },
    /// Nothing but empty lines.
    #[error("the file is empty; its first line must name the columns")]
    Empty,
    /// Nothing below the header.
    #[error("the file has a line of column names and no rows below it")]
    NoRows,
    /// The titles do not make a list.
    #[error(transparent)]
    Columns(#[from] ColumnsError),
    /// The rows cannot be told apart.
    #[error("line {line}: {fault}", line = fault.line)]
    Violation {
        /// Where and why.
        fault: Fault,
    },
}

impl From<Fault> for FileError {
    fn from(fault: Fault) -> Self {
        Self::Violation { fault }
    }
}

/// One row was not taken; its text is the reason a person gets.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(super) enum RowError {
    #[error(transparent)]
    Fault(#[from] Fault),
    #[error("the number is empty")]
    NumberEmpty,
    #[error("the hook is empty; write its name, such as C07")]
    HookEmpty,
    #[error("the {column} has {characters} characters; {LONGEST_FIELD} is the most")]
    FieldTooLong { column: Column, characters: usize },
    #[error("the {column} has an invisible or control character (U+{character}); take it out", character = format!("{:04X}", u32::from(*character)))]
    Invisible { column: Column, character: char },
    #[error(transparent)]
    Colour(#[from] ParseColourError),
    #[error("{column}: {reason}")]
    Label {
        column: Column,
        reason: ParseLabelError,
    },
    #[error("{column}: {reason}")]
    Amount {
        column: Column,
        reason: ParseAmountError,
    },
    #[error(
        "this row says both lengths and skeins are on the card; keep one, and put uncut \
         skeins under 'uncut'"
    )]
    TwoAmounts,
    #[error("the number is in the file already, on line {first}; keep one of the two")]
    Duplicate { first: u64 },
    #[error(
        "this dye lot of the number is in the file already, on line {first}; keep one of the two"
    )]
    DuplicateLot { first: u64 },
}

/// The cells of one row by column.
pub(super) struct Cells<'r> {
    pub(super) header: &'r Header,
    pub(super) delimiter: Delimiter,
    row: &'r Row<'r>,
    /// What the row is taken without.
    doubts: RefCell<Vec<Warning>>,
}

impl Cells<'_> {
    /// The line where the row starts.
    pub(super) const fn line(&self) -> u64 {
        self.row.line
    }

    /// The text of a cell, trimmed and fit to keep; `None` where it is empty or there is no such
    /// column. Line ends and tabs become a space, since every text is kept on one line.
    pub(super) fn text(&self, column: Column) -> Result<Option<String>, RowError> {
        let mut places = self.header.columns.iter();
        let place = places.find(|(other, _)| *other == column);
        let Some(cell) = place.and_then(|&(_, at)| self.row.fields.get(at)) else {
            return Ok(None);
        };
        let cell = table::unprotect(cell.trim()).trim();
        let characters = cell.chars().count();
        if characters > LONGEST_FIELD {
            return Err(RowError::FieldTooLong { column, characters });
        }
        let cell = one_line(cell);
        if let Some(character) = cell.chars().find(|&c| is_invisible(c)) {
            return Err(RowError::Invisible { column, character });
        }
        Ok(Some(cell.into_owned()).filter(|cell| !cell.is_empty()))
    }

    /// The number, which every row must have.
    pub(super) fn number(&self) -> Result<String, RowError> {
        self.text(Column::Number)?.ok_or(RowError::NumberEmpty)
    }

    /// The colour.
    pub(super) fn colour(&self) -> Result<Option<Srgb>, RowError> {
        let hex = self.text(Column::Hex)?;
        Ok(hex.map(|hex| hex.parse()).transpose()?)
    }

    /// A text that a card can do without: that it is kept in a [`Label`], or why not.
    pub(super) fn label(&self, column: Column) -> Result<Option<String>, RowError> {
        let text = self.text(column)?;
        if let Some(text) = &text {
            Label::new(text).map_err(|reason| RowError::Label { column, reason })?;
        }
        Ok(text)
    }

    /// The value, or none where it cannot be read: the card of that number is then taken without
    /// it, which is told.
    pub(super) fn or_without<T: Default>(
        &self,
        column: Column,
        number: &str,
        value: Result<T, RowError>,
    ) -> T {
        value.unwrap_or_else(|reason| {
            let words = match column {
                Column::Lengths | Column::Skeins => format!(
                    "{number} is taken as if no amount stood there, so with one skein where it is \
                     new: {reason}"
                ),
                _ => format!(
                    "{number} is taken without its {column}: {reason}",
                    column = match column {
                        Column::Hex => "colour",
                        column => column.title(),
                    }
                ),
            };
            self.doubts.borrow_mut().push(Warning {
                line: self.line(),
                words,
                reason: reason.to_string(),
            });
            T::default()
        })
    }
}

/// A value of a row that was left out because it could not be read, while the row was taken.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Warning {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// What was taken instead, and why.
    pub words: String,
    /// Why, and what would be right.
    #[serde(skip)]
    pub reason: String,
}

/// Puts a space for every line end and tab.
fn one_line(text: &str) -> Cow<'_, str> {
    if text.contains(['\r', '\n', '\t']) {
        Cow::Owned(text.replace("\r\n", " ").replace(['\r', '\n', '\t'], " "))
    } else {
        Cow::Borrowed(text)
    }
}

/// A list, read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListFile<T> {
    /// The rows taken, in file order.
    pub rows: Vec<T>,
    /// The rows not taken, in file order.
    pub rejected: Vec<Rejected>,
    /// Values left out of rows that were taken, in file order.
    pub warnings: Vec<Warning>,
    /// The columns understood, in file order.
    pub columns: Vec<Column>,
    /// The headers not understood, shortened and made safe to show.
    pub ignored: Vec<String>,
}

/// The text of a file, without a byte order mark.
fn decode(bytes: &[u8]) -> Result<&str, FileError> {
    if bytes.len() > LARGEST_FILE {
        return Err(FileError::TooLarge { bytes: bytes.len() });
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let good = std::str::from_utf8(good).unwrap_or_default();
        FileError::NotUtf8 {
            line: line_ends(good) + 1,
        }
    })?;
    Ok(text.strip_prefix('\u{FEFF}').unwrap_or(text))
}

/// The rows of a file that is not empty, from the first that may have something in it. A first line
/// that only says the delimiter is none.
fn rows_of(bytes: &[u8]) -> Result<(Delimiter, Rows<'_>), FileError> {
    let text = decode(bytes)?;
    let below_ends = |text: &'_ str| text.len() - text.trim_start_matches(['\r', '\n']).len();
    let mut start = below_ends(text);
    let said = Delimiter::said_in(&text[start..]);
    if let Some((_, below)) = said {
        start = text.len() - below.len() + below_ends(below);
    }
    let (above, table) = text.split_at(start);
    let delimiter = said.map_or_else(|| Delimiter::of_first_row(table), |(said, _)| said);
    let rows = Rows::starting_at(table, delimiter, line_ends(above) + 1);
    Ok((delimiter, rows))
}

/// Reads every row below the header with `make`; what it refuses is rejected with its line, and so
/// is a row whose `key` an earlier row has. Rows with nothing in them are passed over. O(size of
/// the file).
pub(super) fn read<T, K: Eq + Hash>(
    bytes: &[u8],
    known: &[Column],
    make: impl Fn(&Cells<'_>) -> Result<T, RowError>,
    key: impl Fn(&T) -> K,
) -> Result<ListFile<T>, FileError> {
    let (delimiter, mut lines) = rows_of(bytes)?;
    let header = Header::of(&lines.next().ok_or(FileError::Empty)??, known)?;
    below(header, delimiter, lines, make, key)
}

/// Reads as [`read`] does, with columns that a person said.
pub(super) fn read_as<T, K: Eq + Hash>(
    bytes: &[u8],
    columns: &Columns,
    make: impl Fn(&Cells<'_>) -> Result<T, RowError>,
    key: impl Fn(&T) -> K,
) -> Result<ListFile<T>, FileError> {
    let (delimiter, lines) = rows_of(bytes)?;
    let mut after = lines.clone();
    let first = after.next().ok_or(FileError::Empty)??;
    let header = columns.header_over(&first)?;
    let lines = if columns.header { after } else { lines };
    below(header, delimiter, lines, make, key)
}

/// Reads every one of the rows that are left.
fn below<T, K: Eq + Hash>(
    header: Header,
    delimiter: Delimiter,
    lines: Rows<'_>,
    make: impl Fn(&Cells<'_>) -> Result<T, RowError>,
    key: impl Fn(&T) -> K,
) -> Result<ListFile<T>, FileError> {
    let mut rows = Vec::new();
    let mut rejected = Vec::new();
    let mut warnings = Vec::new();
    let mut first_lines = HashMap::new();
    for row in lines {
        let (line, number, made) = match row {
            Ok(row) if row.is_blank() => continue,
            Ok(row) => {
                let cells = Cells {
                    header: &header,
                    delimiter,
                    row: &row,
                    doubts: RefCell::default(),
                };
                // Fields that are missing at the end are empty ones, as many a spreadsheet leaves
                // them out (common practice, no source); one too many stands in a wrong column.
                let fits = if row.fields.len() < header.width {
                    Ok(())
                } else {
                    row.check_count(header.width).map_err(RowError::from)
                };
                let made = fits.and_then(|()| make(&cells)).and_then(|made| {
                    match first_lines.entry(key(&made)) {
                        Entry::Occupied(first) => {
                            let first = *first.get();
                            Err(match cells.text(Column::DyeLot)? {
                                Some(_) => RowError::DuplicateLot { first },
                                None => RowError::Duplicate { first },
                            })
                        }
                        Entry::Vacant(entry) => {
                            entry.insert(row.line);
                            Ok(made)
                        }
                    }
                });
                if made.is_ok() {
                    warnings.append(&mut cells.doubts.take());
                }
                let number = cells.text(Column::Number).ok();
                (row.line, number.map(Option::unwrap_or_default), made)
            }
            Err(fault) if fault.kind.rest_is_readable() => (fault.line, None, Err(fault.into())),
            Err(fault) => return Err(fault.into()),
        };
        if rows.len() + rejected.len() == MOST_ROWS {
            return Err(FileError::TooManyRows);
        }
        match made {
            Ok(row) => rows.push(row),
            Err(error) => rejected.push(Rejected {
                line,
                reason: error.to_string(),
                number,
            }),
        }
    }
    if rows.is_empty() && rejected.is_empty() {
        return Err(FileError::NoRows);
    }
    Ok(ListFile {
        rows,
        rejected,
        warnings,
        columns: header.columns.iter().map(|(column, _)| *column).collect(),
        ignored: header.ignored,
    })
}

/// Looks over the columns of a file and guesses which of a card list's they are.
///
/// # Errors
/// When the file is empty, too large or no text, or its first row is no row.
pub fn look_over(bytes: &[u8]) -> Result<Found, FileError> {
    let (_, mut rows) = rows_of(bytes)?;
    let first = rows.next().ok_or(FileError::Empty)??;
    Ok(Found::of(&first, rows.filter_map(Result::ok)))
}
