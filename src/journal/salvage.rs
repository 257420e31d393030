//! Saves the provable events of a damaged record, and makes a sound new stash from them.
//!
//! # What is proved
//!
//! The sum in each line covers the previous line's sum and the line itself. So
//!
//! - the events before the damage are proved from the header on;
//! - a line after the damage is proved if it verifies against the sum **written** in the preceding
//!   line, even if that line is otherwise damaged, or in the line holding the previous event,
//!   wherever that is;
//! - a line with only its sum damaged is proved if the next line, or `record.end`, has the sum that
//!   it should have had;
//! - blanks, NUL bytes and other line endings at the end of a line, and a byte order mark before
//!   the first, are ignored: the sum proves the rest.
//!
//! No sum can prove that a line after the damage belongs to *this* record. Salvage takes runs of
//! proved lines whose numbers appear in no earlier run, that don't begin with a first event, and
//! that don't contradict `record.end`. From those it takes, in numerical order, the events that
//! apply to the state so far and keep every invariant; an undo or redo only if its target was
//! taken.

use std::collections::{BTreeSet, HashMap};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::de::IgnoredAny;

use super::error::{LineError, RecordError};
use super::folder::{Folder, Made, RECORD, Unfinished};
use super::format::{self, Entry, Envelope, FORMAT_VERSION, Sum};
use super::format::{CommitMarker, MARKER, MarkerFile, MarkerState};
use super::reader::{Lines, LogPosition, Step};
use crate::stash::apply::ApplyError;
use crate::stash::event::{Act, Event};
use crate::stash::history::History;
use crate::stash::state::State;

/// The recoverable and unrecoverable parts of a record. `T` describes a change.
#[derive(Debug)]
pub struct Salvage<T> {
    /// The recoverable events in order, renumbered from 1.
    pub taken: Vec<Entry<Event>>,
    /// The unrecoverable parts, in chronological order.
    pub left_out: Vec<LeftOut<T>>,
    /// The stash that the recoverable events make.
    pub state: State,
}

/// Something left out of the new stash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut<T> {
    /// The line of the damaged record, from 1; `None` if no line holds it any more.
    pub line: Option<u64>,
    /// What it was, as far as it can be read.
    pub what: What<T>,
    /// Why it was left out.
    pub reason: Why,
}

/// The subject of a line, or of events that no line holds any more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What<T> {
    /// A change, described with the stash as it was at that point.
    Change(T),
    /// A change that can't be read completely.
    Fragment {
        /// The kind of change, by its name in the record.
        kind: Option<String>,
        /// When it was made, as written in the record.
        time: Option<String>,
    },
    /// The header of a record, which holds no change.
    Header,
    /// A first line that isn't a header.
    FirstLine,
    /// An empty line.
    Empty,
    /// An unreadable line.
    Unreadable,
    /// A range of changes that no line holds.
    Gone {
        /// The number of the first.
        first: u64,
        /// The number of the last.
        last: u64,
    },
}

/// Why an event was left out.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Why {
    /// The line isn't proved, or isn't understood.
    LineError(LineError),
    /// The line is a duplicate.
    Twice,
    /// The line is proved, but not as part of this record.
    OtherRecord,
    /// The event doesn't apply without the lost ones.
    ApplyError(ApplyError),
    /// The change that it undoes or redoes is missing.
    NothingToTurn(u64),
    /// The line is gone.
    Gone,
    /// The line is so long that reading stopped here.
    TooLong,
}

impl From<LineError> for Why {
    fn from(flaw: LineError) -> Self {
        Self::LineError(flaw)
    }
}

impl From<ApplyError> for Why {
    fn from(misfit: ApplyError) -> Self {
        Self::ApplyError(misfit)
    }
}

/// The most missing lines of a record that are reported one by one.
const MOST_GONE: u64 = 100_000;

