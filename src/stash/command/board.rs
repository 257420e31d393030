//! Creating, resizing and blocking boards.

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::model::board::{Board, HookRef, HookSpec, ReadingOrder};
use crate::model::ids::BoardId;
use crate::model::label::Label;
use crate::model::ring::RingState;
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::{Act, Change, Event};
use crate::stash::names::shared_hook_name;
use crate::stash::refusal::{HookLoss, Refusal};
use crate::stash::state::{CardState, State};

/// The dimensions of a new board.
#[derive(Debug, Clone)]
pub struct NewBoard {
    /// Its name.
    pub name: String,
    /// The start of its hook names; may be empty.
    pub prefix: String,
    /// Rows.
    pub rows: u16,
    /// Columns.
    pub columns: u16,
    /// Cards per hook.
    pub cards_per_hook: u8,
    /// The reading order of its hooks.
    pub reading: ReadingOrder,
}

/// New dimensions of a board; `None` leaves one unchanged.
#[derive(Debug, Clone, Copy, Default)]
pub struct BoardSize {
    /// Rows.
    pub rows: Option<u16>,
    /// Columns.
    pub columns: Option<u16>,
    /// Cards on a usual hook.
    pub cards_per_hook: Option<u8>,
    /// The reading order of its hooks.
    pub reading: Option<ReadingOrder>,
}

/// A board with these dimensions, not yet checked against existing boards.
///
/// # Errors
/// When a name or a dimension is out of bounds.
pub fn measured(state: &State, wanted: &NewBoard) -> Result<Board, Refusal> {
    let board = Board {
        id: state.new_board_id(),
        name: Label::new(&wanted.name)?,
        prefix: Label::new(&wanted.prefix)?,
        rows: wanted.rows,
        columns: wanted.columns,
        cards_per_hook: wanted.cards_per_hook,
        reading: wanted.reading,
        special: BTreeMap::new(),
    };
    board.check()?;
    Ok(board)
}

/// Creates a board.
///
/// # Errors
/// When the size is out of bounds, or its name or the name of a hook is taken.
pub fn new_board(state: &State, wanted: &NewBoard) -> Result<Event, Refusal> {
    let board = measured(state, wanted)?;
    for other in state.boards() {
        if other.name.same_as(board.name.as_str()) {
            return Err(Refusal::BoardExists(other.name.to_string()));
        }
        if let Some(hook_name) = shared_hook_name(&board, other) {
            let board = other.name.to_string();
            return Err(Refusal::SharedHookName { hook_name, board });
        }
    }
    Ok(Event {
        act: Act::NewBoard { board: board.id },
        changes: vec![Change::Board {
            before: None,
            after: Some(board),
        }],
    })
}

/// Whether cards may lose their hook and become cards to hang.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unhang {
    /// They may.
    Allowed,
    /// They may not, so refuse.
    Refused,
}

/// Resizes a board. Cards that lose their hook or place become cards to hang, if allowed.
///
/// # Errors
/// When the size is out of bounds, a hook name would exist twice, a hanging ring would lose its
/// hook, or cards would and that isn't allowed.
pub fn resize(
    state: &State,
    name: &str,
    to: BoardSize,
    unhang: Unhang,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let old = state.find_board(name)?;
    let mut board = old.clone();
    board.rows = to.rows.unwrap_or(board.rows);
    board.columns = to.columns.unwrap_or(board.columns);
    board.cards_per_hook = to.cards_per_hook.unwrap_or(board.cards_per_hook);
    board.reading = to.reading.unwrap_or(board.reading);
    let (rows, columns) = (board.rows, board.columns);
    board
        .special
        .retain(|&(row, column), _| row < rows && column < columns);
    board.check()?;
    for other in state.boards().filter(|other| other.id != board.id) {
        if let Some(hook_name) = shared_hook_name(&board, other) {
            let board = other.name.to_string();
            return Err(Refusal::SharedHookName { hook_name, board });
        }
    }
    let what = HookLoss::Resize(old.name.to_string());
    let act = Act::Resize { board: board.id };
    replace(state, old, board, act, what, unhang, now)
}

