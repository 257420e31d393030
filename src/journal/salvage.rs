//! What can be saved of a damaged record, and a new sound stash made of it.
//!
//! # What is proved
//!
//! The sum in each line covers the sum of the line before it and the line itself. So
//!
//! - the events before the damage are proved from the header on;
//! - a line after the damage is proved when it verifies against the sum **written** in the line
//!   before it, even where that line is damaged otherwise, or in the line that holds the event before
//!   its own, wherever that stands;
//! - a line of which only the sum was damaged is proved when the line after it, or `record.end`,
//!   has the sum that it should have had;
//! - blanks, NUL bytes and other line ends at the end of a line, and a byte order mark before the first,
//!   do not count: the sum proves what is left.
//!
//! That a line after the damage belongs to *this* record no sum can prove. Taken are runs of proved
//! lines whose numbers no run before them has, that do not begin with a first event, and do not
//! contradict `record.end`. Of those, the events that fit what is there by then and keep every law
//! are taken, in the order of their numbers; an undo or redo only where what it is about was taken.

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

/// What can be saved of a record, and what cannot. `T` is what is told of a change.
#[derive(Debug)]
pub struct Salvage<T> {
    /// The events that can, numbered anew from 1, in their order.
    pub taken: Vec<Entry<Event>>,
    /// What cannot, in the order in which it was done.
    pub left_out: Vec<LeftOut<T>>,
    /// The stash that the events make.
    pub state: State,
}

/// Something that is not taken into the new stash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut<T> {
    /// The line of the damaged record, from 1; nothing where it stands in none any more.
    pub line: Option<u64>,
    /// What it was, as far as that can be read.
    pub what: What<T>,
    /// Why it is not taken.
    pub reason: Why,
}

/// What a line was about, or what stands in no line any more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What<T> {
    /// A change, told with the stash as it was when its turn came.
    Change(T),
    /// A change that cannot be read whole.
    Fragment {
        /// The kind of change, by its name in the record.
        kind: Option<String>,
        /// When it was made, as it is written there.
        time: Option<String>,
    },
    /// The first line of a record, which holds no change.
    Header,
    /// The first line, which is not what it has to be.
    FirstLine,
    /// A line with nothing in it.
    Empty,
    /// A line of which nothing can be read.
    Unreadable,
    /// Changes that stand in no line, by the numbers of the first and the last.
    Gone {
        /// The first of them.
        first: u64,
        /// The last of them.
        last: u64,
    },
}

/// Why an event is not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Why {
    /// The line is not proved, or not understood.
    LineError(LineError),
    /// The line is there twice.
    Twice,
    /// The line is proved, but not as one of this record.
    OtherRecord,
    /// The event does not fit without those that are lost.
    ApplyError(ApplyError),
    /// What it takes back, or does again, is not there.
    NothingToTurn(u64),
    /// The line is gone.
    Gone,
    /// The line ends what can be read.
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

/// So many lines of a record may be gone and are still told of, one by one.
const MOST_GONE: u64 = 100_000;

