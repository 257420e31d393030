//! Getting to where the record is now: the lock, the lines that came, and what a crash left.

use std::fs;
use std::io::{self, Seek};
use std::time::Duration;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{CaughtUp, Hold, Record, Resume};
use crate::journal::end::{self, EndFile, KnownEnd};
use crate::journal::error::{Access, Notice, RecordError};
use crate::journal::folder;
use crate::journal::line::{self, Entry, FORMAT_VERSION};
use crate::journal::lock::{Grab, Lock};
use crate::journal::mark::follow;
use crate::journal::medium::DiskFile;
use crate::journal::scan::{End, Lines, Scan, scan, scan_lines};
use crate::journal::writer::Writer;

/// How far a reading came.
pub(super) struct Reached<E> {
    pub(super) caught_up: CaughtUp<E>,
    /// The events asked for before the mark, where the record was resumed from it.
    pub(super) resumed: Option<Vec<Entry<E>>>,
}

impl<E: Serialize + DeserializeOwned> Record<E> {
    /// Reads what the writer has added since. Nothing for the writer itself and for a damaged
    /// record. Costs one look at the file's length where nothing was added.
    ///
    /// # Errors
    /// Where the record cannot be read, and where what was read before is no longer there: then
    /// it has to be opened anew.
    pub fn poll(&mut self) -> Result<Vec<Entry<E>>, RecordError> {
        if matches!(self.access, Access::Writer | Access::Damaged { .. }) {
            return Ok(Vec::new());
        }
        let length = fs::metadata(&self.path).map(|data| data.len());
        if length.is_ok_and(|length| length == self.chain.bytes) {
            return Ok(Vec::new());
        }
        let Scan { entries, end, .. } = self.read_on(None, None)?;
        match end {
            // The line that ends the good ones is told of by the next call.
            _ if !entries.is_empty() => Ok(entries),
            End::Clean | End::Torn(_) => Ok(entries),
            End::Damaged(_) | End::Newer(_) => Err(RecordError::Overtaken {
                path: self.path.clone(),
            }),
        }
    }

    /// Tries to become the writer until `wait` is over, at least once, and reads what others
    /// appended since. The answer's [`Access`] says whether it worked. Does nothing for the
    /// writer itself.
    ///
    /// # Errors
    /// As [`Record::open`] and [`Record::poll`].
    pub fn become_writer(&mut self, wait: Duration) -> Result<CaughtUp<E>, RecordError> {
        if matches!(self.access, Access::Writer | Access::Damaged { .. }) {
            let access = self.access.clone();
            return Ok(CaughtUp {
                entries: Vec::new(),
                access,
                notices: Vec::new(),
            });
        }
        Ok(self.catch_up(wait, None)?.caught_up)
    }

    pub(super) fn catch_up(
        &mut self,
        wait: Duration,
        from: Option<Resume<'_>>,
    ) -> Result<Reached<E>, RecordError> {
        let first = self.chain.bytes == 0;
        let (lock, mut access) = match Lock::grab(&self.dir, wait)? {
            Grab::Held(lock) => (Some(lock), Access::Writer),
            Grab::Taken(holder) => (None, Access::Reader { holder }),
            Grab::Protected(error) => (
                None,
                Access::Unwritable {
                    reason: error.to_string(),
                },
            ),
        };
        // Read before the record, which may grow meanwhile and is never behind it.
        let known = KnownEnd::read(&self.dir).filter(|known| known.events > self.chain.events);
        if first && !matches!(access, Access::Reader { .. }) {
            self.create_if_missing(known.as_ref(), lock.is_some())?;
        }
        let Scan {
            entries,
            end,
            sum_at,
            resumed,
        } = self.read_on(known.as_ref().map(|k| k.events), from)?;

        let mut notices = Vec::new();
        match end {
            End::Clean => {}
            End::Torn(bytes) if lock.is_some() => match self.repair(bytes) {
                Ok(notice) => notices.push(notice),
                Err(error) => {
                    access = Access::Unwritable {
                        reason: error.to_string(),
                    }
                }
            },
            // Left alone where a writer may be at it.
            End::Torn(_) if matches!(access, Access::Reader { .. }) => {}
            End::Torn(bytes) => {
                notices.push(Notice::Torn {
                    line: self.chain.next_line(),
                    bytes,
                    kept: None,
                });
            }
            End::Damaged(_) | End::Newer(_) if !first => {
                return Err(RecordError::Overtaken {
                    path: self.path.clone(),
                });
            }
            End::Damaged(reason) => {
                let (line, good) = (self.chain.next_line(), self.chain.events);
                access = Access::Damaged { line, reason, good };
            }
            End::Newer(found) => {
                let (path, known) = (self.path.clone(), FORMAT_VERSION);
                return Err(RecordError::NewerFormat { path, found, known });
            }
        }
        if let Some(known) = known.filter(|_| !matches!(access, Access::Damaged { .. })) {
            match sum_at {
                None => notices.push(Notice::Shortened {
                    recorded: known.events,
                    found: self.chain.events,
                }),
                Some(sum) if !known.ends_with(sum) => {
                    notices.push(Notice::Exchanged { seq: known.events });
                }
                Some(_) => {}
            }
        }
        if let Some(lock) = lock.filter(|_| access == Access::Writer) {
            access = self.begin_writing(lock);
        }
        self.access = access.clone();
        let caught_up = CaughtUp {
            entries,
            access,
            notices,
        };
        Ok(Reached { caught_up, resumed })
    }

