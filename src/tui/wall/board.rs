//! The wall of hooks.

use crate::model::ids::FamilyId;
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use crate::model::board::{Board, HookRef};
use crate::model::label::Label;
use crate::stash::state::State;
use crate::tui::app::derived::Cards;
use crate::tui::app::{App, Zoom};
use crate::tui::heat::Heat;
use crate::tui::layout::Grid;
use crate::tui::wall::{BoardView, HookStatus, HookView};
use crate::tui::widgets::cell::{Cell, Edge, Fill};
use crate::tui::widgets::text::{fit, put, wrap};

/// Draws the current board.
pub(in crate::tui) fn draw(
    app: &App,
    state: &State,
    look: &BoardView<'_>,
    grid: &Grid,
    frame: &mut Frame<'_>,
) {
    let Some(board) = app.board(state) else {
        return;
    };
    let buffer = frame.buffer_mut();
    marks(app, grid, Some((app.eye.row, app.eye.column)), buffer);
    if !look.sinks {
        families(app, look, state, board, grid, buffer);
    }
    let hooks = (grid.top..grid.top + grid.rows).flat_map(|row| {
        let columns = grid.left..grid.left + grid.columns;
        columns.map(move |column| (row, column))
    });
    let mut marked = Vec::new();
    for (row, column) in hooks {
        let hook = board.hook(row, column);
        let Some(area) = grid.cell(row, column) else {
            continue;
        };
        let cell = cell(app, state, look, hook, grid.zoom);
        cell.draw(area, grid.cell_width, buffer);
        if !matches!(cell.edge, Edge::Plain | Edge::Selected) {
            marked.push((cell, area));
        }
    }
    for (cell, area) in marked {
        cell.brackets(area, grid.cell_width, buffer);
    }
}

/// A preview of a wall: a board being edited, or only proposed.
#[derive(Clone, Copy, Debug)]
pub(in crate::tui) struct Wall<'a> {
    /// The cards on it, by row and column.
    pub cards: &'a Cards,
    /// The blocked hooks, with their reasons.
    pub blocked: &'a BTreeMap<(u16, u16), Label>,
    /// The hook under the cursor, if any.
    pub cursor: Option<(u16, u16)>,
}

/// Draws it.
pub(in crate::tui) fn wall(
    app: &App,
    state: &State,
    wall: &Wall<'_>,
    grid: &Grid,
    buffer: &mut Buffer,
) {
    marks(app, grid, wall.cursor, buffer);
    let mut marked = None;
    for row in grid.top..grid.top + grid.rows {
        for column in grid.left..grid.left + grid.columns {
            let at = (row, column);
            let Some(area) = grid.cell(row, column) else {
                continue;
            };
            let cell = wall.cell(app, state, at, grid.cell_width);
            cell.draw(area, grid.cell_width, buffer);
            if cell.edge == Edge::Cursor {
                marked = Some((cell, area));
            }
        }
    }
    if let Some((cell, area)) = marked {
        cell.brackets(area, grid.cell_width, buffer);
    }
}

impl Wall<'_> {
    fn cell<'a>(&self, app: &'a App, state: &'a State, at: (u16, u16), width: u16) -> Cell<'a> {
        let theme = &app.theme;
        let kept = self.cards.get(&at).and_then(|&card| state.card(card));
        let colour = kept.and_then(|kept| kept.card.colour);
        let number = kept.map_or(Cow::Borrowed(""), |kept| state.number_and_tag(kept));
        // On a hook too narrow for three digits, a cut number is useless.
        let number = match width >= 4 || number.chars().count() < usize::from(width) {
            true => number,
            false => Cow::Borrowed(""),
        };
        let fills = colour.is_some_and(|colour| theme.swatch(colour).is_some());
        let sign = match (kept, self.blocked.contains_key(&at)) {
            (_, true) => Some((HookStatus::Blocked.glyph(), theme.away())),
            (None, false) => Some((HookStatus::Free.glyph(), theme.faint())),
            (Some(_), false) if number.is_empty() && !fills => {
                Some((HookStatus::Home.glyph(), theme.base()))
            }
            (Some(_), false) => None,
        };
        Cell {
            theme,
            fill: colour.map_or(Fill::None, Fill::Card),
            number,
            is_number: true,
            ink: theme.base(),
            sign,
            name: kept.map_or("", |kept| kept.card.name.as_str()),
            amount: Cow::Borrowed(""),
            edge: match self.cursor == Some(at) {
                true => Edge::Cursor,
                false => Edge::Plain,
            },
            sunk: false,
        }
    }
}

