//! Dated copies of the record in the stash folder, made once a day and thinned as they grow old.

mod thin;

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::Date;

use super::folder;
use super::line::{self, Sum};
use super::scan::{Lines, Step};
use crate::language::{say, word};

pub use thin::{DAYS, MONTHS, WEEKS, staying};

/// A copy that is being made has some letters between these for its name.
const BEGUN: (&str, &str) = ("record-", ".new");

/// The folder of the copies.
fn folder_in(dir: &Path) -> PathBuf {
    dir.join("backups")
}

/// Where the copy of a day is, or would be.
#[must_use]
pub fn path_of(dir: &Path, day: Date) -> PathBuf {
    folder_in(dir).join(format!("record-{day}.jsonl"))
}

/// A copy of the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    /// The day it was made.
    pub day: Date,
    /// The file.
    pub path: PathBuf,
}

/// The copies there are, the oldest first; none where their folder cannot be read. Other files are
/// passed over.
#[must_use]
pub fn list(dir: &Path) -> Vec<Backup> {
    let found = fs::read_dir(folder_in(dir)).into_iter().flatten().flatten();
    let mut backups: Vec<Backup> = found
        .filter_map(|file| {
            let name = file.file_name();
            let day = name
                .to_str()?
                .strip_prefix("record-")?
                .strip_suffix(".jsonl")?;
            let day: Date = day.parse().ok()?;
            let path = path_of(dir, day);
            (path.file_name() == Some(name.as_os_str())).then_some(Backup { day, path })
        })
        .collect();
    backups.sort_by_key(|backup| backup.day);
    backups
}

/// A backup that could not be made. The record is as it was, and work goes on.
#[derive(Debug, thiserror::Error)]
#[error("{}", say!(
        "today's backup of the record could not be made in {path} ({source}). Your changes \
         are recorded all the same; make room there, or copy the stash folder yourself",
        path = path.display(),
        source
    ))]
pub struct BackupError {
    path: PathBuf,
    source: io::Error,
}

/// A backup that is due: of the record as far as it had been verified when it was opened. May be
/// carried out in another thread, as the record is only ever added to.
#[derive(Debug)]
pub struct Due {
    pub(super) dir: PathBuf,
    pub(super) today: Date,
    /// So much of the record had been verified.
    pub(super) bytes: u64,
    /// The sum of the last line of it.
    pub(super) sum: Sum,
}

impl Due {
    /// Makes the copy under another name, verifies it, puts it on disk, gives it its name, and then
    /// takes away the older copies that are no longer needed. Returns the new one. Linear in the size
    /// of the record.
    ///
    /// # Errors
    /// Where the disk does not take it, or the copy does not verify; older copies are left alone.
    pub fn make(self) -> Result<Backup, BackupError> {
        let path = folder_in(&self.dir);
        self.copy().map_err(|source| BackupError { path, source })
    }

    fn copy(&self) -> io::Result<Backup> {
        let backups = folder_in(&self.dir);
        folder::make(&backups)?;
        let mut new = tempfile::Builder::new()
            .prefix(BEGUN.0)
            .suffix(BEGUN.1)
            .tempfile_in(&backups)?;
        let (record, _) = folder::read_from(&self.dir, 0)?.ok_or(io::ErrorKind::NotFound)?;
        let copied = io::copy(&mut record.take(self.bytes), new.as_file_mut())?;
        new.as_file_mut().flush()?;
        if copied != self.bytes || last_sum(fs::File::open(new.path())?)? != Some(self.sum) {
            return Err(io::Error::other(word!(
                "the copy is not what was read before"
            )));
        }
        new.as_file().sync_all()?;
        let path = path_of(&self.dir, self.today);
        // Whole or not at all, and a copy that is there already is as good.
        let new = new.into_temp_path();
        folder::put_in_place(&backups, &new, &path)?;
        self.thin();
        self.clear();
        Ok(Backup {
            day: self.today,
            path,
        })
    }

    /// Takes away what a crash left of copies that were being made: they are older than a day, so nobody
    /// is at them.
    fn clear(&self) {
        let there = fs::read_dir(folder_in(&self.dir)).into_iter().flatten();
        for file in there.flatten() {
            let name = file.file_name();
            let begun = name
                .to_str()
                .is_some_and(|name| name.starts_with(BEGUN.0) && name.ends_with(BEGUN.1));
            let age = file.metadata().and_then(|data| data.modified());
            let age = age.ok().and_then(|then| then.elapsed().ok());
            if begun && age.is_some_and(|age| age > Duration::from_secs(24 * 60 * 60)) {
                let _ = fs::remove_file(file.path());
            }
        }
    }

    fn thin(&self) {
        let there = list(&self.dir);
        let days: Vec<Date> = there.iter().map(|backup| backup.day).collect();
        let staying = staying(&days, self.today);
        for backup in there.iter().filter(|backup| !staying.contains(&backup.day)) {
            // One that cannot be taken away now will be tomorrow.
            let _ = fs::remove_file(&backup.path);
        }
    }
}

/// The sum of the last line, where every line verifies.
fn last_sum(file: impl Read) -> io::Result<Option<Sum>> {
    let mut lines = Lines::new(file);
    let mut sum = None;
    loop {
        match lines.next()? {
            Step::End => return Ok(sum),
            Step::TooLong => return Ok(None),
            Step::Line => match line::verify(sum, &lines.line) {
                Ok(next) => sum = Some(next),
                Err(_) => return Ok(None),
            },
        }
    }
}

#[cfg(test)]
mod tests;
