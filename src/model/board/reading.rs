//! The order in which the hooks of a board are read.

use serde::{Deserialize, Serialize};

use super::{Board, HookRef};

/// The order in which the eye and the hand go over a board.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum ReadingOrder {
    /// Row by row from the top, each from the left.
    #[default]
    Rows,
    /// Column by column from the left, each from the top.
    Columns,
    /// Row by row, the first from the left, the next from the right, and so on.
    ThereAndBack,
}

impl Board {
    /// Every hook in reading order.
    pub fn hooks(&self) -> impl Iterator<Item = HookRef> + '_ {
        let count = u32::from(self.rows) * u32::from(self.columns);
        (0..count).map(|index| self.hook_at(index))
    }

    /// The hook that comes at `index` in reading order, counted from 0; no hook of the board where
    /// there are not so many.
    #[must_use]
    pub fn hook_at(&self, index: u32) -> HookRef {
        let (rows, columns) = (u32::from(self.rows), u32::from(self.columns));
        let (row, column) = match self.reading {
            ReadingOrder::Rows => (index / columns, index % columns),
            ReadingOrder::Columns => (index % rows, index / rows),
            ReadingOrder::ThereAndBack => {
                let (row, column) = (index / columns, index % columns);
                let back = row % 2 == 1;
                (row, if back { columns - 1 - column } else { column })
            }
        };
        // Both are below the u16 they were divided by.
        #[allow(clippy::cast_possible_truncation)]
        self.hook(row as u16, column as u16)
    }

    /// Where a hook comes in reading order, counted from 0.
    #[must_use]
    pub fn reading_index(&self, hook: HookRef) -> u32 {
        let (row, column) = (u32::from(hook.row), u32::from(hook.column));
        let (rows, columns) = (u32::from(self.rows), u32::from(self.columns));
        match self.reading {
            ReadingOrder::Rows => row * columns + column,
            ReadingOrder::Columns => column * rows + row,
            ReadingOrder::ThereAndBack if row % 2 == 1 => {
                row * columns + columns.saturating_sub(1 + column)
            }
            ReadingOrder::ThereAndBack => row * columns + column,
        }
    }
}
