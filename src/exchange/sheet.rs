//! The basis of all lists: turns bytes into rows of known columns, and rejects files and rows.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::fmt;
use std::hash::Hash;

use super::amount::ParseAmountError;
use super::columns::{Columns, ColumnsError, Found, Header};
use super::table::{self, Delimiter, Fault, Row, Rows, line_ends};
use super::workbook::WorkbookError;
use crate::model::colour::{ParseColourError, Srgb};
use crate::model::label::{Label, ParseLabelError, is_invisible};
use crate::stash::columns::Column;

/// The maximum size of a file, 64 MiB.
pub const LARGEST_FILE: usize = 64 << 20;
/// The most rows in a file after its header.
pub const MOST_ROWS: usize = 50_000;
/// The most characters in a field.
pub const LONGEST_FIELD: usize = 1_000;

/// The file as a whole couldn't be read, so nothing was imported.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileError {
    /// More than [`LARGEST_FILE`] bytes.
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// More than [`MOST_ROWS`] rows.
    TooManyRows,
    /// Damaged UTF-8, or bytes where UTF-8 was expected.
    NotUtf8 {
        /// The first bad line, counted from 1.
        line: u64,
    },
    /// Bytes that aren't text in any encoding known here.
    NotText {
        /// The first line with such bytes, counted from 1.
        line: u64,
    },
    /// No sheet of a workbook could be read.
    Workbook(WorkbookError),
    /// Nothing but empty lines.
    Empty,
    /// Nothing below the header.
    NoRows,
    /// The titles do not make a list.
    Columns(ColumnsError),
    /// The rows can't be separated.
    Table(Fault),
}

impl FileError {
    /// A stable word for scripts.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::TooLarge { .. } => "too_large",
            Self::TooManyRows => "too_many_rows",
            Self::NotUtf8 { .. } => "not_utf8",
            Self::NotText { .. } => "not_text",
            Self::Workbook(error) => error.code(),
            Self::Empty => "empty",
            Self::NoRows => "no_rows",
            Self::Columns(ColumnsError::NoNumber { .. }) => "no_number_column",
            Self::Columns(ColumnsError::NoMatch { .. }) => "no_match_column",
            Self::Columns(ColumnsError::Twice { .. }) => "column_twice",
            Self::Table(_) => "not_a_table",
        }
    }
}

/// Writes the stable word for scripts; `text` has the sentence.
impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl std::error::Error for FileError {}

impl From<ColumnsError> for FileError {
    fn from(error: ColumnsError) -> Self {
        Self::Columns(error)
    }
}

impl From<WorkbookError> for FileError {
    fn from(error: WorkbookError) -> Self {
        Self::Workbook(error)
    }
}

impl From<Fault> for FileError {
    fn from(fault: Fault) -> Self {
        Self::Table(fault)
    }
}

/// Why a row, or one of its values, was rejected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowError {
    /// It isn't a valid row.
    Table(Fault),
    /// It has no number.
    NoNumber,
    /// It has no matching number, in a conversion list.
    NoMatchNumber,
    /// It has no hook, in a list of cards seen.
    NoHook,
    /// More than [`LONGEST_FIELD`] characters.
    TooLong {
        /// The column.
        column: Column,
        /// The number of characters.
        characters: usize,
    },
    /// An invisible character.
    Invisible {
        /// The column.
        column: Column,
        /// The character.
        character: char,
    },
    /// Not a colour.
    Colour(ParseColourError),
    /// A text that a card can't have.
    Label {
        /// The column.
        column: Column,
        /// The reason.
        reason: ParseLabelError,
    },
    /// Not an amount.
    Amount {
        /// The column.
        column: Column,
        /// The reason.
        reason: ParseAmountError,
    },
    /// Not a purchase id.
    Purchase(String),
    /// Not a kind of notion.
    Notion(String),
    /// Both lengths and skeins for the card.
    TwoAmounts,
    /// An earlier row has the same number.
    Duplicate {
        /// The line of that row.
        first: u64,
    },
    /// An earlier row has the same number and dye lot.
    DuplicateLot {
        /// The line of that row.
        first: u64,
    },
}

impl From<Fault> for RowError {
    fn from(fault: Fault) -> Self {
        Self::Table(fault)
    }
}

impl From<ParseColourError> for RowError {
    fn from(error: ParseColourError) -> Self {
        Self::Colour(error)
    }
}

