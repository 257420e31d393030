//! Fewest moves, then least distance, then most room.

use std::ops::Add;

use super::chain;
use super::ideal::Ideal;
use super::instance::{EngineError, Homes, Instance};
use super::line;

/// Cells (cards times one more than the free places) up to which the exact dynamic program runs:
/// 16 MiB of marks, and some tenths of a second. 10,000 cards with 13,000 free places fit.
pub const MOST_CELLS: u64 = 1 << 27;

/// New homes that touch the fewest hung cards; among those, the ones with the least total distance
/// between old and new hooks; among those, the ones with the most room. Exact at all three levels.
///
/// Room is the sum over all cards, hung and new, of the square of the places a card is off its place
/// in the even layout, to a 16th of a place (see [`super::room`]). So new cards, whose hook costs
/// neither moves nor distance, go where the even layout has them as nearly as their neighbours let
/// them, and of two equally near hooks a moved card takes the one that spreads the free places.
///
/// O(cards * (free places + 1)) time, one bit a cell of memory. Beyond [`MOST_CELLS`] the moves
/// are still the fewest, but distance and room are not looked at: the homes are those of
/// [`chain::fewest_moves`], and [`Homes::least_distance`] says so.
///
/// # Errors
/// [`EngineError::Short`] where there are fewer places than cards.
pub fn fewest_moves_least_distance(instance: &Instance) -> Result<Homes, EngineError> {
    let free = instance.free()?;
    match Table::new(instance, free) {
        Some(table) => {
            let ideal = Ideal::even(instance, free);
            Ok(Homes::from_line(
                instance,
                &table.least(&|_| 1, &ideal),
                true,
            ))
        }
        None => chain::fewest_moves(instance),
    }
}

/// A cost of two ranks: `first` decides, `then` breaks ties.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cost {
    pub(super) first: u128,
    pub(super) then: u128,
}

impl Cost {
    pub(super) const ZERO: Self = Self { first: 0, then: 0 };
}

impl Add for Cost {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            first: self.first + other.first,
            then: self.then + other.then,
        }
    }
}

/// The table of card by `q`, small enough to be worked through.
pub(super) struct Table<'a> {
    instance: &'a Instance,
    width: usize,
    /// The hook of each place.
    hook_of: Vec<usize>,
}

impl<'a> Table<'a> {
    /// The table of `instance`, if it has no more than [`MOST_CELLS`] cells.
    pub(super) fn new(instance: &'a Instance, free: u64) -> Option<Self> {
        let cards = instance.cards().len() as u64;
        let cells = (free + 1).checked_mul(cards.max(1))?;
        if cells > MOST_CELLS {
            return None;
        }
        let mut hook_of = Vec::with_capacity(instance.places() as usize);
        for hook in 0..instance.capacity().len() {
            hook_of.resize(instance.first_place(hook + 1) as usize, hook);
        }
        Some(Self {
            instance,
            width: free as usize + 1,
            hook_of,
        })
    }

    /// Cards times one more than the free places.
    pub(super) fn cells(&self) -> u64 {
        self.instance.cards().len() as u64 * self.width as u64
    }

    /// Whether card `rank` is touched when `q` free places stand before it, and how far it goes.
    pub(super) fn touched(&self, rank: usize, q: usize) -> Option<u64> {
        let now = self.instance.cards()[rank]?;
        let hook = self.hook_of[rank + q];
        (hook != now).then(|| hook.abs_diff(now) as u64)
    }

    /// The plan with the least of `cost(rank, q)` summed over cards.
    pub(super) fn cheapest(&self, cost: impl Fn(usize, usize) -> Cost) -> Vec<u64> {
        let free = self.width as u64 - 1;
        let ends = |rank| {
            let (low, high) = self.instance.ends(rank, free);
            (low as usize, high as usize)
        };
        let cards = self.instance.cards().len();
        line::cheapest(cards, self.width, Cost::ZERO, ends, cost)
    }

    /// The plan with the least weight touched, then the least distance, then the most room.
    pub(super) fn least(&self, weight: &impl Fn(usize) -> u64, ideal: &Ideal) -> Vec<u64> {
        self.cheapest(|rank, q| {
            let then = ideal.square_off(rank, q as u64);
            match self.touched(rank, q) {
                None => Cost { first: 0, then },
                // Sums stay apart: both weights and distances add up to less than 2^64.
                Some(far) => Cost {
                    first: u128::from(weight(rank)) << 64 | u128::from(far),
                    then,
                },
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::room::{Room, room_score};
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
        fn best_at_all_three_levels_of_every_plan(board in boards(6, 3, 7)) {
            let ones = vec![1; board.cards().len()];
            let homes = fewest_moves_least_distance(&board).unwrap();
            assert_sound(&board, &homes);
            prop_assert!(homes.least_distance);
            let rank = |hook: &[usize]| {
                let (moves, distance) = cost_of(&board, hook, &ones);
                // Scores of unlike plans differ by far more than a millionth.
                (moves, distance, (room_score(&board, hook, &Room::default()).unwrap() * 1e6).round() as u64)
            };
            let least = all_plans(&board).iter().map(|hook| rank(hook)).min().unwrap();
            prop_assert_eq!(rank(&homes.hook), least);
        }

        #[test]
        fn as_near_as_the_table_over_hooks(
            board in boards(40, 4, 60),
            weight in vec(prop_oneof![Just(1), 0..5u32, Just(u32::MAX)], 60),
        ) {
            let weight = &weight[..board.cards().len()];
            let ones = vec![1; weight.len()];
            let homes = fewest_moves_least_distance(&board).unwrap();
            assert_sound(&board, &homes);
            let figures = (homes.moved as u64, homes.distance);
            prop_assert_eq!(figures, best_by_hooks(&board, &ones).unwrap());

            let free = board.free().unwrap();
            let ideal = Ideal::even(&board, free);
            let table = Table::new(&board, free).unwrap();
            let plan = table.least(&|rank| u64::from(weight[rank]), &ideal);
            let homes = Homes::from_line(&board, &plan, true);
            assert_sound(&board, &homes);
            let cost = cost_of(&board, &homes.hook, weight);
            prop_assert_eq!(cost, best_by_hooks(&board, weight).unwrap());
        }
    }
}
