//! What can go wrong with a record, in words for the person whose stash it is.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use super::folder::Foreign;
use super::format::MAX_LINE;

use crate::model::ids::Stamp;
use crate::text::one_or_many;

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

impl std::error::Error for Damage {}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&match self {
            Damage::Line {
                line,
                reason: LineError::UnknownEvent { detail },
                good,
            } => format!(
                "line {line} of the record was written by a newer Homehook ({detail}); {good} \
                 {changes} before it can be read, and a newer Homehook opens all of it",
                changes = one_or_many(*good, "change", "changes")
            ),
            Damage::Line { line, reason, good } => format!(
                "line {line} of the record is damaged: {reason}; {good} {changes} before it \
                 {are} good",
                changes = one_or_many(*good, "change", "changes"),
                are = one_or_many(*good, "is", "are")
            ),
            Damage::Shortened { recorded, found } => format!(
                "the record has lost changes: {recorded} {were} recorded, and {found} {are} left",
                were = one_or_many(*recorded, "was", "were"),
                are = one_or_many(*found, "is", "are")
            ),
            Damage::Exchanged { recorded, .. } => format!(
                "another record is in the place of this stash's: change {recorded} isn't the \
                 one that was recorded last"
            ),
            Damage::Marker { found } => format!(
                "record.end can't be read, so nothing proves that the record is complete; \
                 {found} {changes} in it {are} good",
                changes = one_or_many(*found, "change", "changes"),
                are = one_or_many(*found, "is", "are")
            ),
            Damage::Missing {
                recorded: Some(recorded),
            } => format!(
                "the record is missing: {recorded} {changes} had been recorded",
                changes = one_or_many(*recorded, "change", "changes")
            ),
            Damage::Missing { recorded: None } => {
                "the record is gone or empty, though this folder held one".to_owned()
            }
        })
    }
}

/// What is wrong with a line of the record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LineError {
    /// Line 1 is not the header of a record.
    #[error("it is not the first line of a Homehook record")]
    Header,
    /// The line does not have the form of a record line.
    #[error("it does not have the form of a record line")]
    Shape,
    /// The line's bytes or the line before it are not those that were written.
    #[error("it, or the order of the lines, was changed after it was written")]
    Changed,
    /// The line's number is not the next one.
    #[error("it is numbered {found} where {expected} was due")]
    Sequence {
        /// The number due.
        expected: u64,
        /// The number that stands there.
        found: u64,
    },
    /// The line's stamp is not later than that of the line before.
    #[error("its stamp {stamp} isn't later than {after}, that of the line before", stamp = stamp.0, after = after.0)]
    Stamp {
        /// The stamp that stands there.
        stamp: Stamp,
        /// The stamp of the line before.
        after: Stamp,
    },
    /// The line is as it was written, but the event in it is not known to this program.
    #[error("it holds a change this version does not know, from a newer Homehook ({detail})")]
    UnknownEvent {
        /// What the reader of the event said.
        detail: String,
    },
    /// The line is longer than any this program writes.
    #[error("it is longer than {it} MiB", it = MAX_LINE >> 20)]
    TooLong,
    /// The last line breaks off; told by [`super::check`] only.
    #[error("it breaks off unfinished")]
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

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&match self {
            Notice::Torn {
                line,
                bytes,
                kept: Some(kept),
            } => format!(
                "The record broke off in line {line}, in the middle of a change. Its {bytes} bytes \
                 are set aside in {path}",
                path = kept.display()
            ),
            Notice::Torn { line, bytes, .. } => format!(
                "The record breaks off in line {line}, in the middle of a change ({bytes} bytes). \
                 Make it again if it isn't on the board"
            ),
            Notice::NoMarker => {
                "record.end is missing from the stash folder, so changes cut off the end of the \
                 record wouldn't show. The next change writes it again"
                    .to_owned()
            }
        })
    }
}

