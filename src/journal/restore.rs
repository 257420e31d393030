//! Replacing the record with a copy: a backup, or a file that the user names.

use std::collections::HashSet;
use std::fs::File;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::io::{self, BufRead, BufReader, Read, Seek};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::Date;
use serde::de::IgnoredAny;

use super::backup::{SET_ASIDE, list, open, path_of};
use super::error::{LineError, RecordError};
use super::folder::{Folder, RECORD, Unfinished};
use super::format::{CommitMarker, MARKER, MarkerFile, MarkerState};
use super::format::{MAX_LINE, Sum};
use super::lock::{LockOutcome, Locked};
use super::reader::{End, LogPosition, open_named, scan};
use super::snapshot::SNAPSHOT;
use crate::stash::apply::ApplyError;
use crate::stash::event::Event;
use crate::stash::state::State;

/// A copy of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Copy {
    /// The backup of a day.
    Backup(Date),
    /// A file of the stash folder, by its name.
    Inside(String),
    /// A file chosen by the user.
    File(PathBuf),
}

impl Copy {
    /// Its path.
    #[must_use]
    pub fn path(&self, dir: &Path) -> PathBuf {
        match self {
            Self::Backup(day) => path_of(dir, *day),
            Self::Inside(name) => dir.join(name),
            Self::File(path) => path.clone(),
        }
    }

    /// Opens the copy; a file in the stash folder is never opened through a link.
    fn open(&self, dir: &Path) -> io::Result<File> {
        let inside = match self {
            Self::File(path) => return open_named(path),
            Self::Backup(day) => open(dir, *day)?,
            Self::Inside(name) => match Folder::open(dir)? {
                Some(folder) => folder.read(name)?,
                None => None,
            },
        };
        inside.ok_or_else(|| io::ErrorKind::NotFound.into())
    }
}

/// The outcome of restoring a copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// How many events there are now.
    pub events: u64,
    /// How many acknowledged events the copy lacks, usually those made since it.
    pub lacking: Lacking,
    /// The path of the replaced record, if there was one.
    pub aside: Option<PathBuf>,
}

/// How many acknowledged events a copy lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lacking {
    /// This many.
    Exactly(u64),
    /// The copy lacks the last acknowledged event, so further events may be missing that no line
    /// holds any more.
    AtLeast(u64),
    /// There was neither a record nor a marker to compare with.
    Unknown,
}

impl Lacking {
    /// The number known to be lacking, if any is known.
    #[must_use]
    pub const fn known(self) -> Option<u64> {
        match self {
            Self::Exactly(many) | Self::AtLeast(many) => Some(many),
            Self::Unknown => None,
        }
    }
}

/// Why a file isn't a sound record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unsound {
    /// A line is damaged.
    Damaged {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: LineError,
    },
    /// Its end is missing.
    Torn {
        /// The line, from 1.
        line: u64,
    },
    /// Another version of the format.
    Newer {
        /// Its version.
        found: u64,
    },
    /// An event breaks an invariant.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong.
        misfit: ApplyError,
    },
}

