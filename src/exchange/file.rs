//! Files chosen by the user: written whole or not at all, never inside a stash folder, and read no
//! further than makes sense.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// The maximum size of a settings file, 4 MiB.
pub const LARGEST_SETTINGS: u64 = 4 << 20;

/// Why a file wasn't written. Any previous file is untouched.
#[derive(Debug)]
pub enum NotPut {
    /// It would be in a stash folder.
    InsideStash,
    /// A file of that name exists.
    There,
    /// The system's error.
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

/// The outcome of writing a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// It was written.
    Written,
    /// It already had these bytes.
    UpToDate,
}

/// Writes a file that appears under its name whole or not at all. A pipe or a device is written to
/// directly.
///
/// # Errors
/// When it can't be written, or would be inside a stash, such as in the folder `stash`.
pub fn write_whole(file: &Path, bytes: &[u8], stash: &Path) -> Result<(), NotPut> {
    if is_inside(file, stash) {
        return Err(NotPut::InsideStash);
    }
    if file.exists() && !file.is_file() {
        let mut file = File::options().write(true).open(file)?;
        return Ok(file.write_all(bytes)?);
    }
    // Renaming onto a link would replace the link, not its target.
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

/// Writes a new file, which appears whole or not at all.
///
/// # Errors
/// See [`write_whole`]; also if a file of that name exists, even if it appeared after the check. It
/// stays unchanged.
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

/// Writes a file that is missing or empty. If it already has these bytes, that isn't an error.
///
/// # Errors
/// See [`write_new`]; a file with other contents counts as existing.
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

/// Whether a file has exactly these bytes.
fn has(file: &Path, bytes: &[u8]) -> bool {
    let there = read_beginning(file, (bytes.len() as u64).saturating_add(1));
    there.is_ok_and(|there| there == bytes)
}

/// Why a settings file wasn't read.
#[derive(Debug)]
pub enum NotRead {
    /// The system's error.
    Failed(io::Error),
    /// A folder, or something that may have no end.
    NotAFile,
    /// More than [`LARGEST_SETTINGS`] bytes.
    TooLarge,
}

impl From<io::Error> for NotRead {
    fn from(error: io::Error) -> Self {
        Self::Failed(error)
    }
}

impl NotRead {
    /// Whether the file doesn't exist.
    #[must_use]
    pub fn is_not_there(&self) -> bool {
        matches!(self, Self::Failed(error) if error.kind() == io::ErrorKind::NotFound)
    }
}

/// Reads the text of a settings file. Never blocks, and reads no more than the maximum size.
///
/// # Errors
/// When it can't be read, isn't a regular file, or is too large.
pub fn read_settings(file: &Path) -> Result<String, NotRead> {
    // Checked before opening, as opening a pipe blocks until somebody writes to it.
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

/// Reads the first bytes of a file, up to `most`.
///
/// # Errors
/// When it can't be read.
pub fn read_beginning(file: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(file)?.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

// Temporary files, and their remains after an interruption.

/// The name of a new file until it is complete: these around random letters, recognizable to anyone
/// who finds one.
const UNFINISHED: (&str, &str) = (".homehook-", ".unfinished");
/// Number of random letters.
const DRAWN: usize = 8;
/// A temporary file older than a day is left over from a killed program.
const LEFT_OVER: Duration = Duration::from_secs(24 * 60 * 60);

/// A new file with the default permissions of this place, deleted on drop. First removes files that
/// killed runs left in the folder.
///
/// # Errors
/// When the folder can't take a new file.
fn new_file(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    clear_left_over(folder, SystemTime::now());
    let mut builder = tempfile::Builder::new();
    let (before, after) = UNFINISHED;
    builder.prefix(before).suffix(after).rand_bytes(DRAWN);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Removes files that killed runs left in a folder. Those that can't be examined or removed stay:
/// the new file matters more.
fn clear_left_over(folder: &Path, now: SystemTime) {
    for file in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = file.file_name();
        // Check the name first: examining every file of a large folder takes long.
        if !name.to_str().is_some_and(is_unfinished) {
            continue;
        }
        // For a link this examines the link itself.
        let is_old = file.metadata().is_ok_and(|data| {
            let age = data.modified().ok().map(|then| now.duration_since(then));
            data.is_file() && matches!(age, Some(Ok(age)) if age > LEFT_OVER)
        });
        if is_old {
            let _ = std::fs::remove_file(file.path());
        }
    }
}

/// Whether a name has the form that [`new_file`] uses.
fn is_unfinished(name: &str) -> bool {
    let (before, after) = UNFINISHED;
    let drawn = name.strip_prefix(before);
    let drawn = drawn.and_then(|name| name.strip_suffix(after));
    drawn.is_some_and(|drawn| {
        drawn.len() == DRAWN && drawn.bytes().all(|byte| byte.is_ascii_alphanumeric())
    })
}

// The place where a file would be written, and whether that is inside a stash.

/// The most links followed in a row (40 on Linux, path_resolution(7)).
const MOST_LINKS: usize = 40;
/// The name of a record, and its first bytes.
const RECORD: (&str, &[u8]) = ("record.jsonl", br#"{"homehook":"#);
/// The folder of backups inside a stash folder.
const BACKUPS: &str = "backups";

/// Whether a file of that name would be in or below the folder `stash`, or in another stash,
/// through any spelling or link; or is another name for one of the stash's own files.
#[must_use]
pub fn is_inside(file: &Path, stash: &Path) -> bool {
    let place = place_of(file);
    let stash = really(stash);
    let folder = place.parent().unwrap_or(&place);
    folder.ancestors().any(|above| is_same(above, &stash))
        || folder.ancestors().take(2).any(has_record)
        || is_kept_in(&place, &stash)
}

/// The path where a file of that name would be written, following links even to missing targets.
fn place_of(file: &Path) -> PathBuf {
    let mut place = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    for _ in 0..MOST_LINKS {
        let (Some(folder), Some(name)) = (place.parent(), place.file_name()) else {
            break;
        };
        let folder = really(folder);
        place = folder.join(name);
        match fs::read_link(&place) {
            Ok(to) => place = folder.join(to),
            Err(_) => return place,
        }
    }
    really(&place)
}

/// The canonical path of a folder, as far as it exists.
fn really(folder: &Path) -> PathBuf {
    let apart = || match (folder.parent(), folder.file_name()) {
        (Some(above), Some(name)) => really(above).join(name),
        _ => folder.to_owned(),
    };
    folder.canonicalize().unwrap_or_else(|_| apart())
}

/// Identifies a file or folder, whatever its name.
#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    let data = fs::metadata(path).ok()?;
    Some((data.dev(), data.ino()))
}

/// Identifies a file or folder, whatever its name. Can't recognize two hard links as the same file.
#[cfg(not(unix))]
fn identity(path: &Path) -> Option<PathBuf> {
    path.canonicalize().ok()
}

fn is_same(one: &Path, other: &Path) -> bool {
    one == other || identity(one).is_some_and(|one| identity(other) == Some(one))
}

/// Whether a folder holds a stash, judged by its record.
fn has_record(folder: &Path) -> bool {
    let (name, begin) = RECORD;
    let record = folder.join(name);
    // Reading a pipe would block.
    if !fs::metadata(&record).is_ok_and(|data| data.is_file()) {
        return false;
    }
    let mut head = vec![0; begin.len()];
    let read = File::open(record).and_then(|mut file| file.read_exact(&mut head));
    read.is_ok() && head == begin
}

/// Whether a file is one of those in a stash folder.
fn is_kept_in(file: &Path, stash: &Path) -> bool {
    let Some(it) = identity(file) else {
        return false;
    };
    let folders = [stash.to_owned(), stash.join(BACKUPS)];
    let kept = folders
        .iter()
        .filter_map(|folder| fs::read_dir(folder).ok());
    let mut kept = kept.flatten().flatten();
    kept.any(|kept| identity(&kept.path()).is_some_and(|kept| kept == it))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_existing_file_stays_unless_it_is_to_be_overwritten() {
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
    fn a_settings_file_over_the_limit_is_not_read() {
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
    fn nothing_is_written_inside_a_stash() {
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

    #[test]
    fn only_leftovers_are_cleared() {
        let dir = tempfile::tempdir().unwrap();
        let now = SystemTime::now();
        let make = |name: &str, hours: u32| {
            let file = File::create(dir.path().join(name)).unwrap();
            let then = now - Duration::from_secs(3_600) * hours;
            file.set_modified(then).unwrap();
        };
        // One of the program's own files, as a killed run leaves it.
        let (_, path) = new_file(dir.path()).unwrap().keep().unwrap();
        let ours = path.file_name().unwrap().to_str().unwrap().to_owned();
        make(&ours, 25);
        make(".homehook-Ab3dEf9h.unfinished", 9_999);
        let staying = [
            (".homehook-Ab3dEf9i.unfinished", 23),
            (".homehook-Ab3dEf9.unfinished", 99),
            (".homehook-Ab3d-f9h.unfinished", 99),
            (".homehook-Ab3dEf9h.unfinished.csv", 99),
            ("homehook-Ab3dEf9h.unfinished", 99),
            ("stock.csv", 99),
        ];
        for (name, hours) in staying {
            make(name, hours);
        }
        fs::create_dir(dir.path().join(".homehook-AAAAAAAA.unfinished")).unwrap();
        drop(new_file(dir.path()).unwrap());
        let there = fs::read_dir(dir.path()).unwrap();
        let mut there: Vec<String> = there
            .map(|file| file.unwrap().file_name().into_string().unwrap())
            .collect();
        there.sort();
        let mut expected: Vec<&str> = staying.iter().map(|&(name, _)| name).collect();
        expected.push(".homehook-AAAAAAAA.unfinished");
        expected.sort_unstable();
        assert_eq!(there, expected);
        // A file from the future, due to a wrong clock, isn't a leftover.
        clear_left_over(dir.path(), now - LEFT_OVER * 9);
        assert!(dir.path().join(".homehook-Ab3dEf9i.unfinished").exists());
    }

    #[test]
    fn a_file_in_the_stash_folder_is_recognized_by_every_name() {
        let dir = tempfile::tempdir().unwrap();
        let stash = dir.path().join("stash");
        fs::create_dir_all(stash.join("backups")).unwrap();
        fs::create_dir_all(dir.path().join("else/where")).unwrap();
        fs::write(stash.join("record.jsonl"), "{}").unwrap();
        let inside = |name: &str| is_inside(&dir.path().join(name), &stash);
        for name in [
            "stash/record.jsonl",
            "stash/new.csv",
            "stash/backups/new.csv",
            "stash/none/new.csv",
            "./stash//new.csv",
            "else/../stash/new.csv",
            "else/where/../../stash/backups/../new.csv",
        ] {
            assert!(inside(name), "{name}");
        }
        for name in ["new.csv", "stash.csv", "else/new.csv", "stash/../new.csv"] {
            assert!(!inside(name), "{name}");
        }
        // Another stash counts too.
        fs::write(dir.path().join("else/record.jsonl"), "{\"homehook\":1}").unwrap();
        assert!(inside("else/new.csv") && inside("else/where/new.csv"));
        fs::write(dir.path().join("else/record.jsonl"), "[]").unwrap();
        assert!(!inside("else/new.csv"));
        assert!(is_inside(
            Path::new("/nowhere/a/b.csv"),
            Path::new("/nowhere")
        ));
    }

    #[cfg(unix)]
    #[test]
    fn links_into_and_out_of_the_stash_folder_are_followed() {
        use std::os::unix::fs::symlink;
        let dir = tempfile::tempdir().unwrap();
        let path = |name: &str| dir.path().join(name);
        let stash = path("stash");
        fs::create_dir(&stash).unwrap();
        fs::write(path("stash/record.jsonl"), "{}").unwrap();
        fs::write(path("kept.jsonl"), "{}").unwrap();
        symlink(path("kept.jsonl"), path("stash/other.jsonl")).unwrap();
        symlink(&stash, path("folder")).unwrap();
        symlink("stash/record.jsonl", path("file")).unwrap();
        symlink("folder/none.csv", path("dangling")).unwrap();
        symlink("dangling", path("twice")).unwrap();
        symlink("round", path("round")).unwrap();
        fs::hard_link(path("stash/record.jsonl"), path("hard.csv")).unwrap();
        let inside = |name: &str, stash: &Path| is_inside(&path(name), stash);
        for name in [
            "folder/new.csv",
            "file",
            "dangling",
            "twice",
            "hard.csv",
            "kept.jsonl",
        ] {
            assert!(inside(name, &stash), "{name}");
            assert!(inside(name, &path("folder")), "{name}");
        }
        for name in ["round", "new.csv"] {
            assert!(!inside(name, &stash), "{name}");
        }
    }
}
