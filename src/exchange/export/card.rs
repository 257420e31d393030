//! A card in JSON: its name, its place and its details.

use jiff::Timestamp;
use serde::Serialize;

use super::{Export, LotOut};
use crate::model::board::HookRef;
use crate::model::ring::{Ring, RingState};
use crate::model::whereabouts::{LastSeen, Loan, Whereabouts};
use crate::stash::state::{CardState, State};

/// A card's range, number and tag, which together name it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CardRef {
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
    /// Which of several cards of the number; that of its own card for a split card.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub tag: String,
    /// Only of a split card: the name of the card it was split from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub split_card_of: Option<String>,
    /// Only of a split card: its name, as every command takes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub called: Option<String>,
}

/// What kind of place a card is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum PlaceKind {
    /// On a hook.
    Hook,
    /// On a ring.
    Ring,
    /// In the hand, during a re-hang.
    Hand,
    /// Missing.
    Missing,
    /// Somewhere else, such as lent.
    Elsewhere,
    /// Owned and not hung yet.
    Unhung,
}

/// Where a card is now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WhereaboutsOut {
    /// What kind of place that is.
    pub kind: PlaceKind,
    /// The hook it hangs on, that it was last seen on, or where its ring hangs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hook: Option<String>,
    /// The project of the ring it is on, or was last seen on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring: Option<String>,
    /// Where it is, in the user's words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// To whom it is lent, and until when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loan: Option<Loan>,
    /// Of a missing card: where it was last seen, and with which cards.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_seen: Option<LastSeenOut>,
    /// Since when.
    #[cfg_attr(test, schemars(with = "crate::model::schema::Instant"))]
    pub since: Timestamp,
}

/// Where a missing card was last seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LastSeenOut {
    /// The hook.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hook: Option<String>,
    /// The project of the ring.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring: Option<String>,
    /// The cards that hung with it there, likeliest first.
    pub with: Vec<CompanionOut>,
}

/// A card that hung with a missing one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CompanionOut {
    /// Its name, as every command takes it.
    pub called: String,
    /// The hook it belongs on.
    pub home: Option<String>,
    /// Where it is now, in words that follow "it is".
    pub now: String,
}

/// A card.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CardOut {
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: String,
    /// Which of several cards of the number; that of its own card for a split card.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub tag: String,
    /// The colour's name; may be empty.
    pub name: String,
    /// The hook it belongs on.
    pub home: Option<String>,
    /// Where it is.
    pub whereabouts: WhereaboutsOut,
    /// The family's name; `null` where it has none.
    pub family: Option<String>,
    /// The colour, `#RRGGBB`.
    #[cfg_attr(test, schemars(with = "Option<crate::model::schema::Hex>"))]
    pub hex: Option<String>,
    /// Strands left of all lots, each as long as `cut_cm`.
    pub strands: u32,
    /// How long the lengths were cut, in centimetres.
    pub cut_cm: u16,
    /// What there is of each lot, on the card and beside it.
    pub thread: Vec<LotOut>,
    /// The note; may be empty.
    pub note: String,
    /// Its name, as every command takes it.
    pub called: String,
    /// Whether this is a split card, split from another of the same number.
    pub split_card: bool,
    /// The name of the card that a split card was split from.
    pub split_card_of: Option<String>,
    /// Whether every re-hang leaves it where it hangs: it is held, or its family is.
    pub held: bool,
    /// How many plain cards touching it counts as.
    pub effort: u16,
}

impl CardRef {
    /// The name of a card.
    #[must_use]
    pub fn of(state: &State, kept: &CardState) -> Self {
        Self {
            range: state.range_name(kept).to_owned(),
            number: kept.card.number.to_string(),
            tag: state.tag(kept).to_string(),
            split_card_of: split_card_of(state, kept),
            called: kept.card.parent.map(|_| state.card_name(kept)),
        }
    }
}

/// The name of the card that a split card was split from.
fn split_card_of(state: &State, kept: &CardState) -> Option<String> {
    let whole = state.card(kept.card.parent?)?;
    Some(state.card_name(whole))
}

impl WhereaboutsOut {
    /// The place of a card.
    #[must_use]
    pub fn of(export: Export<'_>, kept: &CardState) -> Self {
        let state = export.state;
        let hook_name = |hook: HookRef| Some(state.hook_name(hook));
        let ring = |id| state.ring(id);
        let project = |ring: Option<&Ring>| ring.map(|ring| ring.project.to_string());
        let mut out = Self {
            kind: PlaceKind::Unhung,
            hook: None,
            ring: None,
            note: None,
            loan: None,
            last_seen: None,
            since: kept.place.since,
        };
        match &kept.place.at {
            Whereabouts::Hook { hook } => {
                out.kind = PlaceKind::Hook;
                out.hook = hook_name(*hook);
            }
            Whereabouts::Ring { ring: id } => {
                out.kind = PlaceKind::Ring;
                out.ring = project(ring(*id));
                if let Some(RingState::Hanging { hook, .. }) = ring(*id).map(|ring| ring.state) {
                    out.hook = hook_name(hook);
                }
            }
            Whereabouts::Hand => out.kind = PlaceKind::Hand,
            Whereabouts::Missing { last_seen } => {
                out.kind = PlaceKind::Missing;
                match last_seen {
                    LastSeen::Hook(hook) => out.hook = hook_name(*hook),
                    LastSeen::Ring(id) => out.ring = project(ring(*id)),
                    LastSeen::Loose => {}
                }
                let with = state.last_seen_with(kept).into_iter();
                let with = with.map(|other| CompanionOut {
                    called: state.card_name(other),
                    home: other.home.map(|hook| state.hook_name(hook)),
                    now: (export.place)(&state.place_of(other)),
                });
                out.last_seen = Some(LastSeenOut {
                    hook: out.hook.clone(),
                    ring: out.ring.clone(),
                    with: with.collect(),
                });
            }
            Whereabouts::Elsewhere { note, loan } => {
                out.kind = PlaceKind::Elsewhere;
                out.note = Some(note.to_string());
                out.loan.clone_from(loan);
            }
            Whereabouts::Unhung => {}
        }
        out
    }
}

impl CardOut {
    /// The details of a card.
    #[must_use]
    pub fn of(export: Export<'_>, kept: &CardState) -> Self {
        let state = export.state;
        let card = &kept.card;
        let family = state.family_name(kept);
        Self {
            range: state.range_name(kept).to_owned(),
            number: card.number.to_string(),
            tag: state.tag(kept).to_string(),
            name: card.name.to_string(),
            home: kept.home.map(|hook| state.hook_name(hook)),
            whereabouts: WhereaboutsOut::of(export, kept),
            family: (!family.is_empty()).then(|| family.to_owned()),
            hex: card.colour.map(|colour| colour.to_string()),
            strands: kept.strands().0,
            cut_cm: card.cut_cm,
            thread: LotOut::all(state, kept),
            note: card.note.to_string(),
            called: state.card_name(kept),
            split_card: card.parent.is_some(),
            split_card_of: split_card_of(state, kept),
            held: state.stays(kept),
            effort: card.touch.effort(),
        }
    }
}
