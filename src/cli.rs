//! The command line: every command without a screen, as text or as JSON.

mod args;
mod board;
mod buy;
mod cards;
mod change;
mod check;
mod demo;
mod export;
mod failure;
mod family;
mod find;
mod guide;
mod help;
mod history;
mod import;
mod merge;
mod need;
mod open;
mod output;
mod pattern;
mod plain;
mod print;
mod pull;
mod range;
mod rehang;
mod ring;
mod rollcall;
mod schema;
mod screen;
mod thread;
mod usage;
mod values;

#[cfg(test)]
pub(crate) use failure::with_advice;

use std::io;
use std::process::ExitCode;

use clap::error::ErrorKind;
use clap::parser::ValueSource;
use clap::{Command, CommandFactory, FromArgMatches};

use args::Cli;
use output::Output;

/// The definition of the command line, in English.
#[must_use]
pub fn command() -> Command {
    Cli::command()
}

/// Parses and runs the command line. Exits with 0 on success, 1 on failure, 2 if the command line is
/// invalid, and 3 if the answer comes from the sound part of a damaged record.
#[must_use]
pub fn main() -> ExitCode {
    ignore_sigxfsz();
    let mut stash_typed = false;
    let parsed = command().try_get_matches().and_then(|matches| {
        stash_typed = matches.value_source("stash") == Some(ValueSource::CommandLine);
        Cli::from_arg_matches(&matches)
    });
    let cli = match parsed {
        Ok(cli) => cli,
        Err(error) => {
            let error = with_help_laid_out(error);
            if error.use_stderr() {
                // The message repeats user input, so it is written like every other message.
                let message = usage::in_words(&error);
                let json = std::env::args_os().any(|word| word == "--json");
                output::usage(message.trim_end(), json);
            } else {
                // A closed terminal is no reason to fail; the exit code is enough.
                let _ = error.print();
            }
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    let mut output = Output::new(cli.json, values::name_of(cli.by.as_ref()));
    output.set_stash(cli.stash.as_deref().filter(|_| stash_typed));
    let done = args::run(cli, &mut output).and_then(|code| match output.flush() {
        // The reader stopped early; the command's outcome stands.
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error.into()),
        _ => Ok(code),
    });
    match done {
        Ok(code) => output.exit_code(code),
        Err(failure) if failure.is_closed_pipe() => output.exit_code(ExitCode::SUCCESS),
        Err(failure) => {
            // Earlier output goes before the error.
            let _ = output.flush();
            output.failure(&failure);
            ExitCode::FAILURE
        }
    }
}

/// Replaces a request for help by the same help laid out.
fn with_help_laid_out(error: clap::Error) -> clap::Error {
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            let again = help::laid_out(command()).try_get_matches();
            again.err().unwrap_or(error)
        }
        _ => error,
    }
}

/// Makes a write beyond the file size limit fail with an error, like one on a full disk, instead of
/// killing the program. Does nothing on systems without such a signal.
fn ignore_sigxfsz() {
    #[cfg(unix)]
    {
        use std::sync::Arc;
        use std::sync::atomic::AtomicBool;

        // The flag itself is unused: registering it stops the signal from ending the program. If
        // that fails, nothing changes.
        let came = Arc::new(AtomicBool::new(false));
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, came);
    }
}
