//! Importing card lists and range lists: rows become drafts of cards, and drafts become one event.
//!
//! Defines the rows of card lists, range lists and chart keys, between reading and checking against
//! the stash, and the terms of an import.

mod draft;
mod event;
mod matches;
pub(super) mod ranges;
#[cfg(test)]
mod tests;

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use jiff::Timestamp;
use sha2::{Digest as _, Sha256};

use self::draft::{Draft, LotSaid, add_to_own, draft, is_unknown, own, reject_the_to_hang};
use self::event::write_down;
use self::ranges::Ranges;
use crate::model::card::{Card, USUAL_CUT_CM};
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, ListDigest, PurchaseId, RangeId};
use crate::model::label::{Label, fold};
use crate::model::ring::{ColourRef, NotionKind};
use crate::model::thread::Strands;
use crate::stash::columns::Column;
use crate::stash::command::buy::lost_with;
use crate::stash::command::range::no_longer_wanted;
use crate::stash::event::{Act, Change, Event, LONGEST_EVENT};
use crate::stash::names::written;
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::State;

pub use self::event::{AmountSaid, Outcome};
pub use self::matches::{MOST_OF_ONE, MatchRow, MatchesOutcome, matches};
pub use self::ranges::{RangeOutcome, range};

/// Imports a card list. `unreadable` are the rows that couldn't be read.
///
/// A row whose range, number and tag are in the stash updates that card with its values; any other
/// row makes a new card. Several rows of one card give all its thread by lot: a lot without a row
/// has none, unless a row of the card was refused. If the only row of a card names no lot, its
/// thread belongs to the card's only lot, or to the unknown lot if the card has several or is new.
/// If the terms say so, amounts are added to the existing ones, and a row for an existing card
/// without an amount is refused. The thread of a split card that isn't in the stash is added to the
/// card of its number, if the list gives the amount on that card. O(rows · log cards + hooks).
///
/// # Errors
/// When there are no rows, a purchase they name was already imported, no row can be accepted, one
/// can't and the terms are strict, or the event would be too long for the record.
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
    let purchases: BTreeSet<PurchaseId> = rows.iter().filter_map(|row| row.purchase).collect();
    let terms = &terms_of_purchases(state, &purchases, terms)?;
    let mut ranges = Ranges::new(state, terms.range.as_deref())?;
    let mut refused = Refused::of(&unreadable, |number| {
        let split = ranges.split(state, (None, number));
        split.map_or(number, |(_, number)| number)
    });
    let mut rejected = unreadable;
    let mut drafts = Drafts::default();
    let parted: Vec<_> = rows.iter().map(|row| parted(state, &ranges, row)).collect();
    for (row, parted) in rows.iter().zip(&parted) {
        let result = match parted {
            Ok(row) => draft(state, &mut ranges, row, terms),
            Err(reason) => Err(reason.clone()),
        };
        if let Err(reason) = result.and_then(|draft| drafts.add(&ranges, draft)) {
            refused.add(parted.as_deref().unwrap_or(row));
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
    if let Some(event) = &mut written.event {
        if terms.add {
            event.changes.extend(off_the_want_list(state, &drafts));
            replace_missing(state, event, &mut written.amounts, now);
        }
        event.changes.extend(imported(state, &purchases, now));
    }
    if let Some(Act::ImportCards { list, .. }) = written.event.as_mut().map(|event| &mut event.act)
    {
        *list = Some(digest(rows));
    }
    Ok(Outcome {
        onto_own,
        is_purchase: !purchases.is_empty(),
        event: written.event.map(if_it_fits).transpose()?,
        ..written
    })
}

/// A row with its range and its number apart, where both stand in the cell of the number.
fn parted<'a>(
    state: &State,
    ranges: &Ranges,
    row: &'a CardRow,
) -> Result<Cow<'a, CardRow>, RowFault> {
    let (range, number) = ranges.split(state, (row.range.as_deref(), &row.number))?;
    if number == row.number {
        return Ok(Cow::Borrowed(row));
    }
    Ok(Cow::Owned(CardRow {
        range: range.map(str::to_owned),
        number: number.to_owned(),
        ..row.clone()
    }))
}

