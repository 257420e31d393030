//! Where things are on the screen. Drawing and the mouse both ask here.

use ratatui::layout::Rect;

use super::app::{App, Viewport, Zoom};
use crate::model::board::{Board, HookRef};
use crate::stash::state::State;

/// The parts of the screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Parts {
    /// The line at the top: which board, and how it stands.
    pub title: Rect,
    /// The grid of hooks with its row and column marks.
    pub grid: Rect,
    /// The card under the cursor, or a list, or a walk.
    pub panel: Rect,
    /// What the user should be told.
    pub notice: Rect,
    /// The keys.
    pub footer: Rect,
}

/// Divides a screen. Any size will do: what does not fit gets no room.
#[must_use]
pub fn parts(width: u16, height: u16) -> Parts {
    let line = |y: u16| Rect::new(0, y.min(height), width, u16::from(y < height));
    let footer_lines = if height >= 10 {
        2
    } else {
        u16::from(height >= 4)
    };
    let notice_lines = u16::from(height >= 6);
    let below = footer_lines + notice_lines;
    let body_top = u16::from(height >= 2);
    let body = height.saturating_sub(body_top + below);
    let (grid, panel) = if width >= 60 {
        let panel = match width {
            0..=99 => 31,
            // 12 hooks with numbers of four digits fit beside it on 120 columns.
            100..=159 => 34,
            _ => 48,
        };
        let grid = width - panel;
        (
            Rect::new(0, body_top, grid, body),
            Rect::new(grid, body_top, panel, body),
        )
    } else {
        let panel = if body >= 12 { body / 2 } else { 0 };
        (
            Rect::new(0, body_top, width, body - panel),
            Rect::new(0, body_top + body - panel, width, panel),
        )
    };
    Parts {
        title: line(0),
        grid,
        panel,
        notice: Rect::new(0, body_top + body, width, notice_lines),
        footer: Rect::new(0, body_top + body + notice_lines, width, footer_lines),
    }
}

/// How the hooks lie on the screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Grid {
    /// The whole grid, marks and all.
    pub area: Rect,
    /// Columns the row letters take.
    pub gutter: u16,
    /// Width of a hook, in columns.
    pub cell_width: u16,
    /// Height of a hook, in rows.
    pub cell_height: u16,
    /// First row shown.
    pub top: u16,
    /// First column shown.
    pub left: u16,
    /// Rows shown, the last perhaps cut off.
    pub rows: u16,
    /// Columns shown.
    pub columns: u16,
    /// The zoom that was settled on.
    pub zoom: Zoom,
}

/// The widest number on a card of the stash, in characters, 3 to 7.
fn number_width(state: &State) -> u16 {
    let widest = state.index().longest_number();
    u16::try_from(widest.clamp(3, 7)).unwrap_or(7)
}

/// The size of a hook at a zoom: as large as the whole board allows, within the zoom's limits.
fn cell(zoom: Zoom, state: &State, board: &Board, width: u16, height: u16) -> (u16, u16) {
    let each = |room: u16, count: u16| room / count.max(1);
    let (wide, high) = (each(width, board.columns), each(height, board.rows));
    match zoom {
        Zoom::Far => (wide.clamp(2, 4), high.clamp(1, 3)),
        Zoom::Middle => {
            let number = number_width(state) + 3;
            (wide.clamp(number, number + 3), high.clamp(1, 3))
        }
        Zoom::Near => (wide.clamp(15, 20), high.clamp(4, 6)),
    }
}

/// Lays out the hooks in an area, with the cursor in view.
#[must_use]
pub fn grid(state: &State, board: &Board, eye: &Viewport, area: Rect) -> Grid {
    let gutter = if board.rows > 26 { 3 } else { 2 };
    let width = area.width.saturating_sub(gutter);
    let height = area.height.saturating_sub(1);
    let fits = |zoom| {
        let (w, h) = cell(zoom, state, board, width, height);
        u32::from(w) * u32::from(board.columns) <= u32::from(width)
            && u32::from(h) * u32::from(board.rows) <= u32::from(height)
    };
    let zoom = eye.zoom.unwrap_or_else(|| {
        [Zoom::Near, Zoom::Middle]
            .into_iter()
            .find(|&zoom| fits(zoom))
            .unwrap_or(Zoom::Far)
    });
    let (cell_width, cell_height) = cell(zoom, state, board, width, height);
    let columns = (width / cell_width).min(board.columns);
    let rows = (height / cell_height).min(board.rows);
    let scroll = |first: u16, cursor: u16, shown: u16, all: u16| {
        let first = first.min(all.saturating_sub(shown));
        if cursor < first {
            cursor
        } else if cursor >= first + shown {
            (cursor + 1).saturating_sub(shown)
        } else {
            first
        }
    };
    Grid {
        area,
        gutter,
        cell_width,
        cell_height,
        top: scroll(eye.top, eye.row, rows, board.rows),
        left: scroll(eye.left, eye.column, columns, board.columns),
        rows,
        columns,
        zoom,
    }
}

impl Grid {
    /// Where a hook is on the screen; `None` while it is out of view.
    #[must_use]
    pub fn cell(&self, row: u16, column: u16) -> Option<Rect> {
        let down = row.checked_sub(self.top).filter(|&n| n < self.rows)?;
        let across = column
            .checked_sub(self.left)
            .filter(|&n| n < self.columns)?;
        Some(Rect::new(
            self.area.x + self.gutter + across * self.cell_width,
            self.area.y + 1 + down * self.cell_height,
            self.cell_width,
            self.cell_height,
        ))
    }

    /// The row and column of the hook at a place on the screen.
    #[must_use]
    pub fn at(&self, column: u16, row: u16) -> Option<(u16, u16)> {
        let across = column.checked_sub(self.area.x + self.gutter)? / self.cell_width;
        let down = row.checked_sub(self.area.y + 1)? / self.cell_height;
        (across < self.columns && down < self.rows).then(|| (self.top + down, self.left + across))
    }
}

/// The grid of the board that is looked at, as it is on the screen now.
#[must_use]
pub fn current(app: &App, state: &State) -> Option<Grid> {
    let area = parts(app.size.0, app.size.1).grid;
    app.board(state)
        .map(|board| grid(state, board, &app.eye, area))
}

/// The hook at a place on the screen.
#[must_use]
pub fn hook_at(app: &App, state: &State, column: u16, row: u16) -> Option<HookRef> {
    let (row, column) = current(app, state)?.at(column, row)?;
    app.board(state).map(|board| board.hook(row, column))
}
