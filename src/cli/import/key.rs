//! `homehook import key`.

use std::path::Path;

use clap::Args;
use serde::Serialize;

use super::{
    ColumnUse, FileOut, ListArgs, Understood, not_a_list, read_list, rows, take_in, tell_columns,
    tell_file, tell_ignored, understood,
};
use crate::cli::failure::Failure;
use crate::cli::output::{Output, RejectedOut};
use crate::exchange::{Column, Plain, read_key_as};
use crate::stash::command::import::Terms;
use crate::stash::command::key::{self, Keyed};
use crate::stash::state::State;
use crate::text;
use crate::text::files::rejected;

/// What came of a chart key.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct KeyImported<'a> {
    /// The project.
    project: &'a str,
    /// Lines taken.
    entries: u32,
    /// Colours in the key, each counted once.
    colours: usize,
    /// How many of them the stash has.
    owned: usize,
    /// Whether the key says anything new.
    changed: bool,
    /// Colours that the stash lacks. They are in the key all the same.
    not_owned: Vec<NotOwnedOut<'a>>,
    /// Rows that were not taken.
    rejected: Vec<RejectedOut>,
    /// Columns that were not understood.
    ignored_columns: &'a [String],
    /// What was given, or guessed, for `--columns`; `null` where the titles say it.
    columns: Option<String>,
    /// How the file was read.
    file: FileOut<'a>,
}

/// A colour of a key that the stash lacks.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct NotOwnedOut<'a> {
    /// Line of the file, counted from 1.
    line: u64,
    /// The range's name.
    range: &'a str,
    /// The number.
    number: &'a str,
    /// Whether the range list has it. Where there is a list without it, the number may be a slip.
    in_list: bool,
    /// Other ranges of which the stash has a card of that number.
    owned_in: &'a [String],
}

/// Which chart key is imported, and how.
#[derive(Debug, Args)]
pub(crate) struct KeyArgs {
    #[command(flatten)]
    list: ListArgs,
    /// The project; a new one gets a ring.
    #[arg(long, value_name = "NAME")]
    project: String,
    /// Import all rows or none.
    #[arg(long)]
    strict: bool,
    /// The range of rows without one.
    #[arg(long, value_name = "NAME")]
    range: Option<String>,
    /// The columns in order, whatever their titles, such as symbol,number,-,stitches. - leaves one out.
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = column_use)]
    columns: Vec<ColumnUse>,
    /// The first line is a colour too.
    #[arg(long, requires = "columns")]
    no_header: bool,
    /// Import it even if it looks like a card list.
    #[arg(long)]
    as_key: bool,
}

fn column_use(text: &str) -> Result<ColumnUse, String> {
    ColumnUse::read(text, &Column::OF_KEY)
}

/// Imports a chart key.
pub(crate) fn run(args: &KeyArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let Plain { text, source } = read_list(&args.list)?;
    let given = (&args.columns[..], !args.no_header);
    let known = (&Column::OF_KEY[..], Some(args.project.as_str()));
    let Understood { columns, typed } = understood(&args.list, given, &text, known, dir)?;
    let list = read_key_as(text.as_bytes(), &columns).map_err(not_a_list(&args.list.file))?;
    let titles = list.titles_of_card_list();
    if !args.as_key && args.columns.is_empty() && !titles.is_empty() {
        return Err(Failure::LooksLikeCards {
            path: args.list.file.clone(),
            titles,
        });
    }
    let project = args.project.as_str();
    let terms = &Terms {
        range: args.range.clone(),
        strict: args.strict,
        add: false,
        again: false,
    };
    let take = |state: &State, now| {
        key::import(
            state,
            &list.rows,
            rejected(&list.rejected),
            project,
            terms,
            now,
        )
    };
    let (store, taken) = take_in(dir, output, take, |taken| taken.event.as_ref())?;
    if output.is_json() {
        let not_owned = taken.not_owned.iter().map(|of| NotOwnedOut {
            line: of.line,
            range: &of.range,
            number: of.number.as_str(),
            in_list: of.in_list,
            owned_in: &of.owned_in,
        });
        output.object(&KeyImported {
            project,
            entries: taken.entries,
            colours: taken.colours,
            owned: taken.owned,
            changed: taken.event.is_some(),
            not_owned: not_owned.collect(),
            rejected: RejectedOut::all(&taken.rejected),
            ignored_columns: &list.ignored,
            columns: typed,
            file: FileOut::of(&source),
        })?;
        return Ok(());
    }
    tell_file(&source, output);
    tell_columns(&args.columns, typed.as_ref(), output);
    tell_ignored(&list.ignored, output);
    say_key(store.state(), &taken, output)?;
    output.rejected(&taken.rejected);
    Ok(())
}

fn say_key(state: &State, taken: &Keyed, output: &mut Output) -> Result<(), Failure> {
    match &taken.event {
        Some(event) => output.line(format_args!("{}.", text::history::act(state, &event.act)))?,
        None => output.line("The chart key is unchanged.")?,
    }
    if !taken.rejected.is_empty() {
        let count = rows(taken.rejected.len());
        output.line(format!("{count} of the chart key not imported."))?;
    }
    output.line(text::thread::owned_colours(taken))?;
    for of in &taken.not_owned {
        let listed = state
            .find_range(&of.range)
            .is_some_and(|range| !range.shades.is_empty());
        let hint = if listed && !of.in_list {
            "; the list of its range does not have it either, so look at the number again"
        } else {
            ""
        };
        output.line(format!(
            "  line {line}: you don't own {range} {number}{hint}.",
            line = of.line,
            range = of.range,
            number = of.number
        ))?;
        if let Some(elsewhere) = text::thread::owned_elsewhere(of) {
            output.line(format_args!("    {elsewhere}."))?;
        }
    }
    Ok(())
}
