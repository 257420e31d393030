//! Putting one line on disk, or leaving the file as it was.

use std::io;

use super::medium::Medium;

/// Writes whole lines to the end of the record.
#[derive(Debug)]
pub(super) struct Writer {
    medium: Box<dyn Medium>,
    in_doubt: bool,
}

/// Why a line is not on disk.
#[derive(Debug)]
pub(super) enum Failure {
    /// The write failed; nothing of the line is left.
    Undone(io::Error),
    /// The sync failed. The line was cut off, but what the disk holds is not known.
    NotSynced(io::Error),
    /// The write or the sync failed, and so did cutting the line off.
    NotUndone { source: io::Error, undo: io::Error },
    /// Not tried, after an earlier [`Failure::NotSynced`] or [`Failure::NotUndone`].
    InDoubt,
    /// Not tried: the file is not as this writer left it.
    Overtaken,
}

impl Writer {
    pub(super) fn new(medium: Box<dyn Medium>) -> Writer {
        Writer {
            medium,
            in_doubt: false,
        }
    }

    /// Puts `line` on disk at byte `end`, the end of the last acknowledged line.
    pub(super) fn append(&mut self, end: u64, line: &[u8]) -> Result<(), Failure> {
        if self.in_doubt {
            return Err(Failure::InDoubt);
        }
        // The lock keeps other writers out, but not a copy put in the record's place, nor a
        // second writer where the lock file was deleted.
        if !self.medium.len().is_ok_and(|len| len == end) {
            return Err(Failure::Overtaken);
        }
        let written = self.write_all(end, line);
        let was_written = written.is_ok();
        let Err(source) = written.and_then(|()| self.medium.sync()) else {
            return Ok(());
        };
        // A system may forget what it failed to put on disk, and the next sync then succeeds without
        // it. So one that succeeds after one that failed proves nothing, and this writer stops.
        self.in_doubt = was_written;
        match self.medium.truncate(end).and_then(|()| self.medium.sync()) {
            Ok(()) if was_written => Err(Failure::NotSynced(source)),
            Ok(()) => Err(Failure::Undone(source)),
            Err(undo) => {
                self.in_doubt = true;
                Err(Failure::NotUndone { source, undo })
            }
        }
    }

    fn write_all(&mut self, mut at: u64, mut bytes: &[u8]) -> io::Result<()> {
        while !bytes.is_empty() {
            match self.medium.write(at, bytes) {
                Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
                Ok(n) => {
                    at += n as u64;
                    bytes = &bytes[n..];
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}
