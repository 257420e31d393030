//! What free places in a gap are worth, in whole numbers, so that sums are exact and plans the same everywhere.
//!
//! A new card falls between two neighbours in the wanted order. If a free place waits there it is hung
//! and nothing else is touched; if not, hung cards must make way. So the measure is the number of new
//! cards that are expected to find no place of their own, as purchases go on until the wall is full.
//!
//! Let `u` colours not yet owned belong into a gap with `g` free places, and let each of them be bought
//! with the chance `p`, so that `X`, the number that come, is binomial. The gap then fails `E[(X - g)^+]`
//! of them. Nobody knows how many will be bought before the wall is hung anew, so the mean is taken
//! over four horizons: 30, 60, 80 and 100 % of the colours that would fill all free places. A long view
//! serves best: gaps made for the next purchase alone cost far more later (`tools/purchases.rs`).
//!
//! Gaps alone cannot tell free places that are spread over the wall from ones in a corner where there
//! are more gaps than places. So a small pull is added: the square of the places a card is off the
//! layout in which the free places stand in proportion to the colours to come, a thousandth of a card
//! for each square place. Both are sums over cards and gaps, the first convex in the gap, which is
//! what makes exact plans possible (see [`super::pareto`]).

use std::collections::BTreeMap;

use super::instance::{EngineError, Instance, check_gaps};

/// What is known of the cards to come; by default nothing, so that all gaps are alike.
#[derive(Debug, Clone, Copy, Default)]
pub struct Room<'a> {
    /// `unowned[r]` = colours not yet owned that belong before card `r`, and `unowned[cards]` = after
    /// the last card: 0 or more. `None`, or 0 everywhere = a new card falls into any gap alike.
    pub unowned: Option<&'a [f64]>,
}

/// One card to come that finds no place.
pub(in crate::engine) const UNIT: u64 = 1 << 20;

/// Parts of a place the ideal of the pull is rounded to.
const PARTS: u64 = 16;

/// The pull for a card that is off by one part: a thousandth of a card for a place.
const PULL: u128 = (UNIT / 1024 / (PARTS * PARTS)) as u128;

/// The horizons, as shares of the colours that would fill all free places.
const HORIZONS: [f64; 4] = [0.3, 0.6, 0.8, 1.0];

/// The colours that are expected to come before the wall is hung anew, by the mean of the horizons: those whose places
/// are looked for when room is measured.
#[must_use]
pub fn to_come(free: u64, unowned: &[f64]) -> f64 {
    let mean = HORIZONS.iter().sum::<f64>() / HORIZONS.len() as f64;
    unowned.iter().sum::<f64>().min(free as f64) * mean
}

/// The measure of room of one question.
#[derive(Debug)]
pub(in crate::engine) struct Measure {
    /// Expected overflow by free places, for each number of colours to come that occurs.
    tables: Vec<Vec<u64>>,
    /// The table of each gap.
    table_of: Vec<usize>,
    /// Free places before each card in the even layout, in parts of a place, non-decreasing.
    before: Vec<u64>,
}

impl Measure {
    /// O(cards * log cards + distinct numbers of colours to come, each once for its size).
    pub(in crate::engine) fn new(instance: &Instance, room: &Room) -> Result<Self, EngineError> {
        let (cards, free) = (instance.cards().len(), instance.free()?);
        if let Some(unowned) = room.unowned {
            check_gaps(cards, unowned)?;
        }
        let known = room
            .unowned
            .map(|unowned| (unowned, unowned.iter().sum::<f64>()));
        let known = known.filter(|(_, whole)| *whole > 0.0);
        Ok(match known {
            Some((unowned, whole)) => Self::known(unowned, whole, free),
            None => Self::alike(cards, free),
        })
    }

    /// All gaps alike: each card to come falls into any of them.
    fn alike(cards: usize, free: u64) -> Self {
        let gaps = cards as u64 + 1;
        let mut table = Vec::new();
        for horizon in HORIZONS {
            let come = (free as f64 * horizon).round() as usize;
            add_quarter(
                &mut table,
                &expected_overflow(come, 1.0 / gaps as f64, least()),
                1.0,
            );
        }
        let parts = u128::from(free * PARTS);
        let half = u128::from(gaps) / 2;
        let before = (1..gaps)
            .map(|gap| ((parts * u128::from(gap) + half) / u128::from(gaps)) as u64)
            .collect();
        Self {
            tables: vec![in_units(&table)],
            table_of: vec![0; cards + 1],
            before,
        }
    }

