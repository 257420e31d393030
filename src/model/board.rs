//! A wall board: rows and columns of hooks, their names and their reading order. Each hook has room
//! for a number of cards and can be blocked.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::ids::BoardId;
use super::label::Label;

/// The position of a hook: row and column, counted from 0 at the top left.
///
/// The record writes it as `BOARD/ROW.COLUMN`, such as `0000000c9f3a27b1/2.6`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct HookRef {
    /// Which board.
    pub board: BoardId,
    /// Row from the top, from 0.
    pub row: u16,
    /// Column from the left, from 0.
    pub column: u16,
}

/// The text doesn't name a hook.
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

/// The most hooks one board may have.
pub const MOST_HOOKS: u32 = 100_000;
/// The most cards one hook may have room for.
pub const MOST_CARDS_PER_HOOK: u8 = 50;
/// The most rows a board may have: row letters run from A to ZZ.
pub const MOST_ROWS: u16 = 702;
/// The most columns a board may have.
pub const MOST_COLUMNS: u16 = 9_999;

/// How one hook differs from the rest of its board.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
pub struct HookSpec {
    /// Cards this hook takes, where that isn't the board's usual number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cards_per_hook: Option<u8>,
    /// Why no card may hang here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blocked: Option<Label>,
    /// Whether a re-hang leaves this hook empty. Cards can be hung here by hand.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub reserved: bool,
}

/// A hook that differs, as it is listed in the record.
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
    /// The display name.
    pub name: Label,
    /// The start of its hook names; empty for a first board.
    #[serde(default, skip_serializing_if = "Label::is_empty")]
    pub prefix: Label,
    /// Rows, at least 1.
    pub rows: u16,
    /// Columns, at least 1.
    pub columns: u16,
    /// Cards a usual hook takes, at least 1.
    pub cards_per_hook: u8,
    /// The reading order of its hooks.
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

/// The requested dimensions don't make a board.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ParseBoardError {
    /// No name.
    #[error("board_without_name")]
    NoName,
    /// Rows or columns are out of bounds.
    #[error("board_size")]
    Size {
        /// Requested rows.
        rows: u16,
        /// Requested columns.
        columns: u16,
    },
    /// Cards per hook are out of bounds.
    #[error("cards_per_hook")]
    CardsPerHook(u8),
}

impl Board {
    /// Checks the name and the dimensions.
    ///
    /// # Errors
    /// When the name is empty or a dimension is out of bounds.
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

    /// The hook at a row and column, even if the board has no such hook.
    #[must_use]
    pub const fn hook(&self, row: u16, column: u16) -> HookRef {
        HookRef {
            board: self.id,
            row,
            column,
        }
    }

    /// Why a hook is blocked, if it is.
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

    /// How many cards a hook is made for, blocked or not.
    #[must_use]
    pub fn places_made(&self, hook: HookRef) -> u8 {
        self.special
            .get(&(hook.row, hook.column))
            .and_then(|spec| spec.cards_per_hook)
            .unwrap_or(self.cards_per_hook)
    }

    /// How many cards may hang on a hook: 0 if it is blocked or not on the board.
    #[must_use]
    pub fn capacity(&self, hook: HookRef) -> u8 {
        if self.has(hook) && self.blocked(hook).is_none() {
            self.places_made(hook)
        } else {
            0
        }
    }

    /// How many cards may hang on all hooks together. O(hooks that differ).
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

impl Board {
    /// Every hook in reading order.
    pub fn hooks(&self) -> impl Iterator<Item = HookRef> + '_ {
        let count = u32::from(self.rows) * u32::from(self.columns);
        (0..count).map(|index| self.hook_at(index))
    }

    /// The hook at `index` in reading order, counted from 0. Past the last hook, one that isn't on the
    /// board.
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
        let fit = |index| u16::try_from(index).unwrap_or(u16::MAX);
        self.hook(fit(row), fit(column))
    }

    /// A hook's position in reading order, counted from 0.
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

impl Board {
    /// The letters of a row: A to Z, then AA to ZZ.
    #[must_use]
    pub fn row_letters(row: u16) -> String {
        let letter = |n: u16| char::from(b'A' + (n % 26).to_le_bytes()[0]);
        if row < 26 {
            letter(row).to_string()
        } else {
            [letter(row / 26 - 1), letter(row)].iter().collect()
        }
    }

    /// The name of a hook: the board's prefix, the row's letters, the column from 01.
    #[must_use]
    pub fn hook_name(&self, hook: HookRef) -> String {
        let width = if self.columns > 99 { 3 } else { 2 };
        let width = if self.columns > 999 { 4 } else { width };
        format!(
            "{}{}{:0width$}",
            self.prefix,
            Self::row_letters(hook.row),
            u32::from(hook.column) + 1
        )
    }

