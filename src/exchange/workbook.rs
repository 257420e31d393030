//! Converts a sheet of a workbook to text.
//!
//! A workbook is a ZIP archive of XML. Before anything is kept, every part is unpacked once and
//! discarded: its bytes are counted, whatever the archive claims, and its XML must be complete. So
//! no part that unpacks endlessly or stops halfway reaches the readers.

use std::io::{BufReader, Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;
use zip::result::ZipError;

/// The most bytes that all parts of a workbook may unpack to, 256 MiB.
pub const MOST_UNPACKED: u64 = 256 << 20;
/// The most nonempty cells in a sheet.
pub const MOST_CELLS: usize = 2_000_000;
/// The most bytes of text in all cells of a sheet, 64 MiB.
const MOST_TEXT: usize = 64 << 20;
/// The most places of a kind that are listed.
const MOST_PLACES: usize = 6;

/// A packed file.
pub(super) type Archive<'b> = ZipArchive<Cursor<&'b [u8]>>;

/// Why no sheet of a workbook was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WorkbookError {
    /// It is protected by a password.
    Password,
    /// A workbook of another type: `.xls` or `.xlsb`.
    OtherFormat,
    /// An archive without a workbook in it.
    NotAWorkbook,
    /// It can't be unpacked, or its XML makes no sense.
    Damaged,
    /// More than [`MOST_UNPACKED`] bytes when unpacked.
    TooLarge,
    /// More than [`MOST_CELLS`] cells, or more text in them than a list may have.
    TooManyCells,
    /// No sheet has that name.
    NoSheet {
        /// The requested name.
        asked: String,
        /// The existing sheets.
        sheets: Vec<String>,
    },
    /// The sheet is empty.
    EmptySheet {
        /// The sheet.
        name: String,
        /// The other sheets.
        others: Vec<String>,
    },
    /// A sheet was requested, but the file isn't a workbook.
    NoSheets,
}

impl WorkbookError {
    /// A stable word for scripts.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Password => "password",
            Self::OtherFormat => "other_workbook",
            Self::NotAWorkbook => "not_a_workbook",
            Self::Damaged => "damaged_workbook",
            Self::TooLarge => "workbook_too_large",
            Self::TooManyCells => "too_many_cells",
            Self::NoSheet { .. } => "no_such_sheet",
            Self::EmptySheet { .. } => "empty_sheet",
            Self::NoSheets => "no_sheets",
        }
    }
}

impl From<ZipError> for WorkbookError {
    fn from(error: ZipError) -> Self {
        match error {
            ZipError::UnsupportedArchive(ZipError::PASSWORD_REQUIRED) => Self::Password,
            _ => Self::Damaged,
        }
    }
}

impl From<quick_xml::Error> for WorkbookError {
    fn from(_: quick_xml::Error) -> Self {
        Self::Damaged
    }
}

/// What the user should know about a sheet that was read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SheetRead {
    /// Its name.
    pub name: String,
    /// The other sheets of the workbook.
    pub others: Vec<String>,
    /// Merged cells, such as `B2:B5`: only the first has the value.
    pub merged: Places,
    /// Cells with a formula whose value isn't in the file. They are read as empty.
    pub unvalued: Places,
    /// Cells that show an error. They are read as empty.
    pub errors: Places,
    /// Cells that are dates, often converted by the spreadsheet from something similar. They are
    /// read as `2026-03-14`.
    pub dates: Places,
}

/// A count of cells, with the names of the first few.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Places {
    /// The first few, such as `B2`.
    pub first: Vec<String>,
    /// The total number.
    pub count: usize,
}

impl Places {
    pub(super) fn push(&mut self, place: impl FnOnce() -> String) {
        self.count += 1;
        if self.first.len() < MOST_PLACES {
            self.first.push(place());
        }
    }
}

/// Whether a file's first bytes are those of a workbook: a ZIP archive, or the container of older
/// workbooks and of those with a password.
pub(super) fn is_packed(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") || is_container(bytes)
}

/// The compound file that holds an `.xls`, or a workbook with a password.
pub(super) fn is_container(bytes: &[u8]) -> bool {
    bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1])
}

