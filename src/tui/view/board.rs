//! The grid of hooks.

use std::borrow::Cow;

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use super::regions::{EDGE, Regions};
use super::text::{fit, pad, wrap};
use crate::model::board::{Board, HookRef};
use crate::stash::state::State;
use crate::tui::app::{App, Zoom};
use crate::tui::heat::Heat;
use crate::tui::layout::{self, Grid};
use crate::tui::spot::{BoardView, HookStatus, HookView};
use crate::tui::theme::Theme;

/// Draws the board that is looked at, or how to begin where there is none.
pub(super) fn draw(app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
    let Some(board) = app.board(state) else {
        no_board(app, frame, area);
        return;
    };
    let grid = layout::grid(state, board, &app.eye, area);
    let look = BoardView::new(app, state);
    let regions = Regions::new(&look, state, board, &grid);
    let buffer = frame.buffer_mut();
    marks(app, &grid, Some((app.eye.row, app.eye.column)), buffer);
    regions.names_beside(app, &grid, buffer);
    for row in grid.top..grid.top + grid.rows {
        for column in grid.left..grid.left + grid.columns {
            let hook = board.hook(row, column);
            if let Some(cell) = grid.cell(row, column) {
                Cell {
                    theme: &app.theme,
                    heat: look.heat(),
                    number: number(state, &look.spot(hook)),
                    spot: look.spot(hook),
                    begins: regions.begins(hook),
                    emphasis: emphasis(app, &look, hook),
                    mark: board.hook_name(hook),
                }
                .draw(grid.zoom, cell.intersection(area), buffer);
            }
        }
    }
    regions.names_across(&grid, buffer);
}

/// How to begin on an empty stash.
fn no_board(app: &App, frame: &mut Frame<'_>, area: Rect) {
    let width = usize::from(area.width).saturating_sub(4);
    let mut lines = vec![Line::default()];
    let mut say = |text: &str, style| {
        for line in wrap(text, width) {
            lines.push(Line::styled(format!("  {line}"), style));
        }
        lines.push(Line::default());
    };
    say("There is no board yet.", app.theme.strong());
    say(
        "Press W for the first steps: the board, your list, and hanging the cards.",
        Style::new(),
    );
    say(
        "Press ? for all keys, q to leave. Everything is saved as you go.",
        Style::new(),
    );
    frame.render_widget(Paragraph::new(lines), area);
}

/// Row letters and column numbers, the cursor's in bold.
pub(super) fn marks(app: &App, grid: &Grid, cursor: Option<(u16, u16)>, buffer: &mut Buffer) {
    let style = |here: bool| {
        if here {
            app.theme.target()
        } else {
            app.theme.faint()
        }
    };
    for column in grid.left..grid.left + grid.columns {
        if let Some(cell) = grid.cell(grid.top, column) {
            let number = format!("{:02}", u32::from(column) + 1);
            let text = fit(&number, usize::from(grid.cell_width));
            let here = cursor.is_some_and(|(_, at)| column == at);
            // Side by side without a gap they could not be told apart.
            if grid.cell_width < 3 && column % 2 == 1 && !here {
                continue;
            }
            buffer.set_string(cell.x, grid.area.y, text, style(here));
        }
    }
    for row in grid.top..grid.top + grid.rows {
        if let Some(cell) = grid.cell(row, grid.left)
            && cell.y < grid.area.bottom()
        {
            let here = cursor.is_some_and(|(at, _)| row == at);
            buffer.set_string(grid.area.x, cell.y, Board::row_letters(row), style(here));
        }
    }
}

/// Why the eye should go to a hook.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Emphasis {
    None,
    Cursor,
    Target,
    Source,
}

fn emphasis(app: &App, look: &BoardView<'_>, hook: HookRef) -> Emphasis {
    if look.target == Some(hook) {
        Emphasis::Target
    } else if look.source == Some(hook) {
        Emphasis::Source
    } else if (hook.row, hook.column) == (app.eye.row, app.eye.column) {
        Emphasis::Cursor
    } else {
        Emphasis::None
    }
}

impl Emphasis {
    /// The characters around the hook's first line.
    const fn brackets(self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::None => None,
            Self::Cursor => Some(("[", "]")),
            Self::Target => Some((">", "<")),
            Self::Source => Some(("(", ")")),
        }
    }
}

