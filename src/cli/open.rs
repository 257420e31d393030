//! Opening the stash the command line names.

use std::path::{Path, PathBuf};
use std::time::Duration;

use directories::ProjectDirs;
use jiff::ZonedDateTime;

use super::failure::Failure;
use super::output::Output;
use crate::journal::backup::Due;
use crate::journal::keeper::Keeper;
use crate::journal::{Access, Notice};
use crate::language::say;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// How long a change waits for another process to finish writing.
pub const PATIENCE: Duration = Duration::from_secs(5);

/// Where a file of settings usually is on this computer.
pub fn setting(file: &str) -> Option<PathBuf> {
    let dirs = ProjectDirs::from("", "", "homehook")?;
    Some(dirs.config_dir().join(file))
}

/// The stash folder: the one given, else the usual one of this computer.
pub fn folder(given: Option<PathBuf>) -> Result<PathBuf, Failure> {
    given
        .or_else(|| ProjectDirs::from("", "", "homehook").map(|dirs| dirs.data_dir().to_path_buf()))
        .ok_or(Failure::NoDataFolder)
}

/// A stash opened to be read. Where none is, it is empty, and none is made.
pub struct Reading {
    keeper: Option<Keeper>,
    empty: State,
}

impl Reading {
    /// What the stash holds.
    pub fn state(&self) -> &State {
        self.keeper.as_ref().map_or(&self.empty, Keeper::state)
    }

    /// The one who keeps it, where there is a stash.
    pub const fn keeper(&self) -> Option<&Keeper> {
        self.keeper.as_ref()
    }
}

/// Opens a stash to be read, also while another process writes to it.
pub fn reading(dir: &Path, output: &Output) -> Result<Reading, Failure> {
    let mut reading = Reading {
        keeper: None,
        empty: State::default(),
    };
    if Keeper::is_in(dir) {
        reading.keeper = Some(told_of(Keeper::open(dir, Duration::ZERO)?, output));
    } else if dir.is_file() {
        return Err(Failure::NoStash(dir.to_owned()));
    } else {
        output.note(say!("there is no stash in {dir} yet", dir = dir.display()));
    }
    Ok(reading)
}

/// Opens a stash to be looked over, from the first event of its record to the last.
pub fn whole(dir: &Path, output: &Output) -> Result<Keeper, Failure> {
    Ok(told_of(Keeper::open_whole(dir)?, output))
}

/// Says what there is to say of a stash that was opened to be read.
fn told_of((keeper, notices): (Keeper, Vec<Notice>), output: &Output) -> Keeper {
    tell(&notices, output);
    if let Some(why) = why_broken(&keeper) {
        output.note(why);
    }
    keeper
}

/// Opens a stash to be changed, waiting for another process to finish. Where none is, the change
/// is first tried on an empty one, so that a refusal leaves no empty stash behind.
pub fn writing(
    dir: &Path,
    output: &Output,
    try_first: impl FnOnce(&State) -> Result<(), Refusal>,
) -> Result<Keeper, Failure> {
    if !Keeper::is_in(dir) {
        try_first(&State::default())?;
    }
    let (keeper, notices) = Keeper::open_as(dir, PATIENCE, output.by().cloned())?;
    tell(&notices, output);
    if keeper.is_writable() {
        if let Some(Err(error)) = backup_due(&keeper).map(Due::make) {
            output.note(error);
        }
        return Ok(keeper);
    }
    let why = why_broken(&keeper).unwrap_or_else(|| keeper.access().to_string());
    Err(Failure::NotWritable(why))
}

/// Opens a stash for the screen, which may stay open long: it reads along where it cannot write.
pub fn screen(dir: &Path, output: &Output) -> Result<(Keeper, Vec<Notice>), Failure> {
    Ok(Keeper::open_as(dir, Duration::ZERO, output.by().cloned())?)
}

/// The backup of today, where there is none yet.
pub fn backup_due(keeper: &Keeper) -> Option<Due> {
    keeper.backup_due(ZonedDateTime::now().date())
}

fn tell(notices: &[Notice], output: &Output) {
    for notice in notices {
        output.note(notice);
    }
}

/// Why the stash holds less than its record, if it does.
fn why_broken(keeper: &Keeper) -> Option<String> {
    if let Some((seq, misfit)) = keeper.misfit() {
        return Some(say!(
            "change {seq} of the record does not fit ({misfit}), so the stash is read-only up \
         to there. Run: homehook check",
            seq,
            misfit
        ));
    }
    matches!(keeper.access(), Access::Damaged { .. }).then(|| keeper.access().to_string())
}
