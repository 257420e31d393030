//! Editing a board: its measures first, then its blocked hooks, beside a preview of the wall.

mod plan;
#[cfg(test)]
mod tests;
mod view;

use std::collections::BTreeMap;

use ratatui::Frame;
use ratatui::layout::Rect;

use self::plan::{Line, Plan};
use crate::model::board::{Board, ReadingOrder};
use crate::model::label::Label;
use crate::stash::command::board;
use crate::stash::command::rehang::to_hang;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
#[cfg(test)]
use crate::tui::app::derived::proposed;
use crate::tui::app::derived::{Cards, filling};
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::{Code, Key};
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::refused::on_screen;

/// The screen.
#[derive(Clone, Debug)]
pub struct BoardEditor {
    plan: Plan,
    /// The cards by row and column, where they hang or would hang.
    cards: Cards,
    /// The number of cards to hang.
    waiting: usize,
}

impl BoardEditor {
    /// A new board.
    #[must_use]
    pub fn new_board(state: &State) -> Self {
        Self::of(state, Plan::new_board(state))
    }

    /// The current board, or a new one if there is none.
    #[must_use]
    pub fn of_board(app: &App, state: &State) -> Self {
        let board = app.board(state);
        let plan = board.map_or_else(|| Plan::new_board(state), Plan::of);
        Self::of(state, plan)
    }

    fn of(state: &State, plan: Plan) -> Self {
        let mut editor = Self {
            plan,
            cards: BTreeMap::new(),
            waiting: 0,
        };
        editor.fill(state);
        editor
    }

    /// Works out the card on each hook: the board's own cards, or the cards to hang if the board is
    /// new.
    fn fill(&mut self, state: &State) {
        self.cards.clear();
        self.waiting = to_hang(state).count();
        let Ok(board) = self.plan.drawn(state) else {
            return;
        };
        match self.plan.board {
            Some(id) => {
                let homes = state.cards().filter_map(|kept| Some((kept.home?, kept)));
                let here = homes.filter(|(home, _)| home.board == id);
                self.cards
                    .extend(here.map(|(home, kept)| ((home.row, home.column), kept.card.id)));
            }
            None => {
                let blocked = &self.plan.blocked;
                let filled = filling(state, &board, |at| blocked.contains_key(&at));
                let filled = filled.into_iter().map(|(at, kept)| (at, kept.card.id));
                self.cards.extend(filled);
            }
        }
    }

    /// Edits the current line, replacing its default text.
    fn write<T>(&mut self, change: impl FnOnce(&mut Field) -> T) -> Option<T> {
        let plan = &mut self.plan;
        let fresh = std::mem::take(&mut plan.fresh);
        plan.wrong = None;
        let blank = plan.blanks.get_mut(plan.at)?;
        if fresh {
            blank.field = Field::default();
        }
        Some(change(&mut blank.field))
    }

    fn on_measures(&mut self, context: &mut Context<'_>, action: Action) {
        let plan = &mut self.plan;
        let last = plan.blanks.len();
        match action {
            Action::Accept if plan.at == last => self.go_to_hooks(context),
            Action::Accept | Action::Next | Action::Previous => {
                plan.fresh = true;
                plan.at = match action {
                    Action::Previous => plan.at.checked_sub(1).unwrap_or(last),
                    _ if plan.at == last => 0,
                    _ => plan.at + 1,
                };
            }
            Action::More | Action::Less => turn(plan, action == Action::More),
            Action::Cancel => context.close(),
            _ => {}
        }
    }

    /// Goes on to the hooks if the measures make a valid board that keeps every hook in use.
    fn go_to_hooks(&mut self, context: &mut Context<'_>) {
        let plan = &mut self.plan;
        let tried = plan.drawing().and_then(|drawing| {
            let state = context.stash.state;
            let drawn = board::draw(state, plan.board, &drawing, context.app.now);
            drawn.map_err(|refusal| refused(&refusal))
        });
        match tried {
            Ok(_) => plan.on_hooks = true,
            Err(wrong) => plan.wrong = Some(wrong),
        }
    }

