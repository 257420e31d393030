//! Reads the record and appends to it.

mod append;

use std::fs::File;
use std::io::Seek;
use std::marker::PhantomData;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use jiff::civil::Date;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::backup::{self, Due};
use super::error::{Damage, Notice, RecordError};
use super::folder::{Folder, Foreign, Identity, RECORD};
use super::format::{CommitMarker, MARKER, MarkerFile, MarkerState};
use super::format::{Entry, FORMAT_VERSION, Sum};
use super::lock::{LockOutcome, Locked};
use super::reader::{
    End, Lines, LogPosition, LogReader, Resume, Scan, ends_at, follow, scan, scan_lines,
};
use super::snapshot::SNAPSHOT;
use crate::model::ids::Stamp;
use crate::model::label::Who;

pub(super) use append::LogFile;

/// Apparent damage may be a writer or a file sync at work, so it counts only after the files have
/// been still for this long. Unit tests have no other process at work, and damage thousands of
/// records.
pub(super) const SETTLE: Duration = Duration::from_millis(if cfg!(test) { 1 } else { 10 });
/// How many times to check.
pub(super) const SETTLE_TRIES: u32 = 10;

/// An append-only record of events of type `E` in a folder. See the [module](super) for the format
/// and its guarantees.
///
/// Reading never changes the folder. To append, hold the log: that locks the folder and catches up
/// with other writers.
#[derive(Debug)]
pub struct Log<E> {
    dir: PathBuf,
    position: LogPosition,
    /// The end of the record when it was last found sound. It is kept whatever happens to the
    /// record later.
    witness: LogPosition,
    /// The current files haven't been read to the end, so nothing may be appended.
    unread: bool,
    /// The files when they were last read to the end; `None` if they have to be read.
    seen: Option<Seen>,
    damage: Option<Damage>,
    /// Number of bytes after the last good line, which were never acknowledged.
    torn: u64,
    /// A failed append left the contents of the disk unknown.
    in_doubt: bool,
    by: Option<Who>,
    /// The newest stamp of another copy, which the next event must exceed.
    knows: Stamp,
    writer: Option<Writer>,
    /// Findings and repairs while writing.
    notices: Vec<Notice>,
    line: Vec<u8>,
    events: PhantomData<fn(&E) -> E>,
}

/// State that exists only while holding the lock.
#[derive(Debug)]
struct Writer {
    locked: Locked,
    /// The record and its identity; opened for the first append.
    file: Option<(Box<dyn LogFile>, Identity)>,
    marker: MarkerFile,
}

/// The identities and lengths of the record and its marker.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Seen {
    record: Option<Identity>,
    marker: Option<Identity>,
}

impl Seen {
    fn of(folder: Option<&Folder>, dir: &Path) -> Result<Self, RecordError> {
        let Some(folder) = folder else {
            return Ok(Self::default());
        };
        let failed = |source| RecordError::read(dir, source);
        Ok(Self {
            record: folder.identity(RECORD).map_err(failed)?,
            marker: folder.identity(MARKER).map_err(failed)?,
        })
    }
}

/// Why a sound record can't be written to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Obstacle {
    /// Permissions, or a read-only disk.
    Protected,
    /// A file in the folder isn't a plain one with a single name.
    Foreign(PathBuf, Foreign),
}

/// Whether a folder has signs of a former record with events: copies of it, or a snapshot.
pub(super) fn was_here(folder: &Folder) -> bool {
    let copies = folder.folder(backup::BACKUPS).ok().flatten();
    let names = copies.and_then(|copies| copies.names().ok());
    let is_copy = |name: &std::ffi::OsString| {
        name.to_str()
            .is_some_and(|name| name.starts_with("record-") && name.ends_with(".jsonl"))
    };
    let is_kept = |name: &std::ffi::OsString| {
        name.to_str()
            .is_some_and(|name| name.starts_with(backup::SET_ASIDE.0))
    };
    names.is_some_and(|names| names.iter().any(is_copy))
        || folder.names().is_ok_and(|names| names.iter().any(is_kept))
        || matches!(folder.identity(SNAPSHOT), Ok(Some(_)))
}

