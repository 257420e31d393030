//! Walks in the panel: putting a ring away, choosing and doing a re-hang.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use super::lists::window;
use super::panel;
use super::text::{fit, pad, paragraph};
use crate::model::board::HookRef;
use crate::model::family::WallOrder;
use crate::stash::command::rehang::{HangStep, RehangPlan};
use crate::stash::state::State;
use crate::tui::app::{App, Plans, PutAway, Work};

/// How far a walk is, as a bar of ASCII.
fn bar(done: usize, all: usize, width: usize) -> String {
    let room = width.saturating_sub(2).min(40);
    let full = (room * done).checked_div(all).unwrap_or(room);
    format!("[{}{}]", "=".repeat(full), " ".repeat(room - full))
}

pub(super) fn put_away(
    app: &App,
    state: &State,
    walk: &PutAway,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let left = walk.left(state).count();
    let all = walk.order.len();
    let project = state
        .ring(walk.ring)
        .map_or("", |ring| ring.project.as_str());
    let mut lines = vec![
        Line::styled(fit(project, width), app.theme.strong()),
        Line::raw(format!("{} of {all} done", all - left)),
        Line::raw(bar(all - left, all, width)),
        Line::default(),
    ];
    let current = walk.order.get(walk.at).and_then(|&card| state.card(card));
    let Some(kept) = current.filter(|kept| kept.place.at.ring() == Some(walk.ring)) else {
        return lines;
    };
    let home = kept.home.map_or_else(
        || "no hook yet: put it in the tray".to_owned(),
        |home| format!("hang it on {}", state.mark(home)),
    );
    lines.push(Line::styled(pad(&home, width), app.theme.target()));
    lines.extend(panel::heading(app, state, kept, width));
    lines.push(Line::raw(fit(&panel::amount(kept), width)));
    lines.push(Line::default());
    lines.push(Line::styled("then", app.theme.faint()));
    let id = kept.card.id;
    let room = height.saturating_sub(lines.len());
    // The cards after this one, then those that were put off.
    let (before, after): (Vec<_>, Vec<_>) = walk
        .left(state)
        .partition(|other| walk.order.iter().position(|&o| o == other.card.id) < Some(walk.at));
    for other in after
        .into_iter()
        .chain(before)
        .filter(|other| other.card.id != id)
        .take(room)
    {
        let home = other
            .home
            .map_or_else(|| "tray".to_owned(), |home| state.mark(home));
        let text = format!("{home:<5} {} {}", state.card_name(other), other.card.name);
        lines.push(Line::raw(fit(&text, width)));
    }
    lines
}

/// A hook, or what is said instead of one.
fn hook(state: &State, hook: Option<HookRef>, none: &str) -> String {
    hook.map_or_else(|| none.to_owned(), |hook| state.mark(hook))
}

/// Where a step takes its card from and to.
fn way(state: &State, step: &HangStep) -> String {
    let (from, to) = (hook(state, step.from, "tray"), hook(state, step.to, "hand"));
    format!("{from} -> {to}")
}

/// One number with its unit.
fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

fn figures(plan: &RehangPlan) -> Vec<(String, String)> {
    let mut rows = vec![
        ("to move on the wall".to_owned(), plan.touched.to_string()),
        (
            "to mark anew, card out".to_owned(),
            plan.relabel.to_string(),
        ),
        (
            "to hang from the tray".to_owned(),
            plan.newly_hung.to_string(),
        ),
        ("steps in all".to_owned(), plan.steps.len().to_string()),
    ];
    if let Some(next) = plan.touched_by_newcomer {
        rows.push(("the next new one moves".to_owned(), format!("{next:.1}")));
    }
    rows
}

