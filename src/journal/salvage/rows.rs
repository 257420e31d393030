//! The lines of a record as they stand, damaged or not, and which of them the checksums prove.

use std::collections::HashMap;
use std::path::Path;

use serde::de::IgnoredAny;

use super::super::error::{LineError, RecordError};
use super::super::folder::{Folder, RECORD};
use super::super::format::{self, Entry, FORMAT_VERSION, Sum};
use super::super::marker::{CommitMarker, MARKER, MarkerState};
use super::super::reader::{Lines, Step};
use crate::stash::event::Event;

/// The mark that some editors put before the first letter of a file.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// One line of a record.
pub(super) struct Row {
    /// Its number in the file, from 1.
    pub(super) line: u64,
    /// Its bytes, with one line break at the end whatever stood there.
    pub(super) bytes: Vec<u8>,
    /// The number of its event, as far as that can be read.
    pub(super) seq: Option<u64>,
    /// What it says, or why that cannot be read.
    pub(super) entry: Result<Entry<Event>, LineError>,
    /// The checksum that stands in it, or that was proven to be the right one.
    pub(super) sum: Option<Sum>,
    /// The run of lines it is chained to, where its checksum proves it; 0 is the run from the first
    /// event on.
    pub(super) run: Option<usize>,
    /// It has no line break, so it may not be all there.
    pub(super) unfinished: bool,
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
    pub(super) fn is_header(&self) -> bool {
        self.bytes == format::header().0
    }

    /// Whether nothing stands in it.
    pub(super) fn is_empty(&self) -> bool {
        self.bytes == b"\n"
    }

    fn follows(&self, previous: Sum) -> bool {
        format::verify(Some(previous), &self.bytes).is_ok()
    }
}

/// All lines of a record, and how many events had been acknowledged in it.
pub(super) struct Rows {
    pub(super) rows: Vec<Row>,
    pub(super) known: Option<CommitMarker>,
    /// The line that is too long to be read; nothing after it was looked at.
    pub(super) too_long: Option<u64>,
}

impl Rows {
    /// Reads the record in a folder and proves its lines, in time linear in its size, without the
    /// lock and without changing anything.
    pub(super) fn read(dir: &Path) -> Result<Self, RecordError> {
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
    pub(super) fn ours(&self) -> Vec<usize> {
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
