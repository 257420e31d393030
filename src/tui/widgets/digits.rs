//! Letters large enough to read from across the room.

use font8x8::{BASIC_FONTS, UnicodeFonts};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::text::put;

/// Rows and columns of a letter.
const SIDE: u16 = 8;
/// Rows of a letter with ink: the last row of the font is the space below.
const INKED: u16 = 7;

/// The size of letters.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Size {
    /// Fourteen rows, sixteen columns a letter.
    Huge,
    /// Seven rows, eight columns a letter.
    Large,
    /// Four rows, eight columns a letter.
    Half,
    /// Four rows, four columns a letter. Not available in ASCII.
    Narrow,
    /// Three rows, four columns a letter; figures and capitals only.
    Small,
}

/// The cells of a narrow letter, by their inked quarters: upper left 1, upper right 2, lower left
/// 4, lower right 8.
const QUARTERS: [&str; 16] = [
    " ", "▘", "▝", "▀", "▖", "▌", "▞", "▛", "▗", "▚", "▐", "▜", "▄", "▙", "▟", "█",
];

impl Size {
    /// Its height in rows.
    #[must_use]
    pub const fn height(self) -> u16 {
        match self {
            Self::Huge => 2 * INKED,
            Self::Large => INKED,
            Self::Half | Self::Narrow => SIDE / 2,
            Self::Small => 3,
        }
    }

    /// The width of a text in columns.
    #[must_use]
    pub fn width(self, text: &str) -> u16 {
        let letters = u16::try_from(text.chars().count()).unwrap_or(u16::MAX);
        letters.saturating_mul(self.letter())
    }

    /// This size if a text fits into this many columns, or else the smallest if that one fits.
    #[must_use]
    pub fn within(self, text: &str, columns: u16) -> Self {
        let is_too_wide = self.width(text) > columns;
        if is_too_wide && is_small(text) && Self::Small.width(text) <= columns {
            Self::Small
        } else {
            self
        }
    }

    /// The width of a letter in columns.
    #[must_use]
    pub const fn letter(self) -> u16 {
        match self {
            Self::Huge => 2 * SIDE,
            Self::Large | Self::Half => SIDE,
            Self::Narrow | Self::Small => 4,
        }
    }

    /// The character in a cell of a letter, counted from its upper left; `None` for a blank.
    fn cell(self, letter: char, (x, y): (u16, u16)) -> Option<&'static str> {
        let halves = match self {
            Self::Huge => return large(letter, x / 2, y / 2).then_some("█"),
            Self::Large => return large(letter, x, y).then_some("█"),
            Self::Half => (large(letter, x, 2 * y), large(letter, x, 2 * y + 1)),
            Self::Narrow => {
                let of = |right, below| usize::from(large(letter, 2 * x + right, 2 * y + below));
                let quarters = of(0, 0) + 2 * of(1, 0) + 4 * of(0, 1) + 8 * of(1, 1);
                return (quarters > 0).then_some(QUARTERS[quarters]);
            }
            Self::Small => (small(letter, x, 2 * y), small(letter, x, 2 * y + 1)),
        };
        match halves {
            (true, true) => Some("█"),
            (true, false) => Some("▀"),
            (false, true) => Some("▄"),
            (false, false) => None,
        }
    }
}

/// Whether there is ink at a point of an 8 x 8 letter.
fn large(letter: char, x: u16, y: u16) -> bool {
    let rows = BASIC_FONTS.get(letter).unwrap_or_default();
    let row = rows.get(usize::from(y)).copied().unwrap_or(0);
    row >> x & 1 == 1
}

/// Whether there is ink at a point of a 3 x 5 letter.
fn small(letter: char, x: u16, y: u16) -> bool {
    let of = SMALL.iter().find(|(of, _)| *of == letter);
    of.is_some_and(|(_, rows)| x < 3 && y < 5 && rows >> (14 - 3 * y - x) & 1 == 1)
}

