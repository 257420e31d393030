//! A board in JSON, hook by hook.

use serde::Serialize;

use super::CardRef;
use crate::model::board::{Board, ReadingOrder};
use crate::stash::state::State;

/// A hook.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HookOut {
    /// Its name, such as C07.
    pub hook: String,
    /// How many cards go on it, blocked or not.
    pub cards_per_hook: u8,
    /// Why nothing may hang here.
    pub blocked: Option<String>,
    /// Whether a re-hang leaves it empty.
    pub reserved: bool,
    /// The cards at home here, in wanted order.
    pub homes: Vec<CardRef>,
}

/// A board, hooks in reading order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BoardOut {
    /// Its name.
    pub name: String,
    /// What its hooks begin with; may be empty.
    pub prefix: String,
    /// Rows.
    pub rows: u16,
    /// Columns.
    pub columns: u16,
    /// How many cards go on a usual hook.
    pub cards_per_hook: u8,
    /// The order the hooks are read in.
    pub reading: ReadingOrder,
    /// Every hook.
    pub hooks: Vec<HookOut>,
}

impl BoardOut {
    /// A board and the cards whose homes are there.
    #[must_use]
    pub fn of(state: &State, board: &Board) -> Self {
        let homes = |hook| match state.index().homes_on(hook) {
            // Most hooks have at most one card, which needs no sorting.
            [] => Vec::new(),
            [one] => state.card(*one).into_iter().collect(),
            _ => state.in_wanted_order(state.homes_on(hook)),
        };
        let hook = |hook| HookOut {
            hook: board.hook_name(hook),
            cards_per_hook: board.places_made(hook),
            blocked: board.blocked(hook).map(ToString::to_string),
            reserved: board.reserved(hook),
            homes: homes(hook)
                .iter()
                .map(|kept| CardRef::of(state, kept))
                .collect(),
        };
        Self {
            name: board.name.to_string(),
            prefix: board.prefix.to_string(),
            rows: board.rows,
            columns: board.columns,
            cards_per_hook: board.cards_per_hook,
            reading: board.reading,
            hooks: board.hooks().map(hook).collect(),
        }
    }
}
