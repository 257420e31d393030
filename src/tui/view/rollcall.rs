//! The roll call, in the panel.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use super::panel;
use super::walks::bar;
use crate::model::ids::CardId;
use crate::model::whereabouts::Place;
use crate::stash::command::rollcall::Report;
use crate::stash::event::Act;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::App;
use crate::tui::app::rollcall::{RollCall, Stage};
use crate::tui::widgets::text::typed;
use crate::tui::widgets::text::{fit, paragraph, told};

pub(super) fn draw(
    app: &App,
    state: &State,
    call: &RollCall,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    match &call.stage {
        Stage::Walk | Stage::Typing(..) => walk(app, state, call, width),
        Stage::Report(shown, top) => report(app, state, call, shown, *top, width, height),
        Stage::Home(cards, at, act) => home(app, state, cards, *at, act, width),
    }
}

/// A card in a line, with its swatch where the terminal shows colour, and what is said before it.
fn card_line(
    app: &App,
    state: &State,
    kept: &CardState,
    (before, style): (&str, Style),
    width: usize,
) -> Line<'static> {
    let swatch = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
    let (dot, used) = swatch.map_or((Span::raw(""), 0), |swatch| {
        (Span::styled("   ", swatch), 3)
    });
    let space = if used > 0 { " " } else { "" };
    let text = format!("{space}{} {}", state.card_name(kept), kept.card.name);
    let room = width.saturating_sub(used + before.len());
    Line::from(vec![
        Span::styled(before.to_owned(), style),
        dot,
        Span::styled(fit(&text, room), style),
    ])
}

fn walk(app: &App, state: &State, call: &RollCall, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let tally = call.tally(state);
    let all = call.stops(state);
    let mut lines = vec![
        Line::raw(fit(
            &format!("{hooks} of {all} hooks", hooks = tally.hooks),
            width,
        )),
        Line::raw(bar(tally.hooks, all, width)),
    ];
    let so_far = format!(
        "{found} found, {absent} not there, {others} seen elsewhere than recorded",
        found = tally.found,
        absent = tally.absent,
        others = tally.others
    );
    lines.extend(paragraph(&so_far, width, theme.faint()));
    lines.push(Line::default());
    let Some(stop) = call.stop(state) else {
        return lines;
    };
    let board = state.board(stop.hook.board);
    let run = board.map_or_else(String::new, |board| {
        text::places::run_name(board, stop.hook)
    });
    let confirmed = if call.seen.contains_key(&stop.hook) {
        ", confirmed"
    } else {
        ""
    };
    let head = format!(
        "{run}, hook {state}{confirmed}",
        state = state.hook_name(stop.hook)
    );
    lines.push(Line::styled(fit(&head, width), theme.target()));
    let others = call.others.iter().filter_map(|&card| state.card(card));
    let cards: Vec<(&CardState, bool)> = (stop.hang.iter().map(|&kept| (kept, false)))
        .chain(others.map(|kept| (kept, true)))
        .collect();
    let several = cards.len() > 1;
    for (at, &(kept, other)) in cards.iter().enumerate() {
        let arrow = match (several, at == call.pick) {
            (false, _) => "",
            (true, true) => "> ",
            (true, false) => "  ",
        };
        let (words, style) = if call.absent.contains(&kept.card.id) {
            ("not here: ", theme.wrong())
        } else if other {
            ("also here: ", theme.away())
        } else {
            ("", theme.strong())
        };
        let before = format!("{arrow}{words}");
        lines.push(card_line(app, state, kept, (&before, style), width));
        if kept.home.is_some_and(|home| home != stop.hook) && !other {
            let home = kept
                .home
                .map_or_else(String::new, |home| state.hook_name(home));
            let text = format!("it lives on {home}");
            lines.extend(paragraph(&text, width, theme.away()));
        }
    }
    if cards.is_empty() {
        lines.extend(paragraph("Nothing should hang here.", width, Style::new()));
    }
    for kept in &stop.out {
        let (name, place) = (state.card_name(kept), text::places::place_of(state, kept));
        lines.extend(paragraph(
            &format!("{name} is {place}."),
            width,
            theme.faint(),
        ));
    }
    lines.push(Line::default());
    if let Stage::Typing(field, wrong) = &call.stage {
        lines.push(Line::styled("What else hangs here?", theme.strong()));
        lines.push(typed(&app.theme, field.halves(), width));
        match wrong {
            Some(wrong) => lines.extend(paragraph(&told(wrong), width, theme.wrong())),
            None => lines.extend(paragraph(
                "its number, or RANGE:NUMBER",
                width,
                theme.faint(),
            )),
        }
    } else {
        let text = "Nothing is recorded until you have seen the report.";
        lines.extend(paragraph(text, width, theme.faint()));
    }
    lines
}

