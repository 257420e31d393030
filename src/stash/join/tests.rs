//! Two lives after a common beginning.

use std::collections::BTreeMap;

mod both_ways;
mod families;
mod named;

use self::named::named;
use super::*;
use crate::model::ids::CardId;
use crate::model::label::fold;
use crate::model::thread::Strands;
use crate::model::whereabouts::{LastSeen, Whereabouts};
use crate::stash::command::{board, leave, ring, thread};
use crate::stash::state::Kept;
use crate::stash::testing::life::{Choice, Life};
use crate::stash::testing::{at, home, id, place};

/// The lines of a life. Those up to `common` have sums of their own alone.
fn lines(common: &[Line], side: &str, events: &[Event]) -> Vec<Line> {
    let own = events.iter().zip(1_u64..).skip(common.len());
    let own = own.map(|(event, seq)| Line {
        seq,
        time: at(seq.try_into().unwrap()),
        by: Who::new(side).ok(),
        sum: format!("{side}{seq}"),
        event: event.clone(),
    });
    common.iter().cloned().chain(own).collect()
}

fn all(side: Side) -> Answers {
    Answers {
        all: Some(side),
        each: BTreeMap::new(),
    }
}

/// A record and the life it tells.
#[derive(Clone)]
struct Copy {
    life: Life,
    lines: Vec<Line>,
}

impl Copy {
    fn live(&mut self, side: &str, choices: Vec<Choice>) {
        for choice in choices {
            self.life.live(choice);
        }
        self.lines = lines(&self.lines, side, &self.life.events);
    }

    fn take(&mut self, side: &str, joined: &Joined) {
        if let Some(event) = joined.event.clone() {
            self.life.commit(event);
            self.lines = lines(&self.lines, side, &self.life.events);
        }
    }
}

/// A wall with three cards as both have it.
fn start() -> Copy {
    let mut life = Life::default();
    life.commit(
        board::new_board(
            &State::default(),
            &crate::stash::testing::board("wall", "", 2, 3, 1),
        )
        .unwrap(),
    );
    let rows = crate::stash::testing::rows(&["H:1@A01", "H:2@A02", "H:3@A03"]);
    let mut outcome = crate::stash::testing::read(&life.state, &rows);
    life.commit(outcome.event.take().unwrap());
    let lines = lines(&[], "c", &life.events);
    Copy { life, lines }
}

fn does(copy: &mut Copy, side: &str, event: Event) {
    copy.life.commit(event);
    copy.lines = lines(&copy.lines, side, &copy.life.events);
}

fn give(copy: &mut Copy, side: &str, card: &str, strands: u32) {
    let id = id(&copy.life.state, card);
    let before = copy.life.state.card(id).unwrap().strands;
    let change = crate::stash::change::Change::Thread {
        card: id,
        before,
        after: Strands(strands),
    };
    let event = Event {
        act: Act::ImportStock {
            added: 0,
            changed: 1,
        },
        changes: vec![change],
    };
    does(copy, side, event);
}

#[test]
fn uses_of_one_thread_on_both_sides_both_count() {
    let mut a = start();
    give(&mut a, "c", "1", 30);
    let mut b = a.clone();
    for (copy, side, used) in [(&mut a, "a", 4), (&mut b, "b", 7)] {
        let event = thread::use_thread(&copy.life.state, None, CardId(1), Strands(used)).unwrap();
        does(copy, side, event);
    }
    let joined = join(&a.lines, &b.lines, &Answers::default()).unwrap();
    assert_eq!(joined.conflicts, []);
    let mut both = a.clone();
    both.take("x", &joined);
    assert_eq!(
        both.life.state.card(CardId(1)).unwrap().strands,
        Strands(19)
    );
    // More used than there was is asked.
    let event = thread::use_thread(&a.life.state, None, CardId(1), Strands(26)).unwrap();
    does(&mut a, "a", event);
    let joined = join(&a.lines, &b.lines, &Answers::default()).unwrap();
    assert_eq!(joined.conflicts[0].about, "the thread on card 1");
    assert!(joined.event.is_none());
    // Both are told after the merge, by whom and when.
    let taken = &joined.taken[0];
    assert_eq!(
        (taken.seq, taken.by.as_ref().map(Who::as_str)),
        (4, Some("b"))
    );
    assert_eq!(taken.what, "Used 1 length 1 strand of card 1");
}

