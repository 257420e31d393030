//! Rejoining split cards with the cards they were split from.

use std::collections::BTreeMap;

use super::leave::cease;
use crate::model::ids::CardId;
use crate::model::thread::{Strands, Thread, ThreadPart};
use crate::stash::event::Change;
use crate::stash::event::thread::added;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// The changes by which split cards cease to be and their thread is on the cards they were split
/// from, each lot with its own, and how many strands that are in all. O(cards · rings).
///
/// # Errors
/// When a card would have more thread than can be counted.
pub(super) fn rejoin(
    state: &State,
    split_cards: &[&CardState],
) -> Result<(Vec<Change>, Strands), Refusal> {
    let mut onto: BTreeMap<CardId, Thread> = BTreeMap::new();
    for split_card in split_cards {
        let Some(parent) = split_card.card.parent else {
            continue;
        };
        let sum = onto.entry(parent).or_default();
        for (lot, of) in split_card.thread.lots() {
            sum.list(lot.clone(), of.kept_at.clone());
            let Some(all) = sum.lot_mut(lot) else {
                continue;
            };
            for part in ThreadPart::ALL {
                let more = all.amount(part).checked_add(of.amount(part));
                *all.amount_mut(part) = more.ok_or_else(|| too_much(state, parent))?;
            }
        }
    }
    let mut changes = cease(state, split_cards);
    let mut all = Strands(0);
    for (parent, thread) in onto {
        let Some(whole) = state.card(parent) else {
            continue;
        };
        let more = added(parent, &whole.thread, &thread);
        changes.append(&mut more.ok_or_else(|| too_much(state, parent))?);
        all.0 = all.0.saturating_add(thread.strands().0);
    }
    Ok((changes, all))
}

fn too_much(state: &State, card: CardId) -> Refusal {
    let name = state.card(card).map(|kept| state.card_name(kept));
    Refusal::TooMuch(name.unwrap_or_default())
}