/// The contents of a record as read.
#[derive(Debug)]
pub struct Loaded<E> {
    /// The events, from the first; or from the resume point on, if the record was resumed.
    pub entries: Vec<Entry<E>>,
    /// The requested events before the resume point, if the record was resumed.
    pub resumed: Option<Vec<Entry<E>>>,
    /// What the user should know.
    pub notices: Vec<Notice>,
}

/// What others did to a record since it was last read.
#[derive(Debug, PartialEq, Eq)]
pub enum News<E> {
    /// Nothing changed.
    None,
    /// These events were appended.
    More(Vec<Entry<E>>),
    /// The earlier contents changed, so the record must be [loaded](Log::load) again.
    Anew,
}

impl<E: Serialize + DeserializeOwned> Log<E> {
    /// The log in a folder, not read yet.
    #[must_use]
    pub fn at(dir: &Path) -> Self {
        Self {
            dir: dir.to_owned(),
            position: LogPosition::start(),
            witness: LogPosition::start(),
            unread: true,
            seen: None,
            damage: None,
            torn: 0,
            in_doubt: false,
            by: None,
            knows: Stamp::default(),
            writer: None,
            notices: Vec::new(),
            line: Vec::new(),
            events: PhantomData,
        }
    }

    /// Reads a log from its first event.
    ///
    /// # Errors
    /// See [`Log::load`].
    pub fn open(dir: &Path) -> Result<(Self, Loaded<E>), RecordError> {
        let mut log = Self::at(dir);
        let loaded = log.load(None)?;
        Ok((log, loaded))
    }

    /// Reads and judges the record, independently of earlier reads. If the record passes through
    /// the resume point, the lines before that are only verified. A missing folder or record is an
    /// empty log. Changes nothing. Time and memory are linear in the size of the record.
    ///
    /// # Errors
    /// When the folder or the record can't be read, or its format is newer than this program.
    /// Damage isn't an error: the good events are read.
    pub fn load(&mut self, from: Option<Resume<'_>>) -> Result<Loaded<E>, RecordError> {
        if let Some(writer) = self.writer.take() {
            let loaded = self.load_in(Some(writer.locked.folder()), from);
            self.writer = Some(writer);
            return loaded;
        }
        let mut tries = 0;
        loop {
            let folder = self.open_folder()?;
            let loaded = self.load_in(folder.as_ref(), from)?;
            let settled = self.torn == 0
                && self
                    .damage
                    .as_ref()
                    .is_none_or(|found| found.loss().is_none());
            if settled || tries == SETTLE_TRIES {
                return Ok(loaded);
            }
            tries += 1;
            thread::sleep(SETTLE);
            if self.seen == Some(Seen::of(folder.as_ref(), &self.dir)?) {
                return Ok(loaded);
            }
        }
    }

    fn open_folder(&self) -> Result<Option<Folder>, RecordError> {
        Folder::open(&self.dir).map_err(|source| RecordError::read(&self.dir, source))
    }

