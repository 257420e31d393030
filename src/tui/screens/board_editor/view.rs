//! Drawing the board editor: the wall as it would be, and the measures beside it.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::BoardEditor;
use super::plan::{Plan, order_name};
use crate::model::board::Board;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::App;
use crate::tui::layout;
use crate::tui::wall::board::{Wall, wall};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, pad, paragraph, typed, wrap};

/// Columns of a label.
const LABEL: usize = 11;

pub(super) fn editor(
    app: &App,
    state: &State,
    editor: &BoardEditor,
    frame: &mut Frame<'_>,
    body: Rect,
) {
    let plan = &editor.plan;
    let (left, area) = layout::beside(body);
    let drawn = plan.drawn(state);
    if let Ok(board) = &drawn {
        let cursor = plan.on_hooks.then_some((plan.eye.row, plan.eye.column));
        let wanted = Wall {
            cards: &editor.cards,
            blocked: &plan.blocked,
            cursor,
        };
        let grid = plan.grid(state, board, left);
        wall(app, state, &wanted, &grid, frame.buffer_mut());
    }
    if area.height < 3 || area.width < 12 {
        return;
    }
    let title = match (plan.on_hooks, plan.board) {
        (true, _) => "Blocked hooks",
        (false, None) => "Put up a board",
        (false, Some(_)) => "Edit the board",
    };
    let pane = Pane {
        title,
        counter: "",
        focus: true,
    };
    let inside = pane.draw(&app.theme, area, frame.buffer_mut());
    let width = usize::from(inside.width);
    let mut lines = match plan.on_hooks {
        true => reasons(app, state, plan, width),
        false => size(app, plan, width),
    };
    lines.push(Line::default());
    match (&plan.wrong, &drawn) {
        (Some(wrong), _) | (None, Err(wrong)) => {
            lines.extend(paragraph(wrong, width, app.theme.wrong()));
        }
        (None, Ok(board)) => lines.extend(sum(app, editor, board, width)),
    }
    frame.render_widget(Paragraph::new(lines), inside);
}

/// The measures, with a hint for the current one.
fn size(app: &App, plan: &Plan, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let room = width.saturating_sub(LABEL);
    let mut lines = Vec::new();
    let label = |text: &str, here: bool| {
        let style = if here { theme.strong() } else { theme.muted() };
        let sign = if here { "▸ " } else { "  " };
        [
            Span::styled(sign, theme.accent()),
            Span::styled(pad(text, LABEL - 2), style),
        ]
    };
    let hint = |text: &str| {
        let indented = |line: String| Line::styled(format!("  {line}"), theme.faint());
        wrap(text, width.saturating_sub(2))
            .into_iter()
            .map(indented)
    };
    for (at, blank) in plan.blanks.iter().enumerate() {
        let here = at == plan.at;
        let offered = plan.fresh && !blank.field.text().is_empty();
        let mut spans = label(blank.label, here).to_vec();
        match (here, offered) {
            (true, true) => spans.push(Span::styled(fit(blank.field.text(), room), theme.chosen())),
            (true, false) => spans.extend(typed(theme, blank.field.halves(), room).spans),
            (false, _) => spans.push(Span::raw(fit(blank.field.text(), room))),
        }
        lines.push(Line::from(spans));
        if here {
            lines.extend(hint(blank.hint));
        }
    }
    let here = plan.at == plan.blanks.len();
    let style = if here { theme.chosen() } else { Style::new() };
    let mut spans = label("order", here).to_vec();
    spans.push(Span::styled(fit(order_name(plan.reading), room), style));
    lines.push(Line::from(spans));
    if here {
        lines.extend(hint(
            "How numbers run along the wall. Left and Right change it.",
        ));
    }
    lines
}

/// The hook under the cursor, and the reason for new blocks.
fn reasons(app: &App, state: &State, plan: &Plan, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let mut lines = Vec::new();
    if let Ok(board) = plan.drawn(state) {
        let at = (plan.eye.row, plan.eye.column);
        let hook = board.hook_name(board.hook(at.0, at.1));
        let says = match plan.blocked.get(&at) {
            Some(why) => format!("{hook} is blocked: {why}"),
            None => format!("{hook} is free to use"),
        };
        lines.extend(paragraph(&says, width, theme.strong()));
    }
    lines.push(Line::default());
    let says = "Go to a hook with the arrows and press Space, or click it.";
    lines.extend(paragraph(says, width, Style::new()));
    lines.push(Line::default());
    let reason = plan.reason();
    lines.extend(paragraph("Tab changes the reason:", width, theme.muted()));
    lines.extend(paragraph(reason, width, theme.accent()));
    lines
}

/// The board's capacity, and the next step.
fn sum(app: &App, editor: &BoardEditor, board: &Board, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let plan = &editor.plan;
    let on = |&&(row, column): &&(u16, u16)| board.has(board.hook(row, column));
    let blocked = plan.blocked.keys().filter(on).count();
    let all = usize::from(board.rows) * usize::from(board.columns);
    let places = all.saturating_sub(blocked) * usize::from(board.cards_per_hook);
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
        says += &format!(", {blocked} blocked");
    }
    let cards = |n: usize| text::cards(u32::try_from(n).unwrap_or(u32::MAX));
    says += &format!(". Room for {}.", cards(places));
    let mut lines = paragraph(&says, width, Style::new());
    let waiting = editor.waiting;
    if waiting > 0 {
        let (says, style) = match places.checked_sub(waiting) {
            Some(left) => (
                format!("Holds the {} waiting, and {left} more.", cards(waiting)),
                theme.good(),
            ),
            None => (
                format!("Too few hooks for the {} waiting.", cards(waiting)),
                theme.wrong(),
            ),
        };
        lines.extend(paragraph(&says, width, style));
    }
    lines.push(Line::default());
    let next = match (plan.on_hooks, plan.fresh) {
        (true, _) => "Enter: the board is done.",
        (false, true) if plan.at < plan.blanks.len() => {
            "Type to change the line, or Enter to leave it. After the last line you block hooks. Ctrl-S: the board is \
             done."
        }
        (false, _) if plan.at < plan.blanks.len() => "Enter: the next line.",
        (false, _) => "Enter: on to the hooks that are blocked.",
    };
    lines.extend(paragraph(next, width, theme.strong()));
    lines
}
