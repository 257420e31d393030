//! A stash lives through whatever a person might do to it, in any order.

use proptest::prelude::*;

use super::*;
use crate::model::whereabouts::LastSeen;
use crate::stash::change::Change;
use crate::stash::command::ring;
use crate::stash::event::{Act, Event};
use crate::stash::testing::life::checks::assert_promises_are_kept;
use crate::stash::testing::life::{Life, choices, stitching};
use crate::stash::testing::{apply, assert_sound, at, bring_in, wall};

proptest! {
    #[test]
    fn a_stash_keeps_its_laws_through_any_life(choices in choices(34)) {
        let mut life = Life::default();
        for choice in choices {
            life.live(choice);
        }
        let mut replayed = State::default();
        for event in &life.events {
            replayed.apply(event).unwrap();
        }
        prop_assert_eq!(&replayed, &life.state);
        prop_assert_eq!(replayed.index(), life.state.index());

        assert_promises_are_kept(&life.state);
        let end = life.state.clone();
        let mut undone = 0;
        while let Ok(event) = life.history.undo() {
            life.commit(event);
            undone += 1;
        }
        prop_assert_eq!(&life.state, &State::default());
        for _ in 0..undone {
            let event = life.history.redo().unwrap();
            life.commit(event);
        }
        prop_assert_eq!(life.state, end);
    }
}

proptest! {
    #[test]
    fn what_a_key_used_is_the_sum_of_what_was_used_for_it(choices in stitching()) {
        let mut life = Life::default();
        for choice in choices {
            life.live(choice);
        }
    }
}

#[test]
fn an_event_of_a_card_without_a_place_is_refused_and_leaves_nothing() {
    let mut state = wall(1, 1, 1);
    let before = state.clone();
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Thread {
            card: CardId(7),
            before: Strands(0),
            after: Strands(3),
        }],
    };
    let misfit = state.apply(&event).unwrap_err();
    assert_eq!(
        misfit.to_string(),
        "change 1 of the event does not fit: a card's place is not as the event says it was"
    );
    assert_eq!(state, before);
    assert_sound(&state);
}

#[test]
fn a_missing_card_remembers_where_it_was() {
    let mut state = wall(1, 1, 1);
    bring_in(&mut state, &["1@A01"]);
    let event = ring::missing(&state, &[CardId(1)], at(1)).unwrap();
    apply(&mut state, &event);
    let hook = state.find_mark("A01").unwrap();
    assert_eq!(
        state.card(CardId(1)).unwrap().place.at,
        Whereabouts::Missing {
            last_seen: LastSeen::Hook(hook)
        }
    );
}
