//! The few file operations an append is made of, so that tests can make each of them fail.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::language::word;

/// Where the writer puts its bytes.
pub(super) trait Medium: std::fmt::Debug + Send {
    /// The length of the file that has the record's name now. An error where that is no longer
    /// the file written to.
    fn len(&mut self) -> io::Result<u64>;
    /// Writes some of `bytes` at byte `at`; returns how many.
    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize>;
    /// Returns when all that was written is on disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Cuts the file to `len` bytes.
    fn truncate(&mut self, len: u64) -> io::Result<()>;
}

/// A file on disk.
#[derive(Debug)]
pub(super) struct DiskFile {
    file: File,
    path: PathBuf,
}

impl DiskFile {
    /// Opens an existing file for writing.
    pub(super) fn open(path: &Path) -> io::Result<DiskFile> {
        let file = OpenOptions::new().write(true).open(path)?;
        Ok(DiskFile {
            file,
            path: path.to_owned(),
        })
    }
}

impl Medium for DiskFile {
    fn len(&mut self) -> io::Result<u64> {
        let there = fs::metadata(&self.path)?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            let ours = self.file.metadata()?;
            if (ours.dev(), ours.ino()) != (there.dev(), there.ino()) {
                return Err(io::Error::other(word!("another file was put in its place")));
            }
        }
        Ok(there.len())
    }

    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize> {
        self.file.seek(SeekFrom::Start(at))?;
        self.file.write(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn truncate(&mut self, len: u64) -> io::Result<()> {
        self.file.set_len(len)
    }
}
