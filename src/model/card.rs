//! A card of cut thread: what is written on it, its family, and how gladly it is moved.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::colour::Srgb;
use super::ids::{CardId, FamilyId, RangeId};
use super::label::{Label, ParseLabelError, fold};
use super::number::Number;
use super::range::PutUp;

/// A family and its name. Its place in the stash's list is its place on the wall.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Family {
    /// Which family.
    pub id: FamilyId,
    /// What it is called.
    pub name: Label,
    /// Whether every card of it that has a home stays there.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub held: bool,
}

/// What the wall is ordered by.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WallOrder {
    /// By family, then range, then number.
    #[default]
    Family,
    /// By range, then number; families do not matter.
    Number,
    /// By family, then from light to dark, then range, then number; within a family cards whose
    /// colour is not known come after the others.
    Lightness,
}

/// How a card came to its family.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CardFamily {
    /// The user said so; nothing else counts.
    Chosen(FamilyId),
    /// From the card's colour, else from its name, when nobody says better. Kept in the record, so that
    /// a later version of the colour sums never reorders a wall by itself.
    WorkedOut(FamilyId),
    /// Not known.
    #[default]
    Unknown,
}

impl CardFamily {
    /// Whether nobody said so.
    #[must_use]
    pub const fn is_worked_out(self) -> bool {
        matches!(self, Self::WorkedOut(_))
    }

    /// The family, whoever said so.
    #[must_use]
    pub const fn id(self) -> Option<FamilyId> {
        match self {
            Self::Chosen(id) | Self::WorkedOut(id) => Some(id),
            Self::Unknown => None,
        }
    }
}

/// A name of its own for one of several cards of a colour: another dye lot, another put-up. Empty for
/// the usual only card.
///
/// It is written after the number, `701/K7`, so it has none of the characters that part such a name:
/// `/`, `@`, `#`, `:`.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(try_from = "Label", into = "Label")]
pub struct Tag(Label);

/// The text cannot be a tag.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TagError {
    /// Has a character that parts the name of a card.
    #[error("tag_sign")]
    Sign(char),
    /// Not even a label.
    #[error(transparent)]
    Label(#[from] ParseLabelError),
}

/// Between a number and a tag.
pub const TAG_SIGN: char = '/';

impl Tag {
    /// No tag.
    #[must_use]
    pub const fn none() -> Self {
        Self(Label::empty())
    }

    /// Trims and checks a text.
    ///
    /// # Errors
    /// When it is too long or has characters that a tag can't have.
    pub fn new(text: &str) -> Result<Self, TagError> {
        Label::new(text)?.try_into()
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }

    /// Whether the card has no name of its own.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What two tags are the same by: capitals do not matter.
    #[must_use]
    pub fn key(&self) -> String {
        fold(self.as_str())
    }
}

impl TryFrom<Label> for Tag {
    type Error = TagError;

    fn try_from(label: Label) -> Result<Self, TagError> {
        match label.as_str().chars().find(|c| "/@#:".contains(*c)) {
            Some(sign) => Err(TagError::Sign(sign)),
            None => Ok(Self(label)),
        }
    }
}

impl From<Tag> for Label {
    fn from(tag: Tag) -> Self {
        tag.0
    }
}

impl fmt::Display for Tag {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// The usual length a skein is cut into, in centimetres (common practice, no source).
pub const USUAL_CUT_CM: u16 = 100;

/// What is written on a card. Where it is, where it belongs and how much is on it change often and
/// are kept beside it, not in it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Card {
    /// Which card.
    pub id: CardId,
    /// The maker's range.
    pub range: RangeId,
    /// The number in that range.
    pub number: Number,
    /// Which of several cards of the colour; always empty for a split card, which goes by the tag of
    /// the card it was split from.
    #[serde(default, skip_serializing_if = "Tag::is_empty")]
    pub tag: Tag,
    /// The colour's name; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub name: Label,
    /// The colour, if it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour: Option<Srgb>,
    /// The family.
    #[serde(default)]
    pub family: CardFamily,
    /// How long each length on the card was cut, in centimetres.
    pub cut_cm: u16,
    /// The kind and put-up of its thread, where that is not the range's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_up: Option<PutUp>,
    /// Whether its colour changes along the thread, whatever the range says.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub variegated: bool,
    /// Anything the user wants to remember.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub note: Label,
    /// The card this one was split from, for a split card.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<CardId>,
    /// What a re-hang may do with it.
    #[serde(default, skip_serializing_if = "MoveCost::is_plain")]
    pub touch: MoveCost,
}

