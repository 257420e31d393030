//! Errors in a command line, worded like every other error: what happened, and what to type.

use clap::Error;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::text::list;

/// Why the parser rejects a command line.
pub fn in_words(error: &Error) -> String {
    said(error).unwrap_or_else(|| {
        // The parser's text, without its leading word.
        let text = error.render().to_string();
        text.trim_start_matches("error: ").trim_end().to_owned()
    })
}

fn said(error: &Error) -> Option<String> {
    let first = |kind| texts(error, kind).into_iter().next();
    let help = help_of(error);
    Some(match error.kind() {
        ErrorKind::InvalidSubcommand => {
            let typed = first(ContextKind::InvalidSubcommand)?;
            let near = meant(&texts(error, ContextKind::SuggestedSubcommand));
            format!("There is no command '{typed}'.{near} Commands: {help}")
        }
        ErrorKind::UnknownArgument => {
            let typed = first(ContextKind::InvalidArg)?;
            let near = meant(&texts(error, ContextKind::SuggestedArg));
            let what = if typed.starts_with('-') {
                "option"
            } else {
                "word"
            };
            format!("This command takes no {what} '{typed}'.{near} See: {help}")
        }
        ErrorKind::MissingRequiredArgument => {
            let missing = texts(error, ContextKind::InvalidArg);
            format!("Give {} too. See: {help}", list(&missing))
        }
        ErrorKind::MissingSubcommand => format!("Name a command. See: {help}"),
        ErrorKind::InvalidValue => {
            let (option, typed) = (
                first(ContextKind::InvalidArg)?,
                first(ContextKind::InvalidValue)?,
            );
            let known = texts(error, ContextKind::ValidValue);
            if typed.is_empty() {
                format!("{option} needs a value.")
            } else if known.is_empty() {
                return None;
            } else {
                format!(
                    "{option} can't be '{typed}'. Choose one of: {}.",
                    list(&known)
                )
            }
        }
        ErrorKind::ValueValidation => {
            let option = first(ContextKind::InvalidArg)?;
            let why = std::error::Error::source(error)?;
            format!("{option}: {why}")
        }
        ErrorKind::ArgumentConflict => {
            let (one, others) = (
                first(ContextKind::InvalidArg)?,
                texts(error, ContextKind::PriorArg),
            );
            if others == [one.clone()] {
                format!("{one} is given twice. Give it once.")
            } else {
                format!(
                    "{one} and {} don't go together. Leave one out.",
                    list(&others)
                )
            }
        }
        _ => return None,
    })
}

/// The parser's context of one kind, each without the parts that only its usage line needs.
fn texts(error: &Error, kind: ContextKind) -> Vec<String> {
    match error.get(kind) {
        Some(ContextValue::String(text)) => vec![text.clone()],
        Some(ContextValue::Strings(texts)) => texts.clone(),
        Some(ContextValue::StyledStr(text)) => vec![text.to_string()],
        Some(ContextValue::StyledStrs(texts)) => texts.iter().map(ToString::to_string).collect(),
        _ => Vec::new(),
    }
}

/// ` Did you mean 'find'?`
fn meant(near: &[String]) -> String {
    // The nearest is last.
    let near = near.last();
    near.map_or_else(String::new, |near| format!(" Did you mean '{near}'?"))
}

/// `homehook board new --help`, for the command whose usage the error shows.
fn help_of(error: &Error) -> String {
    let usage = texts(error, ContextKind::Usage).concat();
    let usage = usage.trim_start_matches("Usage:");
    let words = usage
        .split_whitespace()
        .take_while(|word| !word.starts_with(['-', '<', '[']));
    let mut command = words.collect::<Vec<_>>().join(" ");
    if command.is_empty() {
        "homehook".clone_into(&mut command);
    }
    format!("{command} --help")
}

#[cfg(test)]
mod tests {
    use super::in_words;
    use crate::cli::command;

    fn said(line: &str) -> String {
        let wrong = command().try_get_matches_from(line.split(' '));
        in_words(&wrong.unwrap_err())
    }

    #[test]
    fn a_wrong_command_line_is_reported_like_any_other_error() {
        for (line, words) in [
            (
                "homehook fnd 3",
                "There is no command 'fnd'. Did you mean 'find'? Commands: homehook --help",
            ),
            (
                "homehook ring tak",
                "There is no command 'tak'. Did you mean 'take'? Commands: homehook ring --help",
            ),
            (
                "homehook board new",
                "Give --rows <ROWS>, --columns <COLUMNS>, <NAME> too. See: homehook board new --help",
            ),
            (
                "homehook board new X --rows a --columns 3",
                "--rows <ROWS>: 'a' isn't a whole number. Write one such as 3.",
            ),
            (
                "homehook need --jso",
                "This command takes no option '--jso'. Did you mean '--json'? See: homehook need --help",
            ),
            (
                "homehook check x",
                "This command takes no word 'x'. See: homehook check --help",
            ),
            (
                "homehook print labels --paper a9",
                "--paper <PAPER> can't be 'a9'. Choose one of: a4, letter.",
            ),
            ("homehook history --last", "--last <N> needs a value."),
            (
                "homehook undo 1 2",
                "This command takes no word '2'. See: homehook undo --help",
            ),
        ] {
            assert_eq!(said(line), words, "{line}");
        }
    }

    #[test]
    fn two_exclusive_options_are_both_named() {
        let words = said("homehook import cards list.csv --as-cards --purchase --purchase");
        assert!(words.contains("--purchase"), "{words}");
        assert!(!words.contains("error:"), "{words}");
    }
}
