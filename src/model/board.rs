//! A wall board: rows and columns of hooks, each with a name, places and perhaps a reason it is
//! blocked.

mod hook;
mod hook_names;
mod reading;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

pub use self::hook::{HookRef, ParseHookError};
pub use self::reading::ReadingOrder;
use super::ids::BoardId;
use super::label::Label;

/// The most hooks one board may have.
pub const MOST_HOOKS: u32 = 100_000;
/// The most places one hook may have.
pub const MOST_CARDS_PER_HOOK: u8 = 50;
/// The most rows a board may have: marks run from A to ZZ.
pub const MOST_ROWS: u16 = 702;
/// The most columns a board may have.
pub const MOST_COLUMNS: u16 = 9_999;

/// How one hook differs from the rest of its board.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct HookSpec {
    /// Places on this hook, where not the board's usual number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cards_per_hook: Option<u8>,
    /// Why nothing may hang here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blocked: Option<Label>,
    /// Whether a re-hang leaves this hook empty. Cards can be hung here by hand.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub reserved: bool,
}

/// A hook that differs, for the list in the record.
#[derive(Clone, Serialize, Deserialize)]
struct SpecialHook {
    row: u16,
    column: u16,
    #[serde(flatten)]
    spec: HookSpec,
}

/// A wall board.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Board {
    /// Which board.
    pub id: BoardId,
    /// What it is called.
    pub name: Label,
    /// What its hooks begin with; empty for a first board.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub prefix: Label,
    /// Rows, at least 1.
    pub rows: u16,
    /// Columns, at least 1.
    pub columns: u16,
    /// Places on a usual hook, at least 1.
    pub cards_per_hook: u8,
    /// The order the hooks are read in.
    #[serde(default)]
    pub reading: ReadingOrder,
    /// Hooks that differ, by row and column.
    #[serde(
        default,
        skip_serializing_if = "BTreeMap::is_empty",
        with = "special_hooks"
    )]
    pub special: BTreeMap<(u16, u16), HookSpec>,
}

mod special_hooks {
    use super::{BTreeMap, Deserialize, HookSpec, SpecialHook};
    use serde::{Deserializer, Serializer};

    pub fn serialize<S: Serializer>(
        special: &BTreeMap<(u16, u16), HookSpec>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        to.collect_seq(special.iter().map(|(&(row, column), spec)| SpecialHook {
            row,
            column,
            spec: spec.clone(),
        }))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<BTreeMap<(u16, u16), HookSpec>, D::Error> {
        let list = Vec::<SpecialHook>::deserialize(from)?;
        Ok(list
            .into_iter()
            .map(|hook| ((hook.row, hook.column), hook.spec))
            .collect())
    }
}

/// The measures asked for cannot be a board.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseBoardError {
    /// No name.
    #[error("board_without_name")]
    NoName,
    /// Rows or columns out of bounds.
    #[error("board_size")]
    Size {
        /// Rows asked for.
        rows: u16,
        /// Columns asked for.
        columns: u16,
    },
    /// Places out of bounds.
    #[error("cards_per_hook")]
    CardsPerHook(u8),
}

impl Board {
    /// Checks the measures.
    ///
    /// # Errors
    /// When the name is empty or a measure is out of bounds.
    pub fn check(&self) -> Result<(), ParseBoardError> {
        if self.name.is_empty() {
            return Err(ParseBoardError::NoName);
        }
        let (rows, columns) = (self.rows, self.columns);
        if rows == 0
            || columns == 0
            || rows > MOST_ROWS
            || columns > MOST_COLUMNS
            || u32::from(rows) * u32::from(columns) > MOST_HOOKS
        {
            return Err(ParseBoardError::Size { rows, columns });
        }
        let odd = self.special.values().filter_map(|spec| spec.cards_per_hook);
        for cards_per_hook in std::iter::once(self.cards_per_hook).chain(odd) {
            if cards_per_hook == 0 || cards_per_hook > MOST_CARDS_PER_HOOK {
                return Err(ParseBoardError::CardsPerHook(cards_per_hook));
            }
        }
        Ok(())
    }

    /// Whether the board has that hook.
    #[must_use]
    pub fn has(&self, hook: HookRef) -> bool {
        hook.board == self.id && hook.row < self.rows && hook.column < self.columns
    }

    /// The hook at a row and column, whether or not it is on the board.
    #[must_use]
    pub const fn hook(&self, row: u16, column: u16) -> HookRef {
        HookRef {
            board: self.id,
            row,
            column,
        }
    }

    /// Why nothing may hang on a hook, if it is blocked.
    #[must_use]
    pub fn blocked(&self, hook: HookRef) -> Option<&Label> {
        self.special
            .get(&(hook.row, hook.column))
            .and_then(|spec| spec.blocked.as_ref())
    }

    /// Whether a re-hang leaves a hook empty.
    #[must_use]
    pub fn reserved(&self, hook: HookRef) -> bool {
        self.special
            .get(&(hook.row, hook.column))
            .is_some_and(|spec| spec.reserved)
    }

    /// Places on a hook that are made for cards, blocked or not.
    #[must_use]
    pub fn places_made(&self, hook: HookRef) -> u8 {
        self.special
            .get(&(hook.row, hook.column))
            .and_then(|spec| spec.cards_per_hook)
            .unwrap_or(self.cards_per_hook)
    }

    /// Places that may be used on a hook: 0 where it is blocked or not on the board.
    #[must_use]
    pub fn capacity(&self, hook: HookRef) -> u8 {
        if self.has(hook) && self.blocked(hook).is_none() {
            self.places_made(hook)
        } else {
            0
        }
    }

    /// Places that may be used on all hooks together. O(hooks that differ).
    #[must_use]
    pub fn capacity_in_all(&self) -> usize {
        let usual = usize::from(self.cards_per_hook);
        let all = usize::from(self.rows) * usize::from(self.columns) * usual;
        let special = self.special.keys();
        let hooks = special.map(|&(row, column)| self.hook(row, column));
        hooks.filter(|&hook| self.has(hook)).fold(all, |all, hook| {
            all - usual + usize::from(self.capacity(hook))
        })
    }
}

#[cfg(test)]
mod tests;
