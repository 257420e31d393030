//! What an event did, told from the record: which cards went from where to where.

use std::collections::BTreeSet;

use super::change::Change;
use super::event::{Act, Event};
use super::history::History;
use super::state::{Kept, Misfit, State};
use super::words::act_in_words;
use crate::language::{say, word};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;

/// Goes through the events of a stash from the first, so that each can be told with the names of
/// its own time.
#[derive(Default)]
pub struct Replay {
    state: State,
    history: History,
}

/// What one event did. `T` is what is told of a card before and after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Told<T> {
    /// What was done, as a sentence without its full stop.
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

/// So many cards of an event are named in its line; of more, only how many there are.
const NAMED: usize = 3;

/// A card and its place, as short as a line of the log wants them.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Brief {
    name: String,
    place: String,
    home: Option<String>,
}

impl Brief {
    /// As the card stands.
    #[must_use]
    pub fn of(state: &State, kept: &Kept) -> Self {
        Self {
            name: state.card_name(kept),
            place: state.place_in_brief(kept),
            home: kept.home.map(|hook| state.mark(hook)),
        }
    }
}

impl AsRef<Self> for Brief {
    fn as_ref(&self) -> &Self {
        self
    }
}

impl<T: AsRef<Brief>> Told<T> {
    /// Which cards went from where to where: `310 A01 -> 'Robin'`; of one that is away and only got
    /// another home, that. Empty where no card is concerned, or more than three.
    #[must_use]
    pub fn in_brief(&self) -> String {
        let stays = |of: &&Movement<T>| !self.moves.iter().any(|moved| moved.card == of.card);
        let homes = self.homes.iter().filter(stays);
        if self.moves.len() + homes.clone().count() > NAMED {
            return String::new();
        }
        let went = self.moves.iter().filter_map(|moved| {
            let (was, now) = moved.ends();
            let name = &now.or(was)?.name;
            let place = |end: Option<&Brief>| end.map(|end| end.place.clone());
            let from = place(was).unwrap_or_else(|| word!("new").to_owned());
            let to = place(now).unwrap_or_else(|| word!("out of the stash").to_owned());
            Some(format!("{name} {from} -> {to}"))
        });
        let homes = homes.filter_map(|changed| {
            let (was, now) = changed.ends();
            let name = &now.or(was)?.name;
            let home = |end: Option<&Brief>| {
                let home = end.and_then(|end| end.home.clone());
                home.unwrap_or_else(|| word!("none").to_owned())
            };
            let (from, to) = (home(was), home(now));
            Some(say!("{name} home {from} -> {to}", name, from, to))
        });
        went.chain(homes).collect::<Vec<_>>().join(", ")
    }
}

impl<T: AsRef<Brief>> Movement<T> {
    /// The card before and after.
    fn ends(&self) -> (Option<&Brief>, Option<&Brief>) {
        (
            self.from.as_ref().map(AsRef::as_ref),
            self.to.as_ref().map(AsRef::as_ref),
        )
    }
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
    pub fn pass(&mut self, seq: u64, event: Event) -> Result<(), Misfit> {
        self.state.apply(&event)?;
        self.history.note(seq, event);
        Ok(())
    }

