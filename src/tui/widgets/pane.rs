//! A framed part of the screen, with a title and a counter.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use unicode_width::UnicodeWidthStr;

use super::text::{fit, put};
use crate::tui::theme::Theme;

/// A frame with rounded corners.
#[derive(Clone, Copy, Debug)]
pub struct Pane<'a> {
    /// Its title, at the left of the upper edge.
    pub title: &'a str,
    /// A count or position, at the right of the upper edge; may be empty.
    pub counter: &'a str,
    /// Whether it has the keyboard focus.
    pub focus: bool,
}

impl Pane<'_> {
    /// Draws the frame over the buffer and returns its inside, with a blank column at each side. In
    /// an area too small for a frame, the inside is all there is.
    pub fn draw(&self, theme: &Theme, area: Rect, buffer: &mut Buffer) -> Rect {
        buffer.set_style(area, theme.base());
        if area.height < 3 || area.width < 12 {
            return area;
        }
        let edge = if self.focus {
            theme.accent()
        } else {
            theme.line()
        };
        let (left, right) = (area.x, area.right() - 1);
        let (top, bottom) = (area.y, area.bottom() - 1);
        let across = "─".repeat(usize::from(area.width - 2));
        put(buffer, (left, top), format!("╭{across}╮"), edge);
        put(buffer, (left, bottom), format!("╰{across}╯"), edge);
        for y in top + 1..bottom {
            put(buffer, (left, y), "│", edge);
            put(buffer, (right, y), "│", edge);
        }
        let room = usize::from(area.width - 4);
        // A short title leaves more space.
        let beside = room.saturating_sub(self.title.width() + 4);
        let counter = fit(self.counter, beside.max(room / 2));
        let used = if counter.is_empty() {
            0
        } else {
            counter.width() + 3
        };
        let title = fit(self.title, room.saturating_sub(used + 1));
        let title_style = if self.focus {
            theme.accent()
        } else {
            theme.strong()
        };
        if !title.is_empty() {
            put(buffer, (left + 1, top), format!(" {title} "), title_style);
        }
        if !counter.is_empty() {
            let at = right.saturating_sub(u16::try_from(counter.width()).unwrap_or(0) + 2);
            put(buffer, (at, top), format!(" {counter} "), theme.muted());
        }
        Rect::new(left + 2, top + 1, area.width - 4, area.height - 2)
    }
}

/// Blanks an area.
pub fn clear(area: Rect, style: Style, buffer: &mut Buffer) {
    for at in area.intersection(buffer.area).positions() {
        buffer[at].reset();
        buffer[at].set_style(style);
    }
}

/// An area without its first and its last column.
pub fn inset(area: Rect) -> Rect {
    Rect::new(
        area.x + 1.min(area.width),
        area.y,
        area.width.saturating_sub(2),
        area.height,
    )
}

/// Splits off the last columns of an area: the rest, and those columns.
#[must_use]
pub fn with_right(area: Rect, columns: u16) -> (Rect, Rect) {
    let columns = columns.min(area.width);
    let left = Rect {
        width: area.width - columns,
        ..area
    };
    let right = Rect {
        x: left.right(),
        width: columns,
        ..area
    };
    (left, right)
}

/// Splits off the last rows of an area: the rest, and those rows.
#[must_use]
pub fn with_foot(area: Rect, rows: u16) -> (Rect, Rect) {
    let rows = rows.min(area.height);
    let upper = Rect {
        height: area.height - rows,
        ..area
    };
    let foot = Rect {
        y: upper.bottom(),
        height: rows,
        ..area
    };
    (upper, foot)
}
