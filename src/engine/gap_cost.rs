//! The value of free places in a gap, in whole numbers, so that sums are exact and plans are the
//! same on every machine.
//!
//! A new card falls between two neighbours in the wanted order. If a free place waits there, it
//! hangs there and nothing else moves; if not, hung cards must make way. So the measure is the
//! expected number of new cards without a place of their own, if purchases go on until the wall is
//! full.
//!
//! Let `u` colours not yet owned belong in a gap with `g` free places, and let each of them be
//! bought with the chance `p`, so that `X`, the number that come, is binomial:
//! `P(X = k) = C(u, k) p^k (1 - p)^(u - k)` (Feller, An Introduction to Probability Theory and Its
//! Applications I, 3rd edition 1968, chapter VI; from memory). The gap then fails `E[(X - g)^+]` of
//! them, the sum of `P(X >= x)` over all `x > g`. Nobody knows how many will be bought before the
//! next re-hang, so the mean is taken over four horizons: 30, 60, 80 and 100 % of the colours that
//! would fill all free places. A long view serves best: gaps made for the next purchase alone cost
//! far more later (`tools/purchases.rs`).
//!
//! Some of the colours to come may be certain. With `c` of them, the number that come is `c + X`,
//! the same distribution shifted, and the gap fails
//!
//! ```text
//! E[(c + X - g)^+] = (c - g)^+ + E[(X - (g - c)^+)^+]
//! ```
//!
//! because one of the two right-hand terms is constant in `X`: for `g <= c`, nothing is left for
//! the colours that may come, and `c - g + E[X]` fail; for `g > c`, they have `g - c` places. A
//! place for a certain colour saves 1, and one for a colour that may come saves `P(X > g - c)`,
//! which is less, so certain ones come first. They also leave fewer places to fill: with `C` of
//! them in all and `F` free places, the others fill `F - C`, and the horizons are shares of that.
//!
//! Gaps alone can't tell free places spread over the wall from free places in a corner when there
//! are more gaps than places. So a small pull is added: a thousandth of a card times the squared
//! distance, in places, of each card from the even layout. The even layout gives each certain
//! colour its place and spreads the others in proportion to the colours that may come. If there are
//! fewer places than certain colours, it spreads the places in proportion to those. Both parts are
//! sums over cards and gaps, and the first is convex in the gap, which makes exact plans possible
//! (see [`super::pareto`]).

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::instance::{EngineError, Instance, ListOf, check_gaps, check_length};

/// The cards expected to come. By default nothing is known, so all gaps are alike.
#[derive(Debug, Clone, Copy, Default)]
pub struct Room<'a> {
    /// `certain[r]` is the number of colours sure to come that belong before card `r`;
    /// `certain[cards]` is the number after the last card. `None` means none.
    pub certain: Option<&'a [u32]>,
    /// `possible[r]` is the number of other colours not yet owned that belong there: 0 or more.
    /// With `None`, or 0 everywhere, a new card falls into every gap with the same chance.
    pub possible: Option<&'a [f64]>,
}

impl Room<'_> {
    /// How many colours are sure to come.
    fn all_certain(&self) -> u64 {
        let certain = self.certain.unwrap_or_default().iter();
        certain.map(|&colours| u64::from(colours)).sum()
    }

    /// How many may come, if known.
    fn all_possible(&self) -> Option<f64> {
        let whole = self.possible.map(|possible| possible.iter().sum::<f64>());
        whole.filter(|whole| *whole > 0.0)
    }

    /// Checks that both lists have an entry for each gap of `cards` cards.
    pub(in crate::engine) fn check(&self, cards: usize) -> Result<(), EngineError> {
        if let Some(certain) = self.certain {
            check_length(ListOf::Gaps, cards + 1, certain.len())?;
        }
        self.possible
            .map_or(Ok(()), |possible| check_gaps(cards, possible))
    }

    /// The relative chance of each gap to get the next new card; `None` if all are alike. A certain
    /// colour counts 1, and one that may come counts its expected number.
    pub(in crate::engine) fn next(&self, cards: usize, free: u64) -> Option<Cow<'_, [f64]>> {
        let Some(certain) = self.certain.filter(|_| self.all_certain() > 0) else {
            return self.possible.map(Cow::Borrowed);
        };
        let others = to_come(free, self).possible;
        let share = |gap: usize| match (self.possible, self.all_possible()) {
            (Some(possible), Some(whole)) => possible[gap] / whole,
            _ => 1.0 / (cards + 1) as f64,
        };
        let next = certain.iter().enumerate();
        let next = next.map(|(gap, &colours)| f64::from(colours) + others * share(gap));
        Some(Cow::Owned(next.collect()))
    }
}

