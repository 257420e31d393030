//! `homehook board`.

use std::path::Path;

use clap::{Args, Subcommand, ValueEnum};
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::values::whole;
use super::{change, open, plain};
use crate::exchange::export::{BoardOut, CardRef};
use crate::model::board::ReadingOrder;
use crate::model::card::WallOrder;
use crate::stash::command::board::{self, BoardSize, NewBoard, Unhang};
use crate::stash::command::rehang::out_of_order;
use crate::stash::command::{family, hold};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::text::rehang::hang_out_of_order;

/// How many cards a change of a board leaves to hang.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct ToHang {
    /// Cards to hang.
    to_hang: usize,
}

/// Every board.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct BoardsShown {
    /// The boards, each with its hooks in reading order.
    boards: Vec<BoardOut>,
    /// The cards that hang out of the wanted order, in that order.
    hang_out_of_order: Vec<CardRef>,
}

/// What to do with boards.
#[derive(Debug, Subcommand)]
pub(crate) enum BoardCommand {
    /// Put up a board.
    New {
        /// Its name.
        name: String,
        /// Rows of hooks.
        #[arg(long, value_parser = whole(0..=u16::MAX))]
        rows: u16,
        /// Columns of hooks.
        #[arg(long, value_parser = whole(0..=u16::MAX))]
        columns: u16,
        /// Cards per hook.
        #[arg(long, default_value_t = 1, value_parser = whole(0..=u8::MAX))]
        cards_per_hook: u8,
        /// The start of its hooks' names, for a second board: 2- makes 2-A01.
        #[arg(long, default_value = "", hide_default_value = true)]
        prefix: String,
        /// The order the hooks are read in.
        #[arg(long, value_enum, default_value_t = Reading::Rows)]
        reading: Reading,
    },
    /// Block a hook, so that nothing hangs there.
    Block {
        /// The hook.
        hook: String,
        /// The reason.
        #[arg(long, value_name = "TEXT")]
        why: String,
        /// Add the cards that hang there to those to hang.
        #[arg(long)]
        unhang: bool,
    },
    /// Make a blocked hook usable again.
    Unblock {
        /// The hook.
        hook: String,
    },
    /// Reserve a hook: a re-hang leaves it empty.
    Reserve {
        /// The hook.
        hook: String,
    },
    /// Let re-hangs use a reserved hook again.
    Unreserve {
        /// The hook.
        hook: String,
    },
    /// Set how many cards go on one hook.
    CardsPerHook {
        /// The hook.
        hook: String,
        /// Cards it may take.
        #[arg(value_parser = whole(0..=u8::MAX))]
        cards_per_hook: u8,
        /// Add the cards that don't fit any more to those to hang.
        #[arg(long)]
        unhang: bool,
    },
    /// Choose the order of the wall; nothing moves until the next re-hang.
    Order {
        /// The order.
        by: OrderBy,
    },
    /// Resize a board.
    Resize(ResizeArgs),
    /// Show which card belongs on which hook.
    Show {
        /// As a picture of rows and columns instead of a list.
        #[arg(long)]
        grid: bool,
    },
}

/// New measures of a board.
#[derive(Debug, Args)]
pub(crate) struct ResizeArgs {
    /// Its name.
    pub name: String,
    /// Rows of hooks.
    #[arg(long, value_parser = whole(0..=u16::MAX))]
    pub rows: Option<u16>,
    /// Columns of hooks.
    #[arg(long, value_parser = whole(0..=u16::MAX))]
    pub columns: Option<u16>,
    /// Cards per hook, where a hook has no number of its own.
    #[arg(long, value_parser = whole(0..=u8::MAX))]
    pub cards_per_hook: Option<u8>,
    /// The order the hooks are read in.
    #[arg(long, value_enum)]
    pub reading: Option<Reading>,
    /// Add the cards that lose their hook to those to hang.
    #[arg(long)]
    pub unhang: bool,
}

