//! What stands on the wall beside a hook: its mark, written and read.

use super::{Board, HookRef};

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

    /// A hook's mark: the board's prefix, the row's letters, the column from 01.
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

    /// Reads the name of a hook of this board: capitals, spaces, dashes and leading zeros do not matter.
    /// `None` where the text is no mark, or the hook is not on the board.
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
