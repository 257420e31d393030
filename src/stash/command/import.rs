//! Bringing in card lists and range lists.

mod amounts;
mod draft;
mod event;
pub(super) mod ranges;
mod refused;
mod shades;
mod split_cards;

use std::collections::HashMap;

use jiff::Timestamp;
use sha2::{Digest as _, Sha256};

use self::draft::{Draft, draft, reject_the_to_hang};
use self::event::write_down;
use self::ranges::Ranges;
use self::refused::Refused;
pub use self::shades::{Shades, shades};
use crate::model::ids::{ListDigest, RangeId};
use crate::model::label::fold;
use crate::stash::event::{Act, Event, LONGEST_EVENT};
use crate::stash::intake::CardRow;
use crate::stash::names::written;
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::State;

/// The range of a card list that names none, where the stash has none either.
pub const RANGE_WITHOUT_NAME: &str = "Thread";

/// How a list is to be taken.
#[derive(Debug, Clone, Default)]
pub struct Terms {
    /// The range of rows that name none. Without it, the stash's only range, or
    /// [`RANGE_WITHOUT_NAME`].
    pub range: Option<String>,
    /// Take nothing where one row cannot be taken.
    pub strict: bool,
    /// Add the amounts of the rows to what is there, as for a purchase, instead of setting them.
    pub add: bool,
}

/// What came of a list.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The event; `None` where the list says nothing new.
    pub event: Option<Event>,
    /// Cards that are new.
    pub added: u32,
    /// Cards that are written anew.
    pub changed: u32,
    /// New cards whose row does not say how much is on them: taken as one skein.
    pub usual_amount: u32,
    /// Rows of split cards that the stash has not: their thread was added to the colour's own card.
    pub onto_own: u32,
    /// Rows that were not taken.
    pub rejected: Vec<Rejected>,
}

/// Brings in a card list. `unreadable` are the rows the reader could make nothing of.
///
/// A row whose range, number and tag are in the stash writes that card anew, as far as the row says
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
    let mut drafts: Vec<Draft<'_>> = Vec::with_capacity(rows.len());
    let mut cards: HashMap<(RangeId, String, Option<String>), usize> = HashMap::new();
    let mut seen: HashMap<(usize, String), u64> = HashMap::new();
    for row in rows {
        let result = draft(state, &mut ranges, row, terms).and_then(|draft| {
            // A split card can be told in two ways.
            let which = draft
                .row
                .split_card_of
                .as_ref()
                .map(|tag| match draft.known {
                    Some(split_card) => format!("#{}", split_card.card.id),
                    None => fold(tag),
                });
            let card = (draft.range, draft.key(), which);
            let at = cards.get(&card).copied();
            let lots = draft.lots.iter().map(|said| fold(said.lot().as_str()));
            let line_of_lot = (at.unwrap_or(drafts.len()), lots.collect());
            let first = at.and_then(|at| drafts.get(at));
            let is_other = |first: &&Draft<'_>| first.tag.key() != draft.tag.key();
            // A number with a slash may be written as another number with a tag is.
            let other = first.filter(is_other).map(|first| first.row.line);
            let same_lot = seen.get(&line_of_lot).copied();
            if let Some(line) = same_lot.or(other) {
                return Err(RowFault::Twice {
                    number: written(&draft.number, &draft.tag).into_owned(),
                    range: Some(ranges.name(draft.range).to_owned()),
                    line,
                    lot: same_lot.is_some() && row.dye_lot.is_some(),
                });
            }
            match at.and_then(|at| drafts.get_mut(at)) {
                Some(first) => first.take_in(draft)?,
                None => {
                    cards.insert(card, drafts.len());
                    drafts.push(draft);
                }
            }
            seen.insert(line_of_lot, row.line);
            Ok(())
        });
        if let Err(reason) = result {
            refused.add(row);
            rejected.push(Rejected {
                line: row.line,
                reason,
                number: Some(row.number.clone()),
            });
        }
    }
    for draft in &mut drafts {
        draft.in_part = refused.has_one_of(draft.row);
        draft.mean_the_only_lot();
    }
    reject_the_to_hang(state, &mut drafts, &mut rejected);
    let (unknown, mut drafts): (Vec<_>, Vec<_>) =
        drafts.into_iter().partition(split_cards::is_unknown);
    let mut onto_own = 0;
    let own = split_cards::own(&drafts);
    for split_card in &unknown {
        match split_cards::add_to_own(&mut drafts, &own, split_card) {
            Ok(()) => onto_own += u32::try_from(split_card.lots.len()).unwrap_or(u32::MAX),
            Err(reason) => rejected.extend(split_card.lots.iter().map(|said| Rejected {
                line: said.line,
                reason: reason.clone(),
                number: Some(split_card.row.number.clone()),
            })),
        }
    }
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

/// The event that a list makes, if the record can take it. O(size of the event).
///
/// # Errors
/// When it is longer than [`LONGEST_EVENT`].
pub(super) fn if_it_fits(event: Event) -> Result<Event, Refusal> {
    let bytes = event.length();
    if bytes > LONGEST_EVENT {
        return Err(Refusal::ListTooLong {
            megabytes: bytes.div_ceil(1 << 20),
            parts: bytes / LONGEST_EVENT + 1,
        });
    }
    Ok(event)
}

/// Puts the rows that cannot be taken in the order of the list, and refuses the whole list of `rows`
/// rows for them if that is `all_or_none`.
pub(in crate::stash) fn settle(
    rejected: &mut [Rejected],
    rows: usize,
    all_or_none: bool,
) -> Result<(), Refusal> {
    rejected.sort_by_key(|row| row.line);
    match rejected.first() {
        Some(_) if all_or_none => Err(Refusal::RowsRejected {
            rejected: rejected.len(),
            rows,
            every: rejected.to_vec(),
        }),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests;
