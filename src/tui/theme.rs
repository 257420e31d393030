//! How colours come out on this terminal. Every style on the screen comes from here.
//!
//! The colours of the states are of the fixed 240 of xterm, so true colour and 256 colours show the
//! same. They stay apart, and from the background, for eyes without one kind of cone: the tests
//! simulate that. Where colours cannot be counted on, attributes and signs tell the states apart.

mod xterm;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod vision;

use ratatui::style::{Color, Modifier, Style};

use crate::engine::colour::{Ink, ink_on};
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
    /// Reads the terminal's environment: `NO_COLOR` set and not empty wins (no-color.org), then
    /// `CLICOLOR` set to 0 (bixense.com/clicolors), then `COLORTERM`, then `TERM`. `var` answers
    /// what a variable is set to.
    #[must_use]
    pub fn detect(var: impl Fn(&str) -> Option<String>) -> Self {
        if var("NO_COLOR").is_some_and(|value| !value.is_empty())
            || var("CLICOLOR").is_some_and(|value| value == "0")
        {
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

/// What the terminal's background is like.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Ground {
    /// Light text on dark.
    Dark,
    /// Dark text on light.
    Light,
}

impl Ground {
    /// Reads `COLORFGBG`, which some terminals set to the numbers of their text and background
    /// colour, such as `15;0` or `0;default;15`: of the sixteen colours 7 and from 9 on are light
    /// (common practice, no source). Dark where nothing is said.
    #[must_use]
    pub fn detect(var: impl Fn(&str) -> Option<String>) -> Self {
        let said = var("COLORFGBG").unwrap_or_default();
        match said.rsplit(';').next().and_then(|n| n.parse::<u8>().ok()) {
            Some(7 | 9..=15) => Self::Light,
            _ => Self::Dark,
        }
    }
}

/// What the user wants; `None` leaves it to the terminal's environment.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Wish {
    /// How many colours.
    pub depth: Option<Depth>,
    /// For what background.
    pub ground: Option<Ground>,
}

impl Wish {
    /// The theme: what was wished, else what the environment tells. A wish beats `NO_COLOR`, as
    /// no-color.org asks of what a user says to one program.
    #[must_use]
    pub fn theme(self, var: impl Fn(&str) -> Option<String>) -> Theme {
        Theme {
            depth: self.depth.unwrap_or_else(|| Depth::detect(&var)),
            ground: self.ground.unwrap_or_else(|| Ground::detect(&var)),
        }
    }
}

/// How colours come out. Plain text keeps the terminal's own colours.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Theme {
    /// How many colours there are.
    pub depth: Depth,
    /// What they are shown on.
    pub ground: Ground,
}

/// The colours for one background.
struct Palette {
    /// What matters less.
    faint: Srgb,
    /// What is away.
    away: Srgb,
    /// What went wrong.
    wrong: Srgb,
    /// Behind what the eye should go to.
    target: Srgb,
    /// From hot to cool; ever darker on a dark ground, ever lighter on a light one.
    heat: [Srgb; 10],
    /// [`Self::away`] of the sixteen.
    sixteen_away: Color,
    /// [`Self::wrong`] of the sixteen.
    sixteen_wrong: Color,
}

const fn hex(rgb: u32) -> Srgb {
    let [_, r, g, b] = rgb.to_be_bytes();
    Srgb::new(r, g, b)
}

const DARK: Palette = Palette {
    faint: hex(0x94_94_94),
    away: hex(0xD7_87_FF),
    wrong: hex(0xFF_87_00),
    target: hex(0xFF_D7_00),
    heat: [
        hex(0xFF_FF_AF),
        hex(0xFF_D7_5F),
        hex(0xFF_AF_00),
        hex(0xFF_87_00),
        hex(0xFF_5F_5F),
        hex(0xFF_00_5F),
        hex(0xD7_00_87),
        hex(0x87_00_AF),
        hex(0x5F_00_87),
        hex(0x00_00_5F),
    ],
    sixteen_away: Color::LightMagenta,
    sixteen_wrong: Color::LightRed,
};

