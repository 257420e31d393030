//! A frame over what is on the screen.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::pane::{Pane, clear};
use crate::tui::app::App;

/// A frame in the middle of an area, so many columns wide and with room for so many lines; what is behind steps back.
/// Gives its inside.
pub fn draw(app: &App, title: &str, size: (u16, usize), frame: &mut Frame<'_>, body: Rect) -> Rect {
    let (width, height) = within(size, body);
    let area = Rect::new(
        body.x + (body.width - width) / 2,
        body.y + (body.height - height) / 2,
        width,
        height,
    );
    let buffer = frame.buffer_mut();
    dim(app, body, buffer);
    framed(app, (title, ""), area, buffer)
}

/// A frame at the foot of an area, to its right; what is behind stays as it is. Gives its inside.
pub fn at_foot(
    app: &App,
    title: &str,
    size: (u16, usize),
    frame: &mut Frame<'_>,
    body: Rect,
) -> Rect {
    let (width, height) = within(size, body);
    let area = Rect::new(body.right() - width, body.bottom() - height, width, height);
    framed(app, (title, ""), area, frame.buffer_mut())
}

/// A frame with a counter in the middle of the foot of an area; what is behind stays as it is. Gives its inside.
pub fn over_foot(
    app: &App,
    heading: (&str, &str),
    size: (u16, usize),
    frame: &mut Frame<'_>,
    body: Rect,
) -> Rect {
    let (width, height) = within(size, body);
    let left = body.x + (body.width - width) / 2;
    let area = Rect::new(left, body.bottom() - height, width, height);
    framed(app, heading, area, frame.buffer_mut())
}

/// The columns and rows of a frame so many columns wide and with room for so many lines, as far as there are any.
fn within((width, lines): (u16, usize), body: Rect) -> (u16, u16) {
    let lines = u16::try_from(lines).unwrap_or(u16::MAX).saturating_add(2);
    (width.min(body.width), lines.min(body.height))
}

fn framed(app: &App, (title, counter): (&str, &str), area: Rect, buffer: &mut Buffer) -> Rect {
    clear(area, app.theme.base(), buffer);
    let pane = Pane {
        title,
        counter,
        focus: true,
    };
    pane.draw(&app.theme, area, buffer)
}

/// What is behind steps back.
fn dim(app: &App, area: Rect, buffer: &mut Buffer) {
    let style = app.theme.base().patch(app.theme.line());
    for at in area.intersection(buffer.area).positions() {
        let cell = &mut buffer[at];
        cell.modifier = Modifier::empty();
        // The edges of cards are signs in the colour of the board; without their colours they would stand out. Of
        // narrow letters no scraps are left either.
        if "▐▟▄▔▘▝▖▌▞▛▗▚▜▙".contains(cell.symbol()) {
            cell.set_symbol(" ");
        }
        cell.set_style(style);
    }
}
