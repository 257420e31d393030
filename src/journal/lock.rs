//! The lock that keeps a record to one writer.
//!
//! The operating system's advisory lock is on the open file, not in its content: it is gone the
//! moment its process is, so there is no stale lock to clear away.

use std::fmt;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::channel;
use std::thread;
use std::time::Duration;

use jiff::{Timestamp, ZonedDateTime};
use serde::{Deserialize, Serialize};

use super::error::RecordError;
use super::folder::is_protected;
use crate::language::say;

/// The process that holds the lock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Holder {
    /// Its process id.
    pub pid: u32,
    /// When it took the lock.
    pub since: Timestamp,
}

impl Holder {
    /// `process 1234, since 10:32`, with the date where it was not on the day of `now`, in the
    /// time zone of `now`.
    #[must_use]
    pub fn describe(&self, now: &ZonedDateTime) -> String {
        let since = self.since.to_zoned_datetime(now.time_zone().clone());
        let form = if since.date() == now.date() {
            "%H:%M"
        } else {
            "%Y-%m-%d %H:%M"
        };
        say!(
            "process {pid}, since {form}",
            pid = self.pid,
            form = since.strftime(form)
        )
    }
}

impl fmt::Display for Holder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.describe(&ZonedDateTime::now()))
    }
}

/// The lock, held until dropped.
#[derive(Debug)]
pub(super) struct Lock {
    file: File,
}

/// What a try for the lock came to.
pub(super) enum Grab {
    /// It is ours.
    Held(Lock),
    /// It stayed with another process for the whole wait.
    Taken(Option<Holder>),
    /// The folder is write-protected: no one can write here.
    Protected(io::Error),
}

fn path_in(dir: &Path) -> PathBuf {
    dir.join("lock")
}

impl Lock {
    /// Tries for the lock until `wait` is over, at least once. Those who wait are queued by the system
    /// and woken when it is given up, so that none is passed over for long.
    pub(super) fn grab(dir: &Path, wait: Duration) -> Result<Grab, RecordError> {
        let path = path_in(dir);
        let failed = |source| RecordError::Lock {
            path: path.clone(),
            source,
        };
        let opened = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path);
        let file = match opened {
            Ok(file) => file,
            Err(error) if is_protected(&error) => return Ok(Grab::Protected(error)),
            Err(error) => return Err(failed(error)),
        };
        let mut file = match file.try_lock() {
            Ok(()) => file,
            Err(TryLockError::WouldBlock) if wait.is_zero() => {
                return Ok(Grab::Taken(read_holder(dir)));
            }
            Err(TryLockError::WouldBlock) => match locked_within(file, wait) {
                Some(locked) => locked.map_err(failed)?,
                None => return Ok(Grab::Taken(read_holder(dir))),
            },
            Err(TryLockError::Error(error)) => return Err(failed(error)),
        };
        // Only for the message in other windows, so a full disk must not stand in the way.
        let _ = write_holder(&mut file);
        Ok(Grab::Held(Lock { file }))
    }

    /// Whether another process is writing, without changing anything in the folder.
    pub(super) fn is_taken(dir: &Path) -> bool {
        File::open(path_in(dir))
            .is_ok_and(|file| matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock)))
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // So that no one is told of a process that is gone; closing the file gives up the lock.
        let _ = self.file.set_len(0);
    }
}

/// The file with its lock, if that comes within the wait. The system has no call that waits so long and
/// no longer, so a thread waits; a lock that comes to it too late it gives up with the file.
fn locked_within(file: File, wait: Duration) -> Option<io::Result<File>> {
    let (to, locked) = channel();
    thread::spawn(move || {
        let got = loop {
            match file.lock() {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                got => break got,
            }
        };
        let _ = to.send(got.map(|()| file));
    });
    locked.recv_timeout(wait).ok()
}

fn write_holder(file: &mut File) -> io::Result<()> {
    let holder = Holder {
        pid: std::process::id(),
        since: Timestamp::now(),
    };
    file.set_len(0)?;
    file.rewind()?;
    file.write_all(&serde_json::to_vec(&holder)?)
}

