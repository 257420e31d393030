//! A project ring: the cards pulled for one project, in the order of its pattern's key.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::board::HookRef;
use super::ids::{CardId, RangeId, RingId};
use super::label::Label;
use super::number::Number;

/// One line of a pattern's key.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct KeyEntry {
    /// The symbol printed in the chart; may be empty.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub symbol: Label,
    /// The range.
    pub range: RangeId,
    /// The number.
    pub number: Number,
    /// Strands used together in the needle; 0 where the key does not say.
    #[serde(default)]
    pub strands: u8,
    /// Full stitches counted in the chart; 0 where the key does not say.
    #[serde(default)]
    pub stitches: u32,
}

/// What has become of a ring.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum RingState {
    /// In use.
    Live,
    /// Left hanging on a hook.
    Parked {
        /// Where.
        hook: HookRef,
        /// Since when.
        since: Timestamp,
    },
    /// The project is over and every card is accounted for.
    Closed {
        /// When it closed.
        at: Timestamp,
    },
}

/// A project ring. Which cards are on it now is said by the cards themselves.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Ring {
    /// Which ring.
    pub id: RingId,
    /// The project's name.
    pub project: Label,
    /// The pattern's key, in pattern order; may be empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub key: Vec<KeyEntry>,
    /// Every card that went out on it since it was opened, in the order of taking.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub went_out: Vec<CardId>,
    /// Live, parked or closed.
    #[serde(flatten)]
    pub state: RingState,
    /// When it was opened.
    pub opened: Timestamp,
}

impl Ring {
    /// Whether the ring is closed.
    #[must_use]
    pub const fn is_closed(&self) -> bool {
        matches!(self.state, RingState::Closed { .. })
    }
}
