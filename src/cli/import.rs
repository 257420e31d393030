//! `homehook import`.

use std::path::Path;
use std::path::PathBuf;
use std::str::FromStr;

use clap::Subcommand;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{key, list};
use crate::exchange::{Column, Columns, Warning, read_cards, read_cards_as, read_range};
use crate::stash::command::import::{self, Terms};
use crate::stash::intake::Rejected;
use crate::stash::state::State;
use crate::text::cards;
use crate::text::one_or_many;

/// What came of a card list.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CardsImported<'a> {
    /// Cards that are new.
    added: u32,
    /// Cards that were changed.
    changed: u32,
    /// Cards of which the list does not say how much thread there is, taken as one skein.
    usual_amount: u32,
    /// Rows of split cards that are not here, added to the colour's own card.
    onto_own: u32,
    /// Rows that were not taken.
    rejected: &'a [Rejected],
    /// Values that were left out of rows that were taken.
    warnings: &'a [Warning],
    /// Columns that were not understood.
    ignored_columns: &'a [String],
}

/// What came of a range list.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RangeImported<'a> {
    /// The range.
    range: &'a str,
    /// Colours that are new.
    added: u32,
    /// Colours that were changed.
    changed: u32,
    /// Rows that were not taken.
    rejected: &'a [Rejected],
    /// Columns that were not understood.
    ignored_columns: &'a [String],
}

/// What to bring in.
#[derive(Debug, Subcommand)]
pub enum ImportCommand {
    /// The colours you own. Rows without a hook come in without one, to be hung by a re-hang.
    Cards {
        /// The CSV file; - for standard input.
        file: PathBuf,
        /// Take nothing where one row cannot be taken.
        #[arg(long)]
        strict: bool,
        /// Add lengths, skeins and reserve to what is there, as for a purchase.
        #[arg(long)]
        add: bool,
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
pub struct ColumnUse(Option<Column>);

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
pub fn run(command: ImportCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        ImportCommand::Cards {
            file,
            strict,
            add,
            range,
            columns,
            no_header,
        } => {
            let uses: Vec<_> = columns.into_iter().map(|ColumnUse(of)| of).collect();
            let columns = (!uses.is_empty()).then_some(Columns {
                header: !no_header,
                uses,
            });
            let terms = Terms { range, strict, add };
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
            key::import(&file, &project, &terms, dir, output)
        }
        ImportCommand::Range { file, range } => shades(&file, &range, dir, output),
    }
}

fn card_list(
    file: &Path,
    columns: Option<&Columns>,
    terms: &Terms,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let bytes = list::read(file)?;
    let list = match columns {
        Some(columns) => read_cards_as(&bytes, columns),
        None => read_cards(&bytes),
    };
    let mut list = list.map_err(list::not_a(file))?;
    if terms.strict {
        list.reject_doubtful();
    }
    let take = |state: &State, now| {
        import::card_list(state, &list.rows, list.rejected.clone(), terms, now)
    };
    let (_, taken) = list::take_in(dir, output, take, |taken| taken.event.as_ref())?;
    let warnings = list.warnings_beside(&taken.rejected);
    if output.is_json() {
        output.object(&CardsImported {
            added: taken.added,
            changed: taken.changed,
            usual_amount: taken.usual_amount,
            onto_own: taken.onto_own,
            rejected: &taken.rejected,
            warnings: &warnings,
            ignored_columns: &list.ignored,
        })?;
        return Ok(());
    }
    list::tell_ignored(&list.ignored, output);
    let none = taken.event.is_none();
    output.line(format!(
        "{cards} added, {cards2} changed, {rows} of the list not taken{word}.",
        cards = cards(taken.added),
        cards2 = cards(taken.changed),
        rows = list::rows(taken.rejected.len()),
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
            rows = list::rows(usize::try_from(taken.onto_own).unwrap_or(usize::MAX)),
            split_cards = one_or_many(
                taken.onto_own,
                "a split card that is",
                "split cards that are"
            )
        ))?;
    }
    for told in &warnings {
        output.note(format!(
            "line {line}: {words}",
            line = told.line,
            words = told.words
        ));
    }
    output.rejected(&taken.rejected);
    Ok(())
}

fn shades(file: &Path, range: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let list = read_range(&list::read(file)?).map_err(list::not_a(file))?;
    let take = |state: &State, _| import::shades(state, &list.rows, list.rejected.clone(), range);
    let (_, taken) = list::take_in(dir, output, take, |taken| taken.event.as_ref())?;
    if output.is_json() {
        output.object(&RangeImported {
            range,
            added: taken.added,
            changed: taken.changed,
            rejected: &taken.rejected,
            ignored_columns: &list.ignored,
        })?;
        return Ok(());
    }
    list::tell_ignored(&list.ignored, output);
    output.line(format!(
        "Range '{range}': {added} new {shades}, {changed} changed, {rows} not taken.",
        added = taken.added,
        shades = one_or_many(taken.added, "shade", "shades"),
        changed = taken.changed,
        rows = list::rows(taken.rejected.len())
    ))?;
    output.rejected(&taken.rejected);
    Ok(())
}
