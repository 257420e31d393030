//! Which hook: its board, row and column, and how the record writes it.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::language::say;
use crate::model::ids::BoardId;

/// A hook's place on a board: row and column counted from 0 at the top left.
///
/// Written `BOARD/ROW.COLUMN` in the record, such as `1/2.6`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
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
#[error("{}", say!("'{it}' does not name a hook", it = _0))]
pub struct NotAHook(String);

impl fmt::Display for HookRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}.{}", self.board, self.row, self.column)
    }
}

impl FromStr for HookRef {
    type Err = NotAHook;

    fn from_str(text: &str) -> Result<Self, NotAHook> {
        let parts = || {
            let (board, rest) = text.split_once('/')?;
            let (row, column) = rest.split_once('.')?;
            Some(Self {
                board: BoardId(board.parse().ok()?),
                row: row.parse().ok()?,
                column: column.parse().ok()?,
            })
        };
        parts().ok_or_else(|| NotAHook(text.to_owned()))
    }
}

impl TryFrom<String> for HookRef {
    type Error = NotAHook;

    fn try_from(text: String) -> Result<Self, NotAHook> {
        text.parse()
    }
}

impl From<HookRef> for String {
    fn from(hook: HookRef) -> Self {
        hook.to_string()
    }
}
