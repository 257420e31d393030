//! Colours on this terminal. Every style on the screen comes from here.
//!
//! The colours of the states belong to xterm's fixed 240, so true colour and 256 colours show the
//! same. They stay distinguishable from each other and from the background even without one kind of
//! cone: the tests simulate that. Without reliable colours, attributes and signs distinguish the
//! states.

mod xterm;

#[cfg(test)]
mod tests;
#[cfg(test)]
mod vision;

use std::cell::RefCell;
use std::collections::HashMap;

use ratatui::style::{Color, Modifier, Style};
use serde::{Deserialize, Serialize};

use crate::engine::colour::{Ink, contrast, difference, ink_on};
use crate::model::colour::Srgb;

/// The number of colours the terminal shows.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Depth {
    /// Any colour.
    True,
    /// The 256 colours of xterm.
    #[serde(rename = "256")]
    Indexed,
    /// The sixteen ANSI colours, which the user can redefine. No swatch would be true, so none is
    /// shown.
    #[serde(rename = "16")]
    Sixteen,
    /// No colours.
    None,
}

impl Depth {
    /// Reads the terminal's environment: `NO_COLOR` set and not empty wins (no-color.org), then
    /// `CLICOLOR` set to 0 (bixense.com/clicolors), then `COLORTERM`, then `TERM`. `var` looks up a
    /// variable.
    #[must_use]
    pub fn detect(var: impl Fn(&str) -> Option<String>) -> Self {
        if Self::is_refused(&var) {
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

    /// Whether the environment asks every program not to use colours.
    #[must_use]
    pub fn is_refused(var: impl Fn(&str) -> Option<String>) -> bool {
        var("NO_COLOR").is_some_and(|value| !value.is_empty())
            || var("CLICOLOR").is_some_and(|value| value == "0")
    }
}

/// The kind of background.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Ground {
    /// Light text on dark.
    Dark,
    /// Dark text on light.
    Light,
}

impl Ground {
    /// Reads `COLORFGBG`, which some terminals set to the numbers of their text and background
    /// colour, such as `15;0` or `0;default;15`. Of the sixteen colours, 7 and those from 9 up are
    /// light (common practice, no source). Dark if unknown.
    #[must_use]
    pub fn detect(var: impl Fn(&str) -> Option<String>) -> Self {
        let said = var("COLORFGBG").unwrap_or_default();
        match said.rsplit(';').next().and_then(|n| n.parse::<u8>().ok()) {
            Some(7 | 9..=15) => Self::Light,
            _ => Self::Dark,
        }
    }
}

/// The characters for frames, gauges and cards.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Signs {
    /// Lines and blocks.
    #[default]
    Unicode,
    /// ASCII characters.
    Ascii,
}

impl Signs {
    /// Reads the locale from `LC_ALL`, else `LC_CTYPE`, else `LANG` (POSIX.1-2017, 8.2). ASCII if
    /// its encoding isn't UTF-8, and for Chinese, Japanese and Korean, whose terminals may draw
    /// lines and blocks two columns wide (Unicode Standard Annex #11, "ambiguous"). Unicode if
    /// unknown.
    #[must_use]
    pub fn detect(var: impl Fn(&str) -> Option<String>) -> Self {
        let said = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(|name| {
            let value = var(name)?;
            (!value.is_empty()).then(|| value.to_lowercase())
        });
        let Some(locale) = said else {
            return Self::Unicode;
        };
        let is_wide = ["zh", "ja", "ko"].iter().any(|&l| locale.starts_with(l));
        let is_utf8 = locale.contains("utf-8") || locale.contains("utf8");
        if is_wide || !is_utf8 {
            Self::Ascii
        } else {
            Self::Unicode
        }
    }
}

/// The colours and characters of the screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Theme {
    /// The number of colours.
    pub depth: Depth,
    /// The background.
    pub ground: Ground,
    /// The characters for frames, gauges and cards.
    pub signs: Signs,
}

/// The rendering of a thread's colour.
#[derive(Clone, Copy, Debug)]
struct Look {
    swatch: Option<Style>,
    gap: Option<Color>,
}

thread_local! {
    /// Cached, because a board has the same few hundred colours in every frame.
    static LOOKS: RefCell<HashMap<(Srgb, Depth, Ground), Look>> = RefCell::default();
    /// Cached colours for text and for lines.
    static MIXED: RefCell<HashMap<(Srgb, Depth, Ground, bool), Style>> = RefCell::default();
}

