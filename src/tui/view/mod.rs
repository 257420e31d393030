//! Drawing: from the interface and the stash to a frame, and nothing else.

mod bars;
mod board;
mod buy;
mod corner;
mod design;
mod families;
mod hang;
mod lists;
mod log;
#[cfg(test)]
mod looks_tests;
pub(super) mod matching;
mod panel;
mod popup;
mod project;
mod regions;
mod rehang;
mod rollcall;
#[cfg(test)]
mod screens_tests;
#[cfg(test)]
mod tests;
mod text;
mod walks;
mod welcome;

pub use text::{day_and_time, shown};
pub use welcome::step_at;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Block, Borders, Paragraph};

use super::app::{App, Mode, Page, Stash};
use super::layout;

/// Draws a frame.
pub fn view(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>) {
    let area = frame.area();
    let parts = layout::parts(area.width, area.height);
    let body = body(area.width, area.height);
    bars::title(app, stash.state, frame, parts.title);
    match app.mode.page() {
        Some(Page::Project(page)) => project::page(app, stash.state, page, frame, body),
        Some(Page::Buy(buy)) => buy::page(app, stash.state, buy, frame, body),
        Some(Page::Log(log)) => log::page(app, log, frame, body),
        Some(Page::Families(page)) => families::page(app, stash.state, page, frame, body),
        Some(Page::Welcome(page)) => welcome::page(app, stash.state, page, frame, body),
        Some(Page::Design(design)) => design::page(app, stash.state, design, frame, parts),
        Some(Page::Matching(matching)) => matching::page(app, matching, frame, body),
        None => {
            board::draw(app, stash.state, frame, parts.grid);
            side(app, stash, frame, parts.panel);
        }
    }
    let (notice, keys) = bars::below(app, parts);
    bars::notice(app, stash, frame, notice);
    bars::footer(app, frame, keys);
    match &app.mode {
        Mode::Form(form) => popup::form(app, form, frame, body),
        Mode::Intake(intake) => popup::intake(app, intake, frame, body),
        Mode::Help(help) => popup::help(app, help, frame, body),
        Mode::Actions(pick) => popup::actions(app, pick, frame, body),
        Mode::Confirm { question, .. } => popup::confirm(app, question, frame, body),
        _ => {}
    }
}

/// What lies between the lines above and those below, on a screen of a size.
fn body(width: u16, height: u16) -> Rect {
    let parts = layout::parts(width, height);
    let (top, end) = (parts.grid.y, parts.notice.y);
    Rect::new(0, top, width, end.saturating_sub(top))
}

/// An area without its first and its last column.
fn inset(area: Rect) -> Rect {
    Rect::new(
        area.x + 1.min(area.width),
        area.y,
        area.width.saturating_sub(2),
        area.height,
    )
}

/// The panel beside the board.
fn side(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, area: Rect) {
    if area.height < 3 || area.width < 8 {
        return;
    }
    let state = stash.state;
    let inside = Rect::new(area.x + 2, area.y + 1, area.width - 3, area.height - 1);
    let width = usize::from(inside.width);
    let height = usize::from(inside.height);
    let (title, lines): (String, Vec<Line<'_>>) = match &app.mode {
        Mode::Find(find) => ("Find".into(), lists::find(app, state, find, width, height)),
        Mode::Rings(at) => ("Rings".into(), lists::rings(app, state, *at, width, height)),
        Mode::Away(at) => (
            "Not at home".into(),
            lists::away(app, state, *at, width, height),
        ),
        Mode::Hang(card) => ("Hang elsewhere".into(), hang::draw(app, state, card, width)),
        Mode::PutAway(walk) => (
            "Put away".into(),
            walks::put_away(app, state, walk, width, height),
        ),
        Mode::Pull(pull) => ("Fetch".into(), walks::pull(app, state, pull, width, height)),
        Mode::Planning(count) => (
            rehang::title(state).into(),
            rehang::planning(app, *count, width),
        ),
        Mode::Plans(plans) => (
            rehang::title(state).into(),
            rehang::plans(app, state, plans, width, height),
        ),
        Mode::Work(work) => (
            rehang::title(state).into(),
            rehang::work(app, state, work, width, height),
        ),
        Mode::RollCall(call) => (
            "Roll call".into(),
            rollcall::draw(app, state, call, width, height),
        ),
        _ => (panel::title(app, state), panel::card(app, state, width)),
    };
    let rule = Block::new()
        .borders(Borders::LEFT)
        .border_style(app.theme.faint());
    frame.render_widget(rule, area);
    let head = Rect::new(area.x + 1, area.y, area.width - 1, 1);
    let title = text::fit(&format!(" {title} "), usize::from(head.width));
    frame.render_widget(Line::styled(title, app.theme.strong()), head);
    let used = lines.len();
    frame.render_widget(Paragraph::new(lines), inside);
    corner::draw(app, state, frame.buffer_mut(), inside, used);
}
