//! `homehook export`.

use std::io::{self, Write};
use std::path::Path;

use serde_json::json;

use super::args::ExportForm;
use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::export::{Stash, stock_rows};
use crate::exchange::unfinished::new_file;
use crate::exchange::write_stock_csv;

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
        ExportForm::Csv => write_stock_csv(&stock_rows(state)),
        ExportForm::Json => {
            let mut text = serde_json::to_string_pretty(&Stash::of(state))
                .map_err(|error| Failure::Output(error.into()))?;
            text.push('\n');
            text
        }
    };
    let Some(file) = file.filter(|file| file.as_os_str() != "-") else {
        output.raw(&text)?;
        return Ok(());
    };
    write(file, &text, output)?;
    let sentence = format!("Wrote {}", file.display());
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

/// Puts bytes in a file that appears under its name whole or not at all. A pipe or a device is
/// written to as it is.
pub(super) fn write_whole(file: &Path, bytes: &[u8]) -> io::Result<()> {
    if file.exists() && !file.is_file() {
        return std::fs::OpenOptions::new()
            .write(true)
            .open(file)?
            .write_all(bytes);
    }
    // Renaming onto a link would put the file in place of the link, not of what it points to.
    let target = file.canonicalize().unwrap_or_else(|_| file.to_owned());
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut new = new_file(folder)?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist(&target).map_err(|error| error.error)?;
    Ok(())
}
