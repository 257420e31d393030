//! What all lists have in common: bytes to rows of known columns, and why a file or a row of it is not
//! taken.

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

/// The most bytes a file may have, 64 MiB.
pub const LARGEST_FILE: usize = 64 << 20;
/// The most rows a file may have after its header.
pub const MOST_ROWS: usize = 50_000;
/// The most characters a field may have.
pub const LONGEST_FIELD: usize = 1_000;

/// The file as a whole couldn't be read. Nothing of it was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileError {
    /// More than [`LARGEST_FILE`] bytes.
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// More than [`MOST_ROWS`] rows.
    TooManyRows,
    /// UTF-8 that was damaged, or bytes where UTF-8 was to be.
    NotUtf8 {
        /// The first line that is not, counted from 1.
        line: u64,
    },
    /// Bytes that are no text in any encoding that is known here.
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
    /// The rows cannot be told apart.
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

/// Writes the word for scripts; the sentence is `text`'s.
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

/// Why a row was not taken, or not with a value of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowError {
    /// It is no row.
    Table(Fault),
    /// There is no number in it.
    NoNumber,
    /// There is no number of the match in it, in a conversion list.
    NoMatchNumber,
    /// There is no hook in it, in a list of what was seen.
    NoHook,
    /// More than [`LONGEST_FIELD`] characters.
    TooLong {
        /// Where.
        column: Column,
        /// How many.
        characters: usize,
    },
    /// A character that cannot be shown as it is.
    Invisible {
        /// Where.
        column: Column,
        /// Which.
        character: char,
    },
    /// No colour.
    Colour(ParseColourError),
    /// A text that a card cannot have.
    Label {
        /// Where.
        column: Column,
        /// Why.
        reason: ParseLabelError,
    },
    /// No amount.
    Amount {
        /// Where.
        column: Column,
        /// Why.
        reason: ParseAmountError,
    },
    /// Not the id of a purchase.
    Purchase(String),
    /// No kind of notion.
    Notion(String),
    /// Both lengths and skeins on the card.
    TwoAmounts,
    /// An earlier row has its number.
    Duplicate {
        /// The line of that row.
        first: u64,
    },
    /// An earlier row has its number and dye lot.
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

/// A row that was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedRow {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// Why.
    pub reason: RowError,
    /// The number it has, empty where it has none; `None` where it couldn't be read at all.
    pub number: Option<String>,
}

/// The cells of one row by column.
pub(super) struct Cells<'r> {
    pub(super) header: &'r Header,
    pub(super) delimiter: Delimiter,
    row: &'r Row<'r>,
    /// What the row is imported without.
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
    /// it, with a [`Warning`].
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

/// A value of a row that was left out because it couldn't be read, while the row was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// The number of the row.
    pub number: String,
    /// Where the value stands.
    pub column: Column,
    /// Why it couldn't be read.
    pub reason: RowError,
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
    pub rejected: Vec<RefusedRow>,
    /// Values left out of rows that were taken, in file order.
    pub warnings: Vec<Warning>,
    /// The columns understood, in file order.
    pub columns: Vec<Column>,
    /// The headers not understood, shortened and made safe to show.
    pub ignored: Vec<String>,
}

impl<T> ListFile<T> {
    /// The titles by which a card list looks like the key of a chart: those of symbols and stitches, where no other says
    /// how much thread there is or where a card hangs. Skeins say nothing, since a chart may say how many it takes.
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

    /// The titles by which a chart key looks like a card list: those of thread and hooks, where no other is of a chart.
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

    /// The titles left out that mean one of `other`, unless a column of `own` was understood.
    fn strays(&self, other: &[Column], own: &[Column]) -> Vec<String> {
        if self.columns.iter().any(|column| own.contains(column)) {
            return Vec::new();
        }
        let ignored = self.ignored.iter();
        let strays = ignored.filter(|title| Column::called(title, other).is_some());
        strays.cloned().collect()
    }
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

/// The most rows that may stand above the titles.
const MOST_ABOVE: usize = 10;

/// From the row with the titles on, where rows without any stand above it, as a heading does: that of the first rows
/// which names the number and another column. Else from the first row.
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

/// Reads every row below the header with `make`; what it refuses is rejected with its line, and so
/// is a row whose `key` an earlier row has. Rows with nothing in them are passed over. O(size of
/// the file).
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

/// Reads as [`read`] does, with columns that a person said.
pub(super) fn read_as<T, K: Eq + Hash>(
    bytes: &[u8],
    columns: &Columns,
    make: impl Fn(&Cells<'_>) -> Result<T, RowError>,
    key: impl Fn(&T) -> K,
) -> Result<ListFile<T>, FileError> {
    let (delimiter, mut lines) = rows_of(bytes)?;
    if columns.header {
        lines = from_titles(lines, &Column::OF_CARD_LIST);
    }
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

/// Looks over the columns of a file and guesses which of a card list's they are.
///
/// # Errors
/// When the file is empty, too large or no text, or its first row is no row.
pub fn look_over(bytes: &[u8]) -> Result<Found, FileError> {
    let (_, rows) = rows_of(bytes)?;
    let mut rows = from_titles(rows, &Column::OF_CARD_LIST);
    let first = rows.next().ok_or(FileError::Empty)??;
    Ok(Found::of(&first, rows.filter_map(Result::ok)))
}
