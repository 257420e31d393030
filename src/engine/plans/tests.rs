use std::collections::BTreeMap;

use proptest::collection::vec;
use proptest::prelude::*;

use super::*;
use crate::engine::distance::fewest_moves_least_distance;
use crate::engine::room::{FreshRows, room_score};
use crate::engine::testing::{all_plans, assert_sound, boards, cost_of};

fn gaps(gaps: &[f64]) -> Room<'_> {
    Room {
        gaps: Some(gaps),
        rows: None,
    }
}

fn crowded(hooks: usize, cards: usize) -> Instance {
    Instance::new(vec![1; hooks], (0..cards).map(Some).collect()).unwrap()
}

#[test]
fn from_a_crowd_to_an_even_layout() {
    let board = crowded(60, 40);
    let plans = plans(&board, &Wishes::default()).unwrap();
    assert_eq!(plans.len(), 5);
    assert_eq!(plans[0].homes.moved, 0);
    assert_eq!(plans[0].touched_by_newcomer, Some(20.0));
    let last = &plans[4];
    assert!(
        last.room < 0.3 && last.touched_by_newcomer < Some(0.6),
        "{last:?}"
    );
    // The first card of the even layout has no free place before it and stays.
    assert_eq!(last.homes.moved, 39);
}

#[test]
fn all_new_cards_have_one_plan_the_wanted_layout() {
    let board = Instance::new(vec![1; 6], vec![None; 3]).unwrap();
    let wishes = Wishes {
        room: gaps(&[0.0, 2.0, 0.0, 1.0]),
        ..Wishes::default()
    };
    let plans = plans(&board, &wishes).unwrap();
    assert_eq!(plans.len(), 1);
    assert_eq!((&plans[0].homes.hook, plans[0].room), (&vec![0, 3, 4], 0.0));
}

#[test]
fn a_long_board_gets_the_ends_of_the_list() {
    let board = crowded(7000, 3000);
    let plans = plans(&board, &Wishes::default()).unwrap();
    let figures: Vec<_> = plans.iter().map(|plan| plan.homes.moved).collect();
    assert_eq!(figures, [0, 3000]);
    assert!(plans[1].room < 0.5);
}

#[test]
fn families_get_fresh_rows_where_the_board_allows() {
    // Families of 8, 4 and 9 cards on three rows of ten: the second row for the second family, and
    // the third row for the last.
    let board = crowded(30, 21);
    let family_start: Vec<bool> = (0..21).map(|card| [0, 8, 12].contains(&card)).collect();
    let row_start: Vec<bool> = (0..30).map(|hook| hook % 10 == 0).collect();
    let rows = Some(FreshRows {
        family_start: &family_start,
        row_start: &row_start,
    });
    let wishes = Wishes {
        room: Room { gaps: None, rows },
        ..Wishes::default()
    };
    let plans = plans(&board, &wishes).unwrap();
    assert_eq!(
        (plans[0].homes.moved, plans[0].families_on_rows),
        (0, Some(1))
    );
    let last = plans.last().unwrap();
    assert_eq!(last.families_on_rows, Some(3));
    assert_eq!((last.homes.hook[8], last.homes.hook[12]), (10, 20));
}

#[test]
fn wishes_must_fit_the_cards() {
    let board = crowded(4, 2);
    let bad = Wishes {
        weight: Some(&[1]),
        ..Wishes::default()
    };
    assert!(matches!(
        plans(&board, &bad),
        Err(EngineError::Length { .. })
    ));
    let bad = Wishes {
        room: gaps(&[1.0, 1.0]),
        ..Wishes::default()
    };
    assert!(matches!(
        plans(&board, &bad),
        Err(EngineError::Length { .. })
    ));
    assert!(matches!(
        plans(
            &crowded(1, 1),
            &Wishes {
                most: 0,
                ..Wishes::default()
            }
        )
        .as_deref(),
        Ok([_])
    ));
}

