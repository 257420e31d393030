//! Where the colours that are not owned yet would hang.

use std::collections::HashMap;

use crate::engine::colour_families::family_of;
use crate::model::ids::{FamilyId, RangeId};
use crate::model::label::fold;
use crate::model::number::Number;
use crate::model::range::Shade;
use crate::stash::order::{Depth, FamilyRanks, Order};
use crate::stash::state::{CardState, State};

/// How many shades of the stash's ranges that no card bears would come before each card, and after
/// the last: one number more than there are cards. `cards` are in that order.
///
/// A shade is of the family that its range says, else of the everyday family of its colour where the
/// stash has one of that name, else it comes last, like a card without a family. Where the order is
/// by lightness, its colour puts it among the cards of its family.
/// O((cards + shades) · log cards), and the look-up of an everyday family for each shade with a
/// colour and no family.
#[must_use]
pub fn unowned(state: &State, order: &Order, cards: &[&CardState]) -> Vec<f64> {
    let ranks = FamilyRanks::new(state, order);
    let card_rank = |kept: &CardState| match ranks.matter() {
        true => ranks.of(state.family_of(kept)),
        false => 0,
    };
    let keys: Vec<(usize, Depth, RangeId, &Number)> = cards
        .iter()
        .map(|kept| {
            let card = &kept.card;
            let depth = order.depth(card.colour);
            (card_rank(kept), depth, card.range, &card.number)
        })
        .collect();
    let named: HashMap<String, FamilyId> = state
        .families()
        .iter()
        .map(|family| (fold(family.name.as_str()), family.id))
        .collect();
    let everyday = |shade: &Shade| named.get(family_of(shade.colour?).name()).copied();
    let mut before = vec![0.0; cards.len() + 1];
    for range in state.ranges() {
        for (number, shade) in &range.shades {
            let bearing = state.index().numbered(&number.key());
            if bearing.iter().any(|(of, _)| *of == range.id) {
                continue;
            }
            let rank = if ranks.matter() {
                ranks.of(shade.family.or_else(|| everyday(shade)))
            } else {
                0
            };
            let key = (rank, order.depth(shade.colour), range.id, number);
            before[keys.partition_point(|card| *card < key)] += 1.0;
        }
    }
    before
}

#[cfg(test)]
mod tests;