/// The terms for a list that names purchases: it is imported whole or not at all, because what was
/// left out couldn't be imported later.
fn terms_of_purchases(
    state: &State,
    purchases: &BTreeSet<PurchaseId>,
    terms: &Terms,
) -> Result<Terms, Refusal> {
    let taken = |id: &PurchaseId| state.purchases().get_key_value(id);
    match purchases.iter().find_map(taken) {
        Some((&purchase, &at)) if !terms.again => Err(Refusal::PurchaseTaken { purchase, at }),
        _ => Ok(Terms {
            strict: terms.strict || !purchases.is_empty(),
            add: terms.add || !purchases.is_empty(),
            ..terms.clone()
        }),
    }
}

/// What is bought of a missing card is a new card in its place, as on the buy list; not where the row itself says where
/// the card is. The amounts are then those of the new card.
fn replace_missing(state: &State, event: &mut Event, amounts: &mut [AmountSaid], now: Timestamp) {
    let moved: BTreeSet<CardId> = event.moved().collect();
    // A row that brings no thread buys nothing.
    for said in amounts.iter_mut().filter(|said| said.changes()) {
        let kept = state.card(said.card).filter(|kept| {
            let is_whole = kept.card.parent.is_none();
            is_whole && kept.place.at.is_missing() && !moved.contains(&said.card)
        });
        let Some(kept) = kept else { continue };
        event.changes.extend(lost_with(kept, now));
        for (lot, lost) in kept.thread.lots() {
            if let Some(of) = said.after.lot_mut(lot) {
                of.strands = Strands(of.strands.0.saturating_sub(lost.strands.0));
            }
        }
    }
}

/// The change that records imported purchases.
fn imported(
    state: &State,
    purchases: &BTreeSet<PurchaseId>,
    now: Timestamp,
) -> impl Iterator<Item = Change> {
    purchases.iter().map(move |&purchase| Change::Purchase {
        purchase,
        before: state.purchases().get(&purchase).copied(),
        after: Some(now),
    })
}

/// The changes that take bought skeins off the want list. Strands count as skeins, rounded up.
fn off_the_want_list(state: &State, drafts: &[Draft<'_>]) -> Vec<Change> {
    let mut bought: BTreeMap<ColourRef, u32> = BTreeMap::new();
    for draft in drafts {
        let cut_cm = draft.known.map_or(USUAL_CUT_CM, |kept| kept.card.cut_cm);
        let in_skein = draft.put_up.strands_in_skein(cut_cm).max(1);
        let strands = |said: &LotSaid| said.strands.unwrap_or_default().0.div_ceil(in_skein);
        let skeins = |said: &LotSaid| said.skeins.unwrap_or(0).saturating_add(strands(said));
        let colour = ColourRef::new(draft.range, draft.number.clone());
        let sum = bought.entry(colour).or_default();
        *sum = draft
            .lots
            .iter()
            .map(skeins)
            .fold(*sum, u32::saturating_add);
    }
    bought
        .iter()
        .filter_map(|(colour, &skeins)| no_longer_wanted(state, colour, skeins))
        .collect()
}

/// The drafts of a list, one for each card.
#[derive(Default)]
struct Drafts<'a> {
    list: Vec<Draft<'a>>,
    /// The position of each card in the list, by its range, its number and tag, and its split card.
    cards: HashMap<(RangeId, String, Option<String>), usize>,
    /// The line of each lot of a card.
    lines: HashMap<(usize, String), u64>,
}

