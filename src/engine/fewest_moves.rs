//! Fewest moves, then least distance, then most room.
//!
//! Moving the fewest cards means keeping the set of cards with the most effort that can all stay
//! where they hang.
//!
//! A hung card can stay with any `q` of a window of whole numbers, so the cards that stay are a
//! non-decreasing chain with one value from each window. This is the patience method for the
//! longest non-decreasing subsequence, with windows in place of values. Let `F(v)` be the most
//! effort that can stay among the cards seen so far with the last `q <= v`. A card of effort `w`
//! and window `[low, high]` turns `F(v)` into `F(v) + w` on the window and into
//! `max(F(v), F(high) + w)` above it. If `F` is stored as the heights of its steps, the update is:
//! take `w` off the steps above `high`, nearest first, and add a step of height `w` at `low`.

use super::gap_cost::{Measure, Room};
use super::instance::{EngineError, Homes, Instance, ListOf, check_length};
use super::layout::{Cost, Line, MOST_CELLS_BETWEEN, Prices};

/// New homes that move the fewest hung cards. Exact.
///
/// Moved and new cards hang right behind the kept card before them. For nearer homes and evenly
/// spread room, see [`fewest_moves_least_distance`].
///
/// O(hooks + cards * log cards) time, O(hooks + cards) memory.
///
/// # Errors
/// [`EngineError::Short`] if there are fewer places than cards.
pub fn fewest_moves(instance: &Instance) -> Result<Homes, EngineError> {
    let free = instance.free()?;
    Ok(Homes::from_line(
        instance,
        &heaviest_chain(instance, free, |_| 1),
        false,
    ))
}

/// New homes with the least effort, where moving hung card `r` costs `effort[r]`. Exact.
///
/// An effort of 0 means the card moves for free. The efforts of cards that don't hang are ignored.
/// Complexity and the placement of the other cards are as for [`fewest_moves`].
///
/// # Errors
/// [`EngineError::Length`] unless there is one effort for each card; [`EngineError::Short`] if
/// there are fewer places than cards.
pub fn fewest_moves_weighted(instance: &Instance, effort: &[u32]) -> Result<Homes, EngineError> {
    check_efforts(instance, effort)?;
    let free = instance.free()?;
    let chain = heaviest_chain(instance, free, |rank| u64::from(effort[rank]));
    Ok(Homes::from_line(instance, &chain, false))
}

/// Checks that there is one effort for each card.
pub(super) fn check_efforts(instance: &Instance, effort: &[u32]) -> Result<(), EngineError> {
    check_length(ListOf::Efforts, instance.cards().len(), effort.len())
}

/// A card that could stay, found on the forward pass.
struct Candidate {
    rank: usize,
    low: u64,
    high: u64,
    /// The value of the first step left above `high` after the card took its effort off, or more
    /// than every value if none is left. From there on, keeping the card is worse than the chain
    /// without it.
    beaten_from: u64,
}

/// The plan `q` that keeps the chain of most effort. Other cards copy the value before them.
pub(super) fn heaviest_chain(
    instance: &Instance,
    free: u64,
    effort: impl Fn(usize) -> u64,
) -> Vec<u64> {
    let mut candidates: Vec<Candidate> = Vec::with_capacity(instance.cards().len());
    for (rank, hook) in instance.cards().iter().enumerate() {
        if let Some(hook) = *hook
            && let Some((low, high)) = instance.window(rank, hook, free)
        {
            candidates.push(Candidate {
                rank,
                low,
                high,
                beaten_from: u64::MAX,
            });
        }
    }
    let scale = Scale::new(&candidates, free);
    let mut steps = Steps::new(scale.len());
    for candidate in &mut candidates {
        // A held card fits into every chain, so any effort above zero keeps it.
        let least = u64::from(instance.is_held(candidate.rank));
        let effort = effort(candidate.rank).max(least);
        let above = steps.lower_from(scale.first_above(candidate.high), effort);
        candidate.beaten_from = above.map_or(u64::MAX, |index| scale.value(index));
        steps.raise(scale.index(candidate.low), effort);
    }

    let mut q = vec![u64::MAX; instance.cards().len()];
    let mut last = free;
    for candidate in candidates.iter().rev() {
        if candidate.low <= last && last < candidate.beaten_from {
            last = last.min(candidate.high);
            q[candidate.rank] = last;
        }
    }
    let mut before = 0;
    for value in &mut q {
        if *value == u64::MAX {
            *value = before;
        }
        before = *value;
    }
    q
}

