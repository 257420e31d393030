//! Dated copies of the record in the stash folder, made once a day and thinned as they age.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::Date;
use serde::de::IgnoredAny;

use super::folder::{Folder, RECORD};
use super::format::{self, CommitMarker, Entry, SEAL_LEN, Sum};
use super::reader::{End, Lines, LogPosition, Step, ends_with, read, scan};
use crate::stash::event::Event;

/// The name of a copy in progress has random letters between these.
const BEGUN: (&str, &str) = ("record-", ".new");

/// The name of a record that a restore set aside has a number between these.
pub(super) const SET_ASIDE: (&str, &str) = ("record.before-restore-", ".jsonl");

/// The most old copies removed when a new one is made: one more than are usually due.
pub(super) const MOST_THINNED: usize = 2;

pub(super) const BACKUPS: &str = "backups";

fn name_of(day: Date) -> String {
    format!("record-{day}.jsonl")
}

/// The path of a day's copy, whether or not it exists.
#[must_use]
pub fn path_of(dir: &Path, day: Date) -> PathBuf {
    dir.join(BACKUPS).join(name_of(day))
}

/// The folder of the copies, if it exists and isn't a link.
pub(super) fn folder_in(dir: &Path) -> io::Result<Option<Folder>> {
    Ok(match Folder::open(dir)? {
        Some(folder) => folder.folder(BACKUPS)?,
        None => None,
    })
}

/// What the newest sound copy proves was recorded, for a record whose marker is gone. O(size of the copy).
pub(super) fn proof(stash: &Folder) -> Option<CommitMarker> {
    let folder = stash.folder(BACKUPS).ok().flatten()?;
    let mut proofs = listed(&folder).into_iter().rev().filter_map(|backup| {
        let file = folder.read(&name_of(backup.day)).ok().flatten()?;
        let mut end = LogPosition::start();
        let found = scan::<IgnoredAny>(file, &mut end, None).ok()?;
        let first = end.first.filter(|_| matches!(found.end, End::Clean))?;
        Some(CommitMarker {
            events: end.events,
            last: end.sum,
            first,
        })
    });
    proofs.next()
}

/// The days of the copies that the record doesn't continue, newest first, unless a restore replaced a record that
/// continued them. Sums are chained, so a copy's last one in its place in the record proves the whole copy. Reads a few
/// bytes of each copy; the copies themselves may be damaged.
pub(super) fn strays(stash: &Folder) -> Vec<Date> {
    let Ok(Some(folder)) = stash.folder(BACKUPS) else {
        return Vec::new();
    };
    let Ok(Some(mut record)) = stash.read(RECORD) else {
        return Vec::new();
    };
    let mut strays: Vec<(Date, File)> = listed(&folder)
        .into_iter()
        .rev()
        .filter_map(|backup| Some((backup.day, folder.read(&name_of(backup.day)).ok()??)))
        .filter_map(|(day, mut copy)| (!continues(&mut record, &mut copy)).then_some((day, copy)))
        .collect();
    if !strays.is_empty() {
        for mut replaced in set_asides(stash) {
            strays.retain_mut(|(_, copy)| !continues(&mut replaced, copy));
        }
    }
    strays.into_iter().map(|(day, _)| day).collect()
}

/// Whether a file has the last sum of a copy in the same place. If that can't be read, it has.
fn continues(file: &mut File, copy: &mut File) -> bool {
    let mut look = || -> io::Result<bool> {
        let end = copy.seek(SeekFrom::End(0))?;
        copy.seek(SeekFrom::Start(end.saturating_sub(SEAL_LEN as u64)))?;
        let mut seal = [0; SEAL_LEN];
        copy.read_exact(&mut seal)?;
        ends_with(file, end, &seal)
    };
    look().unwrap_or(true)
}

/// The records that a restore set aside.
fn set_asides(stash: &Folder) -> Vec<File> {
    let names = stash.names().unwrap_or_default().into_iter();
    let names = names.filter_map(|name| name.into_string().ok());
    names
        .filter(|name| name.starts_with(SET_ASIDE.0) && name.ends_with(SET_ASIDE.1))
        .filter_map(|name| stash.read(&name).ok()?)
        .collect()
}

