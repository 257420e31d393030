//! `record.snapshot`: what the stash held at some event, so that a long record need not be read whole.
//!
//! It is a cache that can be deleted at any time. It serves who looks: what is written rests on the record
//! itself, read from its first event. And it is believed only as far as the record vouches for it: the line
//! of the event it was taken after holds the digest of what stands in it. A snapshot that was changed, taken
//! of another record, or taken by a program with other rules does not have that digest, and the record is
//! read from its first event.
//!
//! Two lines: where in the record it was taken, sealed like a line of the record; then the rules it was
//! taken by, the state, and what can be undone.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Read};

use serde::{Deserialize, Serialize};

use super::folder::Folder;
use super::format::{self, Entry, Sum};
use super::reader::{LogPosition, Resume};
use crate::stash::event::Event;
use crate::stash::history::{History, Notes};
use crate::stash::state::State;

/// The snapshot's file name.
pub(super) const SNAPSHOT: &str = "record.snapshot";

/// A digest of the program's source where it says what events make of a stash: another build with other
/// rules has another one.
pub(super) const RULES: &str = env!("HOMEHOOK_RULES");

/// A snapshot is taken when so many bytes of the record come after the last one: reading them took about
/// 5 ms when it was measured, and writing it about as long.
pub(super) const WORTH: u64 = 512 << 10;

/// A larger snapshot is not read.
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

/// What is to be a snapshot, once the event it is taken after is on disk.
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

    /// The digest that the event's line has to hold.
    pub(super) fn digest(&self) -> Sum {
        Sum::digest(&self.body)
    }

    /// Writes it, as taken after the event that ends at `position`. It appears under its name whole or not
    /// at all; it is not forced to disk, as one that a crash spoils does not have its digest.
    ///
    /// # Errors
    /// Where the folder does not take it. Nothing is lost by that but time.
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

/// A snapshot that was read.
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
    /// Reads the snapshot in a folder; nothing where there is none, it is not whole, or a program with
    /// other rules wrote it. Linear in its size, which is bounded.
    pub(super) fn read(folder: &Folder) -> Option<Snapshot> {
        let mut bytes = Vec::new();
        let file = folder.read(SNAPSHOT).ok()??;
        file.take(LARGEST).read_to_end(&mut bytes).ok()?;
        let end = bytes.iter().position(|&byte| byte == b'\n')? + 1;
        let (head, body) = bytes.split_at(end);
        format::verify(None, head).ok()?;
        let head: Head = serde_json::from_slice(head).ok()?;
        // The rules stand first, so those of another program are not read as ours.
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

    /// From where the record has to be read where this counts.
    pub(super) fn resume(&self) -> Resume<'_> {
        Resume {
            events: self.head.events,
            bytes: self.head.bytes,
            sum: self.last,
            digest: self.digest,
            wanted: &self.wanted,
        }
    }

    /// The state, and the history with its events from the record.
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

/// A stash as its snapshot has it.
#[derive(Debug)]
pub(super) struct Recalled {
    pub(super) events: u64,
    pub(super) state: State,
    pub(super) history: History,
}
