//! Reading a copy of a record wherever it lies, such as one that was changed on another computer.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;

use super::error::{Damage, LineError, RecordError};
use super::folder::{Folder, Foreign, RECORD};
use super::format::{Entry, FORMAT_VERSION, Sum};
use super::marker::MarkerState;
use super::reader::{End, Lines, LogPosition, Step, next_entry, read_header};

/// Opens a file that a person named, wherever it lies. Links are followed; what is no regular file would
/// have no end, or keep the reader waiting.
pub(super) fn open_named(path: &Path) -> io::Result<File> {
    // Looked at first, as opening a pipe waits for its other end.
    let data = std::fs::metadata(path)?;
    if data.is_dir() {
        return Err(Foreign::Folder.into());
    }
    if !data.is_file() {
        return Err(Foreign::Special.into());
    }
    File::open(path)
}

/// The events of a record. `path` is a stash folder, or the file
/// of a record under any name. Nothing is locked or changed. An unfinished last line is left out.
/// Time and memory are linear in the size of the record.
///
/// # Errors
/// Where there is no record or it cannot be read, its format is newer than this program, one of its
/// lines is damaged or not understood, or a stash folder shows that events of it are lost.
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
        let marker = MarkerState::read(&folder).map_err(failed)?;
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

/// The events of a record, with the checksum of each one's line.
fn read<E: DeserializeOwned>(
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

    use super::super::tests::samples::{folder_written, line_ends, record_in, twenty};
    use super::*;

    #[test]
    fn a_copy_is_read_by_folder_and_by_file_without_its_unfinished_end() {
        let dir = folder_written(&twenty());
        let copy = dir.path().join("record (copy of bob).jsonl");
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
    fn a_stash_folder_that_lost_events_is_refused_and_its_file_alone_is_not() {
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
