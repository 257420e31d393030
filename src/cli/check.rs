//! `homehook check`, with `--restore` and `--salvage`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{open, plain};
use crate::journal::backup;
use crate::journal::restore::{self, Copy, Lacking};
use crate::journal::salvage::{self, LeftOut, Salvage};
use crate::journal::store::{PATIENCE, Store};
use crate::journal::{self, Damage, LineError, Notice, Report};
use crate::stash::event::Event;
use crate::text::faults::{apply_error, violation};
use crate::text::{history, one_or_many, record};

/// What to do beside looking.
#[derive(Debug, Args)]
pub(crate) struct CheckArgs {
    /// Write the sound part of a damaged record to a new stash in DIR, and list the rest. DIR must be empty
    /// or new. The damaged record stays as it is.
    #[arg(long, value_name = "DIR", conflicts_with = "restore")]
    pub salvage: Option<PathBuf>,
    /// Put the backup of a day, such as 2026-03-01, or of a file in the place of the record, and set the
    /// record aside. Without a value: list the backups.
    // The option with a value, without one, or absent.
    #[allow(clippy::option_option)]
    #[arg(long, value_name = "DATE|FILE")]
    pub restore: Option<Option<String>>,
    /// With --restore: take the record of another stash too.
    #[arg(long, requires = "restore")]
    pub another_stash: bool,
    /// Go on with a record that lost changes or was replaced. The record notes the loss.
    #[arg(long, conflicts_with_all = ["restore", "salvage"])]
    pub accept_loss: bool,
}

/// How the record and the stash stand.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Checked {
    /// Whether all is well.
    ok: bool,
    /// How many good changes there are.
    events: u64,
    /// How many of them `--salvage` can save; `null` where nothing is damaged, or the record is gone.
    salvageable: Option<usize>,
    /// What is wrong.
    problems: Vec<Problem>,
    /// Commands that help with a damaged record, the surest first.
    next: Vec<String>,
}

/// What a record goes on with after a loss.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct LossAccepted {
    /// Always true.
    ok: bool,
    /// Changes that had been acknowledged; `null` where that is not known.
    recorded: Option<u64>,
    /// Changes that are left.
    found: u64,
}

/// Something that is wrong.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct Problem {
    /// The line of the record, where it is about one.
    line: Option<u64>,
    /// What is wrong: of a line a clause, otherwise a sentence.
    message: String,
    /// What the line was about, as far as that can be read and it is lost.
    what: Option<String>,
}

/// A remedy for a damaged record: the command, and what it does.
type Remedy = (String, String);

/// The remedies, the one that keeps most changes first. `taken`: so many can be salvaged, if that is possible.
fn remedies(dir: &Path, taken: Option<usize>, only_loss: bool, output: &Output) -> Vec<Remedy> {
    let command = |words: &str| output.placed(&format!("homehook check {words}"));
    let best = restore::best(dir);
    let restore = match best {
        Some((day, events)) => (
            command(&format!("--restore {day}")),
            format!(
                "puts the backup of {day} in the record's place, with {events} {changes}",
                changes = one_or_many(events, "change", "changes")
            ),
        ),
        None => (
            command("--restore FILE"),
            "puts a copy of the record in its place; there is no sound backup".to_owned(),
        ),
    };
    let salvage = taken.map(|_| {
        (
            command("--salvage DIR"),
            "writes a new sound stash in DIR and lists what is left out".to_owned(),
        )
    });
    // A loss can only be accepted if nothing else is wrong.
    let accept = only_loss.then(|| {
        (
            command("--accept-loss"),
            "goes on with the changes that are left, and records that the others are lost"
                .to_owned(),
        )
    });
    let backup_is_better = best.is_some_and(|(_, events)| events > taken.unwrap_or(0) as u64);
    let (first, second) = match backup_is_better {
        true => (Some(restore), salvage),
        false => (salvage, Some(restore)),
    };
    [first, second, accept].into_iter().flatten().collect()
}

/// What to do where a backup holds changes that the record lacks.
fn for_a_stray(copy: &Path, output: &Output) -> Vec<Remedy> {
    let copy = copy.to_string_lossy();
    let merge = format!("homehook merge {copy}", copy = shell_words::quote(&copy));
    let brings = "brings the changes of the backup in; nothing of the record is lost";
    let accept = "homehook check --accept-loss";
    let leaves = "goes on without them, and records that they are lost";
    [(merge, brings), (accept.to_owned(), leaves)]
        .map(|(command, does)| (output.placed(&command), does.to_owned()))
        .into()
}