    /// Parses the name of a hook of this board, ignoring case, spaces, dashes and leading zeros.
    /// `None` if the text isn't a hook name or the hook isn't on the board.
    #[must_use]
    pub fn find_hook(&self, text: &str) -> Option<HookRef> {
        let plain = |text: &str| -> String {
            text.chars()
                .filter(|c| !c.is_whitespace() && *c != '-')
                .flat_map(char::to_uppercase)
                .collect()
        };
        let text = plain(text);
        let rest = text.strip_prefix(&plain(self.prefix.as_str()))?;
        let split = rest.find(|c: char| c.is_ascii_digit())?;
        let (letters, digits) = rest.split_at(split);
        if digits.len() > 6 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let row = match *letters.as_bytes() {
            [a @ b'A'..=b'Z'] => u16::from(a - b'A'),
            [a @ b'A'..=b'Z', b @ b'A'..=b'Z'] => {
                (u16::from(a - b'A') + 1) * 26 + u16::from(b - b'A')
            }
            _ => return None,
        };
        let column = digits.parse::<u32>().ok()?.checked_sub(1)?;
        let hook = self.hook(row, u16::try_from(column).ok()?);
        self.has(hook).then_some(hook)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn board(rows: u16, columns: u16, reading: ReadingOrder, prefix: &str) -> Board {
        Board {
            id: BoardId(1),
            name: Label::new("wall").unwrap(),
            prefix: Label::new(prefix).unwrap(),
            rows,
            columns,
            cards_per_hook: 1,
            reading,
            special: BTreeMap::new(),
        }
    }

    #[test]
    fn every_reading_order_visits_every_hook_once() {
        for reading in [
            ReadingOrder::Rows,
            ReadingOrder::Columns,
            ReadingOrder::ThereAndBack,
        ] {
            let board = board(3, 4, reading, "");
            let hooks: Vec<_> = board.hooks().collect();
            let mut sorted = hooks.clone();
            sorted.sort();
            sorted.dedup();
            assert_eq!(sorted.len(), 12);
            for (index, &hook) in hooks.iter().enumerate() {
                assert_eq!(board.reading_index(hook) as usize, index, "{reading:?}");
            }
        }
    }

    #[test]
    fn there_and_back_turns_at_each_row_end() {
        let board = board(2, 3, ReadingOrder::ThereAndBack, "");
        let hook_names: Vec<_> = board.hooks().map(|hook| board.hook_name(hook)).collect();
        assert_eq!(hook_names, ["A01", "A02", "A03", "B03", "B02", "B01"]);
    }

    #[test]
    fn hook_names_are_read_as_written_and_as_typed() {
        for (columns, prefix) in [(20, ""), (120, ""), (20, "X"), (20, "2-")] {
            let board = board(60, columns, ReadingOrder::Rows, prefix);
            for hook in board.hooks() {
                assert_eq!(board.find_hook(&board.hook_name(hook)), Some(hook));
            }
        }
        let board = board(12, 20, ReadingOrder::Rows, "");
        for text in ["C07", "c7", " c-07 ", "C007"] {
            assert_eq!(board.find_hook(text), Some(board.hook(2, 6)), "{text}");
        }
        for text in [
            "",
            "C",
            "7",
            "C0",
            "C21",
            "M01",
            "C7x",
            "Ä1",
            "C99999999999",
        ] {
            assert_eq!(board.find_hook(text), None, "{text}");
        }
    }

    #[test]
    fn a_blocked_hook_has_no_capacity_but_keeps_its_number_of_cards() {
        let mut board = board(2, 2, ReadingOrder::Rows, "");
        let hook = board.hook(0, 1);
        board.special.insert(
            (0, 1),
            HookSpec {
                cards_per_hook: Some(3),
                blocked: Some(Label::new("bracket").unwrap()),
                reserved: false,
            },
        );
        assert_eq!((board.capacity(hook), board.places_made(hook)), (0, 3));
        let json = serde_json::to_string(&board).unwrap();
        assert_eq!(serde_json::from_str::<Board>(&json).unwrap(), board);
    }

    #[test]
    fn out_of_bounds_dimensions_are_refused() {
        assert!(board(0, 1, ReadingOrder::Rows, "").check().is_err());
        assert!(board(702, 9_999, ReadingOrder::Rows, "").check().is_err());
        assert!(board(12, 20, ReadingOrder::Rows, "").check().is_ok());
    }
}
