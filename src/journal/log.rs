//! Reading the record and adding to it.

mod append;

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
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
use super::format::{self, Entry, FORMAT_VERSION, Sum};
use super::format::{CommitMarker, MARKER, MarkerFile, MarkerState};
use super::lock::{LockOutcome, Locked};
use super::reader::{End, Lines, LogPosition, LogReader, Resume, Scan, follow, scan, scan_lines};
use super::snapshot::SNAPSHOT;
use crate::model::ids::Stamp;
use crate::model::label::Who;

pub(super) use append::LogFile;

/// What looks like damage may be a writer or a sync at work: it counts when nothing has moved for so long.
/// In the unit tests nobody else is at work, and thousands of records are damaged.
pub(super) const SETTLE: Duration = Duration::from_millis(if cfg!(test) { 1 } else { 10 });
/// How often that is looked at.
pub(super) const SETTLE_TRIES: u32 = 10;

/// An append-only record of events of type `E` in a folder. See the [module](super) for the format and
/// its laws.
///
/// Reading never changes the folder. To append, the log is held: that locks the folder and catches up with
/// what others appended.
#[derive(Debug)]
pub struct Log<E> {
    dir: PathBuf,
    position: LogPosition,
    /// How far the record had come when it was last found sound, which is remembered whatever is there
    /// since.
    witness: LogPosition,
    /// What is there has not been read to its end, so nothing may be written on it.
    unread: bool,
    /// The files as they were when they were last read to the end; nothing where they have to be read.
    seen: Option<Seen>,
    damage: Option<Damage>,
    /// So many bytes after the last good line were never acknowledged.
    torn: u64,
    /// An append failed so that what the disk holds is not known.
    in_doubt: bool,
    by: Option<Who>,
    /// The newest stamp of another copy that what is appended next knows of.
    knows: Stamp,
    writer: Option<Writer>,
    /// What was found or done while writing.
    notices: Vec<Notice>,
    line: Vec<u8>,
    events: PhantomData<fn(&E) -> E>,
}

/// What only the holder of the lock has.
#[derive(Debug)]
struct Writer {
    locked: Locked,
    /// The record, and which file it is; opened for the first append.
    file: Option<(Box<dyn LogFile>, Identity)>,
    marker: MarkerFile,
}

/// Which files the record and its marker are, and how long.
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

/// Why a sound record cannot be written to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Obstacle {
    /// Permissions, or a disk that is only read.
    Protected,
    /// A file in the folder is not a plain one with one name.
    Foreign(PathBuf, Foreign),
}

/// Whether something in a folder shows that it held a record with events: copies of it, or a snapshot.
pub(super) fn was_here(folder: &Folder) -> bool {
    let copies = folder.folder(backup::BACKUPS).ok().flatten();
    let names = copies.and_then(|copies| copies.names().ok());
    let is_copy = |name: &std::ffi::OsString| {
        name.to_str()
            .is_some_and(|name| name.starts_with("record-") && name.ends_with(".jsonl"))
    };
    let is_kept = |name: &std::ffi::OsString| {
        name.to_str()
            .is_some_and(|name| name.starts_with("record.before-restore-"))
    };
    names.is_some_and(|names| names.iter().any(is_copy))
        || folder.names().is_ok_and(|names| names.iter().any(is_kept))
        || matches!(folder.identity(SNAPSHOT), Ok(Some(_)))
}

/// What was read from a record.
#[derive(Debug)]
pub struct Loaded<E> {
    /// The events, from the first; from the one after where the record was resumed.
    pub entries: Vec<Entry<E>>,
    /// The events before that were asked for, where the record was resumed.
    pub resumed: Option<Vec<Entry<E>>>,
    /// What the person should be told.
    pub notices: Vec<Notice>,
}

