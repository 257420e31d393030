//! Fewest moves on boards where the cards that stay are a longest increasing subsequence, against
//! the `lis` crate (Fredman's method) and published results.

use homehook::engine::fewest_moves::fewest_moves;
use homehook::engine::instance::Instance;
use lis::LisExt;
use proptest::collection::vec;
use proptest::prelude::*;

/// The number of cards that stay, of cards hung at `values` (`None` = new), on a board with
/// `places` on each hook and enough free hooks around each value that every card fits between any
/// two others.
fn kept(values: &[Option<usize>], places: u32) -> usize {
    let apart = values.len() + 1;
    let end = values.iter().flatten().max().map_or(0, |value| value + 2);
    let hung = |value: usize| (value + 1) * apart;
    let cards: Vec<_> = values.iter().map(|value| value.map(hung)).collect();
    let hung = cards.iter().flatten().count();
    let board = Instance::new(vec![places; end * apart + values.len()], cards).unwrap();
    hung - fewest_moves(&board).unwrap().moved
}

/// The number of cards that stay in a row of numbers if each hook has one place.
fn longest_increasing(values: &[usize]) -> usize {
    let values: Vec<_> = values.iter().copied().map(Some).collect();
    kept(&values, 1)
}

#[test]
fn published_examples_give_the_published_lengths() {
    let examples: [(&[usize], usize); 5] = [
        // The first 16 terms of the van der Corput sequence (as in the tests of `lis` 1.0.0).
        (&[0, 8, 4, 12, 2, 10, 6, 14, 1, 9, 5, 13, 3, 11, 7, 15], 6),
        // The documentation of the crate `longest-increasing-subsequence` 0.1.0: 2 3 4 5, and 2 3 5.
        (&[2, 9, 4, 7, 3, 4, 5], 4),
        (&[9, 2, 8, 3, 5], 3),
        // D. Aldous, P. Diaconis, "Longest increasing subsequences: from patience sorting to the
        // Baik-Deift-Johansson theorem", Bull. Amer. Math. Soc. 36(4), 413-432, 1999: the deck that
        // is dealt into five piles, 1 3 4 6 9 (from memory).
        (&[7, 2, 8, 1, 3, 4, 10, 6, 9, 5], 5),
        // D. E. Knuth, "The Art of Computer Programming", volume 3, section 5.1.4: the two-line array
        // that gives the tableau with rows 2 3, 5 9 and 7, so 2 by Schensted's theorem (from memory).
        (&[7, 2, 9, 5, 3], 2),
    ];
    for (values, length) in examples {
        assert_eq!(longest_increasing(values), length, "{values:?}");
    }
    // The same tableau has three rows: the longest decreasing subsequence is 7 5 3 or 9 5 3.
    assert_eq!(longest_increasing(&[3, 5, 9, 2, 7]), 3);
}

/// Every order of the numbers below `n`.
fn permutations(n: usize) -> Vec<Vec<usize>> {
    let Some(largest) = n.checked_sub(1) else {
        return vec![vec![]];
    };
    let insert = |order: Vec<usize>| {
        (0..n).map(move |at| {
            let mut longer = order.clone();
            longer.insert(at, largest);
            longer
        })
    };
    permutations(largest).into_iter().flat_map(insert).collect()
}

/// Standard Young tableaux with rows of these lengths, none longer than the previous one, by the
/// hook length formula: J. S. Frame, G. de B. Robinson, R. M. Thrall, "The hook graphs of the
/// symmetric group", Canad. J. Math. 6, 316-324, 1954 (from memory).
fn tableaux(rows: &[usize]) -> u64 {
    let mut hooks = 1;
    for (row, &length) in rows.iter().enumerate() {
        for column in 0..length {
            let below = rows[row + 1..].iter().filter(|&&row| row > column).count();
            hooks *= (length - column + below) as u64;
        }
    }
    let cells = rows.iter().sum::<usize>() as u64;
    (1..=cells).product::<u64>() / hooks
}

/// The ways to write `n` as rows, none longer than the previous one or than `longest`.
fn shapes(n: usize, longest: usize) -> Vec<Vec<usize>> {
    if n == 0 {
        return vec![vec![]];
    }
    let first = |row: usize| {
        let rest = shapes(n - row, row).into_iter();
        rest.map(move |rest| [vec![row], rest].concat())
    };
    (1..=n.min(longest)).flat_map(first).collect()
}