    fn load_in(
        &mut self,
        folder: Option<&Folder>,
        from: Option<Resume<'_>>,
    ) -> Result<Loaded<E>, RecordError> {
        let seen = Seen::of(folder, &self.dir)?;
        // After a failure below, the record has to be read again before anything is written.
        (self.unread, self.seen) = (true, None);
        self.position = LogPosition::start();
        self.damage = None;
        self.torn = 0;
        self.in_doubt = false;
        let mut loaded = Loaded {
            entries: Vec::new(),
            resumed: None,
            notices: Vec::new(),
        };
        let Some(folder) = folder else {
            (self.unread, self.seen) = (false, Some(seen));
            return Ok(loaded);
        };
        // Read before the record, which may grow meanwhile but is never behind the marker.
        let marker = self.read_marker(folder)?;
        let path = self.path();
        let failed = |source| RecordError::read(&path, source);
        let Some(file) = folder.read(RECORD).map_err(failed)? else {
            (self.unread, self.seen) = (false, Some(seen));
            self.damage = match &marker {
                MarkerState::Absent if !was_here(folder) => None,
                marker => Some(Damage::Missing {
                    recorded: marker.known().map(|marker| marker.events),
                }),
            };
            return Ok(loaded);
        };
        // Without a marker, the best evidence is the newest backup, or the position this process read before, whichever
        // is further.
        let witness = self.witness.events;
        let proved =
            marker.or_proved(|| backup::proof(folder).filter(|proof| proof.events >= witness));
        let watch = match &proved {
            MarkerState::Absent => self.witness.events,
            proved => proved.known().map_or(0, |proof| proof.events),
        };
        let found = self.scan_from(file, from, Some(watch)).map_err(failed)?;
        let sum_at = found.sum_at;
        // An empty record without a marker is as good as none.
        let proved = match self.position.events {
            0 if marker == MarkerState::Absent => MarkerState::Absent,
            _ => proved,
        };
        self.judge(found.end, sum_at, &proved)?;
        if proved == MarkerState::Absent && self.damage.is_none() {
            self.damage = self.unmarked(folder, sum_at);
        }
        loaded.notices = self.notices(&marker);
        if self.damage.is_none() {
            let replaced = !self.goes_on_from(&self.witness, folder).map_err(failed)?;
            loaded.notices.extend(replaced.then_some(Notice::Replaced));
            self.witness = self.position;
        }
        (self.unread, self.seen) = (false, Some(seen));
        loaded.entries = found.entries;
        loaded.resumed = found.resumed;
        Ok(loaded)
    }

    /// What the user should know about the record as read.
    fn notices(&self, marker: &MarkerState) -> Vec<Notice> {
        // If events are lost, an unfinished line may be one of them.
        let torn = (self.torn > 0 && self.damage.is_none()).then(|| Notice::Torn {
            line: self.position.next_line(),
            bytes: self.torn,
            kept: None,
        });
        let unmarked = *marker == MarkerState::Absent && self.position.events > 0;
        let unmarked = unmarked.then_some(Notice::NoMarker);
        torn.into_iter().chain(unmarked).collect()
    }

    /// Damage found without a marker: by comparing with what this process read before, given the
    /// sum now found there, and by other files in the folder.
    fn unmarked(&self, folder: &Folder, sum_at: Option<Sum>) -> Option<Damage> {
        let found = self.position.events;
        let recorded = self.witness.events;
        match sum_at {
            None if recorded > found => Some(Damage::Shortened { recorded, found }),
            Some(sum) if sum != self.witness.sum => Some(Damage::Exchanged { recorded, found }),
            _ if found == 0 && was_here(folder) => Some(Damage::Missing { recorded: None }),
            _ => None,
        }
    }

    fn read_marker(&self, folder: &Folder) -> Result<MarkerState, RecordError> {
        MarkerState::read(folder)
            .map_err(|source| RecordError::read(&self.dir.join(MARKER), source))
    }

    /// Reads a whole record, or the part after the resume point.
    fn scan_from(
        &mut self,
        mut file: File,
        from: Option<Resume<'_>>,
        watch: Option<u64>,
    ) -> std::io::Result<Scan<E>> {
        if let Some(from) = from {
            let mut lines = Lines::new(&mut file);
            if let Some(followed) = follow(&mut lines, from, watch)? {
                self.position = followed.position;
                let mut scan = scan_lines(&mut lines, &mut self.position, watch)?;
                scan.sum_at = scan.sum_at.or(followed.sum_at);
                scan.resumed = Some(followed.entries);
                return Ok(scan);
            }
            file.rewind()?;
        }
        scan(file, &mut self.position, watch)
    }

