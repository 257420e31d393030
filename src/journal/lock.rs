//! The lock that keeps a stash to one writer at a time.
//!
//! The lock is on the folder itself, an advisory lock of the operating system: it is gone the moment its
//! process is, and no file in the folder that is deleted, replaced or made anew takes it along. Where a
//! folder cannot be locked (some network disks, other systems), it is on a file `lock` in it. Either way
//! it counts only while the path still leads to what was locked, which is looked at after locking, before
//! each append and again before it is acknowledged.

use std::fs::{File, TryLockError};
use std::io;
use std::path::Path;
use std::sync::mpsc::channel;
use std::thread;
use std::time::{Duration, Instant};

use super::error::RecordError;
use super::folder::{Folder, Identity};

/// The lock's name where it is on a file.
const LOCK: &str = "lock";

/// A locked folder; unlocked when dropped.
#[derive(Debug)]
pub(super) struct Locked {
    folder: Folder,
    /// The lock file, where the lock is on one.
    file: Option<File>,
}

/// What a try for the lock came to.
#[derive(Debug)]
pub(super) enum LockOutcome {
    /// It is ours.
    Held(Locked),
    /// It stayed with another process for the whole wait.
    Busy,
}

impl Locked {
    /// Tries for the lock of the folder at `path` until `wait` is over, at least once. Those who wait are
    /// queued by the system and woken when it is given up, so that none is passed over for long.
    pub(super) fn acquire(path: &Path, wait: Duration) -> Result<LockOutcome, RecordError> {
        let started = Instant::now();
        let failed = |source| RecordError::lock(path, source);
        loop {
            let left = wait.saturating_sub(started.elapsed());
            let folder = Folder::open(path).map_err(failed)?;
            let folder = folder.ok_or_else(|| failed(io::Error::from(io::ErrorKind::NotFound)))?;
            let locked = match lock_folder(&folder, left) {
                Ok(got) => got.then_some(None),
                // A folder that cannot be locked, rather than one that is.
                Err(_) => lock_file(&folder, left).map_err(failed)?.map(Some),
            };
            let Some(file) = locked else {
                return Ok(LockOutcome::Busy);
            };
            let locked = Locked { folder, file };
            if locked.is_ours() {
                return Ok(LockOutcome::Held(locked));
            }
            // What was locked has been replaced since it was opened.
            if started.elapsed() > wait {
                return Ok(LockOutcome::Busy);
            }
        }
    }

    /// The folder.
    pub(super) const fn folder(&self) -> &Folder {
        &self.folder
    }

    /// Whether the path still leads to what is locked.
    pub(super) fn is_ours(&self) -> bool {
        let same = |file: &File| {
            let there = self.folder.identity(LOCK).ok().flatten();
            let ours = Identity::of(file).ok();
            there.zip(ours).is_some_and(|(a, b)| a.is_same_file(&b))
        };
        self.folder.is_at_its_path() && self.file.as_ref().is_none_or(same)
    }

    /// Whether nobody else can have written to the open files meanwhile, also where the path no longer
    /// leads to them: so with a lock on the folder, not with one on a file that may have been replaced.
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

/// The file with its lock, if that comes within the wait. The system has no call that waits so long and
/// no longer, so a thread waits; a lock that comes to it too late it gives up with the file.
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
    fn one_holder_at_a_time_and_nothing_is_left_in_the_folder() {
        let dir = tempfile::tempdir().unwrap();
        let lock = held(dir.path());
        assert!(is_busy(dir.path(), Duration::ZERO));
        assert!(is_busy(dir.path(), Duration::from_millis(5)));
        drop(lock);
        // It may go through the hands of the one that waited in vain first.
        assert!(!is_busy(dir.path(), Duration::from_secs(60)));
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_folder_put_in_the_place_of_a_locked_one_ends_its_lock() {
        let outer = tempfile::tempdir().unwrap();
        let dir = outer.path().join("stash");
        fs::create_dir(&dir).unwrap();
        let lock = held(&dir);
        fs::rename(&dir, outer.path().join("away")).unwrap();
        fs::create_dir(&dir).unwrap();
        assert!(!lock.is_ours());
        assert!(held(&dir).is_ours());
        // Brought back, it is ours again.
        fs::remove_dir(&dir).unwrap();
        fs::rename(outer.path().join("away"), &dir).unwrap();
        assert!(lock.is_ours() && is_busy(&dir, Duration::ZERO));
    }

    #[test]
    fn where_a_folder_cannot_be_locked_a_file_in_it_is() {
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
    fn waiting_gets_the_lock_when_it_is_given_up() {
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
    fn who_waited_in_vain_does_not_get_the_lock_later() {
        let dir = tempfile::tempdir().unwrap();
        let patient = || match Locked::acquire(dir.path(), Duration::from_secs(60)).unwrap() {
            LockOutcome::Held(lock) => lock,
            LockOutcome::Busy => panic!("somebody keeps it"),
        };
        for _ in 0..20 {
            let lock = patient();
            assert!(is_busy(dir.path(), Duration::from_millis(5)));
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
