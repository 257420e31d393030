//! The table reader against RFC 4180.
//!
//! `data/rfc4180_cases.json`: examples and rules of section 2 of the RFC; see `data/README.md`.

use homehook::exchange::table::{Delimiter, Fault, FaultKind, Rows};
use homehook::exchange::{Column, look_over, read_cards, read_key, read_range, read_roll_call};

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
fn rfc_cases_are_read_or_refused_as_specified() {
    let cases: Vec<Case> =
        serde_json::from_str(include_str!("../data/rfc4180_cases.json")).unwrap();
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

/// Not in the RFC, but common practice of spreadsheets; from memory.
#[test]
fn delimiter_line_is_not_a_row_of_any_list() {
    // The header alone looks comma-separated.
    let list = "sep=;\r\nnumber;name;a,b,c,d\r\n701;soot, pale;x\r\n";
    for (said, list) in [
        ("plain", list.to_owned()),
        ("with a mark before it", format!("\u{feff}{list}")),
        ("in capitals", list.replace("sep", "SEP")),
        ("in quotes", list.replace("sep=;", "\"sep=;\"")),
        ("below an empty line", format!("\n{list}")),
        ("tabs", list.replace(';', "\t")),
    ] {
        let bytes = list.as_bytes();
        let line = if said == "below an empty line" { 4 } else { 3 };
        let card_list = read_cards(bytes).unwrap();
        let rows = card_list
            .rows
            .iter()
            .map(|r| (r.line, r.number.as_str(), r.name.as_deref()));
        assert_eq!(
            rows.collect::<Vec<_>>(),
            [(line, "701", Some("soot, pale"))],
            "{said}"
        );
        assert_eq!(card_list.ignored, ["a,b,c,d"], "{said}");
        let key = read_key(bytes).unwrap();
        let rows = key
            .rows
            .iter()
            .map(|r| (r.line, r.number.as_str(), r.name.as_deref()));
        assert_eq!(
            rows.collect::<Vec<_>>(),
            [(line, "701", Some("soot, pale"))],
            "{said}"
        );
        let shades = read_range(bytes).unwrap();
        let rows = shades
            .rows
            .iter()
            .map(|r| (r.line, r.number.as_str(), r.name.as_str()));
        assert_eq!(
            rows.collect::<Vec<_>>(),
            [(line, "701", "soot, pale")],
            "{said}"
        );
        let found = look_over(bytes, &Column::OF_CARD_LIST).unwrap();
        assert_eq!(found.count(), 3, "{said}");
        let seen = read_roll_call(list.replace("name", "hook").as_bytes()).unwrap();
        assert_eq!(
            (seen.rows.len(), seen.rejected.len()),
            (1, 0),
            "{said}: {seen:?}"
        );
        assert_eq!(seen.rows[0].line, line, "{said}");
    }
    // Nothing else counts as such a line.
    for list in ["sep=;", "sep=|\nnumber\n3\n", "sep=;x\nnumber\n3\n"] {
        assert!(read_cards(list.as_bytes()).is_err(), "{list:?}");
    }
}
