//! Sends frames to the terminal in few bytes, because a slow line is what makes the user wait.
//!
//! The terminal library sends both colours of a cell when one of them changes, the foreground of
//! blanks, full positions even when the next cell is near, and at the end of every frame the resets
//! and the hidden cursor again. It also sends the sixteen colours as indices into the 256
//! (`38;5;9`), which older terminals don't know: some read them as 'blink' (5) and bold. ECMA-48
//! defines 30 to 37 and 40 to 47 for the first eight; 90 to 97 and 100 to 107 for the bright ones
//! are common practice.

use std::fmt::Write as _;
use std::io::{self, Write};

use crossterm::cursor::{self, MoveRight, MoveTo};
use crossterm::queue;
use crossterm::terminal;
use ratatui::backend::{Backend, ClearType, WindowSize};
use ratatui::buffer::Cell;
use ratatui::layout::{Position, Size};
use ratatui::style::{Color, Modifier};

/// Attributes visible on a blank.
const SHOWN_ON_BLANKS: Modifier = Modifier::REVERSED
    .union(Modifier::UNDERLINED)
    .union(Modifier::CROSSED_OUT);

/// Attributes, each with its on and off codes.
const ATTRIBUTES: [(Modifier, u8, u8); 8] = [
    (Modifier::BOLD, 1, 22),
    (Modifier::DIM, 2, 22),
    (Modifier::ITALIC, 3, 23),
    (Modifier::UNDERLINED, 4, 24),
    (Modifier::SLOW_BLINK, 5, 25),
    (Modifier::REVERSED, 7, 27),
    (Modifier::HIDDEN, 8, 28),
    (Modifier::CROSSED_OUT, 9, 29),
];

/// Up to this distance, a relative move right is shorter than an absolute position.
const NEAR: u16 = 99;

/// A terminal backend that sends no more than necessary. Each frame arrives in one piece.
pub(super) struct Lean<W> {
    to: W,
    waiting: Vec<u8>,
    cursor_shown: bool,
}

impl<W: Write> Lean<W> {
    /// Writes to a terminal whose cursor is hidden.
    pub fn new(to: W) -> Self {
        Self {
            to,
            waiting: Vec::new(),
            cursor_shown: false,
        }
    }
}

/// The terminal's current style.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Pen {
    ink: Color,
    ground: Color,
    modifier: Modifier,
}

impl Pen {
    /// The style at the start and end of every frame.
    const PLAIN: Self = Self {
        ink: Color::Reset,
        ground: Color::Reset,
        modifier: Modifier::empty(),
    };

    /// The pen for a cell, as similar to this one as possible.
    fn for_cell(self, cell: &Cell) -> Self {
        let shows = cell.symbol() != " " || cell.modifier.intersects(SHOWN_ON_BLANKS);
        if shows || self.modifier.intersects(SHOWN_ON_BLANKS) {
            Self {
                ink: cell.fg,
                ground: cell.bg,
                modifier: cell.modifier,
            }
        } else {
            Self {
                ground: cell.bg,
                ..self
            }
        }
    }

    /// The sequence that changes this pen into another; empty if they are equal.
    fn sequence_to(self, other: Self) -> String {
        if self == other {
            return String::new();
        }
        if other == Self::PLAIN {
            return "\x1b[m".to_owned();
        }
        let mut codes = String::new();
        let mut add = |code: u8| {
            // Writing to a string never fails.
            let _ = write!(codes, "{code};");
        };
        let mut gone = Modifier::empty();
        for (one, _, off) in ATTRIBUTES {
            if self.modifier.contains(one) && !other.modifier.contains(one) {
                add(off);
                // An off code may end several attributes at once.
                for (alike, _, other_off) in ATTRIBUTES {
                    if other_off == off {
                        gone |= alike;
                    }
                }
            }
        }
        for (one, on, _) in ATTRIBUTES {
            let there = self.modifier.contains(one) && !gone.contains(one);
            if other.modifier.contains(one) && !there {
                add(on);
            }
        }
        if self.ink != other.ink {
            codes += &colour(other.ink, 30);
        }
        if self.ground != other.ground {
            codes += &colour(other.ground, 40);
        }
        format!("\x1b[{}m", codes.trim_end_matches(';'))
    }
}

/// The code of a colour with a semicolon; `from` is 30 for foreground, 40 for background.
fn colour(colour: Color, from: u8) -> String {
    let dark = |n: u8| format!("{};", from + n);
    let bright = |n: u8| format!("{};", from + 60 + n);
    match colour {
        Color::Reset => dark(9),
        Color::Black => dark(0),
        Color::Red => dark(1),
        Color::Green => dark(2),
        Color::Yellow => dark(3),
        Color::Blue => dark(4),
        Color::Magenta => dark(5),
        Color::Cyan => dark(6),
        Color::Gray => dark(7),
        Color::DarkGray => bright(0),
        Color::LightRed => bright(1),
        Color::LightGreen => bright(2),
        Color::LightYellow => bright(3),
        Color::LightBlue => bright(4),
        Color::LightMagenta => bright(5),
        Color::LightCyan => bright(6),
        Color::White => bright(7),
        Color::Indexed(n) => format!("{};5;{n};", from + 8),
        Color::Rgb(r, g, b) => format!("{};2;{r};{g};{b};", from + 8),
    }
}

