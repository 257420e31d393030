//! The scale of the heat view, and a small map of a board that doesn't fit on the screen.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use strum::VariantArray;

use crate::model::board::{Board, HookRef};
use crate::stash::state::{AwayReason, State};
use crate::tui::app::App;
use crate::tui::heat::Degree;
use crate::tui::layout::Grid;
use crate::tui::wall::HookStatus;
use crate::tui::widgets::text::{fit, put};

/// The most columns of the map.
const MOST_COLUMNS: u16 = 60;

/// Draws a map of the board, as large as the area allows.
pub(super) fn map(
    app: &App,
    state: &State,
    board: &Board,
    grid: &Grid,
    buffer: &mut Buffer,
    area: Rect,
) {
    if let Some(map) = Map::fitting(board, area) {
        map.draw(app, state, board, grid, buffer);
    }
}

/// Draws a legend for the digits of the heat view.
pub(super) fn scale(app: &App, buffer: &mut Buffer, area: Rect) {
    let Some(words) = app.heat.scale() else {
        return;
    };
    let skip = u16::from(area.height > 3);
    for (line, y) in words.iter().zip([area.y + skip, area.y + skip + 2]) {
        let text = fit(line, area.width.into());
        if y < area.bottom() {
            put(buffer, (area.x, y), text, app.theme.muted());
        }
    }
    for (degree, at) in Degree::all().zip(0..) {
        let (x, y) = (area.x + 2 * at, area.y + skip + 1);
        if x + 2 <= area.right() && y < area.bottom() {
            let style = app.theme.heat(app.heat.step(degree));
            put(buffer, (x, y), format!("{} ", degree.digit()), style);
        }
    }
}

/// The layout of a board on its map.
struct Map {
    area: Rect,
    /// Board rows per map row.
    down: u16,
    /// Board columns per map column.
    across: u16,
}

impl Map {
    /// The largest map that fits.
    fn fitting(board: &Board, room: Rect) -> Option<Self> {
        let (width, height) = (room.width.min(MOST_COLUMNS), room.height);
        if width == 0 || height == 0 {
            return None;
        }
        let (down, across) = (board.rows.div_ceil(height), board.columns.div_ceil(width));
        let (width, height) = (board.columns.div_ceil(across), board.rows.div_ceil(down));
        let area = Rect {
            width,
            height,
            ..room
        };
        Some(Self { area, down, across })
    }

    const fn at(&self, hook: HookRef) -> (u16, u16) {
        (
            self.area.x + hook.column / self.across,
            self.area.y + hook.row / self.down,
        )
    }

    /// Draws the visible part in reverse, and signs for cards that are missing or out.
    fn draw(&self, app: &App, state: &State, board: &Board, grid: &Grid, buffer: &mut Buffer) {
        let theme = &app.theme;
        let blank = HookStatus::Free.glyph().to_string();
        for y in self.area.y..self.area.bottom() {
            let line = blank.repeat(self.area.width.into());
            put(buffer, (self.area.x, y), line, theme.faint());
        }
        for &reason in AwayReason::VARIANTS.iter().rev() {
            let (status, style) = match reason {
                AwayReason::OnRing => (HookStatus::Out, theme.away()),
                AwayReason::Missing => (HookStatus::Missing, theme.wrong()),
                // Few, and soon back.
                AwayReason::InHand | AwayReason::Elsewhere | AwayReason::ToHang => continue,
            };
            let cards = state.index().abroad(reason).filter_map(|id| state.card(id));
            let homes = cards.filter_map(|kept| kept.home);
            for home in homes.filter(|home| board.has(*home)) {
                let (x, y) = self.at(home);
                put(buffer, (x, y), status.glyph().to_string(), style);
            }
        }
        let (left, top) = self.at(board.hook(grid.top, grid.left));
        let (last_row, last_column) = (grid.top + grid.rows - 1, grid.left + grid.columns - 1);
        let (right, bottom) = self.at(board.hook(last_row, last_column));
        let seen = Rect::new(left, top, right - left + 1, bottom - top + 1);
        buffer.set_style(seen.intersection(self.area), theme.chosen());
    }
}
