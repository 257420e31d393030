//! `homehook` without a command, `demo` and `keyboard`: the full-screen board, or the plain one
//! without a terminal.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::builder::FalseyValueParser;
use clap::{Args, ValueEnum};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;

use super::failure::{Failure, after_notice};
use super::output::Output;
use super::{demo, open, plain};
use crate::exchange::file::read_settings;
use crate::journal::Notice;
use crate::journal::store::Store;
use crate::stash::state::State;
use crate::text::files::settings_error;
use crate::text::record;
use crate::tui::keymap::{Keymap, as_markdown};
use crate::tui::looks::{Auto, Looks, Wish};
use crate::tui::theme::{Depth, Ground, Signs};
use crate::tui::{Settings, Throwaway};

/// How many colours to use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Colours {
    /// What the terminal says it can show.
    Auto,
    /// What was chosen on the screen, else what the terminal says.
    // The empty name: an environment variable set to nothing has no effect.
    #[value(name = "", hide = true)]
    Unsaid,
    /// Any colour.
    True,
    /// The 256 of xterm.
    #[value(name = "256")]
    Indexed,
    /// The sixteen of the terminal, and no swatches.
    #[value(name = "16")]
    Sixteen,
    /// None at all.
    None,
}

/// What background the colours are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Background {
    /// What the terminal says in COLORFGBG, else dark.
    Auto,
    /// What was chosen on the screen, else what the terminal says.
    #[value(name = "", hide = true)]
    Unsaid,
    /// Light text on dark.
    Dark,
    /// Dark text on light.
    Light,
}

/// A speech command, already split into words: no shell parses it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Speech(Vec<String>);

impl Speech {
    /// Splits a command into words like a shell.
    fn read(command: &str) -> Result<Self, String> {
        let words = shell_words::split(command);
        words.map(Self).map_err(|error| format!("{error}"))
    }
}

/// How the screen looks.
#[derive(Debug, Clone, Args)]
pub(crate) struct LooksArgs {
    /// How many colours the screen uses: auto, true, 256, 16 or none.
    // Unique ids: a global argument must not share its id with an argument of any command.
    #[arg(
        id = "colours of the screen",
        long = "colour",
        alias = "color",
        global = true,
        value_name = "HOW",
        env = "HOMEHOOK_COLOUR",
        default_value = "",
        hide_default_value = true,
        hide_possible_values = true
    )]
    pub colours: Colours,
    /// The background of the terminal: auto, dark or light.
    #[arg(
        id = "background of the screen",
        long = "theme",
        global = true,
        value_name = "GROUND",
        env = "HOMEHOOK_THEME",
        default_value = "",
        hide_default_value = true,
        hide_possible_values = true
    )]
    pub background: Background,
    /// Draw with ASCII characters only.
    #[arg(
        id = "signs of the screen",
        long = "ascii",
        global = true,
        env = "HOMEHOOK_ASCII",
        value_parser = FalseyValueParser::new()
    )]
    pub ascii: bool,
    /// On the screen: a program that reads each step of a walk aloud, such as espeak-ng, with its arguments.
    /// It gets a sentence on standard input.
    #[arg(
        id = "speech of the screen",
        long = "speak",
        global = true,
        value_name = "COMMAND",
        env = "HOMEHOOK_SPEAK",
        value_parser = Speech::read
    )]
    pub speak: Option<Speech>,
    /// On the screen: ring the terminal's bell at each step of a walk.
    #[arg(
        id = "bell of the screen",
        long = "bell",
        global = true,
        env = "HOMEHOOK_BELL",
        value_parser = FalseyValueParser::new()
    )]
    pub bell: bool,
    /// Keep the screen still: nothing flashes by itself.
    #[arg(
        id = "stillness of the screen",
        long = "still",
        global = true,
        env = "HOMEHOOK_STILL",
        value_parser = FalseyValueParser::new()
    )]
    pub still: bool,
    /// Your own keys for the screen; without it, keys.json in the settings folder. "" means none.
    #[arg(long, global = true, value_name = "FILE", env = "HOMEHOOK_KEYS")]
    pub keys: Option<OsString>,
}

impl LooksArgs {
    /// The requested looks.
    fn wish(&self) -> Wish {
        Wish {
            depth: match self.colours {
                Colours::Auto | Colours::Unsaid => None,
                Colours::True => Some(Depth::True),
                Colours::Indexed => Some(Depth::Indexed),
                Colours::Sixteen => Some(Depth::Sixteen),
                Colours::None => Some(Depth::None),
            },
            ground: match self.background {
                Background::Auto | Background::Unsaid => None,
                Background::Dark => Some(Ground::Dark),
                Background::Light => Some(Ground::Light),
            },
            signs: self.ascii.then_some(Signs::Ascii),
        }
    }

    /// Combines the options, the settings in the standard file, and the environment. Also returns
    /// that file's path, and its error if it is invalid.
    fn looks(&self) -> (Looks, Option<PathBuf>, Option<String>) {
        let file = open::setting(LOOKS);
        let (kept, wrong) = file.as_deref().map_or_else(Default::default, kept);
        let auto = Auto {
            depth: self.colours == Colours::Auto,
            ground: self.background == Background::Auto,
        };
        let looks = Looks::new(self.wish(), kept, auto, |name| std::env::var(name).ok());
        (looks, file, wrong)
    }
}

/// Whether the terminal is on another computer, where the connection may be slow.
fn is_far() -> bool {
    std::env::var_os("SSH_CONNECTION").is_some_and(|value| !value.is_empty())
}

