//! Converts a file to the text of a list, from workbooks and encodings other than UTF-8.
//!
//! Text files don't declare their encoding. A byte order mark does; without one, text that isn't
//! UTF-8 is taken for UTF-16 if every other byte is zero, otherwise for Windows-1252, in which
//! spreadsheets in western Europe and America save CSV (common practice, no source). The guess is
//! reported along with words that show whether it is right. The encodings are those of the WHATWG
//! Encoding Standard.
//! words that show whether it is right. The encodings are those of the WHATWG Encoding Standard.

use std::io::Cursor;

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use zip::ZipArchive;

use super::sheet::{FileError, LARGEST_FILE};
use super::table::{line_ends, shown};
use super::workbook::{SheetRead, WorkbookError, is_container, is_packed, look_through};
use super::{ods, xlsx};

/// The most words shown for a guessed encoding.
const MOST_WORDS: usize = 12;
/// Number of bytes examined for UTF-16 without a byte order mark.
const LOOKED_AT: usize = 4_096;

/// The text of a list, and how it was decoded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plain {
    /// Delimited text, for the readers of lists.
    pub text: String,
    /// How it was decoded.
    pub source: Source,
}

/// How the text of a list was decoded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// It is UTF-8.
    Utf8,
    /// It is text in another encoding.
    Encoded {
        /// The encoding's name in the WHATWG Encoding Standard.
        encoding: &'static str,
        /// The first distinct words with letters that depend on the encoding.
        words: Vec<String>,
    },
    /// It is a sheet of a workbook.
    Sheet(SheetRead),
}

/// Decodes a file: CSV in a recognizable encoding, or a sheet of a workbook, the first one by
/// default. Line numbers are those of the text, or the row numbers in the sheet. O(size of what is
/// read).
///
/// # Errors
/// When the file is too large, is neither text nor a workbook, or has no such sheet.
pub fn plain(bytes: Vec<u8>, sheet: Option<&str>) -> Result<Plain, FileError> {
    if bytes.len() > LARGEST_FILE {
        return Err(FileError::TooLarge { bytes: bytes.len() });
    }
    if is_packed(&bytes) {
        let (text, read) = read_sheet(&bytes, sheet)?;
        return Ok(Plain {
            text,
            source: Source::Sheet(read),
        });
    }
    if sheet.is_some() {
        return Err(WorkbookError::NoSheets.into());
    }
    if let Some(encoding) = utf_16(&bytes) {
        return encoded(&bytes, encoding);
    }
    String::from_utf8(bytes)
        .map(|text| Plain {
            text,
            source: Source::Utf8,
        })
        .or_else(|error| {
            let bytes = error.into_bytes();
            may_be_windows_1252(&bytes)?;
            encoded(&bytes, WINDOWS_1252)
        })
}

/// The names of the sheets of a workbook, the default one first; empty for any other or unreadable
/// file. O(size of that sheet).
#[must_use]
pub fn sheets(bytes: &[u8]) -> Vec<String> {
    if !is_packed(bytes) || bytes.len() > LARGEST_FILE {
        return Vec::new();
    }
    let (name, others) = match read_sheet(bytes, None) {
        Ok((_, read)) => (read.name, read.others),
        Err(WorkbookError::EmptySheet { name, others }) => (name, others),
        Err(_) => return Vec::new(),
    };
    std::iter::once(name).chain(others).collect()
}

