//! A shade's number and its natural order.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::label::{Label, ParseLabelError, fold};

/// The most characters a number may have.
pub const LONGEST: usize = 40;

/// The number on a card, as the maker prints it: digits, letters or both.
///
/// Ordered naturally: runs of digits by value, other runs as text ignoring case, digits before
/// text, so 9 < 10 < 701 < 701a < 4117 < B5. The order is total on any text: the characters
/// themselves break ties between equal parts (`07` and `7`, `A` and `a`).
#[derive(Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Number(Label);

/// The text can't be a number.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseNumberError {
    /// Empty.
    #[error("number_empty")]
    Empty,
    /// Longer than [`LONGEST`] characters.
    #[error("number_too_long")]
    TooLong(usize),
    /// Not a valid label.
    #[error(transparent)]
    Label(#[from] ParseLabelError),
}

impl Number {
    /// Trims and checks a text.
    ///
    /// # Errors
    /// When it is empty, too long or has invisible characters.
    pub fn new(text: &str) -> Result<Self, ParseNumberError> {
        let label = Label::new(text)?;
        match label.as_str().chars().count() {
            0 => Err(ParseNumberError::Empty),
            n if n > LONGEST => Err(ParseNumberError::TooLong(n)),
            _ => Ok(Self(label)),
        }
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }

    /// The key for comparing numbers: it ignores case.
    #[must_use]
    pub fn key(&self) -> String {
        fold(self.as_str())
    }
}

/// Splits off the first run of digits or of other characters.
fn first_run(text: &str) -> (bool, &str, &str) {
    let digits = text.starts_with(|c: char| c.is_ascii_digit());
    let end = text
        .find(|c: char| c.is_ascii_digit() != digits)
        .unwrap_or(text.len());
    (digits, &text[..end], &text[end..])
}

/// Compares two runs of digits of any length by value.
fn by_value(a: &str, b: &str) -> Ordering {
    let (a, b) = (a.trim_start_matches('0'), b.trim_start_matches('0'));
    a.len().cmp(&b.len()).then_with(|| a.cmp(b))
}

fn by_letters(a: &str, b: &str) -> Ordering {
    let lower = |text: &str| {
        text.chars()
            .flat_map(char::to_lowercase)
            .collect::<String>()
    };
    if a.is_ascii() && b.is_ascii() {
        let lower = |byte: u8| byte.to_ascii_lowercase();
        return a.bytes().map(lower).cmp(b.bytes().map(lower));
    }
    lower(a).cmp(&lower(b))
}

/// The natural order of any two texts; see [`Number`]. O(length).
#[must_use]
pub fn natural_order(a: &str, b: &str) -> Ordering {
    let (mut x, mut y) = (a, b);
    loop {
        match (x.is_empty(), y.is_empty()) {
            (true, true) => return a.cmp(b),
            (true, false) => return Ordering::Less,
            (false, true) => return Ordering::Greater,
            (false, false) => {}
        }
        let (x_digits, x_run, x_rest) = first_run(x);
        let (y_digits, y_run, y_rest) = first_run(y);
        let order = match (x_digits, y_digits) {
            (true, false) => Ordering::Less,
            (false, true) => Ordering::Greater,
            (true, true) => by_value(x_run, y_run),
            (false, false) => by_letters(x_run, y_run),
        };
        if order != Ordering::Equal {
            return order;
        }
        (x, y) = (x_rest, y_rest);
    }
}

impl Ord for Number {
    fn cmp(&self, other: &Self) -> Ordering {
        natural_order(self.as_str(), other.as_str())
    }
}

impl PartialOrd for Number {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl TryFrom<String> for Number {
    type Error = ParseNumberError;

    fn try_from(text: String) -> Result<Self, ParseNumberError> {
        Self::new(&text)
    }
}

impl From<Number> for String {
    fn from(number: Number) -> Self {
        number.0.into()
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_on_a_wall_sort_naturally() {
        let wall = [
            "1", "9", "10", "99", "701", "701a", "701b", "702", "4117", "B2", "B10", "E5", "E5a",
            "Flax", "white",
        ];
        for pair in wall.windows(2) {
            assert_eq!(natural_order(pair[0], pair[1]), Ordering::Less, "{pair:?}");
        }
    }

    #[test]
    fn long_runs_of_digits_do_not_overflow() {
        let big = "9".repeat(40);
        assert_eq!(natural_order("10", &big), Ordering::Less);
    }

    proptest! {
        #[test]
        fn the_order_is_total(a in "[0-9aAbB é-]{0,6}", b in "[0-9aAbB é-]{0,6}", c in "[0-9aAbB é-]{0,6}") {
            prop_assert_eq!(natural_order(&a, &b), natural_order(&b, &a).reverse());
            prop_assert_eq!(natural_order(&a, &b) == Ordering::Equal, a == b);
            if natural_order(&a, &b).is_le() && natural_order(&b, &c).is_le() {
                prop_assert!(natural_order(&a, &c).is_le());
            }
        }

        #[test]
        fn plain_integers_sort_by_value(a in 0u32..100_000, b in 0u32..100_000) {
            prop_assert_eq!(natural_order(&a.to_string(), &b.to_string()), a.cmp(&b));
        }
    }
}
