//! Keys on the page of the first steps.

use super::stepped;
use crate::tui::app::welcome::{Progress, Step, Welcome};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::screen::beneath;
use crate::tui::screens::board_editor::BoardEditor;
use crate::tui::screens::card_form::NewCard;
use crate::tui::screens::import_list::ImportList;
use crate::tui::screens::rehang;
use crate::tui::screens::start::Start;
use crate::tui::view::step_at;

/// Shows the first steps where nothing hangs yet, else what waits, if anything does.
pub(in crate::tui) fn greet(app: &mut App, stash: Stash<'_>) {
    if Progress::of(stash.state).is_beginning() {
        open(app, stash);
    } else if let Some(start) = Start::of(app, stash.state) {
        app.open(start);
    }
}

/// Shows the first steps.
pub(super) fn open(app: &mut App, stash: Stash<'_>) {
    app.mode = Mode::Welcome(Welcome::new(stash.state));
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Welcome(page) = &mut app.mode else {
        return Vec::new();
    };
    page.at = stepped(page.at, Step::ALL.len(), action);
    let page = *page;
    match action {
        Action::Accept => return take(app, stash, page),
        Action::Demo => return take_demo(app),
        Action::Cancel => app.mode = Mode::Board,
        Action::Quit => return vec![Effect::Quit],
        // The list was imported from here.
        Action::Rehang => {
            app.mode = Mode::Board;
            return beneath(app, stash, rehang::open);
        }
        _ => {}
    }
    Vec::new()
}

/// Does the step that is clicked on.
pub(super) fn click(
    app: &mut App,
    stash: Stash<'_>,
    page: Welcome,
    (column, row): (u16, u16),
) -> Vec<Effect> {
    let Some(at) = step_at(app, stash.state, page, column, row) else {
        return Vec::new();
    };
    app.notice = None;
    let page = Welcome { at };
    app.mode = Mode::Welcome(page);
    take(app, stash, page)
}

fn take_demo(app: &mut App) -> Vec<Effect> {
    if app.demo {
        app.complain("This is the invented stash already. q leaves it.");
        return Vec::new();
    }
    vec![Effect::Demo]
}

/// Does the step that is chosen.
fn take(app: &mut App, stash: Stash<'_>, page: Welcome) -> Vec<Effect> {
    let state = stash.state;
    let progress = Progress::of(state);
    match page.step() {
        Step::Board => {
            let editor = BoardEditor::of_board(app, state);
            app.open(editor);
        }
        Step::List => app.open(ImportList::form(state)),
        Step::Card => app.open(NewCard::form(state, "")),
        Step::Hang if progress.boards == 0 || progress.cards == 0 => {
            app.complain(
                "There is nothing to hang yet. Import your cards first, then put up the board.",
            );
        }
        Step::Hang => return beneath(app, stash, rehang::open),
        Step::Demo => return take_demo(app),
        Step::BoardView => app.mode = Mode::Board,
    }
    Vec::new()
}

#[cfg(test)]
mod tests;
