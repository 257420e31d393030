//! Attacks on the guarantees of a record.
//!
//! Provides small records and readers for the tests, and records of real events made with the
//! commands of the stash.

mod backup;
mod crash;
mod damage;
mod salvage;
mod sharing;
mod snapshot;
mod store;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use serde::de::IgnoredAny;

use crate::journal::Log;
use crate::journal::folder::{Folder, RECORD};
use crate::journal::format::{self, Entry, Envelope};
use crate::journal::format::{CommitMarker, MarkerFile};
use crate::journal::reader::{End, LogPosition, scan};
use crate::model::ids::{EventId, Stamp};
use crate::model::label::Who;
use crate::model::thread::Strands;
use crate::stash::command::board::{Unhang, block, new_board, unblock};
use crate::stash::command::import::{Amount, KeyRow, Terms, card_list};
use crate::stash::command::{family, hold, key, rehang, ring, thread};
use crate::stash::event::Event;
use crate::stash::history::History;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::testing::{at, board, rows};

/// A record's bytes, made without the code that writes to disk.
pub(in crate::journal) fn record_of(events: &[String]) -> Vec<u8> {
    let (mut bytes, mut sum) = format::header();
    let mut line = Vec::new();
    for (at, event) in events.iter().enumerate() {
        let time = Timestamp::from_second(1_772_000_000 + at as i64).unwrap();
        let nth = at as u64 + 1;
        let envelope = Envelope {
            id: EventId(nth << 40),
            stamp: Stamp(nth),
            time,
            by: None,
            state: None,
        };
        sum = format::compose(&mut line, sum, at as u64 + 1, envelope, event).unwrap();
        bytes.extend_from_slice(&line);
    }
    bytes
}

/// Twenty short events.
pub(in crate::journal) fn twenty() -> Vec<String> {
    (1..=20)
        .map(|n| format!("card {n} to hook \"C{n:02}\"\n\u{e9}"))
        .collect()
}

/// The good events in some bytes, and how the scan ended.
pub(in crate::journal) fn read(bytes: &[u8]) -> (Vec<String>, End) {
    let found = scan::<String>(bytes, &mut LogPosition::start(), None).unwrap();
    (
        found.entries.into_iter().map(|entry| entry.event).collect(),
        found.end,
    )
}

/// Where each line ends.
pub(in crate::journal) fn line_ends(bytes: &[u8]) -> Vec<usize> {
    (1..=bytes.len())
        .filter(|&end| bytes[end - 1] == b'\n')
        .collect()
}

/// A temporary folder, in memory if the system offers that: thousands of disk syncs would take
/// longer than everything else, and matter only when the power fails.
pub(in crate::journal) fn new_folder() -> tempfile::TempDir {
    tempfile::tempdir_in("/dev/shm").unwrap_or_else(|_| tempfile::tempdir().unwrap())
}

/// A folder with these bytes as its record, as if copied there by hand.
pub(in crate::journal) fn folder_with(bytes: &[u8]) -> tempfile::TempDir {
    let dir = new_folder();
    fs::write(dir.path().join(RECORD), bytes).unwrap();
    dir
}

pub(in crate::journal) fn record_in(dir: &Path) -> PathBuf {
    dir.join(RECORD)
}

/// Every file of a folder with its content.
pub(in crate::journal) fn contents(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let files = fs::read_dir(dir).unwrap().map(|file| file.unwrap().path());
    files
        .filter(|path| path.is_file())
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect()
}

/// The log in a folder, opened and held.
pub(in crate::journal) fn writer(dir: &Path) -> Log<String> {
    let (mut log, _) = Log::open(dir).unwrap();
    assert_eq!(log.damage(), None);
    log.hold(Duration::ZERO).unwrap();
    log
}

/// A folder whose record was written through [`Log::append`], so that it has a marker.
pub(in crate::journal) fn folder_written(events: &[String]) -> tempfile::TempDir {
    let dir = new_folder();
    let mut log = writer(dir.path());
    for event in events {
        log.append(Timestamp::UNIX_EPOCH, event).unwrap();
    }
    dir
}

/// Writes a marker that acknowledges a folder's whole record, whatever its events.
pub(in crate::journal) fn write_end_marker(dir: &Path) {
    let folder = Folder::open(dir).unwrap().unwrap();
    let record = folder.read(RECORD).unwrap().unwrap();
    let mut position = LogPosition::start();
    scan::<IgnoredAny>(record, &mut position, None).unwrap();
    let commit = CommitMarker {
        events: position.events,
        last: position.sum,
        first: position.first.unwrap(),
    };
    let mut marker = MarkerFile::open(&folder).unwrap();
    marker.note(&folder, &commit).unwrap();
}

/// A stash in the making, event by event.
#[derive(Default)]
pub(in crate::journal) struct Life {
    pub(in crate::journal) state: State,
    history: History,
    pub(in crate::journal) entries: Vec<Entry<Event>>,
}

const PROJECTS: [&str; 3] = ["Robin", "Harbour at d\u{fc}sk", "Sandbank \"Pond\""];
const NAMES: [Option<&str>; 3] = [Some("laptop"), None, Some("n\u{e4}hzimmer 2")];