#[test]
fn permutation_counts_by_longest_subsequence_match_oeis() {
    // OEIS A047874: permutations of n by the length of the longest increasing subsequence, 1 to n
    // (from memory). To compute it, C. Schensted, "Longest increasing and decreasing subsequences",
    // Canad. J. Math. 13, 179-191, 1961 (from memory), pairs each permutation with two tableaux of
    // one shape, whose first row is as long as the subsequence.
    let triangle: [&[u64]; 7] = [
        &[1],
        &[1, 1],
        &[1, 4, 1],
        &[1, 13, 9, 1],
        &[1, 41, 61, 16, 1],
        &[1, 131, 381, 181, 25, 1],
        &[1, 428, 2332, 1821, 421, 36, 1],
    ];
    for (row, n) in triangle.into_iter().zip(1..) {
        let mut count = vec![0; n];
        for order in permutations(n) {
            count[longest_increasing(&order) - 1] += 1;
        }
        assert_eq!(count, row, "of {n}");
        let mut pairs = vec![0; n];
        for shape in shapes(n, n) {
            pairs[shape[0] - 1] += tableaux(&shape).pow(2);
        }
        assert_eq!(count, pairs, "of {n}");
    }
}

proptest! {
    #[test]
    fn cards_that_stay_match_the_lis_crate(values in vec(prop::option::weighted(0.9, 0..30usize), 1..60)) {
        // New cards fit between any two, so only the others count.
        let hung: Vec<usize> = values.iter().flatten().copied().collect();
        let increasing = hung.longest_increasing_subsequence().len();
        prop_assert_eq!(kept(&values, 1), increasing);
        // With places for all cards on every hook, cards that hang together may stay together.
        let non_decreasing = hung.longest_increasing_subsequence_by(|a, b| a.cmp(b).then(std::cmp::Ordering::Less), |_| true);
        prop_assert_eq!(kept(&values, values.len() as u32), non_decreasing.len());
    }

    #[test]
    fn cards_that_stay_match_the_lis_crate_on_crowded_boards(
        hooks in vec(prop::option::weighted(0.9, any::<usize>()), 1..60),
        free in 0..20usize,
    ) {
        // With one place per hook, two cards can both stay if there are at least as many hooks
        // between them as cards, so if hook minus rank doesn't decrease. The first and the last
        // card also need room for the cards before and after them.
        let cards: Vec<_> = hooks.iter().map(|hook| hook.map(|hook| hook % (hooks.len() + free))).collect();
        let room = |rank: usize, hook: Option<usize>| hook?.checked_sub(rank).filter(|&q| q <= free);
        let can_stay: Vec<usize> = cards.iter().enumerate().filter_map(|(rank, &hook)| room(rank, hook)).collect();
        let stay = can_stay.longest_increasing_subsequence_by(|a, b| a.cmp(b).then(std::cmp::Ordering::Less), |_| true);
        let hung = cards.iter().flatten().count();
        let board = Instance::new(vec![1; cards.len() + free], cards).unwrap();
        prop_assert_eq!(hung - fewest_moves(&board).unwrap().moved, stay.len());
    }

    #[test]
    fn erdos_szekeres_bound_holds(values in Just((0..40usize).collect::<Vec<_>>()).prop_shuffle()) {
        // P. Erdos, G. Szekeres, "A combinatorial problem in geometry", Compositio Math. 2,
        // 463-470, 1935 (from memory): n distinct numbers contain a rising or falling sequence of
        // at least the square root of n; more exactly, the product of the two lengths is at least
        // n.
        let falling: Vec<usize> = values.iter().rev().copied().collect();
        prop_assert!(longest_increasing(&values) * longest_increasing(&falling) >= values.len());
    }
}

#[test]
fn erdos_szekeres_bound_is_tight() {
    // Falling rows stacked upwards: only one card per row can stay.
    let rows = |row: usize| (0..7).rev().map(move |at| row * 7 + at);
    let values: Vec<usize> = (0..5).flat_map(rows).collect();
    let turned: Vec<usize> = values.iter().rev().copied().collect();
    assert_eq!(
        (longest_increasing(&values), longest_increasing(&turned)),
        (5, 7)
    );
}
