//! `homehook ring fabric`: what a project is stitched on, and how.

use std::path::Path;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::failure::Failure;
use super::number::whole;
use super::output::Output;
use super::{change, open};
use crate::model::assumptions::{Assumptions, Way};
use crate::model::ring::Ring;
use crate::stash::command::fabric::{self, Said, tenths};
use crate::stash::state::State;
use crate::text;

/// What fabric a project is stitched on, and how. What is not given stays as it was.
#[derive(Debug, Args)]
pub struct FabricArgs {
    /// The project.
    pub project: String,
    /// Threads, or squares, of the fabric in an inch.
    #[arg(long, value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub count: Option<u16>,
    /// Threads that a stitch goes over: 1 or 2.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub over: Option<u8>,
    /// Strands in the needle, where the key does not say.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub strands: Option<u8>,
    /// The same for backstitch.
    #[arg(long, value_name = "N", value_parser = whole(0..=u8::MAX))]
    pub backstitch_strands: Option<u8>,
    /// How a row of crosses is worked.
    #[arg(long, value_enum)]
    pub way: Option<WorkWay>,
    /// The longest working thread, in cm.
    #[arg(long, value_name = "CM", value_parser = whole(0..=u16::MAX))]
    pub working_cm: Option<u16>,
    /// What each working thread loses at start and finish together, in cm.
    #[arg(long, value_name = "CM", value_parser = tenths)]
    pub waste_cm: Option<u16>,
    /// More for safety, in percent of all.
    #[arg(long, value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub margin_percent: Option<u16>,
    /// How thick the fabric is, in mm.
    #[arg(long, value_name = "MM", value_parser = tenths)]
    pub fabric_mm: Option<u16>,
    /// Thread in a French knot with the way to the next, in mm.
    #[arg(long, value_name = "MM", value_parser = whole(0..=u16::MAX))]
    pub knot_mm: Option<u16>,
}

impl FabricArgs {
    /// What was said.
    pub fn said(&self) -> Said {
        Said {
            count: self.count,
            over: self.over,
            strands: self.strands,
            backstitch_strands: self.backstitch_strands,
            way: self.way.map(Way::from),
            working_cm: self.working_cm,
            waste_mm: self.waste_cm,
            margin_percent: self.margin_percent,
            fabric_tenth_mm: self.fabric_mm,
            knot_mm: self.knot_mm,
        }
    }
}

/// How a row of crosses is worked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum WorkWay {
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
pub struct FabricShown<'a> {
    /// The project.
    project: &'a str,
    /// The number of the event in the record; `null` where nothing was changed.
    event: Option<u64>,
    /// Whether a fabric is set; else it is the usual one.
    said: bool,
    /// What it is stitched on and how.
    fabric: Assumptions,
}

/// Says how a project is stitched, or shows what was said.
pub fn run(args: &FabricArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let said = args.said();
    if said == Said::default() {
        let reading = open::reading(dir, output)?;
        return show_fabric(reading.state().need_ring(&args.project)?, None, output);
    }
    let ask = |state: &State, _| fabric::set(state.need_ring(&args.project)?, &said);
    let (writing, now, event) = change::ask(dir, output, ask)?;
    let (store, seq) = writing.commit_if(now, event.as_ref(), output)?;
    show_fabric(store.state().need_ring(&args.project)?, seq, output)
}

fn show_fabric(ring: &Ring, seq: Option<u64>, output: &mut Output) -> Result<(), Failure> {
    let assumed: Assumptions = ring.fabric.unwrap_or_default();
    if output.is_json() {
        output.object(&FabricShown {
            project: ring.project.as_str(),
            event: seq,
            said: ring.fabric.is_some(),
            fabric: assumed,
        })?;
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
        text::thread::assumptions(&assumed)
    ))?;
    Ok(())
}
