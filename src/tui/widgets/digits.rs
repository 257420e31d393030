//! Letters to be read from the other side of the room.

use font8x8::{BASIC_FONTS, UnicodeFonts};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::text::put;

/// Rows and columns of a letter.
const SIDE: u16 = 8;
/// Rows of a letter in which there is ink: the last row of the font is the space below.
const INKED: u16 = 7;

/// How large letters are drawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Size {
    /// Seven rows, eight columns a letter.
    Large,
    /// Four rows, eight columns a letter.
    Half,
}

impl Size {
    /// Rows it takes.
    #[must_use]
    pub const fn height(self) -> u16 {
        match self {
            Self::Large => INKED,
            Self::Half => SIDE / 2,
        }
    }
}

/// Columns that a text takes.
#[must_use]
pub fn width(text: &str) -> u16 {
    let letters = u16::try_from(text.chars().count()).unwrap_or(u16::MAX);
    letters.saturating_mul(SIDE)
}

/// Draws a text at the upper left of an area; where not all of it fits, as itself in one row. A character that the
/// font does not have is a blank.
pub fn draw(buffer: &mut Buffer, area: Rect, text: &str, size: Size, style: Style) {
    if width(text) > area.width || size.height() > area.height {
        let middle = area.y + area.height / 2;
        put(
            buffer,
            (area.x, middle.min(area.bottom().saturating_sub(1))),
            text,
            style,
        );
        return;
    }
    for (letter, left) in text.chars().zip((area.x..).step_by(SIDE.into())) {
        let rows = BASIC_FONTS.get(letter).unwrap_or_default();
        let ink = |x: u16, y: u16| {
            let row = rows.get(usize::from(y)).copied().unwrap_or(0);
            row >> x & 1 == 1
        };
        for y in 0..size.height() {
            for x in 0..SIDE {
                let sign = match size {
                    Size::Large if ink(x, y) => "█",
                    Size::Large => continue,
                    Size::Half => match (ink(x, 2 * y), ink(x, 2 * y + 1)) {
                        (true, true) => "█",
                        (true, false) => "▀",
                        (false, true) => "▄",
                        (false, false) => continue,
                    },
                };
                put(buffer, (left + x, area.y + y), sign, style);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(text: &str, size: Size, area: Rect) -> Vec<String> {
        let mut buffer = Buffer::empty(area);
        draw(&mut buffer, area, text, size, Style::new());
        let row = |y| (0..area.width).map(|x| buffer[(x, y)].symbol()).collect();
        (0..area.height).map(row).collect()
    }

    #[test]
    fn a_one_is_an_upright_with_a_foot() {
        let large = drawn("1", Size::Large, Rect::new(0, 0, 8, 7));
        assert_eq!(large[0].trim(), "██");
        assert_eq!(large[6].trim(), "██████");
        assert_eq!(
            drawn("1", Size::Half, Rect::new(0, 0, 8, 4))[3].trim(),
            "▀▀▀▀▀▀"
        );
    }

    #[test]
    fn what_does_not_fit_is_written_small() {
        let small = drawn("1117", Size::Large, Rect::new(0, 0, 20, 7));
        assert_eq!(small[3].trim(), "1117");
    }
}
