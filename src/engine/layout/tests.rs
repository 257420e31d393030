use proptest::collection::vec;
use proptest::prelude::*;

use super::*;
use crate::engine::instance::Homes;
use crate::engine::instance::family_breaks;
use crate::engine::room::Room;
use crate::engine::testing::{boards, cost_of, places_of_plans, plans_with_holds, some_held};

fn price() -> impl Strategy<Value = Cost> {
    let number = prop_oneof![Just(0), Just(1), 0..50u128, Just(1 << 20), Just(1 << 22)];
    (number.clone(), number).prop_map(|(first, then)| Cost { first, then })
}

proptest! {
    #[test]
    fn no_plan_is_cheaper(
        board in boards(6, 2, 6),
        effort in vec(0..4u32, 6),
        holds in vec(any::<u8>(), 6),
        unowned in prop::option::of(vec((0..4u8).prop_map(f64::from), 7)),
        families in vec(any::<bool>(), 6),
        new_row in vec(any::<bool>(), 6),
        prices in (price(), price(), price(), price()),
    ) {
        let cards = board.cards().len();
        let stay = some_held(&board, &holds);
        let kept = plans_with_holds(&board, &stay);
        let Ok(board) = board.with_holds(&stay) else {
            prop_assert!(kept.is_empty());
            return Ok(());
        };
        let mut row = 0;
        let row_of: Vec<u32> = new_row[..board.capacity().len()]
            .iter()
            .map(|new| {
                row += u32::from(*new);
                row
            })
            .collect();
        let rows = Rows { family_start: &families[..cards], row_of: &row_of };
        let prices = Prices { effort: prices.0, distance: prices.1, room: prices.2, breaks: prices.3 };
        let unowned = unowned.as_ref().map(|unowned| &unowned[..=cards]);
        let measure = Measure::new(&board, &Room { unowned }).unwrap();
        let line = Line::new(&board, board.free().unwrap());

        let cost = |hook: &[usize], place: &[usize]| {
            let (effort, distance) = cost_of(&board, hook, &effort[..cards]);
            let breaks = family_breaks(&board, &rows, hook).unwrap();
            prices.effort * effort.into()
                + prices.distance * distance.into()
                + prices.breaks * breaks as u128
                + prices.room * measure.sum(place, board.places())
        };
        let all = places_of_plans(&board);
        let least = all
            .iter()
            .filter(|(hook, _)| kept.contains(hook))
            .flat_map(|(hook, places)| places.iter().map(|place| cost(hook, place)))
            .min();
        let q = line.cheapest(&measure, Some(&rows), &|rank| effort[rank].into(), &prices);
        let place: Vec<usize> = q.iter().zip(0..).map(|(q, rank)| *q as usize + rank).collect();
        let hook = Homes::from_line(&board, &q, true).hook;
        prop_assert!(kept.contains(&hook));
        prop_assert_eq!(Some(cost(&hook, &place)), least);
    }
}
