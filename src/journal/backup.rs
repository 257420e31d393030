//! Dated copies of the record in the stash folder, made once a day and thinned as they grow old; and putting a
//! copy of the record in its place ([`restore`]).

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::Date;
use serde::de::IgnoredAny;

use super::error::{LineError, RecordError};
use super::folder::{Folder, RECORD, Unfinished};
use super::format::{self, MAX_LINE, Sum};
use super::format::{CommitMarker, MARKER, MarkerFile, MarkerState};
use super::lock::{LockOutcome, Locked};
use super::reader::{End, Lines, LogPosition, Step, open_named, scan};
use super::snapshot::SNAPSHOT;
use crate::stash::apply::ApplyError;
use crate::stash::event::Event;
use crate::stash::state::State;

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

/// Which copy of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Copy {
    /// The backup of a day.
    Backup(Date),
    /// A file of the stash folder, by its name.
    Inside(String),
    /// A file that a person named.
    File(PathBuf),
}

impl Copy {
    /// Where it is.
    #[must_use]
    pub fn path(&self, dir: &Path) -> PathBuf {
        match self {
            Self::Backup(day) => path_of(dir, *day),
            Self::Inside(name) => dir.join(name),
            Self::File(path) => path.clone(),
        }
    }

    /// Opens it: what lies in the stash folder never through a link.
    fn open(&self, dir: &Path) -> io::Result<File> {
        let inside = match self {
            Self::File(path) => return open_named(path),
            Self::Backup(day) => open(dir, *day)?,
            Self::Inside(name) => match Folder::open(dir)? {
                Some(folder) => folder.read(name)?,
                None => None,
            },
        };
        inside.ok_or_else(|| io::ErrorKind::NotFound.into())
    }
}

/// What came of putting a copy in the record's place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// How many events there are now.
    pub events: u64,
    /// How many acknowledged events the copy does not have: what was done since it was made.
    pub lacking: Lacking,
    /// Where the record that was there is now; nothing where there was none.
    pub aside: Option<PathBuf>,
}

/// How many acknowledged events a copy lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lacking {
    /// So many.
    Exactly(u64),
    /// The event that was acknowledged last is not in it, so there may be more that are in no line any more.
    AtLeast(u64),
    /// There was no record to compare it with, nor a marker.
    Unknown,
}

impl Lacking {
    /// How many are known to be lacking; nothing where nothing is known.
    #[must_use]
    pub const fn known(self) -> Option<u64> {
        match self {
            Self::Exactly(many) | Self::AtLeast(many) => Some(many),
            Self::Unknown => None,
        }
    }
}

/// Why a file is no sound record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unsound {
    /// A line is damaged.
    Damaged {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: LineError,
    },
    /// Its end is missing.
    Torn {
        /// The line, from 1.
        line: u64,
    },
    /// Another version of the format.
    Newer {
        /// Its version.
        found: u64,
    },
    /// An event breaks a law.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong.
        misfit: ApplyError,
    },
}

