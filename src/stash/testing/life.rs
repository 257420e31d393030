//! A life of a stash: whatever a person might do to it, in any order, checked at every step.

pub(crate) mod checks;
mod ledger;
mod lists;
mod projects;
mod rehang;
mod wall;

use proptest::prelude::*;

use self::checks::{assert_in_one_place, assert_thread_is_accounted_for};
use self::ledger::Ledger;
use super::{assert_sound, at};
use crate::model::ids::CardId;
use crate::stash::event::{Act, Amount, Change, Event, inverse};
use crate::stash::history::History;
use crate::stash::state::State;

/// What to do next, and numbers to choose from the stash at that moment with.
pub(crate) type Choice = (u8, [u16; 5]);

/// Choices from here on are about keys, fabric, purchases and looking at the wall.
const OF_PROJECTS: u8 = 100;

const RANGES: [Option<&str>; 3] = [Some("Hill"), Some("mill"), None];
/// Of the last nobody can see whether it is 310 with a tag.
const NUMBERS: [&str; 7] = ["1", "9", "10", "B5", "b5", "310", "310/k7"];
const TAGS: [&str; 4] = ["K7", "9b", "k7", "a/b"];
const HOOK_NAMES: [&str; 9] = [
    "A01", "A02", "A03", "B01", "B02", "2A01", "2A02", "2B01", "C09",
];
const FAMILIES: [&str; 3] = ["warm", "cool", "reds"];
const PROJECTS: [&str; 3] = ["Harbour", "Robin", "harbour"];
const LOTS: [&str; 4] = ["K7", "V1", "k7", ""];
const COLOURS: [&str; 3] = ["#C8102E", "#101214", "#5A2A4B"];

fn pick<T: Clone>(from: &[T], number: u16) -> T {
    from[usize::from(number) % from.len()].clone()
}

/// One of a list, or now and then nothing.
fn perhaps<T: Clone>(from: &[T], number: u16) -> Option<T> {
    (!number.is_multiple_of(3)).then(|| pick(from, number / 3))
}

/// The cards of which the bit is set.
fn some_cards(state: &State, bits: u16) -> Vec<CardId> {
    let ids = state.cards().map(|kept| kept.card.id);
    ids.zip(0..16)
        .filter(|(_, bit)| bits >> bit & 1 == 1)
        .map(|(id, _)| id)
        .collect()
}

/// Whether a change fits again and again: it is none, or adds to an amount.
fn fits_again(change: &Change) -> bool {
    change.clone().inverse() == *change
        || matches!(
            change,
            Change::Used {
                amount: Amount::Add { .. },
                ..
            } | Change::Thread {
                amount: Amount::Add { .. },
                ..
            }
        )
}

#[derive(Clone, Default)]
pub(crate) struct Life {
    pub(crate) state: State,
    ledger: Ledger,
    pub(crate) history: History,
    pub(crate) events: Vec<Event>,
}

impl Life {
    fn now(&self) -> jiff::Timestamp {
        at(self.events.len().try_into().unwrap())
    }

    pub(crate) fn commit(&mut self, event: Event) {
        let before = self.state.clone();
        let json = serde_json::to_string(&event).unwrap();
        assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), event);

        // With its last change made twice it fits only where that change is none, or adds to an amount.
        let mut twice = event.clone();
        twice.changes.extend(event.changes.last().cloned());
        let last = event.changes.last().cloned();
        if last.as_ref().is_some_and(|last| !fits_again(last)) {
            assert!(self.state.apply(&twice).is_err());
            assert_eq!(self.state, before);
            assert_sound(&self.state);
        }

        self.state.apply(&event).unwrap();
        assert_sound(&self.state);
        assert_in_one_place(&self.state);
        self.ledger.note(&before, &event, &self.state);
        assert_thread_is_accounted_for(&before, &event, &self.state);

        let after = self.state.clone();
        if after != before && !event.changes.iter().all(fits_again) {
            assert!(self.state.apply(&event).is_err());
            assert_eq!(self.state, after);
            assert_sound(&self.state);
        }
        let back = Event {
            act: Act::Undo { seq: 0 },
            changes: inverse(&event.changes),
        };
        self.state.apply(&back).unwrap();
        assert_eq!(self.state, before);
        assert_sound(&self.state);
        self.state.apply(&event).unwrap();
        assert_eq!(self.state, after);

        self.events.push(event);
        let seq = self.events.len().try_into().unwrap();
        self.history.note(seq, self.events.last().unwrap().clone());
    }

    pub(crate) fn live(&mut self, choice: Choice) {
        if choice.0 >= OF_PROJECTS {
            if let Ok(Some(event)) = self.project_command(choice) {
                self.commit(event);
            }
            return;
        }
        let (what, numbers) = choice;
        if what >= 28 {
            return self.rehang(numbers);
        }
        if let Ok(Some(event)) = self.command(what, numbers) {
            self.commit(event);
        }
    }
}

