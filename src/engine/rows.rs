//! Families that start on a fresh row, as far as the free places allow.

use super::distance::MOST_CELLS;
use super::ideal::PARTS;
use super::instance::{EngineError, Instance, check_length};
use super::line;
use super::room::FreshRows;

/// An entry for each card and each hook, or an error.
pub(super) fn check(instance: &Instance, wanted: &FreshRows) -> Result<(), EngineError> {
    let (cards, hooks) = (instance.cards().len(), instance.capacity().len());
    check_length("family starts", cards, wanted.family_start.len())?;
    check_length("row starts", hooks, wanted.row_start.len())
}

/// Whether each hook is the first open one of its row: a blocked hook hands that on to the next.
fn first_open(instance: &Instance, row_start: &[bool]) -> Vec<bool> {
    let mut handed = false;
    let hooks = row_start.iter().zip(instance.capacity());
    let first = hooks.map(|(&start, &places)| {
        let first = start || handed;
        handed = first && places == 0;
        first && places > 0
    });
    first.collect()
}

/// The first place of each row with an open hook, rising.
fn row_places(instance: &Instance, row_start: &[bool]) -> Vec<u64> {
    let first = first_open(instance, row_start);
    let hooks = (0..first.len()).filter(|&hook| first[hook]);
    hooks.map(|hook| instance.first_place(hook)).collect()
}

/// Families whose first card is the first on a fresh row, with cards on `hook`.
pub(super) fn families_on_rows(instance: &Instance, wanted: &FreshRows, hook: &[usize]) -> usize {
    let first = first_open(instance, wanted.row_start);
    let fresh = |rank: usize| {
        let alone = rank == 0 || hook[rank - 1] < hook[rank];
        wanted.family_start[rank] && alone && first[hook[rank]]
    };
    (0..hook.len()).filter(|&rank| fresh(rank)).count()
}

