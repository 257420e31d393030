//! Checks a record without changing anything.

use std::path::Path;
use std::thread;

use serde::de::DeserializeOwned;

use super::backup;
use super::error::{Damage, LineError, RecordError};
use super::folder::{Folder, RECORD};
use super::format::{self, FORMAT_VERSION, Sum};
use super::format::{CommitMarker, MARKER, MarkerState};
use super::log::{SETTLE, SETTLE_TRIES, was_here};
use super::reader::{End, Lines, Step, read_header};

/// Checking stops after this many bad lines.
const MOST_PROBLEMS: usize = 100;

/// The result of a check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// Number of events that verify, including those after a bad line.
    pub events: u64,
    /// Size of the record in bytes, as far as it was checked.
    pub bytes: u64,
    /// The bad lines in file order; at most 100.
    pub problems: Vec<Problem>,
    /// Acknowledged events are lost, or may be. Never [`Damage::Line`].
    pub loss: Option<Damage>,
}

impl Report {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty() && self.loss.is_none()
    }
}

/// A bad line of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The line of `record.jsonl`, from 1 (the header).
    pub line: u64,
    /// What is wrong with it.
    pub reason: LineError,
}

/// Verifies every line of the record in `dir`, without a lock and without changing anything.
/// Continues after a bad line, since each line is chained to the sum written in the previous one.
/// Time is linear in the size of the record, memory in its longest line.
///
/// # Errors
/// When there is no stash, the record can't be read, or its format is newer than this program.
pub fn check<E: DeserializeOwned>(dir: &Path) -> Result<Report, RecordError> {
    let failed = |source| RecordError::read(dir, source);
    let mut tries = 0;
    loop {
        let folder = Folder::open(dir).map_err(failed)?;
        let folder = folder.ok_or_else(|| RecordError::NoRecord {
            path: dir.to_owned(),
        })?;
        let files = || -> Result<_, RecordError> {
            let record = folder.identity(RECORD).map_err(failed)?;
            Ok((record, folder.identity(MARKER).map_err(failed)?))
        };
        let before = files()?;
        let report = look_over::<E>(&folder)?;
        if report.is_sound() || tries == SETTLE_TRIES {
            return Ok(report);
        }
        tries += 1;
        thread::sleep(SETTLE);
        if files()? == before {
            return Ok(report);
        }
    }
}

fn look_over<E: DeserializeOwned>(folder: &Folder) -> Result<Report, RecordError> {
    let path = folder.path().join(RECORD);
    let failed = |source| RecordError::read(&path, source);
    // Read before the record, which may grow meanwhile but is never behind the marker.
    let marker = MarkerState::read(folder)
        .map_err(|source| RecordError::read(&folder.path().join(MARKER), source))?;
    let mut checker = Checker::new();
    let Some(file) = folder.read(RECORD).map_err(failed)? else {
        if marker == MarkerState::Absent && !was_here(folder) {
            return Err(RecordError::NoRecord {
                path: folder.path().to_owned(),
            });
        }
        checker.report.loss = Some(Damage::Missing {
            recorded: marker.known().map(|marker| marker.events),
        });
        return Ok(checker.report);
    };
    let proved = marker.or_proved(|| backup::proof(folder));
    let mut lines = Lines::new(file);
    checker.watch = proved.known().map(|marker| marker.events);
    loop {
        let step = lines.next().map_err(failed)?;
        if step == Step::End {
            let mut report = checker.finish(&proved);
            if marker == MarkerState::Absent && report.events == 0 {
                judge_empty(folder, &mut report);
            }
            return Ok(report);
        }
        let fault = match step {
            Step::TooLong => Some(LineError::TooLong),
            _ if checker.line == 1 => match read_header(&lines.line) {
                Ok(()) => None,
                Err(End::Newer(found)) => {
                    return Err(RecordError::NewerFormat {
                        path,
                        found,
                        known: FORMAT_VERSION,
                    });
                }
                Err(_) => Some(LineError::Header),
            },
            _ => checker.event::<E>(&lines.line),
        };
        checker.report.bytes += lines.line.len() as u64;
        if fault.is_some() && step == Step::Line && !lines.line.ends_with(b"\n") {
            checker.add(Some(LineError::Unfinished));
            return Ok(checker.finish(&proved));
        }
        checker.add(fault);
        checker.line += 1;
        // The rest of an endless line would read as bogus lines.
        if step == Step::TooLong || checker.report.problems.len() >= MOST_PROBLEMS {
            return Ok(checker.report);
        }
    }
}

/// Judges a record without events or marker: lost, or never begun.
fn judge_empty(folder: &Folder, report: &mut Report) {
    match was_here(folder) {
        true => report.loss = Some(Damage::Missing { recorded: None }),
        // An empty file means as little as no file: the first change begins the record.
        false if report.bytes == 0 => report.problems.clear(),
        false => {}
    }
}

struct Checker {
    /// The last acknowledged event, and the sum of its line.
    watch: Option<u64>,
    sum_at: Option<Sum>,
    /// Number of the current line, from 1.
    line: u64,
    /// The sum in the previous line, unless that is too broken to have one.
    previous: Option<Sum>,
    /// The expected number of the event; unknown after a bad line.
    due: Option<u64>,
    /// The highest number of a good event.
    last: u64,
    report: Report,
}

impl Checker {
    fn new() -> Checker {
        Checker {
            watch: None,
            sum_at: None,
            line: 1,
            previous: Some(format::header().1),
            due: Some(1),
            last: 0,
            report: Report {
                events: 0,
                bytes: 0,
                problems: Vec::new(),
                loss: None,
            },
        }
    }

    fn add(&mut self, fault: Option<LineError>) {
        let line = self.line;
        self.report
            .problems
            .extend(fault.map(|reason| Problem { line, reason }));
    }

    /// Checks an event's line against the previous line.
    fn event<E: DeserializeOwned>(&mut self, line: &[u8]) -> Option<LineError> {
        let sum = format::written_sum(line);
        let judged = self.judge::<E>(line);
        self.previous = sum;
        self.due = judged.as_ref().ok().and_then(|seq| seq.checked_add(1));
        let seq = match judged {
            Ok(seq) => seq,
            Err(fault) => return Some(fault),
        };
        self.report.events += 1;
        self.last = self.last.max(seq);
        if self.watch == Some(seq) {
            self.sum_at = sum;
        }
        None
    }

    fn judge<E: DeserializeOwned>(&self, line: &[u8]) -> Result<u64, LineError> {
        match self.previous {
            Some(sum) => format::verify(Some(sum), line).map(drop)?,
            None if format::written_sum(line).is_none() => return Err(LineError::Shape),
            None => {}
        }
        let entry = match self.due {
            Some(seq) => format::parse_next::<E>(seq, line)?,
            None => format::parse::<E>(line)?,
        };
        Ok(entry.seq)
    }

    fn finish(mut self, marker: &MarkerState) -> Report {
        let found = self.report.events;
        if self.report.bytes == 0 {
            self.add(Some(LineError::Header));
        }
        self.report.loss = match marker {
            MarkerState::Absent => None,
            MarkerState::Unreadable => Some(Damage::Marker { found }),
            &MarkerState::Known(CommitMarker { events, last, .. }) => {
                let recorded = events;
                match self.sum_at {
                    // The numbers continue after a bad line.
                    None if recorded > self.last => Some(Damage::Shortened { recorded, found }),
                    Some(sum) if sum != last => Some(Damage::Exchanged { recorded, found }),
                    _ => None,
                }
            }
        };
        self.report
    }
}