#[test]
fn a_card_on_two_rings_is_asked_with_both_sides_and_answered_one_way() {
    let (mut a, mut b) = (start(), start());
    let event = ring::take(&a.life.state, "Fox", &[CardId(1), CardId(2)], at(3)).unwrap();
    does(&mut a, "a", event);
    let event = ring::take(&b.life.state, "Owl", &[CardId(1), CardId(3)], at(9)).unwrap();
    does(&mut b, "b", event);
    let open = join(&a.lines, &b.lines, &Answers::default()).unwrap();
    let [conflict] = &open.conflicts[..] else {
        panic!("{open:?}")
    };
    assert_eq!(conflict.about, "where card 1 is");
    assert_eq!(conflict.mine.what, "on the ring 'Fox'");
    assert_eq!(conflict.theirs.what, "on the ring 'Owl'");
    assert!(open.event.is_none());
    for (answer, on) in [(Side::Mine, "Fox"), (Side::Theirs, "Owl")] {
        let each = Answers {
            all: None,
            each: BTreeMap::from([(1, answer)]),
        };
        let mut both = a.clone();
        both.take("x", &join(&a.lines, &b.lines, &each).unwrap());
        let state = &both.life.state;
        let ring = state.find_ring(on).unwrap().id;
        assert_eq!(place(state, "1"), Whereabouts::Ring { ring });
        // Two rings of the same number here are two rings.
        assert_eq!(state.rings().len(), 2);
        assert_eq!(
            place(state, "3").ring(),
            Some(state.find_ring("Owl").unwrap().id)
        );
        let Some(Event {
            act: Act::Join { settled, .. },
            ..
        }) = both.life.events.last()
        else {
            panic!()
        };
        assert_eq!((settled[0].answer, settled.len()), (answer, 1));
    }
}

#[test]
fn two_cards_on_one_place_are_asked_and_the_other_goes_to_the_tray() {
    let mut a = start();
    let mut b = a.clone();
    for (copy, side, card) in [(&mut a, "a", "H:4@B01"), (&mut b, "b", "H:5@B01")] {
        let rows = crate::stash::testing::rows(&[card]);
        let event = crate::stash::testing::read(&copy.life.state, &rows)
            .event
            .unwrap();
        does(copy, side, event);
    }
    let open = join(&a.lines, &b.lines, &Answers::default()).unwrap();
    assert_eq!(open.conflicts[0].about, "hook B01");
    assert_eq!(open.conflicts[0].mine.what, "4, with room for 1 card");
    let mut both = a.clone();
    both.take("x", &join(&a.lines, &b.lines, &all(Side::Theirs)).unwrap());
    let state = &both.life.state;
    assert_eq!(
        (home(state, "4"), home(state, "5").as_deref()),
        (None, Some("B01"))
    );
    assert_eq!(place(state, "4"), Whereabouts::Unhung);
}

#[test]
fn a_spare_card_wound_back_here_and_used_there_counts_both() {
    let mut a = start();
    give(&mut a, "c", "1", 30);
    let event = thread::decant(&a.life.state, "Fox", CardId(1), Strands(10), "", at(4)).unwrap();
    does(&mut a, "c", event);
    let mut b = a.clone();
    let fox = a.life.state.find_ring("Fox").unwrap();
    let event = thread::merge(&a.life.state, fox, CardId(1)).unwrap();
    does(&mut a, "a", event);
    let spare = b.life.state.spares().next().unwrap().card.id;
    let event = thread::use_thread(&b.life.state, None, spare, Strands(3)).unwrap();
    does(&mut b, "b", event);
    for (copy, other) in [(&a, &b), (&b, &a)] {
        let joined = join(&copy.lines, &other.lines, &Answers::default()).unwrap();
        assert_eq!(joined.conflicts, []);
        let mut both = copy.clone();
        both.take("x", &joined);
        assert_eq!(both.life.state.cards().len(), 3);
        assert_eq!(
            both.life.state.card(CardId(1)).unwrap().strands,
            Strands(27)
        );
    }
}

#[test]
fn two_stashes_are_not_joined() {
    let (a, mut b) = (start(), start());
    b.lines = lines(&[], "other", &b.life.events);
    let refused = join(&a.lines, &b.lines, &Answers::default()).unwrap_err();
    assert_eq!(refused, NotJoined::Strangers);
    let empty = join(&a.lines, &[], &Answers::default()).unwrap_err();
    assert_eq!(empty, NotJoined::Strangers);
}

#[test]
fn a_join_that_was_taken_back_can_be_made_again() {
    let mut a = start();
    let mut b = a.clone();
    let event = ring::take(&b.life.state, "Owl", &[CardId(1)], at(9)).unwrap();
    does(&mut b, "b", event);
    let before = a.life.state.clone();
    a.take("x", &join(&a.lines, &b.lines, &Answers::default()).unwrap());
    let after = a.life.state.clone();
    let undo = a.life.history.undo().unwrap();
    does(&mut a, "x", undo);
    assert_eq!(a.life.state, before);
    let again = join(&a.lines, &b.lines, &Answers::default()).unwrap();
    assert_eq!(again.taken.len(), 1);
    a.take("x", &again);
    assert_eq!(named(&a.life.state), named(&after));
}

