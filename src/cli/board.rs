//! `homehook board`.

use std::path::Path;

use serde_json::json;

use super::args::{BoardCommand, ResizeArgs};
use super::failure::Failure;
use super::output::Output;
use super::plain;
use super::{open, run};
use crate::exchange::export::BoardOut;
use crate::language::word;
use crate::stash::command::board::{self, Measures, NewBoard, Unhang};
use crate::stash::command::{family, pin};
use crate::stash::count::Counts;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::act_in_words;
use jiff::Timestamp;

/// Does what was asked of boards.
pub fn run(command: BoardCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        BoardCommand::New {
            name,
            rows,
            columns,
            places,
            prefix,
            reading,
        } => {
            let wanted = NewBoard {
                name,
                prefix,
                rows,
                columns,
                places,
                reading: reading.into(),
            };
            change(dir, output, |state, _| board::new_board(state, &wanted))
        }
        BoardCommand::Block { mark, why, unhang } => change(dir, output, |state, now| {
            board::block(state, &mark, &why, may_unhang(unhang), now)
        }),
        BoardCommand::Unblock { mark } => {
            change(dir, output, |state, now| board::unblock(state, &mark, now))
        }
        BoardCommand::Keep { mark } => change(dir, output, |state, _| pin::keep_free(state, &mark)),
        BoardCommand::Use { mark } => change(dir, output, |state, _| pin::use_again(state, &mark)),
        BoardCommand::Places {
            mark,
            places,
            unhang,
        } => change(dir, output, |state, now| {
            board::places(state, &mark, places, may_unhang(unhang), now)
        }),
        BoardCommand::Order { by } => change(dir, output, |state, _| {
            Ok(family::order_wall(state, by.into()))
        }),
        BoardCommand::Resize(args) => resize(&args, dir, output),
        BoardCommand::Show { grid } => {
            let reading = open::reading(dir, output)?;
            show(reading.state(), grid, output)
        }
    }
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    let changed = run::change(dir, output, ask)?;
    let words = act_in_words(changed.keeper.state(), &changed.event.act);
    let to_hang = Counts::of(changed.keeper.state()).in_tray;
    output.done(&words, json!({"event": changed.seq, "to_hang": to_hang}))?;
    Ok(())
}

const fn may_unhang(allowed: bool) -> Unhang {
    if allowed {
        Unhang::Allowed
    } else {
        Unhang::Refused
    }
}

fn resize(args: &ResizeArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let to = Measures {
        rows: args.rows,
        columns: args.columns,
        places: args.places,
        reading: args.reading.map(Into::into),
    };
    change(dir, output, |state, now| {
        board::resize(state, &args.name, to, may_unhang(args.unhang), now)
    })
}

/// Every board with its hooks as JSON.
pub fn show_json(state: &State, output: &mut Output) -> Result<(), Failure> {
    let boards: Vec<BoardOut> = state
        .boards()
        .map(|board| BoardOut::of(state, board))
        .collect();
    output.object(&json!({ "boards": boards }))?;
    Ok(())
}

fn show(state: &State, grid: bool, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        return show_json(state, output);
    }
    for board in state.boards() {
        output.line(plain::heading(board))?;
        let lines = if grid {
            plain::grid(state, board)
        } else {
            plain::list(state, board)
        };
        for line in lines {
            output.line(line)?;
        }
    }
    if state.boards().len() == 0 {
        output.line(word!(
            "There is no board yet. Put one up: homehook board new NAME --rows R --columns C"
        ))?;
    } else if grid {
        output.line(plain::legend())?;
    }
    output.line(plain::in_words(&Counts::of(state)))?;
    Ok(())
}
