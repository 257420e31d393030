//! What the rows of a card list say of thread.

use super::draft::Draft;
use crate::model::card::USUAL_CUT_CM;
use crate::model::label::Label;
use crate::model::range::PutUp;
use crate::model::thread::{Lot, LotThread, Strands, Thread, ThreadPart};
use crate::stash::event::Change;
use crate::stash::event::thread::{added, replaced};
use crate::stash::intake::{Amount, CardRow};
use crate::stash::refusal::RowFault;
use crate::stash::state::CardState;

/// What a row says of one lot.
#[derive(Clone)]
pub(super) struct LotSaid {
    /// The line of the row.
    pub(super) line: u64,
    /// Which lot; `None` where the row names none.
    pub(super) lot: Option<Lot>,
    /// Thread on the card; `None` where nothing is said.
    pub(super) strands: Option<Strands>,
    /// Uncut skeins; likewise.
    pub(super) skeins: Option<u32>,
}

impl LotSaid {
    /// The lot it is about. Thread without one is of the lot nobody noted, never silently of one of
    /// several others.
    pub(super) fn lot(&self) -> Lot {
        self.lot.clone().unwrap_or_default()
    }

    fn amount(&self, part: ThreadPart) -> Option<u32> {
        match part {
            ThreadPart::Strands => self.strands.map(|strands| strands.0),
            ThreadPart::Skeins => self.skeins,
            ThreadPart::PartCm => None,
        }
    }
}

/// An amount in strands of a card's length; `None` where it cannot be kept.
pub(super) fn strands(amount: Amount, put_up: PutUp, cut_cm: u16) -> Option<Strands> {
    match amount {
        Amount::Lengths(lengths) => put_up.from_fraction(lengths),
        Amount::Skeins(skeins) => match put_up.lengths_in_skein(cut_cm) {
            0 => None,
            lengths => put_up.from_fraction(skeins * f64::from(lengths)),
        },
    }
}

/// What a row says of thread, or why it cannot be taken.
pub(super) fn said(
    row: &CardRow,
    lot: Option<Label>,
    known: Option<&CardState>,
    put_up: PutUp,
) -> Result<LotSaid, RowFault> {
    let cut_cm = known.map_or(USUAL_CUT_CM, |kept| kept.card.cut_cm);
    let amount = row.amount.map(|amount| strands(amount, put_up, cut_cm));
    let amount = amount.map(|strands| strands.ok_or(RowFault::Amount));
    // A list may write a lot in other capitals than the card.
    let listed = |lot: Label| {
        let listed = known.and_then(|kept| kept.thread.listed(&lot));
        listed.cloned().unwrap_or(Lot(lot))
    };
    Ok(LotSaid {
        line: row.line,
        lot: lot.map(listed),
        strands: amount.transpose()?,
        skeins: row.uncut,
    })
}

/// The lot of a card that has exactly one.
pub(super) fn only_lot(kept: &CardState) -> Option<Lot> {
    let mut lots = kept.thread.lots().map(|(lot, _)| lot);
    lots.next().filter(|_| lots.next().is_none()).cloned()
}

/// Whether the amounts of a row can be added to what is on a card.
pub(super) fn can_be_added(said: &LotSaid, kept: &CardState) -> Result<(), RowFault> {
    if said.strands.is_none() && said.skeins.is_none() {
        return Err(RowFault::NothingToAdd);
    }
    // It may mean the only lot.
    let said = LotSaid {
        lot: said.lot.clone().or_else(|| only_lot(kept)),
        ..said.clone()
    };
    added(kept.card.id, &kept.thread, &in_all(&[said]))
        .map(|_| ())
        .ok_or(RowFault::TooMuch)
}

/// All that is said, each lot once. Sums stay within what one row can say, or were checked.
fn in_all(said: &[LotSaid]) -> Thread {
    let mut all = Thread::default();
    for of in said {
        let lot = of.lot();
        all.list(lot.clone(), Label::default());
        let Some(sum) = all.lot_mut(&lot) else {
            continue;
        };
        for part in ThreadPart::ALL {
            let there = sum.amount_mut(part);
            *there = there.saturating_add(of.amount(part).unwrap_or(0));
        }
    }
    all
}

