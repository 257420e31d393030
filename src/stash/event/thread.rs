//! The changes of thread that commands use.

use super::change::{AmountChange, Change};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::thread::{Lot, LotThread, Strands, Thread, ThreadPart};

/// Uncut thread of a lot to cut onto its card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cutting {
    /// Which card.
    pub card: CardId,
    /// Which lot.
    pub lot: Lot,
    /// How many lengths, as long as the others on the card.
    pub lengths: u32,
}

/// Lists a lot on a card; `None` if it is already listed.
#[must_use]
pub fn listed(card: CardId, has: &Thread, lot: &Lot) -> Option<Change> {
    has.lot(lot).is_none().then(|| Change::Lot {
        card,
        lot: lot.clone(),
        before: None,
        after: Some(Label::default()),
    })
}

/// Sets an amount of a lot, which must be listed by then; `None` if nothing changes.
#[must_use]
pub fn set(card: CardId, has: &Thread, lot: &Lot, part: ThreadPart, after: u32) -> Option<Change> {
    let before = has.lot(lot).map_or(0, |of| of.amount(part));
    (after != before).then(|| Change::Thread {
        card,
        lot: lot.clone(),
        part,
        amount: AmountChange::Set {
            before: before.into(),
            after: after.into(),
        },
    })
}

/// Takes strands off a card, from each lot the given number.
pub fn drawn(card: CardId, lots: &[(Lot, Strands)]) -> impl Iterator<Item = Change> {
    lots.iter().map(move |(lot, strands)| Change::Thread {
        card,
        lot: lot.clone(),
        part: ThreadPart::Strands,
        amount: AmountChange::minus(strands.0),
    })
}

/// Adds thread to a card, each lot to its own, ignoring case. Lots that aren't listed are listed
/// first, without a storage place for their uncut skeins. `None` if an amount would be more than
/// can be stored.
#[must_use]
pub fn added(card: CardId, has: &Thread, more: &Thread) -> Option<Vec<Change>> {
    let mut changes = Vec::new();
    let more = as_listed(has, more)?;
    for (lot, of) in more.lots() {
        changes.extend(listed(card, has, lot));
        for part in ThreadPart::ALL {
            let (more, had) = (
                of.amount(part),
                has.lot(lot).map_or(0, |of| of.amount(part)),
            );
            had.checked_add(more)?;
            if more > 0 {
                changes.push(Change::Thread {
                    card,
                    lot: lot.clone(),
                    part,
                    amount: AmountChange::plus(more),
                });
            }
        }
    }
    Some(changes)
}

/// Thread with its lots named as on a card, each once, without used-up ones. `None` if an amount
/// would be more than can be stored.
fn as_listed(has: &Thread, thread: &Thread) -> Option<Thread> {
    let mut all = Thread::default();
    for (lot, of) in thread.lots().filter(|(_, of)| !of.is_used_up()) {
        let listed = has.listed(&lot.0).or_else(|| all.listed(&lot.0));
        let lot = listed.unwrap_or(lot).clone();
        all.list(lot.clone(), of.kept_at.clone());
        if let Some(sum) = all.lot_mut(&lot) {
            for part in ThreadPart::ALL {
                *sum.amount_mut(part) = sum.amount(part).checked_add(of.amount(part))?;
            }
        }
    }
    Some(all)
}

/// The changes that give a card its new thread: lists its lots, removes those not in `after`, and
/// sets every amount that differs. Empty if both are equal.
#[must_use]
pub fn replaced(card: CardId, before: &Thread, after: &Thread) -> Vec<Change> {
    let lot_change = |lot: &Lot, before: Option<&LotThread>, after: Option<&LotThread>| {
        let at = |of: Option<&LotThread>| of.map(|of| of.kept_at.clone());
        (at(before) != at(after)).then(|| Change::Lot {
            card,
            lot: lot.clone(),
            before: at(before),
            after: at(after),
        })
    };
    let mut changes = Vec::new();
    for (lot, of) in before.lots().filter(|(lot, _)| after.lot(lot).is_none()) {
        let parts = ThreadPart::ALL.into_iter();
        changes.extend(parts.filter_map(|part| set(card, before, lot, part, 0)));
        changes.extend(lot_change(lot, Some(of), None));
    }
    for (lot, of) in after.lots() {
        changes.extend(lot_change(lot, before.lot(lot), Some(of)));
        let parts = ThreadPart::ALL.into_iter();
        changes.extend(parts.filter_map(|part| set(card, before, lot, part, of.amount(part))));
    }
    changes
}

/// Adds the lots and thread of a new card.
#[must_use]
pub fn brought(card: CardId, thread: &Thread) -> Vec<Change> {
    replaced(card, &Thread::default(), thread)
}

/// Removes the thread and lots of a card that leaves the stash.
#[must_use]
pub fn given_up(card: CardId, thread: &Thread) -> Vec<Change> {
    replaced(card, thread, &Thread::default())
}
