//! Small records for the tests, and how they read.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use serde::de::IgnoredAny;

use super::Log;
use super::folder::{Folder, RECORD};
use super::format::{self, Envelope};
use super::marker::{CommitMarker, MarkerFile};
use super::reader::{End, LogPosition, scan};
use crate::model::ids::{EventId, Stamp};

/// A record's bytes, made without the code that writes to disk.
pub(super) fn record_of(events: &[String]) -> Vec<u8> {
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
pub(super) fn twenty() -> Vec<String> {
    (1..=20)
        .map(|n| format!("card {n} to hook \"C{n:02}\"\n\u{e9}"))
        .collect()
}

/// The good events in some bytes, and how the reading ended.
pub(super) fn read(bytes: &[u8]) -> (Vec<String>, End) {
    let found = scan::<String>(bytes, &mut LogPosition::start(), None).unwrap();
    (
        found.entries.into_iter().map(|entry| entry.event).collect(),
        found.end,
    )
}

/// Where each line ends.
pub(super) fn line_ends(bytes: &[u8]) -> Vec<usize> {
    (1..=bytes.len())
        .filter(|&end| bytes[end - 1] == b'\n')
        .collect()
}

/// A folder with these bytes as its record, as if brought in by hand.
pub(super) fn folder_with(bytes: &[u8]) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join(RECORD), bytes).unwrap();
    dir
}

/// Where the record of a folder is.
pub(super) fn record_in(dir: &Path) -> PathBuf {
    dir.join(RECORD)
}

/// Every file of a folder and what stands in it.
pub(super) fn contents(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let files = fs::read_dir(dir).unwrap().map(|file| file.unwrap().path());
    files
        .filter(|path| path.is_file())
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect()
}

/// The log in a folder, opened and held.
pub(super) fn writer(dir: &Path) -> Log<String> {
    let (mut log, _) = Log::open(dir).unwrap();
    assert_eq!(log.damage(), None);
    log.hold(Duration::ZERO).unwrap();
    log
}

/// A folder whose record was written through [`Log::append`], so that it has a marker.
pub(super) fn folder_written(events: &[String]) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let mut log = writer(dir.path());
    for event in events {
        log.append(Timestamp::UNIX_EPOCH, event).unwrap();
    }
    dir
}

/// Writes the marker that says that all of a folder's record, of any events, was acknowledged.
pub(super) fn write_end_marker(dir: &Path) {
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
