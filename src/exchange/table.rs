//! Parses rows of fields in delimited text, according to RFC 4180.
//!
//! The rules are those of RFC 4180, section 2, read strictly: a quotation mark inside a bare field,
//! text after a closing quotation mark, and a missing closing quotation mark are faults, each with
//! its line. Existing CSV readers accept the first kind; here a stray mark is reported instead of
//! silently joining two rows. More generously than the RFC, a line may end in CRLF, LF or CR, and
//! text may be any Unicode.
//!
//! A field that a spreadsheet would take for a formula is escaped: one that begins with `=`, `+`,
//! `-`, `@`, their full-width forms, a tab or a carriage return gets an apostrophe before it. To
//! make that reversible for any text, a field that begins with apostrophes followed by such a
//! character gets one more, and reading removes one. Other apostrophes are left alone. The
//! characters are those listed by OWASP, "CSV Injection" (from memory).

use std::borrow::Cow;

use crate::model::label::is_invisible;

/// The most bytes in one row, 1 MiB. Longer rows are refused before they are split.
pub const LONGEST_ROW: usize = 1 << 20;

/// One row of fields.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row<'a> {
    /// The line where the row starts, counted from 1.
    pub line: u64,
    /// The fields without their quotation marks, otherwise unchanged. Never empty: an empty line is
    /// a row with one empty field.
    pub fields: Vec<Cow<'a, str>>,
}

impl Row<'_> {
    /// Whether all fields are empty or blank.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.fields.iter().all(|field| field.trim().is_empty())
    }

    /// Checks that the row has the right number of fields. RFC 4180 only says 'should'; we treat
    /// any other count as a fault, since the fields may be in the wrong columns.
    ///
    /// # Errors
    /// [`FaultKind::FieldCount`] when the count differs.
    pub fn check_count(&self, expected: usize) -> Result<(), Fault> {
        let found = self.fields.len();
        if found == expected {
            return Ok(());
        }
        Err(Fault {
            line: self.line,
            kind: FaultKind::FieldCount { expected, found },
        })
    }
}

/// A place where the text isn't a valid table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fault {
    /// The line of the fault, counted from 1: the start of the row for a wrong field count or an
    /// endless row, otherwise the line of the quotation mark.
    pub line: u64,
    /// The kind of fault.
    pub kind: FaultKind,
}

/// A kind of fault in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// The row has more or fewer fields than the header.
    FieldCount {
        /// Fields in the header.
        expected: usize,
        /// Fields in the row.
        found: usize,
    },
    /// A quotation mark in a field that does not begin with one.
    QuoteInBareField,
    /// Something other than a delimiter or a line end after the closing quotation mark.
    TextAfterQuote,
    /// The text ends inside quotation marks.
    UnterminatedQuote,
    /// The row is longer than [`LONGEST_ROW`].
    TooLong,
}

impl FaultKind {
    /// Whether the rows after the fault can still be separated. After a malformed quoted field it
    /// is unknown what is inside quotation marks.
    #[must_use]
    pub const fn rest_is_readable(self) -> bool {
        matches!(self, Self::FieldCount { .. } | Self::QuoteInBareField)
    }
}

/// Splits a text into rows. O(length) in total; holds only one row at a time, and fields borrow
/// from the text unless they contain doubled quotation marks.
///
/// The iterator ends after a fault that makes the rest unreadable. It doesn't compare field counts;
/// see [`Row::check_count`].
#[derive(Debug, Clone)]
pub struct Rows<'a> {
    text: &'a str,
    at: usize,
    line: u64,
    delimiter: u8,
}

impl<'a> Rows<'a> {
    /// Starts at the first line of a text.
    #[must_use]
    pub const fn new(text: &'a str, delimiter: Delimiter) -> Self {
        Self::starting_at(text, delimiter, 1)
    }

    /// Starts at a later line, for a text whose beginning was skipped.
    #[must_use]
    pub const fn starting_at(text: &'a str, delimiter: Delimiter, line: u64) -> Self {
        Self {
            text,
            at: 0,
            line,
            delimiter: delimiter.byte(),
        }
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    /// The bytes of the current row that may still be read.
    fn window(&self, limit: usize) -> &'a [u8] {
        self.text.as_bytes().get(self.at..limit).unwrap_or_default()
    }

