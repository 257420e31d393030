//! Compares a random wall with a random record.

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::*;
use strum::EnumCount;

use crate::model::board::ReadingOrder;
use crate::model::label::Label;
use crate::model::thread::Strands;
use crate::model::whereabouts::LastSeen;
use crate::stash::command::board::{Unhang, block, new_board};
use crate::stash::command::{ring, thread};
use crate::stash::event::inverse;
use crate::stash::testing::{Shown as _, add_cards, apply, at, board, id, place, wall};
use crate::text::places::run_name;

/// How many places a card can be drawn for other than the hooks of the two boards: all but the hand, which
/// only a re-hang needs.
const OTHER_PLACES: usize = Whereabouts::COUNT - 2;

/// Two boards of six and two hooks, and as many cards, all but the last with a home.
fn stash() -> State {
    let mut state = wall(2, 3, 2);
    let event = new_board(&state, &board("shelf", "2-", 1, 2, 1)).unwrap();
    apply(&mut state, &event);
    add_cards(
        &mut state,
        &[
            "1@A01", "2@A01", "3@A02", "4@A03", "5@B01", "6@B03", "7@2-A01", "8",
        ],
    );
    let all: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
    // Rings that the cards have been on, so that they may be there.
    let event = ring::take(&state, "Harbour", &all, at(1)).unwrap();
    apply(&mut state, &event);
    let harbour = state.find_ring("Harbour").unwrap();
    let event = ring::give_back_all(&state, harbour, at(2)).unwrap();
    apply(&mut state, &event);
    state
}

/// Puts cards where the numbers say, as could happen in the life of a stash.
fn scatter(state: &mut State, where_to: &[usize]) {
    let hooks: Vec<HookRef> = state.hooks().collect();
    let ring = state.find_ring("Harbour").unwrap().id;
    let ids: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
    let others: [Whereabouts; OTHER_PLACES] = [
        Whereabouts::Ring { ring },
        Whereabouts::Unhung,
        Whereabouts::Elsewhere {
            note: Label::new("lent").unwrap(),
            loan: None,
        },
        Whereabouts::Missing {
            last_seen: LastSeen::Loose,
        },
    ];
    let change = |(&card, &n): (&CardId, &usize)| {
        let at_place = match n.checked_sub(hooks.len()) {
            None => Whereabouts::Hook { hook: hooks[n] },
            Some(other) => others[other].clone(),
        };
        Change::Place {
            card,
            before: Some(state.card(card).unwrap().place.clone()),
            after: Some(Place {
                at: at_place,
                since: at(3),
            }),
        }
    };
    let event = Event {
        act: Act::OrderFamilies,
        changes: ids.iter().zip(where_to).map(change).collect(),
    };
    apply(state, &event);
}

fn places_of(state: &State) -> BTreeMap<CardId, Place> {
    let cards = state.cards();
    cards
        .map(|kept| (kept.card.id, kept.place.clone()))
        .collect()
}

/// The cards seen on a hook, in one sighting or two.
fn seen_on(hook: HookRef, cards: Vec<CardId>, in_two_parts: bool) -> [Sighting; 2] {
    let (some, rest) = cards.split_at(if in_two_parts { cards.len() / 2 } else { 0 });
    [some, rest].map(|part| Sighting {
        hook,
        cards: part.to_vec(),
    })
}

/// Checks that a second look finds this many cards, all in their places, and nothing else.
fn assert_a_second_look_finds(state: &mut State, sightings: &[Sighting], cards: u32) {
    let again = report(state, sightings).unwrap();
    assert_eq!(again.found.len(), usize::try_from(cards).unwrap());
    assert_eq!((again.misplaced.len(), again.missing.len()), (0, 0));
    let nothing = record(&again, at(10));
    assert_eq!(nothing.changes, []);
    let places = places_of(state);
    apply(state, &nothing);
    assert_eq!(places_of(state), places);
}

