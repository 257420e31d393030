//! Room: how well a layout is prepared for cards not yet owned, and the cost of the next one.

use super::gap_cost::{Measure, in_cards};
use super::instance::{EngineError, Instance, ListOf, check_gaps, check_hooks, check_length};
use super::layout::Line;

pub use super::gap_cost::{Room, ToCome, to_come};

/// The expected number of cards to come without a free place in their gap, plus the pull to an even
/// spread (see `gap_cost`). 0 or more; lower is better.
///
/// `hook[r]` is the hook of card `r`: non-decreasing and within capacity, as returned by a solver
/// of this layer. On a hook with several places, the free ones count where they are most useful.
/// O(hooks + cards * (places of a hook + colours to come)).
///
/// # Errors
/// [`EngineError::Length`] for a list without an entry for each card, hook, or gap;
/// [`EngineError::BadGap`] for a number that is negative or not a number;
/// [`EngineError::NoSuchHook`] for a hook beyond the last; [`EngineError::Short`] if there are
/// fewer places than cards.
pub fn room_score(instance: &Instance, hook: &[usize], room: &Room) -> Result<f64, EngineError> {
    check_hooks(instance, hook)?;
    let measure = Measure::new(instance, room)?;
    let line = Line::new(instance, instance.free()?);
    Ok(in_cards(line.room_of(&measure, hook)))
}

/// The colours sure to come without a free place in their gap. `certain[r]` of them belong before
/// card `r`, and the last entry after the last card.
///
/// A hook's free places serve the gaps on both sides of each of its cards, and neither end of a gap
/// moves back from one gap to the next. So the fewest go without if each gap in turn takes the
/// first free places it reaches. O(hooks + cards).
///
/// # Errors
/// As for [`room_score`].
pub fn certain_without_place(
    instance: &Instance,
    hook: &[usize],
    certain: &[u32],
) -> Result<u64, EngineError> {
    check_hooks(instance, hook)?;
    check_length(ListOf::Gaps, hook.len() + 1, certain.len())?;
    let mut free = free_places(instance, hook);
    for (at, free) in free.iter_mut().enumerate() {
        // As in the measure, no hook has more places than there are cards.
        let clipped = instance.first_place(at + 1) - instance.first_place(at);
        *free -= u64::from(instance.capacity()[at]) - clipped;
    }
    let mut without = 0;
    let mut at = 0;
    for (gap, &colours) in certain.iter().enumerate() {
        at = at.max(gap.checked_sub(1).map_or(0, |before| hook[before]));
        let end = hook.get(gap).map_or(free.len(), |&next| next + 1);
        let mut left = u64::from(colours);
        while left > 0 && at < end {
            let taken = left.min(free[at]);
            free[at] -= taken;
            left -= taken;
            at += usize::from(left > 0);
        }
        // The last hook of this gap is the first of the next.
        at = at.min(end.saturating_sub(1));
        without += left;
    }
    Ok(without)
}

/// The places of each hook that no card takes.
fn free_places(instance: &Instance, hook: &[usize]) -> Vec<u64> {
    let places = instance.capacity().iter();
    let mut free: Vec<u64> = places.map(|&places| places.into()).collect();
    for &hook in hook {
        free[hook] = free[hook].saturating_sub(1);
    }
    free
}

