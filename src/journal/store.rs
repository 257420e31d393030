//! An open stash: its state, its history, and the log of both.

use std::collections::{BTreeSet, HashSet};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::Date;

use super::backup::{self, Due, path_of};
use super::error::{
    AcceptError, CommitError, Damage, HistoryError, Notice, Other, ReadOnly, RecordError,
};
use super::folder::{Folder, Made, RECORD};
use super::format::Entry;
use super::format::MARKER;
use super::log::{Loaded, Log, News, Obstacle, was_here};
use super::reader::LogReader;
use super::snapshot::{self, Recalled, SNAPSHOT, Snapshot, Taken};
use crate::model::ids::{EventId, IdSeed, Stamp};
use crate::model::label::Who;
use crate::stash::apply::ApplyError;
use crate::stash::event::{Act, Deed, Event, inverse};
use crate::stash::history::{EventSummary, History, Replay, UndoEntry};
use crate::stash::invariants::{self, Violation};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// How long a change waits for another process to finish writing.
pub const PATIENCE: Duration = Duration::from_secs(5);

/// An open stash: its contents, its history, and the log that records both.
///
/// Reading changes nothing in the folder and holds no lock. A snapshot saves read-only use from
/// reading a long record; changes are computed and checked against the record itself. Every change
/// goes through [`Store::commit`], which locks, catches up with other writers, checks the change
/// against the result, writes and unlocks. Both it and replaying a record use [`State::apply`], so
/// a live stash and a reopened one can't differ.
#[derive(Debug)]
pub struct Store {
    dir: PathBuf,
    state: State,
    history: History,
    log: Log<Event>,
    misfit: Option<(u64, ApplyError)>,
    /// The record existed before, and has vanished without a trace.
    gone: bool,
    last_seq: u64,
    /// The state comes from a snapshot, which is good enough for reading but not for writing.
    recalled: bool,
    /// Changes by others since the last call of [`Store::take_others`].
    others: Vec<Other>,
    /// The numbers of events written by others since this store was opened.
    foreign: BTreeSet<u64>,
    /// The last event read or written before the record was reloaded.
    known: Option<u64>,
}

/// One event of the record, described.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct HistoryEntry<T> {
    /// Its number in the record.
    pub seq: u64,
    /// When it was recorded.
    pub time: Timestamp,
    /// The writer's name, if recorded.
    pub by: Option<Who>,
    /// The change itself.
    pub act: Act,
    /// Its effect, card by card.
    pub summary: EventSummary<T>,
}

/// The changes that a record's entries tell another copy, with their stamps. Undoing a merge is no news, so where one
/// was merged, undone and redone changes don't count.
fn told_by(entries: &[Entry<Event>]) -> impl Iterator<Item = (EventId, Stamp)> {
    let merged = entries
        .iter()
        .any(|entry| matches!(entry.event.act, Act::Merge { .. }));
    let own = entries.iter().filter(move |entry| match entry.event.act {
        Act::Merge { .. } | Act::AcceptLoss { .. } => false,
        Act::Undo { .. } | Act::Redo { .. } => !merged,
        _ => true,
    });
    let brought = entries.iter().flat_map(|entry| entry.event.act.facts());
    let brought = brought.filter(|fact| !matches!(fact.deed, Deed::Settled(_)));
    own.map(|entry| (entry.id, entry.stamp))
        .chain(brought.map(|fact| (fact.id, fact.stamp)))
}

impl Store {
    /// Whether a folder holds a stash, or did. Changes nothing.
    #[must_use]
    pub fn is_in(dir: &Path) -> bool {
        let folder = match Folder::open(dir) {
            Ok(Some(folder)) => folder,
            Ok(None) => return false,
            // Opening it says why it can't be read.
            Err(error) => return error.kind() == std::io::ErrorKind::PermissionDenied,
        };
        [RECORD, MARKER]
            .into_iter()
            .any(|name| !matches!(folder.identity(name), Ok(None)))
            || was_here(&folder)
    }