/// Why a record could not be opened, read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The stash folder cannot be made.
    #[error("the stash folder {path} cannot be made ({source}). Choose another with --stash", path = path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The stash cannot be locked.
    #[error("{path} can't be locked ({source}), so two windows could write at once. Keep the \
         stash folder on a disk of this computer", path = path.display())]
    Lock {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Another process kept the lock for as long as this one waited.
    #[error("nothing was changed: another Homehook is writing to this stash. Try again")]
    Busy,
    /// An entry of the stash folder is not a file of its own, so it is neither read nor written.
    #[error("{path} is {foreign}. Homehook uses only plain files inside a stash folder, so nothing was \
         read or changed; put the file itself there", path = path.display())]
    Foreign {
        /// The entry.
        path: PathBuf,
        /// What it is.
        foreign: Foreign,
    },
    /// The folder or the record may not be written to.
    #[error("nothing was changed: {path} can't be written ({source}). See that the folder and the \
         files in it may be written", path = path.display())]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The record is damaged, or has lost events.
    #[error("nothing was changed: {it}", it = .0)]
    ReadOnly(Damage),
    /// There is no record where one is to be checked.
    #[error("there is no record in {path}. Check the folder's name", path = path.display())]
    NoRecord {
        /// The folder.
        path: PathBuf,
    },
    /// The record is gone or empty, though changes had been recorded.
    #[error("{path} is gone or empty, though changes had been recorded in it{many}", path = path.display(), many = recorded.map_or_else(String::new, |many| format!(" ({many})")))]
    Missing {
        /// Where the record should be.
        path: PathBuf,
        /// How many events it held, where that is known.
        recorded: Option<u64>,
    },
    /// Another copy of a record, which is only read, has lost events.
    #[error("{path} isn't complete: {damage}. Nothing was changed. Take another copy of it", path = path.display())]
    LossyCopy {
        /// The copy.
        path: PathBuf,
        /// What it lacks.
        damage: Damage,
    },
    /// Another copy of a record, which is only read, has a bad line.
    #[error("{path} is damaged in line {line} ({reason}). Nothing was changed. Take another \
         copy of it", path = path.display())]
    DamagedCopy {
        /// The copy.
        path: PathBuf,
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: LineError,
    },
    /// The record was written in a later format.
    #[error("{path} is in format {found}, and this Homehook reads formats up to {known}. \
         Nothing was changed. Open it with a newer Homehook; if there never was one, line 1 \
         is damaged", path = path.display())]
    NewerFormat {
        /// The record.
        path: PathBuf,
        /// Its format version.
        found: u64,
        /// The highest version this program reads.
        known: u64,
    },
    /// A file of the record cannot be read.
    #[error("{path} cannot be read ({source}). Check that the disk is there and may be read", path = path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A new record cannot be written.
    #[error("a new record cannot be written to {path} ({source}). Make room, or choose another \
         folder with --stash", path = path.display())]
    Create {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The event has no form in which it could be read again.
    #[error("nothing was changed: the change cannot be put into the record ({reason})")]
    Unrecordable {
        /// What stands in the way.
        reason: String,
    },
    /// The event could not be put on disk, and nothing of it is left in the file.
    #[error("the change was not recorded: {path} cannot be written ({source}). The record is as \
         it was before. Make room on the disk, then make the change again", path = path.display())]
    NotSaved {
        /// The record.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The disk did not confirm the event. It was taken out again, but what the disk holds is not
    /// known, so nothing more is taken.
    #[error("the change was not recorded: the disk did not confirm that it has {path} \
         ({source}). The changes before it are kept, and nothing more is recorded until the \
         stash is opened again. Look after the disk first, then open the stash and make the \
         change again", path = path.display())]
    NotSynced {
        /// The record.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The event could not be put on disk, and what was written of it could not be taken out.
    #[error("the change was not recorded: {path} cannot be written ({source}), and its end \
         could not be put right ({undo}). Nothing more is recorded until the stash is opened \
         again", path = path.display())]
    NotUndone {
        /// The record.
        path: PathBuf,
        /// What the system said to the write.
        source: io::Error,
        /// What the system said to cutting it off again.
        undo: io::Error,
    },
    /// After [`RecordError::NotSynced`] or [`RecordError::NotUndone`], nothing is taken any more.
    #[error("the change was not recorded: an earlier one failed and left {path} in doubt. Open \
         the stash again to have it looked over", path = path.display())]
    InDoubt {
        /// The record.
        path: PathBuf,
    },
    /// The record is not as this process knows it: something else wrote to it or replaced it.
    #[error("{path} was changed by something else after it was opened here. Nothing was \
         recorded. Open the stash again to see what is in it", path = path.display())]
    Overtaken {
        /// The record.
        path: PathBuf,
    },
}

impl RecordError {
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