/// Finds the recoverable events of the record in `dir`, without the lock and without changing
/// anything. `tell` describes a change that can't be recovered. Time and memory are linear in the
/// size of the record.
///
/// # Errors
/// When there is no record, it can't be read, or its format is newer than this program.
pub fn look<T>(dir: &Path, tell: impl Fn(&State, &Event) -> T) -> Result<Salvage<T>, RecordError> {
    let rows = Rows::read(dir)?;
    let ours = rows.ours();
    let is_ours = |row: &Row| row.run.is_some_and(|run| ours.contains(&run));
    let own = rows.rows.iter().filter(|row| is_ours(row));
    // A number beyond the reach of a record this long is a slip, and says nothing about lost
    // events.
    let farthest = rows.rows.len() as u64 + MOST_GONE;
    let own = own.filter_map(|row| row.seq);
    let own: BTreeSet<u64> = own.filter(|&seq| seq <= farthest).collect();
    let last = own.last().copied().unwrap_or(0);
    let acknowledged = rows.known.as_ref().map_or(0, |end| end.events);
    // Whatever the marker says, report no more events than could have existed.
    let due = acknowledged
        .min(last + rows.rows.len() as u64 + 1)
        .max(last);
    let mut gone: BTreeSet<u64> = (1..=due).collect();
    let mut order: Vec<(u64, &Row)> = Vec::with_capacity(rows.rows.len());
    for row in &rows.rows {
        // An unproved line goes where its number says, or else where it is in the file.
        let by_number = row
            .seq
            .filter(|seq| is_ours(row) || (*seq <= due && !own.contains(seq)));
        let at = by_number.unwrap_or_else(|| row.line.saturating_sub(1));
        gone.remove(&at);
        if !(row.is_header() && row.line == 1) {
            order.push((at, row));
        }
    }
    order.sort_by_key(|&(at, row)| (at, row.line));
    let mut walk = Walk::new(tell);
    for (at, row) in order {
        let before: Vec<u64> = gone.range(..at).copied().collect();
        walk.gone(&before);
        gone.retain(|&seq| seq >= at);
        walk.row(row, is_ours(row));
    }
    let mut rest: Vec<u64> = gone.into_iter().collect();
    if acknowledged > due {
        rest.push(acknowledged);
    }
    walk.gone(&rest);
    if let Some(line) = rows.too_long {
        walk.leave(Some(line), What::Unreadable, Why::TooLong);
    }
    Ok(walk.salvage())
}

/// Applies events one after another and notes those that are left out.
struct Walk<T, F> {
    tell: F,
    state: State,
    history: History,
    taken: Vec<Entry<Event>>,
    left_out: Vec<LeftOut<T>>,
    /// The new number of each event taken.
    numbers: HashMap<u64, u64>,
    /// The numbers of the record's own events tried so far.
    tried: BTreeSet<u64>,
    /// The lines seen so far.
    seen: BTreeSet<Vec<u8>>,
}

impl<T, F: Fn(&State, &Event) -> T> Walk<T, F> {
    fn new(tell: F) -> Self {
        Self {
            tell,
            state: State::default(),
            history: History::default(),
            taken: Vec::new(),
            left_out: Vec::new(),
            numbers: HashMap::new(),
            tried: BTreeSet::new(),
            seen: BTreeSet::new(),
        }
    }

    fn leave(&mut self, line: Option<u64>, what: What<T>, reason: Why) {
        self.left_out.push(LeftOut { line, what, reason });
    }

    /// Notes events that no line holds.
    fn gone(&mut self, seqs: &[u64]) {
        if let (Some(&first), Some(&last)) = (seqs.first(), seqs.last()) {
            self.leave(None, What::Gone { first, last }, Why::Gone);
        }
    }

