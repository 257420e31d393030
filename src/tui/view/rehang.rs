//! Choosing and doing a re-hang, in the panel.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};

use super::walks::bar;
use crate::model::board::HookRef;
use crate::model::card::WallOrder;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{HangStep, RehangPlan};
use crate::stash::state::{CardState, State};
use crate::stash::whereabouts::Counts;
use crate::text::rehang::left_out_of_order;
use crate::tui::app::App;
use crate::tui::app::rehang::{Plans, Why, Work};
use crate::tui::widgets::text::{fit, pad, paragraph};
use crate::tui::widgets::walk::{self, Next};

/// About as many plans are worked out before the best are chosen.
const MOST_CANDIDATES: usize = 30;

/// So many steps of a plan are in view before all there is to say of it.
const LEAST_STEPS: usize = 2;

/// A hook, or what is said instead of one.
fn hook(state: &State, hook: Option<HookRef>, none: &str) -> String {
    hook.map_or_else(|| none.to_owned(), |hook| state.hook_name(hook))
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

/// What a plan is, in one sentence: the cards, the time, and what is left of the wall.
fn sentence(state: &State, plan: &RehangPlan) -> String {
    let cards = |n: usize| counted(n, "card", "cards");
    let (moved, new) = (plan.touched, plan.newly_hung);
    let work = match (moved, new) {
        (0, 0) => return "Nothing has to be done: every card is in order.".to_owned(),
        (_, 0) => format!("Moves {cards}", cards = cards(moved)),
        (0, _) if plan.number == 0 => format!("Moves nothing, hangs {cards}", cards = cards(new)),
        (0, _) => format!("Hangs {cards}", cards = cards(new)),
        _ => format!("Moves {cards}, hangs {new} new", cards = cards(moved)),
    };
    let time = match plan.minutes.ceil() {
        minutes if minutes <= 1.0 => "about 1 minute".to_owned(),
        minutes => format!("about {minutes} minutes"),
    };
    let free = match Counts::of(state).free.saturating_sub(new) {
        1 => "1 hook stays free".to_owned(),
        // Several cards may share a hook.
        free if state.hooks().any(|hook| state.capacity(hook) > 1) => {
            format!("{free} places stay free")
        }
        free => format!("{free} hooks stay free"),
    };
    match left_out_of_order(plan) {
        None => format!("{work}, {time}; {free}."),
        Some(left) => format!("{work}: {left}. Takes {time}; {free}."),
    }
}

/// What else there is to know of a plan, what matters most first.
fn details(plan: &RehangPlan) -> Vec<String> {
    let room = plan.room_shown();
    let mut said = vec![if plan.room < 0.005 {
        "every colour to come would find a place beside its neighbours".to_owned()
    } else {
        format!("about {room} colours to come would find no place beside their neighbours")
    }];
    let labels = plan.touched + plan.relabel + plan.newly_hung;
    said.push(match plan.relabel {
        0 => format!("labels to write: {labels}"),
        out => format!("labels to write: {labels}, {out} of them of cards that are out"),
    });
    match plan.family_breaks {
        None => {}
        Some(0) => said.push("every family stays in one row".to_owned()),
        Some(1) => said.push("1 family goes on in another row".to_owned()),
        Some(times) => said.push(format!("families go on in another row {times} times")),
    }
    if let Some(next) = plan.touched_by_newcomer {
        said.push(format!(
            "the next new card would move {next:.1} others on average"
        ));
    }
    said
}

/// The plans by the cards they touch, across, and the room they leave, up. Each is its number, the
/// one shown in brackets. Nothing where there is but one.
fn chart(app: &App, plans: &Plans, width: usize, rows: usize) -> Vec<Line<'static>> {
    let slots = width.saturating_sub(1) / 3;
    if plans.plans.len() < 2 || slots < plans.plans.len() || rows == 0 {
        return Vec::new();
    }
    let share = |value: f64, from: f64, to: f64, last: usize| {
        let at = if to > from {
            (value - from) / (to - from)
        } else {
            0.0
        };
        (0..=last)
            .min_by(|&a, &b| {
                let off = |n: usize| (n as f64 - at * last as f64).abs();
                off(a).total_cmp(&off(b))
            })
            .unwrap_or(0)
    };
    let touched = || plans.plans.iter().map(|plan| plan.touched + plan.relabel);
    let (least, most) = (touched().min().unwrap_or(0), touched().max().unwrap_or(0));
    let room = || plans.plans.iter().map(|plan| plan.room);
    let (best, worst) = (
        room().fold(f64::INFINITY, f64::min),
        room().fold(f64::NEG_INFINITY, f64::max),
    );
    let mut cells = vec![vec![None; slots]; rows];
    let name = |nth: usize| plans.plans.get(nth).map_or(0, |plan| plan.number);
    for (nth, (cards, room)) in touched().zip(room()).enumerate() {
        let row = &mut cells[share(room, best, worst, rows - 1)];
        let wanted = share(cards as f64, least as f64, most as f64, slots - 1);
        // Where another plan stands already, the nearest place beside it.
        let free = (0..slots).filter(|&slot| row[slot].is_none());
        if let Some(slot) = free.min_by_key(|slot| slot.abs_diff(wanted)) {
            row[slot] = Some(nth);
        }
    }
    let mut lines: Vec<Line<'static>> = cells
        .into_iter()
        .map(|row| {
            let mut spans = vec![Span::styled("|", app.theme.faint())];
            spans.extend(row.into_iter().map(|cell| match cell {
                None => Span::raw("   "),
                Some(nth) if nth == plans.at => {
                    Span::styled(format!("[{}]", name(nth)), app.theme.target())
                }
                Some(nth) => Span::raw(format!(" {} ", name(nth))),
            }));
            Line::from(spans)
        })
        .collect();
    let axis = format!("+{}", "-".repeat(3 * slots));
    lines.push(Line::styled(axis, app.theme.faint()));
    let legend = if least == most {
        "up: more room kept".to_owned()
    } else {
        format!("right: more cards, {least} to {most}; up: more room kept")
    };
    lines.extend(paragraph(&legend, width, app.theme.faint()));
    lines
}

