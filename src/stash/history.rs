//! What can be taken back, and what can be done again.

use std::collections::VecDeque;

use super::change::turned;
use super::event::{Act, Event};
use super::refusal::Refusal;

/// How many events back an undo can go.
pub const REACH: usize = 1_000;

/// An event that can be taken back or done again.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Past {
    /// Its sequence number in the record.
    pub seq: u64,
    /// The event.
    pub event: Event,
    /// What the user did in the first place, through any undo and redo.
    pub act: Act,
}

/// The last [`REACH`] events that stand, and those taken back since.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct History {
    done: VecDeque<Past>,
    undone: Vec<Past>,
}

impl History {
    /// Takes note of an event that was recorded. Every event of a record passes here once, in
    /// order, so the same history stands after a restart.
    pub fn note(&mut self, seq: u64, event: &Event) {
        let event = event.clone();
        match event.act {
            Act::Undo { .. } => {
                if let Some(taken_back) = self.done.pop_back() {
                    let act = taken_back.act;
                    self.undone.push(Past { seq, event, act });
                }
            }
            Act::Redo { .. } => {
                if let Some(undo) = self.undone.pop() {
                    let act = undo.act;
                    self.keep(Past { seq, event, act });
                }
            }
            _ => {
                self.undone.clear();
                let act = event.act.clone();
                self.keep(Past { seq, event, act });
            }
        }
    }

    fn keep(&mut self, past: Past) {
        if self.done.len() == REACH {
            self.done.pop_front();
        }
        self.done.push_back(past);
    }

    /// What the next undo would take back.
    #[must_use]
    pub fn last_done(&self) -> Option<&Past> {
        self.done.back()
    }

    /// What the next redo would do again.
    #[must_use]
    pub fn last_undone(&self) -> Option<&Past> {
        self.undone.last()
    }

    /// The events that stand, newest first.
    pub fn newest_first(&self) -> impl Iterator<Item = &Past> {
        self.done.iter().rev()
    }

    /// The event that takes back the last one.
    ///
    /// # Errors
    /// When there is none, or it is past [`REACH`].
    pub fn undo(&self) -> Result<Event, Refusal> {
        let past = self.done.back().ok_or(Refusal::NothingToUndo)?;
        Ok(Event {
            act: Act::Undo { seq: past.seq },
            changes: turned(&past.event.changes),
        })
    }

    /// The event that does again what the last undo took back.
    ///
    /// # Errors
    /// When the last event was not an undo.
    pub fn redo(&self) -> Result<Event, Refusal> {
        let undo = self.undone.last().ok_or(Refusal::NothingToRedo)?;
        Ok(Event {
            act: Act::Redo { seq: undo.seq },
            changes: turned(&undo.event.changes),
        })
    }
}