/// What others did to a record since it was read.
#[derive(Debug, PartialEq, Eq)]
pub enum News<E> {
    /// Nothing.
    None,
    /// These events were appended.
    More(Vec<Entry<E>>),
    /// It is not what was read before, with more behind it: it has to be [loaded](Log::load) again.
    Anew,
}

impl<E: Serialize + DeserializeOwned> Log<E> {
    /// The log in a folder, of which nothing has been read yet.
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
    /// As [`Log::load`].
    pub fn open(dir: &Path) -> Result<(Self, Loaded<E>), RecordError> {
        let mut log = Self::at(dir);
        let loaded = log.load(None)?;
        Ok((log, loaded))
    }

    /// Reads the record and judges it, whatever was read before; where it goes through the place to resume
    /// from, what stands before is only verified. No folder and no record are an empty log. Changes
    /// nothing. Time and memory are linear in the size of the record.
    ///
    /// # Errors
    /// Where the folder or the record cannot be read, or its format is newer than this program. A damaged
    /// record is none: its good events are read.
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
        // What fails from here on has to be read again before anything is written.
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
        // Read before the record, which may grow meanwhile and is never behind it.
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
        // Without a marker, what this process has read before is the best witness.
        let watch = match &marker {
            MarkerState::Absent => self.witness.events,
            marker => marker.known().map_or(0, |marker| marker.events),
        };
        let found = self.scan_from(file, from, Some(watch)).map_err(failed)?;
        let sum_at = found.sum_at;
        self.judge(found.end, sum_at, &marker)?;
        if marker == MarkerState::Absent && self.damage.is_none() {
            self.damage = self.unmarked(folder, sum_at);
        }
        if self.damage.is_none() {
            self.witness = self.position;
        }
        (self.unread, self.seen) = (false, Some(seen));
        loaded.entries = found.entries;
        loaded.resumed = found.resumed;
        loaded.notices = self.notices(&marker);
        Ok(loaded)
    }

    /// What the person should know of a record as it was read.
    fn notices(&self, marker: &MarkerState) -> Vec<Notice> {
        // Where events are lost, what breaks off may be one of them.
        let torn = (self.torn > 0 && self.damage.is_none()).then(|| Notice::Torn {
            line: self.position.next_line(),
            bytes: self.torn,
            kept: None,
        });
        let unmarked = *marker == MarkerState::Absent && self.position.events > 0;
        let unmarked = unmarked.then_some(Notice::NoMarker);
        torn.into_iter().chain(unmarked).collect()
    }

    /// What else than a marker says of a record: what this process has read before, with the sum that stands
    /// there now, and what lies beside it.
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

    /// Reads all of a record, or what comes after the place to resume from.
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

    /// What the end of a reading and the marker say of the record. `sum_at` is the checksum of the event
    /// that was acknowledged last.
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

    /// Looks for what others did since the record was last read. Changes nothing in the folder. Costs a
    /// look at two files where nothing happened.
    ///
    /// # Errors
    /// Where the folder or the record cannot be read.
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
        let goes_on = before.is_same_file(&there)
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
        if !self.ends_as_read(&mut file).map_err(failed)? {
            return Ok(News::Anew);
        }
        let (was, torn) = (self.position, self.torn);
        let watch = marker.known().map(|marker| marker.events);
        let watched = (watch == Some(was.events)).then_some(was.sum);
        let found: Scan<E> = scan(file, &mut self.position, watch).map_err(failed)?;
        self.torn = 0;
        self.judge(found.end, found.sum_at.or(watched), &marker)?;
        if self.damage.is_some() {
            // To be judged with patience, by all of the record.
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

    /// Whether the record still has the last line that was read where it was; then `file` stands behind it.
    fn ends_as_read(&self, file: &mut File) -> std::io::Result<bool> {
        let seal = format::seal_of(self.position.sum);
        let Some(at) = self.position.bytes.checked_sub(seal.len() as u64) else {
            return Ok(false);
        };
        let mut there = vec![0; seal.len()];
        file.seek(SeekFrom::Start(at))?;
        match file.read_exact(&mut there) {
            Ok(()) => Ok(there == seal),
            Err(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// Locks the folder, for which it waits so long, and catches up with what others did. From then on
    /// this log is the only writer, until it is [released](Log::release) or dropped. After
    /// [`News::Anew`] it has to be loaded before anything is appended.
    ///
    /// # Errors
    /// [`RecordError::Busy`] where another process kept the lock; where the folder cannot be locked or
    /// read.
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

    /// Gives up the lock.
    pub fn release(&mut self) {
        self.writer = None;
    }

    /// Whether this log holds the lock.
    #[must_use]
    pub const fn is_held(&self) -> bool {
        self.writer.is_some()
    }

    /// Whether there is a folder to lock.
    ///
    /// # Errors
    /// Where that cannot be looked at.
    pub fn has_folder(&self) -> Result<bool, RecordError> {
        Ok(self.open_folder()?.is_some())
    }

    /// Whether a record was there when it was last looked for.
    pub(super) fn has_record(&self) -> bool {
        self.seen.is_some_and(|seen| seen.record.is_some())
    }

    /// Why this process cannot write to the folder, the record or its marker, as far as can be told without
    /// trying.
    #[must_use]
    pub fn obstacle(&self) -> Option<Obstacle> {
        // Where it cannot be looked at, a change will say why.
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

    /// What is wrong with the record; then nothing can be appended.
    #[must_use]
    pub const fn damage(&self) -> Option<&Damage> {
        self.damage.as_ref()
    }

    /// Where the record stands: the last event that was read or appended.
    #[must_use]
    pub const fn position(&self) -> LogPosition {
        self.position
    }

    /// Says who makes the changes that are appended from now on. Nobody at first.
    pub fn sign_as(&mut self, by: Option<Who>) {
        self.by = by;
    }

    /// What is appended from now on comes after the events of another copy up to this stamp.
    pub(super) fn comes_after(&mut self, stamp: Stamp) {
        self.knows = self.knows.max(stamp);
    }

    /// What was found or done while appending, once.
    pub fn take_notices(&mut self) -> Vec<Notice> {
        std::mem::take(&mut self.notices)
    }

    /// The events that were read so far, from the first, one after the other from the disk.
    ///
    /// # Errors
    /// Where the record cannot be opened to be read.
    pub fn reader(&self) -> Result<LogReader<E>, RecordError> {
        LogReader::open(self.open_folder()?.as_ref(), self.position.events)
    }

    fn path(&self) -> PathBuf {
        self.dir.join(RECORD)
    }

    /// The backup of the record as far as it was read, where it is sound, has events, and there is no copy
    /// of this day yet. Costs one look at the folder.
    pub(super) fn backup_due(&self, today: Date) -> Option<Due> {
        let sound = self.damage.is_none() && !self.in_doubt && self.position.events > 0;
        (sound && !backup::exists(&self.dir, today)).then(|| Due {
            dir: self.dir.clone(),
            today,
            bytes: self.position.bytes,
            sum: self.position.sum,
        })
    }

    /// Does something in the locked folder.
    pub(super) fn in_folder<T>(
        &self,
        f: impl FnOnce(&Folder, &LogPosition) -> std::io::Result<T>,
    ) -> std::io::Result<T> {
        match &self.writer {
            Some(writer) => f(writer.locked.folder(), &self.position),
            None => Err(std::io::ErrorKind::PermissionDenied.into()),
        }
    }

    /// From now on what is there counts, where events are lost and nothing else is wrong.
    pub(super) fn accept_loss(&mut self) {
        self.damage = self.damage.take().filter(|found| found.loss().is_none());
    }

    /// Takes note of the files as this log left them.
    fn note_seen(&mut self) {
        let folder = self.writer.as_ref().map(|writer| writer.locked.folder());
        self.seen = Seen::of(folder, &self.dir).ok();
    }
}
