//! The order in which ready steps are done: always the nearest one.

use std::collections::BTreeSet;

use super::Step;

/// Puts steps in an order that goes on with the nearest step that is ready, and keeps every rule that
/// the given order keeps.
///
/// `steps` is an order without cards set aside in which no hook ever takes more than `free[hook]`
/// cards above its number at the start. Here arrival `k` at a hook (from 0) waits for departure
/// `k - free[hook]` from it, and the first `free[hook]` arrivals for nothing:
///
/// - That departure comes earlier in the given order: there the first `k + 1` arrivals less the
///   departures so far are at most `free[hook]`. So no wait is circular and every step is done.
/// - However the waits are kept, each arrival done has a departure of its own done before it, or is
///   one of the first `free[hook]`. So no hook ever takes more than that above its start.
///
/// Each of `blocks` is a row of steps that is done in one go, and at any time: its hooks are in no
/// other block and in none of `steps`. Distance is counted in hooks in reading order, from where the
/// last card was hung to where the next one is taken; a card of the tray is near where it goes.
/// O(hooks + steps * log steps).
pub(super) fn nearest_first(free: &[u64], steps: &[Step], blocks: &[Vec<Step>]) -> Vec<Step> {
    let mut departures: Vec<Vec<usize>> = vec![Vec::new(); free.len()];
    for (index, step) in steps.iter().enumerate() {
        if let Some(from) = step.from {
            departures[from].push(index);
        }
    }
    // The step whose place each departure makes: the first arrivals take the free places, the next
    // ones take those of the departures in turn.
    let mut waiting: Vec<Option<usize>> = vec![None; steps.len()];
    let mut arrived = vec![0u64; free.len()];
    let mut ready = BTreeSet::new();
    for (index, step) in steps.iter().enumerate() {
        let Some(to) = step.to else { continue };
        match arrived[to].checked_sub(free[to]) {
            Some(turn) => waiting[departures[to][turn as usize]] = Some(index),
            None => {
                ready.insert((place(step), index));
            }
        }
        arrived[to] += 1;
    }
    for (index, block) in blocks.iter().enumerate() {
        ready.extend(block.first().map(|step| (place(step), steps.len() + index)));
    }

    let mut order = Vec::with_capacity(steps.len());
    let mut hand = 0;
    while let Some(next) = nearest(&ready, hand) {
        ready.remove(&next);
        match steps.get(next.1) {
            Some(step) => {
                order.push(*step);
                if let Some(index) = waiting[next.1] {
                    ready.insert((place(&steps[index]), index));
                }
            }
            None => order.extend_from_slice(&blocks[next.1 - steps.len()]),
        }
        hand = order.last().and_then(|step| step.to).unwrap_or(hand);
    }
    order
}

/// Where the hand goes for a step.
fn place(step: &Step) -> usize {
    step.from.or(step.to).unwrap_or(0)
}

/// The entry nearest to `hand`; of two equally near the later one in reading order.
fn nearest(ready: &BTreeSet<(usize, usize)>, hand: usize) -> Option<(usize, usize)> {
    let after = ready.range((hand, 0)..).next();
    let before = ready.range(..(hand, 0)).next_back();
    let nearest = [after, before].into_iter().flatten();
    nearest
        .min_by_key(|(place, _)| place.abs_diff(hand))
        .copied()
}
