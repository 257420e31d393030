use crate::stash::testing::Said as _;
use proptest::prelude::*;

use super::*;
use crate::model::thread::Strands;
use crate::stash::command::import::{self, Terms};
use crate::stash::command::{ring, thread};
use crate::stash::event::Event;
use crate::stash::intake::CardRow;
use crate::stash::testing::{add_cards, apply, at, id, wall};

fn stash() -> State {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["Hill:310@A01", "Hill:9@A02", "Mill:9@A03"]);
    state
}

fn split(state: &mut State, project: &str, card: &str) -> CardId {
    let known: Vec<CardId> = state.split_cards().map(|kept| kept.card.id).collect();
    let card = id(state, card);
    let event = thread::split(state, project, card, Strands(6), None, "", at(1)).unwrap();
    apply(state, &event);
    let mut new = state.split_cards().map(|kept| kept.card.id);
    new.find(|id| !known.contains(id)).unwrap()
}

fn name(state: &State, card: CardId) -> String {
    state.card_name(state.card(card).unwrap())
}

/// The event that brings in cards of any range and number.
fn imported<'a>(
    state: &State,
    rows: impl IntoIterator<Item = (&'a str, &'a str)>,
) -> Option<Event> {
    let rows = rows
        .into_iter()
        .zip(2..)
        .map(|((range, number), line)| CardRow {
            line,
            range: Some(range.to_owned()),
            number: number.to_owned(),
            ..CardRow::default()
        });
    let rows: Vec<CardRow> = rows.collect();
    let taken = import::card_list(state, &rows, Vec::new(), &Terms::default(), at(0));
    taken.ok()?.event
}

fn lose(state: &mut State, card: CardId) {
    let event = ring::missing(state, &[card], at(2)).unwrap();
    apply(state, &event);
}

#[test]
fn a_split_card_is_called_after_the_ring_it_is_on() {
    let mut state = stash();
    let one = split(&mut state, "Harbour at Dusk", "310");
    let two = split(&mut state, "Robin", "Mill:9");
    assert_eq!(name(&state, one), "310@Harbour at Dusk");
    assert_eq!(name(&state, two), "Mill:9@Robin");
    for (text, card) in [
        ("310@harbour at dusk", one),
        (" 310 @ Harbour at Dusk", one),
        ("hill:310@HARBOUR AT DUSK", one),
        ("mill:9@robin", two),
        ("9@robin", two),
    ] {
        assert_eq!(state.find_card(text), Ok(card), "{text}");
    }
    assert_ne!(id(&state, "310"), one);
}

#[test]
fn a_split_card_keeps_its_name_when_it_is_lost_and_takes_the_name_of_another_ring() {
    let mut state = stash();
    let split_card = split(&mut state, "Harbour", "310");
    lose(&mut state, split_card);
    assert_eq!(name(&state, split_card), "310@Harbour");
    let event = ring::found(&state, id(&state, "310@harbour"), at(3)).unwrap();
    apply(&mut state, &event);
    assert_eq!(name(&state, split_card), "310@Harbour");
    let event = ring::take(&state, "Robin", &[split_card], at(4)).unwrap();
    apply(&mut state, &event);
    assert_eq!(name(&state, split_card), "310@Robin");
    // What still stands on its label is understood.
    assert_eq!(state.find_card("310@Harbour"), Ok(split_card));
}

#[test]
fn two_split_cards_of_one_project_are_told_apart() {
    let mut state = stash();
    let first = split(&mut state, "Harbour", "310");
    lose(&mut state, first);
    let second = split(&mut state, "Harbour", "310");
    assert_eq!(name(&state, first), "310@Harbour");
    let long = format!("310@Harbour#{}", second.0);
    assert_eq!(name(&state, second), long);
    assert_eq!(state.find_card(&long.to_uppercase()), Ok(second));
    assert_eq!(state.find_card("310@harbour"), Ok(first));
    // Both are understood by the long form, also when the short one has become free.
    assert_eq!(state.find_card(&format!("310@#{}", first.0)), Ok(first));
    let event = ring::found(&state, first, at(3)).unwrap();
    apply(&mut state, &event);
    let event = thread::merge(&state, state.need_ring("Harbour").unwrap(), first).unwrap();
    apply(&mut state, &event);
    assert_eq!(name(&state, second), "310@Harbour");
    assert_eq!(state.find_card(&long), Ok(second));
}

#[test]
fn a_split_card_of_no_known_ring_has_a_name_too() {
    let mut state = stash();
    let split_card = split(&mut state, "Harbour", "310");
    lose(&mut state, split_card);
    // A ring that closed over a missing split card and was opened again knows nothing of it.
    let close = ring::close(&state, state.need_ring("Harbour").unwrap(), at(3)).unwrap();
    apply(&mut state, &close);
    let again = ring::take(&state, "Harbour", &[id(&state, "Hill:9")], at(4)).unwrap();
    apply(&mut state, &again);
    assert_eq!(name(&state, split_card), "310@Harbour");
    let event = ring::found(&state, split_card, at(5)).unwrap();
    apply(&mut state, &event);
    assert_eq!(name(&state, split_card), format!("310@#{}", split_card.0));
    assert_eq!(state.find_card(&name(&state, split_card)), Ok(split_card));
}

