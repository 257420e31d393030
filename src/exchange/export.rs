//! A stash as rows of a card list, and as one JSON object.
//!
//! The JSON object is `{"homehook_export":1,"cards":[...],"boards":[...],"rings":[...],"matches":[...]}`,
//! where a card is a [`CardOut`], a board a [`BoardOut`], a ring a [`RingOut`] and a match a [`MatchOut`]. Fields may be added to
//! it; none is renamed without another number.

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

/// The stash as one JSON object, in lines.
///
/// # Errors
/// When it cannot be told in JSON: a fault of the program.
pub fn as_json(export: Export<'_>) -> serde_json::Result<String> {
    let mut text = serde_json::to_string_pretty(&Stash::of(export))?;
    text.push('\n');
    Ok(text)
}

/// A stash, and what makes the few sentences that JSON has of it, since this layer makes none.
#[derive(Clone, Copy)]
pub struct Export<'s> {
    /// The stash.
    pub state: &'s State,
    /// Where a card is, to follow "it is".
    pub place: fn(&CardPlace) -> String,
    /// That a colour runs low on a ring.
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
    /// A match.
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
    /// All that a stash holds. O(cards · log cards + hooks).
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