/// Unpacks every part once, counts its bytes and checks that its XML is complete.
pub(super) fn look_through(archive: &mut Archive<'_>) -> Result<(), WorkbookError> {
    let mut said: u64 = 0;
    for at in 0..archive.len() {
        said = said.saturating_add(archive.by_index(at)?.size());
    }
    if said > MOST_UNPACKED {
        return Err(WorkbookError::TooLarge);
    }
    let mut left = MOST_UNPACKED;
    for at in 0..archive.len() {
        let part = archive.by_index(at)?;
        let name = part.name()?.to_ascii_lowercase();
        let mut counted = part.take(left + 1);
        let looked = match name.ends_with(".xml") || name.ends_with(".rels") {
            true => is_whole(&mut counted),
            false => Ok(()),
        };
        // Read the rest, including anything after malformed XML.
        let rest = std::io::copy(&mut counted, &mut std::io::sink());
        if counted.limit() == 0 {
            return Err(WorkbookError::TooLarge);
        }
        left = counted.limit() - 1;
        looked?;
        rest.map_err(|_| WorkbookError::Damaged)?;
    }
    Ok(())
}

/// Checks that every element is closed, and that every cell has a valid name.
fn is_whole(part: impl Read) -> Result<(), WorkbookError> {
    let mut reader = Reader::from_reader(BufReader::new(part));
    let (mut buffer, mut depth) = (Vec::new(), 0_u32);
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer)? {
            Event::Start(element) => {
                depth = depth.saturating_add(1);
                has_sound_places(&element)?;
            }
            Event::Empty(element) => has_sound_places(&element)?,
            Event::End(_) => depth = depth.saturating_sub(1),
            Event::Eof if depth == 0 => return Ok(()),
            Event::Eof => return Err(WorkbookError::Damaged),
            _ => {}
        }
    }
}

/// Checks the attributes that locate rows, cells and areas of a sheet.
fn has_sound_places(element: &BytesStart<'_>) -> Result<(), WorkbookError> {
    if !matches!(
        element.local_name().as_ref(),
        "c" | "row" | "dimension" | "mergeCell" | "f"
    ) {
        return Ok(());
    }
    for attribute in element.attributes() {
        let attribute = attribute.map_err(|_| WorkbookError::Damaged)?;
        if matches!(attribute.key.as_ref(), "r" | "ref") && !is_area(&attribute.value) {
            return Err(WorkbookError::Damaged);
        }
    }
    Ok(())
}

/// Whether a text is `7`, `B7` or `B7:C9`, within the limits of a sheet.
fn is_area(text: &str) -> bool {
    let place = |text: &str| {
        let digits = text.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        let column = text.get(..text.len() - digits.len())?;
        let column = column.bytes().fold(0_u32, |sum, byte| {
            sum.saturating_mul(26)
                .saturating_add(u32::from(byte.to_ascii_uppercase() - b'A') + 1)
        });
        let row: u32 = digits.parse().ok()?;
        let fits = (1..=1_048_576).contains(&row) && column <= 16_384;
        (fits && digits.bytes().all(|byte| byte.is_ascii_digit())).then_some((column, row))
    };
    match text.split_once(':') {
        None => place(text).is_some(),
        Some((from, to)) => {
            let (from, to) = (place(from), place(to));
            from.zip(to)
                .is_some_and(|(from, to)| from.0 <= to.0 && from.1 <= to.1)
        }
    }
}

/// Selects the requested sheet, given the names and visibility of all.
pub(super) fn chosen(
    sheets: &[(String, bool)],
    asked: Option<&str>,
) -> Result<usize, WorkbookError> {
    let found = match asked {
        None => {
            let shown = sheets.iter().position(|(_, shown)| *shown);
            shown.or_else(|| (!sheets.is_empty()).then_some(0))
        }
        Some(asked) => {
            let same = |of: &(String, bool)| of.0 == asked;
            let alike = |of: &(String, bool)| of.0.to_lowercase() == asked.trim().to_lowercase();
            let mut all = sheets.iter();
            all.position(same).or_else(|| sheets.iter().position(alike))
        }
    };
    found.ok_or_else(|| match asked {
        None => WorkbookError::NotAWorkbook,
        Some(asked) => WorkbookError::NoSheet {
            asked: asked.to_owned(),
            sheets: sheets.iter().map(|(name, _)| name.clone()).collect(),
        },
    })
}

