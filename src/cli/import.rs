//! `homehook import`, and how every list is read and taken in.

use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use clap::Subcommand;
use jiff::Timestamp;
use serde::Serialize;

use super::change;
use super::failure::Failure;
use super::output::{Output, RejectedOut};
use crate::exchange::file::read_beginning;
use crate::exchange::{
    Column, Columns, FileError, LARGEST_FILE, read_cards, read_cards_as, read_key, read_range,
};
use crate::journal::store::Store;
use crate::stash::command::import::{self, AmountSaid, Terms};
use crate::stash::command::key::{self, Keyed};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::text::files::{rejected, warning};
use crate::text::{cards, one_or_many};

/// What came of a card list.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct CardsImported<'a> {
    /// Cards that are new.
    added: u32,
    /// Cards that were changed.
    changed: u32,
    /// Cards of which the list does not say how much thread there is, taken as one skein.
    usual_amount: u32,
    /// Rows of split cards that are not here, added to the colour's own card.
    onto_own: u32,
    /// Cards that were there and have another amount of thread now.
    amounts: Vec<AmountOut>,
    /// Rows that were not taken.
    rejected: Vec<RejectedOut>,
    /// Values that were left out of rows that were taken.
    warnings: &'a [Warning],
    /// Columns that were not understood.
    ignored_columns: &'a [String],
}

/// What a list made of the thread of a card that was there.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct AmountOut {
    /// The card.
    card: String,
    /// Thread on the card before, in words.
    before: String,
    /// Thread on the card after, in words.
    after: String,
    /// Single strands on the card before.
    strands_before: u32,
    /// Single strands on the card after.
    strands_after: u32,
    /// Uncut skeins before.
    skeins_before: u32,
    /// Uncut skeins after.
    skeins_after: u32,
}

impl AmountOut {
    /// Those that differ. After the list was imported the cards are called as they are.
    fn all(state: &State, amounts: &[AmountSaid]) -> Vec<Self> {
        let changed = amounts.iter().filter(|of| of.changes());
        changed
            .filter_map(|of| {
                let kept = state.card(of.card)?;
                let (before, after) = text::thread::before_and_after(state, of)?;
                Some(Self {
                    card: state.card_name(kept),
                    before,
                    after,
                    strands_before: of.strands.0,
                    strands_after: of.strands_after.0,
                    skeins_before: of.skeins,
                    skeins_after: of.skeins_after,
                })
            })
            .collect()
    }
}

/// A value of a row that was left out because it could not be read, while the row was taken.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Warning {
    /// Line of the file, counted from 1.
    line: u64,
    /// What was taken instead, and why.
    words: String,
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
}

/// What to import.
#[derive(Debug, Subcommand)]
pub(crate) enum ImportCommand {
    /// The colours you own. Rows without a hook come in without one, to be hung by a re-hang.
    Cards {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// Take nothing where one row cannot be taken.
        #[arg(long)]
        strict: bool,
        /// The list is a purchase: add its thread to what is there. Without this it is what you own now.
        #[arg(long)]
        purchase: bool,
        /// The range of rows that name none.
        #[arg(long, value_name = "NAME")]
        range: Option<String>,
        /// What the columns are, whatever stands above them: number,name,-,hex; - leaves one out.
        #[arg(long, value_name = "LIST", value_delimiter = ',')]
        columns: Vec<ColumnUse>,
        /// The first line is a row like the others.
        #[arg(long, requires = "columns")]
        no_header: bool,
    },
    /// The key of a project's pattern, in place of any it had.
    Key {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// The project. Without a ring it gets one.
        #[arg(long, value_name = "NAME")]
        project: String,
        /// Take nothing where one row cannot be taken.
        #[arg(long)]
        strict: bool,
        /// The range of rows that name none.
        #[arg(long, value_name = "NAME")]
        range: Option<String>,
    },
    /// All the colours a maker's range has.
    Range {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// The range.
        #[arg(long, value_name = "NAME")]
        range: String,
    },
}

/// What a column of a card list is taken for; `None` leaves it out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ColumnUse(Option<Column>);

impl FromStr for ColumnUse {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text.trim() == "-" {
            return Ok(Self(None));
        }
        let column = Column::called(text, &Column::OF_CARD_LIST);
        column.map(|column| Self(Some(column))).ok_or_else(|| {
            let known = Column::OF_CARD_LIST.map(Column::title).join(", ");
            format!("there is no such column; there are {known}, and - for one to leave out")
        })
    }
}

/// Brings a list in.
pub(crate) fn run(command: ImportCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        ImportCommand::Cards {
            file,
            strict,
            purchase,
            range,
            columns,
            no_header,
        } => {
            let uses: Vec<_> = columns.into_iter().map(|ColumnUse(of)| of).collect();
            let columns = (!uses.is_empty()).then_some(Columns {
                header: !no_header,
                uses,
            });
            let terms = Terms {
                range,
                strict,
                add: purchase,
            };
            card_list(&file, columns.as_ref(), &terms, dir, output)
        }
        ImportCommand::Key {
            file,
            project,
            strict,
            range,
        } => {
            let terms = Terms {
                range,
                strict,
                add: false,
            };
            chart_key(&file, &project, &terms, dir, output)
        }
        ImportCommand::Range { file, range } => range_list(&file, &range, dir, output),
    }
}