    fn row(&mut self) -> Result<Row<'a>, Fault> {
        let line = self.line;
        let limit = self.text.len().min(self.at.saturating_add(LONGEST_ROW));
        let mut fields = Vec::new();
        loop {
            let field = if self.peek() == Some(b'"') {
                self.quoted(limit)
            } else {
                self.bare(limit)
            };
            fields.push(field.map_err(|(kind, at_line)| Fault {
                line: if kind == FaultKind::TooLong {
                    line
                } else {
                    at_line
                },
                kind,
            })?);
            match self.peek() {
                Some(byte) if byte == self.delimiter => self.at += 1,
                _ => break,
            }
        }
        self.end_line();
        Ok(Row { line, fields })
    }

    /// Reads a field without quotation marks, up to the delimiter or the line end.
    fn bare(&mut self, limit: usize) -> Result<Cow<'a, str>, (FaultKind, u64)> {
        let start = self.at;
        let ends = |&byte: &u8| byte == self.delimiter || matches!(byte, b'\r' | b'\n' | b'"');
        match self.window(limit).iter().position(ends) {
            Some(length) => self.at += length,
            None if limit < self.text.len() => return Err((FaultKind::TooLong, self.line)),
            None => self.at = limit,
        }
        if self.peek() == Some(b'"') {
            return Err((FaultKind::QuoteInBareField, self.line));
        }
        Ok(Cow::Borrowed(&self.text[start..self.at]))
    }

    /// Reads a field in quotation marks, from the opening mark to past the closing one.
    fn quoted(&mut self, limit: usize) -> Result<Cow<'a, str>, (FaultKind, u64)> {
        let opened = self.line;
        self.at += 1;
        let mut field = Cow::Borrowed("");
        loop {
            let start = self.at;
            match self.window(limit).iter().position(|&byte| byte == b'"') {
                Some(length) => self.at += length,
                None if limit < self.text.len() => return Err((FaultKind::TooLong, opened)),
                None => return Err((FaultKind::UnterminatedQuote, opened)),
            }
            let part = &self.text[start..self.at];
            self.line += line_ends(part);
            field += part;
            self.at += 1;
            match self.peek() {
                Some(b'"') => {
                    field += "\"";
                    self.at += 1;
                }
                None | Some(b'\r' | b'\n') => return Ok(field),
                Some(byte) if byte == self.delimiter => return Ok(field),
                Some(_) => return Err((FaultKind::TextAfterQuote, self.line)),
            }
        }
    }

    /// Skips one line end, if there is one here.
    fn end_line(&mut self) {
        let rest = &self.text.as_bytes()[self.at..];
        let length = match rest {
            [b'\r', b'\n', ..] => 2,
            [b'\r' | b'\n', ..] => 1,
            _ => return,
        };
        self.at += length;
        self.line += 1;
    }

    /// Skips the rest of the line.
    fn skip_line(&mut self) {
        let rest = self.window(self.text.len());
        let to_end = rest.iter().position(|byte| matches!(byte, b'\r' | b'\n'));
        self.at += to_end.unwrap_or(rest.len());
        self.end_line();
    }
}

impl<'a> Iterator for Rows<'a> {
    type Item = Result<Row<'a>, Fault>;

    fn next(&mut self) -> Option<Self::Item> {
        self.peek()?;
        let row = self.row();
        if let Err(fault) = &row {
            if fault.kind.rest_is_readable() {
                self.skip_line();
            } else {
                self.at = self.text.len();
            }
        }
        Some(row)
    }
}

/// The number of line ends in a text; CRLF counts once.
pub(super) fn line_ends(text: &str) -> u64 {
    let bytes = text.as_bytes();
    let ends = bytes.iter().enumerate().filter(|&(at, byte)| match byte {
        b'\n' => true,
        b'\r' => bytes.get(at + 1) != Some(&b'\n'),
        _ => false,
    });
    ends.map(|_| 1).sum()
}

