//! Families and rows: how many times a family goes on in another row.

use super::instance::{EngineError, Instance, check_length};
use super::room::check_hooks;

/// Where families begin, and the row of each hook.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// Whether each card, in wanted order, is the first of its family.
    pub family_start: &'a [bool],
    /// The row of each hook, in reading order; any numbers that differ from one row to the next.
    pub row_of: &'a [u32],
}

/// An entry for each card and each hook, or an error.
pub(super) fn check_rows(instance: &Instance, rows: &Rows) -> Result<(), EngineError> {
    let (cards, hooks) = (instance.cards().len(), instance.capacity().len());
    check_length("starts of families", cards, rows.family_start.len())?;
    check_length("rows of the hooks", hooks, rows.row_of.len())
}

/// Family breaks: how many cards, hung on `hook`, hang in another row than the card before them of the
/// same family. A family on one row has none; each further row it goes on in adds one. O(cards).
///
/// # Errors
/// [`EngineError::Length`] and [`EngineError::NoSuchHook`] for lists that do not fit the board.
pub fn family_breaks(
    instance: &Instance,
    rows: &Rows,
    hook: &[usize],
) -> Result<usize, EngineError> {
    check_rows(instance, rows)?;
    check_hooks(instance, hook)?;
    let pairs = hook.windows(2).zip(&rows.family_start[hook.len().min(1)..]);
    let broken = |(pair, start): &(&[usize], &bool)| {
        !**start && rows.row_of[pair[0]] != rows.row_of[pair[1]]
    };
    Ok(pairs.filter(broken).count())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_family_is_broken_where_it_goes_on_in_another_row() {
        let board = Instance::new(vec![1; 6], vec![None; 5]).unwrap();
        let rows = Rows {
            family_start: &[true, false, true, false, false],
            row_of: &[0, 0, 1, 1, 2, 2],
        };
        let breaks = |hook: &[usize]| family_breaks(&board, &rows, hook).unwrap();
        assert_eq!(breaks(&[0, 1, 2, 3, 4]), 1);
        assert_eq!(breaks(&[0, 1, 3, 4, 5]), 1);
        assert_eq!(breaks(&[0, 2, 3, 4, 5]), 2);
        let none = Instance::new(vec![1], vec![]).unwrap();
        let rows = Rows {
            family_start: &[],
            row_of: &[0],
        };
        assert_eq!(family_breaks(&none, &rows, &[]), Ok(0));
    }
}
