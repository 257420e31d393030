//! Who made a change.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::label::{Label, ParseLabelError, is_invisible};

/// The most characters the name of a person may have.
pub const LONGEST_NAME: usize = 60;

/// The name of a person, as it is written down with what they did: a [`Label`] of 1 to
/// [`LONGEST_NAME`] characters. It says who, and gives no rights.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Who(Label);

/// The text cannot be the name of a person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseNameError {
    /// Nothing is left of it.
    #[error("name_empty")]
    Empty,
    /// Longer than [`LONGEST_NAME`] characters.
    #[error("name_too_long")]
    TooLong(usize),
    /// It is no label.
    #[error(transparent)]
    ParseLabelError(#[from] ParseLabelError),
}

impl Who {
    /// Trims and checks a name.
    ///
    /// # Errors
    /// When it is empty or too long, or has invisible characters.
    pub fn new(text: &str) -> Result<Self, ParseNameError> {
        let count = text.trim().chars().count();
        if count > LONGEST_NAME {
            return Err(ParseNameError::TooLong(count));
        }
        let label = Label::new(text)?;
        if label.is_empty() {
            return Err(ParseNameError::Empty);
        }
        Ok(Self(label))
    }

    /// What can be kept of a name that nobody typed here, such as the one of a login: without
    /// invisible characters, and cut where it is too long. Nothing where nothing is left.
    #[must_use]
    pub fn cleaned(text: &str) -> Option<Self> {
        let shown: String = text.chars().filter(|&c| !is_invisible(c)).collect();
        let cut: String = shown.trim().chars().take(LONGEST_NAME).collect();
        Self::new(&cut).ok()
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }
}

impl TryFrom<String> for Who {
    type Error = ParseNameError;

    fn try_from(text: String) -> Result<Self, ParseNameError> {
        Self::new(&text)
    }
}

impl From<Who> for String {
    fn from(who: Who) -> Self {
        who.0.into()
    }
}

impl fmt::Display for Who {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_a_short_label_with_something_in_it() {
        assert_eq!(Who::new("  Ada  ").unwrap().as_str(), "Ada");
        assert_eq!(Who::new(" "), Err(ParseNameError::Empty));
        assert!(Who::new(&"ä".repeat(60)).is_ok());
        assert_eq!(Who::new(&"x".repeat(61)), Err(ParseNameError::TooLong(61)));
        assert_eq!(
            Who::new("a\u{1b}[31m"),
            Err(ParseLabelError::Invisible(0x1b).into())
        );
    }

    #[test]
    fn what_nobody_typed_is_cleaned_or_left_away() {
        let cleaned = |text: &str| Who::cleaned(text).map(String::from);
        assert_eq!(cleaned(" a\u{1b}d\u{202e}a\n").as_deref(), Some("ada"));
        let long = format!("{} {}", "x".repeat(59), "y".repeat(9));
        assert_eq!(cleaned(&long), Some("x".repeat(59)));
        assert_eq!((cleaned(""), cleaned("\u{200b} ")), (None, None));
    }
}
