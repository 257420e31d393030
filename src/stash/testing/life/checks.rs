//! What holds after every event, whatever it was.

use std::collections::BTreeMap;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::thread::Strands;
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Event};
use crate::stash::kit::check::check;
use crate::stash::state::{Kept, State};

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

fn strands(state: &State) -> BTreeMap<CardId, Strands> {
    let cards = state.cards();
    cards.map(|kept| (kept.card.id, kept.strands)).collect()
}

/// All strands there are, those of uncut skeins too.
fn all_strands(state: &State) -> u64 {
    let of = |kept: &Kept| u64::from(kept.strands.0) + u64::from(kept.card.reserve) * 48;
    state.cards().map(of).sum()
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
            let there = u64::from(kept.strands.0) + u64::from(kept.card.reserve) * 48;
            assert!(sum <= there, "{kept:?}: {sum}");
        }
    }
}

/// Thread comes, goes and lies elsewhere as the event says, and nowhere else.
pub(super) fn assert_thread_is_accounted_for(before: &State, event: &Event, after: &State) {
    match event.act {
        Act::ImportStock { .. }
        | Act::NewCard { .. }
        | Act::ChangeCard { .. }
        | Act::Merge { .. }
        | Act::Undo { .. }
        | Act::Redo { .. } => {}
        Act::Bought { skeins, .. } => {
            // Nothing is added to a card that was there; a missing one is lost with its thread, and
            // has a new one in its place.
            let is_missing = |state: &State, card: CardId| {
                let kept = state.card(card).unwrap();
                matches!(kept.place.at, Whereabouts::Missing { .. })
            };
            let now = strands(after);
            let mut lost = 0;
            for (card, had) in strands(before) {
                if is_missing(before, card) && !is_missing(after, card) {
                    lost += u64::from(had.0);
                    assert_eq!(now[&card], Strands(48));
                } else {
                    assert_eq!(now[&card], had);
                }
            }
            let there = all_strands(before) + u64::from(skeins) * 48;
            assert_eq!(all_strands(after) + lost, there);
        }
        Act::Return { wound: 1.., .. } | Act::Decant { .. } | Act::Rejoin { .. } => {
            assert_eq!(all_strands(after), all_strands(before));
        }
        Act::Discard { cards, .. } => {
            let (mut had, has) = (strands(before), strands(after));
            had.retain(|card, strands| {
                let stays = has.get(card);
                assert!(stays.is_none_or(|now| now == strands));
                stays.is_some()
            });
            assert_eq!(had, has);
            assert_eq!(before.cards().len() - after.cards().len(), cards as usize);
        }
        Act::Use { strands: used, .. } => {
            let less = all_strands(before) - all_strands(after);
            assert_eq!(less, u64::from(used.0));
        }
        _ => {
            assert_eq!(strands(after), strands(before));
            assert_eq!(all_strands(after), all_strands(before));
        }
    }
}
