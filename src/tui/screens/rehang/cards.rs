//! Drawing plans: one card each, and below them the wall and the moves of the plan shown.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

use super::from_and_to;
use super::plans::Plans;
use crate::stash::command::rehang::{HangStep, RehangPlan};
use crate::stash::state::State;
use crate::text::capital;
use crate::text::rehang::{plan_facts, plan_name, plan_reason, room_for};
use crate::tui::app::App;
use crate::tui::layout;
use crate::tui::wall::{BoardView, board};
use crate::tui::widgets::gauge::{self, gauge, thousandths};
use crate::tui::widgets::list::{List, counter, in_view};
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::{fit, pad, put, put_within, wrap};

/// The fewest and the most columns of a card.
const NARROWEST: u16 = 26;
const WIDEST: u16 = 34;
/// The fewest and the most columns of the list of moves beside the wall.
const MOVES: (u16, u16) = (28, 46);
/// Columns of a label beside a bar, and of the figure after it.
const LABEL: u16 = 6;
const FIGURE: u16 = 9;

/// The areas of the screen.
struct Parts {
    cards: Rect,
    facts: Rect,
    lower: Rect,
}

fn parts(body: Rect) -> Parts {
    let cards = match (body.width, body.height) {
        (NARROWEST.., 36..) => 10,
        (NARROWEST.., 17..) => 8,
        _ => 1,
    };
    let facts = if body.height >= 30 { 2 } else { 1 };
    let (_, below) = pane::with_foot(body, body.height.saturating_sub(cards));
    let (_, lower) = pane::with_foot(below, below.height.saturating_sub(facts));
    Parts {
        cards: Rect {
            height: cards.min(body.height),
            ..body
        },
        facts: Rect {
            height: below.height - lower.height,
            ..below
        },
        lower,
    }
}

/// The plans whose cards are in view, with their areas.
fn places(plans: &Plans, area: Rect) -> Vec<(usize, Rect)> {
    let count = plans.plans.len();
    let most = usize::from((area.width / NARROWEST).max(1));
    let shown = in_view(plans.at, count, most);
    let many = u16::try_from(shown.len().max(1)).unwrap_or(u16::MAX);
    let width = (area.width / many).min(WIDEST);
    let left = (area.x..).step_by(usize::from(width.max(1)));
    let place = |x| Rect { x, width, ..area };
    shown.zip(left.map(place)).collect()
}

/// The plan whose card is at a screen position.
pub(super) fn at(plans: &Plans, body: Rect, column: u16, row: u16) -> Option<usize> {
    let area = parts(body).cards;
    let is_there = |place: &Rect| place.contains((column, row).into());
    let places = places(plans, area).into_iter();
    let mut hit = places.filter(|(_, place)| place.height > 1 && is_there(place));
    hit.next().map(|(at, _)| at)
}

/// Draws the plans.
pub(super) fn draw(plans: &Plans, app: &App, state: &State, frame: &mut Frame<'_>, body: Rect) {
    let Some(plan) = plans.plan() else {
        return;
    };
    let parts = parts(body);
    let buffer = frame.buffer_mut();
    if parts.cards.height > 1 {
        let places = places(plans, parts.cards);
        for &(at, area) in &places {
            card(plans, at, app, area, buffer);
        }
        more(plans, &places, app, buffer);
    } else {
        names(plans, app, parts.cards, buffer);
    }
    let mut known = plan_facts(state, plan);
    if parts.cards.height == 1 {
        known.insert(0, in_short(plan));
    }
    facts(known, app, parts.facts, buffer);
    let (wall, moves) = divide(app, state, parts.lower);
    draw_moves(plans, plan, app, state, moves, buffer);
    if let Some(board) = app.board(state).filter(|_| !wall.is_empty()) {
        let grid = layout::whole(state, board, &app.eye, wall);
        board::draw(app, state, &BoardView::new(app, state), &grid, frame);
    }
}

/// The work of a plan: `hangs 30, moves 38`.
pub(super) fn work(plan: &RehangPlan) -> String {
    match (plan.newly_hung, plan.touched) {
        (0, 0) => "moves nothing".to_owned(),
        (0, moved) => format!("moves {moved}"),
        (new, 0) => format!("hangs {new}, moves none"),
        (new, moved) => format!("hangs {new}, moves {moved}"),
    }
}

fn minutes(plan: &RehangPlan) -> u64 {
    plan.minutes.ceil().max(1.0) as u64
}