/// Why the card of a step gets the home it does.
fn why(state: &State, plans: &Plans, step: &HangStep) -> String {
    let homes = plans.plan().map_or(&[][..], |plan| &plan.homes);
    let home = homes.iter().find(|(card, _)| *card == step.card);
    let kept = state.card(step.card);
    let (Some(&(card, to)), Some(kept)) = (home, kept) else {
        return String::new();
    };
    let Some(why) = plans.why(state, card) else {
        return String::new();
    };
    let why = match why {
        Why::New => "it has no home yet".to_owned(),
        Why::Reserved => "its hook is reserved".to_owned(),
        Why::OutOfOrder => "it hangs out of order".to_owned(),
        Why::Room => "to leave room for colours to come".to_owned(),
        Why::MakesWay(new) => match new.and_then(|new| state.card(new)) {
            Some(new) => format!("to make room for {new}", new = state.card_name(new)),
            None => "to make room for others".to_owned(),
        },
    };
    let (name, from) = (state.card_name(kept), hook(state, kept.home, "the tray"));
    format!(
        "{name} from {from} to {to}: {why}",
        to = state.hook_name(to)
    )
}

/// What the panel is called: where nothing hangs yet nothing is hung anew.
pub(super) fn title(state: &State) -> &'static str {
    let aims = state.underway().map_or(&[][..], |underway| &underway.homes);
    let is_old = |kept: &CardState| {
        kept.home
            .is_some_and(|home| !aims.contains(&(kept.card.id, home)))
    };
    if state.cards().any(is_old) {
        "Re-hang"
    } else {
        "Hang"
    }
}

