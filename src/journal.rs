//! The append-only record on disk.
//!
//! [`Log`] stores events of any type `E` in a folder, one line per event. [`Log::append`] returns
//! only once the event is on disk. A log knows nothing about thread: a [`store::Store`] combines a
//! log of stash events with the state they produce.
//!
//! # The folder
//!
//! | file              | content                                                                 |
//! |-------------------|-------------------------------------------------------------------------|
//! | `record.jsonl`    | the record itself: JSON Lines, append-only                              |
//! | `record.end`      | the commit marker: the last acknowledged event                          |
//! | `record.torn-<n>` | the unfinished last line after a crash, set aside before it was cut off |
//! | `record.snapshot` | the state after some event, to open faster; a cache, safe to delete     |
//! | `backups/record-<date>.jsonl` | the record before that day's first change; see [`backup`] |
//! | `record.before-restore-<n>.jsonl` | a record that a copy replaced; never overwritten or deleted; see [`restore`] |
//! | `record*.new`     | a temporary file; left behind only by a crash, and removed by a later backup |
//! | `lock`            | only where the folder itself can't be locked                            |
//!
//! # Who may do what
//!
//! - **A reader changes nothing**, whatever state the folder is in. It takes no lock, repairs
//!   nothing and creates no file. An apparently unfinished line may belong to a writer at work, so
//!   the reader looks again before it reports one.
//! - **A writer** locks the folder, catches up with other writers, checks its change against the
//!   result, appends, syncs, checks that the path still leads to the file it wrote, notes the event
//!   in `record.end`, and unlocks. Only then is the event acknowledged. If the path check fails,
//!   the writer removes the event again, since the file may come back under its name.
//! - **The lock** is on the open folder, so deleting, replacing or recreating a file in it can't
//!   let two writers in.
//! - **The folder may come from somebody else.** The path to it may contain links, but its entries
//!   are opened by bare name from the open folder, never through a link. Only regular files are
//!   read, and only files with a single name are written. Temporary files get random names and are
//!   created exclusively, with the record's mode and owner.
//! - **Loss is damage.** A record that is shorter than `record.end` says, emptied, exchanged or
//!   gone, or whose `record.end` is unreadable, can be read but not written. Writing resumes when a
//!   copy replaces the record ([`restore::restore`]), its good events are saved elsewhere
//!   ([`salvage`]), the missing part comes back, or the user accepts the loss
//!   ([`store::Store::accept_loss`]), which is an event of its own.
//! - **A fork is told.** Where a sync puts another copy's record in place together with its
//!   `record.end`, both agree. But a backup that the record doesn't continue, and that holds changes
//!   which are neither in the record nor merged into it, shows ([`Notice::Lacks`]), unless a restore
//!   or an accepted loss explains it. Work goes on, since merging the backup brings them back. What
//!   came after the last backup doesn't show, except in a window that had read it
//!   ([`Notice::Replaced`]).
//!
//! # The format, version 1
//!
//! UTF-8 text. Every line is one JSON object without raw line breaks, terminated by a single `\n`.
//! Line 1 is the header, and line *n* + 1 holds event *n*:
//!
//! ```text
//! {"homehook":1,"sum":"60a9cdee4aa252ae"}
//! {"seq":1,"id":"16 hex digits","stamp":9,"time":"2026-03-01T10:32:00Z","by":"laptop","state":"16 hex digits","event":{...},"sum":"16 hex digits"}
//! ```
//!
//! The keys appear in this order, without spaces between them. `seq` counts from 1 without gaps.
//! `id` identifies the event in every copy of the record, and `stamp` orders the events of all
//! copies. `time` is an RFC 3339 instant in UTC. `by` names the writer of the change: plain text of
//! 1 to 60 characters without invisible ones ([`Who`](crate::model::label::Who)), omitted if the
//! writer has no name. `state` is the digest of the snapshot taken after this event, computed like
//! the sum of its body, and omitted if there was none. `event` is the serialized `E`. No line is
//! longer than 64 MiB.
//!
//! # The checksum
//!
//! `sum` is the first 16 lower-case hex digits of SHA-256 (FIPS 180-4) over the previous line's 16
//! digits (nothing for line 1) followed by the bytes of this line before `,"sum":`. It covers the
//! bytes as they are in the file, never re-encoded JSON, and everything after the body is fixed to
//! the byte. So a changed byte, or a line removed, added or moved, always shows, at that line or
//! the next. The sum guards against accidents, not against someone who recomputes the sums.
//!
//! If the record is cut off at a line break, the record itself shows no trace. `record.end`
//! therefore repeats the number and sum of the last acknowledged event, and the sum of the first
//! event, which identifies the stash. It is written after the event is on disk, but isn't itself
//! forced to disk: after a power cut it may lag behind the record, but never runs ahead. Without
//! it, the record is accepted as it is.
//!
//! # Versions
//!
//! The number in the header is the version of the whole file. In every version, line 1 is a JSON
//! object with an integer under `homehook`. A number higher than [`FORMAT_VERSION`] is refused and
//! the record left untouched. New kinds of event don't need a new version: a line that verifies but
//! holds an unknown event opens the record read-only, up to that event. A line with any other key
//! is damage, so a new key next to `event` needs a new version.
//!
//! # What a crash may leave
//!
//! An append is one write and one sync, so a crash leaves at most one unfinished line at the end:
//! without its `\n`, or with NUL bytes in place of disk sectors that were never written. If the
//! marker shows that it was never acknowledged, the next writer sets it aside and cuts it off. Any
//! other line that doesn't verify is damage: the record opens read-only with the events before it,
//! and nothing in the folder changes. [`salvage`] describes what can still be proved after the
//! damage.
//!
//! # A disk that fails
//!
//! A failed write is cut off again, and the next append may succeed. A failed sync is different: a
//! system may drop the data it couldn't store and count it as written, so that the next sync
//! succeeds without it. The line is cut off, and nothing more is written until the record has been
//! read and verified from its first line. No acknowledged event depends on the failed sync: each
//! had a successful sync of its own. The next write starts at the cut, so it rewrites every block
//! that the failed sync may have lost before any of them counts.

pub mod backup;
mod check;
mod error;
mod folder;
mod format;
mod lock;
mod log;
mod reader;
pub mod restore;
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
