//! Appends to the record under the lock: either the lines reach the disk, or the file stays
//! unchanged. The few file operations needed are a trait, so that tests can make each of them fail.

use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};

use jiff::Timestamp;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{Log, Writer};
use crate::journal::error::{LineError, Notice, RecordError, Unrecordable};
use crate::journal::folder::{Foreign, Identity, RECORD};
use crate::journal::format::{self, Envelope, MAX_LINE, Sum};
use crate::journal::format::{CommitMarker, MARKER, MarkerFile};
use crate::journal::reader::{LogPosition, ends_at};
use crate::model::ids::EventId;

/// Lines ready to be written.
pub(in crate::journal) struct Composed {
    lines: Vec<u8>,
    /// The end of the record after these lines.
    position: LogPosition,
}

impl Composed {
    /// Length of the record after these lines, in bytes.
    pub(in crate::journal) const fn bytes(&self) -> u64 {
        self.position.bytes
    }
}

impl<E: Serialize + DeserializeOwned> Log<E> {
    /// Puts an event on disk and returns its number. Once this returns, the event survives a crash;
    /// if it fails, nothing was acknowledged.
    ///
    /// # Errors
    /// See [`Log::append_all`].
    pub fn append(&mut self, time: Timestamp, event: &E) -> Result<u64, RecordError> {
        self.append_all(time, std::slice::from_ref(event))
    }

    /// Puts several events on disk with one sync, and returns the number of the last one; without
    /// events, that of the record's last event. Once this returns, all of them survive a crash; if
    /// it fails, none was acknowledged. A crash before it returns may leave a prefix of them. The
    /// log must be held.
    ///
    /// # Errors
    /// When the log isn't held, the record is damaged, an event has no readable form, the disk
    /// fails, or something else changed the record.
    pub fn append_all(&mut self, time: Timestamp, events: &[E]) -> Result<u64, RecordError> {
        let composed = self.compose(time, events, None)?;
        self.write(composed)
    }

    /// Composes the lines of events, with the digest of the state after them in the last line, if
    /// given.
    pub(in crate::journal) fn compose(
        &mut self,
        time: Timestamp,
        events: &[E],
        state: Option<Sum>,
    ) -> Result<Composed, RecordError> {
        let mut position = self.position;
        if position.bytes == 0 {
            position.bytes = format::header().0.len() as u64;
        }
        let mut lines = Vec::new();
        for (at, event) in events.iter().enumerate() {
            let seq = position.events + 1;
            let unrecordable = RecordError::Unrecordable;
            let drawn = getrandom::u64()
                .map_err(|error| unrecordable(Unrecordable::NoRandomNumber(error)))?;
            let envelope = Envelope {
                id: EventId(drawn),
                stamp: position.stamp.max(self.knows).next(time),
                time,
                by: self.by.as_ref(),
                state: state.filter(|_| at + 1 == events.len()),
            };
            let sum = format::compose(&mut self.line, position.sum, seq, envelope, event)
                .map_err(|error| unrecordable(Unrecordable::NoForm(error)))?;
            if self.line.len() > MAX_LINE {
                return Err(unrecordable(Unrecordable::Line(LineError::TooLong)));
            }
            // A line that can't be read back, for example with a number that isn't finite, would
            // block the whole record the next time it is opened.
            format::parse_next_line::<E>(seq, position.stamp, &self.line)
                .map_err(|flaw| unrecordable(Unrecordable::Line(flaw)))?;
            position.pass(&self.line, sum, envelope.stamp);
            if envelope.state.is_some() {
                position.note_digest();
            }
            lines.extend_from_slice(&self.line);
        }
        Ok(Composed { lines, position })
    }

    /// Puts composed lines on disk and acknowledges them.
    pub(in crate::journal) fn write(&mut self, composed: Composed) -> Result<u64, RecordError> {
        if let Some(damage) = &self.damage {
            return Err(RecordError::ReadOnly(damage.clone()));
        }
        if self.in_doubt {
            return Err(RecordError::InDoubt { path: self.path() });
        }
        if self.unread {
            return Err(RecordError::Overtaken { path: self.path() });
        }
        if composed.lines.is_empty() {
            return Ok(self.position.events);
        }
        let Some(mut writer) = self.writer.take() else {
            return Err(RecordError::Overtaken { path: self.path() });
        };
        let created = self.position.bytes == 0;
        let written = self
            .prepare(&mut writer)
            .and_then(|()| self.acknowledge(&mut writer, &composed));
        if written.is_err() && created && !self.in_doubt {
            // A record without events carries no more information than a missing one.
            self.forget_new(&mut writer);
        }
        self.writer = Some(writer);
        match written {
            Ok(()) => self.note_seen(),
            // The current files have to be read again.
            Err(_) => self.seen = None,
        }
        written.map(|()| self.position.events)
    }

