//! Amounts as people write them.

use super::table::{Delimiter, shown};

/// The most skeins or lengths a row may have: the limit for an amount of a lot.
pub(super) const MOST: u32 = u32::MAX;

/// The text isn't an amount. Each variant holds the text, shortened and made safe to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ParseAmountError {
    /// Something other than digits with at most one decimal sign.
    NotDigits(String),
    /// Below zero.
    Negative(String),
    /// Ambiguous: a thousand to one person and a fraction to another.
    TwoWays(String),
    /// More than can be stored, or than makes sense.
    TooMany {
        /// The text.
        found: String,
        /// The limit.
        most: u32,
    },
    /// A fraction of an uncut skein.
    NotWhole(String),
    /// A fraction of a countable item.
    NotACount(String),
}

/// Reads digits with at most one decimal sign, a point or a comma, from 0 to `most`.
///
/// Where the comma separates fields, a quoted `1,500` is fifteen hundred to one person and one and
/// a half to another, so it is refused.
fn read(text: &str, delimiter: Delimiter, most: u32) -> Result<f64, ParseAmountError> {
    let text = text.trim();
    let not_digits = || ParseAmountError::NotDigits(shown(text));
    let decimal = |c: char| c == '.' || c == ',';
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let (positive, sign) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (rest, true),
        None => (text, false),
    };
    let (whole, fraction) = positive.split_once(decimal).unwrap_or((positive, ""));
    if !digits(whole) || !digits(fraction) || (whole.is_empty() && fraction.is_empty()) {
        return Err(not_digits());
    }
    if sign {
        return Err(ParseAmountError::Negative(shown(text)));
    }
    let thousands = (1..=3).contains(&whole.len()) && !whole.starts_with('0');
    if delimiter == Delimiter::Comma && text.contains(',') && fraction.len() == 3 && thousands {
        return Err(ParseAmountError::TwoWays(shown(text)));
    }
    let value: f64 = text.replace(',', ".").parse().map_err(|_| not_digits())?;
    if value > f64::from(most) {
        return Err(ParseAmountError::TooMany {
            found: shown(text),
            most,
        });
    }
    Ok(value)
}

/// Reads skeins, 0 to [`MOST`], fractions allowed.
pub(super) fn skeins(text: &str, delimiter: Delimiter) -> Result<f64, ParseAmountError> {
    read(text, delimiter, MOST)
}

/// Reads lengths, 0 to [`MOST`], fractions allowed: with six strands, 3.33 is three lengths and two
/// strands.
pub(super) fn lengths(text: &str, delimiter: Delimiter) -> Result<f64, ParseAmountError> {
    read(text, delimiter, MOST)
}

/// Reads uncut skeins, a whole number from 0 to [`MOST`].
pub(super) fn uncut(text: &str, delimiter: Delimiter) -> Result<u32, ParseAmountError> {
    let value = skeins(text, delimiter)?;
    if value.fract() != 0.0 {
        return Err(ParseAmountError::NotWhole(shown(text)));
    }
    // Whole and from 0 to `u32::MAX`, so the cast is exact.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    Ok(value as u32)
}

/// Reads metres as centimetres, 0 to [`MOST`] centimetres.
pub(super) fn centimetres(text: &str, delimiter: Delimiter) -> Result<u32, ParseAmountError> {
    let metres = read(text, delimiter, MOST / 100)?;
    // From 0 to `MOST`, so only the fraction of a centimetre is lost.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    Ok((metres * 100.0).round() as u32)
}

/// Writes centimetres as metres, such as `3.5`, so that [`centimetres`] reads the same value back.
pub(super) fn write_metres(cm: u32) -> String {
    match (cm / 100, cm % 100) {
        (metres, 0) => metres.to_string(),
        (metres, part) => format!("{metres}.{part:02}")
            .trim_end_matches('0')
            .to_owned(),
    }
}

/// Reads a whole number from 0 to `most`.
pub(super) fn count(text: &str, delimiter: Delimiter, most: u32) -> Result<u32, ParseAmountError> {
    let value = read(text, delimiter, most)?;
    if value.fract() != 0.0 {
        return Err(ParseAmountError::NotACount(shown(text)));
    }
    // Whole and from 0 to `most`, so the cast is exact.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    Ok(value as u32)
}

