//! Where things are on the screen, for drawing and for the mouse.

use ratatui::layout::Rect;

use super::app::screen::Extent;
use super::app::{App, Viewport, Zoom};
use super::widgets::pane::{with_foot, with_right};
use crate::model::board::{Board, HookRef};
use crate::stash::state::State;

/// The parts of every screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Parts {
    /// The line at the top: title and state.
    pub title: Rect,
    /// Everything between the two lines.
    pub body: Rect,
    /// The line at the bottom: mode, keys and cursor position.
    pub status: Rect,
}

/// Divides a screen of any size. Parts that don't fit get no space.
#[must_use]
pub fn parts(width: u16, height: u16) -> Parts {
    let title = u16::from(height >= 2);
    let status = u16::from(height >= 3);
    let body = height - title - status;
    Parts {
        title: Rect::new(0, 0, width, title),
        body: Rect::new(0, title, width, body),
        status: Rect::new(0, title + body, width, status),
    }
}

/// The board on the left and a panel for a list or a walk on the right, or one above the other on a
/// narrow screen.
#[must_use]
pub fn beside(body: Rect) -> (Rect, Rect) {
    if body.width >= 60 {
        let panel = match body.width {
            0..=99 => 32,
            100..=159 => 36,
            _ => 48,
        };
        return with_right(body, panel);
    }
    let panel = if body.height >= 12 {
        body.height / 2
    } else {
        0
    };
    with_foot(body, panel)
}

/// The layout of the hooks on the screen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Grid {
    /// The whole grid, with row letters, column numbers and the space left beside the hooks.
    pub area: Rect,
    /// Columns the row letters take.
    pub gutter: u16,
    /// Width of a hook, in columns. The last is the gap to the next hook.
    pub cell_width: u16,
    /// Height of a hook, in rows. From two rows up, the last is the gap to the next row.
    pub cell_height: u16,
    /// First row shown.
    pub top: u16,
    /// First column shown.
    pub left: u16,
    /// Rows shown.
    pub rows: u16,
    /// Columns shown.
    pub columns: u16,
    /// How closely the hooks are shown.
    pub zoom: Zoom,
}

/// The size of the hooks in an area, and how well it works.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct Cells {
    gutter: u16,
    width: u16,
    height: u16,
    /// Whether all hooks are in view, with their numbers.
    whole: bool,
}

/// The largest hook without zooming in, in columns and rows.
const LARGEST: (u16, u16) = (20, 4);
/// The fewest columns beside the hooks that are worth using for family names.
pub const LEAST_MARGIN: u16 = 8;

/// The width of the longest number on a card in the stash, in characters, clamped to 3 to 7.
fn number_width(state: &State) -> u16 {
    let widest = state.index().longest_number();
    u16::try_from(widest.clamp(3, 7)).unwrap_or(7)
}

impl Cells {
    /// How well a width shows numbers of this length: 3 with their sign and a gap, 2 with the sign
    /// in the gap, 1 barely, 0 not at all.
    const fn shows(width: u16, number: u16) -> u8 {
        let barely = if number < 5 { number } else { 5 };
        match width {
            w if w >= number + 2 => 3,
            w if w > number => 2,
            w if w >= barely => 1,
            _ => 0,
        }
    }

    /// The columns per hook if all are to be in view. The gap after the last one may be cut off.
    const fn across(board: &Board, width: u16, gutter: u16) -> u16 {
        (width.saturating_sub(gutter) + 1) / if board.columns == 0 { 1 } else { board.columns }
    }

