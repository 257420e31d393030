//! Text a person typed, made safe to keep and to show.

use std::fmt;

use compact_str::CompactString;
use serde::{Deserialize, Serialize};

/// The most characters a label may have.
pub const LONGEST: usize = 200;

/// One line of text without control or invisible formatting characters, trimmed, at most
/// [`LONGEST`] characters. It may be empty.
///
/// Escape sequences, bidirectional overrides and zero-width characters never get in, so a label
/// can be written to a terminal as it is.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(try_from = "CompactString", into = "CompactString")]
pub struct Label(CompactString);

/// The text cannot be a label.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseLabelError {
    /// Longer than [`LONGEST`] characters.
    #[error("text_too_long")]
    TooLong(usize),
    /// Has a character that cannot be shown as it is.
    #[error("invisible_character")]
    Invisible(u32),
}

/// Whether a character is a control or an invisible formatting character.
///
/// Unicode general categories Cc, Cf, Zl and Zp as far as they are in use in the Basic Multilingual
/// Plane and the tag block (Unicode Standard, chapter 23; the ranges are from memory).
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

    /// Whether two labels are the same to a reader who does not mind capitals.
    #[must_use]
    pub fn same_as(&self, other: &str) -> bool {
        fold(&self.0) == fold(other)
    }
}

/// A label with something in it.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "Label", into = "Label")]
pub struct Name(Label);

/// The text cannot be a name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseNameError {
    /// Nothing there.
    #[error("name_empty")]
    Empty,
    /// Not even a label.
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

/// Lower case, trimmed: what two labels are compared by.
#[must_use]
pub fn fold(text: &str) -> String {
    text.trim().to_lowercase()
}

/// [`fold`] in place of what `folded` holds, without new room for it where there is enough.
pub fn fold_into(text: &str, folded: &mut String) {
    folded.clear();
    if text.is_ascii() {
        folded.push_str(text.trim());
        folded.make_ascii_lowercase();
    } else {
        folded.push_str(&fold(text));
    }
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
}