    fn row(&mut self, row: &Row, ours: bool) {
        let twice = match row.seq.filter(|_| ours) {
            Some(seq) => !self.tried.insert(seq),
            None => self.seen.contains(&row.bytes),
        };
        self.seen.insert(row.bytes.clone());
        let why = if twice && !row.is_empty() {
            Why::Twice
        } else if row.run.is_some() && !ours {
            Why::OtherRecord
        } else {
            match (&row.entry, row.run) {
                (Ok(entry), Some(_)) => match self.take(entry) {
                    Ok(()) => return,
                    Err(why) => why,
                },
                (Err(flaw @ LineError::UnknownEvent { .. }), _) => flaw.clone().into(),
                _ if row.is_header() => Why::OtherRecord,
                _ if row.unfinished => LineError::Unfinished.into(),
                _ if row.line == 1 && row.seq.is_none() => LineError::Header.into(),
                (Ok(_), None) => LineError::Changed.into(),
                (Err(flaw), _) => flaw.clone().into(),
            }
        };
        self.leave(Some(row.line), self.what(row), why);
    }

    /// Applies an event under its new number.
    fn take(&mut self, entry: &Entry<Event>) -> Result<(), Why> {
        let mut event = entry.event.clone();
        // An undo that applies by chance must not revert a change other than its own.
        let turns = match &mut event.act {
            Act::Undo { seq } => Some((seq, self.history.last_done())),
            Act::Redo { seq } => Some((seq, self.history.last_undone())),
            _ => None,
        };
        if let Some((seq, last)) = turns {
            let now = self.numbers.get(seq).copied();
            let fits = now.filter(|&now| last.is_some_and(|past| past.seq == now));
            *seq = fits.ok_or(Why::NothingToTurn(*seq))?;
        }
        self.state.apply(&event)?;
        let seq = self.taken.len() as u64 + 1;
        self.history.note(seq, event.clone());
        self.numbers.insert(entry.seq, seq);
        self.taken.push(Entry {
            seq,
            id: entry.id,
            stamp: entry.stamp,
            time: entry.time,
            by: entry.by.clone(),
            event,
        });
        Ok(())
    }

    /// The subject of a line, as far as it can be read.
    fn what(&self, row: &Row) -> What<T> {
        if row.is_empty() {
            return What::Empty;
        }
        if row.is_header() {
            return What::Header;
        }
        if let Ok(entry) = &row.entry {
            return What::Change((self.tell)(&self.state, &entry.event));
        }
        let text = String::from_utf8_lossy(&row.bytes);
        let after = |key: &str| {
            let (_, rest) = text.split_once(key)?;
            let (value, _) = rest.split_once('"')?;
            let plain = |c: char| c.is_ascii_alphanumeric() || "_-:.".contains(c);
            (value.len() <= 40 && !value.is_empty() && value.chars().all(plain))
                .then(|| value.to_owned())
        };
        let kind = after("\"act\":{\"").or_else(|| after("\"act\":\""));
        let time = after("\"time\":\"");
        match (kind, time) {
            (None, None) if row.line == 1 => What::FirstLine,
            (None, None) => What::Unreadable,
            (kind, time) => What::Fragment { kind, time },
        }
    }

    fn salvage(self) -> Salvage<T> {
        Salvage {
            taken: self.taken,
            left_out: self.left_out,
            state: self.state,
        }
    }
}