    /// The largest size with all hooks in view and numbered. If there is none, a size that shows
    /// numbers on a board that scrolls.
    fn fitting(number: u16, board: &Board, area: Rect) -> Self {
        let wide = if board.rows > 26 { 3 } else { 2 };
        // A row letter right next to its first hook saves a column, used if the hooks then show
        // more.
        let narrow = wide - 1;
        let of = |gutter| Self::shows(Self::across(board, area.width, gutter), number);
        let gutter = if of(narrow) > of(wide) { narrow } else { wide };
        let across = Self::across(board, area.width, gutter);
        let down = area.height.saturating_sub(1) / board.rows.max(1);
        if Self::shows(across, number) == 0 || down == 0 {
            return Self {
                gutter: wide,
                width: across.clamp(number + 1, number + 3),
                height: down.clamp(1, 2),
                whole: false,
            };
        }
        let mut width = across.min(LARGEST.0);
        let left = (area.width - gutter).saturating_sub(width * board.columns);
        if left < LEAST_MARGIN && width > number + 2 {
            width -= 1;
        }
        Self {
            gutter,
            width,
            height: down.min(LARGEST.1),
            whole: true,
        }
    }

    /// At a zoom level: as large as the whole board allows, within the limits of that level.
    fn at(zoom: Zoom, number: u16, board: &Board, area: Rect) -> Self {
        let gutter = if board.rows > 26 { 3 } else { 2 };
        let across = Self::across(board, area.width, gutter);
        let down = area.height.saturating_sub(1) / board.rows.max(1);
        let (width, height) = match zoom {
            Zoom::Far => (across.clamp(2, 4), down.clamp(1, 2)),
            Zoom::Middle => (across.clamp(number + 2, number + 5), down.clamp(1, 3)),
            Zoom::Near => (across.clamp(16, LARGEST.0), LARGEST.1),
        };
        Self {
            gutter,
            width,
            height,
            whole: false,
        }
    }

    fn of(number: u16, board: &Board, zoom: Option<Zoom>, area: Rect) -> Self {
        match zoom {
            Some(zoom) => Self::at(zoom, number, board, area),
            None => Self::fitting(number, board, area),
        }
    }
}

/// Lays out the hooks in an area, with the cursor in view.
#[must_use]
pub fn grid(state: &State, board: &Board, eye: &Viewport, area: Rect) -> Grid {
    let number = number_width(state);
    let cells = Cells::of(number, board, eye.zoom, area);
    let columns = Cells::in_view(area.width.saturating_sub(cells.gutter) + 1, cells.width);
    let rows = Cells::in_view(area.height.saturating_sub(1), cells.height);
    let (columns, rows) = (columns.min(board.columns), rows.min(board.rows));
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
        gutter: cells.gutter,
        cell_width: cells.width,
        cell_height: cells.height,
        top: scroll(eye.top, eye.row, rows, board.rows),
        left: scroll(eye.left, eye.column, columns, board.columns),
        rows,
        columns,
        zoom: eye
            .zoom
            .unwrap_or(match (Cells::shows(cells.width, number), cells.width) {
                (0, _) => Zoom::Far,
                (_, 15..) => Zoom::Near,
                _ => Zoom::Middle,
            }),
    }
}

/// Like [`grid`] without zoom: all hooks in view if possible, even without their numbers.
#[must_use]
pub fn whole(state: &State, board: &Board, eye: &Viewport, area: Rect) -> Grid {
    let mut eye = Viewport {
        zoom: None,
        ..eye.clone()
    };
    let numbered = grid(state, board, &eye, area);
    if numbered.rows == board.rows && numbered.columns == board.columns {
        return numbered;
    }
    eye.zoom = Some(Zoom::Far);
    grid(state, board, &eye, area)
}

/// Like [`grid`], but shrinks a board that would scroll until all hooks are in view, if possible.
#[must_use]
pub fn whole_grid(state: &State, board: &Board, eye: &Viewport, area: Rect) -> Grid {
    let large = grid(state, board, eye, area);
    if large.rows == board.rows && large.columns == board.columns {
        return large;
    }
    let far = Viewport {
        zoom: Some(Zoom::Far),
        ..eye.clone()
    };
    grid(state, board, &far, area)
}

