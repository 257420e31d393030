//! `record.end`, the commit marker: the last event that was acknowledged, so that a record cut short or
//! exchanged shows.
//!
//! One line of the same form as the record's, filled up with spaces to a fixed length so that a new one
//! covers the old one to the byte. It is made whole at the first event, and rewritten in place after each
//! event is on disk and before it is acknowledged. It is not forced to disk each time: after a power cut
//! it may lag behind the record, but it never runs ahead.

use std::fs::File;
use std::io::{self, Read, Seek, Write};

use serde::Deserialize;

pub(super) use super::folder::MARKER;
use super::folder::{Folder, Identity};
use super::format::{self, Sum};

const LEN: usize = 128;

/// The last event that was acknowledged, and which record it is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CommitMarker {
    /// Its number.
    pub(super) events: u64,
    /// The checksum of its line.
    pub(super) last: Sum,
    /// The checksum of the record's first event, by which a stash is known.
    pub(super) first: Sum,
}

/// What stands in `record.end`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum MarkerState {
    /// There is none.
    Absent,
    /// There is one, and it says nothing.
    Unreadable,
    /// What was acknowledged.
    Known(CommitMarker),
}

impl MarkerState {
    /// Reads the marker in a folder. Bounded, whatever stands there.
    pub(super) fn read(folder: &Folder) -> io::Result<Self> {
        let Some(file) = folder.read(MARKER)? else {
            return Ok(Self::Absent);
        };
        let mut text = Vec::new();
        file.take(LEN as u64 + 1).read_to_end(&mut text)?;
        Ok(CommitMarker::parse(&text).map_or(Self::Unreadable, Self::Known))
    }

    /// What was acknowledged, where that is known.
    pub(super) const fn known(&self) -> Option<&CommitMarker> {
        match self {
            Self::Known(marker) => Some(marker),
            _ => None,
        }
    }
}

impl CommitMarker {
    fn parse(text: &[u8]) -> Option<Self> {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Fields<'a> {
            events: u64,
            last: &'a str,
            first: &'a str,
            #[serde(rename = "sum")]
            _sum: &'a str,
        }
        let filled = text
            .strip_suffix(b"\n")
            .filter(|rest| rest.len() + 1 == LEN)?;
        let mut line = filled.trim_ascii_end().to_vec();
        line.push(b'\n');
        format::verify(None, &line).ok()?;
        let fields: Fields<'_> = serde_json::from_slice(&line).ok()?;
        Some(Self {
            events: fields.events,
            last: Sum::read(fields.last)?,
            first: Sum::read(fields.first)?,
        })
    }

    pub(super) fn line(&self) -> Vec<u8> {
        let Self {
            events,
            last,
            first,
        } = self;
        let (last, first) = (last.text(), first.text());
        let line = format!(r#"{{"events":{events},"last":"{last}","first":"{first}""#);
        let mut line = line.into_bytes();
        format::seal(None, &mut line);
        line.pop();
        line.resize(LEN - 1, b' ');
        line.push(b'\n');
        line
    }
}

/// Keeps `record.end` up to date.
#[derive(Debug, Default)]
pub(super) struct MarkerFile {
    file: Option<File>,
    /// What stands in it.
    before: Vec<u8>,
}

impl MarkerFile {
    /// Opens the marker to be rewritten; where there is none it is made by the first note.
    pub(super) fn open(folder: &Folder) -> io::Result<Self> {
        let mut marker = Self {
            file: folder.change(MARKER)?,
            before: Vec::new(),
        };
        if let Some(file) = &mut marker.file {
            file.take(LEN as u64).read_to_end(&mut marker.before)?;
        }
        Ok(marker)
    }

    /// Notes what was acknowledged. When this fails, what stands there is what stood there before.
    pub(super) fn note(&mut self, folder: &Folder, marker: &CommitMarker) -> io::Result<()> {
        let line = marker.line();
        if self.is_in_place(folder)? {
            if self.rewrite(&line).is_ok() {
                self.before = line;
                return Ok(());
            }
            // What a failed write left of it must not pass for damage.
            let before = std::mem::take(&mut self.before);
            self.rewrite(&before)?;
            self.before = before;
        }
        // Made whole under another name: a half one would count as unreadable.
        let mut new = folder.begin("record.end-", ".new")?;
        new.fill(&line)?;
        new.place(MARKER)?;
        // It counts from here on, so nothing that follows may fail. It need not be on disk at once.
        let _ = folder.sync();
        *self = Self::open(folder).unwrap_or_default();
        Ok(())
    }

    /// Whether the marker under its name is the file that was opened, as long as it has to be.
    fn is_in_place(&self, folder: &Folder) -> io::Result<bool> {
        let there = folder.identity(MARKER)?;
        let ours = self.file.as_ref().map(Identity::of).transpose()?;
        let both = there.zip(ours);
        Ok(both.is_some_and(|(there, ours)| {
            there.is_same_file(&ours) && there.length == LEN as u64 && self.before.len() == LEN
        }))
    }

    fn rewrite(&mut self, line: &[u8]) -> io::Result<()> {
        let file = self.file.as_mut().ok_or(io::ErrorKind::NotFound)?;
        file.rewind()?;
        file.write_all(line)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn is_noted_and_read(file: &mut MarkerFile, folder: &Folder, events: u64) {
        let sum = format::header().1;
        let marker = CommitMarker {
            events,
            last: sum,
            first: sum,
        };
        file.note(folder, &marker).unwrap();
        let read = MarkerState::read(folder).unwrap();
        assert_eq!(read, MarkerState::Known(marker));
    }

    #[test]
    fn what_is_noted_is_read_and_a_changed_byte_makes_it_unreadable() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(dir.path()).unwrap().unwrap();
        assert_eq!(MarkerState::read(&folder).unwrap(), MarkerState::Absent);
        let mut file = MarkerFile::open(&folder).unwrap();
        for events in [u64::MAX, 7] {
            is_noted_and_read(&mut file, &folder, events);
        }
        let path = dir.path().join(MARKER);
        let good = fs::read(&path).unwrap();
        for at in 0..good.len() {
            let mut bad = good.clone();
            bad[at] ^= 0x41;
            for bytes in [&bad[..], &good[..at]] {
                fs::write(&path, bytes).unwrap();
                let read = MarkerState::read(&folder).unwrap();
                assert_eq!(read, MarkerState::Unreadable, "byte {at}");
            }
        }
    }

    #[test]
    fn a_marker_that_was_taken_away_or_exchanged_is_made_anew() {
        let dir = tempfile::tempdir().unwrap();
        let folder = Folder::open(dir.path()).unwrap().unwrap();
        let mut file = MarkerFile::open(&folder).unwrap();
        let path = dir.path().join(MARKER);
        for events in 1..5 {
            is_noted_and_read(&mut file, &folder, events);
            if events % 2 == 0 {
                fs::remove_file(&path).unwrap();
            } else {
                fs::write(&path, "short").unwrap();
            }
        }
    }
}
