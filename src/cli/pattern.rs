//! `homehook ring key`, `ring swap`, `ring progress` and `ring fabric`: a project's chart key and
//! fabric.

use std::path::Path;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::values::{cm, mm, percent, whole};
use super::{change, open};
use crate::engine::need::crosses_in_skein;
use crate::exchange::export::KeyLineOut;
use crate::model::assumptions::{Assumptions, Way};
use crate::model::card::USUAL_CUT_CM;
use crate::model::length::Length;
use crate::model::ring::Ring;
use crate::stash::command::fabric::{self, Said};
use crate::stash::command::key;
use crate::stash::command::progress::{self, Percent, Progress};
use crate::stash::projects::needs::{needs, usual_put_up};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::{self, one_or_many};

/// The chart key of a project.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct KeyShown<'a> {
    /// The project.
    project: &'a str,
    /// The key, in order.
    key: Vec<KeyLineOut>,
    /// What it is stitched on and how; `null` where no fabric is set.
    fabric: Option<Assumptions>,
}

/// Shows the chart key of a project.
pub(crate) fn show_key(project: &str, dir: &Path, output: &mut Output) -> Result<(), Failure> {
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

/// The chart key in words.
pub(crate) fn say_key(state: &State, ring: &Ring, output: &mut Output) -> Result<(), Failure> {
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
            // The shared part of a blend comes before its first thread.
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

/// Sets the colour to stitch in place of one in the chart, and shows the key.
pub(crate) fn swap(
    project: &str,
    colour: &str,
    with: Option<&str>,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let ask = |state: &State, _| key::swap(state, state.need_ring(project)?, colour, with);
    let (writing, now, event) = change::ask(dir, output, ask)?;
    let (store, seq) = writing.commit_if(now, event.as_ref(), output)?;
    let state = store.state();
    let ring = state.need_ring(project)?;
    let done = event.map(|event| text::history::act(state, &event.act));
    tell_key(state, ring, seq, done, output)
}

/// Shows the change of a project, and its key.
fn tell_key(
    state: &State,
    ring: &Ring,
    seq: Option<u64>,
    done: Option<String>,
    output: &mut Output,
) -> Result<(), Failure> {
    if output.is_json() {
        output.object(&ProgressSet {
            project: ring.project.as_str(),
            event: seq,
            done,
            key: KeyLineOut::all(state, ring),
        })?;
        return Ok(());
    }
    match done {
        Some(done) => output.line(format_args!("{done}."))?,
        None => output.line("Nothing changed.")?,
    }
    say_key(state, ring, output)
}

/// How far a project has come.
#[derive(Debug, Args)]
pub(crate) struct ProgressArgs {
    /// The project.
    pub project: String,
    /// A colour of its key: NUMBER or RANGE:NUMBER. Without one: the whole key.
    #[arg(value_name = "CARD", required_unless_present = "done")]
    pub colour: Option<String>,
    /// Lengths of it that were used in all.
    #[arg(long, value_name = "N", required_unless_present_any = ["strands", "done"], value_parser = whole(0..=u32::MAX))]
    pub lengths: Option<u32>,
    /// Single strands of it that were used, added to the whole lengths.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub strands: Option<u32>,
    /// How much of it is stitched, in percent.
    #[arg(long, value_name = "PERCENT", conflicts_with_all = ["lengths", "strands"], value_parser = percent)]
    pub done: Option<Percent>,
}

impl ProgressArgs {
    fn said(&self) -> Progress<'_> {
        match (self.done, self.colour.as_deref()) {
            (Some(percent), colour) => Progress::Done { colour, percent },
            (None, colour) => Progress::Used {
                colour: colour.unwrap_or_default(),
                lengths: self.lengths.unwrap_or(0),
                strands: self.strands.unwrap_or(0),
            },
        }
    }
}

/// How far a project has come.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct ProgressSet<'a> {
    /// The project.
    project: &'a str,
    /// The number of the event in the record; `null` where that was known already.
    event: Option<u64>,
    /// What was done, as a sentence without its full stop; `null` likewise.
    done: Option<String>,
    /// The key, in order.
    key: Vec<KeyLineOut>,
}

/// Sets the progress of a project, and shows its key.
pub(crate) fn progress(
    args: &ProgressArgs,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let ask = |state: &State, _| progress::set(state, state.need_ring(&args.project)?, args.said());
    let (writing, now, event) = change::ask(dir, output, ask)?;
    let (store, seq) = writing.commit_if(now, event.as_ref(), output)?;
    let state = store.state();
    let ring = state.need_ring(&args.project)?;
    let done = event.map(|event| text::history::act(state, &event.act));
    tell_key(state, ring, seq, done, output)
}

