//! File errors: why a list or one of its rows was rejected.
//!
//! Each text starts in lower case, since it follows the name of a file, a line or a column.

use std::fmt::Display;

use super::{faults, one_or_many};
use crate::exchange::file::{LARGEST_SETTINGS, NotRead};
use crate::exchange::table::{Fault, FaultKind, shown};
use crate::exchange::{
    Column, ColumnsError, FileError, LARGEST_FILE, LONGEST_FIELD, MOST_CELLS, MOST_ROWS,
    MOST_UNPACKED, ParseAmountError, Places, RefusedRow, RowError, Source, Unclear, Warning,
    WorkbookError,
};
use crate::stash::refusal::{Rejected, RowFault};

/// Why a file isn't a list.
#[must_use]
pub fn file_error(error: &FileError) -> String {
    match error {
        FileError::TooLarge { bytes } => format!(
            "the file has {bytes} bytes, and a list may have {LARGEST_FILE}. Split it into smaller files."
        ),
        FileError::TooManyRows => format!(
            "the file has more than {MOST_ROWS} rows. Split it and import the parts one by one."
        ),
        FileError::NotUtf8 { line } => {
            format!("line {line} isn't UTF-8 text. Save the file again as 'CSV UTF-8'.")
        }
        FileError::NotText { line } => format!(
            "line {line} isn't text. Save the list as CSV, .xlsx or .ods, and name that file."
        ),
        FileError::Workbook(error) => workbook_error(error),
        FileError::Empty => "the file is empty. Its first line must name the columns.".to_owned(),
        FileError::NoRows => {
            "the file has column names but no rows. Add a line for each card.".to_owned()
        }
        FileError::Columns(error) => columns_error(error),
        FileError::Table(fault) => {
            format!(
                "line {line}: {why}",
                line = fault.line,
                why = fault_sentence(fault)
            )
        }
    }
}

fn workbook_error(error: &WorkbookError) -> String {
    match error {
        WorkbookError::Password => "the workbook is protected with a password. Open it in your \
                                    spreadsheet and save a copy without one."
            .to_owned(),
        WorkbookError::OtherFormat => "this kind of workbook can't be read. Open it in your \
                                       spreadsheet and save it as .xlsx, .ods or CSV."
            .to_owned(),
        WorkbookError::NotAWorkbook => "the file is packed, but no workbook is in it. Unpack it, \
                                        and name the list itself."
            .to_owned(),
        WorkbookError::Damaged => "the workbook is damaged. Open it in your spreadsheet and save \
                                   it again, or save it as CSV."
            .to_owned(),
        WorkbookError::TooLarge => format!(
            "the workbook unpacks to more than {most} MB. Save the sheet with the list as CSV.",
            most = MOST_UNPACKED >> 20
        ),
        WorkbookError::TooManyCells => format!(
            "the sheet has more than {MOST_CELLS} cells or 64 MB of text. Save a copy with the list \
             alone."
        ),
        WorkbookError::NoSheet { asked, sheets } => format!(
            "the workbook has no sheet '{asked}', only {sheets}.",
            asked = shown(asked),
            sheets = quoted(sheets)
        ),
        WorkbookError::EmptySheet { name, others } if others.is_empty() => {
            format!("the sheet '{name}' is empty. Its first row must name the columns.")
        }
        WorkbookError::EmptySheet { name, others } => format!(
            "the sheet '{name}' is empty. The workbook also has {others}.",
            others = quoted(others)
        ),
        WorkbookError::NoSheets => "the file is text and has no sheets.".to_owned(),
    }
}

