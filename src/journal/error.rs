//! What can go wrong with a record, in words for the person whose stash it is.

use std::fmt;
use std::io;
use std::path::PathBuf;

use super::line::MAX_LINE;
use super::lock::Holder;
use crate::language::{one_or_many, say};

/// What this process may do with an opened record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Access {
    /// Holds the lock: may append.
    Writer,
    /// Another process holds the lock: reads along with [`super::Record::poll`].
    Reader {
        /// Who holds it, where that could be read.
        holder: Option<Holder>,
    },
    /// The folder or the record cannot be written here: reads along.
    Unwritable {
        /// Why, as the system put it.
        reason: String,
    },
    /// A line does not verify or cannot be understood: the events before it were read, and
    /// nothing is written.
    Damaged {
        /// The line of `record.jsonl`, from 1 (the header).
        line: u64,
        /// What is wrong with it.
        reason: Flaw,
        /// How many events before it are proven good.
        good: u64,
    },
}

impl fmt::Display for Access {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Access::Writer => f.write_str(&say!("the board is open and every change is recorded")),
            Access::Reader {
                holder: Some(holder),
            } => f.write_str(&say!(
                "the board is open in another window ({holder})",
                holder
            )),
            Access::Reader { holder: None } => {
                f.write_str(&say!("the board is open in another window"))
            }
            Access::Unwritable { reason } => f.write_str(&say!(
                "the stash can be read but not written ({reason}). To change it, see that its \
         folder and the files in it may be written, and that the disk is well",
                reason
            )),
            Access::Damaged {
                line,
                reason: Flaw::UnknownEvent { detail },
                good,
            } => f.write_str(&say!(
                "line {line} of the record was written by a newer Homehook ({detail}); the {good} \
         {changes} before it can be read, and a newer Homehook can open it in full",
                line,
                detail,
                good,
                changes = one_or_many!(*good, "change", "changes")
            )),
            Access::Damaged { line, reason, good } => f.write_str(&say!(
                "line {line} of the record is damaged: {reason}; the {good} {changes} before it \
         {are} good and can be read. What can be done about it is told by: homehook check",
                line,
                reason,
                good,
                changes = one_or_many!(*good, "change", "changes"),
                are = one_or_many!(*good, "is", "are")
            )),
        }
    }
}

/// What is wrong with a line of the record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Flaw {
    /// Line 1 is not the header of a record.
    #[error("{}", say!("it is not the first line of a Homehook record"))]
    Header,
    /// The line does not have the form of a record line.
    #[error("{}", say!("it does not have the form of a record line"))]
    Shape,
    /// The line's bytes or the line before it are not those that were written.
    #[error("{}", say!("it, or the order of the lines, was changed after it was written"))]
    Changed,
    /// The line's number is not the next one.
    #[error("{}", say!("it is numbered {found} where {expected} was due", found, expected))]
    Sequence {
        /// The number due.
        expected: u64,
        /// The number that stands there.
        found: u64,
    },
    /// The line is as it was written, but the event in it is not known to this program.
    #[error("{}", say!(
        "it holds a change this version does not know, from a newer Homehook ({detail})",
        detail
    ))]
    UnknownEvent {
        /// What the reader of the event said.
        detail: String,
    },
    /// The line is longer than any this program writes.
    #[error("{}", say!("it is longer than {it} MiB", it = MAX_LINE >> 20))]
    TooLong,
    /// The last line breaks off; told by [`super::check`] only, as opening sets it aside.
    #[error("{}", say!("it breaks off unfinished"))]
    Unfinished,
    /// Events that were acknowledged are missing from the end; told by [`super::check`] only, as
    /// opening gives [`Notice::Shortened`].
    #[error("{}", say!(
        "{recorded} {changes} had been recorded, but the record ends after {found}",
        recorded,
        changes = one_or_many!(*recorded, "change", "changes"),
        found
    ))]
    Shortened {
        /// How many events had been acknowledged.
        recorded: u64,
        /// How many there are.
        found: u64,
    },
    /// The record is not the one that was written to last; told by [`super::check`] only, as
    /// opening gives [`Notice::Exchanged`].
    #[error("{}", say!("it is not the change that was last recorded here: the record was exchanged"))]
    Exchanged,
}

/// Something found and dealt with on opening, that the person should know of.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Notice {
    /// The last line broke off, as a crash or a power cut leaves it, and was taken out.
    Torn {
        /// The line of `record.jsonl`, from 1.
        line: u64,
        /// How many bytes of it there were.
        bytes: u64,
        /// Where they were set aside; nothing where there were none, or where the record cannot
        /// be written and they were left in place.
        kept: Option<PathBuf>,
    },
    /// Fewer events are there than had been acknowledged. Told until the next append.
    Shortened {
        /// How many events had been acknowledged.
        recorded: u64,
        /// How many there are.
        found: u64,
    },
    /// The record differs from the one last written here, as when a copy was put in its place.
    /// Told until the next append.
    Exchanged {
        /// The event that differs.
        seq: u64,
    },
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Notice::Torn { line, bytes, kept } => {
                f.write_str(&say!("the record broke off in line {line}, in the middle of a change; ", line))?;
                match kept {
                    Some(path) => {
                        f.write_str(&say!("its {bytes} bytes were set aside in {path}", bytes, path = path.display()))
                    }
                    None => f.write_str(&say!("its {bytes} bytes were not read", bytes)),
                }?;
                f.write_str(&say!(". Make that change again if it is not on the board"))
            }
            Notice::Shortened { recorded, found } => f.write_str(&say!(
                "{recorded} {changes} had been recorded here, but the record ends after {found}. Put \
         back a newer copy of the stash folder, or take a roll call before going on",
                recorded,
                changes = one_or_many!(*recorded, "change", "changes"),
                found
            )),
            Notice::Exchanged { seq } => f.write_str(&say!("change {seq} is not the one last recorded here: another copy of the record was put \
         in its place. If that was not meant, put back the right copy before going on", seq)),
        }
    }
}