#[test]
fn an_unknown_split_card_comes_with_those_there_are() {
    let mut state = stash();
    let said = |state: &State, name: &str| state.find_card(name).unwrap_err().said();
    assert_eq!(
        said(&state, "310@Robin"),
        "No card '310@Robin' in the stash. Card 310 has no split card."
    );
    split(&mut state, "Robin", "310");
    split(&mut state, "Kite", "310");
    assert_eq!(
        said(&state, "310@heron"),
        "No card '310@heron' in the stash. The split cards of 310 are: 310@Robin, 310@Kite."
    );
    split(&mut state, "Robin", "Hill:9");
    split(&mut state, "Robin", "Mill:9");
    assert_eq!(
        said(&state, "9@Robin"),
        "'9@Robin' could be any of: Hill:9@Robin, Mill:9@Robin. Name it in full."
    );
}

#[test]
fn a_search_lists_split_cards_after_the_card_itself() {
    let mut state = stash();
    let split_card = split(&mut state, "Robin", "310");
    let found = |text: &str| {
        let found = state.find(text).into_iter();
        found.map(|found| found.card).collect::<Vec<_>>()
    };
    assert_eq!(found("310"), [id(&state, "310"), split_card]);
    assert_eq!(found("310@robin"), [split_card]);
}

#[test]
fn a_number_with_a_colon_is_no_other_card_named_in_full() {
    let mut state = wall(1, 1, 1);
    let rows = [
        ("Hill", "1"),
        ("Mill", "1"),
        ("Mill", "Hill:1"),
        ("Hill", "1@Fox"),
    ];
    let event = imported(&state, rows).unwrap();
    apply(&mut state, &event);
    let split_card = split(&mut state, "Fox", "Hill:1");
    let names: Vec<String> = state.cards().map(|kept| state.card_name(kept)).collect();
    let long = format!("Hill:1@Fox#{}", split_card.0);
    assert_eq!(names, ["Hill:1", "Mill:1", "Mill:Hill:1", "1@Fox", &long]);
    for (kept, name) in state.cards().zip(&names) {
        assert_eq!(state.find_card(name), Ok(kept.card.id), "{name}");
    }
}

proptest! {
    /// Whatever projects, ranges and numbers are called, each card is found by its name, and by no
    /// name two.
    #[test]
    fn every_name_means_one_card(
        rows in prop::collection::vec(
            ("(a|b|1|@|#| |1@a){1,2}", "(a|b|1|@|#|:| |@a|#5|a:1){1,3}"),
            1..6,
        ),
        projects in prop::collection::vec("(a|b|1|@|#|#5|#6|:| ){1,3}", 1..4),
        steps in prop::collection::vec((any::<u8>(), any::<u8>(), 0_u8..5), 0..16),
    ) {
        let mut state = wall(1, 1, 1);
        let rows = rows.iter().map(|(range, number)| (range.as_str(), number.as_str()));
        let Some(event) = imported(&state, rows) else {
            return Ok(());
        };
        apply(&mut state, &event);
        for (n, p, what) in steps {
            let pick = |of: Vec<CardId>| (!of.is_empty()).then(|| of[usize::from(n) % of.len()]);
            let project = &projects[usize::from(p) % projects.len()];
            let split_cards = pick(state.split_cards().map(|kept| kept.card.id).collect());
            let wholes = state.cards().filter(|kept| kept.card.parent.is_none());
            let whole = pick(wholes.map(|kept| kept.card.id).collect()).unwrap();
            let event = match (what, split_cards) {
                (0, Some(split_card)) => ring::missing(&state, &[split_card], at(2)),
                (1, Some(split_card)) => ring::found(&state, split_card, at(3)),
                (2, Some(split_card)) => ring::take(&state, project, &[split_card], at(4)),
                _ => thread::split(&state, project, whole, Strands(1), None, "", at(1)),
            };
            if let Ok(event) = event {
                apply(&mut state, &event);
            }
        }
        let mut seen = std::collections::BTreeSet::new();
        for kept in state.cards() {
            let name = state.card_name(kept);
            prop_assert!(seen.insert(fold(&name)), "{} twice", name);
            prop_assert_eq!(state.find_card(&name), Ok(kept.card.id), "{}", name);
            if kept.card.parent.is_none() {
                let full = format!("{}:{}", state.range_name(kept), kept.card.number);
                prop_assert_eq!(state.find_card(&full), Ok(kept.card.id), "{}", full);
            }
        }
    }
}
