//! A frame over what is on the screen.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::pane::{Pane, clear};
use crate::tui::theme::Theme;

/// A frame in the middle of an area, so many columns wide and with room for so many lines; what is behind steps back.
/// Gives its inside.
pub fn draw(
    theme: &Theme,
    title: &str,
    size: (u16, usize),
    frame: &mut Frame<'_>,
    body: Rect,
) -> Rect {
    let (width, height) = within(size, body);
    let area = Rect::new(
        body.x + (body.width - width) / 2,
        body.y + (body.height - height) / 2,
        width,
        height,
    );
    let buffer = frame.buffer_mut();
    dim(theme, body, buffer);
    framed(theme, (title, ""), area, buffer)
}

/// A frame at the foot of an area, to its right; what is behind stays as it is. Gives its inside.
pub fn at_foot(
    theme: &Theme,
    title: &str,
    size: (u16, usize),
    frame: &mut Frame<'_>,
    body: Rect,
) -> Rect {
    let (width, height) = within(size, body);
    let area = Rect::new(body.right() - width, body.bottom() - height, width, height);
    framed(theme, (title, ""), area, frame.buffer_mut())
}

/// A frame with a counter in the middle of the foot of an area; what is behind stays as it is. Gives its inside.
pub fn over_foot(
    theme: &Theme,
    heading: (&str, &str),
    size: (u16, usize),
    frame: &mut Frame<'_>,
    body: Rect,
) -> Rect {
    let (width, height) = within(size, body);
    let left = body.x + (body.width - width) / 2;
    let area = Rect::new(left, body.bottom() - height, width, height);
    framed(theme, heading, area, frame.buffer_mut())
}

/// The columns and rows of a frame so many columns wide and with room for so many lines, as far as there are any.
fn within((width, lines): (u16, usize), body: Rect) -> (u16, u16) {
    let lines = u16::try_from(lines).unwrap_or(u16::MAX).saturating_add(2);
    (width.min(body.width), lines.min(body.height))
}

fn framed(theme: &Theme, (title, counter): (&str, &str), area: Rect, buffer: &mut Buffer) -> Rect {
    clear(area, theme.base(), buffer);
    let pane = Pane {
        title,
        counter,
        focus: true,
    };
    pane.draw(theme, area, buffer)
}

/// What is behind steps back.
fn dim(theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let style = theme.base().patch(theme.line());
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
