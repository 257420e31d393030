//! The most room for each number of cards touched, on small boards.

use super::Point;
use super::candidates::Question;
use crate::engine::instance::EngineError;

/// Entries (cards, free places, cards touched) up to which every number is looked at.
const MOST_ENTRIES: u64 = 1 << 21;

/// For each weight that can be touched, from the least on, a plan with the most room for it that has
/// more than those for less; none on boards that are too large.
///
/// The table is that of [`crate::engine::line`] with the weight touched so far as one more dimension, so a
/// plan is found even where no price of a touch leads to it. O(cards * (free places + 1) * (weight + 1)
/// * length of the gap tables) time, two bytes an entry.
pub(super) fn most_room_for_each_number(question: &Question) -> Result<Vec<Point>, EngineError> {
    let (instance, measure) = (question.instance, question.measure);
    let free = instance.free()?;
    let cards = instance.cards().len();
    let hung = (0..cards).filter(|&rank| instance.cards()[rank].is_some());
    let heaviest: u64 = hung.map(|rank| question.weight(rank)).sum();
    let entries = (free + 1).saturating_mul(heaviest.saturating_add(1));
    if entries.saturating_mul(cards as u64) > MOST_ENTRIES || free >= u64::from(u16::MAX) {
        return Ok(Vec::new());
    }
    let (free, heaviest) = (free as usize, heaviest as usize);
    let width = heaviest + 1;
    // best[q][w]: the least loss of room with q before the last card and weight w touched.
    let mut best = vec![u128::MAX; (free + 1) * width];
    best[0] = 0;
    let mut from = vec![0u16; cards * (free + 1) * width];
    for rank in 0..cards {
        let mut next = vec![u128::MAX; best.len()];
        let row = &mut from[rank * (free + 1) * width..][..(free + 1) * width];
        let table = measure.gap(rank);
        let (low, high) = instance.ends(rank, free as u64);
        for q in low as usize..=high as usize {
            let touched = question.line.touched(rank, q as u64).is_some();
            let more = if touched {
                question.weight(rank) as usize
            } else {
                0
            };
            let pull = measure.pull(rank, q as u64);
            for before in 0..=q {
                let gap = u128::from(table.get(q - before).copied().unwrap_or(0));
                for weight in more..width {
                    let known = best[before * width + weight - more];
                    if known == u128::MAX {
                        continue;
                    }
                    let here = known + gap + pull;
                    let slot = q * width + weight;
                    if here < next[slot] {
                        next[slot] = here;
                        row[slot] = before as u16;
                    }
                }
            }
        }
        best = next;
    }

    let last = measure.gap(cards);
    let mut points = Vec::new();
    let mut least = u128::MAX;
    for weight in 0..width {
        let ends = (0..=free).filter(|q| best[q * width + weight] < u128::MAX);
        let total = |q: &usize| {
            let gap = last.get(free - q).copied().unwrap_or(0);
            best[q * width + weight] + u128::from(gap)
        };
        let Some(mut q) = ends.min_by_key(total) else {
            continue;
        };
        if total(&q) >= least {
            continue;
        }
        least = total(&q);
        let mut line = vec![0; cards];
        let mut left = weight;
        for rank in (0..cards).rev() {
            line[rank] = q as u64;
            let before = from[(rank * (free + 1) + q) * width + left];
            if question.line.touched(rank, q as u64).is_some() {
                left -= question.weight(rank) as usize;
            }
            q = before.into();
        }
        points.push(question.point(&line, false)?);
    }
    Ok(points)
}
