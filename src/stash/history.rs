//! The history: what can be undone and redone, and what each event did to which cards.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use serde::{Deserialize, Serialize};

use super::refusal::Refusal;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;
use crate::stash::apply::ApplyError;
use crate::stash::event::{Act, Change, Event, inverse};
use crate::stash::state::{CardState, State};

/// How many events back an undo can go.
pub const REACH: usize = 1_000;

/// An event that can be undone or redone.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct UndoEntry {
    /// Its sequence number in the record.
    pub seq: u64,
    /// The event.
    pub event: Event,
    /// The user's original action, through any undo and redo.
    pub act: Act,
}

/// An event of the history without its changes, which are in the record.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Noted {
    /// Its sequence number in the record.
    pub seq: u64,
    /// The user's original action.
    pub act: Act,
}

/// A history without its events.
#[derive(Clone, PartialEq, Eq, Default, Debug, Serialize, Deserialize)]
pub struct Notes {
    done: Vec<Noted>,
    undone: Vec<Noted>,
}

impl Notes {
    /// The sequence numbers of the events, in no particular order.
    pub fn seqs(&self) -> impl Iterator<Item = u64> {
        self.done.iter().chain(&self.undone).map(|noted| noted.seq)
    }
}

/// The last [`REACH`] events in effect, and those undone since.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct History {
    done: VecDeque<UndoEntry>,
    undone: Vec<UndoEntry>,
}

impl History {
    /// Adds a recorded event. Every event of a record passes through here once, in order, so the
    /// history is the same after a restart.
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
            // It changes nothing, so there is nothing to undo.
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

    /// Restores the history that `notes` were taken from, with its events from a record, by their
    /// numbers. `None` if one is missing.
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

    /// How many events can be undone, one after the other: up to [`REACH`].
    #[must_use]
    pub fn undoable(&self) -> usize {
        self.done.len()
    }

    /// How many events can be done again, one after the other.
    #[must_use]
    pub const fn redoable(&self) -> usize {
        self.undone.len()
    }

    /// The event that the next undo would undo.
    #[must_use]
    pub fn last_done(&self) -> Option<&UndoEntry> {
        self.done.back()
    }

    /// The cards that the last re-hang has moved or hung so far; `None` if none was started within
    /// [`REACH`].
    pub(crate) fn last_rehang(&self) -> Option<BTreeSet<CardId>> {
        let begun = |past: &UndoEntry| matches!(past.act, Act::BeginRehang { .. });
        let begun = self.done.iter().rposition(begun)?;
        let steps = self.done.iter().skip(begun);
        let is_step = |act: &Act| matches!(act, Act::Rehang { .. } | Act::RehangAll { .. });
        let homes = |past: &UndoEntry| match past.act {
            Act::Rehang { card } => vec![card],
            _ => past.event.homes().collect(),
        };
        Some(
            steps
                .filter(|past| is_step(&past.act))
                .flat_map(homes)
                .collect(),
        )
    }

    /// The events from the first row of the roll call underway on; none if none is underway. O(events
    /// in reach).
    pub(super) fn roll_call(&self) -> impl Iterator<Item = &UndoEntry> {
        let mut from = self.done.len();
        for (at, past) in self.done.iter().enumerate().rev() {
            match past.act {
                Act::RollCallRow { begins, .. } => {
                    from = at;
                    if begins {
                        break;
                    }
                }
                Act::RollCall { .. } => break,
                _ => {}
            }
        }
        self.done.iter().skip(from)
    }

    /// The event that the next redo would redo.
    #[must_use]
    pub fn last_undone(&self) -> Option<&UndoEntry> {
        self.undone.last()
    }

    /// The events in effect, newest first.
    #[cfg(test)]
    fn newest_first(&self) -> impl Iterator<Item = &UndoEntry> {
        self.done.iter().rev()
    }

    /// The event that undoes the last one.
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

