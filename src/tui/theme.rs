//! How colours come out on this terminal.

use ratatui::style::{Color, Modifier, Style};

use crate::engine::colour::{Ink, difference_in_lab, ink_on, lab};
use crate::model::colour::Srgb;

/// How many colours the terminal shows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Depth {
    /// Any colour.
    True,
    /// The 256 of xterm.
    Indexed,
    /// The sixteen of ANSI, whose look the user chose: no swatch is true, so none is shown.
    Sixteen,
    /// None at all.
    None,
}

impl Depth {
    /// Reads the terminal's environment: `NO_COLOR` set and not empty wins, then `COLORTERM`,
    /// then `TERM`. `var` answers what a variable is set to.
    #[must_use]
    pub fn detect(var: impl Fn(&str) -> Option<String>) -> Self {
        if var("NO_COLOR").is_some_and(|value| !value.is_empty()) {
            return Self::None;
        }
        let colours = var("COLORTERM").unwrap_or_default();
        if colours == "truecolor" || colours == "24bit" {
            return Self::True;
        }
        match var("TERM").as_deref() {
            None | Some("" | "dumb") => Self::None,
            Some(term) if term.contains("direct") => Self::True,
            Some(term) if term.contains("256") => Self::Indexed,
            Some(_) => Self::Sixteen,
        }
    }
}

/// How colours come out. Text outside swatches keeps the terminal's own colours, so that light
/// and dark backgrounds both work.
#[derive(Clone, PartialEq, Debug)]
pub struct Theme {
    /// How many colours there are.
    pub depth: Depth,
}

/// For what is away, at each depth. As bright as can be read on white and on black alike.
const AWAY: (Srgb, u8, Color) = (Srgb::new(189, 88, 0), 130, Color::Magenta);
/// For what went wrong, likewise.
const WRONG: (Srgb, u8, Color) = (Srgb::new(0xD9, 0x3A, 0x30), 163, Color::Red);

/// The levels of the 6 x 6 x 6 colour cube of xterm (from memory).
const CUBE: [u8; 6] = [0, 95, 135, 175, 215, 255];

/// The colour of an index from 16 up in the palette of xterm.
fn indexed(index: u8) -> Srgb {
    let n = index.saturating_sub(16);
    if n < 216 {
        let level = |n: u8| CUBE[usize::from(n % 6)];
        Srgb::new(level(n / 36), level(n / 6), level(n))
    } else {
        let grey = 8 + (n - 216) * 10;
        Srgb::new(grey, grey, grey)
    }
}

/// The nearest of the 240 fixed colours by CIEDE2000. 240 colour differences: callers keep it.
fn nearest_index(colour: Srgb) -> u8 {
    let wanted = lab(colour);
    (16..=255)
        .map(|index| (index, difference_in_lab(wanted, lab(indexed(index)))))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(16, |(index, _)| index)
}

impl Theme {
    /// A theme of a depth.
    #[must_use]
    pub const fn new(depth: Depth) -> Self {
        Self { depth }
    }

    /// A swatch with text on it that can be read (WCAG contrast of at least 4.5). `None` where the
    /// terminal cannot show one.
    #[must_use]
    pub fn swatch(&self, colour: Srgb) -> Option<Style> {
        let rgb = |c: Srgb| Color::Rgb(c.r, c.g, c.b);
        match self.depth {
            Depth::True => Some(
                Style::new()
                    .bg(rgb(colour))
                    .fg(rgb(ink_on(colour).colour())),
            ),
            Depth::Indexed => {
                let index = cache::nearest(colour);
                let ink = match ink_on(indexed(index)) {
                    Ink::Black => 16,
                    Ink::White => 231,
                };
                Some(
                    Style::new()
                        .bg(Color::Indexed(index))
                        .fg(Color::Indexed(ink)),
                )
            }
            Depth::Sixteen | Depth::None => None,
        }
    }

    /// Text in a colour of its own, on the terminal's background, be it light or dark.
    fn coloured(&self, (any, index, named): (Srgb, u8, Color)) -> Style {
        match self.depth {
            Depth::True => Style::new().fg(Color::Rgb(any.r, any.g, any.b)),
            Depth::Indexed => Style::new().fg(Color::Indexed(index)),
            Depth::Sixteen => Style::new().fg(named),
            Depth::None => Style::new(),
        }
    }