/// Why a new stash can't be written. Nothing of it is left behind.
#[derive(Debug)]
pub enum WriteError {
    /// The folder isn't empty.
    NotEmpty(PathBuf),
    /// The folder or the record can't be written.
    Failed {
        /// The folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
}

/// Writes a stash with these events, numbered from 1, to an empty or missing folder. The record
/// appears there whole or not at all, with the mode and owner of the record in `like`.
///
/// # Errors
/// When the folder isn't empty, or the disk fails.
pub fn write(dir: &Path, like: &Path, entries: &[Entry<Event>]) -> Result<(), WriteError> {
    let failed = |source| WriteError::Failed {
        path: dir.to_owned(),
        source,
    };
    let made = Made::make(dir).map_err(failed)?;
    let folder = Folder::open(dir).map_err(failed)?;
    let folder = folder.ok_or_else(|| failed(io::ErrorKind::NotFound.into()))?;
    if !folder.names().map_err(failed)?.is_empty() {
        return Err(WriteError::NotEmpty(dir.to_owned()));
    }
    let like = Folder::open(like).map_err(failed)?;
    let like = like.as_ref().unwrap_or(&folder);
    let mut new = folder.begin_like("record-", ".new", like).map_err(failed)?;
    let position = record(&mut new, entries).map_err(failed)?;
    let placed = new.place_new(RECORD).and_then(|()| {
        let commit = CommitMarker {
            events: position.events,
            last: position.sum,
            first: position.first.unwrap_or(position.sum),
        };
        let mut marker = MarkerFile::open(&folder)?;
        // A record without events has acknowledged none.
        if position.events > 0 {
            marker.note(&folder, &commit)?;
        }
        folder.sync()
    });
    if let Err(source) = placed {
        let _ = folder.remove(RECORD);
        return Err(failed(source));
    }
    made.keep();
    Ok(())
}

/// Writes a record to a file; returns once it is on disk.
fn record(new: &mut Unfinished<'_>, entries: &[Entry<Event>]) -> io::Result<LogPosition> {
    let mut file = BufWriter::new(&mut new.file);
    let (header, _) = format::header();
    file.write_all(&header)?;
    let mut position = LogPosition::start();
    let mut line = Vec::new();
    for entry in entries {
        let envelope = Envelope {
            id: entry.id,
            stamp: entry.stamp,
            time: entry.time,
            by: entry.by.as_ref(),
            state: None,
        };
        let sum = format::compose(&mut line, position.sum, entry.seq, envelope, &entry.event)?;
        file.write_all(&line)?;
        position.pass(&line, sum, entry.stamp);
    }
    file.flush()?;
    drop(file);
    new.file.sync_all()?;
    Ok(position)
}

/// The mark that some editors put at the start of a file.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// One line of a record.
struct Row {
    /// Its number in the file, from 1.
    line: u64,
    /// Its bytes, always with exactly one line break at the end.
    bytes: Vec<u8>,
    /// The number of its event, if readable.
    seq: Option<u64>,
    /// Its entry, or why that can't be read.
    entry: Result<Entry<Event>, LineError>,
    /// The checksum written in it, or the one proved to be right.
    sum: Option<Sum>,
    /// The run of lines that its checksum proves it belongs to; run 0 starts at the first event.
    run: Option<usize>,
    /// It has no line break, so it may be incomplete.
    unfinished: bool,
}

/// The predecessor a line is chained to.
enum Parent {
    /// The header, for a first event.
    Header,
    /// The line at this index.
    Row(usize),
}

impl Row {
    fn read(line: u64, raw: &[u8]) -> Self {
        let raw = match raw.strip_prefix(BYTE_ORDER_MARK) {
            Some(rest) if line == 1 => rest,
            _ => raw,
        };
        let unfinished = !raw.ends_with(b"\n");
        let end = raw
            .iter()
            .rposition(|byte| !matches!(byte, b'\n' | b'\r' | b' ' | 0));
        let mut bytes = raw[..end.map_or(0, |last| last + 1)].to_vec();
        bytes.push(b'\n');
        let mut row = Self {
            line,
            bytes: Vec::new(),
            seq: None,
            entry: Err(LineError::Shape),
            sum: None,
            run: None,
            unfinished,
        };
        row.become_line(bytes);
        row
    }

    fn become_line(&mut self, bytes: Vec<u8>) {
        self.entry = format::parse(&bytes);
        self.seq = match &self.entry {
            Ok(entry) => Some(entry.seq),
            Err(_) => format::parse::<IgnoredAny>(&bytes).ok().map(|e| e.seq),
        };
        self.sum = format::written_sum(&bytes);
        self.bytes = bytes;
    }

    /// Whether it is the standard header.
    fn is_header(&self) -> bool {
        self.bytes == format::header().0
    }

