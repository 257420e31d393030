//! The stash folder, which may come from somebody else.
//!
//! The path the user gave may contain links. The folder's own entries may not: an entry is a
//! regular file, and one that is written to has no second name. Every file is opened by bare name
//! from the open folder, never through a link, so nothing outside the folder is ever read as a
//! record, created, cut or replaced, even if someone swaps the entries meanwhile. Temporary files
//! get random names and are created exclusively; every step is on disk before the next begins.

#[cfg(not(unix))]
#[path = "folder/other.rs"]
mod sys;
#[cfg(unix)]
#[path = "folder/unix.rs"]
mod sys;

use std::ffi::OsString;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

pub(super) use sys::Identity;
use sys::{Attributes, Dir};

pub(super) const RECORD: &str = "record.jsonl";
pub(super) const MARKER: &str = "record.end";

/// An entry that isn't a plain file with a single name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Foreign {
    /// A symbolic link.
    Link,
    /// A regular file with a second name, so changing it here would change a file elsewhere.
    HardLink,
    /// A folder.
    Folder,
    /// A pipe, a socket or a device.
    Special,
    /// A file where a folder is expected.
    NotAFolder,
}

/// Writes a word, so that an [`io::Error`] can carry it; `behind` recovers it.
impl fmt::Display for Foreign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Foreign::Link => "link",
            Foreign::HardLink => "hard_link",
            Foreign::Folder => "folder",
            Foreign::Special => "special",
            Foreign::NotAFolder => "not_a_folder",
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
    /// The entry that made an operation in a folder fail, if that was the reason.
    pub(crate) fn behind(error: &io::Error) -> Option<Foreign> {
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
    /// Opens a folder, if it exists.
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

    /// The path by which it was opened.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Another handle to the same open folder, which shares its lock.
    pub(super) fn handle(&self) -> io::Result<File> {
        self.dir.handle()
    }

    /// Whether its path still leads to it.
    pub(super) fn is_at_its_path(&self) -> bool {
        self.dir.is_at(&self.path)
    }

    /// The file that has a name now, if any, as far as can be seen without opening it.
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

    /// Opens a regular file for reading, if it exists.
    pub(super) fn read(&self, name: &str) -> io::Result<Option<File>> {
        self.opened(name, false)
    }

    /// Opens a regular file with a single name for writing, if it exists.
    pub(super) fn change(&self, name: &str) -> io::Result<Option<File>> {
        self.opened(name, true)
    }

    fn opened(&self, name: &str, change: bool) -> io::Result<Option<File>> {
        // Checked first, as opening a device can have side effects.
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

    /// Whether this process may create and remove files here.
    pub(super) fn may_change(&self) -> bool {
        self.dir.may_change(".")
    }

    /// Why this process can't change a file, as far as is known without trying; `None` if the file
    /// doesn't exist.
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

    /// Creates a temporary file with the mode and owner of the record, if there is one.
    pub(super) fn begin(&self, before: &str, after: &str) -> io::Result<Unfinished<'_>> {
        self.begin_like(before, after, self)
    }

    /// Like [`Folder::begin`], with the mode and owner of the record in another folder.
    pub(super) fn begin_like(
        &self,
        before: &str,
        after: &str,
        stash: &Folder,
    ) -> io::Result<Unfinished<'_>> {
        let like = match stash.attributes(RECORD)? {
            Some(record) => Some(record),
            // If the record is gone, its marker shows who may read it.
            None => stash.attributes(MARKER)?,
        };
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

    /// Removes an entry, if it exists. If it is a link, its target stays.
    pub(super) fn remove(&self, name: &str) -> io::Result<()> {
        match self.dir.remove(name) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            done => done,
        }
    }

    /// Syncs the directory itself, where the system supports that.
    pub(super) fn sync(&self) -> io::Result<()> {
        self.dir.sync()
    }

    pub(super) fn names(&self) -> io::Result<Vec<OsString>> {
        self.dir.names()
    }

    /// When a file was last modified.
    pub(super) fn written(&self, name: &str) -> io::Result<Option<std::time::SystemTime>> {
        match self.read(name)? {
            Some(file) => Ok(Some(file.metadata()?.modified()?)),
            None => Ok(None),
        }
    }

    /// A subfolder, if it exists and isn't a link.
    pub(super) fn folder(&self, name: &str) -> io::Result<Option<Folder>> {
        let Some(found) = self.attributes(name)? else {
            return Ok(None);
        };
        found.check_folder()?;
        let dir = self.dir.open_folder(name)?;
        let path = self.path.join(name);
        Ok(Some(Folder { dir, path }))
    }

    /// A subfolder that isn't a link, created if missing.
    pub(super) fn folder_made(&self, name: &str) -> io::Result<Folder> {
        if let Some(found) = self.folder(name)? {
            return Ok(found);
        }
        let like = self.attributes(RECORD)?;
        match self.dir.make_folder(name, like.as_ref()) {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => return Err(error),
            _ => self.sync()?,
        }
        self.folder(name)?
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    /// Copies a file's bytes, starting at `from`, to a new numbered file with the record's mode and
    /// owner. Returns the new file's path.
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

/// A temporary file, deleted on drop unless it has been given its final name.
#[derive(Debug)]
pub(super) struct Unfinished<'a> {
    folder: &'a Folder,
    name: Option<String>,
    pub(super) file: File,
}