/// Looks for what can be saved of the record in `dir`, without the lock and without changing
/// anything. `tell` says what is to be told of a change that cannot. Time and memory are linear in the size of the record.
///
/// # Errors
/// Where there is no record, it cannot be read, or its format is newer than this program.
pub fn look<T>(dir: &Path, tell: impl Fn(&State, &Event) -> T) -> Result<Salvage<T>, RecordError> {
    let rows = Rows::read(dir)?;
    let ours = rows.ours();
    let is_ours = |row: &Row| row.run.is_some_and(|run| ours.contains(&run));
    let own = rows.rows.iter().filter(|row| is_ours(row));
    // A number that no record of this length comes to is a slip, and tells of nothing that is gone.
    let farthest = rows.rows.len() as u64 + MOST_GONE;
    let own = own.filter_map(|row| row.seq);
    let own: BTreeSet<u64> = own.filter(|&seq| seq <= farthest).collect();
    let last = own.last().copied().unwrap_or(0);
    let acknowledged = rows.known.as_ref().map_or(0, |end| end.events);
    // However far the end was, no more is told of than could have stood there.
    let due = acknowledged
        .min(last + rows.rows.len() as u64 + 1)
        .max(last);
    let mut gone: BTreeSet<u64> = (1..=due).collect();
    let mut order: Vec<(u64, &Row)> = Vec::with_capacity(rows.rows.len());
    for row in &rows.rows {
        // What is not proved stands where its number says, or else where its place in the file does.
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

/// Applies one event after the other and notes what does not come along.
struct Walk<T, F> {
    tell: F,
    state: State,
    history: History,
    taken: Vec<Entry<Event>>,
    left_out: Vec<LeftOut<T>>,
    /// The new number of each event that was taken.
    numbers: HashMap<u64, u64>,
    /// The numbers of the record's own events that had their turn.
    tried: BTreeSet<u64>,
    /// The lines that were seen.
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

    /// Notes events that stand in no line.
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

    /// Applies an event, with its new number.
    fn take(&mut self, entry: &Entry<Event>) -> Result<(), Why> {
        let mut event = entry.event.clone();
        // An undo that fits by chance must not take back another change than it was made for.
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

    /// What a line was about, as far as that can be read.
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

/// Why a new stash cannot be written. Nothing of it is left.
#[derive(Debug)]
pub enum WriteError {
    /// Something is in the folder already.
    NotEmpty(PathBuf),
    /// The folder or the record cannot be written.
    Failed {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes a stash with these events, numbered from 1, in a folder that is empty or not there. The
/// record appears there whole or not at all, with the mode and the owner of the record in `like`.
///
/// # Errors
/// Where the folder is not empty, or the disk does not take it.
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

/// Writes a record to a file; it is on disk when this returns.
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

/// The mark that some editors put before the first letter of a file.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// One line of a record.
struct Row {
    /// Its number in the file, from 1.
    line: u64,
    /// Its bytes, with one line break at the end whatever stood there.
    bytes: Vec<u8>,
    /// The number of its event, as far as that can be read.
    seq: Option<u64>,
    /// What it says, or why that cannot be read.
    entry: Result<Entry<Event>, LineError>,
    /// The checksum that stands in it, or that was proven to be the right one.
    sum: Option<Sum>,
    /// The run of lines it is chained to, where its checksum proves it; 0 is the run from the first
    /// event on.
    run: Option<usize>,
    /// It has no line break, so it may not be all there.
    unfinished: bool,
}

/// What a line is chained to.
enum Parent {
    /// The header: it is a first event.
    Header,
    /// The line at this place.
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

    /// Whether it is the line that every record begins with.
    fn is_header(&self) -> bool {
        self.bytes == format::header().0
    }

    /// Whether nothing stands in it.
    fn is_empty(&self) -> bool {
        self.bytes == b"\n"
    }

    fn follows(&self, previous: Sum) -> bool {
        format::verify(Some(previous), &self.bytes).is_ok()
    }
}

/// All lines of a record, and how many events had been acknowledged in it.
struct Rows {
    rows: Vec<Row>,
    known: Option<CommitMarker>,
    /// The line that is too long to be read; nothing after it was looked at.
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
        // A later format begins its chain with another header, so no line can follow ours.
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

    /// The places of the lines that say they hold each event.
    fn by_seq(&self) -> HashMap<u64, Vec<usize>> {
        let mut places: HashMap<u64, Vec<usize>> = HashMap::new();
        for (at, row) in self.rows.iter().enumerate() {
            if let Some(seq) = row.seq {
                places.entry(seq).or_default().push(at);
            }
        }
        places
    }

    /// What the line at a place may be chained to: the header, a line with the event before its own
    /// wherever it stands, or else the line before it.
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

    /// Finds lines of which only the checksum was damaged: the line after them, or `record.end`,
    /// then proves the sum they should have.
    fn mend(&mut self) {
        let places = self.by_seq();
        for at in 0..self.rows.len() {
            let row = &self.rows[at];
            if row.is_header() {
                continue;
            }
            // Its number is in its body, which may read well only with another seal.
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

    /// Puts every line that its checksum proves into a run of lines.
    fn prove(&mut self) {
        let places = self.by_seq();
        let mut order: Vec<usize> = (0..self.rows.len()).collect();
        order.sort_by_key(|&at| (self.rows[at].seq, at));
        // A first event behind the header of another record is that record's.
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
                // Two records that were one once part at some line; the first goes on with it.
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

    /// The runs that belong to this record, by number: the one from the first event on, and those
    /// that come after it with numbers of their own.
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
            // What was acknowledged last has another checksum here.
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
