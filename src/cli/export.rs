//! `homehook export`.

use std::fs::File;
use std::io::Read;
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
    force: bool,
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
    if !force && file.is_file() && !is_free_for(file, &text) {
        return Err(Failure::FileThere(file.to_owned()));
    }
    write(file, &text, output)?;
    let sentence = say!("Wrote {file}", file = file.display());
    output.done(&sentence, json!({"file": file.to_string_lossy()}))?;
    Ok(())
}

/// Whether a file may be written over: it is empty, or begins as the text does, so that it is an earlier
/// export: with the line of titles, or the two lines that say it is one.
fn is_free_for(file: &Path, text: &str) -> bool {
    let lines = if text.starts_with('{') { 2 } else { 1 };
    let head: String = text.split_inclusive('\n').take(lines).collect();
    let mut there = Vec::new();
    let length = u64::try_from(head.len()).unwrap_or(u64::MAX);
    let read = File::open(file).and_then(|file| file.take(length).read_to_end(&mut there));
    read.is_ok() && (there.is_empty() || there == head.as_bytes())
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