/// Maps values of `q` to indices of [`Steps`].
enum Scale {
    /// The values themselves, from 0 to this number. No sorting, for boards of ordinary size.
    Direct(u64),
    /// The distinct low ends, sorted, for lines of places far longer than the row of cards.
    Sorted(Vec<u64>),
}

impl Scale {
    fn new(candidates: &[Candidate], free: u64) -> Self {
        // A height for each value must stay cheap compared with the cost of each card.
        if free <= 8 * candidates.len() as u64 {
            return Self::Direct(free);
        }
        Self::sorted(candidates)
    }

    fn sorted(candidates: &[Candidate]) -> Self {
        let mut values: Vec<u64> = candidates.iter().map(|candidate| candidate.low).collect();
        values.sort_unstable();
        values.dedup();
        Self::Sorted(values)
    }

    fn len(&self) -> usize {
        match self {
            Self::Direct(free) => *free as usize + 1,
            Self::Sorted(values) => values.len(),
        }
    }

    fn index(&self, low: u64) -> usize {
        match self {
            Self::Direct(_) => low as usize,
            Self::Sorted(values) => values.partition_point(|&value| value < low),
        }
    }

    fn first_above(&self, high: u64) -> usize {
        match self {
            Self::Direct(_) => high as usize + 1,
            Self::Sorted(values) => values.partition_point(|&value| value <= high),
        }
    }

    fn value(&self, index: usize) -> u64 {
        match self {
            Self::Direct(_) => index as u64,
            Self::Sorted(values) => values[index],
        }
    }
}

/// The steps of `F`: a height at each index, and a tree of 64-bit words that finds the next index
/// with a height above 0 in O(log64 of the length).
struct Steps {
    height: Vec<u64>,
    /// Level 0 has a bit for each index; each higher level has a bit for each word below it.
    marks: Vec<Vec<u64>>,
}

impl Steps {
    fn new(len: usize) -> Self {
        let mut marks = Vec::new();
        let mut bits = len.max(1);
        loop {
            bits = bits.div_ceil(64);
            marks.push(vec![0; bits]);
            if bits == 1 {
                break;
            }
        }
        Self {
            height: vec![0; len],
            marks,
        }
    }

    /// Adds `by` at `index`.
    fn raise(&mut self, index: usize, by: u64) {
        if by == 0 {
            return;
        }
        self.height[index] += by;
        let mut index = index;
        for level in &mut self.marks {
            let word = &mut level[index / 64];
            let known = *word != 0;
            *word |= 1 << (index % 64);
            if known {
                break;
            }
            index /= 64;
        }
    }

    /// Takes `by` off the steps from index `from` on, nearest first, until it is used up or no
    /// height is left. Returns the first index that still has some.
    fn lower_from(&mut self, from: usize, mut by: u64) -> Option<usize> {
        loop {
            let index = self.next(from)?;
            if self.height[index] > by {
                self.height[index] -= by;
                return Some(index);
            }
            by -= self.height[index];
            self.height[index] = 0;
            self.unmark(index);
        }
    }

    fn unmark(&mut self, mut index: usize) {
        for level in &mut self.marks {
            let word = &mut level[index / 64];
            *word &= !(1 << (index % 64));
            if *word != 0 {
                break;
            }
            index /= 64;
        }
    }

    /// The first marked index from `from` on.
    fn next(&self, from: usize) -> Option<usize> {
        let mut index = from;
        for (depth, level) in self.marks.iter().enumerate() {
            let word = level.get(index / 64)? & (u64::MAX << (index % 64));
            if word != 0 {
                index = index / 64 * 64 + word.trailing_zeros() as usize;
                for below in self.marks[..depth].iter().rev() {
                    index = index * 64 + below[index].trailing_zeros() as usize;
                }
                return Some(index);
            }
            index = index / 64 + 1;
        }
        None
    }
}

/// The most cells (cards times one more than the free places) for which the exact dynamic program
/// runs: 16 MiB of bits, and a few tenths of a second. 10,000 cards with 13,000 free places fit.
pub const MOST_CELLS: u64 = 1 << 27;