    /// Requests that the finished board be recorded, or shows what is wrong with it.
    fn finish(&mut self, context: &mut Context<'_>) {
        let plan = &mut self.plan;
        let drawn = plan.drawing().and_then(|drawing| {
            let state = context.stash.state;
            let drawn = board::draw(state, plan.board, &drawing, context.app.now);
            drawn.map_err(|refusal| refused(&refusal))
        });
        match drawn {
            Ok(Some(event)) => context.commit(Ok(event)),
            Ok(None) => {
                context.close();
                context.app.say("The board is as it was.");
            }
            Err(wrong) => plan.wrong = Some(wrong),
        }
    }

    fn on_hooks(&mut self, context: &mut Context<'_>, action: Action) {
        let plan = &mut self.plan;
        let Ok(board) = plan.drawn(context.stash.state) else {
            plan.on_hooks = false;
            return;
        };
        let (row, column) = (plan.eye.row, plan.eye.column);
        let step = |n: u16, by: i16, count: u16| n.saturating_add_signed(by).min(count - 1);
        match action {
            Action::Accept => self.finish(context),
            Action::Up => plan.eye.row = step(row, -1, board.rows),
            Action::Down => plan.eye.row = step(row, 1, board.rows),
            Action::Left => plan.eye.column = step(column, -1, board.columns),
            Action::Right => plan.eye.column = step(column, 1, board.columns),
            Action::First => plan.eye.column = 0,
            Action::Last => plan.eye.column = board.columns - 1,
            Action::Reason => plan.reason += 1,
            Action::Block => self.toggle(context, &board, &[(row, column)]),
            Action::BlockRow | Action::BlockRest => {
                let from = match action {
                    Action::BlockRow => 0,
                    _ => column,
                };
                let hooks: Vec<_> = (from..board.columns).map(|column| (row, column)).collect();
                self.toggle(context, &board, &hooks);
            }
            Action::BlockColumn => {
                let hooks: Vec<_> = (0..board.rows).map(|row| (row, column)).collect();
                self.toggle(context, &board, &hooks);
            }
            Action::Cancel => {
                plan.on_hooks = false;
                plan.fresh = true;
            }
            _ => {}
        }
    }

    /// Blocks hooks, or unblocks them if all are blocked. Hooks in use stay as they are.
    fn toggle(&mut self, context: &mut Context<'_>, board: &Board, hooks: &[(u16, u16)]) {
        let plan = &mut self.plan;
        let used = plan.in_use(context.stash.state);
        let (kept, open): (Vec<_>, Vec<_>) = hooks.iter().partition(|at| used.contains(at));
        let blocked = !open.is_empty() && open.iter().all(|at| plan.blocked.contains_key(at));
        for at in open {
            if blocked {
                plan.blocked.remove(&at);
            } else if let Ok(why) = Label::new(plan.reason()) {
                plan.blocked.entry(at).or_insert(why);
            }
        }
        let wrong = match kept.as_slice() {
            [] => return,
            &[(row, column)] => format!(
                "{hook} can't be blocked: a card or a ring is on it. Hang it elsewhere first, or press x there on \
                 the board.",
                hook = board.hook_name(board.hook(row, column))
            ),
            many => format!(
                "{count} hooks can't be blocked: cards or rings are on them. Hang those elsewhere first.",
                count = many.len()
            ),
        };
        context.app.complain(wrong);
    }

    /// Keeps the cursor on the board and in view, and updates the cards on their hooks.
    fn follow(&mut self, app: &App, state: &State) {
        self.fill(state);
        let area = layout::beside(layout::parts(app.size.0, app.size.1).body).0;
        if let Ok(board) = self.plan.drawn(state) {
            let eye = &mut self.plan.eye;
            eye.row = eye.row.min(board.rows - 1);
            eye.column = eye.column.min(board.columns - 1);
            let grid = self.plan.grid(state, &board, area);
            (self.plan.eye.top, self.plan.eye.left) = (grid.top, grid.left);
        }
    }
}

