//! The command line: every command without a screen, as text or as JSON.

mod advice;
mod args;
mod away;
mod board;
mod buy;
mod change;
mod check;
mod demo;
mod export;
mod fabric;
mod failure;
mod family;
mod find;
mod hang;
mod hold;
mod import;
mod key;
mod keys;
mod list;
mod log;
mod looks;
mod merge;
mod need;
mod number;
mod open;
mod output;
mod plain;
mod print;
mod progress;
mod pull;
mod rehang;
mod remove;
mod restore;
mod ring;
mod rollcall;
mod run;
mod salvage;
mod schema;
mod screen;
mod signal;
mod thread;
mod time;
mod undo;
mod who;

#[cfg(test)]
pub(crate) use advice::with_advice;

use std::io;
use std::process::ExitCode;

use clap::{Command, CommandFactory, FromArgMatches};

use args::Cli;
use output::Output;

/// The definition of the command line, in English.
#[must_use]
pub fn command() -> Command {
    Cli::command()
}

/// Reads the command line and does what it says. Ends with 0 when it is done, 1 when it could not
/// be, and 2 when the command line makes no sense.
#[must_use]
pub fn main() -> ExitCode {
    signal::ignore_sigxfsz();
    let parsed = command().try_get_matches();
    let cli = match parsed.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => {
            if error.use_stderr() {
                // It tells again what was typed, so it goes out as every other message does.
                let message = error.render().to_string();
                let json = std::env::args_os().any(|word| word == "--json");
                output::usage(message.trim_end(), json);
            } else {
                // A closed terminal is no reason to fail; the code says the rest.
                let _ = error.print();
            }
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    let mut output = Output::new(cli.json, who::of(cli.by.as_ref()));
    let done = run::run(cli, &mut output).and_then(|code| match output.flush() {
        // Nobody read the answer to its end; what it comes to stands.
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error.into()),
        _ => Ok(code),
    });
    match done {
        Ok(code) => code,
        Err(failure) if failure.is_closed_pipe() => ExitCode::SUCCESS,
        Err(failure) => {
            // What was answered before belongs before the error.
            let _ = output.flush();
            output.failure(&failure);
            ExitCode::FAILURE
        }
    }
}
