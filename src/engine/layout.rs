//! The line of `q`: exact plans for sums of costs over cards and gaps.
//!
//! A plan is a non-decreasing row of `q`, the free places before each card. Its cost is the sum of
//! a cost for each card, by its own `q` (moves, distance, pull), and a cost for each gap, by the
//! step from one `q` to the next (room, a family that continues in another row). So the cheapest
//! plan is a shortest path through a table of card by `q`.

use std::ops::{Add, Mul};

use super::gap_cost::Measure;
use super::instance::{Instance, Rows};

/// The most cells (cards times one more than the free places) for which plans weigh gaps: 64 MiB of
/// memory at the largest. 6,000 cards with 2,700 free places fit.
pub const MOST_CELLS_BETWEEN: u64 = 1 << 24;

/// A cost with two ranks: `first` decides, `then` breaks ties.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cost<Then = u64> {
    pub(super) first: u128,
    pub(super) then: Then,
}

impl Cost {
    pub(super) const ZERO: Self = Self { first: 0, then: 0 };

    pub(super) const fn first(first: u128) -> Self {
        Self { first, then: 0 }
    }

    pub(super) const fn then(then: u64) -> Self {
        Self { first: 0, then }
    }
}

impl<Then: Add<Output = Then>> Add for Cost<Then> {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            first: self.first + other.first,
            then: self.then + other.then,
        }
    }
}

impl Mul<u64> for Cost {
    type Output = Self;

    fn mul(self, times: u64) -> Self {
        Self {
            first: self.first * u128::from(times),
            then: self.then * times,
        }
    }
}

/// The price of one unit of each figure.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prices {
    /// A unit of the effort of a moved card.
    pub(super) effort: Cost,
    /// A hook between the old and the new home of a moved card.
    pub(super) distance: Cost,
    /// A unit of the measure of room.
    pub(super) room: Cost,
    /// A family that continues in another row.
    pub(super) breaks: Cost,
}

/// The line of places of one instance.
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

    /// How far card `rank` moves if `q` free places are before it; `None` if it doesn't move.
    pub(super) fn touched(&self, rank: usize, q: u64) -> Option<u64> {
        let now = self.instance.cards()[rank]?;
        let hook = self.hook_of[rank + q as usize];
        (hook != now).then(|| hook.abs_diff(now) as u64)
    }

    /// The plan with the least effort and distance, then the least pull to the even layout,
    /// ignoring gaps. O(cells) time, one bit per cell of memory.
    pub(super) fn nearest(&self, measure: &Measure, effort: &impl Fn(usize) -> u64) -> Vec<u64> {
        let ends = |rank| {
            let (low, high) = self.instance.ends(rank, self.free);
            (low as usize, high as usize)
        };
        let width = self.free as usize + 1;
        // On the longest lines the squares of the pull don't fit into a `u64`.
        let zero = Cost {
            first: 0,
            then: 0u128,
        };
        cheapest(self.cards(), width, zero, ends, |rank, q| {
            let then = measure.pull(rank, q as u64);
            match self.touched(rank, q as u64) {
                None => Cost { first: 0, then },
                // The ranks of the sum can't mix: efforts and distances each add up to less than
                // 2^64.
                Some(far) => Cost {
                    first: u128::from(effort(rank)) << 64 | u128::from(far),
                    then,
                },
            }
        })
    }

    /// The cheapest plan at these prices, exactly.
    ///
    /// O(cards * (free places + 1) + (free places + 1) * colours to come) time, because a gap costs
    /// nothing once it has as many free places as colours that belong there. Four bytes per cell of
    /// memory, so it is for boards of up to [`MOST_CELLS_BETWEEN`] cells.
    #[inline(always)]
    pub(super) fn cheapest(
        &self,
        measure: &Measure,
        rows: Option<&Rows>,
        effort: &impl Fn(usize) -> u64,
        prices: &Prices,
    ) -> Vec<u64> {
        let ends = |rank| self.instance.ends(rank, self.free);
        let starts = rows.map(|rows| RowStarts::new(self, rows));
        let card = |rank: usize, q: u64| {
            // Of so few cells the pull stays below 2^60.
            let pull = prices.room * measure.pull(rank, q) as u64;
            match self.touched(rank, q) {
                None => pull,
                Some(far) => prices.effort * effort(rank) + prices.distance * far + pull,
            }
        };
        let gaps = Gaps::new(measure, prices.room, starts.as_ref(), prices.breaks);
        cheapest_with_gaps(self.cards(), self.free, ends, card, &gaps).1
    }

    /// The measure of room of the homes `hook`, with each card on the best place of its hook.
    pub(super) fn room_of(&self, measure: &Measure, hook: &[usize]) -> u128 {
        let mut rank = 0;
        let mut ends = Vec::with_capacity(hook.len());
        for here in hook.chunk_by(|a, b| a == b) {
            // The cards of one hook share these limits of q.
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
        let card = |rank: usize, q: u64| Cost::first(measure.pull(rank, q));
        let gaps = Gaps::new(measure, Cost::first(1), None, Cost::ZERO);
        cheapest_with_gaps(self.cards(), self.free, |rank| ends[rank], card, &gaps)
            .0
            .first
    }
}

