//! `record.snapshot`: what the stash held at some event, so that a long record need not be read whole.
//!
//! It is a cache. It counts only where the record still has the very lines it was taken after, which are
//! verified all the same; anything else about it that is not as expected makes it count as not there, and
//! the record is read from its first event. It can be deleted at any time.
//!
//! One line of the same form as the record's.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::line::{self, Entry, Sum};
use super::mark::Mark;
use crate::stash::event::Event;
use crate::stash::history::{History, Notes};
use crate::stash::state::State;

/// The version of what is written. To be raised when the same record would lead to another state.
const VERSION: u64 = 1;

/// A snapshot is taken anew when so many bytes of the record come after it: reading them took about
/// 5 ms when it was measured, and writing it about as long.
pub(super) const WORTH: u64 = 512 << 10;

pub(super) fn path_in(dir: &Path) -> PathBuf {
    dir.join("record.snapshot")
}

/// What is written.
#[derive(Serialize)]
struct Told<'a> {
    snapshot: u64,
    program: &'a str,
    events: u64,
    bytes: u64,
    last: &'a str,
    state: &'a State,
    history: Notes,
}

/// What is read.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read {
    snapshot: u64,
    program: String,
    events: u64,
    bytes: u64,
    last: String,
    state: State,
    history: Notes,
    #[serde(rename = "sum")]
    _sum: String,
}

/// A snapshot that was read.
#[derive(Debug)]
pub(super) struct Snapshot {
    /// Where in the record it was taken.
    pub(super) mark: Mark,
    /// What the stash held.
    pub(super) state: State,
    notes: Notes,
}

impl Snapshot {
    /// Reads the snapshot in a folder; nothing where there is none, it is not whole, or another version
    /// of the program wrote it. Linear in its size.
    pub(super) fn read(dir: &Path) -> Option<Snapshot> {
        let line = fs::read(path_in(dir)).ok()?;
        line::verify(None, &line).ok()?;
        let read: Read = serde_json::from_slice(&line).ok()?;
        let ours = read.snapshot == VERSION && read.program == env!("CARGO_PKG_VERSION");
        let sum = Sum::read(&read.last)?;
        let earlier = read
            .history
            .seqs()
            .all(|seq| (1..=read.events).contains(&seq));
        (ours && earlier).then_some(Snapshot {
            mark: Mark {
                events: read.events,
                bytes: read.bytes,
                sum,
            },
            state: read.state,
            notes: read.history,
        })
    }

    /// The numbers of the events that [`Snapshot::history`] needs.
    pub(super) fn wanted(&self) -> BTreeSet<u64> {
        self.notes.seqs().collect()
    }

    /// The state, and the history with its events from the record.
    pub(super) fn recall(self, entries: Vec<Entry<Event>>) -> Option<(State, History)> {
        let events: BTreeMap<u64, Event> = entries
            .into_iter()
            .map(|entry| (entry.seq, entry.event))
            .collect();
        Some((self.state, History::recalled(self.notes, events)?))
    }
}

/// Takes a snapshot. It appears under its name whole or not at all; it is not forced to disk, as one that
/// a crash spoils does not verify.
///
/// # Errors
/// Where the folder does not take it. Nothing is lost by that but time.
pub(super) fn take(dir: &Path, mark: &Mark, state: &State, history: &History) -> io::Result<()> {
    let told = Told {
        snapshot: VERSION,
        program: env!("CARGO_PKG_VERSION"),
        events: mark.events,
        bytes: mark.bytes,
        last: mark.sum.text(),
        state,
        history: history.notes(),
    };
    let mut line = serde_json::to_vec(&told)?;
    // The seal closes the object.
    line.pop();
    line::seal(None, &mut line);
    // One name is enough, as only the holder of the lock takes snapshots.
    let new = dir.join("record.snapshot.new");
    fs::write(&new, &line)?;
    fs::rename(&new, path_in(dir))
}

#[cfg(test)]
mod tests;
