//! Accesses folders and their entries through open handles, so that nobody can swap a name in
//! between.

use std::ffi::{OsStr, OsString};
use std::fs::File;
use std::io;
use std::os::unix::ffi::OsStrExt;
use std::path::Path;

use rustix::fs::{
    self, Access, AtFlags, CWD, FileType, Gid, Mode, OFlags, Stat, Uid, openat, statat,
};

use super::Foreign;

/// A file's identity, and the attributes that show whether it was modified.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::journal) struct Identity {
    /// Its length in bytes.
    pub(in crate::journal) length: u64,
    file: (u64, u64),
    written: (i64, i64),
}

impl Identity {
    /// Whether both are the same file, whatever it contains.
    pub(in crate::journal) fn is_same_file(&self, other: &Identity) -> bool {
        self.file == other.file
    }

    /// The identity of an open file.
    pub(in crate::journal) fn of(file: &File) -> io::Result<Identity> {
        Ok(Attributes::of(file)?.identity())
    }
}

/// An entry's metadata from the system.
#[derive(Debug, Clone, Copy)]
pub(super) struct Attributes(Stat);

#[allow(
    clippy::unnecessary_cast,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::useless_conversion,
    reason = "the types of the fields differ from system to system"
)]
impl Attributes {
    pub(super) fn of(file: &File) -> io::Result<Attributes> {
        Ok(Attributes(fs::fstat(file)?))
    }

    pub(super) fn identity(&self) -> Identity {
        Identity {
            length: self.0.st_size as u64,
            file: (self.0.st_dev as u64, self.0.st_ino as u64),
            written: (self.0.st_mtime as i64, self.0.st_mtime_nsec as i64),
        }
    }

    fn kind(&self) -> FileType {
        FileType::from_raw_mode(self.0.st_mode)
    }

    /// Refuses anything but a regular file, and, if it is to be changed, one with a second name.
    pub(super) fn check(&self, change: bool) -> Result<(), Foreign> {
        match self.kind() {
            FileType::RegularFile if change && self.0.st_nlink > 1 => Err(Foreign::HardLink),
            FileType::RegularFile => Ok(()),
            FileType::Symlink => Err(Foreign::Link),
            FileType::Directory => Err(Foreign::Folder),
            _ => Err(Foreign::Special),
        }
    }

    pub(super) fn check_folder(&self) -> Result<(), Foreign> {
        match self.kind() {
            FileType::Directory => Ok(()),
            FileType::Symlink => Err(Foreign::Link),
            _ => Err(Foreign::NotAFolder),
        }
    }
}

#[derive(Debug)]
pub(super) struct Dir(File);

const OPEN: OFlags = OFlags::NOFOLLOW
    .union(OFlags::NONBLOCK)
    .union(OFlags::NOCTTY)
    .union(OFlags::CLOEXEC);

impl Dir {
    pub(super) fn open(path: &Path) -> io::Result<Dir> {
        let flags = OFlags::RDONLY | OFlags::DIRECTORY | OFlags::CLOEXEC;
        Ok(Dir(openat(CWD, path, flags, Mode::empty())?.into()))
    }

    pub(super) fn open_folder(&self, name: &str) -> io::Result<Dir> {
        let flags = OPEN | OFlags::RDONLY | OFlags::DIRECTORY;
        Ok(Dir(openat(&self.0, name, flags, Mode::empty())?.into()))
    }

    pub(super) fn handle(&self) -> io::Result<File> {
        self.0.try_clone()
    }

    pub(super) fn is_at(&self, path: &Path) -> bool {
        let ours = fs::fstat(&self.0);
        let there = fs::stat(path);
        matches!((ours, there), (Ok(ours), Ok(there))
            if (ours.st_dev, ours.st_ino) == (there.st_dev, there.st_ino))
    }

    pub(super) fn attributes(&self, name: &str) -> io::Result<Attributes> {
        Ok(Attributes(statat(
            &self.0,
            name,
            AtFlags::SYMLINK_NOFOLLOW,
        )?))
    }

    pub(super) fn open_file(&self, name: &str, change: bool) -> io::Result<File> {
        let access = if change { OFlags::RDWR } else { OFlags::RDONLY };
        match openat(&self.0, name, OPEN | access, Mode::empty()) {
            Ok(file) => Ok(file.into()),
            // The error for a link that appeared after the check.
            Err(rustix::io::Errno::LOOP) => Err(Foreign::Link.into()),
            Err(error) => Err(error.into()),
        }
    }

    pub(super) fn may_change(&self, name: &str) -> bool {
        fs::accessat(&self.0, name, Access::WRITE_OK, AtFlags::empty()).is_ok()
    }

    pub(super) fn create_file(&self, name: &str, like: Option<&Attributes>) -> io::Result<File> {
        let flags = OPEN | OFlags::RDWR | OFlags::CREATE | OFlags::EXCL;
        let Some(Attributes(like)) = like else {
            // The mode the system gives this user's files by default.
            let usual = Mode::from_raw_mode(0o666);
            return Ok(openat(&self.0, name, flags, usual)?.into());
        };
        let own = Mode::RUSR | Mode::WUSR;
        let file: File = openat(&self.0, name, flags, own)?.into();
        // Only the superuser can give a file away; files made by anyone else belong to them.
        let owner = (Uid::from_raw(like.st_uid), Gid::from_raw(like.st_gid));
        let _ = fs::fchown(&file, Some(owner.0), Some(owner.1));
        let mode = Mode::from_raw_mode(like.st_mode) & Mode::from_raw_mode(0o777);
        fs::fchmod(&file, mode | own)?;
        Ok(file)
    }

    pub(super) fn rename(&self, from: &str, to: &str) -> io::Result<()> {
        Ok(fs::renameat(&self.0, from, &self.0, to)?)
    }

    pub(super) fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        #[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
        match fs::renameat_with(&self.0, from, &self.0, to, fs::RenameFlags::NOREPLACE) {
            // Some file systems don't support this.
            Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS) => {}
            done => return Ok(done?),
        }
        // Under the folder's lock nobody else is using it.
        match self.attributes(to) {
            Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
            Err(error) if error.kind() == io::ErrorKind::NotFound => self.rename(from, to),
            Err(error) => Err(error),
        }
    }

    pub(super) fn remove(&self, name: &str) -> io::Result<()> {
        Ok(fs::unlinkat(&self.0, name, AtFlags::empty())?)
    }

    pub(super) fn make_folder(&self, name: &str, like: Option<&Attributes>) -> io::Result<()> {
        fs::mkdirat(&self.0, name, Mode::from_raw_mode(0o777))?;
        if let Some(Attributes(like)) = like {
            let owner = (Uid::from_raw(like.st_uid), Gid::from_raw(like.st_gid));
            let flags = AtFlags::SYMLINK_NOFOLLOW;
            let _ = fs::chownat(&self.0, name, Some(owner.0), Some(owner.1), flags);
        }
        Ok(())
    }

    pub(super) fn sync(&self) -> io::Result<()> {
        match self.0.sync_all() {
            // Network folders may not support the call; the file itself has been synced.
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
                ) =>
            {
                Ok(())
            }
            done => done,
        }
    }

    pub(super) fn names(&self) -> io::Result<Vec<OsString>> {
        let mut names = Vec::new();
        for entry in fs::Dir::read_from(&self.0)? {
            let entry = entry?;
            let name = OsStr::from_bytes(entry.file_name().to_bytes());
            if name != "." && name != ".." {
                names.push(name.to_owned());
            }
        }
        Ok(names)
    }
}