/// Blocks a hook, for a reason. Its cards become cards to hang, if allowed.
///
/// # Errors
/// When there is no such hook, a ring hangs there, or cards hang there and may not lose it.
pub fn block(
    state: &State,
    hook_name: &str,
    why: &str,
    unhang: Unhang,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let why = Label::new(why)?;
    let why = if why.is_empty() {
        Label::new("blocked")?
    } else {
        why
    };
    let old = board_of(state, hook)?;
    let mut board = old.clone();
    edit(&mut board, hook, |spec| spec.blocked = Some(why));
    let hook_name = state.hook_name(hook);
    let what = HookLoss::Block(hook_name.clone());
    replace(
        state,
        old,
        board,
        Act::Block { hook: hook_name },
        what,
        unhang,
        now,
    )
}

/// Unblocks a hook.
///
/// # Errors
/// When there is no such hook, or it isn't blocked.
pub fn unblock(state: &State, hook_name: &str, now: Timestamp) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let old = board_of(state, hook)?;
    let hook_name = state.hook_name(hook);
    if old.blocked(hook).is_none() {
        return Err(Refusal::NotBlocked { hook_name });
    }
    let mut board = old.clone();
    edit(&mut board, hook, |spec| spec.blocked = None);
    let act = Act::Unblock { hook: hook_name };
    let what = HookLoss::Resize(old.name.to_string());
    replace(state, old, board, act, what, Unhang::Refused, now)
}

/// Sets how many cards one hook takes. Cards beyond that number no longer belong on it and become
/// cards to hang, if allowed; the latest ones give way. A blocked hook keeps the number for later.
///
/// # Errors
/// When there is no such hook, the number is out of bounds, or cards belong there and may not lose
/// it.
pub fn cards_per_hook(
    state: &State,
    hook_name: &str,
    cards_per_hook: u8,
    unhang: Unhang,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let old = board_of(state, hook)?;
    let mut board = old.clone();
    let usual = board.cards_per_hook;
    edit(&mut board, hook, |spec| {
        spec.cards_per_hook = (cards_per_hook != usual).then_some(cards_per_hook);
    });
    board.check()?;
    let act = Act::Resize { board: board.id };
    let what = HookLoss::FewerCards(state.hook_name(hook));
    replace(state, old, board, act, what, unhang, now)
}

/// Changes how one hook differs, and drops its entry if it no longer does.
pub(super) fn edit(board: &mut Board, hook: HookRef, change: impl FnOnce(&mut HookSpec)) {
    let at = (hook.row, hook.column);
    let mut spec = board.special.remove(&at).unwrap_or_default();
    change(&mut spec);
    if spec != HookSpec::default() {
        board.special.insert(at, spec);
    }
}

pub(super) fn board_of(state: &State, hook: HookRef) -> Result<&Board, Refusal> {
    state.board(hook.board).ok_or(Refusal::NoBoard)
}

/// Replaces a board, after taking off every card that loses its hook.
fn replace(
    state: &State,
    old: &Board,
    new: Board,
    act: Act,
    what: HookLoss,
    unhang: Unhang,
    now: Timestamp,
) -> Result<Event, Refusal> {
    for ring in state.rings() {
        if let RingState::Hanging { hook, .. } = ring.state
            && hook.board == new.id
            && new.capacity(hook) == 0
        {
            return Err(Refusal::RingHangsThere {
                project: ring.project.to_string(),
                hook_name: old.hook_name(hook),
            });
        }
    }
    let losing: Vec<&CardState> = state
        .cards()
        .filter(|kept| loses_home(state, &new, kept) || loses_hook(&new, kept))
        .collect();
    if !losing.is_empty() && unhang == Unhang::Refused {
        return Err(Refusal::StillHanging {
            what,
            who: losing.iter().map(|kept| state.card_name(kept)).collect(),
        });
    }
    let mut changes = Vec::new();
    for kept in losing {
        let card = kept.card.id;
        if loses_home(state, &new, kept) {
            changes.push(Change::Home {
                card,
                before: kept.home,
                after: None,
            });
        }
        // A card that stays on an existing hook but loses its place there comes off as well.
        if kept.place.at.hook().is_some_and(|hook| {
            new.id == hook.board && (new.capacity(hook) == 0 || kept.home == Some(hook))
        }) {
            changes.push(Change::Place {
                card,
                before: Some(kept.place.clone()),
                after: Some(Place {
                    at: Whereabouts::Unhung,
                    since: now,
                }),
            });
        }
    }
    changes.push(Change::Board {
        before: Some(old.clone()),
        after: Some(new),
    });
    Ok(Event { act, changes })
}

fn loses_hook(new: &Board, kept: &CardState) -> bool {
    kept.place
        .at
        .hook()
        .is_some_and(|hook| hook.board == new.id && new.capacity(hook) == 0)
}