/// The cost of one card to come without a place.
pub(in crate::engine) const UNIT: u64 = 1 << 20;

/// The pull rounds its ideal to this fraction of a place.
const PARTS: u64 = 16;

/// The pull on a card that is off by one part; a thousandth of a card for one place.
const PULL: u128 = (UNIT / 1024 / (PARTS * PARTS)) as u128;

/// The horizons, as shares of the colours that would fill all free places.
const HORIZONS: [f64; 4] = [0.3, 0.6, 0.8, 1.0];

/// The colours expected before the next re-hang.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToCome {
    /// Certain colours.
    pub certain: u64,
    /// The expected number of others: the mean over the horizons.
    pub possible: f64,
}

/// The colours expected to need places when room is measured on a wall with `free` places.
#[must_use]
pub fn to_come(free: u64, room: &Room) -> ToCome {
    let certain = room.all_certain();
    let left = free.saturating_sub(certain) as f64;
    let mean = HORIZONS.iter().sum::<f64>() / HORIZONS.len() as f64;
    ToCome {
        certain,
        possible: room.all_possible().map_or(left, |whole| whole.min(left)) * mean,
    }
}

/// The measure of room for one instance.
#[derive(Debug)]
pub(in crate::engine) struct Measure {
    /// Expected overflow by free places, for each distinct number of colours to come.
    tables: Vec<Vec<u64>>,
    /// The index of each gap's table.
    table_of: Vec<usize>,
    /// Free places before each card in the even layout, in parts of a place, non-decreasing.
    before: Vec<u64>,
}

impl Measure {
    /// O(cards * log cards + distinct numbers of colours to come, each once for its size).
    pub(in crate::engine) fn new(instance: &Instance, room: &Room) -> Result<Self, EngineError> {
        let (cards, free) = (instance.cards().len(), instance.free()?);
        room.check(cards)?;
        let certain = Certain::new(room, cards, free);
        Ok(match (room.possible, room.all_possible()) {
            (Some(possible), Some(whole)) => Self::known(possible, whole, &certain),
            _ => Self::alike(&certain),
        })
    }

    /// All gaps alike: each card that may come falls into every gap with the same chance.
    fn alike(certain: &Certain) -> Self {
        let gaps = certain.of.len() as u64;
        let mut table = Vec::new();
        for horizon in HORIZONS {
            let come = (certain.left as f64 * horizon).round() as usize;
            add_quarter(
                &mut table,
                &expected_overflow(come, 1.0 / gaps as f64, least()),
                1.0,
            );
        }
        let (tables, table_of) = tables(&vec![0.0; certain.of.len()], certain, |_| table.clone());
        let parts = u128::from(certain.left * PARTS);
        let half = u128::from(gaps) / 2;
        let before = (1..gaps)
            .zip(certain.before())
            .map(|(gap, certain)| {
                certain + ((parts * u128::from(gap) + half) / u128::from(gaps)) as u64
            })
            .collect();
        Self {
            tables,
            table_of,
            before,
        }
    }

    fn known(possible: &[f64], whole: f64, certain: &Certain) -> Self {
        let fill = (certain.left as f64 / whole).min(1.0);
        let (tables, table_of) = tables(possible, certain, |colours| table(colours, fill));
        let parts = (certain.left * PARTS) as f64;
        let mut sum = 0.0;
        let before = possible.iter().zip(certain.before());
        let before = before.map(|(colours, certain)| {
            sum += colours;
            certain + ((sum / whole).min(1.0) * parts).round() as u64
        });
        Self {
            before: before.collect(),
            tables,
            table_of,
        }
    }

    /// The cost of the gap before card `gap` (the number of cards means after the last) by the free
    /// places in it. Past the end of the list, the cost is 0.
    #[inline]
    pub(in crate::engine) fn gap(&self, gap: usize) -> &[u64] {
        &self.tables[self.table_of[gap]]
    }

    /// The cost tables, and the index of each gap's table.
    #[inline]
    pub(in crate::engine) fn tables(&self) -> (&[Vec<u64>], &[usize]) {
        (&self.tables, &self.table_of)
    }

    /// The pull on card `rank` with `q` free places before it.
    #[inline]
    pub(in crate::engine) fn pull(&self, rank: usize, q: u64) -> u128 {
        let off = u128::from((q * PARTS).abs_diff(self.before[rank]));
        off * off * PULL
    }

    /// The sum over all gaps and cards, with card `r` on place `place[r]` of `places`.
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

    /// Free places before card `rank` in the even layout, rounded to a whole number.
    #[inline]
    pub(in crate::engine) fn even(&self, rank: usize) -> u64 {
        (self.before[rank] + PARTS / 2) / PARTS
    }
}

