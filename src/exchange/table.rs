//! Rows of fields in delimited text, as RFC 4180 has them.
//!
//! The rules are those of RFC 4180, section 2, read strictly: a quotation mark inside a bare field,
//! text after a closing quotation mark and a quotation mark that is never closed are faults, each
//! with its line. A person gets told of a stray mark instead of two rows quietly becoming one; the
//! ready-made readers accept the first kind. Wider than the RFC: a line may end in CRLF, LF or CR,
//! and text may be any Unicode.

use std::borrow::Cow;

pub use super::delimiter::Delimiter;

/// The most bytes one row may have, 1 MiB. Longer ones are refused before they are taken apart.
pub const LONGEST_ROW: usize = 1 << 20;

/// One row of fields.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row<'a> {
    /// The line where the row starts, counted from 1.
    pub line: u64,
    /// The fields, quotation marks taken off, otherwise untouched. Never empty: an empty line is a
    /// row of one empty field.
    pub fields: Vec<Cow<'a, str>>,
}

impl Row<'_> {
    /// Whether nothing but spaces stands in any field.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.fields.iter().all(|field| field.trim().is_empty())
    }

    /// Whether the row has as many fields as it should. RFC 4180 says 'should'; that a row with
    /// another count is a fault is our choice, since its fields may stand in the wrong columns.
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

/// A place where the text is not a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{kind}")]
pub struct Fault {
    /// The line of the fault, counted from 1: where the row starts for a wrong field count or an
    /// endless row, otherwise where the quotation mark stands.
    pub line: u64,
    /// What is wrong.
    pub kind: FaultKind,
}

/// What is wrong with a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FaultKind {
    /// The row has more or fewer fields than the header.
    #[error(
        "this row has {found} fields and the header has {expected}; put quotation marks \
         around a field that has a comma, semicolon or tab in it"
    )]
    FieldCount {
        /// Fields in the header.
        expected: usize,
        /// Fields in the row.
        found: usize,
    },
    /// A quotation mark in a field that does not begin with one.
    #[error(
        "a quotation mark stands inside a field that does not begin with one; put the whole \
         field in quotation marks and double the mark inside it"
    )]
    QuoteInBareField,
    /// Something other than a delimiter or a line end after the closing quotation mark.
    #[error(
        "there is text after a closing quotation mark; double a quotation mark that belongs \
         to the field, or take the text away"
    )]
    TextAfterQuote,
    /// The text ends inside quotation marks.
    #[error("the quotation mark that opens a field here is never closed; close it")]
    UnterminatedQuote,
    /// The row is longer than [`LONGEST_ROW`].
    #[error(
        "the row that starts here is longer than 1 MB; look for a quotation mark that is \
         never closed"
    )]
    TooLong,
}

impl FaultKind {
    /// Whether the rows after the fault can still be told apart. After a quoted field gone wrong
    /// nobody knows what is inside the marks and what is outside.
    #[must_use]
    pub const fn rest_is_readable(self) -> bool {
        matches!(self, Self::FieldCount { .. } | Self::QuoteInBareField)
    }
}

/// Takes a text apart, row by row. O(length) in all; only one row is held at a time, and fields
/// borrow from the text unless they have doubled quotation marks.
///
/// After a fault that leaves the rest unreadable the iterator ends. Field counts are not compared
/// here; see [`Row::check_count`].
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

    /// Starts at a later line, for a text whose beginning was passed over.
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

    /// The bytes of the present row that may still be read.
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

    /// Passes over one line end, if one is here.
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

    /// Passes over the rest of the line.
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

/// How many lines end in a text; CRLF is one end.
pub(super) fn line_ends(text: &str) -> u64 {
    let bytes = text.as_bytes();
    let ends = bytes.iter().enumerate().filter(|&(at, byte)| match byte {
        b'\n' => true,
        b'\r' => bytes.get(at + 1) != Some(&b'\n'),
        _ => false,
    });
    ends.map(|_| 1).sum()
}

/// Appends a row to a text, comma between fields and CRLF at the end, as RFC 4180 has it. A field
/// with a comma, a quotation mark, a line end, or a space at either end goes into quotation marks.
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

    /// What the `csv` crate makes of a text; it passes over empty lines.
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
    fn a_stray_quote_spoils_its_line_only() {
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
    fn a_broken_quoted_field_ends_the_reading_at_its_line() {
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
        fn any_text_is_read_or_refused_as_the_csv_crate_has_it(text in "[a,\"\r\n]{0,24}") {
            if let Ok(rows) = read(&text) {
                prop_assert_eq!(not_empty(&rows), not_empty(&read_elsewhere(&text)));
            }
        }

        #[test]
        fn what_is_written_is_read_back_here_and_elsewhere(
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
}