/// The hung cards that the next new card is expected to move, if all cards hang on `hook`; `None`
/// if no place is free.
///
/// The new card falls into gap `r`, before card `r` (the last gap is after the last card), with a
/// chance proportional to `wanted[r]`; with `None` or 0 everywhere, all gaps are alike. It is hung
/// with the fewest moves: none if a hook between its neighbours has a free place. Otherwise the
/// full hooks from there on each pass one card to the next, up to the first that has a free place,
/// on the side with fewer such hooks. O(hooks + cards).
///
/// `hook[r]` is the hook of card `r`: non-decreasing and within capacity.
///
/// # Errors
/// As for [`room_score`].
pub fn touched_by_newcomer(
    instance: &Instance,
    hook: &[usize],
    wanted: Option<&[f64]>,
) -> Result<Option<f64>, EngineError> {
    check_hooks(instance, hook)?;
    if let Some(wanted) = wanted {
        check_gaps(hook.len(), wanted)?;
    }
    let hooks = instance.capacity().len();
    let free = free_places(instance, hook);
    if free.iter().all(|&free| free == 0) {
        return Ok(None);
    }

    // Full hooks before each hook, and the nearest hooks with a free place on either side of it.
    let mut full = vec![0u64; hooks + 1];
    let mut space_up_to = vec![None; hooks];
    let mut space_from = vec![None; hooks];
    let mut near = None;
    for (at, &places) in instance.capacity().iter().enumerate() {
        full[at + 1] = full[at] + u64::from(places > 0 && free[at] == 0);
        near = if free[at] > 0 { Some(at) } else { near };
        space_up_to[at] = near;
    }
    near = None;
    for at in (0..hooks).rev() {
        near = if free[at] > 0 { Some(at) } else { near };
        space_from[at] = near;
    }

    let touched = |gap: usize| {
        let low = gap.checked_sub(1).map_or(0, |before| hook[before]);
        let high = hook.get(gap).copied().unwrap_or(hooks - 1);
        if space_from[low].is_some_and(|space| space <= high) {
            return 0;
        }
        let up = space_from[high].map(|space| full[space] - full[high]);
        let down = space_up_to[low].map(|space| full[low + 1] - full[space + 1]);
        up.into_iter().chain(down).min().unwrap_or(0)
    };
    let even = vec![1.0; hook.len() + 1];
    let wanted = wanted
        .filter(|wanted| wanted.iter().any(|&share| share > 0.0))
        .unwrap_or(&even);
    let whole: f64 = wanted.iter().sum();
    let sum: f64 = wanted
        .iter()
        .enumerate()
        .map(|(gap, share)| share * touched(gap) as f64)
        .sum();
    Ok(Some(sum / whole))
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::*;
    use crate::engine::fewest_moves::{fewest_moves, fewest_moves_least_distance};
    use crate::engine::pareto::{PlanOptions, plans};
    use crate::engine::testing::{boards, places_of_plans};

    fn may_come(possible: Option<&[f64]>) -> Room<'_> {
        Room {
            possible,
            ..Room::default()
        }
    }

    fn score(capacity: &[u32], hook: &[usize], possible: Option<&[f64]>) -> f64 {
        let board = Instance::new(capacity.to_vec(), vec![None; hook.len()]).unwrap();
        room_score(&board, hook, &may_come(possible)).unwrap()
    }

    #[test]
    fn scores_match_a_calculation_by_hand() {
        // Three hooks, one card, two colours to come before it: they fill the two free places, so
        // the horizons are chances of 0.3, 0.6, 0.8 and 1. Without a free place in the gap, all
        // that come fail: 2 * (0.3 + 0.6 + 0.8 + 1) / 4 cards, and the card is pulled by two
        // places.
        let crowded = score(&[1; 3], &[0], Some(&[2.0, 0.0]));
        assert!((crowded - (1.35 + 4.0 / 1024.0)).abs() < 1e-5, "{crowded}");
        // With one free place, the second fails: (0.09 + 0.36 + 0.64 + 1) / 4.
        let half = score(&[1; 3], &[1], Some(&[2.0, 0.0]));
        assert!((half - (0.5225 + 1.0 / 1024.0)).abs() < 1e-5, "{half}");
        assert_eq!(score(&[1; 3], &[2], Some(&[2.0, 0.0])), 0.0);
        // Half a colour is the mean of none and one.
        let part = score(&[1; 2], &[0], Some(&[0.5, 0.0]));
        assert!((part - (0.5 * 0.675 + 1.0 / 1024.0)).abs() < 1e-5, "{part}");
    }

    #[test]
    fn without_knowledge_an_even_layout_is_best_and_a_crowd_worst() {
        let even = score(&[1; 11], &[2, 5, 8], None);
        for other in [[0, 1, 2], [8, 9, 10], [1, 5, 9], [2, 5, 9], [3, 5, 7]] {
            assert!(score(&[1; 11], &other, None) > even, "{other:?}");
        }
    }

    #[test]
    fn options_must_be_non_negative_numbers() {
        let board = Instance::new(vec![2], vec![None]).unwrap();
        let score =
            |possible: Option<&[f64]>, hook| room_score(&board, &[hook], &may_come(possible));
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            let found = score(Some(&[0.5, bad]), 0);
            assert_eq!(found, Err(EngineError::BadGap { gap: 1 }));
        }
        assert!(matches!(
            score(Some(&[1.0]), 0),
            Err(EngineError::Length { .. })
        ));
        assert!(matches!(
            score(None, 1),
            Err(EngineError::NoSuchHook { .. })
        ));
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(4))]

        #[test]
        fn free_places_of_a_hook_count_where_they_are_most_useful(
            board in boards(5, 3, 6),
            possible in prop::option::of(vec(prop_oneof![Just(0.0), 0.0..3.0f64, (0..4u8).prop_map(f64::from)], 7)),
            certain in prop::option::of(vec(0..3u32, 7)),
        ) {
            let cards = board.cards().len();
            let room = Room {
                certain: certain.as_ref().map(|certain| &certain[..=cards]),
                possible: possible.as_ref().map(|possible| &possible[..=cards]),
            };
            let measure = Measure::new(&board, &room).unwrap();
            let line = Line::new(&board, board.free().unwrap());
            for (hook, places) in places_of_plans(&board) {
                let least = places.iter().map(|place| measure.sum(place, board.places())).min();
                prop_assert_eq!(Some(line.room_of(&measure, &hook)), least);
            }
        }

        #[test]
        fn the_fewest_certain_colours_go_without_a_place(
            board in boards(5, 3, 6),
            certain in vec(0..4u32, 7),
        ) {
            let certain = &certain[..=board.cards().len()];
            let end = board.places() as usize;
            for (hook, places) in places_of_plans(&board) {
                let without = |place: &Vec<usize>| {
                    let starts = place.iter().map(|&place| place + 1);
                    let gaps = [0].into_iter().chain(starts).zip(place.iter().chain([&end]));
                    let gaps = gaps.zip(certain);
                    gaps.map(|((from, &to), &sure)| u64::from(sure).saturating_sub((to - from) as u64)).sum::<u64>()
                };
                let least = places.iter().map(without).min().unwrap();
                prop_assert_eq!(certain_without_place(&board, &hook, certain), Ok(least));
            }
        }

        #[test]
        fn certain_colours_get_their_places_first(
            gaps in vec((prop_oneof![2 => Just(0), 1 => 1..4u32], 0..9u8), 1..40),
            free in 0..30u32,
            on_a_hook in 1..4u32,
            known in any::<bool>(),
        ) {
            let cards = gaps.len() - 1;
            let (certain, possible): (Vec<u32>, Vec<f64>) =
                gaps.iter().map(|gap| (gap.0, f64::from(gap.1))).unzip();
            let hooks = (cards as u32 + free).div_ceil(on_a_hook).max(1);
            let board = Instance::new(vec![on_a_hook; hooks as usize], vec![None; cards]).unwrap();
            let room = Room { certain: Some(&certain), possible: known.then_some(&possible) };
            let options = PlanOptions { room, ..PlanOptions::default() };
            let all: u64 = certain.iter().map(|&sure| u64::from(sure)).sum();
            let short = all.saturating_sub(board.free().unwrap());
            let layout = plans(&board, &options).unwrap();
            prop_assert_eq!(layout[0].certain_without_place, short);
            // If all cards are crowded at the front, the plan with the most room does the same.
            let place = |rank: usize| Some(rank / on_a_hook as usize);
            let crowd = Instance::new(board.capacity().to_vec(), (0..cards).map(place).collect()).unwrap();
            let roomiest = plans(&crowd, &options).unwrap();
            let roomiest = roomiest.iter().min_by(|a, b| a.room.total_cmp(&b.room)).unwrap();
            prop_assert_eq!(roomiest.certain_without_place, short);
        }

        #[test]
        fn one_more_free_place_is_never_worse(
            possible in vec(0.0..4.0f64, 2..8),
            certain in vec(0..4u32, 8),
            free in 1..12u64,
        ) {
            let cards = possible.len() - 1;
            let board = Instance::new(vec![1; cards + free as usize], vec![None; cards]).unwrap();
            let room = Room { certain: Some(&certain[..=cards]), possible: Some(&possible) };
            let measure = Measure::new(&board, &room).unwrap();
            for gap in 0..=cards {
                let table = measure.gap(gap);
                prop_assert!(table.is_sorted_by(|a, b| a >= b));
                for three in table.windows(3) {
                    // Convex, except for the rounding of each number to a whole unit.
                    prop_assert!(three[0] + three[2] + 2 >= 2 * three[1]);
                }
            }
        }
    }

    #[test]
    fn a_full_board_has_no_room_for_a_new_card() {
        let board = Instance::new(vec![1, 0, 1], vec![None; 2]).unwrap();
        assert_eq!(touched_by_newcomer(&board, &[0, 2], None), Ok(None));
        let none = Instance::new(vec![], vec![]).unwrap();
        assert_eq!(touched_by_newcomer(&none, &[], None), Ok(None));
    }

    #[test]
    fn counts_the_cards_up_to_the_nearest_free_place() {
        // Gaps before the cards on hooks 0, 1, 2 and after the last: 3, 2, 1 cards up to hook 3, 0.
        let board = Instance::new(vec![1; 4], vec![None; 3]).unwrap();
        assert_eq!(touched_by_newcomer(&board, &[0, 1, 2], None), Ok(Some(1.5)));
        let last = Some([0.0, 0.0, 0.0, 4.0].as_slice());
        assert_eq!(touched_by_newcomer(&board, &[0, 1, 2], last), Ok(Some(0.0)));
    }

    proptest! {
        #[test]
        fn agrees_with_hanging_each_new_card(board in boards(12, 3, 20)) {
            let hook = fewest_moves_least_distance(&board).unwrap().hook;
            let cards = hook.len();
            if board.capacity().iter().sum::<u32>() as usize == cards {
                prop_assert_eq!(touched_by_newcomer(&board, &hook, None), Ok(None));
                return Ok(());
            }
            let board = Instance::new(board.capacity().to_vec(), vec![None; cards]).unwrap();
            for gap in 0..=cards {
                let mut hung: Vec<_> = hook.iter().map(|&hook| Some(hook)).collect();
                hung.insert(gap, None);
                let with = Instance::new(board.capacity().to_vec(), hung).unwrap();
                let moved = fewest_moves(&with).unwrap().moved as f64;
                let mut wanted = vec![0.0; cards + 1];
                wanted[gap] = 0.5;
                let touched = touched_by_newcomer(&board, &hook, Some(&wanted));
                prop_assert_eq!(touched, Ok(Some(moved)));
            }
        }
    }
}