/// Why a record could not be opened, read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The stash folder cannot be made.
    #[error("{}", say!(
        "the stash folder {path} cannot be made ({source}). Choose another with --stash",
        path = path.display(),
        source
    ))]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The lock file cannot be used.
    #[error("{}", say!(
        "{path} cannot be locked ({source}), so two windows could write at once. Keep the \
         stash folder on a disk of this computer with room on it",
        path = path.display(),
        source
    ))]
    Lock {
        /// The lock file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// There is no record where one is to be checked.
    #[error("{}", say!(
        "there is no record in {path}. Check the folder's name",
        path = path.display()
    ))]
    NoRecord {
        /// The folder.
        path: PathBuf,
    },
    /// The record is gone, though changes had been recorded.
    #[error("{}", say!(
        "{path} is missing, though {recorded} {changes} had been recorded in it. Put it back \
         from a copy, or delete {end} to begin a new record",
        path = path.display(),
        recorded,
        changes = one_or_many!(*recorded, "change", "changes"),
        end = end.display()
    ))]
    Missing {
        /// Where the record should be.
        path: PathBuf,
        /// How many events it held.
        recorded: u64,
        /// The file that says so.
        end: PathBuf,
    },
    /// Another copy of a record, which is only read, has a bad line.
    #[error("{}", say!(
        "{path} is damaged in line {line} ({reason}). Nothing was changed. Take another \
         copy of it",
        path = path.display(),
        line,
        reason
    ))]
    DamagedCopy {
        /// The copy.
        path: PathBuf,
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: Flaw,
    },
    /// The record was written in a later format.
    #[error("{}", say!(
        "{path} is in format {found}, and this Homehook reads formats up to {known}. \
         Nothing was changed. Open it with a newer Homehook; if there never was one, line 1 \
         is damaged",
        path = path.display(),
        found,
        known
    ))]
    NewerFormat {
        /// The record.
        path: PathBuf,
        /// Its format version.
        found: u64,
        /// The highest version this program reads.
        known: u64,
    },
    /// A file of the record cannot be read.
    #[error("{}", say!(
        "{path} cannot be read ({source}). Check that the disk is there and may be read",
        path = path.display(),
        source
    ))]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A new record cannot be written.
    #[error("{}", say!(
        "a new record cannot be written to {path} ({source}). Make room, or choose another \
         folder with --stash",
        path = path.display(),
        source
    ))]
    Create {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// This process may not append.
    #[error("{}", say!("nothing was changed: {access}", access))]
    NotWriter {
        /// What it may do instead.
        access: Access,
    },
    /// The event has no form in which it could be read again.
    #[error("{}", say!(
        "nothing was changed: the change cannot be put into the record ({reason})",
        reason
    ))]
    Unrecordable {
        /// What stands in the way.
        reason: String,
    },
    /// The event could not be put on disk, and nothing of it is left in the file.
    #[error("{}", say!(
        "the change was not recorded: {path} cannot be written ({source}). The record is as \
         it was before. Make room on the disk, then make the change again",
        path = path.display(),
        source
    ))]
    NotSaved {
        /// The record.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The disk did not confirm the event. It was taken out again, but what the disk holds is not
    /// known, so nothing more is taken.
    #[error("{}", say!(
        "the change was not recorded: the disk did not confirm that it has {path} \
         ({source}). The changes before it are kept, and nothing more is recorded until the \
         stash is opened again. Look after the disk first, then open the stash and make the \
         change again",
        path = path.display(),
        source
    ))]
    NotSynced {
        /// The record.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The event could not be put on disk, and what was written of it could not be taken out.
    #[error("{}", say!(
        "the change was not recorded: {path} cannot be written ({source}), and its end \
         could not be put right ({undo}). Nothing more is recorded until the stash is opened \
         again",
        path = path.display(),
        source,
        undo
    ))]
    NotUndone {
        /// The record.
        path: PathBuf,
        /// What the system said to the write.
        source: io::Error,
        /// What the system said to cutting it off again.
        undo: io::Error,
    },
    /// After [`RecordError::NotSynced`] or [`RecordError::NotUndone`], nothing is taken any more.
    #[error("{}", say!(
        "the change was not recorded: an earlier one failed and left {path} in doubt. Open \
         the stash again to have it looked over",
        path = path.display()
    ))]
    InDoubt {
        /// The record.
        path: PathBuf,
    },
    /// The record is not as this process knows it: something else wrote to it or replaced it.
    #[error("{}", say!(
        "{path} was changed by something else after it was opened here. Nothing was \
         recorded. Open the stash again to see what is in it",
        path = path.display()
    ))]
    Overtaken {
        /// The record.
        path: PathBuf,
    },
}
