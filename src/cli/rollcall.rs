//! `homehook rollcall`.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::import::{FileOut, ListArgs};
use super::output::Output;
use super::{change, import, open};
use crate::exchange::export::{CardRef, WhereaboutsOut};
use crate::exchange::{Plain, SeenFile, Source, read_roll_call};
use crate::model::board::{Board, HookRef};
use crate::model::ids::CardId;
use crate::model::whereabouts::Place;
use crate::stash::command::rehang::Rows;
use crate::stash::command::rollcall;
use crate::stash::command::rollcall::{Report, Seen, Stop, Unknown, sightings, stop};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::export;
use crate::text::files::rejected;

/// What should hang on each hook.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Walk {
    /// The hooks, in reading order.
    hooks: Vec<StopOut>,
}

/// A hook and what should hang there.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct StopOut {
    /// The hook.
    hook: String,
    /// The row it is walked in.
    row: Option<String>,
    /// Why nothing may hang here.
    blocked: Option<String>,
    /// The cards that hang here.
    cards: Vec<CardRef>,
    /// The cards that belong here and are away.
    out: Vec<OutOut>,
}

/// A card that is away.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct OutOut {
    /// The card.
    card: CardRef,
    /// Where it is.
    whereabouts: WhereaboutsOut,
}

/// How a list of what was seen differs from the record.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Compared<'a> {
    /// How many hooks were looked at.
    walked: usize,
    /// How many cards hang where the record says.
    found: usize,
    /// The cards that hang elsewhere than the record says.
    misplaced: Vec<MisplacedOut>,
    /// The cards that are not where the record says.
    missing: Vec<NotSeenOut>,
    /// Numbers that no card of the stash has.
    unknown: &'a [Unknown],
    /// Whether the record was changed.
    applied: bool,
    /// The number of the event in the record; `null` where nothing was changed.
    event: Option<u64>,
    /// Columns that were not understood.
    ignored_columns: &'a [String],
    /// How the file was read.
    file: FileOut<'a>,
}

/// A card that hangs elsewhere than the record says.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct MisplacedOut {
    /// The card.
    card: Option<CardRef>,
    /// The hook it was seen on.
    seen: String,
    /// Where the record had it.
    recorded: Option<WhereaboutsOut>,
}

/// A card that is not where the record says.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct NotSeenOut {
    /// The card.
    card: Option<CardRef>,
    /// Where the record had it.
    recorded: Option<WhereaboutsOut>,
}

/// What was looked at, and what was seen.
#[derive(Debug, Args)]
pub(crate) struct RollCallArgs {
    /// A list of what you saw: hook, number and range, as CSV, .xlsx or .ods; - means standard input. A row without
    /// a number is an empty hook.
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// The sheet of a workbook; without it, the first one.
    #[arg(long, value_name = "NAME", requires = "file")]
    pub sheet: Option<String>,
    /// Print only these rows, such as A,C or A-C; with a list, you checked all their hooks.
    #[arg(long, value_name = "ROWS", value_delimiter = ',')]
    pub rows: Vec<String>,
    /// You checked every hook: those not in the list were empty.
    #[arg(long, requires = "file", conflicts_with = "rows")]
    pub all: bool,
    /// Record it: misplaced cards hang where you saw them, unseen cards are missing.
    #[arg(long, requires = "file")]
    pub apply: bool,
}

/// Prints the list of what should be on the wall, or compares what was seen with the record.
pub(crate) fn run(args: &RollCallArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match &args.file {
        None => walk(args, dir, output),
        Some(file) => check(file, args, dir, output),
    }
}

/// The given rows, if any.
fn rows(state: &State, args: &RollCallArgs) -> Result<Option<Rows>, Refusal> {
    let named = (!args.rows.is_empty()).then(|| Rows::named(state, &args.rows));
    named.transpose()
}

