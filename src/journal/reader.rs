//! Reads the record's lines in order, as far as they can be verified; also reads copies of a record
//! in any place, such as one that was changed on another computer.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::marker::PhantomData;
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;

use super::error::{Damage, LineError, RecordError};
use super::folder::{Folder, Foreign, RECORD};
use super::format::{self, Entry, FORMAT_VERSION, MAX_LINE, Sum};
use super::format::{MARKER, MarkerState};
use crate::model::ids::Stamp;

/// Disks write in sectors of at least this many bytes, so a hole left by a crash starts and ends at
/// a multiple of it.
const SECTOR: u64 = 512;

/// How far a record has been verified: the end of a line, identified by its checksum. As each
/// checksum covers the previous one, a record with the same checksum at that point has the very
/// same lines up to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LogPosition {
    /// Number of events.
    pub events: u64,
    /// Length in bytes; 0 if not even the header was read.
    pub bytes: u64,
    /// Checksum of the last line.
    pub(super) sum: Sum,
    /// Stamp of the last event.
    pub(super) stamp: Stamp,
    /// Checksum of the first event's line, which identifies the record.
    pub(super) first: Option<Sum>,
    /// Where the last line ends that holds the digest of a snapshot; 0 if there is none.
    pub(super) digest_at: u64,
}

impl LogPosition {
    /// The start of the file.
    pub(super) fn start() -> LogPosition {
        LogPosition {
            events: 0,
            bytes: 0,
            sum: format::header().1,
            stamp: Stamp::default(),
            first: None,
            digest_at: 0,
        }
    }

    /// The number of the next line, from 1.
    pub(super) fn next_line(&self) -> u64 {
        if self.bytes == 0 { 1 } else { self.events + 2 }
    }

    /// Advances over the next event's line.
    pub(super) fn pass(&mut self, line: &[u8], sum: Sum, stamp: Stamp) {
        self.events += 1;
        self.stamp = stamp;
        self.bytes += line.len() as u64;
        self.sum = sum;
        self.first = self.first.or(Some(sum));
    }

    /// Notes that the line just passed holds the digest of a snapshot.
    pub(super) const fn note_digest(&mut self) {
        self.digest_at = self.bytes;
    }
}

/// How a scan ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum End {
    /// After the last line.
    Clean,
    /// In a last line that a crash may have left, with this many bytes.
    Torn(u64),
    /// At a line that has changed or isn't understood.
    Damaged(LineError),
    /// At a header of a later format.
    Newer(u64),
}

/// The result of a scan.
#[derive(Debug)]
pub(super) struct Scan<E> {
    /// The good events after the start of the chain.
    pub(super) entries: Vec<Entry<E>>,
    /// Why the scan stopped.
    pub(super) end: End,
    /// The checksum of the watched event.
    pub(super) sum_at: Option<Sum>,
    /// The requested events before the resume point, if the record was resumed.
    pub(super) resumed: Option<Vec<Entry<E>>>,
}

impl<E> Scan<E> {
    pub(super) fn empty() -> Scan<E> {
        Scan {
            entries: Vec::new(),
            end: End::Clean,
            sum_at: None,
            resumed: None,
        }
    }
}

/// Reads on from `chain`, in time linear in the bytes, and advances it over every good line. `file`
/// must be at offset `chain.bytes`. Notes the checksum of event `watch`.
pub(super) fn scan<E: DeserializeOwned>(
    file: impl Read,
    chain: &mut LogPosition,
    watch: Option<u64>,
) -> io::Result<Scan<E>> {
    scan_lines(&mut Lines::new(file), chain, watch)
}

