use super::*;
use crate::model::number::Number;
use crate::model::ring::KeyLine;
use crate::stash::command::ring;
use crate::stash::event::Act;
use crate::stash::kit::testing::{give_key, stash, take, use_up};
use crate::stash::state::State;
use crate::stash::testing::{Shown as _, add_cards, apply, at, id};
use crate::text;

fn state() -> State {
    let mut state = stash(&[("1", 48, 0), ("2", 48, 0)]);
    take(&mut state, "Fox", &["1"]);
    give_key(
        &mut state,
        "Fox",
        &[("1", 10), ("2", 0), ("1", 8), ("77", 5)],
    );
    state
}

fn used(state: &State) -> Vec<u64> {
    let ring = state.need_ring("Fox").unwrap();
    let needs = needs(state, ring).into_iter().flatten();
    needs.map(|of| of.in_cm(of.used)).collect()
}

fn say(state: &mut State, said: Progress<'_>) -> Option<Act> {
    let event = set(state, state.need_ring("fox").unwrap(), said).unwrap()?;
    apply(state, &event);
    Some(event.act)
}

fn refused(state: &State, said: Progress<'_>) -> String {
    set(state, state.need_ring("Fox").unwrap(), said)
        .unwrap_err()
        .shown()
}

fn percent(text: &str) -> Percent {
    text.parse().unwrap()
}

#[test]
fn an_amount_is_said_in_place_of_what_was_known() {
    let mut state = state();
    use_up(&mut state, "1", 3);
    let amount = |colour, strands| Progress::Used {
        colour,
        lengths: 0,
        strands,
    };
    let act = say(&mut state, amount("1", 14)).unwrap();
    assert_eq!(
        text::history::act(&state, &act),
        "Said how far the ring 'Fox' has come"
    );
    assert_eq!(used(&state), [1_000, 0, 400, 0]);
    assert_eq!(say(&mut state, amount("1", 14)), None);
    // Also of what is not counted, and of what is not owned.
    say(&mut state, amount("2", 6)).unwrap();
    say(&mut state, amount("77", 2)).unwrap();
    assert_eq!(used(&state), [1_000, 600, 400, 200]);
    // Thread on the cards is as it was.
    assert_eq!(state.card(id(&state, "1")).unwrap().strands(), Strands(45));
    say(&mut state, amount("1", 0)).unwrap();
    assert_eq!(used(&state), [0, 600, 0, 200]);
}

#[test]
fn a_part_is_said_of_a_colour_or_of_all_that_is_counted() {
    let mut state = state();
    let done = |colour, text| Progress::Done {
        colour,
        percent: percent(text),
    };
    say(&mut state, done(None, "50%")).unwrap();
    // Of 18 strands of one colour 9 are behind it: the first line has those it needs.
    assert_eq!(used(&state), [900, 0, 0, 200]);
    say(&mut state, done(Some("1"), "100")).unwrap();
    assert_eq!(used(&state), [1_000, 0, 800, 200]);
    say(&mut state, done(None, "0")).unwrap();
    assert_eq!(used(&state), [0; 4]);
    for wrong in ["101", "-1", "half", "", "1.5"] {
        assert!(wrong.parse::<Percent>().is_err(), "{wrong}");
    }
}

#[test]
fn what_cannot_be_said_is_refused() {
    let mut state = state();
    let done = |colour| Progress::Done {
        colour,
        percent: percent("10"),
    };
    assert!(refused(&state, done(Some("2"))).contains("does not count those stitches"));
    assert_eq!(
        refused(&state, done(Some(" 9 "))),
        "the key of the project 'Fox' has no 9; 'homehook ring key \"Fox\"' shows what it has"
    );
    add_cards(&mut state, &["Hill:5", "Moor:5"]);
    let mut ring = state.need_ring("Fox").unwrap().clone();
    let ranges = ["Hill", "Moor"].map(|name| state.find_range(name).unwrap().id);
    ring.key = ranges
        .map(|range| KeyLine::of(range, Number::new("5").unwrap()))
        .to_vec();
    let one = |colour| Progress::Used {
        colour,
        lengths: 0,
        strands: 1,
    };
    assert_eq!(
        set(&state, &ring, one("5")).unwrap_err().shown(),
        "'5' could be any of: Hill:5, Moor:5; name it in full"
    );
    assert!(set(&state, &ring, one("moor:5")).unwrap().is_some());
    take(&mut state, "Kite", &["2"]);
    let kite = state.need_ring("Kite").unwrap();
    assert_eq!(
        set(&state, kite, one("2")).unwrap_err().to_string(),
        "no_key"
    );
    let event = ring::give_back_all(&state, state.need_ring("Fox").unwrap(), at(3)).unwrap();
    apply(&mut state, &event);
    let event = ring::close(&state, state.need_ring("Fox").unwrap(), at(4)).unwrap();
    apply(&mut state, &event);
    let fox = state.need_ring("Fox").unwrap();
    assert_eq!(
        set(&state, fox, one("1")).unwrap_err().to_string(),
        "ring_closed"
    );
}
