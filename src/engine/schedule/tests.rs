use std::collections::{HashSet, VecDeque};

use proptest::collection::vec;
use proptest::prelude::*;

use super::*;
use crate::engine::fewest_moves::fewest_moves_least_distance;
use crate::engine::testing::boards;

/// Performs the steps one by one, checks every rule and the result, and counts the cards set aside.
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

/// The least cost of any order at all, by breadth-first search over full states, which say where
/// every card is. A step takes any card and puts it on any hook with a place, its own or not, or
/// into a hand that holds up to `hands` cards. It costs `cost(true)` on the wanted hook and
/// `cost(false)` elsewhere: 0 or 1 (0-1 breadth-first search, with cheap steps at the front of the
/// queue).
fn least_cost(
    (capacity, from, to): (&[u32], &[Option<usize>], &[Option<usize>]),
    hands: usize,
    cost: impl Fn(bool) -> usize,
) -> usize {
    let hooks = capacity.len();
    let limit: Vec<u64> = loads(hooks, from)
        .iter()
        .zip(capacity)
        .map(|(&load, &places)| load.max(places.into()))
        .collect();
    // Where a card is: a hook, then the hand, then the cards to hang.
    let (hand, tray) = (hooks, hooks + 1);
    let start: Vec<usize> = from.iter().map(|hook| hook.unwrap_or(tray)).collect();
    let goal: Vec<usize> = to.iter().map(|hook| hook.unwrap_or(tray)).collect();
    let mut seen = HashSet::new();
    let mut queue = VecDeque::from([(start, 0)]);
    while let Some((place, so_far)) = queue.pop_front() {
        if place == goal {
            return so_far;
        }
        if !seen.insert(place.clone()) {
            continue;
        }
        let mut load = vec![0; hooks + 2];
        place.iter().for_each(|&place| load[place] += 1);
        for card in 0..place.len() {
            for put in (0..=hand).filter(|&put| put != place[card]) {
                let most = limit.get(put).map_or(hands, |&limit| limit as usize);
                if load[put] < most {
                    let mut next = place.clone();
                    next[card] = put;
                    match cost(put == goal[card]) {
                        0 => queue.push_front((next, so_far)),
                        more => queue.push_back((next, so_far + more)),
                    }
                }
            }
        }
    }
    panic!("no order at all");
}

/// Checks our order against every possible order: it is legal and has as few cards set aside, with
/// one spare hand or two, and as few steps. Returns the number of cards set aside.
fn check_against_every_order(
    capacity: &[u32],
    from: &[Option<usize>],
    to: &[Option<usize>],
) -> usize {
    let steps = order_of_work(capacity, from, to, &vec![true; from.len()]).unwrap();
    let aside = simulate(capacity, from, to, &steps);
    let plan = (capacity, from, to);
    for hands in [1, 2] {
        let least = least_cost(plan, hands, |wanted| usize::from(!wanted));
        assert_eq!(aside, least, "{plan:?} with {hands} cards in the hand");
    }
    assert_eq!(steps.len(), least_cost(plan, 1, |_| 1), "{plan:?}");
    assert_eq!(aside, tight_parts(capacity, from, to), "{plan:?}");
    aside
}

/// The tight parts of the theorem, counted by definition. Hooks joined by the cards that go from
/// one to the other get one label, and a label is dropped if one of its hooks has a place to spare,
/// before or after.
fn tight_parts(capacity: &[u32], from: &[Option<usize>], to: &[Option<usize>]) -> usize {
    let hooks = capacity.len();
    let (start, end) = (loads(hooks, from), loads(hooks, to));
    let mut part: Vec<usize> = (0..hooks).collect();
    let mut tight = HashSet::new();
    for (from, to) in from.iter().zip(to) {
        if let (&Some(from), &Some(to)) = (from, to)
            && from != to
        {
            let (old, new) = (part[from], part[to]);
            part.iter_mut()
                .filter(|part| **part == old)
                .for_each(|part| *part = new);
        }
    }
    for (from, to) in from.iter().zip(to) {
        if let Some(to) = *to
            && *from != Some(to)
        {
            tight.insert(part[to]);
        }
    }
    for hook in 0..hooks {
        if start[hook] != end[hook] || start[hook] < capacity[hook].into() {
            tight.remove(&part[hook]);
        }
    }
    tight.len()
}

/// A board, current homes, and wanted homes within the limits.
type Plan = (Vec<u32>, Vec<Option<usize>>, Vec<Option<usize>>);