/// Whether a day has a copy. If the check fails, it counts as one.
pub(super) fn exists(dir: &Path, day: Date) -> bool {
    let found = folder_in(dir).map(|found| {
        found.is_some_and(|folder| !matches!(folder.identity(&name_of(day)), Ok(None)))
    });
    found.unwrap_or(false)
}

/// Opens a day's copy, if there is one.
pub(super) fn open(dir: &Path, day: Date) -> io::Result<Option<std::fs::File>> {
    match folder_in(dir)? {
        Some(folder) => folder.read(&name_of(day)),
        None => Ok(None),
    }
}

/// The events of a day's copy, if it is sound.
pub(super) fn entries(dir: &Path, day: Date) -> Option<Vec<Entry<Event>>> {
    let file = open(dir, day).ok()??;
    let (entries, _) = read(&path_of(dir, day), file).ok()?;
    Some(entries)
}

/// A copy of the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    /// The day it was made.
    pub day: Date,
    /// The file.
    pub path: PathBuf,
}

/// The copies, oldest first; empty if their folder can't be read. Ignores other files.
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

/// A failed backup. The record is unaffected, and work goes on.
#[derive(Debug)]
pub struct BackupError {
    /// The folder of the copies.
    pub path: PathBuf,
    /// The reason.
    pub reason: NoBackup,
}

/// The reason a backup failed.
#[derive(Debug)]
pub enum NoBackup {
    /// A file or folder operation failed.
    Io(io::Error),
    /// The copy differs from the verified record.
    Differs,
}

impl From<io::Error> for NoBackup {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

/// A backup that is due, covering the record as far as it was verified on opening. May run in
/// another thread, as the record only ever grows.
#[derive(Debug)]
pub struct Due {
    pub(super) dir: PathBuf,
    pub(super) today: Date,
    /// Number of verified bytes.
    pub(super) bytes: u64,
    /// The sum of the last verified line.
    pub(super) sum: Sum,
}

impl Due {
    /// Makes the copy under a temporary name, verifies it, syncs it and renames it, then removes
    /// older copies that are no longer needed. Returns the new copy. Linear in the size of the
    /// record.
    ///
    /// # Errors
    /// When the disk fails or the copy doesn't verify; older copies are left alone.
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
            // Another process was faster, and its copy is just as good.
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
        // Only a few at a time: a fast clock must not cost all of them.
        for backup in going.take(MOST_THINNED) {
            // If one can't be removed now, tomorrow's backup will try again.
            let _ = backups.remove(&name_of(backup.day));
        }
    }
}

/// Removes temporary files that a crash left. They are over a day old, so no process is using them.
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

/// The sum of the last line, if every line verifies.
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

/// Number of days, including today, for which every copy stays.
pub const DAYS: i32 = 7;
/// Number of calendar weeks before the current one for which one copy stays.
pub const WEEKS: i32 = 8;
/// Number of calendar months before the current one for which one copy stays.
pub const MONTHS: i32 = 12;

/// The days whose copies stay: all of the last [`DAYS`], then the last of each week (Monday to
/// Sunday) for [`WEEKS`] weeks, then the last remaining one of each month for [`MONTHS`] months.
/// Future days stay, since only a wrong clock makes them. O(n log n).
///
/// Thinning day by day leaves the same as thinning everything at once.
#[must_use]
pub fn staying(days: &[Date], today: Date) -> BTreeSet<Date> {
    let days: BTreeSet<Date> = days.iter().copied().collect();
    let (young, old): (Vec<Date>, Vec<Date>) =
        days.into_iter().partition(|&day| age(day, today) < DAYS);
    // A later day replaces an earlier one of the same week or month.
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

/// The number of a day's week; consecutive weeks have consecutive numbers.
pub(super) fn week(day: Date) -> i32 {
    // 1 January of year 1 was a Monday in the proleptic calendar.
    age(jiff::civil::date(1, 1, 1), day).div_euclid(7)
}

fn month(day: Date) -> i32 {
    i32::from(day.year()) * 12 + i32::from(day.month())
}
