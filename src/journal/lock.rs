//! The lock that limits a stash to one writer at a time.
//!
//! The lock is an advisory lock of the operating system on the folder itself. It ends with its
//! process, and deleting, replacing or recreating a file in the folder doesn't affect it. Where a
//! folder can't be locked (some network disks, other systems), the lock is on a file `lock` in it.
//! Either way it counts only while the path still leads to the locked folder or file; that is
//! checked after locking, before each append, and again before the append is acknowledged.

use std::fs::{File, TryLockError};
use std::io;
use std::path::Path;
use std::sync::mpsc::channel;
use std::thread;
use std::time::{Duration, Instant};

use super::error::RecordError;
use super::folder::{Folder, Identity};

/// Name of the lock file, used where the folder itself can't be locked.
const LOCK: &str = "lock";

/// A locked folder; unlocked when dropped.
#[derive(Debug)]
pub(super) struct Locked {
    folder: Folder,
    /// The lock file, if the lock is on a file.
    file: Option<File>,
}

/// The outcome of trying to lock.
#[derive(Debug)]
pub(super) enum LockOutcome {
    /// This process holds the lock.
    Held(Locked),
    /// Another process held it for the whole wait.
    Busy,
}

impl Locked {
    /// Tries to lock the folder at `path`, at least once and until `wait` is over. The system
    /// queues waiting processes and wakes them when the lock is released, so none starves.
    pub(super) fn acquire(path: &Path, wait: Duration) -> Result<LockOutcome, RecordError> {
        let started = Instant::now();
        let failed = |source| RecordError::lock(path, source);
        loop {
            let left = wait.saturating_sub(started.elapsed());
            let folder = Folder::open(path).map_err(failed)?;
            let folder = folder.ok_or_else(|| failed(io::Error::from(io::ErrorKind::NotFound)))?;
            let locked = match lock_folder(&folder, left) {
                Ok(got) => got.then_some(None),
                // The folder can't be locked at all, as opposed to being locked by someone else.
                Err(_) => lock_file(&folder, left).map_err(failed)?.map(Some),
            };
            let Some(file) = locked else {
                return Ok(LockOutcome::Busy);
            };
            let locked = Locked { folder, file };
            if locked.is_ours() {
                return Ok(LockOutcome::Held(locked));
            }
            // The locked folder or file has been replaced since it was opened.
            if started.elapsed() > wait {
                return Ok(LockOutcome::Busy);
            }
        }
    }

    pub(super) const fn folder(&self) -> &Folder {
        &self.folder
    }

    /// Whether the path still leads to the locked folder or file.
    pub(super) fn is_ours(&self) -> bool {
        let same = |file: &File| {
            let there = self.folder.identity(LOCK).ok().flatten();
            let ours = Identity::of(file).ok();
            there.zip(ours).is_some_and(|(a, b)| a.is_same_file(&b))
        };
        self.folder.is_at_its_path() && self.file.as_ref().is_none_or(same)
    }

    /// Whether nobody else can have written to the open files meanwhile, even if the path no longer
    /// leads to them. True for a lock on the folder, but not for one on a file that may have been
    /// replaced.
    pub(super) fn kept_others_out(&self) -> bool {
        self.file.is_none() || self.is_ours()
    }
}

fn lock_folder(folder: &Folder, wait: Duration) -> io::Result<bool> {
    // The lock belongs to all handles of the same open folder.
    Ok(locked_within(folder.handle()?, wait)?.is_some())
}

fn lock_file(folder: &Folder, wait: Duration) -> io::Result<Option<File>> {
    let file = match folder.change(LOCK)? {
        Some(file) => file,
        None => {
            let mut new = folder.begin("lock-", ".new")?;
            match new.place_new(LOCK) {
                Err(error) if error.kind() != io::ErrorKind::AlreadyExists => return Err(error),
                _ => {}
            }
            let made = folder.change(LOCK)?;
            made.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?
        }
    };
    locked_within(file, wait)
}

