//! Chart keys: importing and editing them.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::import::ranges::{Ranges, after, tight};
use super::import::{KeyRow, Terms, if_it_fits, settle};
use super::ring::{opened, project_name};
use crate::model::ids::RangeId;
use crate::model::label::{Label, Name, ParseNameError};
use crate::model::number::{Number, ParseNumberError};
use crate::model::ring::{
    ColourRef, KeyLine, KeyThread, KeyWork, Needle, NeedleError, Notion, NotionKind, Ring,
    StitchCounts,
};
use crate::stash::colours::shade;
use crate::stash::columns::Column;
use crate::stash::event::{Act, Change, Event, ring_changes};
use crate::stash::refusal::{Refusal, Rejected, RowFault};
use crate::stash::state::State;

/// A colour of a chart key that isn't in the stash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotOwned {
    /// Line of the file.
    pub line: u64,
    /// The range's name.
    pub range: String,
    /// The number.
    pub number: Number,
    /// Whether the range list contains it. If there is a list without it, the number may be a typo.
    pub in_list: bool,
    /// Other ranges in which the stash has a card of that number.
    pub owned_in: Vec<String>,
}

/// The outcome of importing a chart key.
#[derive(Debug, Clone)]
pub struct Keyed {
    /// The event; `None` if the key is unchanged.
    pub event: Option<Event>,
    /// Accepted lines.
    pub entries: u32,
    /// Colours in the key, each counted once.
    pub colours: usize,
    /// How many of them are in the stash.
    pub owned: usize,
    /// Colours that aren't in the stash. They are in the key all the same.
    pub not_owned: Vec<NotOwned>,
    /// Refused rows.
    pub rejected: Vec<Rejected>,
}

/// Imports a project's chart key, replacing any existing one. Its order is the order of the ring. A
/// project without a ring gets one, and a closed one is reopened. The amounts used of its colours
/// stay.
///
/// Numbers joined by `+` are the threads of a blend; each counts by itself. A number may follow the
/// name of its range. If neither the row nor the terms name a range, a number that the stash has in
/// only one range belongs to that range.
///
/// O(rows · log cards).
///
/// # Errors
/// When the project has no name, there are no rows, no row can be accepted, one can't and the terms
/// are strict, or the event would be too long for the record.
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
    let mut colours = Colours::default();
    for row in rows {
        match key_line(state, &mut ranges, row) {
            Ok(line) => {
                for thread in line.threads() {
                    colours.add(state, &ranges, row.line, &thread.colour);
                }
                key.push(line);
            }
            Err(reason) => rejected.push(Rejected {
                line: row.line,
                reason,
                number: None,
            }),
        }
    }
    settle(&mut rejected, total, terms.strict || key.is_empty())?;
    let entries = u32::try_from(key.len()).unwrap_or(u32::MAX);
    let (old, mut ring) = opened(state, project, now);
    ring.key = key;
    let act = Act::ImportKey {
        ring: ring.id,
        colours: entries,
    };
    let event = (old != Some(&ring)).then(|| {
        let mut changes: Vec<Change> = ranges.changes(&colours.ranges).collect();
        changes.append(&mut ring_changes(old, &ring));
        Event { act, changes }
    });
    Ok(Keyed {
        event: event.map(if_it_fits).transpose()?,
        entries,
        colours: colours.all.len(),
        owned: colours.all.len() - colours.unowned.len(),
        not_owned: colours.not_owned,
        rejected,
    })
}

/// The colours of an imported key.
#[derive(Default)]
struct Colours {
    ranges: BTreeSet<RangeId>,
    all: BTreeSet<ColourRef>,
    unowned: BTreeSet<ColourRef>,
    not_owned: Vec<NotOwned>,
}

impl Colours {
    fn add(&mut self, state: &State, ranges: &Ranges, line: u64, colour: &ColourRef) {
        self.ranges.insert(colour.range);
        self.all.insert(colour.clone());
        let has = owning(state, &colour.number);
        if !has.contains(&colour.range) {
            self.unowned.insert(colour.clone());
            self.not_owned.push(NotOwned {
                line,
                range: ranges.name(colour.range).to_owned(),
                number: colour.number.clone(),
                in_list: ranges.shade(colour.range, &colour.number).is_some(),
                owned_in: has.iter().map(|&of| ranges.name(of).to_owned()).collect(),
            });
        }
    }
}

fn labelled(text: &Option<String>, column: Column) -> Result<Label, RowFault> {
    let text = text.as_deref().unwrap_or_default();
    Label::new(text).map_err(|why| RowFault::Label(column, why))
}

