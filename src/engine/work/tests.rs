use std::collections::{HashSet, VecDeque};

use proptest::collection::vec;
use proptest::prelude::*;

use super::*;
use crate::engine::distance::fewest_moves_least_distance;
use crate::engine::testing::boards;

/// Does the steps one by one, checks every rule and the end, and counts the cards set aside.
fn simulate(
    capacity: &[u32],
    from: &[Option<usize>],
    to: &[Option<usize>],
    steps: &[Step],
) -> usize {
    let mut load = loads(capacity.len(), from);
    let limit: Vec<u64> = load
        .iter()
        .zip(capacity)
        .map(|(&load, &places)| load.max(places.into()))
        .collect();
    let mut place = from.to_vec();
    let mut touched = vec![0; from.len()];
    let (mut hand, mut aside) = (None, 0);
    for step in steps {
        touched[step.card] += 1;
        if hand == Some(step.card) {
            assert_eq!(step.from, None, "a card in the hand is on no hook");
            hand = None;
        } else {
            assert_eq!(step.from, place[step.card], "the card is somewhere else");
            step.from.into_iter().for_each(|hook| load[hook] -= 1);
            if step.to.is_none() {
                assert!(step.from.is_some(), "a card of the tray is set aside");
                assert_eq!(hand.replace(step.card), None, "two cards in the hand");
                aside += 1;
            }
        }
        if let Some(hook) = step.to {
            assert_eq!(
                step.to, to[step.card],
                "a card is hung where it is not wanted"
            );
            load[hook] += 1;
            assert!(load[hook] <= limit[hook], "hook {hook} is over its limit");
        }
        place[step.card] = step.to;
    }
    assert_eq!(place, to);
    for (card, times) in touched.into_iter().enumerate() {
        assert!(times <= 2 && (times == 0) == (from[card] == to[card]));
    }
    aside
}

/// The fewest cards set aside over all orders of direct steps: breadth first over the sets of
/// cards done and the card in the hand, an extra round for each card set aside.
fn fewest_aside(capacity: &[u32], from: &[Option<usize>], to: &[Option<usize>]) -> usize {
    let start = loads(capacity.len(), from);
    let moving: Vec<usize> = (0..from.len())
        .filter(|&card| from[card] != to[card])
        .collect();
    let all = (1u32 << moving.len()) - 1;
    let mut seen = HashSet::new();
    let mut queue = VecDeque::from([(0u32, None, 0)]);
    while let Some((done, hand, aside)) = queue.pop_front() {
        if done == all {
            return aside;
        }
        if !seen.insert((done, hand)) {
            continue;
        }
        let mut load = start.clone();
        for (bit, &card) in moving.iter().enumerate() {
            let up = done >> bit & 1 == 1;
            if let Some(hook) = from[card]
                && (up || hand == Some(bit))
            {
                load[hook] -= 1;
            }
            if let Some(hook) = to[card]
                && up
            {
                load[hook] += 1;
            }
        }
        for (bit, &card) in moving
            .iter()
            .enumerate()
            .filter(|(bit, _)| done >> bit & 1 == 0)
        {
            let hook = to[card].unwrap();
            if load[hook] < start[hook].max(capacity[hook].into()) {
                let hand = hand.filter(|&held| held != bit);
                queue.push_front((done | 1 << bit, hand, aside));
            }
            if hand.is_none() && from[card].is_some() {
                queue.push_back((done, Some(bit), aside + 1));
            }
        }
    }
    panic!("no order at all");
}

/// A board, homes now, and wanted homes within the limits.
type Plan = (Vec<u32>, Vec<Option<usize>>, Vec<Option<usize>>);

fn plans(hooks: usize, places: u32, cards: usize) -> impl Strategy<Value = Plan> {
    let hook = prop::option::weighted(0.9, 0..hooks);
    (
        vec(0..=places, hooks),
        vec((hook, any::<usize>()), 0..=cards),
    )
        .prop_map(move |(capacity, cards)| {
            let from: Vec<_> = cards.iter().map(|(from, _)| *from).collect();
            let start = loads(hooks, &from);
            let mut left: Vec<u64> = start
                .iter()
                .zip(&capacity)
                .map(|(&a, &b)| a.max(b.into()))
                .collect();
            // Cards that hang choose first, so that there is a hook for each.
            let mut to = vec![None; cards.len()];
            let (hung, tray): (Vec<_>, Vec<_>) =
                (0..cards.len()).partition(|&card| from[card].is_some());
            for card in hung.into_iter().chain(tray) {
                let mut turn = (0..hooks).map(|step| (cards[card].1 % hooks + step) % hooks);
                to[card] = turn.find(|&hook| left[hook] > 0);
                to[card].into_iter().for_each(|hook| left[hook] -= 1);
            }
            (capacity, from, to)
        })
}