/// What fabric a project is stitched on, and how. What is not given stays as it was.
#[derive(Debug, Args)]
pub(crate) struct FabricArgs {
    /// The project.
    pub project: String,
    /// Threads, or squares, of the fabric in an inch.
    #[arg(long, value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub count: Option<u16>,
    /// Threads under a stitch: 1 or 2. Without it: 2 from 25 count, else 1.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub over: Option<u8>,
    /// Strands in the needle, where the key gives none.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub strands: Option<u8>,
    /// The same for backstitch.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub backstitch_strands: Option<u8>,
    /// The way to work a row of crosses: Danish (there-and-back) or English (one-by-one).
    #[arg(long, value_enum)]
    pub way: Option<WorkWay>,
    /// The longest working thread, such as 46cm or 18in.
    #[arg(long, value_name = "LENGTH", value_parser = cm)]
    pub working: Option<Length>,
    /// The waste at start and finish of each working thread together, such as 7.5cm or 3in.
    #[arg(long, value_name = "LENGTH", value_parser = cm)]
    pub waste: Option<Length>,
    /// A margin for safety, in percent.
    #[arg(long, value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub margin_percent: Option<u16>,
    /// The thickness of the fabric, such as 0.5mm.
    #[arg(long, value_name = "LENGTH", value_parser = mm)]
    pub thickness: Option<Length>,
    /// Thread in a French knot and on the way to the next, such as 20mm or 0.75in.
    #[arg(long, value_name = "LENGTH", value_parser = mm)]
    pub knot: Option<Length>,
}

impl FabricArgs {
    /// The settings given.
    pub(crate) fn said(&self) -> Said {
        Said {
            count: self.count,
            over: self.over,
            strands: self.strands,
            backstitch_strands: self.backstitch_strands,
            way: self.way.map(Way::from),
            working_cm: self.working.map(Length::cm),
            waste_mm: self.waste.map(Length::mm),
            margin_percent: self.margin_percent,
            fabric_tenth_mm: self.thickness.map(Length::tenth_mm),
            knot_mm: self.knot.map(Length::mm),
        }
    }
}

/// How a row of crosses is worked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum WorkWay {
    /// All lower legs of a row, then all upper legs on the way back.
    ThereAndBack,
    /// Each cross is finished before the next.
    OneByOne,
}

impl From<WorkWay> for Way {
    fn from(way: WorkWay) -> Self {
        match way {
            WorkWay::ThereAndBack => Self::ThereAndBack,
            WorkWay::OneByOne => Self::OneByOne,
        }
    }
}

/// What a project is stitched on.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct FabricShown<'a> {
    /// The project.
    project: &'a str,
    /// The number of the event in the record; `null` where nothing was changed.
    event: Option<u64>,
    /// Whether a fabric is set; else it is the usual one.
    said: bool,
    /// What it is stitched on and how.
    fabric: Assumptions,
    /// Full crosses that a skein covers so, before the margin: of the first colour of the key whose thread is
    /// divided.
    crosses_in_skein: u32,
}

/// Sets how a project is stitched, or shows the settings.
pub(crate) fn fabric(args: &FabricArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let said = args.said();
    if said == Said::default() {
        let reading = open::reading(dir, output)?;
        let state = reading.state();
        return show_fabric(state, state.need_ring(&args.project)?, None, false, output);
    }
    let ask = |state: &State, _| fabric::set(state.need_ring(&args.project)?, &said);
    let (writing, now, event) = change::ask(dir, output, ask)?;
    let (store, seq) = writing.commit_if(now, event.as_ref(), output)?;
    let ring = store.state().need_ring(&args.project)?;
    let is_usual = |of: Assumptions| of.over == Assumptions::usual_over(of.count);
    let usual_over =
        said.count.is_some() && said.over.is_none() && ring.fabric.is_some_and(is_usual);
    show_fabric(store.state(), ring, seq, usual_over, output)
}

fn show_fabric(
    state: &State,
    ring: &Ring,
    seq: Option<u64>,
    usual_over: bool,
    output: &mut Output,
) -> Result<(), Failure> {
    let assumed: Assumptions = ring.fabric.unwrap_or_default();
    let put_up = usual_put_up(state, ring);
    if output.is_json() {
        output.object(&FabricShown {
            project: ring.project.as_str(),
            event: seq,
            said: ring.fabric.is_some(),
            fabric: assumed,
            crosses_in_skein: crosses_in_skein(&assumed, put_up, USUAL_CUT_CM),
        })?;
        return Ok(());
    }
    let said = if ring.fabric.is_some() {
        ""
    } else {
        " (not set; the usual one)"
    };
    output.line(format_args!(
        "{}: {}{said}.",
        ring.project,
        text::thread::assumptions(&assumed)
    ))?;
    output.line(format!(
        "So {covers}.",
        covers = text::thread::skein_covers(&assumed, put_up)
    ))?;
    if usual_over {
        output.line(format!(
            "Over {over} is usual at {count} count; --over changes it.",
            over = assumed.over,
            count = assumed.count
        ))?;
    }
    Ok(())
}