/// Plans in which hung cards go to any hook with a place or, every other time, swap hooks among
/// themselves so that each hook keeps its number.
fn plans(hooks: usize, places: u32, cards: usize) -> impl Strategy<Value = Plan> {
    let hook = prop::option::weighted(0.85, 0..hooks);
    (
        vec(prop_oneof![0..=places.min(1), 0..=places], hooks),
        vec((hook, any::<usize>()), cards / 2..=cards),
        any::<bool>(),
    )
        .prop_map(move |(capacity, cards, among_themselves)| {
            let from: Vec<_> = cards.iter().map(|(from, _)| *from).collect();
            let mut left: Vec<u64> = loads(hooks, &from)
                .iter()
                .zip(&capacity)
                .map(|(&a, &b)| a.max(b.into()))
                .collect();
            // Hung cards choose first, so that there is a hook for each.
            let (hung, tray): (Vec<_>, Vec<_>) =
                (0..cards.len()).partition(|&card| from[card].is_some());
            let mut giver = hung.clone();
            giver.sort_by_key(|&card| cards[card].1);
            let mut to = vec![None; cards.len()];
            for (index, &card) in hung.iter().chain(&tray).enumerate() {
                let wish = match giver.get(index) {
                    Some(&giver) if among_themselves => from[giver].unwrap(),
                    _ => cards[card].1 % hooks,
                };
                let mut turn = (0..hooks).map(|step| (wish + step) % hooks);
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
fn continues_with_the_nearest_step_that_is_ready() {
    let from = [1, 2, 3, 9, 10].map(Some);
    let to = [2, 3, 4, 10, 11].map(Some);
    let steps = order_of_work(&[1; 12], &from, &to, &[true; 5]).unwrap();
    let cards: Vec<usize> = steps.iter().map(|step| step.card).collect();
    assert_eq!(cards, [2, 1, 0, 4, 3]);
    // Two swaps of full hooks: the nearer one is finished before the other starts.
    let (from, to) = ([0, 1, 4, 5].map(Some), [1, 0, 5, 4].map(Some));
    let steps = order_of_work(&[1; 6], &from, &to, &[true; 4]).unwrap();
    let cards: Vec<usize> = steps.iter().map(|step| step.card).collect();
    assert!(
        cards == [0, 1, 0, 2, 3, 2] || cards == [1, 0, 1, 2, 3, 2],
        "{cards:?}"
    );
}

#[test]
fn impossible_wanted_homes_are_explained() {
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

/// Every list of `len` entries below `end`.
fn lists(end: usize, len: u32) -> impl Iterator<Item = Vec<usize>> {
    (0..end.pow(len)).map(move |number| (0..len).map(|at| number / end.pow(at) % end).collect())
}

#[test]
fn optimal_for_every_plan_of_three_cards_on_three_hooks() {
    // Each card by where it is and is wanted, 0 = nowhere; equal cards only in one order.
    let mut by_aside = [0; 2];
    for capacity in lists(3, 3) {
        let capacity: Vec<u32> = capacity.iter().map(|&places| places as u32).collect();
        for cards in lists(16, 3).filter(|cards| cards.is_sorted()) {
            let from: Vec<_> = cards.iter().map(|card| (card / 4).checked_sub(1)).collect();
            let to: Vec<_> = cards.iter().map(|card| (card % 4).checked_sub(1)).collect();
            match order_of_work(&capacity, &from, &to, &[true; 3]) {
                Ok(_) => by_aside[check_against_every_order(&capacity, &from, &to)] += 1,
                Err(EngineError::NoHome { .. } | EngineError::Overfull { .. }) => {}
                Err(other) => panic!("{other}"),
            }
        }
    }
    assert!(by_aside[0] > 4000 && by_aside[1] > 200, "{by_aside:?}");
}

#[test]
fn a_free_place_elsewhere_does_not_save_setting_a_card_aside() {
    // Hooks 0 and 1 swap, and 2 and 3, while hook 4 is free and hook 5 over capacity.
    let from = [0, 1, 2, 3, 5, 5].map(Some);
    let to = [1, 0, 3, 2, 5, 5].map(Some);
    assert_eq!(check_against_every_order(&[1; 6], &from, &to), 2);
    // One card from 5 to 4 joins neither pair; one from 1 to 2 joins them, but frees no place.
    let to = [1, 0, 3, 2, 5, 4].map(Some);
    assert_eq!(check_against_every_order(&[1; 6], &from, &to), 2);
    let (from, to) = ([0, 1, 2, 3].map(Some), [1, 2, 3, 0].map(Some));
    assert_eq!(check_against_every_order(&[1; 4], &from, &to), 1);
    // A place freed at the end of a row of cards, or one that a new card fills.
    assert_eq!(check_against_every_order(&[1, 1, 1, 2], &from, &to), 0);
}

proptest! {
    // Trying every order takes time.
    #![proptest_config(crate::testing::one_case_in(8))]

    #[test]
    fn as_good_as_trying_every_order((capacity, from, to) in plans(5, 3, 6)) {
        check_against_every_order(&capacity, &from, &to);
    }

    #[test]
    fn as_good_as_trying_every_order_on_full_hooks((_, from, to) in plans(6, 0, 6)) {
        // Without spare places every hook is full at its load, the case of closed trails.
        check_against_every_order(&[0; 6], &from, &to);
    }
}

proptest! {
    #[test]
    fn one_card_is_set_aside_for_each_tight_part_of_larger_boards(
        (capacity, from, to) in prop_oneof![plans(40, 3, 90), plans(60, 1, 40)],
    ) {
        let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
        let aside = simulate(&capacity, &from, &to, &steps);
        prop_assert_eq!(aside, tight_parts(&capacity, &from, &to));
    }

    #[test]
    fn carries_out_a_re_hang(board in boards(30, 3, 50), keep in vec(any::<bool>(), 50)) {
        let homes = fewest_moves_least_distance(&board).unwrap();
        let to: Vec<_> = homes.hook.iter().map(|&hook| Some(hook)).collect();
        let liftable = &keep[..to.len()];
        let steps = order_of_work(board.capacity(), board.cards(), &to, liftable).unwrap();
        let aside = simulate(board.capacity(), board.cards(), &to, &steps);
        // A card that isn't there is lifted only if no other card of its row is there.
        for (index, step) in steps.iter().enumerate().filter(|(_, step)| step.to.is_none()) {
            let row = steps[index + 1..].iter().take_while(|later| later.card != step.card);
            prop_assert!(liftable[step.card] || row.clone().all(|step| !liftable[step.card]));
        }
        prop_assert!(aside <= homes.moved / 2);
    }
}
