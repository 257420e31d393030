//! Plans that may be worth showing: the lower hull of effort against room and family breaks, and on
//! small boards the most room for each effort.
//!
//! Also the plans that leave cards out of order: plan 0, which moves nothing, and some between it
//! and full order.

use std::cell::Cell;
use std::ops::AddAssign;

use super::{Coming, PlanHomes, PlanOptions, Point, judge};
use crate::engine::fewer_moves::{LeftOut, fewest_moves_leaving_out};
use crate::engine::fewest_moves::{self, MOST_CELLS, fewest_moves_weighted, least_distance};
use crate::engine::gap_cost::{Measure, Room, UNIT};
use crate::engine::instance::{EngineError, Homes, Instance, family_breaks};
use crate::engine::layout::{Cost, Line, MOST_CELLS_BETWEEN, Prices};
use crate::engine::move_nothing::{LooseHomes, hang_the_rest, move_nothing};

/// The most points to look for on a hull.
const POINTS: usize = 9;

/// The price of a family break, in cards to come: nothing, a little, and a lot.
const BREAK_PRICES: [u64; 3] = [0, 2, 20];

/// A problem with everything needed to solve it.
pub(super) struct Question<'a> {
    pub(super) instance: &'a Instance,
    pub(super) line: &'a Line<'a>,
    pub(super) measure: &'a Measure,
    pub(super) wishes: &'a PlanOptions<'a>,
    /// Whether to go on. Called with the number of candidates so far.
    pub(super) go_on: &'a dyn Fn(usize) -> bool,
    /// Candidates computed so far.
    pub(super) count: Cell<usize>,
}

impl Question<'_> {
    pub(super) fn effort(&self, rank: usize) -> u64 {
        self.wishes
            .effort
            .map_or(1, |effort| u64::from(effort[rank]))
    }

    /// [`EngineError::Stopped`] if the caller wants no more candidates.
    pub(super) fn go_on(&self) -> Result<(), EngineError> {
        if (self.go_on)(self.count.get()) {
            Ok(())
        } else {
            Err(EngineError::Stopped)
        }
    }

    /// The figures of the plan `q`.
    pub(super) fn point(&self, q: &[u64], least_distance: bool) -> Result<Point, EngineError> {
        self.count.set(self.count.get() + 1);
        let homes = Homes::from_line(self.instance, q, least_distance);
        let moved = self.instance.cards().iter().zip(&homes.hook).enumerate();
        let moved = moved.filter(|(_, (now, new))| now.is_some_and(|now| now != **new));
        let effort = moved.map(|(rank, _)| self.effort(rank)).sum();
        let rows = self.wishes.rows.as_ref();
        let breaks = rows.map(|rows| family_breaks(self.instance, rows, &homes.hook));
        Ok(Point {
            effort,
            room: self.line.room_of(self.measure, &homes.hook),
            breaks: breaks.transpose()?.unwrap_or(0),
            homes,
        })
    }
}

/// Candidates, each with different homes. One of them has the least effort.
pub(super) fn candidates(
    instance: &Instance,
    measure: &Measure,
    wishes: &PlanOptions,
    go_on: &dyn Fn(usize) -> bool,
) -> Result<Vec<Point>, EngineError> {
    let line = Line::new(instance, instance.free()?);
    let question = Question {
        instance,
        line: &line,
        measure,
        wishes,
        go_on,
        count: Cell::new(0),
    };
    question.go_on()?;
    let effort = |rank| question.effort(rank);
    let near = line.cells() <= MOST_CELLS;
    let first = if near {
        least_distance(&line, measure, &effort)
    } else {
        fewest_moves::heaviest_chain(instance, instance.free()?, effort)
    };
    let mut found = vec![question.point(&first, near)?];
    if wishes.most > 1 {
        if line.cells() > MOST_CELLS_BETWEEN {
            found.push(even(&question)?);
        } else {
            for price in BREAK_PRICES {
                if price == 0 || wishes.rows.is_some() {
                    found.append(&mut Hull::new(&question, price * UNIT).points(POINTS)?);
                }
            }
            found.append(&mut most_room_for_each_number(&question)?);
        }
    }
    let mut known = std::collections::HashSet::new();
    found.retain(|point| known.insert(point.homes.hook.clone()));
    Ok(found)
}

