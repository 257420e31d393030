//! Drawing: turns the interface and the stash into a frame, without side effects.

mod bars;
#[cfg(test)]
mod looks_tests;
#[cfg(test)]
mod screens_tests;
#[cfg(test)]
mod tests;

pub use crate::tui::widgets::text::{day_and_time, shown};

use ratatui::Frame;
use ratatui::layout::Rect;

use super::app::screen::Extent;
use super::app::{App, Stash};
use super::layout;
use super::theme::Signs;
use super::wall::{BoardView, board, panel};
use super::widgets::ascii;

/// Draws a frame.
pub fn view(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>) {
    let area = frame.area();
    let parts = layout::parts(area.width, area.height);
    let body = parts.body;
    frame.buffer_mut().set_style(area, app.theme.base());
    // The topmost screen that isn't a window, and the windows over it.
    let covers = app
        .stack
        .iter()
        .rposition(|screen| screen.extent() != Extent::Window);
    match covers.and_then(|at| app.stack[at].title(app, stash, parts.title.width)) {
        Some(title) => frame.render_widget(title, parts.title),
        None => bars::title(app, stash.state, frame, parts.title),
    }
    if covers.is_none() {
        wall(app, stash, frame, body);
    }
    for screen in &app.stack[covers.unwrap_or(0)..] {
        match screen.extent() {
            Extent::Beside | Extent::InPane => {
                let pane = wall_beside(app, stash, frame, body);
                if pane.height >= 3 && pane.width >= 12 {
                    screen.view(app, stash, frame, pane);
                }
            }
            Extent::Whole | Extent::Window => screen.view(app, stash, frame, body),
        }
    }
    bars::status(app, stash, frame, parts.status);
    bars::toast(app, stash, frame.buffer_mut(), body);
    if app.theme.signs == Signs::Ascii {
        ascii::rewrite(frame.buffer_mut());
    }
}

/// Draws the board, and returns the area beside it.
fn wall_beside(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) -> Rect {
    let Some(arrangement) = layout::board(app, stash.state, body) else {
        let (area, pane) = layout::beside(body);
        board::no_board(app, frame, area);
        return pane;
    };
    let look = BoardView::new(app, stash.state);
    board::draw(app, stash.state, &look, &arrangement.grid, frame);
    arrangement.panes.first().copied().unwrap_or_default()
}

/// Draws the board with its panes.
fn wall(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
    let Some(arrangement) = layout::board(app, stash.state, body) else {
        return board::no_board(app, frame, body);
    };
    let look = BoardView::new(app, stash.state);
    board::draw(app, stash.state, &look, &arrangement.grid, frame);
    panel::panes(app, stash, &arrangement.grid, &arrangement.panes, frame);
}
