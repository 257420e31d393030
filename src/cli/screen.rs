//! The full-screen board, or the plain one where there is no screen.

use std::path::Path;
use std::process::ExitCode;

use jiff::Timestamp;

use super::demo;
use super::failure::Failure;
use super::keys;
use super::looks::LooksArgs;
use super::open;
use super::output::Output;
use super::plain;
use crate::journal::Notice;
use crate::journal::store::Store;
use crate::stash::count::Counts;
use crate::stash::state::State;
use crate::text::record;

/// Opens the stash on the screen. Without a terminal it prints the plain board, and makes no
/// stash where none is.
pub fn run(dir: &Path, looks: &LooksArgs, output: &mut Output) -> Result<ExitCode, Failure> {
    if Output::is_terminal() && !output.is_json() {
        let (store, notices) = open::screen(dir, output)?;
        return show(store, notices, looks, output);
    }
    let reading = open::reading(dir, output)?;
    print(reading.state(), output)?;
    Ok(ExitCode::SUCCESS)
}

/// Shows an open stash on the terminal.
pub fn show(
    store: Store,
    notices: Vec<Notice>,
    looks: &LooksArgs,
    output: &mut Output,
) -> Result<ExitCode, Failure> {
    if Output::is_terminal() && !output.is_json() {
        let (keymap, wrong) = keys::load(looks.keys.as_deref().map(Path::new));
        let notices = notices.iter().map(record::notice).chain(wrong);
        let theme = looks.theme();
        crate::tui::run(store, keymap, theme, notices.collect(), &demo::throwaway)?;
        return Ok(ExitCode::SUCCESS);
    }
    for notice in &notices {
        output.note(record::notice(notice));
    }
    print(store.state(), output)?;
    Ok(ExitCode::SUCCESS)
}

/// Prints the plain board: a picture of each board, how many cards are where, and the rings.
pub fn print(state: &State, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        return super::board::show_json(state, output);
    }
    for board in state.boards() {
        output.line(plain::heading(board))?;
        for line in plain::grid(state, board) {
            output.line(line)?;
        }
        output.line("")?;
    }
    if state.boards().len() == 0 {
        output.line(
            "There is no board yet. Put one up: homehook board new NAME --rows R --columns C",
        )?;
    } else {
        output.line(plain::legend())?;
    }
    output.line(plain::in_words(&Counts::of(state)))?;
    for ring in plain::rings(state, Timestamp::now()) {
        output.line(ring)?;
    }
    Ok(())
}
