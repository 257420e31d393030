//! Lists longer than their space: the entries in view, a scrollbar, and `5 of 20`.

use crate::tui::keymap::Action;
use std::ops::Range;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Scrollbar, ScrollbarOrientation, ScrollbarState, StatefulWidget, Widget};

use super::pane::{with_foot, with_right};
use crate::tui::theme::Theme;

/// The entries in view, including the selected one.
#[must_use]
pub fn in_view(at: usize, count: usize, height: usize) -> Range<usize> {
    let height = height.max(1);
    let first = at
        .saturating_sub(height / 2)
        .min(count.saturating_sub(height));
    first..(first + height).min(count)
}

/// The position and count for a pane's counter; empty for an empty list.
#[must_use]
pub fn counter(at: usize, count: usize) -> String {
    match count {
        0 => String::new(),
        n => format!("{} of {n}", at.min(n - 1) + 1),
    }
}

/// A list, whose entries may include headings.
#[derive(Clone, Copy, Debug)]
pub struct List {
    /// Index of the entry that must be in view.
    pub at: usize,
    /// The number of entries.
    pub count: usize,
    /// Rows per entry.
    pub each: u16,
}

impl List {
    /// Draws the entries in view, and a scrollbar if there are more. `entry` gets an index and the
    /// width in columns. Lines beyond an entry's rows are left out.
    pub fn draw(
        &self,
        theme: &Theme,
        area: Rect,
        buffer: &mut Buffer,
        mut entry: impl FnMut(usize, usize) -> Vec<Line<'static>>,
    ) {
        let each = self.each.max(1);
        let room = usize::from(area.height / each);
        if room == 0 || area.width == 0 {
            return;
        }
        let seen = in_view(self.at, self.count, room);
        let scrolls = self.count > room && area.width > 8;
        // A blank column before the scrollbar.
        let width = if scrolls { area.width - 2 } else { area.width };
        for (at, y) in seen.clone().zip((area.y..).step_by(each.into())) {
            for (line, y) in entry(at, width.into()).into_iter().zip(y..y + each) {
                line.render(Rect::new(area.x, y, width, 1), buffer);
            }
        }
        if scrolls {
            bar(theme, area, (seen.start, room, self.count), buffer);
        }
    }
}

/// Draws a scrollbar at the right edge of an area, for the first entry in view, the number in view
/// and the total. Draws nothing if all are in view.
pub fn bar(
    theme: &Theme,
    area: Rect,
    (first, room, count): (usize, usize, usize),
    buffer: &mut Buffer,
) {
    if room < count {
        let bar = Scrollbar::new(ScrollbarOrientation::VerticalRight)
            .begin_symbol(None)
            .end_symbol(None)
            .track_symbol(Some("│"))
            .thumb_symbol("█")
            .track_style(theme.line())
            .thumb_style(theme.muted());
        let mut state = ScrollbarState::new(count - room + 1)
            .position(first)
            .viewport_content_length(room);
        bar.render(area, buffer, &mut state);
    }
}

/// The most columns of a list beside the details of its selected entry.
const WIDEST: u16 = 84;

/// Whether an area is wide and low, so that details go beside the list.
#[must_use]
pub const fn is_low(area: Rect) -> bool {
    area.width >= 60 && area.height < 16
}

/// Areas for a list of this many rows and for the details of its selected entry, with the lines of
/// the details. Side by side in a low area; otherwise stacked, with at least `least` rows for the
/// list.
pub fn with_about(
    area: Rect,
    (rows, least): (usize, u16),
    about: impl FnOnce(usize) -> Vec<Line<'static>>,
) -> (Rect, Rect, Vec<Line<'static>>) {
    if is_low(area) {
        let (list, right) = with_right(area, area.width - (area.width * 11 / 20).min(WIDEST));
        let (_, mut right) = with_right(right, right.width - 2);
        right.width = right.width.min(WIDEST);
        let mut lines = about(right.width.into());
        lines.retain(|line| line.width() > 0);
        return (list, right, lines);
    }
    let lines = about(area.width.into());
    let rows = u16::try_from(rows).unwrap_or(u16::MAX);
    let below = u16::try_from(lines.len()).unwrap_or(u16::MAX);
    let list = area.height.saturating_sub(below).max(least).min(rows);
    let (list, below) = with_foot(area, area.height.saturating_sub(list));
    (list, below, lines)
}

/// A step up or down a list of this length.
pub fn stepped(at: usize, count: usize, action: Action) -> usize {
    let last = count.saturating_sub(1);
    match action {
        Action::Up => at.saturating_sub(1),
        Action::Down => at + 1,
        Action::PageUp => at.saturating_sub(10),
        Action::PageDown => at + 10,
        _ => at,
    }
    .min(last)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;

    fn drawn(list: List, area: Rect) -> Vec<String> {
        let mut buffer = Buffer::empty(area);
        list.draw(&Theme::new(Depth::None), area, &mut buffer, |at, width| {
            vec![Line::raw(format!("{at:>width$}"))]
        });
        let row = |y| (0..area.width).map(|x| buffer[(x, y)].symbol()).collect();
        (0..area.height).map(row).collect()
    }

    #[test]
    fn long_list_has_a_scrollbar_that_shows_the_position() {
        let area = Rect::new(0, 0, 9, 3);
        let list = |at| List {
            at,
            count: 30,
            each: 1,
        };
        assert_eq!(
            drawn(list(0), area),
            ["      0 █", "      1 │", "      2 │"]
        );
        assert_eq!(
            drawn(list(29), area),
            ["     27 │", "     28 │", "     29 █"]
        );
        let short = List {
            at: 1,
            count: 2,
            each: 1,
        };
        assert_eq!(drawn(short, area), ["        0", "        1", "         "]);
    }

    #[test]
    fn entries_of_several_rows_are_never_cut() {
        let two = List {
            at: 3,
            count: 4,
            each: 2,
        };
        let rows = drawn(two, Rect::new(0, 0, 9, 5));
        assert_eq!(
            rows,
            [
                "      2 │",
                "        │",
                "      3 █",
                "        █",
                "        █"
            ]
        );
        assert_eq!(counter(3, 4), "4 of 4");
        assert_eq!(counter(0, 0), "");
    }
}