    /// Creates the record if there is none, sets aside unacknowledged bytes, and opens the file for
    /// writing.
    fn prepare(&mut self, writer: &mut Writer) -> Result<(), RecordError> {
        if !writer.locked.is_ours() {
            return Err(RecordError::Overtaken { path: self.path() });
        }
        let path = self.path();
        let unwritable = |source| RecordError::unwritable(&path, source);
        if self.torn > 0 {
            self.set_torn_aside(writer).map_err(unwritable)?;
        }
        if self.position.bytes == 0 {
            self.create(writer)
                .map_err(|source| match Foreign::behind(&source) {
                    Some(_) => unwritable(source),
                    None => RecordError::Create {
                        path: path.clone(),
                        source,
                    },
                })?;
        }
        if writer.file.is_none() {
            let marker = MarkerFile::open(writer.locked.folder());
            writer.marker =
                marker.map_err(|source| RecordError::unwritable(&self.dir.join(MARKER), source))?;
            let file = writer.locked.folder().change(RECORD).map_err(unwritable)?;
            let file = file.ok_or_else(|| RecordError::Overtaken { path: path.clone() })?;
            let identity = Identity::of(&file).map_err(unwritable)?;
            writer.file = Some((Box::new(file), identity));
        }
        match self.is_as_read(writer) {
            Ok(true) => Ok(()),
            Ok(false) => Err(RecordError::Overtaken { path }),
            Err(source) => Err(RecordError::read(&path, source)),
        }
    }

    /// Whether the record under its name is the open file, and still ends where it was read to,
    /// with the same last line.
    fn is_as_read(&self, writer: &Writer) -> io::Result<bool> {
        let Some((_, ours)) = &writer.file else {
            return Ok(false);
        };
        let folder = writer.locked.folder();
        let there = folder.identity(RECORD)?;
        let same = there
            .is_some_and(|there| there.is_same_file(ours) && there.length == self.position.bytes);
        if !same {
            return Ok(false);
        }
        match folder.read(RECORD)? {
            Some(mut file) => ends_at(&mut file, &self.position),
            None => Ok(false),
        }
    }

    fn create(&mut self, writer: &Writer) -> io::Result<()> {
        let folder = writer.locked.folder();
        let (header, _) = format::header();
        let mut new = folder.begin("record-", ".new")?;
        new.fill(&header)?;
        match folder.identity(RECORD)? {
            Some(there) if there.length == 0 => new.place(RECORD)?,
            // Never replace a file that holds any bytes.
            _ => new.place_new(RECORD)?,
        }
        folder.sync()?;
        self.position.bytes = header.len() as u64;
        Ok(())
    }

    fn forget_new(&mut self, writer: &mut Writer) {
        let folder = writer.locked.folder();
        let there = folder.identity(RECORD).ok().flatten();
        let (header, _) = format::header();
        if there.is_some_and(|there| there.length == header.len() as u64) {
            let _ = folder.remove(RECORD);
            writer.file = None;
            self.position = LogPosition::start();
        }
    }

    fn set_torn_aside(&mut self, writer: &Writer) -> io::Result<()> {
        let folder = writer.locked.folder();
        let (from, line) = (self.position.bytes, self.position.next_line());
        let gone = || io::Error::from(io::ErrorKind::NotFound);
        let mut record: File = folder.change(RECORD)?.ok_or_else(gone)?;
        let kept = folder.keep(&mut record, from, "record.torn-", "")?;
        record.set_len(from)?;
        record.sync_all()?;
        self.notices.push(Notice::Torn {
            line,
            bytes: self.torn,
            kept: Some(kept),
        });
        self.torn = 0;
        Ok(())
    }