fn card_list(
    file: &Path,
    columns: Option<&Columns>,
    terms: &Terms,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let bytes = read_list(file)?;
    let list = match columns {
        Some(columns) => read_cards_as(&bytes, columns),
        None => read_cards(&bytes),
    };
    let mut list = list.map_err(not_a_list(file))?;
    if terms.strict {
        list.reject_doubtful();
    }
    let take = |state: &State, now| {
        import::card_list(state, &list.rows, rejected(&list.rejected), terms, now)
    };
    let (store, taken) = take_in(dir, output, take, |taken| taken.event.as_ref())?;
    let amounts = AmountOut::all(store.state(), &taken.amounts);
    let warnings = list.warnings_beside(taken.rejected.iter().map(|row| row.line));
    let warnings: Vec<Warning> = (warnings.iter())
        .map(|of| Warning {
            line: of.line,
            words: warning(of),
        })
        .collect();
    if output.is_json() {
        output.object(&CardsImported {
            added: taken.added,
            changed: taken.changed,
            usual_amount: taken.usual_amount,
            onto_own: taken.onto_own,
            amounts,
            rejected: RejectedOut::all(&taken.rejected),
            warnings: &warnings,
            ignored_columns: &list.ignored,
        })?;
        return Ok(());
    }
    tell_ignored(&list.ignored, output);
    tell_cards(&taken, output)?;
    for of in &amounts {
        output.line(format!("  {}: {} -> {}", of.card, of.before, of.after))?;
    }
    for Warning { line, words } in &warnings {
        output.note(format!("line {line}: {words}"));
    }
    output.rejected(&taken.rejected);
    Ok(())
}

/// How many cards came of a list, and what was supposed of them.
fn tell_cards(taken: &import::Outcome, output: &mut Output) -> Result<(), Failure> {
    let none = taken.event.is_none();
    output.line(format!(
        "{cards} added, {cards2} changed, {rows} of the list not taken{word}.",
        cards = cards(taken.added),
        cards2 = cards(taken.changed),
        rows = rows(taken.rejected.len()),
        word = if none {
            "; the rest was known already"
        } else {
            ""
        }
    ))?;
    if taken.usual_amount > 0 {
        output.line(format!(
            "The list does not say how much is on {cards}: {taken}.",
            cards = cards(taken.usual_amount),
            taken = one_or_many(
                taken.usual_amount,
                "taken as one skein",
                "taken as one skein each"
            )
        ))?;
    }
    if taken.onto_own > 0 {
        output.line(format!(
            "{rows} of {split_cards} not here: the thread was added to the colour's own card.",
            rows = rows(usize::try_from(taken.onto_own).unwrap_or(usize::MAX)),
            split_cards = one_or_many(
                taken.onto_own,
                "a split card that is",
                "split cards that are"
            )
        ))?;
    }
    Ok(())
}

fn range_list(file: &Path, range: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let list = read_range(&read_list(file)?).map_err(not_a_list(file))?;
    let take = |state: &State, _| import::range(state, &list.rows, rejected(&list.rejected), range);
    let (_, taken) = take_in(dir, output, take, |taken| taken.event.as_ref())?;
    if output.is_json() {
        output.object(&RangeImported {
            range,
            added: taken.added,
            changed: taken.changed,
            rejected: RejectedOut::all(&taken.rejected),
            ignored_columns: &list.ignored,
        })?;
        return Ok(());
    }
    tell_ignored(&list.ignored, output);
    output.line(format!(
        "Range '{range}': {added} new {shades}, {changed} changed, {rows} not taken.",
        added = taken.added,
        shades = one_or_many(taken.added, "shade", "shades"),
        changed = taken.changed,
        rows = rows(taken.rejected.len())
    ))?;
    output.rejected(&taken.rejected);
    Ok(())
}

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

/// Brings a key in.
fn chart_key(
    file: &Path,
    project: &str,
    terms: &Terms,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let list = read_key(&read_list(file)?).map_err(not_a_list(file))?;
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
        })?;
        return Ok(());
    }
    tell_ignored(&list.ignored, output);
    say_key(store.state(), &taken, output)?;
    output.rejected(&taken.rejected);
    Ok(())
}

fn say_key(state: &State, taken: &Keyed, output: &mut Output) -> Result<(), Failure> {
    match &taken.event {
        Some(event) => output.line(format_args!("{}.", text::history::act(state, &event.act)))?,
        None => output.line("The key was known already.")?,
    }
    if !taken.rejected.is_empty() {
        let count = rows(taken.rejected.len());
        output.line(format!("{count} of the key not taken."))?;
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
            "  line {line}: you do not own {range} {number}{hint}.",
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

/// The bytes of a file, or of standard input for `-`, one more than a list may have at most.
pub(crate) fn read_list(path: &Path) -> Result<Vec<u8>, Failure> {
    let most = LARGEST_FILE as u64 + 1;
    let read = if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        let read = io::stdin().lock().take(most).read_to_end(&mut bytes);
        read.map(|_| bytes)
    } else {
        // A pipe too, which somebody named who fills it.
        read_beginning(path, most)
    };
    read.map_err(|source| Failure::Unreadable {
        path: path.to_owned(),
        source,
    })
}

/// Of a file that is no list.
pub(crate) fn not_a_list(path: &Path) -> impl FnOnce(FileError) -> Failure {
    |source| Failure::NotAList {
        path: path.to_owned(),
        source,
    }
}

/// Takes a list in, and records what came of it, if anything did.
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

/// Says which columns nothing was made of.
pub(crate) fn tell_ignored(ignored: &[String], output: &Output) {
    if !ignored.is_empty() {
        output.note(format!(
            "{these} not understood and left out: {columns}",
            these = one_or_many(ignored.len(), "this column was", "these columns were"),
            columns = ignored.join(", ")
        ));
    }
}

/// `1 row`, `2 rows`.
pub(crate) fn rows(count: usize) -> String {
    format!("{count} {}", one_or_many(count, "row", "rows"))
}