    /// Reads from where the chain stands, or from a mark if the record goes through it; an empty scan
    /// where there is no record yet.
    fn read_on(
        &mut self,
        watch: Option<u64>,
        from: Option<Resume<'_>>,
    ) -> Result<Scan<E>, RecordError> {
        let failed = |source| RecordError::Read {
            path: self.path.clone(),
            source,
        };
        let overtaken = || RecordError::Overtaken {
            path: self.path.clone(),
        };
        let (mut file, length) =
            match folder::read_from(&self.dir, self.chain.bytes).map_err(failed)? {
                Some(found) => found,
                None if self.chain.bytes > 0 => return Err(overtaken()),
                None => return Ok(Scan::empty()),
            };
        if length < self.chain.bytes {
            return Err(overtaken());
        }
        if let Some(Resume { mark, wanted }) = from {
            let mut lines = Lines::new(&mut file);
            if let Some(followed) = follow(&mut lines, mark, wanted, watch).map_err(failed)? {
                self.chain = mark.chain();
                let mut scan = scan_lines(&mut lines, &mut self.chain, watch).map_err(failed)?;
                scan.sum_at = scan.sum_at.or(followed.sum_at);
                scan.resumed = Some(followed.entries);
                return Ok(scan);
            }
            file.rewind().map_err(failed)?;
        }
        scan(file, &mut self.chain, watch).map_err(failed)
    }

    fn create_if_missing(
        &self,
        known: Option<&KnownEnd>,
        may_write: bool,
    ) -> Result<(), RecordError> {
        let path = self.path.clone();
        match self.path.try_exists() {
            Ok(true) => Ok(()),
            Err(source) => Err(RecordError::Read { path, source }),
            Ok(false) => match known {
                Some(known) => {
                    let (recorded, end) = (known.events, end::path_in(&self.dir));
                    Err(RecordError::Missing {
                        path,
                        recorded,
                        end,
                    })
                }
                None if may_write => folder::create_record(&self.dir)
                    .map_err(|source| RecordError::Create { path, source }),
                None => Ok(()),
            },
        }
    }

    /// Takes out a torn end of so many bytes.
    fn repair(&mut self, bytes: u64) -> io::Result<Notice> {
        let line = self.chain.next_line();
        let kept = match bytes {
            0 => None,
            _ => Some(folder::set_aside(&self.dir, self.chain.bytes)?),
        };
        if self.chain.bytes == 0 {
            folder::create_record(&self.dir)?;
            self.chain.bytes = line::header().0.len() as u64;
        }
        Ok(Notice::Torn { line, bytes, kept })
    }

    fn begin_writing(&mut self, lock: Lock) -> Access {
        match DiskFile::open(&self.path) {
            Ok(file) => {
                let end = EndFile::open(&self.dir).ok();
                self.hold = Some(Hold {
                    writer: Writer::new(Box::new(file)),
                    end,
                    _lock: lock,
                });
                Access::Writer
            }
            Err(error) => Access::Unwritable {
                reason: error.to_string(),
            },
        }
    }
}
