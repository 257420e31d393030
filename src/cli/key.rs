//! `homehook import key` and `ring key`: what is stitched.

use std::path::Path;

use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{list, open};
use crate::exchange::export::KeyLineOut;
use crate::exchange::read_key;
use crate::model::assumptions::Assumptions;
use crate::model::ring::Ring;
use crate::stash::command::import::Terms;
use crate::stash::command::key::{self, Keyed};
use crate::stash::intake::Rejected;
use crate::stash::kit::progress::needs;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::text::one_or_many;

/// What came of a chart key.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct KeyImported<'a> {
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
    rejected: &'a [Rejected],
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

/// The chart key of a project.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct KeyShown<'a> {
    /// The project.
    project: &'a str,
    /// The key, in order.
    key: Vec<KeyLineOut>,
    /// What it is stitched on and how; `null` where no fabric is set.
    fabric: Option<Assumptions>,
}

/// Brings a key in.
pub fn import(
    file: &Path,
    project: &str,
    terms: &Terms,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let list = read_key(&list::read(file)?).map_err(list::not_a(file))?;
    let take = |state: &State, now| {
        key::import(
            state,
            &list.rows,
            list.rejected.clone(),
            project,
            terms,
            now,
        )
    };
    let (store, taken) = list::take_in(dir, output, take, |taken| taken.event.as_ref())?;
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
            rejected: &taken.rejected,
            ignored_columns: &list.ignored,
        })?;
        return Ok(());
    }
    list::tell_ignored(&list.ignored, output);
    say(store.state(), &taken, output)?;
    output.rejected(&taken.rejected);
    Ok(())
}

fn say(state: &State, taken: &Keyed, output: &mut Output) -> Result<(), Failure> {
    match &taken.event {
        Some(event) => output.line(format_args!("{}.", text::history::act(state, &event.act)))?,
        None => output.line("The key was known already.")?,
    }
    if !taken.rejected.is_empty() {
        let count = list::rows(taken.rejected.len());
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

/// Shows the key of a project.
pub fn show(project: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let ring = state.need_ring(project)?;
    if ring.key.is_empty() {
        return Err(Refusal::NoKey(ring.project.to_string()).into());
    }
    if output.is_json() {
        output.object(&KeyShown {
            project: ring.project.as_str(),
            key: KeyLineOut::all(state, ring),
            fabric: ring.fabric,
        })?;
        return Ok(());
    }
    say_key(state, ring, output)
}

/// The key in words.
pub fn say_key(state: &State, ring: &Ring, output: &mut Output) -> Result<(), Failure> {
    let word = one_or_many(ring.key.len(), "line", "lines");
    output.line(format!(
        "{project}: a key of {count} {word}",
        project = ring.project,
        count = ring.key.len()
    ))?;
    for (line, needs) in ring.key.iter().zip(needs(state, ring)) {
        if line.notion().is_some() {
            let notion = text::thread::notion(line);
            output.line(format_args!("  {:<2} {notion}", line.symbol))?;
        }
        let counted = match text::thread::stitches(line) {
            none if none.is_empty() => "stitches not counted".to_owned(),
            counted => counted,
        };
        for (at, (thread, need)) in line.threads().iter().zip(needs).enumerate() {
            // What a blend shares stands before its first thread.
            let (symbol, counted) = match at {
                0 => (line.symbol.as_str(), counted.as_str()),
                _ => ("+", "in the same needle"),
            };
            let strands = match thread.strands {
                0 => String::new(),
                1 => "   1 strand".to_owned(),
                n => format!("   {n} strands"),
            };
            let used = text::thread::used(need.used, need.left, need.put_up);
            let used = used.map_or_else(String::new, |used| format!("   {used}"));
            let is_owned = state.cards_of(thread.stitched()).next().is_some();
            output.line(format_args!(
                "  {symbol:<2} {}  {}   {counted}{strands}{used}{}",
                text::thread::key_thread(state, thread),
                state.thread_name(thread),
                if is_owned { "" } else { "   not owned" }
            ))?;
        }
    }
    Ok(())
}