/// A rejected row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedRow {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// The reason.
    pub reason: RowError,
    /// Its number, empty if it has none; `None` if the row couldn't be read at all.
    pub number: Option<String>,
}

/// The cells of one row by column.
pub(super) struct Cells<'r> {
    pub(super) header: &'r Header,
    pub(super) delimiter: Delimiter,
    row: &'r Row<'r>,
    /// The values without which the row is imported.
    doubts: RefCell<Vec<Warning>>,
}

impl Cells<'_> {
    /// The line where the row starts.
    pub(super) const fn line(&self) -> u64 {
        self.row.line
    }

    /// The text of a cell, trimmed and safe to store; `None` if it is empty or the column is
    /// missing. Line ends and tabs become a space, since every text is stored as one line.
    pub(super) fn text(&self, column: Column) -> Result<Option<String>, RowError> {
        let mut places = self.header.columns.iter();
        let place = places.find(|(other, _)| *other == column);
        let Some(cell) = place.and_then(|&(_, at)| self.row.fields.get(at)) else {
            return Ok(None);
        };
        let cell = table::unprotect(cell.trim()).trim();
        let characters = cell.chars().count();
        if characters > LONGEST_FIELD {
            return Err(RowError::TooLong { column, characters });
        }
        let cell = one_line(cell);
        if let Some(character) = cell.chars().find(|&c| is_invisible(c)) {
            return Err(RowError::Invisible { column, character });
        }
        Ok(Some(cell.into_owned()).filter(|cell| !cell.is_empty()))
    }

    /// The number, which every row must have.
    pub(super) fn number(&self) -> Result<String, RowError> {
        self.text(Column::Number)?.ok_or(RowError::NoNumber)
    }

    pub(super) fn colour(&self) -> Result<Option<Srgb>, RowError> {
        let hex = self.text(Column::Hex)?;
        Ok(hex.map(|hex| hex.parse()).transpose()?)
    }

    /// An optional text: the string if a [`Label`] can hold it, or the reason why not.
    pub(super) fn label(&self, column: Column) -> Result<Option<String>, RowError> {
        let text = self.text(column)?;
        if let Some(text) = &text {
            Label::new(text).map_err(|reason| RowError::Label { column, reason })?;
        }
        Ok(text)
    }

    /// The value, or the default with a [`Warning`] if it can't be read: the card of that number is
    /// then imported without it.
    pub(super) fn or_without<T: Default>(
        &self,
        column: Column,
        number: &str,
        value: Result<T, RowError>,
    ) -> T {
        value.unwrap_or_else(|reason| {
            self.doubts.borrow_mut().push(Warning {
                line: self.line(),
                number: number.to_owned(),
                column,
                reason,
            });
            T::default()
        })
    }
}

/// A value left out of an imported row because it couldn't be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// The number of the row.
    pub number: String,
    /// The column of the value.
    pub column: Column,
    /// Why it couldn't be read.
    pub reason: RowError,
}

/// Replaces every line end and tab by a space.
fn one_line(text: &str) -> Cow<'_, str> {
    if text.contains(['\r', '\n', '\t']) {
        Cow::Owned(text.replace("\r\n", " ").replace(['\r', '\n', '\t'], " "))
    } else {
        Cow::Borrowed(text)
    }
}

/// A parsed list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListFile<T> {
    /// The accepted rows, in file order.
    pub rows: Vec<T>,
    /// The rejected rows, in file order.
    pub rejected: Vec<RefusedRow>,
    /// Values left out of accepted rows, in file order.
    pub warnings: Vec<Warning>,
    /// The recognized columns, in file order.
    pub columns: Vec<Column>,
    /// The unrecognized titles, shortened and made safe to show.
    pub ignored: Vec<String>,
}

impl<T> ListFile<T> {
    /// The titles that make a card list look like a chart key: those of symbols and stitches,
    /// unless another title gives an amount of thread or a hook. Skeins don't count, since a chart
    /// key may list how many are needed.
    #[must_use]
    pub fn titles_of_chart_key(&self) -> Vec<String> {
        use Column::{
            Backstitch, DyeLot, FrenchKnots, Half, Hook, Lengths, PurchaseId, Quarter, SplitCardOf,
            Stitches, Symbol, ThreeQuarter, Uncut,
        };
        let of_key = [
            Symbol,
            Stitches,
            Half,
            Quarter,
            ThreeQuarter,
            Backstitch,
            FrenchKnots,
        ];
        self.strays(
            &of_key,
            &[Lengths, Uncut, DyeLot, Hook, SplitCardOf, PurchaseId],
        )
    }

