//! A change made by a command: computed, put on disk and answered.

use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::open::{self, Writing};
use super::output::Output;
use crate::journal::store::Store;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;

/// A change on disk.
pub(crate) struct Changed {
    store: Store,
    /// Its number in the record.
    pub seq: u64,
    /// The event.
    pub event: Event,
}

impl Changed {
    /// The stash after it.
    pub(crate) fn state(&self) -> &State {
        self.store.state()
    }

    /// The change as a sentence without its full stop.
    pub(crate) fn words(&self) -> String {
        text::history::act(self.state(), &self.event.act)
    }
}

/// What was done, for scripts.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Made<T> {
    /// What was done, as a sentence without its full stop.
    pub done: String,
    /// The number of the event in the record.
    pub event: u64,
    /// What there is to say of the stash after it.
    #[serde(flatten)]
    pub beside: T,
}

/// Nothing beside what was done.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Nothing {}

/// Asks of the stash what is to be written, and locks it for that; with the time to be written down.
pub(crate) fn ask<T>(
    dir: &Path,
    output: &Output,
    what: impl Fn(&State, Timestamp) -> Result<T, Refusal>,
) -> Result<(Writing, Timestamp, T), Failure> {
    open::writing(dir, output, |state, now| Ok(what(state, now)?))
}

/// Computes an event from the stash and puts it on disk.
pub(crate) fn make(
    dir: &Path,
    output: &Output,
    event: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<Changed, Failure> {
    let (writing, now, event) = ask(dir, output, event)?;
    let (store, seq) = writing.commit(now, &event, output)?;
    Ok(Changed { store, seq, event })
}

/// Makes a change and describes it. JSON output also has its number, and the value that `beside`
/// computes from the stash after it.
pub(crate) fn make_and_tell<T: Serialize>(
    dir: &Path,
    output: &mut Output,
    event: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
    beside: impl FnOnce(&State) -> T,
) -> Result<(), Failure> {
    let changed = make(dir, output, event)?;
    let made = Made {
        done: changed.words(),
        event: changed.seq,
        beside: beside(changed.state()),
    };
    output.done(&made.done, &made)?;
    Ok(())
}