/// The line of a row: its threads and their stitches, or a notion.
fn key_line(state: &State, ranges: &mut Ranges, row: &KeyRow) -> Result<KeyLine, RowFault> {
    let symbol = labelled(&row.symbol, Column::Symbol)?;
    if let Some(kind) = row.notion {
        let work = KeyWork::Notion(notion(row, kind)?);
        return Ok(KeyLine { symbol, work });
    }
    if row.pieces > 0 {
        return Err(RowFault::PiecesOfThread);
    }
    let threads = match blend_in(state, ranges, row) {
        Some(numbers) => blended(state, ranges, row, &numbers)?,
        None if row.strands_of_each.is_empty() => vec![one_thread(state, ranges, row)?],
        None => return Err(RowFault::StrandsOfEach(1)),
    };
    Ok(KeyLine {
        symbol,
        work: KeyWork::Threads {
            needle: Needle::new(threads).map_err(RowFault::Needle)?,
            stitches: StitchCounts {
                full: row.stitches,
                half: row.half,
                quarter: row.quarter,
                three_quarter: row.three_quarter,
                backstitch: row.backstitch,
                backstitch_strands: row.backstitch_strands,
                french_knots: row.french_knots,
            },
        },
    })
}

/// The notion of a row, named by its number and its name.
fn notion(row: &KeyRow, kind: NotionKind) -> Result<Notion, RowFault> {
    let name = row.name.as_deref().unwrap_or_default();
    let name = [row.number.as_str(), name].join(" ");
    let pieces = row.pieces;
    match Name::new(&name) {
        Ok(name) => Ok(Notion { name, kind, pieces }),
        Err(ParseNameError::Empty) => Err(RowFault::Number(ParseNumberError::Empty)),
        Err(ParseNameError::Label(why)) => Err(RowFault::Label(Column::Name, why)),
    }
}

fn one_thread(state: &State, ranges: &mut Ranges, row: &KeyRow) -> Result<KeyThread, RowFault> {
    let (range, number) = meant(state, ranges, row)?;
    let name = labelled(&row.name, Column::Name)?;
    let range = match range {
        Some(range) => range,
        None => ranges.named(row.range.as_deref())?,
    };
    Ok(KeyThread {
        strands: row.strands,
        name,
        hex: row.colour,
        ..KeyThread::new(ColourRef::new(range, number))
    })
}

/// The numbers of a row that mean several threads in one needle: those joined by `+`, unless the
/// stash has the whole text as a number.
fn blend_in<'a>(state: &State, ranges: &Ranges, row: &'a KeyRow) -> Option<Vec<&'a str>> {
    let numbers: Vec<&str> = row.number.split('+').map(str::trim).collect();
    if numbers.len() < 2 || numbers.iter().any(|number| number.is_empty()) {
        return None;
    }
    let whole = meant(state, ranges, row).ok();
    let known = whole.is_some_and(|(range, number)| {
        let of = |range| has(state, range, &number);
        range.map_or_else(|| state.ranges().any(|range| of(range.id)), of)
    });
    (!known).then_some(numbers)
}

/// The threads of a blend. A single number of strands is divided evenly. The names and strands of
/// each are in the order of the numbers.
fn blended(
    state: &State,
    ranges: &mut Ranges,
    row: &KeyRow,
    numbers: &[&str],
) -> Result<Vec<KeyThread>, RowFault> {
    let threads = u8::try_from(numbers.len()).unwrap_or(u8::MAX);
    let each = match row.strands_of_each.as_slice() {
        [] if row.strands.is_multiple_of(threads) => {
            vec![row.strands / threads; numbers.len()]
        }
        each if each.len() == numbers.len() => each.to_vec(),
        _ => return Err(RowFault::StrandsOfEach(numbers.len())),
    };
    let names: Vec<&str> = row.name.iter().flat_map(|name| name.split('+')).collect();
    let names = Some(names).filter(|names| names.len() == numbers.len());
    let mut blend = Vec::with_capacity(numbers.len());
    for (at, (number, strands)) in numbers.iter().zip(each).enumerate() {
        let name = names.as_ref().and_then(|names| names.get(at));
        let of_one = KeyRow {
            number: (*number).to_owned(),
            name: name.map(|name| name.trim().to_owned()),
            colour: None,
            strands,
            ..row.clone()
        };
        blend.push(one_thread(state, ranges, &of_one)?);
    }
    Ok(blend)
}

/// The ranges with an imported card of that number, wherever it is.
fn owning(state: &State, number: &Number) -> BTreeSet<RangeId> {
    let cards = state.index().numbered(&number.key());
    cards.iter().map(|&(range, _)| range).collect()
}

