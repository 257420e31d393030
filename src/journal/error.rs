//! Everything that can go wrong with a record. The sentences are in
//! [`record`](crate::text::record).

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::folder::Foreign;
use crate::model::ids::Stamp;
use crate::model::label::Who;
use crate::stash::apply::ApplyError;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;

/// Damage to the record as a whole. Its good events are read, and nothing is appended until the
/// user repairs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Damage {
    /// A line doesn't verify or isn't understood; the events before it were read.
    Line {
        /// The line of `record.jsonl`, from 1 (the header).
        line: u64,
        /// What is wrong with it.
        reason: LineError,
        /// How many events before it are proven good.
        good: u64,
    },
    /// Acknowledged events are missing from the end.
    Shortened {
        /// Number of acknowledged events.
        recorded: u64,
        /// Number of events present.
        found: u64,
    },
    /// The last acknowledged event differs here: the record was exchanged.
    Exchanged {
        /// The number of that event.
        recorded: u64,
        /// Number of events present.
        found: u64,
    },
    /// The commit marker exists but can't be read, so nothing proves that the record is complete.
    Marker {
        /// Number of events present.
        found: u64,
    },
    /// The record is gone, though it had events.
    Missing {
        /// The number of events; unknown if the marker can't be read either.
        recorded: Option<u64>,
    },
}

impl Damage {
    /// The number of acknowledged events, if known, and of those present, if the only damage is a
    /// possible loss of acknowledged events. Work can go on once the user accepts that.
    #[must_use]
    pub const fn loss(&self) -> Option<(Option<u64>, u64)> {
        match *self {
            Damage::Line { .. } => None,
            Damage::Shortened { recorded, found } | Damage::Exchanged { recorded, found } => {
                Some((Some(recorded), found))
            }
            Damage::Marker { found } => Some((None, found)),
            Damage::Missing { recorded } => Some((recorded, 0)),
        }
    }
}

/// What is wrong with a line of the record.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum LineError {
    /// Line 1 isn't the header of a record.
    Header,
    /// The line doesn't have the form of a record line.
    Shape,
    /// The bytes of this line or the previous one have changed.
    Changed,
    /// The line's number isn't the next one.
    Sequence {
        /// The expected number.
        expected: u64,
        /// The number found.
        found: u64,
    },
    /// The line's stamp isn't later than that of the previous line.
    Stamp {
        /// The stamp found.
        stamp: Stamp,
        /// The stamp of the previous line.
        after: Stamp,
    },
    /// The line is intact, but this program doesn't know its event.
    UnknownEvent {
        /// The parser's message.
        detail: String,
    },
    /// The line is longer than any this program writes.
    TooLong,
    /// The last line breaks off; reported only by [`super::check`].
    Unfinished,
}

/// A finding in a record that the user should know about. It doesn't block anything.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Notice {
    /// The last line broke off before it was acknowledged, as after a crash or a power cut.
    Torn {
        /// The line of `record.jsonl`, from 1.
        line: u64,
        /// Number of its bytes.
        bytes: u64,
        /// Where they were set aside, unless they were left in place.
        kept: Option<PathBuf>,
    },
    /// The commit marker is missing, so a loss at the end of the record wouldn't show.
    NoMarker,
    /// The record is whole, but lacks changes that a backup has: a sync may have put another copy in its place,
    /// together with its marker.
    Lacks {
        /// The backup.
        copy: PathBuf,
        /// Its day.
        day: Date,
        /// Number of changes that the record lacks.
        changes: u64,
    },
    /// The record was replaced while this process had it open, by one that lacks changes which were read before.
    Replaced,
}

impl Notice {
    /// Whether changes may be lost.
    #[must_use]
    pub const fn is_of_a_loss(&self) -> bool {
        matches!(self, Self::Lacks { .. } | Self::Replaced)
    }
}

