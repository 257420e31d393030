//! Putting lines on disk, or leaving the file as it was. The few file operations this takes are a trait, so
//! that tests can make each of them fail.

use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};

/// Where an append puts its bytes.
pub(super) trait LogFile: std::fmt::Debug + Send {
    /// Writes some of `bytes` at byte `at`; returns how many.
    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize>;
    /// Returns when all that was written is on disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Cuts the file to `len` bytes.
    fn truncate(&mut self, len: u64) -> io::Result<()>;
    /// How long the file is.
    fn length(&mut self) -> io::Result<u64>;
}

impl LogFile for File {
    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize> {
        self.seek(SeekFrom::Start(at))?;
        Write::write(self, bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }

    fn truncate(&mut self, len: u64) -> io::Result<()> {
        self.set_len(len)
    }

    fn length(&mut self) -> io::Result<u64> {
        Ok(self.metadata()?.len())
    }
}

/// Why lines are not on disk.
#[derive(Debug)]
pub(super) enum AppendError {
    /// The write failed; nothing of the lines is left.
    Undone(io::Error),
    /// The sync failed. The lines were cut off, but what the disk holds is not known.
    NotSynced(io::Error),
    /// The write or the sync failed, and so did cutting the lines off.
    NotUndone { source: io::Error, undo: io::Error },
}

/// Puts `lines` on disk at byte `end`, the end of the last acknowledged line.
///
/// After [`AppendError::NotSynced`] and [`AppendError::NotUndone`] nothing more may be appended: a system
/// may forget what it failed to put on disk, and the next sync then succeeds without it, so one that
/// succeeds after one that failed proves nothing.
pub(super) fn append(file: &mut dyn LogFile, end: u64, lines: &[u8]) -> Result<(), AppendError> {
    let written = write_all(file, end, lines);
    let was_written = written.is_ok();
    let Err(source) = written.and_then(|()| file.sync()) else {
        return Ok(());
    };
    match take_back(file, end, lines) {
        Ok(()) if was_written => Err(AppendError::NotSynced(source)),
        Ok(()) => Err(AppendError::Undone(source)),
        Err(undo) => Err(AppendError::NotUndone { source, undo }),
    }
}

/// Cuts off `lines`, or a part of them, that were appended at byte `end`; that is on disk when this returns.
/// What somebody else has put behind them, as in a file that was moved to another folder, is not cut off.
pub(super) fn take_back(file: &mut dyn LogFile, end: u64, lines: &[u8]) -> io::Result<()> {
    if file.length()? > end + lines.len() as u64 {
        return Err(io::ErrorKind::ResourceBusy.into());
    }
    file.truncate(end).and_then(|()| file.sync())
}

fn write_all(file: &mut dyn LogFile, mut at: u64, mut bytes: &[u8]) -> io::Result<()> {
    while !bytes.is_empty() {
        match file.write(at, bytes) {
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