/// What the user should check about an imported file: assumptions made while reading, and data left
/// out. Empty if there is nothing to check.
#[must_use]
pub fn to_check(source: &Source) -> Vec<String> {
    let read = match source {
        Source::Utf8 => return Vec::new(),
        Source::Encoded { encoding, words } if words.is_empty() => {
            return vec![format!("Read as {encoding}.")];
        }
        Source::Encoded { encoding, words } => {
            return vec![format!(
                "Read as {encoding}. Check these words: {words}. If they are wrong, save the file \
                 again as 'CSV UTF-8'.",
                words = words.join(", ")
            )];
        }
        Source::Sheet(read) => read,
    };
    let mut said = Vec::new();
    if !read.others.is_empty() {
        said.push(format!(
            "Read the sheet '{name}'. The workbook also has {others}.",
            name = read.name,
            others = quoted(&read.others)
        ));
    }
    for (of, one, many, then) in [
        (
            &read.merged,
            "Merged cells",
            "Merged cells",
            "only the first cell of an area has its value, and the others are read as empty.",
        ),
        (
            &read.unvalued,
            "Formula",
            "Formulas",
            "no saved value, read as empty. Open the workbook in your spreadsheet and \
             save it again.",
        ),
        (
            &read.errors,
            "Error value",
            "Error values",
            "read as empty.",
        ),
        (
            &read.dates,
            "Date",
            "Dates",
            "a spreadsheet makes dates of numbers such as 3-5. Check the cell.",
        ),
    ] {
        if of.count > 0 {
            let cells = one_or_many(of.count, one, many);
            said.push(format!("{cells} {places}: {then}", places = places(of)));
        }
    }
    said
}

/// The first cells of a kind, and the number of the others.
fn places(of: &Places) -> String {
    let first = of.first.join(", ");
    match of.count.saturating_sub(of.first.len()) {
        0 => first,
        rest => format!("{first} and {rest} more"),
    }
}

/// What the user must clarify about the columns first.
#[must_use]
pub fn unclear(unclear: &Unclear) -> String {
    match unclear {
        Unclear::Several { column, titles } => format!(
            "{titles} may each be the column '{column}'.",
            titles = quoted(titles)
        ),
        Unclear::NoNumber { titles } => format!(
            "none of the columns {titles} looks like the number of a colour.",
            titles = quoted(titles)
        ),
    }
}

/// The note that a card list looks like a chart key, because of these titles.
#[must_use]
pub fn looks_like_key(titles: &[String]) -> String {
    format!(
        "this looks like the chart key of a project, since it has {titles}.",
        titles = quoted(titles)
    )
}

/// The note that a chart key looks like a card list, because of these titles.
#[must_use]
pub fn looks_like_cards(titles: &[String]) -> String {
    format!(
        "this looks like a list of the cards you own, since it has {titles}.",
        titles = quoted(titles)
    )
}

fn columns_error(error: &ColumnsError) -> String {
    match error {
        ColumnsError::NoNumber { found, known } => format!(
            "no column is called 'number', only {found}. Homehook knows {known}.",
            found = quoted(found),
            known = quoted(known)
        ),
        ColumnsError::NoMatch { found } => format!(
            "no column is called 'match number', only {found}. A conversion list has range, number, \
             match range and match number.",
            found = quoted(found)
        ),
        ColumnsError::Twice {
            column,
            first,
            second,
        } => format!(
            "'{first}' and '{second}' both mean the column '{column}'. Rename or delete one."
        ),
    }
}

fn fault_sentence(fault: &Fault) -> String {
    match fault.kind {
        FaultKind::FieldCount { expected, found } => format!(
            "this row has {found} fields and the header has {expected}. Put quotation marks around \
             a field with a comma, semicolon or tab in it."
        ),
        FaultKind::QuoteInBareField => {
            "a quotation mark stands inside a field that doesn't begin with one. Put the whole \
             field in quotation marks and double the mark inside."
        }
        .to_owned(),
        FaultKind::TextAfterQuote => {
            "there is text after a closing quotation mark. Double the mark if it belongs to the \
             field, or delete the text."
        }
        .to_owned(),
        FaultKind::UnterminatedQuote => {
            "the quotation mark that opens a field here is never closed. Close it.".to_owned()
        }
        FaultKind::TooLong => {
            "the row that starts here is longer than 1 MB. Look for a quotation mark that is never \
             closed."
        }
        .to_owned(),
    }
}