    /// Writes and syncs, checks that the path still leads to the written file, and notes the
    /// acknowledged events in the marker.
    fn acknowledge(&mut self, writer: &mut Writer, composed: &Composed) -> Result<(), RecordError> {
        let path = self.path();
        let Writer {
            locked,
            file: Some((file, ours)),
            marker,
        } = writer
        else {
            return Err(RecordError::Overtaken { path });
        };
        let end = self.position.bytes;
        if let Err(error) = append(file.as_mut(), end, &composed.lines) {
            return Err(match error {
                AppendError::Undone(source) => RecordError::NotSaved { path, source },
                AppendError::NotSynced(source) => {
                    self.in_doubt = true;
                    RecordError::NotSynced { path, source }
                }
                AppendError::NotUndone { source, undo } => {
                    self.in_doubt = true;
                    RecordError::NotUndone { path, source, undo }
                }
            });
        }
        let there = locked.folder().identity(RECORD).ok().flatten();
        let replaced = !there.is_some_and(|there| there.is_same_file(ours)) || !locked.is_ours();
        let noted = match replaced {
            true => Err(RecordError::Overtaken { path: path.clone() }),
            false => self.note(locked, marker, composed),
        };
        let Err(error) = noted else {
            self.position = composed.position;
            self.witness = self.position;
            return Ok(());
        };
        // Nothing was acknowledged, so remove it all: the file may come back under its name.
        let undone =
            locked.kept_others_out() && take_back(file.as_mut(), end, &composed.lines).is_ok();
        self.in_doubt = !undone;
        Err(error)
    }

    fn note(
        &self,
        locked: &super::Locked,
        marker: &mut MarkerFile,
        composed: &Composed,
    ) -> Result<(), RecordError> {
        let LogPosition {
            events, sum, first, ..
        } = composed.position;
        let commit = CommitMarker {
            events,
            last: sum,
            first: first.unwrap_or(sum),
        };
        let noted = marker.note(locked.folder(), &commit);
        noted.map_err(|source| RecordError::NotSaved {
            path: self.dir.join(MARKER),
            source,
        })
    }

    /// Replaces the writer's file, to test its failures.
    #[cfg(test)]
    pub(in crate::journal) fn write_through(&mut self, file: impl LogFile + 'static) {
        let mut writer = self.writer.take().unwrap();
        self.prepare(&mut writer).unwrap();
        writer.file.as_mut().unwrap().0 = Box::new(file);
        self.writer = Some(writer);
    }
}

/// The file that appends write to.
pub(in crate::journal) trait LogFile: std::fmt::Debug + Send {
    /// Writes some of `bytes` at offset `at`; returns how many.
    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize>;
    /// Returns once all writes are on disk.
    fn sync(&mut self) -> io::Result<()>;
    /// Cuts the file to `len` bytes.
    fn truncate(&mut self, len: u64) -> io::Result<()>;
    fn length(&mut self) -> io::Result<u64>;
}

impl LogFile for File {
    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize> {
        self.seek(SeekFrom::Start(at))?;
        Write::write(self, bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }

    fn truncate(&mut self, len: u64) -> io::Result<()> {
        self.set_len(len)
    }

    fn length(&mut self) -> io::Result<u64> {
        Ok(self.metadata()?.len())
    }
}

/// Why lines are not on disk.
#[derive(Debug)]
enum AppendError {
    /// The write failed, and none of the lines are left.
    Undone(io::Error),
    /// The sync failed. The lines were cut off, but the disk's contents are unknown.
    NotSynced(io::Error),
    /// The write or the sync failed, and so did cutting the lines off.
    NotUndone { source: io::Error, undo: io::Error },
}

/// Puts `lines` on disk at offset `end`, the end of the last acknowledged line.
///
/// After [`AppendError::NotSynced`] and [`AppendError::NotUndone`] nothing more may be appended. A
/// system may forget data it failed to store, and then the next sync succeeds without it; so a
/// success after a failed sync proves nothing.
fn append(file: &mut dyn LogFile, end: u64, lines: &[u8]) -> Result<(), AppendError> {
    let written = write_all(file, end, lines);
    let was_written = written.is_ok();
    let Err(source) = written.and_then(|()| file.sync()) else {
        return Ok(());
    };
    match take_back(file, end, lines) {
        Ok(()) if was_written => Err(AppendError::NotSynced(source)),
        Ok(()) => Err(AppendError::Undone(source)),
        Err(undo) => Err(AppendError::NotUndone { source, undo }),
    }
}

/// Cuts off `lines`, or a part of them, appended at offset `end`; returns once that is on disk.
/// Keeps anything that somebody else appended after them, as in a file that was moved to another
/// folder.
fn take_back(file: &mut dyn LogFile, end: u64, lines: &[u8]) -> io::Result<()> {
    if file.length()? > end + lines.len() as u64 {
        return Err(io::ErrorKind::ResourceBusy.into());
    }
    file.truncate(end).and_then(|()| file.sync())
}

fn write_all(file: &mut dyn LogFile, mut at: u64, mut bytes: &[u8]) -> io::Result<()> {
    while !bytes.is_empty() {
        match file.write(at, bytes) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => {
                at += n as u64;
                bytes = &bytes[n..];
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(())
}
