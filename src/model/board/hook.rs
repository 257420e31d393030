//! Which hook: its board, row and column, and how the record writes it.

use std::fmt;
use std::str::FromStr;

use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::model::ids::BoardId;

/// A hook's place on a board: row and column counted from 0 at the top left.
///
/// Written `BOARD/ROW.COLUMN` in the record, such as `0000000c9f3a27b1/2.6`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct HookRef {
    /// Which board.
    pub board: BoardId,
    /// Row from the top, from 0.
    pub row: u16,
    /// Column from the left, from 0.
    pub column: u16,
}

/// The text does not name a hook.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("not_a_hook")]
pub struct ParseHookError;

impl fmt::Display for HookRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}.{}", self.board, self.row, self.column)
    }
}

impl FromStr for HookRef {
    type Err = ParseHookError;

    fn from_str(text: &str) -> Result<Self, ParseHookError> {
        let parts = || {
            let (board, rest) = text.split_once('/')?;
            let (row, column) = rest.split_once('.')?;
            Some(Self {
                board: board.parse().ok()?,
                row: row.parse().ok()?,
                column: column.parse().ok()?,
            })
        };
        parts().ok_or(ParseHookError)
    }
}

impl Serialize for HookRef {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

struct HookText;

impl Visitor<'_> for HookText {
    type Value = HookRef;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("BOARD/ROW.COLUMN")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<HookRef, E> {
        text.parse().map_err(E::custom)
    }
}

impl<'de> Deserialize<'de> for HookRef {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_str(HookText)
    }
}
