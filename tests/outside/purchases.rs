//! The cost of purchases with our way of hanging cards, against the best possible way on small
//! boards.
//!
//! `tools/best_policy.rs` computes the best way with an independent method: backward induction
//! (Bellman, 1957; Puterman, Markov Decision Processes, 1994; from memory).

// Includes the example's source, because a test can't count on the program being built.
#[allow(dead_code, reason = "its main is not called here")]
#[path = "../../tools/best_policy.rs"]
mod best_policy;

use best_policy::{Best, Case, Way};

/// The wall and buyers of `tools/purchases.rs`, made small, each with the measured excess of the
/// plan with the fewest moves and room over the best, in hundredths of the best, rounded up.
const CASES: [(Case, f64); 4] = [
    (case(9, 7, 2, 2, 2), 2.0),
    (case(9, 6, 2, 1, 3), 4.0),
    (case(11, 7, 2, 1, 4), 5.0),
    (case(10, 7, 2, 2, 2), 3.0),
];

const fn case(range: usize, places: usize, first: usize, each: usize, times: usize) -> Case {
    Case {
        range,
        places,
        first,
        each,
        times,
    }
}

/// The cards moved in all, after checking the loss at each purchase.
fn moved(best: &Best, way: Way) -> f64 {
    let purchases = best.follow(way).unwrap();
    let moved: f64 = purchases.iter().map(|figures| figures.moved).sum();
    let lost: f64 = purchases.iter().map(|figures| figures.lost).sum();
    assert!(purchases.iter().all(|figures| figures.lost > -1e-9));
    assert_near(moved - lost, best.expected());
    moved
}

fn assert_near(found: f64, known: f64) {
    assert!((found - known).abs() < 1e-9, "{found} is not {known}");
}

#[test]
fn best_policy_matches_cases_solved_by_hand() {
    // Three numbers, two places. The lowest and the highest number hang at their end and never
    // move. The middle one hangs at either end and moves with probability one half.
    let best = Best::new(case(3, 2, 1, 1, 1));
    assert_near(best.expected(), 1.0 / 6.0);
    assert_near(best.told(), 0.0);
    assert_near(moved(&best, Way::Lazy), 1.0 / 6.0);
    // Packed, all hang at the first place, and move with probabilities 0, one half, and 1.
    assert_near(moved(&best, Way::Packed), 0.5);

    // Four numbers, three places, all filled by two purchases. If number 1 hangs first, at its end,
    // the next number lies between the two that are left in a third of the cases, and half of those
    // move one card: 1/6. If number 2 hangs first, on the middle place, then buying 1 moves
    // nothing, 3 moves two cards in half of the cases, and 4 moves one card in half of them: (0 + 1
    // + 1/2) / 3. Numbers 3 and 4 mirror these.
    let best = Best::new(case(4, 3, 1, 1, 2));
    assert_near(best.expected(), (1.0 / 6.0 + 1.0 / 2.0) / 2.0);

    // A place for every number.
    assert_near(Best::new(case(5, 5, 2, 1, 3)).expected(), 0.0);
}

#[test]
fn our_policy_stays_near_the_best() {
    // The other cases take two to ten times as long.
    let tried = if crate::common::is_long() {
        CASES.len()
    } else {
        1
    };
    for (case, hundredths) in CASES.into_iter().take(tried) {
        let best = Best::new(case);
        let (least, room) = (best.expected(), moved(&best, Way::Room));
        assert!(
            room <= least * (1.0 + hundredths / 100.0),
            "{case:?}: {room}, the best {least}"
        );
        assert!(best.told() < least);
        // One policy considers the whole future, one the gaps, one nothing.
        let others = [Way::Lazy, Way::Even, Way::Packed].map(|way| moved(&best, way));
        assert!(others.is_sorted() && others[0] <= room && room < others[1]);
    }
}
