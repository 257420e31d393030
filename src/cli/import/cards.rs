//! `homehook import cards`.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::{
    ColumnUse, FileOut, ListArgs, Understood, not_a_list, read_list, rows, take_in, tell_columns,
    tell_file, tell_ignored, understood,
};
use crate::cli::failure::Failure;
use crate::cli::open;
use crate::cli::output::{DRY_RUN, Output, RejectedOut};
use crate::exchange::{CardFile, Column, Plain, read_cards_as};
use crate::stash::colours::lookalikes;
use crate::stash::command::import::{self, AmountSaid, Terms};
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
    /// Cards that the list gives another home, and missing ones bought again, in words; `null` where there are none.
    rehomed: Option<String>,
    /// Rows that were not taken.
    rejected: Vec<RejectedOut>,
    /// Values that were left out of rows that were taken.
    warnings: &'a [Warning],
    /// Columns that were not understood.
    ignored_columns: &'a [String],
    /// What was given, or guessed, for `--columns`; `null` where the titles say it.
    columns: Option<String>,
    /// How the file was read.
    file: FileOut<'a>,
    /// Whether it was a dry run, so that nothing was changed.
    dry_run: bool,
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
    /// Single strands on the card before, each as long as its lengths.
    strands_before: u32,
    /// Single strands on the card after, each as long as its lengths.
    strands_after: u32,
    /// Uncut skeins before.
    skeins_before: u32,
    /// Uncut skeins after.
    skeins_after: u32,
}

impl AmountOut {
    /// The amounts that differ. Cards have their names from after the import.
    fn all(state: &State, amounts: &[AmountSaid]) -> Vec<Self> {
        let changed = amounts.iter().filter(|of| of.changes());
        changed
            .filter_map(|of| {
                let kept = state.card(of.card)?;
                let (before, after) = text::thread::before_and_after(state, of)?;
                let [(strands, skeins), (strands_after, skeins_after)] = of.sums();
                Some(Self {
                    card: state.card_name(kept),
                    before,
                    after,
                    strands_before: strands.0,
                    strands_after: strands_after.0,
                    skeins_before: skeins,
                    skeins_after,
                })
            })
            .collect()
    }
}

/// A value of a row that was left out because it couldn't be read, while the row was taken.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Warning {
    /// Line of the file, counted from 1.
    line: u64,
    /// What was taken instead, and why.
    words: String,
}

/// Which card list is imported, and how.
#[derive(Debug, Args)]
pub(crate) struct CardsArgs {
    #[command(flatten)]
    list: ListArgs,
    /// Import all rows or none.
    #[arg(long)]
    strict: bool,
    /// The list is a purchase: add its thread. Without this it is what you own now.
    #[arg(long)]
    purchase: bool,
    /// Import a purchase of a pocket page a second time.
    #[arg(long)]
    again: bool,
    /// The range of rows without one.
    #[arg(long, value_name = "NAME")]
    range: Option<String>,
    /// The columns in order, whatever their titles, such as number,name,-,hex. - leaves one out.
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = column_use)]
    columns: Vec<ColumnUse>,
    /// The first line is a card too.
    #[arg(long, requires = "columns")]
    no_header: bool,
    /// Import it even if it looks like a chart key.
    #[arg(long)]
    as_cards: bool,
    /// Show what would change, and change nothing.
    #[arg(long)]
    dry_run: bool,
}

impl CardsArgs {
    /// The parsed list, and its columns as typed if the titles alone don't determine them.
    fn read(&self, text: &str, dir: &Path) -> Result<(CardFile, Option<String>), Failure> {
        let path = &self.list.file;
        let given = (&self.columns[..], !self.no_header);
        let Understood { columns, typed } =
            understood(&self.list, given, text, (&Column::OF_CARD_LIST, None), dir)?;
        let list = read_cards_as(text.as_bytes(), &columns).map_err(not_a_list(path))?;
        let titles = list.titles_of_chart_key();
        if !self.as_cards && self.columns.is_empty() && !titles.is_empty() {
            return Err(Failure::LooksLikeKey {
                path: path.clone(),
                titles,
            });
        }
        Ok((list, typed))
    }
}

