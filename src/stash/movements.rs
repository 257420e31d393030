//! What an event did, told from the record: which cards went from where to where.

use std::collections::BTreeSet;

use super::event::{Act, Event};
use super::history::History;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;
use crate::stash::apply::ApplyError;
use crate::stash::event::Change;
use crate::stash::state::{CardState, State};

/// Goes through the events of a stash from the first, so that each can be told with the names of
/// its own time.
#[derive(Default)]
pub struct Replay {
    state: State,
    history: History,
}

/// What one event did. `T` is what is told of a card before and after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct EventSummary<T> {
    /// What was done, as whoever asked calls it.
    pub what: String,
    /// The event that it took back, where it is an undo or a redo.
    pub takes_back: Option<u64>,
    /// The cards that came to another place, came into the stash, or went out of it.
    pub moves: Vec<Movement<T>>,
    /// The cards that got another home, or lost theirs.
    pub homes: Vec<Movement<T>>,
    /// What is told of every card that the event changed in any way, in the order of their ids.
    pub touched: Vec<Movement<T>>,
}

/// A card before and after an event.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Movement<T> {
    /// Which card.
    pub card: CardId,
    /// Before; nothing where the card is new.
    pub from: Option<T>,
    /// After; nothing where the card went out of the stash.
    pub to: Option<T>,
}

/// What a movement is told by: a card, what `look` says of it, where it is and where it belongs.
struct Seen<T> {
    card: CardId,
    told: Option<T>,
    spot: Option<(Whereabouts, Option<HookRef>)>,
    home: Option<HookRef>,
}

impl Replay {
    /// The stash after the events so far.
    #[must_use]
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// Applies the next event without telling of it.
    ///
    /// # Errors
    /// When it does not fit.
    pub fn pass(&mut self, seq: u64, event: Event) -> Result<(), ApplyError> {
        self.state.apply(&event)?;
        self.history.note(seq, event);
        Ok(())
    }

    /// Applies the next event and tells what it did. `call` says what an act is called; `look` says what
    /// is to be told of a card, and is asked before and after the event, for the cards that it concerns.
    ///
    /// # Errors
    /// When the event does not fit.
    pub fn tell<T>(
        &mut self,
        seq: u64,
        event: Event,
        call: impl Fn(&State, &Act) -> String,
        look: impl Fn(&State, &CardState) -> T,
    ) -> Result<EventSummary<T>, ApplyError>
    where
        T: Clone,
    {
        let changed = changed(&event);
        let concerned: BTreeSet<CardId> = &changed | &on_rings(&self.state, &event);
        let see = |state: &State| -> Vec<Seen<T>> {
            let cards = concerned.iter();
            cards.map(|&card| Seen::of(state, card, &look)).collect()
        };
        let before = see(&self.state);
        // The names are known before the change is taken back, perhaps not after.
        let undone = self.undone(&event.act, &call);
        self.state.apply(&event)?;
        let (what, takes_back) = match (&event.act, undone) {
            (Act::Redo { seq }, _) => (self.redone(&event.act, &call), Some(*seq)),
            (Act::Undo { seq }, Some(what)) => (what, Some(*seq)),
            (Act::Undo { seq }, None) => (call(&self.state, &event.act), Some(*seq)),
            (act, _) => (call(&self.state, act), None),
        };
        let mut told = EventSummary {
            what,
            takes_back,
            moves: Vec::new(),
            homes: Vec::new(),
            touched: Vec::new(),
        };
        for (before, after) in before.into_iter().zip(see(&self.state)) {
            let movement = Movement {
                card: before.card,
                from: before.told,
                to: after.told,
            };
            let moved = before.spot != after.spot;
            if moved {
                told.moves.push(movement.clone());
            }
            if before.home != after.home {
                told.homes.push(movement.clone());
            }
            if moved || changed.contains(&movement.card) {
                told.touched.push(movement);
            }
        }
        self.history.note(seq, event);
        Ok(told)
    }

    /// `Took back change 12: Took 1 card to the ring 'Robin'`, before it is taken back.
    fn undone(&self, act: &Act, call: impl Fn(&State, &Act) -> String) -> Option<String> {
        let past = self.history.last_done()?;
        matches!(act, Act::Undo { .. }).then(|| {
            let what = call(&self.state, &past.act);
            format!("{}: {what}", call(&self.state, act))
        })
    }

    /// The same for what was done again, after it is.
    fn redone(&self, act: &Act, call: impl Fn(&State, &Act) -> String) -> String {
        let words = call(&self.state, act);
        match self.history.last_undone() {
            Some(past) => format!("{words}: {}", call(&self.state, &past.act)),
            None => words,
        }
    }
}

impl<T> Seen<T> {
    fn of(state: &State, card: CardId, look: impl Fn(&State, &CardState) -> T) -> Self {
        let kept = state.card(card);
        Self {
            card,
            told: kept.map(|kept| look(state, kept)),
            spot: kept.map(|kept| (kept.place.at.clone(), hanging(state, kept))),
            home: kept.and_then(|kept| kept.home),
        }
    }
}

/// The hook on which the ring of a card hangs on a hook: a card goes along with its ring.
fn hanging(state: &State, kept: &CardState) -> Option<HookRef> {
    match state.ring(kept.place.at.ring()?)?.state {
        RingState::Hanging { hook, .. } => Some(hook),
        _ => None,
    }
}

/// The cards of which something is written down in an event.
fn changed(event: &Event) -> BTreeSet<CardId> {
    let ids = event.changes.iter().filter_map(|change| match change {
        Change::Card { before, after } => before.as_ref().or(after.as_ref()).map(|card| card.id),
        Change::Place { card, .. }
        | Change::Home { card, .. }
        | Change::Lot { card, .. }
        | Change::Thread { card, .. } => Some(*card),
        _ => None,
    });
    ids.collect()
}

/// The cards that ever went out on the rings that an event changes.
fn on_rings(state: &State, event: &Event) -> BTreeSet<CardId> {
    let rings = event.changes.iter().flat_map(|change| match change {
        Change::Ring { before, after } => [before.as_ref(), after.as_ref()],
        _ => [None, None],
    });
    let rings = rings.flatten();
    rings
        .flat_map(|told| [Some(told), state.ring(told.id)])
        .flatten()
        .flat_map(|ring| ring.went_out.iter().copied())
        .collect()
}

#[cfg(test)]
mod tests;