/// A plan as a card.
fn card(plans: &Plans, at: usize, app: &App, area: Rect, buffer: &mut Buffer) {
    let plan = &plans.plans[at];
    let theme = &app.theme;
    let is_shown = at == plans.at;
    let title = format!("{}  {}", plan.number, plan_name(&plans.plans, plan));
    let pane = Pane {
        title: &title,
        counter: "",
        focus: is_shown,
    };
    let inside = pane.draw(theme, area, buffer);
    let (text, bar) = if is_shown {
        (theme.strong(), theme.accent())
    } else {
        (Style::new(), theme.muted())
    };
    let wide = usize::from(inside.width);
    put_within(
        buffer,
        (inside.x, inside.y),
        fit(&work(plan), wide),
        wide,
        text,
    );
    let roomy = u16::from(inside.height >= 8);
    let most = |of: &dyn Fn(&RehangPlan) -> u64| plans.plans.iter().map(of).max().unwrap_or(0);
    let moved = |plan: &RehangPlan| plan.touched as u64;
    let (fits, come) = room_for(plan);
    let share = |part: u64, whole: u64| {
        if whole == 0 {
            0
        } else {
            thousandths(part, whole)
        }
    };
    let rows = [
        (
            "time",
            share(minutes(plan), most(&minutes)),
            bar,
            format!("{} min", minutes(plan)),
        ),
        (
            "moved",
            share(moved(plan), most(&moved)),
            bar,
            plan.touched.to_string(),
        ),
        (
            "room",
            share(fits, come),
            theme.good(),
            format!("{fits} of {come}"),
        ),
    ];
    let mut y = inside.y + 1 + roomy;
    for (label, share, style, figure) in rows {
        if y >= inside.bottom() {
            return;
        }
        put(buffer, (inside.x, y), label, theme.muted());
        let columns = inside.width.saturating_sub(LABEL + FIGURE);
        let at = (inside.x + LABEL, y);
        gauge::draw(buffer, at, gauge(columns, share, style, theme.line()));
        let figure = fit(&figure, usize::from(FIGURE) - 1);
        put(buffer, (inside.x + LABEL + columns + 1, y), figure, text);
        y += 1;
    }
    y += roomy;
    let room = usize::from(inside.bottom().saturating_sub(y));
    let mut lines = wrap(&plan_reason(&plans.plans, plan), wide);
    if lines.len() > room {
        let rest = lines.split_off(room.saturating_sub(1)).join(" ");
        lines.push(fit(&rest, wide));
    }
    let style = match (plan.disorder.cards(), is_shown) {
        (1.., _) => theme.wrong(),
        (_, true) => text,
        _ => theme.muted(),
    };
    for (line, y) in lines.iter().zip(y..inside.bottom()) {
        put_within(buffer, (inside.x, y), line, wide, style);
    }
}

/// Marks for more cards to the left or right.
fn more(plans: &Plans, places: &[(usize, Rect)], app: &App, buffer: &mut Buffer) {
    let (Some(first), Some(last)) = (places.first(), places.last()) else {
        return;
    };
    let middle = first.1.y + first.1.height / 2;
    if first.0 > 0 {
        put(buffer, (first.1.x, middle), "◂", app.theme.accent());
    }
    if last.0 + 1 < plans.plans.len() {
        put(
            buffer,
            (last.1.right() - 1, middle),
            "▸",
            app.theme.accent(),
        );
    }
}

/// The plans on one line if cards don't fit, with the name of the plan shown.
fn names(plans: &Plans, app: &App, area: Rect, buffer: &mut Buffer) {
    let mut x = area.x + 1;
    for (at, plan) in plans.plans.iter().enumerate() {
        let is_shown = at == plans.at;
        let (text, style) = if is_shown {
            let name = plan_name(&plans.plans, plan);
            (format!(" {}  {name} ", plan.number), app.theme.target())
        } else {
            (format!(" {} ", plan.number), app.theme.muted())
        };
        let room = usize::from(area.right().saturating_sub(x));
        put_within(buffer, (x, area.y), fit(&text, room), room, style);
        x = x.saturating_add(u16::try_from(text.width()).unwrap_or(u16::MAX));
        if x >= area.right() {
            return;
        }
    }
}