fn column_use(text: &str) -> Result<ColumnUse, String> {
    ColumnUse::read(text, &Column::OF_CARD_LIST)
}

/// Imports a card list, or previews the import.
pub(crate) fn run(args: &CardsArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let Plain { text, source } = read_list(&args.list)?;
    let (mut list, columns) = args.read(&text, dir)?;
    if args.strict {
        list.reject_doubtful();
    }
    let terms = Terms {
        range: args.range.clone(),
        strict: args.strict,
        add: args.purchase,
        again: args.again,
    };
    let take = |state: &State, now| {
        import::card_list(state, &list.rows, rejected(&list.rejected), &terms, now)
    };
    let told = |state: &State, taken: &import::Outcome| {
        let amounts = AmountOut::all(state, &taken.amounts);
        let similar = taken.event.as_ref();
        let similar = similar.map_or_else(Vec::new, |event| lookalikes(state, event));
        let similar = similar.iter().map(text::lookalike).collect::<Vec<_>>();
        (amounts, text::places::moved_by_list(state, taken), similar)
    };
    let (taken, (amounts, rehomed, similar)) = if args.dry_run {
        let reading = open::reading(dir, output)?;
        let taken = take(reading.state(), Timestamp::now())?;
        let told = told(reading.state(), &taken);
        (taken, told)
    } else {
        let (store, taken) = take_in(dir, output, take, |taken| taken.event.as_ref())?;
        let told = told(store.state(), &taken);
        (taken, told)
    };
    let warnings = list.warnings_beside(taken.rejected.iter().map(|row| row.line));
    let warnings: Vec<Warning> = (warnings.iter())
        .map(|of| Warning {
            line: of.line,
            words: warning(of),
        })
        .collect();
    let imported = CardsImported {
        added: taken.added,
        changed: taken.changed,
        usual_amount: taken.usual_amount,
        onto_own: taken.onto_own,
        amounts,
        rehomed,
        rejected: RejectedOut::all(&taken.rejected),
        warnings: &warnings,
        ignored_columns: &list.ignored,
        columns,
        file: FileOut::of(&source),
        dry_run: args.dry_run,
    };
    for words in similar {
        output.note("similar_number", words);
    }
    if output.is_json() {
        output.object(&imported)?;
        return Ok(());
    }
    tell_file(&source, output);
    tell_columns(&args.columns, imported.columns.as_ref(), output);
    tell_ignored(&list.ignored, output);
    tell(&taken, &imported, output)
}

/// Describes the result in words.
fn tell(
    taken: &import::Outcome,
    imported: &CardsImported<'_>,
    output: &mut Output,
) -> Result<(), Failure> {
    tell_cards(taken, output)?;
    for of in &imported.amounts {
        let change = text::thread::change(&of.before, &of.after);
        output.line(format!("  {card}: {change}", card = of.card))?;
    }
    if let Some(words) = &imported.rehomed {
        output.line(format!("{words}."))?;
    }
    if imported.dry_run {
        output.line(DRY_RUN)?;
    }
    for Warning { line, words } in imported.warnings {
        output.note("check_row", format!("line {line}: {words}"));
    }
    output.rejected(&taken.rejected);
    Ok(())
}

/// The number of cards imported, and the assumptions about them.
fn tell_cards(taken: &import::Outcome, output: &mut Output) -> Result<(), Failure> {
    let none = taken.event.is_none();
    output.line(format!(
        "{cards} added, {cards2} changed, {rows} of the list not imported{word}.",
        cards = cards(taken.added),
        cards2 = cards(taken.changed),
        rows = rows(taken.rejected.len()),
        word = if none { "; the rest is unchanged" } else { "" }
    ))?;
    if taken.usual_amount > 0 {
        output.line(format!(
            "The list doesn't say how much is on {cards}: {taken}.",
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
