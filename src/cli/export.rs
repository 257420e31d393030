//! `homehook export`.

use std::path::Path;

use clap::ValueEnum;
use serde_json::json;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::export::{as_csv, as_json};
use crate::exchange::file::write_whole;
use crate::language::say;

/// The form of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ExportForm {
    /// A stock list.
    Csv,
    /// One JSON object.
    Json,
}

/// Writes the stash to a file, or to standard output without one.
pub fn run(
    form: ExportForm,
    file: Option<&Path>,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let text = match form {
        ExportForm::Csv => as_csv(state),
        ExportForm::Json => as_json(state).map_err(|error| Failure::Output(error.into()))?,
    };
    let Some(file) = file.filter(|file| file.as_os_str() != "-") else {
        output.raw(&text)?;
        return Ok(());
    };
    write(file, &text, output)?;
    let sentence = say!("Wrote {file}", file = file.display());
    output.done(&sentence, json!({"file": file.to_string_lossy()}))?;
    Ok(())
}

/// Writes a text to a file, or to standard output for `-`.
pub fn write(file: &Path, text: &str, output: &mut Output) -> Result<(), Failure> {
    if file.as_os_str() == "-" {
        output.raw(text)?;
        return Ok(());
    }
    write_whole(file, text.as_bytes()).map_err(|source| Failure::NotWritten {
        path: file.to_owned(),
        source,
    })
}
