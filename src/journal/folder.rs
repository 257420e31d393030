//! The stash folder as a place that may come from somebody else.
//!
//! The path a person gave may lead through links. What lies inside may not: an entry is a regular file,
//! and one that is written to has no second name. Every file is opened by its bare name from the open
//! folder, never through a link, so that nothing outside is read as a record, created, cut or replaced,
//! whoever exchanges the entries meanwhile. Files in the making have random names and are made
//! exclusively; every step is on disk before the next begins.

use std::ffi::OsString;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::language::say;

pub(super) use sys::Identity;
use sys::{Attributes, Dir};

/// The record's file name.
pub(super) const RECORD: &str = "record.jsonl";

/// An entry that is not what it has to be: a file with one name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Foreign {
    /// A symbolic link.
    Link,
    /// A regular file with another name, so a change here would change something elsewhere.
    HardLink,
    /// A folder.
    Folder,
    /// A pipe, a socket or a device.
    Special,
    /// A file where a folder has to be.
    NotAFolder,
}

impl fmt::Display for Foreign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&match self {
            Foreign::Link => say!("a link"),
            Foreign::HardLink => say!("a file with a second name elsewhere (a hard link)"),
            Foreign::Folder => say!("a folder"),
            Foreign::Special => say!("a pipe or a device"),
            Foreign::NotAFolder => say!("a file, not a folder"),
        })
    }
}

impl std::error::Error for Foreign {}

impl From<Foreign> for io::Error {
    fn from(foreign: Foreign) -> Self {
        io::Error::new(io::ErrorKind::InvalidInput, foreign)
    }
}

impl Foreign {
    /// Why an operation in a folder failed, where it was for such an entry.
    pub(super) fn behind(error: &io::Error) -> Option<Foreign> {
        error.get_ref()?.downcast_ref().copied()
    }
}

/// An open folder.
#[derive(Debug)]
pub(super) struct Folder {
    dir: Dir,
    path: PathBuf,
}

