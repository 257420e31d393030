//! A new record of events that were saved.

use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use super::super::folder::{Folder, Made, RECORD, Unfinished};
use super::super::format::{self, Entry, Envelope};
use super::super::marker::{CommitMarker, MarkerFile};
use super::super::reader::LogPosition;
use crate::stash::event::Event;

/// Why a new stash cannot be written. Nothing of it is left.
#[derive(Debug)]
pub enum WriteError {
    /// Something is in the folder already.
    NotEmpty(PathBuf),
    /// The folder or the record cannot be written.
    Failed {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes a stash with these events, numbered from 1, in a folder that is empty or not there. The
/// record appears there whole or not at all, with the mode and the owner of the record in `like`.
///
/// # Errors
/// Where the folder is not empty, or the disk does not take it.
pub fn write(dir: &Path, like: &Path, entries: &[Entry<Event>]) -> Result<(), WriteError> {
    let failed = |source| WriteError::Failed {
        path: dir.to_owned(),
        source,
    };
    let made = Made::make(dir).map_err(failed)?;
    let folder = Folder::open(dir).map_err(failed)?;
    let folder = folder.ok_or_else(|| failed(io::ErrorKind::NotFound.into()))?;
    if !folder.names().map_err(failed)?.is_empty() {
        return Err(WriteError::NotEmpty(dir.to_owned()));
    }
    let like = Folder::open(like).map_err(failed)?;
    let like = like.as_ref().unwrap_or(&folder);
    let mut new = folder.begin_like("record-", ".new", like).map_err(failed)?;
    let position = record(&mut new, entries).map_err(failed)?;
    let placed = new.place_new(RECORD).and_then(|()| {
        let commit = CommitMarker {
            events: position.events,
            last: position.sum,
            first: position.first.unwrap_or(position.sum),
        };
        let mut marker = MarkerFile::open(&folder)?;
        // A record without events has acknowledged none.
        if position.events > 0 {
            marker.note(&folder, &commit)?;
        }
        folder.sync()
    });
    if let Err(source) = placed {
        let _ = folder.remove(RECORD);
        return Err(failed(source));
    }
    made.keep();
    Ok(())
}

/// Writes a record to a file; it is on disk when this returns.
fn record(new: &mut Unfinished<'_>, entries: &[Entry<Event>]) -> io::Result<LogPosition> {
    let mut file = BufWriter::new(&mut new.file);
    let (header, _) = format::header();
    file.write_all(&header)?;
    let mut position = LogPosition::start();
    let mut line = Vec::new();
    for entry in entries {
        let envelope = Envelope {
            id: entry.id,
            stamp: entry.stamp,
            time: entry.time,
            by: entry.by.as_ref(),
            state: None,
        };
        let sum = format::compose(&mut line, position.sum, entry.seq, envelope, &entry.event)?;
        file.write_all(&line)?;
        position.pass(&line, sum, entry.stamp);
    }
    file.flush()?;
    drop(file);
    new.file.sync_all()?;
    Ok(position)
}