/// The order in which the eye goes over a board.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum Reading {
    /// Row by row from the top, each from the left.
    Rows,
    /// Column by column from the left, each from the top.
    Columns,
    /// Row by row, the first from the left, the next from the right, and so on.
    ThereAndBack,
}

impl From<Reading> for ReadingOrder {
    fn from(reading: Reading) -> Self {
        match reading {
            Reading::Rows => Self::Rows,
            Reading::Columns => Self::Columns,
            Reading::ThereAndBack => Self::ThereAndBack,
        }
    }
}

/// What the wall is ordered by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum OrderBy {
    /// Family, then range, then number.
    Family,
    /// Range, then number.
    Number,
    /// Family, then from light to dark.
    Lightness,
}

impl From<OrderBy> for WallOrder {
    fn from(by: OrderBy) -> Self {
        match by {
            OrderBy::Family => Self::Family,
            OrderBy::Number => Self::Number,
            OrderBy::Lightness => Self::Lightness,
        }
    }
}

pub(crate) fn run(command: BoardCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        BoardCommand::New {
            name,
            rows,
            columns,
            cards_per_hook,
            prefix,
            reading,
        } => {
            let wanted = NewBoard {
                name,
                prefix,
                rows,
                columns,
                cards_per_hook,
                reading: reading.into(),
            };
            change(dir, output, |state, _| board::new_board(state, &wanted))
        }
        BoardCommand::Block { hook, why, unhang } => change(dir, output, |state, now| {
            board::block(state, &hook, &why, may_unhang(unhang), now)
        }),
        BoardCommand::Unblock { hook } => {
            change(dir, output, |state, now| board::unblock(state, &hook, now))
        }
        BoardCommand::Reserve { hook } => {
            change(dir, output, |state, _| hold::reserve(state, &hook))
        }
        BoardCommand::Unreserve { hook } => {
            change(dir, output, |state, _| hold::unreserve(state, &hook))
        }
        BoardCommand::CardsPerHook {
            hook,
            cards_per_hook,
            unhang,
        } => change(dir, output, |state, now| {
            board::cards_per_hook(state, &hook, cards_per_hook, may_unhang(unhang), now)
        }),
        BoardCommand::Order { by } => change(dir, output, |state, _| {
            Ok(family::order_wall(state, by.into()))
        }),
        BoardCommand::Resize(args) => resize(&args, dir, output),
        BoardCommand::Show { grid } => {
            let reading = open::reading(dir, output)?;
            plain::call_out_overdue(reading.state(), output);
            show(reading.state(), grid, output)
        }
    }
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    change::make_and_tell(dir, output, ask, |state| ToHang {
        to_hang: Counts::of(state).to_hang,
    })
}

const fn may_unhang(allowed: bool) -> Unhang {
    if allowed {
        Unhang::Allowed
    } else {
        Unhang::Refused
    }
}

fn resize(args: &ResizeArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let to = BoardSize {
        rows: args.rows,
        columns: args.columns,
        cards_per_hook: args.cards_per_hook,
        reading: args.reading.map(Into::into),
    };
    change(dir, output, |state, now| {
        board::resize(state, &args.name, to, may_unhang(args.unhang), now)
    })
}

/// Writes every board with its hooks: as JSON, as a picture, or as lines that can be read aloud.
pub(crate) fn show(state: &State, grid: bool, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        let boards = state.boards().map(|board| BoardOut::of(state, board));
        let strays = out_of_order(state);
        output.object(&BoardsShown {
            boards: boards.collect(),
            hang_out_of_order: strays.iter().map(|kept| CardRef::of(state, kept)).collect(),
        })?;
        return Ok(());
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
        output.line(
            "There is no board yet. Put one up: homehook board new NAME --rows R --columns C",
        )?;
    } else if grid {
        output.line(plain::legend())?;
    }
    output.line(plain::counts_line(&Counts::of(state)))?;
    if let Some(strays) = hang_out_of_order(state) {
        output.line(format_args!(
            "{strays}. To put them in order: homehook rehang"
        ))?;
    }
    Ok(())
}