/// The number of the card of a hook, with its tag.
fn number<'a>(state: &'a State, spot: &HookView<'a>) -> Cow<'a, str> {
    let card = spot.card.map(|kept| state.number_and_tag(kept));
    card.unwrap_or_default()
}

/// One hook on the screen.
struct Cell<'a> {
    theme: &'a Theme,
    heat: Heat,
    spot: HookView<'a>,
    /// The name of the family that begins here.
    begins: Option<&'a str>,
    emphasis: Emphasis,
    mark: String,
    /// The number of its card, with its tag; empty without a card.
    number: Cow<'a, str>,
}

impl Cell<'_> {
    fn draw(&self, zoom: Zoom, area: Rect, buffer: &mut Buffer) {
        if area.is_empty() {
            return;
        }
        let style = self.style();
        // A line under blanks would make bars of the cells.
        let blank = style.remove_modifier(Modifier::UNDERLINED);
        let width = usize::from(area.width);
        let lines = match zoom {
            Zoom::Far => self.far(width, area.height),
            Zoom::Middle => self.middle(width, area.height),
            Zoom::Near => self.near(width, area.height),
        };
        for (line, y) in lines.iter().zip(area.y..area.bottom()) {
            let text = pad(line, width);
            let words = text.trim_matches(' ');
            buffer.set_string(area.x, y, &text, blank);
            if style != blank && !words.is_empty() {
                let before = text.len() - text.trim_start_matches(' ').len();
                // Blanks are one column wide, and there are no more of them than columns.
                let before = u16::try_from(before).unwrap_or(area.width);
                buffer.set_string(area.x + before, y, words, style);
            }
        }
        if self.begins.is_some() {
            for y in area.y..area.bottom() {
                buffer.set_string(area.x, y, EDGE, blank);
            }
        }
        // A card that does not hang there leaves a stripe of its colour.
        let card = self.spot.card.filter(|_| self.heat == Heat::Off);
        let stripe = card.and_then(|kept| kept.card.colour);
        if let Some(stripe) = stripe.and_then(|colour| self.theme.swatch(colour))
            && style.bg.is_none()
        {
            buffer.set_style(Rect { width: 1, ..area }, stripe);
        }
        if let Some((open, close)) = self.emphasis.brackets() {
            let strong = match self.emphasis {
                Emphasis::Cursor => blank.add_modifier(Modifier::BOLD),
                _ => self.theme.target(),
            };
            buffer.set_string(area.x, area.y, open, strong);
            buffer.set_string(area.right() - 1, area.y, close, strong);
        }
    }

    /// A card that hangs there, or comes or goes, fills its swatch; every other state shows a
    /// stripe of it. In the heat view the cards it is about fill their degree, and others step back.
    fn style(&self) -> Style {
        if let Some(degree) = self.spot.heat {
            return self.theme.heat(self.heat.step(degree));
        }
        if self.heat != Heat::Off && self.spot.card.is_some() {
            return self.theme.faint();
        }
        let colour = self.spot.card.and_then(|kept| kept.card.colour);
        let swatch = colour.and_then(|colour| self.theme.swatch(colour));
        match (self.spot.shape, swatch) {
            (
                HookStatus::Home | HookStatus::Held | HookStatus::Coming | HookStatus::Leaving,
                Some(swatch),
            ) => swatch,
            (
                HookStatus::Home | HookStatus::Held | HookStatus::Coming | HookStatus::Leaving,
                None,
            ) => Style::new(),
            (HookStatus::Fits, _) => self.theme.target(),
            (HookStatus::Free | HookStatus::Reserved | HookStatus::Blocked, _) => {
                self.theme.faint()
            }
            (HookStatus::Missing | HookStatus::Stranger, _) => self.theme.wrong(),
            (HookStatus::Out | HookStatus::Hanging | HookStatus::Elsewhere, _) => self.theme.away(),
        }
    }

    /// The state in one character, or its degree in the heat view; a space where the swatch says it
    /// all.
    fn glyph(&self) -> char {
        let swatch_shows = self.style().bg.is_some();
        match (self.spot.shape, self.spot.heat) {
            _ if self.spot.chosen => '*',
            (_, Some(degree)) => degree.digit(),
            (HookStatus::Home, None) if swatch_shows => ' ',
            (shape, None) => shape.glyph(),
        }
    }

    /// The first column is for the edge of a family, and for the stripe of a card that does not
    /// hang there.
    fn far(&self, width: usize, height: u16) -> Vec<String> {
        let more = if self.spot.count > 1 { "+" } else { "" };
        let sign = match self.glyph() {
            // Without swatches a full hook fills its cell, so that regions show.
            '#' if self.heat == Heat::Off => "#".repeat(width.saturating_sub(1)),
            glyph => format!("{glyph}{more}"),
        };
        let mut lines = vec![format!(" {sign}")];
        lines.resize(usize::from(height), String::new());
        lines
    }

    fn number(&self) -> &str {
        self.number.as_ref()
    }

    fn middle(&self, width: usize, height: u16) -> Vec<String> {
        // The state stands in a column of its own, and the cursor's brackets outside both.
        let room = width.saturating_sub(3);
        let first = format!(" {}{}", pad(self.number(), room), self.glyph());
        let mut lines = vec![first];
        if height > 1 {
            let amount = self
                .spot
                .card
                .map(|kept| self.spot.put_up.show(kept.strands()).to_string());
            let more = match self.spot.count {
                0 | 1 => String::new(),
                n => format!(" +{}", n - 1),
            };
            lines.push(format!(" {}{more}", amount.unwrap_or_default()));
        }
        self.fill(lines, width, height)
    }

    fn near(&self, width: usize, height: u16) -> Vec<String> {
        let glyph = self.glyph();
        let room = width.saturating_sub(self.mark.len() + 5);
        let first = format!(" {glyph} {} {} ", pad(self.number(), room), self.mark);
        let inner = width.saturating_sub(2);
        let name = self.spot.card.map_or("", |kept| kept.card.name.as_str());
        let mut name = wrap(name, inner);
        name.truncate(usize::from(height.saturating_sub(2)).max(1));
        let amount = match (self.spot.card, self.spot.count) {
            (Some(kept), 0 | 1) => format!(
                "{strands} left",
                strands = self.spot.put_up.show(kept.strands())
            ),
            (Some(_), n) => format!("{n} cards"),
            (None, _) => String::new(),
        };
        let mut lines = vec![first];
        lines.extend(name.iter().map(|line| format!(" {line}")));
        lines.push(format!(" {}", fit(&amount, inner)));
        self.fill(lines, width, height)
    }

    /// Fills up with blank lines, so that rows of swatches read as a ramp; the last one names the
    /// family that begins here.
    fn fill(&self, mut lines: Vec<String>, width: usize, height: u16) -> Vec<String> {
        let height = usize::from(height);
        let full = lines.len() >= height;
        lines.resize(height, String::new());
        if let (Some(name), Some(last), false) = (self.begins, lines.last_mut(), full) {
            *last = format!(" {}", fit(name, width.saturating_sub(1)));
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::range::PutUp;
    use crate::tui::theme::{Depth, Ground};
    use std::collections::HashSet;

    /// What is left of a style where the colours of the terminal are all alike.
    fn attributes(style: Style) -> Modifier {
        style.add_modifier
    }

    #[test]
    fn no_two_states_have_the_same_sign_and_the_same_attributes() {
        for depth in [Depth::Sixteen, Depth::None] {
            for ground in [Ground::Dark, Ground::Light] {
                let theme = Theme { depth, ground };
                let mut seen = HashSet::new();
                for shape in HookStatus::ALL {
                    let cell = Cell {
                        theme: &theme,
                        heat: Heat::Off,
                        spot: HookView {
                            card: None,
                            put_up: PutUp::default(),
                            count: 1,
                            shape,
                            chosen: false,
                            heat: None,
                        },
                        begins: None,
                        emphasis: Emphasis::None,
                        mark: "A01".to_owned(),
                        number: Cow::Borrowed(""),
                    };
                    let look = (cell.glyph(), attributes(cell.style()));
                    assert!(seen.insert(look), "{shape:?} in {theme:?}");
                }
            }
        }
    }
}
