//! `homehook export`.

use std::path::Path;

use clap::ValueEnum;
use serde::Serialize;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::export::{as_csv, as_json};
use crate::exchange::file::{Put, write_unless_there, write_whole};
use crate::exchange::write_matches_csv;
use crate::text::export;
use crate::text::places::listed_at_home;

/// The form of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ExportForm {
    /// A card list.
    Csv,
    /// One JSON object.
    Json,
    /// A conversion list.
    Matches,
}

/// What became of the file.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct ExportFile {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The file.
    file: String,
}

/// Writes the stash to a file, or to standard output.
pub(crate) fn run(
    form: ExportForm,
    file: Option<&Path>,
    force: bool,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let text = match form {
        ExportForm::Csv => as_csv(state),
        ExportForm::Matches => write_matches_csv(state),
        ExportForm::Json => {
            as_json(export(state)).map_err(|error| Failure::Output(error.into()))?
        }
    };
    if form == ExportForm::Csv
        && let Some(words) = listed_at_home(state)
    {
        let advice = "For where each card is: homehook export json";
        output.note("listed_at_home", format!("{words} {advice}"));
    }
    let Some(file) = file.filter(|file| file.as_os_str() != "-") else {
        output.raw(&text)?;
        return Ok(());
    };
    let file_name = file.display();
    let done = match write(file, &text, force, dir, output)? {
        Put::Written => format!("Wrote {file}", file = file_name),
        Put::UpToDate => format!("{file} is up to date already", file = file_name),
    };
    let answer = ExportFile {
        done,
        file: file.to_string_lossy().into_owned(),
    };
    output.done(&answer.done, &answer)?;
    Ok(())
}

/// Writes a text to a file, or to standard output for `-`. Overwrites an existing file with other
/// contents only with `force`.
pub(crate) fn write(
    file: &Path,
    text: &str,
    force: bool,
    dir: &Path,
    output: &mut Output,
) -> Result<Put, Failure> {
    if file.as_os_str() == "-" {
        output.raw(text)?;
        return Ok(Put::Written);
    }
    let put = if force {
        write_whole(file, text.as_bytes(), dir).map(|()| Put::Written)
    } else {
        write_unless_there(file, text.as_bytes(), dir)
    };
    put.map_err(Failure::not_put(file))
}