fn read_holder(dir: &Path) -> Option<Holder> {
    let mut text = Vec::new();
    let file = File::open(path_in(dir)).ok()?;
    file.take(256).read_to_end(&mut text).ok()?;
    serde_json::from_slice(&text).ok()
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn held(dir: &Path) -> Lock {
        match Lock::grab(dir, Duration::ZERO).unwrap() {
            Grab::Held(lock) => lock,
            Grab::Taken(holder) => panic!("taken by {holder:?}"),
            Grab::Protected(error) => panic!("{error}"),
        }
    }

    fn taken(dir: &Path, wait: Duration) -> Option<Holder> {
        match Lock::grab(dir, wait).unwrap() {
            Grab::Taken(holder) => holder,
            _ => panic!("not taken"),
        }
    }

    #[test]
    fn one_holder_at_a_time_and_the_next_is_told_who() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        let holder = taken(dir.path(), Duration::ZERO).unwrap();
        assert_eq!(holder.pid, std::process::id());
        assert!(Lock::is_taken(dir.path()));
        drop(lock);
        assert!(!Lock::is_taken(dir.path()));
        drop(held(dir.path()));
    }

    #[test]
    fn left_over_content_is_no_lock() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(
            path_in(dir.path()),
            r#"{"pid":1,"since":"2026-03-01T10:32:00Z"}"#,
        )
        .unwrap();
        drop(held(dir.path()));
    }

    #[test]
    fn a_holder_that_cannot_be_read_is_no_error() {
        let dir = tempfile::tempdir().unwrap();
        let _lock = held(dir.path());
        for content in [&b""[..], b"{\"pid\":", b"\xff\xfe", &[b'9'; 100_000]] {
            fs::write(path_in(dir.path()), content).unwrap();
            assert_eq!(taken(dir.path(), Duration::ZERO), None);
        }
    }

    #[test]
    fn waiting_gets_the_lock_when_it_is_given_up() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        let waiting = thread::scope(|scope| {
            let waiter = scope.spawn(|| Lock::grab(dir.path(), Duration::from_secs(60)).unwrap());
            thread::sleep(Duration::from_millis(30));
            drop(lock);
            waiter.join().unwrap()
        });
        assert!(matches!(waiting, Grab::Held(_)));
    }

    #[test]
    fn who_waited_in_vain_does_not_get_the_lock_later() {
        let dir = tempfile::tempdir().unwrap();
        let patient = || match Lock::grab(dir.path(), Duration::from_secs(60)).unwrap() {
            Grab::Held(lock) => lock,
            _ => panic!("somebody keeps it"),
        };
        for _ in 0..20 {
            let lock = patient();
            assert!(taken(dir.path(), Duration::from_millis(5)).is_some());
            drop(lock);
            // It may go through the hands of the one that waited, and out of them at once.
            drop(patient());
        }
    }

    #[test]
    fn everybody_who_waits_has_a_turn() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        thread::scope(|scope| {
            let waiters: Vec<_> = (0..8)
                .map(|_| {
                    scope.spawn(|| {
                        for _ in 0..20 {
                            let grab = Lock::grab(dir.path(), Duration::from_secs(60)).unwrap();
                            let Grab::Held(lock) = grab else {
                                panic!("passed over");
                            };
                            thread::sleep(Duration::from_millis(1));
                            drop(lock);
                        }
                    })
                })
                .collect();
            drop(lock);
            for waiter in waiters {
                waiter.join().unwrap();
            }
        });
    }

    #[test]
    fn holder_is_described_with_the_date_only_on_another_day() {
        let holder = Holder {
            pid: 1234,
            since: "2026-03-01T10:32:00Z".parse().unwrap(),
        };
        let same: ZonedDateTime = "2026-03-01T18:00[UTC]".parse().unwrap();
        let next: ZonedDateTime = "2026-03-02T09:00[UTC]".parse().unwrap();
        assert_eq!(holder.describe(&same), "process 1234, since 10:32");
        assert_eq!(
            holder.describe(&next),
            "process 1234, since 2026-03-01 10:32"
        );
    }
}
