//! A new record of events that were saved.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use super::super::end::EndFile;
use super::super::folder;
use super::super::line::{self, Entry};
use crate::language::say;
use crate::stash::event::Event;

/// Why a new stash cannot be written. Nothing but an empty folder is left.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// Something is in the folder already.
    #[error("{}", say!(
        "{it} is not empty. Name a folder that is, or one that is not there yet",
        it = .0.display()
    ))]
    NotEmpty(PathBuf),
    /// The folder or the record cannot be written.
    #[error("{}", say!(
        "a new stash cannot be written in {path} ({source}). Make room, or name another \
         folder",
        path = path.display(),
        source
    ))]
    Failed {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes a stash with these events, numbered from 1, in a folder that is empty or not there. The
/// record appears there whole or not at all.
///
/// # Errors
/// Where the folder is not empty, or the disk does not take it.
pub fn write(dir: &Path, entries: &[Entry<Event>]) -> Result<(), WriteError> {
    let failed = |source| WriteError::Failed {
        path: dir.to_owned(),
        source,
    };
    match fs::read_dir(dir).map(|mut found| found.next().is_none()) {
        Ok(true) => {}
        Ok(false) => return Err(WriteError::NotEmpty(dir.to_owned())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            folder::make(dir).map_err(failed)?;
        }
        Err(error) => return Err(failed(error)),
    }
    let new = dir.join("record.new");
    let written = record(&new, entries).and_then(|sum| {
        folder::put_in_place(dir, &new, &folder::record_in(dir))?;
        Ok(sum)
    });
    match written {
        Ok(sum) => {
            // As for every event: without the note only a later loss goes unseen.
            let end = EndFile::open(dir);
            let _ = end.and_then(|mut end| end.note(entries.len() as u64, sum));
            Ok(())
        }
        Err(error) => {
            let _ = fs::remove_file(&new);
            Err(failed(error))
        }
    }
}

/// Writes a record to a file; it is on disk when this returns.
fn record(path: &Path, entries: &[Entry<Event>]) -> io::Result<line::Sum> {
    let mut file = BufWriter::new(File::create_new(path)?);
    let (header, mut sum) = line::header();
    file.write_all(&header)?;
    let mut line = Vec::new();
    for entry in entries {
        let by = entry.by.as_ref();
        sum = line::compose(&mut line, sum, entry.seq, entry.time, by, &entry.event)?;
        file.write_all(&line)?;
    }
    file.into_inner()?.sync_all()?;
    Ok(sum)
}
