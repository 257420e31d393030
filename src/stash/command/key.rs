//! A pattern's key: bringing it in from a list, and writing in it.

pub mod edit;

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::import::ranges::Ranges;
use super::import::{Terms, settle};
use super::ring::{opened, project_name};
use crate::model::ids::RangeId;
use crate::model::label::Label;
use crate::model::number::Number;
use crate::model::ring::KeyEntry;
use crate::stash::change::{Change, ring_changes};
use crate::stash::event::{Act, Event};
use crate::stash::intake::{KeyRow, Rejected};
use crate::stash::kit::progress::carry_used;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// A colour of a key that is not in the stash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotOwned {
    /// Line of the file.
    pub line: u64,
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: Number,
    /// Whether the range's shade list has it. Where there is a list and it has not, the number may
    /// be a slip.
    pub in_list: bool,
}

/// What came of a key.
#[derive(Debug, Clone)]
pub struct Keyed {
    /// The event; `None` where the key was known already.
    pub event: Option<Event>,
    /// Lines taken.
    pub entries: u32,
    /// Colours that are not in the stash. They are in the key all the same.
    pub not_owned: Vec<NotOwned>,
    /// Rows that were not taken.
    pub rejected: Vec<Rejected>,
}

/// Brings in the key of a project, in place of any key it had; its order is the order of the ring.
/// A project without a ring gets one, and a closed one is opened again. What was used of a colour
/// stays used where the new key has the colour.
///
/// O(rows · log cards).
///
/// # Errors
/// When the project has no name, there are no rows, no row can be taken, or one cannot and the
/// terms are strict.
pub fn import(
    state: &State,
    rows: &[KeyRow],
    unreadable: Vec<Rejected>,
    project: &str,
    terms: &Terms,
    now: Timestamp,
) -> Result<Keyed, Refusal> {
    let project = project_name(project)?;
    let total = rows.len() + unreadable.len();
    if total == 0 {
        return Err(Refusal::NoRows);
    }
    let mut ranges = Ranges::new(state, terms.range.as_deref())?;
    let mut rejected = unreadable;
    let mut key = Vec::with_capacity(rows.len());
    let mut used = BTreeSet::new();
    let mut not_owned = Vec::new();
    for row in rows {
        match entry(&mut ranges, row) {
            Ok(entry) => {
                used.insert(entry.range);
                if !owned(state, entry.range, &entry.number) {
                    not_owned.push(NotOwned {
                        line: row.line,
                        range: ranges.name(entry.range).to_owned(),
                        number: entry.number.clone(),
                        in_list: ranges.shade(entry.range, &entry.number).is_some(),
                    });
                }
                key.push(entry);
            }
            Err(reason) => rejected.push(Rejected {
                line: row.line,
                reason,
            }),
        }
    }
    settle(&mut rejected, total, terms.strict || key.is_empty())?;
    let entries = u32::try_from(key.len()).unwrap_or(u32::MAX);
    let (old, mut ring) = opened(state, project, now);
    let old_key = std::mem::replace(&mut ring.key, key);
    carry_used(state, &old_key, &mut ring);
    let act = Act::ImportKey {
        ring: ring.id,
        colours: entries,
    };
    let event = (old != Some(&ring)).then(|| {
        let mut changes: Vec<Change> = ranges.changes(&used).collect();
        changes.append(&mut ring_changes(old, &ring));
        Event { act, changes }
    });
    Ok(Keyed {
        event,
        entries,
        not_owned,
        rejected,
    })
}

fn entry(ranges: &mut Ranges, row: &KeyRow) -> Result<KeyEntry, String> {
    let label = |text: &Option<String>, what: &str| {
        let text = text.as_deref().unwrap_or_default();
        Label::new(text).map_err(|wrong| format!("{what}: {wrong}"))
    };
    let number = Number::new(&row.number).map_err(|wrong| wrong.to_string())?;
    let symbol = label(&row.symbol, "symbol")?;
    let name = label(&row.name, "name")?;
    Ok(KeyEntry {
        symbol,
        range: ranges.named(row.range.as_deref())?,
        number,
        strands: row.strands,
        stitches: row.stitches,
        name,
        colour: row.colour,
        half: row.half,
        quarter: row.quarter,
        three_quarter: row.three_quarter,
        backstitch: row.backstitch,
        backstitch_strands: row.backstitch_strands,
        french_knots: row.french_knots,
        used_cm: 0,
    })
}

/// Whether a card of that colour was brought in, wherever it is.
fn owned(state: &State, range: RangeId, number: &Number) -> bool {
    let cards = state.index().numbered(&number.key());
    cards.iter().any(|&(of, _)| of == range)
}

#[cfg(test)]
mod tests;
