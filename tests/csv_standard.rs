//! The table reader against RFC 4180.
//!
//! `data/rfc4180_cases.json`: examples and rules of section 2 of the RFC; see `data/README.md`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use homehook::exchange::table::{Delimiter, Fault, FaultKind, Rows};

#[derive(serde::Deserialize)]
struct Case {
    rule: String,
    status: String,
    desc: String,
    input: String,
    expected_rows: Option<Vec<Vec<String>>>,
    error: Option<String>,
}

fn read(text: &str) -> Result<Vec<Vec<String>>, Fault> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for row in Rows::new(text, Delimiter::Comma) {
        let row = row?;
        row.check_count(rows.first().map_or(row.fields.len(), Vec::len))?;
        rows.push(row.fields.iter().map(ToString::to_string).collect());
    }
    Ok(rows)
}

const fn name(kind: FaultKind) -> &'static str {
    match kind {
        FaultKind::FieldCount { .. } => "field_count",
        FaultKind::QuoteInBareField => "quote_in_bare_field",
        FaultKind::TextAfterQuote => "text_after_quote",
        FaultKind::UnterminatedQuote => "unterminated_quote",
        FaultKind::TooLong => "too_long",
    }
}

#[test]
fn every_case_is_read_or_refused_as_the_rfc_says() {
    let cases: Vec<Case> = serde_json::from_str(include_str!("data/rfc4180_cases.json")).unwrap();
    assert_eq!(cases.len(), 49);
    for case in &cases {
        let what = format!("{} ({}): {}", case.rule, case.status, case.desc);
        match (&case.expected_rows, read(&case.input)) {
            (Some(expected), Ok(rows)) => assert_eq!(&rows, expected, "{what}"),
            (None, Err(fault)) => {
                assert_eq!(Some(name(fault.kind)), case.error.as_deref(), "{what}");
            }
            (expected, got) => panic!("{what}: expected {expected:?}, got {got:?}"),
        }
    }
}