/// Opens the stash on the screen. Without a terminal it prints the plain board, and doesn't create
/// a missing stash.
pub(crate) fn run(dir: &Path, looks: &LooksArgs, output: &mut Output) -> Result<ExitCode, Failure> {
    if Output::is_terminal() && !output.is_json() {
        let (store, notices) = open::screen(dir, output)?;
        return show(store, notices, looks, false, output);
    }
    let reading = open::reading(dir, output)?;
    print(reading.state(), true, output)?;
    Ok(ExitCode::SUCCESS)
}

/// Shows an open stash on the terminal, with a note if it is the demo.
fn show(
    store: Store,
    notices: Vec<Notice>,
    looks: &LooksArgs,
    invented: bool,
    output: &mut Output,
) -> Result<ExitCode, Failure> {
    if Output::is_terminal() && !output.is_json() {
        let (keymap, wrong) = load(looks.keys.as_deref().map(Path::new));
        let (looks_now, looks_file, wrong_looks) = looks.looks();
        let notices = (notices.iter()).map(|notice| {
            output.placed(&format!(
                "{}{}",
                record::notice(notice),
                after_notice(notice)
            ))
        });
        let notices = notices.chain(wrong).chain(wrong_looks);
        let settings = Settings {
            keys: keymap,
            looks: looks_now,
            looks_file,
            speak: looks.speak.clone().map_or_else(Vec::new, |speech| speech.0),
            bell: looks.bell,
            still: looks.still || is_far(),
            invented,
            check: output.placed("homehook check"),
        };
        crate::tui::run(store, settings, notices.collect(), &demo::throwaway)?;
        return Ok(ExitCode::SUCCESS);
    }
    open::tell(&notices, output);
    print(store.state(), true, output)?;
    Ok(ExitCode::SUCCESS)
}

/// Prints the boards, as a picture or as lines that can be read aloud, the number of cards in each place, and the rings.
fn print(state: &State, picture: bool, output: &mut Output) -> Result<(), Failure> {
    super::board::show(state, picture, output)?;
    if !output.is_json() {
        for ring in plain::rings(state, Timestamp::now()) {
            output.line(ring)?;
        }
    }
    Ok(())
}

/// Builds the demo stash, and shows or prints it. Its folder is deleted at the end.
pub(crate) fn demo(
    plain: bool,
    looks: &LooksArgs,
    output: &mut Output,
) -> Result<ExitCode, Failure> {
    let Throwaway { store, folder } = demo::in_new_folder()?;
    if plain || output.is_json() || !Output::is_terminal() {
        print(store.state(), !plain, output)?;
        return Ok(ExitCode::SUCCESS);
    }
    let shown = show(store, Vec::new(), looks, true, output);
    drop(folder);
    shown
}

/// The keyboard file in this system's settings folder.
const FILE: &str = "keys.json";
/// The file in the same folder with the looks set on the screen.
const LOOKS: &str = "screen.json";

/// Every part of the screen with its actions and their keys. A keyboard file may have fewer.
#[derive(Serialize)]
pub(crate) struct Keyboard(Value);

#[cfg(test)]
impl schemars::JsonSchema for Keyboard {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Keyboard".into()
    }

    /// Lists every part and every action of the table.
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

/// Prints the keyboard: as the table in the handbook, or as a JSON file to start your own from.
pub(crate) fn keyboard(output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        output.object(&Keyboard(Keymap::default().to_json()))?;
    } else {
        output.raw(&as_markdown())?;
    }
    Ok(())
}

/// The active keymap: from the given file, or else from the standard one if it exists, or else the
/// built-in table. An empty name selects the table. Also returns the errors of the file, in words.
fn load(given: Option<&Path>) -> (Keymap, Vec<String>) {
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
            vec![format!(
                "it cannot be read: {why}",
                why = settings_error(&error)
            )],
        ),
    };
    let wrong = wrong
        .into_iter()
        .map(|why| format!("the keys of {path}: {why}", path = path.display()));
    (keymap, wrong.collect())
}

/// The looks saved in a file, and its error in words.
fn kept(path: &Path) -> (Wish, Option<String>) {
    let why = match read_settings(path) {
        Ok(text) => match Wish::read(&text) {
            Ok(kept) => return (kept, None),
            Err(wrong) => wrong,
        },
        Err(error) if error.is_not_there() => return Default::default(),
        Err(error) => settings_error(&error),
    };
    let path = path.display();
    let told = format!("The colours kept in {path} aren't used: {why}");
    (Wish::default(), Some(told))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_speech_command_is_split_into_words_without_a_shell() {
        let words = |text| Speech::read(text).map(|speech| speech.0);
        let espeak = ["espeak-ng", "-v", "en gb", "$HOME;", "|"].map(str::to_owned);
        assert_eq!(words("espeak-ng -v 'en gb' '$HOME;' '|'").unwrap(), espeak);
        assert_eq!(words("").unwrap(), Vec::<String>::new());
        assert!(words("say 'it").unwrap_err().contains("quote"));
    }

    #[test]
    fn an_invalid_keyboard_file_is_reported_and_leaves_the_default() {
        let dir = tempfile::tempdir().unwrap();
        let mut paths = vec![dir.path().to_path_buf(), dir.path().join("none.json")];
        if cfg!(unix) {
            paths.push("/dev/zero".into());
            // It has no writer, and reading it must not block.
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