/// What is on a new card, and whether its rows do not say how much: then it is one skein of the first
/// lot.
pub(super) fn of_new_card(draft: &Draft<'_>) -> (Thread, bool) {
    let mut thread = in_all(&draft.lots);
    let unsaid = draft.lots.iter().all(|said| said.strands.is_none());
    let first = draft.lots.first().map(LotSaid::lot);
    if unsaid && let Some(of) = first.and_then(|lot| thread.lot_mut(&lot)) {
        of.strands = draft.put_up.cut_skein(USUAL_CUT_CM);
    }
    (thread, unsaid)
}

/// What becomes of the thread of a card that is there.
pub(super) fn of_known_card(draft: &Draft<'_>, kept: &CardState) -> Vec<Change> {
    let card = kept.card.id;
    if draft.adds {
        // It was checked that it can be kept.
        return added(card, &kept.thread, &in_all(&draft.lots)).unwrap_or_default();
    }
    replaced(card, &kept.thread, &said_anew(draft, &kept.thread))
}

/// What a card has when its rows replace what was known. An amount that a row says is of the lot of that
/// row; a lot of which no row speaks then has none, unless a row was refused, which may have spoken of it.
/// What no row says stays. Rows that name no lot and say the amount there is in all say nothing new. A
/// single row that only names a lot gives the card's thread that lot.
fn said_anew(draft: &Draft<'_>, had: &Thread) -> Thread {
    let mut thread = had.clone();
    let said = &draft.lots;
    for part in [ThreadPart::Strands, ThreadPart::Skeins] {
        let amounts: Vec<(Lot, u32)> = said
            .iter()
            .filter_map(|of| Some((of.lot(), of.amount(part)?)))
            .collect();
        let sum = amounts
            .iter()
            .map(|(_, amount)| u64::from(*amount))
            .sum::<u64>();
        let as_it_was = said.iter().all(|of| of.lot.is_none()) && sum == u64::from(had.sum(part));
        if amounts.is_empty() || as_it_was {
            continue;
        }
        let speaks_of = |lot: &Lot| draft.in_part || said.iter().any(|of| of.lot() == *lot);
        let others = had.lots().map(|(lot, _)| lot);
        for lot in others.filter(|lot| !speaks_of(lot)) {
            if let Some(of) = thread.lot_mut(lot) {
                *of.amount_mut(part) = 0;
            }
        }
        for (lot, amount) in amounts {
            thread.list(lot.clone(), Label::default());
            if let Some(of) = thread.lot_mut(&lot) {
                *of.amount_mut(part) = amount;
            }
        }
    }
    match said.as_slice() {
        [
            LotSaid {
                lot: Some(lot),
                strands: None,
                skeins: None,
                ..
            },
        ] if thread.lot(lot).is_none() && !draft.in_part => name_lot(&mut thread, lot),
        _ => {
            for lot in said.iter().filter_map(|of| of.lot.clone()) {
                thread.list(lot, Label::default());
            }
        }
    }
    // Nobody wants to buy the same again of a lot that was not noted.
    let unknown = Lot::unknown();
    let had_some = had.lot(&unknown).is_some_and(|of| !of.is_used_up());
    if had_some && !said.iter().any(|of| of.lot().is_unknown()) {
        thread.strike(&unknown);
    }
    thread
}

/// Gives all thread of a card that has one lot another; lists it where there are none or several.
fn name_lot(thread: &mut Thread, lot: &Lot) {
    let lots: Vec<(Lot, LotThread)> = thread
        .lots()
        .map(|(lot, of)| (lot.clone(), of.clone()))
        .collect();
    match lots.as_slice() {
        [(_, of)] => *thread = [(lot.clone(), of.clone())].into_iter().collect(),
        _ => {
            thread.list(lot.clone(), Label::default());
        }
    }
}
