//! `homehook keyboard`, and the file in which a person sets keys of their own.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::Value;

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::exchange::file::read_settings;
use crate::tui::keymap::{Keymap, as_markdown};

/// The file's name in the folder of settings of this computer.
const FILE: &str = "keys.json";

/// Every part of the screen, what can be done there, and the keys for it. A file of keys may hold less.
#[derive(Serialize)]
pub struct Keyboard(Value);

#[cfg(test)]
impl schemars::JsonSchema for Keyboard {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Keyboard".into()
    }

    /// Names every part and every action of the table.
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let keys = schemars::json_schema!({"type": "array", "items": {"type": "string"}});
        let closed = |fields: serde_json::Map<String, Value>| {
            let names: Vec<&String> = fields.keys().collect();
            schemars::json_schema!({"type": "object", "required": names, "properties": fields})
        };
        let parts = Keymap::default().to_json();
        let parts = parts.as_object().into_iter().flatten().map(|(part, of)| {
            let actions = of.as_object().into_iter().flatten();
            let actions = actions.map(|(action, _)| (action.clone(), keys.clone().to_value()));
            (part.clone(), closed(actions.collect()).to_value())
        });
        closed(parts.collect())
    }
}

/// Prints the keys: the table of the README, or as JSON the file to begin one's own with.
pub fn run(output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        output.object(&Keyboard(Keymap::default().to_json()))?;
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
    let (keymap, wrong) = match read_settings(&path) {
        Ok(text) => Keymap::read(&text),
        Err(error) if given.is_none() && error.is_not_there() => {
            return (Keymap::default(), Vec::new());
        }
        Err(error) => (
            Keymap::default(),
            vec![format!("it cannot be read: {error}")],
        ),
    };
    let wrong = wrong
        .into_iter()
        .map(|why| format!("the keys of {path}: {why}", path = path.display()));
    (keymap, wrong.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_that_are_no_file_leave_those_of_the_table_and_are_told_of() {
        let dir = tempfile::tempdir().unwrap();
        let mut paths = vec![dir.path().to_path_buf(), dir.path().join("none.json")];
        if cfg!(unix) {
            paths.push("/dev/zero".into());
            // Nobody writes to it, and it isn't waited for.
            let pipe = dir.path().join("pipe");
            let made = std::process::Command::new("mkfifo").arg(&pipe).status();
            assert!(made.unwrap().success());
            paths.push(pipe);
        }
        let large = dir.path().join("large");
        std::fs::File::create(&large)
            .and_then(|file| file.set_len(1 << 40))
            .unwrap();
        paths.push(large);
        for path in paths {
            let (keymap, wrong) = load(Some(&path));
            assert_eq!((keymap, wrong.len()), (Keymap::default(), 1));
            let said = format!("the keys of {}: it cannot be read: ", path.display());
            assert!(wrong[0].starts_with(&said), "{wrong:?}");
        }
    }
}
