//! Text typed by a person, made safe to store and show: labels, names, and the author of a change.

use std::fmt;

use compact_str::CompactString;
use serde::{Deserialize, Serialize};

/// The most characters a label may have.
pub const LONGEST: usize = 200;

/// One line of text without control or invisible formatting characters, trimmed, at most
/// [`LONGEST`] characters. May be empty.
///
/// Escape sequences, bidirectional overrides and zero-width characters are refused, so a label can
/// be printed to a terminal as it is.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(try_from = "CompactString", into = "CompactString")]
pub struct Label(CompactString);

/// The text can't be a label.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseLabelError {
    /// Longer than [`LONGEST`] characters.
    #[error("text_too_long")]
    TooLong(usize),
    /// Has a control or invisible character.
    #[error("invisible_character")]
    Invisible(u32),
}

/// Whether a character is a control or an invisible formatting character.
///
/// Covers the assigned characters of the general categories Cc, Cf, Zl and Zp in the Basic
/// Multilingual Plane and the tag block (Unicode Standard, chapter 23; the ranges are from memory).
#[must_use]
pub fn is_invisible(c: char) -> bool {
    c.is_control()
        || matches!(u32::from(c),
            0xAD | 0x600..=0x605 | 0x61C | 0x6DD | 0x70F | 0x180E | 0x200B..=0x200F
            | 0x2028..=0x202E | 0x2060..=0x206F | 0xFEFF | 0xFFF9..=0xFFFB | 0xE0000..=0xE007F)
}

impl Label {
    /// No text.
    #[must_use]
    pub const fn empty() -> Self {
        Self(CompactString::const_new(""))
    }

    /// Trims and checks a text.
    ///
    /// # Errors
    /// When it is too long or has invisible characters.
    pub fn new(text: &str) -> Result<Self, ParseLabelError> {
        let text = text.trim();
        if let Some(c) = text.chars().find(|&c| is_invisible(c)) {
            return Err(ParseLabelError::Invisible(c.into()));
        }
        let count = text.chars().count();
        if count > LONGEST {
            return Err(ParseLabelError::TooLong(count));
        }
        Ok(Self(CompactString::new(text)))
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether there is no text.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether two labels are equal, ignoring case.
    #[must_use]
    pub fn same_as(&self, other: &str) -> bool {
        fold(&self.0) == fold(other)
    }
}

/// A label that isn't empty.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "Label", into = "Label")]
pub struct Name(Label);

/// The text can't be a name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseNameError {
    /// Empty.
    #[error("name_empty")]
    Empty,
    /// Not a valid label.
    #[error(transparent)]
    Label(#[from] ParseLabelError),
}

impl Name {
    /// Trims and checks a text.
    ///
    /// # Errors
    /// When it is empty, too long or has invisible characters.
    pub fn new(text: &str) -> Result<Self, ParseNameError> {
        Label::new(text)?.try_into()
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }
}

impl TryFrom<Label> for Name {
    type Error = ParseNameError;

    fn try_from(label: Label) -> Result<Self, ParseNameError> {
        if label.is_empty() {
            return Err(ParseNameError::Empty);
        }
        Ok(Self(label))
    }
}

impl From<Name> for Label {
    fn from(name: Name) -> Self {
        name.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// Trims and lower-cases a text: the key for comparing labels.
#[must_use]
pub fn fold(text: &str) -> String {
    text.trim().to_lowercase()
}

impl TryFrom<CompactString> for Label {
    type Error = ParseLabelError;

    fn try_from(text: CompactString) -> Result<Self, ParseLabelError> {
        Self::new(&text)
    }
}

impl From<Label> for CompactString {
    fn from(label: Label) -> Self {
        label.0
    }
}

impl From<Label> for String {
    fn from(label: Label) -> Self {
        label.0.into()
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl fmt::Debug for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

/// The most characters a person's name may have.
pub const LONGEST_NAME: usize = 60;

/// A person's name, recorded with their changes: a [`Label`] of 1 to [`LONGEST_NAME`] characters.
/// It gives no rights.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Who(Label);

/// The text can't be a person's name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseWhoError {
    /// Empty.
    #[error("name_empty")]
    Empty,
    /// Longer than [`LONGEST_NAME`] characters.
    #[error("name_too_long")]
    TooLong(usize),
    /// Not a valid label.
    #[error(transparent)]
    Label(#[from] ParseLabelError),
}

impl Who {
    /// Trims and checks a name.
    ///
    /// # Errors
    /// When it is empty or too long, or has invisible characters.
    pub fn new(text: &str) -> Result<Self, ParseWhoError> {
        let count = text.trim().chars().count();
        if count > LONGEST_NAME {
            return Err(ParseWhoError::TooLong(count));
        }
        let label = Label::new(text)?;
        if label.is_empty() {
            return Err(ParseWhoError::Empty);
        }
        Ok(Self(label))
    }

    /// Cleans up a name that nobody typed here, such as a login name: drops invisible characters
    /// and cuts it to length. `None` if nothing is left.
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
    type Error = ParseWhoError;

    fn try_from(text: String) -> Result<Self, ParseWhoError> {
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
    fn an_escape_sequence_is_not_a_label() {
        assert_eq!(
            Label::new("a\u{1b}[31m"),
            Err(ParseLabelError::Invisible(0x1b))
        );
        assert_eq!(
            Label::new("a\u{202e}b"),
            Err(ParseLabelError::Invisible(0x202e))
        );
        assert_eq!(
            Label::new("a\u{200b}b"),
            Err(ParseLabelError::Invisible(0x200b))
        );
        assert!(Label::new(&"x".repeat(201)).is_err());
    }

    #[test]
    fn trims_and_keeps_any_script() {
        assert_eq!(Label::new("  Grün  ").unwrap().as_str(), "Grün");
        assert!(Label::new("RIVER").unwrap().same_as("river "));
    }

    #[test]
    fn a_name_is_a_short_nonempty_label() {
        assert_eq!(Who::new("  Laptop  ").unwrap().as_str(), "Laptop");
        assert_eq!(Who::new(" "), Err(ParseWhoError::Empty));
        assert!(Who::new(&"ä".repeat(60)).is_ok());
        assert_eq!(Who::new(&"x".repeat(61)), Err(ParseWhoError::TooLong(61)));
        assert_eq!(
            Who::new("a\u{1b}[31m"),
            Err(ParseLabelError::Invisible(0x1b).into())
        );
    }

    #[test]
    fn a_name_nobody_typed_is_cleaned_or_dropped() {
        let cleaned = |text: &str| Who::cleaned(text).map(String::from);
        assert_eq!(
            cleaned(" lap\u{1b}t\u{202e}op\n").as_deref(),
            Some("laptop")
        );
        let long = format!("{} {}", "x".repeat(59), "y".repeat(9));
        assert_eq!(cleaned(&long), Some("x".repeat(59)));
        assert_eq!((cleaned(""), cleaned("\u{200b} ")), (None, None));
    }
}