/// Like [`scan`], for lines of which some were read before.
pub(super) fn scan_lines<E: DeserializeOwned>(
    lines: &mut Lines<impl Read>,
    chain: &mut LogPosition,
    watch: Option<u64>,
) -> io::Result<Scan<E>> {
    let mut scan = Scan::empty();
    loop {
        let flaw = match lines.next()? {
            Step::End => {
                if chain.bytes == 0 {
                    scan.end = End::Torn(0);
                }
                return Ok(scan);
            }
            Step::TooLong => LineError::TooLong,
            Step::Line if chain.bytes == 0 => match read_header(&lines.line) {
                Ok(()) => {
                    chain.bytes = lines.line.len() as u64;
                    continue;
                }
                Err(end) => {
                    scan.end = end;
                    return Ok(scan);
                }
            },
            Step::Line => match next_line(chain, &lines.line) {
                Ok((entry, sum, has_digest)) => {
                    chain.pass(&lines.line, sum, entry.stamp);
                    if has_digest {
                        chain.note_digest();
                    }
                    if watch == Some(entry.seq) {
                        scan.sum_at = Some(sum);
                    }
                    scan.entries.push(entry);
                    continue;
                }
                Err(flaw) => flaw,
            },
        };
        scan.end = lines.classify(chain, flaw)?;
        return Ok(scan);
    }
}

/// Verifies and reads the line that follows `chain`.
pub(super) fn next_entry<E: DeserializeOwned>(
    chain: &LogPosition,
    line: &[u8],
) -> Result<(Entry<E>, Sum), LineError> {
    let (entry, sum, _) = next_line(chain, line)?;
    Ok((entry, sum))
}

/// Like [`next_entry`]; also returns whether the line holds the digest of a snapshot.
fn next_line<E: DeserializeOwned>(
    chain: &LogPosition,
    line: &[u8],
) -> Result<(Entry<E>, Sum, bool), LineError> {
    let sum = format::verify(Some(chain.sum), line)?;
    let (entry, has_digest) = format::parse_next_line(chain.events + 1, chain.stamp, line)?;
    Ok((entry, sum, has_digest))
}

pub(super) fn read_header(line: &[u8]) -> Result<(), End> {
    let (header, _) = format::header();
    if line == header {
        return Ok(());
    }
    let begun = trim_nul(line);
    if begun.len() < header.len() && header.starts_with(begun) {
        return Err(End::Torn(line.len() as u64));
    }
    match format::header_version(line) {
        Some(found) if found > format::FORMAT_VERSION => Err(End::Newer(found)),
        _ => Err(End::Damaged(LineError::Header)),
    }
}

/// One step through the lines of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// `line` holds the next line, or the bytes after the last line break.
    Line,
    /// `line` holds the first part of a line over the maximum length.
    TooLong,
    /// The end of the file.
    End,
}

/// Iterates over the lines of a file, in one buffer that never outgrows [`MAX_LINE`].
pub(super) struct Lines<R> {
    reader: BufReader<R>,
    /// The current line with its line break.
    pub(super) line: Vec<u8>,
}

impl<R: Read> Lines<R> {
    pub(super) fn new(file: R) -> Lines<R> {
        Lines {
            reader: BufReader::with_capacity(1 << 17, file),
            line: Vec::new(),
        }
    }

    pub(super) fn next(&mut self) -> io::Result<Step> {
        self.line.clear();
        let limit = MAX_LINE as u64 + 1;
        self.reader
            .by_ref()
            .take(limit)
            .read_until(b'\n', &mut self.line)?;
        Ok(match self.line.len() {
            0 => Step::End,
            len if len > MAX_LINE => Step::TooLong,
            _ => Step::Line,
        })
    }

    /// Distinguishes a torn end from damage, if the current line after `chain` has `flaw`. May read
    /// on to the end of the file.
    pub(super) fn classify(&mut self, chain: &LogPosition, flaw: LineError) -> io::Result<End> {
        let zeros = match flaw {
            // The line is complete and verified, so its content is at fault, not its end.
            LineError::TooLong
            | LineError::UnknownEvent { .. }
            | LineError::Sequence { .. }
            | LineError::Stamp { .. } => None,
            _ if self.line.ends_with(b"\n") => {
                if has_hole(chain.bytes, &self.line) {
                    self.zeros_after()?
                } else {
                    None
                }
            }
            // This was the end of the file. Reading on would only find what a writer is adding now.
            _ => (!has_more_than_a_line(chain, &self.line)).then_some(0),
        };
        let length = self.line.len() as u64;
        Ok(zeros.map_or(End::Damaged(flaw), |zeros| End::Torn(length + zeros)))
    }