impl Cells {
    const fn in_view(room: u16, each: u16) -> u16 {
        room / if each == 0 { 1 } else { each }
    }
}

impl Grid {
    /// The area of a hook on the screen; `None` while it is out of view.
    #[must_use]
    pub fn cell(&self, row: u16, column: u16) -> Option<Rect> {
        let down = row.checked_sub(self.top).filter(|&n| n < self.rows)?;
        let across = column
            .checked_sub(self.left)
            .filter(|&n| n < self.columns)?;
        let cell = Rect::new(
            self.area.x + self.gutter + across * self.cell_width,
            self.area.y + 1 + down * self.cell_height,
            self.cell_width,
            self.cell_height,
        );
        let cell = cell.intersection(self.area);
        (!cell.is_empty()).then_some(cell)
    }

    /// The row and column of the hook at a screen position.
    #[must_use]
    pub fn at(&self, column: u16, row: u16) -> Option<(u16, u16)> {
        let across = column.checked_sub(self.area.x + self.gutter)? / self.cell_width;
        let down = row.checked_sub(self.area.y + 1)? / self.cell_height;
        (across < self.columns && down < self.rows).then(|| (self.top + down, self.left + across))
    }

    /// The space to the right of the hooks, one column away from them; `None` if it is too narrow
    /// for family names.
    #[must_use]
    pub fn margin(&self) -> Option<Rect> {
        let x = self.area.x + self.gutter + self.columns * self.cell_width + 1;
        let width = self.area.right().saturating_sub(x);
        (width >= LEAST_MARGIN).then_some(Rect {
            x,
            width,
            ..self.area
        })
    }
}

/// The board and the panes around it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Arrangement {
    /// The hooks.
    pub grid: Grid,
    /// The card's pane, then as many others as fit.
    pub panes: Vec<Rect>,
}

/// Rows of a frameless pane of three lines.
pub const STRIP: u16 = 3;

/// The spaces worth trying for panes, below the board and beside it, the largest first.
fn rooms(body: Rect, scrolls: bool) -> impl Iterator<Item = (Rect, Rect)> {
    let (least_down, least_across) = if scrolls { (7, 32) } else { (STRIP, 24) };
    let most = (body.height / 2).min(22);
    let below = (least_down..=most)
        .rev()
        .filter(|&h| h == STRIP || h >= 7)
        .map(move |height| with_foot(body, height));
    let most = (body.width / 2).min(56);
    let beside = (least_across..=most)
        .rev()
        .map(move |width| with_right(body, width));
    below.chain(beside)
}

/// Lays out a board with the panes around it. Of all arrangements that leave the card's pane 24
/// columns or three lines, it takes the one with the largest hooks, then the largest panes. Framed
/// panes beat hooks of more than two rows. If the board scrolls in every arrangement, the panes get
/// more space, because a scrolling board could use any amount. O(1): at most 50 candidates.
#[must_use]
pub fn arrange(state: &State, board: &Board, eye: &Viewport, body: Rect) -> Arrangement {
    let number = number_width(state);
    let worth = |area: Rect, room: Rect| {
        let cells = Cells::of(number, board, eye.zoom, area);
        let shows = Cells::shows(cells.width, number);
        let hooks = u32::from(cells.width) * u32::from(cells.height);
        let framed = room.height > STRIP;
        (
            cells.whole,
            shows,
            cells.height.min(2),
            framed,
            hooks,
            room.area(),
        )
    };
    let scrolls = eye.zoom.is_some() || !rooms(body, false).any(|(area, room)| worth(area, room).0);
    let best = if scrolls {
        let in_view = |area: Rect| {
            let grid = grid(state, board, eye, area);
            u32::from(grid.rows) * u32::from(grid.columns)
        };
        rooms(body, true).max_by_key(|&(area, room)| (in_view(area), room.area()))
    } else {
        rooms(body, false).max_by_key(|&(area, room)| worth(area, room))
    };
    let (area, room) = best.unwrap_or((body, Rect::new(body.x, body.bottom(), 0, 0)));
    Arrangement {
        grid: grid(state, board, eye, area),
        panes: panes(room),
    }
}

