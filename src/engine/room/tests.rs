use proptest::collection::vec;
use proptest::prelude::*;

use super::*;
use crate::engine::testing::{boards, places_of_plans};

fn score(capacity: &[u32], hook: &[usize], unowned: Option<&[f64]>) -> f64 {
    let board = Instance::new(capacity.to_vec(), vec![None; hook.len()]).unwrap();
    room_score(&board, hook, &Room { unowned }).unwrap()
}

#[test]
fn worked_by_hand() {
    // Three hooks, one card, two colours to come before it: they fill the two free places, so the
    // horizons are chances of 0.3, 0.6, 0.8 and 1. With no free place in the gap all that come fail:
    // 2 * (0.3 + 0.6 + 0.8 + 1) / 4 cards, and the card is pulled by two places.
    let crowded = score(&[1; 3], &[0], Some(&[2.0, 0.0]));
    assert!((crowded - (1.35 + 4.0 / 1024.0)).abs() < 1e-5, "{crowded}");
    // With one, the second one fails: (0.09 + 0.36 + 0.64 + 1) / 4.
    let half = score(&[1; 3], &[1], Some(&[2.0, 0.0]));
    assert!((half - (0.5225 + 1.0 / 1024.0)).abs() < 1e-5, "{half}");
    assert_eq!(score(&[1; 3], &[2], Some(&[2.0, 0.0])), 0.0);
    // Half a colour is the mean of none and one.
    let part = score(&[1; 2], &[0], Some(&[0.5, 0.0]));
    assert!((part - (0.5 * 0.675 + 1.0 / 1024.0)).abs() < 1e-5, "{part}");
}

#[test]
fn without_knowledge_even_is_best_and_a_crowd_worst() {
    let even = score(&[1; 11], &[2, 5, 8], None);
    for other in [[0, 1, 2], [8, 9, 10], [1, 5, 9], [2, 5, 9], [3, 5, 7]] {
        assert!(score(&[1; 11], &other, None) > even, "{other:?}");
    }
}

#[test]
fn wishes_must_be_numbers_from_nought_up() {
    let board = Instance::new(vec![2], vec![None]).unwrap();
    let score = |unowned: Option<&[f64]>, hook| room_score(&board, &[hook], &Room { unowned });
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
    #[test]
    fn free_places_of_a_hook_count_where_they_serve_best(
        board in boards(5, 3, 6),
        unowned in prop::option::of(vec(prop_oneof![Just(0.0), 0.0..3.0f64, (0..4u8).prop_map(f64::from)], 7)),
    ) {
        let cards = board.cards().len();
        let unowned = unowned.as_ref().map(|unowned| &unowned[..=cards]);
        let measure = Measure::new(&board, &Room { unowned }).unwrap();
        let line = Line::new(&board, board.free().unwrap());
        for (hook, places) in places_of_plans(&board) {
            let least = places.iter().map(|place| measure.sum(place, board.places())).min();
            prop_assert_eq!(Some(line.room_of(&measure, &hook)), least);
        }
    }

    #[test]
    fn a_free_place_more_is_never_worse(
        unowned in vec(0.0..4.0f64, 2..8),
        free in 1..12u64,
    ) {
        let cards = unowned.len() - 1;
        let board = Instance::new(vec![1; cards + free as usize], vec![None; cards]).unwrap();
        let measure = Measure::new(&board, &Room { unowned: Some(&unowned) }).unwrap();
        for gap in 0..=cards {
            let table = measure.gap(gap);
            prop_assert!(table.is_sorted_by(|a, b| a >= b));
            for three in table.windows(3) {
                // Convex, but for the rounding of each number to a whole unit.
                prop_assert!(three[0] + three[2] + 2 >= 2 * three[1]);
            }
        }
    }
}