/// Increases or decreases the current line. In a text line it moves the cursor.
fn turn(plan: &mut Plan, more: bool) {
    let fresh = std::mem::replace(&mut plan.fresh, false);
    match plan.line() {
        Line::Order => {
            let orders = [
                ReadingOrder::Rows,
                ReadingOrder::Columns,
                ReadingOrder::ThereAndBack,
            ];
            let now = orders.iter().position(|&order| order == plan.reading);
            let step = if more { 1 } else { orders.len() - 1 };
            plan.reading = orders[(now.unwrap_or(0) + step) % orders.len()];
        }
        Line::Number(at) => {
            plan.fresh = fresh;
            let field = &mut plan.blanks[at].field;
            let now: u16 = field.text().trim().parse().unwrap_or(0);
            let then = match more {
                true => now.saturating_add(1),
                false => now.saturating_sub(1).max(1),
            };
            *field = Field::with(&then.to_string());
        }
        Line::Text(at) => {
            let code = if more { Code::Right } else { Code::Left };
            plan.blanks[at].field.press(Key::plain(code));
        }
    }
}

/// A refusal that names the keys of this screen.
fn refused(refusal: &Refusal) -> String {
    match refusal {
        Refusal::StillHanging { who, .. } => format!(
            "No hook would be left for {who}. Hang that elsewhere first, or press x on its hook on the board to put \
             it with the cards to hang.",
            who = text::list(who)
        ),
        Refusal::RingHangsThere { project, hook_name } => {
            format!("The ring '{project}' hangs on {hook_name}. Take it down first (r, then h).")
        }
        Refusal::SharedHookName { hook_name, board } => format!(
            "Hook {hook_name} is on the board '{board}' already. Begin these hooks with another prefix, such as 2-."
        ),
        other => on_screen(other),
    }
}

impl Screen for BoardEditor {
    fn scope(&self) -> Scope {
        self.plan.scope()
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        self.plan.wrong = None;
        match action {
            Action::Save => self.finish(context),
            action if self.plan.on_hooks => self.on_hooks(context, action),
            action => self.on_measures(context, action),
        }
        self.follow(context.app, context.stash.state);
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        if self.plan.on_hooks {
            return;
        }
        // A letter in a number is a typing slip.
        if let (Line::Number(_), Code::Char(c)) = (self.plan.line(), key.code)
            && !key.ctrl
            && !c.is_ascii_digit()
        {
            return;
        }
        self.write(|field| {
            field.press(key);
        });
        self.follow(context.app, context.stash.state);
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        if self.plan.on_hooks {
            return LeftOut::default();
        }
        self.write(|field| field.insert(text)).unwrap_or_default()
    }

    /// Moves to the clicked hook and blocks or unblocks it.
    fn clicked(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let (width, height) = context.app.size;
        let area = layout::beside(layout::parts(width, height).body).0;
        let state = context.stash.state;
        let Ok(board) = self.plan.drawn(state) else {
            return;
        };
        let Some((row, column)) = self.plan.grid(state, &board, area).at(column, row) else {
            return;
        };
        if !self.plan.on_hooks {
            self.go_to_hooks(context);
        }
        if self.plan.on_hooks {
            (self.plan.eye.row, self.plan.eye.column) = (row, column);
            self.toggle(context, &board, &[(row, column)]);
        }
        self.follow(context.app, state);
    }

    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        let plan = &self.plan;
        let blank = plan.blanks.get(plan.at).filter(|_| !plan.on_hooks);
        blank.map(|blank| &blank.field)
    }

    #[cfg(test)]
    fn wrong(&self) -> Option<String> {
        self.plan.wrong.clone()
    }

    /// The board is recorded. Shows what waits to be hung, unless this editor opened from another
    /// screen.
    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let state = context.stash.state;
        match *act {
            Act::NewBoard { board } => {
                let at = state.boards().position(|up| up.id == board);
                context.app.eye.board = at.unwrap_or(context.app.eye.board);
            }
            Act::Undo { .. } | Act::Redo { .. } => return self.settle(context),
            _ => {}
        }
        context.close();
        let waiting = to_hang(state).count();
        if waiting > 0 && context.app.stack.is_empty() {
            context.app.say(format!(
                "The board is there. Press g to hang what waits: {waiting}"
            ));
        }
    }

    fn failed(&mut self, _: &mut Context<'_>, wrong: String) {
        self.plan.wrong = Some(wrong);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        if self.plan.board.is_some_and(|id| state.board(id).is_none()) {
            context.close();
        }
        self.follow(context.app, state);
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        view::editor(app, stash.state, self, frame, body);
    }
}
