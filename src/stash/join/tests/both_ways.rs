//! Two lives drawn at random after a common beginning become one, both ways.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::named::named;
use super::{Copy, all};
use crate::model::label::fold;
use crate::stash::join::{Answers, Joined, NotJoined, Side, join};
use crate::stash::state::{Kept, State};
use crate::stash::testing::life::{Life, a_choice, choices};

fn all_strands(state: &State) -> i64 {
    state.cards().map(|kept| i64::from(kept.strands.0)).sum()
}

fn whole(state: &State) -> BTreeSet<(String, String)> {
    let whole = state.cards().filter(|kept| kept.card.parent.is_none());
    whole
        .map(|kept| (fold(state.range_name(kept)), kept.card.number.key()))
        .collect()
}

/// Joins both ways with matching answers and checks what must hold of any join. Nothing where a law
/// stands against the outcome, which must then be so both ways.
pub(super) fn both_ways(base: Option<&State>, a: &Copy, b: &Copy) -> Option<(Joined, Joined)> {
    let answers = [all(Side::Mine), all(Side::Theirs)];
    let (ab, ba) = (
        join(&a.lines, &b.lines, &answers[0]),
        join(&b.lines, &a.lines, &answers[1]),
    );
    let (ab, ba) = match (ab, ba) {
        (Ok(ab), Ok(ba)) => (ab, ba),
        (Err(NotJoined::Apart(_)), Err(NotJoined::Apart(_)))
        | (Err(NotJoined::Namesakes(_)), Err(NotJoined::Namesakes(_)))
        | (Err(NotJoined::Crossed), Err(NotJoined::Crossed)) => return None,
        other => panic!("{other:?}"),
    };
    let (mut left, mut right) = (a.clone(), b.clone());
    left.take("x", &ab);
    right.take("y", &ba);
    assert_eq!(
        named(&left.life.state),
        named(&right.life.state),
        "{:?}",
        ab.conflicts
    );
    assert_eq!(ab.conflicts.len(), ba.conflicts.len());
    // Once more changes nothing.
    let again = join(&left.lines, &b.lines, &Answers::default()).unwrap();
    assert!(again.event.is_none() && again.taken.is_empty());
    // The other takes ours over without a question, and is where we are.
    let over = join(&b.lines, &left.lines, &Answers::default()).unwrap();
    assert_eq!(over.conflicts, []);
    let mut taken_over = b.clone();
    taken_over.take("z", &over);
    assert_eq!(named(&taken_over.life.state), named(&left.life.state));
    if let Some(base) = base {
        nothing_is_lost(base, [&a.life.state, &b.life.state], &left.life.state, &ab);
    }
    Some((ab, ba))
}

/// The card of a state that bears what a card of another one bears.
pub(super) fn the_same<'a>(of: &State, kept: &Kept, state: &'a State) -> Option<&'a Kept> {
    let range = fold(of.range_name(kept));
    let mut cards = state.cards();
    cards.find(|other| {
        other.card.parent.is_none()
            && other.card.number.key() == kept.card.number.key()
            && fold(state.range_name(other)) == range
    })
}

fn nothing_is_lost(base: &State, [a, b]: [&State; 2], merged: &State, joined: &Joined) {
    let (had, left, right, now) = (whole(base), whole(a), whole(b), whole(merged));
    for card in left.union(&right) {
        let undone = had.contains(card) && !(left.contains(card) && right.contains(card));
        assert!(undone || now.contains(card), "{card:?}");
    }
    let asked = joined
        .conflicts
        .iter()
        .any(|conflict| conflict.about.contains("thread"));
    let undone = had
        .iter()
        .any(|card| !left.contains(card) || !right.contains(card));
    if !asked && !undone {
        assert_eq!(
            all_strands(merged),
            all_strands(a) + all_strands(b) - all_strands(base)
        );
    }
    // Who alone moved a card has it where he put it, unless it was asked.
    let about = |name: &str| {
        joined
            .conflicts
            .iter()
            .any(|conflict| conflict.about.contains(name))
    };
    for was in base.cards().filter(|kept| kept.card.parent.is_none()) {
        // A number of a card is given again where its coming was taken back, so that it is no name.
        let same = |state| the_same(base, was, state);
        let (Some(left), Some(right), Some(now)) = (same(a), same(b), same(merged)) else {
            continue;
        };
        if left.home == was.home && right.home != was.home && !about("hook") && !about("home") {
            // A board may have another number now.
            assert_eq!(
                now.home.map(|hook| merged.mark(hook)),
                right.home.map(|hook| b.mark(hook)),
                "{:#?} was {was:?} left {left:?} right {right:?} now {now:?} taken {:?}",
                joined.conflicts,
                joined.taken
            );
        }
        if left.place == was.place
            && !about("hook")
            && !about("where")
            && !about("ring")
            && !about("hand")
        {
            assert_eq!(now.place.since, right.place.since);
        }
    }
}

proptest! {
    #[test]
    fn two_lives_become_one_whoever_brings_them_together(
        common in choices(8),
        left in prop::collection::vec(a_choice(), 0..7),
        right in prop::collection::vec(a_choice(), 0..7),
        later in prop::collection::vec(a_choice(), 0..5),
        crosswise in any::<bool>(),
    ) {
        let mut a = Copy { life: Life::default(), lines: Vec::new() };
        a.live("c", common);
        prop_assume!(!a.lines.is_empty());
        let mut b = a.clone();
        let base = a.life.state.clone();
        a.live("a", left);
        b.live("b", right);
        let Some((ab, ba)) = both_ways(Some(&base), &a, &b) else { return Ok(()) };
        // Both go on after one of them, or each of them, has joined.
        a.take("x", &ab);
        if crosswise {
            b.take("y", &ba);
            // Where a list came out in another order here and there, it is refused in words.
            match join(&a.lines, &b.lines, &Answers::default()) {
                Ok(same) => prop_assert!(same.taken.is_empty() && same.event.is_none()),
                Err(NotJoined::Crossed) => return Ok(()),
                Err(other) => panic!("{other}"),
            }
        }
        let (half, rest) = later.split_at(later.len() / 2);
        a.live("d", half.to_vec());
        b.live("e", rest.to_vec());
        both_ways(None, &a, &b);
    }
}
