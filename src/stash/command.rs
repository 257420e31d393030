//! Commands: each looks at the state and returns an event, or a refusal with the reason.

pub mod board;
pub mod buy;
pub mod card;
pub mod fabric;
pub mod family;
pub mod hang;
pub mod hold;
pub mod import;
pub mod key;
pub mod progress;
pub mod range;
pub mod rehang;
pub mod ring;
pub mod rollcall;
pub mod thread;

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::event::Change;
use super::refusal::Refusal;
use super::state::{CardState, State};
use crate::model::ids::CardId;
use crate::model::whereabouts::{Place, Whereabouts};

/// The card with an id.
///
/// # Errors
/// When it isn't in the stash.
fn kept(state: &State, card: CardId) -> Result<&CardState, Refusal> {
    state.card(card).ok_or_else(|| Refusal::UnknownCard {
        name: card.to_string(),
        hint: None,
    })
}

/// Moves a card to another place now.
fn place(kept: &CardState, at: Whereabouts, now: Timestamp) -> Change {
    Change::Place {
        card: kept.card.id,
        before: Some(kept.place.clone()),
        after: Some(Place { at, since: now }),
    }
}

/// Where a card goes when it is put away: on its hook, or to hang if it has none.
fn at_home(kept: &CardState) -> Whereabouts {
    kept.home
        .map_or(Whereabouts::Unhung, |hook| Whereabouts::Hook { hook })
}

/// A count for an act. It saturates, but nobody names more than four thousand million cards.
fn count<T>(list: &[T]) -> u32 {
    u32::try_from(list.len()).unwrap_or(u32::MAX)
}

/// Each card once, in the order of first mention.
fn once(cards: &[CardId]) -> Vec<CardId> {
    let mut seen = BTreeSet::new();
    cards
        .iter()
        .copied()
        .filter(|&id| seen.insert(id))
        .collect()
}
