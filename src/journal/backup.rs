//! Dated copies of the record in the stash folder, made once a day and thinned as they grow old.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::Date;

use super::folder::{Folder, RECORD};
use super::format::{self, Sum};
use super::reader::{Lines, Step};

/// A copy that is being made has some letters between these for its name.
const BEGUN: (&str, &str) = ("record-", ".new");

/// So many older copies go at the most when a new one is made, which is one more than are usually due.
pub(super) const MOST_THINNED: usize = 2;

/// The folder of the copies.
pub(super) const BACKUPS: &str = "backups";

fn name_of(day: Date) -> String {
    format!("record-{day}.jsonl")
}

/// Where the copy of a day is, or would be.
#[must_use]
pub fn path_of(dir: &Path, day: Date) -> PathBuf {
    dir.join(BACKUPS).join(name_of(day))
}

/// The folder of the copies, if there is one that is no link.
pub(super) fn folder_in(dir: &Path) -> io::Result<Option<Folder>> {
    Ok(match Folder::open(dir)? {
        Some(folder) => folder.folder(BACKUPS)?,
        None => None,
    })
}

/// Whether there is a copy of a day; what cannot be looked at counts as none.
pub(super) fn exists(dir: &Path, day: Date) -> bool {
    let found = folder_in(dir).map(|found| {
        found.is_some_and(|folder| !matches!(folder.identity(&name_of(day)), Ok(None)))
    });
    found.unwrap_or(false)
}

/// Opens the copy of a day; nothing where there is none.
pub(super) fn open(dir: &Path, day: Date) -> io::Result<Option<std::fs::File>> {
    match folder_in(dir)? {
        Some(folder) => folder.read(&name_of(day)),
        None => Ok(None),
    }
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
    let Ok(Some(folder)) = folder_in(dir) else {
        return Vec::new();
    };
    listed(&folder)
}

fn listed(folder: &Folder) -> Vec<Backup> {
    let mut backups: Vec<Backup> = folder
        .names()
        .unwrap_or_default()
        .into_iter()
        .filter_map(|name| {
            let day = name
                .to_str()?
                .strip_prefix("record-")?
                .strip_suffix(".jsonl")?;
            let day: Date = day.parse().ok()?;
            let path = folder.path().join(name_of(day));
            (path.file_name() == Some(name.as_os_str())).then_some(Backup { day, path })
        })
        .collect();
    backups.sort_by_key(|backup| backup.day);
    backups
}

/// A backup that could not be made. The record is as it was, and work goes on.
#[derive(Debug)]
pub struct BackupError {
    /// The folder of the copies.
    pub path: PathBuf,
    /// Why.
    pub reason: NoBackup,
}

/// What stands in the way of a backup.
#[derive(Debug)]
pub enum NoBackup {
    /// A file or a folder.
    Io(io::Error),
    /// The copy is not what had been verified.
    Differs,
}

impl From<io::Error> for NoBackup {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
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
        self.copy().map_err(|reason| BackupError {
            path: self.dir.join(BACKUPS),
            reason,
        })
    }

    fn copy(&self) -> Result<Backup, NoBackup> {
        let missing = || io::Error::from(io::ErrorKind::NotFound);
        let stash = Folder::open(&self.dir)?.ok_or_else(missing)?;
        let record = stash.read(RECORD)?.ok_or_else(missing)?;
        let backups = stash.folder_made(BACKUPS)?;
        let mut new = backups.begin_like(BEGUN.0, BEGUN.1, &stash)?;
        let copied = io::copy(&mut record.take(self.bytes), &mut new.file)?;
        if copied != self.bytes || last_sum(new.again()?)? != Some(self.sum) {
            return Err(NoBackup::Differs);
        }
        new.file.sync_all()?;
        let day = self.today;
        match new.place_new(&name_of(day)) {
            // Another process was quicker, and its copy is as good.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            placed => placed?,
        }
        backups.sync()?;
        self.thin(&backups);
        clear(&backups);
        clear(&stash);
        let path = path_of(&self.dir, day);
        Ok(Backup { day, path })
    }

    fn thin(&self, backups: &Folder) {
        let there = listed(backups);
        let days: Vec<Date> = there.iter().map(|backup| backup.day).collect();
        let staying = staying(&days, self.today);
        let going = there.iter().filter(|backup| !staying.contains(&backup.day));
        // Not many at a time: a clock that runs ahead must not cost all of them.
        for backup in going.take(MOST_THINNED) {
            // One that cannot be taken away now will be tomorrow.
            let _ = backups.remove(&name_of(backup.day));
        }
    }
}

/// Takes away what a crash left of files that were being made: they are older than a day, so nobody is at
/// them.
fn clear(folder: &Folder) {
    for name in folder.names().unwrap_or_default() {
        let Some(name) = name.to_str() else { continue };
        if !(name.starts_with("record") && name.ends_with(BEGUN.1)) {
            continue;
        }
        let written = folder.written(name).ok().flatten();
        let age = written.and_then(|then| then.elapsed().ok());
        if age.is_some_and(|age| age > Duration::from_secs(24 * 60 * 60)) {
            let _ = folder.remove(name);
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
            Step::Line => match format::verify(sum, &lines.line) {
                Ok(next) => sum = Some(next),
                Err(_) => return Ok(None),
            },
        }
    }
}

/// Days of which every copy stays, today with them.
pub const DAYS: i32 = 7;
/// Calendar weeks before the present one of which one copy stays.
pub const WEEKS: i32 = 8;
/// Calendar months before the present one of which one copy stays.
pub const MONTHS: i32 = 12;

/// The days of which the copy stays: all of the last [`DAYS`], then the last of every week (Monday to
/// Sunday) for [`WEEKS`] weeks, then the last of those in every month for [`MONTHS`] months. Days
/// to come stay, since only a wrong clock makes them. O(n log n).
///
/// Thinning day by day leaves the same as thinning everything at once.
#[must_use]
pub fn staying(days: &[Date], today: Date) -> BTreeSet<Date> {
    let days: BTreeSet<Date> = days.iter().copied().collect();
    let (young, old): (Vec<Date>, Vec<Date>) =
        days.into_iter().partition(|&day| age(day, today) < DAYS);
    // A later day takes the place of an earlier one of the same week or month.
    let weekly: BTreeMap<i32, Date> = old.into_iter().map(|day| (week(day), day)).collect();
    let (recent, aged): (Vec<Date>, Vec<Date>) = weekly
        .into_values()
        .partition(|&day| week(today) - week(day) <= WEEKS);
    let monthly: BTreeMap<i32, Date> = aged.into_iter().map(|day| (month(day), day)).collect();
    let monthly = monthly
        .into_values()
        .filter(|&day| month(today) - month(day) <= MONTHS);
    young.into_iter().chain(recent).chain(monthly).collect()
}

/// Days from `day` to `today`.
fn age(day: Date, today: Date) -> i32 {
    (today - day).get_days()
}

/// The number of a day's week; weeks that follow each other have numbers that do.
pub(super) fn week(day: Date) -> i32 {
    // 1 January 1 was a Monday in the calendar carried back.
    age(jiff::civil::date(1, 1, 1), day).div_euclid(7)
}

/// The number of a day's month.
fn month(day: Date) -> i32 {
    i32::from(day.year()) * 12 + i32::from(day.month())
}
