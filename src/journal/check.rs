//! Looking a record over without changing anything.

use std::fs;
use std::path::Path;

use serde::de::DeserializeOwned;

use super::end::{self, KnownEnd};
use super::error::{Flaw, RecordError};
use super::folder;
use super::line::{self, FORMAT_VERSION, Sum};
use super::lock::Lock;
use super::scan::{End, Lines, Step, read_header};

/// A record with more bad lines than this is not looked at further.
const MOST_PROBLEMS: usize = 100;

/// What a check found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// Number of events that verify, also after a bad line.
    pub events: u64,
    /// Size of the record in bytes, as far as it was looked at.
    pub bytes: u64,
    /// What is wrong, in the order of the lines; nothing where all is well, at most 100.
    pub problems: Vec<Problem>,
}

/// One thing wrong with a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The line of `record.jsonl`, from 1 (the header).
    pub line: u64,
    /// What is wrong with it.
    pub reason: Flaw,
}

/// Verifies every line of the record in `dir`, without the lock and without changing anything.
/// Goes on after a bad line, as each line is chained to the sum that stands in the line before.
/// An unfinished last line is no problem while another process is writing. Time is linear in the
/// size of the record, memory in its longest line.
///
/// # Errors
/// Where there is no record, it cannot be read, or its format is newer than this program.
pub fn check<E: DeserializeOwned>(dir: &Path) -> Result<Report, RecordError> {
    let path = folder::record_in(dir);
    let failed = |source| RecordError::Read {
        path: path.clone(),
        source,
    };
    // Read before the record, which may grow meanwhile and is never behind it.
    let known = KnownEnd::read(dir);
    let file = end::whole_record(dir, known.as_ref())?;

    let mut lines = Lines::new(file);
    let mut checker = Checker::new(known);
    loop {
        let step = lines.next().map_err(failed)?;
        if step == Step::End {
            return Ok(checker.finish());
        }
        let flaw = match step {
            Step::TooLong => Some(Flaw::TooLong),
            _ if checker.line == 1 => match read_header(&lines.line) {
                Ok(()) => None,
                Err(End::Newer(found)) => {
                    return Err(RecordError::NewerFormat {
                        path,
                        found,
                        known: FORMAT_VERSION,
                    });
                }
                Err(_) => Some(Flaw::Header),
            },
            _ => checker.event::<E>(&lines.line),
        };
        checker.report.bytes += lines.line.len() as u64;
        if flaw.is_some() && step == Step::Line && !lines.line.ends_with(b"\n") {
            // Unless another process is just writing it, or has since.
            let length = checker.report.bytes;
            let left =
                !Lock::is_taken(dir) && fs::metadata(&path).is_ok_and(|file| file.len() == length);
            checker.add(left.then_some(Flaw::Unfinished));
            return Ok(checker.finish());
        }
        checker.add(flaw);
        checker.line += 1;
        // What is left of an endless line would read as lines that are none.
        if step == Step::TooLong || checker.report.problems.len() >= MOST_PROBLEMS {
            return Ok(checker.report);
        }
    }
}

struct Checker {
    known: Option<KnownEnd>,
    /// Number of the line looked at, from 1.
    line: u64,
    /// The sum in the line before; nothing where it is too broken to have one.
    previous: Option<Sum>,
    /// The number the event must have; nothing after a bad line.
    due: Option<u64>,
    report: Report,
}

impl Checker {
    fn new(known: Option<KnownEnd>) -> Checker {
        let report = Report {
            events: 0,
            bytes: 0,
            problems: Vec::new(),
        };
        Checker {
            known,
            line: 1,
            previous: Some(line::header().1),
            due: Some(1),
            report,
        }
    }

    fn add(&mut self, flaw: Option<Flaw>) {
        let line = self.line;
        self.report
            .problems
            .extend(flaw.map(|reason| Problem { line, reason }));
    }

    /// Checks an event's line against what the line before says.
    fn event<E: DeserializeOwned>(&mut self, line: &[u8]) -> Option<Flaw> {
        let sum = line::written_sum(line);
        let judged = self.judge::<E>(line);
        self.previous = sum;
        self.due = judged.as_ref().ok().and_then(|seq| seq.checked_add(1));
        let seq = match judged {
            Ok(seq) => seq,
            Err(flaw) => return Some(flaw),
        };
        self.report.events += 1;
        let known = self.known.as_ref().filter(|known| known.events == seq)?;
        (!sum.is_some_and(|sum| known.ends_with(sum))).then_some(Flaw::Exchanged)
    }

    fn judge<E: DeserializeOwned>(&self, line: &[u8]) -> Result<u64, Flaw> {
        match self.previous {
            Some(sum) => line::verify(Some(sum), line).map(drop)?,
            None if line::written_sum(line).is_none() => return Err(Flaw::Shape),
            None => {}
        }
        let entry = match self.due {
            Some(seq) => line::parse_next::<E>(seq, line)?,
            None => line::parse::<E>(line)?,
        };
        Ok(entry.seq)
    }

    fn finish(mut self) -> Report {
        if self.report.bytes == 0 {
            self.add(Some(Flaw::Header));
        }
        let recorded = self.known.as_ref().map_or(0, |known| known.events);
        let found = self.report.events;
        if self.report.problems.is_empty() && found < recorded {
            self.add(Some(Flaw::Shortened { recorded, found }));
        }
        self.report
    }
}