    /// Opens the stash in a folder. If there is none, the stash is empty, and nothing is created
    /// before the first change. Reading stops at damage, or at an event that doesn't apply: the
    /// stash is then read-only, up to that point.
    ///
    /// # Errors
    /// When the folder can't be read, the record is gone though it had events, or its format is
    /// newer than this program.
    pub fn open(dir: &Path) -> Result<(Self, Vec<Notice>), RecordError> {
        let (store, notices) = Self::open_damaged(dir)?;
        store.or_missing().map(|store| (store, notices))
    }

    /// Like [`Store::open`], but treats a missing record like any other damage.
    pub(super) fn open_damaged(dir: &Path) -> Result<(Self, Vec<Notice>), RecordError> {
        let mut store = Self::at(dir);
        let notices = store.load(true)?;
        Ok((store, notices))
    }

    /// Opens the stash in a folder by reading its record from first to last event, ignoring any
    /// snapshot.
    ///
    /// # Errors
    /// See [`Store::open`].
    pub fn open_whole(dir: &Path) -> Result<(Self, Vec<Notice>), RecordError> {
        let mut store = Self::at(dir);
        let notices = store.load(false)?;
        store.or_missing().map(|store| (store, notices))
    }

    fn at(dir: &Path) -> Self {
        Self {
            dir: dir.to_owned(),
            state: State::default(),
            history: History::default(),
            log: Log::at(dir),
            misfit: None,
            gone: false,
            last_seq: 0,
            recalled: false,
            others: Vec::new(),
            foreign: BTreeSet::new(),
            known: None,
        }
    }

    fn or_missing(self) -> Result<Self, RecordError> {
        match self.log.damage() {
            Some(&Damage::Missing { recorded }) => Err(RecordError::Missing {
                path: self.dir.join(RECORD),
                recorded,
            }),
            _ => Ok(self),
        }
    }

    /// Reads everything, with or without the snapshot.
    fn load(&mut self, with_snapshot: bool) -> Result<Vec<Notice>, RecordError> {
        let snapshot = with_snapshot
            .then(|| Snapshot::read(&Folder::open(&self.dir).ok()??))
            .flatten();
        let mut loaded = self.log.load(snapshot.as_ref().map(Snapshot::resume))?;
        self.gone = self.last_seq > 0 && !self.log.has_record();
        if self.gone {
            return Ok(loaded.notices);
        }
        let resumed = loaded.resumed.take();
        let recalled = match (snapshot, resumed) {
            (Some(snapshot), Some(earlier)) => match snapshot.recall(earlier) {
                Some(recalled) => Some(recalled),
                None => {
                    loaded = self.log.load(None)?;
                    None
                }
            },
            _ => None,
        };
        self.recalled = recalled.is_some();
        let Recalled {
            events,
            state,
            history,
        } = recalled.unwrap_or(Recalled {
            events: 0,
            state: State::default(),
            history: History::default(),
        });
        (self.state, self.history) = (state, history);
        // Without random numbers from the system nothing is written; see `Log::compose`.
        self.state
            .seed_ids(IdSeed(getrandom::u64().unwrap_or_default()));
        self.last_seq = events;
        self.misfit = None;
        let Loaded {
            entries,
            mut notices,
            ..
        } = loaded;
        let known = self.known.unwrap_or(u64::MAX);
        let others = self.replay(entries);
        self.take_note(others.into_iter().filter(|other| other.seq > known));
        self.known = Some(self.last_seq);
        notices.extend(self.unsound().is_none().then(|| self.lacks()).flatten());
        Ok(notices)
    }

    /// The backup with the most changes that the record lacks, if one has any and their loss wasn't accepted.
    fn lacks(&self) -> Option<Notice> {
        let strays = backup::strays(&Folder::open(&self.dir).ok()??);
        if strays.is_empty() {
            return None;
        }
        let (mut known, mut accepted) = (HashSet::new(), Stamp::default());
        for entry in self.past().ok()? {
            let entry = entry.ok()?;
            known.insert(entry.id);
            known.extend(entry.event.act.facts().iter().map(|fact| fact.id));
            if matches!(entry.event.act, Act::AcceptLoss { .. }) {
                accepted = entry.stamp;
            }
        }
        let lacking = strays.into_iter().rev().filter_map(|day| {
            let copy = path_of(&self.dir, day);
            let entries = backup::entries(&self.dir, day)?;
            let is_ours = entries
                .first()
                .is_some_and(|entry| known.contains(&entry.id));
            let told =
                told_by(&entries).filter(|(id, stamp)| !known.contains(id) && *stamp > accepted);
            let changes = told.map(|(id, _)| id).collect::<HashSet<_>>().len() as u64;
            (is_ours && changes > 0).then_some(Notice::Lacks { copy, day, changes })
        });
        lacking.max_by_key(|lacks| match lacks {
            Notice::Lacks { changes, .. } => *changes,
            _ => 0,
        })
    }