    /// Applies the next event and tells what it did. `look` says what is to be told of a card; it is
    /// asked before and after the event, for the cards that it concerns.
    ///
    /// # Errors
    /// When the event does not fit.
    pub fn tell<T>(
        &mut self,
        seq: u64,
        event: Event,
        look: impl Fn(&State, &Kept) -> T,
    ) -> Result<Told<T>, Misfit>
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
        let undone = self.undone(&event.act);
        self.state.apply(&event)?;
        let (what, takes_back) = match (&event.act, undone) {
            (Act::Redo { seq }, _) => (self.redone(&event.act), Some(*seq)),
            (Act::Undo { seq }, Some(what)) => (what, Some(*seq)),
            (Act::Undo { seq }, None) => (act_in_words(&self.state, &event.act), Some(*seq)),
            (act, _) => (act_in_words(&self.state, act), None),
        };
        let mut told = Told {
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
    fn undone(&self, act: &Act) -> Option<String> {
        let past = self.history.last_done()?;
        matches!(act, Act::Undo { .. }).then(|| {
            let what = act_in_words(&self.state, &past.act);
            format!("{}: {what}", act_in_words(&self.state, act))
        })
    }

    /// The same for what was done again, after it is.
    fn redone(&self, act: &Act) -> String {
        let words = act_in_words(&self.state, act);
        match self.history.last_undone() {
            Some(past) => format!("{words}: {}", act_in_words(&self.state, &past.act)),
            None => words,
        }
    }
}

impl<T> Seen<T> {
    fn of(state: &State, card: CardId, look: impl Fn(&State, &Kept) -> T) -> Self {
        let kept = state.card(card);
        Self {
            card,
            told: kept.map(|kept| look(state, kept)),
            spot: kept.map(|kept| (kept.place.at.clone(), parked(state, kept))),
            home: kept.and_then(|kept| kept.home),
        }
    }
}

/// The hook on which the ring of a card is parked: a card goes along with its ring.
fn parked(state: &State, kept: &Kept) -> Option<HookRef> {
    match state.ring(kept.place.at.ring()?)?.state {
        RingState::Parked { hook, .. } => Some(hook),
        _ => None,
    }
}

/// The cards of which something is written down in an event.
fn changed(event: &Event) -> BTreeSet<CardId> {
    let ids = event.changes.iter().filter_map(|change| match change {
        Change::Card { before, after } => before.as_ref().or(after.as_ref()).map(|card| card.id),
        Change::Place { card, .. } | Change::Home { card, .. } | Change::Thread { card, .. } => {
            Some(*card)
        }
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
mod tests {
    use super::*;
    use crate::stash::command::board::new_board;
    use crate::stash::command::hang::hang;
    use crate::stash::command::import::{Terms, stock};
    use crate::stash::command::ring;
    use crate::stash::testing::{at, board, id, rows};

    /// A replay and the number of its last event.
    #[derive(Default)]
    struct Telling {
        replay: Replay,
        last: u64,
    }

    impl Telling {
        fn tell(&mut self, event: Event) -> Told<String> {
            self.last += 1;
            let words = State::place_in_words;
            self.replay.tell(self.last, event, words).unwrap()
        }

        fn state(&self) -> &State {
            self.replay.state()
        }
    }

    /// `from > to` of each movement, `-` where the card was not there.
    fn in_words(moves: &[Movement<String>]) -> Vec<String> {
        let end = |end: &Option<String>| end.clone().unwrap_or_else(|| "-".to_owned());
        let moves = moves.iter();
        moves
            .map(|m| format!("{} > {}", end(&m.from), end(&m.to)))
            .collect()
    }

    /// A wall with cards 1 on A01 and 2 in the tray, and the telling of how 1 went to a ring.
    fn begun() -> (Telling, Told<String>) {
        let mut telling = Telling::default();
        let event = new_board(telling.state(), &board("wall", "", 1, 2, 1)).unwrap();
        assert_eq!(in_words(&telling.tell(event).moves), [""; 0]);
        let list = rows(&["1@A01 moss", "2"]);
        let list = stock(telling.state(), &list, Vec::new(), &Terms::default(), at(2)).unwrap();
        let told = telling.tell(list.event.unwrap());
        assert_eq!(
            in_words(&told.moves),
            ["- > at home on hook A01", "- > in the tray, not hung yet"]
        );
        assert_eq!((told.homes.len(), told.touched.len()), (1, 2));
        let card = id(telling.state(), "1");
        let event = ring::take(telling.state(), "Robin", &[card], at(3)).unwrap();
        let told = telling.tell(event);
        (telling, told)
    }

    #[test]
    fn a_card_goes_along_with_its_ring() {
        let (mut telling, took) = begun();
        assert_eq!(took.what, "Took 1 card to the ring 'Robin'");
        assert_eq!(
            in_words(&took.moves),
            ["at home on hook A01 > on the ring 'Robin'"]
        );
        assert!(took.homes.is_empty() && took.touched == took.moves);
        let robin = telling.state().need_ring("Robin").unwrap();
        let event = ring::park(telling.state(), robin, "A02", at(4)).unwrap();
        let parked = telling.tell(event);
        assert_eq!(
            in_words(&parked.moves),
            ["on the ring 'Robin' > on the ring 'Robin', parked on hook A02"]
        );
        assert_eq!(parked.touched, parked.moves);
    }

    #[test]
    fn a_ring_that_changes_touches_no_card_that_left_it() {
        let (mut telling, _) = begun();
        let robin = telling.state().need_ring("Robin").unwrap().id;
        let card = id(telling.state(), "1");
        let ring = telling.state().ring(robin).unwrap();
        let event = ring::give_back(telling.state(), ring, &[card], at(4)).unwrap();
        telling.tell(event);
        let ring = telling.state().ring(robin).unwrap();
        let event = ring::close(telling.state(), ring, at(5)).unwrap();
        let closed = telling.tell(event);
        assert_eq!((closed.moves, closed.touched), (Vec::new(), Vec::new()));
    }

    #[test]
    fn an_undo_tells_what_it_takes_back_and_names_what_goes_away() {
        let (mut telling, _) = begun();
        let event = telling.replay.history.undo().unwrap();
        let undone = telling.tell(event);
        // The ring was opened by what is taken back.
        assert_eq!(
            undone.what,
            "Took back change 3: Took 1 card to the ring 'Robin'"
        );
        assert_eq!(undone.takes_back, Some(3));
        assert_eq!(
            in_words(&undone.moves),
            ["on the ring 'Robin' > at home on hook A01"]
        );
        let event = telling.replay.history.redo().unwrap();
        let redone = telling.tell(event);
        assert_eq!(
            redone.what,
            "Did again what change 4 took back: Took 1 card to the ring 'Robin'"
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
    fn an_event_that_is_passed_over_counts_as_one_that_is_told() {
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
    fn a_line_names_the_few_cards_that_it_is_about() {
        let mut replay = Replay::default();
        let mut last = 0;
        let mut tell = |event: &dyn Fn(&State) -> Event| {
            last += 1;
            let event = event(replay.state());
            let told = replay.tell(last, event, Brief::of).unwrap();
            format!("{}: {}", told.what, told.in_brief())
        };
        tell(&|state| new_board(state, &board("wall", "", 1, 5, 1)).unwrap());
        let list = |given: &[&str], state: &State| {
            let list = stock(state, &rows(given), Vec::new(), &Terms::default(), at(2));
            list.unwrap().event.unwrap()
        };
        let said = tell(&|state| list(&["1@A01", "2@A02", "3"], state));
        assert_eq!(
            said,
            "Brought in a stock list: 3 cards new, 0 changed: 1 new -> A01, 2 new -> A02, 3 new -> \
             tray"
        );
        let said = tell(&|state| list(&["4", "5", "6", "7"], state));
        assert_eq!(said, "Brought in a stock list: 4 cards new, 0 changed: ");
        let one = |state: &State| [id(state, "1")];
        let said = tell(&|state| ring::take(state, "Robin", &one(state), at(3)).unwrap());
        assert_eq!(said, "Took 1 card to the ring 'Robin': 1 A01 -> 'Robin'");
        let hung = |state: &State| hang(state, one(state)[0], "A05", at(4)).unwrap();
        assert_eq!(tell(&hung), "Re-hung card 1: 1 home A01 -> A05");
        let said = tell(&|state| ring::missing(state, &one(state), at(5)).unwrap());
        assert_eq!(said, "Declared 1 card missing: 1 'Robin' -> missing");
        let said = tell(&|state| ring::found(state, one(state)[0], at(6)).unwrap());
        assert_eq!(said, "Found card 1 again: 1 missing -> A05");
    }
}