/// How to start with an empty stash.
pub(in crate::tui) fn no_board(app: &App, frame: &mut Frame<'_>, area: Rect) {
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

/// Row letters and column numbers, with the cursor's highlighted.
fn marks(app: &App, grid: &Grid, cursor: Option<(u16, u16)>, buffer: &mut Buffer) {
    let style = |here: bool| {
        if here {
            app.theme.accent()
        } else {
            app.theme.faint()
        }
    };
    for column in grid.left..grid.left + grid.columns {
        if let Some(cell) = grid.cell(grid.top, column) {
            let number = format!("{:02}", u32::from(column) + 1);
            let text = fit(&number, usize::from(grid.cell_width));
            let here = cursor.is_some_and(|(_, at)| column == at);
            // Without gaps, neighbouring numbers couldn't be told apart.
            if grid.cell_width < 3 && column % 2 == 1 && !here {
                continue;
            }
            put(buffer, (cell.x, grid.area.y), text, style(here));
        }
    }
    for row in grid.top..grid.top + grid.rows {
        if let Some(cell) = grid.cell(row, grid.left)
            && cell.y < grid.area.bottom()
        {
            let here = cursor.is_some_and(|(at, _)| row == at);
            put(
                buffer,
                (grid.area.x, cell.y),
                Board::row_letters(row),
                style(here),
            );
        }
    }
}

/// A hook, ready to draw.
fn cell<'a>(
    app: &'a App,
    state: &'a State,
    look: &BoardView<'a>,
    hook: HookRef,
    zoom: Zoom,
) -> Cell<'a> {
    let spot = look.spot(hook);
    let kept = spot.card;
    let number = match (zoom, spot.status, spot.ring) {
        (Zoom::Far, ..) => Cow::Borrowed(""),
        (_, HookStatus::Hanging, Some(project)) if kept.is_none() => Cow::Borrowed(project),
        _ => kept
            .map(|kept| state.number_and_tag(kept))
            .unwrap_or_default(),
    };
    let edge = edge(app, look, hook, &spot);
    let sunk = look.sinks && matches!(edge, Edge::Plain | Edge::Selected);
    let number = if sunk { Cow::Borrowed("") } else { number };
    let dimmed = look
        .found
        .as_ref()
        .is_some_and(|found| !found.contains(&hook));
    let mut cell = Cell {
        theme: &app.theme,
        fill: fill(app, look, &spot),
        ink: if dimmed {
            app.theme.faint()
        } else {
            ink(app, look, &spot)
        },
        sign: None,
        name: match kept {
            Some(kept) if !sunk => kept.card.name.as_str(),
            _ => "",
        },
        amount: if sunk {
            Cow::Borrowed("")
        } else {
            amount(&spot)
        },
        number,
        is_number: kept.is_some(),
        edge,
        sunk: sunk || dimmed,
    };
    let filled = matches!(cell.fill, Fill::Card(_)) && app.theme.gap().is_some();
    let sign = sign(look, &spot, filled, !cell.number.is_empty());
    cell.sign = sign.map(|sign| match sunk || dimmed {
        true => (sign, app.theme.faint()),
        false => (sign, sign_ink(app, &spot, cell.ink)),
    });
    cell
}

fn edge(app: &App, look: &BoardView<'_>, hook: HookRef, spot: &HookView<'_>) -> Edge {
    if look.landed.contains(&hook) {
        Edge::Landed
    } else if look.target == Some(hook) {
        Edge::Target
    } else if look.source == Some(hook) {
        Edge::Source
    } else if (hook.row, hook.column) == (app.eye.row, app.eye.column) {
        Edge::Cursor
    } else if spot.chosen {
        Edge::Selected
    } else {
        Edge::Plain
    }
}

/// A card that hangs there, comes or goes fills the hook; a card that is away leaves a line. In the
/// heat view, only cards with a degree fill their hooks.
fn fill(app: &App, look: &BoardView<'_>, spot: &HookView<'_>) -> Fill {
    if look.heat() != Heat::Off {
        return match spot.heat {
            Some(degree) => Fill::Card(app.theme.heat_colour(look.heat().step(degree))),
            None => Fill::None,
        };
    }
    let Some(colour) = spot.card.and_then(|kept| kept.card.colour) else {
        return Fill::None;
    };
    match spot.status {
        HookStatus::Home
        | HookStatus::Held
        | HookStatus::Stranger
        | HookStatus::Coming
        | HookStatus::Leaving => Fill::Card(colour),
        HookStatus::Out
        | HookStatus::Missing
        | HookStatus::Elsewhere
        | HookStatus::Hanging
        | HookStatus::Free
        | HookStatus::Reserved
        | HookStatus::Blocked
        | HookStatus::Fits => Fill::Line(colour),
    }
}

/// The text style of a hook that isn't filled.
fn ink(app: &App, look: &BoardView<'_>, spot: &HookView<'_>) -> Style {
    let theme = &app.theme;
    if let (Some(degree), true) = (spot.heat, theme.gap().is_none()) {
        return theme.heat(look.heat().step(degree));
    }
    match spot.status {
        HookStatus::Missing => theme.wrong(),
        HookStatus::Hanging => theme.away(),
        HookStatus::Fits => theme.target(),
        HookStatus::Free | HookStatus::Reserved | HookStatus::Blocked => theme.faint(),
        HookStatus::Out | HookStatus::Elsewhere => spot
            .card
            .and_then(|kept| kept.card.colour)
            .map_or_else(|| theme.muted(), |colour| theme.legible(colour)),
        HookStatus::Home
        | HookStatus::Held
        | HookStatus::Stranger
        | HookStatus::Coming
        | HookStatus::Leaving => Style::new(),
    }
}

