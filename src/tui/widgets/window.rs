//! Windows: frames over the screen.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;

use super::pane::{Pane, clear};
use crate::tui::theme::Theme;

/// Draws a frame of this width in the middle of an area, with space for this many lines, and dims
/// the rest. Returns its inside.
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

/// Draws a frame at the lower right of an area, without dimming. Returns its inside.
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

/// Draws a frame with a counter at the bottom centre of an area, without dimming. Returns its
/// inside.
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

/// The size of a frame with this width and space for this many lines, limited to the area.
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

/// Dims the area behind a window.
fn dim(theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let style = theme.base().patch(theme.line());
    for at in area.intersection(buffer.area).positions() {
        let cell = &mut buffer[at];
        cell.modifier = Modifier::empty();
        // Card edges are signs in the colour of the board, and would stand out without their
        // colours. Parts of narrow letters would leave scraps.
        if "▐▟▄▔▘▝▖▌▞▛▗▚▜▙".contains(cell.symbol()) {
            cell.set_symbol(" ");
        }
        cell.set_style(style);
    }
}
