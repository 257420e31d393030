//! Putting up, measuring and blocking boards.

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

/// The measures of a new board.
#[derive(Debug, Clone)]
pub struct NewBoard {
    /// Its name.
    pub name: String,
    /// What its hooks begin with; may be empty.
    pub prefix: String,
    /// Rows.
    pub rows: u16,
    /// Columns.
    pub columns: u16,
    /// Places on a hook.
    pub cards_per_hook: u8,
    /// The order its hooks are read in.
    pub reading: ReadingOrder,
}

/// New measures of a board; `None` leaves one as it is.
#[derive(Debug, Clone, Copy, Default)]
pub struct BoardSize {
    /// Rows.
    pub rows: Option<u16>,
    /// Columns.
    pub columns: Option<u16>,
    /// Places on a usual hook.
    pub cards_per_hook: Option<u8>,
    /// The order its hooks are read in.
    pub reading: Option<ReadingOrder>,
}

/// Puts up a board.
///
/// # Errors
/// When the size is out of bounds, or the name or that of a hook is taken.
pub fn new_board(state: &State, wanted: &NewBoard) -> Result<Event, Refusal> {
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

/// Whether cards may lose their hook, and are to hang then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unhang {
    /// They may.
    Allowed,
    /// They may not: refuse.
    Refused,
}

/// Gives a board another size. Cards whose hook or place is lost are to hang, if that is allowed.
///
/// # Errors
/// When the size is out of bounds, the name of a hook would be there twice, a hanging ring would lose its
/// hook, or cards would and it is not allowed.
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

/// Blocks a hook, for a reason. Its cards are to hang, if that is allowed.
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

/// Makes a blocked hook usable again.
///
/// # Errors
/// When there is no such hook or it is not blocked.
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

/// Sets how many cards one hook takes. Cards past that number lose it as their home and are to
/// hang, if that is allowed: the last to come give way. A blocked hook keeps the number for later.
///
/// # Errors
/// When there is no such hook, the number is out of bounds, or cards live there and may not lose it.
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

/// Changes how one hook differs, and forgets that it does where it no longer does.
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

/// Swaps a board for its new self; every card that loses its hook is taken off it first.
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
        // A card that keeps its physical hook while its place there is lost comes off as well.
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

/// Whether a card's home is past the new capacity of its hook: the last by id give way.
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

/// Blocks these hooks of a board and no other, and forgets hooks that are not on it.
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
mod tests;