    /// Judges the record by the end of a scan and the marker. `sum_at` is the checksum of the last
    /// acknowledged event.
    fn judge(
        &mut self,
        end: End,
        sum_at: Option<Sum>,
        marker: &MarkerState,
    ) -> Result<(), RecordError> {
        let found = self.position.events;
        match end {
            End::Clean => {}
            End::Torn(bytes) => self.torn = bytes,
            End::Damaged(reason) => {
                let line = self.position.next_line();
                self.damage = Some(Damage::Line {
                    line,
                    reason,
                    good: found,
                });
                return Ok(());
            }
            End::Newer(found) => {
                return Err(RecordError::NewerFormat {
                    path: self.path(),
                    found,
                    known: FORMAT_VERSION,
                });
            }
        }
        self.damage = match marker {
            MarkerState::Absent => None,
            MarkerState::Unreadable => Some(Damage::Marker { found }),
            MarkerState::Known(CommitMarker { events, last, .. }) => {
                let recorded = *events;
                match sum_at {
                    None if recorded > found => Some(Damage::Shortened { recorded, found }),
                    Some(sum) if sum != *last => Some(Damage::Exchanged { recorded, found }),
                    _ => None,
                }
            }
        };
        Ok(())
    }

    /// Checks for changes by others since the record was last read. Changes nothing in the folder.
    /// If nothing happened, it costs one check of two files.
    ///
    /// # Errors
    /// When the folder or the record can't be read.
    pub fn look(&mut self) -> Result<News<E>, RecordError> {
        let folder = self.open_folder()?;
        self.look_in(folder.as_ref())
    }

    fn look_in(&mut self, folder: Option<&Folder>) -> Result<News<E>, RecordError> {
        let now = Seen::of(folder, &self.dir)?;
        if self.seen == Some(now) {
            return Ok(News::None);
        }
        let (Some(folder), Some(before), Some(there)) =
            (folder, self.seen.and_then(|seen| seen.record), now.record)
        else {
            return Ok(News::Anew);
        };
        // A record only grows. One that was written to and didn't grow has other contents.
        let grew = there == before || there.length > before.length;
        let goes_on = before.is_same_file(&there)
            && grew
            && there.length >= self.position.bytes
            && self.position.bytes > 0
            && self.damage.is_none()
            && !self.in_doubt;
        if !goes_on {
            return Ok(News::Anew);
        }
        let marker = self.read_marker(folder)?;
        let path = self.path();
        let failed = |source| RecordError::read(&path, source);
        let Some(mut file) = folder.read(RECORD).map_err(failed)? else {
            return Ok(News::Anew);
        };
        if !ends_at(&mut file, &self.position).map_err(failed)? {
            return Ok(News::Anew);
        }
        let (was, torn) = (self.position, self.torn);
        let watch = marker.known().map(|marker| marker.events);
        let watched = (watch == Some(was.events)).then_some(was.sum);
        let found: Scan<E> = scan(file, &mut self.position, watch).map_err(failed)?;
        self.torn = 0;
        self.judge(found.end, found.sum_at.or(watched), &marker)?;
        if self.damage.is_some() {
            // Judge this without haste, from the whole record.
            (self.position, self.torn, self.damage) = (was, torn, None);
            return Ok(News::Anew);
        }
        self.witness = self.position;
        self.seen = Some(now);
        match found.entries.is_empty() {
            true => Ok(News::None),
            false => Ok(News::More(found.entries)),
        }
    }

    /// Reads the whole record at the next look, because it may not be what was read.
    pub(super) fn doubt(&mut self) {
        self.seen = None;
    }

    /// Whether the record holds the line that a position comes after.
    fn goes_on_from(&self, position: &LogPosition, folder: &Folder) -> std::io::Result<bool> {
        if position.events == 0 {
            return Ok(true);
        }
        let file = folder.read(RECORD)?;
        file.map_or(Ok(false), |mut file| ends_at(&mut file, position))
    }

    /// Locks the folder, waiting up to `wait`, and catches up with others. From then on this log is
    /// the only writer, until it is [released](Log::release) or dropped. After [`News::Anew`], load
    /// the log before appending.
    ///
    /// # Errors
    /// [`RecordError::Busy`] if another process kept the lock; also when the folder can't be locked
    /// or read.
    pub fn hold(&mut self, wait: Duration) -> Result<News<E>, RecordError> {
        if self.writer.is_some() {
            return Ok(News::None);
        }
        let LockOutcome::Held(locked) = Locked::acquire(&self.dir, wait)? else {
            return Err(RecordError::Busy);
        };
        let news = self.look_in(Some(locked.folder()))?;
        self.writer = Some(Writer {
            locked,
            file: None,
            marker: MarkerFile::default(),
        });
        Ok(news)
    }

