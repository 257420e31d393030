//! Importing card lists and range lists: rows become drafts of cards, and drafts one event.

mod draft;
mod event;
pub(super) mod ranges;
mod rows;

use std::collections::{HashMap, HashSet};

use jiff::Timestamp;
use sha2::{Digest as _, Sha256};

use self::draft::{Draft, add_to_own, draft, is_unknown, own, reject_the_to_hang};
use self::event::write_down;
use self::ranges::Ranges;
use crate::model::ids::{ListDigest, RangeId};
use crate::model::label::fold;
use crate::stash::event::Act;
use crate::stash::names::written;
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::State;

pub use self::event::{AmountSaid, Outcome};
pub use self::ranges::{RangeOutcome, range};
pub use self::rows::{Amount, CardRow, KeyRow, RANGE_WITHOUT_NAME, RangeRow, Terms};
pub(super) use self::rows::{if_it_fits, settle};

/// Imports a card list. `unreadable` are the rows the reader could make nothing of.
///
/// A row whose range, number and tag are in the stash changes that card, as far as the row says
/// anything; any other makes a new card. Several rows of one card say its thread lot by lot, all of it:
/// of a lot that no row names there is none, unless a row of the card was not taken. Where the
/// only row of a card names no lot, its thread is of the card's only lot; where the card has several, or
/// is new, of the lot nobody noted. Where the terms say so, amounts are added to those that are
/// there, and a row for a card that says no amount is not taken. The thread of a split card that the
/// stash has not is added to the card of its number, as far as the list says what is on that.
/// O(rows · log cards + hooks).
///
/// # Errors
/// When there are no rows, or no row can be taken, or one cannot and the terms are strict, or the event
/// would be too long for the record.
pub fn card_list(
    state: &State,
    rows: &[CardRow],
    unreadable: Vec<Rejected>,
    terms: &Terms,
    now: Timestamp,
) -> Result<Outcome, Refusal> {
    let total = rows.len() + unreadable.len();
    if total == 0 {
        return Err(Refusal::NoRows);
    }
    let mut refused = Refused::of(&unreadable);
    let mut rejected = unreadable;
    let mut ranges = Ranges::new(state, terms.range.as_deref())?;
    let mut drafts = Drafts::default();
    for row in rows {
        let result = draft(state, &mut ranges, row, terms);
        if let Err(reason) = result.and_then(|draft| drafts.add(&ranges, draft)) {
            refused.add(row);
            rejected.push(Rejected {
                line: row.line,
                reason,
                number: Some(row.number.clone()),
            });
        }
    }
    let mut drafts = drafts.list;
    for draft in &mut drafts {
        draft.in_part = refused.has_one_of(draft.row);
        draft.mean_the_only_lot();
    }
    reject_the_to_hang(state, &mut drafts, &mut rejected);
    let (drafts, onto_own) = add_unknown_split_cards(drafts, &mut rejected);
    settle(&mut rejected, total, terms.strict || drafts.is_empty())?;
    let mut written = write_down(state, ranges, &drafts, rejected, now);
    if let Some(Act::ImportCards { list, .. }) = written.event.as_mut().map(|event| &mut event.act)
    {
        *list = Some(digest(rows));
    }
    Ok(Outcome {
        onto_own,
        event: written.event.map(if_it_fits).transpose()?,
        ..written
    })
}

/// The drafts of a list, one for each card.
#[derive(Default)]
struct Drafts<'a> {
    list: Vec<Draft<'a>>,
    /// Where in the list a card is, by its range, its number and tag, and which split card it is.
    cards: HashMap<(RangeId, String, Option<String>), usize>,
    /// The line of each lot of a card.
    lines: HashMap<(usize, String), u64>,
}

