//! Opening, reading along and appending.

mod catch_up;

use std::collections::BTreeSet;
use std::marker::PhantomData;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use serde::de::DeserializeOwned;

use self::catch_up::Reached;
use super::backup::{self, Due};
use super::end::EndFile;
use super::error::{Access, Notice, RecordError};
use super::folder::{self, record_in};
use super::line::{self, Entry, MAX_LINE};
use super::lock::Lock;
use super::mark::Mark;
use super::past::Past;
use super::scan::Chain;
use super::writer::{Failure, Writer};
use crate::language::say;
use crate::model::who::Who;

/// An append-only record of events of type `E` in a folder. See the [module](super) for the
/// format and its laws.
#[derive(Debug)]
pub struct Record<E> {
    dir: PathBuf,
    path: PathBuf,
    chain: Chain,
    access: Access,
    by: Option<Who>,
    hold: Option<Hold>,
    line: Vec<u8>,
    events: PhantomData<fn(&E) -> E>,
}

/// What only the writer has.
#[derive(Debug)]
struct Hold {
    writer: Writer,
    end: Option<EndFile>,
    _lock: Lock,
}

/// A record, and what was in it when it was opened.
#[derive(Debug)]
pub struct Opened<E> {
    /// The events, from the first; from the one after the mark where the record was resumed.
    pub entries: Vec<Entry<E>>,
    /// The events before the mark that were asked for, where the record goes through it.
    pub resumed: Option<Vec<Entry<E>>>,
    /// What this process may do.
    pub access: Access,
    /// What the person should be told.
    pub notices: Vec<Notice>,
    /// For what comes after.
    pub record: Record<E>,
}

/// From where a record is to be read, if it still has the lines before.
#[derive(Debug, Clone, Copy)]
pub struct Resume<'a> {
    /// Where.
    pub mark: &'a Mark,
    /// Events before it that are to be read too, by their numbers.
    pub wanted: &'a BTreeSet<u64>,
}

/// What came of trying to become the writer.
#[derive(Debug)]
pub struct CaughtUp<E> {
    /// The events that others appended since this record was last read.
    pub entries: Vec<Entry<E>>,
    /// What this process may do now.
    pub access: Access,
    /// What the person should be told.
    pub notices: Vec<Notice>,
}

impl<E: Serialize + DeserializeOwned> Record<E> {
    /// Opens the record in `dir`, as its writer where no other process is; creates folder and
    /// record where they are missing. Time and memory are linear in the size of the record.
    ///
    /// # Errors
    /// Where the folder cannot be made, locked or read, where a new record cannot be written,
    /// where a record that had events is missing, and where its format is newer than this program.
    pub fn open(dir: &Path) -> Result<Opened<E>, RecordError> {
        Record::open_waiting(dir, Duration::ZERO)
    }

    /// Like [`Record::open`], but waits so long for another process to give up the lock. What
    /// that process appended is among the events. For commands that come and go: several at once
    /// then take turns.
    ///
    /// # Errors
    /// As [`Record::open`].
    pub fn open_waiting(dir: &Path, wait: Duration) -> Result<Opened<E>, RecordError> {
        Record::resume(dir, wait, None)
    }

    /// Like [`Record::open_waiting`], but where the record goes through a mark, what it says before is
    /// only verified and not read. Where it does not, all of it is read.
    ///
    /// # Errors
    /// As [`Record::open`].
    pub fn resume(
        dir: &Path,
        wait: Duration,
        from: Option<Resume<'_>>,
    ) -> Result<Opened<E>, RecordError> {
        folder::make(dir).map_err(|source| RecordError::Folder {
            path: dir.to_owned(),
            source,
        })?;
        let mut record = Record {
            dir: dir.to_owned(),
            path: record_in(dir),
            chain: Chain::start(),
            access: Access::Reader { holder: None },
            by: None,
            hold: None,
            line: Vec::new(),
            events: PhantomData,
        };
        let Reached { caught_up, resumed } = record.catch_up(wait, from)?;
        let CaughtUp {
            entries,
            access,
            notices,
        } = caught_up;
        Ok(Opened {
            entries,
            resumed,
            access,
            notices,
            record,
        })
    }

    /// What this process may do.
    #[must_use]
    pub fn access(&self) -> &Access {
        &self.access
    }