/// Whether a card no longer belongs on its hook at the new capacity; the last ones by id give way.
fn loses_home(state: &State, new: &Board, kept: &CardState) -> bool {
    kept.home.is_some_and(|hook| {
        hook.board == new.id
            && state
                .index()
                .homes_on(hook)
                .iter()
                .position(|&id| id == kept.card.id)
                .is_none_or(|at| at >= usize::from(new.capacity(hook)))
    })
}

/// A board drawn by the user.
#[derive(Debug, Clone)]
pub struct Drawing {
    /// Its dimensions. The prefix of an existing board stays, because its hook names are written on
    /// cards.
    pub size: NewBoard,
    /// The blocked hooks, by row and column from 0, with the reason. Hooks off the board are
    /// ignored.
    pub blocked: BTreeMap<(u16, u16), Label>,
}

/// Creates a drawn board, or changes an existing one to match; `None` if it already does. Other
/// settings of single hooks stay. O(hooks that differ + cards).
///
/// # Errors
/// When the size is out of bounds, its name or the name of a hook is taken, or a card or a hanging
/// ring would lose its hook.
pub fn draw(
    state: &State,
    board: Option<BoardId>,
    drawing: &Drawing,
    now: Timestamp,
) -> Result<Option<Event>, Refusal> {
    let Some(id) = board else {
        let mut event = new_board(state, &drawing.size)?;
        for change in &mut event.changes {
            if let Change::Board {
                after: Some(new), ..
            } = change
            {
                block_only(new, &drawing.blocked);
            }
        }
        return Ok(Some(event));
    };
    let old = state.board(id).ok_or(Refusal::NoBoard)?;
    let size = &drawing.size;
    let mut new = Board {
        name: Label::new(&size.name)?,
        rows: size.rows,
        columns: size.columns,
        cards_per_hook: size.cards_per_hook,
        reading: size.reading,
        ..old.clone()
    };
    block_only(&mut new, &drawing.blocked);
    if new == *old {
        return Ok(None);
    }
    new.check()?;
    for other in state.boards().filter(|other| other.id != id) {
        if other.name.same_as(new.name.as_str()) {
            return Err(Refusal::BoardExists(other.name.to_string()));
        }
        if let Some(hook_name) = shared_hook_name(&new, other) {
            let board = other.name.to_string();
            return Err(Refusal::SharedHookName { hook_name, board });
        }
    }
    let what = HookLoss::Resize(old.name.to_string());
    let act = Act::Resize { board: id };
    replace(state, old, new, act, what, Unhang::Refused, now).map(Some)
}

/// Blocks only these hooks of a board, and drops settings of hooks that aren't on it.
fn block_only(board: &mut Board, blocked: &BTreeMap<(u16, u16), Label>) {
    let (rows, columns) = (board.rows, board.columns);
    let on = |&(row, column): &(u16, u16)| row < rows && column < columns;
    for spec in board.special.values_mut() {
        spec.blocked = None;
    }
    for (&at, why) in blocked.iter().filter(|(at, _)| on(at)) {
        board.special.entry(at).or_default().blocked = Some(why.clone());
    }
    board
        .special
        .retain(|at, spec| on(at) && *spec != Default::default());
}

#[cfg(test)]
mod tests {
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
    fn a_board_is_redrawn_in_one_change_and_keeps_other_settings() {
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
        // Unblock it again, and remove the last row.
        let event = change(&state, &same).unwrap().unwrap();
        apply(&mut state, &event);
        let now = state.boards().next().unwrap();
        assert_eq!((now.rows, now.special.len()), (2, 1));
    }