/// The colours that are sure to come, and the free places they leave.
struct Certain<'a> {
    /// How many belong in each gap.
    of: Cow<'a, [u32]>,
    /// Their total.
    all: u64,
    /// Free places they take.
    places: u64,
    /// Free places left for others.
    left: u64,
}

impl<'a> Certain<'a> {
    fn new(room: &Room<'a>, cards: usize, free: u64) -> Self {
        let all = room.all_certain();
        Self {
            of: (room.certain).map_or_else(|| Cow::Owned(vec![0; cards + 1]), Cow::Borrowed),
            all,
            places: all.min(free),
            left: free.saturating_sub(all),
        }
    }

    /// Their places before each card in the even layout, in parts of a place.
    fn before(&self) -> impl Iterator<Item = u64> {
        let (gaps, _) = self.of.split_at(self.of.len() - 1);
        let (all, parts) = (u128::from(self.all.max(1)), u128::from(self.places * PARTS));
        gaps.iter().scan(0, move |sum, &colours| {
            *sum += u128::from(colours);
            Some((*sum * parts / all) as u64)
        })
    }
}

/// The table of each gap: the overflow of colours that may come, shifted by the certain ones.
fn tables(
    possible: &[f64],
    certain: &Certain,
    overflow: impl Fn(f64) -> Vec<f64>,
) -> (Vec<Vec<u64>>, Vec<usize>) {
    let mut index: BTreeMap<(u64, u32), usize> = BTreeMap::new();
    let mut tables = Vec::new();
    let table_of = possible.iter().zip(certain.of.iter());
    let table_of = table_of.map(|(&colours, &certain)| {
        // Bit patterns of non-negative floats sort like the numbers.
        let key = ((colours + 0.0).to_bits(), certain);
        *index.entry(key).or_insert_with(|| {
            tables.push(moved_along(in_units(&overflow(colours)), certain));
            tables.len() - 1
        })
    });
    let table_of = table_of.collect();
    (tables, table_of)
}

/// Shifts an overflow table by certain colours, each of which takes the first place.
fn moved_along(overflow: Vec<u64>, certain: u32) -> Vec<u64> {
    let full = overflow.first().copied().unwrap_or(0);
    let without = (1..=u64::from(certain)).rev();
    let without = without.map(|certain| certain * UNIT + full);
    without.chain(overflow).collect()
}

/// The smallest overflow that still counts, in cards.
fn least() -> f64 {
    0.5 / UNIT as f64
}

/// The overflow of a gap, averaged over the horizons. `colours` are expected in it, and `fill`
/// would fill the wall. A fractional number counts as a mix of the two whole numbers around it.
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

/// Adds a quarter of `share` times `overflow` to a table.
fn add_quarter(table: &mut Vec<f64>, overflow: &[f64], share: f64) {
    if table.len() < overflow.len() {
        table.resize(overflow.len(), 0.0);
    }
    for (sum, cards) in table.iter_mut().zip(overflow) {
        *sum += cards * share / HORIZONS.len() as f64;
    }
}

/// Converts to whole units, without trailing zeros.
fn in_units(table: &[f64]) -> Vec<u64> {
    let mut units: Vec<u64> = table
        .iter()
        .map(|cards| (cards * UNIT as f64).round() as u64)
        .collect();
    let end = units.iter().rposition(|&units| units > 0);
    units.truncate(end.map_or(0, |end| end + 1));
    units
}

/// Converts a sum of the measure to a number of cards.
pub(super) fn in_cards(sum: u128) -> f64 {
    sum as f64 / UNIT as f64
}

/// `E[(X - g)^+]` for `g` = 0, 1, ... as long as it is at least `least`, where `X` is the number of
/// successes among `trials`, each with chance `chance`, 0 to 1. O(trials).
///
/// The probabilities come from the ratio of neighbours, starting at the most likely number, so
/// nothing underflows where it matters. Only sums, products and quotients are used, so the result
/// is the same on every machine.
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