/// Whether a range of the stash has a number, as a card or in its range list.
fn has(state: &State, range: RangeId, number: &Number) -> bool {
    let listed = || shade(state.range(range)?, number);
    owning(state, number).contains(&range) || listed().is_some()
}

/// The number of a row, and its range if the stash makes it clear: a range whose name comes before
/// the number, else, if no range is given, the only one with that number.
fn meant(
    state: &State,
    ranges: &Ranges,
    row: &KeyRow,
) -> Result<(Option<RangeId>, Number), RowFault> {
    let number = |text: &str| Number::new(text).map_err(RowFault::Number);
    let said = row.range.as_deref().map(tight);
    let said = said.filter(|range| !range.is_empty());
    let prefixed = state.ranges().filter_map(|range| {
        let name = tight(range.name.as_str());
        let fits = said.as_ref().is_none_or(|said| *said == name);
        let (rest, apart) = after(&row.number, &name).filter(|_| fits)?;
        let number = Number::new(rest).ok()?;
        // 'B12' may be a number itself; only a card or a range list shows that it is 12 of B.
        (apart || has(state, range.id, &number)).then_some((name.len(), range.id, number))
    });
    let whole = number(&row.number);
    let owned = whole
        .as_ref()
        .map_or_else(|_| BTreeSet::new(), |whole| owning(state, whole));
    let known_so = match said {
        Some(_) => state
            .find_range(row.range.as_deref().unwrap_or_default())
            .is_some_and(|range| {
                whole
                    .as_ref()
                    .is_ok_and(|whole| has(state, range.id, whole))
            }),
        None => !owned.is_empty(),
    };
    if known_so {
        let only = owned.first().filter(|_| owned.len() == 1).copied();
        let free = said.is_none() && !ranges.is_asked();
        return Ok((only.filter(|_| free), whole?));
    }
    Ok(match prefixed.max_by_key(|&(length, ..)| length) {
        Some((_, range, number)) => (Some(range), number),
        None => (None, whole?),
    })
}

/// Writes a line of a chart key: replaces line `at`, counted from 0, or appends it if there is no
/// such line. Of a blend, only the first thread is replaced. `with` is the substitute colour of a
/// line with one thread, as `NUMBER` or `RANGE:NUMBER`: empty for no substitute, `None` to leave it
/// unchanged. Returns `None` if the key doesn't change.
///
/// # Errors
/// When the ring is closed, the row can't be a line of a key, or the substitute colour is unknown.
pub fn write(
    state: &State,
    ring: &Ring,
    at: Option<usize>,
    row: &KeyRow,
    with: Option<&str>,
) -> Result<Option<Event>, Refusal> {
    let mut ranges = Ranges::new(state, None)?;
    let new = key_line(state, &mut ranges, row).map_err(Refusal::NotALine)?;
    let old = at.and_then(|at| ring.key.get(at));
    let needle = |wrong| Refusal::NotALine(RowFault::Needle(wrong));
    let mut new = with_the_rest_of(old, new).map_err(needle)?;
    if let (Some(with), KeyWork::Threads { needle: of, .. }) = (with, &mut new.work)
        && let [thread] = of.threads()
    {
        let stitched_with = match with.is_empty() {
            true => None,
            false => {
                Some(state.find_colour(with)?).map(|(range, number)| ColourRef::new(range, number))
            }
        };
        let thread = KeyThread {
            stitched_with,
            ..thread.clone()
        };
        *of = Needle::new(vec![thread]).map_err(needle)?;
    }
    let used: BTreeSet<RangeId> = new.threads().iter().map(|t| t.colour.range).collect();
    let changed = put(ring, at, new)?;
    Ok(changed.map(|mut event| {
        let mut changes: Vec<Change> = ranges.changes(&used).collect();
        changes.append(&mut event.changes);
        Event { changes, ..event }
    }))
}

/// A line of one thread that replaces another line: the other threads of a blend stay, and a thread
/// of the same colour keeps its substitute.
fn with_the_rest_of(old: Option<&KeyLine>, new: KeyLine) -> Result<KeyLine, NeedleError> {
    let old = old.map_or(&[][..], KeyLine::threads);
    let KeyWork::Threads { needle, stitches } = &new.work else {
        return Ok(new);
    };
    let (Some((first, rest)), [thread]) = (old.split_first(), needle.threads()) else {
        return Ok(new);
    };
    let with = first.stitched_with.clone();
    let thread = KeyThread {
        stitched_with: with.filter(|_| first.colour == thread.colour),
        ..thread.clone()
    };
    let threads = [&[thread], rest].concat();
    Ok(KeyLine {
        work: KeyWork::Threads {
            needle: Needle::new(threads)?,
            stitches: *stitches,
        },
        symbol: new.symbol,
    })
}