/// Where the record had a card, in words.
fn recorded_place(state: &State, kept: &CardState, recorded: &Place) -> String {
    text::places::place_of(
        state,
        &CardState {
            place: recorded.clone(),
            ..kept.clone()
        },
    )
}

fn report(
    app: &App,
    state: &State,
    call: &RollCall,
    report: &Report,
    top: usize,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let mut lines = paragraph(
        &text::history::act(state, &report.act()),
        width,
        theme.strong(),
    );
    let left = call.stops(state).saturating_sub(report.walked);
    let word = one_or_many(report.walked, "hook", "hooks");
    let walked = match left {
        0 => "Every hook was confirmed.".to_owned(),
        left => format!(
            "{walked} {word} confirmed, {left} not.",
            walked = report.walked
        ),
    };
    lines.extend(paragraph(&walked, width, theme.faint()));
    let what = if report.misplaced.is_empty() && report.missing.is_empty() {
        "All is as recorded. Enter records that it was looked at."
    } else {
        "Enter records it: what was seen hangs there, what was not seen is missing."
    };
    lines.extend(paragraph(what, width, Style::new()));
    lines.push(Line::default());
    let misplaced = report.misplaced.iter().map(|of| {
        let seen = format!("hangs on {state}", state = state.hook_name(of.seen));
        (of.card, seen, &of.recorded, theme.away())
    });
    let missing = report.missing.iter().map(|of| {
        let seen = "is not there".to_owned();
        (of.card, seen, &of.recorded, theme.wrong())
    });
    for (card, seen, recorded, style) in misplaced.chain(missing).skip(top) {
        if lines.len() >= height {
            break;
        }
        let Some(kept) = state.card(card) else {
            continue;
        };
        let (name, recorded) = (state.card_name(kept), recorded_place(state, kept, recorded));
        let text = format!("{name} {seen}; recorded {recorded}");
        lines.extend(paragraph(&text, width, style));
    }
    lines
}

fn home(
    app: &App,
    state: &State,
    cards: &[CardId],
    at: usize,
    act: &Act,
    width: usize,
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let mut lines = paragraph(&text::history::act(state, act), width, theme.strong());
    lines.extend(paragraph("That is recorded.", width, theme.faint()));
    lines.push(Line::default());
    let Some(kept) = cards.get(at).and_then(|&card| state.card(card)) else {
        return lines;
    };
    let which = format!(
        "card {at} of {count} on another hook than its own",
        at = at + 1,
        count = cards.len()
    );
    lines.extend(paragraph(&which, width, Style::new()));
    let hook_name = |hook: Option<_>| hook.map_or_else(String::new, |hook| state.hook_name(hook));
    let text = format!(
        "hang {kept} on its own hook {hook_name}",
        kept = state.card_name(kept),
        hook_name = hook_name(kept.home)
    );
    lines.extend(paragraph(&text, width, theme.target()));
    lines.extend(panel::heading(app, state, kept, width));
    let now = format!(
        "it hangs on {hook_name}",
        hook_name = hook_name(kept.place.at.hook())
    );
    lines.push(Line::raw(fit(&now, width)));
    lines
}
