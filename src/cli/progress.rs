//! `homehook ring progress`: how far a project has come.

use std::path::Path;

use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::number::whole;
use super::output::Output;
use super::{change, key};
use crate::exchange::export::KeyLineOut;
use crate::stash::command::progress::{self, Percent, Progress};
use crate::stash::state::State;
use crate::text;

/// How far a project has come.
#[derive(Debug, Args)]
pub struct ProgressArgs {
    /// The project.
    pub project: String,
    /// A colour of its key: NUMBER or RANGE:NUMBER. Without one: all that the key counts.
    #[arg(value_name = "CARD", required_unless_present = "done")]
    pub colour: Option<String>,
    /// Lengths of it that were used in all, of six strands each.
    #[arg(long, value_name = "N", required_unless_present_any = ["strands", "done"], value_parser = whole(0..=u32::MAX))]
    pub lengths: Option<u32>,
    /// Single strands of it that were used, beside the whole lengths.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub strands: Option<u32>,
    /// How much of it is stitched, in percent.
    #[arg(long, value_name = "PERCENT", conflicts_with_all = ["lengths", "strands"])]
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
pub struct ProgressSet<'a> {
    /// The project.
    project: &'a str,
    /// The number of the event in the record; `null` where that was known already.
    event: Option<u64>,
    /// What was done, as a sentence without its full stop; `null` likewise.
    done: Option<String>,
    /// The key, in order.
    key: Vec<KeyLineOut>,
}

/// Says how far a project has come, and shows its key.
pub fn run(args: &ProgressArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let ask = |state: &State, _| progress::set(state, state.need_ring(&args.project)?, args.said());
    let (writing, now, event) = change::ask(dir, output, ask)?;
    let (store, seq) = writing.commit_if(now, event.as_ref(), output)?;
    let state = store.state();
    let ring = state.need_ring(&args.project)?;
    let done = event.map(|event| text::history::act(state, &event.act));
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
        None => output.line("That was known already.")?,
    }
    key::say_key(state, ring, output)
}
