//! Putting a copy of the record in its place.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::end::{self, EndFile};
use super::error::{Flaw, RecordError};
use super::folder;
use super::line::FORMAT_VERSION;
use super::lock::{Grab, Holder, Lock};
use super::scan::{Chain, End, scan};
use crate::language::say;
use crate::stash::event::Event;
use crate::stash::state::{Misfit, State};

/// What came of putting a copy in the record's place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// How many events there are now.
    pub events: u64,
    /// How many lines of the record set aside the copy does not have: what was done since it was made.
    pub lacking: u64,
    /// Where the record that was there is now; nothing where there was none.
    pub aside: Option<PathBuf>,
}

/// Why a file is no sound record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unsound {
    /// A line is damaged.
    #[error("{}", say!("line {line} is damaged: {reason}", line, reason))]
    Damaged {
        /// The line, from 1.
        line: u64,
        /// What is wrong with it.
        reason: Flaw,
    },
    /// Its end is missing.
    #[error("{}", say!("line {line} breaks off unfinished", line))]
    Torn {
        /// The line, from 1.
        line: u64,
    },
    /// Another version of the format.
    #[error("{}", say!(
        "it is in format {found}, and this Homehook reads formats up to {FORMAT_VERSION}",
        found,
        FORMAT_VERSION
    ))]
    Newer {
        /// Its version.
        found: u64,
    },
    /// An event breaks a law.
    #[error("{}", say!("change {seq} does not fit: {misfit}", seq, misfit))]
    Misfit {
        /// The event.
        seq: u64,
        /// What is wrong.
        misfit: Misfit,
    },
}

/// Why a copy was not put in the record's place.
#[derive(Debug, thiserror::Error)]
pub enum RestoreError {
    /// The copy cannot be read.
    #[error("{}", say!(
        "{path} cannot be read ({source}). See the backups there are: homehook check \
         --restore",
        path = path.display(),
        source
    ))]
    Unreadable {
        /// The copy.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The copy is not sound.
    #[error("{}", say!(
        "{path} is no sound record: {unsound}. Nothing was changed; choose another one",
        path = path.display(),
        unsound
    ))]
    Unsound {
        /// The copy.
        path: PathBuf,
        /// What is wrong with it.
        unsound: Unsound,
    },
    /// Another process is writing.
    #[error("{}", say!(
        "the stash is open in another window{why}. Nothing was changed; close it first",
        why = in_words(.0.as_ref())
    ))]
    Open(Option<Holder>),
    /// The lock cannot be had.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// A step failed.
    #[error("{}", say!(
        "the copy could not be put in the record's place ({source}); the record is still \
         there whole, the one before or the copy. Run: homehook check",
        source
    ))]
    Failed {
        /// What the system said.
        source: io::Error,
    },
}

fn in_words(holder: Option<&Holder>) -> String {
    holder.map_or_else(String::new, |holder| format!(" ({holder})"))
}

/// Verifies a record in any file, plays it through, and returns how many events it has.
///
/// # Errors
/// Where the file cannot be read; within, where it is not sound.
pub fn verify(path: &Path) -> io::Result<Result<u64, Unsound>> {
    Ok(proved(path)?.map(|chain| chain.events))
}

fn proved(path: &Path) -> io::Result<Result<Chain, Unsound>> {
    let mut chain = Chain::start();
    let found = scan::<Event>(File::open(path)?, &mut chain, None)?;
    let line = chain.next_line();
    let unsound = match found.end {
        End::Damaged(reason) => Unsound::Damaged { line, reason },
        End::Torn(_) => Unsound::Torn { line },
        End::Newer(found) => Unsound::Newer { found },
        End::Clean => {
            let mut state = State::default();
            let misfit = found.entries.into_iter().find_map(|entry| {
                let misfit = state.apply(&entry.event).err()?;
                let seq = entry.seq;
                Some(Unsound::Misfit { seq, misfit })
            });
            match misfit {
                None => return Ok(Ok(chain)),
                Some(misfit) => misfit,
            }
        }
    };
    Ok(Err(unsound))
}

