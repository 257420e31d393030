//! What holds after every event, whatever it was.

use std::collections::BTreeMap;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::range::ThreadKind;
use crate::model::thread::{Lot, Strands, Thread, ThreadPart};
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Event};
use crate::stash::projects::kit::check;
use crate::stash::projects::supply::uncut_strands;
use crate::stash::state::{CardState, State};

/// Whether the state is one that can be seen: it says the same however it is asked.
pub(super) fn assert_in_one_place(state: &State) {
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

/// The thread of every card with that of its split cards, lot by lot, by the kind of thread.
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

/// The cards whose thread is not what it was, as far as they were and are there.
fn changed(before: &State, after: &State) -> Vec<CardId> {
    let now = threads(after);
    let was = threads(before).into_iter();
    was.filter(|(card, was)| now.get(card).is_some_and(|now| now != was))
        .map(|(card, _)| card)
        .collect()
}

/// No card promises more than is on it and beside it, whichever projects are asked about.
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

/// Thread comes, goes and lies elsewhere as the event says, and nowhere else.
pub(super) fn assert_thread_is_accounted_for(before: &State, event: &Event, after: &State) {
    match event.act {
        Act::ImportCards { .. }
        | Act::NewCard { .. }
        | Act::ChangeCard { .. }
        | Act::Merge { .. }
        | Act::Undo { .. }
        | Act::Redo { .. } => {}
        Act::Bought { skeins, added } => {
            // Nothing is added to a card that was there; a missing one is lost with its cut thread, and
            // has a new one in its place. One skein is cut onto each card that is new.
            let is_missing = |state: &State, card: CardId| {
                let kept = state.card(card).unwrap();
                matches!(kept.place.at, Whereabouts::Missing { .. })
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
                // No lot has fewer skeins than it had.
                for (lot, of) in was.thread.lots() {
                    assert!(now.thread.lot(lot).unwrap().skeins >= of.skeins);
                }
            }
            let all = |state: &State| state.cards().map(|k| u64::from(k.skeins())).sum::<u64>();
            assert_eq!(all(after) + cut, all(before) + u64::from(skeins));
        }
        Act::Return { rejoined: 1.., .. } | Act::Split { .. } | Act::Rejoin { .. } => {
            assert_eq!(by_family(after), by_family(before));
        }
        Act::Remove { cards, .. } => {
            assert_eq!(changed(before, after), []);
            assert_eq!(before.cards().len() - after.cards().len(), cards as usize);
        }
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