impl Unfinished<'_> {
    /// Writes and syncs all bytes.
    pub(super) fn fill(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)?;
        self.file.sync_all()
    }

    /// Reopens the file for reading.
    pub(super) fn again(&self) -> io::Result<File> {
        let name = self.name.as_deref().unwrap_or_default();
        self.folder
            .read(name)?
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    /// Renames it to its final name, atomically replacing any file of that name.
    pub(super) fn place(mut self, name: &str) -> io::Result<()> {
        let from = self.name.take().unwrap_or_default();
        let placed = self.folder.dir.rename(&from, name);
        if placed.is_err() {
            self.name = Some(from);
        }
        placed
    }

    /// Renames it to a name that must be unused.
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

/// Sixteen unpredictable hex digits.
fn random_letters() -> String {
    use std::hash::{BuildHasher, RandomState};
    // The standard library seeds each process's hashers from the system's source of randomness.
    format!("{:016x}", RandomState::new().hash_one(std::process::id()))
}

/// Folders created for a stash, removed on drop unless kept.
#[derive(Debug)]
pub(super) struct Made(Vec<PathBuf>);

impl Made {
    /// Creates a folder and its missing parents.
    pub(super) fn make(path: &Path) -> io::Result<Made> {
        let mut missing = Vec::new();
        for path in path.ancestors().filter(|path| !path.as_os_str().is_empty()) {
            // A dangling link exists, and creating a folder by its name fails.
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

    /// Keeps the folders.
    pub(super) fn keep(mut self) {
        self.0.clear();
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for path in self.0.iter().rev() {
            // A folder that is no longer empty is in use, and stays.
            if fs::remove_dir(path).is_err() {
                return;
            }
        }
    }
}

#[cfg(unix)]
#[cfg(test)]
mod tests {
    use std::fmt;
    use std::fs;
    use std::io;
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    fn folder(dir: &tempfile::TempDir) -> Folder {
        Folder::open(dir.path()).unwrap().unwrap()
    }

    fn foreign<T: fmt::Debug>(refused: io::Result<T>) -> Foreign {
        Foreign::behind(&refused.unwrap_err()).unwrap()
    }

    #[test]
    fn only_regular_files_open_and_only_single_name_files_open_for_writing() {
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
    fn a_temporary_file_has_the_records_mode_and_vanishes_unless_named() {
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
    fn keeping_a_copy_never_overwrites_a_file() {
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
    fn nested_folders_are_created_and_removed_again_unless_kept() {
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
    fn a_swapped_folder_is_noticed() {
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
