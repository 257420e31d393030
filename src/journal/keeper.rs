//! The one who keeps a stash: its state, its history and the record of both.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::Date;

use super::backup::Due;
use super::end;
use super::error::{Access, Notice, RecordError};
use super::folder;
use super::line::Entry;
use super::mark::Mark;
use super::past::Past;
use super::record::{Opened, Record, Resume};
use super::snapshot::{self, Snapshot};
use crate::language::say;
use crate::model::who::Who;
use crate::stash::change::turned;
use crate::stash::event::{Act, Event};
use crate::stash::history::History;
use crate::stash::laws::{self, Broken};
use crate::stash::refusal::Refusal;
use crate::stash::state::{Misfit, State};

/// A stash that is open: what it holds, what was done, and where that is written down.
///
/// Every change goes through [`Keeper::commit`], and both it and the replay of a record use
/// [`State::apply`], so a live stash and a reopened one cannot differ.
#[derive(Debug)]
pub struct Keeper {
    dir: PathBuf,
    state: State,
    history: History,
    record: Record<Event>,
    misfit: Option<(u64, Misfit)>,
    last_seq: u64,
    /// The record was the one last written here, with all that was acknowledged.
    whole: bool,
}

/// Why an event was not committed. The state is as it was.
#[derive(Debug, thiserror::Error)]
pub enum CommitError {
    /// The event does not fit, or breaks a law.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The record did not take it.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// The record does not fit the program's laws from some event on, so nothing may be added.
    #[error("{}", say!(
        "change {seq} of the record does not fit ({misfit}); the stash is read-only. Run: \
         homehook check",
        seq,
        misfit
    ))]
    ReadOnly {
        /// The event.
        seq: u64,
        /// What is wrong with it.
        misfit: Misfit,
    },
}

impl Keeper {
    /// Whether a folder holds a stash, or held one. Changes nothing.
    #[must_use]
    pub fn is_in(dir: &Path) -> bool {
        folder::record_in(dir).exists() || end::path_in(dir).exists()
    }

    /// Opens the stash in a folder as [`Keeper::open_as`] does, with no name for what is changed.
    ///
    /// # Errors
    /// See [`Record::open`].
    pub fn open(dir: &Path, wait: Duration) -> Result<(Self, Vec<Notice>), RecordError> {
        Self::open_as(dir, wait, None)
    }

    /// Opens the stash in a folder, waiting so long for another process to finish writing. An
    /// event that does not fit ends the replay: the stash is then read-only, up to there. Every
    /// change that is committed is written down with the name in `by`.
    ///
    /// # Errors
    /// See [`Record::open`].
    pub fn open_as(
        dir: &Path,
        wait: Duration,
        by: Option<Who>,
    ) -> Result<(Self, Vec<Notice>), RecordError> {
        let (begun, notices) = Begun::open(dir, wait)?;
        let read_from = begun.from.bytes;
        let mut keeper = Self::of(dir, begun, &notices);
        keeper.record.sign_as(by);
        let end = keeper.record.mark();
        if keeper.is_writable() && end.bytes - read_from >= snapshot::WORTH {
            // Without one the next opening takes longer, and nothing else.
            let _ = snapshot::take(dir, &end, &keeper.state, &keeper.history);
        }
        Ok((keeper, notices))
    }

    /// Opens the stash in a folder by reading its record from the first event to the last, whatever
    /// snapshot there is, and takes none.
    ///
    /// # Errors
    /// See [`Record::open`].
    pub fn open_whole(dir: &Path) -> Result<(Self, Vec<Notice>), RecordError> {
        let (begun, notices) = Begun::whole(dir, Duration::ZERO)?;
        Ok((Self::of(dir, begun, &notices), notices))
    }

    /// Whether the stash is the same when it is opened with the help of the snapshot, as it must be.
    ///
    /// # Errors
    /// See [`Record::open`].
    pub fn agrees_with_snapshot(&self) -> Result<bool, RecordError> {
        let (begun, notices) = Begun::open(&self.dir, Duration::ZERO)?;
        let other = Self::of(&self.dir, begun, &notices);
        Ok(self.state == other.state && self.history == other.history)
    }

    fn of(dir: &Path, begun: Begun, notices: &[Notice]) -> Self {
        let mut keeper = Self {
            dir: dir.to_owned(),
            state: begun.state,
            history: begun.history,
            record: begun.record,
            misfit: None,
            last_seq: begun.from.events,
            whole: !notices.iter().any(|notice| {
                matches!(notice, Notice::Shortened { .. } | Notice::Exchanged { .. })
            }),
        };
        keeper.replay(begun.entries);
        keeper
    }

    /// Applies what was read from the record.
    fn replay(&mut self, entries: Vec<Entry<Event>>) {
        for Entry { seq, event, .. } in entries {
            if self.misfit.is_some() {
                return;
            }
            match self.state.apply(&event) {
                Ok(()) => {
                    self.history.note(seq, event);
                    self.last_seq = seq;
                }
                Err(misfit) => self.misfit = Some((seq, misfit)),
            }
        }
    }

    /// The backup of this day, where this process may write, the record was found whole, every event
    /// fitted, and there is none yet. Costs one look at the folder; [`Due::make`] does the work.
    #[must_use]
    pub fn backup_due(&self, today: Date) -> Option<Due> {
        let sound = self.whole && self.misfit.is_none();
        self.record.backup_due(today).filter(|_| sound)
    }

    /// The folder.
    #[must_use]
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The stash as it stands.
    #[must_use]
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// What can be taken back and done again.
    #[must_use]
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// The number of the last event.
    #[must_use]
    pub const fn events(&self) -> u64 {
        self.last_seq
    }

