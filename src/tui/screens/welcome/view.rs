//! Drawing the first steps.

use std::collections::BTreeMap;

use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use super::{Progress, Step, Welcome};
use crate::model::board::Board;
use crate::stash::state::State;
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::derived::Cards;
use crate::tui::app::{App, Viewport};
use crate::tui::layout;
use crate::tui::wall::board::{self, Wall};
use crate::tui::widgets::pane::{self, Pane, inset};
use crate::tui::widgets::text::{fit, pad, paragraph};

/// The most columns of text that are comfortable to read.
const WIDEST: u16 = 96;

pub fn page(app: &App, state: &State, page: Welcome, frame: &mut Frame<'_>, body: Rect) {
    let area = text_area(body);
    let lines = laid_out(app, state, page, area).into_iter();
    let lines: Vec<Line<'_>> = lines.map(|(_, line)| line).collect();
    let used = u16::try_from(lines.len()).unwrap_or(u16::MAX);
    frame.render_widget(Paragraph::new(lines), area);
    let below = used.saturating_add(1).min(body.height);
    let (_, room) = pane::with_foot(body, body.height - below);
    if let Some((board, cards)) = &app.derived.first_wall
        && room.height > 6
    {
        first_wall(app, state, (board, cards), frame, room);
    }
}

/// A preview of the filled wall, below the steps.
fn first_wall(
    app: &App,
    state: &State,
    (board, cards): (&Board, &Cards),
    frame: &mut Frame<'_>,
    area: Rect,
) {
    let hooks = board.capacity_in_all();
    let counter = format!("{} of {hooks} hooks", cards.len());
    let title = match state.boards().len() {
        0 => "A wall for your cards",
        _ => "Your wall, about as it will hang",
    };
    let pane = Pane {
        title,
        counter: &counter,
        focus: false,
    };
    let inside = pane.draw(&app.theme, area, frame.buffer_mut());
    let eye = Viewport {
        zoom: None,
        ..app.eye.clone()
    };
    let grid = layout::whole_grid(state, board, &eye, inside);
    let none = BTreeMap::new();
    let wall = Wall {
        cards,
        blocked: &none,
        cursor: None,
    };
    board::wall(app, state, &wall, &grid, frame.buffer_mut());
}

fn text_area(body: Rect) -> Rect {
    let area = inset(body);
    Rect {
        width: area.width.min(WIDEST),
        ..area
    }
}

/// The step at a screen position, by its index in [`Step::ALL`].
#[must_use]
pub fn step_at(app: &App, state: &State, page: Welcome, column: u16, row: u16) -> Option<usize> {
    let body = crate::tui::layout::parts(app.size.0, app.size.1).body;
    let area = text_area(body);
    if !area.contains(Position::new(column, row)) {
        return None;
    }
    let lines = laid_out(app, state, page, area);
    lines.get(usize::from(row - area.y))?.0
}

/// The lines in view, each with its step.
fn laid_out(
    app: &App,
    state: &State,
    page: Welcome,
    area: Rect,
) -> Vec<(Option<usize>, Line<'static>)> {
    let width = usize::from(area.width);
    let progress = Progress::of(state);
    let about = "It keeps a wall board of thread cards: every card has a home hook, and Homehook \
         always knows the home, and where the card is now.";
    let mut lines = vec![Line::styled(
        fit("Welcome to Homehook", width),
        app.theme.strong(),
    )];
    lines.extend(paragraph(about, width, Style::new()));
    lines.push(Line::default());
    let plain = |line| (None, line);
    let mut lines: Vec<_> = lines.into_iter().map(plain).collect();
    let mut chosen = 0;
    for (at, step) in Step::ALL.into_iter().enumerate() {
        if step == Step::Demo {
            lines.push((None, Line::default()));
        }
        let here = at == page.at;
        if here {
            chosen = lines.len();
        }
        let of_step = entry(app, state, progress, step, here, width).into_iter();
        lines.extend(of_step.map(|line| (Some(at), line)));
    }
    lines.push((None, Line::default()));
    let below = paragraph(next(page.step()), width, app.theme.strong());
    lines.extend(below.into_iter().map(plain));
    let kept = if app.kept_in.is_empty() {
        "Every change is saved at once.".to_owned()
    } else {
        format!(
            "Every change is saved at once. The stash is kept in {kept_in}",
            kept_in = app.kept_in
        )
    };
    let kept = paragraph(&kept, width, app.theme.faint());
    lines.extend(kept.into_iter().map(plain));
    // A small screen must show the selected line.
    let height = usize::from(area.height).max(1);
    let top = (chosen + 2).saturating_sub(height).min(chosen);
    lines.drain(..top);
    lines
}