    /// Releases the lock.
    pub fn release(&mut self) {
        self.writer = None;
    }

    /// Whether this log holds the lock.
    #[must_use]
    pub const fn is_held(&self) -> bool {
        self.writer.is_some()
    }

    /// Whether the folder exists, so that it can be locked.
    ///
    /// # Errors
    /// When that can't be determined.
    pub fn has_folder(&self) -> Result<bool, RecordError> {
        Ok(self.open_folder()?.is_some())
    }

    /// Whether the record existed when last checked.
    pub(super) fn has_record(&self) -> bool {
        self.seen.is_some_and(|seen| seen.record.is_some())
    }

    /// Why this process can't write to the folder, the record or its marker, as far as is known
    /// without trying.
    #[must_use]
    pub fn obstacle(&self) -> Option<Obstacle> {
        // If the check fails, a change will report the reason.
        let folder = self.open_folder().ok()??;
        if !folder.may_change() {
            return Some(Obstacle::Protected);
        }
        [RECORD, MARKER].into_iter().find_map(|name| {
            let why = folder.obstacle(name)?;
            Some(match Foreign::behind(&why) {
                Some(foreign) => Obstacle::Foreign(self.dir.join(name), foreign),
                None => Obstacle::Protected,
            })
        })
    }

    /// The damage to the record, if any; a damaged record can't be appended to.
    #[must_use]
    pub const fn damage(&self) -> Option<&Damage> {
        self.damage.as_ref()
    }

    /// The end of the last event read or appended.
    #[must_use]
    pub const fn position(&self) -> LogPosition {
        self.position
    }

    /// Sets the writer's name for events appended from now on. There is none at first.
    pub fn sign_as(&mut self, by: Option<Who>) {
        self.by = by;
    }

    /// Makes the events appended from now on come after another copy's events up to this stamp.
    pub(super) fn comes_after(&mut self, stamp: Stamp) {
        self.knows = self.knows.max(stamp);
    }

    /// Keeps findings for [`Log::take_notices`].
    pub(super) fn report(&mut self, found: impl Iterator<Item = Notice>) {
        self.notices.extend(found);
    }

    /// Takes the findings and repairs while appending.
    pub fn take_notices(&mut self) -> Vec<Notice> {
        std::mem::take(&mut self.notices)
    }

    /// Reads the events known so far, from the first, one at a time from disk.
    ///
    /// # Errors
    /// When the record can't be opened for reading.
    pub fn reader(&self) -> Result<LogReader<E>, RecordError> {
        LogReader::open(self.open_folder()?.as_ref(), self.position.events)
    }

    fn path(&self) -> PathBuf {
        self.dir.join(RECORD)
    }

    /// The backup of the record as far as it was read, if it is sound, has events, and today has no
    /// copy yet. Costs one look at the folder.
    pub(super) fn backup_due(&self, today: Date) -> Option<Due> {
        let sound = self.damage.is_none() && !self.in_doubt && self.position.events > 0;
        (sound && !backup::exists(&self.dir, today)).then(|| Due {
            dir: self.dir.clone(),
            today,
            bytes: self.position.bytes,
            sum: self.position.sum,
        })
    }

    /// Runs an operation in the locked folder.
    pub(super) fn in_folder<T>(
        &self,
        f: impl FnOnce(&Folder, &LogPosition) -> std::io::Result<T>,
    ) -> std::io::Result<T> {
        match &self.writer {
            Some(writer) => f(writer.locked.folder(), &self.position),
            None => Err(std::io::ErrorKind::PermissionDenied.into()),
        }
    }

    /// Accepts the current record as it is, if the only damage is lost events.
    pub(super) fn accept_loss(&mut self) {
        self.damage = self.damage.take().filter(|found| found.loss().is_none());
    }

    /// Remembers the files as this log left them.
    fn note_seen(&mut self) {
        let folder = self.writer.as_ref().map(|writer| writer.locked.folder());
        self.seen = Seen::of(folder, &self.dir).ok();
    }
}
