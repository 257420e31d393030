//! What is done to the stash folder around the record: making it, creating the record in it and
//! setting a torn end aside. Every step is on disk before the next begins.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::line;

/// The record's file name.
pub(super) fn record_in(dir: &Path) -> PathBuf {
    dir.join("record.jsonl")
}

/// Whether an error says that nothing can be written here, rather than that something broke.
pub(super) fn is_protected(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem
    )
}

/// Makes the folder and those above it, where they are missing.
pub(super) fn make(dir: &Path) -> io::Result<()> {
    let missing: Vec<&Path> = dir.ancestors().take_while(|path| !path.exists()).collect();
    fs::create_dir_all(dir)?;
    for made in missing {
        if let Some(parent) = made.parent() {
            sync(parent)?;
        }
    }
    Ok(())
}

/// Puts a folder's list of names on disk, where the system has a way to.
pub(super) fn sync(dir: &Path) -> io::Result<()> {
    if cfg!(not(unix)) {
        return Ok(());
    }
    let dir = if dir.as_os_str().is_empty() {
        Path::new(".")
    } else {
        dir
    };
    match File::open(dir)?.sync_all() {
        // Network folders may not know the call; the file itself has been synced.
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
            ) =>
        {
            Ok(())
        }
        result => result,
    }
}

/// Creates a record without events. It appears under its name whole or not at all.
pub(super) fn create_record(dir: &Path) -> io::Result<()> {
    let new = dir.join("record.new");
    let written = File::create(&new).and_then(|mut file| {
        file.write_all(&line::header().0)?;
        file.sync_all()
    });
    if let Err(error) = written.and_then(|()| fs::rename(&new, record_in(dir))) {
        // The error matters more than a file left lying.
        let _ = fs::remove_file(&new);
        return Err(error);
    }
    sync(dir)
}

/// Gives a finished file its name, in place of what had that name before: at every moment one of the
/// two is there, and the new one is there for good when this returns.
pub(super) fn put_in_place(dir: &Path, from: &Path, to: &Path) -> io::Result<()> {
    fs::rename(from, to)?;
    sync(dir)
}

/// Copies the record's bytes from `from` on to a new file beside it, and then cuts them off.
/// Returns the new file.
pub(super) fn set_aside(dir: &Path, from: u64) -> io::Result<PathBuf> {
    let mut record = OpenOptions::new()
        .read(true)
        .write(true)
        .open(record_in(dir))?;
    record.seek(SeekFrom::Start(from))?;
    let (mut copy, path) = create_numbered(dir, "record.torn-", "")?;
    if let Err(error) = io::copy(&mut record, &mut copy).and_then(|_| copy.sync_all()) {
        let _ = fs::remove_file(&path);
        return Err(error);
    }
    sync(dir)?;
    record.set_len(from)?;
    record.sync_all()?;
    Ok(path)
}

/// Copies the record to a new file beside it and returns that one.
pub(super) fn keep_copy(dir: &Path) -> io::Result<PathBuf> {
    let mut record = File::open(record_in(dir))?;
    let (mut copy, path) = create_numbered(dir, "record.before-restore-", ".jsonl")?;
    if let Err(error) = io::copy(&mut record, &mut copy).and_then(|_| copy.sync_all()) {
        let _ = fs::remove_file(&path);
        return Err(error);
    }
    sync(dir)?;
    Ok(path)
}

fn create_numbered(dir: &Path, before: &str, after: &str) -> io::Result<(File, PathBuf)> {
    let mut n: u64 = 1;
    loop {
        let path = dir.join(format!("{before}{n}{after}"));
        match File::create_new(&path) {
            Ok(file) => return Ok((file, path)),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => n += 1,
            Err(error) => return Err(error),
        }
    }
}

/// Opens the record at byte `from`; with it, the length of the file. Nothing where there is none.
pub(super) fn read_from(dir: &Path, from: u64) -> io::Result<Option<(File, u64)>> {
    let mut file = match File::open(record_in(dir)) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    let length = file.metadata()?.len();
    file.seek(SeekFrom::Start(from))?;
    Ok(Some((file, length)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_made_at_any_depth_and_kept_where_they_are() {
        let dir = tempfile::tempdir().unwrap();
        let deep = dir.path().join("a/b/c");
        make(&deep).unwrap();
        make(&deep).unwrap();
        assert!(deep.is_dir());
        fs::write(dir.path().join("file"), "").unwrap();
        assert!(make(&dir.path().join("file/under")).is_err());
    }

    #[test]
    fn what_is_set_aside_never_replaces_an_earlier_piece() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(record_in(dir.path()), "good first").unwrap();
        let first = set_aside(dir.path(), 5).unwrap();
        fs::write(record_in(dir.path()), "good second").unwrap();
        let second = set_aside(dir.path(), 5).unwrap();
        assert_eq!(fs::read(first).unwrap(), b"first");
        assert_eq!(fs::read(second).unwrap(), b"second");
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), b"good ");
    }

    #[test]
    fn a_record_that_cannot_be_created_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        // A folder in its place makes the rename fail.
        fs::create_dir_all(record_in(dir.path()).join("x")).unwrap();
        assert!(create_record(dir.path()).is_err());
        assert!(!dir.path().join("record.new").exists());
    }
}
