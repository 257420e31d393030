//! A change that a command asks for: made, put on disk and answered.

use std::path::Path;

use jiff::Timestamp;
use serde_json::{Value, json};

use super::failure::Failure;
use super::open;
use super::output::Output;
use crate::journal::keeper::Keeper;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::act_in_words;

/// A change that is on disk.
pub struct Changed {
    keeper: Keeper,
    /// Its number in the record.
    pub seq: u64,
    /// What it was.
    pub event: Event,
}

impl Changed {
    /// The stash after it.
    pub fn state(&self) -> &State {
        self.keeper.state()
    }

    /// What was done, as a sentence without its full stop.
    pub fn words(&self) -> String {
        act_in_words(self.state(), &self.event.act)
    }
}

/// Opens the stash to write in it, and asks of it what is to be written; with the time to be written
/// down.
pub fn ask<T>(
    dir: &Path,
    output: &Output,
    what: impl Fn(&State, Timestamp) -> Result<T, Refusal>,
) -> Result<(Keeper, Timestamp, T), Failure> {
    let try_first = |state: &State| what(state, Timestamp::now()).map(drop);
    let keeper = open::writing(dir, output, try_first)?;
    // After the wait for another process, so that times in the record go forward.
    let now = Timestamp::now();
    let asked = what(keeper.state(), now)?;
    Ok((keeper, now, asked))
}

/// Opens the stash, asks for an event and puts it on disk.
pub fn make(
    dir: &Path,
    output: &Output,
    event: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<Changed, Failure> {
    let (mut keeper, now, event) = ask(dir, output, event)?;
    let seq = keeper.commit(now, &event)?;
    Ok(Changed { keeper, seq, event })
}

/// Makes a change and answers with what was done. Scripts get its number too, and the fields of the
/// object that `beside` makes of the stash after it.
pub fn make_and_tell(
    dir: &Path,
    output: &mut Output,
    event: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
    beside: impl FnOnce(&State) -> Value,
) -> Result<(), Failure> {
    let changed = make(dir, output, event)?;
    let mut object = beside(changed.state());
    object["event"] = json!(changed.seq);
    output.done(&changed.words(), object)?;
    Ok(())
}
