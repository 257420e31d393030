//! Rows of a card list, a range list or a key, after reading and before the stash has judged them, and on
//! which terms they are taken.

use crate::model::card::Card;
use crate::model::colour::Srgb;
use crate::model::label::Label;
use crate::stash::columns::Column;
use crate::stash::event::{Event, LONGEST_EVENT};
use crate::stash::refusal::{Refusal, Rejected, RowFault};

/// How much thread a row says is on the card.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Skeins that were cut onto the card; at least 0, fractions allowed.
    Skeins(f64),
    /// Lengths on the card; at least 0, fractions allowed, taken to the nearest strand.
    Lengths(f64),
}

/// One row of a card list. `None` means the column is absent or the cell is empty: nothing is said.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CardRow {
    /// Line of the file where the row starts, counted from 1 (the header is line 1).
    pub line: u64,
    /// The maker's range; `None` where the file has no such column or the cell is empty.
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
    /// The dye lot the thread is of. Further rows of the card may say thread of other lots.
    pub dye_lot: Option<String>,
    /// The mark of the hook where the card hangs.
    pub hook: Option<String>,
    /// A note.
    pub note: Option<String>,
    /// Which of several cards of the number; nothing means the one without a tag.
    pub tag: Option<String>,
    /// For a split card, what stands after the `@` in its name: its project, mostly.
    pub split_card_of: Option<String>,
}

/// One row of a range's range list.
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

/// One row of a pattern's key. A count that is not said is 0.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct KeyRow {
    /// Line of the file where the row starts, counted from 1.
    pub line: u64,
    /// The symbol in the chart.
    pub symbol: Option<String>,
    /// The maker's range.
    pub range: Option<String>,
    /// The number, trimmed, never empty.
    pub number: String,
    /// The colour's name.
    pub name: Option<String>,
    /// The colour.
    pub colour: Option<Srgb>,
    /// Strands in the needle, 0 to 12.
    pub strands: u8,
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

/// The range of a card list that names none, where the stash has none either.
pub const RANGE_WITHOUT_NAME: &str = "Thread";

/// How a list is taken.
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

/// The event that a list makes, if the record can take it. O(size of the event).
///
/// # Errors
/// When it is longer than [`LONGEST_EVENT`].
pub(in crate::stash::command) fn if_it_fits(event: Event) -> Result<Event, Refusal> {
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

/// What rows say that is written on a card as it stands, without asking the stash.
#[derive(Default)]
pub(super) struct Written {
    name: Option<Label>,
    colour: Option<Srgb>,
    note: Option<Label>,
}

impl Written {
    /// What a row says.
    pub(super) fn of(row: &CardRow) -> Result<Self, RowFault> {
        Ok(Self {
            name: label(row.name.as_ref(), Column::Name)?,
            colour: row.colour,
            note: label(row.note.as_ref(), Column::Note)?,
        })
    }

    /// Takes in what another row of the same card says, which may not be something else. `line` is the line of the
    /// first.
    pub(super) fn take_in(&mut self, other: Self, line: u64) -> Result<(), RowFault> {
        both(&mut self.name, other.name, line, Column::Name)?;
        both(&mut self.colour, other.colour, line, Column::Hex)?;
        both(&mut self.note, other.note, line, Column::Note)
    }

    /// Writes it on a card. What is not said stays; a name is never taken away.
    pub(super) fn onto(&self, card: &mut Card) {
        if let Some(name) = self.name.as_ref().filter(|name| !name.is_empty()) {
            card.name = name.clone();
        }
        card.colour = self.colour.or(card.colour);
        if let Some(note) = &self.note {
            card.note = note.clone();
        }
    }
}

/// Takes in what another row of the same card says in a column.
pub(super) fn both<T: PartialEq>(
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

/// The text of a cell as a label.
pub(super) fn label(text: Option<&String>, column: Column) -> Result<Option<Label>, RowFault> {
    text.map(|text| Label::new(text).map_err(|why| RowFault::Label(column, why)))
        .transpose()
}
