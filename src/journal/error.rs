//! What can go wrong with a record. The sentences are in [`record`](crate::text::record).

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use super::folder::Foreign;
use crate::model::ids::Stamp;
use crate::model::label::Who;
use crate::stash::apply::ApplyError;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;

/// What is wrong with a record as a whole. Its good events are read, and nothing is added to it until a
/// person has put it right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Damage {
    /// A line does not verify or is not understood; the events before it were read.
    Line {
        /// The line of `record.jsonl`, from 1 (the header).
        line: u64,
        /// What is wrong with it.
        reason: LineError,
        /// How many events before it are proven good.
        good: u64,
    },
    /// Events that had been acknowledged are gone from the end.
    Shortened {
        /// How many had been acknowledged.
        recorded: u64,
        /// How many there are.
        found: u64,
    },
    /// The event that was acknowledged last is another one here: the record was exchanged.
    Exchanged {
        /// The number of that event.
        recorded: u64,
        /// How many there are here.
        found: u64,
    },
    /// The commit marker is there but cannot be read, so nothing proves that the record is complete.
    Marker {
        /// How many events there are.
        found: u64,
    },
    /// The record is gone, though it had events.
    Missing {
        /// How many; unknown where the marker cannot be read either.
        recorded: Option<u64>,
    },
}

impl Damage {
    /// How many events had been acknowledged, as far as known, and how many there are, where the damage
    /// is that acknowledged events may be lost and nothing else. Who accepts that can go on.
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
    /// Line 1 is not the header of a record.
    Header,
    /// The line does not have the form of a record line.
    Shape,
    /// The line's bytes or the line before it are not those that were written.
    Changed,
    /// The line's number is not the next one.
    Sequence {
        /// The number due.
        expected: u64,
        /// The number that stands there.
        found: u64,
    },
    /// The line's stamp is not later than that of the line before.
    Stamp {
        /// The stamp that stands there.
        stamp: Stamp,
        /// The stamp of the line before.
        after: Stamp,
    },
    /// The line is as it was written, but the event in it is not known to this program.
    UnknownEvent {
        /// What the reader of the event said.
        detail: String,
    },
    /// The line is longer than any this program writes.
    TooLong,
    /// The last line breaks off; told by [`super::check`] only.
    Unfinished,
}

/// Something found in a record that the person should know of. It does not stand in the way.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Notice {
    /// The last line broke off before it was acknowledged, as a crash or a power cut leaves it.
    Torn {
        /// The line of `record.jsonl`, from 1.
        line: u64,
        /// How many bytes of it there are.
        bytes: u64,
        /// Where they were set aside; nothing where they were left in place.
        kept: Option<PathBuf>,
    },
    /// The commit marker is missing, so a loss at the end of the record would not show.
    NoMarker,
}

