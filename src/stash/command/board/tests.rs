use super::*;
use crate::stash::command::{hold, ring};
use crate::stash::testing::{Shown as _, add_cards, apply, at, board, home, id, place, wall};

fn drawing(rows: u16, columns: u16, blocked: &[(u16, u16)]) -> Drawing {
    let why = Label::new("bracket").unwrap();
    Drawing {
        size: board("wall", "", rows, columns, 1),
        blocked: blocked.iter().map(|&at| (at, why.clone())).collect(),
    }
}

#[test]
fn a_new_board_comes_with_its_blocked_hooks() {
    let mut state = State::default();
    let drawn = drawing(2, 3, &[(0, 2), (5, 5)]);
    let event = draw(&state, None, &drawn, at(1)).unwrap().unwrap();
    apply(&mut state, &event);
    let up = state.boards().next().unwrap();
    assert_eq!(up.special.len(), 1);
    let free = state.hooks().filter(|&hook| state.capacity(hook) > 0);
    assert_eq!(free.count(), 5);
}

#[test]
fn a_board_is_drawn_anew_in_one_change_and_keeps_what_else_was_said() {
    let mut state = wall(2, 3, 1);
    add_cards(&mut state, &["1@A01", "2@A02"]);
    let reserved = hold::reserve(&state, "B03").unwrap();
    apply(&mut state, &reserved);
    let id = state.boards().next().unwrap().id;
    let change = |state: &State, drawn: &Drawing| draw(state, Some(id), drawn, at(2));
    let same = drawing(2, 3, &[]);
    assert!(change(&state, &same).unwrap().is_none());
    let event = change(&state, &drawing(3, 3, &[(0, 2), (1, 2)]));
    apply(&mut state, &event.unwrap().unwrap());
    let now = state.boards().next().unwrap();
    assert_eq!((now.rows, now.special.len()), (3, 2));
    assert!(now.reserved(now.hook(1, 2)) && now.blocked(now.hook(1, 2)).is_some());
    assert!(home(&state, "1").is_some());
    // Freed again, and the last row taken away.
    let event = change(&state, &same).unwrap().unwrap();
    apply(&mut state, &event);
    let now = state.boards().next().unwrap();
    assert_eq!((now.rows, now.special.len()), (2, 1));
}

#[test]
fn no_card_loses_its_hook() {
    let mut state = wall(2, 3, 1);
    add_cards(&mut state, &["1@A01", "2@B03"]);
    let id = state.boards().next().unwrap().id;
    for drawn in [drawing(1, 3, &[]), drawing(2, 3, &[(0, 0)])] {
        let refused = draw(&state, Some(id), &drawn, at(2)).unwrap_err();
        assert!(
            matches!(refused, Refusal::StillHanging { .. }),
            "{refused:?}"
        );
    }
}

/// Cards 1 and 2 on A01, 3 on A02, 4 on B02 with its card on a ring; two places a hook.
fn stash() -> State {
    let mut state = wall(2, 2, 2);
    add_cards(&mut state, &["1@A01", "2@A01", "3@A02", "4@B02"]);
    let event = ring::take(&state, "Robin", &[id(&state, "4")], at(1)).unwrap();
    apply(&mut state, &event);
    state
}

fn words(outcome: Result<Event, Refusal>) -> String {
    outcome.unwrap_err().shown()
}

/// Refuses with `expected` where nothing may be unhung, then does it and says what is unhung.
fn unhung(
    state: &mut State,
    expected: &str,
    command: impl Fn(&State, Unhang) -> Result<Event, Refusal>,
) -> Vec<String> {
    let words = words(command(state, Unhang::Refused));
    let (what, who) = expected.rsplit_once(": ").unwrap();
    let next = "add --unhang to put what hangs there with the cards to hang, to be hung again by a re-hang";
    let expected = format!("{what}: no hook would be left for {who}; {next}");
    assert_eq!(words, expected);
    let event = command(state, Unhang::Allowed).unwrap();
    apply(state, &event);
    let to_hang = state.cards().filter(|kept| kept.home.is_none());
    to_hang.map(|kept| state.card_name(kept)).collect()
}

#[test]
fn boards_need_names_and_labels_of_their_own_and_fair_measures() {
    let state = wall(2, 2, 1);
    let no = |wanted| words(new_board(&state, &wanted));
    assert_eq!(
        no(board("Wall", "2", 1, 1, 1)),
        "there is a board called 'wall' already; choose another name"
    );
    assert_eq!(
        no(board("shelf", "", 1, 1, 1)),
        "the hook A01 is on the board 'wall' already; give the new board hooks of its own \
         with --prefix, such as --prefix 2-"
    );
    assert_eq!(no(board(" ", "2", 1, 1, 1)), "a board needs a name");
    assert!(no(board("shelf", "2", 0, 1, 1)).contains("0 rows"));
    assert!(no(board("shelf", "2", 1, 1, 0)).contains("0 places"));
    assert!(new_board(&state, &board("shelf", "2", 1, 1, 1)).is_ok());
}