/// Divides the space around the board into panes: side by side below it, stacked beside it.
fn panes(room: Rect) -> Vec<Rect> {
    if room.is_empty() {
        return Vec::new();
    }
    let is_below = room.width >= 60 || room.height <= STRIP;
    let shares: &[u16] = match (is_below, room.width, room.height) {
        (true, 160.., _) => &[38, 31, 31],
        (true, 72.., _) => &[57, 43],
        (false, _, 36..) => &[42, 29, 29],
        (false, _, 20..) => &[58, 42],
        _ => &[100],
    };
    let all = if is_below { room.width } else { room.height };
    let (mut used, mut panes) = (0, Vec::new());
    for (at, share) in shares.iter().enumerate() {
        let is_last = at + 1 == shares.len();
        let size = if is_last {
            all - used
        } else {
            all * share / 100
        };
        panes.push(if is_below {
            Rect::new(room.x + used, room.y, size, room.height)
        } else {
            Rect::new(room.x, room.y + used, room.width, size)
        });
        used += size;
    }
    panes
}

/// The fewest rows of a list pane, including its frame.
const LEAST_LIST: u16 = 8;

/// The board with a pane for a list. The list takes the space of the panes, so the wall doesn't
/// move. If that is too small, the list goes beside the wall, or below it if only that keeps all
/// hooks in view with their numbers.
fn with_list(state: &State, board: &Board, eye: &Viewport, body: Rect) -> Arrangement {
    let is_whole = |grid: &Grid| (grid.rows, grid.columns) == (board.rows, board.columns);
    let usual = arrange(state, board, eye, body);
    let room = usual.panes.iter().copied().reduce(Rect::union);
    let room = room.unwrap_or_default();
    let is_enough = match room.width {
        60.. => room.height >= LEAST_LIST,
        30.. => room.height >= 12,
        _ => false,
    };
    if is_enough && is_whole(&usual.grid) {
        return Arrangement {
            panes: vec![room],
            ..usual
        };
    }
    let laid_out = |(area, pane)| Arrangement {
        grid: grid(state, board, eye, area),
        panes: vec![pane],
    };
    let beside = laid_out(beside(body));
    let rows = body.height.saturating_sub(board.rows.saturating_add(1));
    if eye.zoom.is_some() || rows < LEAST_LIST || is_whole(&beside.grid) {
        return beside;
    }
    let below = laid_out(with_foot(body, rows.min(body.height / 2)));
    match is_whole(&below.grid) {
        true => below,
        false => beside,
    }
}

/// Whether a list or a walk stands beside the board.
fn has_list(app: &App) -> bool {
    let acting = app.acting.filter(|&extent| extent != Extent::Window);
    let extent = acting.or_else(|| app.screen().map(|screen| screen.extent()));
    extent == Some(Extent::Beside)
}

/// The current board and the panes around it, in a body of this size.
#[must_use]
pub fn board(app: &App, state: &State, body: Rect) -> Option<Arrangement> {
    let board = app.board(state)?;
    Some(if has_list(app) {
        with_list(state, board, &app.eye, body)
    } else {
        arrange(state, board, &app.eye, body)
    })
}

/// The grid of the current board, as it is on the screen now.
#[must_use]
pub fn current(app: &App, state: &State) -> Option<Grid> {
    let body = parts(app.size.0, app.size.1).body;
    board(app, state, body).map(|arrangement| arrangement.grid)
}

/// The hook at a screen position.
#[must_use]
pub fn hook_at(app: &App, state: &State, column: u16, row: u16) -> Option<HookRef> {
    let (row, column) = current(app, state)?.at(column, row)?;
    app.board(state).map(|board| board.hook(row, column))
}