impl<'a> Drafts<'a> {
    /// Adds a row: as a new draft, or to the draft of an earlier row of the same card.
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
        // A number with a slash may look like another number with a tag.
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

/// Adds the thread of split cards that aren't in the stash to the cards of their colours, if the
/// list gives the amounts on those. Returns the other drafts, and how many rows were added.
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

/// A digest to recognise a list by, if another copy of the stash imports it too. O(rows).
fn digest(rows: &[CardRow]) -> ListDigest {
    let mut hash = Sha256::new();
    for row in rows {
        hash.update(format!("{row:?}\n"));
    }
    let digest = hash.finalize();
    let first = digest.iter().take(8);
    ListDigest(first.fold(0, |sum, &byte| sum << 8 | u64::from(byte)))
}

/// The cards of the refused rows, as far as they are known. In doubt, a card is included.
struct Refused {
    /// Whether there is a row that could be for any card.
    any: bool,
    /// Numbers, with the ranges of the rows that could be read; `None` may be any range.
    ranges: HashSet<(String, Option<String>)>,
    numbers: HashSet<String>,
}

impl Refused {
    /// The cards of the rows that couldn't be read. `alone` is a number without its range. O(rows).
    fn of<'a>(unreadable: &'a [Rejected], alone: impl Fn(&'a str) -> &'a str) -> Self {
        let numbers = unreadable.iter().filter_map(|row| row.number.as_deref());
        let numbers: HashSet<String> = numbers.map(|number| fold(alone(number))).collect();
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

    /// Whether any of them is for the card of this row.
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

/// The amount of thread that a row gives for the card.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Skeins cut onto the card; at least 0, fractions allowed.
    Skeins(f64),
    /// Lengths on the card; at least 0, fractions allowed, rounded to the nearest strand.
    Lengths(f64),
}

/// One row of a card list. `None` means that the column is absent or the cell is empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CardRow {
    /// Line of the file where the row starts, counted from 1 (the header is line 1).
    pub line: u64,
    /// The maker's range; `None` if the file has no such column or the cell is empty.
    pub range: Option<String>,
    /// The number, trimmed, never empty.
    pub number: String,
    /// The colour's name.
    pub name: Option<String>,
    /// The colour.
    pub colour: Option<Srgb>,
    /// The family.
    pub family: Option<String>,
    /// Thread on the card.
    pub amount: Option<Amount>,
    /// Uncut skeins of the same colour.
    pub uncut: Option<u32>,
    /// The rest of a part-used skein, in centimetres of whole thread.
    pub part_cm: Option<u32>,
    /// The dye lot of the thread. Other rows of the card may have other lots.
    pub dye_lot: Option<String>,
    /// The name of the hook where the card hangs.
    pub hook: Option<String>,
    /// A note.
    pub note: Option<String>,
    /// Tells several cards of the number apart; `None` means the one without a tag.
    pub tag: Option<String>,
    /// For a split card, the part of its name after the `@`, usually its project.
    pub split_card_of: Option<String>,
    /// The purchase it belongs to. A list that names one is added to the existing thread, on any
    /// terms.
    pub purchase: Option<PurchaseId>,
}

/// One row of a range list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RangeRow {
    /// Line of the file where the row starts, counted from 1.
    pub line: u64,
    /// The number, trimmed, never empty.
    pub number: String,
    /// The colour's name; may be empty.
    pub name: String,
    /// The colour.
    pub colour: Option<Srgb>,
    /// The family.
    pub family: Option<String>,
}

/// One row of a chart key. A missing count is 0.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct KeyRow {
    /// Line of the file where the row starts, counted from 1.
    pub line: u64,
    /// The symbol in the chart.
    pub symbol: Option<String>,
    /// The maker's range.
    pub range: Option<String>,
    /// The number, trimmed; for a blend, the numbers of its threads, `447+96`. Empty only for a
    /// notion with a name.
    pub number: String,
    /// The colour's name; for a blend, the names of its threads, `river slate+dandelion`.
    pub name: Option<String>,
    /// The colour; `None` for a blend.
    pub colour: Option<Srgb>,
    /// Strands in the needle, of all threads together, 0 to 12; 0 if not given.
    pub strands: u8,
    /// Strands of each thread of a blend, if the row gives them individually.
    pub strands_of_each: Vec<u8>,
    /// The kind of notion, if it isn't thread.
    pub notion: Option<NotionKind>,
    /// Pieces of a notion.
    pub pieces: u32,
    /// Full crosses.
    pub stitches: u32,
    /// Half stitches.
    pub half: u32,
    /// Quarter stitches.
    pub quarter: u32,
    /// Three-quarter stitches.
    pub three_quarter: u32,
    /// Backstitch, in squares of the chart along its lines.
    pub backstitch: u32,
    /// Strands for backstitch, 0 to 12.
    pub backstitch_strands: u8,
    /// French knots.
    pub french_knots: u32,
}

