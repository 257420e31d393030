//! Room: how well the free places are spread for cards not yet owned.
//!
//! The measure is against an ideal: the layout in which free places stand between the cards in the
//! proportions that are wanted, even ones by default, and families start on fresh rows if that is
//! wished. A card with `q` free places before it where the ideal has `q*` is `|q - q*|` places off.
//! The sum of squares over the cards tells spread from crowded at every scale, on a board with few
//! free places as on one with many, which the sizes of single gaps do not: with fewer free places
//! than cards every gap of 0 or 1 would look alike.

use super::ideal::Ideal;
use super::instance::{EngineError, Instance, check_length};

/// The room that is wanted; by default all gaps alike.
#[derive(Debug, Clone, Copy, Default)]
pub struct Room<'a> {
    /// `gaps[r]` = share of the free places wanted before card `r`, and `gaps[cards]` = after the
    /// last card: 0 or more, in any unit. `None`, or 0 everywhere = all gaps alike.
    pub gaps: Option<&'a [f64]>,
    /// Where families are to start on a fresh row.
    pub rows: Option<FreshRows<'a>>,
}

/// Families and rows, for families that are to start on a fresh row.
///
/// A fresh row is worth having a family start up to half a row from where the wanted gaps alone
/// would put it; where that cannot be, the family starts along the row.
#[derive(Debug, Clone, Copy)]
pub struct FreshRows<'a> {
    /// Whether each card, in wanted order, is the first of its family.
    pub family_start: &'a [bool],
    /// Whether each hook, in reading order, is the first of its row.
    pub row_start: &'a [bool],
}

/// How far the cards are from the layout with the wanted room: the root mean square over the cards
/// of the places they are off, to a 16th of a place; 0 or more, lower is better.
///
/// `hook[r]` is the hook of card `r`: non-decreasing and within capacity, as a solver of this layer
/// gives it. On a hook of several places the free ones count where they serve best.
/// O(hooks + cards), and O(families * (free places + 1)) for fresh rows.
///
/// # Errors
/// [`EngineError::Length`] for a list that does not have an entry for each card, hook, or gap;
/// [`EngineError::BadGap`] for a share below 0 or not a number; [`EngineError::NoSuchHook`] for a
/// hook beyond the last; [`EngineError::Short`] where there are fewer places than cards.
pub fn room_score(instance: &Instance, hook: &[usize], room: &Room) -> Result<f64, EngineError> {
    check_hooks(instance, hook)?;
    let ideal = Ideal::new(instance, room)?;
    Ok(ideal.score(ideal.squares_off(instance, hook)))
}

/// A hook that exists for each card, or an error.
pub(super) fn check_hooks(instance: &Instance, hook: &[usize]) -> Result<(), EngineError> {
    check_length("hooks", instance.cards().len(), hook.len())?;
    let hooks = instance.capacity().len();
    match hook.iter().position(|&hook| hook >= hooks) {
        Some(card) => Err(EngineError::NoSuchHook {
            card,
            hook: hook[card],
            hooks,
        }),
        None => Ok(()),
    }
}

/// A share of 0 or more for each gap of `cards` cards, or an error.
pub(super) fn check_gaps(cards: usize, gaps: &[f64]) -> Result<(), EngineError> {
    check_length("wanted gaps", cards + 1, gaps.len())?;
    match gaps
        .iter()
        .position(|share| !(0.0..f64::INFINITY).contains(share))
    {
        Some(gap) => Err(EngineError::BadGap { gap }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::testing::boards;
    use super::*;

    fn score(capacity: &[u32], hook: &[usize], gaps: Option<&[f64]>) -> f64 {
        let board = Instance::new(capacity.to_vec(), vec![None; hook.len()]).unwrap();
        room_score(&board, hook, &Room { gaps, rows: None }).unwrap()
    }

    #[test]
    fn the_even_layout_scores_nothing_and_a_crowd_more() {
        assert_eq!(score(&[1; 11], &[2, 5, 8], None), 0.0);
        // Ideal 2, 4, 6 free places before; crowded at the start 0, 0, 0: the root of 56 / 3.
        assert!((score(&[1; 11], &[0, 1, 2], None) - (56.0f64 / 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn wanted_gaps_shift_the_ideal() {
        assert_eq!(score(&[1; 6], &[0, 1, 5], Some(&[0.0, 0.0, 2.0, 0.0])), 0.0);
        let off = score(&[1; 6], &[0, 1, 4], Some(&[0.0, 0.0, 7.5, 0.0]));
        assert!((off - 3f64.sqrt().recip()).abs() < 1e-12);
    }

    #[test]
    fn wishes_must_be_numbers_from_nought_up() {
        let board = Instance::new(vec![2], vec![None]).unwrap();
        let score =
            |gaps: Option<&[f64]>, hook| room_score(&board, &[hook], &Room { gaps, rows: None });
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(
                score(Some(&[0.5, bad]), 0),
                Err(EngineError::BadGap { gap: 1 })
            );
        }
        assert!(matches!(
            score(Some(&[1.0]), 0),
            Err(EngineError::Length { .. })
        ));
        assert!(matches!(
            score(None, 1),
            Err(EngineError::NoSuchHook { .. })
        ));
        let rows = Some(FreshRows {
            family_start: &[true],
            row_start: &[],
        });
        let fresh = room_score(&board, &[0], &Room { gaps: None, rows });
        assert!(matches!(
            fresh,
            Err(EngineError::Length {
                expected: 1,
                found: 0,
                ..
            })
        ));
    }

    #[test]
    fn squares_on_vast_hooks_do_not_overflow() {
        let board = Instance::new(vec![u32::MAX; 70_000], vec![None; 70_000]).unwrap();
        let crowd = room_score(&board, &vec![0; 70_000], &Room::default()).unwrap();
        assert!(crowd > 2e9 && crowd < 4e9, "{crowd}");
    }

    proptest! {
        #[test]
        fn free_places_of_a_hook_count_where_they_serve_best(
            board in boards(5, 3, 6),
            wanted in vec(0.0..3.0f64, 7),
        ) {
            // Every choice of places on the hooks of a plan, against the closed form.
            let cards = board.cards().len();
            let wanted = &wanted[..=cards];
            let room = Room { gaps: Some(wanted), rows: None };
            let ideal = Ideal::new(&board, &room).unwrap();
            let places: Vec<usize> = (0..board.capacity().len())
                .flat_map(|hook| {
                    let ends = board.first_place(hook)..board.first_place(hook + 1);
                    ends.map(move |_| hook)
                })
                .collect();
            let mut best = std::collections::BTreeMap::new();
            for chosen in 0u32..1 << places.len() {
                if chosen.count_ones() as usize == cards {
                    let on: Vec<usize> =
                        (0..places.len()).filter(|place| chosen >> place & 1 == 1).collect();
                    let off = |(rank, &place): (usize, &usize)| {
                        ideal.square_off(rank, (place - rank) as u64)
                    };
                    let sum: u128 = on.iter().enumerate().map(off).sum();
                    let hook: Vec<usize> = on.iter().map(|&place| places[place]).collect();
                    let known = best.entry(hook).or_insert(u128::MAX);
                    *known = sum.min(*known);
                }
            }
            for (hook, sum) in best {
                let found = room_score(&board, &hook, &room).unwrap();
                prop_assert!((found - ideal.score(sum)).abs() < 1e-9);
            }
        }
    }
}
