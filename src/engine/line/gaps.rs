//! The cheapest plan where gaps cost something too.

use super::{Cost, RowStarts};
use crate::engine::room::Measure;

/// What gaps cost.
pub(super) struct Gaps<'a> {
    /// The cost by free places, for each kind of gap; nothing beyond the end of a list.
    tables: Vec<Vec<Cost>>,
    /// The kind of each gap.
    table_of: &'a [usize],
    rows: Option<&'a RowStarts<'a>>,
    /// What it costs when a family goes on in another row.
    breaks: Cost,
}

impl<'a> Gaps<'a> {
    pub(super) fn new(
        measure: &'a Measure,
        room: Cost,
        rows: Option<&'a RowStarts<'a>>,
        breaks: Cost,
    ) -> Self {
        let (tables, table_of) = measure.tables();
        let priced = |table: &Vec<u64>| {
            table
                .iter()
                .map(|&units| room * u128::from(units))
                .collect()
        };
        Self {
            tables: tables.iter().map(priced).collect(),
            table_of,
            rows: rows.filter(|_| breaks > Cost::ZERO),
            breaks,
        }
    }

    fn table(&self, gap: usize) -> &[Cost] {
        &self.tables[self.table_of[gap]]
    }

    /// Below how many free places before card `rank - 1` its family is broken if card `rank` has `q`.
    fn whole_from(&self, rank: usize, q: u64) -> u64 {
        match self.rows {
            Some(rows) if !rows.family_start[rank] => {
                let start = rows.row_start[rank + q as usize];
                (start + 1).saturating_sub(rank as u64)
            }
            _ => 0,
        }
    }
}

/// The non-decreasing row of `cards` values from 0 to `free`, the value of each card within
/// `ends(card)`, with the least sum of `card(rank, value)` and of the gaps; and that sum.
///
/// The ends do not fall from card to card. O(sum over cards of the values within its ends times one more
/// than the length of its gap's table) time, four bytes a value of memory.
pub(super) fn cheapest(
    cards: usize,
    free: u64,
    ends: impl Fn(usize) -> (u64, u64),
    card: impl Fn(usize, u64) -> Cost,
    gaps: &Gaps,
) -> (Cost, Vec<u64>) {
    let mut from: Vec<u32> = Vec::new();
    let mut row_of = Vec::with_capacity(cards);
    // Costs by the last value, from `low` on. Before the first card stands the value 0.
    let mut low = 0;
    let mut best = vec![Cost::ZERO];
    let mut next = Vec::new();
    for rank in 0..cards {
        let (next_low, high) = ends(rank);
        let table = gaps.table(rank);
        let mut far = Far::new(low, table.len() as u64);
        row_of.push((from.len(), next_low));
        next.clear();
        for q in next_low..=high {
            let whole = gaps.whole_from(rank, q);
            far.reach(q, whole, &best);
            let (mut least, mut at) = far.least(gaps.breaks);
            let start = (q + 1).saturating_sub(table.len() as u64).max(low);
            let end = (q + 1).min(low + best.len() as u64);
            for before in start..end {
                let mut cost = best[(before - low) as usize] + table[(q - before) as usize];
                if before < whole {
                    cost = cost + gaps.breaks;
                }
                if at.is_none() || cost < least {
                    (least, at) = (cost, Some(before));
                }
            }
            // The ends do not fall, so some value before is within reach.
            next.push(least + card(rank, q));
            from.push(at.unwrap_or(low) as u32);
        }
        std::mem::swap(&mut best, &mut next);
        low = next_low;
    }

    let last = gaps.table(cards);
    let total = |(value, cost): (u64, &Cost)| {
        let gap = last.get((free - value) as usize).copied();
        (*cost + gap.unwrap_or(Cost::ZERO), value)
    };
    let least = (low..).zip(&best).map(total).min();
    let (sum, mut value) = least.unwrap_or((Cost::ZERO, 0));
    let mut plan = vec![0; cards];
    for (plan, (row, low)) in plan.iter_mut().zip(row_of).rev() {
        *plan = value;
        value = u64::from(from[row + (value - low) as usize]);
    }
    (sum, plan)
}

/// The least cost of the values so far before that the gap to them costs nothing.
struct Far {
    /// The first value that has a cost.
    low: u64,
    /// From how many free places on a gap costs nothing.
    length: u64,
    /// The next value to be looked at.
    next: u64,
    /// The least of all.
    all: Option<(Cost, u64)>,
    /// From which value on the family is whole, and the least from there on.
    whole_from: u64,
    whole: Option<(Cost, u64)>,
}

impl Far {
    const fn new(low: u64, length: u64) -> Self {
        Self {
            low,
            length,
            next: low,
            all: None,
            whole_from: 0,
            whole: None,
        }
    }

    /// Takes in the values that are far enough from `q`, where the family is whole from `whole` on.
    fn reach(&mut self, q: u64, whole: u64, best: &[Cost]) {
        if whole != self.whole_from {
            // A new row begins beyond all values looked at so far.
            self.whole_from = whole;
            self.whole = None;
        }
        let end = (q + 1)
            .saturating_sub(self.length)
            .min(self.low + best.len() as u64);
        while self.next < end {
            let here = (best[(self.next - self.low) as usize], self.next);
            if self.all.is_none_or(|known| here < known) {
                self.all = Some(here);
            }
            if self.next >= whole && self.whole.is_none_or(|known| here < known) {
                self.whole = Some(here);
            }
            self.next += 1;
        }
    }

    fn least(&self, breaks: Cost) -> (Cost, Option<u64>) {
        let broken = self.all.map(|(cost, at)| (cost + breaks, at));
        let least = if self.whole_from <= self.low {
            self.all
        } else {
            self.whole.into_iter().chain(broken).min()
        };
        least.map_or((Cost::ZERO, None), |(cost, at)| (cost, Some(at)))
    }
}