#[test]
fn a_ring_opened_again_in_other_capitals_is_the_same_on_both_sides() {
    let mut a = start();
    let event = ring::open(&a.life.state, "Fox", at(3)).unwrap();
    does(&mut a, "c", event);
    let mut b = a.clone();
    let undo = b.life.history.undo().unwrap();
    does(&mut b, "b", undo);
    let event = ring::take(&b.life.state, "fox", &[CardId(1)], at(5)).unwrap();
    does(&mut b, "b", event);
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let mut both = mine.clone();
        both.take(
            "x",
            &join(&mine.lines, &theirs.lines, &Answers::default()).unwrap(),
        );
        assert_eq!(named(&both.life.state), named(&b.life.state));
        let again = join(&both.lines, &b.lines, &Answers::default()).unwrap();
        assert!(again.event.is_none());
    }
}

#[test]
fn a_ring_a_card_was_last_seen_on_stays() {
    let mut a = start();
    let event = ring::take(&a.life.state, "Fox", &[CardId(1)], at(3)).unwrap();
    does(&mut a, "c", event);
    let mut b = a.clone();
    let event = ring::missing(&a.life.state, &[CardId(1)], at(4)).unwrap();
    does(&mut a, "a", event);
    // There the taking was no more, and another ring has its number.
    let undo = b.life.history.undo().unwrap();
    does(&mut b, "b", undo);
    let event = ring::open(&b.life.state, "Owl", at(5)).unwrap();
    does(&mut b, "b", event);
    for (mine, theirs, answer) in [(&a, &b, Side::Mine), (&b, &a, Side::Theirs)] {
        let mut both = mine.clone();
        let joined = join(&mine.lines, &theirs.lines, &all(answer)).unwrap();
        both.take("x", &joined);
        let state = &both.life.state;
        let ring = state.find_ring("Fox").unwrap().id;
        let last_seen = LastSeen::Ring(ring);
        assert_eq!(place(state, "1"), Whereabouts::Missing { last_seen });
        assert!(state.find_ring("Owl").is_some());
    }
}

#[test]
fn a_card_with_the_number_of_one_whose_coming_was_taken_back_is_another() {
    let mut a = start();
    let mut b = a.clone();
    let event = ring::take(&a.life.state, "Fox", &[CardId(1)], at(3)).unwrap();
    does(&mut a, "a", event);
    let undo = b.life.history.undo().unwrap();
    does(&mut b, "b", undo);
    let rows = crate::stash::testing::rows(&["M:1"]);
    let event = crate::stash::testing::read(&b.life.state, &rows).event;
    does(&mut b, "b", event.unwrap());
    assert_eq!(b.life.state.card(CardId(1)).unwrap().home, None);
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let mut both = mine.clone();
        let joined = join(&mine.lines, &theirs.lines, &Answers::default()).unwrap();
        assert_eq!(joined.conflicts, []);
        both.take("x", &joined);
        let state = &both.life.state;
        let homes = state.cards().map(|kept| {
            let range = state.range_name(kept).to_owned();
            (range, kept.home.map(|hook| state.mark(hook)))
        });
        let homes: BTreeMap<String, Option<String>> = homes.collect();
        let here = |range: &str, home: Option<&str>| (range.to_owned(), home.map(str::to_owned));
        assert_eq!(
            homes,
            BTreeMap::from([here("H", Some("A01")), here("M", None)])
        );
    }
}

#[test]
fn a_card_given_away_here_and_used_there_stays_on_its_ring() {
    let mut a = start();
    let event = ring::take(&a.life.state, "Fox", &[CardId(1)], at(3)).unwrap();
    does(&mut a, "0", event);
    let mut b = a.clone();
    let event = leave::discard(&a.life.state, &[CardId(1)], "moths").unwrap();
    does(&mut a, "a", event);
    // Nobody there did anything with it: it is gone for both.
    let joined = join(&b.lines, &a.lines, &Answers::default()).unwrap();
    let mut both = b.clone();
    both.take("x", &joined);
    assert!(both.life.state.card(CardId(1)).is_none());
    let event = thread::use_thread(&b.life.state, None, CardId(1), Strands(3)).unwrap();
    does(&mut b, "b", event);
    for (mine, theirs) in [(&a, &b), (&b, &a)] {
        let mut both = mine.clone();
        let joined = join(&mine.lines, &theirs.lines, &Answers::default()).unwrap();
        assert_eq!(joined.conflicts, []);
        both.take("x", &joined);
        let fox = both.life.state.need_ring("Fox").unwrap();
        let on = both
            .life
            .state
            .cards_on(fox)
            .map(|kept| kept.card.number.to_string());
        assert_eq!(on.collect::<Vec<_>>(), ["1"]);
    }
}