/// Why a record could not be opened, read or written.
#[derive(Debug)]
#[non_exhaustive]
pub enum RecordError {
    /// The stash folder cannot be made.
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The stash cannot be locked.
    Lock {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Another process kept the lock for as long as this one waited.
    Busy,
    /// An entry of the stash folder is not a file of its own, so it is neither read nor written.
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
        /// What the system said.
        source: io::Error,
    },
    /// The record is damaged, or has lost events.
    ReadOnly(Damage),
    /// There is no record where one is to be checked.
    NoRecord {
        /// The folder.
        path: PathBuf,
    },
    /// The record is gone or empty, though changes had been recorded.
    Missing {
        /// Where the record should be.
        path: PathBuf,
        /// How many events it held, where that is known.
        recorded: Option<u64>,
    },
    /// Another copy of a record, which is only read, has lost events.
    LossyCopy {
        /// The copy.
        path: PathBuf,
        /// What it lacks.
        damage: Damage,
    },
    /// Another copy of a record, which is only read, has a bad line.
    DamagedCopy {
        /// The copy.
        path: PathBuf,
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: LineError,
    },
    /// The record was written in a later format.
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
        /// What the system said.
        source: io::Error,
    },
    /// A new record cannot be written.
    Create {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The event has no form in which it could be read again.
    Unrecordable(Unrecordable),
    /// The event could not be put on disk, and nothing of it is left in the file.
    NotSaved {
        /// The record.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The disk did not confirm the event. It was taken out again, but what the disk holds is not
    /// known, so nothing more is taken.
    NotSynced {
        /// The record.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The event could not be put on disk, and what was written of it could not be taken out.
    NotUndone {
        /// The record.
        path: PathBuf,
        /// What the system said to the write.
        source: io::Error,
        /// What the system said to cutting it off again.
        undo: io::Error,
    },
    /// After [`RecordError::NotSynced`] or [`RecordError::NotUndone`], nothing is taken any more.
    InDoubt {
        /// The record.
        path: PathBuf,
    },
    /// The record is not as this process knows it: something else wrote to it or replaced it.
    Overtaken {
        /// The record.
        path: PathBuf,
    },
}

/// The word of [`RecordError::code`]; the sentence is [`record_error`](crate::text::record::record_error).
impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl std::error::Error for RecordError {}

/// What stands in the way of a line for an event.
#[derive(Debug)]
pub enum Unrecordable {
    /// The system has no random number for it.
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

    /// Of a file that cannot be read.
    pub(super) fn read(path: &Path, source: io::Error) -> Self {
        Self::of(path, source, |path, source| Self::Read { path, source })
    }

    /// Of a folder that cannot be locked.
    pub(super) fn lock(path: &Path, source: io::Error) -> Self {
        Self::of(path, source, |path, source| Self::Lock { path, source })
    }

    /// Of a file that cannot be prepared to be written.
    pub(super) fn unwritable(path: &Path, source: io::Error) -> Self {
        Self::of(path, source, |path, source| Self::Unwritable {
            path,
            source,
        })
    }
}

/// A change that another process made while this one had the stash open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Other {
    /// Its number in the record.
    pub seq: u64,
    /// Who made it, where a name is kept.
    pub by: Option<Who>,
    /// What was done.
    pub act: Act,
}

/// Why the stash can be read and not changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadOnly {
    /// The record is damaged, or has lost events.
    Damaged(Damage),
    /// An event does not fit those before it; the stash is what they made.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong with it.
        misfit: ApplyError,
    },
    /// The folder or the record may not be written to.
    Protected,
    /// A file in the folder is not a plain one with one name.
    Foreign {
        /// The file.
        path: PathBuf,
        /// What it is.
        foreign: Foreign,
    },
    /// The folder or the record is gone since it was read; the stash is as it was then.
    Gone(PathBuf),
}

/// Why an event was not committed. Nothing of it is on disk, and the state is without it.
#[derive(Debug)]
pub enum CommitError {
    /// The event does not fit, or breaks a law.
    Refused(Refusal),
    /// The event does not fit any more, since another process has changed the stash. The state is what
    /// that made of it.
    Overtaken {
        /// What it changed, the latest last.
        others: Vec<Other>,
    },
    /// The record did not take it.
    Record(RecordError),
    /// The record does not fit the program's laws from some event on, so nothing may be added.
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

/// A stable word; the sentence is [`commit_error`](crate::text::record::commit_error).
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

/// Why a loss was not accepted. Nothing is changed.
#[derive(Debug)]
pub enum AcceptError {
    /// Nothing is lost.
    NothingLost,
    /// A line is damaged, and more may be good behind it.
    Damaged(Damage),
    /// An event does not fit.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong with it.
        misfit: ApplyError,
    },
    /// The record cannot be read or written.
    Record(RecordError),
}

impl From<RecordError> for AcceptError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

/// Why the history cannot be told.
#[derive(Debug)]
pub enum HistoryError {
    /// It cannot be read, or is not as it was when the stash was opened.
    Record(RecordError),
    /// An event does not fit those before it.
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
