//! One hook on the screen: a card with the colour of its thread, or what stands there in its place.

use std::borrow::Cow;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};
use unicode_width::UnicodeWidthStr;

use super::text::{fit, fit_end, put_within, wrap};
use crate::model::colour::Srgb;
use crate::tui::theme::Theme;

/// How much of a hook the thread's colour takes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Fill {
    /// All of it: a card hangs there.
    Card(Srgb),
    /// A line at the foot: the card that belongs there is somewhere else.
    Line(Srgb),
    /// Nothing: no card, or one without a colour.
    None,
}

/// What the edge of a card says. The thread's colour is never painted over.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Edge {
    /// Nothing.
    Plain,
    /// It is selected.
    Selected,
    /// The cursor is on it.
    Cursor,
    /// A walk leads to it.
    Target,
    /// A card comes from it.
    Source,
    /// A card landed there a moment ago: for that moment the hook is all light.
    Landed,
}

impl Edge {
    /// The characters about the hook's first line.
    const fn brackets(self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::Plain | Self::Selected | Self::Landed => None,
            Self::Cursor => Some(("[", "]")),
            Self::Target => Some((">", "<")),
            Self::Source => Some(("(", ")")),
        }
    }
}

/// Draws a sign of one column, if the place is on the screen. A wall has thousands of them, so nothing is measured.
fn sign(buffer: &mut Buffer, (x, y): (u16, u16), letter: &str, style: Style) {
    if let Some(cell) = buffer.cell_mut((x, y)) {
        cell.set_symbol(letter).set_style(style);
    }
}

/// A hook.
#[derive(Clone, Debug)]
pub struct Cell<'a> {
    /// How colours come out.
    pub theme: &'a Theme,
    /// What the thread's colour takes.
    pub fill: Fill,
    /// The number, or the name of a ring; empty without a card.
    pub number: Cow<'a, str>,
    /// Whether it is a number: where it is too long its end is kept, since neighbours on the wall begin alike.
    pub is_number: bool,
    /// How the number is written where no colour fills the hook.
    pub ink: Style,
    /// The one sign of its state, and how it is written where no colour fills the hook.
    pub sign: Option<(char, Style)>,
    /// What the thread is called, for a hook with room for it.
    pub name: &'a str,
    /// What is on it, likewise.
    pub amount: Cow<'a, str>,
    /// What its edge says.
    pub edge: Edge,
    /// Whether it steps back for others.
    pub sunk: bool,
}