    /// The number of NUL bytes after the current line; `None` if other bytes follow, or more than
    /// an append can have left.
    fn zeros_after(&mut self) -> io::Result<Option<u64>> {
        let mut zeros = 0;
        loop {
            let chunk = self.reader.fill_buf()?;
            if chunk.is_empty() {
                return Ok(Some(zeros));
            }
            if chunk.iter().any(|&byte| byte != 0) {
                return Ok(None);
            }
            let len = chunk.len();
            zeros += len as u64;
            if zeros > MAX_LINE as u64 {
                return Ok(None);
            }
            self.reader.consume(len);
        }
    }
}

fn trim_nul(line: &[u8]) -> &[u8] {
    let end = line
        .iter()
        .rposition(|&byte| byte != 0)
        .map_or(0, |last| last + 1);
    &line[..end]
}

/// Whether an end without a line break holds a whole good line and something after it. A crash
/// can't cause that, but changing a line break into another byte can.
fn has_more_than_a_line(chain: &LogPosition, tail: &[u8]) -> bool {
    let Some((_, start)) = trim_nul(tail).split_last() else {
        return false;
    };
    let mut whole = start.to_vec();
    whole.push(b'\n');
    format::verify(Some(chain.sum), &whole).is_ok()
}

/// Whether a whole line starting at offset `start` has sectors that were never written: NUL bytes
/// from the start of a sector, or of the line, to the end of a sector. A line never holds NUL bytes
/// otherwise, as JSON escapes them.
fn has_hole(start: u64, line: &[u8]) -> bool {
    let mut at = start;
    line.chunk_by(|a, b| (*a == 0) == (*b == 0)).any(|run| {
        let (from, to) = (at, at + run.len() as u64);
        at = to;
        run[0] == 0 && (from == start || from % SECTOR == 0) && to % SECTOR == 0
    })
}

/// Where to resume reading a record, if it still has the lines before.
#[derive(Debug, Clone, Copy)]
pub struct Resume<'a> {
    /// Number of events that needn't be read.
    pub events: u64,
    /// Length in bytes of the record up to that point.
    pub bytes: u64,
    /// The checksum of the last of those events.
    pub(super) sum: Sum,
    /// The state digest that its line must hold.
    pub(super) digest: Sum,
    /// The numbers of skipped events that must be read anyway.
    pub wanted: &'a BTreeSet<u64>,
}

/// The result of following lines without parsing them.
#[derive(Debug)]
pub(super) struct Followed<E> {
    /// The requested events.
    pub(super) entries: Vec<Entry<E>>,
    /// The checksum of the watched event, if it is among these lines.
    pub(super) sum_at: Option<Sum>,
    /// The end of these lines.
    pub(super) position: LogPosition,
}

/// Verifies the lines from the first to the resume point without parsing them, except for the
/// wanted events. Returns `None` if the record doesn't pass through that point or can't be followed
/// that far; then it must be read from the start. Time is linear in the bytes, about a tenth of
/// that for reading everything.
pub(super) fn follow<E: DeserializeOwned>(
    lines: &mut Lines<impl Read>,
    from: Resume<'_>,
    watch: Option<u64>,
) -> io::Result<Option<Followed<E>>> {
    let mut position = LogPosition::start();
    let mut entries = Vec::with_capacity(from.wanted.len());
    let mut sum_at = None;
    if lines.next()? != Step::Line || read_header(&lines.line).is_err() {
        return Ok(None);
    }
    position.bytes = lines.line.len() as u64;
    while position.events < from.events {
        if lines.next()? != Step::Line {
            return Ok(None);
        }
        let Ok(sum) = format::verify(Some(position.sum), &lines.line) else {
            return Ok(None);
        };
        position.pass(&lines.line, sum, Stamp::default());
        if watch == Some(position.events) {
            sum_at = Some(sum);
        }
        if from.wanted.contains(&position.events) {
            match format::parse_next(position.events, &lines.line) {
                Ok(entry) => entries.push(entry),
                Err(_) => return Ok(None),
            }
        }
    }
    let stamp = format::written_stamp(&lines.line);
    let is_there = (position.bytes, position.sum) == (from.bytes, from.sum)
        && format::state_digest(&lines.line) == Some(from.digest)
        && stamp.is_some();
    position.stamp = stamp.unwrap_or_default();
    position.note_digest();
    Ok(is_there.then_some(Followed {
        entries,
        sum_at,
        position,
    }))
}

