//! `homehook import`, and the reading and importing of all lists.

pub(super) mod cards;
pub(super) mod key;
pub(super) mod matches;

use std::cell::LazyCell;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use jiff::Timestamp;
use serde::Serialize;

use self::cards::CardsArgs;
use self::key::KeyArgs;
use self::matches::MatchesArgs;
use super::change;
use super::failure::Failure;
use super::output::{Output, RejectedOut};
use crate::exchange::file::read_beginning;
use crate::exchange::{
    Column, Columns, FileError, LARGEST_FILE, Plain, Source, look_over, plain, read_range,
};
use crate::journal::store::Store;
use crate::stash::command::import;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::files::{rejected, to_check};
use crate::text::one_or_many;

/// A list that is named on the command line.
#[derive(Debug, Args)]
pub(crate) struct ListArgs {
    /// The list: CSV, .xlsx or .ods; - means standard input.
    pub file: PathBuf,
    /// The sheet of a workbook; without it, the first one.
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
}

/// How a file was read.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct FileOut<'a> {
    /// The encoding of a text that was not UTF-8, as the WHATWG Encoding Standard calls it.
    encoding: Option<&'a str>,
    /// The first words by which a person can tell whether the encoding is right.
    check_words: &'a [String],
    /// The sheet of a workbook that was read.
    sheet: Option<&'a str>,
    /// The other sheets.
    other_sheets: &'a [String],
    /// What to check, in sentences.
    to_check: Vec<String>,
}

impl<'a> FileOut<'a> {
    pub(crate) fn of(source: &'a Source) -> Self {
        let (encoding, check_words) = match source {
            Source::Encoded { encoding, words } => (Some(*encoding), words.as_slice()),
            _ => (None, &[][..]),
        };
        let (sheet, other_sheets) = match source {
            Source::Sheet(read) => (Some(read.name.as_str()), read.others.as_slice()),
            _ => (None, &[][..]),
        };
        Self {
            encoding,
            check_words,
            sheet,
            other_sheets,
            to_check: to_check(source),
        }
    }
}

/// What came of a range list.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct RangeImported<'a> {
    /// The range.
    range: &'a str,
    /// Colours that are new.
    added: u32,
    /// Colours that were changed.
    changed: u32,
    /// Rows that were not taken.
    rejected: Vec<RejectedOut>,
    /// Columns that were not understood.
    ignored_columns: &'a [String],
    /// How the file was read.
    file: FileOut<'a>,
}

/// What to import.
#[derive(Debug, Subcommand)]
pub(crate) enum ImportCommand {
    /// Import the cards you own; a re-hang hangs those without a hook.
    Cards(CardsArgs),
    /// Import a project's chart key; it replaces the old one.
    Key(KeyArgs),
    /// Import which colour of one range matches which of another.
    Matches(MatchesArgs),
    /// Import every colour of a maker's range, owned or not.
    Range {
        #[command(flatten)]
        list: ListArgs,
        /// The range.
        #[arg(long, value_name = "NAME")]
        range: String,
    },
}

/// Imports a list.
pub(crate) fn run(command: ImportCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        ImportCommand::Cards(args) => cards::run(&args, dir, output),
        ImportCommand::Key(args) => key::run(&args, dir, output),
        ImportCommand::Matches(args) => matches::run(&args, dir, output),
        ImportCommand::Range { list, range } => range_list(&list, &range, dir, output),
    }
}

fn range_list(
    args: &ListArgs,
    range: &str,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let Plain { text, source } = read_list(args)?;
    let list = read_range(text.as_bytes()).map_err(not_a_list(&args.file))?;
    let take = |state: &State, _| import::range(state, &list.rows, rejected(&list.rejected), range);
    let (_, taken) = take_in(dir, output, take, |taken| taken.event.as_ref())?;
    if output.is_json() {
        output.object(&RangeImported {
            range,
            added: taken.added,
            changed: taken.changed,
            rejected: RejectedOut::all(&taken.rejected),
            ignored_columns: &list.ignored,
            file: FileOut::of(&source),
        })?;
        return Ok(());
    }
    tell_file(&source, output);
    tell_ignored(&list.ignored, output);
    output.line(format!(
        "Range '{range}': {added} new {colours}, {changed} changed, {rows} not imported.",
        added = taken.added,
        colours = one_or_many(taken.added, "colour", "colours"),
        changed = taken.changed,
        rows = rows(taken.rejected.len())
    ))?;
    output.rejected(&taken.rejected);
    Ok(())
}

