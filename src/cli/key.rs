//! `homehook import key`, `ring key` and `ring fabric`: what is stitched, and on what.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;
use serde_json::json;

use super::args::FabricArgs;
use super::failure::Failure;
use super::output::Output;
use super::{import, open};
use crate::exchange::read_key;
use crate::model::assumptions::Assumptions;
use crate::model::ring::{KeyEntry, Ring};
use crate::stash::command::fabric::{self, Said};
use crate::stash::command::import::Terms;
use crate::stash::command::key::{self, Keyed};
use crate::stash::kit::words::{assumptions_in_words, stitches_in_words};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::act_in_words;

/// Brings a key in.
pub fn bring_in(
    file: &Path,
    project: &str,
    terms: &Terms,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let list = read_key(&import::read(file)?).map_err(import::not_a_list(file))?;
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
    let try_first = |state: &State| take(state, Timestamp::now()).map(drop);
    let mut keeper = open::writing(dir, output, try_first)?;
    let now = Timestamp::now();
    let taken = take(keeper.state(), now)?;
    if let Some(event) = &taken.event {
        keeper.commit(now, event)?;
    }
    if output.is_json() {
        let not_owned: Vec<_> = taken
            .not_owned
            .iter()
            .map(|of| {
                json!({
                    "line": of.line,
                    "range": of.range,
                    "number": of.number.as_str(),
                    "in_list": of.in_list,
                })
            })
            .collect();
        output.object(&json!({
            "project": project,
            "entries": taken.entries,
            "changed": taken.event.is_some(),
            "not_owned": not_owned,
            "rejected": taken.rejected,
            "ignored_columns": list.ignored,
        }))?;
        return Ok(());
    }
    import::tell_ignored(&list.ignored, output);
    say(keeper.state(), &taken, output)?;
    output.rejected(&taken.rejected);
    Ok(())
}

fn say(state: &State, taken: &Keyed, output: &mut Output) -> Result<(), Failure> {
    match &taken.event {
        Some(event) => output.line(format_args!("{}.", act_in_words(state, &event.act)))?,
        None => output.line("The key was known already.")?,
    }
    if !taken.rejected.is_empty() {
        let count = import::rows(taken.rejected.len());
        output.line(format_args!("{count} of the key not taken."))?;
    }
    for of in &taken.not_owned {
        let listed = state
            .find_range(&of.range)
            .is_some_and(|range| !range.shades.is_empty());
        let hint = if listed && !of.in_list {
            "; the list of its range does not have it either, so look at the number again"
        } else {
            ""
        };
        output.line(format_args!(
            "  line {}: you do not own {} {}{hint}.",
            of.line, of.range, of.number
        ))?;
    }
    Ok(())
}

/// A line of a key.
#[derive(Serialize)]
struct EntryOut {
    symbol: String,
    range: String,
    number: String,
    name: String,
    strands: u8,
    stitches: u32,
    half: u32,
    quarter: u32,
    three_quarter: u32,
    backstitch: u32,
    backstitch_strands: u8,
    french_knots: u32,
    owned: bool,
}

impl EntryOut {
    fn of(state: &State, entry: &KeyEntry) -> Self {
        let range = state.range(entry.range);
        Self {
            symbol: entry.symbol.to_string(),
            range: range.map_or_else(String::new, |range| range.name.to_string()),
            number: entry.number.to_string(),
            name: state.entry_name(entry).to_owned(),
            strands: entry.strands,
            stitches: entry.stitches,
            half: entry.half,
            quarter: entry.quarter,
            three_quarter: entry.three_quarter,
            backstitch: entry.backstitch,
            backstitch_strands: entry.backstitch_strands,
            french_knots: entry.french_knots,
            owned: state.cards_of(entry).next().is_some(),
        }
    }
}

/// Shows the key of a project.
pub fn show(project: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let reading = open::reading(dir, output)?;
    let state = reading.state();
    let ring = state.need_ring(project)?;
    if ring.key.is_empty() {
        return Err(Refusal::NoKey(ring.project.to_string()).into());
    }
    let entries = ring.key.iter().map(|entry| EntryOut::of(state, entry));
    if output.is_json() {
        output.object(&json!({
            "project": ring.project,
            "key": entries.collect::<Vec<_>>(),
            "fabric": ring.fabric,
        }))?;
        return Ok(());
    }
    let word = if ring.key.len() == 1 { "line" } else { "lines" };
    output.line(format_args!(
        "{}: a key of {} {word}",
        ring.project,
        ring.key.len()
    ))?;
    for (out, entry) in entries.zip(&ring.key) {
        let strands = match entry.strands {
            0 => String::new(),
            1 => "   1 strand".to_owned(),
            n => format!("   {n} strands"),
        };
        let counted = match stitches_in_words(entry) {
            none if none.is_empty() => "stitches not counted".to_owned(),
            counted => counted,
        };
        output.line(format_args!(
            "  {:<2} {} {}  {}   {counted}{strands}{}",
            out.symbol,
            out.range,
            out.number,
            out.name,
            if out.owned { "" } else { "   not owned" }
        ))?;
    }
    Ok(())
}

/// Says how a project is stitched, or shows what was said.
pub fn fabric(args: &FabricArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let said = args.said();
    if said == Said::default() {
        let reading = open::reading(dir, output)?;
        return show_fabric(reading.state().need_ring(&args.project)?, None, output);
    }
    let ask = |state: &State| fabric::set(state.need_ring(&args.project)?, &said);
    let mut keeper = open::writing(dir, output, |state| ask(state).map(drop))?;
    let event = ask(keeper.state())?;
    let seq = event
        .map(|event| keeper.commit(Timestamp::now(), &event))
        .transpose()?;
    show_fabric(keeper.state().need_ring(&args.project)?, seq, output)
}

fn show_fabric(ring: &Ring, seq: Option<u64>, output: &mut Output) -> Result<(), Failure> {
    let assumed: Assumptions = ring.fabric.unwrap_or_default();
    if output.is_json() {
        output.object(&json!({
            "project": ring.project,
            "event": seq,
            "said": ring.fabric.is_some(),
            "fabric": assumed,
        }))?;
        return Ok(());
    }
    let said = if ring.fabric.is_some() {
        ""
    } else {
        " (nobody has said; this is the usual)"
    };
    output.line(format_args!(
        "{}: {}{said}.",
        ring.project,
        assumptions_in_words(&assumed)
    ))?;
    Ok(())
}
