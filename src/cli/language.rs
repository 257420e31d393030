//! In which language the program speaks: that of a file, where there is one.

use std::env;
use std::path::PathBuf;

use clap::Command;

use super::open;
use crate::exchange::file::read_settings;
use crate::language::{self, Language, say};

/// The variable that names a file with a language.
const VARIABLE: &str = "HOMEHOOK_LANGUAGE";
/// The file in the usual folder of settings.
const FILE: &str = "language.json";

/// Speaks the language of the file that is named, else of the usual one, from now on; English where
/// there is neither. An empty name asks for English. Returns why a language cannot be spoken.
pub fn choose() -> Option<String> {
    let named = env::var_os(VARIABLE).map(PathBuf::from);
    let path = named.clone().or_else(|| open::setting(FILE))?;
    if path.as_os_str().is_empty() {
        return None;
    }
    let why = match read_settings(&path) {
        Ok(json) => match Language::read(&json) {
            Ok(language) => {
                language::speak(language);
                return None;
            }
            Err(wrong) => wrong.to_string(),
        },
        Err(error) if named.is_none() && error.is_not_there() => return None,
        Err(error) => say!("it cannot be read ({error})", error),
    };
    Some(say!(
        "the language of {path} cannot be spoken: {why}",
        path = path.display(),
        why
    ))
}

/// The command line with its help in the language that is spoken.
pub fn localized(command: Command) -> Command {
    if language::is_foreign() {
        translated(command)
    } else {
        command
    }
}

fn translated(command: Command) -> Command {
    let told = |text: Option<String>| text.as_deref().and_then(language::told);
    let plain = |text: Option<&clap::builder::StyledStr>| told(text.map(ToString::to_string));
    let mut command = command.mut_args(|mut arg| {
        if let Some(text) = plain(arg.get_help()) {
            arg = arg.help(text);
        }
        if let Some(text) = plain(arg.get_long_help()) {
            arg = arg.long_help(text);
        }
        arg
    });
    if let Some(text) = plain(command.get_about()) {
        command = command.about(text);
    }
    if let Some(text) = plain(command.get_long_about()) {
        command = command.long_about(text);
    }
    command.mut_subcommands(translated)
}

/// Every text of the help, in English.
pub fn texts(command: &Command) -> Vec<String> {
    let mut texts: Vec<String> = command
        .get_arguments()
        .flat_map(|arg| [arg.get_help(), arg.get_long_help()])
        .chain([command.get_about(), command.get_long_about()])
        .flatten()
        .map(ToString::to_string)
        .collect();
    for inner in command.get_subcommands() {
        texts.extend(self::texts(inner));
    }
    texts
}