/// Iterates over the events of a record from the first, as far as they were good when it was read.
/// Verifies each line once more. Memory is that of the longest line.
pub struct LogReader<E> {
    path: PathBuf,
    /// `None` once the end or a fault has been reached.
    lines: Option<Lines<File>>,
    chain: LogPosition,
    until: u64,
    events: PhantomData<fn() -> E>,
}

impl<E: DeserializeOwned> LogReader<E> {
    /// Reads events 1 to `until` of the record in a folder; none without a folder.
    pub(super) fn open(folder: Option<&Folder>, until: u64) -> Result<Self, RecordError> {
        let path = folder.map_or_else(PathBuf::new, |folder| folder.path().join(RECORD));
        let file = folder.map(|folder| folder.read(RECORD)).transpose();
        let file = file.map_err(|source| RecordError::read(&path, source))?;
        Ok(Self {
            path,
            lines: file.flatten().map(Lines::new),
            chain: LogPosition::start(),
            until,
            events: PhantomData,
        })
    }

    fn step(&mut self) -> Result<Option<Entry<E>>, RecordError> {
        while self.chain.events < self.until {
            // If good lines no longer verify, the record has been replaced.
            let overtaken = || RecordError::Overtaken {
                path: self.path.clone(),
            };
            let lines = self.lines.as_mut().ok_or_else(overtaken)?;
            match lines.next() {
                Ok(Step::Line) => {}
                Ok(Step::TooLong | Step::End) => return Err(overtaken()),
                Err(source) => {
                    return Err(RecordError::read(&self.path, source));
                }
            }
            if self.chain.bytes == 0 {
                read_header(&lines.line).map_err(|_| overtaken())?;
                self.chain.bytes = lines.line.len() as u64;
                continue;
            }
            let (entry, sum) = next_entry(&self.chain, &lines.line).map_err(|_| overtaken())?;
            self.chain.pass(&lines.line, sum, entry.stamp);
            return Ok(Some(entry));
        }
        Ok(None)
    }
}

impl<E: DeserializeOwned> Iterator for LogReader<E> {
    type Item = Result<Entry<E>, RecordError>;

    fn next(&mut self) -> Option<Self::Item> {
        let next = self.step().transpose();
        if !matches!(next, Some(Ok(_))) {
            // Nothing follows the end or a fault.
            self.until = 0;
            self.lines = None;
        }
        next
    }
}

/// Whether the last line before a position is in its place; if so, leaves `file` positioned after it. As sums are
/// chained, the lines before it are the same then.
pub(super) fn ends_at(file: &mut File, position: &LogPosition) -> io::Result<bool> {
    ends_with(file, position.bytes, &format::seal_of(position.sum))
}

/// Whether a file has these bytes right before `end`; if so, leaves it positioned there.
pub(super) fn ends_with(file: &mut File, end: u64, bytes: &[u8]) -> io::Result<bool> {
    let Some(at) = end.checked_sub(bytes.len() as u64) else {
        return Ok(false);
    };
    let mut there = vec![0; bytes.len()];
    file.seek(SeekFrom::Start(at))?;
    match file.read_exact(&mut there) {
        Ok(()) => Ok(there == bytes),
        Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => Ok(false),
        Err(error) => Err(error),
    }
}

