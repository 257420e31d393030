//! Lists that are longer than their room: what is in view, a bar that shows where that is, and `5 of 20`.

use crate::tui::keymap::Action;
use std::ops::Range;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Scrollbar, ScrollbarOrientation, ScrollbarState, StatefulWidget, Widget};

use super::pane::{with_foot, with_right};
use crate::tui::theme::Theme;

/// The lines of a list that are in view, so that the chosen one is among them.
#[must_use]
pub fn in_view(at: usize, count: usize, height: usize) -> Range<usize> {
    let height = height.max(1);
    let first = at
        .saturating_sub(height / 2)
        .min(count.saturating_sub(height));
    first..(first + height).min(count)
}

/// Which of how many is chosen, for the counter of a pane; nothing of an empty list.
#[must_use]
pub fn counter(at: usize, count: usize) -> String {
    match count {
        0 => String::new(),
        n => format!("{} of {n}", at.min(n - 1) + 1),
    }
}

/// A list, by its entries. A heading may be an entry.
#[derive(Clone, Copy, Debug)]
pub struct List {
    /// The entry that must be in view, counted from 0.
    pub at: usize,
    /// How many there are.
    pub count: usize,
    /// Rows of each.
    pub each: u16,
}

impl List {
    /// Draws the entries in view, which are asked for by their place and the columns there are for them, and a bar to
    /// their right where there are more. What an entry has beyond its rows is left out.
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
        // A blank column keeps the bar apart.
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

/// Draws a bar at the right edge of an area: so many entries from the first one in view on, of so many. Nothing where
/// all of them are in view.
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

/// The most columns of a list beside what is told of its chosen entry.
const WIDEST: u16 = 84;

/// Whether an area is so wide and low that a list goes beside what is told of its chosen entry.
#[must_use]
pub const fn is_low(area: Rect) -> bool {
    area.width >= 60 && area.height < 16
}

/// Room for a list of so many rows, and for what is told of its chosen entry, with these lines: side by side in a low
/// area, else one below the other, where the list keeps at least so many rows.
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

/// A step up or down a list of so many lines.
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
    fn a_list_that_goes_on_has_a_bar_that_shows_where_it_is() {
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
    fn entries_of_several_rows_are_shown_whole() {
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
