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

    proptest! {
        #[test]
        fn reading_undoes_it_for_any_text(field in "['=+@\ta-]{0,6}|\\PC{0,6}") {
            let written = protect(&field);
            prop_assert!(!written.starts_with(['=', '+', '-', '@', '\t', '\r']));
            prop_assert_eq!(unprotect(&written), field.as_str());
        }
    }
}