/// Why a record couldn't be opened, read or written.
#[derive(Debug)]
#[non_exhaustive]
pub enum RecordError {
    /// The stash folder can't be created.
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The stash can't be locked.
    Lock {
        /// The folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// Another process held the lock for the whole wait.
    Busy,
    /// An entry of the stash folder isn't a plain file with a single name, so it is neither read
    /// nor written.
    Foreign {
        /// The entry.
        path: PathBuf,
        /// What it is.
        foreign: Foreign,
    },
    /// The folder or the record may not be written to.
    Unwritable {
        /// The file.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The record is damaged, or has lost events.
    ReadOnly(Damage),
    /// There is no record to check.
    NoRecord {
        /// The folder.
        path: PathBuf,
    },
    /// The record is gone or empty, though changes had been recorded.
    Missing {
        /// Where the record should be.
        path: PathBuf,
        /// Number of events it held, if known.
        recorded: Option<u64>,
    },
    /// Another copy of a record, opened only for reading, has lost events.
    LossyCopy {
        /// The copy.
        path: PathBuf,
        /// What it lacks.
        damage: Damage,
    },
    /// Another copy of a record, opened only for reading, has a bad line.
    DamagedCopy {
        /// The copy.
        path: PathBuf,
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: LineError,
    },
    /// The record has a later format.
    NewerFormat {
        /// The record.
        path: PathBuf,
        /// Its format version.
        found: u64,
        /// The highest version this program reads.
        known: u64,
    },
    /// A file of the record cannot be read.
    Read {
        /// The file.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// A new record can't be written.
    Create {
        /// The file.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The event has no form that could be read back.
    Unrecordable(Unrecordable),
    /// The event couldn't be put on disk, and the file holds nothing of it.
    NotSaved {
        /// The record.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The disk didn't confirm the event. It was removed again, but the disk's contents are
    /// unknown, so no more events are accepted.
    NotSynced {
        /// The record.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The event couldn't be put on disk, and its partial write couldn't be removed.
    NotUndone {
        /// The record.
        path: PathBuf,
        /// The system's error for the write.
        source: io::Error,
        /// The system's error for cutting it off again.
        undo: io::Error,
    },
    /// No more events are accepted after [`RecordError::NotSynced`] or [`RecordError::NotUndone`].
    InDoubt {
        /// The record.
        path: PathBuf,
    },
    /// The record differs from what this process read: something else wrote to it or replaced it.
    Overtaken {
        /// The record.
        path: PathBuf,
    },
}

/// Writes [`RecordError::code`]; the sentence is
/// [`record_error`](crate::text::record::record_error).
impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl std::error::Error for RecordError {}

/// Why an event can't be written as a line.
#[derive(Debug)]
pub enum Unrecordable {
    /// The system provides no random number for it.
    NoRandomNumber(getrandom::Error),
    /// It has no form as JSON.
    NoForm(serde_json::Error),
    /// Its line couldn't be read again.
    Line(LineError),
}

impl RecordError {
    /// A stable word for scripts.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Folder { .. } => "no_folder",
            Self::Lock { .. } => "not_locked",
            Self::NoRecord { .. } => "no_stash",
            Self::Missing { .. } => "record_missing",
            Self::NewerFormat { .. } => "newer_format",
            Self::Read { .. } => "record_unreadable",
            Self::DamagedCopy { .. } => "copy_damaged",
            Self::LossyCopy { .. } => "copy_incomplete",
            Self::Busy => "busy",
            Self::Foreign { .. } => "not_a_plain_file",
            Self::Unwritable { .. } => "not_writable",
            Self::ReadOnly(_) => "read_only",
            Self::Create { .. }
            | Self::Unrecordable(_)
            | Self::NotSaved { .. }
            | Self::NotSynced { .. }
            | Self::NotUndone { .. }
            | Self::InDoubt { .. }
            | Self::Overtaken { .. } => "not_recorded",
        }
    }

    fn of(
        path: &Path,
        source: io::Error,
        otherwise: impl FnOnce(PathBuf, io::Error) -> Self,
    ) -> Self {
        let path = path.to_owned();
        match Foreign::behind(&source) {
            Some(foreign) => Self::Foreign { path, foreign },
            None => otherwise(path, source),
        }
    }

    /// A file can't be read.
    pub(super) fn read(path: &Path, source: io::Error) -> Self {
        Self::of(path, source, |path, source| Self::Read { path, source })
    }

    /// A folder can't be locked.
    pub(super) fn lock(path: &Path, source: io::Error) -> Self {
        Self::of(path, source, |path, source| Self::Lock { path, source })
    }

    /// A file can't be opened for writing.
    pub(super) fn unwritable(path: &Path, source: io::Error) -> Self {
        Self::of(path, source, |path, source| Self::Unwritable {
            path,
            source,
        })
    }
}

/// A change made by another process while this one had the stash open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Other {
    /// Its number in the record.
    pub seq: u64,
    /// The writer's name, if recorded.
    pub by: Option<Who>,
    /// The change.
    pub act: Act,
}

/// Why the stash can be read but not changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadOnly {
    /// The record is damaged or has lost events.
    Damaged(Damage),
    /// An event doesn't apply after those before it; the stash stops there.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong with it.
        misfit: ApplyError,
    },
    /// The folder or the record may not be written to.
    Protected,
    /// A file in the folder isn't a plain one with a single name.
    Foreign {
        /// The file.
        path: PathBuf,
        /// What it is.
        foreign: Foreign,
    },
    /// The folder or the record disappeared after it was read; the stash is as it was then.
    Gone(PathBuf),
}

/// Why an event wasn't committed. Nothing of it is on disk or in the state.
#[derive(Debug)]
pub enum CommitError {
    /// The event doesn't apply, or breaks an invariant.
    Refused(Refusal),
    /// The event no longer applies, since another process has changed the stash. The state includes
    /// that process's changes.
    Overtaken {
        /// Those changes, latest last.
        others: Vec<Other>,
    },
    /// The record rejected it.
    Record(RecordError),
    /// The stash is read-only, so no event may be added.
    ReadOnly(ReadOnly),
}

impl ReadOnly {
    /// A stable word for scripts.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Protected => "not_writable",
            Self::Foreign { .. } => "not_a_plain_file",
            Self::Damaged(_) | Self::ApplyError { .. } | Self::Gone(_) => "read_only",
        }
    }
}

/// Writes the stable word; the sentence is [`commit_error`](crate::text::record::commit_error).
impl fmt::Display for CommitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Refused(refusal) => return refusal.fmt(f),
            Self::Overtaken { .. } => "overtaken",
            Self::Record(error) => error.code(),
            Self::ReadOnly(why) => why.code(),
        })
    }
}

impl std::error::Error for CommitError {}

impl From<Refusal> for CommitError {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl From<RecordError> for CommitError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

/// Why a loss wasn't accepted. Nothing has changed.
#[derive(Debug)]
pub enum AcceptError {
    /// Nothing is lost.
    NothingLost,
    /// A line is damaged, and there may be good lines after it.
    Damaged(Damage),
    /// An event doesn't apply.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong with it.
        misfit: ApplyError,
    },
    /// The record can't be read or written.
    Record(RecordError),
}

impl From<RecordError> for AcceptError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

/// Why the history can't be shown.
#[derive(Debug)]
pub enum HistoryError {
    /// The record can't be read, or has changed since the stash was opened.
    Record(RecordError),
    /// An event doesn't apply after those before it.
    ApplyError(ApplyError),
}

impl From<RecordError> for HistoryError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

impl From<ApplyError> for HistoryError {
    fn from(misfit: ApplyError) -> Self {
        Self::ApplyError(misfit)
    }
}
