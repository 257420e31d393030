//! Families made, named, ordered and given up on both sides.

use proptest::prelude::*;

use super::both_ways::{both_ways, the_same};
use super::*;
use crate::model::family::WallOrder;
use crate::stash::command::family;
use crate::stash::testing::life::choices;

/// Mostly families, and now and then second thoughts, cards and shades.
fn of_families() -> impl Strategy<Value = Choice> {
    let any = any::<[u16; 5]>;
    let families = any().prop_map(|[a, b, c, d, e]| (20, [a, b | 1, c, d, e]));
    let turned = any().prop_map(|n| (21, n));
    let other = (prop_oneof![Just(0_u8), Just(5), Just(25)], any());
    prop_oneof![6 => families, 2 => turned, 1 => other]
}

fn family_names(state: &State) -> Vec<String> {
    let names = state.families().iter();
    names.map(|family| family.name.to_string()).collect()
}

fn family_of(state: &State, kept: Option<&Kept>) -> Option<String> {
    let family = kept?.card.family.id()?;
    Some(fold(state.family(family)?.name.as_str()))
}

/// What the family of a card with this number is called.
fn family_of_number(state: &State, id: u32) -> Option<String> {
    family_of(state, state.card(CardId(id)))
}

proptest! {
    #[test]
    fn families_become_one_whoever_brings_them_together(
        common in choices(1),
        first in prop::collection::vec(of_families(), 0..5),
        left in prop::collection::vec(of_families(), 0..6),
        right in prop::collection::vec(of_families(), 0..6),
        later in prop::collection::vec(of_families(), 0..4),
    ) {
        let mut a = Copy { life: Life::default(), lines: Vec::new() };
        a.live("c", [common, first].concat());
        prop_assume!(!a.lines.is_empty());
        let mut b = a.clone();
        let base = a.life.state.clone();
        a.live("a", left);
        b.live("b", right);
        let Some((ab, _)) = both_ways(Some(&base), &a, &b) else { return Ok(()) };
        let (old, other) = (a.life.state.clone(), b.life.state.clone());
        a.take("x", &ab);
        let names: BTreeSet<String> = family_names(&a.life.state).iter().map(|name| fold(name)).collect();
        prop_assert_eq!(names.len(), a.life.state.families().len());
        // What both sides still call the same and both have is there, and so is every new one.
        let had: BTreeSet<String> = family_names(&base).iter().map(|name| fold(name)).collect();
        for name in family_names(&old).iter().chain(&family_names(&other)) {
            let name = fold(name);
            let asked = ab.conflicts.iter().any(|conflict| conflict.about.contains("name of the family"));
            prop_assert!(had.contains(&name) || asked || names.contains(&name), "{}", name);
        }
        // A card that neither side put elsewhere is where it was, unless its family has a new name, or it was
        // asked: a family of the old name may be another one.
        let asked = ab.conflicts.iter().any(|conflict| conflict.about.starts_with("the family of card"));
        for kept in base.cards().filter(|kept| kept.card.parent.is_none()) {
            let of = |state| family_of(state, the_same(&base, kept, state));
            let was = of(&base);
            if !asked && was.is_some() && of(&old) == was && of(&other) == was {
                prop_assert_eq!(of(&a.life.state), was, "{:?} {:?}", kept, ab);
            }
        }
        let (half, rest) = later.split_at(later.len() / 2);
        a.live("d", half.to_vec());
        b.live("e", rest.to_vec());
        both_ways(None, &a, &b);
    }
}

/// Two copies with the families warm and cool, in which each card is warm.
fn two_copies() -> (Copy, Copy) {
    let mut a = start();
    for name in ["warm", "cool"] {
        let event = family::add(&a.life.state, name).unwrap();
        does(&mut a, "c", event);
    }
    let cards = [CardId(1), CardId(2), CardId(3)];
    let event = family::assign(&a.life.state, "warm", &cards).unwrap();
    does(&mut a, "c", event);
    (a.clone(), a)
}

fn joined(a: &Copy, b: &Copy, answer: Side) -> (Joined, State) {
    let joined = join(&a.lines, &b.lines, &all(answer)).unwrap();
    let mut both = a.clone();
    both.take("x", &joined);
    (joined, both.life.state)
}

fn rename(copy: &mut Copy, side: &str, family: &str, name: &str) {
    let event = family::rename(&copy.life.state, family, name).unwrap();
    does(copy, side, event);
}

#[test]
fn a_family_renamed_on_one_side_has_its_new_name() {
    let (mut a, mut b) = two_copies();
    rename(&mut b, "b", "warm", "reds");
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let (asked, state) = joined(mine, theirs, Side::Mine);
        assert_eq!(asked.conflicts, []);
        assert_eq!(family_names(&state), ["reds", "cool"]);
        assert_eq!(family_of_number(&state, 1).as_deref(), Some("reds"));
    }
    // Both otherwise is asked.
    rename(&mut a, "a", "warm", "embers");
    for (answer, name) in [(Side::Mine, "embers"), (Side::Theirs, "reds")] {
        let (asked, state) = joined(&a, &b, answer);
        let [conflict] = &asked.conflicts[..] else {
            panic!("{asked:?}")
        };
        assert_eq!(conflict.about, "the name of the family 'warm'");
        assert_eq!(conflict.mine.what, "'embers'");
        assert_eq!(conflict.theirs.what, "'reds'");
        assert_eq!(family_names(&state), [name, "cool"]);
    }
}