#[test]
fn two_full_hooks_swap_with_one_card_in_the_hand() {
    let (from, to) = ([Some(0), Some(1)], [Some(1), Some(0)]);
    let steps = order_of_work(&[1, 1], &from, &to, &[false, true]).unwrap();
    assert_eq!(
        steps,
        [
            Step {
                card: 1,
                from: Some(1),
                to: None
            },
            Step {
                card: 0,
                from: Some(0),
                to: Some(1)
            },
            Step {
                card: 1,
                from: None,
                to: Some(0)
            },
        ]
    );
    let steps = order_of_work(&[2, 1], &from, &to, &[true, true]).unwrap();
    assert_eq!(simulate(&[2, 1], &from, &to, &steps), 0);
}

#[test]
fn a_shift_runs_along_the_board() {
    let from = [None, Some(0), Some(1), Some(2)];
    let to = [Some(0), Some(1), Some(2), Some(3)];
    let steps = order_of_work(&[1; 4], &from, &to, &[true; 4]).unwrap();
    let cards: Vec<usize> = steps.iter().map(|step| step.card).collect();
    assert_eq!(cards, [3, 2, 1, 0]);
}

#[test]
fn goes_on_with_the_nearest_step_that_is_ready() {
    let from = [1, 2, 3, 9, 10].map(Some);
    let to = [2, 3, 4, 10, 11].map(Some);
    let steps = order_of_work(&[1; 12], &from, &to, &[true; 5]).unwrap();
    let cards: Vec<usize> = steps.iter().map(|step| step.card).collect();
    assert_eq!(cards, [2, 1, 0, 4, 3]);
    // Two swaps of full hooks: the nearer one is finished before the other is begun.
    let (from, to) = ([0, 1, 4, 5].map(Some), [1, 0, 5, 4].map(Some));
    let steps = order_of_work(&[1; 6], &from, &to, &[true; 4]).unwrap();
    let cards: Vec<usize> = steps.iter().map(|step| step.card).collect();
    assert!(
        cards == [0, 1, 0, 2, 3, 2] || cards == [1, 0, 1, 2, 3, 2],
        "{cards:?}"
    );
}

#[test]
fn says_what_is_wrong_with_the_wanted_homes() {
    let order = |from: &[Option<usize>], to: &[Option<usize>]| {
        order_of_work(&[1, 1], from, to, &[true, true])
    };
    assert_eq!(
        order(&[Some(0), None], &[Some(1), Some(1)]),
        Err(EngineError::Overfull {
            hook: 1,
            limit: 1,
            cards: 2
        })
    );
    assert_eq!(
        order(&[Some(0), None], &[None, None]),
        Err(EngineError::NoHome { card: 0 })
    );
    assert_eq!(
        order(&[Some(0), None], &[Some(0), Some(2)]),
        Err(EngineError::NoSuchHook {
            card: 1,
            hook: 2,
            hooks: 2
        })
    );
    assert!(matches!(
        order(&[None], &[None]),
        Err(EngineError::Length { .. })
    ));
    assert_eq!(order(&[Some(0), None], &[Some(0), None]), Ok(vec![]));
}

proptest! {
    #[test]
    fn as_few_set_aside_as_any_order((capacity, from, to) in plans(5, 2, 7)) {
        let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
        let aside = simulate(&capacity, &from, &to, &steps);
        prop_assert_eq!(aside, fewest_aside(&capacity, &from, &to));
    }

    #[test]
    fn as_few_set_aside_as_any_order_on_full_hooks((_, from, to) in plans(6, 0, 7)) {
        // Without spare places every hook is full at its load, the case of closed trails.
        let capacity = [0; 6];
        let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
        let aside = simulate(&capacity, &from, &to, &steps);
        prop_assert_eq!(aside, fewest_aside(&capacity, &from, &to));
    }

    #[test]
    fn sound_on_larger_boards((capacity, from, to) in plans(40, 3, 90)) {
        let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
        simulate(&capacity, &from, &to, &steps);
    }

    #[test]
    fn carries_out_a_re_hang(board in boards(30, 3, 50), keep in vec(any::<bool>(), 50)) {
        let homes = fewest_moves_least_distance(&board).unwrap();
        let to: Vec<_> = homes.hook.iter().map(|&hook| Some(hook)).collect();
        let liftable = &keep[..to.len()];
        let steps = order_of_work(board.capacity(), board.cards(), &to, liftable).unwrap();
        let aside = simulate(board.capacity(), board.cards(), &to, &steps);
        // A card that is not there is only lifted where no other card of its row is.
        for (index, step) in steps.iter().enumerate().filter(|(_, step)| step.to.is_none()) {
            let row = steps[index + 1..].iter().take_while(|later| later.card != step.card);
            prop_assert!(liftable[step.card] || row.clone().all(|step| !liftable[step.card]));
        }
        prop_assert!(aside <= homes.moved / 2);
    }
}