const LIGHT: Palette = Palette {
    faint: hex(0x6C_6C_6C),
    away: hex(0x87_00_AF),
    wrong: hex(0xAF_00_00),
    target: hex(0x00_5F_AF),
    heat: [
        hex(0x5F_00_00),
        hex(0x87_00_00),
        hex(0xAF_00_00),
        hex(0xD7_00_00),
        hex(0xFF_00_5F),
        hex(0xFF_5F_5F),
        hex(0xFF_87_5F),
        hex(0xFF_AF_87),
        hex(0xFF_D7_AF),
        hex(0xFF_FF_D7),
    ],
    sixteen_away: Color::Magenta,
    sixteen_wrong: Color::Red,
};

impl Theme {
    /// A theme of a depth, for a dark background.
    #[must_use]
    pub const fn new(depth: Depth) -> Self {
        Self {
            depth,
            ground: Ground::Dark,
        }
    }

    const fn palette(self) -> &'static Palette {
        match self.ground {
            Ground::Dark => &DARK,
            Ground::Light => &LIGHT,
        }
    }

    /// A swatch with text on it that can be read (WCAG contrast of at least 4.5, with the colour
    /// that is really shown). `None` where the terminal cannot show one.
    #[must_use]
    pub fn swatch(&self, colour: Srgb) -> Option<Style> {
        let (ground, ink) = match self.depth {
            Depth::True => {
                let ink = ink_on(colour).colour();
                (rgb(colour), rgb(ink))
            }
            Depth::Indexed => {
                let index = xterm::nearest(colour);
                let ink = match ink_on(xterm::colour(index)) {
                    Ink::Black => 16,
                    Ink::White => 231,
                };
                (Color::Indexed(index), Color::Indexed(ink))
            }
            Depth::Sixteen | Depth::None => return None,
        };
        Some(Style::new().bg(ground).fg(ink))
    }

    /// Text in a colour of its own, and of an attribute of its own where colours are few.
    fn coloured(self, any: Srgb, of_sixteen: Option<Color>, without: Modifier) -> Style {
        let style = Style::new();
        match (self.depth, of_sixteen) {
            (Depth::True, _) => style.fg(rgb(any)),
            (Depth::Indexed, _) => style.fg(Color::Indexed(xterm::nearest(any))),
            (Depth::Sixteen, Some(colour)) => style.fg(colour).add_modifier(without),
            (Depth::Sixteen | Depth::None, _) => style.add_modifier(without),
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
        self.coloured(self.palette().faint, None, Modifier::DIM)
    }

    /// What the eye should go to.
    #[must_use]
    pub fn target(&self) -> Style {
        self.swatch(self.palette().target)
            .unwrap_or_else(|| Style::new().add_modifier(Modifier::REVERSED))
            .add_modifier(Modifier::BOLD)
    }

    /// A card that is out or somewhere else.
    #[must_use]
    pub fn away(&self) -> Style {
        let palette = self.palette();
        self.coloured(palette.away, Some(palette.sixteen_away), Modifier::empty())
            .add_modifier(Modifier::BOLD)
    }

    /// A card that is missing or on a wrong hook, and what else went wrong.
    #[must_use]
    pub fn wrong(&self) -> Style {
        let palette = self.palette();
        self.coloured(
            palette.wrong,
            Some(palette.sixteen_wrong),
            Modifier::UNDERLINED,
        )
        .add_modifier(Modifier::BOLD)
    }

    /// The line chosen in a list.
    #[must_use]
    pub fn chosen(&self) -> Style {
        Style::new().add_modifier(Modifier::REVERSED)
    }

    /// A step of the heat view, 0 the hottest and 9 the coolest; more counts as 9. Where no swatch
    /// can be shown the four hottest stand out and the digit tells the rest.
    #[must_use]
    pub fn heat(&self, step: u8) -> Style {
        let heat = &self.palette().heat;
        let colour = heat[usize::from(step).min(heat.len() - 1)];
        self.swatch(colour).unwrap_or_else(|| match step {
            0 | 1 => self.wrong(),
            2 | 3 => self.away(),
            _ => Style::new(),
        })
    }
}

const fn rgb(colour: Srgb) -> Color {
    Color::Rgb(colour.r, colour.g, colour.b)
}
