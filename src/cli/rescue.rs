//! `homehook check --restore` and `check --salvage`.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::plain;
use crate::journal::restore::{self, Copy, Lacking};
use crate::journal::store::{PATIENCE, Store};
use crate::journal::{backup, salvage};
use crate::text::{history, one_or_many, record};

/// The backups.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Backups {
    /// Always true.
    ok: bool,
    /// The backups, the oldest first.
    backups: Vec<BackupOut>,
}

/// What a restored record holds.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Restored {
    /// Always true.
    ok: bool,
    /// Changes in the record now.
    events: u64,
    /// Acknowledged changes that it lacks, at least; `null` where there was nothing to compare it with.
    lacking: Option<u64>,
    /// The file it was taken from.
    from: String,
    /// Where the record before is kept; `null` where there was none.
    set_aside: Option<String>,
}

/// A backup and what is in it.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct BackupOut {
    /// Its day, such as 2026-03-01.
    date: String,
    /// Its file.
    file: String,
    /// Changes in it; `null` where it is not sound.
    events: Option<u64>,
    /// Whether every line of it is good.
    sound: bool,
    /// What is wrong with it; `null` where it is sound.
    problem: Option<String>,
}

/// Lists the backups, the oldest first.
pub(crate) fn backups(dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !dir.exists() {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let backups = backup::list(dir).into_iter().map(|backup| {
        let looked = restore::verify(dir, &Copy::Backup(backup.day));
        let (events, problem) = match looked {
            Ok(Ok(events)) => (Some(events), None),
            Ok(Err(unsound)) => (None, Some(record::unsound(&unsound))),
            Err(error) => (None, Some(record::system(&error))),
        };
        BackupOut {
            date: backup.day.to_string(),
            file: backup.path.display().to_string(),
            events,
            sound: problem.is_none(),
            problem,
        }
    });
    let backups: Vec<BackupOut> = backups.collect();
    if output.is_json() {
        output.object(&Backups { ok: true, backups })?;
        return Ok(());
    }
    if backups.is_empty() {
        output.line("There is no backup yet. One is made every day the stash is changed.")?;
        return Ok(());
    }
    for BackupOut {
        date,
        events,
        problem,
        ..
    } in &backups
    {
        match (events, problem) {
            (Some(1), _) => output.line(format!("{date}  1 change, sound"))?,
            (Some(events), _) => output.line(format!("{date}  {events} changes, sound"))?,
            (None, problem) => output.line(format!(
                "{date}  not sound: {why}",
                why = problem.as_deref().unwrap_or_default()
            ))?,
        }
    }
    if backups.iter().any(|backup| backup.sound) {
        output.line("To go back to one: homehook check --restore DATE")?;
    }
    Ok(())
}

/// Puts a backup in the record's place.
pub(crate) fn restore(
    dir: &Path,
    which: &str,
    another: bool,
    output: &mut Output,
) -> Result<(), Failure> {
    let copy = copy(dir, which);
    let from = copy.path(dir);
    if !dir.exists() || (!Store::is_in(dir) && !from.exists()) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let restored = restore::restore(dir, &copy, another, PATIENCE)?;
    let aside = restored.aside.map(|path| path.display().to_string());
    if output.is_json() {
        output.object(&Restored {
            ok: true,
            events: restored.events,
            lacking: restored.lacking.known(),
            from: from.display().to_string(),
            set_aside: aside,
        })?;
        return Ok(());
    }
    output.line(format!(
        "The record is now that of {from}, with {events} {changes}.",
        from = from.display(),
        events = restored.events,
        changes = one_or_many(restored.events, "change", "changes")
    ))?;
    output.line(match restored.lacking {
        Lacking::Exactly(0) => "It lacks nothing of the one before.".to_owned(),
        Lacking::Exactly(1) => "It lacks 1 change of the one before.".to_owned(),
        Lacking::Exactly(lacking) => {
            format!("It lacks {lacking} changes of the one before.")
        }
        Lacking::AtLeast(lacking) => {
            format!("It lacks the change that was recorded last here, {lacking} at least.")
        }
        Lacking::Unknown => {
            "There was no record to compare it with, so what it lacks is not known.".to_owned()
        }
    })?;
    if let Some(aside) = aside {
        output.line(format!("The one before is kept as {aside}."))?;
    }
    Ok(())
}

/// The copy that is meant: a day's backup, else a file of that name here, or in the stash.
fn copy(dir: &Path, which: &str) -> Copy {
    if let Ok(day) = which.parse::<Date>() {
        return Copy::Backup(day);
    }
    let here = PathBuf::from(which);
    let is_name = here.file_name() == Some(here.as_os_str());
    match is_name && !here.exists() && dir.join(which).exists() {
        true => Copy::Inside(which.to_owned()),
        false => Copy::File(here),
    }
}

/// What was saved of a damaged record.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Salvaged {
    /// Always true.
    ok: bool,
    /// Changes that are in the new stash.
    taken: usize,
    /// What is not in it.
    left_out: Vec<LeftOutOut>,
    /// The folder of the new stash.
    folder: String,
}

/// Something that is not in the new stash.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct LeftOutOut {
    /// The line of the damaged record; `null` for what stands in no line any more.
    line: Option<u64>,
    /// What it was about.
    what: String,
    /// Why it was left out.
    reason: String,
}

/// Whether a folder, as far as it is there, lies in another.
fn is_below(folder: &Path, other: &Path) -> bool {
    let Ok(other) = other.canonicalize() else {
        return false;
    };
    let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
    let above = folder
        .ancestors()
        .skip(1)
        .find_map(|above| above.canonicalize().ok());
    above.is_some_and(|above| above.starts_with(other))
}

/// Writes what is good of the record in `dir` as a new stash, and lists what is not.
pub(crate) fn salvage(dir: &Path, into: &Path, output: &mut Output) -> Result<(), Failure> {
    if !Store::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    // A stash inside another would be taken for a part of it.
    if is_below(into, dir) {
        return Err(Failure::InsideStash(into.to_owned()));
    }
    let saved = salvage::look(dir, history::act)?;
    salvage::write(into, dir, &saved.taken)?;
    let taken = saved.taken.len();
    if output.is_json() {
        let left_out = saved.left_out.iter().map(|left| LeftOutOut {
            line: left.line,
            what: record::left_out(&left.what, None),
            reason: record::why_left_out(&left.reason),
        });
        output.object(&Salvaged {
            ok: true,
            taken,
            left_out: left_out.collect(),
            folder: into.display().to_string(),
        })?;
        return Ok(());
    }
    let changes = one_or_many(taken, "change", "changes");
    output.line(format!(
        "A new stash with {taken} {changes} is in {into}. The one in {dir} is as it was.",
        into = into.display(),
        dir = dir.display()
    ))?;
    if saved.left_out.is_empty() {
        output.line("Nothing was left out.")?;
        return Ok(());
    }
    output.line("Left out, and to be made again where it is wanted:")?;
    let now = Timestamp::now();
    for left in &saved.left_out {
        let what = record::left_out(&left.what, Some(&|made| plain::at(made, now)));
        let reason = record::why_left_out(&left.reason);
        match left.line {
            Some(line) => output.line(format!("  line {line}: {what} ({reason})"))?,
            None => output.line(format_args!("  {what} ({reason})"))?,
        }
    }
    output.line(format!(
        "Look it over (homehook --stash {into} board show), hold the wall against it with a \
         roll call, and then go on with that folder.",
        into = into.display()
    ))?;
    Ok(())
}