/// What is done, in this order. Each step is on disk before the next begins, so that a crash between
/// any two leaves a whole record under its name, and what had been there is never lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    /// The copy is copied beside the record, and verified there.
    Bring,
    /// The record is copied to a name of its own, which nothing ever replaces.
    SetAside,
    /// `record.end` is taken away: it speaks of the record that goes.
    Forget,
    /// The new record takes the name.
    Exchange,
    /// `record.end` is written anew.
    Note,
}

/// Puts the record in the file `from` in the place of that of the stash in `dir`, under the writer's
/// lock, for which it waits so long.
///
/// # Errors
/// Where the copy cannot be read or is not sound, where the lock is not to be had, and where the disk
/// does not take it. The record is whole in each case.
pub fn restore(dir: &Path, from: &Path, wait: Duration) -> Result<Restored, RestoreError> {
    carry_out(dir, from, wait, |_| Ok(()))
}

fn carry_out(
    dir: &Path,
    from: &Path,
    wait: Duration,
    mut before: impl FnMut(Step) -> io::Result<()>,
) -> Result<Restored, RestoreError> {
    let _lock = match Lock::grab(dir, wait)? {
        Grab::Held(lock) => lock,
        Grab::Taken(holder) => return Err(RestoreError::Open(holder)),
        Grab::Protected(source) => return Err(RestoreError::Failed { source }),
    };
    let failed = |source| RestoreError::Failed { source };
    let unreadable = |source| RestoreError::Unreadable {
        path: from.to_owned(),
        source,
    };
    let mut source = File::open(from).map_err(unreadable)?;
    let record = folder::record_in(dir);

    before(Step::Bring).map_err(failed)?;
    // Gone again when anything fails before it takes the record's name.
    let mut new = tempfile::Builder::new()
        .prefix("record.restored-")
        .tempfile_in(dir)
        .map_err(failed)?;
    io::copy(&mut source, new.as_file_mut()).map_err(failed)?;
    new.as_file().sync_all().map_err(failed)?;
    let chain = match proved(new.path()).map_err(failed)? {
        Ok(chain) => chain,
        Err(unsound) => {
            let path = from.to_owned();
            return Err(RestoreError::Unsound { path, unsound });
        }
    };
    let lacking = lines_lacking(&record, new.path()).map_err(failed)?;

    before(Step::SetAside).map_err(failed)?;
    let aside = match record.try_exists().map_err(failed)? {
        true => Some(folder::keep_copy(dir).map_err(failed)?),
        false => None,
    };

    before(Step::Forget).map_err(failed)?;
    match fs::remove_file(end::path_in(dir)) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(failed(error)),
        _ => folder::sync(dir).map_err(failed)?,
    }

    before(Step::Exchange).map_err(failed)?;
    folder::put_in_place(dir, &new.into_temp_path(), &record).map_err(failed)?;

    before(Step::Note).map_err(failed)?;
    // Without the note only a later loss goes unseen.
    let end = EndFile::open(dir);
    let _ = end.and_then(|mut end| end.note(chain.events, chain.sum));
    Ok(Restored {
        events: chain.events,
        lacking,
        aside,
    })
}

/// How many lines the record has after the last one that both begin with.
fn lines_lacking(record: &Path, copy: &Path) -> io::Result<u64> {
    let record = match File::open(record) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(0),
        Err(error) => return Err(error),
    };
    let (mut ours, mut theirs) = (BufReader::new(record), BufReader::new(File::open(copy)?));
    let (mut here, mut there) = (Vec::new(), Vec::new());
    let (mut same, mut lacking, mut line) = (true, 0, 0_u64);
    loop {
        here.clear();
        there.clear();
        if ours.read_until(b'\n', &mut here)? == 0 {
            return Ok(lacking);
        }
        theirs.read_until(b'\n', &mut there)?;
        line += 1;
        same = same && here == there;
        // Line 1 holds no event.
        lacking += u64::from(!same && line > 1);
    }
}

#[cfg(test)]
mod tests;
