//! The one who keeps a stash: its state, its history and the record of both.

use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;

use super::end;
use super::error::{Access, Notice, RecordError};
use super::folder;
use super::line::Entry;
use super::record::{Opened, Record};
use crate::stash::change::turned;
use crate::stash::event::Event;
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
    #[error(
        "event {seq} of the record does not fit ({misfit}); the stash is read-only. Run: homehook check"
    )]
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

    /// Opens the stash in a folder, waiting so long for another process to finish writing. An
    /// event that does not fit ends the replay: the stash is then read-only, up to there.
    ///
    /// # Errors
    /// See [`Record::open`].
    pub fn open(dir: &Path, wait: Duration) -> Result<(Self, Vec<Notice>), RecordError> {
        let Opened {
            entries,
            record,
            notices,
            ..
        } = Record::open_waiting(dir, wait)?;
        let mut keeper = Self {
            dir: dir.to_owned(),
            state: State::default(),
            history: History::default(),
            record,
            misfit: None,
            last_seq: 0,
        };
        keeper.replay(entries);
        Ok((keeper, notices))
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
        if let Some((seq, misfit)) = &self.misfit {
            return Err(CommitError::ReadOnly {
                seq: *seq,
                misfit: misfit.clone(),
            });
        }
        self.state.apply(event).map_err(Refusal::from)?;
        match self.record.append(now, event) {
            Ok(seq) => {
                self.history.note(seq, event.clone());
                self.last_seq = seq;
                Ok(seq)
            }
            Err(error) => {
                let back = Event {
                    act: event.act.clone(),
                    changes: turned(&event.changes),
                };
                let undone = self.state.apply(&back);
                debug_assert!(undone.is_ok(), "{undone:?}");
                Err(error.into())
            }
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

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::journal::folder::record_in;
    use crate::model::thread::Strands;
    use crate::stash::change::Change;
    use crate::stash::command::board::{Unhang, block, new_board};
    use crate::stash::command::import::{Terms, stock};
    use crate::stash::command::ring;
    use crate::stash::event::Act;
    use crate::stash::testing::{at, board, id, rows};

    fn open(dir: &Path) -> Keeper {
        let (keeper, notices) = Keeper::open(dir, Duration::ZERO).unwrap();
        assert_eq!(notices, []);
        assert_eq!(keeper.broken_laws(), []);
        keeper
    }

    /// A stash with a board, two cards and one of them on a ring.
    fn fill(keeper: &mut Keeper) {
        let event = new_board(keeper.state(), &board("wall", "", 1, 2, 1)).unwrap();
        keeper.commit(at(1), &event).unwrap();
        let list = rows(&["1@A01 moss", "2"]);
        let list = stock(keeper.state(), &list, Vec::new(), &Terms::default(), at(2));
        keeper.commit(at(2), &list.unwrap().event.unwrap()).unwrap();
        let cards = [id(keeper.state(), "1")];
        let event = ring::take(keeper.state(), "Robin", &cards, at(3)).unwrap();
        assert_eq!(keeper.commit(at(3), &event).unwrap(), 3);
    }

    #[test]
    fn a_stash_is_the_same_when_it_is_opened_again() {
        let dir = tempfile::tempdir().unwrap();
        let mut keeper = open(dir.path());
        assert!(keeper.is_writable());
        fill(&mut keeper);
        let (state, history) = (keeper.state().clone(), keeper.history().clone());
        drop(keeper);
        let keeper = open(dir.path());
        assert_eq!(keeper.state(), &state);
        assert_eq!(keeper.state().index(), state.index());
        assert_eq!(keeper.history(), &history);
        assert_eq!((keeper.events(), keeper.misfit()), (3, None));
    }

    #[test]
    fn undo_and_redo_go_on_where_they_stood_when_it_is_opened_again() {
        let dir = tempfile::tempdir().unwrap();
        let mut keeper = open(dir.path());
        fill(&mut keeper);
        let full = keeper.state().clone();
        keeper.undo(at(4)).unwrap();
        drop(keeper);

        let mut keeper = open(dir.path());
        keeper.undo(at(5)).unwrap();
        keeper.undo(at(6)).unwrap();
        assert_eq!(keeper.state(), &State::default());
        assert!(matches!(
            keeper.undo(at(7)),
            Err(CommitError::Refused(Refusal::NothingToUndo))
        ));
        drop(keeper);

        let mut keeper = open(dir.path());
        for _ in 0..3 {
            keeper.redo(at(8)).unwrap();
        }
        assert_eq!(keeper.state(), &full);
        assert!(matches!(
            keeper.redo(at(9)),
            Err(CommitError::Refused(Refusal::NothingToRedo))
        ));
        assert_eq!(keeper.events(), 9);
    }

    #[test]
    fn an_event_that_breaks_a_law_or_does_not_fit_is_not_written() {
        let dir = tempfile::tempdir().unwrap();
        let mut keeper = open(dir.path());
        fill(&mut keeper);
        let (state, history) = (keeper.state().clone(), keeper.history().clone());
        let record = fs::read(record_in(dir.path())).unwrap();
        let card = id(&state, "2");
        let home = state.find_mark("A01").unwrap();
        let breaks = Change::Home {
            card,
            before: None,
            after: Some(home),
        };
        let does_not_fit = Change::Thread {
            card,
            before: Strands(1),
            after: Strands(2),
        };
        for change in [breaks, does_not_fit] {
            let event = Event {
                act: Act::Demonstrate,
                changes: vec![change],
            };
            let refused = keeper.commit(at(4), &event).unwrap_err();
            assert!(matches!(refused, CommitError::Refused(Refusal::Misfit(_))));
            assert_eq!(fs::read(record_in(dir.path())).unwrap(), record);
            assert_eq!(keeper.state(), &state);
            assert_eq!(keeper.history(), &history);
        }
        // The next good event gets the next number.
        let event = block(&state, "A02", "light", Unhang::Refused, at(5)).unwrap();
        assert_eq!(keeper.commit(at(5), &event).unwrap(), 4);
    }

    #[test]
    fn an_event_that_cannot_be_written_is_taken_back() {
        let dir = tempfile::tempdir().unwrap();
        let mut writer = open(dir.path());
        fill(&mut writer);
        let mut reader = open(dir.path());
        assert!(!reader.is_writable());
        let event = ring::missing(reader.state(), &[id(reader.state(), "2")], at(4)).unwrap();
        let refused = reader.commit(at(4), &event).unwrap_err();
        assert!(matches!(refused, CommitError::Record(_)));
        assert_eq!(reader.state(), writer.state());
        assert_eq!(reader.history(), writer.history());
        // It reads on, and writes when the other is done.
        writer.commit(at(5), &event).unwrap();
        assert!(reader.catch_up().unwrap());
        assert_eq!(reader.state(), writer.state());
        drop(writer);
        assert!(reader.catch_up().unwrap());
        assert!(reader.is_writable());
        assert_eq!(reader.undo(at(6)).unwrap(), 5);
    }

    #[test]
    fn a_record_with_an_event_that_does_not_fit_is_read_up_to_there() {
        let dir = tempfile::tempdir().unwrap();
        let mut keeper = open(dir.path());
        fill(&mut keeper);
        let state = keeper.state().clone();
        // Past the laws, as a program with a fault would write it.
        let event = Event {
            act: Act::Demonstrate,
            changes: vec![
                Change::Families {
                    before: Vec::new(),
                    after: Vec::new(),
                };
                2
            ],
        };
        let mut wrong = event.clone();
        wrong.changes.push(Change::Ring {
            before: None,
            after: None,
        });
        keeper.record.append(at(4), &wrong).unwrap();
        keeper.record.append(at(5), &event).unwrap();
        drop(keeper);
        let mut keeper = open(dir.path());
        assert_eq!(keeper.state(), &state);
        assert_eq!(keeper.misfit().unwrap().0, 4);
        assert!(!keeper.is_writable());
        assert!(matches!(
            keeper.undo(at(6)),
            Err(CommitError::ReadOnly { seq: 4, .. })
        ));
    }
}
