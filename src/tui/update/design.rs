//! Keys and clicks while a board is drawn.

use super::commit;
use crate::model::board::{Board, ReadingOrder};
use crate::model::label::Label;
use crate::stash::command::board;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::design::{Design, Line};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::{Code, Key};
use crate::tui::keymap::Action;
use crate::tui::layout;
use crate::tui::message::Effect;
use crate::tui::refused::on_screen;

/// Draws the board that is looked at anew.
pub(super) fn open(app: &mut App, state: &State) {
    let design = match app.board(state) {
        Some(board) => Design::of(board),
        None => Design::new_board(state),
    };
    app.mode = Mode::Design(Box::new(design));
}

pub(super) fn typed(app: &mut App, key: Key) {
    let Mode::Design(design) = &mut app.mode else {
        return;
    };
    // A letter in a number is a slip of the finger.
    if let (Line::Number(_), Code::Char(c)) = (design.line(), key.code)
        && !key.ctrl
        && !c.is_ascii_digit()
    {
        return;
    }
    write(design, |field| {
        field.press(key);
    });
}

pub(super) fn paste(design: &mut Design, text: &str) -> LeftOut {
    if design.on_hooks {
        return LeftOut::default();
    }
    write(design, |field| field.insert(text)).unwrap_or_default()
}

/// Writes in the present line; what was offered there goes.
fn write<T>(design: &mut Design, change: impl FnOnce(&mut Field) -> T) -> Option<T> {
    let fresh = std::mem::take(&mut design.fresh);
    design.wrong = None;
    let blank = design.blanks.get_mut(design.at)?;
    if fresh {
        blank.field = Field::default();
    }
    Some(change(&mut blank.field))
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Design(design) = &mut app.mode else {
        return Vec::new();
    };
    if action == Action::Save {
        return finish(app, stash);
    }
    design.wrong = None;
    if design.on_hooks {
        on_hooks(app, stash.state, action);
    } else {
        on_measures(app, stash, action);
    }
    Vec::new()
}

fn on_measures(app: &mut App, stash: Stash<'_>, action: Action) {
    let Mode::Design(design) = &mut app.mode else {
        return;
    };
    let last = design.blanks.len();
    match action {
        Action::Accept if design.at == last => go_to_hooks(app, stash),
        Action::Accept | Action::Next | Action::Previous => {
            design.fresh = true;
            design.at = match action {
                Action::Previous => design.at.checked_sub(1).unwrap_or(last),
                _ if design.at == last => 0,
                _ => design.at + 1,
            };
        }
        Action::More | Action::Less => turn(design, action == Action::More),
        Action::Cancel => app.mode = design.back(stash.state),
        _ => {}
    }
}

/// One more or one less of the present line; in a text the cursor goes there.
fn turn(design: &mut Design, more: bool) {
    let fresh = std::mem::replace(&mut design.fresh, false);
    match design.line() {
        Line::Order => {
            let orders = [
                ReadingOrder::Rows,
                ReadingOrder::Columns,
                ReadingOrder::ThereAndBack,
            ];
            let now = orders.iter().position(|&order| order == design.reading);
            let step = if more { 1 } else { orders.len() - 1 };
            design.reading = orders[(now.unwrap_or(0) + step) % orders.len()];
        }
        Line::Number(at) => {
            design.fresh = fresh;
            let field = &mut design.blanks[at].field;
            let now: u16 = field.text().trim().parse().unwrap_or(0);
            let then = if more {
                now.saturating_add(1)
            } else {
                now.saturating_sub(1).max(1)
            };
            *field = Field::with(&then.to_string());
        }
        Line::Text(at) => {
            let code = if more { Code::Right } else { Code::Left };
            design.blanks[at].field.press(Key::plain(code));
        }
    }
}

/// Goes on to the hooks, where the measures can be a board that loses nobody's hook.
fn go_to_hooks(app: &mut App, stash: Stash<'_>) {
    let state = stash.state;
    let Mode::Design(design) = &mut app.mode else {
        return;
    };
    let tried = design.drawing().and_then(|drawing| {
        let drawn = board::draw(state, design.board, &drawing, app.now);
        drawn.map_err(|refusal| refused(&refusal))
    });
    match tried {
        Ok(_) => design.on_hooks = true,
        Err(wrong) => design.wrong = Some(wrong),
    }
}

/// A refusal without the words about options that the screen does not have.
fn refused(refusal: &Refusal) -> String {
    match refusal {
        Refusal::StillHanging { who, .. } => format!(
            "No hook would be left for {who}. Hang that elsewhere first, or press x on its hook on \
             the board to put it with the cards to hang.",
            who = text::list(who)
        ),
        Refusal::RingHangsThere { project, hook_name } => {
            format!("The ring '{project}' hangs on {hook_name}. Take it down first (r, then h).")
        }
        Refusal::SharedHookName { hook_name, board } => format!(
            "Hook {hook_name} is on the board '{board}' already. Begin these hooks with another \
             prefix, such as 2-."
        ),
        other => on_screen(other),
    }
}

