//! Room: how well a layout waits for cards not yet owned, and what the next one will cost.

use super::gap_cost::{Measure, in_cards};
use super::instance::{EngineError, Instance, check_gaps, check_hooks};
use super::layout::Line;

pub use super::gap_cost::{Room, to_come};

/// The cards to come that will find no free place in their gap, as far as can be expected, and the pull
/// to an even spread (see `gap_cost`); 0 or more, lower is better.
///
/// `hook[r]` is the hook of card `r`: non-decreasing and within capacity, as a solver of this layer
/// gives it. On a hook of several places the free ones count where they serve best.
/// O(hooks + cards * (places of a hook + colours to come)).
///
/// # Errors
/// [`EngineError::Length`] for a list that does not have an entry for each card, hook, or gap;
/// [`EngineError::BadGap`] for a number below 0 or not a number; [`EngineError::NoSuchHook`] for a
/// hook beyond the last; [`EngineError::Short`] where there are fewer places than cards.
pub fn room_score(instance: &Instance, hook: &[usize], room: &Room) -> Result<f64, EngineError> {
    check_hooks(instance, hook)?;
    let measure = Measure::new(instance, room)?;
    let line = Line::new(instance, instance.free()?);
    Ok(in_cards(line.room_of(&measure, hook)))
}

/// The hung cards that the next new card is expected to touch, if all cards hang on `hook`; `None`
/// where no place is free.
///
/// The new card falls into gap `r`, before card `r` (the last gap is after the last card), with
/// a chance in proportion to `wanted[r]`, or all gaps alike with `None` or where all are 0. It is
/// hung with the fewest moves: where a hook between its neighbours has a free place, none;
/// otherwise the full hooks on from there each pass one card to the next, up to the first that has a
/// free place, on the side where they are fewer. O(hooks + cards).
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
    let mut free: Vec<u64> = instance
        .capacity()
        .iter()
        .map(|&places| places.into())
        .collect();
    for &hook in hook {
        free[hook] = free[hook].saturating_sub(1);
    }
    if free.iter().all(|&free| free == 0) {
        return Ok(None);
    }

    // Full hooks before each hook, and the nearest hooks with a free place on both sides of it.
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
mod newcomer_tests {
    use proptest::prelude::*;

    use super::super::distance::fewest_moves_least_distance;
    use super::super::fewest_moves::fewest_moves;
    use super::super::testing::boards;
    use super::*;

    #[test]
    fn a_full_board_takes_no_newcomer() {
        let board = Instance::new(vec![1, 0, 1], vec![None; 2]).unwrap();
        assert_eq!(touched_by_newcomer(&board, &[0, 2], None), Ok(None));
        let none = Instance::new(vec![], vec![]).unwrap();
        assert_eq!(touched_by_newcomer(&none, &[], None), Ok(None));
    }

    #[test]
    fn counts_the_cards_up_to_the_nearest_space() {
        // Gaps before the cards on hooks 0, 1, 2 and after the last: 3, 2, 1 cards up to hook 3, 0.
        let board = Instance::new(vec![1; 4], vec![None; 3]).unwrap();
        assert_eq!(touched_by_newcomer(&board, &[0, 1, 2], None), Ok(Some(1.5)));
        let last = Some([0.0, 0.0, 0.0, 4.0].as_slice());
        assert_eq!(touched_by_newcomer(&board, &[0, 1, 2], last), Ok(Some(0.0)));
    }

    proptest! {
        #[test]
        fn is_what_hanging_each_newcomer_takes(board in boards(12, 3, 20)) {
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

#[cfg(test)]
mod tests;
