//! A board while it is drawn: the hooks, and the measures beside them.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::board::marks;
use crate::model::board::Board;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::App;
use crate::tui::app::design::{self, Design};
use crate::tui::field::Field;
use crate::tui::layout::{self, Grid};
use crate::tui::spot::HookStatus;
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, pad, paragraph, put_within, typed, wrap};

/// Columns of a label.
const LABEL: usize = 10;

pub(super) fn page(app: &App, state: &State, design: &Design, frame: &mut Frame<'_>, body: Rect) {
    let (left, area) = layout::beside(body);
    let drawn = design.drawn(state);
    if let Ok(board) = &drawn {
        hooks(app, state, design, board, frame, left);
    }
    if area.height < 3 || area.width < 12 {
        return;
    }
    let title = match (design.on_hooks, design.board) {
        (true, _) => "Hooks that cannot be used",
        (false, None) => "Put up a board",
        (false, Some(_)) => "Draw the board anew",
    };
    let pane = Pane {
        title,
        counter: "",
        focus: true,
    };
    let inside = pane.draw(&app.theme, area, frame.buffer_mut());
    let width = usize::from(inside.width);
    let mut lines = vec![Line::default()];
    if design.on_hooks {
        lines.extend(reasons(app, state, design, width));
    } else {
        lines.extend(size(app, design, width));
    }
    lines.push(Line::default());
    match (&design.wrong, &drawn) {
        (Some(wrong), _) | (None, Err(wrong)) => {
            lines.extend(paragraph(wrong, width, app.theme.wrong()));
        }
        (None, Ok(board)) => lines.extend(sum(app, design, board, width)),
    }
    frame.render_widget(Paragraph::new(lines), inside);
}

/// The hooks: free, in use, or not usable.
fn hooks(
    app: &App,
    state: &State,
    design: &Design,
    board: &Board,
    frame: &mut Frame<'_>,
    area: Rect,
) {
    let grid: Grid = design.grid(state, board, area);
    let used = design.in_use(state);
    let buffer = frame.buffer_mut();
    let cursor = design
        .on_hooks
        .then_some((design.eye.row, design.eye.column));
    marks(app, &grid, cursor, buffer);
    for row in grid.top..grid.top + grid.rows {
        for column in grid.left..grid.left + grid.columns {
            let Some(cell) = grid.cell(row, column) else {
                continue;
            };
            let cell = cell.intersection(area);
            if cell.is_empty() {
                continue;
            }
            let at = (row, column);
            let (shape, style) = if design.blocked.contains_key(&at) {
                (HookStatus::Blocked, app.theme.away())
            } else if used.contains(&at) {
                (HookStatus::Home, Style::new())
            } else {
                (HookStatus::Free, app.theme.faint())
            };
            let sign = format!(" {}", shape.glyph());
            put_within(buffer, (cell.x, cell.y), sign, cell.width.into(), style);
            if cursor == Some(at) {
                buffer.set_style(Rect { height: 1, ..cell }, app.theme.target());
            }
        }
    }
}

fn size(app: &App, design: &Design, width: usize) -> Vec<Line<'static>> {
    let room = width.saturating_sub(LABEL);
    let mut lines = Vec::new();
    let label = |text: &str, here: bool| {
        let style = if here {
            app.theme.strong()
        } else {
            Style::new()
        };
        let cursor = if here { ">" } else { " " };
        Span::styled(pad(&format!("{cursor}{text}"), LABEL), style)
    };
    let hint = |text: &str| {
        let indented = |line: String| Line::styled(format!("  {line}"), app.theme.faint());
        wrap(text, width.saturating_sub(2))
            .into_iter()
            .map(indented)
    };
    for (at, blank) in design.blanks.iter().enumerate() {
        let here = at == design.at;
        let offered = design.fresh && !blank.field.text().is_empty();
        let mut spans = vec![label(blank.label, here)];
        spans.extend(written(app, &blank.field, here, offered, room));
        lines.push(Line::from(spans));
        if here {
            lines.extend(hint(blank.hint));
        }
    }
    let here = design.at == design.blanks.len();
    let order = design::order_name(design.reading);
    let style = if here {
        app.theme.chosen()
    } else {
        Style::new()
    };
    lines.push(Line::from(vec![
        label("order", here),
        Span::styled(fit(order, room), style),
    ]));
    if here {
        lines.extend(hint(
            "how numbers run along the wall; Left and Right change it",
        ));
    }
    lines
}

fn reasons(app: &App, state: &State, design: &Design, width: usize) -> Vec<Line<'static>> {
    let mut lines = Vec::new();
    if let Ok(board) = design.drawn(state) {
        let at = (design.eye.row, design.eye.column);
        let hook_name = board.hook_name(board.hook(at.0, at.1));
        let says = match design.blocked.get(&at) {
            Some(why) => format!("{hook_name}: {why}"),
            None => format!("{hook_name}: can be used"),
        };
        lines.extend(paragraph(&says, width, app.theme.strong()));
    }
    lines.push(Line::default());
    let says = "Go there with the arrows and press Space; or click.";
    lines.extend(paragraph(says, width, Style::new()));
    lines.push(Line::default());
    let says = "Tab changes the reason:";
    lines.extend(paragraph(says, width, Style::new()));
    lines.extend(paragraph(design.reason(), width, app.theme.strong()));
    lines
}

/// What the board comes to, and what comes next.
fn sum(app: &App, design: &Design, board: &Board, width: usize) -> Vec<Line<'static>> {
    let on = |&&(row, column): &&(u16, u16)| board.has(board.hook(row, column));
    let blocked = design.blocked.keys().filter(on).count();
    let all = usize::from(board.rows) * usize::from(board.columns);
    let usable = all.saturating_sub(blocked);
    let (first, last) = (
        board.hook(0, 0),
        board.hook(board.rows - 1, board.columns - 1),
    );
    let mut says = format!(
        "{all} hooks, {first} to {last}",
        first = board.hook_name(first),
        last = board.hook_name(last)
    );
    if blocked > 0 {
        says += &format!("; {blocked} not usable");
    }
    says += &format!(
        ". Room for {cards}.",
        cards = text::cards(
            u32::try_from(usable * usize::from(board.cards_per_hook)).unwrap_or(u32::MAX)
        )
    );
    let mut lines = paragraph(&says, width, Style::new());
    lines.push(Line::default());
    let next = match (design.on_hooks, design.fresh) {
        (true, _) => "Enter: the board is done.",
        (false, true) if design.at < design.blanks.len() => {
            "Type to change the line, or Enter to leave it so. After the last line you mark \
         hooks that cannot be used."
        }
        (false, _) if design.at < design.blanks.len() => "Enter: the next line.",
        (false, _) => "Enter: on to the hooks that cannot be used.",
    };
    lines.extend(paragraph(next, width, app.theme.strong()));
    lines
}

/// What is written in a line: with the cursor where it is `here`, and as a whole where it was only `offered`, so that
/// typing takes its place.
fn written(app: &App, field: &Field, here: bool, offered: bool, room: usize) -> Vec<Span<'static>> {
    match (here, offered) {
        (true, true) => vec![Span::styled(fit(field.text(), room), app.theme.chosen())],
        (true, false) => typed(&app.theme, field.halves(), room).spans,
        (false, _) => vec![Span::raw(fit(field.text(), room))],
    }
}