#[test]
fn a_board_grows_and_shrinks_and_unhangs_only_if_it_may() {
    let mut state = stash();
    let to = |rows, columns, cards_per_hook| BoardSize {
        rows,
        columns,
        cards_per_hook,
        reading: None,
    };
    let larger = to(Some(3), Some(5), None);
    let event = resize(&state, "WALL", larger, Unhang::Refused, at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(state.hooks().count(), 15);
    // Fewer places on every hook: the card that came last gives way.
    let lost = unhung(
        &mut state,
        "board 'wall' cannot be made so: 2",
        |state, unhang| resize(state, "Wall", to(None, None, Some(1)), unhang, at(3)),
    );
    assert_eq!(lost, ["2"]);
    assert_eq!(place(&state, "2"), Whereabouts::Unhung);
    // A card on a ring stays there and has no home any more.
    let lost = unhung(
        &mut state,
        "board 'wall' cannot be made so: 3, 4",
        |state, unhang| resize(state, "wall", to(Some(1), Some(1), None), unhang, at(4)),
    );
    assert_eq!(lost, ["2", "3", "4"]);
    assert!(place(&state, "4").ring().is_some());
    assert_eq!(home(&state, "1").as_deref(), Some("A01"));
    let unknown = resize(
        &state,
        "shelf",
        to(None, None, None),
        Unhang::Refused,
        at(5),
    );
    assert_eq!(
        words(unknown),
        "there is no board called 'shelf'; the boards are: wall"
    );
    let flat = resize(
        &state,
        "wall",
        to(Some(0), None, None),
        Unhang::Refused,
        at(5),
    );
    assert!(words(flat).contains("0 rows"));
}

#[test]
fn a_board_does_not_grow_into_the_labels_of_another() {
    let mut state = wall(27, 1, 1);
    let event = new_board(&state, &board("shelf", "A", 1, 1, 1));
    assert!(matches!(event, Err(Refusal::SharedHookName { .. })));
    let fewer = BoardSize {
        rows: Some(26),
        ..BoardSize::default()
    };
    let event = resize(&state, "wall", fewer, Unhang::Refused, at(1)).unwrap();
    apply(&mut state, &event);
    let event = new_board(&state, &board("shelf", "A", 1, 1, 1)).unwrap();
    apply(&mut state, &event);
    let more = BoardSize {
        rows: Some(27),
        ..BoardSize::default()
    };
    let event = resize(&state, "wall", more, Unhang::Refused, at(1));
    assert!(matches!(event, Err(Refusal::SharedHookName { hook_name, .. }) if hook_name == "AA01"));
}

#[test]
fn a_hook_is_blocked_and_unblocked() {
    let mut state = stash();
    let lost = unhung(
        &mut state,
        "hook A01 cannot be blocked yet: 1, 2",
        |state, unhang| block(state, "a1", "bracket", unhang, at(2)),
    );
    assert_eq!(lost, ["1", "2"]);
    let hook = state.find_hook("A01").unwrap();
    assert_eq!(state.capacity(hook), 0);
    let event = block(&state, "B01", " ", Unhang::Refused, at(2)).unwrap();
    apply(&mut state, &event);
    let board = state.boards().next().unwrap();
    let why = |hook_name| {
        board
            .blocked(state.find_hook(hook_name).unwrap())
            .unwrap()
            .as_str()
    };
    assert_eq!((why("A01"), why("B01")), ("bracket", "blocked"));
    assert_eq!(
        words(unblock(&state, "A02", at(3))),
        "hook A02 is not blocked"
    );
    for hook_name in ["A01", "B01"] {
        let event = unblock(&state, hook_name, at(3)).unwrap();
        apply(&mut state, &event);
    }
    assert_eq!(state.boards().next().unwrap().special, BTreeMap::new());
}

#[test]
fn a_hook_under_a_hanging_ring_stays() {
    let mut state = stash();
    let hang_up = ring::hang_up(&state, state.need_ring("Robin").unwrap(), "B01", at(2)).unwrap();
    apply(&mut state, &hang_up);
    let expected = "the ring 'Robin' hangs on hook B01; take it down first: \
                    homehook ring take-down \"Robin\"";
    assert_eq!(
        words(block(&state, "B01", "", Unhang::Allowed, at(3))),
        expected
    );
    let rows = BoardSize {
        rows: Some(1),
        ..BoardSize::default()
    };
    assert_eq!(
        words(resize(&state, "wall", rows, Unhang::Allowed, at(3))),
        expected
    );
}

#[test]
fn one_hook_gets_places_of_its_own() {
    let mut state = stash();
    let event = cards_per_hook(&state, "A02", 3, Unhang::Refused, at(2)).unwrap();
    apply(&mut state, &event);
    let hook = state.find_hook("A02").unwrap();
    assert_eq!((state.capacity(hook), state.free_places(hook)), (3, 2));
    assert_eq!(event.act, Act::Resize { board: hook.board });
    let lost = unhung(
        &mut state,
        "hook A01 cannot take so few cards yet: 2",
        |state, unhang| cards_per_hook(state, "A01", 1, unhang, at(3)),
    );
    assert_eq!(lost, ["2"]);
    assert_eq!(state.card(id(&state, "2")).unwrap().place.since, at(3));
    assert_eq!(
        words(cards_per_hook(&state, "A02", 0, Unhang::Allowed, at(4))),
        "0 places on a hook cannot be kept; give 1 to 50"
    );
    assert!(
        words(cards_per_hook(&state, "C09", 1, Unhang::Allowed, at(4))).contains("no hook C09")
    );
    // The usual number is no difference.
    for hook_name in ["A01", "A02"] {
        let event = cards_per_hook(&state, hook_name, 2, Unhang::Refused, at(4)).unwrap();
        apply(&mut state, &event);
    }
    assert_eq!(state.boards().next().unwrap().special, BTreeMap::new());
}

#[test]
fn a_blocked_hook_keeps_its_places_for_later() {
    let mut state = wall(1, 2, 1);
    let event = block(&state, "A01", "light", Unhang::Refused, at(1)).unwrap();
    apply(&mut state, &event);
    let event = cards_per_hook(&state, "A01", 4, Unhang::Refused, at(2)).unwrap();
    apply(&mut state, &event);
    let hook = state.find_hook("A01").unwrap();
    assert_eq!(state.capacity(hook), 0);
    let event = unblock(&state, "A01", at(3)).unwrap();
    apply(&mut state, &event);
    assert_eq!(state.capacity(hook), 4);
}
