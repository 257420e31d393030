//! Choosing and doing a re-hang, in the panel.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use super::panel;
use super::text::{fit, pad, paragraph};
use super::walks::bar;
use crate::model::board::HookRef;
use crate::model::family::WallOrder;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{HangStep, RehangPlan};
use crate::stash::state::State;
use crate::tui::app::App;
use crate::tui::rehang::{Plans, Work};

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
    let done = state.underway().map_or(0, |underway| {
        usize::try_from(underway.done).unwrap_or(usize::MAX)
    });
    let all = done + work.steps.len();
    let mut lines = vec![
        Line::raw(format!("{done} of {} done", counted(all, "step", "steps"))),
        Line::raw(bar(done, all, width)),
        Line::default(),
    ];
    let Some(step) = work.step() else {
        return lines;
    };
    let Some(kept) = state.card(step.card) else {
        return lines;
    };
    let on_wall = kept.place.at.hook().is_some();
    let in_hand = matches!(kept.place.at, Whereabouts::Hand);
    let missing = matches!(kept.place.at, Whereabouts::Missing { .. });
    let away = missing || kept.place.at.ring().is_some();
    let todo = match (step.from, step.to) {
        (_, Some(to)) if missing => format!(
            "it is missing: its home becomes {}, to be written on it when it turns up",
            state.mark(to)
        ),
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
    if let Some(to) = step.to.filter(|_| !missing) {
        let text = format!("and write {} on the card", state.mark(to));
        lines.push(Line::styled(fit(&text, width), app.theme.faint()));
    }
    lines.push(Line::default());
    lines.push(Line::styled("then", app.theme.faint()));
    let room = height.saturating_sub(lines.len());
    for step in work.then().take(room) {
        let style = if work.skipped.contains(&step.card) {
            app.theme.faint()
        } else {
            Style::new()
        };
        lines.push(step_line(app, state, step, width, style));
    }
    lines
}
