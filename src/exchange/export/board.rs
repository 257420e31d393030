//! A board in JSON, hook by hook.

use serde::Serialize;

use super::CardRef;
use crate::model::board::{Board, ReadingOrder};
use crate::stash::state::State;

/// A hook.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HookOut {
    /// Its mark.
    pub mark: String,
    /// Places made on it, whether or not it is blocked.
    pub places: u8,
    /// Why nothing may hang here.
    pub blocked: Option<String>,
    /// Whether a re-hang leaves it empty.
    pub kept_free: bool,
    /// The cards at home here, in wanted order.
    pub homes: Vec<CardRef>,
}

/// A board, hooks in reading order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BoardOut {
    /// Its name.
    pub name: String,
    /// What its marks begin with; may be empty.
    pub prefix: String,
    /// Rows.
    pub rows: u16,
    /// Columns.
    pub columns: u16,
    /// Places on a usual hook.
    pub places: u8,
    /// The order the hooks are read in.
    pub reading: ReadingOrder,
    /// Every hook.
    pub hooks: Vec<HookOut>,
}

impl BoardOut {
    /// A board and who lives on it.
    #[must_use]
    pub fn of(state: &State, board: &Board) -> Self {
        let homes = |hook| match state.index().homes_on(hook) {
            // Most hooks have one card or none, which need no sorting.
            [] => Vec::new(),
            [one] => state.card(*one).into_iter().collect(),
            _ => state.in_wanted_order(state.homes_on(hook)),
        };
        let hook = |hook| HookOut {
            mark: board.mark(hook),
            places: board.places_made(hook),
            blocked: board.blocked(hook).map(ToString::to_string),
            kept_free: board.kept_free(hook),
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
            places: board.places,
            reading: board.reading,
            hooks: board.hooks().map(hook).collect(),
        }
    }
}