/// Prints the paper list.
fn walk(args: &RollCallArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    if state.boards().len() == 0 {
        return Err(Refusal::NoBoard.into());
    }
    let rows = rows(state, args)?;
    let wanted = |hook: &HookRef| rows.as_ref().is_none_or(|rows| rows.have(*hook));
    if output.is_json() {
        let hooks = state.hooks().filter(wanted);
        let hooks = hooks.map(|hook| stop_out(state, &stop(state, hook)));
        output.object(&Walk {
            hooks: hooks.collect(),
        })?;
        return Ok(());
    }
    let mut first = true;
    for board in state.boards() {
        let hooks: Vec<HookRef> = board.hooks().filter(wanted).collect();
        if hooks.is_empty() {
            continue;
        }
        if !std::mem::take(&mut first) {
            output.line("")?;
        }
        output.line(format_args!("{}:", board.name))?;
        for run in hooks.chunk_by(|&a, &b| rollcall::same_run(state, a, b)) {
            output.line("")?;
            output.line(text::places::run_name(board, run[0]))?;
            for line in lines(state, board, run) {
                output.line(line)?;
            }
        }
    }
    Ok(())
}

/// The hooks of a row, one per line with a tick box; neighbouring free ones share a line, and
/// blocked ones are left out.
fn lines(state: &State, board: &Board, run: &[HookRef]) -> Vec<String> {
    let open = run.iter().filter(|&&hook| board.blocked(hook).is_none());
    let stops: Vec<Stop<'_>> = open.map(|&hook| stop(state, hook)).collect();
    let runs = stops.chunk_by(|a, b| a.is_free() && b.is_free());
    runs.map(|run| match run {
        [first, .., last] => format!(
            "  [ ] {board} to {board2}: nothing",
            board = board.hook_name(first.hook),
            board2 = board.hook_name(last.hook)
        ),
        run => run.iter().map(|stop| line(state, stop)).collect(),
    })
    .collect()
}

/// `[ ] A01: 701 slate; 9 is out (on the ring 'Harbour')`.
fn line(state: &State, stop: &Stop<'_>) -> String {
    let name = |kept: &&CardState| {
        let number = state.card_name(kept);
        match (kept.card.name.as_str(), kept.home) {
            (name, Some(home)) if home != stop.hook => {
                let hook_name = state.hook_name(home);
                format!("{number} {name} (belongs on {hook_name})").replace("  ", " ")
            }
            ("", _) => number,
            (name, _) => format!("{number} {name}"),
        }
    };
    let mut text: Vec<String> = stop.hang.iter().map(name).collect();
    if text.is_empty() {
        text.push("nothing".to_owned());
    }
    let text = text.join(", ");
    let out = stop.out.iter().map(|kept| {
        let (name, place) = (state.card_name(kept), text::places::place_of(state, kept));
        format!("; {name} is out ({place})")
    });
    let hook_name = state.hook_name(stop.hook);
    format!("  [ ] {hook_name}: {text}{}", out.collect::<String>())
}

fn stop_out(state: &State, stop: &Stop<'_>) -> StopOut {
    let board = state.board(stop.hook.board);
    let blocked = board.and_then(|board| board.blocked(stop.hook));
    let out = stop.out.iter().map(|kept| OutOut {
        card: CardRef::of(state, kept),
        whereabouts: WhereaboutsOut::of(export(state), kept),
    });
    let cards = stop.hang.iter().map(|kept| CardRef::of(state, kept));
    StopOut {
        hook: state.hook_name(stop.hook),
        row: board.map(|board| text::places::run_name(board, stop.hook)),
        blocked: blocked.map(ToString::to_string),
        cards: cards.collect(),
        out: out.collect(),
    }
}

/// A list of cards seen, and how its file was decoded.
struct SeenList {
    rows: SeenFile,
    source: Source,
}

/// Compares a list with the stash.
fn compare(state: &State, args: &RollCallArgs, list: &SeenList) -> Result<(Report, Seen), Refusal> {
    let rows = rows(state, args)?;
    let walked = |hook: &HookRef| args.all || rows.as_ref().is_some_and(|rows| rows.have(*hook));
    let hooks = state.hooks().filter(walked);
    let seen = sightings(state, &list.rows.rows, rejected(&list.rows.rejected), hooks)?;
    Ok((rollcall::report(state, &seen.sightings)?, seen))
}