    /// Says who makes the changes that are appended from now on. Nobody at first.
    pub fn sign_as(&mut self, by: Option<Who>) {
        self.by = by;
    }

    /// Where the record stands: the last event that was read or appended.
    #[must_use]
    pub fn mark(&self) -> Mark {
        let Chain { events, bytes, sum } = self.chain;
        Mark { events, bytes, sum }
    }

    /// The events that were read so far, from the first, one after the other from the disk.
    ///
    /// # Errors
    /// Where the record cannot be opened to be read.
    pub fn past(&self) -> Result<Past<E>, RecordError> {
        Past::open(&self.dir, &self.path, self.chain.events)
    }

    /// The backup of the record as far as it was read, if this process is the writer, the record has
    /// events, and there is no copy of this day yet. Costs one look at the folder.
    pub(super) fn backup_due(&self, today: Date) -> Option<Due> {
        let due = self.access == Access::Writer
            && self.chain.events > 0
            && !backup::path_of(&self.dir, today).exists();
        due.then(|| Due {
            dir: self.dir.clone(),
            today,
            bytes: self.chain.bytes,
            sum: self.chain.sum,
        })
    }

    /// Puts an event on disk and returns its number. When this returns, the event survives a
    /// crash; when it fails, nothing of the event is left.
    ///
    /// # Errors
    /// Where this process is not the writer, the event has no readable form, the disk does not
    /// take it, or something else changed the record. The error says whether appending again
    /// can help.
    pub fn append(&mut self, time: Timestamp, event: &E) -> Result<u64, RecordError> {
        self.append_all(time, std::slice::from_ref(event))
    }

    /// Puts a row of events on disk with one wait for it, and returns the number of the last; that
    /// of the last event there is where the row is empty. When this returns, all of them survive a
    /// crash; when it fails, nothing of any is left. A crash before it returns may leave some of
    /// them, from the first on.
    ///
    /// # Errors
    /// As [`Record::append`].
    pub fn append_all(&mut self, time: Timestamp, events: &[E]) -> Result<u64, RecordError> {
        let Some(hold) = &mut self.hold else {
            return Err(RecordError::NotWriter {
                access: self.access.clone(),
            });
        };
        if events.is_empty() {
            return Ok(self.chain.events);
        }
        let mut chain = self.chain.clone();
        let mut lines = Vec::new();
        for event in events {
            let seq = chain.events + 1;
            let by = self.by.as_ref();
            let sum = line::compose(&mut self.line, chain.sum, seq, time, by, event).map_err(
                |error| RecordError::Unrecordable {
                    reason: error.to_string(),
                },
            )?;
            if self.line.len() > MAX_LINE {
                let reason = say!("it is longer than {it} MiB", it = MAX_LINE >> 20);
                return Err(RecordError::Unrecordable { reason });
            }
            // A line that cannot be read again, such as one with a number that is not finite, would
            // shut the whole record the next time it is opened.
            line::parse_next::<E>(seq, &self.line).map_err(|flaw| RecordError::Unrecordable {
                reason: flaw.to_string(),
            })?;
            chain = Chain {
                events: seq,
                bytes: chain.bytes + self.line.len() as u64,
                sum,
            };
            lines.extend_from_slice(&self.line);
        }
        let path = || self.path.clone();
        hold.writer
            .append(self.chain.bytes, &lines)
            .map_err(|failure| match failure {
                Failure::Undone(source) => RecordError::NotSaved {
                    path: path(),
                    source,
                },
                Failure::NotUndone { source, undo } => RecordError::NotUndone {
                    path: path(),
                    source,
                    undo,
                },
                Failure::NotSynced(source) => RecordError::NotSynced {
                    path: path(),
                    source,
                },
                Failure::InDoubt => RecordError::InDoubt { path: path() },
                Failure::Overtaken => RecordError::Overtaken { path: path() },
            })?;
        self.chain = chain;
        if let Some(end) = &mut hold.end {
            // The events are on disk and count; without the note only a later loss goes unseen.
            let _ = end.note(self.chain.events, self.chain.sum);
        }
        Ok(self.chain.events)
    }
    /// Puts another medium under the writer, for tests of its failures.
    #[cfg(test)]
    pub(super) fn write_through(&mut self, medium: impl super::medium::Medium + 'static) {
        if let Some(hold) = &mut self.hold {
            hold.writer = Writer::new(Box::new(medium));
        }
    }
}