/// The text of a card in short, for when cards don't fit.
fn in_short(plan: &RehangPlan) -> String {
    let (fits, come) = room_for(plan);
    let (work, minutes) = (capital(&work(plan)), minutes(plan));
    format!("{work}, {minutes} min, room for {fits} of {come}.")
}

/// Further facts, as many as fit.
fn facts(facts: Vec<String>, app: &App, area: Rect, buffer: &mut Buffer) {
    if area.is_empty() || area.width < 4 {
        return;
    }
    let mut line = String::new();
    for fact in facts {
        if line.is_empty() {
            line = fact;
        } else if line.width() + 3 + fact.width() + 2 <= usize::from(area.width) {
            line = format!("{line}   {fact}");
        }
    }
    let room = usize::from(area.width - 2);
    put_within(
        buffer,
        (area.x + 1, area.y),
        fit(&line, room),
        room,
        app.theme.muted(),
    );
}

/// The wall and the moves. Of all divisions, the one with the largest hooks, then the widest list.
fn divide(app: &App, state: &State, area: Rect) -> (Rect, Rect) {
    let none = Rect { width: 0, ..area };
    let Some(board) = app
        .board(state)
        .filter(|_| area.width >= 50 && area.height >= 4)
    else {
        return (none, area);
    };
    let most = MOVES.1.min(area.width / 2);
    let shares = (MOVES.0..=most).map(|width| pane::with_right(area, width));
    let worth = |(wall, _): &(Rect, Rect)| {
        let grid = layout::whole(state, board, &app.eye, *wall);
        (
            grid.rows * grid.columns,
            grid.zoom != crate::tui::app::Zoom::Far,
            grid.cell_width,
        )
    };
    shares
        .max_by_key(|share| (worth(share), share.1.width))
        .unwrap_or((none, area))
}

/// The moves, with the reason for the selected one.
fn draw_moves(
    plans: &Plans,
    plan: &RehangPlan,
    app: &App,
    state: &State,
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = &app.theme;
    let count = plan.steps.len();
    let counter = counter(plans.step, count);
    let pane = Pane {
        title: if plans.wall.after {
            "Wall after"
        } else {
            "Wall now"
        },
        counter: &counter,
        focus: false,
    };
    let inside = pane.draw(theme, area, buffer);
    if inside.is_empty() {
        return;
    }
    let wide = usize::from(inside.width);
    let legend = if plans.wall.after {
        "+ new  → came this way"
    } else {
        "→ goes this way"
    };
    put_within(
        buffer,
        (inside.x, inside.y),
        fit(legend, wide),
        wide,
        theme.muted(),
    );
    let mut foot = wrap(&plans.reason(state), wide);
    foot.truncate(usize::from(inside.height / 4));
    let list = Rect {
        y: inside.y + 1,
        height: inside
            .height
            .saturating_sub(1 + u16::try_from(foot.len()).unwrap_or(0)),
        ..inside
    };
    let moves = List {
        at: plans.step,
        count,
        each: 1,
    };
    moves.draw(theme, list, buffer, |at, width| {
        let line = plan
            .steps
            .get(at)
            .and_then(|step| move_line(app, state, step, width));
        let style = if at == plans.step {
            theme.row()
        } else {
            Style::new()
        };
        vec![line.unwrap_or_default().style(style)]
    });
    for (line, y) in foot.iter().zip(list.bottom()..) {
        put_within(buffer, (inside.x, y), line, wide, theme.strong());
    }
}

/// A move: its card, its start and end, and the name if it fits.
fn move_line(app: &App, state: &State, step: &HangStep, width: usize) -> Option<Line<'static>> {
    let theme = &app.theme;
    let kept = state.card(step.card)?;
    let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
    let number = fit(&state.number_and_tag(kept), 6);
    let (from, to) = from_and_to(state, step);
    let start = if step.from.is_none() {
        theme.accent()
    } else {
        theme.muted()
    };
    let room = width.saturating_sub(23);
    let name = if room >= 6 {
        pad(kept.card.name.as_str(), room)
    } else {
        String::new()
    };
    Some(Line::from(vec![
        Span::styled("  ", swatch.unwrap_or_default()),
        Span::styled(
            format!("{}{number}", " ".repeat(6 - number.width())),
            theme.strong(),
        ),
        Span::styled(format!(" {from:>5}"), start),
        Span::styled(" → ", theme.muted()),
        Span::styled(format!("{to:<6}"), theme.strong()),
        Span::styled(name, theme.muted()),
    ]))
}
