//! The first steps: which are done, and which is next.

mod view;

use ratatui::Frame;
use ratatui::layout::Rect;

use super::board_editor::BoardEditor;
use super::card_form::NewCard;
use super::import_list::{ImportList, ImportRange};
use super::rehang;
use super::start::Start;
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::Effect;
use crate::tui::told::told;
use crate::tui::widgets::list::stepped;

/// A step to choose on the page.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Step {
    /// Import a list of what is owned.
    List,
    /// Enter one card by hand.
    Card,
    /// Import a range list, with its colours.
    Range,
    /// Create the board.
    Board,
    /// Hang the cards without a hook.
    Hang,
    /// Open the demo stash.
    Demo,
    /// Go to the board.
    BoardView,
}

impl Step {
    /// Every step, in order.
    pub const ALL: [Self; 7] = [
        Self::List,
        Self::Card,
        Self::Range,
        Self::Board,
        Self::Hang,
        Self::Demo,
        Self::BoardView,
    ];
}

/// The page of the first steps.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Welcome {
    /// Index of the selected step in [`Step::ALL`].
    at: usize,
}

/// The progress of the first steps.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Progress {
    /// The number of boards.
    pub boards: usize,
    /// The number of cards.
    pub cards: usize,
    /// The number of cards to hang.
    pub to_hang: usize,
    /// The number of cards without a colour.
    pub colourless: usize,
}

impl Progress {
    /// The progress in the stash. O(cards).
    #[must_use]
    pub fn of(state: &State) -> Self {
        Self {
            boards: state.boards().len(),
            cards: state.cards().len(),
            to_hang: Counts::of(state).to_hang,
            colourless: state
                .cards()
                .filter(|kept| kept.card.colour.is_none())
                .count(),
        }
    }

    /// Whether nothing hangs yet, so that the page is useful.
    #[must_use]
    pub const fn is_beginning(self) -> bool {
        self.boards == 0 || self.cards == self.to_hang
    }

    /// Whether a step is done.
    #[must_use]
    pub const fn has(self, step: Step) -> bool {
        match step {
            Step::Board => self.boards > 0,
            Step::List => self.cards > 0,
            Step::Hang => self.cards > 0 && self.to_hang == 0,
            Step::Card | Step::Range | Step::Demo | Step::BoardView => false,
        }
    }

    /// The next step.
    #[must_use]
    pub fn next(self) -> Step {
        let steps = [Step::List, Step::Board, Step::Hang];
        let open = steps.into_iter().find(|&step| !self.has(step));
        open.unwrap_or(Step::BoardView)
    }
}

impl Welcome {
    /// The page, with the next step selected.
    #[must_use]
    pub fn new(state: &State) -> Self {
        let next = Progress::of(state).next();
        let at = Step::ALL.iter().position(|&step| step == next);
        Self {
            at: at.unwrap_or(0),
        }
    }

    /// The selected step.
    #[must_use]
    fn step(self) -> Step {
        Step::ALL.get(self.at).copied().unwrap_or(Step::BoardView)
    }
}

/// Shows the first steps if nothing hangs yet, or else any pending work.
pub fn greet(app: &mut App, stash: Stash<'_>) {
    if Progress::of(stash.state).is_beginning() {
        app.open(Welcome::new(stash.state));
    } else if let Some(start) = Start::of(app, stash) {
        app.open(start);
    }
}

fn show_demo(context: &mut Context<'_>) {
    if context.app.demo {
        let words = "This is the invented stash already. q leaves it.";
        return context.app.complain(words);
    }
    context.ask(Effect::Demo);
}

impl Welcome {
    /// Performs the selected step.
    fn take(self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let progress = Progress::of(state);
        match self.step() {
            Step::Board => {
                let editor = BoardEditor::of_board(context.app, state);
                context.open(editor);
            }
            Step::List => context.open(ImportList::form(state)),
            Step::Range => context.open(ImportRange::form(state)),
            Step::Card => context.open(NewCard::form(state, "")),
            Step::Hang if progress.cards == 0 => {
                context
                    .app
                    .complain("There is no card to hang yet. Import your cards first.");
            }
            Step::Hang if progress.boards == 0 => {
                context
                    .app
                    .complain("There is no board yet to hang cards on. Put it up first.");
            }
            Step::Hang => rehang::open(context),
            Step::Demo => show_demo(context),
            Step::BoardView => context.close(),
        }
    }
}

impl Screen for Welcome {
    fn scope(&self) -> Scope {
        Scope::Welcome
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        self.at = stepped(self.at, Step::ALL.len(), action);
        match action {
            Action::Accept => self.take(context),
            Action::Demo => show_demo(context),
            Action::Cancel => context.close(),
            Action::Quit => context.ask(Effect::Quit),
            // The list was imported from here.
            Action::Rehang => {
                context.close();
                rehang::open(context);
            }
            _ => {}
        }
    }

    /// Performs the clicked step.
    fn clicked(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let state = context.stash.state;
        if let Some(at) = view::step_at(context.app, state, *self, column, row) {
            context.app.notice = None;
            self.at = at;
            self.take(context);
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        *self = Self::new(context.stash.state);
        // The cards of the list already hang.
        if matches!(act, Act::ImportCards { .. }) && self.step() == Step::BoardView {
            context.close();
        }
        if context.app.notice.is_none() {
            let words = told(context.stash, act);
            context.app.say(words);
        }
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        view::page(app, stash.state, *self, frame, body);
    }
}

#[cfg(test)]
mod tests;
