//! Keeping a field from being taken for a formula when a spreadsheet opens the file.
//!
//! The rule: a field that begins with `=`, `+`, `-`, `@`, their full-width forms, a tab or a
//! carriage return is written with an apostrophe before it. So that reading can undo this for any
//! text, a field that begins with apostrophes and then such a character gets one more, and reading
//! takes one away. Any other apostrophe stays as it is. The characters are those named by OWASP,
//! "CSV Injection" (from memory).

use std::borrow::Cow;

/// Whether a field, its leading apostrophes aside, begins as a formula does.
fn is_formula(field: &str) -> bool {
    let begins = |c| {
        matches!(
            c,
            '=' | '+' | '-' | '@' | '\t' | '\r' | '＝' | '＋' | '－' | '＠'
        )
    };
    field.trim_start_matches('\'').starts_with(begins)
}

/// The field as it is written.
pub(super) fn protect(field: &str) -> Cow<'_, str> {
    if is_formula(field) {
        Cow::Owned(format!("'{field}"))
    } else {
        Cow::Borrowed(field)
    }
}

/// The field as it was before [`protect`].
pub(super) fn unprotect(field: &str) -> &str {
    match field.strip_prefix('\'') {
        Some(rest) if is_formula(rest) => rest,
        _ => field,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn formulas_get_an_apostrophe_and_words_do_not() {
        for (field, written) in [
            ("=1+1", "'=1+1"),
            ("-12", "'-12"),
            ("＠x", "'＠x"),
            ("'=1", "''=1"),
            ("'tis grey", "'tis grey"),
            ("#C8102E", "#C8102E"),
            ("", ""),
        ] {
            assert_eq!(protect(field), written);
        }
        assert_eq!(unprotect("'tis grey"), "'tis grey");
        assert_eq!(unprotect("=1+1"), "=1+1");
    }

    /// OWASP, "CSV Injection" (from memory): a cell is taken for a formula where it begins with
    /// `=`, `+`, `-`, `@`, a tab or a carriage return; full-width forms of the signs likewise.
    #[test]
    fn no_beginning_that_owasp_names_is_written_by_any_list() {
        use crate::exchange::{BuyRow, read_cards, write_buy_csv, write_cards_csv};
        use crate::stash::intake::CardRow;

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
                // The same through a whole list, in each of its fields of words.
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
                // No list keeps what stands before and after a text, and a tab is a space to it.
                let kept = field.replace(['\t', '\r'], " ").trim().to_owned();
                assert_eq!(back.number.trim(), kept, "{list}");
            }
        }
    }

    proptest! {
        #[test]
        fn reading_undoes_it_for_any_text(field in "['=+@\ta-]{0,6}|\\PC{0,6}") {
            let written = protect(&field);
            prop_assert!(!written.starts_with(['=', '+', '-', '@', '\t', '\r']));
            prop_assert_eq!(unprotect(&written), field.as_str());
        }
    }
}