impl<W: Write> Backend for Lean<W> {
    type Error = io::Error;

    fn draw<'a, I>(&mut self, content: I) -> io::Result<()>
    where
        I: Iterator<Item = (u16, u16, &'a Cell)>,
    {
        let mut pen = Pen::PLAIN;
        // The cell after the last one, and whether every terminal has its cursor there: they
        // disagree on the width of some characters.
        let mut behind: Option<(u16, u16, bool)> = None;
        for (x, y, cell) in content {
            match behind {
                Some((from, row, _)) if (from, row) == (x, y) => {}
                Some((from, row, true)) if row == y && (from..from + NEAR).contains(&x) => {
                    match x - from {
                        1 => self.waiting.extend(b"\x1b[C"),
                        far => queue!(self.waiting, MoveRight(far))?,
                    }
                }
                _ => queue!(self.waiting, MoveTo(x, y))?,
            }
            let next = pen.for_cell(cell);
            self.waiting.extend(pen.sequence_to(next).bytes());
            pen = next;
            self.waiting.extend(cell.symbol().bytes());
            behind = Some((x + 1, y, cell.symbol().is_ascii()));
        }
        self.waiting.extend(pen.sequence_to(Pen::PLAIN).bytes());
        Ok(())
    }

    fn hide_cursor(&mut self) -> io::Result<()> {
        if self.cursor_shown {
            queue!(self.waiting, cursor::Hide)?;
            self.cursor_shown = false;
        }
        Ok(())
    }

    fn show_cursor(&mut self) -> io::Result<()> {
        self.cursor_shown = true;
        queue!(self.waiting, cursor::Show)
    }

    fn get_cursor_position(&mut self) -> io::Result<Position> {
        cursor::position().map(Position::from)
    }

    fn set_cursor_position<P: Into<Position>>(&mut self, position: P) -> io::Result<()> {
        let Position { x, y } = position.into();
        queue!(self.waiting, MoveTo(x, y))
    }

    fn clear(&mut self) -> io::Result<()> {
        self.clear_region(ClearType::All)
    }

    fn clear_region(&mut self, region: ClearType) -> io::Result<()> {
        let region = match region {
            ClearType::All => terminal::ClearType::All,
            ClearType::AfterCursor => terminal::ClearType::FromCursorDown,
            ClearType::BeforeCursor => terminal::ClearType::FromCursorUp,
            ClearType::CurrentLine => terminal::ClearType::CurrentLine,
            ClearType::UntilNewLine => terminal::ClearType::UntilNewLine,
        };
        queue!(self.waiting, terminal::Clear(region))
    }

    fn size(&self) -> io::Result<Size> {
        terminal::size().map(Size::from)
    }

    fn window_size(&mut self) -> io::Result<WindowSize> {
        let of = terminal::window_size()?;
        Ok(WindowSize {
            columns_rows: Size::new(of.columns, of.rows),
            pixels: Size::new(of.width, of.height),
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        let waiting = std::mem::take(&mut self.waiting);
        self.to.write_all(&waiting)?;
        self.to.flush()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use ratatui::backend::CrosstermBackend;
    use ratatui::buffer::Buffer;
    use ratatui::layout::Rect;
    use ratatui::style::Style;

    use super::*;

    const AREA: Rect = Rect::new(0, 0, 12, 4);

    fn sent(draw: impl FnOnce(&mut Lean<&mut Vec<u8>>)) -> String {
        let mut bytes = Vec::new();
        let mut lean = Lean::new(&mut bytes);
        draw(&mut lean);
        lean.flush().unwrap();
        String::from_utf8(bytes).unwrap()
    }

    fn drawn(before: &Buffer, after: &Buffer) -> String {
        sent(|lean| lean.draw(before.diff(after).into_iter()).unwrap())
    }

    #[test]
    fn first_sixteen_colours_use_standard_codes() {
        for (colour, arrives) in [
            (Color::Red, "\x1b[1;1H\x1b[31mx\x1b[m"),
            (Color::LightRed, "\x1b[1;1H\x1b[91mx\x1b[m"),
            (Color::Indexed(16), "\x1b[1;1H\x1b[38;5;16mx\x1b[m"),
            (Color::Rgb(1, 2, 3), "\x1b[1;1H\x1b[38;2;1;2;3mx\x1b[m"),
            (Color::Reset, "\x1b[1;1Hx"),
        ] {
            let mut after = Buffer::empty(AREA);
            after.set_string(0, 0, "x", Style::new().fg(colour));
            assert_eq!(drawn(&Buffer::empty(AREA), &after), arrives);
            after.set_string(0, 0, " ", Style::new().bg(colour));
            let arrives = arrives
                .replace("[3", "[4")
                .replace("[9", "[10")
                .replace('x', " ");
            if colour != Color::Reset {
                assert_eq!(drawn(&Buffer::empty(AREA), &after), arrives);
            }
        }
    }

    #[test]
    fn only_differences_are_sent() {
        let style = Style::new().fg(Color::White).bg(Color::Blue);
        let mut after = Buffer::empty(AREA);
        after.set_string(2, 1, "ab", style);
        after.set_string(4, 1, " ", style.fg(Color::Red).add_modifier(Modifier::BOLD));
        after.set_string(6, 1, "c", style.bg(Color::Green));
        assert_eq!(
            drawn(&Buffer::empty(AREA), &after),
            "\x1b[2;3H\x1b[97;44mab \x1b[C\x1b[42mc\x1b[m"
        );
    }

    #[test]
    fn cursor_is_hidden_only_once() {
        let none = sent(|lean| lean.hide_cursor().unwrap());
        assert_eq!(none, "");
        let once = sent(|lean| {
            lean.show_cursor().unwrap();
            lean.hide_cursor().unwrap();
            lean.hide_cursor().unwrap();
        });
        assert_eq!(once, "\x1b[?25h\x1b[?25l");
    }

    fn any_colour() -> impl Strategy<Value = Color> {
        prop_oneof![
            Just(Color::Reset),
            Just(Color::Red),
            Just(Color::Gray),
            (16..=255_u8).prop_map(Color::Indexed),
            any::<[u8; 3]>().prop_map(|[r, g, b]| Color::Rgb(r, g, b)),
        ]
    }

    /// Modifiers that the test terminal can show.
    fn any_modifier() -> impl Strategy<Value = Modifier> {
        let all = Modifier::BOLD | Modifier::ITALIC | Modifier::UNDERLINED | Modifier::REVERSED;
        prop_oneof![
            2 => Just(Modifier::empty()),
            1 => any::<u16>().prop_map(move |bits| Modifier::from_bits_truncate(bits) & all),
        ]
    }

    prop_compose! {
        fn any_piece()(
            x in 0..AREA.width, y in 0..AREA.height,
            text in prop::sample::select(vec!["a", "  ", "bc d", "\u{e9}", "\u{8d64}", "#", "    "]),
            fg in any_colour(), bg in any_colour(), modifier in any_modifier(),
        ) -> (u16, u16, &'static str, Style) {
            (x, y, text, Style::new().fg(fg).bg(bg).add_modifier(modifier))
        }
    }

    fn any_buffer() -> impl Strategy<Value = Buffer> {
        prop::collection::vec(any_piece(), 0..12).prop_map(|pieces| {
            let mut buffer = Buffer::empty(AREA);
            for (x, y, text, style) in pieces {
                buffer.set_string(x, y, text, style);
            }
            buffer
        })
    }

    /// The visible part of every cell. For blanks without underline or reverse, only the
    /// background.
    fn shows(screen: &vt100::Screen) -> Vec<String> {
        let at = |row, column| {
            let cell = screen.cell(row, column).unwrap();
            let (ground, lines) = (cell.bgcolor(), (cell.underline(), cell.inverse()));
            let blank = cell.contents().trim().is_empty() && lines == (false, false);
            let rest = (cell.fgcolor(), cell.bold(), cell.italic());
            let rest = (!blank).then(|| format!("{} {rest:?}", cell.contents()));
            format!("{ground:?} {lines:?} {rest:?}")
        };
        let rows = 0..AREA.height;
        rows.flat_map(|row| (0..AREA.width).map(move |column| at(row, column)))
            .collect()
    }

    proptest! {
        /// After each frame, the terminal shows the same as with the library's own backend, for
        /// fewer bytes.
        #[test]
        fn frames_match_the_library_backend_in_fewer_bytes(frames in prop::collection::vec(any_buffer(), 1..4)) {
            let (columns, rows) = (AREA.width, AREA.height);
            let parser = || vt100::Parser::new(
                std::num::NonZeroU16::new(rows).unwrap(), std::num::NonZeroU16::new(columns).unwrap(), 0,
            );
            let (mut ours, mut theirs) = (parser(), parser());
            let mut before = Buffer::empty(AREA);
            for after in frames {
                let lean = drawn(&before, &after);
                let mut bytes = Vec::new();
                let mut library = CrosstermBackend::new(&mut bytes);
                library.draw(before.diff(&after).into_iter()).unwrap();
                prop_assert!(lean.len() <= bytes.len());
                ours.process(lean.as_bytes());
                theirs.process(&bytes);
                prop_assert_eq!(shows(ours.screen()), shows(theirs.screen()));
                before = after;
            }
        }
    }
}
