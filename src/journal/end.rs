//! `record.end`: how far the record had been acknowledged, to notice one cut short or exchanged.
//!
//! One line of the same form as the record's, filled up with spaces to a fixed length so that a
//! new one covers the old one to the byte. What cannot be read counts as not there.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::error::RecordError;
use super::folder;
use super::line::{self, Sum};

const LEN: usize = 96;

/// The last event that was acknowledged.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct KnownEnd {
    /// Its number.
    pub(super) events: u64,
    last: String,
    sum: String,
}

pub(super) fn path_in(dir: &Path) -> PathBuf {
    dir.join("record.end")
}

/// Opens the record in a folder to be looked over from its first byte, without the lock.
///
/// # Errors
/// When there is none, which is another matter where `known` says that there was one, or it cannot be
/// read.
pub(super) fn whole_record(dir: &Path, known: Option<&KnownEnd>) -> Result<File, RecordError> {
    let path = folder::record_in(dir);
    match (folder::read_from(dir, 0), known) {
        (Ok(Some((file, _))), _) => Ok(file),
        (Ok(None), Some(known)) => Err(RecordError::Missing {
            path,
            recorded: known.events,
            end: path_in(dir),
        }),
        (Ok(None), None) => Err(RecordError::NoRecord {
            path: dir.to_owned(),
        }),
        (Err(source), _) => Err(RecordError::Read { path, source }),
    }
}

impl KnownEnd {
    /// Reads the known end of the record in a folder, if there is one.
    pub(super) fn read(dir: &Path) -> Option<KnownEnd> {
        let mut text = Vec::new();
        File::open(path_in(dir))
            .ok()?
            .take(LEN as u64 + 1)
            .read_to_end(&mut text)
            .ok()?;
        let filled = text
            .strip_suffix(b"\n")
            .filter(|rest| rest.len() + 1 == LEN)?;
        let mut line = filled.trim_ascii_end().to_vec();
        line.push(b'\n');
        line::verify(None, &line).ok()?;
        serde_json::from_slice(&line).ok()
    }

    /// Whether the last acknowledged event had this checksum.
    pub(super) fn ends_with(&self, sum: Sum) -> bool {
        self.last == sum.text()
    }
}

/// Keeps `record.end` up to date.
#[derive(Debug)]
pub(super) struct EndFile {
    file: File,
}

impl EndFile {
    pub(super) fn open(dir: &Path) -> io::Result<EndFile> {
        let path = path_in(dir);
        let file = OpenOptions::new()
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)?;
        Ok(EndFile { file })
    }

    /// Notes that event number `events` with checksum `last` is on disk.
    pub(super) fn note(&mut self, events: u64, last: Sum) -> io::Result<()> {
        let mut line = format!(r#"{{"events":{events},"last":"{}""#, last.text()).into_bytes();
        line::seal(None, &mut line);
        line.pop();
        line.resize(LEN - 1, b' ');
        line.push(b'\n');
        self.file.rewind()?;
        self.file.write_all(&line)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn what_is_noted_is_read_and_a_changed_byte_makes_it_unreadable() {
        let dir = tempfile::tempdir().unwrap();
        assert_eq!(KnownEnd::read(dir.path()), None);
        let mut file = EndFile::open(dir.path()).unwrap();
        for events in [u64::MAX, 7] {
            file.note(events, line::header().1).unwrap();
            let known = KnownEnd::read(dir.path()).unwrap();
            assert_eq!(known.events, events);
            assert!(known.ends_with(line::header().1));
        }
        let good = fs::read(path_in(dir.path())).unwrap();
        for at in 0..good.len() {
            let mut bad = good.clone();
            bad[at] ^= 0x41;
            fs::write(path_in(dir.path()), &bad).unwrap();
            assert_eq!(KnownEnd::read(dir.path()), None, "byte {at}");
            fs::write(path_in(dir.path()), &good[..at]).unwrap();
            assert_eq!(KnownEnd::read(dir.path()), None, "cut at {at}");
        }
    }
}
