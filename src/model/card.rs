//! A card of cut thread: its data, its family, and what moving it costs.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::colour::Srgb;
use super::ids::{CardId, FamilyId, RangeId};
use super::label::{Label, ParseLabelError, fold};
use super::number::Number;
use super::range::PutUp;

/// A family of colours. Its position in the stash's list is its position on the wall.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Family {
    /// Which family.
    pub id: FamilyId,
    /// The display name.
    pub name: Label,
    /// Whether all its cards stay on the hooks they belong on.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub held: bool,
}

/// The sort order of the wall.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WallOrder {
    /// By family, then range, then number.
    #[default]
    Family,
    /// By range, then number, ignoring families.
    Number,
    /// By family, then from light to dark, then range, then number. Within a family, cards of
    /// unknown colour come last.
    Lightness,
}

/// A card's family, and how it was found.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CardFamily {
    /// Chosen by the user, which overrides anything else.
    Chosen(FamilyId),
    /// Worked out from the card's colour or, failing that, its name. The record keeps it, so a
    /// later version with other colour formulas never reorders a wall on its own.
    WorkedOut(FamilyId),
    /// Unknown.
    #[default]
    Unknown,
}

impl CardFamily {
    /// Whether the family was worked out instead of chosen.
    #[must_use]
    pub const fn is_worked_out(self) -> bool {
        matches!(self, Self::WorkedOut(_))
    }

    /// The family, chosen or worked out.
    #[must_use]
    pub const fn id(self) -> Option<FamilyId> {
        match self {
            Self::Chosen(id) | Self::WorkedOut(id) => Some(id),
            Self::Unknown => None,
        }
    }
}

/// Tells apart several cards of one colour, such as another dye lot or put-up. Empty for the usual
/// only card.
///
/// It follows the number, as in `701/K7`, so it can't contain the separators of such a name: `/`,
/// `@`, `#`, `:`.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(try_from = "Label", into = "Label")]
pub struct Tag(Label);

/// The text can't be a tag.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TagError {
    /// Contains a separator of card names.
    #[error("tag_sign")]
    Sign(char),
    /// Not a valid label.
    #[error(transparent)]
    Label(#[from] ParseLabelError),
}

/// The separator between a number and a tag.
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
    /// When it is too long or has characters not allowed in a tag.
    pub fn new(text: &str) -> Result<Self, TagError> {
        Label::new(text)?.try_into()
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        self.0.as_str()
    }

    /// Whether the tag is empty.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The key for comparing tags: it ignores case.
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

/// The data of a card. Its place, its hook and its amount of thread change often, so they are kept
/// separately.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Card {
    /// Which card.
    pub id: CardId,
    /// The maker's range.
    pub range: RangeId,
    /// The number in that range.
    pub number: Number,
    /// Tells several cards of one colour apart. Always empty for a split card, which uses the tag
    /// of the card it was split from.
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
    /// How long the lengths on the card were cut, in centimetres.
    pub cut_cm: u16,
    /// The kind and put-up of its thread, if different from the range's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_up: Option<PutUp>,
    /// Whether its colour changes along the thread, regardless of the range.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub variegated: bool,
    /// A note by the user.
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
    /// A card with a number and no other data.
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

/// How many plain cards it counts as to move a card: 2 to 1000.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug, Serialize, Deserialize)]
#[serde(try_from = "u16", into = "u16")]
pub struct Effort(u16);

/// The number can't be an effort.
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
    /// It moves, but counts as several plain cards because its label is pasted on or it is heavy.
    Costly(Effort),
    /// It stays on the hook it belongs on.
    Held,
}

impl MoveCost {
    /// Whether the card has no special move cost.
    #[must_use]
    pub const fn is_plain(&self) -> bool {
        matches!(self, Self::Plain)
    }

    /// How many plain cards a move of it counts as; 1 unless it is costly.
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
    fn a_tag_contains_no_separator_of_card_names() {
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
    fn json_has_a_tag_only_for_a_card_with_one() {
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
