//! A stash that is open: its state, its history, and the log of both.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::Date;

use super::backup::Due;
use super::error::{
    AcceptError, CommitError, Damage, HistoryError, Notice, Other, ReadOnly, RecordError,
};
use super::folder::{Folder, Made, RECORD};
use super::format::Entry;
use super::format::MARKER;
use super::log::{Loaded, Log, News, Obstacle, was_here};
use super::reader::LogReader;
use super::snapshot::{self, Recalled, SNAPSHOT, Snapshot, Taken};
use crate::model::ids::IdSeed;
use crate::model::label::Who;
use crate::stash::apply::ApplyError;
use crate::stash::event::{Act, Event, inverse};
use crate::stash::history::{EventSummary, History, Replay, UndoEntry};
use crate::stash::invariants::{self, Violation};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// How long a change waits for another process to finish writing.
pub const PATIENCE: Duration = Duration::from_secs(5);

/// A stash that is open: what it holds, what was done, and where that is written down.
///
/// Reading changes nothing in the folder and holds no lock. A snapshot spares who only looks the reading of
/// a long record; a change is worked out and checked on what the record itself says. Every change goes through [`Store::commit`],
/// which locks, catches up with what others wrote, checks the change against that, writes and unlocks. Both
/// it and the replay of a record use [`State::apply`], so a live stash and a reopened one cannot differ.
#[derive(Debug)]
pub struct Store {
    dir: PathBuf,
    state: State,
    history: History,
    log: Log<Event>,
    misfit: Option<(u64, ApplyError)>,
    /// There was a record, and now there is none, nor anything that says so.
    gone: bool,
    last_seq: u64,
    /// The state rests on a snapshot, which is good enough to look at and not to be written on.
    recalled: bool,
    /// What others changed since this was last asked for.
    others: Vec<Other>,
    /// The numbers of the events that others wrote since this store was opened.
    foreign: BTreeSet<u64>,
    /// The last event that was read or written before the record was read anew.
    known: Option<u64>,
}

/// One event of the record, described.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct HistoryEntry<T> {
    /// Its number in the record.
    pub seq: u64,
    /// When it was written down.
    pub time: Timestamp,
    /// Who made it, where a name is kept.
    pub by: Option<Who>,
    /// What was done.
    pub act: Act,
    /// What that did, card by card.
    pub summary: EventSummary<T>,
}

impl Store {
    /// Whether a folder holds a stash, or held one. Changes nothing.
    #[must_use]
    pub fn is_in(dir: &Path) -> bool {
        let Ok(Some(folder)) = Folder::open(dir) else {
            return false;
        };
        [RECORD, MARKER]
            .into_iter()
            .any(|name| !matches!(folder.identity(name), Ok(None)))
            || was_here(&folder)
    }

    /// Opens the stash in a folder. Where there is none, it is empty, and nothing is made before the first
    /// change. Damage, and an event that does not fit, end the reading: the stash is then read-only, up to
    /// there.
    ///
    /// # Errors
    /// Where the folder cannot be read, the record is gone though it had events, or its format is newer
    /// than this program.
    pub fn open(dir: &Path) -> Result<(Self, Vec<Notice>), RecordError> {
        let (store, notices) = Self::open_damaged(dir)?;
        store.or_missing().map(|store| (store, notices))
    }

    /// As [`Store::open`], but a record that is gone is damage as any other.
    pub(super) fn open_damaged(dir: &Path) -> Result<(Self, Vec<Notice>), RecordError> {
        let mut store = Self::at(dir);
        let notices = store.load(true)?;
        Ok((store, notices))
    }

    /// Opens the stash in a folder by reading its record from the first event to the last, whatever
    /// snapshot there is.
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

