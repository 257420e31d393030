//! Families: the groups of colours a wall is hung by.

use serde::{Deserialize, Serialize};

use super::ids::FamilyId;
use super::label::Label;

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