impl Folder {
    /// Opens a folder; nothing where there is none.
    pub(super) fn open(path: &Path) -> io::Result<Option<Folder>> {
        match Dir::open(path) {
            Ok(dir) => Ok(Some(Folder {
                dir,
                path: path.to_owned(),
            })),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// The path it was opened by.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Another handle of the same open folder, which shares its lock.
    pub(super) fn handle(&self) -> io::Result<File> {
        self.dir.handle()
    }

    /// Whether its path still leads to it.
    pub(super) fn is_at_its_path(&self) -> bool {
        self.dir.is_at(&self.path)
    }

    /// Which file has a name now, as far as can be seen without opening it; nothing where none has.
    pub(super) fn identity(&self, name: &str) -> io::Result<Option<Identity>> {
        Ok(self.attributes(name)?.map(|found| found.identity()))
    }

    fn attributes(&self, name: &str) -> io::Result<Option<Attributes>> {
        match self.dir.attributes(name) {
            Ok(found) => Ok(Some(found)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// Opens a regular file to read it; nothing where there is none.
    pub(super) fn read(&self, name: &str) -> io::Result<Option<File>> {
        self.opened(name, false)
    }

    /// Opens a regular file with one name to change it; nothing where there is none.
    pub(super) fn change(&self, name: &str) -> io::Result<Option<File>> {
        self.opened(name, true)
    }

    fn opened(&self, name: &str, change: bool) -> io::Result<Option<File>> {
        // Looked at first, as opening a device can itself do something.
        let Some(found) = self.attributes(name)? else {
            return Ok(None);
        };
        found.check(change)?;
        let file = match self.dir.open_file(name, change) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(error),
        };
        Attributes::of(&file)?.check(change)?;
        Ok(Some(file))
    }

    /// Whether this process may make and take away files here.
    pub(super) fn may_change(&self) -> bool {
        self.dir.may_change(".")
    }

    /// Why a file cannot be changed by this process, as far as can be told without trying; nothing where
    /// there is none.
    pub(super) fn obstacle(&self, name: &str) -> Option<io::Error> {
        let found = match self.attributes(name) {
            Ok(found) => found?,
            Err(error) => return Some(error),
        };
        if let Err(foreign) = found.check(true) {
            return Some(foreign.into());
        }
        (!self.dir.may_change(name)).then(|| io::ErrorKind::PermissionDenied.into())
    }

    /// Begins a file in the making, with the mode and the owner of the record where there is one.
    pub(super) fn begin(&self, before: &str, after: &str) -> io::Result<Unfinished<'_>> {
        self.begin_like(before, after, self)
    }

    /// As [`Folder::begin`], with the mode and the owner of the record in another folder.
    pub(super) fn begin_like(
        &self,
        before: &str,
        after: &str,
        stash: &Folder,
    ) -> io::Result<Unfinished<'_>> {
        let like = stash.attributes(RECORD)?;
        for _ in 0..100 {
            let name = format!("{before}{}{after}", random_letters());
            match self.dir.create_file(&name, like.as_ref()) {
                Ok(file) => {
                    return Ok(Unfinished {
                        folder: self,
                        name: Some(name),
                        file,
                    });
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::ErrorKind::AlreadyExists.into())
    }

    /// Takes a name away. Of a link only the link goes.
    pub(super) fn remove(&self, name: &str) -> io::Result<()> {
        match self.dir.remove(name) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            done => done,
        }
    }

    /// Puts the list of names on disk, where the system has a way to.
    pub(super) fn sync(&self) -> io::Result<()> {
        self.dir.sync()
    }

    /// The names in it.
    pub(super) fn names(&self) -> io::Result<Vec<OsString>> {
        self.dir.names()
    }

    /// When a file was last written to.
    pub(super) fn written(&self, name: &str) -> io::Result<Option<std::time::SystemTime>> {
        match self.read(name)? {
            Some(file) => Ok(Some(file.metadata()?.modified()?)),
            None => Ok(None),
        }
    }

    /// A folder in it that is no link; nothing where there is none.
    pub(super) fn folder(&self, name: &str) -> io::Result<Option<Folder>> {
        let Some(found) = self.attributes(name)? else {
            return Ok(None);
        };
        found.check_folder()?;
        let dir = self.dir.open_folder(name)?;
        let path = self.path.join(name);
        Ok(Some(Folder { dir, path }))
    }

    /// A folder in it that is no link, made where there is none.
    pub(super) fn folder_made(&self, name: &str) -> io::Result<Folder> {
        if let Some(found) = self.folder(name)? {
            return Ok(found);
        }
        match self.dir.make_folder(name) {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => return Err(error),
            _ => self.sync()?,
        }
        self.folder(name)?
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    /// Copies a file's bytes from `from` on to a new file with a number in its name, with the mode and
    /// the owner of the record. Returns the new file's path.
    pub(super) fn keep(
        &self,
        source: &mut File,
        from: u64,
        before: &str,
        after: &str,
    ) -> io::Result<PathBuf> {
        source.seek(SeekFrom::Start(from))?;
        let mut copy = self.begin(before, ".new")?;
        io::copy(source, &mut copy.file)?;
        copy.file.sync_all()?;
        let mut n: u64 = 1;
        let name = loop {
            let name = format!("{before}{n}{after}");
            match copy.place_new(&name) {
                Ok(()) => break name,
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => n += 1,
                Err(error) => return Err(error),
            }
        };
        self.sync()?;
        Ok(self.path.join(name))
    }
}

/// A file in the making: gone when it is dropped before it has its name.
#[derive(Debug)]
pub(super) struct Unfinished<'a> {
    folder: &'a Folder,
    name: Option<String>,
    /// To write to.
    pub(super) file: File,
}

impl Unfinished<'_> {
    /// Writes all of it and puts it on disk.
    pub(super) fn fill(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)?;
        self.file.sync_all()
    }

    /// Opens it to read what was written.
    pub(super) fn again(&self) -> io::Result<File> {
        let name = self.name.as_deref().unwrap_or_default();
        self.folder
            .read(name)?
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    /// Gives it its name, in place of what had that name before: at every moment one of the two is
    /// there.
    pub(super) fn place(mut self, name: &str) -> io::Result<()> {
        let from = self.name.take().unwrap_or_default();
        let placed = self.folder.dir.rename(&from, name);
        if placed.is_err() {
            self.name = Some(from);
        }
        placed
    }

    /// Gives it a name that nothing has.
    pub(super) fn place_new(&mut self, name: &str) -> io::Result<()> {
        let from = self.name.take().unwrap_or_default();
        let placed = self.folder.dir.rename_new(&from, name);
        if placed.is_err() {
            self.name = Some(from);
        }
        placed
    }
}

impl Drop for Unfinished<'_> {
    fn drop(&mut self) {
        if let Some(name) = &self.name {
            let _ = self.folder.remove(name);
        }
    }
}

/// Sixteen letters that nobody can guess.
fn random_letters() -> String {
    use std::hash::{BuildHasher, RandomState};
    // The standard library seeds each process's hashers from the system's source of randomness.
    format!("{:016x}", RandomState::new().hash_one(std::process::id()))
}

/// Folders that were made for a stash, gone again unless they are kept.
#[derive(Debug)]
pub(super) struct Made(Vec<PathBuf>);

impl Made {
    /// Makes a folder and those above it, where they are missing.
    pub(super) fn make(path: &Path) -> io::Result<Made> {
        let mut missing = Vec::new();
        for path in path.ancestors().filter(|path| !path.as_os_str().is_empty()) {
            // A link that leads nowhere is there, and making a folder by its name fails.
            match fs::symlink_metadata(path) {
                Ok(_) => break,
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    missing.push(path.to_owned());
                }
                Err(error) => return Err(error),
            }
        }
        let mut made = Made(Vec::new());
        for path in missing.into_iter().rev() {
            match fs::create_dir(&path) {
                Ok(()) => {}
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
                Err(error) => return Err(error),
            }
            let above = path.parent().filter(|above| !above.as_os_str().is_empty());
            if let Some(above) = Folder::open(above.unwrap_or(Path::new(".")))? {
                above.sync()?;
            }
            made.0.push(path);
        }
        Ok(made)
    }