#[test]
fn a_family_both_brought_back_and_one_renamed_is_asked() {
    let mut a = start();
    let event = family::add(&a.life.state, "warm").unwrap();
    does(&mut a, "c", event);
    let undo = a.life.history.undo().unwrap();
    does(&mut a, "c", undo);
    let mut b = a.clone();
    for (copy, side) in [(&mut a, "a"), (&mut b, "b")] {
        let redo = copy.life.history.redo().unwrap();
        does(copy, side, redo);
    }
    rename(&mut b, "b", "warm", "reds");
    for (answer, name) in [(Side::Mine, "warm"), (Side::Theirs, "reds")] {
        let (asked, state) = joined(&a, &b, answer);
        assert_eq!(asked.conflicts.len(), 1);
        assert_eq!(family_names(&state), [name]);
    }
}

#[test]
fn a_family_made_under_one_name_on_both_sides_is_one() {
    let (mut a, mut b) = two_copies();
    for (copy, side, name) in [(&mut a, "a", "Reds"), (&mut b, "b", "reds")] {
        let event = family::add(&copy.life.state, name).unwrap();
        does(copy, side, event);
        let card = CardId(if side == "a" { 1 } else { 2 });
        let event = family::assign(&copy.life.state, name, &[card]).unwrap();
        does(copy, side, event);
    }
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let (asked, state) = joined(mine, theirs, Side::Mine);
        assert_eq!(asked.conflicts, []);
        assert_eq!(family_names(&state), ["warm", "cool", "Reds"]);
        let families = [1, 2, 3].map(|id| family_of_number(&state, id).unwrap());
        assert_eq!(families, ["reds", "reds", "warm"]);
    }
}

#[test]
fn a_family_given_up_on_one_side_stays_for_the_cards_put_in_it_on_the_other() {
    let (mut a, mut b) = two_copies();
    let event = family::remove(&a.life.state, "cool").unwrap();
    does(&mut a, "a", event);
    let event = family::assign(&b.life.state, "cool", &[CardId(2)]).unwrap();
    does(&mut b, "b", event);
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let (asked, state) = joined(mine, theirs, Side::Mine);
        assert_eq!(asked.conflicts, []);
        assert_eq!(family_names(&state), ["warm", "cool"]);
        assert_eq!(family_of_number(&state, 2).as_deref(), Some("cool"));
    }
}

#[test]
fn a_new_family_with_the_number_of_one_given_up_is_another() {
    let (mut a, b) = two_copies();
    let event = family::remove(&a.life.state, "cool").unwrap();
    does(&mut a, "a", event);
    let event = family::add(&a.life.state, "reds").unwrap();
    does(&mut a, "a", event);
    for _ in 0..2 {
        let undo = a.life.history.undo().unwrap();
        does(&mut a, "a", undo);
    }
    // The undo brought the old one back, under the number the new one had.
    let mut b = b;
    rename(&mut b, "b", "cool", "blues");
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let (asked, state) = joined(mine, theirs, Side::Mine);
        assert_eq!(asked.conflicts, []);
        assert_eq!(family_names(&state), ["warm", "blues"]);
    }
}

#[test]
fn two_orders_of_the_wall_are_asked() {
    let (mut a, mut b) = two_copies();
    let event = family::order_wall(&a.life.state, WallOrder::Number);
    does(&mut a, "a", event);
    let (asked, state) = joined(&b, &a, Side::Mine);
    assert_eq!(asked.conflicts, []);
    assert_eq!(state.order(), WallOrder::Number);
    let event = family::order_wall(&b.life.state, WallOrder::Lightness);
    does(&mut b, "b", event);
    for (answer, order) in [
        (Side::Mine, WallOrder::Number),
        (Side::Theirs, WallOrder::Lightness),
    ] {
        let (asked, state) = joined(&a, &b, answer);
        assert_eq!(asked.conflicts[0].about, "what the wall is ordered by");
        assert_eq!(state.order(), order);
    }
}

#[test]
fn a_name_for_two_families_is_refused_in_words() {
    let (mut a, mut b) = two_copies();
    rename(&mut a, "a", "warm", "reds");
    let event = family::add(&b.life.state, "Reds").unwrap();
    does(&mut b, "b", event);
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let refused = join(&mine.lines, &theirs.lines, &Answers::default()).unwrap_err();
        assert!(matches!(refused, NotJoined::Namesakes(_)), "{refused}");
    }
    // Another name for one of them, and both go together.
    rename(&mut b, "b", "Reds", "rust");
    let (_, state) = joined(&a, &b, Side::Mine);
    assert_eq!(family_names(&state), ["reds", "cool", "rust"]);
}
