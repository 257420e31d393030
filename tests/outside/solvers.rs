//! Re-hangs by the engine against outside answers: a general solver for mixed integer linear
//! programs, and published results about longest increasing subsequences.
//!
//! The random boards are the same in every run; `PROPTEST_CASES` draws more of them. There are a
//! twelfth as many as usual, because the general solver is slow.

mod loose_milp;
mod milp;
mod subsequences;

use homehook::engine::fewer_moves::fewest_moves_leaving_out;
use homehook::engine::fewest_moves::fewest_moves_least_distance;
use homehook::engine::fewest_moves::{fewest_moves, fewest_moves_weighted};
use homehook::engine::instance::{EngineError, Instance};
use homehook::engine::move_nothing::{longest_chain, move_nothing};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// The same cases in every run.
fn always_the_same() -> ProptestConfig {
    ProptestConfig {
        cases: ProptestConfig::default().cases.div_ceil(16),
        rng_seed: RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Hooks with 0 to 3 places, and 8 to 14 cards: some new, the others on any hook, either in order
/// except for some swaps or in random order. There may be too few places, and hooks may start over
/// capacity.
fn boards() -> impl Strategy<Value = (Vec<u32>, Vec<Option<usize>>)> {
    (10..=16usize, 8..=14usize).prop_flat_map(|(hooks, cards)| {
        let swaps = prop_oneof![
            3 => vec((0..cards, 0..cards), 0..4).prop_map(Some),
            1 => Just(None),
        ];
        let new = vec(prop::bool::weighted(0.15), cards);
        (vec(0..=3u32, hooks), vec(0..hooks, cards), swaps, new).prop_map(
            |(capacity, mut hung, swaps, new)| {
                if let Some(swaps) = swaps {
                    hung.sort_unstable();
                    swaps.into_iter().for_each(|(a, b)| hung.swap(a, b));
                }
                let cards = hung.into_iter().zip(new);
                let cards = cards.map(|(hook, new)| (!new).then_some(hook)).collect();
                (capacity, cards)
            },
        )
    })
}

/// Effort and distance of the homes `hook`, which are in order and within capacity.
fn figures(board: &Instance, hook: &[usize], effort: &[u32]) -> (u64, u64) {
    assert_eq!(hook.len(), board.cards().len());
    assert!(hook.is_sorted(), "out of order: {hook:?}");
    for (index, &places) in board.capacity().iter().enumerate() {
        let load = hook.iter().filter(|&&hook| hook == index).count();
        assert!(load <= places as usize, "hook {index} is over capacity");
    }
    let (mut touched, mut distance) = (0, 0);
    for (card, (now, &hook)) in board.cards().iter().zip(hook).enumerate() {
        if let Some(now) = now.filter(|&now| now != hook) {
            touched += u64::from(effort[card]);
            distance += now.abs_diff(hook) as u64;
        }
    }
    (touched, distance)
}

/// Compares the engine's three solvers with the general one, on a board with enough places.
fn compare(board: &Instance, effort: &[u32]) {
    let ones = vec![1; effort.len()];
    // The total distance of all cards stays below this, so moves come first.
    let far = (board.cards().len() * board.capacity().len()) as u64;
    let touched = |card: usize, hook| board.cards()[card].filter(|&now| now != hook);

    let known = milp::cheapest_homes(board, |card, hook| {
        touched(card, hook).map_or(0, |now| far + now.abs_diff(hook) as u64)
    });
    let known = figures(board, &known.expect("homes for all cards"), &ones);
    let homes = fewest_moves_least_distance(board).unwrap();
    assert!(homes.least_distance);
    assert_eq!(figures(board, &homes.hook, &ones), known);
    assert_eq!((homes.moved as u64, homes.distance), known);
    let homes = fewest_moves(board).unwrap();
    assert_eq!(figures(board, &homes.hook, &ones).0, known.0);
    assert_eq!(homes.moved as u64, known.0);

    let known = milp::cheapest_homes(board, |card, hook| {
        touched(card, hook).map_or(0, |_| effort[card].into())
    });
    let known = figures(board, &known.expect("homes for all cards"), effort).0;
    let homes = fewest_moves_weighted(board, effort).unwrap();
    assert_eq!(figures(board, &homes.hook, effort).0, known);
}

/// Checks that both find places for all cards, or that both refuse.
fn compare_or_both_refuse(board: &Instance, effort: &[u32]) -> bool {
    let short = match fewest_moves(board) {
        Ok(_) => {
            compare(board, effort);
            return false;
        }
        Err(EngineError::Short { places_short, .. }) => places_short,
        Err(other) => panic!("{other}"),
    };
    let error = EngineError::Short {
        cards: board.cards().len(),
        places: board.places(),
        places_short: short,
    };
    assert_eq!(fewest_moves_weighted(board, effort), Err(error.clone()));
    assert_eq!(fewest_moves_least_distance(board), Err(error));
    assert_eq!(milp::cheapest_homes(board, |_, _| 0), None);
    // With this many fewer cards the solver finds homes, so the reported number is right.
    let fewer = |cards: usize| {
        let cards = board.cards()[..cards].to_vec();
        Instance::new(board.capacity().to_vec(), cards).unwrap()
    };
    let enough = board.cards().len() - short as usize;
    compare(&fewer(enough), &effort[..enough]);
    assert_eq!(milp::cheapest_homes(&fewer(enough + 1), |_, _| 0), None);
    true
}

proptest! {
    #![proptest_config(always_the_same())]

    #[test]
    fn homes_are_as_good_as_with_a_general_solver((capacity, cards) in boards(), effort in vec(0..6u32, 14)) {
        let board = Instance::new(capacity, cards).unwrap();
        compare_or_both_refuse(&board, &effort[..board.cards().len()]);
    }

    #[test]
    fn refuses_what_a_general_solver_refuses(
        (mut capacity, cards) in boards(),
        short in 1..=4usize,
        effort in vec(0..6u32, 14),
    ) {
        // Closes places from the first hook on until there are too few.
        let mut over = (capacity.iter().sum::<u32>() + short as u32).saturating_sub(cards.len() as u32);
        for places in &mut capacity {
            let closed = over.min(*places);
            *places -= closed;
            over -= closed;
        }
        let board = Instance::new(capacity, cards).unwrap();
        prop_assert!(compare_or_both_refuse(&board, &effort[..board.cards().len()]));
    }

    #[test]
    fn moves_nothing_as_well_as_a_general_solver(
        (capacity, cards) in boards(),
        new in vec(prop::bool::weighted(0.3), 14),
    ) {
        let cards: Vec<_> = cards.iter().zip(new).map(|(now, new)| now.filter(|_| !new)).collect();
        let board = Instance::new(capacity, cards).unwrap();
        let mut free: Vec<u64> = board.capacity().iter().map(|&places| places.into()).collect();
        for &hook in board.cards().iter().flatten() {
            free[hook] = free[hook].saturating_sub(1);
        }
        let chain = longest_chain(board.cards());
        let hook = |card: usize| board.cards()[card].filter(|_| chain[card]);
        let to_hang: Vec<usize> = (0..chain.len()).filter(|&card| board.cards()[card].is_none()).collect();
        // The total hooks off of all cards stay below this, so cards outside come first.
        let outside = (board.cards().len() * free.len()) as u64;
        let known = loose_milp::cheapest_places(&free, to_hang.len(), |at, to| {
            let card = to_hang[at];
            let low = (0..card).rev().find_map(hook).unwrap_or(0);
            let high = (card..chain.len()).find_map(hook).unwrap_or(free.len() - 1);
            let off = low.saturating_sub(to).max(to.saturating_sub(high)) as u64;
            off + if off > 0 { outside } else { 0 }
        });
        let found = move_nothing(&board).ok().map(|loose| {
            loose.disorder.newly_hung as u64 * outside + loose.disorder.hooks_off as u64
        });
        prop_assert_eq!(found, known);
    }

    #[test]
    fn leaves_cards_out_as_well_as_a_general_solver(
        (mut capacity, mut cards) in boards(),
        new in vec(prop::bool::weighted(0.3), 14),
        effort in vec(1..6u32, 14),
    ) {
        capacity.truncate(8);
        cards.truncate(7);
        let cards: Vec<_> = cards.iter().zip(new)
            .map(|(now, new)| now.filter(|&now| !new && now < 8))
            .collect();
        let board = Instance::new(capacity, cards).unwrap();
        let effort = &effort[..board.cards().len()];
        let cost = |card: usize, hook| {
            let moved = board.cards()[card].is_some_and(|now| now != hook);
            if moved { effort[card].into() } else { 0 }
        };
        let found = fewest_moves_leaving_out(&board, effort, 7);
        for most in 0..=2 {
            let known = loose_milp::cheapest_leaving_out(&board, cost, most);
            let best = found.as_ref().ok().and_then(|found| {
                found.iter().take_while(|one| one.cards <= most as usize).last()
            });
            prop_assert_eq!(best.map(|one| one.effort), known);
        }
    }
}
