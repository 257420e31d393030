//! Fewest moves, then least distance, then most room.

use super::fewest_moves;
use super::gap_cost::{Measure, Room};
use super::instance::{EngineError, Homes, Instance};
use super::layout::{Cost, Line, MOST_CELLS_BETWEEN, Prices};

/// Cells (cards times one more than the free places) up to which the exact dynamic program runs:
/// 16 MiB of marks, and some tenths of a second. 10,000 cards with 13,000 free places fit.
pub const MOST_CELLS: u64 = 1 << 27;

/// New homes that touch the fewest hung cards; among those, the ones with the least total distance
/// between old and new hooks; among those, the ones with the most room. Exact at all three levels.
///
/// Room is that of [`super::room`] with all gaps alike. So new cards, whose hook costs neither moves
/// nor distance, go where the free places around them are spread best, and of two equally near hooks a
/// moved card takes the one that spreads them better.
///
/// O(cards * (free places + 1)) time. Beyond [`super::pareto::MOST_CELLS_BETWEEN`] cells the third level is the
/// pull to the even layout alone. Beyond [`MOST_CELLS`] the moves are still the fewest, but distance and
/// room are not looked at: the homes are those of [`fewest_moves::fewest_moves`], and
/// [`Homes::least_distance`] says so.
///
/// # Errors
/// [`EngineError::Short`] where there are fewer places than cards.
pub fn fewest_moves_least_distance(instance: &Instance) -> Result<Homes, EngineError> {
    let measure = Measure::new(instance, &Room::default())?;
    let line = Line::new(instance, instance.free()?);
    if line.cells() > MOST_CELLS {
        return fewest_moves::fewest_moves(instance);
    }
    let plan = least_distance(&line, &measure, &|_| 1);
    Ok(Homes::from_line(instance, &plan, true))
}

/// The plan with the least weight touched, then the least distance, then the most room; for lines of
/// up to [`MOST_CELLS`] cells.
pub(super) fn least_distance(
    line: &Line,
    measure: &Measure,
    effort: &impl Fn(usize) -> u64,
) -> Vec<u64> {
    if line.cells() > MOST_CELLS_BETWEEN {
        return line.nearest(measure, effort);
    }
    let prices = Prices {
        // Sums stay apart: both weights and distances add up to less than 2^64.
        effort: Cost::first(1 << 64),
        distance: Cost::first(1),
        room: Cost::then(1),
        breaks: Cost::ZERO,
    };
    line.cheapest(measure, None, effort, &prices)
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::gap_cost::UNIT;
    use super::super::room::room_score;
    use super::super::testing::{all_plans, assert_sound, best_by_hooks, boards, cost_of};
    use super::*;

    #[test]
    fn newcomers_of_an_empty_board_spread_out() {
        let board = Instance::new(vec![1; 11], vec![None; 3]).unwrap();
        let homes = fewest_moves_least_distance(&board).unwrap();
        assert_eq!(homes.hook, [2, 5, 8]);
    }

    #[test]
    fn a_newcomer_hangs_in_the_middle_of_its_gap() {
        let board = Instance::new(vec![1; 7], vec![Some(0), None, Some(6)]).unwrap();
        assert_eq!(fewest_moves_least_distance(&board).unwrap().hook, [0, 3, 6]);
    }

    #[test]
    fn a_table_too_large_still_gets_the_fewest_moves() {
        let mut cards = vec![None; 9000];
        cards[..3].copy_from_slice(&[Some(5), Some(4), Some(6)]);
        let board = Instance::new(vec![1; 29_000], cards).unwrap();
        let homes = fewest_moves_least_distance(&board).unwrap();
        assert_sound(&board, &homes);
        assert_eq!((homes.moved, homes.least_distance), (1, false));
    }

    proptest! {
        #[test]
        fn lines_too_long_for_gaps_are_as_near(
            board in boards(40, 4, 60),
            effort in vec(prop_oneof![Just(1), 0..5u32, Just(u32::MAX)], 60),
        ) {
            let effort = &effort[..board.cards().len()];
            let measure = Measure::new(&board, &Room::default()).unwrap();
            let line = Line::new(&board, board.free().unwrap());
            let plan = line.nearest(&measure, &|rank| u64::from(effort[rank]));
            let homes = Homes::from_line(&board, &plan, true);
            assert_sound(&board, &homes);
            let cost = cost_of(&board, &homes.hook, effort);
            prop_assert_eq!(cost, best_by_hooks(&board, effort).unwrap());
        }

        #[test]
        fn best_at_all_three_levels_of_every_plan(board in boards(6, 3, 7)) {
            let ones = vec![1; board.cards().len()];
            let homes = fewest_moves_least_distance(&board).unwrap();
            assert_sound(&board, &homes);
            prop_assert!(homes.least_distance);
            let rank = |hook: &[usize]| {
                let (moves, distance) = cost_of(&board, hook, &ones);
                let room = room_score(&board, hook, &Room::default()).unwrap();
                // The score is a whole number of units.
                (moves, distance, (room * UNIT as f64) as u64)
            };
            let least = all_plans(&board).iter().map(|hook| rank(hook)).min().unwrap();
            prop_assert_eq!(rank(&homes.hook), least);
        }

        #[test]
        fn as_near_as_the_table_over_hooks(
            board in boards(40, 4, 60),
            effort in vec(prop_oneof![Just(1), 0..5u32, Just(u32::MAX)], 60),
        ) {
            let effort = &effort[..board.cards().len()];
            let ones = vec![1; effort.len()];
            let homes = fewest_moves_least_distance(&board).unwrap();
            assert_sound(&board, &homes);
            let figures = (homes.moved as u64, homes.distance);
            prop_assert_eq!(figures, best_by_hooks(&board, &ones).unwrap());

            let measure = Measure::new(&board, &Room::default()).unwrap();
            let line = Line::new(&board, board.free().unwrap());
            let plan = least_distance(&line, &measure, &|rank| u64::from(effort[rank]));
            let homes = Homes::from_line(&board, &plan, true);
            assert_sound(&board, &homes);
            let cost = cost_of(&board, &homes.hook, effort);
            prop_assert_eq!(cost, best_by_hooks(&board, effort).unwrap());
        }
    }
}