/// Why a row or one of its values was rejected.
#[must_use]
pub fn row_error(error: &RowError) -> String {
    match error {
        RowError::Table(fault) => fault_sentence(fault),
        RowError::NoNumber => "the number is empty. Write the number on the card.".to_owned(),
        RowError::NoMatchNumber => {
            "the match number is empty. Write the number that matches, or delete the row."
                .to_owned()
        }
        RowError::NoHook => "the hook is empty. Write its name, such as C07.".to_owned(),
        RowError::TooLong { column, characters } => {
            format!("the {column} has {characters} characters. Shorten it to {LONGEST_FIELD}.")
        }
        RowError::Invisible { column, character } => format!(
            "the {column} has an invisible or control character (U+{code:04X}). Take it out.",
            code = u32::from(*character)
        ),
        RowError::Colour(error) => faults::colour_error(error),
        RowError::Label { column, reason } => {
            format!("{column}: {reason}", reason = faults::label_error(reason))
        }
        RowError::Amount { column, reason } => {
            format!("{column}: {reason}", reason = amount_error(reason))
        }
        RowError::Purchase(text) => format!(
            "'{text}' isn't the id of a purchase. Save the file again from the pocket page, or take that column out."
        ),
        RowError::Notion(text) => format!(
            "'{text}' isn't a kind of notion. Write bead, button, ornament or other, or leave it \
             empty for thread."
        ),
        RowError::TwoAmounts => "this row has both lengths and skeins on the card. Keep one, and \
                                 put uncut skeins under 'uncut'."
            .to_owned(),
        RowError::Duplicate { first } => {
            format!("line {first} has this number already. Keep one of the two.")
        }
        RowError::DuplicateLot { first } => {
            format!("line {first} has this dye lot of the number already. Keep one of the two.")
        }
    }
}

fn amount_error(error: &ParseAmountError) -> String {
    match error {
        ParseAmountError::NotDigits(text) => {
            format!("'{text}' isn't an amount. Write digits such as 3 or 2.5.")
        }
        ParseAmountError::Negative(text) => {
            format!("'{text}' is less than nothing. Write 0 or more.")
        }
        ParseAmountError::TwoWays(text) => {
            format!("'{text}' can be read in two ways. Write it without a comma.")
        }
        ParseAmountError::TooMany { found, most } => {
            format!("'{found}' is too many. Write at most {most}.")
        }
        ParseAmountError::NotWhole(text) => {
            format!("'{text}' isn't a whole number. Uncut skeins are counted whole.")
        }
        ParseAmountError::NotACount(text) => {
            format!("'{text}' isn't a whole number. Write digits such as 240.")
        }
    }
}

/// The replacement for an unreadable value, and the reason.
#[must_use]
pub fn warning(warning: &Warning) -> String {
    let Warning {
        number,
        column,
        reason,
        ..
    } = warning;
    let reason = row_error(reason);
    match column {
        Column::Lengths | Column::Skeins => {
            format!("{number} is imported without an amount, so as one skein if it's new: {reason}")
        }
        Column::Hex => format!("{number} is imported without its colour: {reason}"),
        column => format!("{number} is imported without its {column}: {reason}"),
    }
}

/// The rejected rows of a list, with their reasons in words.
#[must_use]
pub fn rejected(rows: &[RefusedRow]) -> Vec<Rejected> {
    let rows = rows.iter().map(|row| Rejected {
        line: row.line,
        reason: RowFault::Unread(row_error(&row.reason)),
        number: row.number.clone(),
    });
    rows.collect()
}