    fn take_note(&mut self, others: impl Iterator<Item = Other>) {
        for other in others {
            self.foreign.insert(other.seq);
            self.others.push(other);
        }
    }

    /// Applies the entries read from the record; returns the changes in them.
    fn replay(&mut self, entries: Vec<Entry<Event>>) -> Vec<Other> {
        let mut applied = Vec::new();
        for Entry { seq, by, event, .. } in entries {
            if self.misfit.is_some() {
                break;
            }
            match self.state.apply(&event) {
                Ok(()) => {
                    let act = event.act.clone();
                    self.history.note(seq, event);
                    self.last_seq = seq;
                    applied.push(Other { seq, by, act });
                }
                Err(misfit) => self.misfit = Some((seq, misfit)),
            }
        }
        applied
    }

    /// Whether opening with the snapshot gives the same stash, as it must.
    ///
    /// # Errors
    /// See [`Store::open`].
    pub fn agrees_with_snapshot(&self) -> Result<bool, RecordError> {
        let (other, _) = Self::open(&self.dir)?;
        Ok(self.state == other.state && self.history == other.history)
    }

    /// Sets the writer's name for changes committed from now on. There is none at first.
    pub fn sign_as(&mut self, by: Option<Who>) {
        self.log.sign_as(by);
    }

