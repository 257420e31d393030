//! OpenDocument spreadsheets (OASIS OpenDocument 1.2, part 1), `.ods`.
//!
//! This module parses them itself because `calamine` expands repeated cells before counting them: a
//! few hundred kilobytes of rows, each repeating one cell to the edge of the sheet, would fill the
//! memory of any computer. Tests compare the two readers.

use std::collections::HashSet;
use std::io::{BufReader, Read};

use quick_xml::events::{BytesRef, BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use super::workbook::{Archive, Grid, WorkbookError, cell_name, chosen, number};

/// The content of the part `mimetype` in a spreadsheet.
const SPREADSHEET: &[u8] = b"application/vnd.oasis.opendocument.spreadsheet";
/// The most rows and columns of a sheet in current spreadsheets.
const MOST_ROWS: u32 = 1_048_576;
const MOST_COLUMNS: u32 = 16_384;
/// The most spaces in a row that a cell may request.
const MOST_SPACES: u32 = 1_000;
/// The most bytes examined of the list of parts.
const LONGEST_MANIFEST: u64 = 4 << 20;

/// Checks that it is a spreadsheet without a password.
pub(super) fn may_be_read(archive: &mut Archive<'_>) -> Result<(), WorkbookError> {
    let mut part = |name: &str, most: u64| -> Result<Vec<u8>, WorkbookError> {
        let mut bytes = Vec::new();
        if archive.index_for_name(name).is_some() {
            let part = archive.by_name(name)?;
            let read = part.take(most).read_to_end(&mut bytes);
            read.map_err(|_| WorkbookError::Damaged)?;
        }
        Ok(bytes)
    };
    if !part("mimetype", 100)?.starts_with(SPREADSHEET) {
        return Err(WorkbookError::NotAWorkbook);
    }
    let manifest = part("META-INF/manifest.xml", LONGEST_MANIFEST)?;
    match String::from_utf8_lossy(&manifest).contains("encryption-data") {
        true => Err(WorkbookError::Password),
        false => Ok(()),
    }
}

/// The cells of a sheet.
pub(super) fn read(archive: &mut Archive<'_>, asked: Option<&str>) -> Result<Grid, WorkbookError> {
    let sheets = sheets(&mut content(archive)?)?;
    let at = chosen(&sheets, asked)?;
    let mut walk = Walk {
        reader: content(archive)?,
        grid: Grid::of(&sheets, at),
        row: 0,
    };
    walk.find_table(at)?;
    walk.table()?;
    Ok(walk.grid)
}

/// The part that contains all sheets.
fn content<'a>(
    archive: &'a mut Archive<'_>,
) -> Result<Reader<impl std::io::BufRead + 'a>, WorkbookError> {
    let part = archive.by_name("content.xml")?;
    let mut reader = Reader::from_reader(BufReader::new(part));
    reader.config_mut().expand_empty_elements = true;
    Ok(reader)
}

fn attribute(element: &BytesStart<'_>, name: &str) -> Result<Option<String>, WorkbookError> {
    let found = element
        .try_get_attribute(name)
        .map_err(|_| WorkbookError::Damaged)?;
    let value = found.map(|found| {
        let value = found.normalized_value(XmlVersion::Implicit1_0);
        value.map(std::borrow::Cow::into_owned)
    });
    value.transpose().map_err(|_| WorkbookError::Damaged)
}

/// How often a row or cell repeats, or how far it extends; 1 by default.
fn times(element: &BytesStart<'_>, name: &str) -> Result<u32, WorkbookError> {
    let said = attribute(element, name)?;
    said.map_or(Ok(1), |said| {
        said.parse().map_err(|_| WorkbookError::Damaged)
    })
}

/// The names of the sheets, and whether each is visible.
fn sheets(
    reader: &mut Reader<impl std::io::BufRead>,
) -> Result<Vec<(String, bool)>, WorkbookError> {
    let (mut sheets, mut hidden) = (Vec::new(), HashSet::new());
    let (mut style, mut buffer) = (None, Vec::new());
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer)? {
            Event::Start(element) => match element.name().as_ref() {
                "style:style" => style = attribute(&element, "style:name")?,
                "style:table-properties" => {
                    let shown = attribute(&element, "table:display")?;
                    if shown.is_some_and(|shown| shown == "false") {
                        hidden.extend(style.clone());
                    }
                }
                "table:table" => {
                    let name = attribute(&element, "table:name")?.unwrap_or_default();
                    let style = attribute(&element, "table:style-name")?;
                    let shown = style.is_none_or(|style| !hidden.contains(&style));
                    sheets.push((name, shown));
                }
                _ => {}
            },
            Event::Eof => return Ok(sheets),
            _ => {}
        }
    }
}

/// A cell's attributes and repetitions.
struct CellHead {
    times: u32,
    /// The value in its attributes.
    value: Option<String>,
    has_formula: bool,
    is_text: bool,
    is_error: bool,
    is_date: bool,
    /// Number of rows and columns merged into it.
    spans: (u32, u32),
}

impl CellHead {
    fn of(element: &BytesStart<'_>) -> Result<Self, WorkbookError> {
        let said = |name| attribute(element, name);
        let kind = said("office:value-type")?.unwrap_or_default();
        let value = match kind.as_str() {
            "float" | "percentage" | "currency" => {
                let value = said("office:value")?.unwrap_or_default();
                let value: f64 = value.parse().map_err(|_| WorkbookError::Damaged)?;
                Some(number(value))
            }
            "date" => said("office:date-value")?,
            "time" => said("office:time-value")?,
            "boolean" => said("office:boolean-value")?,
            "string" => said("office:string-value")?,
            _ => None,
        };
        Ok(Self {
            times: times(element, "table:number-columns-repeated")?,
            value,
            has_formula: said("table:formula")?.is_some(),
            is_text: kind == "string",
            is_error: said("calcext:value-type")?.is_some_and(|kind| kind == "error"),
            is_date: kind == "date",
            spans: (
                times(element, "table:number-rows-spanned")?,
                times(element, "table:number-columns-spanned")?,
            ),
        })
    }
}