    fn known(unowned: &[f64], whole: f64, free: u64) -> Self {
        let fill = (free as f64 / whole).min(1.0);
        let mut index: BTreeMap<u64, usize> = BTreeMap::new();
        let mut tables = Vec::new();
        let mut table_of = Vec::with_capacity(unowned.len());
        for &colours in unowned {
            // A bit pattern orders numbers of 0 and more as they are.
            let at = *index.entry((colours + 0.0).to_bits()).or_insert_with(|| {
                tables.push(in_units(&table(colours, fill)));
                tables.len() - 1
            });
            table_of.push(at);
        }
        let parts = (free * PARTS) as f64;
        let mut sum = 0.0;
        let before = unowned[..unowned.len() - 1].iter().map(|colours| {
            sum += colours;
            ((sum / whole).min(1.0) * parts).round() as u64
        });
        Self {
            before: before.collect(),
            tables,
            table_of,
        }
    }

    /// The cost of the gap before card `gap` (after the last card: the number of cards) by free
    /// places in it; nothing beyond the end of the list.
    pub(in crate::engine) fn gap(&self, gap: usize) -> &[u64] {
        &self.tables[self.table_of[gap]]
    }

    /// The tables of cost, and which one is that of a gap.
    pub(in crate::engine) fn tables(&self) -> (&[Vec<u64>], &[usize]) {
        (&self.tables, &self.table_of)
    }

    /// The pull on card `rank` with `q` free places before it.
    pub(in crate::engine) fn pull(&self, rank: usize, q: u64) -> u128 {
        let off = u128::from((q * PARTS).abs_diff(self.before[rank]));
        off * off * PULL
    }

    /// The sum over all gaps and cards, card `r` on place `place[r]` of `places`.
    #[cfg(test)]
    pub(in crate::engine) fn sum(&self, place: &[usize], places: u64) -> u128 {
        let end = places as usize;
        let mut next = 0;
        let mut sum = 0;
        for (rank, &place) in place.iter().chain([&end]).enumerate() {
            sum += u128::from(self.gap(rank).get(place - next).copied().unwrap_or(0));
            if rank < self.before.len() {
                sum += self.pull(rank, (place - rank) as u64);
            }
            next = place + 1;
        }
        sum
    }

    /// The number of free places before card `rank` in the even layout, to the nearest whole.
    pub(in crate::engine) fn even(&self, rank: usize) -> u64 {
        (self.before[rank] + PARTS / 2) / PARTS
    }
}

/// What is too little to be counted, in cards.
fn least() -> f64 {
    0.5 / UNIT as f64
}

/// The mean over the horizons of the overflow of a gap where `colours` are to come, `fill` of which
/// fill the wall; a number between two whole ones counts as the mix of both.
fn table(colours: f64, fill: f64) -> Vec<f64> {
    let mut table = Vec::new();
    let (below, part) = (colours.floor(), colours.fract());
    for horizon in HORIZONS {
        let chance = fill * horizon;
        for (trials, share) in [(below, 1.0 - part), (below + 1.0, part)] {
            if share > 0.0 {
                add_quarter(
                    &mut table,
                    &expected_overflow(trials as usize, chance, least()),
                    share,
                );
            }
        }
    }
    table
}

/// Adds a quarter of the share of `overflow` to a table.
fn add_quarter(table: &mut Vec<f64>, overflow: &[f64], share: f64) {
    if table.len() < overflow.len() {
        table.resize(overflow.len(), 0.0);
    }
    for (sum, cards) in table.iter_mut().zip(overflow) {
        *sum += cards * share / HORIZONS.len() as f64;
    }
}

/// Whole units, without an end of noughts.
fn in_units(table: &[f64]) -> Vec<u64> {
    let mut units: Vec<u64> = table
        .iter()
        .map(|cards| (cards * UNIT as f64).round() as u64)
        .collect();
    let end = units.iter().rposition(|&units| units > 0);
    units.truncate(end.map_or(0, |end| end + 1));
    units
}

