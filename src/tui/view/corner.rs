//! What stands in the corner of the panel where there is room: the scale of the heat view, and a
//! small map of a board that does not fit on the screen.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::text::fit;
use crate::model::board::{Board, HookRef};
use crate::stash::state::{AwayReason, State};
use crate::tui::app::App;
use crate::tui::heat::{Degree, Heat};
use crate::tui::layout::{self, Grid};
use crate::tui::spot::HookStatus;

/// The most columns of the map.
const MOST_COLUMNS: u16 = 40;
/// The most rows of the map, best first. Few choices, so that it seldom changes while the lines
/// above it do.
const MOST_ROWS: [u16; 3] = [10, 6, 3];
/// Lines of the scale.
const SCALE: u16 = 3;

/// Draws what there is room for at the foot of a part of the panel, whose first lines are in use.
pub(super) fn draw(app: &App, state: &State, buffer: &mut Buffer, area: Rect, used: usize) {
    // A blank line keeps it apart.
    let used = u16::try_from(used).unwrap_or(u16::MAX).saturating_add(1);
    let mut room = Rect {
        y: area.y.saturating_add(used).min(area.bottom()),
        height: area.height.saturating_sub(used),
        ..area
    };
    if app.heat != Heat::Off && room.height >= SCALE {
        room.height -= SCALE;
        let scale = Rect {
            y: room.bottom(),
            height: SCALE,
            ..room
        };
        draw_scale(app, buffer, scale);
        room.height = room.height.saturating_sub(1);
    }
    if let (Some(board), Some(grid)) = (app.board(state), layout::current(app, state))
        && grid.rows > 0
        && grid.columns > 0
        && (grid.rows < board.rows || grid.columns < board.columns)
        && let Some(map) = Map::fitting(board, room)
    {
        map.draw(app, state, board, &grid, buffer);
    }
}

fn draw_scale(app: &App, buffer: &mut Buffer, area: Rect) {
    let Some(words) = app.heat.scale() else {
        return;
    };
    for (line, y) in words.iter().zip([area.y, area.y + 2]) {
        let text = fit(line, area.width.into());
        buffer.set_string(area.x, y, text, app.theme.faint());
    }
    for (degree, at) in Degree::all().zip(0..) {
        let x = area.x + 2 * at;
        if x + 2 <= area.right() {
            let style = app.theme.heat(app.heat.step(degree));
            buffer.set_string(x, area.y + 1, format!("{} ", degree.digit()), style);
        }
    }
}

/// How a board lies on its map.
struct Map {
    area: Rect,
    /// Rows of the board to one of the map.
    down: u16,
    /// Columns of the board to one of the map.
    across: u16,
}

impl Map {
    /// The largest map at the foot of a room, with a line of words above it.
    fn fitting(board: &Board, room: Rect) -> Option<Self> {
        let height = MOST_ROWS.into_iter().find(|&rows| rows < room.height)?;
        let width = room.width.min(MOST_COLUMNS);
        if width == 0 {
            return None;
        }
        let (down, across) = (board.rows.div_ceil(height), board.columns.div_ceil(width));
        let (width, height) = (board.columns.div_ceil(across), board.rows.div_ceil(down));
        let area = Rect {
            x: room.x,
            y: room.bottom() - height,
            width,
            height,
        };
        Some(Self { area, down, across })
    }

    const fn at(&self, hook: HookRef) -> (u16, u16) {
        (
            self.area.x + hook.column / self.across,
            self.area.y + hook.row / self.down,
        )
    }

    /// What is in view in reverse; where a card is missing or out, its sign.
    fn draw(&self, app: &App, state: &State, board: &Board, grid: &Grid, buffer: &mut Buffer) {
        let words = match (self.across, self.down) {
            (1, 1) => "Map, one sign a hook".to_owned(),
            (across, down) => format!("Map, one sign for {across} x {down} hooks"),
        };
        let theme = &app.theme;
        let above = self.area.y - 1;
        buffer.set_string(self.area.x, above, words, theme.faint());
        let blank = HookStatus::Free.glyph().to_string();
        for y in self.area.y..self.area.bottom() {
            let line = blank.repeat(self.area.width.into());
            buffer.set_string(self.area.x, y, line, theme.faint());
        }
        for (so, shape, style) in [
            (AwayReason::OnRing, HookStatus::Out, theme.away()),
            (AwayReason::Missing, HookStatus::Missing, theme.wrong()),
        ] {
            let cards = state.index().abroad(so).filter_map(|id| state.card(id));
            let homes = cards.filter_map(|kept| kept.home);
            for home in homes.filter(|home| board.has(*home)) {
                let (x, y) = self.at(home);
                buffer.set_string(x, y, shape.glyph().to_string(), style);
            }
        }
        let (left, top) = self.at(board.hook(grid.top, grid.left));
        let (last_row, last_column) = (grid.top + grid.rows - 1, grid.left + grid.columns - 1);
        let (right, bottom) = self.at(board.hook(last_row, last_column));
        let seen = Rect::new(left, top, right - left + 1, bottom - top + 1);
        buffer.set_style(seen.intersection(self.area), theme.chosen());
    }
}
