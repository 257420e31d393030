//! `homehook keys`, and the file in which a person sets keys of their own.

use std::path::{Path, PathBuf};

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::language::say;
use crate::tui::keymap::{Keymap, as_markdown};

/// The file's name in the folder of settings of this computer.
const FILE: &str = "keys.json";

/// Prints the keys: the table of the README, or as JSON the file to begin one's own with.
pub fn run(output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        output.object(&Keymap::default().to_json())?;
    } else {
        output.raw(&as_markdown())?;
    }
    Ok(())
}

/// The keys that hold: those of the file named, else of the usual one where there is such a file, else
/// those of the table. An empty name asks for the table. Also what is wrong with the file, in words.
pub fn load(given: Option<&Path>) -> (Keymap, Vec<String>) {
    let path: Option<PathBuf> = given.map(Path::to_path_buf).or_else(|| open::setting(FILE));
    let Some(path) = path.filter(|path| !path.as_os_str().is_empty()) else {
        return (Keymap::default(), Vec::new());
    };
    let read = std::fs::read_to_string(&path);
    let (keymap, wrong) = match read {
        Ok(text) => Keymap::read(&text),
        Err(error) if given.is_none() && error.kind() == std::io::ErrorKind::NotFound => {
            return (Keymap::default(), Vec::new());
        }
        Err(error) => (
            Keymap::default(),
            vec![say!("it cannot be read: {error}", error)],
        ),
    };
    let wrong = wrong
        .into_iter()
        .map(|why| say!("the keys of {path}: {why}", path = path.display(), why));
    (keymap, wrong.collect())
}