/// The colours for one background.
struct Palette {
    /// The background of the screen.
    ground: Srgb,
    /// The background of the status line and of the selected line of a list.
    raised: Srgb,
    /// Frames, and the empty part of a gauge.
    line: Srgb,
    /// Plain text.
    text: Srgb,
    /// Secondary text.
    muted: Srgb,
    /// The least important text.
    faint: Srgb,
    /// Enough of something.
    good: Srgb,
    /// Something away from home.
    away: Srgb,
    /// Errors.
    wrong: Srgb,
    /// The background of highlights.
    target: Srgb,
    /// From hot to cool: ever darker on a dark background, ever lighter on a light one.
    heat: [Srgb; 10],
    /// [`Self::away`] among the sixteen.
    sixteen_away: Color,
    /// [`Self::wrong`] among the sixteen.
    sixteen_wrong: Color,
}

const fn hex(rgb: u32) -> Srgb {
    let [_, r, g, b] = rgb.to_be_bytes();
    Srgb::new(r, g, b)
}

const DARK: Palette = Palette {
    ground: hex(0x1C_1C_1C),
    raised: hex(0x26_26_26),
    line: hex(0x4E_4E_4E),
    text: hex(0xEE_EE_EE),
    muted: hex(0xB2_B2_B2),
    good: hex(0x87_D7_87),
    faint: hex(0x94_94_94),
    away: hex(0xD7_87_FF),
    wrong: hex(0xFF_87_00),
    target: hex(0xFF_D7_5F),
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
    ground: hex(0xFF_FF_FF),
    raised: hex(0xEE_EE_EE),
    line: hex(0xBC_BC_BC),
    text: hex(0x1C_1C_1C),
    muted: hex(0x4E_4E_4E),
    good: hex(0x00_5F_00),
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
    /// A theme of this depth, for a dark background.
    #[must_use]
    pub const fn new(depth: Depth) -> Self {
        Self {
            depth,
            ground: Ground::Dark,
            signs: Signs::Unicode,
        }
    }

    const fn palette(self) -> &'static Palette {
        match self.ground {
            Ground::Dark => &DARK,
            Ground::Light => &LIGHT,
        }
    }

    /// A swatch with legible text (WCAG contrast of at least 4.5 with the colour as displayed).
    /// `None` if the terminal can't show one.
    #[must_use]
    pub fn swatch(&self, colour: Srgb) -> Option<Style> {
        self.look(colour).swatch
    }

    fn swatch_of(&self, colour: Srgb) -> Option<Style> {
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

    /// Text in a colour, and with an attribute if colours are few.
    fn coloured(self, any: Srgb, of_sixteen: Option<Color>, without: Modifier) -> Style {
        let style = Style::new();
        match (self.depth, of_sixteen) {
            (Depth::True, _) => style.fg(rgb(any)),
            (Depth::Indexed, _) => style.fg(Color::Indexed(xterm::nearest(any))),
            (Depth::Sixteen, Some(colour)) => style.fg(colour).add_modifier(without),
            (Depth::Sixteen | Depth::None, _) => style.add_modifier(without),
        }
    }

    /// A colour as a terminal of this depth shows it; `None` with sixteen colours or fewer.
    #[must_use]
    pub fn paint(&self, colour: Srgb) -> Option<Color> {
        match self.depth {
            Depth::True => Some(rgb(colour)),
            Depth::Indexed => Some(Color::Indexed(xterm::nearest(colour))),
            Depth::Sixteen | Depth::None => None,
        }
    }

    /// A colour as displayed.
    fn shown(&self, colour: Srgb) -> Srgb {
        match self.depth {
            Depth::Indexed => xterm::colour(xterm::nearest(colour)),
            _ => colour,
        }
    }

    /// Text in a colour, without a background.
    fn ink(&self, colour: Srgb) -> Style {
        self.paint(colour)
            .map_or_else(Style::new, |colour| Style::new().fg(colour))
    }

    /// The background with plain text on it. With few colours, both are the terminal's own.
    #[must_use]
    pub fn base(&self) -> Style {
        self.on(self.palette().ground)
    }

    /// The status line, and the line under the cursor in a list.
    #[must_use]
    pub fn raised(&self) -> Style {
        self.on(self.palette().raised)
    }

    /// The line under the cursor in a list: raised, or in reverse without colours for that.
    #[must_use]
    pub fn row(&self) -> Style {
        match self.gap() {
            Some(_) => self.raised().add_modifier(Modifier::BOLD),
            None => self.chosen(),
        }
    }

    fn on(&self, ground: Srgb) -> Style {
        let text = self.ink(self.palette().text);
        self.paint(ground).map_or(text, |ground| text.bg(ground))
    }

    /// The colour of the board between its cards; `None` if cards aren't filled.
    #[must_use]
    pub fn gap(&self) -> Option<Color> {
        self.paint(self.palette().ground)
    }

    /// The gap at the edge of a card of this colour: a line if the card looks too much like the
    /// board (CIEDE2000 below 5, a choice).
    #[must_use]
    pub fn gap_of(&self, colour: Srgb) -> Option<Color> {
        self.look(colour).gap
    }

    /// A thread's colour as text on the board: itself, or mixed with the text colour until it is
    /// legible (WCAG contrast of at least 4.5).
    #[must_use]
    pub fn legible(&self, colour: Srgb) -> Style {
        self.mixed(colour, 4.6)
    }

    /// A thread's colour as a line: itself, or mixed with the text colour until it is visible
    /// (contrast 1.5).
    #[must_use]
    pub fn visible(&self, colour: Srgb) -> Style {
        self.mixed(colour, 1.5)
    }

    /// A colour mixed with the text colour until it has this contrast with the board. Cached.
    fn mixed(&self, colour: Srgb, least: f64) -> Style {
        let palette = self.palette();
        MIXED.with_borrow_mut(|known| {
            let key = (colour, self.depth, self.ground, least > 2.0);
            *known.entry(key).or_insert_with(|| {
                let steps = (0..=8).map(|step| mix(colour, palette.text, f64::from(step) / 8.0));
                let found = steps
                    .into_iter()
                    .find(|&mixed| contrast(self.shown(mixed), palette.ground) >= least);
                self.ink(found.unwrap_or(palette.text))
            })
        })
    }

    /// The rendering of a colour: computed on first use, then looked up.
    fn look(&self, colour: Srgb) -> Look {
        LOOKS.with_borrow_mut(|known| {
            let key = (colour, self.depth, self.ground);
            *known.entry(key).or_insert_with(|| self.look_of(colour))
        })
    }

    fn look_of(&self, colour: Srgb) -> Look {
        let palette = self.palette();
        let gap = if difference(colour, palette.ground) < 5.0 {
            palette.line
        } else {
            palette.ground
        };
        Look {
            swatch: self.swatch_of(colour),
            gap: self.paint(gap),
        }
    }

    /// The colour of a card that a walk doesn't involve, faded into the board.
    #[must_use]
    pub fn sunk(&self, colour: Srgb) -> Srgb {
        mix(colour, self.palette().ground, 0.72)
    }

    /// Secondary text.
    #[must_use]
    pub fn muted(&self) -> Style {
        self.ink(self.palette().muted)
    }

    /// Frames, and the empty part of a gauge: no text.
    #[must_use]
    pub fn line(&self) -> Style {
        self.coloured(self.palette().line, None, Modifier::DIM)
    }

    /// Enough of something.
    #[must_use]
    pub fn good(&self) -> Style {
        self.coloured(self.palette().good, Some(Color::Green), Modifier::empty())
    }

    /// Focus, keys and the cursor.
    #[must_use]
    pub fn accent(&self) -> Style {
        self.ink(self.palette().target).add_modifier(Modifier::BOLD)
    }

    /// Headings.
    #[must_use]
    pub fn strong(&self) -> Style {
        self.ink(self.palette().text).add_modifier(Modifier::BOLD)
    }

    /// The least important text.
    #[must_use]
    pub fn faint(&self) -> Style {
        self.coloured(self.palette().faint, None, Modifier::DIM)
    }

    /// Highlights.
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

    /// A card that is missing or on a wrong hook, and errors.
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

    /// The selected line of a list.
    #[must_use]
    pub fn chosen(&self) -> Style {
        Style::new().add_modifier(Modifier::REVERSED)
    }

    /// The colour of a step of the heat view, 0 the hottest and 9 the coolest; more counts as 9.
    #[must_use]
    pub fn heat_colour(&self, step: u8) -> Srgb {
        let heat = &self.palette().heat;
        heat[usize::from(step).min(heat.len() - 1)]
    }

    /// A step of the heat view, 0 the hottest and 9 the coolest; more counts as 9. Without
    /// swatches, only the four hottest stand out and the digit shows the rest.
    #[must_use]
    pub fn heat(&self, step: u8) -> Style {
        self.swatch(self.heat_colour(step))
            .unwrap_or_else(|| match step {
                0 | 1 => self.wrong(),
                2 | 3 => self.away(),
                _ => Style::new(),
            })
    }
}

/// A colour between two others, with a share from 0 to 1, interpolated per sRGB channel.
fn mix(from: Srgb, to: Srgb, share: f64) -> Srgb {
    let channel = |from: u8, to: u8| {
        let mixed = f64::from(from) + (f64::from(to) - f64::from(from)) * share;
        // Between two 8-bit values.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let mixed = mixed.round() as u8;
        mixed
    };
    Srgb::new(
        channel(from.r, to.r),
        channel(from.g, to.g),
        channel(from.b, to.b),
    )
}

const fn rgb(colour: Srgb) -> Color {
    Color::Rgb(colour.r, colour.g, colour.b)
}
