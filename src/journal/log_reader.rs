//! Reading again what a record holds, without keeping all of it in memory.

use std::fs::File;
use std::marker::PhantomData;
use std::path::PathBuf;

use serde::de::DeserializeOwned;

use super::error::RecordError;
use super::folder::{Folder, RECORD};
use super::format::Entry;
use super::reader::{Lines, LogPosition, Step, next_entry, read_header};

/// The events of a record from the first on, as far as they were good when it was read. Each line is
/// verified once more. Memory is that of the longest line.
pub struct LogReader<E> {
    path: PathBuf,
    /// Nothing once the end or a fault has been reached.
    lines: Option<Lines<File>>,
    chain: LogPosition,
    until: u64,
    events: PhantomData<fn() -> E>,
}

impl<E: DeserializeOwned> LogReader<E> {
    /// Reads events 1 to `until` of the record in a folder; none where there is no folder.
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
            // What was good when the record was read can only be otherwise if it is another now.
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
            // Nothing comes after the end, nor after a fault.
            self.until = 0;
            self.lines = None;
        }
        next
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::samples::{folder_written, line_ends, record_in, twenty, writer};
    use super::super::{Log, RecordError};

    #[test]
    fn a_reader_gives_what_was_read_also_while_the_record_grows() {
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
    fn what_is_no_longer_as_it_was_read_is_told_once_and_nothing_after_it() {
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
}