/// Why a copy didn't replace the record.
#[derive(Debug)]
pub enum RestoreError {
    /// The copy cannot be read.
    Unreadable {
        /// The copy.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The copy is not sound.
    Unsound {
        /// The copy.
        path: PathBuf,
        /// What is wrong with it.
        unsound: Unsound,
    },
    /// The copy is of another stash.
    AnotherStash {
        /// The copy.
        path: PathBuf,
    },
    /// The lock isn't available, or the stash folder is in a bad state.
    Record(RecordError),
    /// A step failed.
    Failed {
        /// The system's error.
        source: io::Error,
    },
}

impl From<RecordError> for RestoreError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

/// Verifies a copy of the record of the stash in `dir`, replays it, and returns its number of
/// events.
///
/// # Errors
/// The outer error when the file can't be read, the inner one when it isn't sound.
pub fn verify(dir: &Path, copy: &Copy) -> io::Result<Result<u64, Unsound>> {
    Ok(proved(copy.open(dir)?)?.map(|position| position.events))
}

/// The sound copy of this stash with the most events: its day, and their number. O(size of all copies).
#[must_use]
pub fn best(dir: &Path) -> Option<(Date, u64)> {
    let ours = Folder::open(dir).ok().flatten();
    let ours = ours.and_then(|folder| identity(&folder).ok().flatten());
    let sound = list(dir).into_iter().filter_map(|backup| {
        let file = Copy::Backup(backup.day).open(dir).ok()?;
        let position = proved(file).ok()?.ok()?;
        let is_ours = ours.is_none() || ours == position.first;
        is_ours.then_some((backup.day, position.events))
    });
    sound.max_by_key(|&(day, events)| (events, day))
}

fn proved(file: File) -> io::Result<Result<LogPosition, Unsound>> {
    let mut position = LogPosition::start();
    let found = scan::<Event>(file, &mut position, None)?;
    let line = position.next_line();
    let unsound = match found.end {
        End::Damaged(reason) => Unsound::Damaged { line, reason },
        End::Torn(_) => Unsound::Torn { line },
        End::Newer(found) => Unsound::Newer { found },
        End::Clean => {
            let mut state = State::default();
            let misfit = found.entries.into_iter().find_map(|entry| {
                let misfit = state.apply(&entry.event).err()?;
                let seq = entry.seq;
                Some(Unsound::ApplyError { seq, misfit })
            });
            match misfit {
                None => return Ok(Ok(position)),
                Some(misfit) => misfit,
            }
        }
    };
    Ok(Err(unsound))
}

/// The identity of the stash in a folder: the checksum of its first event, from the marker or else
/// from the record, as far as it can be read.
fn identity(folder: &Folder) -> io::Result<Option<Sum>> {
    if let MarkerState::Known(marker) = MarkerState::read(folder)? {
        return Ok(Some(marker.first));
    }
    let Some(file) = folder.read(RECORD)? else {
        return Ok(None);
    };
    let mut position = LogPosition::start();
    scan::<Event>(file, &mut position, None)?;
    Ok(position.first)
}

/// The steps of a restore, in order. Each is on disk before the next begins, so a crash between any
/// two leaves a whole record under its name and never loses the previous one. A damaged record
/// never passes for a sound one: until the last step the marker is that of the previous record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RestoreStep {
    /// The copy is copied next to the record and verified there.
    Import,
    /// The record is copied to a name that nothing ever replaces.
    SetAside,
    /// The new record takes the name.
    Exchange,
    /// `record.end` is rewritten.
    Note,
}

/// Replaces the record of the stash in `dir` with a copy, under the writer's lock, waiting up to
/// `wait` for it. Accepts a copy of another stash only if `another` is set.
///
/// # Errors
/// When the copy can't be read, isn't sound or belongs to another stash, when the lock isn't
/// available, and when the disk fails. In every case the record stays whole.
pub fn restore(
    dir: &Path,
    copy: &Copy,
    another: bool,
    wait: Duration,
) -> Result<Restored, RestoreError> {
    carry_out(dir, copy, another, wait, |_| Ok(()))
}

pub(super) fn carry_out(
    dir: &Path,
    copy: &Copy,
    another: bool,
    wait: Duration,
    mut before: impl FnMut(RestoreStep) -> io::Result<()>,
) -> Result<Restored, RestoreError> {
    let unreadable = |source| RestoreError::Unreadable {
        path: copy.path(dir),
        source,
    };
    let failed = |source| RestoreError::Failed { source };
    let mut source = copy.open(dir).map_err(unreadable)?;
    let LockOutcome::Held(locked) = Locked::acquire(dir, wait)? else {
        return Err(RecordError::Busy.into());
    };
    let folder = locked.folder();
    check_is_plain(folder, dir, RECORD)?;
    check_is_plain(folder, dir, MARKER)?;
    let proved_at = |file: File| {
        let proved = proved(file).map_err(unreadable)?;
        let path = copy.path(dir);
        proved.map_err(|unsound| RestoreError::Unsound { path, unsound })
    };

    // Checked in place, so a refusal leaves no trace and only good lines are copied.
    let position = proved_at(source.try_clone().map_err(unreadable)?)?;
    let ours = identity(folder).map_err(failed)?;
    if !another && ours.is_some() && ours != position.first {
        let path = copy.path(dir);
        return Err(RestoreError::AnotherStash { path });
    }

    before(RestoreStep::Import).map_err(failed)?;
    source.rewind().map_err(unreadable)?;
    let new = import(folder, source.take(position.bytes)).map_err(failed)?;
    if proved_at(new.again().map_err(failed)?)? != position {
        return Err(failed(io::ErrorKind::InvalidData.into()));
    }
    let lacking = lacking(folder, &new, position).map_err(failed)?;

    before(RestoreStep::SetAside).map_err(failed)?;
    let aside = set_aside(folder).map_err(failed)?;

    before(RestoreStep::Exchange).map_err(failed)?;
    if !locked.is_ours() {
        let path = dir.join(RECORD);
        return Err(RecordError::Overtaken { path }.into());
    }
    new.place(RECORD).map_err(failed)?;
    folder.sync().map_err(failed)?;

    before(RestoreStep::Note).map_err(failed)?;
    note(folder, &position).map_err(failed)?;
    Ok(Restored {
        events: position.events,
        lacking,
        aside,
    })
}