/// The nonempty cells of a sheet.
#[derive(Debug, Default)]
pub(super) struct Grid {
    /// What the user should know about it.
    pub(super) read: SheetRead,
    /// Row, column and text, rows and columns counted from 0.
    cells: Vec<(u32, u32, String)>,
    /// Total size of the texts in bytes.
    bytes: usize,
}

impl Grid {
    /// An empty sheet of that name.
    pub(super) fn of(sheets: &[(String, bool)], at: usize) -> Self {
        let others = sheets.iter().enumerate().filter(|(of, _)| *of != at);
        let read = SheetRead {
            name: sheets.get(at).map_or_else(String::new, |of| of.0.clone()),
            others: others.map(|(_, (name, _))| name.clone()).collect(),
            ..SheetRead::default()
        };
        Self {
            read,
            ..Self::default()
        }
    }

    /// Adds a cell. Line ends in it become spaces, since each row is one line.
    pub(super) fn put(&mut self, row: u32, column: u32, text: &str) -> Result<(), WorkbookError> {
        if text.trim().is_empty() {
            return Ok(());
        }
        self.bytes += text.len();
        if self.cells.len() == MOST_CELLS || self.bytes > MOST_TEXT {
            return Err(WorkbookError::TooManyCells);
        }
        let text = text.replace("\r\n", " ").replace(['\r', '\n'], " ");
        self.cells.push((row, column, text));
        Ok(())
    }

    /// CSV with one line per row, so that row numbers are line numbers. Leaves out empty columns;
    /// the first rows have a field for each of the others.
    pub(super) fn into_csv(mut self) -> Result<(String, SheetRead), WorkbookError> {
        self.cells.sort_by_key(|&(row, column, _)| (row, column));
        self.cells
            .dedup_by_key(|&mut (row, column, _)| (row, column));
        let mut columns: Vec<u32> = self.cells.iter().map(|&(_, column, _)| column).collect();
        columns.sort_unstable();
        columns.dedup();
        let mut text = String::with_capacity(self.bytes + self.cells.len() * 4);
        let mut below = 0;
        let rows = self.cells.chunk_by(|one, other| one.0 == other.0);
        for (at, cells) in rows.enumerate() {
            let row = cells.first().map_or(0, |cell| cell.0);
            text.extend((below..row).map(|_| '\n'));
            below = row;
            let mut fields = 0;
            let mut next = |text: &mut String, until: usize| {
                while fields < until {
                    text.push_str(if fields == 0 { "\"" } else { ",\"" });
                    text.push('"');
                    fields += 1;
                }
            };
            for (_, column, cell) in cells {
                let place = columns.partition_point(|other| other < column);
                next(&mut text, place + 1);
                // The field has been opened and closed: insert its text in between.
                text.pop();
                text.push_str(&cell.replace('"', "\"\""));
                text.push('"');
            }
            // The titles are in one of the first rows, and each column needs one, even if empty.
            if at < 12 {
                next(&mut text, columns.len());
            }
        }
        text.push('\n');
        if columns.is_empty() {
            return Err(WorkbookError::EmptySheet {
                name: self.read.name,
                others: self.read.others,
            });
        }
        Ok((text, self.read))
    }
}

/// The name of a cell, such as `B2`; row and column are counted from 0.
pub(super) fn cell_name(row: u32, column: u32) -> String {
    let mut letters = Vec::new();
    let mut rest = u64::from(column) + 1;
    while rest > 0 {
        let letter = u8::try_from((rest - 1) % 26).unwrap_or_default();
        letters.push(char::from(b'A' + letter));
        rest = (rest - 1) / 26;
    }
    let letters: String = letters.iter().rev().collect();
    format!("{letters}{row}", row = u64::from(row) + 1)
}

/// A number as a person would write it: 447 for 447.0.
pub(super) fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    // Drop the rounding errors that sums like 0.1 + 0.2 leave after the fifteenth digit.
    let rounded: f64 = format!("{value:.14e}").parse().unwrap_or(value);
    rounded.to_string()
}
