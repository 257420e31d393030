//! Files that a person names: written whole or not at all, never where a stash is kept, and read as far
//! as they make sense.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::Path;

pub use super::place::is_inside;
use super::unfinished::new_file;

/// Why a file was not written. What was there before is still there.
#[derive(Debug)]
pub enum NotPut {
    /// It would be in the folder of a stash.
    InsideStash,
    /// A file of that name is there.
    There,
    /// What the system said.
    Failed(io::Error),
}

impl From<io::Error> for NotPut {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::AlreadyExists => Self::There,
            _ => Self::Failed(error),
        }
    }
}

/// What became of a file that was to be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// It was written.
    Written,
    /// It had the bytes already.
    UpToDate,
}

/// Puts bytes in a file that appears under its name whole or not at all. A pipe or a device is
/// written to as it is.
///
/// # Errors
/// When it cannot be written, or would be where a stash is kept, such as in the folder `stash`.
pub fn write_whole(file: &Path, bytes: &[u8], stash: &Path) -> Result<(), NotPut> {
    if is_inside(file, stash) {
        return Err(NotPut::InsideStash);
    }
    if file.exists() && !file.is_file() {
        let mut file = File::options().write(true).open(file)?;
        return Ok(file.write_all(bytes)?);
    }
    // Renaming onto a link would put the file in place of the link, not of what it points to.
    let target = file.canonicalize().unwrap_or_else(|_| file.to_owned());
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut new = new_file(folder)?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist(&target).map_err(|error| error.error)?;
    Ok(())
}

/// Puts bytes in a file that is not there yet, and appears whole or not at all.
///
/// # Errors
/// As [`write_whole`], and where a file of that name is there, also one that has come since it was
/// looked for: it stays as it is.
pub fn write_new(file: &Path, bytes: &[u8], stash: &Path) -> Result<(), NotPut> {
    if is_inside(file, stash) {
        return Err(NotPut::InsideStash);
    }
    let folder = file
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let mut new = new_file(folder.unwrap_or(Path::new(".")))?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist_noclobber(file).map_err(|error| error.error)?;
    Ok(())
}

/// Puts bytes in a file that is not there yet or is empty. One that has these bytes already is left, and
/// that is no error.
///
/// # Errors
/// As [`write_new`], where the file says something else.
pub fn write_unless_there(file: &Path, bytes: &[u8], stash: &Path) -> Result<Put, NotPut> {
    if is_inside(file, stash) {
        return Err(NotPut::InsideStash);
    }
    match fs::metadata(file) {
        Ok(there) if there.is_file() && there.len() > 0 => match has(file, bytes) {
            true => Ok(Put::UpToDate),
            false => Err(NotPut::There),
        },
        Ok(_) => write_whole(file, bytes, stash).map(|()| Put::Written),
        Err(_) => write_new(file, bytes, stash).map(|()| Put::Written),
    }
}

/// Whether a file has these bytes and no others.
fn has(file: &Path, bytes: &[u8]) -> bool {
    let most = (bytes.len() as u64).saturating_add(1);
    let mut there = Vec::new();
    let read = File::open(file).and_then(|file| file.take(most).read_to_end(&mut there));
    read.is_ok() && there == bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_there_stays_unless_it_is_to_be_written_over() {
        let dir = tempfile::tempdir().unwrap();
        let (stash, file) = (dir.path().join("stash"), dir.path().join("labels.html"));
        let whole = |bytes: &[u8]| write_whole(&file, bytes, &stash).unwrap();
        let unless = |bytes: &[u8]| write_unless_there(&file, bytes, &stash);
        write_new(&file, b"one", &stash).unwrap();
        let there = write_new(&file, b"two", &stash);
        assert!(matches!(there, Err(NotPut::There)));
        for longer in [&b"one more"[..], b"two", b"on"] {
            assert!(matches!(unless(longer), Err(NotPut::There)));
        }
        assert_eq!(unless(b"one").unwrap(), Put::UpToDate);
        assert_eq!(fs::read(&file).unwrap(), b"one");
        whole(b"");
        assert_eq!(unless(b"two").unwrap(), Put::Written);
        assert_eq!(fs::read(&file).unwrap(), b"two");
        whole(b"three");
        assert_eq!(fs::read(&file).unwrap(), b"three");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }

    #[test]
    fn nothing_is_written_where_a_stash_is_kept() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("record.jsonl");
        fs::write(&file, "mine").unwrap();
        let refused = [
            write_whole(&file, b"two", dir.path()),
            write_new(&dir.path().join("new"), b"two", dir.path()),
            write_unless_there(&file, b"mine", dir.path()).map(drop),
        ];
        for refused in refused {
            assert!(matches!(refused, Err(NotPut::InsideStash)), "{refused:?}");
        }
        assert_eq!(fs::read(&file).unwrap(), b"mine");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }
}