    /// The event that redoes the last undone one.
    ///
    /// # Errors
    /// When the last event isn't an undo.
    pub fn redo(&self) -> Result<Event, Refusal> {
        let undo = self.undone.last().ok_or(Refusal::NothingToRedo)?;
        Ok(Event {
            act: Act::Redo { seq: undo.seq },
            changes: inverse(&undo.event.changes),
        })
    }
}

/// Replays the events of a stash from the first, to describe each with the names of its time.
#[derive(Default)]
pub struct Replay {
    state: State,
    history: History,
}

/// The effect of one event. `T` is the view of a card before and after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct EventSummary<T> {
    /// What was done, in the words of the caller's `call`.
    pub what: String,
    /// The event it undid or redid, for an undo or redo.
    pub takes_back: Option<u64>,
    /// The cards that moved, were added or were removed.
    pub moves: Vec<Movement<T>>,
    /// The cards that got another home, or lost theirs.
    pub homes: Vec<Movement<T>>,
    /// Every card that the event changed in any way, in order of their ids.
    pub changed: Vec<Movement<T>>,
}

/// A card before and after an event.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Movement<T> {
    /// Which card.
    pub card: CardId,
    /// Before; `None` if the card is new.
    pub from: Option<T>,
    /// After; `None` if the card was removed.
    pub to: Option<T>,
}

/// One side of a movement: a card, its view by `look`, its place and its home.
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

    /// Applies the next event without describing it.
    ///
    /// # Errors
    /// When it doesn't fit.
    pub fn pass(&mut self, seq: u64, event: Event) -> Result<(), ApplyError> {
        self.state.apply(&event)?;
        self.history.note(seq, event);
        Ok(())
    }

    /// Applies the next event and describes its effect. `call` names an act. `look` makes the view
    /// of a card; it is called before and after the event, for the cards concerned.
    ///
    /// # Errors
    /// When the event doesn't fit.
    pub fn describe<T>(
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
        // The names are known before the change is undone, but perhaps not after.
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
            changed: Vec::new(),
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
                told.changed.push(movement);
            }
        }
        self.history.note(seq, event);
        Ok(told)
    }

    /// `Undid change 12: Took 1 card to the ring 'Robin'`, before it is undone.
    fn undone(&self, act: &Act, call: impl Fn(&State, &Act) -> String) -> Option<String> {
        let past = self.history.last_done()?;
        matches!(act, Act::Undo { .. }).then(|| {
            let what = call(&self.state, &past.act);
            format!("{}: {what}", call(&self.state, act))
        })
    }

    /// The same for a redone event, after it is redone.
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

/// The hook that the card's ring hangs on, if it does: a card moves along with its ring.
fn hanging(state: &State, kept: &CardState) -> Option<HookRef> {
    match state.ring(kept.place.at.ring()?)?.state {
        RingState::Hanging { hook, .. } => Some(hook),
        _ => None,
    }
}

/// The cards that an event has changes for.
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

/// The cards that were ever on the rings that an event changes.
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
mod tests {
    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::command::hang::hang;
    use crate::stash::command::import::{Terms, card_list};
    use crate::stash::command::ring;
    use crate::stash::event::Change;
    use crate::stash::testing::{at, board, id, rows};
    use crate::text;
    use crate::text::history::Brief;

    /// An event that contains its number.
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
    fn the_last_re_hang_knows_its_cards_and_follows_undo() {
        let begin = Act::BeginRehang { steps: 1 };
        let card = |number| Act::Rehang {
            card: CardId(number),
        };
        let mut history = with(1);
        assert_eq!(history.last_rehang(), None);
        for act in [begin.clone(), card(1), begin, card(2), card(3), card(2)] {
            let event = Event { act, ..event(0) };
            history.note(9, event);
        }
        let cards = |history: &History| history.last_rehang().map(Vec::from_iter);
        assert_eq!(cards(&history), Some(vec![CardId(2), CardId(3)]));
        for _ in 0..4 {
            let undo = history.undo().unwrap();
            history.note(10, undo);
        }
        assert_eq!(cards(&history), Some(vec![CardId(1)]));
        let home = |number| Change::Home {
            card: CardId(number),
            before: None,
            after: None,
        };
        let all = Event {
            act: Act::RehangAll { cards: 2 },
            changes: vec![home(4), home(5), home(4)],
        };
        history.note(11, all);
        assert_eq!(cards(&history), Some(vec![CardId(1), CardId(4), CardId(5)]));
    }

