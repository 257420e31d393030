//! Rows of split cards in a card list.

use std::collections::HashMap;

use super::amounts::{LotSaid, can_be_added};
use super::draft::Draft;
use crate::model::ids::RangeId;
use crate::model::thread::Strands;
use crate::stash::intake::CardRow;
use crate::stash::refusal::RowFault;

/// A split card has no hook of its own, and uncut skeins are counted beside the card it is of.
pub(super) fn check(row: &CardRow) -> Result<(), RowFault> {
    if row.split_card_of.is_none() {
        return Ok(());
    }
    if row.hook.is_some() {
        return Err(RowFault::SplitCardHook);
    }
    if row.uncut.is_some_and(|skeins| skeins > 0) {
        return Err(RowFault::SplitCardUncut);
    }
    Ok(())
}

/// Whether a row is of a split card that the stash has not.
pub(super) fn is_unknown(draft: &Draft<'_>) -> bool {
    draft.row.split_card_of.is_some() && draft.known.is_none()
}

/// Where among the rows that are taken a colour's own card is, by range, number and tag.
pub(super) type Own = HashMap<(RangeId, String), usize>;

/// Looks for them. O(rows).
pub(super) fn own(drafts: &[Draft<'_>]) -> Own {
    let cards = drafts.iter().enumerate();
    let cards = cards.filter(|(_, draft)| draft.row.split_card_of.is_none());
    cards
        .map(|(at, draft)| ((draft.range, draft.key()), at))
        .collect()
}

/// Adds the thread of a split card that is not there to what the list says of the colour's own card,
/// so that it is not lost.
///
/// Only a card the list speaks of will do: added to what is in the stash, the thread would come once
/// more each time the list is brought in.
pub(super) fn add_to_own(
    drafts: &mut [Draft<'_>],
    own: &Own,
    split_card: &Draft<'_>,
) -> Result<(), RowFault> {
    let number = &split_card.number;
    if split_card.lots.iter().any(|said| said.strands.is_none()) {
        return Err(RowFault::SplitCardAmount);
    }
    let own = own.get(&(split_card.range, split_card.key()));
    let own = own.and_then(|&at| drafts.get_mut(at));
    let says = |own: &&mut Draft<'_>| own.lots.iter().any(|said| said.strands.is_some());
    let unsaid = || RowFault::SplitCardUnknown(number.clone());
    let own = own.filter(says).ok_or_else(unsaid)?;
    let mut all = own.lots.clone();
    for said in &split_card.lots {
        let more = said.strands.unwrap_or_default();
        // Where the list has no lots, the split card has that of the card itself.
        let lot = said.lot.clone().or_else(|| own.only.clone());
        let lot = lot.unwrap_or_default();
        let listed = own.known.and_then(|kept| kept.thread.listed(&lot.0));
        let lot = listed.cloned().unwrap_or(lot);
        let same = |of: &&mut LotSaid| of.lot().0.same_as(lot.as_str());
        match all.iter_mut().find(same) {
            Some(of) => {
                let there = of.strands.ok_or_else(unsaid)?;
                let sum = there.0.checked_add(more.0);
                of.strands = Some(Strands(sum.ok_or(RowFault::TooMuch)?));
            }
            None if own.in_part => return Err(unsaid()),
            None => all.push(LotSaid {
                lot: Some(lot),
                strands: Some(more),
                ..said.clone()
            }),
        }
    }
    if let Some(kept) = own.known.filter(|_| own.adds) {
        for said in &all {
            can_be_added(said, kept)?;
        }
    }
    own.lots = all;
    Ok(())
}
