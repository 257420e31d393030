//! Dated copies of the record in the stash folder, made once a day and thinned as they age; and
//! replacing the record with a copy ([`restore`]).

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::fs::File;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::civil::Date;
use serde::de::IgnoredAny;

use super::error::{LineError, RecordError};
use super::folder::{Folder, RECORD, Unfinished};
use super::format::{self, Entry, MAX_LINE, SEAL_LEN, Sum};
use super::format::{CommitMarker, MARKER, MarkerFile, MarkerState};
use super::lock::{LockOutcome, Locked};
use super::reader::{End, Lines, LogPosition, Step, ends_with, open_named, read, scan};
use super::snapshot::SNAPSHOT;
use crate::stash::apply::ApplyError;
use crate::stash::event::Event;
use crate::stash::state::State;

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

/// The days of the copies that the record doesn't continue, newest first, unless [`restore`] replaced a record that
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

/// A copy of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Copy {
    /// The backup of a day.
    Backup(Date),
    /// A file of the stash folder, by its name.
    Inside(String),
    /// A file chosen by the user.
    File(PathBuf),
}

impl Copy {
    /// Its path.
    #[must_use]
    pub fn path(&self, dir: &Path) -> PathBuf {
        match self {
            Self::Backup(day) => path_of(dir, *day),
            Self::Inside(name) => dir.join(name),
            Self::File(path) => path.clone(),
        }
    }

    /// Opens the copy; a file in the stash folder is never opened through a link.
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

/// The outcome of restoring a copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// How many events there are now.
    pub events: u64,
    /// How many acknowledged events the copy lacks, usually those made since it.
    pub lacking: Lacking,
    /// The path of the replaced record, if there was one.
    pub aside: Option<PathBuf>,
}

/// How many acknowledged events a copy lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lacking {
    /// This many.
    Exactly(u64),
    /// The copy lacks the last acknowledged event, so further events may be missing that no line
    /// holds any more.
    AtLeast(u64),
    /// There was neither a record nor a marker to compare with.
    Unknown,
}

impl Lacking {
    /// The number known to be lacking, if any is known.
    #[must_use]
    pub const fn known(self) -> Option<u64> {
        match self {
            Self::Exactly(many) | Self::AtLeast(many) => Some(many),
            Self::Unknown => None,
        }
    }
}

/// Why a file isn't a sound record.
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
    /// An event breaks an invariant.
    ApplyError {
        /// The event.
        seq: u64,
        /// What is wrong.
        misfit: ApplyError,
    },
}

/// Why a copy didn't replace the record.
#[derive(Debug)]
pub enum RestoreError {
    /// The copy cannot be read.
    Unreadable {
        /// The copy.
        path: PathBuf,
        /// The system's error.
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
    /// The lock isn't available, or the stash folder is in a bad state.
    Record(RecordError),
    /// A step failed.
    Failed {
        /// The system's error.
        source: io::Error,
    },
}

impl From<RecordError> for RestoreError {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

/// Verifies a copy of the record of the stash in `dir`, replays it, and returns its number of
/// events.
///
/// # Errors
/// The outer error when the file can't be read, the inner one when it isn't sound.
pub fn verify(dir: &Path, copy: &Copy) -> io::Result<Result<u64, Unsound>> {
    Ok(proved(copy.open(dir)?)?.map(|position| position.events))
}

/// The sound copy of this stash with the most events: its day, and their number. O(size of all copies).
#[must_use]
pub fn best(dir: &Path) -> Option<(Date, u64)> {
    let ours = Folder::open(dir).ok().flatten();
    let ours = ours.and_then(|folder| identity(&folder).ok().flatten());
    let sound = list(dir).into_iter().filter_map(|backup| {
        let file = Copy::Backup(backup.day).open(dir).ok()?;
        let position = proved(file).ok()?.ok()?;
        let is_ours = ours.is_none() || ours == position.first;
        is_ours.then_some((backup.day, position.events))
    });
    sound.max_by_key(|&(day, events)| (events, day))
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

/// The identity of the stash in a folder: the checksum of its first event, from the marker or else
/// from the record, as far as it can be read.
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

/// The steps of a restore, in order. Each is on disk before the next begins, so a crash between any
/// two leaves a whole record under its name and never loses the previous one. A damaged record
/// never passes for a sound one: until the last step the marker is that of the previous record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum RestoreStep {
    /// The copy is copied next to the record and verified there.
    Import,
    /// The record is copied to a name that nothing ever replaces.
    SetAside,
    /// The new record takes the name.
    Exchange,
    /// `record.end` is rewritten.
    Note,
}

/// Replaces the record of the stash in `dir` with a copy, under the writer's lock, waiting up to
/// `wait` for it. Accepts a copy of another stash only if `another` is set.
///
/// # Errors
/// When the copy can't be read, isn't sound or belongs to another stash, when the lock isn't
/// available, and when the disk fails. In every case the record stays whole.
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

    // Checked in place, so a refusal leaves no trace and only good lines are copied.
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

/// The entry must be a plain file with a single name, or absent.
fn check_is_plain(folder: &Folder, dir: &Path, name: &str) -> Result<(), RecordError> {
    let there = folder.read(name);
    there.map_err(|source| RecordError::read(&dir.join(name), source))?;
    Ok(())
}

/// Copies a copy next to the record. It disappears again if anything fails before it takes the
/// record's name.
fn import(folder: &Folder, mut copy: impl Read) -> io::Result<Unfinished<'_>> {
    let mut new = folder.begin("record.restored-", ".new")?;
    io::copy(&mut copy, &mut new.file)?;
    new.file.sync_all()?;
    Ok(new)
}

/// Copies the record, if there is one, to a name of its own.
fn set_aside(folder: &Folder) -> io::Result<Option<PathBuf>> {
    let record = folder.read(RECORD)?;
    record
        .map(|mut record| folder.keep(&mut record, 0, SET_ASIDE.0, SET_ASIDE.1))
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
    // Created from scratch, whatever other names the old marker may have.
    MarkerFile::default().note(folder, &marker)
}

/// What a copy lacks compared with the old record and with acknowledged events that no line holds
/// any more.
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

/// Number of lines of the record that the copy has nowhere. A line holds its number and the sum of its own, so no two are
/// alike.
fn lines_lacking(folder: &Folder, copy: &Unfinished<'_>) -> io::Result<u64> {
    let Some(record) = folder.read(RECORD)? else {
        return Ok(0);
    };
    let mut there = HashSet::new();
    each_line(copy.again()?, |line| {
        there.insert(digest(line));
    })?;
    let (mut lacking, mut count) = (0, 0_u64);
    each_line(record, |line| {
        count += 1;
        // Line 1 holds no event.
        lacking += u64::from(count > 1 && !there.contains(&digest(line)));
    })?;
    Ok(lacking)
}

fn digest(line: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    line.hash(&mut hasher);
    hasher.finish()
}

/// Passes on each line. One over the maximum length is damage, and comes in pieces.
fn each_line(file: impl Read, mut of: impl FnMut(&[u8])) -> io::Result<()> {
    const LONGEST: u64 = MAX_LINE as u64 + 1;
    let mut lines = BufReader::new(file);
    let mut line = Vec::new();
    while lines.by_ref().take(LONGEST).read_until(b'\n', &mut line)? > 0 {
        of(&line);
        line.clear();
    }
    Ok(())
}