impl Card {
    /// A card of which nothing but its number is known.
    #[must_use]
    pub fn new(id: CardId, range: RangeId, number: Number) -> Self {
        Self {
            id,
            range,
            number,
            tag: Tag::none(),
            name: Label::default(),
            colour: None,
            family: CardFamily::default(),
            cut_cm: USUAL_CUT_CM,
            put_up: None,
            variegated: false,
            note: Label::default(),
            parent: None,
            touch: MoveCost::default(),
        }
    }
}

/// How many plain cards touching a card counts as: 2 to 1000.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(try_from = "u16", into = "u16")]
pub struct Effort(u16);

/// The number cannot be an effort.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not_an_effort")]
pub struct ParseEffortError(pub u16);

impl Effort {
    /// The most a card can count as.
    pub const MOST: u16 = 1_000;

    /// Checks a number.
    ///
    /// # Errors
    /// When it is below 2 or above [`Effort::MOST`].
    pub const fn new(effort: u16) -> Result<Self, ParseEffortError> {
        if effort < 2 || effort > Self::MOST {
            return Err(ParseEffortError(effort));
        }
        Ok(Self(effort))
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }
}

impl TryFrom<u16> for Effort {
    type Error = ParseEffortError;

    fn try_from(effort: u16) -> Result<Self, ParseEffortError> {
        Self::new(effort)
    }
}

impl From<Effort> for u16 {
    fn from(effort: Effort) -> Self {
        effort.0
    }
}

/// What a re-hang may do with a card.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MoveCost {
    /// It moves like any other.
    #[default]
    Plain,
    /// It moves, and counts as so many plain cards: its label is pasted for good, or it is heavy.
    Costly(Effort),
    /// It stays on the hook it belongs on.
    Held,
}

impl MoveCost {
    /// Whether nothing is said of the card.
    #[must_use]
    pub const fn is_plain(&self) -> bool {
        matches!(self, Self::Plain)
    }

    /// How many plain cards touching it counts as; 1 where nothing is said.
    #[must_use]
    pub fn effort(self) -> u16 {
        match self {
            Self::Costly(effort) => effort.get(),
            Self::Plain | Self::Held => 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_has_nothing_that_parts_a_name() {
        assert_eq!(Tag::new(" K7 b ").unwrap().as_str(), "K7 b");
        assert!(Tag::new("").unwrap().is_empty());
        for sign in "/@#:".chars() {
            let text = format!("K{sign}7");
            assert_eq!(Tag::new(&text), Err(TagError::Sign(sign)));
            let json = serde_json::to_string(&text).unwrap();
            assert!(serde_json::from_str::<Tag>(&json).is_err());
        }
        assert!(Tag::new(&"x".repeat(201)).is_err());
        assert!(Tag::new("a\u{1b}b").is_err());
    }

    #[test]
    fn a_card_has_a_tag_in_json_where_it_has_one() {
        let text = r#"{"id":"0000000100000001","range":"0000000100000001","number":"701","tag":"K7","family":"unknown","cut_cm":100}"#;
        let card: Card = serde_json::from_str(text).unwrap();
        assert_eq!(card.tag.key(), "k7");
        assert_eq!(serde_json::to_string(&card).unwrap(), text);
        let plain = text.replace(r#""tag":"K7","#, "");
        let card: Card = serde_json::from_str(&plain).unwrap();
        assert!(card.tag.is_empty());
        assert_eq!(serde_json::to_string(&card).unwrap(), plain);
    }

    #[test]
    fn only_an_effort_in_bounds_is_read() {
        for (text, touch) in [
            (r#""plain""#, Some(MoveCost::Plain)),
            (r#""held""#, Some(MoveCost::Held)),
            (r#"{"costly":2}"#, Effort::new(2).ok().map(MoveCost::Costly)),
            (
                r#"{"costly":1000}"#,
                Effort::new(1000).ok().map(MoveCost::Costly),
            ),
            (r#"{"costly":1}"#, None),
            (r#"{"costly":1001}"#, None),
        ] {
            let read = serde_json::from_str::<MoveCost>(text).ok();
            assert_eq!(read, touch, "{text}");
            if let Some(touch) = touch {
                assert_eq!(serde_json::to_string(&touch).unwrap(), text);
            }
        }
    }
}