/// Puts a line into a chart key, of one thread, a blend or a notion: replaces line `at`, counted
/// from 0, or appends it if there is no such line. `None` if the key doesn't change.
///
/// # Errors
/// When the ring is closed.
pub fn put(ring: &Ring, at: Option<usize>, line: KeyLine) -> Result<Option<Event>, Refusal> {
    edited(ring, |key| match at.and_then(|at| key.get_mut(at)) {
        Some(old) => *old = line,
        None => key.push(line),
    })
}

/// Sets the substitute colour of a thread in a line, or removes it with `None`. Returns `None` if
/// the key doesn't change, or has no such thread.
///
/// # Errors
/// When the ring is closed, or the substitute is the chart's own colour.
pub fn stitch_with(
    ring: &Ring,
    at: usize,
    thread: usize,
    with: Option<ColourRef>,
) -> Result<Option<Event>, Refusal> {
    let Some(old) = ring.key.get(at) else {
        return Ok(None);
    };
    let KeyWork::Threads { needle, stitches } = &old.work else {
        return Ok(None);
    };
    let mut threads = needle.threads().to_vec();
    if let Some(thread) = threads.get_mut(thread) {
        thread.stitched_with = with;
    }
    let needle =
        Needle::new(threads).map_err(|wrong| Refusal::NotALine(RowFault::Needle(wrong)))?;
    let line = KeyLine {
        symbol: old.symbol.clone(),
        work: KeyWork::Threads {
            needle,
            stitches: *stitches,
        },
    };
    put(ring, Some(at), line)
}

/// Sets the substitute for a colour of the chart in every line that has it, or removes it with
/// `None`. The colours are named `NUMBER` or `RANGE:NUMBER`, owned or not. Returns `None` if
/// nothing changes. The amounts used of either colour stay.
///
/// # Errors
/// When the ring is closed, its key doesn't have the colour or would replace it by itself, or a
/// colour is unknown.
pub fn swap(
    state: &State,
    ring: &Ring,
    colour: &str,
    with: Option<&str>,
) -> Result<Option<Event>, Refusal> {
    let (range, number) = state.find_colour(colour)?;
    let of_chart = ColourRef::new(range, number);
    let with = match with {
        Some(name) => {
            let (range, number) = state.find_colour(name)?;
            Some(ColourRef::new(range, number))
        }
        None => None,
    };
    if !ring.threads().any(|thread| thread.colour == of_chart) {
        return Err(Refusal::NotInKey {
            name: colour.trim().to_owned(),
            project: ring.project.to_string(),
        });
    }
    let mut key = Vec::with_capacity(ring.key.len());
    for line in &ring.key {
        let KeyWork::Threads { needle, stitches } = &line.work else {
            key.push(line.clone());
            continue;
        };
        let mut threads = needle.threads().to_vec();
        for thread in threads.iter_mut().filter(|of| of.colour == of_chart) {
            thread.stitched_with.clone_from(&with);
        }
        let needle =
            Needle::new(threads).map_err(|wrong| Refusal::NotALine(RowFault::Needle(wrong)))?;
        key.push(KeyLine {
            symbol: line.symbol.clone(),
            work: KeyWork::Threads {
                needle,
                stitches: *stitches,
            },
        });
    }
    edited(ring, |old| *old = key)
}

/// Removes line `at`, counted from 0. `None` if there is no such line.
///
/// # Errors
/// When the ring is closed.
pub fn strike(ring: &Ring, at: usize) -> Result<Option<Event>, Refusal> {
    edited(ring, |key| {
        if at < key.len() {
            key.remove(at);
        }
    })
}

/// Moves line `from`, counted from 0, to position `to`. The order of the key is the order of the
/// ring. `None` if either doesn't exist, or they are the same.
///
/// # Errors
/// When the ring is closed.
pub fn shift(ring: &Ring, from: usize, to: usize) -> Result<Option<Event>, Refusal> {
    edited(ring, |key| {
        if from < key.len() && to < key.len() {
            let line = key.remove(from);
            key.insert(to, line);
        }
    })
}

/// The event for an edited key, if it changed. The amounts used of its colours stay.
fn edited(ring: &Ring, edit: impl FnOnce(&mut Vec<KeyLine>)) -> Result<Option<Event>, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    let mut after = ring.clone();
    edit(&mut after.key);
    Ok((after != *ring).then(|| Event {
        act: Act::EditKey { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    }))
}

#[cfg(test)]
mod tests;
