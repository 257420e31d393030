//! Card lists: the threads a person owns, one colour per row.

use std::collections::HashSet;

use super::amount::{self, ParseAmountError};
use super::columns::Columns;
use super::sheet::{self, Cells, FileError, ListFile, RefusedRow, RowError, Warning};
use super::table;
use crate::model::ids::PurchaseId;
use crate::model::label::fold;
use crate::model::thread::{Lot, LotThread};
use crate::stash::columns::Column;
use crate::stash::command::import::{Amount, CardRow};
use crate::stash::state::{CardState, State};

/// A parsed card list.
pub type CardFile = ListFile<CardRow>;

impl CardFile {
    /// Rejects the rows that lost a value, for a list that must be imported completely or not at
    /// all.
    pub fn reject_doubtful(&mut self) {
        let doubtful: HashSet<u64> = self.warnings.iter().map(|warning| warning.line).collect();
        self.rows.retain(|row| !doubtful.contains(&row.line));
        let mut warnings: Vec<Warning> = std::mem::take(&mut self.warnings);
        warnings.dedup_by_key(|warning| warning.line);
        self.rejected
            .extend(warnings.into_iter().map(|warning| RefusedRow {
                line: warning.line,
                reason: warning.reason,
                number: None,
            }));
        self.rejected.sort_by_key(|row| row.line);
    }

    /// The warnings about rows other than the `refused` lines. O(warnings + refused).
    #[must_use]
    pub fn warnings_beside(&self, refused: impl Iterator<Item = u64>) -> Vec<Warning> {
        let refused: HashSet<u64> = refused.collect();
        let warnings = self.warnings.iter();
        warnings
            .filter(|warning| !refused.contains(&warning.line))
            .cloned()
            .collect()
    }
}

/// Reads a card list.
///
/// Columns, in any order, of which only `number` is required: `range`, `number`, `name`, `hex`,
/// `family`, `lengths`, `skeins`, `uncut`, `part-used m`, `dye lot`, `hook`, `note`,
/// `split of project`, `purchase id`. Other common words for them are understood, and titles ignore
/// case, spaces, hyphens and underscores.
///
/// - `lengths`: 0 or more, fractions allowed; the stash rounds them to the nearest strand (2.5,
///   3.33).
/// - `skeins`: 0 or more. Alone, or next to `uncut`, they are cut onto the card. Next to `lengths`
///   and without `uncut`, they are the uncut skeins, a whole number. If all three columns exist, a
///   row gives the amount on its card in lengths or in skeins, not both.
/// - `uncut`: uncut skeins, a whole number, 0 or more.
/// - `part-used m`: metres left of a part-used skein, 0 or more, kept to the centimetre.
/// - Amounts have digits and at most one decimal sign, a point or a comma, and are at most
///   4,294,967,295.
///
/// Colour, family, amounts, dye lot and note are optional: if such a value isn't valid for its
/// column, the row is imported without it and a [`Warning`](super::Warning) reports it.
///
/// A row is rejected, and the others read, if any other value isn't valid for its column, the
/// number is empty, an amount is too large, or two amounts describe the card. The same goes for a
/// number already in the file (in the same range, for the same split card or none, with the same
/// dye lot or none, ignoring case), another field with more than 1,000 characters or an invisible
/// one, more fields than in the header, or a quotation mark inside a bare field. Fields missing at
/// the end are empty. Empty rows are skipped.
///
/// # Errors
/// See [`FileError`].
pub fn read_cards(bytes: &[u8]) -> Result<CardFile, FileError> {
    sheet::read(bytes, &Column::OF_CARD_LIST, card_row, which)
}

/// Reads a card list whose columns the user assigned, ignoring their titles; reads and rejects rows
/// as [`read_cards`] does.
///
/// # Errors
/// See [`FileError`].
pub fn read_cards_as(bytes: &[u8], columns: &Columns) -> Result<CardFile, FileError> {
    let columns = (columns, &Column::OF_CARD_LIST[..]);
    sheet::read_as(bytes, columns, card_row, which)
}

/// The identity of a row, which may occur only once in a file.
fn which(row: &CardRow) -> (Option<String>, String, Option<String>, String) {
    let fold_some = |text: &Option<String>| text.as_deref().map(fold);
    (
        fold_some(&row.range),
        fold(&row.number),
        fold_some(&row.split_card_of),
        row.dye_lot.as_deref().map_or_else(String::new, fold),
    )
}

fn card_row(cells: &Cells<'_>) -> Result<CardRow, RowError> {
    let number = cells.number()?;
    let (amount, uncut) = amounts(cells, &number)?;
    let label = |column| cells.or_without(column, &number, cells.label(column));
    Ok(CardRow {
        line: cells.line(),
        range: cells.text(Column::Range)?,
        name: cells.text(Column::Name)?,
        colour: cells.or_without(Column::Hex, &number, cells.colour()),
        family: label(Column::Family),
        amount,
        uncut,
        part_cm: part_used(cells, &number)?,
        dye_lot: label(Column::DyeLot),
        hook: cells.text(Column::Hook)?,
        note: label(Column::Note),
        split_card_of: cells.text(Column::SplitCardOf)?,
        purchase: purchase(cells)?,
        tag: None,
        number,
    })
}

/// The purchase the row is of.
fn purchase(cells: &Cells<'_>) -> Result<Option<PurchaseId>, RowError> {
    let text = cells.text(Column::PurchaseId)?;
    text.map(|text| PurchaseId::from_list(&text).map_err(|_| RowError::Purchase(text)))
        .transpose()
}

