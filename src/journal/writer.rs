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
    /// The write or the sync failed; nothing of the line is left.
    Undone(io::Error),
    /// The write or the sync failed, and so did cutting the line off.
    NotUndone { source: io::Error, undo: io::Error },
    /// Not tried, after an earlier [`Failure::NotUndone`].
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
        let Err(source) = self.write_all(end, line).and_then(|()| self.medium.sync()) else {
            return Ok(());
        };
        // After a failed sync what is on disk is unknown, so the cut must reach the disk too.
        match self.medium.truncate(end).and_then(|()| self.medium.sync()) {
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
