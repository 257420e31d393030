//! A stash as rows of a card list, and as one JSON object.
//!
//! The JSON object is
//! `{"homehook_export":1,"cards":[...],"boards":[...],"rings":[...],"matches":[...]}`, with the
//! element types [`CardOut`], [`BoardOut`], [`RingOut`] and [`MatchOut`]. Fields may be added;
//! renaming one requires a new number.

mod board;
mod card;
mod ring;
mod thread;

use serde::Serialize;

pub use self::board::{BoardOut, HookOut};
pub use self::card::{CardOut, CardRef, CompanionOut, LastSeenOut, PlaceKind, WhereaboutsOut};
pub use self::ring::{ColourOut, KeyLineOut, NotionOut, RingOut, RingUse};
pub use self::thread::{AmountOut, LotOut, LowOut, ThereOut};
use super::cards::{card_rows, write_cards_csv};
use crate::model::matches::ColourMatch;
use crate::model::whereabouts::CardPlace;
use crate::stash::projects::low::LowLine;
use crate::stash::state::State;

/// The stash as a card list that can be imported again.
#[must_use]
pub fn as_csv(state: &State) -> String {
    write_cards_csv(&card_rows(state))
}

/// The stash as one pretty-printed JSON object.
///
/// # Errors
/// When it can't be serialized, which would be a bug.
pub fn as_json(export: Export<'_>) -> serde_json::Result<String> {
    let mut text = serde_json::to_string_pretty(&Stash::of(export))?;
    text.push('\n');
    Ok(text)
}

/// A stash, and the functions that word the few sentences in its JSON, since this layer has none.
#[derive(Clone, Copy)]
pub struct Export<'s> {
    /// The stash.
    pub state: &'s State,
    /// The place of a card, to follow "it is".
    pub place: fn(&CardPlace) -> String,
    /// The warning that a colour runs low on a ring.
    pub low: fn(&State, &LowLine) -> String,
}

/// The whole stash.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Stash {
    /// The form of this object; 1.
    pub homehook_export: u8,
    /// Every card, in wanted order.
    pub cards: Vec<CardOut>,
    /// Every board.
    pub boards: Vec<BoardOut>,
    /// Every ring.
    pub rings: Vec<RingOut>,
    /// Every match of two colours, by the conversion lists that were imported.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub matches: Vec<MatchOut>,
}

/// Two colours that match.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MatchOut {
    /// The range of the first.
    pub range: String,
    /// Its number.
    pub number: String,
    /// The range of the other.
    pub match_range: String,
    /// Its number.
    pub match_number: String,
}

impl MatchOut {
    /// A match of two colours.
    #[must_use]
    pub fn of(state: &State, of: &ColourMatch) -> Self {
        let [one, other] = of.colours();
        let [one, other] = [one, other].map(|colour| ColourOut::of(state, colour));
        Self {
            range: one.range,
            number: one.number,
            match_range: other.range,
            match_number: other.number,
        }
    }
}

impl Stash {
    /// The whole stash. O(cards · log cards + hooks).
    #[must_use]
    pub fn of(export: Export<'_>) -> Self {
        let state = export.state;
        let in_order = state.in_wanted_order(state.cards());
        Self {
            homehook_export: 1,
            cards: in_order
                .iter()
                .map(|kept| CardOut::of(export, kept))
                .collect(),
            boards: state
                .boards()
                .map(|board| BoardOut::of(state, board))
                .collect(),
            rings: state
                .rings()
                .map(|ring| RingOut::of(export, ring))
                .collect(),
            matches: state
                .matches()
                .iter()
                .map(|of| MatchOut::of(state, &of))
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests;