/// The effect of Enter.
fn next(step: Step) -> &'static str {
    match step {
        Step::Board => "Enter: see the wall with your cards on it, and say how many hooks it has.",
        Step::List => {
            "Enter: name the file, then see how it is understood before anything is taken."
        }
        Step::Card => "Enter: write one card.",
        Step::Range => "Enter: name a range list. Cards get the names and colours they lack.",
        Step::Hang => "Enter: see where each card would go, then hang them one by one.",
        Step::Demo => "Enter: try anything there; it is thrown away when you leave it.",
        Step::BoardView => "Enter: to the board. There ? shows all keys, and W comes back here.",
    }
}

/// A step with its state, and its description below.
fn entry(
    app: &App,
    state: &State,
    progress: Progress,
    step: Step,
    here: bool,
    width: usize,
) -> Vec<Line<'static>> {
    let title = match step {
        Step::List => "1. Import a list of your cards",
        Step::Card => "   or write a card by hand",
        Step::Range => "   or give them colours from a range list",
        Step::Board => "2. Put up a board for them",
        Step::Hang => "3. Hang the cards",
        Step::Demo => "Look at an invented stash first",
        Step::BoardView => "Go to the board",
    };
    let sign = match step {
        Step::Card | Step::Range | Step::Demo | Step::BoardView => "   ",
        step if progress.has(step) => "[x]",
        _ => "[ ]",
    };
    let cursor = if here { ">" } else { " " };
    let head = format!(
        "{cursor} {sign} {title:<40} {}",
        standing(app, state, progress, step)
    );
    let style = if here {
        app.theme.chosen()
    } else {
        Style::new()
    };
    let mut lines = vec![Line::styled(pad(head.trim_end(), width), style)];
    let about = match step {
        Step::Board => "Homehook proposes one that holds your cards with room to grow",
        Step::List => "from a spreadsheet; you say which of its columns is what",
        Step::Hang => "Homehook works out each hook; you hang the cards",
        Step::Card | Step::Range | Step::Demo | Step::BoardView => return lines,
    };
    lines.push(Line::styled(
        fit(&format!("         {about}"), width),
        app.theme.faint(),
    ));
    lines
}

/// The state of a step.
fn standing(app: &App, state: &State, progress: Progress, step: Step) -> String {
    let cards = |n: usize| text::cards(u32::try_from(n).unwrap_or(u32::MAX));
    let size = |board: &Board| {
        format!(
            "{rows} {word} of {columns}",
            rows = board.rows,
            word = one_or_many(board.rows, "row", "rows"),
            columns = board.columns
        )
    };
    match (step, app.board(state)) {
        (Step::Board, Some(board)) => size(board),
        (Step::List, _) if progress.cards > 0 => cards(progress.cards),
        (Step::Range, _) if progress.colourless > 0 => {
            format!(
                "{cards} without a colour",
                cards = cards(progress.colourless)
            )
        }
        (Step::Hang, _) if progress.cards > 0 && progress.to_hang > 0 => {
            format!("{cards} to hang", cards = cards(progress.to_hang))
        }
        _ => String::new(),
    }
}