/// Opens a file chosen by the user, in any place. Follows links, but refuses anything other than a
/// regular file, which might have no end or block the reader.
pub(super) fn open_named(path: &Path) -> io::Result<File> {
    // Checked first, as opening a pipe waits for its other end.
    let data = std::fs::metadata(path)?;
    if data.is_dir() {
        return Err(Foreign::Folder.into());
    }
    if !data.is_file() {
        return Err(Foreign::Special.into());
    }
    File::open(path)
}

/// Reads the events of a record. `path` is a stash folder, or a record file of any name. Locks and
/// changes nothing. Leaves out an unfinished last line. Time and memory are linear in the size of
/// the record.
///
/// # Errors
/// When there is no record or it can't be read, its format is newer than this program, one of its
/// lines is damaged or not understood, or a stash folder shows that events are lost.
pub fn read_copy<E: DeserializeOwned>(path: &Path) -> Result<Vec<Entry<E>>, RecordError> {
    let none = || RecordError::NoRecord {
        path: path.to_owned(),
    };
    if !path.exists() {
        return Err(none());
    }
    let (file, opened, marker): (PathBuf, _, _) = if path.is_dir() {
        let failed = |source| RecordError::read(path, source);
        let folder = Folder::open(path).map_err(failed)?.ok_or_else(none)?;
        let marker = MarkerState::read(&folder)
            .map_err(|source| RecordError::read(&path.join(MARKER), source))?;
        let file = path.join(RECORD);
        let opened = folder
            .read(RECORD)
            .map_err(|source| RecordError::read(&file, source))?
            .ok_or_else(none)?;
        (file, opened, marker)
    } else {
        let opened = open_named(path).map_err(|source| RecordError::read(path, source))?;
        (path.to_owned(), opened, MarkerState::Absent)
    };
    let (entries, sums) = read(&file, opened)?;
    let found = entries.len() as u64;
    if marker == MarkerState::Unreadable {
        let damage = Damage::Marker { found };
        return Err(RecordError::LossyCopy { path: file, damage });
    }
    if let MarkerState::Known(marker) = marker {
        let recorded = marker.events;
        let at = usize::try_from(recorded)
            .ok()
            .and_then(|at| at.checked_sub(1));
        let damage = match at.and_then(|at| sums.get(at)) {
            _ if recorded > found => Some(Damage::Shortened { recorded, found }),
            Some(sum) if *sum != marker.last => Some(Damage::Exchanged { recorded, found }),
            _ => None,
        };
        if let Some(damage) = damage {
            return Err(RecordError::LossyCopy { path: file, damage });
        }
    }
    Ok(entries)
}