/// The even layout, as far as holds allow it.
fn even(question: &Question) -> Result<Point, EngineError> {
    let free = question.instance.free()?;
    let cards = question.instance.cards().len();
    let line: Vec<u64> = (0..cards)
        .map(|rank| {
            let (low, high) = question.instance.ends(rank, free);
            question.measure.even(rank).clamp(low, high)
        })
        .collect();
    question.point(&line, false)
}

/// The hull for one price of a family break, in units of room.
pub(super) struct Hull<'a> {
    question: &'a Question<'a>,
    breaks: u64,
}

impl<'a> Hull<'a> {
    pub(super) const fn new(question: &'a Question<'a>, breaks: u64) -> Self {
        Self { question, breaks }
    }

    /// Up to `most` points, from the least effort on: first both ends, then between the two
    /// neighbours that are farthest apart.
    pub(super) fn points(&self, most: usize) -> Result<Vec<Point>, EngineError> {
        let apart = 1 << 64;
        // The sums of room and of breaks stay below 2^64, and so do efforts.
        let light = self.cheapest(apart, 1)?;
        let roomy = self.cheapest(1, apart)?;
        if roomy.effort <= light.effort || self.loss(&roomy) >= self.loss(&light) {
            return Ok(vec![light]);
        }
        let mut hull = vec![light, roomy];
        // Whether there may be points between each point of the hull and the next.
        let mut open = vec![true];
        while hull.len() < most {
            let widest = (0..open.len()).filter(|&at| open[at]).max_by_key(|&at| {
                let (a, b) = (&hull[at], &hull[at + 1]);
                u128::from(b.effort - a.effort) * (self.loss(a) - self.loss(b))
            });
            let Some(at) = widest else { break };
            let (a, b) = (&hull[at], &hull[at + 1]);
            // At these prices both cost the same. The products stay below 2^127.
            let between =
                self.cheapest(self.loss(a) - self.loss(b), u128::from(b.effort - a.effort))?;
            if a.effort < between.effort && between.effort < b.effort {
                hull.insert(at + 1, between);
                open.insert(at, true);
            } else {
                open[at] = false;
            }
        }
        Ok(hull)
    }

    /// The cost of a point apart from its effort.
    fn loss(&self, point: &Point) -> u128 {
        point.room + u128::from(self.breaks) * point.breaks as u128
    }

    /// The cheapest plan; among several, one with the least distance.
    fn cheapest(&self, effort: u128, loss: u128) -> Result<Point, EngineError> {
        let prices = Prices {
            effort: Cost::first(effort),
            distance: Cost::then(1),
            room: Cost::first(loss),
            breaks: Cost::first(loss * u128::from(self.breaks)),
        };
        let question = self.question;
        question.go_on()?;
        let effort = |rank| question.effort(rank);
        let rows = question.wishes.rows.as_ref();
        let line = question
            .line
            .cheapest(question.measure, rows, &effort, &prices);
        question.point(&line, false)
    }
}

/// The largest table (cards, free places, effort) in which every effort is examined.
const MOST_ENTRIES: u64 = 1 << 21;

/// For each possible effort, from the least on, a plan with the most room for it, but only if it
/// has more room than those for less effort. None on boards that are too large.
///
/// The table is that of [`crate::engine::layout`] with the effort so far as one more dimension, so
/// it finds plans that no price of a move leads to. O(cards * (free places + 1) * (effort + 1) *
/// length of the gap tables) time, two bytes per entry.
pub(super) fn most_room_for_each_number(question: &Question) -> Result<Vec<Point>, EngineError> {
    let (instance, measure) = (question.instance, question.measure);
    let free = instance.free()?;
    let cards = instance.cards().len();
    let hung = (0..cards).filter(|&rank| instance.cards()[rank].is_some());
    let heaviest: u64 = hung.map(|rank| question.effort(rank)).sum();
    let entries = (free + 1).saturating_mul(heaviest.saturating_add(1));
    if entries.saturating_mul(cards as u64) > MOST_ENTRIES || free >= u64::from(u16::MAX) {
        return Ok(Vec::new());
    }
    let (free, width) = (free as usize, heaviest as usize + 1);
    let (best, from) = room_by_effort(question, free, width);

    let last = measure.gap(cards);
    let mut points = Vec::new();
    let mut least = u128::MAX;
    for effort in 0..width {
        let ends = (0..=free).filter(|q| best[q * width + effort] < u128::MAX);
        let total = |q: &usize| {
            let gap = last.get(free - q).copied().unwrap_or(0);
            best[q * width + effort] + u128::from(gap)
        };
        let Some(mut q) = ends.min_by_key(total) else {
            continue;
        };
        if total(&q) >= least {
            continue;
        }
        least = total(&q);
        let mut line = vec![0; cards];
        let mut left = effort;
        for rank in (0..cards).rev() {
            line[rank] = q as u64;
            let before = from[(rank * (free + 1) + q) * width + left];
            if question.line.touched(rank, q as u64).is_some() {
                left -= question.effort(rank) as usize;
            }
            q = before.into();
        }
        points.push(question.point(&line, false)?);
    }
    Ok(points)
}