/// Row starts on the line of places.
struct RowStarts<'a> {
    family_start: &'a [bool],
    /// The first place in the row of each place.
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

/// The costs of gaps.
struct Gaps<'a> {
    /// The cost by free places, for each kind of gap; 0 past the end of a list.
    tables: Vec<Vec<Cost>>,
    /// The kind of each gap.
    table_of: &'a [usize],
    rows: Option<&'a RowStarts<'a>>,
    /// The cost of a family that continues in another row.
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
        let priced = |table: &Vec<u64>| table.iter().map(|&units| room * units).collect();
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

    /// The least number of free places before card `rank - 1` that keeps its family whole if card
    /// `rank` has `q`.
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

/// The non-decreasing row of `cards` values from 0 to `free`, with the value of each card within
/// `ends(card)`, that has the least sum of `card(rank, value)` and of the gaps; and that sum.
///
/// Inlined into its caller, where the prices are better known, it takes 0.95 of the instructions.
///
/// The ends don't fall from card to card. O(sum over cards of the values within its ends times one
/// more than the length of its gap's table) time, four bytes per value of memory.
#[inline(always)]
fn cheapest_with_gaps(
    cards: usize,
    free: u64,
    ends: impl Fn(usize) -> (u64, u64),
    card: impl Fn(usize, u64) -> Cost,
    gaps: &Gaps,
) -> (Cost, Vec<u64>) {
    let mut from: Vec<u32> = Vec::new();
    let mut row_of = Vec::with_capacity(cards);
    // Costs by the last value, from `low` on. The value before the first card is 0.
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
            // The ends don't fall, so some earlier value is within reach.
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

/// The least cost over the values so low that the gap after them costs nothing.
struct Far {
    /// The first value with a cost.
    low: u64,
    /// The number of free places from which a gap costs nothing.
    length: u64,
    /// The next value to look at.
    next: u64,
    /// The least over all of them.
    all: Option<(Cost, u64)>,
    /// The first value that keeps the family whole, and the least cost from there on.
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

    /// Adds the values far enough below `q`; the family is whole from `whole` on.
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

/// The non-decreasing row of `cards` values in `0..width` with the least sum of
/// `cost(card, value)`, with the value of each card within `ends(card)`. Ties go to the row whose
/// last value is lowest, then the value before it, and so on.
///
/// `Cost` must be an ordered sum: adding the same to both sides keeps the order. Neither end falls
/// from card to card, and a lower end is never above the upper one. O(cards * width) time; one bit
/// per cell of memory, and one row of costs. `width` is at least 1.
fn cheapest<Cost>(
    cards: usize,
    width: usize,
    zero: Cost,
    ends: impl Fn(usize) -> (usize, usize),
    cost: impl Fn(usize, usize) -> Cost,
) -> Vec<u64>
where
    Cost: Copy + Ord + Add<Output = Cost>,
{
    let words = width.div_ceil(64);
    // Bit `v` of a card's row means that value `v` is strictly better for it than every lower one.
    let mut better = vec![0u64; cards * words];
    // The least sum with last value `v` or lower; unused below the card's lower end.
    let mut best = vec![zero; width];
    for (card, row) in better.chunks_exact_mut(words).enumerate() {
        let (low, high) = ends(card);
        let mut lowest = best[low] + cost(card, low);
        best[low] = lowest;
        row[low / 64] |= 1 << (low % 64);
        for (value, best) in best.iter_mut().enumerate().take(high + 1).skip(low + 1) {
            let here = *best + cost(card, value);
            if here < lowest {
                lowest = here;
                row[value / 64] |= 1 << (value % 64);
            }
            *best = lowest;
        }
        best[high + 1..].fill(lowest);
    }
    let mut plan = vec![0; cards];
    let mut last = width - 1;
    for (row, plan) in better.chunks_exact(words).zip(&mut plan).rev() {
        last = highest_at_most(row, last);
        *plan = last as u64;
    }
    plan
}

/// The highest set bit at or below `index`; 0 if there is none.
fn highest_at_most(row: &[u64], index: usize) -> usize {
    let mut word = index / 64;
    let mut bits = row[word] & (u64::MAX >> (63 - index % 64));
    while bits == 0 && word > 0 {
        word -= 1;
        bits = row[word];
    }
    word * 64 + bits.checked_ilog2().unwrap_or(0) as usize
}

#[cfg(test)]
mod step_tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn finds_the_cheapest_rising_row_and_breaks_ties_from_the_end(
            costs in vec((vec(0..4u64, 70), 0..70usize, 0..70usize), 0..3),
            narrow in 1..=70usize,
        ) {
            // More values than a word has bits, and few enough costs for ties.
            let mut ends: Vec<(usize, usize)> = Vec::new();
            for (_, low, more) in &costs {
                let (low_before, high_before) = ends.last().copied().unwrap_or((0, 0));
                let low = (low / 3).min(narrow - 1).max(low_before);
                ends.push((low, (low + more).min(narrow - 1).max(high_before)));
            }
            let mut rows = vec![(0, Vec::new())];
            for ((costs, ..), &(low, high)) in costs.iter().zip(&ends) {
                rows = rows
                    .iter()
                    .flat_map(|(sum, row): &(u64, Vec<u64>)| {
                        let from = row.last().copied().unwrap_or(0).max(low as u64);
                        (from..=high as u64).map(move |value| {
                            let longer = row.iter().copied().chain([value]).collect();
                            (sum + costs[value as usize], longer)
                        })
                    })
                    .collect();
            }
            let best = rows.into_iter().min_by_key(|(sum, row)| {
                (*sum, row.iter().rev().copied().collect::<Vec<_>>())
            });
            let found = cheapest(
                costs.len(),
                narrow,
                0,
                |card| ends[card],
                |card, value| costs[card].0[value],
            );
            prop_assert_eq!(found, best.unwrap().1);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::*;
    use crate::engine::instance::Homes;
    use crate::engine::instance::family_breaks;
    use crate::engine::room::Room;
    use crate::engine::testing::{boards, cost_of, places_of_plans, plans_with_holds, some_held};

    fn price() -> impl Strategy<Value = Cost> {
        let number = prop_oneof![Just(0), Just(1), 0..50u128, Just(1 << 20), Just(1 << 22)];
        (number.clone(), number).prop_map(|(first, then)| Cost {
            first,
            then: then as u64,
        })
    }

    proptest! {
        #[test]
        fn no_plan_is_cheaper(
            board in boards(6, 2, 6),
            effort in vec(0..4u32, 6),
            holds in vec(any::<u8>(), 6),
            possible in prop::option::of(vec((0..4u8).prop_map(f64::from), 7)),
            certain in prop::option::of(vec(0..3u32, 7)),
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
            let room = Room {
                certain: certain.as_ref().map(|certain| &certain[..=cards]),
                possible: possible.as_ref().map(|possible| &possible[..=cards]),
            };
            let measure = Measure::new(&board, &room).unwrap();
            let line = Line::new(&board, board.free().unwrap());

            let cost = |hook: &[usize], place: &[usize]| {
                let (effort, distance) = cost_of(&board, hook, &effort[..cards]);
                let breaks = family_breaks(&board, &rows, hook).unwrap();
                prices.effort * effort
                    + prices.distance * distance
                    + prices.breaks * breaks as u64
                    + prices.room * measure.sum(place, board.places()) as u64
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
}
