//! The roll call: checks the wall against the record, row by row. The row is shown large, and the
//! user marks only differences.

mod home;
mod report;
mod rows;
mod seen;
mod tiles;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use self::report::Report;
use self::rows::{Rows, Seen};
use self::seen::Typing;
use super::card_in_hand::begins;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::command::rollcall;
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
#[cfg(test)]
use crate::tui::field::Field;
use crate::tui::field::LeftOut;
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::refused::on_screen;
use crate::tui::told::told;
use crate::tui::wall::{BoardView, board, walk};
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::fit;

/// The screen.
#[derive(Clone, Debug)]
pub struct RollCall {
    rows: Rows,
    /// The number being typed for another card on a hook.
    typing: Option<Typing>,
    /// Whether it leaves aside the rows that were confirmed before it was opened.
    again: bool,
}

/// What the roll call underway has seen; nothing if it begins again.
fn seen(stash: Stash<'_>, again: bool) -> Seen {
    if again {
        return Seen::new();
    }
    rollcall::underway(stash.history)
}

/// The number of confirmed rows of the roll call underway, and of rows worth checking; `None` if
/// none is underway.
#[must_use]
pub fn underway(stash: Stash<'_>) -> Option<(usize, usize)> {
    let seen = seen(stash, false);
    let is_begun = !seen.is_empty();
    is_begun.then(|| Rows::new(stash.state, 0, seen).progress(stash.state))
}

impl RollCall {
    /// A roll call that starts with the current board and continues the one underway, unless it
    /// begins again; `None` if there is nothing to check.
    #[must_use]
    pub fn of(stash: Stash<'_>, board: usize, again: bool) -> Option<Self> {
        let seen = seen(stash, again);
        let rows = Rows::new(stash.state, board, seen);
        (!rows.is_empty(stash.state)).then_some(Self {
            rows,
            typing: None,
            again,
        })
    }

    /// Moves the cursor to the roll call's hook.
    pub fn follow(&self, app: &mut App, state: &State) {
        if let Some(hook) = self.rows.hook(state) {
            app.look_at(state, hook);
        }
    }

    /// The name of the current row: `Row C`.
    fn row_name(&self, state: &State) -> String {
        let first = self.rows.row().first();
        let board = first.and_then(|hook| Some((state.board(hook.board)?, *hook)));
        board.map_or_else(String::new, |(board, hook)| {
            text::places::run_name(board, hook)
        })
    }

    /// Shows the report of the rows confirmed so far.
    fn show_report(&self, context: &mut Context<'_>) {
        let state = context.stash.state;
        if self.rows.seen.is_empty() {
            context.close();
            let text = "Roll call left. No row was confirmed, and nothing is changed";
            return context.app.say(text);
        }
        match Report::of(state, &self.rows.seen, self.rows.progress(state)) {
            Ok(report) => context.open(report),
            Err(refusal) => context.app.complain(on_screen(&refusal)),
        }
    }

    /// Starts typing the number of another card on the current hook.
    fn begin(&mut self, state: &State, key: Option<Key>) {
        self.typing = self.rows.hook(state).map(|hook| Typing::on(hook, key));
    }

    /// Notes that a card was seen on a hook, where it counts from now on.
    fn see_here(&mut self, app: &mut App, state: &State, hook: HookRef, card: CardId) {
        self.typing = None;
        let before = self.rows.see_here(state, hook, card);
        if let (Some(other), Some(kept)) = (before, state.card(card)) {
            let (name, on) = (state.card_name(kept), state.hook_name(other));
            app.say(format!(
                "{name} was confirmed on {on}. It counts as here now"
            ));
        }
    }

    fn walk(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        match action {
            Action::Accept if self.rows.row().is_empty() => return self.show_report(context),
            Action::Accept => {
                let begins = self.rows.seen.is_empty();
                let event = rollcall::confirm(begins, self.rows.shown(state));
                return context.commit(Ok(event));
            }
            Action::Cancel => return self.show_report(context),
            // The user left the report.
            Action::GiveUp => return context.close(),
            Action::Missing if !self.rows.toggle(state) => {
                let text = "Nothing should hang here. Type the number of what does";
                context.app.say(text);
            }
            Action::Right | Action::Next => self.rows.step(state, true),
            Action::Left => self.rows.step(state, false),
            Action::Down => self.rows.step_row(state, true),
            Action::Up => self.rows.step_row(state, false),
            Action::Previous => match context.stash.history.last_done() {
                Some(past) if !self.again && matches!(past.act, Act::RollCallRow { .. }) => {
                    return context.undo();
                }
                _ => self.rows.back(state),
            },
            Action::Seen => self.begin(state, None),
            _ => {}
        }
        self.follow(context.app, state);
    }
}

impl Screen for RollCall {
    fn scope(&self) -> Scope {
        if self.typing.is_some() {
            Scope::Seen
        } else {
            Scope::RollCall
        }
    }

