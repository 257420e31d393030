use super::*;
use crate::model::thread::Strands;
use crate::stash::command::ring::{found, take};
use crate::stash::command::thread::split;
use crate::stash::command::{rehang, ring};
use crate::stash::event::inverse;
use crate::stash::testing::{Shown as _, add_cards, apply, at, id, wall};
use crate::text;

/// Cards 1 and 2 at home on A01 and A02, 3 to hang, and two free hooks.
fn stash() -> State {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["1@A01", "2@A02", "3"]);
    state
}

fn ids(state: &State, names: &[&str]) -> Vec<CardId> {
    names.iter().map(|name| id(state, name)).collect()
}

fn words(outcome: Result<Event, Refusal>) -> String {
    outcome.unwrap_err().shown()
}

fn where_is(state: &State, name: &str) -> String {
    text::places::place_of(state, state.card(id(state, name)).unwrap())
}

/// Does it, and takes it back and does it again on a copy: nothing differs.
fn done(state: &mut State, event: &Event) {
    let before = state.clone();
    apply(state, event);
    let mut back = state.clone();
    let undone = Event {
        act: Act::Undo { seq: 1 },
        changes: inverse(&event.changes),
    };
    apply(&mut back, &undone);
    assert_eq!(back, before);
}

#[test]
fn a_card_that_is_lent_keeps_its_home_and_comes_back_to_it() {
    let mut state = stash();
    let event = elsewhere(
        &state,
        &ids(&state, &["2", "3", "2"]),
        " with Bea ",
        None,
        at(1),
    )
    .unwrap();
    done(&mut state, &event);
    assert_eq!(
        text::history::act(&state, &event.act),
        "Put 2 cards elsewhere: with Bea"
    );
    assert_eq!(where_is(&state, "2"), "elsewhere: with Bea");
    let kept = state.card(id(&state, "2")).unwrap();
    assert_eq!(kept.home, state.find_hook("A02").ok());
    assert_eq!(kept.place.since, at(1));
    // It is not there to be taken.
    assert!(take(&state, "Robin", &ids(&state, &["2"]), at(2)).is_err());
    let event = found(&state, id(&state, "2"), at(3)).unwrap();
    done(&mut state, &event);
    assert_eq!(where_is(&state, "2"), "at home on hook A02");
}

#[test]
fn where_else_has_to_be_said_and_only_once() {
    let mut state = stash();
    let two = ids(&state, &["2"]);
    assert_eq!(
        words(elsewhere(&state, &two, "  ", None, at(1))),
        "say where it is, in a word or two: 'with a friend', 'drawer in the hall'"
    );
    assert_eq!(
        words(elsewhere(&state, &[], "Bea", None, at(1))),
        "name at least one card"
    );
    let event = elsewhere(&state, &two, "Bea", None, at(1)).unwrap();
    done(&mut state, &event);
    assert_eq!(
        words(elsewhere(&state, &two, "Bea", None, at(2))),
        "card 2 is elsewhere: Bea; nothing is left to do"
    );
    // Lent on to somebody else.
    let event = elsewhere(&state, &two, "Cleo", None, at(2)).unwrap();
    done(&mut state, &event);
    assert_eq!(where_is(&state, "2"), "elsewhere: Cleo");
}

#[test]
fn a_card_that_is_given_away_is_gone_with_its_thread_and_no_ring_remembers_it() {
    let mut state = stash();
    let event = take(&state, "Robin", &ids(&state, &["1", "3"]), at(1)).unwrap();
    apply(&mut state, &event);
    let event = remove(&state, &ids(&state, &["1"]), "to the school").unwrap();
    assert_eq!(
        text::history::act(&state, &event.act),
        "Took 1 card out of the stash: to the school"
    );
    done(&mut state, &event);
    assert!(state.find_card("1").is_err());
    let hook = state.find_hook("A01").unwrap();
    assert_eq!(state.index().homes_on(hook).len(), 0);
    let robin = state.need_ring("Robin").unwrap();
    assert_eq!(robin.went_out, ids(&state, &["3"]));
    // The ring can be put away and closed without it.
    let event = ring::give_back_all(&state, robin, at(2)).unwrap();
    apply(&mut state, &event);
    let event = ring::close(&state, state.need_ring("Robin").unwrap(), at(2)).unwrap();
    apply(&mut state, &event);
    // The number is free again.
    add_cards(&mut state, &["1@A03"]);
    assert_eq!(where_is(&state, "1"), "at home on hook A03");
}

#[test]
fn thread_on_a_split_card_does_not_stay_behind_alone() {
    let mut state = stash();
    let event = split(
        &state,
        "Robin",
        id(&state, "1"),
        Strands(4),
        None,
        "",
        at(1),
    )
    .unwrap();
    apply(&mut state, &event);
    assert_eq!(
        words(remove(&state, &ids(&state, &["1"]), "")),
        "thread of card 1 is on the split card 1@Robin (on the ring 'Robin'); name that too, or rejoin it first"
    );
    for names in [&["1", "1@Robin"][..], &["1@Robin", "1"], &["1@Robin"]] {
        let mut state = state.clone();
        let event = remove(&state, &ids(&state, names), "").unwrap();
        done(&mut state, &event);
        assert_eq!(state.split_cards().count(), 0);
        assert_eq!(state.cards().count(), 4 - names.len());
    }
}

#[test]
fn a_rehang_underway_goes_on_without_the_card_and_ends_with_the_last() {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["2@A01", "1@A02", "3"]);
    let plans = rehang::plans(&state).unwrap();
    let events = rehang::begin(&state, &plans[0], at(1)).unwrap();
    apply(&mut state, &events);
    let aims: Vec<CardId> = (state.underway().unwrap().homes.iter())
        .map(|(card, _)| *card)
        .collect();
    assert!(aims.len() > 1, "{aims:?}");
    for (at, &card) in aims.iter().enumerate() {
        let event = remove(&state, &[card], "").unwrap();
        done(&mut state, &event);
        let left = state.underway().map_or(0, |underway| underway.homes.len());
        assert_eq!(left, aims.len() - at - 1);
    }
    assert!(state.underway().is_none());
}

#[test]
fn a_loan_says_to_whom_and_until_when() {
    use crate::model::label::Name;
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01"]);
    let card = [id(&state, "1")];
    let whom = Name::new("Bea").unwrap();
    for (note, until, words) in [
        ("", None, "lent to Bea"),
        (
            "",
            Some(jiff::civil::date(2026, 11, 1)),
            "lent to Bea until 2026-11-01",
        ),
        ("by post", None, "lent to Bea: by post"),
    ] {
        let whom = whom.clone();
        let event = elsewhere(&state, &card, note, Some(Loan { whom, until }), at(1)).unwrap();
        apply(&mut state, &event);
        let kept = state.card(card[0]).unwrap();
        assert_eq!(text::places::place_of(&state, kept), words);
        assert_eq!(
            text::history::act(&state, &event.act),
            format!("Put 1 card elsewhere: {words}")
        );
    }
    let back = ring::found(&state, card[0], at(2)).unwrap();
    apply(&mut state, &back);
    assert!(state.card(card[0]).unwrap().is_home());
}
