//! One hook on the screen: a card in the colour of its thread, or whatever takes its place.

use std::borrow::Cow;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};
use unicode_width::UnicodeWidthStr;

use super::text::{fit, fit_end, put_within, wrap};
use crate::model::colour::Srgb;
use crate::tui::theme::Theme;

/// The part of a hook filled with the thread's colour.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Fill {
    /// All of it: a card hangs there.
    Card(Srgb),
    /// A line at the bottom: the card that belongs there is elsewhere.
    Line(Srgb),
    /// Nothing: no card, or one without a colour.
    None,
}

/// The highlight at the edge of a card. It never covers the thread's colour.
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
    /// A card just landed there; the whole hook lights up for a moment.
    Landed,
}

impl Edge {
    /// The brackets around the hook's first line.
    const fn brackets(self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::Plain | Self::Selected | Self::Landed => None,
            Self::Cursor => Some(("[", "]")),
            Self::Target => Some((">", "<")),
            Self::Source => Some(("(", ")")),
        }
    }
}

/// Draws a one-column sign if it is on the screen. A wall has thousands of them, so this doesn't
/// measure widths.
fn sign(buffer: &mut Buffer, (x, y): (u16, u16), letter: &str, style: Style) {
    if let Some(cell) = buffer.cell_mut((x, y)) {
        cell.set_symbol(letter).set_style(style);
    }
}

/// A hook.
#[derive(Clone, Debug)]
pub struct Cell<'a> {
    /// The theme.
    pub theme: &'a Theme,
    /// The part filled with the thread's colour.
    pub fill: Fill,
    /// The number, or the name of a ring; empty without a card.
    pub number: Cow<'a, str>,
    /// Whether it is a number. If it is too long its end is kept, because neighbours on the wall
    /// begin alike.
    pub is_number: bool,
    /// The style of the number if no colour fills the hook.
    pub ink: Style,
    /// The single sign of its state, with its style if no colour fills the hook.
    pub sign: Option<(char, Style)>,
    /// The thread's name, for a hook with space for it.
    pub name: &'a str,
    /// The amount, for a hook with space for it.
    pub amount: Cow<'a, str>,
    /// The highlight at its edge.
    pub edge: Edge,
    /// Whether it is dimmed in favour of others.
    pub sunk: bool,
}

impl Cell<'_> {
    /// Draws it in an area, which is one column narrower than `width` if the gap after it is cut
    /// off.
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

    /// Fills the hook and returns the style of text on it.
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

    /// The colour of the gap around a card.
    fn gap(&self, colour: Srgb) -> Option<Color> {
        match self.edge {
            Edge::Plain | Edge::Source if self.sunk => self.theme.gap(),
            Edge::Plain | Edge::Source => self.theme.gap_of(colour),
            Edge::Selected => self.theme.base().fg,
            Edge::Cursor | Edge::Target | Edge::Landed => self.theme.accent().fg,
        }
    }

    /// Writes the number with its sign, and the name and amount if there is space.
    fn words(&self, area: Rect, width: u16, inner: u16, style: Style, buffer: &mut Buffer) {
        let filled = style.bg.is_some();
        let all = usize::from(area.width);
        // If the gap is cut off, the line and the number's colour show the state, so the number
        // stays whole.
        let told = area.width < width
            && self.number.width() == all
            && matches!(self.fill, Fill::Line(_))
            && self.theme.gap().is_some();
        let told_by = self.sign.filter(|_| !told);
        // The sign follows the number, in the gap if necessary.
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
                // The gap belongs to the board.
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

    /// Draws its brackets over the gaps of its neighbours; call this once all hooks are drawn.
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
