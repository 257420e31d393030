//! The append-only record on disk.
//!
//! [`Log`] keeps events of any type `E` in a folder, one line an event, and answers for each one:
//! [`Log::append`] returns only when the event is on disk. It knows nothing of thread. A [`store::Store`]
//! is a log of the events of a stash with the state they make.
//!
//! # The folder
//!
//! | file              | what it is                                                              |
//! |-------------------|-------------------------------------------------------------------------|
//! | `record.jsonl`    | the record itself, JSON Lines, only ever added to                       |
//! | `record.end`      | the commit marker: the last event that was acknowledged                 |
//! | `record.torn-<n>` | the unfinished last line of a crash, set aside before it was cut off    |
//! | `record.snapshot` | what the stash held at some event, to open faster; a cache, safe to delete |
//! | `backups/record-<date>.jsonl` | the record as it was before the first change of that day; see [`backup`] |
//! | `record.before-restore-<n>.jsonl` | the record that a copy took the place of; never replaced or deleted; see [`backup::restore`] |
//! | `record*.new`     | a file being made; left behind only by a crash, and cleared away by a later backup |
//! | `lock`            | only where a folder cannot be locked                                    |
//!
//! # Who may do what
//!
//! - **A reader changes nothing**, in any state of the folder: it takes no lock, repairs nothing and makes
//!   no file. What looks unfinished to it may be a writer at work, so it looks again before it says so.
//! - **A writer** locks the folder, catches up with what others wrote, checks its change against that,
//!   appends, syncs, looks whether the path still leads to what it wrote to, notes the event in
//!   `record.end`, and unlocks. Only then is the event acknowledged. Where the second look fails the event
//!   is taken out again, since the file may come back under its name.
//! - **The lock** is on the open folder, so that no file in it that is deleted, replaced or made anew lets
//!   two writers in.
//! - **The folder may come from somebody else.** The path to it may lead through links; what lies in it is
//!   opened by its bare name from the open folder and never through a link. Only regular files are read, and
//!   only those with one name are written to. Files in the making have random names and are made
//!   exclusively, with the mode and the owner of the record.
//! - **What is lost is damage.** A record that is shorter than `record.end` says, emptied, exchanged or
//!   gone, or whose `record.end` cannot be read, is read and not written to, until a copy is put in its place
//!   ([`backup::restore`]), what is good is saved elsewhere ([`salvage`]), what was missing comes back, or a person
//!   says that the loss is accepted ([`store::Store::accept_loss`]), which is an event of its own.
//!
//! # The format, version 1
//!
//! UTF-8 text. Every line is one JSON object without raw line breaks, ended by one `\n`. Line 1
//! is the header, and line *n* + 1 holds event *n*:
//!
//! ```text
//! {"homehook":1,"sum":"60a9cdee4aa252ae"}
//! {"seq":1,"time":"2026-03-01T10:32:00Z","by":"ada","state":"16 hex digits","event":{...},"sum":"16 hex digits"}
//! ```
//!
//! The keys stand in this order, without spaces between them. `seq` counts from 1 without gaps.
//! `time` is an RFC 3339 instant in UTC. `by` is the name of who made the change, plain text of 1 to
//! 60 characters without invisible ones ([`Who`](crate::model::label::Who)); the key is left out where
//! no name is kept. `state` is the digest of the snapshot that was taken after this event, as a sum of its
//! body; the key is left out where none was. `event` is whatever `E` serialises to. No line is longer than
//! 64 MiB.
//!
//! # The checksum
//!
//! `sum` is the first 16 hex digits, in lower case, of SHA-256 (FIPS 180-4) over the 16 digits
//! of the line before (nothing, for line 1) followed by the bytes of this line before `,"sum":`.
//! It is worked out on the bytes as they stand in the file, never on JSON written anew, and what
//! follows the body is fixed to the byte. So a changed byte, a line removed, added or moved is
//! always found, at that line or the one after. It guards against accidents, not against a
//! person who works the sums out again.
//!
//! An end cut off at a line break leaves nothing in the record to see. For that, `record.end`
//! repeats the number and sum of the last acknowledged event, and the sum of the first, by which the stash
//! is known. It is written after the event is on disk and is not itself forced to disk, so after a power cut
//! it may lag behind the record, but it never runs ahead. A record without it is taken as it is.
//!
//! # Versions
//!
//! The number in the header is the version of the whole file. In every version line 1 is a JSON
//! object with a whole number under `homehook`. A higher number than [`FORMAT_VERSION`] is
//! refused and the record left untouched. New kinds of event do not need a new version: a line that
//! verifies but holds an event unknown to this program opens the record read-only, up to there.
//! A line with any other key than those above is damage, so a new key beside `event` is a new
//! version.
//!
//! # What a crash may leave
//!
//! An append is one write and one sync, so a crash leaves at most one unfinished line at the end:
//! without its `\n`, or with NUL bytes in place of disk sectors that were never written. Where the marker
//! says that it was never acknowledged, the next writer sets it aside and cuts it off. Everything else that
//! does not verify is damage: the record opens read-only with the events before it, and nothing in the
//! folder is changed. What can still be proved behind the damage is told in [`salvage`].
//!
//! # A disk that fails
//!
//! A write that fails is cut off again, and the next append may work. A sync that fails is another
//! matter: a system may drop what it could not put on disk and count it as written, so that the next
//! sync succeeds without it. The line is cut off, and nothing more is written until the record has been
//! read and verified from its first line. No acknowledged event rests on the sync that
//! failed: each had one of its own that succeeded, and what is written next begins where the
//! cut was made, so every block the failed sync may have lost is written anew before it counts.

pub mod backup;
mod check;
mod error;
mod folder;
mod format;
mod lock;
mod log;
mod reader;
pub mod salvage;
mod snapshot;
pub mod store;
#[cfg(test)]
mod tests;

pub use check::{Problem, Report, check};
pub use error::{
    AcceptError, CommitError, Damage, HistoryError, LineError, Notice, Other, ReadOnly,
    RecordError, Unrecordable,
};
pub use folder::Foreign;
pub(crate) use format::MAX_LINE;
pub use format::{Entry, FORMAT_VERSION};
pub use log::{Loaded, Log, News, Obstacle};
pub use reader::{LogPosition, LogReader, Resume, read_copy};