/// Reads the events of a record, with the checksum of each line.
pub(super) fn read<E: DeserializeOwned>(
    file: &Path,
    opened: File,
) -> Result<(Vec<Entry<E>>, Vec<Sum>), RecordError> {
    let failed = |source| RecordError::read(file, source);
    let mut lines = Lines::new(opened);
    let mut position = LogPosition::start();
    let (mut entries, mut sums) = (Vec::new(), Vec::new());
    loop {
        let fault = match lines.next().map_err(failed)? {
            Step::End => return Ok((entries, sums)),
            Step::TooLong => LineError::TooLong,
            Step::Line if position.bytes == 0 => match read_header(&lines.line) {
                Ok(()) => {
                    position.bytes = lines.line.len() as u64;
                    continue;
                }
                Err(End::Newer(found)) => {
                    let (path, known) = (file.to_owned(), FORMAT_VERSION);
                    return Err(RecordError::NewerFormat { path, found, known });
                }
                Err(End::Torn(_)) => return Ok((entries, sums)),
                Err(_) => LineError::Header,
            },
            Step::Line => match next_entry(&position, &lines.line) {
                Ok((entry, sum)) => {
                    position.pass(&lines.line, sum, entry.stamp);
                    entries.push(entry);
                    sums.push(sum);
                    continue;
                }
                Err(fault) => fault,
            },
        };
        return match lines.classify(&position, fault).map_err(failed)? {
            End::Damaged(reason) => Err(RecordError::DamagedCopy {
                path: file.to_owned(),
                line: position.next_line(),
                reason,
            }),
            _ => Ok((entries, sums)),
        };
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::tests::{folder_written, line_ends, record_in, twenty, writer};
    use super::super::{Log, RecordError};
    use super::*;

    #[test]
    fn a_reader_returns_what_was_read_even_while_the_record_grows() {
        let dir = folder_written(&twenty());
        let (log, loaded) = Log::<String>::open(dir.path()).unwrap();
        let mut writer = writer(dir.path());
        let added = writer.append(jiff::Timestamp::UNIX_EPOCH, &"more".to_owned());
        assert_eq!(added.unwrap(), 21);
        let past: Result<Vec<_>, _> = log.reader().unwrap().collect();
        assert_eq!(past.unwrap(), loaded.entries);
        let past: Result<Vec<_>, _> = writer.reader().unwrap().collect();
        assert_eq!(past.unwrap().last().map(|entry| entry.seq), Some(21));
        let empty = tempfile::tempdir().unwrap();
        let (log, _) = Log::<String>::open(empty.path()).unwrap();
        assert!(log.reader().unwrap().next().is_none());
    }

    #[test]
    fn a_changed_record_is_reported_once_and_ends_the_reading() {
        let dir = folder_written(&twenty());
        let (log, _) = Log::<String>::open(dir.path()).unwrap();
        let mut bytes = fs::read(record_in(dir.path())).unwrap();
        let fifth = line_ends(&bytes)[5];
        bytes[fifth - 30] ^= 1;
        fs::write(record_in(dir.path()), &bytes).unwrap();
        let mut past = log.reader().unwrap();
        assert_eq!(past.by_ref().take(4).filter(Result::is_ok).count(), 4);
        let fault = past.next().unwrap().unwrap_err();
        assert!(matches!(fault, RecordError::Overtaken { .. }), "{fault:?}");
        assert!(past.next().is_none());
        fs::remove_file(record_in(dir.path())).unwrap();
        let mut past = log.reader().unwrap();
        assert!(past.next().unwrap().is_err() && past.next().is_none());
    }

    #[test]
    fn a_copy_is_read_by_folder_or_file_without_its_unfinished_end() {
        let dir = folder_written(&twenty());
        let copy = dir.path().join("record (copy of laptop).jsonl");
        let bytes = fs::read(record_in(dir.path())).unwrap();
        fs::write(&copy, &bytes[..bytes.len() - 5]).unwrap();
        let whole = read_copy::<String>(dir.path()).unwrap();
        let cut = read_copy::<String>(&copy).unwrap();
        assert_eq!((whole.len(), cut.len()), (20, 19));
        assert_eq!(whole[..19], cut);
        assert!(read_copy::<String>(&dir.path().join("none")).is_err());
    }

    #[test]
    fn a_damaged_copy_is_refused() {
        let dir = folder_written(&twenty());
        let mut bytes = fs::read(record_in(dir.path())).unwrap();
        let fifth = line_ends(&bytes)[5];
        bytes[fifth - 30] ^= 1;
        fs::write(record_in(dir.path()), &bytes).unwrap();
        let refused = read_copy::<String>(dir.path()).unwrap_err();
        assert!(
            matches!(refused, RecordError::DamagedCopy { .. }),
            "{refused:?}"
        );
    }

    #[test]
    fn a_stash_folder_that_lost_events_is_refused_but_its_bare_file_is_read() {
        let dir = folder_written(&twenty());
        let bytes = fs::read(record_in(dir.path())).unwrap();
        fs::write(record_in(dir.path()), &bytes[..line_ends(&bytes)[15]]).unwrap();
        let refused = read_copy::<String>(dir.path()).unwrap_err();
        let (recorded, found) = (20, 15);
        let RecordError::LossyCopy { damage, .. } = refused else {
            panic!("{refused:?}");
        };
        assert_eq!(damage, Damage::Shortened { recorded, found });
        let alone = read_copy::<String>(&record_in(dir.path())).unwrap();
        assert_eq!(alone.len(), 15);
    }
}
