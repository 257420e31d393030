//! Plans that leave cards out of order: plan 0, which moves nothing, and some between it and full
//! order.

use super::{PlanHomes, PlanOptions, Point, judge};
use crate::engine::distance::{MOST_CELLS, least_distance};
use crate::engine::fewer_moves::{LeftOut, fewest_moves_leaving_out};
use crate::engine::fewest_moves::fewest_moves_weighted;
use crate::engine::gap_cost::{Measure, Room};
use crate::engine::instance::{EngineError, Homes, Instance, family_breaks};
use crate::engine::layout::Line;
use crate::engine::move_nothing::{LooseHomes, hang_the_rest, move_nothing};
use crate::engine::room::touched_by_newcomer;

/// Plans between moving nothing and full order, at most.
const MOST_BETWEEN: usize = 2;

/// The plan that moves nothing; where `first`, the one in order with the least effort, moves nothing
/// either, it is that one.
pub(super) fn nothing(
    instance: &Instance,
    wishes: &PlanOptions,
    first: Option<&PlanHomes>,
) -> Result<PlanHomes, EngineError> {
    match first.filter(|first| first.homes.moved == 0) {
        Some(first) => Ok(first.clone()),
        None => judge_loose(instance, wishes, move_nothing(instance)?),
    }
}

/// Up to [`MOST_BETWEEN`] plans with more cards in order than plan 0 and less effort than the first
/// plan in order, by rising effort. All hung cards are in order in them. Each has the least effort for
/// the new cards it leaves out, the least distance for that, and then the nearest hooks for them.
pub(super) fn between(
    instance: &Instance,
    wishes: &PlanOptions,
    nothing: &PlanHomes,
    first: Option<&PlanHomes>,
    go_on: &dyn Fn() -> bool,
) -> Result<Vec<PlanHomes>, EngineError> {
    let most = nothing.disorder.cards();
    let Some(first) = first.filter(|first| first.effort_moved > 0 && most > 1) else {
        return Ok(Vec::new());
    };
    let ones;
    let effort = match wishes.effort {
        Some(effort) => effort,
        None => {
            ones = vec![1; instance.cards().len()];
            &ones
        }
    };
    let mut left_out = fewest_moves_leaving_out(instance, effort, most - 1)?;
    left_out.retain(|one| one.cards > 0 && one.effort > 0);
    let mut plans = Vec::new();
    for one in worth_showing(left_out, first.effort_moved, most) {
        if !go_on() {
            return Err(EngineError::Stopped);
        }
        let loose = with_left_out(instance, effort, &one)?;
        plans.push(judge_loose(instance, wishes, loose)?);
    }
    plans.sort_by_key(|plan| plan.effort_moved);
    Ok(plans)
}

/// The one that spares most for the cards it leaves out, and the one that is furthest from it and from
/// both ends: no cards left out, and no effort.
fn worth_showing(left_out: Vec<LeftOut>, effort: u64, most: usize) -> Vec<LeftOut> {
    let at = |one: &LeftOut| {
        let (cards, moves) = (one.cards as f64, one.effort as f64);
        (cards / most as f64, moves / effort as f64)
    };
    let sum = |one: &LeftOut| at(one).0 + at(one).1;
    let mut left = left_out;
    let Some(best) = (0..left.len()).min_by(|&a, &b| sum(&left[a]).total_cmp(&sum(&left[b])))
    else {
        return left;
    };
    let mut chosen = vec![left.swap_remove(best)];
    while chosen.len() < MOST_BETWEEN {
        let apart = |one: &LeftOut| {
            let ends = [(0.0, 1.0), (1.0, 0.0)];
            let points = chosen.iter().map(at).chain(ends);
            let here = at(one);
            points
                .map(|point| (here.0 - point.0).hypot(here.1 - point.1))
                .fold(f64::INFINITY, f64::min)
        };
        let next = (0..left.len()).max_by(|&a, &b| apart(&left[a]).total_cmp(&apart(&left[b])));
        let Some(next) = next else { break };
        chosen.push(left.swap_remove(next));
    }
    chosen
}

