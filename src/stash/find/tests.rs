use super::*;
use crate::stash::command::import::shades;
use crate::stash::intake::RangeRow;
use crate::stash::testing::{add_cards, apply, wall};
use proptest::prelude::*;

fn stash() -> State {
    let mut state = wall(1, 1, 1);
    add_cards(
        &mut state,
        &[
            "Hill:310 lamp black",
            "Hill:31 black cherry",
            "Hill:3105 river stone",
            "Mill:310 deep river",
            "Mill:B:5 moss-green",
        ],
    );
    let shade = |line, number: &str, name: &str| RangeRow {
        line,
        number: number.into(),
        name: name.into(),
        colour: None,
        family: None,
    };
    let list = [shade(2, "310", "lamp black"), shade(3, "B40", "lamp oil")];
    let event = shades(&state, &list, Vec::new(), "Hill").unwrap().event;
    apply(&mut state, &event.unwrap());
    state
}

fn found(text: &str) -> Vec<(String, Match)> {
    let state = stash();
    let name = |found: Found| state.card_name(state.card(found.card).unwrap());
    let found = state.find(text).into_iter();
    found.map(|found| (name(found), found.how)).collect()
}

fn is(found: &[(String, Match)], expected: &[(&str, Match)]) -> bool {
    let found = found.iter().map(|(name, how)| (name.as_str(), *how));
    found.eq(expected.iter().copied())
}

#[test]
fn the_number_itself_comes_before_numbers_that_begin_so() {
    let all = found(" 310 ");
    assert!(
        is(
            &all,
            &[
                ("Hill:310", Match::Number),
                ("Mill:310", Match::Number),
                ("3105", Match::NumberStart),
            ]
        ),
        "{all:?}"
    );
    assert_eq!(found("31")[0], ("31".to_owned(), Match::Number));
}

#[test]
fn a_range_and_a_number_name_one_card() {
    for (text, card) in [
        ("mill:310", "Mill:310"),
        ("MILL : 310", "Mill:310"),
        ("Mill:B:5", "B:5"),
        ("b:5", "B:5"),
    ] {
        let all = found(text);
        assert!(is(&all, &[(card, Match::Number)]), "{text}: {all:?}");
    }
}

#[test]
fn a_range_s_name_may_stand_before_the_number() {
    for text in ["Mill 310", "mill310", " MILL  310", "mill-310", "mill:3 10"] {
        let all = found(text);
        assert!(
            is(&all, &[("Mill:310", Match::RangeNumber)]),
            "{text}: {all:?}"
        );
    }
    let all = found("hill 31");
    assert!(
        is(
            &all,
            &[
                ("31", Match::RangeNumber),
                ("Hill:310", Match::NumberStart),
                ("3105", Match::NumberStart),
            ]
        ),
        "{all:?}"
    );
    assert!(found("hill 9").is_empty());
}

proptest! {
    /// However it is written, range and number are that card, before all others.
    #[test]
    fn range_and_number_in_one_find_that_card_first(
        names in prop::collection::btree_set("(Hill|Hills|Moor):[1-9][0-9]{0,2}", 1..12),
        between in prop::sample::select(vec!["", " ", "-", ":", "  "]),
        capitals: bool,
    ) {
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let mut state = wall(1, 1, 1);
        add_cards(&mut state, &names);
        for name in names {
            let (range, number) = name.split_once(':').unwrap();
            let mut text = format!("{range}{between}{number}");
            if capitals {
                text = text.to_uppercase();
            }
            let best = state.card(state.find(&text)[0].card).unwrap();
            prop_assert_eq!(
                (state.range_name(best), best.card.number.as_str()),
                (range, number)
            );
        }
    }
}

#[test]
fn words_are_found_by_how_they_begin_in_any_order() {
    let all = found("bl lam");
    assert!(is(&all, &[("Hill:310", Match::WordStart)]), "{all:?}");
    let all = found("Lamp  Black");
    assert!(is(&all, &[("Hill:310", Match::Name)]), "{all:?}");
    let all = found("green");
    assert!(is(&all, &[("B:5", Match::WordStart)]), "{all:?}");
    let all = found("tone");
    assert!(is(&all, &[("3105", Match::Inside)]), "{all:?}");
}

#[test]
fn a_typing_slip_is_forgiven_where_nothing_matches() {
    for (text, slips) in [("rievr", 1), ("cherrry", 1), ("chery", 1), ("cehry", 2)] {
        let all = found(text);
        if text == "cehry" {
            // Two slips in five letters are another word.
            assert!(all.is_empty(), "{all:?}");
        } else {
            assert!(!all.is_empty(), "{text}");
            assert!(
                all.iter().all(|(_, how)| *how == Match::Near(slips)),
                "{all:?}"
            );
        }
    }
}

proptest! {
    /// Words are passed over by their letters alone, so none may be that is near.
    #[test]
    fn letters_that_are_not_there_are_never_more_than_slips(
        asked in "[a-eé\u{3b1}]{0,6}", word in "[a-eé\u{3b1}]{0,8}",
    ) {
        let missing = (letters(&asked) & !letters(&word)).count_ones() as usize;
        prop_assert!(missing <= damerau_levenshtein(&asked, &word));
    }

    #[test]
    fn folding_in_place_is_folding(before in ".{0,4}", text in "[ a-zA-ZÄÖΣ\u{130}ß]{0,8}") {
        let mut folded = before;
        fold_into(&text, &mut folded);
        prop_assert_eq!(folded, fold(&text));
    }
}

#[test]
fn a_number_a_digit_off_is_no_match() {
    for text in ["311", "3015", "320", "", "  "] {
        assert!(found(text).is_empty(), "{text}");
    }
}

#[test]
fn a_shade_that_is_not_owned_is_told_apart() {
    let state = stash();
    let not_owned = |text| {
        let found = state.find_not_owned(text).into_iter();
        found
            .map(|n| (n.number.as_str().to_owned(), n.how))
            .collect::<Vec<_>>()
    };
    assert_eq!(not_owned("lamp"), [("B40".to_owned(), Match::WordStart)]);
    assert_eq!(not_owned("hill:b40"), [("B40".to_owned(), Match::Number)]);
    assert_eq!(not_owned("310"), []);
    assert_eq!(not_owned(""), []);
}

#[test]
fn a_tagged_card_is_found_by_its_name_and_after_the_card_without_a_tag() {
    let mut state = crate::stash::testing::wall(1, 1, 1);
    crate::stash::testing::add_cards(&mut state, &["Hill:310", "Hill:311"]);
    let mut row = crate::stash::testing::row("Hill:310");
    row.tag = Some("K7".into());
    let at = crate::stash::testing::at(1);
    let event = crate::stash::command::import::by_hand::new_card(&state, row, at).unwrap();
    crate::stash::testing::apply(&mut state, &event);
    let names = |text: &str| -> Vec<String> {
        let found = state.find(text).into_iter();
        let kept = found.filter_map(|found| state.card(found.card));
        kept.map(|kept| state.card_name(kept)).collect()
    };
    assert_eq!(names("310/k7"), ["310/K7"]);
    assert_eq!(names("310"), ["310", "310/K7"]);
}