/// The text of a list. Reads at most one byte more than a list may have.
pub(crate) fn read_list(args: &ListArgs) -> Result<Plain, Failure> {
    let most = LARGEST_FILE as u64 + 1;
    let path = &args.file;
    let read = if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        let read = io::stdin().lock().take(most).read_to_end(&mut bytes);
        read.map(|_| bytes)
    } else {
        // Also from a pipe: the user who named it also fills it.
        read_beginning(path, most)
    };
    let bytes = read.map_err(|source| Failure::Unreadable {
        path: path.to_owned(),
        source,
    })?;
    plain(bytes, args.sheet.as_deref()).map_err(not_a_list(path))
}

/// The failure for a file that isn't a list.
pub(crate) fn not_a_list(path: &Path) -> impl FnOnce(FileError) -> Failure {
    |source| Failure::NotAList {
        path: path.to_owned(),
        source,
    }
}

/// The use of a column of a list; `None` leaves it out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ColumnUse(Option<Column>);

impl ColumnUse {
    /// Reads a use that such a list may have.
    fn read(text: &str, known: &[Column]) -> Result<Self, String> {
        if text.trim() == "-" {
            return Ok(Self(None));
        }
        let column = Column::called(text, known);
        column.map(|column| Self(Some(column))).ok_or_else(|| {
            let known: Vec<&str> = known.iter().map(|column| column.title()).collect();
            format!(
                "there is no such column; there are {known}, and - for one to leave out",
                known = known.join(", ")
            )
        })
    }
}

/// The columns of a list.
pub(crate) struct Understood {
    /// Their uses, as given or guessed.
    columns: Columns,
    /// The uses as typed, unless the titles alone determine them.
    typed: Option<String>,
}

/// The columns of a list that may have the `known` ones: as given, else as guessed from the file and
/// the ranges of the stash. `project` is that of a chart key.
fn understood(
    args: &ListArgs,
    (given, header): (&[ColumnUse], bool),
    text: &str,
    (known, project): (&'static [Column], Option<&str>),
    dir: &Path,
) -> Result<Understood, Failure> {
    if !given.is_empty() {
        let uses = given.iter().map(|ColumnUse(of)| *of).collect();
        let columns = Columns { header, uses };
        let typed = Some(columns_line(&columns));
        return Ok(Understood { columns, typed });
    }
    let mut found = look_over(text.as_bytes(), known).map_err(not_a_list(&args.file))?;
    // What is to be said of the stash is said when it is opened for the list itself.
    let store = LazyCell::new(|| Store::open(dir).ok());
    found.know_ranges(|name| {
        let store = store.as_ref();
        store.is_some_and(|(store, _)| store.state().find_range(name).is_some())
    });
    if let Some(unclear) = found.unclear() {
        return Err(Failure::UnclearColumns {
            path: args.file.clone(),
            project: project.map(str::to_owned),
            columns: columns_line(&found.proposal()),
            unclear,
        });
    }
    let typed = (!found.is_by_title()).then(|| columns_line(&found.guess));
    Ok(Understood {
        columns: found.guess,
        typed,
    })
}

/// Columns as typed: `--columns number,-,name`.
fn columns_line(columns: &Columns) -> String {
    let uses = columns.uses.iter();
    let uses = uses.map(|of| of.map_or("-", Column::typed));
    let header = if columns.header { "" } else { " --no-header" };
    format!(
        "--columns {uses}{header}",
        uses = uses.collect::<Vec<_>>().join(",")
    )
}

/// Writes how columns that weren't given were guessed.
fn tell_columns(given: &[ColumnUse], typed: Option<&String>, output: &Output) {
    if let (true, Some(columns)) = (given.is_empty(), typed) {
        output.note("columns", format!("The columns were read as: {columns}"));
    }
}

/// Imports a list, and records the resulting changes, if any.
pub(crate) fn take_in<T>(
    dir: &Path,
    output: &Output,
    take: impl Fn(&State, Timestamp) -> Result<T, Refusal>,
    event: impl FnOnce(&T) -> Option<&Event>,
) -> Result<(Store, T), Failure> {
    let (writing, now, taken) = change::ask(dir, output, take)?;
    let (store, _) = writing.commit_if(now, event(&taken), output)?;
    Ok((store, taken))
}

/// Writes what to check about an imported file.
pub(crate) fn tell_file(source: &Source, output: &Output) {
    for said in to_check(source) {
        output.note("check_file", said);
    }
}

/// Writes which columns were ignored.
pub(crate) fn tell_ignored(ignored: &[String], output: &Output) {
    if !ignored.is_empty() {
        output.note(
            "columns_left_out",
            format!(
                "{these} not understood and left out: {columns}",
                these = one_or_many(ignored.len(), "this column was", "these columns were"),
                columns = ignored.join(", ")
            ),
        );
    }
}

/// `1 row`, `2 rows`.
pub(crate) fn rows(count: usize) -> String {
    format!("{count} {}", one_or_many(count, "row", "rows"))
}
