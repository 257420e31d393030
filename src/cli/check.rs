//! `homehook check`.

use std::path::Path;
use std::process::ExitCode;

use serde::Serialize;
use serde_json::json;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::journal::keeper::Keeper;
use crate::journal::{self, Report};
use crate::stash::event::Event;

/// Something that is wrong.
#[derive(Serialize)]
struct Problem {
    /// The line of the record, where it is about one.
    line: Option<u64>,
    /// What is wrong.
    message: String,
}

/// Verifies every line of the record, then plays it through and checks every law.
pub fn run(dir: &Path, output: &mut Output) -> Result<ExitCode, Failure> {
    if !Keeper::is_in(dir) {
        return Err(Failure::NoStash(dir.to_owned()));
    }
    let report = journal::check::<Event>(dir)?;
    let mut problems = in_record(&report);
    // A damaged record is not opened: that might set a torn end aside, and a check changes nothing.
    if problems.is_empty() {
        let reading = open::reading(dir, output)?;
        if let Some(keeper) = reading.keeper() {
            problems.extend(in_stash(keeper));
        }
    }
    let ok = problems.is_empty();
    if output.is_json() {
        output.object(&json!({"ok": ok, "events": report.events, "problems": problems}))?;
    } else {
        for Problem { line, message } in &problems {
            match line {
                Some(line) => output.line(format_args!("Line {line} of the record: {message}."))?,
                None => output.line(format_args!("{message}."))?,
            }
        }
        let changes = report.events;
        output.line(if ok {
            format!("All is well: {changes} changes recorded, every law kept.")
        } else {
            format!("{changes} changes are good, but see above. Keep a copy of the stash folder.")
        })?;
    }
    Ok(if ok {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

fn in_record(report: &Report) -> Vec<Problem> {
    let problems = report.problems.iter();
    problems
        .map(|problem| Problem {
            line: Some(problem.line),
            message: problem.reason.to_string(),
        })
        .collect()
}

fn in_stash(keeper: &Keeper) -> Vec<Problem> {
    let misfit = keeper.misfit().map(|(seq, misfit)| Problem {
        // Line 1 is the header.
        line: Some(seq + 1),
        message: misfit.to_string(),
    });
    let broken = keeper.broken_laws().into_iter().map(|broken| Problem {
        line: None,
        message: broken.to_string(),
    });
    misfit.into_iter().chain(broken).collect()
}