/// Homes with the least effort, then distance, for all cards but those left out, and the nearest hooks
/// for these.
fn with_left_out(
    instance: &Instance,
    effort: &[u32],
    left_out: &LeftOut,
) -> Result<LooseHomes, EngineError> {
    let kept: Vec<usize> = (0..left_out.out.len())
        .filter(|&card| !left_out.out[card])
        .collect();
    let hung = kept.iter().map(|&card| instance.cards()[card]).collect();
    let stay: Vec<bool> = kept.iter().map(|&card| instance.is_held(card)).collect();
    let rest = Instance::new(instance.capacity().to_vec(), hung)?.with_holds(&stay)?;
    let effort: Vec<u32> = kept.iter().map(|&card| effort[card]).collect();
    let line = Line::new(&rest, rest.free()?);
    let hook = if line.cells() <= MOST_CELLS {
        let measure = Measure::new(&rest, &Room::default())?;
        let q = least_distance(&line, &measure, &|rank| u64::from(effort[rank]));
        Homes::from_line(&rest, &q, true).hook
    } else {
        fewest_moves_weighted(&rest, &effort)?.hook
    };
    let mut homes = vec![None; left_out.out.len()];
    for (&card, hook) in kept.iter().zip(hook) {
        homes[card] = Some(hook);
    }
    let in_order: Vec<bool> = left_out.out.iter().map(|out| !out).collect();
    hang_the_rest(instance, &homes, &in_order)
}

/// The figures of homes that need not be in order. Room is what there is between the cards in order:
/// a card out of order takes a place and has no gap of its own.
fn judge_loose(
    instance: &Instance,
    wishes: &PlanOptions,
    loose: LooseHomes,
) -> Result<PlanHomes, EngineError> {
    let in_order: Vec<usize> = (0..loose.hook.len())
        .filter(|&card| !loose.astray[card])
        .collect();
    // A hook may carry more than it has places for, where it is reserved.
    let mut capacity = vec![0; instance.capacity().len()];
    let mut load = capacity.clone();
    for &hook in &loose.hook {
        load[hook] += 1;
    }
    for (at, (&places, &load)) in instance.capacity().iter().zip(&load).enumerate() {
        capacity[at] = places.max(load);
    }
    for card in (0..loose.hook.len()).filter(|&card| loose.astray[card]) {
        capacity[loose.hook[card]] -= 1;
    }
    let hook: Vec<usize> = in_order.iter().map(|&card| loose.hook[card]).collect();
    let tidy = Instance::new(capacity, hook.iter().copied().map(Some).collect())?;
    let unowned = wishes.room.unowned.map(|unowned| {
        let mut gaps = vec![0.0; hook.len() + 1];
        let mut gap = 0;
        for (card, share) in unowned.iter().enumerate() {
            gaps[gap] += share;
            gap += usize::from(loose.astray.get(card) == Some(&false));
        }
        gaps
    });
    let room = Room {
        unowned: unowned.as_deref(),
    };
    let line = Line::new(&tidy, tidy.free()?);
    let next = touched_by_newcomer(&tidy, &hook, unowned.as_deref())?;
    let breaks = wishes.rows.as_ref();
    let breaks = breaks.map(|rows| family_breaks(instance, rows, &loose.hook));
    let homes = Homes::of_hooks(instance, loose.hook);
    let moved = instance.cards().iter().zip(&homes.hook).enumerate();
    let moved = moved.filter(|(_, (now, new))| now.is_some_and(|now| now != **new));
    let effort = |card: usize| wishes.effort.map_or(1, |effort| u64::from(effort[card]));
    let point = Point {
        effort: moved.map(|(card, _)| effort(card)).sum(),
        room: line.room_of(&Measure::new(&tidy, &room)?, &hook),
        breaks: breaks.transpose()?.unwrap_or(0),
        homes,
    };
    judge(instance, wishes, point, next, loose.disorder)
}
