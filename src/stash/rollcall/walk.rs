//! What there should be to see on a hook.

use crate::model::board::{Board, HookRef, ReadingOrder};
use crate::stash::state::{CardState, State};

/// A hook of the walk, and what the record says of it. Cards in wanted order.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Stop<'a> {
    /// The hook.
    pub hook: HookRef,
    /// The cards that hang there, whether or not they live there.
    pub hang: Vec<&'a CardState>,
    /// The cards that live there and are not there.
    pub out: Vec<&'a CardState>,
}

impl Stop<'_> {
    /// Whether no card hangs there or lives there.
    #[must_use]
    pub const fn is_free(&self) -> bool {
        self.hang.is_empty() && self.out.is_empty()
    }
}

/// Whether [`stop`] would be free, without looking at the cards.
#[must_use]
pub fn is_free(state: &State, hook: HookRef) -> bool {
    let index = state.index();
    index.hanging_on(hook).is_empty() && index.homes_on(hook).is_empty()
}

/// What the record says of a hook.
#[must_use]
pub fn stop(state: &State, hook: HookRef) -> Stop<'_> {
    let here = |kept: &&CardState| kept.place.at.hook() == Some(hook);
    Stop {
        hook,
        hang: state.in_wanted_order(state.hanging_on(hook)),
        out: state.in_wanted_order(state.homes_on(hook).filter(|kept| !here(kept))),
    }
}

/// The row of a hook as a person walks it; the column, where the board is read in columns.
#[must_use]
pub fn run_name(board: &Board, hook: HookRef) -> String {
    match board.reading {
        ReadingOrder::Columns => format!(
            "Column {prefix}{column}",
            prefix = board.prefix,
            column = u32::from(hook.column) + 1
        ),
        ReadingOrder::Rows | ReadingOrder::ThereAndBack => {
            let letters = Board::row_letters(hook.row);
            format!("Row {prefix}{letters}", prefix = board.prefix)
        }
    }
}

/// Whether two hooks are in the same row as a person walks it; see [`run_name`].
#[must_use]
pub fn same_run(state: &State, a: HookRef, b: HookRef) -> bool {
    let columns = (state.board(a.board)).is_some_and(|b| b.reading == ReadingOrder::Columns);
    a.board == b.board
        && if columns {
            a.column == b.column
        } else {
            a.row == b.row
        }
}
