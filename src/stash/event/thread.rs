//! The changes of thread that commands are made of.

use super::change::{AmountChange, Change};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::thread::{Lot, LotThread, Strands, Thread, ThreadPart};

/// Uncut thread of a lot that is cut onto its card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cutting {
    /// Which card.
    pub card: CardId,
    /// Of which lot.
    pub lot: Lot,
    /// How many lengths, as long as the others on the card.
    pub lengths: u32,
}

/// Lists a lot on a card that has not got it; nothing where it has.
#[must_use]
pub fn listed(card: CardId, has: &Thread, lot: &Lot) -> Option<Change> {
    has.lot(lot).is_none().then(|| Change::Lot {
        card,
        lot: lot.clone(),
        before: None,
        after: Some(Label::default()),
    })
}

/// Says how much there is of a lot, which is listed by then; nothing where that is known.
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

/// Takes strands off a card, of each lot so many.
pub fn drawn(card: CardId, lots: &[(Lot, Strands)]) -> impl Iterator<Item = Change> {
    lots.iter().map(move |(lot, strands)| Change::Thread {
        card,
        lot: lot.clone(),
        part: ThreadPart::Strands,
        amount: AmountChange::minus(strands.0),
    })
}

/// Adds thread to a card that has some, each lot to its own, whatever its capitals; lots that it has
/// not got are listed. Where the uncut skeins of those lie is not taken along. `None` where an amount
/// would be more than can be kept.
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

/// Thread with its lots named as a card lists them, and each named once; without those that are used up.
/// `None` where an amount would be more than can be kept.
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

/// The changes that say what a card has: its lots listed, struck off where they are not among those of
/// `after`, and every amount that differs set. Nothing where the two are alike.
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

/// Gives a new card its lots and its thread.
#[must_use]
pub fn brought(card: CardId, thread: &Thread) -> Vec<Change> {
    replaced(card, &Thread::default(), thread)
}

/// Takes a card's thread and its lots away, as it leaves the stash.
#[must_use]
pub fn given_up(card: CardId, thread: &Thread) -> Vec<Change> {
    replaced(card, thread, &Thread::default())
}
