//! A board that was drawn: its measures and the hooks that cannot be used, in one change.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::{NewBoard, Unhang, new_board, replace};
use crate::model::board::Board;
use crate::model::ids::BoardId;
use crate::model::label::Label;
use crate::stash::event::{Act, Change, Event};
use crate::stash::names::shared_hook_name;
use crate::stash::refusal::{HookLoss, Refusal};
use crate::stash::state::State;

/// A board as somebody drew it.
#[derive(Debug, Clone)]
pub struct Drawing {
    /// Its measures. The prefix of a board that is there stays as it is: its marks are written on
    /// cards.
    pub size: NewBoard,
    /// The hooks that cannot be used, by row and column from 0, and why. Those off the board count
    /// for nothing.
    pub blocked: BTreeMap<(u16, u16), Label>,
}

/// Puts up the board that was drawn, or makes the one that is there so; `None` where it is so
/// already. What else was said of single hooks stays. O(hooks that differ + cards).
///
/// # Errors
/// When the size is out of bounds, the name or that of a hook is taken, or a card or a hanging ring
/// would lose its hook.
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
                block(new, &drawing.blocked);
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
    block(&mut new, &drawing.blocked);
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

/// Blocks these hooks of a board and no other, and forgets hooks that are not on it.
fn block(board: &mut Board, blocked: &BTreeMap<(u16, u16), Label>) {
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
    use crate::stash::command::hold;
    use crate::stash::testing::{add_cards, apply, at, board, home, wall};

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
}
