//! Slow, obvious models to compare the solvers with, and boards to compare them on.

use std::collections::BTreeMap;

use proptest::collection::vec;
use proptest::prelude::*;

use super::instance::{Homes, Instance};

/// Boards of up to `hooks` hooks with 0 to `places` places each, and up to `cards` cards, no more
/// than there are places. Some have no hook; the others are in order, slightly misfiled or in any
/// order. Hooks may be over capacity at the start.
pub(super) fn boards(hooks: usize, places: u32, cards: usize) -> impl Strategy<Value = Instance> {
    let capacity = vec(prop_oneof![1 => Just(0), 6 => 0..=places], 1..=hooks);
    let order = prop_oneof![Just(0usize), 1..=4usize, Just(usize::MAX)];
    (
        capacity,
        vec(prop::option::weighted(0.85, any::<usize>()), 0..=cards),
        order,
    )
        .prop_map(|(capacity, mut cards, misfiled)| {
            let hooks = capacity.len();
            cards.truncate(capacity.iter().sum::<u32>() as usize);
            let numbers: Vec<usize> = cards.iter().flatten().copied().collect();
            let mut hung: Vec<usize> = numbers.iter().map(|number| number % hooks).collect();
            if misfiled < usize::MAX {
                hung.sort_unstable();
                for &number in numbers
                    .iter()
                    .take(if hung.is_empty() { 0 } else { misfiled })
                {
                    let (from, to) = (number % hung.len(), number / 7 % hung.len());
                    hung.swap(from, to);
                }
            }
            let mut hung = hung.into_iter();
            let cards = cards
                .iter()
                .map(|card| card.and_then(|_| hung.next()))
                .collect();
            Instance::new(capacity, cards).unwrap()
        })
}

/// Holds some of the hung cards: those with an odd number in `holds`.
pub(super) fn some_held(board: &Instance, holds: &[u8]) -> Vec<bool> {
    let cards = board.cards().iter().zip(holds);
    cards
        .map(|(now, hold)| now.is_some() && hold % 2 == 1)
        .collect()
}

/// Every set of homes that keeps the held cards.
pub(super) fn plans_with_holds(instance: &Instance, stay: &[bool]) -> Vec<Vec<usize>> {
    let mut plans = all_plans(instance);
    plans.retain(|hook| {
        let mut cards = hook.iter().zip(instance.cards()).zip(stay);
        cards.all(|((new, now), stay)| !stay || *now == Some(*new))
    });
    plans
}

/// Every set of homes that is non-decreasing and within capacity.
pub(super) fn all_plans(instance: &Instance) -> Vec<Vec<usize>> {
    fn extend(left: &mut [u32], cards: usize, plan: &mut Vec<usize>, plans: &mut Vec<Vec<usize>>) {
        if plan.len() == cards {
            plans.push(plan.clone());
            return;
        }
        for hook in plan.last().copied().unwrap_or(0)..left.len() {
            if left[hook] > 0 {
                left[hook] -= 1;
                plan.push(hook);
                extend(left, cards, plan, plans);
                plan.pop();
                left[hook] += 1;
            }
        }
    }
    let mut plans = Vec::new();
    let mut left = instance.capacity().to_vec();
    extend(
        &mut left,
        instance.cards().len(),
        &mut Vec::new(),
        &mut plans,
    );
    plans
}

/// Every set of homes with every choice of places on its hooks, in order.
pub(super) fn places_of_plans(instance: &Instance) -> BTreeMap<Vec<usize>, Vec<Vec<usize>>> {
    let hooks = 0..instance.capacity().len();
    let ends = hooks.map(|hook| instance.first_place(hook)..instance.first_place(hook + 1));
    let hook_of: Vec<usize> = ends
        .enumerate()
        .flat_map(|(hook, ends)| ends.map(move |_| hook))
        .collect();
    let mut plans = BTreeMap::new();
    for chosen in 0u32..1 << hook_of.len() {
        if chosen.count_ones() as usize == instance.cards().len() {
            let on = (0..hook_of.len()).filter(|place| chosen >> place & 1 == 1);
            let places: Vec<usize> = on.collect();
            let hook: Vec<usize> = places.iter().map(|&place| hook_of[place]).collect();
            plans.entry(hook).or_insert_with(Vec::new).push(places);
        }
    }
    plans
}

/// Effort and distance of the homes `hook`.
pub(super) fn cost_of(instance: &Instance, hook: &[usize], effort: &[u32]) -> (u64, u64) {
    let mut cost = (0, 0);
    for (card, now) in instance.cards().iter().enumerate() {
        if let Some(now) = *now
            && now != hook[card]
        {
            cost.0 += u64::from(effort[card]);
            cost.1 += now.abs_diff(hook[card]) as u64;
        }
    }
    cost
}

/// The least effort, then the least distance, by a table over hooks: the best for the first `k`
/// cards on the hooks so far, with each hook taking from none to as many as it has places.
pub(super) fn best_by_hooks(instance: &Instance, effort: &[u32]) -> Option<(u64, u64)> {
    let cards = instance.cards();
    let mut best: Vec<Option<(u64, u64)>> = vec![None; cards.len() + 1];
    best[0] = Some((0, 0));
    for (hook, &places) in instance.capacity().iter().enumerate() {
        let before = best.clone();
        for (begin, cost) in before.into_iter().enumerate() {
            let Some(mut cost) = cost else { continue };
            for card in begin..cards.len().min(begin + places as usize) {
                if let Some(now) = cards[card]
                    && now != hook
                {
                    cost.0 += u64::from(effort[card]);
                    cost.1 += now.abs_diff(hook) as u64;
                }
                let known = &mut best[card + 1];
                *known = Some(known.map_or(cost, |known| known.min(cost)));
            }
        }
    }
    best[cards.len()]
}

/// Checks order, capacity and the figures of `homes`.
pub(super) fn assert_sound(instance: &Instance, homes: &Homes) {
    assert_eq!(homes.hook.len(), instance.cards().len());
    assert!(homes.hook.is_sorted(), "out of order: {:?}", homes.hook);
    let mut left = instance.capacity().to_vec();
    for &hook in &homes.hook {
        assert!(left[hook] > 0, "hook {hook} is over capacity");
        left[hook] -= 1;
    }
    let ones = vec![1; homes.hook.len()];
    let figures = (homes.moved as u64, homes.distance);
    assert_eq!(cost_of(instance, &homes.hook, &ones), figures);
}