    fn is_empty(&self) -> bool {
        self.bytes == b"\n"
    }

    fn follows(&self, previous: Sum) -> bool {
        format::verify(Some(previous), &self.bytes).is_ok()
    }
}

/// All lines of a record, and its number of acknowledged events.
struct Rows {
    rows: Vec<Row>,
    known: Option<CommitMarker>,
    /// The line that is too long to be read; reading stopped there.
    too_long: Option<u64>,
}

impl Rows {
    /// Reads the record in a folder and proves its lines, in time linear in its size, without the
    /// lock and without changing anything.
    fn read(dir: &Path) -> Result<Self, RecordError> {
        let path = dir.join(RECORD);
        let failed = |source| RecordError::read(&path, source);
        let none = || RecordError::NoRecord {
            path: dir.to_owned(),
        };
        let folder = Folder::open(dir).map_err(failed)?.ok_or_else(none)?;
        let known = MarkerState::read(&folder)
            .map_err(|source| RecordError::read(&dir.join(MARKER), source))?;
        let file = folder.read(RECORD).map_err(failed)?;
        let file = file.ok_or_else(|| match &known {
            MarkerState::Absent => none(),
            known => RecordError::Missing {
                path: path.clone(),
                recorded: known.known().map(|marker| marker.events),
            },
        })?;
        let known = known.known().cloned();
        let mut rows = Self {
            rows: Vec::new(),
            known,
            too_long: None,
        };
        let mut lines = Lines::new(file);
        for number in 1.. {
            match lines.next().map_err(failed)? {
                Step::End => break,
                Step::TooLong => {
                    rows.too_long = Some(number);
                    break;
                }
                Step::Line => rows.rows.push(Row::read(number, &lines.line)),
            }
        }
        rows.mend();
        rows.prove();
        // A later format starts its chain with another header, so no line of our format can follow
        // it.
        let begun = rows.rows.iter().any(|row| row.run == Some(0));
        let first = rows.rows.first();
        match first.and_then(|row| format::header_version(&row.bytes)) {
            Some(found) if found > FORMAT_VERSION && !begun => Err(RecordError::NewerFormat {
                path,
                found,
                known: FORMAT_VERSION,
            }),
            _ => Ok(rows),
        }
    }

    /// The indices of the lines that claim each event number.
    fn by_seq(&self) -> HashMap<u64, Vec<usize>> {
        let mut places: HashMap<u64, Vec<usize>> = HashMap::new();
        for (at, row) in self.rows.iter().enumerate() {
            if let Some(seq) = row.seq {
                places.entry(seq).or_default().push(at);
            }
        }
        places
    }

    /// The possible predecessors of the line at an index: the header, a line with the previous
    /// event wherever it is, or else the preceding line.
    fn parents(
        &self,
        places: &HashMap<u64, Vec<usize>>,
        at: usize,
        seq: Option<u64>,
    ) -> Vec<(Parent, Sum)> {
        let mut parents = Vec::new();
        if seq == Some(1) {
            parents.push((Parent::Header, format::header().1));
        }
        let before = seq.and_then(|seq| places.get(&seq.checked_sub(1)?));
        let before = before.into_iter().flatten().copied();
        for place in before.chain(at.checked_sub(1)) {
            if let Some(sum) = self.rows[place].sum {
                parents.push((Parent::Row(place), sum));
            }
        }
        parents
    }