/// A pass over one sheet.
struct Walk<R> {
    reader: Reader<R>,
    grid: Grid,
    /// The next row, counted from 0.
    row: u32,
}

impl<R: std::io::BufRead> Walk<R> {
    /// Moves to the start of a sheet.
    fn find_table(&mut self, wanted: usize) -> Result<(), WorkbookError> {
        let (mut at, mut buffer) = (0, Vec::new());
        loop {
            buffer.clear();
            match self.reader.read_event_into(&mut buffer)? {
                Event::Start(element) if element.name().as_ref() == "table:table" => {
                    if at == wanted {
                        return Ok(());
                    }
                    at += 1;
                }
                Event::Eof => return Err(WorkbookError::Damaged),
                _ => {}
            }
        }
    }

    /// Reads the sheet's rows.
    fn table(&mut self) -> Result<(), WorkbookError> {
        let mut buffer = Vec::new();
        loop {
            buffer.clear();
            match self.reader.read_event_into(&mut buffer)? {
                Event::Start(element) if element.name().as_ref() == "table:table-row" => {
                    let times = times(&element, "table:number-rows-repeated")?;
                    let times = times.min(MOST_ROWS.saturating_sub(self.row));
                    self.cells(times)?;
                    self.row += times;
                }
                Event::End(element) if element.name().as_ref() == "table:table" => return Ok(()),
                Event::Eof => return Err(WorkbookError::Damaged),
                _ => {}
            }
        }
    }

    /// Reads the cells of a row that repeats `rows` times.
    fn cells(&mut self, rows: u32) -> Result<(), WorkbookError> {
        let (mut column, mut buffer) = (0_u32, Vec::new());
        loop {
            buffer.clear();
            match self.reader.read_event_into(&mut buffer)? {
                Event::Start(element)
                    if matches!(
                        element.name().as_ref(),
                        "table:table-cell" | "table:covered-table-cell"
                    ) =>
                {
                    let head = CellHead::of(&element)?;
                    let content = self.text()?;
                    let times = head.times.min(MOST_COLUMNS.saturating_sub(column));
                    self.keep(&head, &content, (rows, column, times))?;
                    column += times;
                }
                Event::End(element) if element.name().as_ref() == "table:table-row" => {
                    return Ok(());
                }
                Event::Eof => return Err(WorkbookError::Damaged),
                _ => {}
            }
        }
    }

    /// Stores a cell in each row and column where it repeats.
    fn keep(
        &mut self,
        head: &CellHead,
        content: &str,
        (rows, column, times): (u32, u32, u32),
    ) -> Result<(), WorkbookError> {
        let place = || cell_name(self.row, column);
        let read = &mut self.grid.read;
        if head.spans != (1, 1) {
            let (down, across) = head.spans;
            let last = (
                self.row.saturating_add(down.saturating_sub(1)),
                column.saturating_add(across.saturating_sub(1)),
            );
            read.merged
                .push(|| format!("{}:{}", place(), cell_name(last.0, last.1)));
        }
        if head.is_error {
            read.errors.push(place);
            return Ok(());
        }
        let text = match &head.value {
            Some(value) => value.as_str(),
            None if head.is_text => content,
            None => {
                if head.has_formula {
                    read.unvalued.push(place);
                }
                return Ok(());
            }
        };
        if head.is_date {
            read.dates.push(place);
        }
        for row in self.row..self.row.saturating_add(rows) {
            for column in column..column.saturating_add(times) {
                self.grid.put(row, column, text)?;
            }
        }
        Ok(())
    }

    /// The text of the current cell up to its end, without its comment.
    fn text(&mut self) -> Result<String, WorkbookError> {
        let (mut text, mut depth, mut paragraphs) = (String::new(), 1_u32, 0_u32);
        let mut comment: Option<u32> = None;
        let mut buffer = Vec::new();
        while depth > 0 {
            buffer.clear();
            match self.reader.read_event_into(&mut buffer)? {
                Event::Start(element) => {
                    depth = depth.saturating_add(1);
                    match element.name().as_ref() {
                        "office:annotation" if comment.is_none() => comment = Some(depth),
                        _ if comment.is_some() => {}
                        "text:p" => {
                            paragraphs = paragraphs.saturating_add(1);
                            if paragraphs > 1 {
                                text.push(' ');
                            }
                        }
                        "text:s" => {
                            let spaces = times(&element, "text:c")?.min(MOST_SPACES);
                            text.extend((0..spaces).map(|_| ' '));
                        }
                        "text:tab" | "text:line-break" => text.push(' '),
                        _ => {}
                    }
                }
                Event::End(_) => {
                    if comment == Some(depth) {
                        comment = None;
                    }
                    depth -= 1;
                }
                Event::Text(part) if comment.is_none() => text.push_str(&part.xml10_content()),
                Event::CData(part) if comment.is_none() => text.push_str(&part.xml10_content()),
                Event::GeneralRef(name) if comment.is_none() => text.push(character(&name)?),
                Event::Eof => return Err(WorkbookError::Damaged),
                _ => {}
            }
        }
        Ok(text)
    }
}

/// The character for `&name;`: one of XML's five, or a numeric reference.
fn character(name: &BytesRef<'_>) -> Result<char, WorkbookError> {
    let by_number = name.resolve_char_ref()?;
    let named = || match name.as_ref() {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => None,
    };
    by_number.or_else(named).ok_or(WorkbookError::Damaged)
}