/// Prints the report on a list, and records it on request.
fn check(file: &Path, args: &RollCallArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let Plain { text, source } = import::read_list(&ListArgs {
        file: file.to_owned(),
        sheet: args.sheet.clone(),
    })?;
    let rows = read_roll_call(text.as_bytes()).map_err(import::not_a_list(file))?;
    let list = SeenList { rows, source };
    if !args.apply {
        let reading = open::reading(dir, output)?;
        let (report, seen) = compare(reading.state(), args, &list)?;
        return say(reading.state(), &report, &seen, &list, None, output);
    }
    let ask = |state: &State, _| compare(state, args, &list);
    let (writing, now, (report, seen)) = change::ask(dir, output, ask)?;
    // The report describes the record before its correction.
    let before = writing.state().clone();
    let (_, seq) = writing.commit(now, &rollcall::record(&report, now), output)?;
    say(&before, &report, &seen, &list, Some(seq), output)
}

fn answer(
    state: &State,
    report: &Report,
    seen: &Seen,
    list: &SeenList,
    applied: Option<u64>,
    output: &mut Output,
) -> Result<(), Failure> {
    let card = |id: CardId| state.card(id).map(|kept| CardRef::of(state, kept));
    let recorded = |id: CardId| {
        let kept = state.card(id);
        kept.map(|kept| WhereaboutsOut::of(export(state), kept))
    };
    let misplaced = report.misplaced.iter().map(|of| MisplacedOut {
        card: card(of.card),
        seen: state.hook_name(of.seen),
        recorded: recorded(of.card),
    });
    let missing = report.missing.iter().map(|of| NotSeenOut {
        card: card(of.card),
        recorded: recorded(of.card),
    });
    output.object(&Compared {
        walked: report.walked,
        found: report.found.len(),
        misplaced: misplaced.collect(),
        missing: missing.collect(),
        unknown: &seen.unknown,
        applied: applied.is_some(),
        event: applied,
        ignored_columns: &list.rows.ignored,
        file: FileOut::of(&list.source),
    })?;
    Ok(())
}

fn say(
    state: &State,
    report: &Report,
    seen: &Seen,
    list: &SeenList,
    applied: Option<u64>,
    output: &mut Output,
) -> Result<(), Failure> {
    if output.is_json() {
        return answer(state, report, seen, list, applied, output);
    }
    import::tell_file(&list.source, output);
    import::tell_ignored(&list.rows.ignored, output);
    output.line(format_args!(
        "{}.",
        text::history::act(state, &report.act())
    ))?;
    let name = |id: CardId| {
        state
            .card(id)
            .map_or(String::new(), |kept| state.card_name(kept))
    };
    for of in &report.misplaced {
        let (name, seen) = (name(of.card), state.hook_name(of.seen));
        let recorded = recorded_place(state, of.card, &of.recorded);
        output.line(format!(
            "  {name} hangs on {seen}; the record had it {recorded}."
        ))?;
    }
    for of in &report.missing {
        let recorded = recorded_place(state, of.card, &of.recorded);
        output.line(format!(
            "  {name} is not there; the record had it {recorded}.",
            name = name(of.card)
        ))?;
    }
    for of in &seen.unknown {
        let (line, text) = (of.line, &of.text);
        output.line(format!(
            "  line {line}: no card of the stash is called {text}."
        ))?;
    }
    let right = report.misplaced.is_empty() && report.missing.is_empty();
    match applied {
        Some(_) if !right => output.line("The record is up to date.")?,
        None if !right => output.line("To record it, add --apply.")?,
        _ => {}
    }
    Ok(())
}

/// The recorded place of a card, in words.
fn recorded_place(state: &State, card: CardId, recorded: &Place) -> String {
    state.card(card).map_or_else(String::new, |kept| {
        text::places::place_of(
            state,
            &CardState {
                place: recorded.clone(),
                ..kept.clone()
            },
        )
    })
}