impl Cell<'_> {
    /// Draws it in an area, which is one column less than `width` where the gap after it is cut off.
    pub fn draw(&self, area: Rect, width: u16, buffer: &mut Buffer) {
        if area.is_empty() {
            return;
        }
        let inner = if width >= 3 {
            area.width.min(width - 1)
        } else {
            area.width
        };
        let style = self.fill(area, inner, buffer);
        self.words(area, width, inner, style, buffer);
        if self.edge == Edge::Landed {
            let light = self.theme.accent().add_modifier(Modifier::REVERSED);
            let base = self.theme.base();
            buffer.set_style(
                Rect {
                    width: inner,
                    ..area
                },
                base.patch(light),
            );
        }
    }

    /// Fills the hook and gives the style of what is written on it.
    fn fill(&self, area: Rect, inner: u16, buffer: &mut Buffer) -> Style {
        let last = area.bottom() - 1;
        match self.fill {
            Fill::Card(colour) => {
                let colour = if self.sunk {
                    self.theme.sunk(colour)
                } else {
                    colour
                };
                let Some(style) = self.theme.swatch(colour) else {
                    return self.ink;
                };
                buffer.set_style(area, style);
                let Some(gap) = self.gap(colour) else {
                    return style;
                };
                let edge = style.fg(gap);
                if inner < area.width {
                    for y in area.y..area.bottom() {
                        sign(buffer, (area.x + inner, y), "▐", edge);
                    }
                }
                if area.height >= 2 {
                    for x in area.x..area.x + inner {
                        sign(buffer, (x, last), "▄", edge);
                    }
                    if inner < area.width {
                        sign(buffer, (area.x + inner, last), "▟", edge);
                    }
                }
                style
            }
            Fill::Line(colour) => {
                let line = if self.sunk {
                    self.theme.sunk(colour)
                } else {
                    colour
                };
                if area.height >= 2 && self.theme.gap().is_some() {
                    let line = match self.edge {
                        Edge::Plain | Edge::Source => self.theme.visible(line),
                        _ => self.theme.accent(),
                    };
                    for x in area.x..area.x + inner {
                        sign(buffer, (x, last), "▔", line);
                    }
                }
                self.ink
            }
            Fill::None => self.ink,
        }
    }

    /// The colour of the gap about a card.
    fn gap(&self, colour: Srgb) -> Option<Color> {
        match self.edge {
            Edge::Plain | Edge::Source if self.sunk => self.theme.gap(),
            Edge::Plain | Edge::Source => self.theme.gap_of(colour),
            Edge::Selected => self.theme.base().fg,
            Edge::Cursor | Edge::Target | Edge::Landed => self.theme.accent().fg,
        }
    }

    /// Writes the number with its sign, and where there is room the name and what is left.
    fn words(&self, area: Rect, width: u16, inner: u16, style: Style, buffer: &mut Buffer) {
        let filled = style.bg.is_some();
        let all = usize::from(area.width);
        // Where the gap is cut off, a card's line and the colour of its number tell its state, and its number
        // stays whole.
        let told = area.width < width
            && self.number.width() == all
            && matches!(self.fill, Fill::Line(_))
            && self.theme.gap().is_some();
        let told_by = self.sign.filter(|_| !told);
        // The sign comes after the number, in the gap if need be.
        let room = all - usize::from(told_by.is_some() && all > 1);
        let number = match self.is_number {
            true => fit_end(&self.number, room),
            false => fit(&self.number, all),
        };
        let used = u16::try_from(number.width()).unwrap_or(area.width);
        put_within(buffer, (area.x, area.y), &number, all, style);
        if let Some((letter, own)) = told_by {
            let at = used.min(area.width - 1);
            let style = if filled && at < inner {
                style.add_modifier(Modifier::BOLD)
            } else {
                own
            };
            let mut letters = [0; 4];
            let letter: &str = letter.encode_utf8(&mut letters);
            if at == inner && filled {
                // The gap is the board's.
                let ground = self.theme.base();
                sign(buffer, (area.x + at, area.y), letter, ground.patch(style));
            } else {
                sign(buffer, (area.x + at, area.y), letter, style);
            }
        }
        if area.height < 3 || inner < 8 {
            return;
        }
        let more = area.height - 2;
        let words = usize::from(inner);
        let names = if area.height >= 4 { more - 1 } else { more };
        let mut lines = wrap(self.name, words);
        if lines.len() > usize::from(names) {
            let rest = lines.split_off(usize::from(names) - 1).join(" ");
            lines.push(rest);
        }
        let name = if filled { style } else { self.theme.muted() };
        for (line, y) in lines.iter().zip(area.y + 1..) {
            put_within(buffer, (area.x, y), fit(line, words), words, name);
        }
        if area.height >= 4 {
            let amount = fit(&self.amount, words);
            put_within(buffer, (area.x, area.bottom() - 2), amount, words, name);
        }
    }

    /// Draws the brackets about it, over the gaps of its neighbours; to be done when they are all there.
    pub fn brackets(&self, area: Rect, width: u16, buffer: &mut Buffer) {
        let Some((open, close)) = self.edge.brackets() else {
            return;
        };
        if area.is_empty() {
            return;
        }
        let style = self.theme.base().patch(self.theme.accent());
        let left = area.x.saturating_sub(1);
        sign(buffer, (left, area.y), open, style);
        let right = area.x + width.min(area.width).saturating_sub(1);
        sign(buffer, (right, area.y), close, style);
    }
}
