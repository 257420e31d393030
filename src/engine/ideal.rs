//! The ideal layout that room is measured against.

use super::instance::{EngineError, Instance};
use super::room::{Room, check_gaps};
use super::rows;

/// Parts of a place the ideal is rounded to, so that sums are exact and plans the same everywhere.
pub(super) const PARTS: u64 = 16;

/// The ideal: where each card stands when the free places are spread as wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Ideal {
    /// Free places before each card, in parts of a place, non-decreasing.
    before: Vec<u64>,
}

impl Ideal {
    /// The ideal of the board with the wanted room.
    pub(super) fn new(instance: &Instance, room: &Room) -> Result<Self, EngineError> {
        let (cards, free) = (instance.cards().len(), instance.free()?);
        let mut before = match room.gaps {
            Some(gaps) => shared(cards, free, gaps)?,
            None => even(cards, free),
        };
        if let Some(wanted) = &room.rows {
            rows::check(instance, wanted)?;
            rows::start_families_on_rows(instance, free, wanted, &mut before);
        }
        Ok(Self { before })
    }

    /// The ideal with all gaps alike, for a board with `free` free places.
    pub(super) fn even(instance: &Instance, free: u64) -> Self {
        Self {
            before: even(instance.cards().len(), free),
        }
    }

    /// Square of how far card `rank` is off with `q` free places before it, in square parts.
    pub(super) fn square_off(&self, rank: usize, q: u64) -> u128 {
        let off = u128::from((q * PARTS).abs_diff(self.before[rank]));
        off * off
    }

    /// The best whole number of free places before card `rank`.
    pub(super) fn nearest(&self, rank: usize) -> u64 {
        (self.before[rank] + PARTS / 2) / PARTS
    }

    /// Sum of [`Self::square_off`] over cards on the hooks `hook`, each on the places that suit best.
    pub(super) fn squares_off(&self, instance: &Instance, hook: &[usize]) -> u128 {
        let mut sum = 0;
        let mut rank = 0;
        for here in hook.chunk_by(|a, b| a == b) {
            // The cards of one hook, on any of its places in order, share these ends of q. The ideal
            // does not fall, so taking each card as near to it as it goes keeps them in order.
            let end = rank + here.len();
            let low = instance.first_place(here[0]).saturating_sub(rank as u64);
            let past = instance.first_place(here[0] + 1);
            let high = past.saturating_sub(end as u64).max(low);
            for rank in rank..end {
                let q = self.nearest(rank).clamp(low, high);
                sum += self.square_off(rank, q);
            }
            rank = end;
        }
        sum
    }

    /// The root mean square, in places, of a sum of [`Self::square_off`] over all cards.
    pub(super) fn score(&self, squares_off: u128) -> f64 {
        if self.before.is_empty() {
            return 0.0;
        }
        (squares_off as f64 / self.before.len() as f64).sqrt() / PARTS as f64
    }
}

/// Free places before each card, in parts, with all gaps alike.
fn even(cards: usize, free: u64) -> Vec<u64> {
    let parts = u128::from(free * PARTS);
    let gaps = cards as u128 + 1;
    (1..gaps)
        .map(|gap| ((parts * gap + gaps / 2) / gaps) as u64)
        .collect()
}

/// Free places before each card, in parts, with gaps in the proportions of `gaps`.
fn shared(cards: usize, free: u64, gaps: &[f64]) -> Result<Vec<u64>, EngineError> {
    check_gaps(cards, gaps)?;
    let whole: f64 = gaps.iter().sum();
    if whole == 0.0 {
        return Ok(even(cards, free));
    }
    let parts = (free * PARTS) as f64;
    let mut sum = 0.0;
    let before = gaps[..cards].iter().map(|share| {
        sum += share;
        ((sum / whole).min(1.0) * parts).round() as u64
    });
    Ok(before.collect())
}