/// Reads a quantity from 0 to `most`, rounded up to a whole number.
pub(super) fn rounded_up(
    text: &str,
    delimiter: Delimiter,
    most: u32,
) -> Result<u32, ParseAmountError> {
    let value = read(text, delimiter, most)?;
    // From 0 to `most`, which is whole.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    Ok(value.ceil() as u32)
}

/// Writes lengths so that [`lengths`] reads the same number of strands back: two decimals
/// distinguish up to 24 strands per length.
pub(super) fn write_lengths(lengths: f64) -> String {
    let text = format!("{lengths:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::range::{PutUp, ThreadKind};
    use crate::model::thread::Strands;
    use proptest::prelude::*;

    #[test]
    fn reads_amounts_as_people_write_them() {
        for (text, delimiter, value) in [
            ("3", Delimiter::Comma, 3.0),
            (" 2.5 ", Delimiter::Comma, 2.5),
            ("2,5", Delimiter::Comma, 2.5),
            ("2,5", Delimiter::Semicolon, 2.5),
            ("1,500", Delimiter::Semicolon, 1.5),
            ("0,125", Delimiter::Comma, 0.125),
            (".5", Delimiter::Comma, 0.5),
            ("1000", Delimiter::Comma, 1000.0),
        ] {
            assert_eq!(skeins(text, delimiter), Ok(value), "{text}");
        }
        assert_eq!(uncut("2.0", Delimiter::Comma), Ok(2));
        assert_eq!(count("1740", Delimiter::Comma, 1_740), Ok(1_740));
        assert_eq!(rounded_up("12,5", Delimiter::Semicolon, 20), Ok(13));
    }

    #[test]
    fn refuses_text_that_is_not_an_amount() {
        for text in [
            "", ".", ",", "NaN", "inf", "infinity", "1e3", "+1", "0x10", "1 000", "1.2.3",
            "1.234,5", "½", "٣", "two", "=1", "--1", "-",
        ] {
            assert!(
                matches!(
                    skeins(text, Delimiter::Semicolon),
                    Err(ParseAmountError::NotDigits(_))
                ),
                "{text}"
            );
        }
        let comma = Delimiter::Comma;
        for text in ["-1", "-0", "\u{2212}2"] {
            assert!(
                matches!(lengths(text, comma), Err(ParseAmountError::Negative(_))),
                "{text}"
            );
        }
        assert!(matches!(
            skeins("1,500", comma),
            Err(ParseAmountError::TwoWays(_))
        ));
        for text in ["4294967295.1", "4294967296", &"9".repeat(400)] {
            assert!(matches!(
                skeins(text, comma),
                Err(ParseAmountError::TooMany { .. })
            ));
        }
        assert_eq!(lengths("4294967295", comma), Ok(f64::from(MOST)));
        assert!(lengths("4294967296", comma).is_err());
        assert_eq!(uncut("4294967295", comma), Ok(u32::MAX));
        assert!(matches!(
            uncut("1.5", comma),
            Err(ParseAmountError::NotWhole(_))
        ));
        assert!(matches!(
            count("1.740", comma, 10_000),
            Err(ParseAmountError::NotACount(_))
        ));
        assert!(count("1741", comma, 1_740).is_err());
    }

    proptest! {
        #[test]
        fn lengths_round_trip_to_the_strand(strands in prop_oneof![0_u32..=10_000, any::<u32>()], in_length in 1..=24_u8) {
            let put_up = PutUp::new(ThreadKind::Silk, 500, in_length, true).unwrap();
            let written = write_lengths(put_up.to_fraction(Strands(strands)));
            let read = lengths(&written, Delimiter::Comma).unwrap();
            prop_assert_eq!(put_up.from_fraction(read), Some(Strands(strands)));
            prop_assert!(written.parse::<f64>().is_ok());
        }

        #[test]
        fn any_text_is_an_amount_in_bounds_or_refused(text in "\\PC{0,8}|[0-9.,-]{0,8}") {
            if let Ok(value) = skeins(&text, Delimiter::Tab) {
                prop_assert!((0.0..=f64::from(MOST)).contains(&value));
            }
        }
    }
}