    /// The titles that make a chart key look like a card list: those of thread and hooks, unless
    /// another title belongs to a chart.
    #[must_use]
    pub fn titles_of_card_list(&self) -> Vec<String> {
        use Column::{DyeLot, Hook, Lengths, PurchaseId, Skeins, SplitCardOf, Uncut};
        let of_chart: Vec<Column> = (Column::OF_KEY.into_iter())
            .filter(|column| !Column::OF_CARD_LIST.contains(column))
            .collect();
        let of_cards = [
            Lengths,
            Skeins,
            Uncut,
            DyeLot,
            Hook,
            SplitCardOf,
            PurchaseId,
        ];
        self.strays(&of_cards, &of_chart)
    }

    /// The ignored titles that mean one of `other`, unless a column of `own` was recognized.
    fn strays(&self, other: &[Column], own: &[Column]) -> Vec<String> {
        if self.columns.iter().any(|column| own.contains(column)) {
            return Vec::new();
        }
        let ignored = self.ignored.iter();
        let strays = ignored.filter(|title| Column::called(title, other).is_some());
        strays.cloned().collect()
    }
}

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

/// The rows of a nonempty file, from the first that may have content. Skips a first line that only
/// declares the delimiter.
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

/// The most rows allowed above the titles.
const MOST_ABOVE: usize = 10;

/// Starts at the title row if rows without titles, such as headings, come before it: the first row
/// that names the number and another column. Otherwise starts at the first row.
fn from_titles<'a>(rows: Rows<'a>, known: &[Column]) -> Rows<'a> {
    let understood = |row: &Row<'_>| {
        let titles = row.fields.iter();
        let meant = titles.filter_map(|title| Column::called(title, known));
        meant.collect::<Vec<_>>()
    };
    let mut ahead = rows.clone();
    for _ in 0..MOST_ABOVE {
        let here = ahead.clone();
        let Some(Ok(row)) = ahead.next() else {
            break;
        };
        let columns = understood(&row);
        if columns.len() > 1 && columns.contains(&Column::Number) {
            return here;
        }
        if !columns.is_empty() {
            break;
        }
    }
    rows
}

/// Reads every row below the header with `make`. Rejects a row that `make` refuses, or whose `key`
/// an earlier row has. Skips empty rows. O(size of the file).
pub(super) fn read<T, K: Eq + Hash>(
    bytes: &[u8],
    known: &[Column],
    make: impl Fn(&Cells<'_>) -> Result<T, RowError>,
    key: impl Fn(&T) -> K,
) -> Result<ListFile<T>, FileError> {
    let (delimiter, lines) = rows_of(bytes)?;
    let mut lines = from_titles(lines, known);
    let header = Header::of(&lines.next().ok_or(FileError::Empty)??, known)?;
    below(header, delimiter, lines, make, key)
}

/// Like [`read`], with columns assigned by the user.
pub(super) fn read_as<T, K: Eq + Hash>(
    bytes: &[u8],
    (columns, known): (&Columns, &[Column]),
    make: impl Fn(&Cells<'_>) -> Result<T, RowError>,
    key: impl Fn(&T) -> K,
) -> Result<ListFile<T>, FileError> {
    let (delimiter, mut lines) = rows_of(bytes)?;
    if columns.header {
        lines = from_titles(lines, known);
    }
    let mut after = lines.clone();
    let first = after.next().ok_or(FileError::Empty)??;
    let header = columns.header_over(&first, known)?;
    let lines = if columns.header { after } else { lines };
    below(header, delimiter, lines, make, key)
}

/// Reads all remaining rows.
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
                // Fields missing at the end count as empty, as many a spreadsheet leaves them out
                // (common practice, no source). With an extra field, values may be in the wrong
                // columns.
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
            Err(error) => rejected.push(RefusedRow {
                line,
                reason: error,
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

/// Examines the columns of a file and guesses their meaning in a list that may have the `known`
/// ones: a card list or a chart key.
///
/// # Errors
/// When the file is empty, too large or not text, or its first row isn't a valid row.
pub fn look_over(bytes: &[u8], known: &'static [Column]) -> Result<Found, FileError> {
    let (_, rows) = rows_of(bytes)?;
    let mut rows = from_titles(rows, known);
    let first = rows.next().ok_or(FileError::Empty)??;
    Ok(Found::of(&first, rows.filter_map(Result::ok), known))
}