/// The entry must be a plain file with a single name, or absent.
fn check_is_plain(folder: &Folder, dir: &Path, name: &str) -> Result<(), RecordError> {
    let there = folder.read(name);
    there.map_err(|source| RecordError::read(&dir.join(name), source))?;
    Ok(())
}

/// Copies a copy next to the record. It disappears again if anything fails before it takes the
/// record's name.
fn import(folder: &Folder, mut copy: impl Read) -> io::Result<Unfinished<'_>> {
    let mut new = folder.begin("record.restored-", ".new")?;
    io::copy(&mut copy, &mut new.file)?;
    new.file.sync_all()?;
    Ok(new)
}

/// Copies the record, if there is one, to a name of its own.
fn set_aside(folder: &Folder) -> io::Result<Option<PathBuf>> {
    let record = folder.read(RECORD)?;
    record
        .map(|mut record| folder.keep(&mut record, 0, SET_ASIDE.0, SET_ASIDE.1))
        .transpose()
}

/// Writes `record.end` for a record that is good up to `position`.
fn note(folder: &Folder, position: &LogPosition) -> io::Result<()> {
    folder.remove(SNAPSHOT)?;
    let Some(first) = position.first else {
        return folder.remove(MARKER);
    };
    let marker = CommitMarker {
        events: position.events,
        last: position.sum,
        first,
    };
    // Created from scratch, whatever other names the old marker may have.
    MarkerFile::default().note(folder, &marker)
}

/// What a copy lacks compared with the old record and with acknowledged events that no line holds
/// any more.
fn lacking(folder: &Folder, copy: &Unfinished<'_>, position: LogPosition) -> io::Result<Lacking> {
    let lines = lines_lacking(folder, copy)?;
    let MarkerState::Known(marker) = MarkerState::read(folder)? else {
        let there = folder.read(RECORD)?.is_some();
        return Ok(match there {
            true => Lacking::Exactly(lines),
            false => Lacking::Unknown,
        });
    };
    let gone = marker.events.saturating_sub(position.events);
    let mut end = LogPosition::start();
    let found = scan::<IgnoredAny>(copy.again()?, &mut end, Some(marker.events))?;
    Ok(match found.sum_at {
        Some(sum) if sum == marker.last => Lacking::Exactly(lines),
        Some(_) => Lacking::AtLeast(lines.max(1)),
        None => Lacking::Exactly(lines.max(gone)),
    })
}

/// Number of lines of the record that the copy has nowhere. A line holds its number and the sum of its own, so no two are
/// alike.
fn lines_lacking(folder: &Folder, copy: &Unfinished<'_>) -> io::Result<u64> {
    let Some(record) = folder.read(RECORD)? else {
        return Ok(0);
    };
    let mut there = HashSet::new();
    each_line(copy.again()?, |line| {
        there.insert(digest(line));
    })?;
    let (mut lacking, mut count) = (0, 0_u64);
    each_line(record, |line| {
        count += 1;
        // Line 1 holds no event.
        lacking += u64::from(count > 1 && !there.contains(&digest(line)));
    })?;
    Ok(lacking)
}

fn digest(line: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    line.hash(&mut hasher);
    hasher.finish()
}

/// Passes on each line. One over the maximum length is damage, and comes in pieces.
fn each_line(file: impl Read, mut of: impl FnMut(&[u8])) -> io::Result<()> {
    const LONGEST: u64 = MAX_LINE as u64 + 1;
    let mut lines = BufReader::new(file);
    let mut line = Vec::new();
    while lines.by_ref().take(LONGEST).read_until(b'\n', &mut line)? > 0 {
        of(&line);
        line.clear();
    }
    Ok(())
}
