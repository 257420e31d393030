//! A random life of a stash: anything a user might do with it, in any order, checked at every step.

mod projects;
mod wall;

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::{assert_sound, at};
use crate::model::board::HookRef;
use crate::model::ids::{CardId, RingId};
use crate::model::range::ThreadKind;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{Lot, Strands, Thread, ThreadPart};
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, AmountChange, Change, Event, inverse};
use crate::stash::history::History;
use crate::stash::projects::kit::check;
use crate::stash::projects::supply::uncut_strands;
use crate::stash::state::{CardState, State};

/// What to do next, with random numbers to choose from the stash at that moment.
pub(crate) type Choice = (u8, [u16; 5]);

/// Choices from here on are about keys, fabric, purchases and roll calls.
const OF_PROJECTS: u8 = 100;

const RANGES: [Option<&str>; 3] = [Some("Cove"), Some("sandbank"), None];
/// The last one can't be told from 701 with a tag.
const NUMBERS: [&str; 7] = ["1", "9", "10", "B5", "b5", "701", "701/k7"];
const TAGS: [&str; 4] = ["K7", "9b", "k7", "a/b"];
const HOOK_NAMES: [&str; 9] = [
    "A01", "A02", "A03", "B01", "B02", "2A01", "2A02", "2B01", "C09",
];
const FAMILIES: [&str; 3] = ["warm", "cool", "reds"];
const PROJECTS: [&str; 3] = ["Harbour", "Robin", "harbour"];
const LOTS: [&str; 4] = ["K7", "V1", "k7", ""];
const COLOURS: [&str; 3] = ["#B4233C", "#101214", "#5A2A4B"];

fn pick<T: Clone>(from: &[T], number: u16) -> T {
    from[usize::from(number) % from.len()].clone()
}

/// An item of a list, or sometimes nothing.
fn perhaps<T: Clone>(from: &[T], number: u16) -> Option<T> {
    (!number.is_multiple_of(3)).then(|| pick(from, number / 3))
}

/// The cards whose bit is set.
fn some_cards(state: &State, bits: u16) -> Vec<CardId> {
    let ids = state.cards().map(|kept| kept.card.id);
    ids.zip(0..16)
        .filter(|(_, bit)| bits >> bit & 1 == 1)
        .map(|(id, _)| id)
        .collect()
}

