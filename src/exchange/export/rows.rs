//! A stash as rows of a card list.

use crate::model::thread::{Lot, LotThread};
use crate::stash::intake::{Amount, CardRow};
use crate::stash::state::{CardState, State};

/// The stash as a card list, in wanted order, each card's home as its hook. A card has a row for each of
/// its lots, and one where it has none; a lot that nobody noted has none beside others where nothing is
/// left of it. A split card has rows of its own, behind all that have homes or may get one, and says which it is. O(cards · log cards).
#[must_use]
pub fn card_rows(state: &State) -> Vec<CardRow> {
    let words = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    let (whole, split_cards): (Vec<&CardState>, Vec<&CardState>) =
        (state.cards()).partition(|kept| kept.card.parent.is_none());
    let whole = state.in_wanted_order(whole.into_iter());
    whole
        .into_iter()
        .chain(state.in_wanted_order(split_cards.into_iter()))
        .flat_map(|kept| lots(kept).into_iter().map(move |lot| (kept, lot)))
        .zip(2..)
        .map(|((kept, (lot, of)), line)| {
            let split_card = kept.card.parent.is_some();
            CardRow {
                line,
                range: words(state.range_name(kept)),
                number: kept.card.number.to_string(),
                tag: words(state.tag(kept).as_str()),
                name: words(kept.card.name.as_str()),
                colour: kept.card.colour,
                family: words(state.family_name(kept)),
                amount: Some(Amount::Lengths(
                    state.put_up(&kept.card).to_fraction(of.strands),
                )),
                uncut: (!split_card || of.skeins > 0).then_some(of.skeins),
                dye_lot: words(lot.as_str()),
                hook: kept.home.map(|hook| state.hook_name(hook)),
                note: words(kept.card.note.as_str()),
                split_card_of: split_card.then(|| state.split_card_tag(kept)),
            }
        })
        .collect()
}

/// The lots that get a row.
fn lots(kept: &CardState) -> Vec<(Lot, LotThread)> {
    let listed = kept.thread.lots();
    let several = listed.len() > 1;
    let said = listed.filter(|(lot, of)| !(several && lot.is_unknown() && of.is_used_up()));
    let lots: Vec<(Lot, LotThread)> = said.map(|(lot, of)| (lot.clone(), of.clone())).collect();
    if lots.is_empty() {
        return vec![(Lot::unknown(), LotThread::default())];
    }
    lots
}
