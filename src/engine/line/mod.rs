//! The line of `q`: exact plans for sums of costs over cards and gaps.
//!
//! A plan is a non-decreasing row of `q`, the free places before each card. What a plan costs is a sum
//! of what each card costs by its own `q` (touched, distance, pull) and of what each gap costs by the
//! step from one `q` to the next (room, a family that goes on in another row). So the cheapest plan is
//! a shortest path through a table of card by `q`.

mod gaps;
mod steps;

use std::ops::{Add, Mul};

use super::instance::Instance;
use super::room::Measure;
use super::rows::Rows;

/// Cells (cards times one more than the free places) up to which plans are looked for by gaps: 64 MiB
/// of memory on the largest. 6,000 cards with 2,700 free places fit.
pub const MOST_CELLS_BETWEEN: u64 = 1 << 24;

/// A cost of two ranks: `first` decides, `then` breaks ties.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cost {
    pub(super) first: u128,
    pub(super) then: u128,
}

impl Cost {
    pub(super) const ZERO: Self = Self { first: 0, then: 0 };

    pub(super) const fn first(first: u128) -> Self {
        Self { first, then: 0 }
    }

    pub(super) const fn then(then: u128) -> Self {
        Self { first: 0, then }
    }
}

impl Add for Cost {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            first: self.first + other.first,
            then: self.then + other.then,
        }
    }
}

impl Mul<u128> for Cost {
    type Output = Self;

    fn mul(self, times: u128) -> Self {
        Self {
            first: self.first * times,
            then: self.then * times,
        }
    }
}

/// What one of everything costs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prices {
    /// A unit of the weight of a touched card.
    pub(super) weight: Cost,
    /// A hook between the old and the new home of a touched card.
    pub(super) distance: Cost,
    /// A unit of the measure of room.
    pub(super) room: Cost,
    /// A family that goes on in another row.
    pub(super) breaks: Cost,
}

/// The line of one instance.
pub(super) struct Line<'a> {
    pub(super) instance: &'a Instance,
    free: u64,
    /// The hook of each place.
    hook_of: Vec<usize>,
}

impl<'a> Line<'a> {
    pub(super) fn new(instance: &'a Instance, free: u64) -> Self {
        let mut hook_of = Vec::with_capacity(instance.places() as usize);
        for hook in 0..instance.capacity().len() {
            hook_of.resize(instance.first_place(hook + 1) as usize, hook);
        }
        Self {
            instance,
            free,
            hook_of,
        }
    }

    fn cards(&self) -> usize {
        self.instance.cards().len()
    }

    /// Cards times one more than the free places.
    pub(super) fn cells(&self) -> u64 {
        (self.free + 1).saturating_mul(self.cards().max(1) as u64)
    }

    /// Whether card `rank` is touched when `q` free places stand before it, and how far it goes.
    pub(super) fn touched(&self, rank: usize, q: u64) -> Option<u64> {
        let now = self.instance.cards()[rank]?;
        let hook = self.hook_of[rank + q as usize];
        (hook != now).then(|| hook.abs_diff(now) as u64)
    }

    /// The plan with the least touched and distance, then the least pull to the even layout, whatever
    /// the gaps. O(cells) time, one bit a cell of memory.
    pub(super) fn nearest(&self, measure: &Measure, weight: &impl Fn(usize) -> u64) -> Vec<u64> {
        let ends = |rank| {
            let (low, high) = self.instance.ends(rank, self.free);
            (low as usize, high as usize)
        };
        let width = self.free as usize + 1;
        steps::cheapest(self.cards(), width, Cost::ZERO, ends, |rank, q| {
            let then = measure.pull(rank, q as u64);
            match self.touched(rank, q as u64) {
                None => Cost { first: 0, then },
                // Sums stay apart: both weights and distances add up to less than 2^64.
                Some(far) => Cost {
                    first: u128::from(weight(rank)) << 64 | u128::from(far),
                    then,
                },
            }
        })
    }

    /// The cheapest plan at these prices, exactly.
    ///
    /// O(cards * (free places + 1) + (free places + 1) * colours to come) time, since no gap costs
    /// anything from as many free places on as colours belong there. Four bytes a cell of memory, so
    /// for boards up to [`MOST_CELLS_BETWEEN`] cells.
    pub(super) fn cheapest(
        &self,
        measure: &Measure,
        rows: Option<&Rows>,
        weight: &impl Fn(usize) -> u64,
        prices: &Prices,
    ) -> Vec<u64> {
        let ends = |rank| self.instance.ends(rank, self.free);
        let starts = rows.map(|rows| RowStarts::new(self, rows));
        let card = |rank: usize, q: u64| {
            let pull = prices.room * measure.pull(rank, q);
            match self.touched(rank, q) {
                None => pull,
                Some(far) => {
                    let weight = prices.weight * u128::from(weight(rank));
                    weight + prices.distance * u128::from(far) + pull
                }
            }
        };
        let gaps = gaps::Gaps::new(measure, prices.room, starts.as_ref(), prices.breaks);
        gaps::cheapest(self.cards(), self.free, ends, card, &gaps).1
    }

    /// The measure of room of the homes `hook`, each card on the place of its hook that serves best.
    pub(super) fn room_of(&self, measure: &Measure, hook: &[usize]) -> u128 {
        let mut rank = 0;
        let mut ends = Vec::with_capacity(hook.len());
        for here in hook.chunk_by(|a, b| a == b) {
            // The cards of one hook share these ends of q.
            let last = rank + here.len();
            let low = self
                .instance
                .first_place(here[0])
                .saturating_sub(rank as u64);
            let past = self.instance.first_place(here[0] + 1);
            let high = past.saturating_sub(last as u64).max(low);
            ends.resize(last, (low, high));
            rank = last;
        }
        let room = Cost::first(1);
        let card = |rank: usize, q: u64| room * measure.pull(rank, q);
        let gaps = gaps::Gaps::new(measure, room, None, Cost::ZERO);
        gaps::cheapest(self.cards(), self.free, |rank| ends[rank], card, &gaps)
            .0
            .first
    }
}

/// The rows along the line of places.
struct RowStarts<'a> {
    family_start: &'a [bool],
    /// The first place of the row of each place.
    row_start: Vec<u64>,
}

impl<'a> RowStarts<'a> {
    fn new(line: &Line, rows: &Rows<'a>) -> Self {
        let mut start = 0;
        let mut before = None;
        let row_start = line.hook_of.iter().zip(0..).map(|(&hook, place)| {
            if before.is_none_or(|before| rows.row_of[before] != rows.row_of[hook]) {
                start = place;
            }
            before = Some(hook);
            start
        });
        Self {
            row_start: row_start.collect(),
            family_start: rows.family_start,
        }
    }
}

#[cfg(test)]
mod tests;