/// Whether a change can be applied repeatedly: it changes nothing, or adds to an amount.
fn fits_again(change: &Change) -> bool {
    change.clone().inverse() == *change
        || matches!(
            change,
            Change::Used {
                amount: AmountChange::Add { .. },
                ..
            } | Change::Thread {
                amount: AmountChange::Add { .. },
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

        // If its last change is duplicated, it fits only if that change can be applied repeatedly.
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
    let project = (OF_PROJECTS..OF_PROJECTS + 16, any::<[u16; 5]>());
    let any = (0..32u8, any::<[u16; 5]>());
    prop_oneof![5 => any, 2 => project]
}

/// A life of a stash, with up to this many choices after a board and some cards.
pub(crate) fn choices(most: usize) -> impl Strategy<Value = Vec<Choice>> {
    // A board and some cards come first, or most choices would do nothing.
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

/// A ring with a key and every card on it, then mostly use, key edits and second thoughts.
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

/// Cards with thread of several lots, then mostly thread that comes, goes and is wound between
/// cards on one ring.
pub(crate) fn rejoining() -> impl Strategy<Value = Vec<Choice>> {
    let any = any::<[u16; 5]>;
    let harbour = |[a, _, c, d, e]: [u16; 5]| [a, 0, c, d, e];
    let of_harbour = move |what: u8| any().prop_map(move |n| (OF_PROJECTS + what, harbour(n)));
    let start = (
        any().prop_map(|n| (16, n)),
        prop::collection::vec(any().prop_map(|n| (0, n)), 2),
    );
    // Lists that add amounts, so that cards get several lots.
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

/// Checks that the state is consistent, whichever way it is queried.
fn assert_in_one_place(state: &State) {
    for kept in state.cards() {
        let id = kept.card.id;
        let hooks = state.hooks().filter(|&hook| {
            let hangs = state.hanging_on(hook).filter(|k| k.card.id == id).count();
            assert!(hangs <= 1);
            hangs == 1
        });
        let rings = state.rings().filter(|ring| {
            let on = state.cards_on(ring).filter(|k| k.card.id == id).count();
            assert!(on <= 1);
            on == 1
        });
        let (hooks, rings) = (hooks.count(), rings.count());
        let expected = match kept.place.at {
            Whereabouts::Hook { .. } => (1, 0),
            Whereabouts::Ring { .. } => (0, 1),
            _ => (0, 0),
        };
        assert_eq!((hooks, rings), expected, "{kept:?}");
        let name = state.card_name(kept);
        assert_eq!(state.find_card(&name), Ok(id), "{name}");
    }
    let mut homes: BTreeMap<HookRef, u8> = BTreeMap::new();
    for home in state.cards().filter_map(|kept| kept.home) {
        *homes.entry(home).or_default() += 1;
    }
    for (hook, count) in homes {
        assert!(count <= state.capacity(hook), "{hook}");
    }
    let in_hand = state
        .cards()
        .filter(|kept| kept.place.at == Whereabouts::Hand);
    assert!(in_hand.count() <= 1, "more than one card in the hand");
}

/// Amounts by lot and part.
type ByLot = BTreeMap<(Lot, ThreadPart), u64>;

/// What some cards have of each lot.
fn by_lot<'a>(cards: impl Iterator<Item = &'a CardState>) -> ByLot {
    let mut sums = ByLot::new();
    for (lot, of) in cards.flat_map(|kept| kept.thread.lots()) {
        for part in ThreadPart::ALL {
            *sums.entry((lot.clone(), part)).or_default() += u64::from(of.amount(part));
        }
    }
    sums.retain(|_, sum| *sum > 0);
    sums
}

/// The thread of every card.
fn threads(state: &State) -> BTreeMap<CardId, Thread> {
    let cards = state.cards();
    cards
        .map(|kept| (kept.card.id, kept.thread.clone()))
        .collect()
}

/// The thread of every card and its split cards, by lot and kind of thread.
fn by_family(state: &State) -> BTreeMap<(CardId, ThreadKind), ByLot> {
    let whole = state.cards().filter(|kept| kept.card.parent.is_none());
    whole
        .map(|kept| {
            let id = kept.card.id;
            let all = [kept].into_iter().chain(state.split_cards_of(id));
            ((id, state.put_up(&kept.card).kind()), by_lot(all))
        })
        .collect()
}

/// Single strand of each lot of each card, cut or not, in centimetres.
fn single_strand_cm(state: &State) -> BTreeMap<(CardId, Lot), u64> {
    let cards = state.cards().flat_map(|kept| {
        let put_up = state.put_up(&kept.card);
        let lots = kept.thread.lots();
        lots.map(move |(lot, of)| {
            let cut = u64::from(of.strands.0) * u64::from(kept.card.cut_cm);
            let skeins = u64::from(of.skeins) * u64::from(put_up.skein_cm());
            let uncut = (u64::from(of.part_cm) + skeins) * u64::from(put_up.in_length());
            ((kept.card.id, lot.clone()), cut + uncut)
        })
    });
    cards.collect()
}

/// The cards in both states whose thread differs.
fn changed(before: &State, after: &State) -> Vec<CardId> {
    let now = threads(after);
    let was = threads(before).into_iter();
    was.filter(|(card, was)| now.get(card).is_some_and(|now| now != was))
        .map(|(card, _)| card)
        .collect()
}

/// Checks that no card promises more than its thread, cut and uncut, whichever projects are
/// requested.
pub(crate) fn assert_promises_are_kept(state: &State) {
    let rings: Vec<_> = state.rings().filter(|ring| !ring.is_closed()).collect();
    for asked in 0..=rings.len() {
        let mut promised: BTreeMap<CardId, u64> = BTreeMap::new();
        for promise in check(state, &rings[..asked]).promises {
            *promised.entry(promise.card).or_default() += u64::from(promise.strands.0);
        }
        for (card, sum) in promised {
            let kept = state.card(card).unwrap();
            let there = u64::from(kept.strands().0) + u64::from(uncut_strands(state, kept).0);
            assert!(sum <= there, "{kept:?}: {sum}");
        }
    }
}

/// Checks that thread comes, goes and moves as the event says, and nowhere else.
fn assert_thread_is_accounted_for(before: &State, event: &Event, after: &State) {
    match event.act {
        Act::ImportCards { .. }
        | Act::NewCard { .. }
        | Act::ChangeCard { .. }
        | Act::Merge { .. }
        | Act::Undo { .. }
        | Act::Redo { .. } => {}
        Act::Bought { skeins, added } => assert_bought(before, after, skeins, added),
        Act::Return { rejoined: 1.., .. } | Act::Split { .. } | Act::Rejoin { .. } => {
            assert_eq!(by_family(after), by_family(before));
        }
        Act::Remove { cards, .. } => {
            assert_eq!(changed(before, after), []);
            assert_eq!(before.cards().len() - after.cards().len(), cards as usize);
        }
        // Cut thread is as long as the thread it was cut from, lot by lot.
        Act::Cut { .. } | Act::Take { .. } => {
            assert_eq!(single_strand_cm(after), single_strand_cm(before));
        }
        Act::Count { card } => assert_eq!(changed(before, after), [card]),
        Act::Use {
            card,
            strands,
            ref lots,
        } => {
            assert_eq!(changed(before, after), [card]);
            let (was, now) = (before.card(card).unwrap(), after.card(card).unwrap());
            let mut used = 0;
            let mut of = Vec::new();
            for (lot, had) in was.thread.lots() {
                let has = now.thread.lot(lot).unwrap();
                let less = had.strands.0 - has.strands.0;
                used += less;
                if less > 0 {
                    of.push(lot.clone());
                }
                assert_eq!((had.part_cm, had.skeins), (has.part_cm, has.skeins));
            }
            assert_eq!(used, strands.0);
            of.retain(|lot| !lot.is_unknown());
            let mut lots = lots.clone();
            lots.sort();
            assert_eq!(of, lots);
        }
        _ => assert_eq!(threads(after), threads(before)),
    }
}

/// Checks that existing cards get no cut thread, that a missing one loses its cut thread and is
/// replaced by a new one, and that one skein is cut onto each new card.
fn assert_bought(before: &State, after: &State, skeins: u32, added: u32) {
    let is_missing = |state: &State, card: CardId| {
        let kept = state.card(card).unwrap();
        kept.place.at.is_missing()
    };
    let mut cut = u64::from(added);
    for was in before.cards() {
        let card = was.card.id;
        let now = after.card(card).unwrap();
        if is_missing(before, card) && !is_missing(after, card) {
            cut += 1;
            let skein = before.put_up(&was.card).strands_in_skein(was.card.cut_cm);
            assert_eq!(now.strands(), Strands(skein));
        } else {
            assert_eq!(now.strands(), was.strands());
        }
        assert_eq!(now.thread.part_cm(), was.thread.part_cm());
        // No lot has fewer skeins than before.
        for (lot, of) in was.thread.lots() {
            assert!(now.thread.lot(lot).unwrap().skeins >= of.skeins);
        }
    }
    let all = |state: &State| state.cards().map(|k| u64::from(k.skeins())).sum::<u64>();
    assert_eq!(all(after) + cut, all(before) + u64::from(skeins));
}

/// Single strand in centimetres, by ring and colour; without 0.
type Sums = BTreeMap<(RingId, ColourRef), u64>;

/// Amounts of every listed lot: strands, part-used centimetres, skeins.
type Lots = BTreeMap<(CardId, Lot), [i128; 3]>;

/// The amounts used, added up use by use. Undo and redo turn its pages.
#[derive(Clone, Default)]
struct Ledger {
    sums: Sums,
    done: Vec<Sums>,
    undone: Vec<Sums>,
    lots: Lots,
}

/// The lots according to the cards.
fn lots(state: &State) -> Lots {
    let cards = state.cards().flat_map(|kept| {
        let lots = kept.thread.lots();
        lots.map(|(lot, of)| {
            let amounts = [of.strands.0, of.part_cm, of.skeins].map(i128::from);
            ((kept.card.id, lot.clone()), amounts)
        })
    });
    cards.collect()
}

/// Applies every change of a lot, one after the other, whatever its purpose.
fn write(lots: &mut Lots, event: &Event) {
    for change in &event.changes {
        match change {
            Change::Lot {
                card,
                lot,
                before,
                after,
            } => match (before, after) {
                (None, _) => assert_eq!(lots.insert((*card, lot.clone()), [0; 3]), None),
                (Some(_), Some(_)) => {}
                (Some(_), None) => {
                    assert_eq!(lots.remove(&(*card, lot.clone())), Some([0; 3]));
                }
            },
            Change::Thread {
                card,
                lot,
                part,
                amount,
            } => {
                let at = ThreadPart::ALL.iter().position(|of| of == part).unwrap();
                let there = &mut lots.get_mut(&(*card, lot.clone())).unwrap()[at];
                *there = match amount {
                    AmountChange::Set { after, .. } => i128::from(*after),
                    AmountChange::Add { by } => *there + i128::from(*by),
                };
            }
            _ => {}
        }
    }
}

/// The sums according to the rings.
fn sums(state: &State) -> Sums {
    let of = |ring: &Ring| {
        let id = ring.id;
        let used = ring.used.clone().into_iter();
        used.map(move |(colour, cm)| ((id, colour), cm))
    };
    state.rings().flat_map(of).collect()
}

impl Ledger {
    /// Records an event and compares.
    pub fn note(&mut self, before: &State, event: &Event, after: &State) {
        match event.act {
            Act::Undo { .. } => {
                let earlier = self.done.pop().unwrap();
                self.undone.push(std::mem::replace(&mut self.sums, earlier));
            }
            Act::Redo { .. } => {
                let later = self.undone.pop().unwrap();
                self.done.push(std::mem::replace(&mut self.sums, later));
            }
            ref act => {
                self.done.push(self.sums.clone());
                self.undone.clear();
                self.act(before, act, after);
            }
        }
        assert_eq!(self.sums, sums(after));
        write(&mut self.lots, event);
        assert_eq!(self.lots, lots(after));
    }

    fn act(&mut self, before: &State, act: &Act, after: &State) {
        match *act {
            Act::Use { card, strands, .. } => {
                let kept = before.card(card).unwrap();
                let Some(ring) = kept.place.at.ring() else {
                    return;
                };
                let colour = ColourRef::new(kept.card.range, kept.card.number.clone());
                let key = &before.ring(ring).unwrap().key;
                if key.iter().any(|line| line.is_stitched_in(&colour)) {
                    let used_cm = u64::from(strands.0) * u64::from(kept.card.cut_cm);
                    *self.sums.entry((ring, colour)).or_default() += used_cm;
                }
            }
            // Set by the user, so the book starts over.
            Act::Progress { .. } | Act::Merge { .. } => self.sums = sums(after),
            _ => {}
        }
    }
}
