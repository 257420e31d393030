//! Winding the thread of spare cards back onto the cards they were split from.

use std::collections::BTreeMap;

use super::leave::cease;
use crate::model::ids::CardId;
use crate::model::thread::Strands;
use crate::stash::change::Change;
use crate::stash::refusal::Refusal;
use crate::stash::state::{Kept, State};

/// The changes by which spare cards cease to be and their thread is on the cards they were split
/// from, and how much thread that is in all. O(cards · rings).
///
/// # Errors
/// When a card would have more thread than can be counted.
pub(super) fn wind_back(
    state: &State,
    spares: &[&Kept],
) -> Result<(Vec<Change>, Strands), Refusal> {
    let mut onto: BTreeMap<CardId, Strands> = BTreeMap::new();
    for spare in spares {
        if let Some(parent) = spare.card.parent {
            let sum = onto.entry(parent).or_default();
            sum.0 = sum.0.saturating_add(spare.strands.0);
        }
    }
    let mut changes = cease(state, spares);
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