    #[test]
    fn events_are_undone_from_the_last_and_redone_in_order() {
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
        // A redone event is undone by its new number.
        assert_eq!(history.undo().unwrap().act, Act::Undo { seq: 7 });
    }

    #[test]
    fn a_new_event_clears_the_redo_list() {
        let mut history = with(2);
        let undo = history.undo().unwrap();
        history.note(3, undo.clone());
        history.note(4, event(4));
        assert_eq!(history.redo(), Err(Refusal::NothingToRedo));
        assert_eq!(history.undo().unwrap().act, Act::Undo { seq: 4 });
    }

    #[test]
    fn undo_stops_at_its_limit() {
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

    /// A replay and the number of its last event.
    #[derive(Default)]
    struct Telling {
        replay: Replay,
        last: u64,
    }

    impl Telling {
        fn tell(&mut self, event: Event) -> EventSummary<String> {
            self.last += 1;
            let words = crate::text::places::place_of;
            let call = crate::text::history::act;
            self.replay.describe(self.last, event, call, words).unwrap()
        }

        fn state(&self) -> &State {
            self.replay.state()
        }
    }

    /// `from > to` of each movement, with `-` for a card that wasn't there.
    fn described(moves: &[Movement<String>]) -> Vec<String> {
        let end = |end: &Option<String>| end.clone().unwrap_or_else(|| "-".to_owned());
        let moves = moves.iter();
        moves
            .map(|m| format!("{} > {}", end(&m.from), end(&m.to)))
            .collect()
    }

    /// A wall with card 1 on A01 and card 2 to hang, and the description of card 1 going to a ring.
    fn begun() -> (Telling, EventSummary<String>) {
        let mut telling = Telling::default();
        let event = new_board(telling.state(), &board("wall", "", 1, 2, 1)).unwrap();
        assert_eq!(described(&telling.tell(event).moves), [""; 0]);
        let list = rows(&["1@A01 moss", "2"]);
        let list = card_list(telling.state(), &list, Vec::new(), &Terms::default(), at(2)).unwrap();
        let told = telling.tell(list.event.unwrap());
        assert_eq!(
            described(&told.moves),
            ["- > at home on hook A01", "- > to hang, without a hook yet"]
        );
        assert_eq!((told.homes.len(), told.changed.len()), (1, 2));
        let card = id(telling.state(), "1");
        let event = ring::take(telling.state(), "Robin", &[card], at(3)).unwrap();
        let told = telling.tell(event);
        (telling, told)
    }

    #[test]
    fn a_card_moves_along_with_its_ring() {
        let (mut telling, took) = begun();
        assert_eq!(took.what, "Took 1 card to the ring 'Robin'");
        assert_eq!(
            described(&took.moves),
            ["at home on hook A01 > on the ring 'Robin'"]
        );
        assert!(took.homes.is_empty() && took.changed == took.moves);
        let robin = telling.state().need_ring("Robin").unwrap();
        let event = ring::hang_up(telling.state(), robin, "A02", at(4)).unwrap();
        let hanging = telling.tell(event);
        assert_eq!(
            described(&hanging.moves),
            ["on the ring 'Robin' > on the ring 'Robin', hanging on hook A02"]
        );
        assert_eq!(hanging.changed, hanging.moves);
    }

    #[test]
    fn a_changed_ring_leaves_cards_that_left_it_alone() {
        let (mut telling, _) = begun();
        let robin = telling.state().need_ring("Robin").unwrap().id;
        let card = id(telling.state(), "1");
        let ring = telling.state().ring(robin).unwrap();
        let event = ring::give_back(telling.state(), ring, &[card], at(4)).unwrap();
        telling.tell(event);
        let ring = telling.state().ring(robin).unwrap();
        let event = ring::close(telling.state(), ring, at(5)).unwrap();
        let closed = telling.tell(event);
        assert_eq!((closed.moves, closed.changed), (Vec::new(), Vec::new()));
    }

    #[test]
    fn an_undo_describes_what_it_undoes_with_names_that_disappear() {
        let (mut telling, _) = begun();
        let event = telling.replay.history.undo().unwrap();
        let undone = telling.tell(event);
        // The undone event had opened the ring.
        assert_eq!(
            undone.what,
            "Undid change 3: Took 1 card to the ring 'Robin'"
        );
        assert_eq!(undone.takes_back, Some(3));
        assert_eq!(
            described(&undone.moves),
            ["on the ring 'Robin' > at home on hook A01"]
        );
        let event = telling.replay.history.redo().unwrap();
        let redone = telling.tell(event);
        assert_eq!(
            redone.what,
            "Redid what change 4 undid: Took 1 card to the ring 'Robin'"
        );
        assert_eq!(redone.takes_back, Some(4));
        let mut passed = Replay::default();
        assert!(
            passed
                .pass(1, telling.replay.history.undo().unwrap())
                .is_err()
        );
    }

    #[test]
    fn a_skipped_event_counts_like_a_described_one() {
        let (mut telling, _) = begun();
        let card = id(telling.state(), "2");
        let event = ring::missing(telling.state(), &[card], at(4)).unwrap();
        let mut passing = Replay {
            state: telling.state().clone(),
            history: telling.replay.history.clone(),
        };
        telling.tell(event.clone());
        passing.pass(4, event).unwrap();
        assert_eq!(passing.state(), telling.state());
        assert_eq!(passing.history, telling.replay.history);
    }

    #[test]
    fn a_line_names_its_cards_if_they_are_few() {
        let mut replay = Replay::default();
        let mut last = 0;
        let mut tell = |event: &dyn Fn(&State) -> Event| {
            last += 1;
            let event = event(replay.state());
            let told = replay
                .describe(last, event, text::history::act, Brief::of)
                .unwrap();
            format!("{}: {}", told.what, text::history::in_brief(&told))
        };
        tell(&|state| new_board(state, &board("wall", "", 1, 5, 1)).unwrap());
        let list = |given: &[&str], state: &State| {
            let list = card_list(state, &rows(given), Vec::new(), &Terms::default(), at(2));
            list.unwrap().event.unwrap()
        };
        let said = tell(&|state| list(&["1@A01", "2@A02", "3"], state));
        assert_eq!(
            said,
            "Imported a card list: 3 cards new, 0 changed: 1 new -> A01, 2 new -> A02, 3 new -> to \
             hang"
        );
        let said = tell(&|state| list(&["4", "5", "6", "7"], state));
        assert_eq!(said, "Imported a card list: 4 cards new, 0 changed: ");
        let one = |state: &State| [id(state, "1")];
        let said = tell(&|state| ring::take(state, "Robin", &one(state), at(3)).unwrap());
        assert_eq!(said, "Took 1 card to the ring 'Robin': 1 A01 -> 'Robin'");
        let hung = |state: &State| hang(state, one(state)[0], "A05", at(4)).unwrap();
        assert_eq!(tell(&hung), "Re-hung card 1: 1 home A01 -> A05");
        let said = tell(&|state| ring::missing(state, &one(state), at(5)).unwrap());
        assert_eq!(said, "Marked 1 card as missing: 1 'Robin' -> missing");
        let said = tell(&|state| ring::found(state, one(state)[0], at(6)).unwrap());
        assert_eq!(said, "Found card 1 again: 1 missing -> A05");
    }
}