/// Why a copy was not put in the record's place.
#[derive(Debug)]
pub enum RestoreError {
    /// The copy cannot be read.
    Unreadable {
        /// The copy.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The copy is not sound.
    Unsound {
        /// The copy.
        path: PathBuf,
        /// What is wrong with it.
        unsound: Unsound,
    },
    /// The copy is of another stash.
    AnotherStash {
        /// The copy.
        path: PathBuf,
    },
    /// The lock cannot be had, or the stash folder is not as it should be.
    Record(RecordError),
    /// A step failed.
    Failed {
        /// What the system said.
        source: io::Error,
    },
}

impl From<RecordError> for RestoreError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

/// Verifies a copy of the record of the stash in `dir`, plays it through, and returns how many events it
/// has.
///
/// # Errors
/// Where the file cannot be read; within, where it is not sound.
pub fn verify(dir: &Path, copy: &Copy) -> io::Result<Result<u64, Unsound>> {
    Ok(proved(copy.open(dir)?)?.map(|position| position.events))
}

fn proved(file: File) -> io::Result<Result<LogPosition, Unsound>> {
    let mut position = LogPosition::start();
    let found = scan::<Event>(file, &mut position, None)?;
    let line = position.next_line();
    let unsound = match found.end {
        End::Damaged(reason) => Unsound::Damaged { line, reason },
        End::Torn(_) => Unsound::Torn { line },
        End::Newer(found) => Unsound::Newer { found },
        End::Clean => {
            let mut state = State::default();
            let misfit = found.entries.into_iter().find_map(|entry| {
                let misfit = state.apply(&entry.event).err()?;
                let seq = entry.seq;
                Some(Unsound::ApplyError { seq, misfit })
            });
            match misfit {
                None => return Ok(Ok(position)),
                Some(misfit) => misfit,
            }
        }
    };
    Ok(Err(unsound))
}

/// By which the stash in a folder is known: the checksum of its first event, from the marker or else from
/// the record, as far as that can be read.
fn identity(folder: &Folder) -> io::Result<Option<Sum>> {
    if let MarkerState::Known(marker) = MarkerState::read(folder)? {
        return Ok(Some(marker.first));
    }
    let Some(file) = folder.read(RECORD)? else {
        return Ok(None);
    };
    let mut position = LogPosition::start();
    scan::<Event>(file, &mut position, None)?;
    Ok(position.first)
}

/// What is done, in this order. Each step is on disk before the next begins, so that a crash between
/// any two leaves a whole record under its name, what had been there is never lost, and a record that was
/// damaged never passes for a sound one: until the last step the marker is that of the record before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RestoreStep {
    /// The copy is copied beside the record, and verified there.
    Import,
    /// The record is copied to a name of its own, which nothing ever replaces.
    SetAside,
    /// The new record takes the name.
    Exchange,
    /// `record.end` is written anew.
    Note,
}

/// Puts a copy in the place of the record of the stash in `dir`, under the writer's lock, for which it
/// waits so long. A copy of another stash only where `another` says so.
///
/// # Errors
/// Where the copy cannot be read or is not sound, is of another stash, where the lock is not to be had,
/// and where the disk does not take it. The record is whole in each case.
pub fn restore(
    dir: &Path,
    copy: &Copy,
    another: bool,
    wait: Duration,
) -> Result<Restored, RestoreError> {
    carry_out(dir, copy, another, wait, |_| Ok(()))
}

pub(super) fn carry_out(
    dir: &Path,
    copy: &Copy,
    another: bool,
    wait: Duration,
    mut before: impl FnMut(RestoreStep) -> io::Result<()>,
) -> Result<Restored, RestoreError> {
    let unreadable = |source| RestoreError::Unreadable {
        path: copy.path(dir),
        source,
    };
    let failed = |source| RestoreError::Failed { source };
    let mut source = copy.open(dir).map_err(unreadable)?;
    let LockOutcome::Held(locked) = Locked::acquire(dir, wait)? else {
        return Err(RecordError::Busy.into());
    };
    let folder = locked.folder();
    check_is_plain(folder, dir, RECORD)?;
    check_is_plain(folder, dir, MARKER)?;
    let proved_at = |file: File| {
        let proved = proved(file).map_err(unreadable)?;
        let path = copy.path(dir);
        proved.map_err(|unsound| RestoreError::Unsound { path, unsound })
    };

    // Looked at where it lies, so that what is refused leaves no trace, and only what is good is copied.
    let position = proved_at(source.try_clone().map_err(unreadable)?)?;
    let ours = identity(folder).map_err(failed)?;
    if !another && ours.is_some() && ours != position.first {
        let path = copy.path(dir);
        return Err(RestoreError::AnotherStash { path });
    }

    before(RestoreStep::Import).map_err(failed)?;
    source.rewind().map_err(unreadable)?;
    let new = import(folder, source.take(position.bytes)).map_err(failed)?;
    if proved_at(new.again().map_err(failed)?)? != position {
        return Err(failed(io::ErrorKind::InvalidData.into()));
    }
    let lacking = lacking(folder, &new, position).map_err(failed)?;

    before(RestoreStep::SetAside).map_err(failed)?;
    let aside = set_aside(folder).map_err(failed)?;

    before(RestoreStep::Exchange).map_err(failed)?;
    if !locked.is_ours() {
        let path = dir.join(RECORD);
        return Err(RecordError::Overtaken { path }.into());
    }
    new.place(RECORD).map_err(failed)?;
    folder.sync().map_err(failed)?;

    before(RestoreStep::Note).map_err(failed)?;
    note(folder, &position).map_err(failed)?;
    Ok(Restored {
        events: position.events,
        lacking,
        aside,
    })
}