    #[test]
    fn drawing_refuses_to_take_a_hook_from_a_card() {
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

    /// Cards 1 and 2 on A01, 3 on A02, and 4, which belongs on B02, on a ring; two cards per hook.
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

    /// Checks the refusal `expected` if nothing may be unhung; then does it and returns what is
    /// unhung.
    fn unhung(
        state: &mut State,
        expected: &str,
        command: impl Fn(&State, Unhang) -> Result<Event, Refusal>,
    ) -> Vec<String> {
        let words = words(command(state, Unhang::Refused));
        let (what, who) = expected.rsplit_once(": ").unwrap();
        let next = "To put what hangs there with the cards to hang, add --unhang";
        let expected = format!("{what}: no hook would be left for {who}. {next}");
        assert_eq!(words, expected);
        let event = command(state, Unhang::Allowed).unwrap();
        apply(state, &event);
        let to_hang = state.cards().filter(|kept| kept.home.is_none());
        to_hang.map(|kept| state.card_name(kept)).collect()
    }

    #[test]
    fn boards_need_unique_names_unique_labels_and_valid_dimensions() {
        let state = wall(2, 2, 1);
        let no = |wanted| words(new_board(&state, &wanted));
        assert_eq!(
            no(board("Wall", "2", 1, 1, 1)),
            "There is a board called 'wall' already. Choose another name."
        );
        assert_eq!(
            no(board("shelf", "", 1, 1, 1)),
            "Hook A01 is on the board 'wall' already. Give the new board hooks of its own with \
             --prefix, such as --prefix 2-"
        );
        assert_eq!(no(board(" ", "2", 1, 1, 1)), "A board needs a name.");
        assert!(no(board("shelf", "2", 0, 1, 1)).contains("0 rows"));
        assert!(no(board("shelf", "2", 1, 1, 0)).contains("0 cards per hook"));
        assert!(new_board(&state, &board("shelf", "2", 1, 1, 1)).is_ok());
    }

    #[test]
    fn a_board_grows_and_shrinks_and_unhangs_cards_only_if_allowed() {
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
        // Fewer places on every hook: the latest card gives way.
        let lost = unhung(
            &mut state,
            "The board 'wall' can't be that size: 2",
            |state, unhang| resize(state, "Wall", to(None, None, Some(1)), unhang, at(3)),
        );
        assert_eq!(lost, ["2"]);
        assert_eq!(place(&state, "2"), Whereabouts::Unhung);
        // A card on a ring stays there but no longer has a hook.
        let lost = unhung(
            &mut state,
            "The board 'wall' can't be that size: 3, 4",
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
            "There is no board called 'shelf'. The boards are: wall."
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
        assert!(
            matches!(event, Err(Refusal::SharedHookName { hook_name, .. }) if hook_name == "AA01")
        );
    }

    #[test]
    fn a_hook_is_blocked_and_unblocked() {
        let mut state = stash();
        let lost = unhung(
            &mut state,
            "Hook A01 can't be blocked yet: 1, 2",
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
            "Hook A02 isn't blocked."
        );
        for hook_name in ["A01", "B01"] {
            let event = unblock(&state, hook_name, at(3)).unwrap();
            apply(&mut state, &event);
        }
        assert_eq!(state.boards().next().unwrap().special, BTreeMap::new());
    }

    #[test]
    fn a_hook_with_a_hanging_ring_stays() {
        let mut state = stash();
        let hang_up =
            ring::hang_up(&state, state.need_ring("Robin").unwrap(), "B01", at(2)).unwrap();
        apply(&mut state, &hang_up);
        let expected = "The ring 'Robin' hangs on hook B01. Take it down first: homehook ring \
                        take-down \"Robin\"";
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
    fn one_hook_gets_its_own_number_of_cards() {
        let mut state = stash();
        let event = cards_per_hook(&state, "A02", 3, Unhang::Refused, at(2)).unwrap();
        apply(&mut state, &event);
        let hook = state.find_hook("A02").unwrap();
        assert_eq!((state.capacity(hook), state.free_places(hook)), (3, 2));
        assert_eq!(event.act, Act::Resize { board: hook.board });
        let lost = unhung(
            &mut state,
            "Hook A01 can't take so few cards yet: 2",
            |state, unhang| cards_per_hook(state, "A01", 1, unhang, at(3)),
        );
        assert_eq!(lost, ["2"]);
        assert_eq!(state.card(id(&state, "2")).unwrap().place.since, at(3));
        assert_eq!(
            words(cards_per_hook(&state, "A02", 0, Unhang::Allowed, at(4))),
            "0 cards per hook aren't possible. Give 1 to 50."
        );
        assert!(
            words(cards_per_hook(&state, "C09", 1, Unhang::Allowed, at(4))).contains("no hook C09")
        );
        // The usual number isn't a difference.
        for hook_name in ["A01", "A02"] {
            let event = cards_per_hook(&state, hook_name, 2, Unhang::Refused, at(4)).unwrap();
            apply(&mut state, &event);
        }
        assert_eq!(state.boards().next().unwrap().special, BTreeMap::new());
    }

    #[test]
    fn a_blocked_hook_keeps_its_number_of_cards_for_later() {
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
}
