//! Why a file, or a row of it, was not taken.

use super::amount::ParseAmountError;
use super::header::Column;
use super::table::Fault;
use crate::model::colour::ParseColourError;
use crate::model::label::{ParseLabelError, is_invisible};

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
    /// No column says which number a row is about.
    #[error("no column is called 'number'; the columns found are {list}; those understood are \
         {list2}", list = list(found), list2 = list(known))]
    NoNumberColumn {
        /// The headers as they stand, shortened.
        found: Vec<String>,
        /// The columns such a list may have.
        known: Vec<Column>,
    },
    /// Two headers mean the same column.
    #[error("'{first}' and '{second}' both mean the column '{column}'; rename or delete one")]
    ColumnTwice {
        /// What they mean.
        column: Column,
        /// The first header.
        first: String,
        /// The second header.
        second: String,
    },
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

/// Names in quotation marks, the first dozen of them.
fn list<T: std::fmt::Display>(names: &[T]) -> String {
    const MOST: usize = 12;
    let quoted = |name| format!("'{name}'");
    let first: Vec<_> = names.iter().take(MOST).map(quoted).collect();
    let first = first.join(", ");
    match names.len().saturating_sub(MOST) {
        0 => first,
        rest => format!("{first} and {rest} more"),
    }
}

/// A text from a file, shortened and made safe to show in a message.
pub(super) fn shown(text: &str) -> String {
    const MOST: usize = 40;
    let safe = |c| if is_invisible(c) { '\u{FFFD}' } else { c };
    let mut short: String = text.trim().chars().take(MOST).map(safe).collect();
    if text.trim().chars().nth(MOST).is_some() {
        short.push('…');
    }
    short
}
