//! Room: how well the free places are spread for cards not yet owned.
//!
//! The measure is against an ideal: the layout in which free places stand between the cards in the
//! proportions that are wanted, even ones by default. A card with `q` free places before it where
//! the ideal has `q*` is `|q - q*|` places off. The sum of squares over the cards tells spread from
//! crowded at every scale, on a board with few free places as on one with many, which the sizes of
//! single gaps do not: with fewer free places than cards every gap of 0 or 1 would look alike.

use super::instance::{EngineError, Instance};

/// Parts of a place the ideal is rounded to, so that sums are exact and plans the same everywhere.
const PARTS: u64 = 16;

/// The ideal: where each card stands when the free places are spread as wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Ideal {
    /// Free places before each card, in parts of a place, non-decreasing.
    before: Vec<u64>,
}

impl Ideal {
    /// The ideal of `cards` cards and `free` free places: `wanted[r]` is the share of the gap before
    /// card `r`, and the last entry that of the gap after the last card; all alike where none is
    /// given or all are 0.
    pub(super) fn new(
        cards: usize,
        free: u64,
        wanted: Option<&[f64]>,
    ) -> Result<Self, EngineError> {
        let parts = (free * PARTS) as f64;
        let Some(wanted) = wanted else {
            return Ok(Self::even(cards, free));
        };
        check_wanted(cards, wanted)?;
        let whole: f64 = wanted.iter().sum();
        if whole == 0.0 {
            return Ok(Self::even(cards, free));
        }
        let mut sum = 0.0;
        let before = wanted[..cards].iter().map(|share| {
            sum += share;
            ((sum / whole).min(1.0) * parts).round() as u64
        });
        Ok(Self {
            before: before.collect(),
        })
    }

    /// The ideal with all gaps alike.
    pub(super) fn even(cards: usize, free: u64) -> Self {
        let parts = u128::from(free * PARTS);
        let gaps = cards as u128 + 1;
        let before = (1..gaps).map(|gap| ((parts * gap + gaps / 2) / gaps) as u64);
        Self {
            before: before.collect(),
        }
    }

