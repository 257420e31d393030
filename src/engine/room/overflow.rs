//! Expected overflow of a gap: the part of a binomial number that exceeds the free places.

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