/// The range for card lists that name none, if the stash has none either.
pub const RANGE_WITHOUT_NAME: &str = "Thread";

/// How to import a list.
#[derive(Debug, Clone, Default)]
pub struct Terms {
    /// The range of rows that name none. If not given, the stash's only range, or
    /// [`RANGE_WITHOUT_NAME`].
    pub range: Option<String>,
    /// Import nothing if any row can't be accepted.
    pub strict: bool,
    /// Add the amounts of the rows to the existing ones, as for a purchase, instead of setting
    /// them.
    pub add: bool,
    /// Import a purchase again that was already imported.
    pub again: bool,
}

/// Returns the event if the record can accept it. O(size of the event).
///
/// # Errors
/// When it is longer than [`LONGEST_EVENT`].
pub(in crate::stash::command) fn if_it_fits(event: Event) -> Result<Event, Refusal> {
    shorter_than(LONGEST_EVENT, event)
}

fn shorter_than(most: usize, event: Event) -> Result<Event, Refusal> {
    let bytes = event.length();
    if bytes > most {
        return Err(Refusal::ListTooLong {
            megabytes: bytes.div_ceil(1 << 20),
            parts: bytes / most + 1,
        });
    }
    Ok(event)
}

/// Sorts the refused rows by line, and with `all_or_none` refuses the whole list of `rows` rows for
/// them.
pub(in crate::stash::command) fn settle(
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

/// The values of rows that are written on a card as they are, without looking at the stash.
#[derive(Default)]
struct Written {
    name: Option<Label>,
    colour: Option<Srgb>,
    note: Option<Label>,
}

impl Written {
    /// The values of a row.
    fn of(row: &CardRow) -> Result<Self, RowFault> {
        Ok(Self {
            name: label(row.name.as_ref(), Column::Name)?,
            colour: row.colour,
            note: label(row.note.as_ref(), Column::Note)?,
        })
    }

    /// Adds the values of another row of the same card, which must not differ. `line` is the line
    /// of the first row.
    fn take_in(&mut self, other: Self, line: u64) -> Result<(), RowFault> {
        both(&mut self.name, other.name, line, Column::Name)?;
        both(&mut self.colour, other.colour, line, Column::Hex)?;
        both(&mut self.note, other.note, line, Column::Note)
    }

    /// Writes them on a card. Missing values stay, and a name is never removed.
    fn onto(&self, card: &mut Card) {
        if let Some(name) = self.name.as_ref().filter(|name| !name.is_empty()) {
            card.name = name.clone();
        }
        card.colour = self.colour.or(card.colour);
        if let Some(note) = &self.note {
            card.note = note.clone();
        }
    }
}

/// Combines the values of two rows of one card in a column.
fn both<T: PartialEq>(
    one: &mut Option<T>,
    other: Option<T>,
    line: u64,
    column: Column,
) -> Result<(), RowFault> {
    match (&*one, other) {
        (Some(one), Some(other)) if *one != other => Err(RowFault::Differs { line, column }),
        (None, other) => {
            *one = other;
            Ok(())
        }
        _ => Ok(()),
    }
}

/// Parses the text of a cell as a label.
fn label(text: Option<&String>, column: Column) -> Result<Option<Label>, RowFault> {
    text.map(|text| Label::new(text).map_err(|why| RowFault::Label(column, why)))
        .transpose()
}
