//! What purchases cost in our way of hanging cards, against the best way there can be on small boards.
//!
//! The best way is worked out by `tools/best_policy.rs` with a method that is none of ours: backward
//! induction (Bellman, 1957; Puterman, Markov Decision Processes, 1994; from memory).

// The source of the example itself: a test cannot count on the program being built.
#[allow(dead_code, reason = "its main is not called here")]
#[path = "../../tools/best_policy.rs"]
mod best_policy;

use best_policy::{Best, Case, Way};

/// The wall and the buyers of `tools/purchases.rs` made small, and how far, in hundredths of the
/// best, the plan with the least moved and room was measured to be from it, rounded up.
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

/// The hung cards moved in all, after checking what is lost at each purchase.
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
fn the_best_way_worked_by_hand() {
    // Three numbers, two places. The lowest and the highest number hang at their end and never move.
    // The one in the middle hangs at either end and moves with the chance of one half.
    let best = Best::new(case(3, 2, 1, 1, 1));
    assert_near(best.expected(), 1.0 / 6.0);
    assert_near(best.told(), 0.0);
    assert_near(moved(&best, Way::Lazy), 1.0 / 6.0);
    // Packed, all hang at the first place: they move with the chances of 0, one half, and 1.
    assert_near(moved(&best, Way::Packed), 0.5);

    // Four numbers, three places, which all fill in two purchases. The lowest at its end: the next one
    // comes between two that are left with a third, and half of them then move one card: 1/6. The
    // second one on the middle place: with the first nothing moves, with the third two cards in half
    // of all cases, with the fourth one card in half of them: (0 + 1 + 1/2) / 3. The others mirrored.
    let best = Best::new(case(4, 3, 1, 1, 2));
    assert_near(best.expected(), (1.0 / 6.0 + 1.0 / 2.0) / 2.0);

    // A place for every number.
    assert_near(Best::new(case(5, 5, 2, 1, 3)).expected(), 0.0);
}

#[test]
fn our_way_stays_near_the_best() {
    // The others take twice to ten times as long.
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
        // One looks at all that is to come, one at the gaps, one at nothing.
        let others = [Way::Lazy, Way::Even, Way::Packed].map(|way| moved(&best, way));
        assert!(others.is_sorted() && others[0] <= room && room < others[1]);
    }
}
