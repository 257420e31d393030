//! Reading a copy of a record wherever it lies, such as one that was changed on another computer.

use std::fs::File;
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;

use super::error::{Flaw, RecordError};
use super::folder;
use super::line::{Entry, FORMAT_VERSION};
use super::scan::{Chain, End, Lines, Step, next_entry, read_header};

/// The events of a record with the checksum of each one's line. `path` is a stash folder, or the file
/// of a record under any name. Nothing is locked or changed. An unfinished last line is left out.
/// Time and memory are linear in the size of the record.
///
/// # Errors
/// Where there is no record or it cannot be read, its format is newer than this program, or one of its
/// lines is damaged or not understood.
pub fn read_copy<E: DeserializeOwned>(path: &Path) -> Result<Vec<(Entry<E>, String)>, RecordError> {
    let file: PathBuf = match path.is_dir() {
        true => folder::record_in(path),
        false => path.to_owned(),
    };
    let failed = |source| RecordError::Read {
        path: file.clone(),
        source,
    };
    if !file.exists() {
        return Err(RecordError::NoRecord {
            path: path.to_owned(),
        });
    }
    let mut lines = Lines::new(File::open(&file).map_err(failed)?);
    let mut chain = Chain::start();
    let mut entries = Vec::new();
    loop {
        let flaw = match lines.next().map_err(failed)? {
            Step::End => return Ok(entries),
            Step::TooLong => Flaw::TooLong,
            Step::Line if chain.bytes == 0 => match read_header(&lines.line) {
                Ok(()) => {
                    chain.bytes = lines.line.len() as u64;
                    continue;
                }
                Err(End::Newer(found)) => {
                    let (path, known) = (file.clone(), FORMAT_VERSION);
                    return Err(RecordError::NewerFormat { path, found, known });
                }
                Err(End::Torn(_)) => return Ok(entries),
                Err(_) => Flaw::Header,
            },
            Step::Line => match next_entry(&chain, &lines.line) {
                Ok((entry, sum)) => {
                    chain = Chain {
                        events: entry.seq,
                        bytes: chain.bytes + lines.line.len() as u64,
                        sum,
                    };
                    entries.push((entry, sum.text().to_owned()));
                    continue;
                }
                Err(flaw) => flaw,
            },
        };
        return match lines.classify(&chain, flaw).map_err(failed)? {
            End::Damaged(reason) => Err(RecordError::DamagedCopy {
                path: file.clone(),
                line: chain.next_line(),
                reason,
            }),
            _ => Ok(entries),
        };
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::folder::record_in;
    use super::super::samples::{folder_written, line_ends, twenty};
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
        assert!(whole.iter().all(|(_, sum)| sum.len() == 16));
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
            "{refused}"
        );
    }
}