/// The shares and weights for up to 60 cards.
fn wishes() -> impl Strategy<Value = (Vec<f64>, Vec<u32>)> {
    let weight = prop_oneof![3 => Just(1), 2 => 0..5u32, 1 => Just(u32::MAX)];
    (
        vec(prop_oneof![1 => Just(0.0), 3 => 0.0..5.0f64], 61),
        vec(weight, 60),
    )
}

fn assert_list(board: &Instance, plans: &[PlanHomes], wanted: &[f64], weight: &[u32]) {
    for plan in plans {
        assert_sound(board, &plan.homes);
        let hook = &plan.homes.hook;
        assert_eq!(cost_of(board, hook, weight).0, plan.weight_moved);
        assert_eq!(room_score(board, hook, &gaps(wanted)), Ok(plan.room));
    }
    for pair in plans.windows(2) {
        assert!(pair[0].weight_moved < pair[1].weight_moved);
        assert!(pair[0].room > pair[1].room);
    }
}

proptest! {
    #[test]
    fn the_ends_and_the_hull_of_every_plan(
        board in boards(6, 3, 6),
        (wanted, weight) in wishes(),
    ) {
        let cards = board.cards().len();
        let (wanted, weight) = (&wanted[..=cards], &weight[..cards]);
        let wishes = Wishes { room: gaps(wanted), weight: Some(weight), most: 30 };
        let plans = plans(&board, &wishes).unwrap();
        assert_list(&board, &plans, wanted, weight);

        let ideal = Ideal::new(&board, &gaps(wanted)).unwrap();
        let mut least_off = BTreeMap::new();
        let mut first = (u64::MAX, u64::MAX, u128::MAX);
        for hook in all_plans(&board) {
            let (weight, distance) = cost_of(&board, &hook, weight);
            let off = ideal.squares_off(&board, &hook);
            first = first.min((weight, distance, off));
            let known = least_off.entry(weight).or_insert(u128::MAX);
            *known = off.min(*known);
        }
        let off = |plan: &PlanHomes| ideal.squares_off(&board, &plan.homes.hook);
        let found = (plans[0].weight_moved, plans[0].homes.distance, off(&plans[0]));
        prop_assert_eq!(found, first);

        // The corners of the lower hull, by looking at every pair on both sides of a point.
        let points: Vec<(i128, i128)> =
            least_off.iter().map(|(&weight, &off)| (weight.into(), off as i128)).collect();
        let best = points.iter().map(|point| point.1).min().unwrap();
        let corner = |&(x, y): &(i128, i128)| {
            points.iter().all(|a| a.0 >= x || a.1 > y) && points.iter().all(|a| {
                points.iter().all(|b| {
                    a.0 >= x || b.0 <= x || (b.1 - a.1) * (x - a.0) > (y - a.1) * (b.0 - a.0)
                })
            })
        };
        let listed: Vec<(i128, i128)> =
            plans.iter().map(|plan| (plan.weight_moved.into(), off(plan) as i128)).collect();
        for point in points[1..].iter().filter(|point| corner(point)) {
            prop_assert!(listed.contains(point), "{:?} is not in {:?}", point, listed);
        }
        prop_assert!(listed.len() == 1 || listed.last().unwrap().1 == best);
    }

    #[test]
    fn none_is_as_good_as_another_in_both(
        board in boards(40, 3, 60),
        (wanted, weight) in wishes(),
        most in 1..6usize,
    ) {
        let cards = board.cards().len();
        let (wanted, weight) = (&wanted[..=cards], &weight[..cards]);
        let wishes = Wishes { room: gaps(wanted), weight: Some(weight), most };
        let weighted = plans(&board, &wishes).unwrap();
        prop_assert!((1..=most).contains(&weighted.len()));
        assert_list(&board, &weighted, wanted, weight);

        let wishes = Wishes { most, ..Wishes::default() };
        let even = plans(&board, &wishes).unwrap();
        assert_list(&board, &even, &vec![1.0; cards + 1], &vec![1; cards]);
        prop_assert_eq!(&even[0].homes, &fewest_moves_least_distance(&board).unwrap());
    }
}