/// What is there has to be a file of its own, or nothing.
fn check_is_plain(folder: &Folder, dir: &Path, name: &str) -> Result<(), RecordError> {
    let there = folder.read(name);
    there.map_err(|source| RecordError::read(&dir.join(name), source))?;
    Ok(())
}

/// Copies a copy beside the record. It is gone again when anything fails before it takes the record's name.
fn import(folder: &Folder, mut copy: impl Read) -> io::Result<Unfinished<'_>> {
    let mut new = folder.begin("record.restored-", ".new")?;
    io::copy(&mut copy, &mut new.file)?;
    new.file.sync_all()?;
    Ok(new)
}

/// Copies the record to a name of its own, where there is one.
fn set_aside(folder: &Folder) -> io::Result<Option<PathBuf>> {
    let record = folder.read(RECORD)?;
    record
        .map(|mut record| folder.keep(&mut record, 0, "record.before-restore-", ".jsonl"))
        .transpose()
}

/// Writes `record.end` for a record that is good up to `position`.
fn note(folder: &Folder, position: &LogPosition) -> io::Result<()> {
    folder.remove(SNAPSHOT)?;
    let Some(first) = position.first else {
        return folder.remove(MARKER);
    };
    let marker = CommitMarker {
        events: position.events,
        last: position.sum,
        first,
    };
    // Made anew, whatever other names the one before may have.
    MarkerFile::default().note(folder, &marker)
}

/// What a copy lacks of the record before, and of what had been acknowledged and is in no line any more.
fn lacking(folder: &Folder, copy: &Unfinished<'_>, position: LogPosition) -> io::Result<Lacking> {
    let lines = lines_lacking(folder, copy)?;
    let MarkerState::Known(marker) = MarkerState::read(folder)? else {
        let there = folder.read(RECORD)?.is_some();
        return Ok(match there {
            true => Lacking::Exactly(lines),
            false => Lacking::Unknown,
        });
    };
    let gone = marker.events.saturating_sub(position.events);
    let mut end = LogPosition::start();
    let found = scan::<IgnoredAny>(copy.again()?, &mut end, Some(marker.events))?;
    Ok(match found.sum_at {
        Some(sum) if sum == marker.last => Lacking::Exactly(lines),
        Some(_) => Lacking::AtLeast(lines.max(1)),
        None => Lacking::Exactly(lines.max(gone)),
    })
}

/// How many lines the record has after the last one that both begin with.
fn lines_lacking(folder: &Folder, copy: &Unfinished<'_>) -> io::Result<u64> {
    // A line longer than any that is written is damage, and no line to compare.
    const LONGEST: u64 = MAX_LINE as u64 + 1;
    let Some(record) = folder.read(RECORD)? else {
        return Ok(0);
    };
    let (mut ours, mut theirs) = (BufReader::new(record), BufReader::new(copy.again()?));
    let (mut here, mut there) = (Vec::new(), Vec::new());
    let (mut same, mut lacking, mut line) = (true, 0, 0_u64);
    loop {
        here.clear();
        there.clear();
        if ours.by_ref().take(LONGEST).read_until(b'\n', &mut here)? == 0 {
            return Ok(lacking);
        }
        theirs
            .by_ref()
            .take(LONGEST)
            .read_until(b'\n', &mut there)?;
        line += 1;
        same = same && here == there;
        // Line 1 holds no event.
        lacking += u64::from(!same && line > 1);
    }
}