const CARDS: usize = 8;
const HOOKS: usize = 8;

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn the_record_becomes_what_was_seen_and_nothing_else_moves(
        recorded in prop::collection::vec(0..HOOKS + OTHER_PLACES, CARDS),
        // From HOOKS on, a card doesn't hang anywhere.
        truth in prop::collection::vec(0..HOOKS + 3, CARDS),
        walked in prop::collection::vec(any::<bool>(), HOOKS),
        in_two_parts in any::<bool>(),
    ) {
        let mut state = stash();
        scatter(&mut state, &recorded);
        let before = state.clone();
        let hooks: Vec<HookRef> = state.hooks().collect();
        let ids: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();

        let walked_past = hooks.iter().enumerate().filter(|&(at, _)| walked[at]);
        let mut sightings: Vec<Sighting> = walked_past
            .flat_map(|(at, &hook)| {
                let there = (0..CARDS).filter(|&card| truth[card] == at);
                seen_on(hook, there.map(|card| ids[card]).collect(), in_two_parts)
            })
            .collect();
        sightings.reverse();
        let report = report(&state, &sightings).unwrap();
        let event = record(&report, at(9));
        apply(&mut state, &event);

        // Card by card, by definition.
        let (mut found, mut misplaced, mut missing) = (0, 0, 0);
        for (card, &id) in ids.iter().enumerate() {
            let (old, new) = (before.card(id).unwrap(), state.card(id).unwrap());
            let seen = hooks.get(truth[card]).filter(|_| walked[truth[card]]);
            let should = hooks.get(recorded[card]).filter(|_| walked[recorded[card]]);
            let expected = match (seen, should) {
                (Some(&hook), _) if old.place.at.hook() == Some(hook) => {
                    found += 1;
                    old.place.clone()
                }
                (Some(&hook), _) => {
                    misplaced += 1;
                    Place { at: Whereabouts::Hook { hook }, since: at(9) }
                }
                (None, Some(&hook)) => {
                    missing += 1;
                    let last_seen = LastSeen::Hook(hook);
                    Place { at: Whereabouts::Missing { last_seen }, since: at(9) }
                }
                (None, None) => old.place.clone(),
            };
            let expected = CardState { place: expected, ..old.clone() };
            prop_assert_eq!(new, &expected);
        }
        prop_assert_eq!(&event.act, &Act::RollCall { found, misplaced, missing });
        assert_a_second_look_finds(&mut state, &sightings, found + misplaced);

        let undo = Event { act: Act::Undo { seq: 1 }, changes: inverse(&event.changes) };
        apply(&mut state, &undo);
        prop_assert_eq!(&state, &before);
    }
}

fn sighting(state: &State, hook_name: &str, cards: &[&str]) -> Sighting {
    Sighting {
        hook: state.find_hook(hook_name).unwrap(),
        cards: cards.iter().map(|name| id(state, name)).collect(),
    }
}

fn refused(state: &State, sightings: &[Sighting]) -> String {
    report(state, sightings).unwrap_err().shown()
}

#[test]
fn impossible_sightings_are_refused_with_a_reason() {
    let mut state = stash();
    let one = sighting(&state, "A01", &["1"]);
    let two = sighting(&state, "B02", &["1"]);
    assert_eq!(
        refused(&state, &[one.clone(), two]),
        "Card 1 was seen on hook A01 and on hook B02. It can hang on only one, so look again."
    );
    assert_eq!(report(&state, &[one.clone(), one]).unwrap().walked, 1);

    let event = block(&state, "B02", "lamp", Unhang::Refused, at(3)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        report(&state, &[sighting(&state, "B02", &[])])
            .unwrap()
            .walked,
        1
    );
    let on_blocked = sighting(&state, "B02", &["1"]);
    assert_eq!(
        refused(&state, &[on_blocked]),
        "Hook B02 is blocked (lamp)."
    );

    let amount = Strands(3);
    let event = thread::split(&state, "Harbour", id(&state, "1"), amount, None, "", at(3)).unwrap();
    apply(&mut state, &event);
    let split_card = state.cards().find(|kept| kept.card.parent.is_some());
    let split_card = Sighting {
        hook: state.find_hook("A01").unwrap(),
        cards: vec![split_card.unwrap().card.id],
    };
    assert!(refused(&state, &[split_card]).contains("belongs on a ring"));
    let gone = Sighting {
        hook: HookRef {
            row: 9,
            ..state.find_hook("A01").unwrap()
        },
        cards: Vec::new(),
    };
    assert!(refused(&state, &[gone]).starts_with("There is no hook"));
}

#[test]
fn a_card_that_returned_unnoticed_hangs_on_its_hook_again() {
    let mut state = stash();
    let event = ring::take(&state, "Harbour", &[id(&state, "3")], at(3)).unwrap();
    apply(&mut state, &event);
    let seen = report(&state, &[sighting(&state, "A02", &["3"])]).unwrap();
    assert!(matches!(
        seen.misplaced[0].recorded.at,
        Whereabouts::Ring { .. }
    ));
    assert_eq!(seen.strays(&state), []);
    apply(&mut state, &record(&seen, at(4)));
    let hook = state.find_hook("A02").unwrap();
    assert_eq!(place(&state, "3"), Whereabouts::Hook { hook });
    let harbour = state.find_ring("Harbour").unwrap();
    ring::close(&state, harbour, at(5)).unwrap();
}

#[test]
fn only_a_stray_card_at_hand_goes_home() {
    let mut state = stash();
    let seen = report(
        &state,
        &[
            sighting(&state, "B02", &["6", "4", "8"]),
            sighting(&state, "B03", &[]),
            sighting(&state, "A03", &[]),
        ],
    )
    .unwrap();
    apply(&mut state, &record(&seen, at(4)));
    // 8 has no hook.
    let [four, six, eight] = ["4", "6", "8"].map(|name| id(&state, name));
    assert_eq!(seen.strays(&state), [four, six]);
    for card in [four, six] {
        let event = hang_home(&state, card, at(5)).unwrap();
        assert_eq!(event.act, Act::HangHome { card });
        apply(&mut state, &event);
        let kept = state.card(card).unwrap();
        assert_eq!(kept.place.at.hook(), kept.home);
    }
    let refused = |card, what: &str| {
        let wrong = hang_home(&state, card, at(6)).unwrap_err().shown();
        assert!(wrong.contains(what), "{wrong}");
    };
    refused(eight, "has no home yet");
    refused(six, "Nothing is left to do");
    refused(CardId(99), "No card");
    let event = ring::missing(&state, &[six], at(7)).unwrap();
    apply(&mut state, &event);
    let wrong = hang_home(&state, six, at(8)).unwrap_err().shown();
    assert!(wrong.contains("Mark it as found"), "{wrong}");

    // A card known to hang there counts as found, but is still a stray.
    let event = ring::found(&state, six, at(9)).unwrap();
    apply(&mut state, &event);
    scatter(&mut state, &[1, 0]);
    let seen = report(&state, &[sighting(&state, "A02", &["1"])]).unwrap();
    assert_eq!(seen.found, [id(&state, "1")]);
    assert_eq!(seen.strays(&state), [id(&state, "1")]);
}

