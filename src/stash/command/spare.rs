//! Winding the thread of spare cards back onto the cards they were split from.

use std::collections::BTreeMap;

use crate::model::ids::CardId;
use crate::model::thread::Strands;
use crate::stash::change::{Change, ring_changes};
use crate::stash::refusal::Refusal;
use crate::stash::state::{Kept, State};

/// The changes by which spare cards cease to be and their thread is on the cards they were split
/// from, and how much thread that is in all. O(cards + rings).
///
/// # Errors
/// When a card would have more thread than can be counted.
pub(super) fn wind_back(
    state: &State,
    spares: &[&Kept],
) -> Result<(Vec<Change>, Strands), Refusal> {
    let mut onto: BTreeMap<CardId, Strands> = BTreeMap::new();
    let mut gone = Vec::with_capacity(spares.len() * 4);
    for spare in spares {
        let card = spare.card.id;
        if let Some(parent) = spare.card.parent {
            let sum = onto.entry(parent).or_default();
            sum.0 = sum.0.saturating_add(spare.strands.0);
        }
        gone.push(Change::Place {
            card,
            before: Some(spare.place.clone()),
            after: None,
        });
        if spare.home.is_some() {
            gone.push(Change::Home {
                card,
                before: spare.home,
                after: None,
            });
        }
        gone.push(Change::Thread {
            card,
            before: spare.strands,
            after: Strands(0),
        });
        gone.push(Change::Card {
            before: Some(spare.card.clone()),
            after: None,
        });
    }
    // Its id may be given to a new card, of which no ring must have heard.
    let is_gone = |id: &CardId| spares.iter().any(|spare| spare.card.id == *id);
    let mut changes: Vec<Change> = state
        .rings()
        .filter(|ring| ring.went_out.iter().any(is_gone))
        .flat_map(|ring| {
            let mut after = ring.clone();
            after.went_out.retain(|id| !is_gone(id));
            ring_changes(Some(ring), &after)
        })
        .collect();
    changes.append(&mut gone);
    let mut all = Strands(0);
    for (parent, strands) in onto {
        let Some(whole) = state.card(parent) else {
            continue;
        };
        let sum = whole.strands.0.checked_add(strands.0);
        let sum = sum.ok_or_else(|| Refusal::TooMuch(state.card_name(whole)))?;
        changes.push(Change::Thread {
            card: parent,
            before: whole.strands,
            after: Strands(sum),
        });
        all.0 = all.0.saturating_add(strands.0);
    }
    Ok((changes, all))
}