/// Verifies every line of the record, then replays it and checks every invariant. Or runs the
/// remedy given as an option.
pub(crate) fn run(args: &CheckArgs, dir: &Path, output: &mut Output) -> Result<ExitCode, Failure> {
    match (&args.salvage, &args.restore) {
        (Some(into), _) => salvage(dir, into, output)?,
        (None, Some(None)) => backups(dir, output)?,
        (None, Some(Some(which))) => restore(dir, which, args.another_stash, output)?,
        (None, None) if args.accept_loss => accept_loss(dir, output)?,
        (None, None) => return look(dir, output),
    }
    Ok(ExitCode::SUCCESS)
}

/// Continues with the current contents of a record.
fn accept_loss(dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !Store::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let by = output.by().cloned();
    let (recorded, found) = Store::accept_loss(dir, by, Timestamp::now())?;
    if output.is_json() {
        output.object(&LossAccepted {
            ok: true,
            recorded,
            found,
        })?;
        return Ok(());
    }
    output.line(format!(
        "The stash goes on with the {found} {changes} that are left, and the record notes the loss.",
        changes = one_or_many(found, "change", "changes")
    ))?;
    if found == 0 {
        output
            .line("Backups and copies made before count as those of another stash from now on.")?;
    }
    Ok(())
}

