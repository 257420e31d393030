//! A maker's range: the list of its colours the user gave.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::colour::Srgb;
use super::ids::{FamilyId, RangeId};
use super::label::Label;
use super::number::Number;
pub use super::put_up::{PerleSize, PutUp, PutUpError, ThreadKind};

/// What a range says of one number.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct Shade {
    /// The colour's name; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub name: Label,
    /// The colour, if it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub colour: Option<Srgb>,
    /// The family the range puts it in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub family: Option<FamilyId>,
    /// Whether its colour changes along the thread.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub variegated: bool,
}

/// A maker's range with the shades that are known, in natural order of their numbers.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Range {
    /// Which range.
    pub id: RangeId,
    /// What it is called.
    pub name: Label,
    /// The range list; empty until the user imports one.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub shades: BTreeMap<Number, Shade>,
    /// What kind of thread it is, and how it is sold; a card may say otherwise.
    #[serde(default, skip_serializing_if = "PutUp::is_usual")]
    pub put_up: PutUp,
}