impl Life {
    /// A wall with cards on it, imported from a list.
    pub(in crate::journal) fn begun() -> Life {
        let mut life = Life::default();
        life.act(|state| new_board(state, &board("wall", "", 3, 4, 2)));
        let mut list = rows(&[
            "Cove:1@A01 moss",
            "Cove:2@A02 fern",
            "Cove:3@A03 slate",
            "Cove:4",
            "Cove:701 rose",
            "Moor:5@B01 rust",
        ]);
        for row in &mut list {
            row.amount = Some(Amount::Skeins(2.0));
        }
        let list = card_list(&life.state, &list, Vec::new(), &Terms::default(), at(1)).unwrap();
        life.act(|_| Ok(list.event.unwrap()));
        life
    }

    /// Sixty events of nearly every kind.
    pub(in crate::journal) fn sixty() -> Life {
        let mut life = Life::begun();
        for number in 0.. {
            if life.entries.len() == 60 {
                return life;
            }
            life.step(number, u16::from(number) * 7 + 3);
        }
        life
    }

    fn act(&mut self, ask: impl FnOnce(&State) -> Result<Event, Refusal>) {
        // As in real use, refused changes aren't recorded.
        let Ok(event) = ask(&self.state) else { return };
        self.state.apply(&event).unwrap();
        let seq = self.entries.len() as u64 + 1;
        self.history.note(seq, event.clone());
        let by = NAMES[self.entries.len() % 3].map(|name| Who::new(name).unwrap());
        let time = at(self.entries.len() as i64 * 3_600);
        self.entries.push(Entry {
            seq,
            id: EventId(seq << 40),
            stamp: Stamp(seq),
            time,
            by,
            event,
        });
    }

    /// Tries one change, chosen by two numbers.
    pub(in crate::journal) fn step(&mut self, kind: u8, number: u16) {
        let now = at(self.entries.len() as i64 * 3_600);
        let n = usize::from(number);
        let project = PROJECTS[n % 3];
        let (undo, redo) = (self.history.undo(), self.history.redo());
        let ids: Vec<_> = self.state.cards().map(|kept| kept.card.id).collect();
        // Without cards, only changes that need none are possible.
        let Some(&card) = ids.get(n / 3 % ids.len().max(1)) else {
            return self.act(|_| redo);
        };
        let hook_name = ["C01", "C02", "C03"][n % 3];
        let strands = Strands(1 + u32::from(number) % 5);
        self.act(|state| match kind % 17 {
            0 => ring::take(state, project, &[card], now),
            1 => ring::hang_up(state, state.need_ring(project)?, hook_name, now),
            2 => ring::give_back(state, state.need_ring(project)?, &[card], now),
            3 => thread::split(state, project, card, strands, None, "for \u{2713}", now),
            4 => thread::use_thread(state, None, card, strands, None),
            5 => thread::merge(state, state.need_ring(project)?, card),
            6 => ring::missing(state, &[card], now),
            7 => ring::found(state, card, now),
            8 | 16 => undo,
            9 => redo,
            10 => {
                let row = |line: u64, number: &str| KeyRow {
                    line,
                    number: number.into(),
                    stitches: 40 + u32::from(line as u16),
                    ..KeyRow::default()
                };
                let list = [row(2, "1"), row(3, "701"), row(4, &number.to_string())];
                let keyed = key::import(state, &list, Vec::new(), project, &Terms::default(), now)?;
                keyed.event.ok_or(Refusal::NothingToRedo)
            }
            11 => {
                let plans = rehang::plans(state)?;
                let steps = plans.get(1).map(|plan| &plan.steps);
                let step = steps.and_then(|steps| steps.first());
                rehang::step(state, step.ok_or(Refusal::NothingToRedo)?, now)
            }
            12 => {
                let text = format!("Cove:{} new", 400 + u32::from(number));
                let list = card_list(state, &rows(&[&text]), Vec::new(), &Terms::default(), now)?;
                list.event.ok_or(Refusal::NothingToRedo)
            }
            13 => block(state, hook_name, "lamp", Unhang::Refused, now),
            14 => unblock(state, hook_name, now),
            _ if n % 2 == 0 => hold::hold(state, &[card]),
            _ => family::order(state, &["warm".into(), "cool".into()]),
        });
    }

    pub(in crate::journal) fn bytes(&self) -> Vec<u8> {
        bytes_of(&self.entries)
    }
}

/// The bytes of a record with these events.
pub(in crate::journal) fn bytes_of(entries: &[Entry<Event>]) -> Vec<u8> {
    let (mut bytes, mut sum) = format::header();
    let mut line = Vec::new();
    for entry in entries {
        let envelope = Envelope {
            id: entry.id,
            stamp: entry.stamp,
            time: entry.time,
            by: entry.by.as_ref(),
            state: None,
        };
        sum = format::compose(&mut line, sum, entry.seq, envelope, &entry.event).unwrap();
        bytes.extend_from_slice(&line);
    }
    bytes
}