    /// Everything that was done, from the first event on, read from the disk one by one. An event
    /// that did not fit is among them, and what comes after it.
    ///
    /// # Errors
    /// Where the record cannot be opened to be read.
    pub fn past(&self) -> Result<Past<Event>, RecordError> {
        self.record.past()
    }

    /// What this process may do.
    #[must_use]
    pub fn access(&self) -> &Access {
        self.record.access()
    }

    /// Whether changes can be recorded.
    #[must_use]
    pub fn is_writable(&self) -> bool {
        *self.access() == Access::Writer && self.misfit.is_none()
    }

    /// The first event that does not fit, if any.
    #[must_use]
    pub fn misfit(&self) -> Option<&(u64, Misfit)> {
        self.misfit.as_ref()
    }

    /// Every law that is broken now; none, unless the program has a fault.
    #[must_use]
    pub fn broken_laws(&self) -> Vec<Broken> {
        laws::check_all(&self.state)
    }

    /// Applies an event and puts it on disk. Acknowledged only when both are done: an event that
    /// does not fit is never written, and one that was not written is taken back.
    ///
    /// # Errors
    /// When the event breaks a law, or the record does not take it; nothing is changed.
    pub fn commit(&mut self, now: Timestamp, event: &Event) -> Result<u64, CommitError> {
        self.commit_all(now, std::slice::from_ref(event))
    }

    /// Applies a row of events, each on what the one before left, and puts them on disk with one
    /// wait for it: all of them, or none. Returns the number of the last. A crash before it returns
    /// may leave some of them, from the first on.
    ///
    /// # Errors
    /// When one of the events breaks a law, or the record does not take them; nothing is changed.
    pub fn commit_all(&mut self, now: Timestamp, events: &[Event]) -> Result<u64, CommitError> {
        if let Some((seq, misfit)) = &self.misfit {
            return Err(CommitError::ReadOnly {
                seq: *seq,
                misfit: misfit.clone(),
            });
        }
        for (done, event) in events.iter().enumerate() {
            if let Err(misfit) = self.state.apply(event) {
                self.take_back(&events[..done]);
                return Err(Refusal::from(misfit).into());
            }
        }
        match self.record.append_all(now, events) {
            Ok(last) => {
                for (event, seq) in events.iter().zip(self.last_seq + 1..) {
                    self.history.note(seq, event.clone());
                }
                self.last_seq = last;
                Ok(last)
            }
            Err(error) => {
                self.take_back(events);
                Err(error.into())
            }
        }
    }

    /// Takes back in memory what was applied and is not on disk, the last event first.
    fn take_back(&mut self, events: &[Event]) {
        for event in events.iter().rev() {
            // What was done goes back by the same laws as an undo: a ring may be closed again.
            let back = Event {
                act: Act::Undo { seq: self.last_seq },
                changes: turned(&event.changes),
            };
            let undone = self.state.apply(&back);
            debug_assert!(undone.is_ok(), "{undone:?}");
        }
    }

    /// Takes back the last event.
    ///
    /// # Errors
    /// When there is none, or the record does not take it.
    pub fn undo(&mut self, now: Timestamp) -> Result<u64, CommitError> {
        let event = self.history.undo()?;
        self.commit(now, &event)
    }

    /// Does again what the last undo took back.
    ///
    /// # Errors
    /// When the last event was no undo, or the record does not take it.
    pub fn redo(&mut self, now: Timestamp) -> Result<u64, CommitError> {
        let event = self.history.redo()?;
        self.commit(now, &event)
    }

    /// Reads what another process has written since, and tries to become the writer where it has
    /// finished. Returns whether anything is new.
    ///
    /// # Errors
    /// When the record cannot be read on.
    pub fn catch_up(&mut self) -> Result<bool, RecordError> {
        if !matches!(self.access(), Access::Reader { .. }) {
            return Ok(false);
        }
        let caught_up = self.record.become_writer(Duration::ZERO)?;
        let news = !caught_up.entries.is_empty() || caught_up.access == Access::Writer;
        self.replay(caught_up.entries);
        Ok(news)
    }
}

/// A stash as far as its snapshot has it, and the events that come after.
struct Begun {
    /// Where the snapshot was taken; the record's beginning without one.
    from: Mark,
    state: State,
    history: History,
    entries: Vec<Entry<Event>>,
    record: Record<Event>,
}

impl Begun {
    /// Takes the help of the snapshot where there is one of this record.
    fn open(dir: &Path, wait: Duration) -> Result<(Self, Vec<Notice>), RecordError> {
        if let Some(snapshot) = Snapshot::read(dir) {
            let wanted = snapshot.wanted();
            let from = snapshot.mark.clone();
            let resume = Resume {
                mark: &from,
                wanted: &wanted,
            };
            let mut opened = Record::resume(dir, wait, Some(resume))?;
            let Some(earlier) = opened.resumed.take() else {
                return Ok(Self::from_the_first(opened));
            };
            if let Some((state, history)) = snapshot.recall(earlier) {
                let begun = Self {
                    from,
                    state,
                    history,
                    entries: opened.entries,
                    record: opened.record,
                };
                return Ok((begun, opened.notices));
            }
        }
        Self::whole(dir, wait)
    }

    fn whole(dir: &Path, wait: Duration) -> Result<(Self, Vec<Notice>), RecordError> {
        Ok(Self::from_the_first(Record::open_waiting(dir, wait)?))
    }

    fn from_the_first(opened: Opened<Event>) -> (Self, Vec<Notice>) {
        let begun = Self {
            from: Mark::start(),
            state: State::default(),
            history: History::default(),
            entries: opened.entries,
            record: opened.record,
        };
        (begun, opened.notices)
    }
}

#[cfg(test)]
mod tests;