    /// Square of how far card `rank` is off with `q` free places before it, in square parts.
    pub(super) fn square_off(&self, rank: usize, q: u64) -> u64 {
        let off = (q * PARTS).abs_diff(self.before[rank]);
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
                sum += u128::from(self.square_off(rank, q));
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

/// How far the cards are from the layout with the wanted room: the root mean square over the cards
/// of the places they are off, to a 16th of a place; 0 or more, lower is better.
///
/// `hook[r]` is the hook of card `r`: non-decreasing and within capacity, as a solver of this layer
/// gives it. On a hook of several places the free ones count where they serve best. `wanted[r]` is
/// the share of the free places wanted before card `r` and `wanted[cards]` that after the last, in
/// any unit; `None` = all alike. O(hooks + cards).
///
/// # Errors
/// [`EngineError::Length`] without a hook for each card and a gap for each card and one;
/// [`EngineError::BadGap`] for a share below 0 or not a number; [`EngineError::NoSuchHook`] for a
/// hook beyond the last; [`EngineError::Short`] where there are fewer places than cards.
pub fn room_score(
    instance: &Instance,
    hook: &[usize],
    wanted: Option<&[f64]>,
) -> Result<f64, EngineError> {
    let cards = instance.cards().len();
    check_hooks(instance, hook)?;
    let ideal = Ideal::new(cards, instance.free()?, wanted)?;
    Ok(ideal.score(ideal.squares_off(instance, hook)))
}

/// A hook that exists for each card, or an error.
pub(super) fn check_hooks(instance: &Instance, hook: &[usize]) -> Result<(), EngineError> {
    let (expected, found) = (instance.cards().len(), hook.len());
    if found != expected {
        return Err(EngineError::Length {
            what: "hooks",
            expected,
            found,
        });
    }
    let hooks = instance.capacity().len();
    match hook.iter().position(|&hook| hook >= hooks) {
        Some(card) => Err(EngineError::NoSuchHook {
            card,
            hook: hook[card],
            hooks,
        }),
        None => Ok(()),
    }
}

/// A share of 0 or more for each gap of `cards` cards, or an error.
pub(super) fn check_wanted(cards: usize, wanted: &[f64]) -> Result<(), EngineError> {
    let (expected, found) = (cards + 1, wanted.len());
    if found != expected {
        return Err(EngineError::Length {
            what: "wanted gaps",
            expected,
            found,
        });
    }
    match wanted
        .iter()
        .position(|share| !(0.0..f64::INFINITY).contains(share))
    {
        Some(gap) => Err(EngineError::BadGap { gap }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::boards;
    use super::*;
    use proptest::collection::vec;
    use proptest::prelude::*;

    fn score(capacity: &[u32], hook: &[usize], wanted: Option<&[f64]>) -> f64 {
        let board = Instance::new(capacity.to_vec(), vec![None; hook.len()]).unwrap();
        room_score(&board, hook, wanted).unwrap()
    }

    #[test]
    fn the_even_layout_scores_nothing_and_a_crowd_more() {
        assert_eq!(score(&[1; 11], &[2, 5, 8], None), 0.0);
        // Ideal 2, 4, 6 free places before; crowded at the start 0, 0, 0: the root of 56 / 3.
        assert!((score(&[1; 11], &[0, 1, 2], None) - (56.0f64 / 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn wanted_gaps_shift_the_ideal() {
        assert_eq!(score(&[1; 6], &[0, 1, 5], Some(&[0.0, 0.0, 2.0, 0.0])), 0.0);
        let off = score(&[1; 6], &[0, 1, 4], Some(&[0.0, 0.0, 7.5, 0.0]));
        assert!((off - 3f64.sqrt().recip()).abs() < 1e-12);
    }

    #[test]
    fn wishes_must_be_numbers_from_nought_up() {
        let board = Instance::new(vec![2], vec![None]).unwrap();
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            let error = room_score(&board, &[0], Some(&[0.5, bad])).unwrap_err();
            assert_eq!(error, EngineError::BadGap { gap: 1 });
        }
        assert!(matches!(
            room_score(&board, &[0], Some(&[1.0])),
            Err(EngineError::Length { .. })
        ));
        assert!(matches!(
            room_score(&board, &[1], None),
            Err(EngineError::NoSuchHook { .. })
        ));
    }

    proptest! {
        #[test]
        fn free_places_of_a_hook_count_where_they_serve_best(
            board in boards(5, 3, 6),
            wanted in vec(0.0..3.0f64, 7),
        ) {
            // Every choice of places on the hooks of a plan, against the closed form.
            let cards = board.cards().len();
            let wanted = &wanted[..=cards];
            let ideal = Ideal::new(cards, board.free().unwrap(), Some(wanted)).unwrap();
            let places: Vec<usize> = (0..board.capacity().len())
                .flat_map(|hook| {
                    let ends = board.first_place(hook)..board.first_place(hook + 1);
                    ends.map(move |_| hook)
                })
                .collect();
            let mut best = std::collections::BTreeMap::new();
            for chosen in 0u32..1 << places.len() {
                if chosen.count_ones() as usize == cards {
                    let on: Vec<usize> =
                        (0..places.len()).filter(|place| chosen >> place & 1 == 1).collect();
                    let off = |(rank, &place): (usize, &usize)| {
                        u128::from(ideal.square_off(rank, (place - rank) as u64))
                    };
                    let sum: u128 = on.iter().enumerate().map(off).sum();
                    let hook: Vec<usize> = on.iter().map(|&place| places[place]).collect();
                    let known = best.entry(hook).or_insert(u128::MAX);
                    *known = sum.min(*known);
                }
            }
            for (hook, sum) in best {
                let found = room_score(&board, &hook, Some(wanted)).unwrap();
                prop_assert!((found - ideal.score(sum)).abs() < 1e-9);
            }
        }
    }
}
