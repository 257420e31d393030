//! Where a card is now, which isn't always where it belongs; and the re-hang in progress.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use strum::EnumDiscriminants;

use super::board::HookRef;
use super::ids::{CardId, RingId};
use super::label::{Label, Name};

/// The one place a card is in.
///
/// Match on every place, without a wildcard arm: so the compiler asks what a new place means wherever
/// it matters. `tests/outside/layers.rs` holds that.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, EnumDiscriminants)]
#[cfg_attr(test, derive(strum::EnumCount))]
#[serde(tag = "kind", rename_all = "snake_case")]
#[strum_discriminants(
    name(Kind),
    vis(),
    derive(Deserialize),
    serde(rename_all = "snake_case")
)]
pub enum Whereabouts {
    /// On a hook, not always the one it belongs on.
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
    /// Somewhere the program doesn't track.
    Elsewhere {
        /// Where, in the user's words; may be empty for a loan.
        note: Label,
        /// Who has it, if it is lent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        loan: Option<Loan>,
    },
    /// To hang: owned, and not hung yet.
    Unhung,
}

/// A card lent to somebody.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Loan {
    /// To whom.
    #[cfg_attr(test, schemars(with = "String"))]
    pub whom: Name,
    /// The day it is to be back by, if one was agreed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Day>"))]
    pub until: Option<Date>,
}

/// Where a missing card was before it went missing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LastSeen {
    /// On this hook.
    Hook(HookRef),
    /// On this ring.
    Ring(RingId),
    /// In the hand, to hang or elsewhere.
    Loose,
}

/// A card's place for display, with names as they were at that moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CardPlace {
    /// On the hook it belongs on.
    Home(String),
    /// On another hook.
    Hook(String),
    /// On a ring.
    Ring {
        /// The project.
        project: String,
        /// The hook the ring hangs on, if it does.
        hangs_on: Option<String>,
    },
    /// In the hand, in the middle of a re-hang.
    Hand,
    /// Missing.
    Missing(LastPlace),
    /// Somewhere the program doesn't track.
    Elsewhere {
        /// Where; may be empty for a loan.
        note: Label,
        /// Who has it, if it is lent.
        loan: Option<Loan>,
    },
    /// To hang. A split card can't hang and waits to be rejoined with this card.
    ToHang {
        /// The card it was split from, for a split card.
        rejoins: Option<String>,
    },
}

/// Where a missing card was last seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LastPlace {
    /// On this hook.
    Hook(String),
    /// On the ring of this project.
    Ring(String),
    /// Unknown.
    Unknown,
}

impl CardPlace {
    /// Whether it is on a ring.
    #[must_use]
    pub const fn is_on_ring(&self) -> bool {
        matches!(self, Self::Ring { .. })
    }
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

    /// The ring it is on, or was last seen on.
    #[must_use]
    pub const fn last_ring(&self) -> Option<RingId> {
        match self.last_seen() {
            LastSeen::Ring(ring) => Some(ring),
            LastSeen::Hook(_) | LastSeen::Loose => None,
        }
    }

    /// The loan, if it is lent.
    #[must_use]
    pub const fn loan(&self) -> Option<&Loan> {
        match self {
            Self::Elsewhere { loan, .. } => loan.as_ref(),
            _ => None,
        }
    }

    /// Whether it can be hung without fetching it first: on the wall, to hang, or in the hand.
    #[must_use]
    pub const fn can_be_hung(&self) -> bool {
        match self {
            Self::Hook { .. } | Self::Unhung | Self::Hand => true,
            Self::Ring { .. } | Self::Missing { .. } | Self::Elsewhere { .. } => false,
        }
    }

    /// Whether it's declared missing.
    #[must_use]
    pub const fn is_missing(&self) -> bool {
        matches!(self, Self::Missing { .. })
    }

    /// Whether it has to turn up, or be brought back, before anything else can be done with it.
    #[must_use]
    pub const fn must_be_found(&self) -> bool {
        match self {
            Self::Missing { .. } | Self::Elsewhere { .. } => true,
            Self::Hook { .. } | Self::Ring { .. } | Self::Hand | Self::Unhung => false,
        }
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
#[serde(try_from = "Told")]
pub struct Place {
    /// The place.
    #[serde(flatten)]
    pub at: Whereabouts,
    /// When it got there.
    pub since: Timestamp,
}

/// The record's form of a place, with all fields at one level. serde doesn't have to buffer any
/// until it knows the kind.
#[derive(Deserialize)]
struct Told {
    kind: Kind,
    hook: Option<HookRef>,
    ring: Option<RingId>,
    last_seen: Option<LastSeen>,
    note: Option<Label>,
    loan: Option<Loan>,
    since: Timestamp,
}

impl TryFrom<Told> for Place {
    type Error = &'static str;

    fn try_from(mut told: Told) -> Result<Self, Self::Error> {
        let at = match told.kind {
            Kind::Hook => Whereabouts::Hook {
                hook: told.hook.ok_or("missing field `hook`")?,
            },
            Kind::Ring => Whereabouts::Ring {
                ring: told.ring.ok_or("missing field `ring`")?,
            },
            Kind::Hand => Whereabouts::Hand,
            Kind::Missing => Whereabouts::Missing {
                last_seen: told.last_seen.ok_or("missing field `last_seen`")?,
            },
            Kind::Elsewhere => Whereabouts::Elsewhere {
                note: told.note.ok_or("missing field `note`")?,
                loan: told.loan.take(),
            },
            Kind::Unhung => Whereabouts::Unhung,
        };
        if told.loan.is_some() {
            return Err("a loan of a card that is not elsewhere");
        }
        Ok(Self {
            at,
            since: told.since,
        })
    }
}

/// The goal of a re-hang, and its progress.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Underway {
    /// The target hooks of the cards that didn't belong on them at the start.
    pub homes: Vec<(CardId, HookRef)>,
    /// Steps planned at the start. What happens meanwhile can change the number.
    pub steps: u32,
    /// Steps done.
    pub done: u32,
    /// When it started.
    pub begun: Timestamp,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_reads_back_as_written() {
        for text in [
            r#"{"kind":"hook","hook":"0000000000000001/0.3","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"ring","ring":"0000000000000002","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"hand","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"missing","last_seen":{"hook":"0000000000000001/0.3"},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"missing","last_seen":"loose","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","note":"at the framer's","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","note":"","loan":{"whom":"a friend"},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","note":"by post","loan":{"whom":"a friend","until":"2026-11-01"},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"unhung","since":"2001-09-09T01:46:40Z"}"#,
        ] {
            let place: Place = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&place).unwrap(), text);
        }
        for text in [
            r#"{"kind":"hook","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"sky","since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"hand"}"#,
            r#"{"kind":"hand","loan":{"whom":"a friend"},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","loan":{"whom":"a friend"},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","note":"","loan":{"whom":" "},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","note":"","loan":{},"since":"2001-09-09T01:46:40Z"}"#,
            r#"{"kind":"elsewhere","note":"","loan":{"whom":"a friend","until":"2026-02-30"},"since":"2001-09-09T01:46:40Z"}"#,
        ] {
            assert!(serde_json::from_str::<Place>(text).is_err(), "{text}");
        }
    }
}