/// Anything that can happen to a stash.
pub(crate) fn a_choice() -> impl Strategy<Value = Choice> {
    let project = (OF_PROJECTS..OF_PROJECTS + 15, any::<[u16; 5]>());
    let any = (0..32u8, any::<[u16; 5]>());
    prop_oneof![5 => any, 2 => project]
}

/// A life of a stash, with so many choices after a board and some cards.
pub(crate) fn choices(most: usize) -> impl Strategy<Value = Vec<Choice>> {
    // A board and some cards first, or nothing much would come of the rest.
    let board = any::<[u16; 5]>().prop_map(|n| (16, n));
    let card_list = any::<[u16; 5]>().prop_map(|n| (0, n));
    (
        board,
        prop::collection::vec(card_list, 2),
        prop::collection::vec(a_choice(), 0..most),
    )
        .prop_map(|(board, card_list, rest)| {
            let mut choices = vec![board];
            choices.extend(card_list);
            choices.extend(rest);
            choices
        })
}

/// A ring with a key and every card on it, and then little but use, keys and second thoughts.
pub(crate) fn stitching() -> impl Strategy<Value = Vec<Choice>> {
    let any = any::<[u16; 5]>;
    let harbour = |[a, b, c, d, _]: [u16; 5]| [a, b, c, d, 0];
    let key = move || any().prop_map(move |n| (OF_PROJECTS, harbour(n)));
    let start = (
        any().prop_map(|n| (16, n)),
        prop::collection::vec(any().prop_map(|n| (0, n)), 3),
        key(),
    );
    let used = (OF_PROJECTS + 7..OF_PROJECTS + 10, any());
    let turned = any().prop_map(|n| (21, n));
    let rest = prop::collection::vec(prop_oneof![6 => used, 3 => turned, 2 => key()], 10..40);
    (start, rest).prop_map(|((board, card_list, key), rest)| {
        let take = (6, [u16::MAX, 0, 0, 0, 0]);
        [vec![board], card_list, vec![key, take], rest].concat()
    })
}

/// Cards with thread of several lots, and then little but thread that comes, goes and is wound from one
/// card to another on one ring.
pub(crate) fn rejoining() -> impl Strategy<Value = Vec<Choice>> {
    let any = any::<[u16; 5]>;
    let harbour = |[a, _, c, d, e]: [u16; 5]| [a, 0, c, d, e];
    let of_harbour = move |what: u8| any().prop_map(move |n| (OF_PROJECTS + what, harbour(n)));
    let start = (
        any().prop_map(|n| (16, n)),
        prop::collection::vec(any().prop_map(|n| (0, n)), 2),
    );
    // Lists that add, so that cards come to have several lots.
    let added = any().prop_map(|[a, b, c, d, e]| (0, [a, b, c, d & !3, e]));
    let rest = prop_oneof![
        3 => added,
        6 => of_harbour(4),
        4 => of_harbour(6),
        2 => of_harbour(7),
        1 => of_harbour(3),
        1 => of_harbour(13),
        1 => any().prop_map(move |n| (10, harbour(n))),
        2 => any().prop_map(|n| (21, n)),
    ];
    let rest = prop::collection::vec(rest, 10..40);
    (start, rest).prop_map(|((board, card_list), rest)| [vec![board], card_list, rest].concat())
}