/// The file with its lock, if that arrives within the wait. The system has no call with a timeout,
/// so a thread waits; if its lock arrives too late, it drops lock and file.
fn locked_within(file: File, wait: Duration) -> io::Result<Option<File>> {
    match file.try_lock() {
        Ok(()) => return Ok(Some(file)),
        Err(TryLockError::WouldBlock) if wait.is_zero() => return Ok(None),
        Err(TryLockError::WouldBlock) => {}
        Err(TryLockError::Error(error)) => return Err(error),
    }
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
    match locked.recv_timeout(wait) {
        Ok(locked) => locked.map(Some),
        Err(_) => Ok(None),
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn held(dir: &Path) -> Locked {
        match Locked::acquire(dir, Duration::ZERO).unwrap() {
            LockOutcome::Held(lock) => lock,
            LockOutcome::Busy => panic!("busy"),
        }
    }

    fn is_busy(dir: &Path, wait: Duration) -> bool {
        matches!(Locked::acquire(dir, wait).unwrap(), LockOutcome::Busy)
    }

    #[test]
    fn one_holder_at_a_time_and_the_folder_stays_empty() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        assert!(is_busy(dir.path(), Duration::ZERO));
        assert!(is_busy(dir.path(), Duration::from_millis(5)));
        drop(lock);
        // The lock may first pass through the thread whose wait timed out.
        assert!(!is_busy(dir.path(), Duration::from_secs(60)));
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn replacing_a_locked_folder_ends_its_lock() {
        let outer = tempfile::tempdir().unwrap();
        let dir = outer.path().join("stash");
        fs::create_dir(&dir).unwrap();
        let lock = held(&dir);
        fs::rename(&dir, outer.path().join("away")).unwrap();
        fs::create_dir(&dir).unwrap();
        assert!(!lock.is_ours());
        assert!(held(&dir).is_ours());
        // Once the folder is back, the lock is ours again.
        fs::remove_dir(&dir).unwrap();
        fs::rename(outer.path().join("away"), &dir).unwrap();
        assert!(lock.is_ours() && is_busy(&dir, Duration::ZERO));
    }

    #[test]
    fn a_folder_that_cannot_be_locked_gets_a_lock_file() {
        let dir = tempfile::tempdir().unwrap();
        let folder = || Folder::open(dir.path()).unwrap().unwrap();
        let lock = |folder: Folder| {
            let file = lock_file(&folder, Duration::ZERO).unwrap();
            file.map(|file| Locked {
                folder,
                file: Some(file),
            })
        };
        let first = lock(folder()).unwrap();
        assert!(first.is_ours() && lock(folder()).is_none());
        fs::remove_file(dir.path().join(LOCK)).unwrap();
        assert!(!first.is_ours() && !first.kept_others_out());
        let second = lock(folder()).unwrap();
        assert!(second.is_ours() && !first.is_ours());
    }

    #[test]
    fn a_waiting_process_gets_the_lock_on_release() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        let waiting = thread::scope(|scope| {
            let waiter =
                scope.spawn(|| Locked::acquire(dir.path(), Duration::from_secs(60)).unwrap());
            thread::sleep(Duration::from_millis(30));
            drop(lock);
            waiter.join().unwrap()
        });
        assert!(matches!(waiting, LockOutcome::Held(_)));
    }

    #[test]
    fn a_wait_that_timed_out_does_not_get_the_lock_later() {
        let dir = tempfile::tempdir().unwrap();
        let patient = || match Locked::acquire(dir.path(), Duration::from_secs(60)).unwrap() {
            LockOutcome::Held(lock) => lock,
            LockOutcome::Busy => panic!("somebody keeps it"),
        };
        for _ in 0..20 {
            let lock = patient();
            assert!(is_busy(dir.path(), Duration::from_millis(5)));
            drop(lock);
            // The lock may pass briefly through the thread whose wait timed out.
            drop(patient());
        }
    }

    #[test]
    fn every_waiting_process_gets_a_turn() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        thread::scope(|scope| {
            let waiters: Vec<_> = (0..8)
                .map(|_| {
                    scope.spawn(|| {
                        for _ in 0..20 {
                            let outcome = Locked::acquire(dir.path(), Duration::from_secs(60));
                            let LockOutcome::Held(lock) = outcome.unwrap() else {
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
}