    fn can(&self, _: &App, stash: Stash<'_>, action: Action) -> bool {
        match action {
            Action::Undo => stash.history.last_done().is_some(),
            Action::Previous => self.rows.progress(stash.state).0 > 0,
            _ => true,
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let Some(typing) = &mut self.typing else {
            return self.walk(context, action);
        };
        match action {
            Action::Cancel => self.typing = None,
            Action::Accept => match typing.chosen(context) {
                Some(card) => {
                    let hook = typing.hook;
                    self.see_here(context.app, context.stash.state, hook, card);
                }
                None if typing.is_empty() => self.typing = None,
                None => {}
            },
            action => typing.step(context.stash.state, action),
        }
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        match &mut self.typing {
            Some(typing) => typing.press(key),
            None if begins(key) => self.begin(context.stash.state, Some(key)),
            None => context.nothing(key),
        }
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        let typing = self.typing.as_mut();
        typing.map_or_else(LeftOut::default, |typing| typing.paste(text))
    }

    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        self.typing.as_ref().map(Typing::field)
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let state = context.stash.state;
        match (act, &self.typing) {
            (Act::RollCall { .. }, _) => return context.close(),
            (Act::RollCallRow { hooks, .. }, _) => {
                self.again = false;
                self.settle(context);
                if !self.rows.go_on(state, hooks) {
                    self.show_report(context);
                }
            }
            (Act::Undo { .. }, _) => {
                self.settle(context);
                match context.stash.history.last_undone().map(|past| &past.act) {
                    Some(Act::RollCallRow { hooks, .. }) => self.rows.return_to(state, hooks),
                    _ => {
                        let words = told(context.stash, act);
                        context.app.say(words);
                    }
                }
            }
            (Act::Redo { .. }, _) => {
                let words = told(context.stash, act);
                context.app.say(words);
            }
            (Act::NewCard { card }, Some(typing)) => {
                let (hook, card) = (typing.hook, *card);
                self.see_here(context.app, state, hook, card);
                if let Some(kept) = state.card(card) {
                    let (name, on) = (state.card_name(kept), state.hook_name(hook));
                    let text = format!("{name} is a new card on {on}");
                    context.app.say(text);
                }
            }
            _ => {}
        }
        self.settle(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.rows.seen = seen(context.stash, self.again);
        self.rows.settle(context.stash.state);
        self.follow(context.app, context.stash.state);
    }

    fn spoken(&self, state: &State) -> Option<String> {
        let hang = self
            .rows
            .tiles(state)
            .iter()
            .filter(|tile| tile.hangs())
            .count();
        let cards = text::cards(u32::try_from(hang).unwrap_or(u32::MAX));
        Some(format!("{}, {cards}", self.row_name(state)))
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let state = stash.state;
        let (done, all) = self.rows.progress(state);
        let tally = self.rows.tally(state);
        let mut words = format!("{done} of {all} rows");
        let differ = [(tally.absent, "not there"), (tally.others, "elsewhere")];
        let differ = differ.iter().filter(|(count, _)| *count > 0);
        let differ = text::list(differ.map(|(count, what)| format!("{count} {what}")));
        if !differ.is_empty() {
            words = format!("{words} · {differ}");
        }
        let name = self.row_name(state);
        let what = ("Roll call", name.as_str());
        Some(walk::title(app, what, (done, all), &words, width))
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let tiles = self.rows.tiles(state);
        let hang = tiles.iter().filter(|tile| tile.hangs()).count();
        let counter = match hang {
            0 => "nothing hangs here".to_owned(),
            n => format!("{} here", text::cards(u32::try_from(n).unwrap_or(u32::MAX))),
        };
        let name = self.row_name(state);
        let pane = Pane {
            title: &name,
            counter: &counter,
            focus: true,
        };
        let inside = pane.draw(&app.theme, body, frame.buffer_mut());
        // The status line shows the keys, too.
        let hint = if body.height >= 30 { 1 } else { 0 };
        let (above, foot) = pane::with_foot(inside, hint);
        let shown = (tiles.as_slice(), self.rows.pick());
        let used = tiles::draw(app, state, shown, above, frame.buffer_mut());
        let (_, rest) = pane::with_foot(above, above.height.saturating_sub(used + 1));
        self.wall(app, state, frame, rest);
        let hint = "Enter: this row is as shown. m: the card isn't here. Type the number of another card that hangs here.";
        let line = Line::styled(fit(hint, foot.width.into()), app.theme.faint());
        frame.render_widget(line, foot);
        if let Some(typing) = &self.typing {
            typing.view(app, state, frame, body);
        }
    }
}

impl RollCall {
    /// The wall with the current hook, if all of it fits in the space left.
    fn wall(&self, app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
        let Some(board) = app.board(state) else {
            return;
        };
        let grid = layout::whole(state, board, &app.eye, area);
        if grid.rows < board.rows || grid.columns < board.columns || area.height < 4 {
            return;
        }
        let look = BoardView::lit(app, state, self.rows.hook(state), None);
        board::draw(app, state, &look, &grid, frame);
    }
}

#[cfg(test)]
mod tests;
