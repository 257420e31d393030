//! The measure of room in whole numbers, so that sums are exact and plans the same everywhere.

use std::collections::BTreeMap;

use super::overflow::expected_overflow;
use super::{Room, check_gaps};
use crate::engine::instance::{EngineError, Instance};

/// One card to come that finds no place.
pub(in crate::engine) const UNIT: u64 = 1 << 20;

/// Parts of a place the ideal of the pull is rounded to.
const PARTS: u64 = 16;

/// The pull for a card that is off by one part: a thousandth of a card for a place.
const PULL: u128 = (UNIT / 1024 / (PARTS * PARTS)) as u128;

/// The horizons, as shares of the colours that would fill all free places.
const HORIZONS: [f64; 4] = [0.3, 0.6, 0.8, 1.0];

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