/// New homes that move the fewest hung cards; among those, the ones with the least total distance
/// between old and new hooks; among those, the ones with the most room. Exact at all three levels.
///
/// Room is that of [`super::room`] with all gaps alike. So new cards, whose hook costs neither
/// moves nor distance, go where they leave the free places around them best spread, and a moved
/// card breaks ties of distance the same way.
///
/// O(cards * (free places + 1)) time. Beyond [`super::pareto::MOST_CELLS_BETWEEN`] cells, the third
/// level is only the pull towards the even layout. Beyond [`MOST_CELLS`], the moves are still the
/// fewest, but distance and room are ignored: the homes are those of [`fewest_moves`], and
/// [`Homes::least_distance`] is false.
///
/// # Errors
/// [`EngineError::Short`] if there are fewer places than cards.
pub fn fewest_moves_least_distance(instance: &Instance) -> Result<Homes, EngineError> {
    let measure = Measure::new(instance, &Room::default())?;
    let line = Line::new(instance, instance.free()?);
    if line.cells() > MOST_CELLS {
        return fewest_moves(instance);
    }
    let plan = least_distance(&line, &measure, &|_| 1);
    Ok(Homes::from_line(instance, &plan, true))
}

/// The plan with the least effort, then the least distance, then the most room, for lines of up to
/// [`MOST_CELLS`] cells.
pub(super) fn least_distance(
    line: &Line,
    measure: &Measure,
    effort: &impl Fn(usize) -> u64,
) -> Vec<u64> {
    if line.cells() > MOST_CELLS_BETWEEN {
        return line.nearest(measure, effort);
    }
    let prices = Prices {
        // The ranks of the sum can't mix: efforts and distances each add up to less than 2^64.
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
    use super::super::testing::{
        all_plans, assert_sound, best_by_hooks, boards, cost_of, plans_with_holds, some_held,
    };
    use super::*;

    #[test]
    fn a_card_without_room_around_it_cannot_stay() {
        // Two cards on one place, and a last hook that leaves no place for the card behind it.
        let instance = Instance::new(vec![1, 1, 1], vec![Some(2), Some(2), None]).unwrap();
        let homes = fewest_moves(&instance).unwrap();
        assert_eq!((homes.hook, homes.moved), (vec![0, 1, 2], 2));
    }

    #[test]
    fn an_empty_board_has_an_answer_only_without_cards() {
        let none = Instance::new(vec![], vec![]).unwrap();
        assert_eq!(fewest_moves(&none).unwrap().hook, Vec::<usize>::new());
        let bare = Instance::new(vec![], vec![None]).unwrap();
        assert!(matches!(
            fewest_moves(&bare),
            Err(EngineError::Short {
                places_short: 1,
                ..
            })
        ));
    }

    #[test]
    fn a_list_of_efforts_needs_one_for_each_card() {
        let instance = Instance::new(vec![2], vec![None, None]).unwrap();
        assert!(matches!(
            fewest_moves_weighted(&instance, &[1]),
            Err(EngineError::Length {
                expected: 2,
                found: 1,
                ..
            })
        ));
    }

    #[test]
    fn a_costly_card_stays_and_plain_ones_move() {
        let instance = Instance::new(vec![1; 4], vec![Some(3), Some(1), Some(2)]).unwrap();
        assert_eq!(fewest_moves(&instance).unwrap().moved, 1);
        let instance = Instance::new(vec![1; 6], vec![Some(3), Some(1), Some(2)]).unwrap();
        let homes = fewest_moves_weighted(&instance, &[u32::MAX, 1, 1]).unwrap();
        assert_eq!((homes.hook[0], homes.moved), (3, 2));
    }

    fn efforts() -> impl Strategy<Value = Vec<u32>> {
        vec(
            prop_oneof![2 => Just(1), 2 => 0..5u32, 1 => Just(u32::MAX)],
            60,
        )
    }

    proptest! {
        #[test]
        fn as_good_as_trying_every_plan(board in boards(6, 3, 7), effort in efforts()) {
            let effort = &effort[..board.cards().len()];
            let ones = vec![1; effort.len()];
            let least = |effort: &[u32]| {
                all_plans(&board).iter().map(|hook| cost_of(&board, hook, effort).0).min()
            };
            let homes = fewest_moves(&board).unwrap();
            assert_sound(&board, &homes);
            prop_assert_eq!(Some(homes.moved as u64), least(&ones));
            let homes = fewest_moves_weighted(&board, effort).unwrap();
            assert_sound(&board, &homes);
            prop_assert_eq!(Some(cost_of(&board, &homes.hook, effort).0), least(effort));
        }

        #[test]
        fn held_cards_stay_and_the_rest_is_optimal(
            board in boards(6, 3, 7),
            effort in efforts(),
            holds in vec(any::<u8>(), 7),
        ) {
            let stay = some_held(&board, &holds);
            let plans = plans_with_holds(&board, &stay);
            let effort = &effort[..stay.len()];
            match board.with_holds(&stay) {
                Ok(board) => {
                    let homes = fewest_moves_weighted(&board, effort).unwrap();
                    assert_sound(&board, &homes);
                    prop_assert!(plans.contains(&homes.hook));
                    let least = plans.iter().map(|hook| cost_of(&board, hook, effort).0).min();
                    prop_assert_eq!(Some(cost_of(&board, &homes.hook, effort).0), least);
                }
                Err(_) => prop_assert!(plans.is_empty()),
            }
        }

        #[test]
        fn agrees_with_a_table_over_hooks(board in boards(40, 4, 60), effort in efforts()) {
            let effort = &effort[..board.cards().len()];
            let ones = vec![1; effort.len()];
            let homes = fewest_moves(&board).unwrap();
            assert_sound(&board, &homes);
            prop_assert_eq!(homes.moved as u64, best_by_hooks(&board, &ones).unwrap().0);
            let homes = fewest_moves_weighted(&board, effort).unwrap();
            assert_sound(&board, &homes);
            let cost = cost_of(&board, &homes.hook, effort).0;
            prop_assert_eq!(cost, best_by_hooks(&board, effort).unwrap().0);
        }

        #[test]
        fn huge_hooks_are_as_good_as_roomy_ones(board in boards(40, 2, 30)) {
            // Most of these lines of places are long enough for sorting the low ends. A hook never
            // needs more places than there are cards, so clipping must not change the answer.
            let cards = board.cards().to_vec();
            let vast = board.capacity().iter().map(|&places| if places > 1 { 1 << 20 } else { places });
            let vast = Instance::new(vast.collect(), cards.clone()).unwrap();
            let clip = board.capacity().iter().map(|&places| if places > 1 { 30 } else { places });
            let clip = Instance::new(clip.collect(), cards).unwrap();
            let homes = fewest_moves(&vast).unwrap();
            assert_sound(&vast, &homes);
            let ones = vec![1; homes.hook.len()];
            prop_assert_eq!(homes.moved as u64, best_by_hooks(&clip, &ones).unwrap().0);
        }

        #[test]
        fn steps_agree_with_a_plain_list(
            changes in vec((any::<bool>(), 0..5000usize, 1..4u64), 1..200),
        ) {
            let mut steps = Steps::new(5000);
            let mut plain = vec![0u64; 5000];
            for (up, index, by) in changes {
                if up {
                    steps.raise(index, by);
                    plain[index] += by;
                } else {
                    let mut left = by;
                    for height in &mut plain[index..] {
                        let off = left.min(*height);
                        *height -= off;
                        left -= off;
                    }
                    let next = (index..5000).find(|&at| plain[at] > 0);
                    prop_assert_eq!(steps.lower_from(index, by), next);
                }
                prop_assert_eq!(&steps.height, &plain);
            }
        }
    }

    #[test]
    fn new_cards_on_an_empty_board_spread_out() {
        let board = Instance::new(vec![1; 11], vec![None; 3]).unwrap();
        let homes = fewest_moves_least_distance(&board).unwrap();
        assert_eq!(homes.hook, [2, 5, 8]);
    }

    #[test]
    fn a_new_card_hangs_in_the_middle_of_its_gap() {
        let board = Instance::new(vec![1; 7], vec![Some(0), None, Some(6)]).unwrap();
        assert_eq!(fewest_moves_least_distance(&board).unwrap().hook, [0, 3, 6]);
    }

    #[test]
    fn an_oversized_table_still_gets_the_fewest_moves() {
        let mut cards = vec![None; 9000];
        cards[..3].copy_from_slice(&[Some(5), Some(4), Some(6)]);
        let board = Instance::new(vec![1; 29_000], cards).unwrap();
        let homes = fewest_moves_least_distance(&board).unwrap();
        assert_sound(&board, &homes);
        assert_eq!((homes.moved, homes.least_distance), (1, false));
    }

    proptest! {
        #[test]
        fn lines_too_long_for_gaps_still_get_the_least_distance(
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
        fn optimal_at_all_three_levels_among_all_plans(board in boards(6, 3, 7)) {
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
        fn distance_agrees_with_a_table_over_hooks(
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