/// The probability of each number of successes from 0 to `trials`, with a chance below 1.
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
    fn the_overflow_of_three_colours_matches_a_calculation_by_hand() {
        // Three colours, each bought with chance 1/2: 0 to 3 come with chance 1/8, 3/8, 3/8, 1/8.
        let overflow = expected_overflow(3, 0.5, 1e-9);
        for (found, known) in overflow.iter().zip([1.5, 5.0 / 8.0, 1.0 / 8.0]) {
            assert!((found - known).abs() < 1e-12);
        }
        assert_eq!(overflow.len(), 3);
        assert_eq!(expected_overflow(4, 1.0, 1e-9), [4.0, 3.0, 2.0, 1.0]);
        assert!(expected_overflow(9, 0.0, 1e-9).is_empty());
        assert!(expected_overflow(0, 0.4, 1e-9).is_empty());
    }

    #[test]
    fn certain_colours_are_expected_first() {
        let room = Room {
            certain: Some(&[1, 0]),
            possible: Some(&[1.0, 3.0]),
        };
        // Of five free places, four are for the others, and 67.5 % of them are expected.
        assert_eq!(to_come(5, &room).certain, 1);
        assert!((to_come(5, &room).possible - 2.7).abs() < 1e-12);
        let next = room.next(1, 5).unwrap();
        assert!((next[0] - 1.675).abs() < 1e-12 && (next[1] - 2.025).abs() < 1e-12);
        // On a wall without places for all certain colours, the others are ignored.
        assert_eq!(*room.next(1, 1).unwrap(), [1.0, 0.0]);
        let unknown = Room {
            possible: None,
            ..room
        };
        assert_eq!(*unknown.next(1, 1).unwrap(), [1.0, 0.0]);
        assert_eq!(Room::default().next(1, 5), None);
    }

    /// A measure for `free` places, with as many gaps as `certain` has entries.
    fn measure(
        free: usize,
        certain: Option<&[u32]>,
        possible: Option<&[f64]>,
        gaps: usize,
    ) -> Measure {
        let board = Instance::new(vec![1; free + gaps - 1], vec![None; gaps - 1]).unwrap();
        Measure::new(&board, &Room { certain, possible }).unwrap()
    }

    proptest! {
        #[test]
        fn a_gap_fails_the_mean_over_everything_that_can_come(
            gaps in prop::collection::vec((0..5u32, 0..7u8), 2..6),
            free in 0..12usize,
        ) {
            let certain: Vec<u32> = gaps.iter().map(|gap| gap.0).collect();
            let possible: Vec<f64> = gaps.iter().map(|gap| gap.1.into()).collect();
            let (all, whole) = (certain.iter().sum::<u32>() as usize, possible.iter().sum::<f64>());
            prop_assume!(whole > 0.0);
            let measure = measure(free, Some(&certain), Some(&possible), gaps.len());
            let fill = (free.saturating_sub(all) as f64 / whole).min(1.0);
            for (gap, &(certain, possible)) in gaps.iter().enumerate() {
                for places in 0..12 {
                    let mut known = 0.0;
                    for (bought, horizon) in (0u32..1 << possible).flat_map(|bought| HORIZONS.map(|h| (bought, h))) {
                        let (come, chance) = (bought.count_ones(), fill * horizon);
                        let left = i32::from(possible) - come as i32;
                        let probability = chance.powi(come as i32) * (1.0 - chance).powi(left);
                        known += probability / 4.0 * f64::from((certain + come).saturating_sub(places));
                    }
                    let found = measure.gap(gap).get(places as usize).copied().unwrap_or(0);
                    prop_assert!((in_cards(found.into()) - known).abs() < 3.0 * least(), "{gap} {places}: {known}");
                }
            }
        }

        #[test]
        fn no_certain_colours_change_nothing(
            possible in prop::option::of(prop::collection::vec(prop_oneof![Just(0.0), 0.0..9.0f64], 2..9)),
            free in 0..40usize,
        ) {
            let gaps = possible.as_ref().map_or(5, Vec::len);
            let without = measure(free, None, possible.as_deref(), gaps);
            let with = measure(free, Some(&vec![0; gaps]), possible.as_deref(), gaps);
            prop_assert_eq!(format!("{without:?}"), format!("{with:?}"));
            // Nor does the pull, computed as it was before colours could be certain.
            let whole: f64 = possible.iter().flatten().sum();
            let mut sum = 0.0;
            for (before, colours) in without.before.iter().zip(possible.iter().flatten()) {
                sum += colours;
                if whole > 0.0 {
                    let share = (sum / whole).min(1.0) * (free as u64 * PARTS) as f64;
                    prop_assert_eq!(*before, share.round() as u64);
                }
            }
            for (gap, &colours) in possible.iter().flatten().enumerate().filter(|_| whole > 0.0) {
                let known = in_units(&table(colours, (free as f64 / whole).min(1.0)));
                prop_assert_eq!(without.gap(gap), known);
            }
        }

        #[test]
        fn the_overflow_is_the_sum_over_all_subsets(trials in 0..12usize, chance in 0.0..1.0f64) {
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
        fn the_overflow_falls_and_is_convex(trials in 0..5000usize, chance in 0.0..1.0f64) {
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