/// The board is done: asks for it to be recorded, or says what is wrong with it.
fn finish(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Design(design) = &mut app.mode else {
        return Vec::new();
    };
    let drawn = design.drawing().and_then(|drawing| {
        let drawn = board::draw(stash.state, design.board, &drawing, app.now);
        drawn.map_err(|refusal| refused(&refusal))
    });
    match drawn {
        Ok(Some(event)) => commit(app, stash, Ok(event)),
        Ok(None) => {
            app.mode = design.back(stash.state);
            app.say("the board is as it was");
            Vec::new()
        }
        Err(wrong) => {
            design.wrong = Some(wrong);
            Vec::new()
        }
    }
}

fn on_hooks(app: &mut App, state: &State, action: Action) {
    let Mode::Design(design) = &mut app.mode else {
        return;
    };
    let Ok(board) = design.drawn(state) else {
        design.on_hooks = false;
        return;
    };
    let (row, column) = (design.eye.row, design.eye.column);
    let step = |n: u16, by: i16, count: u16| n.saturating_add_signed(by).min(count - 1);
    match action {
        Action::Up => design.eye.row = step(row, -1, board.rows),
        Action::Down => design.eye.row = step(row, 1, board.rows),
        Action::Left => design.eye.column = step(column, -1, board.columns),
        Action::Right => design.eye.column = step(column, 1, board.columns),
        Action::First => design.eye.column = 0,
        Action::Last => design.eye.column = board.columns - 1,
        Action::Reason => design.reason += 1,
        Action::Block => toggle(app, state, &board, &[(row, column)]),
        Action::BlockRow | Action::BlockRest => {
            let from = if action == Action::BlockRow {
                0
            } else {
                column
            };
            let hooks: Vec<_> = (from..board.columns).map(|column| (row, column)).collect();
            toggle(app, state, &board, &hooks);
        }
        Action::BlockColumn => {
            let hooks: Vec<_> = (0..board.rows).map(|row| (row, column)).collect();
            toggle(app, state, &board, &hooks);
        }
        Action::Cancel => {
            design.on_hooks = false;
            design.fresh = true;
        }
        _ => {}
    }
}

/// Makes hooks not usable, or, where all of them are, as usable. Hooks in use stay as they are.
fn toggle(app: &mut App, state: &State, board: &Board, hooks: &[(u16, u16)]) {
    let Mode::Design(design) = &mut app.mode else {
        return;
    };
    let used = design.in_use(state);
    let (kept, open): (Vec<_>, Vec<_>) = hooks.iter().partition(|at| used.contains(at));
    let blocked = !open.is_empty() && open.iter().all(|at| design.blocked.contains_key(at));
    for at in open {
        if blocked {
            design.blocked.remove(&at);
        } else if let Ok(why) = Label::new(design.reason()) {
            design.blocked.entry(at).or_insert(why);
        }
    }
    let wrong = match kept.as_slice() {
        [] => return,
        &[(row, column)] => format!(
            "{board} stays usable: a card or a ring is on it. Hang it elsewhere first, or press \
         x there on the board",
            board = board.hook_name(board.hook(row, column))
        ),
        many => format!(
            "{count} hooks stay usable: cards or rings are on them. Hang those elsewhere first",
            count = many.len()
        ),
    };
    app.complain(wrong);
}

/// Takes a click on the drawing: goes to the hook there and marks it.
pub(super) fn click(app: &mut App, stash: Stash<'_>, column: u16, row: u16) {
    app.notice = None;
    let area = layout::beside(layout::parts(app.size.0, app.size.1).body).0;
    let Mode::Design(design) = &mut app.mode else {
        return;
    };
    let Ok(board) = design.drawn(stash.state) else {
        return;
    };
    let at = design.grid(stash.state, &board, area).at(column, row);
    let Some((row, column)) = at else { return };
    if !design.on_hooks {
        go_to_hooks(app, stash);
    }
    if let Mode::Design(design) = &mut app.mode
        && design.on_hooks
    {
        (design.eye.row, design.eye.column) = (row, column);
        toggle(app, stash.state, &board, &[(row, column)]);
    }
}

/// Keeps the cursor on the drawing and in view.
pub(super) fn settle(app: &mut App, state: &State) {
    let area = layout::beside(layout::parts(app.size.0, app.size.1).body).0;
    if let Mode::Design(design) = &mut app.mode
        && let Ok(board) = design.drawn(state)
    {
        let eye = &mut design.eye;
        eye.row = eye.row.min(board.rows - 1);
        eye.column = eye.column.min(board.columns - 1);
        let grid = design.grid(state, &board, area);
        (design.eye.top, design.eye.left) = (grid.top, grid.left);
    }
}

#[cfg(test)]
mod tests;