/// The table: the least loss of room with `q` free places before the last card and effort `w`, at
/// `q * width + w`; and for each card the `q` of the previous card that reaches it.
fn room_by_effort(question: &Question, free: usize, width: usize) -> (Vec<u128>, Vec<u16>) {
    let (instance, measure) = (question.instance, question.measure);
    let cards = instance.cards().len();
    let mut best = vec![u128::MAX; (free + 1) * width];
    best[0] = 0;
    let mut from = vec![0u16; cards * (free + 1) * width];
    for rank in 0..cards {
        let mut next = vec![u128::MAX; best.len()];
        let row = &mut from[rank * (free + 1) * width..][..(free + 1) * width];
        let table = measure.gap(rank);
        let (low, high) = instance.ends(rank, free as u64);
        for q in low as usize..=high as usize {
            let touched = question.line.touched(rank, q as u64).is_some();
            let more = if touched {
                question.effort(rank) as usize
            } else {
                0
            };
            let pull = measure.pull(rank, q as u64);
            for before in 0..=q {
                let gap = u128::from(table.get(q - before).copied().unwrap_or(0));
                for effort in more..width {
                    let known = best[before * width + effort - more];
                    if known == u128::MAX {
                        continue;
                    }
                    let here = known + gap + pull;
                    let slot = q * width + effort;
                    if here < next[slot] {
                        next[slot] = here;
                        row[slot] = before as u16;
                    }
                }
            }
        }
        best = next;
    }
    (best, from)
}

/// The most plans between moving nothing and full order.
const MOST_BETWEEN: usize = 2;

/// The plan that moves nothing. If `first`, the plan in order with the least effort, moves nothing
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
/// plan in order, by rising effort. They keep all hung cards in order. Each has the least effort
/// for the new cards it leaves out, then the least distance, then the nearest hooks for them.
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

/// The plan that saves most for the cards it leaves out, and the one farthest from it and from both
/// ends: no cards left out, and no effort.
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

/// Homes with the least effort, then distance, for all cards but those left out, and the nearest
/// hooks for these.
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

/// The figures of homes that may be out of order. Room is measured between the cards in order: a
/// card out of order takes a place and has no gap of its own.
fn judge_loose(
    instance: &Instance,
    wishes: &PlanOptions,
    loose: LooseHomes,
) -> Result<PlanHomes, EngineError> {
    let in_order: Vec<usize> = (0..loose.hook.len())
        .filter(|&card| !loose.astray[card])
        .collect();
    // A reserved hook may carry more than its capacity.
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
    let certain = wishes.room.certain;
    let certain = certain.map(|certain| between_those_in_order(certain, &loose.astray));
    let possible = wishes.room.possible;
    let possible = possible.map(|possible| between_those_in_order(possible, &loose.astray));
    let room = Room {
        certain: certain.as_deref(),
        possible: possible.as_deref(),
    };
    let line = Line::new(&tidy, tidy.free()?);
    let coming = Coming::new(&tidy, &hook, &room)?;
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
    judge(instance, wishes, point, coming, loose.disorder)
}

/// Sums up what belongs in each gap between all cards for the gaps between cards in order.
fn between_those_in_order<T: Copy + Default + AddAssign>(all: &[T], astray: &[bool]) -> Vec<T> {
    let mut gaps = vec![T::default()];
    for (card, &here) in all.iter().enumerate() {
        if let Some(gap) = gaps.last_mut() {
            *gap += here;
        }
        if astray.get(card) == Some(&false) {
            gaps.push(T::default());
        }
    }
    gaps
}