/// Appends a row to a text, with commas between fields and CRLF at the end (RFC 4180). A field with
/// a comma, a quotation mark, a line end, or a space at either end is quoted.
pub fn write_row<S: AsRef<str>>(text: &mut String, fields: &[S]) {
    for (at, field) in fields.iter().map(AsRef::as_ref).enumerate() {
        if at > 0 {
            text.push(',');
        }
        if field.contains([',', '"', '\r', '\n']) || field.trim() != field {
            text.push('"');
            text.push_str(&field.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(field);
        }
    }
    text.push_str("\r\n");
}

/// The separator between two fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delimiter {
    /// `,`
    Comma,
    /// `;`, usual where the comma is the decimal sign.
    Semicolon,
    /// The tab character.
    Tab,
}

impl Delimiter {
    /// In order of preference in a tie: a header is more likely to have a comma in a name than a
    /// tab.
    pub const ALL: [Self; 3] = [Self::Tab, Self::Semicolon, Self::Comma];

    /// The character, which is ASCII.
    #[must_use]
    pub const fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
        }
    }

    /// The delimiter declared in a text's first line in the style of spreadsheets, `sep=;`,
    /// ignoring case and quotation marks, along with the text after that line. O(1).
    #[must_use]
    pub fn said_in(text: &str) -> Option<(Self, &str)> {
        let quoted = text.strip_prefix('"');
        let line = quoted.unwrap_or(text);
        let said = line
            .get(..4)
            .filter(|said| said.eq_ignore_ascii_case("sep="));
        let rest = line.get(said?.len()..)?;
        let delimiter = Self::ALL
            .into_iter()
            .find(|delimiter| rest.as_bytes().first() == Some(&delimiter.byte()))?;
        // The delimiter is a single ASCII character.
        let rest = rest.get(1..)?;
        let rest = match quoted {
            Some(_) => rest.strip_prefix('"')?,
            None => rest,
        };
        let rest = rest.trim_start_matches(' ');
        (rest.is_empty() || rest.starts_with(['\r', '\n'])).then_some((delimiter, rest))
    }

    /// The most frequent delimiter in the first row of a text, outside quotation marks; a comma if
    /// there is none. O(length of the row).
    #[must_use]
    pub fn of_first_row(text: &str) -> Self {
        let mut counts = [0_usize; Self::ALL.len()];
        let mut quoted = false;
        for byte in text.bytes().take(LONGEST_ROW) {
            match byte {
                b'"' => quoted = !quoted,
                _ if quoted => {}
                b'\r' | b'\n' => break,
                _ => {
                    for (count, delimiter) in counts.iter_mut().zip(Self::ALL) {
                        *count += usize::from(byte == delimiter.byte());
                    }
                }
            }
        }
        let mut best = Self::Comma;
        let mut most = 0;
        for (count, delimiter) in counts.into_iter().zip(Self::ALL) {
            if count > most {
                (most, best) = (count, delimiter);
            }
        }
        best
    }
}

/// Whether a field, ignoring leading apostrophes, starts like a formula.
fn is_formula(field: &str) -> bool {
    let begins = |c| {
        matches!(
            c,
            '=' | '+' | '-' | '@' | '\t' | '\r' | '＝' | '＋' | '－' | '＠'
        )
    };
    field.trim_start_matches('\'').starts_with(begins)
}

/// The escaped form of a field.
pub(crate) fn protect(field: &str) -> Cow<'_, str> {
    if is_formula(field) {
        Cow::Owned(format!("'{field}"))
    } else {
        Cow::Borrowed(field)
    }
}

/// The field before [`protect`] escaped it.
pub(super) fn unprotect(field: &str) -> &str {
    match field.strip_prefix('\'') {
        Some(rest) if is_formula(rest) => rest,
        _ => field,
    }
}