    /// Finds lines with only their checksum damaged: the next line, or `record.end`, proves the sum
    /// they should have.
    fn mend(&mut self) {
        let places = self.by_seq();
        for at in 0..self.rows.len() {
            let row = &self.rows[at];
            if row.is_header() {
                continue;
            }
            // Its number is in its body, which may only parse with another seal.
            let guess = match row.seq {
                Some(seq) => Some(seq),
                None => format::resealed(format::header().1, &row.bytes)
                    .and_then(|(whole, _)| format::parse::<IgnoredAny>(&whole).ok())
                    .map(|entry| entry.seq),
            };
            let parents = self.parents(&places, at, guess);
            let Some(seq) = guess else { continue };
            if parents.iter().any(|(_, sum)| row.follows(*sum)) {
                continue;
            }
            let next = seq.checked_add(1).and_then(|seq| places.get(&seq));
            let mended = parents.into_iter().find_map(|(_, previous)| {
                let (whole, sum) = format::resealed(previous, &row.bytes)?;
                let by_next = next
                    .into_iter()
                    .flatten()
                    .any(|&after| self.rows[after].follows(sum));
                let known = self.known.as_ref();
                let by_end = known.is_some_and(|end| end.events == seq && end.last == sum);
                (by_next || by_end).then_some(whole)
            });
            if let Some(whole) = mended {
                self.rows[at].become_line(whole);
            }
        }
    }

    /// Assigns every line proved by its checksum to a run of lines.
    fn prove(&mut self) {
        let places = self.by_seq();
        let mut order: Vec<usize> = (0..self.rows.len()).collect();
        order.sort_by_key(|&at| (self.rows[at].seq, at));
        // A first event after another record's header belongs to that record.
        let headers = self.rows.iter().filter(|row| row.is_header());
        let another = headers.map(|row| row.line).find(|&line| line > 2);
        let mut first: Option<Sum> = None;
        let mut children: HashMap<usize, Option<Sum>> = HashMap::new();
        let mut runs = 1;
        for at in order {
            let seq = self.rows[at].seq;
            if seq.is_none() {
                continue;
            }
            let row = &self.rows[at];
            let parents = self.parents(&places, at, seq);
            let Some((parent, _)) = parents.into_iter().find(|(_, sum)| row.follows(*sum)) else {
                continue;
            };
            let joined = match parent {
                Parent::Header => {
                    let ours = another.is_none_or(|line| row.line < line);
                    if (first.is_none() && ours) || (first.is_some() && first == row.sum) {
                        first = row.sum;
                        Some(0)
                    } else {
                        None
                    }
                }
                // Two records that share their past diverge at some line; the first one continues
                // its run.
                Parent::Row(before) => {
                    let child = children.entry(before).or_insert(row.sum);
                    self.rows[before].run.filter(|_| *child == row.sum)
                }
            };
            self.rows[at].run = Some(joined.unwrap_or_else(|| {
                runs += 1;
                runs - 1
            }));
        }
    }

    /// The numbers of the runs that belong to this record: the one starting at the first event, and
    /// later ones with new event numbers.
    fn ours(&self) -> Vec<usize> {
        struct Run {
            number: usize,
            line: u64,
            from: u64,
            to: u64,
            foreign: bool,
        }
        let mut runs: Vec<Run> = Vec::new();
        for row in &self.rows {
            let (Some(number), Some(seq)) = (row.run, row.seq) else {
                continue;
            };
            // The last acknowledged event has another checksum here.
            let known = self.known.as_ref().filter(|known| known.events == seq);
            let foreign = known.is_some_and(|end| !row.sum.is_some_and(|sum| end.last == sum))
                || (seq == 1 && number != 0);
            match runs.iter_mut().find(|run| run.number == number) {
                Some(run) => {
                    (run.from, run.to) = (run.from.min(seq), run.to.max(seq));
                    run.foreign |= foreign;
                }
                None => runs.push(Run {
                    number,
                    line: row.line,
                    from: seq,
                    to: seq,
                    foreign,
                }),
            }
        }
        runs.sort_by_key(|run| (run.number != 0, run.line));
        let mut ours: Vec<Run> = Vec::new();
        for run in runs {
            let apart = ours
                .iter()
                .all(|other| run.from > other.to || run.to < other.from);
            if run.number == 0 || (apart && !run.foreign) {
                ours.push(run);
            }
        }
        ours.into_iter().map(|run| run.number).collect()
    }
}