    /// Headings and the key names of the footer.
    #[must_use]
    pub fn strong(&self) -> Style {
        Style::new().add_modifier(Modifier::BOLD)
    }

    /// What matters less.
    #[must_use]
    pub fn faint(&self) -> Style {
        Style::new().add_modifier(Modifier::DIM)
    }

    /// What the eye should go to.
    #[must_use]
    pub fn target(&self) -> Style {
        Style::new().add_modifier(Modifier::REVERSED | Modifier::BOLD)
    }

    /// A card that is out, missing or on a wrong hook.
    #[must_use]
    pub fn away(&self) -> Style {
        self.coloured(AWAY).add_modifier(Modifier::BOLD)
    }

    /// What went wrong.
    #[must_use]
    pub fn wrong(&self) -> Style {
        self.coloured(WRONG).add_modifier(Modifier::BOLD)
    }

    /// The line chosen in a list.
    #[must_use]
    pub fn chosen(&self) -> Style {
        Style::new().add_modifier(Modifier::REVERSED)
    }
}

/// Nearest indices once found; a board has the same few hundred colours in every frame.
mod cache {
    use std::cell::RefCell;
    use std::collections::HashMap;

    use super::{Srgb, nearest_index};

    thread_local! {
        static NEAREST: RefCell<HashMap<Srgb, u8>> = RefCell::default();
    }

    pub fn nearest(colour: Srgb) -> u8 {
        NEAREST
            .with_borrow_mut(|known| *known.entry(colour).or_insert_with(|| nearest_index(colour)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::colour::contrast;

    fn detect(vars: &[(&str, &str)]) -> Depth {
        let vars: Vec<(String, String)> = vars
            .iter()
            .map(|(k, v)| ((*k).to_owned(), (*v).to_owned()))
            .collect();
        Depth::detect(|name| vars.iter().find(|(k, _)| k == name).map(|(_, v)| v.clone()))
    }

    #[test]
    fn the_environment_tells_the_depth() {
        assert_eq!(
            detect(&[("COLORTERM", "truecolor"), ("TERM", "xterm")]),
            Depth::True
        );
        assert_eq!(detect(&[("TERM", "xterm-256color")]), Depth::Indexed);
        assert_eq!(detect(&[("TERM", "linux")]), Depth::Sixteen);
        assert_eq!(detect(&[("TERM", "dumb")]), Depth::None);
        assert_eq!(
            detect(&[("TERM", "xterm-256color"), ("NO_COLOR", "1")]),
            Depth::None
        );
        assert_eq!(
            detect(&[("TERM", "xterm-256color"), ("NO_COLOR", "")]),
            Depth::Indexed
        );
    }

    #[test]
    fn without_colour_no_style_sets_a_colour() {
        let theme = Theme::new(Depth::None);
        assert_eq!(theme.swatch(Srgb::new(1, 2, 3)), None);
        for style in [
            theme.strong(),
            theme.faint(),
            theme.target(),
            theme.away(),
            theme.wrong(),
        ] {
            assert_eq!((style.fg, style.bg), (None, None));
        }
    }

    #[test]
    fn text_on_every_indexed_swatch_can_be_read() {
        for index in 16..=255 {
            let colour = indexed(index);
            assert!(contrast(colour, ink_on(colour).colour()) >= 4.5, "{index}");
        }
    }

    #[test]
    fn coloured_text_can_be_read_on_light_and_on_dark() {
        for (colour, index, _) in [AWAY, WRONG] {
            for ground in [Srgb::new(0, 0, 0), Srgb::new(255, 255, 255)] {
                assert!(contrast(colour, ground) >= 4.5, "{colour} on {ground}");
                assert!(
                    contrast(indexed(index), ground) >= 4.4,
                    "{index} on {ground}"
                );
            }
        }
    }

    #[test]
    fn a_palette_colour_is_its_own_nearest() {
        for index in [16, 21, 46, 196, 231, 232, 244, 255] {
            assert_eq!(indexed(nearest_index(indexed(index))), indexed(index));
        }
    }
}
