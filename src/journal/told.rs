//! The events of a stash's record, each told in words with the names of its own time.

use jiff::Timestamp;

use super::RecordError;
use super::store::Store;
use crate::model::who::Who;
use crate::stash::event::Act;
use crate::stash::movements::{EventSummary, Replay};
use crate::stash::state::{ApplyError, CardState, State};

/// One event, told.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Telling<T> {
    /// Its number in the record.
    pub seq: u64,
    /// When it was written down.
    pub time: Timestamp,
    /// Who made it, where a name is kept.
    pub by: Option<Who>,
    /// What was done.
    pub act: Act,
    /// What that did, in words and card by card.
    pub told: EventSummary<T>,
}

/// The record cannot be told.
#[derive(Debug)]
pub enum NotTold {
    /// It cannot be read, or is not as it was when the stash was opened.
    Record(RecordError),
    /// An event does not fit those before it.
    ApplyError(ApplyError),
}

impl From<RecordError> for NotTold {
    fn from(error: RecordError) -> Self {
        Self::Record(error)
    }
}

impl From<ApplyError> for NotTold {
    fn from(misfit: ApplyError) -> Self {
        Self::ApplyError(misfit)
    }
}

/// Tells the events from one on, in order. `look` says what is to be told of a card. The record is read
/// line by line, and from its first line: what came before is needed to know what things were called.
///
/// # Errors
/// When the record cannot be read, or is not what it was. An event that does not fit, and what comes
/// after it, is no part of the stash and not told.
pub fn tell<T: Clone>(
    store: &Store,
    from: u64,
    look: impl Fn(&State, &CardState) -> T,
    mut each: impl FnMut(Telling<T>),
) -> Result<(), NotTold> {
    let mut replay = Replay::default();
    for entry in store.past()? {
        let entry = entry?;
        if entry.seq > store.events() {
            break;
        }
        if entry.seq < from {
            replay.pass(entry.seq, entry.event)?;
            continue;
        }
        let act = entry.event.act.clone();
        let told = replay.tell(entry.seq, entry.event, &look)?;
        each(Telling {
            seq: entry.seq,
            time: entry.time,
            by: entry.by,
            act,
            told,
        });
    }
    Ok(())
}
