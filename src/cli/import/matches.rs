//! `homehook import matches`.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::{FileOut, ListArgs, not_a_list, read_list, rows, take_in, tell_file, tell_ignored};
use crate::cli::failure::Failure;
use crate::cli::open;
use crate::cli::output::{DRY_RUN, Output, RejectedOut};
use crate::exchange::{Plain, read_matches};
use crate::stash::command::import::{self, MatchesOutcome};
use crate::stash::state::State;
use crate::text::files::rejected;
use crate::text::one_or_many;

/// What came of a conversion list.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct MatchesImported<'a> {
    /// Matches that are new.
    added: u32,
    /// Rows that say a match that was known.
    known: u32,
    /// Matches that were removed, with `--replace`.
    removed: u32,
    /// Rows that were not taken.
    rejected: Vec<RejectedOut>,
    /// Columns that were not understood.
    ignored_columns: &'a [String],
    /// How the file was read.
    file: FileOut<'a>,
    /// Whether it was a dry run, so that nothing was changed.
    dry_run: bool,
}

/// Which conversion list is imported, and how.
#[derive(Debug, Args)]
pub(crate) struct MatchesArgs {
    #[command(flatten)]
    list: ListArgs,
    /// Remove other matches between the ranges it names.
    #[arg(long)]
    replace: bool,
    /// Show what would change, and change nothing.
    #[arg(long)]
    dry_run: bool,
}

/// Imports a conversion list, or previews the import.
pub(crate) fn run(args: &MatchesArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let Plain { text, source } = read_list(&args.list)?;
    let list = read_matches(text.as_bytes()).map_err(not_a_list(&args.list.file))?;
    let take = |state: &State, _: Timestamp| {
        let unreadable = rejected(&list.rejected);
        import::matches(state, &list.rows, unreadable, args.replace)
    };
    let taken = if args.dry_run {
        take(open::reading(dir, output)?.state(), Timestamp::now())?
    } else {
        take_in(dir, output, take, |taken| taken.event.as_ref())?.1
    };
    if output.is_json() {
        output.object(&MatchesImported {
            added: taken.added,
            known: taken.known,
            removed: taken.removed,
            rejected: RejectedOut::all(&taken.rejected),
            ignored_columns: &list.ignored,
            file: FileOut::of(&source),
            dry_run: args.dry_run,
        })?;
        return Ok(());
    }
    tell_file(&source, output);
    tell_ignored(&list.ignored, output);
    output.line(said(&taken))?;
    if args.dry_run {
        output.line(DRY_RUN)?;
    }
    output.rejected(&taken.rejected);
    Ok(())
}

/// `2 new matches, 1 row known already, 0 rows not taken.`
fn said(taken: &MatchesOutcome) -> String {
    let removed = match taken.removed {
        0 => String::new(),
        n => format!("{n} removed, "),
    };
    format!(
        "{added} new {matches}, {removed}{known} known already, {refused} not taken.",
        added = taken.added,
        matches = one_or_many(taken.added, "match", "matches"),
        known = rows(usize::try_from(taken.known).unwrap_or(usize::MAX)),
        refused = rows(taken.rejected.len())
    )
}
