//! The cheapest plan on the line of `q`, for any cost that is a sum over cards.

use std::ops::Add;

/// The non-decreasing row of `cards` values in `0..width` with the least sum of `cost(card, value)`,
/// the value of each card within `ends(card)`; among equals the one whose last value is lowest, then
/// the one before it, and so on.
///
/// `Cost` must be an ordered sum: adding the same to both sides keeps the order. Both `ends` do not
/// fall from card to card, and a lower end is never above the upper one.
/// O(cards * width) time; one bit a cell of memory, and one row of costs. `width` is at least 1.
pub(super) fn cheapest<Cost>(
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
    // Bit `v` of a card's row: value `v` for this card is strictly better than every lower one.
    let mut better = vec![0u64; cards * words];
    // The least sum with the last value `v` or lower; not in use below the card's lower end.
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

/// The highest set bit at or below `index`, where there is one.
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
            costs in vec((vec(0..4u64, 70), 0..70usize, 0..70usize), 0..3),
            narrow in 1..=70usize,
        ) {
            // More than a word of values, few enough costs for ties.
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
