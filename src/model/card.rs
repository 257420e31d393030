//! A card of cut thread.

use serde::{Deserialize, Serialize};

use super::colour::Srgb;
use super::ids::{CardId, FamilyId, RangeId};
use super::label::Label;
use super::number::Number;
use super::range::PutUp;
use super::touch::Touch;

/// How a card came to its family.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CardFamily {
    /// The user said so; nothing else counts.
    Chosen(FamilyId),
    /// From the card's colour, when nobody says better. Kept in the record, so that a later
    /// version of the colour sums never reorders a wall by itself.
    WorkedOut(FamilyId),
    /// Not known.
    #[default]
    Unknown,
}

impl CardFamily {
    /// The family, whoever said so.
    #[must_use]
    pub const fn id(self) -> Option<FamilyId> {
        match self {
            Self::Chosen(id) | Self::WorkedOut(id) => Some(id),
            Self::Unknown => None,
        }
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
    /// The card this one was split from, for a spare card.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<CardId>,
    /// What a re-hang may do with it.
    #[serde(default, skip_serializing_if = "Touch::is_plain")]
    pub touch: Touch,
}
