//! Where the system has no folder handles, entries are opened by path, after a check.

use std::ffi::OsString;
use std::fs::{self, File, Metadata, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::Foreign;

/// A file's identity, and the attributes that show whether it was modified.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::journal) struct Identity {
    /// Its length in bytes.
    pub(in crate::journal) length: u64,
    made: Option<SystemTime>,
    written: Option<SystemTime>,
}

impl Identity {
    /// Whether both are the same file, whatever it contains.
    pub(in crate::journal) fn is_same_file(&self, other: &Identity) -> bool {
        self.made == other.made
    }

    /// The identity of an open file.
    pub(in crate::journal) fn of(file: &File) -> io::Result<Identity> {
        Ok(Attributes::of(file)?.identity())
    }
}

/// An entry's metadata from the system.
#[derive(Debug, Clone)]
pub(super) struct Attributes(Metadata);

impl Attributes {
    pub(super) fn of(file: &File) -> io::Result<Attributes> {
        Ok(Attributes(file.metadata()?))
    }

    pub(super) fn identity(&self) -> Identity {
        Identity {
            length: self.0.len(),
            made: self.0.created().ok(),
            written: self.0.modified().ok(),
        }
    }

    pub(super) fn check(&self, _change: bool) -> Result<(), Foreign> {
        if self.0.is_symlink() {
            Err(Foreign::Link)
        } else if self.0.is_dir() {
            Err(Foreign::Folder)
        } else if self.0.is_file() {
            Ok(())
        } else {
            Err(Foreign::Special)
        }
    }

    pub(super) fn check_folder(&self) -> Result<(), Foreign> {
        if self.0.is_symlink() {
            Err(Foreign::Link)
        } else if self.0.is_dir() {
            Ok(())
        } else {
            Err(Foreign::NotAFolder)
        }
    }
}

#[derive(Debug)]
pub(super) struct Dir(PathBuf);

impl Dir {
    pub(super) fn open(path: &Path) -> io::Result<Dir> {
        match fs::metadata(path)?.is_dir() {
            true => Ok(Dir(path.canonicalize()?)),
            false => Err(io::ErrorKind::NotADirectory.into()),
        }
    }

    pub(super) fn open_folder(&self, name: &str) -> io::Result<Dir> {
        Ok(Dir(self.0.join(name)))
    }

    pub(super) fn handle(&self) -> io::Result<File> {
        Err(io::ErrorKind::Unsupported.into())
    }

    pub(super) fn is_at(&self, path: &Path) -> bool {
        path.canonicalize().is_ok_and(|path| path == self.0)
    }

    pub(super) fn attributes(&self, name: &str) -> io::Result<Attributes> {
        Ok(Attributes(fs::symlink_metadata(self.0.join(name))?))
    }

    pub(super) fn open_file(&self, name: &str, change: bool) -> io::Result<File> {
        OpenOptions::new()
            .read(true)
            .write(change)
            .open(self.0.join(name))
    }

    pub(super) fn may_change(&self, name: &str) -> bool {
        fs::metadata(self.0.join(name)).is_ok_and(|data| !data.permissions().readonly())
    }

    pub(super) fn create_file(&self, name: &str, _like: Option<&Attributes>) -> io::Result<File> {
        OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(true)
            .open(self.0.join(name))
    }

    pub(super) fn rename(&self, from: &str, to: &str) -> io::Result<()> {
        fs::rename(self.0.join(from), self.0.join(to))
    }

    pub(super) fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        match self.attributes(to) {
            Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
            Err(error) if error.kind() == io::ErrorKind::NotFound => self.rename(from, to),
            Err(error) => Err(error),
        }
    }

    pub(super) fn remove(&self, name: &str) -> io::Result<()> {
        fs::remove_file(self.0.join(name))
    }

    pub(super) fn make_folder(&self, name: &str, _like: Option<&Attributes>) -> io::Result<()> {
        fs::create_dir(self.0.join(name))
    }

    pub(super) fn sync(&self) -> io::Result<()> {
        Ok(())
    }

    pub(super) fn names(&self) -> io::Result<Vec<OsString>> {
        let entries = fs::read_dir(&self.0)?;
        entries.map(|entry| Ok(entry?.file_name())).collect()
    }
}
