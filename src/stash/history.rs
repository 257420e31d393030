//! What can be taken back, and what can be done again.

use std::collections::{BTreeMap, VecDeque};

use serde::{Deserialize, Serialize};

use super::event::{Act, Event};
use super::refusal::Refusal;
use crate::stash::event::inverse;

/// How many events back an undo can go.
pub const REACH: usize = 1_000;

/// An event that can be taken back or done again.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct UndoEntry {
    /// Its sequence number in the record.
    pub seq: u64,
    /// The event.
    pub event: Event,
    /// What the user did in the first place, through any undo and redo.
    pub act: Act,
}

/// An event of the history without what it changed, which stands in the record.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Noted {
    /// Its sequence number in the record.
    pub seq: u64,
    /// What the user did in the first place.
    pub act: Act,
}

/// A history told without its events.
#[derive(Clone, PartialEq, Eq, Default, Debug, Serialize, Deserialize)]
pub struct Notes {
    done: Vec<Noted>,
    undone: Vec<Noted>,
}

impl Notes {
    /// The numbers of the events, in no order.
    pub fn seqs(&self) -> impl Iterator<Item = u64> {
        self.done.iter().chain(&self.undone).map(|noted| noted.seq)
    }
}

/// The last [`REACH`] events that stand, and those taken back since.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct History {
    done: VecDeque<UndoEntry>,
    undone: Vec<UndoEntry>,
}

impl History {
    /// Takes note of an event that was recorded. Every event of a record passes here once, in
    /// order, so the same history stands after a restart.
    pub fn note(&mut self, seq: u64, event: Event) {
        match event.act {
            Act::Undo { .. } => {
                if let Some(taken_back) = self.done.pop_back() {
                    let act = taken_back.act;
                    self.undone.push(UndoEntry { seq, event, act });
                }
            }
            Act::Redo { .. } => {
                if let Some(undo) = self.undone.pop() {
                    let act = undo.act;
                    self.keep(UndoEntry { seq, event, act });
                }
            }
            // Nothing was changed by it, so there is nothing to undo.
            Act::AcceptLoss { .. } => {}
            _ => {
                self.undone.clear();
                let act = event.act.clone();
                self.keep(UndoEntry { seq, event, act });
            }
        }
    }

    fn keep(&mut self, past: UndoEntry) {
        if self.done.len() == REACH {
            self.done.pop_front();
        }
        self.done.push_back(past);
    }

    /// The history without its events.
    #[must_use]
    pub fn notes(&self) -> Notes {
        let noted = |past: &UndoEntry| Noted {
            seq: past.seq,
            act: past.act.clone(),
        };
        Notes {
            done: self.done.iter().map(noted).collect(),
            undone: self.undone.iter().map(noted).collect(),
        }
    }

    /// The history that was told as `notes`, with its events from a record, by their numbers. Nothing
    /// where one is missing.
    #[must_use]
    pub fn recalled(notes: Notes, mut events: BTreeMap<u64, Event>) -> Option<Self> {
        let mut past = |Noted { seq, act }| {
            let event = events.remove(&seq)?;
            Some(UndoEntry { seq, event, act })
        };
        Some(Self {
            done: notes
                .done
                .into_iter()
                .map(&mut past)
                .collect::<Option<_>>()?,
            undone: notes
                .undone
                .into_iter()
                .map(&mut past)
                .collect::<Option<_>>()?,
        })
    }

    /// What the next undo would take back.
    #[must_use]
    pub fn last_done(&self) -> Option<&UndoEntry> {
        self.done.back()
    }

    /// What the next redo would do again.
    #[must_use]
    pub fn last_undone(&self) -> Option<&UndoEntry> {
        self.undone.last()
    }

    /// The events that stand, newest first.
    #[cfg(test)]
    fn newest_first(&self) -> impl Iterator<Item = &UndoEntry> {
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
            changes: inverse(&past.event.changes),
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
            changes: inverse(&undo.event.changes),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::event::Change;

    /// An event that says which one it is.
    fn event(number: usize) -> Event {
        Event {
            act: Act::Block {
                hook: number.to_string(),
            },
            changes: vec![Change::Families {
                before: Vec::new(),
                after: Vec::new(),
            }],
        }
    }

    fn with(events: usize) -> History {
        let mut history = History::default();
        for number in 1..=events {
            history.note(number as u64, event(number));
        }
        history
    }

    #[test]
    fn events_are_taken_back_from_the_last_and_done_again_in_order() {
        let mut history = with(3);
        for (seq, undone) in [(4, 3), (5, 2)] {
            let undo = history.undo().unwrap();
            assert_eq!(undo.act, Act::Undo { seq: undone });
            history.note(seq, undo.clone());
        }
        assert_eq!(history.last_done().unwrap().seq, 1);
        assert_eq!(history.last_undone().unwrap().act, event(2).act);
        for (seq, redone) in [(6, 5), (7, 4)] {
            let redo = history.redo().unwrap();
            assert_eq!(redo.act, Act::Redo { seq: redone });
            history.note(seq, redo.clone());
        }
        assert_eq!(history.redo(), Err(Refusal::NothingToRedo));
        let acts: Vec<Act> = history
            .newest_first()
            .map(|past| past.act.clone())
            .collect();
        assert_eq!(acts, [3, 2, 1].map(|number| event(number).act));
        // What was done again is taken back by the number it has now.
        assert_eq!(history.undo().unwrap().act, Act::Undo { seq: 7 });
    }

    #[test]
    fn a_new_event_ends_what_could_be_done_again() {
        let mut history = with(2);
        let undo = history.undo().unwrap();
        history.note(3, undo.clone());
        history.note(4, event(4));
        assert_eq!(history.redo(), Err(Refusal::NothingToRedo));
        assert_eq!(history.undo().unwrap().act, Act::Undo { seq: 4 });
    }

    #[test]
    fn an_undo_reaches_so_far_and_no_further() {
        let mut history = with(REACH + 5);
        for step in 0..REACH {
            let undo = history.undo().unwrap();
            history.note((REACH + 6 + step) as u64, undo.clone());
        }
        assert_eq!(history.undo(), Err(Refusal::NothingToUndo));
        for step in 0..REACH {
            let redo = history.redo().unwrap();
            history.note((2 * REACH + 6 + step) as u64, redo.clone());
        }
        assert_eq!(history.redo(), Err(Refusal::NothingToRedo));
        assert_eq!(history.newest_first().count(), REACH);
        assert_eq!(history.newest_first().last().unwrap().act, event(6).act);
    }
}