/// Shifts an ideal, `before` in parts of a place before each card, so that families start on rows.
///
/// Each family is given a whole number of free places before it, rising along the board, with the
/// least sum of squared shifts of the family starts, where a start along a row costs as much as a
/// shift by half a row of average length. Between family starts the ideal is stretched evenly.
/// O(families * (free places + 1)); beyond [`MOST_CELLS`] the ideal stays as it is.
pub(super) fn start_families_on_rows(
    instance: &Instance,
    free: u64,
    wanted: &FreshRows,
    before: &mut [u64],
) {
    let starts: Vec<usize> = (0..before.len())
        .filter(|&rank| wanted.family_start[rank])
        .collect();
    let row_places = row_places(instance, wanted.row_start);
    let cells = (free + 1).saturating_mul(starts.len() as u64);
    if starts.is_empty() || row_places.is_empty() || cells > MOST_CELLS {
        return;
    }
    let half_row = u128::from(instance.places() * PARTS / (2 * row_places.len() as u64));
    let width = free as usize + 1;
    let ends = |_| (0, width - 1);
    let plan = line::cheapest(starts.len(), width, 0u128, ends, |family, q| {
        let (rank, q) = (starts[family], q as u64);
        let off = u128::from((q * PARTS).abs_diff(before[rank]));
        let fresh = row_places.binary_search(&(q + rank as u64)).is_ok();
        off * off + if fresh { 0 } else { half_row * half_row }
    });

    let whole = free * PARTS;
    let ends = starts.iter().map(|&rank| (rank, before[rank]));
    let ends = ends.zip(plan.iter().map(|q| q * PARTS));
    let ends: Vec<_> = ends.chain([((before.len(), whole), whole)]).collect();
    let ((mut from, mut old), mut new) = ((0, 0), 0);
    for ((to, old_end), new_end) in ends {
        for value in &mut before[from..to] {
            // A stretch without wanted room keeps its cards together, its free places after them.
            let along = u128::from(*value - old) * u128::from(new_end - new);
            let along = along.checked_div(u128::from(old_end - old)).unwrap_or(0);
            *value = new + along as u64;
        }
        (from, old, new) = (to, old_end, new_end);
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::testing::boards;
    use super::*;

    fn shifted(board: &Instance, families: &[usize], rows: &[usize], before: &[u64]) -> Vec<u64> {
        let mark = |len: usize, at: &[usize]| (0..len).map(|i| at.contains(&i)).collect::<Vec<_>>();
        let family_start = mark(board.cards().len(), families);
        let row_start = mark(board.capacity().len(), rows);
        let wanted = FreshRows {
            family_start: &family_start,
            row_start: &row_start,
        };
        let mut before = before.to_vec();
        start_families_on_rows(board, board.free().unwrap(), &wanted, &mut before);
        before
    }

    #[test]
    fn a_blocked_hook_hands_its_row_start_on() {
        let board = Instance::new(vec![0, 0, 1, 0, 1, 1], vec![]).unwrap();
        let first = first_open(&board, &[true, false, false, true, false, true]);
        assert_eq!(first, [false, false, true, false, true, true]);
    }

    #[test]
    fn stretches_the_ideal_between_family_starts() {
        // Rows of four; the second family would start on place 2 + 1 and gets place 4, the free places
        // before and after it are stretched to fit.
        let board = Instance::new(vec![1; 8], vec![None; 4]).unwrap();
        let before = shifted(&board, &[2], &[0, 4], &[8, 8, 16, 40]);
        assert_eq!(before, [16, 16, 32, 48]);
    }

    #[test]
    fn a_family_that_reaches_no_row_starts_along_one() {
        let board = Instance::new(vec![1; 9], vec![None; 6]).unwrap();
        let before = [0, 0, 0, 16, 16, 16];
        // The fifth card cannot be on the row that starts with place 3 nor, with three free places,
        // on the one that starts with place 8.
        assert_eq!(shifted(&board, &[4], &[0, 3, 8], &before), before);
    }

    proptest! {
        #[test]
        fn family_starts_cost_the_least_of_all(
            board in boards(12, 2, 8),
            families in vec(0..8usize, 0..4),
            rows in vec(0..12usize, 1..4),
            wild in vec(0..1000u64, 8),
        ) {
            let free = board.free().unwrap();
            let cards = board.cards().len();
            let mut before: Vec<u64> =
                wild[..cards].iter().map(|value| value % (free * PARTS + 1)).collect();
            before.sort_unstable();
            let after = shifted(&board, &families, &rows, &before);
            prop_assert!(after.is_sorted());
            prop_assert!(after.iter().all(|&value| value <= free * PARTS));

            let mut starts: Vec<usize> = families.into_iter().filter(|&f| f < cards).collect();
            starts.sort_unstable();
            starts.dedup();
            let row_start: Vec<bool> =
                (0..board.capacity().len()).map(|hook| rows.contains(&hook)).collect();
            let places = row_places(&board, &row_start);
            if starts.is_empty() || places.is_empty() {
                prop_assert_eq!(after, before);
                return Ok(());
            }
            let half = board.places() * PARTS / (2 * places.len() as u64);
            let cost = |rank: usize, value: u64| {
                let fresh = places.contains(&(value / PARTS + rank as u64));
                value.abs_diff(before[rank]).pow(2) + if fresh { 0 } else { half * half }
            };
            let found: u64 = starts.iter().map(|&rank| cost(rank, after[rank])).sum();
            // Every rising choice of free places before the families.
            let mut sums = vec![(0, 0)];
            for &rank in &starts {
                sums = sums
                    .iter()
                    .flat_map(|&(from, sum)| {
                        (from..=free).map(move |q| (q, sum + cost(rank, q * PARTS)))
                    })
                    .collect();
            }
            prop_assert_eq!(Some(found), sums.iter().map(|sum| sum.1).min());
        }
    }
}