impl<'a> Drafts<'a> {
    /// Adds a row: as a card of its own, or to the card of an earlier row.
    fn add(&mut self, ranges: &Ranges, draft: Draft<'a>) -> Result<(), RowFault> {
        let row = draft.row;
        // A split card can be named in two ways.
        let which = row.split_card_of.as_ref().map(|tag| match draft.known {
            Some(split_card) => format!("#{}", split_card.card.id),
            None => fold(tag),
        });
        let card = (draft.range, draft.key(), which);
        let at = self.cards.get(&card).copied();
        let lots = draft.lots.iter().map(|said| fold(said.lot().as_str()));
        let lot = (at.unwrap_or(self.list.len()), lots.collect());
        let first = at.and_then(|at| self.list.get(at));
        let is_other = |first: &&Draft<'_>| first.tag.key() != draft.tag.key();
        // A number with a slash may be written as another number with a tag is.
        let other = first.filter(is_other).map(|first| first.row.line);
        let same_lot = self.lines.get(&lot).copied();
        if let Some(line) = same_lot.or(other) {
            return Err(RowFault::Twice {
                number: written(&draft.number, &draft.tag).into_owned(),
                range: Some(ranges.name(draft.range).to_owned()),
                line,
                lot: same_lot.is_some() && row.dye_lot.is_some(),
            });
        }
        match at.and_then(|at| self.list.get_mut(at)) {
            Some(first) => first.take_in(draft)?,
            None => {
                self.cards.insert(card, self.list.len());
                self.list.push(draft);
            }
        }
        self.lines.insert(lot, row.line);
        Ok(())
    }
}

/// Adds the thread of split cards that the stash has not to the cards of their colours, as far as the
/// list says what is on those. The other drafts, and how many rows were added so.
fn add_unknown_split_cards<'a>(
    drafts: Vec<Draft<'a>>,
    rejected: &mut Vec<Rejected>,
) -> (Vec<Draft<'a>>, u32) {
    let (unknown, mut drafts): (Vec<_>, Vec<_>) = drafts.into_iter().partition(is_unknown);
    let mut onto_own = 0;
    let own = own(&drafts);
    for split_card in &unknown {
        match add_to_own(&mut drafts, &own, split_card) {
            Ok(()) => onto_own += u32::try_from(split_card.lots.len()).unwrap_or(u32::MAX),
            Err(reason) => rejected.extend(split_card.lots.iter().map(|said| Rejected {
                line: said.line,
                reason: reason.clone(),
                number: Some(split_card.row.number.clone()),
            })),
        }
    }
    (drafts, onto_own)
}

/// By what a list is known again, should another copy of the stash import it too. O(rows).
fn digest(rows: &[CardRow]) -> ListDigest {
    let mut hash = Sha256::new();
    for row in rows {
        hash.update(format!("{row:?}\n"));
    }
    let digest = hash.finalize();
    let first = digest.iter().take(8);
    ListDigest(first.fold(0, |sum, &byte| sum << 8 | u64::from(byte)))
}

/// The cards of the rows that were refused, as far as one can tell. In doubt a card is among them.
struct Refused {
    /// Whether there is a row that could be of any card.
    any: bool,
    /// Numbers, and the ranges of those whose row could be read; `None` may be any range.
    ranges: HashSet<(String, Option<String>)>,
    numbers: HashSet<String>,
}

impl Refused {
    /// Those of the rows that could not be read. O(rows).
    fn of(unreadable: &[Rejected]) -> Self {
        let numbers = unreadable.iter().filter_map(|row| row.number.as_deref());
        let numbers: HashSet<String> = numbers.map(fold).collect();
        Self {
            any: unreadable.iter().any(|row| row.number.is_none()),
            ranges: numbers.iter().map(|of| (of.clone(), None)).collect(),
            numbers,
        }
    }

    fn add(&mut self, row: &CardRow) {
        let number = fold(&row.number);
        self.ranges
            .insert((number.clone(), row.range.as_deref().map(fold)));
        self.numbers.insert(number);
    }

    /// Whether one of them is of the card of this row.
    fn has_one_of(&self, row: &CardRow) -> bool {
        if self.any {
            return true;
        }
        let number = fold(&row.number);
        match row.range.as_deref().map(fold) {
            None => self.numbers.contains(&number),
            range => {
                let either = [range, None].map(|range| (number.clone(), range));
                either.iter().any(|of| self.ranges.contains(of))
            }
        }
    }
}

#[cfg(test)]
mod tests;
