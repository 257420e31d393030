//! `homehook check --salvage`.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::time;
use crate::journal::salvage;
use crate::journal::store::Store;
use crate::text::history;
use crate::text::{one_or_many, record};

/// What was saved of a damaged record.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Salvaged {
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
pub fn run(dir: &Path, into: &Path, output: &mut Output) -> Result<(), Failure> {
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
        let what = record::left_out(&left.what, Some(&|made| time::at(made, now)));
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
