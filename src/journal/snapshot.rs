//! `record.snapshot`: the state after some event, so that a long record needn't be read whole.
//!
//! It is a cache that can be deleted at any time. It is only for reading: changes rely on the
//! record itself, read from its first event. And it is trusted only as far as the record vouches
//! for it: the line of the last event it includes holds the digest of its contents. A snapshot that
//! was changed, taken of another record, or written by a program with other rules has a different
//! digest, and then the record is read from its first event.
//!
//! It has two lines: first its position in the record, sealed like a line of the record; then the
//! rules it was taken by, the state, and the undo history.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Read};

use serde::{Deserialize, Serialize};

use super::folder::Folder;
use super::format::{self, Entry, Sum};
use super::reader::{LogPosition, Resume};
use crate::stash::event::Event;
use crate::stash::history::{History, Notes};
use crate::stash::state::State;

pub(super) const SNAPSHOT: &str = "record.snapshot";

/// A digest of the source code that defines what events do to a stash: a build with other rules has
/// another digest.
pub(super) const RULES: &str = env!("HOMEHOOK_RULES");

/// A snapshot is taken once this many bytes of the record follow the last one. Reading that much
/// took about 5 ms when measured, and writing a snapshot about as long.
pub(super) const WORTH: u64 = 512 << 10;

/// Larger snapshots are not read.
const LARGEST: u64 = 64 << 20;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Head {
    events: u64,
    bytes: u64,
    last: String,
    #[serde(default, rename = "sum", skip_serializing)]
    _sum: String,
}

#[derive(Serialize)]
struct BodyRef<'a> {
    rules: &'a str,
    state: &'a State,
    history: Notes,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Body {
    rules: String,
    state: State,
    history: Notes,
}

/// The contents of a snapshot, to be written once its last event is on disk.
#[derive(Debug)]
pub(super) struct Taken {
    body: Vec<u8>,
}

impl Taken {
    /// Takes a snapshot of a state. Linear in its size.
    pub(super) fn of(state: &State, history: &History) -> Option<Taken> {
        let body = BodyRef {
            rules: RULES,
            state,
            history: history.notes(),
        };
        let mut body = serde_json::to_vec(&body).ok()?;
        body.push(b'\n');
        Some(Taken { body })
    }

    /// The digest that the event's line must hold.
    pub(super) fn digest(&self) -> Sum {
        Sum::digest(&self.body)
    }

    /// Writes the snapshot, as taken after the event that ends at `position`. It appears under its
    /// name whole or not at all. It isn't forced to disk: one spoiled by a crash doesn't match its
    /// digest.
    ///
    /// # Errors
    /// When the folder can't be written. That costs nothing but time.
    pub(super) fn write(&self, folder: &Folder, position: &LogPosition) -> io::Result<()> {
        use std::io::Write as _;
        let head = Head {
            events: position.events,
            bytes: position.bytes,
            last: position.sum.text().to_owned(),
            _sum: String::new(),
        };
        let mut line = serde_json::to_vec(&head)?;
        // The seal closes the object.
        line.pop();
        format::seal(None, &mut line);
        let mut new = folder.begin("record.snapshot-", ".new")?;
        new.file.write_all(&line)?;
        new.file.write_all(&self.body)?;
        new.place(SNAPSHOT)
    }
}

/// A snapshot as read.
#[derive(Debug)]
pub(super) struct Snapshot {
    head: Head,
    last: Sum,
    digest: Sum,
    wanted: BTreeSet<u64>,
    state: State,
    notes: Notes,
}

impl std::fmt::Debug for Head {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "after event {}", self.events)
    }
}

impl Snapshot {
    /// Reads the snapshot in a folder; `None` if it is missing or incomplete, or was written by a
    /// program with other rules. Linear in its size, which is bounded.
    pub(super) fn read(folder: &Folder) -> Option<Snapshot> {
        let mut bytes = Vec::new();
        let file = folder.read(SNAPSHOT).ok()??;
        file.take(LARGEST).read_to_end(&mut bytes).ok()?;
        let end = bytes.iter().position(|&byte| byte == b'\n')? + 1;
        let (head, body) = bytes.split_at(end);
        format::verify(None, head).ok()?;
        let head: Head = serde_json::from_slice(head).ok()?;
        // The rules come first, so another program's state isn't parsed as ours.
        let ours = format!(r#"{{"rules":"{RULES}","#);
        if !body.starts_with(ours.as_bytes()) {
            return None;
        }
        let digest = Sum::digest(body);
        let Body {
            rules,
            state,
            history: notes,
        } = serde_json::from_slice(body).ok()?;
        let wanted: BTreeSet<u64> = notes.seqs().collect();
        let earlier = wanted.iter().all(|seq| (1..=head.events).contains(seq));
        let last = Sum::read(&head.last)?;
        (rules == RULES && earlier).then_some(Snapshot {
            head,
            last,
            digest,
            wanted,
            state,
            notes,
        })
    }

    /// Where to resume reading the record if this snapshot is valid.
    pub(super) fn resume(&self) -> Resume<'_> {
        Resume {
            events: self.head.events,
            bytes: self.head.bytes,
            sum: self.last,
            digest: self.digest,
            wanted: &self.wanted,
        }
    }

    /// The state, and the history with its events taken from the record.
    pub(super) fn recall(self, entries: Vec<Entry<Event>>) -> Option<Recalled> {
        let events: BTreeMap<u64, Event> = entries
            .into_iter()
            .map(|entry| (entry.seq, entry.event))
            .collect();
        Some(Recalled {
            events: self.head.events,
            state: self.state,
            history: History::recalled(self.notes, events)?,
        })
    }
}

/// A stash restored from its snapshot.
#[derive(Debug)]
pub(super) struct Recalled {
    pub(super) events: u64,
    pub(super) state: State,
    pub(super) history: History,
}