/// The text of a sheet as CSV, and what the user should know about it. Defaults to the first
/// visible sheet.
fn read_sheet(bytes: &[u8], sheet: Option<&str>) -> Result<(String, SheetRead), WorkbookError> {
    if is_container(bytes) {
        let name = "EncryptedPackage".bytes();
        let name: Vec<u8> = name.flat_map(|byte| [byte, 0]).collect();
        let locked = bytes.windows(name.len()).any(|part| part == name);
        return Err(match locked {
            true => WorkbookError::Password,
            false => WorkbookError::OtherFormat,
        });
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes))?;
    let has = |name: &str| archive.index_for_name(name).is_some();
    let (is_ods, is_xlsx) = (has("content.xml"), has("xl/workbook.xml"));
    if has("xl/workbook.bin") {
        return Err(WorkbookError::OtherFormat);
    }
    if is_ods {
        ods::may_be_read(&mut archive)?;
    } else if !is_xlsx {
        return Err(WorkbookError::NotAWorkbook);
    }
    look_through(&mut archive)?;
    let grid = match is_ods {
        true => ods::read(&mut archive, sheet)?,
        false => xlsx::read(bytes, sheet)?,
    };
    grid.into_csv()
}

/// UTF-16, if a byte order mark says so, or if nearly every other byte at the start is zero.
fn utf_16(bytes: &[u8]) -> Option<&'static Encoding> {
    if let Some((encoding, _)) = Encoding::for_bom(bytes) {
        return Some(encoding).filter(|&encoding| encoding != UTF_8);
    }
    let head = bytes.get(..bytes.len().min(LOOKED_AT))?;
    let zeros = |at: usize| head.iter().skip(at).step_by(2).filter(|&&b| b == 0).count();
    let (pairs, first, second) = (head.len() / 2, zeros(0), zeros(1));
    let mostly = |zeros: usize| zeros * 10 >= pairs * 6;
    match (mostly(first), mostly(second)) {
        _ if pairs == 0 || !bytes.len().is_multiple_of(2) => None,
        (false, true) if first == 0 => Some(UTF_16LE),
        (true, false) if second == 0 => Some(UTF_16BE),
        _ => None,
    }
}

/// Decodes text in an encoding other than UTF-8.
fn encoded(bytes: &[u8], encoding: &'static Encoding) -> Result<Plain, FileError> {
    let mark = Encoding::for_bom(bytes).map_or(0, |(_, length)| length);
    let below = bytes.get(mark..).unwrap_or_default();
    let text = encoding
        .decode_without_bom_handling_and_without_replacement(below)
        .ok_or(FileError::NotText { line: 1 })?;
    Ok(Plain {
        source: Source::Encoded {
            encoding: encoding.name(),
            words: words(&text),
        },
        text: text.into_owned(),
    })
}

/// The first distinct words with non-ASCII letters.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let split = |c: char| c.is_whitespace() || matches!(c, ',' | ';' | '"' | '(' | ')');
    for word in text.split(split).filter(|word| !word.is_ascii()) {
        let word = shown(word);
        if !words.contains(&word) {
            words.push(word);
        }
        if words.len() == MOST_WORDS {
            break;
        }
    }
    words
}

/// Checks that bytes that aren't UTF-8 may be text in Windows-1252: they have neither zeros nor any
/// of the five bytes without a character there, and aren't UTF-8 with little damage.
fn may_be_windows_1252(bytes: &[u8]) -> Result<(), FileError> {
    let line_at = |at: usize| {
        let above = bytes.get(..at).unwrap_or_default();
        line_ends(&String::from_utf8_lossy(above)) + 1
    };
    let no_text = |&byte: &u8| matches!(byte, 0 | 0x81 | 0x8D | 0x8F | 0x90 | 0x9D);
    let (mut good, mut bad, mut first) = (0_usize, 0_usize, None);
    let mut at = 0;
    for chunk in bytes.utf8_chunks() {
        good += chunk.valid().chars().filter(|c| !c.is_ascii()).count();
        at += chunk.valid().len();
        if !chunk.invalid().is_empty() {
            bad += 1;
            first.get_or_insert(at);
            at += chunk.invalid().len();
        }
    }
    if good > bad {
        let line = line_at(first.unwrap_or_default());
        return Err(FileError::NotUtf8 { line });
    }
    match bytes.iter().position(no_text) {
        Some(at) => Err(FileError::NotText { line: line_at(at) }),
        None => Ok(()),
    }
}