/// A text from a file, shortened and made safe to show in a message.
pub(crate) fn shown(text: &str) -> String {
    const MOST: usize = 40;
    let safe = |c| if is_invisible(c) { '\u{FFFD}' } else { c };
    let mut short: String = text.trim().chars().take(MOST).map(safe).collect();
    if text.trim().chars().nth(MOST).is_some() {
        short.push('…');
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    type Fields = Vec<Vec<String>>;

    fn read(text: &str) -> Result<Fields, Fault> {
        let owned = |row: Row<'_>| row.fields.iter().map(ToString::to_string).collect();
        Rows::new(text, Delimiter::Comma)
            .map(|row| row.map(owned))
            .collect()
    }

    /// The `csv` crate's reading of a text; it skips empty lines.
    fn read_elsewhere(text: &str) -> Fields {
        csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes())
            .into_records()
            .map(|row| row.unwrap().iter().map(str::to_owned).collect())
            .collect()
    }

    fn not_empty(rows: &[Vec<String>]) -> Fields {
        let full = |row: &&Vec<String>| row.len() > 1 || !row[0].is_empty();
        rows.iter().filter(full).cloned().collect()
    }

    #[test]
    fn lines_are_counted_over_quoted_line_ends_of_every_kind() {
        let text = "a,b\r\n\"1\r\n2\n3\r4\",x\nc,d\re,\"\r\"\r\nf,g";
        let lines: Vec<_> = Rows::new(text, Delimiter::Comma)
            .map(|row| row.unwrap().line)
            .collect();
        assert_eq!(lines, [1, 2, 6, 7, 9]);
    }

    #[test]
    fn a_stray_quote_spoils_only_its_line() {
        let rows: Vec<_> = Rows::new("a,b\n5\" hoop,b\nc,d\n", Delimiter::Comma).collect();
        let stray = Fault {
            line: 2,
            kind: FaultKind::QuoteInBareField,
        };
        assert_eq!(rows.len(), 3);
        assert_eq!(rows[1], Err(stray));
        assert_eq!(rows[2].as_ref().unwrap().fields, ["c", "d"]);
    }

    #[test]
    fn a_malformed_quoted_field_ends_reading_at_its_line() {
        let rows: Vec<_> = Rows::new("a\n\"b\"x\nc\n", Delimiter::Comma).collect();
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[1].as_ref().unwrap_err().line, 2);
        let rows: Vec<_> = Rows::new("a,b\nc,\"d\ne\nf\n", Delimiter::Comma).collect();
        assert_eq!(
            rows[1],
            Err(Fault {
                line: 2,
                kind: FaultKind::UnterminatedQuote
            })
        );
    }

    #[test]
    fn an_endless_row_is_refused_whether_quoted_or_not() {
        let bare = "x".repeat(LONGEST_ROW + 1);
        let fields = "x,".repeat(LONGEST_ROW);
        let quoted = format!("\"{bare}\"");
        let open = format!("\"{bare}");
        for text in [bare, fields, quoted, open] {
            let fault = read(&format!("a\n{text}")).unwrap_err();
            assert_eq!((fault.line, fault.kind), (2, FaultKind::TooLong));
        }
        assert!(read(&"x".repeat(LONGEST_ROW)).is_ok());
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused_like_the_csv_crate(text in "[a,\"\r\n]{0,24}") {
            if let Ok(rows) = read(&text) {
                prop_assert_eq!(not_empty(&rows), not_empty(&read_elsewhere(&text)));
            }
        }

        #[test]
        fn written_rows_read_back_here_and_with_the_csv_crate(
            rows in prop::collection::vec(prop::collection::vec("[a é,;\t\"\r\n]{0,5}", 1..5), 0..6)
        ) {
            let mut text = String::new();
            for row in &rows {
                write_row(&mut text, row);
            }
            let back = read(&text);
            prop_assert_eq!(back.as_ref(), Ok(&rows));
            prop_assert_eq!(not_empty(&read_elsewhere(&text)), not_empty(&rows));
        }
    }

    #[test]
    fn the_first_line_may_declare_the_delimiter() {
        for (text, found) in [
            ("sep=;\nnumber", Some((Delimiter::Semicolon, "\nnumber"))),
            ("SEP=,\r\na", Some((Delimiter::Comma, "\r\na"))),
            ("\"sep=;\" \nb", Some((Delimiter::Semicolon, "\nb"))),
            ("sep=\t", Some((Delimiter::Tab, ""))),
            ("sep=|\nnumber", None),
            ("\"sep=;\nnumber", None),
            ("sep=;name\n1;2", None),
            ("sep", None),
            ("se\u{e9}p=;", None),
        ] {
            assert_eq!(Delimiter::said_in(text), found, "{text}");
        }
    }

    #[test]
    fn the_delimiter_is_detected_outside_quotes() {
        for (text, found) in [
            ("number", Delimiter::Comma),
            ("number,name\na;b;c", Delimiter::Comma),
            ("number;name", Delimiter::Semicolon),
            ("number\tname, long", Delimiter::Tab),
            ("number\tname\tnote, if any", Delimiter::Tab),
            ("number;\"a, b, c\"", Delimiter::Semicolon),
            ("", Delimiter::Comma),
        ] {
            assert_eq!(Delimiter::of_first_row(text), found, "{text}");
        }
    }

    #[test]
    fn formulas_get_an_apostrophe_and_words_do_not() {
        for (field, written) in [
            ("=1+1", "'=1+1"),
            ("-12", "'-12"),
            ("＠x", "'＠x"),
            ("'=1", "''=1"),
            ("'tis grey", "'tis grey"),
            ("#B4233C", "#B4233C"),
            ("", ""),
        ] {
            assert_eq!(protect(field), written);
        }
        assert_eq!(unprotect("'tis grey"), "'tis grey");
        assert_eq!(unprotect("=1+1"), "=1+1");
    }

    /// OWASP, "CSV Injection" (from memory): a cell is taken for a formula if it begins with `=`,
    /// `+`, `-`, `@`, a tab or a carriage return; likewise for full-width forms of the signs.
    #[test]
    fn no_list_writes_a_field_that_starts_as_owasp_warns() {
        use crate::exchange::{BuyRow, read_cards, write_buy_csv, write_cards_csv};
        use crate::stash::command::import::CardRow;

        let begins = ["=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"];
        let harmless = |cell: &str| !begins.iter().any(|begin| cell.starts_with(begin));
        for begin in begins {
            for field in [
                format!("{begin}1+1"),
                format!("'{begin}x"),
                format!("''{begin}x"),
            ] {
                assert!(harmless(&protect(&field)), "{field:?}");
                assert_eq!(unprotect(&protect(&field)), field);
                // The same in a whole list, for each of its text fields.
                let words = || Some(field.clone());
                let row = CardRow {
                    range: words(),
                    number: field.clone(),
                    name: words(),
                    family: words(),
                    dye_lot: words(),
                    note: words(),
                    ..CardRow::default()
                };
                let list = write_cards_csv(&[row]);
                let buy = write_buy_csv(&[BuyRow {
                    range: field.clone(),
                    number: field.clone(),
                    name: field.clone(),
                    colour: None,
                    skeins: 1,
                    why: field.clone(),
                }]);
                for list in [&list, &buy] {
                    let mut reader = csv::ReaderBuilder::new().from_reader(list.as_bytes());
                    let record = reader.records().next().unwrap().unwrap();
                    assert!(record.iter().all(harmless), "{field:?}: {list}");
                }
                let back = read_cards(list.as_bytes()).unwrap().rows.remove(0);
                // Lists trim their texts, and treat a tab as a space.
                let kept = field.replace(['\t', '\r'], " ").trim().to_owned();
                assert_eq!(back.number.trim(), kept, "{list}");
            }
        }
    }

    proptest! {
        #[test]
        fn unprotect_reverses_protect_for_any_text(field in "['=+@\ta-]{0,6}|\\PC{0,6}") {
            let written = protect(&field);
            prop_assert!(!written.starts_with(['=', '+', '-', '@', '\t', '\r']));
            prop_assert_eq!(unprotect(&written), field.as_str());
        }
    }
}