fn row(line: u64, hook: &str, number: &str) -> SeenRow {
    let (range, number) = number
        .split_once(':')
        .map_or((None, number), |(range, number)| (Some(range), number));
    SeenRow {
        line,
        hook: hook.to_owned(),
        number: Some(number.to_owned()).filter(|number| !number.is_empty()),
        range: range.map(str::to_owned),
    }
}

#[test]
fn a_list_reports_walked_hooks_and_unknown_numbers() {
    let mut state = wall(1, 4, 2);
    add_cards(
        &mut state,
        &["Cove:701@A01", "Sandbank:701@A02", "Cove:9@A03"],
    );
    let rows = [
        row(2, "a1", "701"),
        row(3, "A02", "Sandbank:701"),
        row(4, "A02", "77"),
        row(5, "A02", "Moor:9"),
        row(6, "A03", ""),
    ];
    let seen = sightings(&state, &rows, Vec::new(), []).unwrap();
    let unknown: Vec<_> = seen.unknown.iter().map(|u| (u.line, &*u.text)).collect();
    assert_eq!(unknown, [(4, "77"), (5, "Moor:9")]);
    let told = report(&state, &seen.sightings).unwrap();
    assert_eq!((told.walked, told.found.len()), (3, 2));
    assert_eq!(told.missing[0].card, id(&state, "9"));

    // Every hook was walked, and a number that could be either card isn't guessed elsewhere.
    let hooks: Vec<HookRef> = state.hooks().collect();
    let all = sightings(&state, &rows[1..2], Vec::new(), hooks).unwrap();
    let told = report(&state, &all.sightings).unwrap();
    assert_eq!((told.walked, told.missing.len()), (4, 2));
    let rows = [row(2, "A03", "701"), row(3, "Z1", "9"), row(4, "A01", "")];
    let wrong = sightings(&state, &rows, Vec::new(), []).unwrap_err();
    let Refusal::RowsRejected {
        rejected, every, ..
    } = &wrong
    else {
        panic!("{wrong:?}");
    };
    assert_eq!(*rejected, 2);
    assert!(crate::text::refusal::row_fault(&every[0].reason).contains("could be any of"));
    assert!(crate::text::refusal::row_fault(&every[1].reason).contains("there is no hook Z1"));
    assert_eq!(
        sightings(&State::default(), &rows, Vec::new(), []),
        Err(Refusal::NoBoard)
    );
}

#[test]
fn a_stop_lists_cards_that_hang_there_and_cards_that_are_out() {
    let mut state = stash();
    let event = ring::take(&state, "Harbour", &[id(&state, "2")], at(3)).unwrap();
    apply(&mut state, &event);
    let numbers = |cards: &[&CardState]| -> Vec<String> {
        let cards = cards.iter();
        cards.map(|kept| kept.card.number.to_string()).collect()
    };
    let here = stop(&state, state.find_hook("A01").unwrap());
    assert_eq!(
        (numbers(&here.hang), numbers(&here.out)),
        (vec!["1".to_owned()], vec!["2".to_owned()])
    );
    assert!(!here.is_free() && stop(&state, state.find_hook("B02").unwrap()).is_free());
}

#[test]
fn a_wall_is_walked_in_rows_or_columns_in_its_reading_order() {
    let state = stash();
    let [a1, a3, b1, shelf] = ["A01", "A03", "B01", "2-A01"].map(|m| state.find_hook(m).unwrap());
    assert!(same_run(&state, a1, a3) && !same_run(&state, a1, b1) && !same_run(&state, a1, shelf));
    let names: Vec<String> = state.boards().map(|b| run_name(b, b.hook(0, 1))).collect();
    assert_eq!(names, ["Row A", "Row 2-A"]);
    let mut state = State::default();
    let mut new = board("wall", "", 2, 3, 1);
    new.reading = ReadingOrder::Columns;
    let event = new_board(&state, &new).unwrap();
    apply(&mut state, &event);
    let [a1, a3, b1] = ["A01", "A03", "B01"].map(|m| state.find_hook(m).unwrap());
    assert!(!same_run(&state, a1, a3) && same_run(&state, a1, b1));
    assert_eq!(run_name(state.boards().next().unwrap(), a3), "Column 3");
}