/// While plans are worked out.
pub(super) fn planning(app: &App, count: usize, width: usize) -> Vec<Line<'static>> {
    let mut lines = vec![
        Line::styled("Working out plans ...", app.theme.strong()),
        Line::raw(fit(
            &format!("{count} looked at, of some {MOST_CANDIDATES}"),
            width,
        )),
        Line::raw(bar(count.min(MOST_CANDIDATES), MOST_CANDIDATES, width)),
        Line::default(),
    ];
    let text = "Many cards take a while. Nothing is changed, and Esc stops it.";
    lines.extend(paragraph(text, width, app.theme.faint()));
    lines
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
    let of = plans.plans.last().unwrap_or(plan).number;
    let first = plans.plans.iter().find(|plan| plan.number == 1);
    let first = first.unwrap_or(plan);
    let which = if plan.number == 0 {
        "move nothing"
    } else if plan.number == 1 {
        "fewest moved"
    } else if plan.disorder.cards() > 0 {
        "some out of order"
    } else if plan.number == of {
        "fresh layout"
    } else if plan.room < first.room {
        "more room"
    } else if plan.family_breaks < first.family_breaks {
        "fewer breaks"
    } else {
        "another way"
    };
    let mut lines = vec![Line::styled(
        fit(
            &format!("plan {at} of {of}: {which}", at = plan.number),
            width,
        ),
        app.theme.strong(),
    )];
    lines.extend(paragraph(&sentence(state, plan), width, app.theme.strong()));
    let order = match state.order() {
        WallOrder::Family => "by family, then number",
        WallOrder::Number => "by number alone",
        WallOrder::Lightness => "by family, then light to dark",
    };
    let is_low = height < 24;
    if !is_low {
        lines.push(Line::styled(fit(order, width), app.theme.faint()));
    }
    lines.extend(chart(app, plans, width, if is_low { 3 } else { 6 }));
    let (shown, key) = if plans.after {
        ("the wall as it will be", "+ comes here")
    } else {
        ("the wall as it is", "- leaves here")
    };
    let shown = format!("{shown}: {key}");
    let mut below = paragraph(&shown, width, app.theme.faint());
    if let Some(step) = plan.steps.get(plans.top) {
        below.extend(paragraph(
            &why(state, plans, step),
            width,
            app.theme.strong(),
        ));
    }
    // The first steps are always in view; of the rest what there is room for.
    let steps = plan.steps.len().min(LEAST_STEPS);
    let mut room = height.saturating_sub(lines.len() + below.len() + steps);
    for detail in details(plan) {
        let said = paragraph(&detail, width, Style::new());
        if said.len() <= room {
            room -= said.len();
            lines.extend(said);
        }
    }
    lines.extend(below);
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

/// How far a re-hang has come, above its step.
pub(super) fn work_title(app: &App, state: &State, work: &Work, width: u16) -> Line<'static> {
    let done = state.underway().map_or(0, |underway| {
        usize::try_from(underway.done).unwrap_or(usize::MAX)
    });
    let all = done + work.steps.len();
    let words = format!("{done} of {} done", counted(all, "step", "steps"));
    let board = app.board(state).map_or("", |board| board.name.as_str());
    walk::title(app, ("Re-hang", board), (done, all), &words, width)
}

/// The step of a re-hang that is to be done next.
pub(super) fn work(app: &App, state: &State, work: &Work, frame: &mut Frame<'_>, body: Rect) {
    let Some(step) = work.step() else {
        return;
    };
    let Some(kept) = state.card(step.card) else {
        return;
    };
    let (words, place) = what_to_do(state, step, kept);
    let mut more = step.to.map_or_else(String::new, |to| {
        let hook = state.hook_name(to);
        format!("{}. Write {hook} on the card.", walk::neighbours(state, to))
    });
    if matches!(kept.place.at, Whereabouts::Missing { .. }) {
        more = "Write it on the card when it turns up.".to_owned();
    }
    let next = work.then().filter_map(|step| {
        Some(Next {
            kept: state.card(step.card)?,
            place: hook(state, step.to, "hand"),
            later: work.skipped.contains(&step.card),
        })
    });
    let shown = walk::Step {
        kept,
        words,
        place,
        more,
        target: step.to,
        source: step.from,
        next: next.collect(),
        hint: "s puts a card off. m says that it is missing. A marks all cards as hung.",
    };
    shown.draw(app, state, frame, body);
}

/// What the hands do, and the place in large letters.
fn what_to_do(state: &State, step: &HangStep, kept: &CardState) -> (String, String) {
    let missing = matches!(kept.place.at, Whereabouts::Missing { .. });
    let away = missing || kept.place.at.ring().is_some();
    let in_hand = matches!(kept.place.at, Whereabouts::Hand);
    let on = |to: Option<HookRef>| to.map_or_else(String::new, |to| state.hook_name(to));
    let to = on(step.to);
    match (step.from, step.to) {
        (_, Some(_)) if missing => ("missing: its hook becomes".to_owned(), to),
        (_, None) if away => ("out: rub its hook out for now".to_owned(), String::new()),
        (from, None) => ("lift it off and keep it in hand".to_owned(), on(from)),
        (_, Some(_)) if away => ("out: its hook becomes".to_owned(), to),
        (None, Some(_)) if in_hand => ("hang it from the hand on".to_owned(), to),
        (None, Some(_)) => ("a new card: hang it on".to_owned(), to),
        (Some(from), Some(_)) => (format!("move it from {} to", on(Some(from))), to),
    }
}