/// A sum of the measure as a number of cards.
pub(super) fn in_cards(sum: u128) -> f64 {
    sum as f64 / UNIT as f64
}

/// `E[(X - g)^+]` for `g` = 0, 1, ... as long as it is at least `least`; `X` is the number of
/// successes among `trials`, each with chance `chance`, 0 to 1. O(trials).
///
/// The probabilities come from the ratio of neighbours, outwards from the most likely number, so
/// nothing underflows where it matters; only sums, products and quotients are used, so the result is
/// the same on every machine.
pub(super) fn expected_overflow(trials: usize, chance: f64, least: f64) -> Vec<f64> {
    let mut overflow: Vec<f64> = if chance >= 1.0 {
        (0..=trials).rev().map(|left| left as f64).collect()
    } else {
        let probability = binomial(trials, chance);
        // E[(X - g)^+] is the sum over x > g of P(X >= x).
        let (mut tail, mut sum) = (0.0, 0.0);
        let from_above = probability.iter().rev().map(|probability| {
            let here = sum;
            tail += probability;
            sum += tail;
            here
        });
        let mut overflow: Vec<f64> = from_above.collect();
        overflow.reverse();
        overflow
    };
    let end = overflow.iter().rposition(|&cards| cards >= least);
    overflow.truncate(end.map_or(0, |end| end + 1));
    overflow
}

/// Probability of each number of successes from 0 to `trials`, with a chance below 1.
fn binomial(trials: usize, chance: f64) -> Vec<f64> {
    let mut probability = vec![0.0; trials + 1];
    let mode = (((trials + 1) as f64 * chance) as usize).min(trials);
    let odds = chance / (1.0 - chance);
    probability[mode] = 1.0;
    for k in mode..trials {
        probability[k + 1] = probability[k] * odds * (trials - k) as f64 / (k + 1) as f64;
    }
    for k in (0..mode).rev() {
        probability[k] = probability[k + 1] * (k + 1) as f64 / (odds * (trials - k) as f64);
    }
    let whole: f64 = probability.iter().sum();
    for probability in &mut probability {
        *probability /= whole;
    }
    probability
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn worked_by_hand() {
        // Three colours, each bought with chance 1/2: 0 to 3 come with 1/8, 3/8, 3/8, 1/8.
        let overflow = expected_overflow(3, 0.5, 1e-9);
        for (found, known) in overflow.iter().zip([1.5, 5.0 / 8.0, 1.0 / 8.0]) {
            assert!((found - known).abs() < 1e-12);
        }
        assert_eq!(overflow.len(), 3);
        assert_eq!(expected_overflow(4, 1.0, 1e-9), [4.0, 3.0, 2.0, 1.0]);
        assert!(expected_overflow(9, 0.0, 1e-9).is_empty());
        assert!(expected_overflow(0, 0.4, 1e-9).is_empty());
    }

    proptest! {
        #[test]
        fn is_the_sum_over_all_subsets(trials in 0..12usize, chance in 0.0..1.0f64) {
            for (g, found) in expected_overflow(trials, chance, 0.0).into_iter().enumerate() {
                let known: f64 = (0u32..1 << trials)
                    .map(|bought| {
                        let k = bought.count_ones() as usize;
                        let left = (trials - k) as i32;
                        let probability = chance.powi(k as i32) * (1.0 - chance).powi(left);
                        probability * k.saturating_sub(g) as f64
                    })
                    .sum();
                prop_assert!((found - known).abs() < 1e-9, "{g}: {found} {known}");
            }
        }

        #[test]
        fn falls_and_is_convex_however_many(trials in 0..5000usize, chance in 0.0..1.0f64) {
            let overflow = expected_overflow(trials, chance, 1e-9);
            if let Some(&first) = overflow.first() {
                prop_assert!((first - trials as f64 * chance).abs() < 1e-6);
            }
            for three in overflow.windows(3) {
                prop_assert!(three[0] >= three[1]);
                prop_assert!(three[0] - three[1] >= three[1] - three[2] - 1e-12);
            }
        }
    }
}
