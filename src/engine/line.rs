//! The cheapest plan on the line of `q`, for any cost that is a sum over cards.

use std::ops::Add;

/// The non-decreasing row of `cards` values in `0..width` with the least sum of `cost(card, value)`;
/// among equals the one whose last value is lowest, then the one before it, and so on.
///
/// `Cost` must be an ordered sum: adding the same to both sides keeps the order.
/// O(cards * width) time; one bit a cell of memory, and one row of costs. `width` is at least 1.
pub(super) fn cheapest<Cost>(
    cards: usize,
    width: usize,
    zero: Cost,
    cost: impl Fn(usize, usize) -> Cost,
) -> Vec<u64>
where
    Cost: Copy + Ord + Add<Output = Cost>,
{
    let words = width.div_ceil(64);
    // Bit `v` of a card's row: value `v` for this card is strictly better than every lower one.
    let mut better = vec![0u64; cards * words];
    let mut best = vec![zero; width];
    for (card, row) in better.chunks_exact_mut(words).enumerate() {
        let mut lowest = best[0] + cost(card, 0);
        best[0] = lowest;
        row[0] = 1;
        for (value, best) in best.iter_mut().enumerate().skip(1) {
            let here = *best + cost(card, value);
            if here < lowest {
                lowest = here;
                row[value / 64] |= 1 << (value % 64);
            }
            *best = lowest;
        }
    }
    let mut plan = vec![0; cards];
    let mut last = width - 1;
    for (row, plan) in better.chunks_exact(words).zip(&mut plan).rev() {
        last = highest_at_most(row, last);
        *plan = last as u64;
    }
    plan
}

/// The highest set bit at or below `index`; bit 0 is always set.
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
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_least_of_every_rising_row_and_the_lowest_from_the_end(
            costs in vec(vec(0..4u64, 70), 0..3),
            narrow in 1..=70usize,
        ) {
            // More than a word of values, few enough costs for ties.
            let mut rows = vec![(0, Vec::new())];
            for costs in &costs {
                rows = rows
                    .iter()
                    .flat_map(|(sum, row): &(u64, Vec<u64>)| {
                        let from = row.last().copied().unwrap_or(0);
                        (from..narrow as u64).map(move |value| {
                            let longer = row.iter().copied().chain([value]).collect();
                            (sum + costs[value as usize], longer)
                        })
                    })
                    .collect();
            }
            let best = rows.into_iter().min_by_key(|(sum, row)| {
                (*sum, row.iter().rev().copied().collect::<Vec<_>>())
            });
            let found = cheapest(costs.len(), narrow, 0, |card, value| costs[card][value]);
            prop_assert_eq!(found, best.unwrap().1);
        }
    }
}
