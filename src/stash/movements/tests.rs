use super::*;
use crate::stash::command::board::new_board;
use crate::stash::command::hang::hang;
use crate::stash::command::import::{Terms, card_list};
use crate::stash::command::ring;
use crate::stash::testing::{at, board, id, rows};
use crate::text;
use crate::text::history::Brief;

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
        self.replay.tell(self.last, event, call, words).unwrap()
    }

    fn state(&self) -> &State {
        self.replay.state()
    }
}

/// `from > to` of each movement, `-` where the card was not there.
fn described(moves: &[Movement<String>]) -> Vec<String> {
    let end = |end: &Option<String>| end.clone().unwrap_or_else(|| "-".to_owned());
    let moves = moves.iter();
    moves
        .map(|m| format!("{} > {}", end(&m.from), end(&m.to)))
        .collect()
}

/// A wall with cards 1 on A01 and 2 to hang, and the telling of how 1 went to a ring.
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
        described(&took.moves),
        ["at home on hook A01 > on the ring 'Robin'"]
    );
    assert!(took.homes.is_empty() && took.touched == took.moves);
    let robin = telling.state().need_ring("Robin").unwrap();
    let event = ring::hang_up(telling.state(), robin, "A02", at(4)).unwrap();
    let hanging = telling.tell(event);
    assert_eq!(
        described(&hanging.moves),
        ["on the ring 'Robin' > on the ring 'Robin', hanging on hook A02"]
    );
    assert_eq!(hanging.touched, hanging.moves);
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
        described(&undone.moves),
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
        let told = replay
            .tell(last, event, text::history::act, Brief::of)
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
    assert_eq!(said, "Declared 1 card missing: 1 'Robin' -> missing");
    let said = tell(&|state| ring::found(state, one(state)[0], at(6)).unwrap());
    assert_eq!(said, "Found card 1 again: 1 missing -> A05");
}
