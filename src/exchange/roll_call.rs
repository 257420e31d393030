//! A list of the cards seen on the wall.

use super::sheet::{self, Cells, FileError, ListFile, RowError};
use crate::stash::columns::Column;
use crate::stash::command::rollcall::SeenRow;

/// A parsed list of cards seen.
pub type SeenFile = ListFile<SeenRow>;

/// Reads a list of cards seen on the wall: `hook` and `number`, which are required, and `range`, in
/// any order. A row with an empty number means that the hook was checked; a hook with several cards
/// has several rows. A card list works too; its other columns are ignored.
///
/// # Errors
/// See [`FileError`].
pub fn read_roll_call(bytes: &[u8]) -> Result<SeenFile, FileError> {
    let seen = |cells: &Cells<'_>| {
        Ok(SeenRow {
            line: cells.line(),
            hook: cells.text(Column::Hook)?.ok_or(RowError::NoHook)?,
            number: cells.text(Column::Number)?,
            range: cells.text(Column::Range)?,
        })
    };
    sheet::read(bytes, &Column::OF_ROLL_CALL, seen, |row| row.line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hook_may_have_several_rows_or_an_empty_one() {
        let read =
            read_roll_call(b"Mark;No;Maker;Name\nA01;701;Cove;x\nA01;9;;\nA02;;;\n").unwrap();
        let rows: Vec<_> = read
            .rows
            .iter()
            .map(|row| {
                let (number, range) = (row.number.as_deref(), row.range.as_deref());
                (row.line, row.hook.as_str(), number, range)
            })
            .collect();
        assert_eq!(
            rows,
            [
                (2, "A01", Some("701"), Some("Cove")),
                (3, "A01", Some("9"), None),
                (4, "A02", None, None),
            ]
        );
        assert_eq!(
            (read.rejected, read.ignored),
            (vec![], vec!["Name".to_owned()])
        );
    }

    #[test]
    fn a_row_without_a_hook_is_rejected() {
        let read = read_roll_call(b"hook,number\n,701\nA01,701\n").unwrap();
        assert_eq!(read.rows.len(), 1);
        assert_eq!(read.rejected[0].line, 2);
        assert_eq!(read.rejected[0].reason, RowError::NoHook);
        assert!(read_roll_call(b"hook,name\nA01,x\n").is_err());
    }
}
