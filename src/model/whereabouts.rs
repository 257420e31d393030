//! Where a card is now, which is not the same as where it belongs.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::board::HookRef;
use super::ids::RingId;
use super::label::Label;

/// The one place a card is in.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Whereabouts {
    /// On a hook of a board; not always the hook it belongs on.
    Hook {
        /// Which hook.
        hook: HookRef,
    },
    /// On a project ring.
    Ring {
        /// Which ring.
        ring: RingId,
    },
    /// In the hand, in the middle of a re-hang.
    Hand,
    /// Declared missing.
    Missing {
        /// Where it was before.
        last_seen: LastSeen,
    },
    /// Somewhere the program does not keep.
    Elsewhere {
        /// Where, in the user's words.
        note: Label,
    },
    /// In the tray: owned, and not hung yet.
    Unhung,
}

/// Where a missing card was before it went missing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LastSeen {
    /// On this hook.
    Hook(HookRef),
    /// On this ring.
    Ring(RingId),
    /// In the hand, in the tray or elsewhere.
    Loose,
}

impl Whereabouts {
    /// The ring it is on, if any.
    #[must_use]
    pub const fn ring(&self) -> Option<RingId> {
        match self {
            Self::Ring { ring } => Some(*ring),
            _ => None,
        }
    }

    /// The hook it hangs on, if any.
    #[must_use]
    pub const fn hook(&self) -> Option<HookRef> {
        match self {
            Self::Hook { hook } => Some(*hook),
            _ => None,
        }
    }

    /// Whether it is where it can be hung from without being fetched: on the wall, in the tray or in
    /// the hand.
    #[must_use]
    pub const fn is_at_hand(&self) -> bool {
        matches!(self, Self::Hook { .. } | Self::Unhung | Self::Hand)
    }

    /// What to remember if it goes missing from here.
    #[must_use]
    pub const fn last_seen(&self) -> LastSeen {
        match self {
            Self::Hook { hook } => LastSeen::Hook(*hook),
            Self::Ring { ring } => LastSeen::Ring(*ring),
            Self::Missing { last_seen } => *last_seen,
            Self::Hand | Self::Elsewhere { .. } | Self::Unhung => LastSeen::Loose,
        }
    }
}

/// Where a card is, and since when.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Place {
    /// The place.
    #[serde(flatten)]
    pub at: Whereabouts,
    /// When it came there.
    pub since: Timestamp,
}