/// The amount on the card, and the uncut skeins.
fn amounts(cells: &Cells<'_>, number: &str) -> Result<(Option<Amount>, Option<u32>), RowError> {
    let skeins_are_uncut = cells.header.has(Column::Lengths) && !cells.header.has(Column::Uncut);
    let count = |column, what| {
        let read = |text: &str, delimiter| amount::uncut(text, delimiter);
        or_without(cells, what, number, value(cells, column, read))
    };
    let lengths = value(cells, Column::Lengths, amount::lengths);
    let lengths = or_without(cells, Column::Lengths, number, lengths)?;
    let lengths = lengths.map(Amount::Lengths);
    if skeins_are_uncut {
        return Ok((lengths, count(Column::Skeins, Column::Uncut)?));
    }
    let skeins = value(cells, Column::Skeins, amount::skeins);
    let skeins = or_without(cells, Column::Skeins, number, skeins)?;
    let skeins = skeins.map(Amount::Skeins);
    if lengths.is_some() && skeins.is_some() {
        return Err(RowError::TwoAmounts);
    }
    Ok((lengths.or(skeins), count(Column::Uncut, Column::Uncut)?))
}

/// The rest of a part-used skein, in centimetres.
fn part_used(cells: &Cells<'_>, number: &str) -> Result<Option<u32>, RowError> {
    let metres = value(cells, Column::PartUsed, amount::centimetres);
    or_without(cells, Column::PartUsed, number, metres)
}

/// An amount, or `None` with a warning if it can't be read. One that is too large or below zero remains
/// an error, so its row is refused.
fn or_without<T>(
    cells: &Cells<'_>,
    column: Column,
    number: &str,
    amount: Result<Option<T>, RowError>,
) -> Result<Option<T>, RowError> {
    match amount {
        Err(
            impossible @ RowError::Amount {
                reason: ParseAmountError::TooMany { .. } | ParseAmountError::Negative(_),
                ..
            },
        ) => Err(impossible),
        amount => Ok(cells.or_without(column, number, amount)),
    }
}

fn value<T>(
    cells: &Cells<'_>,
    column: Column,
    read: impl Fn(&str, table::Delimiter) -> Result<T, ParseAmountError>,
) -> Result<Option<T>, RowError> {
    let text = cells.text(column)?;
    text.map(|text| read(&text, cells.delimiter))
        .transpose()
        .map_err(|reason| RowError::Amount { column, reason })
}

/// Writes a card list as CSV (RFC 4180): every column of [`Column::OF_CARD_LIST`], that of the
/// purchase only if a row belongs to one, with an empty cell for each missing value. [`read_cards`]
/// reads the same rows back, lengths to the strand. A field that a spreadsheet would take for a
/// formula is prefixed with an apostrophe, which reading removes again.
#[must_use]
pub fn write_cards_csv(rows: &[CardRow]) -> String {
    let mut text = String::new();
    let is_purchase = rows.iter().any(|row| row.purchase.is_some());
    let columns: Vec<Column> = Column::OF_CARD_LIST
        .into_iter()
        .filter(|column| is_purchase || *column != Column::PurchaseId)
        .collect();
    let titles: Vec<&str> = columns.iter().map(|column| column.title()).collect();
    table::write_row(&mut text, &titles);
    for row in rows {
        let cells: Vec<String> = columns.iter().map(|&column| cell(row, column)).collect();
        table::write_row(&mut text, &cells);
    }
    text
}

/// The text of a row's cell in a column.
fn cell(row: &CardRow, column: Column) -> String {
    let words = |text: &Option<String>| text.as_deref().map(|text| table::protect(text).into());
    let said = match column {
        Column::Range => words(&row.range),
        Column::Number => Some(table::protect(&row.number).into()),
        Column::Name => words(&row.name),
        Column::Hex => row.colour.map(|colour| colour.to_string()),
        Column::Family => words(&row.family),
        Column::Lengths => match row.amount {
            Some(Amount::Lengths(lengths)) => Some(amount::write_lengths(lengths)),
            _ => None,
        },
        Column::Skeins => match row.amount {
            Some(Amount::Skeins(skeins)) => Some(skeins.to_string()),
            _ => None,
        },
        Column::Uncut => row.uncut.map(|skeins| skeins.to_string()),
        Column::PartUsed => row.part_cm.map(amount::write_metres),
        Column::DyeLot => words(&row.dye_lot),
        Column::Hook => words(&row.hook),
        Column::Note => words(&row.note),
        Column::SplitCardOf => words(&row.split_card_of),
        Column::PurchaseId => row.purchase.map(PurchaseId::in_list),
        // The columns of a chart key don't describe a card.
        _ => None,
    };
    said.unwrap_or_default()
}

/// The stash as a card list, in wanted order, with each card's home as its hook. A card has one row
/// for each of its lots, or a single row without lots; an unrecorded lot gets no row if it is used
/// up and there are others. Split cards have rows of their own, after all whole cards, that name
/// them. O(cards · log cards).
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
                part_cm: (!split_card || of.part_cm > 0).then_some(of.part_cm),
                dye_lot: words(lot.as_str()),
                hook: kept.home.map(|hook| state.hook_name(hook)),
                note: words(kept.card.note.as_str()),
                split_card_of: split_card.then(|| state.split_card_tag(kept)),
                purchase: None,
            }
        })
        .collect()
}

/// The lots that get rows.
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

#[cfg(test)]
mod tests;