/// Why a settings file wasn't read.
#[must_use]
pub fn settings_error(error: &NotRead) -> String {
    match error {
        NotRead::Failed(error) => error.to_string(),
        NotRead::NotAFile => "it's a folder, a pipe or a device. Name a file.".to_owned(),
        NotRead::TooLarge => {
            let most = LARGEST_SETTINGS >> 20;
            format!("it's larger than {most} MB. Name another file.")
        }
    }
}

/// Up to a dozen names in quotation marks.
fn quoted<T: Display>(names: &[T]) -> String {
    const MOST: usize = 12;
    let first = names.iter().take(MOST).map(|name| format!("'{name}'"));
    let first = first.collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(MOST) {
        0 => first,
        rest => format!("{first} and {rest} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::{read_cards, read_key};
    use crate::text::refusal::row_fault;

    fn said(bytes: &[u8]) -> String {
        file_error(&read_cards(bytes).unwrap_err())
    }

    fn reasons(text: &str) -> Vec<(u64, String)> {
        let rows = rejected(&read_cards(text.as_bytes()).unwrap().rejected);
        rows.into_iter()
            .map(|row| (row.line, row_fault(&row.reason)))
            .collect()
    }

    #[test]
    fn a_file_that_is_not_a_list_gets_advice() {
        assert_eq!(
            said(b"number,name,No\n1,,\n"),
            "'number' and 'No' both mean the column 'number'. Rename or delete one."
        );
        assert_eq!(
            said(b"number,name\n1,a\n2,\"b\n3,c\n"),
            "line 3: the quotation mark that opens a field here is never closed. Close it."
        );
        assert_eq!(
            said(b"number\n\xFC\n"),
            "line 2 isn't UTF-8 text. Save the file again as 'CSV UTF-8'."
        );
    }

    #[test]
    fn without_a_number_the_error_names_the_existing_columns() {
        let error = said(b"id\x1b[2J,name\n");
        assert!(error.contains("'id\u{FFFD}[2J', 'name'"), "{error}");
        assert!(error.contains("'number'"), "{error}");
        let error = said("x,".repeat(500).as_bytes());
        assert!(error.contains("489 more"), "{error}");
    }

    #[test]
    fn a_refused_row_gives_the_reason() {
        assert_eq!(
            reasons(
                "number,hook,lengths,dye lot\n,A01,,\n7,\u{202e},,\n8,,1,K7\n8,,,k7\n9,,4294967296,\n"
            ),
            [
                (2, "the number is empty. Write the number on the card."),
                (
                    3,
                    "the hook has an invisible or control character (U+202E). Take it out."
                ),
                (
                    5,
                    "line 4 has this dye lot of the number already. Keep one of the two."
                ),
                (
                    6,
                    "lengths: '4294967296' is too many. Write at most 4294967295."
                ),
            ]
            .map(|(line, reason)| (line, reason.to_owned()))
        );
    }

    #[test]
    fn a_value_left_out_gives_the_reason() {
        let read = read_cards(b"number,lengths,note\n2,few,\n3,,a\x1b\n").unwrap();
        let words: Vec<_> = read.warnings.iter().map(warning).collect();
        assert_eq!(
            words,
            [
                "2 is imported without an amount, so as one skein if it's new: lengths: 'few' \
                 isn't an amount. Write digits such as 3 or 2.5.",
                "3 is imported without its note: the note has an invisible or control character \
                 (U+001B). Take it out.",
            ]
        );
    }

    #[test]
    fn a_chart_key_row_gives_the_reason() {
        let read = read_key(b"number,strands,stitches\n1,13,\n3,2,2.5\n6,two,\n").unwrap();
        let reasons: Vec<_> = rejected(&read.rejected)
            .into_iter()
            .map(|row| row_fault(&row.reason))
            .collect();
        assert_eq!(
            reasons,
            [
                "strands: '13' is too many. Write at most 12.",
                "stitches: '2.5' isn't a whole number. Write digits such as 240.",
                "strands: 'two' isn't an amount. Write digits such as 3 or 2.5.",
            ]
        );
    }
}
