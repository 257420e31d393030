//! Small records for the tests, and how they read.

use std::fs;

use jiff::Timestamp;

use super::Record;
use super::folder::record_in;
use super::line;
use super::scan::{Chain, End, scan};

/// A record's bytes, made without the code that writes to disk.
pub(super) fn record_of(events: &[String]) -> Vec<u8> {
    let (mut bytes, mut sum) = line::header();
    let mut line = Vec::new();
    for (at, event) in events.iter().enumerate() {
        let time = Timestamp::from_second(1_772_000_000 + at as i64).unwrap();
        sum = line::compose(&mut line, sum, at as u64 + 1, time, None, event).unwrap();
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
    let found = scan::<String>(bytes, &mut Chain::start(), None).unwrap();
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
    fs::write(record_in(dir.path()), bytes).unwrap();
    dir
}

/// A folder whose record was written through [`Record::append`], so that its end is known.
pub(super) fn folder_written(events: &[String]) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let mut record = Record::open(dir.path()).unwrap().record;
    for event in events {
        record.append(Timestamp::UNIX_EPOCH, event).unwrap();
    }
    dir
}