fn look(dir: &Path, output: &mut Output) -> Result<ExitCode, Failure> {
    if !Store::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let report = journal::check::<Event>(dir)?;
    let mut problems = in_record(&report);
    let mut lacks = None;
    if report.is_sound() {
        let (store, notices) = Store::open_whole(dir)?;
        let (losses, rest): (Vec<_>, Vec<_>) = notices.into_iter().partition(Notice::is_of_a_loss);
        open::tell(&rest, output);
        lacks = losses.into_iter().next();
        problems.extend(lacks.iter().map(|notice| Problem {
            line: None,
            message: record::notice(notice),
            what: None,
        }));
        problems.extend(in_stash(&store));
        problems.extend((!store.agrees_with_snapshot()?).then(stale_snapshot));
    }
    let ok = problems.is_empty();
    let stray = match &lacks {
        Some(Notice::Lacks { copy, .. }) if problems.len() == 1 => Some(copy),
        _ => None,
    };
    let saved = match (ok || stray.is_some(), &report.loss) {
        (true, _) | (_, Some(Damage::Missing { .. })) => None,
        _ => Some(journal::salvage::look(dir, history::act_and_cards)?),
    };
    let only_loss = report.loss.is_some()
        && (report.problems.iter())
            .all(|problem| problem.reason == LineError::Unfinished || report.bytes == 0);
    let taken = saved.as_ref().map(|saved| saved.taken.len());
    let next = match (ok, stray) {
        (true, _) => Vec::new(),
        (false, Some(copy)) => for_a_stray(copy, output),
        (false, None) => remedies(dir, taken, only_loss, output),
    };
    if let Some(saved) = &saved {
        explain(&mut problems, saved, output.is_json());
    }
    if output.is_json() {
        output.object(&Checked {
            ok,
            events: report.events,
            salvageable: taken,
            problems,
            next: next.into_iter().map(|(command, _)| command).collect(),
        })?;
    } else {
        for problem in &problems {
            tell(problem, output)?;
        }
        tell_outcome(ok, report.events, taken, output)?;
        if !next.is_empty() {
            output.line("Next steps:")?;
        }
        for (command, does) in next {
            output.line(format_args!("  {command}   {}", does))?;
        }
    }
    Ok(if ok {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

/// `taken`: so many of the good changes can be salvaged, if that was looked at.
fn tell_outcome(
    ok: bool,
    changes: u64,
    taken: Option<usize>,
    output: &mut Output,
) -> Result<(), Failure> {
    let are = one_or_many(changes, "change is", "changes are");
    output.line(match taken {
        _ if ok => format!(
            "All is well: {changes} {word} recorded, and everything in it fits together.",
            word = one_or_many(changes, "change", "changes")
        ),
        Some(taken) => format!(
            "{changes} {are} good, and {taken} of them can be saved. Keep a copy of the stash \
             folder."
        ),
        None => format!("{changes} {are} good, but see above. Keep a copy of the stash folder."),
    })?;
    Ok(())
}

fn tell(problem: &Problem, output: &mut Output) -> Result<(), Failure> {
    let Problem {
        line,
        message,
        what,
    } = problem;
    let what = what.as_ref().map(|what| format!(" It was: {what}."));
    let what = what.unwrap_or_default();
    match line {
        Some(line) => output.line(format!("Line {line} of the record: {message}.{what}"))?,
        None => output.line(format_args!("{message}{what}"))?,
    }
    Ok(())
}

/// Adds what the lost lines contained, with times formatted for people or as written in the record.
fn explain(problems: &mut [Problem], saved: &Salvage<String>, as_it_stands: bool) {
    let now = Timestamp::now();
    let what = |left: &LeftOut<String>| match as_it_stands {
        true => record::left_out(&left.what, None),
        false => record::left_out(&left.what, Some(&|made| plain::at(made, now))),
    };
    let mut lost: BTreeMap<u64, String> = saved
        .left_out
        .iter()
        .filter_map(|left| Some((left.line?, what(left))))
        .collect();
    for problem in problems {
        problem.what = problem.line.and_then(|line| lost.remove(&line));
    }
}

fn in_record(report: &Report) -> Vec<Problem> {
    let problems = report.problems.iter();
    let lines = problems.map(|problem| Problem {
        line: Some(problem.line),
        message: record::line_error(&problem.reason),
        what: None,
    });
    let loss = report.loss.iter().map(|loss| Problem {
        line: None,
        message: record::damage(loss),
        what: None,
    });
    lines.chain(loss).collect()
}

fn stale_snapshot() -> Problem {
    let message = "The snapshot beside the record isn't what the record says. Nothing is lost: \
                   delete the file record.snapshot in the stash folder.";
    Problem {
        line: None,
        message: message.to_owned(),
        what: None,
    }
}

fn in_stash(store: &Store) -> Vec<Problem> {
    let misfit = store.misfit().map(|(seq, misfit)| Problem {
        // Line 1 is the header, so event n is in line n + 1.
        line: Some(seq + 1),
        message: apply_error(misfit),
        what: None,
    });
    let broken = store.broken_laws().into_iter().map(|broken| Problem {
        line: None,
        message: format!("{why}.", why = violation(&broken)),
        what: None,
    });
    misfit.into_iter().chain(broken).collect()
}

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

/// Lists the backups, oldest first.
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
        output.line(output.placed("To go back to one: homehook check --restore DATE"))?;
    }
    Ok(())
}

/// Replaces the record with a backup.
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
        Lacking::Exactly(0) => "It lacks nothing of the previous record.".to_owned(),
        Lacking::Exactly(1) => "It lacks 1 change of the previous record.".to_owned(),
        Lacking::Exactly(lacking) => {
            format!("It lacks {lacking} changes of the previous record.")
        }
        Lacking::AtLeast(lacking) => {
            format!("It lacks the change that was recorded last here, {lacking} at least.")
        }
        Lacking::Unknown => {
            "There was no record to compare it with, so what it lacks is unknown.".to_owned()
        }
    })?;
    if let Some(aside) = aside {
        output.line(format!("The previous record is kept as {aside}."))?;
    }
    Ok(())
}

/// The copy the user means: a day's backup, or else a file of that name here, or in the stash.
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

/// Whether a folder, as far as it exists, is inside another.
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

/// Writes the good events of the record in `dir` as a new stash, and lists those left out.
pub(crate) fn salvage(dir: &Path, into: &Path, output: &mut Output) -> Result<(), Failure> {
    if !Store::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    // A stash inside another would look like part of it.
    if is_below(into, dir) {
        return Err(Failure::InsideStash(into.to_owned()));
    }
    let saved = salvage::look(dir, history::act_and_cards)?;
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
    output.line("Left out. Make these changes again where you want them:")?;
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
        "Look at it (homehook --stash {into} board show), check the wall with a roll call, then go on with that folder.",
        into = into.display()
    ))?;
    Ok(())
}