fn sign_ink(app: &App, spot: &HookView<'_>, ink: Style) -> Style {
    if spot.chosen {
        return app.theme.strong();
    }
    match spot.status {
        HookStatus::Out | HookStatus::Elsewhere | HookStatus::Hanging => app.theme.away(),
        HookStatus::Missing | HookStatus::Stranger => app.theme.wrong(),
        HookStatus::Coming | HookStatus::Leaving => app.theme.accent(),
        HookStatus::Home
        | HookStatus::Held
        | HookStatus::Free
        | HookStatus::Reserved
        | HookStatus::Blocked
        | HookStatus::Fits => ink,
    }
}

/// The single sign of a hook: the first that applies. In the heat view, it is the degree.
fn sign(look: &BoardView<'_>, spot: &HookView<'_>, filled: bool, named: bool) -> Option<char> {
    if let (Some(degree), true) = (spot.heat, look.heat() != Heat::Off) {
        return Some(degree.digit());
    }
    if let Some(way) = spot.way {
        return Some(way.glyph());
    }
    let status = spot.status.glyph();
    // Whether the sign says more than that the card is selected.
    let (before_selected, sign) = match spot.status {
        HookStatus::Missing | HookStatus::Out | HookStatus::Elsewhere | HookStatus::Stranger => {
            (true, Some(status))
        }
        HookStatus::Home if spot.count > 1 => (false, Some('+')),
        // Without a colour and a number, the hook would look empty.
        HookStatus::Home => (false, (!filled && !named).then_some(status)),
        HookStatus::Held
        | HookStatus::Hanging
        | HookStatus::Free
        | HookStatus::Reserved
        | HookStatus::Blocked
        | HookStatus::Coming
        | HookStatus::Leaving
        | HookStatus::Fits => (false, Some(status)),
    };
    if spot.chosen && !before_selected {
        Some('*')
    } else {
        sign
    }
}

fn amount(spot: &HookView<'_>) -> Cow<'static, str> {
    match (spot.card, spot.count) {
        (Some(kept), 0 | 1) => {
            let metres = spot.put_up.to_fraction(kept.strands()) * f64::from(kept.card.cut_cm);
            format!("{:.1} m", metres / 100.0).into()
        }
        (Some(_), n) => format!("{n} cards").into(),
        (None, _) => Cow::Borrowed(""),
    }
}

/// Names the families of each row in the margin, in the order of its hooks: as many whole names as
/// fit, and always the first. O(hooks in view).
fn families(
    app: &App,
    look: &BoardView<'_>,
    state: &State,
    board: &Board,
    grid: &Grid,
    buffer: &mut Buffer,
) {
    let Some(margin) = grid.margin() else {
        return;
    };
    let names: HashMap<FamilyId, &str> = state
        .families()
        .iter()
        .map(|family| (family.id, family.name.as_str()))
        .collect();
    for row in grid.top..grid.top + grid.rows {
        let Some(cell) = grid.cell(row, grid.left).filter(|cell| !cell.is_empty()) else {
            continue;
        };
        let mut here: Vec<&str> = Vec::new();
        for column in grid.left..grid.left + grid.columns {
            let family = look.family(board.hook(row, column));
            if let Some(&name) = family.and_then(|id| names.get(&id))
                && !here.contains(&name)
            {
                here.push(name);
            }
        }
        let room = usize::from(margin.width);
        let mut text = String::new();
        for name in here {
            if !text.is_empty() && text.width() + 1 + name.width() > room {
                break;
            }
            text = format!("{text}{}{name}", if text.is_empty() { "" } else { " " });
        }
        put(
            buffer,
            (margin.x, cell.y),
            fit(&text, room),
            app.theme.muted(),
        );
    }
}

#[cfg(test)]
mod tests {
    use strum::VariantArray;

    use super::*;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::{Depth, Ground, Theme};
    use std::collections::HashSet;

    #[test]
    fn each_state_has_a_unique_combination_of_sign_and_attributes() {
        for depth in [Depth::Sixteen, Depth::None] {
            for ground in [Ground::Dark, Ground::Light] {
                let mut desk = TestApp::sample(depth);
                desk.app.theme = Theme {
                    ground,
                    ..Theme::new(depth)
                };
                let look = BoardView::new(&desk.app, &desk.state);
                let mut seen = HashSet::new();
                for &status in HookStatus::VARIANTS {
                    let spot = HookView {
                        status,
                        ..look.spot(desk.state.hooks().next().unwrap())
                    };
                    let ink = ink(&desk.app, &look, &spot);
                    let sign = sign(&look, &spot, false, true);
                    assert!(
                        seen.insert((sign, ink.add_modifier)),
                        "{status:?} at {depth:?}"
                    );
                }
            }
        }
    }
}