pub(super) fn plans(
    app: &App,
    state: &State,
    plans: &Plans,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let Some(plan) = plans.plan() else {
        return Vec::new();
    };
    let of = plans.plans.len();
    let which = if plans.at == 0 {
        "fewest touched"
    } else if plans.at + 1 == of {
        "fresh layout"
    } else {
        "more room"
    };
    let mut lines = vec![Line::styled(
        fit(&format!("plan {} of {of}: {which}", plans.at + 1), width),
        app.theme.strong(),
    )];
    for (label, value) in figures(plan) {
        let room = width.saturating_sub(value.len() + 1);
        lines.push(Line::raw(format!("{} {value}", pad(&label, room))));
    }
    lines.push(Line::default());
    let order = match state.order() {
        WallOrder::Family => "by family, then number",
        WallOrder::Number => "by number alone",
    };
    lines.insert(1, Line::styled(order, app.theme.faint()));
    let shown = if plans.after {
        "as it will be"
    } else {
        "as it is"
    };
    lines.push(Line::from(vec![
        Span::styled("the wall shows ", app.theme.faint()),
        Span::styled(shown, app.theme.strong()),
    ]));
    let key = if plans.after {
        "+ comes here"
    } else {
        "- leaves here"
    };
    lines.push(Line::styled(key, app.theme.faint()));
    lines.push(Line::default());
    let room = height.saturating_sub(lines.len());
    for step in plan.steps.iter().skip(plans.top).take(room) {
        lines.push(step_line(app, state, step, width, Style::new()));
    }
    lines
}

fn step_line(
    app: &App,
    state: &State,
    step: &HangStep,
    width: usize,
    style: Style,
) -> Line<'static> {
    let Some(kept) = state.card(step.card) else {
        return Line::default();
    };
    let swatch = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
    let way = way(state, step);
    let (dot, used) = match swatch {
        Some(swatch) => (Span::styled("  ", swatch), 2),
        None => (Span::raw(""), 0),
    };
    let room = width.saturating_sub(used + way.len() + 2);
    Line::from(vec![
        dot,
        Span::styled(
            format!(" {} {way}", pad(&state.card_name(kept), room)),
            style,
        ),
    ])
}

pub(super) fn work(
    app: &App,
    state: &State,
    work: &Work,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let all = work.steps.len();
    let mut lines = vec![
        Line::raw(format!(
            "{} of {} done",
            work.done,
            counted(all, "step", "steps")
        )),
        Line::raw(bar(work.done, all, width)),
        Line::default(),
    ];
    let Some(step) = work.steps.get(work.done) else {
        return lines;
    };
    let Some(kept) = state.card(step.card) else {
        return lines;
    };
    let on_wall = kept.place.at.hook().is_some();
    let in_hand = matches!(kept.place.at, crate::model::whereabouts::Whereabouts::Hand);
    let away = kept.place.at.ring().is_some();
    let todo = match (step.from, step.to) {
        (_, None) if away => "rub out its mark for now".to_owned(),
        (from, None) => format!(
            "lift it off {} and keep it in hand",
            hook(state, from, "its hook")
        ),
        (_, Some(to)) if away => format!("it is out: write {} on it", state.mark(to)),
        (None, Some(to)) if in_hand => format!("hang it from the hand on {}", state.mark(to)),
        (None, Some(to)) => format!("hang it from the tray on {}", state.mark(to)),
        (Some(from), Some(to)) if on_wall => {
            format!("move it from {} to {}", state.mark(from), state.mark(to))
        }
        (_, Some(to)) => format!("hang it on {}", state.mark(to)),
    };
    lines.extend(panel::heading(app, state, kept, width));
    lines.extend(paragraph(&todo, width, app.theme.target()));
    if let Some(to) = step.to {
        let text = format!("and write {} on the card", state.mark(to));
        lines.push(Line::styled(fit(&text, width), app.theme.faint()));
    }
    lines.push(Line::default());
    lines.push(Line::styled("then", app.theme.faint()));
    let room = height.saturating_sub(lines.len());
    let next = window(work.done + 1 + room / 2, all, room);
    for step in work
        .steps
        .iter()
        .skip((work.done + 1).max(next.start))
        .take(room)
    {
        lines.push(step_line(app, state, step, width, Style::new()));
    }
    lines
}