/// Letters of 3 x 5 points, row by row from the top.
#[rustfmt::skip]
const SMALL: [(char, u16); 38] = [
    ('0', 0b111_101_101_101_111), ('1', 0b010_110_010_010_111), ('2', 0b111_001_111_100_111),
    ('3', 0b111_001_111_001_111), ('4', 0b101_101_111_001_001), ('5', 0b111_100_111_001_111),
    ('6', 0b111_100_111_101_111), ('7', 0b111_001_010_010_010), ('8', 0b111_101_111_101_111),
    ('9', 0b111_101_111_001_111), ('A', 0b010_101_111_101_101), ('B', 0b110_101_110_101_110),
    ('C', 0b011_100_100_100_011), ('D', 0b110_101_101_101_110), ('E', 0b111_100_110_100_111),
    ('F', 0b111_100_110_100_100), ('G', 0b011_100_101_101_011), ('H', 0b101_101_111_101_101),
    ('I', 0b111_010_010_010_111), ('J', 0b001_001_001_101_010), ('K', 0b101_101_110_101_101),
    ('L', 0b100_100_100_100_111), ('M', 0b101_111_111_101_101), ('N', 0b110_101_101_101_101),
    ('O', 0b010_101_101_101_010), ('P', 0b110_101_110_100_100), ('Q', 0b010_101_101_111_011),
    ('R', 0b110_101_110_101_101), ('S', 0b011_100_010_001_110), ('T', 0b111_010_010_010_010),
    ('U', 0b101_101_101_101_111), ('V', 0b101_101_101_101_010), ('W', 0b101_101_111_111_101),
    ('X', 0b101_101_010_101_101), ('Y', 0b101_101_010_010_010), ('Z', 0b111_001_010_100_111),
    ('-', 0b000_000_111_000_000), (' ', 0),
];

/// Whether every character of a text exists as a small letter.
#[must_use]
pub fn is_small(text: &str) -> bool {
    text.chars()
        .all(|letter| SMALL.iter().any(|(of, _)| *of == letter))
}

/// Draws a text at the upper left of an area, or as plain text on one row if it doesn't fit. A
/// character missing from the font is a blank.
pub fn draw(buffer: &mut Buffer, area: Rect, text: &str, size: Size, style: Style) {
    if size.width(text) > area.width || size.height() > area.height {
        let middle = area.y + area.height / 2;
        put(
            buffer,
            (area.x, middle.min(area.bottom().saturating_sub(1))),
            text,
            style,
        );
        return;
    }
    let columns = size.letter();
    for (letter, left) in text.chars().zip((area.x..).step_by(columns.into())) {
        for (x, y) in (0..size.height()).flat_map(|y| (0..columns).map(move |x| (x, y))) {
            if let Some(sign) = size.cell(letter, (x, y)) {
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
    fn digit_one_has_a_stem_and_a_foot() {
        let large = drawn("1", Size::Large, Rect::new(0, 0, 8, 7));
        assert_eq!(large[0].trim(), "██");
        assert_eq!(large[6].trim(), "██████");
        assert_eq!(
            drawn("1", Size::Half, Rect::new(0, 0, 8, 4))[3].trim(),
            "▀▀▀▀▀▀"
        );
    }

    #[test]
    fn text_that_does_not_fit_is_plain() {
        let small = drawn("1117", Size::Large, Rect::new(0, 0, 20, 7));
        assert_eq!(small[3].trim(), "1117");
    }

    #[test]
    fn small_letters_take_three_rows_and_huge_ones_fourteen() {
        assert_eq!(
            drawn("17", Size::Small, Rect::new(0, 0, 8, 3)),
            ["▄█  ▀▀█ ", " █   █  ", "▀▀▀  ▀  "]
        );
        let huge = drawn("1", Size::Huge, Rect::new(0, 0, 16, 14));
        assert_eq!((huge[0].trim(), huge[13].trim()), ("████", "████████████"));
        assert!(is_small("C-19") && !is_small("447@Harbour"));
    }

    #[test]
    fn long_text_falls_back_to_small_letters_if_they_fit() {
        assert_eq!(Size::Large.within("1117", 32), Size::Large);
        assert_eq!(Size::Large.within("1234567890", 45), Size::Small);
        assert_eq!(Size::Large.within("447@Harbour", 45), Size::Large);
    }
}