    /// They stay.
    pub(super) fn keep(mut self) {
        self.0.clear();
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for path in self.0.iter().rev() {
            // One that is no longer empty is somebody's, and stays.
            if fs::remove_dir(path).is_err() {
                return;
            }
        }
    }
}

#[cfg(unix)]
mod sys {
    use std::ffi::{OsStr, OsString};
    use std::fs::File;
    use std::io;
    use std::os::unix::ffi::OsStrExt;
    use std::path::Path;

    use rustix::fs::{
        self, Access, AtFlags, CWD, FileType, Gid, Mode, OFlags, Stat, Uid, openat, statat,
    };

    use super::Foreign;

    /// A file's identity, and what shows that something was written to it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(in crate::journal) struct Identity {
        /// Its length in bytes.
        pub(in crate::journal) length: u64,
        file: (u64, u64),
        written: (i64, i64),
    }

    impl Identity {
        /// Which file it is, whatever stands in it.
        pub(in crate::journal) fn is_same_file(&self, other: &Identity) -> bool {
            self.file == other.file
        }

        /// The identity of an open file.
        pub(in crate::journal) fn of(file: &File) -> io::Result<Identity> {
            Ok(Attributes::of(file)?.identity())
        }
    }

    /// What the system says of an entry.
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

        /// Refuses what is no regular file, and where it is to be changed one with a second name.
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

    /// An open folder.
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
                // What a link answers that came after it was looked at.
                Err(rustix::io::Errno::LOOP) => Err(Foreign::Link.into()),
                Err(error) => Err(error.into()),
            }
        }

        pub(super) fn may_change(&self, name: &str) -> bool {
            fs::accessat(&self.0, name, Access::WRITE_OK, AtFlags::empty()).is_ok()
        }

        pub(super) fn create_file(
            &self,
            name: &str,
            like: Option<&Attributes>,
        ) -> io::Result<File> {
            let flags = OPEN | OFlags::RDWR | OFlags::CREATE | OFlags::EXCL;
            let Some(Attributes(like)) = like else {
                // As the system makes files for this person.
                let usual = Mode::from_raw_mode(0o666);
                return Ok(openat(&self.0, name, flags, usual)?.into());
            };
            let own = Mode::RUSR | Mode::WUSR;
            let file: File = openat(&self.0, name, flags, own)?.into();
            // Only the superuser can give a file to another; who else can write here makes it theirs.
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
                // Some disks do not know it.
                Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS) => {}
                done => return Ok(done?),
            }
            // Nobody else is at it under the folder's lock.
            match self.attributes(to) {
                Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
                Err(error) if error.kind() == io::ErrorKind::NotFound => self.rename(from, to),
                Err(error) => Err(error),
            }
        }

        pub(super) fn remove(&self, name: &str) -> io::Result<()> {
            Ok(fs::unlinkat(&self.0, name, AtFlags::empty())?)
        }

        pub(super) fn make_folder(&self, name: &str) -> io::Result<()> {
            Ok(fs::mkdirat(&self.0, name, Mode::from_raw_mode(0o777))?)
        }

        pub(super) fn sync(&self) -> io::Result<()> {
            match self.0.sync_all() {
                // Network folders may not know the call; the file itself has been synced.
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
}

/// Where the system has no handles of folders, names are looked up by path, and looked at first.
#[cfg(not(unix))]
mod sys {
    use std::ffi::OsString;
    use std::fs::{self, File, Metadata, OpenOptions};
    use std::io;
    use std::path::{Path, PathBuf};
    use std::time::SystemTime;

    use super::Foreign;

    /// A file's identity, and what shows that something was written to it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(in crate::journal) struct Identity {
        /// Its length in bytes.
        pub(in crate::journal) length: u64,
        made: Option<SystemTime>,
        written: Option<SystemTime>,
    }

    impl Identity {
        /// Which file it is, whatever stands in it.
        pub(in crate::journal) fn is_same_file(&self, other: &Identity) -> bool {
            self.made == other.made
        }

        /// The identity of an open file.
        pub(in crate::journal) fn of(file: &File) -> io::Result<Identity> {
            Ok(Attributes::of(file)?.identity())
        }
    }

    /// What the system says of an entry.
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

    /// A folder.
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

        pub(super) fn create_file(
            &self,
            name: &str,
            _like: Option<&Attributes>,
        ) -> io::Result<File> {
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

        pub(super) fn make_folder(&self, name: &str) -> io::Result<()> {
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
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    fn folder(dir: &tempfile::TempDir) -> Folder {
        Folder::open(dir.path()).unwrap().unwrap()
    }

    fn foreign<T: fmt::Debug>(refused: io::Result<T>) -> Foreign {
        Foreign::behind(&refused.unwrap_err()).unwrap()
    }

    #[test]
    fn only_regular_files_are_opened_and_only_those_with_one_name_to_be_changed() {
        let dir = tempfile::tempdir().unwrap();
        let outside = tempfile::NamedTempFile::new().unwrap();
        let at = |name: &str| dir.path().join(name);
        fs::write(at("plain"), "x").unwrap();
        symlink(outside.path(), at("link")).unwrap();
        symlink("nowhere", at("dangling")).unwrap();
        fs::create_dir(at("folder")).unwrap();
        fs::write(at("one"), "x").unwrap();
        fs::hard_link(at("one"), at("two")).unwrap();
        rustix::fs::mkfifoat(rustix::fs::CWD, at("pipe"), 0o600.into()).unwrap();
        symlink("/dev/zero", at("zero")).unwrap();
        let folder = folder(&dir);
        assert!(folder.read("none").unwrap().is_none());
        assert!(folder.change("plain").unwrap().is_some());
        for (name, kind) in [
            ("link", Foreign::Link),
            ("dangling", Foreign::Link),
            ("zero", Foreign::Link),
            ("folder", Foreign::Folder),
            ("pipe", Foreign::Special),
        ] {
            assert_eq!(foreign(folder.read(name)), kind, "{name}");
            assert_eq!(foreign(folder.change(name)), kind, "{name}");
        }
        assert!(folder.read("one").unwrap().is_some());
        assert_eq!(foreign(folder.change("one")), Foreign::HardLink);
        assert_eq!(foreign(folder.folder("plain")), Foreign::NotAFolder);
        assert_eq!(foreign(folder.folder("link")), Foreign::Link);
    }

    #[test]
    fn a_file_in_the_making_has_the_records_mode_and_is_gone_unless_it_gets_its_name() {
        let dir = tempfile::tempdir().unwrap();
        let folder = folder(&dir);
        fs::write(dir.path().join(RECORD), "x").unwrap();
        for mode in [0o600, 0o660, 0o644] {
            fs::set_permissions(dir.path().join(RECORD), fs::Permissions::from_mode(mode)).unwrap();
            let mut new = folder.begin("new-", "").unwrap();
            new.fill(b"y").unwrap();
            new.place("done").unwrap();
            let made = fs::metadata(dir.path().join("done")).unwrap();
            assert_eq!(made.permissions().mode() & 0o777, mode);
        }
        drop(folder.begin("new-", "").unwrap());
        assert_eq!(folder.names().unwrap().len(), 2);
    }

    #[test]
    fn what_is_kept_never_takes_the_place_of_anything() {
        let dir = tempfile::tempdir().unwrap();
        let folder = folder(&dir);
        fs::write(dir.path().join(RECORD), "good first").unwrap();
        symlink("nowhere", dir.path().join("piece-1")).unwrap();
        let mut record = folder.read(RECORD).unwrap().unwrap();
        for (from, name, text) in [(5, "piece-2", "first"), (0, "piece-3", "good first")] {
            let kept = folder.keep(&mut record, from, "piece-", "").unwrap();
            assert_eq!(kept, dir.path().join(name));
            assert_eq!(fs::read_to_string(kept).unwrap(), text);
        }
    }

    #[test]
    fn folders_are_made_at_any_depth_and_go_again_when_nothing_came_of_it() {
        let dir = tempfile::tempdir().unwrap();
        let deep = dir.path().join("a/b/c");
        drop(Made::make(&deep).unwrap());
        assert!(!dir.path().join("a").exists());
        Made::make(&deep).unwrap().keep();
        drop(Made::make(&deep).unwrap());
        assert!(deep.is_dir(), "what was there before stays");
        fs::write(dir.path().join("file"), "").unwrap();
        assert!(Made::make(&dir.path().join("file/under")).is_err());
        symlink("nowhere", dir.path().join("link")).unwrap();
        assert!(Folder::open(&dir.path().join("link")).unwrap().is_none());
        let made = Made::make(&dir.path().join("link")).map(Made::keep);
        assert!(made.is_ok() && !dir.path().join("nowhere").exists());
    }

    #[test]
    fn a_folder_that_was_exchanged_is_noticed() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("stash");
        fs::create_dir(&path).unwrap();
        let folder = Folder::open(&path).unwrap().unwrap();
        assert!(folder.is_at_its_path());
        fs::rename(&path, dir.path().join("away")).unwrap();
        assert!(!folder.is_at_its_path());
        fs::create_dir(&path).unwrap();
        assert!(!folder.is_at_its_path());
    }
}