    /// Today's backup, if the stash may be changed and has none yet. Costs one look at the folder;
    /// [`Due::make`] does the work.
    #[must_use]
    pub fn backup_due(&self, today: Date) -> Option<Due> {
        let sound = self.misfit.is_none();
        self.log.backup_due(today).filter(|_| sound)
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

    /// What can be undone and redone.
    #[must_use]
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// The number of the last event.
    #[must_use]
    pub const fn events(&self) -> u64 {
        self.last_seq
    }

    /// Reads all events from the first on, one at a time from disk, including an event that doesn't
    /// apply and those after it.
    ///
    /// # Errors
    /// When the record can't be opened for reading.
    pub fn past(&self) -> Result<LogReader<Event>, RecordError> {
        self.log.reader()
    }

    /// Describes the events from one on, in order, with the names of their own time. `call` names
    /// an act, `look` describes a card. Reads the record line by line from the start, since earlier
    /// events determine what things were called.
    ///
    /// # Errors
    /// When the record can't be read, or has changed. An event that doesn't apply, and those after
    /// it, are left out, as they aren't part of the stash.
    pub fn describe<T: Clone>(
        &self,
        from: u64,
        call: impl Fn(&State, &Act) -> String,
        look: impl Fn(&State, &CardState) -> T,
        mut each: impl FnMut(HistoryEntry<T>),
    ) -> Result<(), HistoryError> {
        let mut replay = Replay::default();
        for entry in self.past()? {
            let entry = entry?;
            if entry.seq > self.events() {
                break;
            }
            if entry.seq < from {
                replay.pass(entry.seq, entry.event)?;
                continue;
            }
            let act = entry.event.act.clone();
            let summary = replay.describe(entry.seq, entry.event, &call, &look)?;
            each(HistoryEntry {
                seq: entry.seq,
                time: entry.time,
                by: entry.by,
                act,
                summary,
            });
        }
        Ok(())
    }

    /// Why the stash can't be changed, if so, as far as is known without trying.
    #[must_use]
    pub fn read_only(&self) -> Option<ReadOnly> {
        self.unsound().or_else(|| {
            Some(match self.log.obstacle()? {
                Obstacle::Protected => ReadOnly::Protected,
                Obstacle::Foreign(path, foreign) => ReadOnly::Foreign { path, foreign },
            })
        })
    }

    /// What is wrong with the record, if anything.
    #[must_use]
    pub fn unsound(&self) -> Option<ReadOnly> {
        if self.gone {
            return Some(ReadOnly::Gone(self.dir.clone()));
        }
        if let Some((seq, misfit)) = &self.misfit {
            return Some(ReadOnly::ApplyError {
                seq: *seq,
                misfit: misfit.clone(),
            });
        }
        let damage = self.log.damage().cloned();
        damage.map(ReadOnly::Damaged)
    }

    /// The first event that doesn't apply, if any.
    #[must_use]
    pub fn misfit(&self) -> Option<&(u64, ApplyError)> {
        self.misfit.as_ref()
    }

    /// All invariants violated now; empty unless the program has a bug.
    #[must_use]
    pub fn broken_laws(&self) -> Vec<Violation> {
        invariants::check_all(&self.state)
    }

    /// Whether another process made this change while the store was open.
    #[must_use]
    pub fn is_others(&self, seq: u64) -> bool {
        self.foreign.contains(&seq)
    }

    /// Takes the changes by others since the last call, latest last.
    pub fn take_others(&mut self) -> Vec<Other> {
        std::mem::take(&mut self.others)
    }

    /// Takes the findings and repairs made during changes.
    pub fn take_notices(&mut self) -> Vec<Notice> {
        self.log.take_notices()
    }

    /// Reads and judges the whole record at the next refresh or change, because it may not be what was read.
    pub fn doubt(&mut self) {
        self.log.doubt();
    }

    /// Catches up with changes to the folder: applies new events, and reloads and judges a record
    /// that was replaced, repaired or damaged. Changes nothing in the folder. Returns whether
    /// anything is new here.
    ///
    /// # Errors
    /// When the record can't be read.
    pub fn refresh(&mut self) -> Result<bool, RecordError> {
        let news = self.log.look()?;
        self.take_news(news)
    }

    fn take_news(&mut self, news: News<Event>) -> Result<bool, RecordError> {
        match news {
            News::None => Ok(false),
            News::More(entries) => {
                let others = self.replay(entries);
                self.take_note(others.into_iter());
                self.known = Some(self.last_seq);
                Ok(true)
            }
            News::Anew => {
                let before = (self.unsound(), self.log.position());
                let notices = self.load(!self.log.is_held())?;
                self.log
                    .report(notices.into_iter().filter(Notice::is_of_a_loss));
                Ok(before != (self.unsound(), self.log.position()))
            }
        }
    }

    /// Locks the stash and catches up, so that a change can be based on the current state. The lock
    /// is held until [`Store::release`], or until the store is dropped. If there is no folder yet,
    /// there is nothing to lock. Returns whether anything is new here.
    ///
    /// # Errors
    /// When another process kept the lock for the whole wait, or the stash can't be changed.
    pub fn hold(&mut self, wait: Duration) -> Result<bool, CommitError> {
        if self.log.is_held() {
            return Ok(false);
        }
        let held = self.caught_up(wait);
        if held.is_err() {
            self.log.release();
        }
        held
    }

    fn caught_up(&mut self, wait: Duration) -> Result<bool, CommitError> {
        let mut is_new = false;
        if self.recalled {
            // Done before locking, as it may take a while.
            let shown = self.state.clone();
            self.load(false)?;
            is_new = shown != self.state;
        }
        if self.log.has_folder()? {
            let news = self.log.hold(wait)?;
            is_new |= self.take_news(news)?;
        }
        match self.unsound() {
            Some(ReadOnly::Damaged(damage)) => Err(RecordError::ReadOnly(damage).into()),
            Some(why) => Err(CommitError::ReadOnly(why)),
            None => Ok(is_new),
        }
    }

    /// Releases the lock.
    pub fn release(&mut self) {
        self.log.release();
    }

    /// Applies an event and puts it on disk, and acknowledges it only once both are done. An event
    /// that doesn't apply is never written, and one that wasn't written is reverted.
    ///
    /// # Errors
    /// See [`Store::commit_all`].
    pub fn commit(&mut self, now: Timestamp, event: &Event) -> Result<u64, CommitError> {
        self.commit_all(now, std::slice::from_ref(event))
    }

    /// Applies several events in turn and puts them on disk with one sync: all of them, or none.
    /// Returns the number of the last one. A crash before it returns may leave a prefix of them.
    /// Locks the stash, unless it is held already, and catches up first.
    ///
    /// # Errors
    /// When one of the events doesn't apply to the current state or breaks an invariant, or the
    /// record rejects them. Then none of them is kept.
    pub fn commit_all(&mut self, now: Timestamp, events: &[Event]) -> Result<u64, CommitError> {
        let held = self.log.is_held();
        let made = match self.log.has_folder()? {
            true => None,
            false if self.last_seq > 0 => {
                return Err(CommitError::ReadOnly(ReadOnly::Gone(self.dir.clone())));
            }
            false => Some(self.begin_stash(now, events)?),
        };
        let (known, place) = (self.last_seq, self.log.position());
        self.hold(PATIENCE)?;
        let was_overtaken = place != self.log.position();
        let mut committed = self.commit_held(now, events);
        if let (true, Err(CommitError::Refused(_))) = (was_overtaken, &committed) {
            let others = self.others.iter().filter(|other| other.seq > known);
            let others = others.cloned().collect();
            committed = Err(CommitError::Overtaken { others });
        }
        if !held {
            self.log.release();
        }
        if let (Ok(_), Some(made)) = (&committed, made) {
            made.keep();
        }
        committed
    }

    /// Creates the folder of a stash that begins with these events, once they are known to apply.
    fn begin_stash(&mut self, now: Timestamp, events: &[Event]) -> Result<Made, CommitError> {
        // Any other change belongs to a stash that has gone missing.
        if !events
            .first()
            .is_some_and(|event| event.act.begins_a_stash())
        {
            let path = self.dir.clone();
            return Err(RecordError::NoRecord { path }.into());
        }
        let mut begun = self.state.clone();
        for event in events {
            begun.apply(event).map_err(Refusal::from)?;
        }
        self.log.compose(now, events, None)?;
        let made = Made::make(&self.dir).map_err(|source| RecordError::Folder {
            path: self.dir.clone(),
            source,
        })?;
        Ok(made)
    }

    fn commit_held(&mut self, now: Timestamp, events: &[Event]) -> Result<u64, CommitError> {
        for (done, event) in events.iter().enumerate() {
            if let Err(misfit) = self.state.apply(event) {
                self.take_back(&events[..done]);
                return Err(Refusal::from(misfit).into());
            }
        }
        match self.write(now, events) {
            Ok(last) => {
                for (event, seq) in events.iter().zip(self.last_seq + 1..) {
                    self.history.note(seq, event.clone());
                }
                self.last_seq = last;
                self.known = Some(last);
                Ok(last)
            }
            Err(error) => {
                self.take_back(events);
                Err(error.into())
            }
        }
    }

    /// Writes applied events, followed by a snapshot if the record has grown enough.
    fn write(&mut self, now: Timestamp, events: &[Event]) -> Result<u64, RecordError> {
        for event in events {
            self.log.comes_after(event.act.newest_stamp());
        }
        let mut composed = self.log.compose(now, events, None)?;
        let due = !events.is_empty() && composed.bytes() - self.spared() >= snapshot::WORTH;
        let taken = due.then(|| {
            let mut history = self.history.clone();
            for (event, seq) in events.iter().zip(self.last_seq + 1..) {
                history.note(seq, event.clone());
            }
            Taken::of(&self.state, &history)
        });
        let taken = taken.flatten();
        if let Some(taken) = &taken {
            composed = self.log.compose(now, events, Some(taken.digest()))?;
        }
        let last = self.log.write(composed)?;
        if let Some(taken) = taken {
            // Without a snapshot the next opening takes longer; nothing else depends on it.
            let _ = self
                .log
                .in_folder(|folder, position| taken.write(folder, position));
        }
        Ok(last)
    }

    /// The length of the record that the snapshot saves a reader, if there is one.
    fn spared(&self) -> u64 {
        let spared = self.log.in_folder(|folder, position| {
            let there = folder.identity(SNAPSHOT)?;
            Ok(there.map_or(0, |_| position.digest_at))
        });
        spared.unwrap_or(0)
    }

    /// Reverts in memory the events that were applied but not written, last event first.
    fn take_back(&mut self, events: &[Event]) {
        for event in events.iter().rev() {
            // This follows the rules of an undo: for example, a ring may be closed again.
            let back = Event {
                act: Act::Undo { seq: self.last_seq },
                changes: inverse(&event.changes),
            };
            let undone = self.state.apply(&back);
            debug_assert!(undone.is_ok(), "{undone:?}");
        }
    }

    /// Undoes the last event.
    ///
    /// # Errors
    /// When there is none, or the record rejects the undo.
    pub fn undo(&mut self, now: Timestamp) -> Result<u64, CommitError> {
        self.turn(now, None, History::last_done, History::undo)
    }

    /// Undoes the last event if it still has this number, so that nobody undoes another process's
    /// latest change.
    ///
    /// # Errors
    /// See [`Store::undo`]; also [`CommitError::Overtaken`] if another event is last.
    pub fn undo_event(&mut self, now: Timestamp, seq: u64) -> Result<u64, CommitError> {
        self.turn(now, Some(seq), History::last_done, History::undo)
    }

    /// Redoes the last undone change.
    ///
    /// # Errors
    /// When the last event wasn't an undo, or the record rejects the redo.
    pub fn redo(&mut self, now: Timestamp) -> Result<u64, CommitError> {
        self.turn(now, None, History::last_undone, History::redo)
    }

    /// Redoes the change undone by the event with this number, if that undo is still the last one.
    ///
    /// # Errors
    /// See [`Store::redo`]; also [`CommitError::Overtaken`] if another process has changed
    /// something since.
    pub fn redo_event(&mut self, now: Timestamp, seq: u64) -> Result<u64, CommitError> {
        self.turn(now, Some(seq), History::last_undone, History::redo)
    }

    fn turn(
        &mut self,
        now: Timestamp,
        expected: Option<u64>,
        last: fn(&History) -> Option<&UndoEntry>,
        event: fn(&History) -> Result<Event, Refusal>,
    ) -> Result<u64, CommitError> {
        let (held, known) = (self.log.is_held(), self.last_seq);
        self.hold(PATIENCE)?;
        let there = last(&self.history).map(|past| past.seq);
        let turned = if expected.is_some() && there != expected {
            let others = self.others.iter().filter(|other| other.seq > known);
            let others = others.cloned().collect();
            Err(CommitError::Overtaken { others })
        } else {
            let event = event(&self.history).map_err(CommitError::from);
            event.and_then(|event| self.commit(now, &event))
        };
        if !held {
            self.log.release();
        }
        turned
    }

    /// Continues a record that has lost events or was exchanged for another: accepts the current
    /// contents from now on, and records that in an event. Returns the numbers of acknowledged
    /// events, if known, and of events present.
    ///
    /// # Errors
    /// [`AcceptError`]; nothing is changed.
    pub fn accept_loss(
        dir: &Path,
        by: Option<Who>,
        now: Timestamp,
    ) -> Result<(Option<u64>, u64), AcceptError> {
        let (mut store, _) = Self::open_damaged(dir)?;
        store.sign_as(by);
        if !store.log.has_folder()? {
            return Err(AcceptError::NothingLost);
        }
        let news = store.log.hold(PATIENCE)?;
        store.take_news(news)?;
        let found = store.events();
        let (recorded, found) = match (store.log.damage(), store.lacks()) {
            (Some(damage), _) => {
                let damaged = || AcceptError::Damaged(damage.clone());
                damage.loss().ok_or_else(damaged)?
            }
            (None, Some(Notice::Lacks { changes, .. })) => (Some(found + changes), found),
            (None, _) => return Err(AcceptError::NothingLost),
        };
        if let Some((seq, misfit)) = &store.misfit {
            return Err(AcceptError::ApplyError {
                seq: *seq,
                misfit: misfit.clone(),
            });
        }
        store.log.accept_loss();
        let gone = store.log.in_folder(|folder, _| folder.remove(SNAPSHOT));
        gone.map_err(|source| RecordError::unwritable(&dir.join(SNAPSHOT), source))?;
        let event = Event {
            act: Act::AcceptLoss { recorded, found },
            changes: Vec::new(),
        };
        store.log.append(now, &event)?;
        Ok((recorded, found))
    }

    /// The log itself, for tests of its failures.
    #[cfg(test)]
    pub(super) const fn log_mut(&mut self) -> &mut Log<Event> {
        &mut self.log
    }
}