    /// Reads everything, with the help of the snapshot or without.
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
        // Without random numbers of the system nothing is written; see `Log::compose`.
        self.state
            .seed_ids(IdSeed(getrandom::u64().unwrap_or_default()));
        self.last_seq = events;
        self.misfit = None;
        let Loaded {
            entries, notices, ..
        } = loaded;
        let known = self.known.unwrap_or(u64::MAX);
        let others = self.replay(entries);
        self.take_note(others.into_iter().filter(|other| other.seq > known));
        self.known = Some(self.last_seq);
        Ok(notices)
    }

    fn take_note(&mut self, others: impl Iterator<Item = Other>) {
        for other in others {
            self.foreign.insert(other.seq);
            self.others.push(other);
        }
    }

    /// Applies what was read from the record; returns what it was.
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

    /// Whether the stash is the same when it is opened with the help of the snapshot, as it must be.
    ///
    /// # Errors
    /// See [`Store::open`].
    pub fn agrees_with_snapshot(&self) -> Result<bool, RecordError> {
        let (other, _) = Self::open(&self.dir)?;
        Ok(self.state == other.state && self.history == other.history)
    }

    /// Says who makes the changes that are committed from now on. Nobody at first.
    pub fn sign_as(&mut self, by: Option<Who>) {
        self.log.sign_as(by);
    }

    /// The backup of this day, where the stash may be changed and there is none yet. Costs one look at the
    /// folder; [`Due::make`] does the work.
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

    /// Everything that was done, from the first event on, read from the disk one by one. An event
    /// that did not fit is among them, and what comes after it.
    ///
    /// # Errors
    /// Where the record cannot be opened to be read.
    pub fn past(&self) -> Result<LogReader<Event>, RecordError> {
        self.log.reader()
    }

    /// Describes the events from one on, in order, with the names of their own time. `call` says what an act
    /// is called, `look` what is to be told of a card. The record is read line by line, and from its first line: what came before is
    /// needed to know what things were called.
    ///
    /// # Errors
    /// When the record cannot be read, or is not what it was. An event that does not fit, and what comes
    /// after it, is no part of the stash and not told.
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

    /// Why the stash cannot be changed, if so, as far as can be told without trying.
    #[must_use]
    pub fn read_only(&self) -> Option<ReadOnly> {
        self.unsound().or_else(|| {
            Some(match self.log.obstacle()? {
                Obstacle::Protected => ReadOnly::Protected,
                Obstacle::Foreign(path, foreign) => ReadOnly::Foreign { path, foreign },
            })
        })
    }

    /// What is wrong with the record, if anything is.
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

    /// The first event that does not fit, if any.
    #[must_use]
    pub fn misfit(&self) -> Option<&(u64, ApplyError)> {
        self.misfit.as_ref()
    }

    /// Every law that is broken now; none, unless the program has a fault.
    #[must_use]
    pub fn broken_laws(&self) -> Vec<Violation> {
        invariants::check_all(&self.state)
    }

    /// Whether another process made a change while this store was open.
    #[must_use]
    pub fn is_others(&self, seq: u64) -> bool {
        self.foreign.contains(&seq)
    }

    /// What others changed since this was last asked, the latest last.
    pub fn take_others(&mut self) -> Vec<Other> {
        std::mem::take(&mut self.others)
    }

    /// What was found or put right by a change, once.
    pub fn take_notices(&mut self) -> Vec<Notice> {
        self.log.take_notices()
    }

    /// Catches up with what others did to the folder: new events are applied; a record that was replaced,
    /// put right or damaged is read and judged anew. Changes nothing in the folder. Returns whether
    /// anything is new here.
    ///
    /// # Errors
    /// When the record cannot be read.
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
                self.load(!self.log.is_held())?;
                Ok(before != (self.unsound(), self.log.position()))
            }
        }
    }

    /// Locks the stash and catches up, so that a change can be worked out on what is there now. The lock is
    /// held until [`Store::release`], or the store is dropped. Where there is no folder yet there is nothing
    /// to lock. Returns whether anything is new here.
    ///
    /// # Errors
    /// Where another process kept the lock for so long, and where the stash cannot be changed.
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
            // Before the lock, as it may take a while.
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

    /// Gives up the lock.
    pub fn release(&mut self) {
        self.log.release();
    }

    /// Applies an event and puts it on disk. Acknowledged only when both are done: an event that
    /// does not fit is never written, and one that was not written is taken back.
    ///
    /// # Errors
    /// As [`Store::commit_all`].
    pub fn commit(&mut self, now: Timestamp, event: &Event) -> Result<u64, CommitError> {
        self.commit_all(now, std::slice::from_ref(event))
    }

    /// Applies a row of events, each on what the one before left, and puts them on disk with one
    /// wait for it: all of them, or none. Returns the number of the last. A crash before it returns
    /// may leave some of them, from the first on. Locks the stash for that where it is not held already,
    /// and catches up first.
    ///
    /// # Errors
    /// When one of the events does not fit what is there now or breaks a law, or the record does not take
    /// them; nothing of them is kept.
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

    /// Makes the folder of a stash that is to begin with these events, once they are known to fit.
    fn begin_stash(&mut self, now: Timestamp, events: &[Event]) -> Result<Made, CommitError> {
        // Any other change is about a stash that is not where it was.
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

    /// Writes events that have been applied, and where the record has grown enough a snapshot after them.
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
            // Without one the next opening takes longer, and nothing else.
            let _ = self
                .log
                .in_folder(|folder, position| taken.write(folder, position));
        }
        Ok(last)
    }

    /// How much of the record the snapshot spares who only looks, where there is one.
    fn spared(&self) -> u64 {
        let spared = self.log.in_folder(|folder, position| {
            let there = folder.identity(SNAPSHOT)?;
            Ok(there.map_or(0, |_| position.digest_at))
        });
        spared.unwrap_or(0)
    }

    /// Takes back in memory what was applied and is not on disk, the last event first.
    fn take_back(&mut self, events: &[Event]) {
        for event in events.iter().rev() {
            // What was done goes back by the same laws as an undo: a ring may be closed again.
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
    /// When there is none, or the record does not take it.
    pub fn undo(&mut self, now: Timestamp) -> Result<u64, CommitError> {
        self.turn(now, None, History::last_done, History::undo)
    }

    /// Undoes the last event if it is still the one with this number, so that nobody undoes what another
    /// process has just done.
    ///
    /// # Errors
    /// As [`Store::undo`]; [`CommitError::Overtaken`] when the last event is another one.
    pub fn undo_event(&mut self, now: Timestamp, seq: u64) -> Result<u64, CommitError> {
        self.turn(now, Some(seq), History::last_done, History::undo)
    }

    /// Does again what the last undo took back.
    ///
    /// # Errors
    /// When the last event was no undo, or the record does not take it.
    pub fn redo(&mut self, now: Timestamp) -> Result<u64, CommitError> {
        self.turn(now, None, History::last_undone, History::redo)
    }

    /// Does again what the undo with this number took back, if that is still the last one.
    ///
    /// # Errors
    /// As [`Store::redo`]; [`CommitError::Overtaken`] when another process has done something since.
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

    /// Goes on with a record that has lost events, or was exchanged for another: what is there counts from
    /// now on, and an event says so. Returns what had been acknowledged, as far as known, and what there
    /// was.
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
        let damage = store.log.damage().ok_or(AcceptError::NothingLost)?;
        let Some((recorded, found)) = damage.loss() else {
            return Err(AcceptError::Damaged(damage.clone()));
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

    /// The log itself, for tests of what it may come to.
    #[cfg(test)]
    pub(super) const fn log_mut(&mut self) -> &mut Log<Event> {
        &mut self.log
    }
}
