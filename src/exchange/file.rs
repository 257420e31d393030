//! Files that a person names: written whole or not at all, never where a stash is kept, and read as far
//! as they make sense.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::Path;

pub use super::place::is_inside;
use super::unfinished::new_file;

/// The most bytes that a file of settings may have, 4 MiB.
pub const LARGEST_SETTINGS: u64 = 4 << 20;

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
    let there = read_beginning(file, (bytes.len() as u64).saturating_add(1));
    there.is_ok_and(|there| there == bytes)
}

/// Why a file of settings was not read.
#[derive(Debug, thiserror::Error)]
pub enum NotRead {
    /// What the system said.
    #[error(transparent)]
    Failed(#[from] io::Error),
    /// Something that may have no end, or a folder.
    #[error("it is a folder, a pipe or a device; name a file")]
    NotAFile,
    /// More than [`LARGEST_SETTINGS`] bytes.
    #[error("it is larger than {it} MB; name another file", it = LARGEST_SETTINGS >> 20)]
    TooLarge,
}

impl NotRead {
    /// Whether there is no such file.
    #[must_use]
    pub fn is_not_there(&self) -> bool {
        matches!(self, Self::Failed(error) if error.kind() == io::ErrorKind::NotFound)
    }
}

/// The text of a file of settings. Nothing is waited for, and no more is read than such a file may have.
///
/// # Errors
/// When it cannot be read, is no file, or is too large.
pub fn read_settings(file: &Path) -> Result<String, NotRead> {
    // Before it is opened, for a pipe is opened only when somebody writes to it.
    if !fs::metadata(file)?.is_file() {
        return Err(NotRead::NotAFile);
    }
    let bytes = read_beginning(file, LARGEST_SETTINGS + 1)?;
    if bytes.len() as u64 > LARGEST_SETTINGS {
        return Err(NotRead::TooLarge);
    }
    let wrong = |error| io::Error::new(io::ErrorKind::InvalidData, error);
    Ok(String::from_utf8(bytes).map_err(wrong)?)
}

/// So many bytes of a file, fewer where it has not as many.
///
/// # Errors
/// When it cannot be read.
pub fn read_beginning(file: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(file)?.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
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
    fn no_more_is_read_of_a_file_of_settings_than_it_may_have() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("keys.json");
        assert!(read_settings(&file).unwrap_err().is_not_there());
        fs::write(&file, "{}").unwrap();
        assert_eq!(read_settings(&file).unwrap(), "{}");
        let large = File::create(&file).unwrap();
        large.set_len(LARGEST_SETTINGS).unwrap();
        assert_eq!(read_settings(&file).unwrap().len() as u64, LARGEST_SETTINGS);
        large.set_len(1 << 40).unwrap();
        assert!(matches!(read_settings(&file), Err(NotRead::TooLarge)));
        fs::write(&file, b"gr\xFCn").unwrap();
        assert!(matches!(read_settings(&file), Err(NotRead::Failed(_))));
        let folder = read_settings(dir.path());
        assert!(matches!(folder, Err(NotRead::NotAFile)));
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
