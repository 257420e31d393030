//! The hook and the card under the cursor.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use super::text::{ago, fit, labelled, pad, paragraph};
use crate::model::card::MoveCost;
use crate::model::ring::RingState;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::cards;
use crate::tui::app::{App, cards_at};
use crate::tui::theme::Theme;

/// The hook under the cursor.
pub(super) fn title(app: &App, state: &State) -> String {
    let Some(hook) = app.hook(state) else {
        return "Homehook".to_owned();
    };
    let cards = cards_at(state, hook).len();
    let which = if cards > 1 {
        format!(
            ", card {which} of {cards} (Tab)",
            which = app.eye.pick.min(cards - 1) + 1
        )
    } else {
        String::new()
    };
    format!("Hook {hook}{which}", hook = state.hook_name(hook))
}

/// The card under the cursor, or what else there is to say of the hook.
pub(super) fn card(app: &App, state: &State, width: usize) -> Vec<Line<'static>> {
    let Some(hook) = app.hook(state) else {
        return Vec::new();
    };
    let mut lines = Vec::new();
    for ring in state.rings() {
        if let RingState::Hanging { hook: at, since } = ring.state
            && at == hook
        {
            let left = state.cards_on(ring).count();
            let text = format!(
                "The ring '{project}' hangs here since {ago}, with {cards} on it.",
                project = ring.project,
                ago = ago(since, app.now),
                cards = cards(u32::try_from(left).unwrap_or(u32::MAX))
            );
            lines.extend(paragraph(&text, width, app.theme.away()));
            lines.push(Line::default());
        }
    }
    if (state.board(hook.board)).is_some_and(|board| board.reserved(hook)) {
        let text = "Kept free: a re-hang leaves this hook empty.";
        lines.extend(paragraph(text, width, app.theme.faint()));
        lines.push(Line::default());
    }
    if let Some(kept) = app.card(state) {
        lines.extend(about(app, state, kept, width));
    } else if let Some(why) = state
        .board(hook.board)
        .and_then(|board| board.blocked(hook))
    {
        lines.extend(paragraph(
            &format!("Blocked: {why}"),
            width,
            app.theme.faint(),
        ));
    } else {
        let places = state.capacity(hook);
        let text = if places == 1 {
            "A free place.".to_owned()
        } else {
            format!("{places} free places.")
        };
        lines.extend(paragraph(&text, width, app.theme.faint()));
    }
    lines
}

/// The number and the name of a card on its swatch.
pub(super) fn heading(
    app: &App,
    state: &State,
    kept: &CardState,
    width: usize,
) -> [Line<'static>; 2] {
    let number = state.card_name(kept);
    [number.as_str(), kept.card.name.as_str()].map(|text| swatch(&app.theme, kept, text, width))
}

/// A swatch as wide as the panel, where the terminal shows colour.
fn swatch(theme: &Theme, kept: &CardState, text: &str, width: usize) -> Line<'static> {
    let style = kept.card.colour.and_then(|colour| theme.swatch(colour));
    match style {
        Some(style) => Line::styled(pad(&format!(" {text}"), width), style),
        None => Line::styled(fit(text, width), theme.strong()),
    }
}

/// All there is to know of a card.
pub(super) fn about(
    app: &App,
    state: &State,
    kept: &CardState,
    width: usize,
) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let faint = theme.faint();
    let mut lines = heading(app, state, kept, width).to_vec();
    lines.push(Line::default());
    let at_home = kept.is_home();
    let place = if at_home {
        "at home".to_owned()
    } else {
        format!(
            "{} ({})",
            text::places::place_of(state, kept),
            ago(kept.place.since, app.now)
        )
    };
    let style = if at_home { Style::new() } else { theme.away() };
    lines.extend(paragraph(&place, width, style));
    if let Some(with) = text::places::last_seen_with(state, kept) {
        lines.extend(paragraph(&with, width, Style::new()));
    }
    lines.push(Line::default());
    let mut say = |label: &str, value: &str| {
        if !value.is_empty() {
            lines.push(labelled(label, value, width, faint));
        }
    };
    let home = kept
        .home
        .map_or("none yet".to_owned(), |home| state.hook_name(home));
    say("home", &home);
    let held = match (kept.card.touch, state.family_hold(kept)) {
        (MoveCost::Held, _) => "here: a re-hang leaves it".to_owned(),
        (_, Some(family)) => format!("with its family, {name}", name = family.name),
        _ => String::new(),
    };
    say("held", &held);
    say("range", state.range_name(kept));
    say("family", state.family_name(kept));
    let colour = kept.card.colour.map(|colour| colour.to_string());
    say("colour", &colour.unwrap_or_default());
    say("left", &amount(state, kept));
    if kept.skeins() > 0 {
        say(
            "reserve",
            &format!("{skeins} uncut", skeins = skeins(kept.skeins())),
        );
    }
    say("lot", &kept.thread.lot_names());
    say("note", kept.card.note.as_str());
    if app.chosen.contains(&kept.card.id) {
        lines.push(Line::default());
        lines.push(Line::from(Span::styled("* chosen", theme.strong())));
    }
    lines
}

fn skeins(n: u32) -> String {
    if n == 1 {
        "1 skein".to_owned()
    } else {
        format!("{n} skeins")
    }
}

/// The thread on a card, in lengths, strands and metres.
pub(super) fn amount(state: &State, kept: &CardState) -> String {
    let (strands, put_up) = (kept.strands(), state.put_up(&kept.card));
    let lengths = match (put_up.lengths(strands), put_up.loose(strands)) {
        (1, 0) => "1 length".to_owned(),
        (n, 0) => format!("{n} lengths"),
        (n, loose) => format!(
            "{n}+{loose}: {n} whole, {loose} of {strands} strands",
            strands = put_up.in_length()
        ),
    };
    let metres = put_up.to_fraction(strands) * f64::from(kept.card.cut_cm) / 100.0;
    format!("{lengths} ({metres:.1} m)")
}
