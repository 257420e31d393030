//! Opens the stash named on the command line.

use std::path::{Path, PathBuf};

use directories::ProjectDirs;
use jiff::{Timestamp, ZonedDateTime};

use super::failure::{Failure, after_notice, after_read_only};
use super::output::Output;
use crate::journal::backup::Due;
use crate::journal::store::{PATIENCE, Store};
use crate::journal::{CommitError, Notice};
use crate::stash::event::Event;
use crate::stash::state::State;
use crate::text::record;

/// The standard path of a settings file on this system.
pub(crate) fn setting(file: &str) -> Option<PathBuf> {
    let dirs = ProjectDirs::from("", "", "homehook")?;
    Some(dirs.config_dir().join(file))
}

/// The stash folder: the given one, or else the standard one of this system.
pub(crate) fn folder(given: Option<PathBuf>) -> Result<PathBuf, Failure> {
    given
        .or_else(|| ProjectDirs::from("", "", "homehook").map(|dirs| dirs.data_dir().to_path_buf()))
        .ok_or(Failure::NoDataFolder)
}

/// A stash opened for reading. A missing one is empty, and isn't created.
pub(crate) struct Reading {
    store: Option<Store>,
    empty: State,
}

impl Reading {
    pub(crate) fn state(&self) -> &State {
        self.store.as_ref().map_or(&self.empty, Store::state)
    }

    /// The store, if there is a stash.
    pub(crate) const fn store(&self) -> Option<&Store> {
        self.store.as_ref()
    }
}

/// Opens a stash for reading, even while another process writes to it.
pub(crate) fn reading(dir: &Path, output: &Output) -> Result<Reading, Failure> {
    let mut reading = Reading {
        store: None,
        empty: State::default(),
    };
    if Store::is_in(dir) {
        reading.store = Some(told_of(Store::open(dir)?, output));
    } else if dir.is_file() {
        return Err(Failure::NoStash(dir.to_owned()));
    } else {
        output.note(
            "no_stash",
            format!("There is no stash in {dir} yet.", dir = dir.display()),
        );
    }
    Ok(reading)
}

/// Reports the notices and problems of a stash opened for reading.
fn told_of((store, notices): (Store, Vec<Notice>), output: &Output) -> Store {
    tell(&notices, output);
    if let Some(why) = store.unsound() {
        output.only_in_part();
        output.note(
            "read_only",
            format_args!(
                "{why}{next}",
                next = after_read_only(&why),
                why = record::read_only(&why)
            ),
        );
    }
    store
}

/// A locked stash, so that nobody else writes until a change is on disk.
pub(crate) struct Writing {
    store: Store,
}

impl Writing {
    pub(crate) const fn state(&self) -> &State {
        self.store.state()
    }

    /// Puts a change on disk, unlocks the stash, and returns it with the number of the change.
    pub(crate) fn commit(
        self,
        now: Timestamp,
        event: &Event,
        output: &Output,
    ) -> Result<(Store, u64), Failure> {
        self.commit_all(now, std::slice::from_ref(event), output)
    }

    /// Like [`Writing::commit`] for a change that may be absent; then it only unlocks the stash.
    pub(crate) fn commit_if(
        self,
        now: Timestamp,
        event: Option<&Event>,
        output: &Output,
    ) -> Result<(Store, Option<u64>), Failure> {
        match event {
            Some(event) => {
                let (store, seq) = self.commit(now, event, output)?;
                Ok((store, Some(seq)))
            }
            None => Ok((self.release(output), None)),
        }
    }

    /// Puts several changes on disk, all or none, unlocks the stash, and returns it with the number
    /// of the last one.
    pub(crate) fn commit_all(
        mut self,
        now: Timestamp,
        events: &[Event],
        output: &Output,
    ) -> Result<(Store, u64), Failure> {
        self.back_up(output);
        let last = self.store.commit_all(now, events)?;
        Ok((self.release(output), last))
    }

    /// Undoes or redoes one change, keeping the stash locked.
    pub(crate) fn turn(
        &mut self,
        turn: impl FnOnce(&mut Store) -> Result<u64, CommitError>,
        output: &Output,
    ) -> Result<u64, Failure> {
        self.back_up(output);
        Ok(turn(&mut self.store)?)
    }

    pub(crate) const fn store(&self) -> &Store {
        &self.store
    }

    /// Unlocks the stash.
    pub(crate) fn release(mut self, output: &Output) -> Store {
        self.store.release();
        tell(&self.store.take_notices(), output);
        self.store
    }

    /// Makes today's backup, before the first change of the day.
    fn back_up(&self, output: &Output) {
        if let Some(Err(error)) = backup_due(&self.store).map(Due::make) {
            output.note("no_backup", record::backup_error(&error));
        }
    }
}

/// Opens a stash for a change and computes the change; then locks the stash, and computes the
/// change again if others have changed the stash meanwhile. So the lock is held only for writing,
/// and a refusal leaves the folder unchanged.
pub(crate) fn writing<T>(
    dir: &Path,
    output: &Output,
    what: impl Fn(&State, Timestamp) -> Result<T, Failure>,
) -> Result<(Writing, Timestamp, T), Failure> {
    let (mut store, notices) = Store::open_whole(dir)?;
    store.sign_as(output.by().cloned());
    // An unfinished line is reported when it is set aside.
    let told = notices
        .into_iter()
        .filter(|notice| !matches!(notice, Notice::Torn { .. }));
    tell(&told.collect::<Vec<_>>(), output);
    if let Some(why) = store.read_only() {
        return Err(Failure::ReadOnly(why));
    }
    let now = Timestamp::now();
    let wanted = what(store.state(), now)?;
    if !store.hold(PATIENCE)? {
        return Ok((Writing { store }, now, wanted));
    }
    // Read the clock after waiting for another process, so that times in the record go forward.
    let now = Timestamp::now();
    let wanted = what(store.state(), now)?;
    Ok((Writing { store }, now, wanted))
}

/// Opens a stash for the screen, which follows the changes of others.
pub(crate) fn screen(dir: &Path, output: &Output) -> Result<(Store, Vec<Notice>), Failure> {
    let (mut store, notices) = Store::open(dir)?;
    store.sign_as(output.by().cloned());
    Ok((store, notices))
}

/// Today's backup, if it is still due.
fn backup_due(store: &Store) -> Option<Due> {
    store.backup_due(ZonedDateTime::now().date())
}

pub(super) fn tell(notices: &[Notice], output: &Output) {
    for notice in notices {
        output.note(
            "record",
            format_args!(
                "{notice}{next}",
                next = after_notice(notice),
                notice = record::notice(notice)
            ),
        );
    }
}
