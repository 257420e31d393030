//! Lists in the panel: matches, rings, cards not at home.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use crate::model::ring::RingState;
use crate::model::whereabouts::Whereabouts;
use crate::stash::projects::low::low;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::App;
use crate::tui::field::Field;
use crate::tui::update::listed_rings;
use crate::tui::widgets::list::in_view;
use crate::tui::widgets::text::{ago, fit, pad, paragraph, typed};

/// What is written in a line of a form: with the cursor where it is `here`, and as a whole where it was
/// only `offered`, so that typing takes its place.
pub(super) fn written(
    app: &App,
    field: &Field,
    here: bool,
    offered: bool,
    room: usize,
) -> Vec<Span<'static>> {
    match (here, offered) {
        (true, true) => vec![Span::styled(fit(field.text(), room), app.theme.chosen())],
        (true, false) => typed(&app.theme, field.halves(), room).spans,
        (false, _) => vec![Span::raw(fit(field.text(), room))],
    }
}

/// A small swatch, or what stands for it.
fn dot(app: &App, kept: &CardState) -> Span<'static> {
    let style = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
    style.map_or_else(|| Span::raw(""), |style| Span::styled("  ", style))
}

/// Where a card is, in a word or two.
fn whereabouts(state: &State, kept: &CardState) -> String {
    match &kept.place.at {
        Whereabouts::Hook { hook } => state.hook_name(*hook),
        Whereabouts::Ring { ring } => {
            let ring = state.ring(*ring);
            ring.map_or_else(String::new, |ring| {
                format!("on {project}", project = ring.project)
            })
        }
        Whereabouts::Hand => "in hand".to_owned(),
        Whereabouts::Missing { .. } => "missing".to_owned(),
        Whereabouts::Elsewhere { note, loan } => text::places::elsewhere(note, loan.as_ref()),
        Whereabouts::Unhung => "to hang".to_owned(),
    }
}

fn row(app: &App, state: &State, kept: &CardState, chosen: bool, width: usize) -> Line<'static> {
    let style = if chosen {
        app.theme.chosen()
    } else {
        Style::new()
    };
    let hook_name = if app.chosen.contains(&kept.card.id) {
        '*'
    } else {
        ' '
    };
    let number = state.card_name(kept);
    let at_home = kept.is_home();
    let where_now = whereabouts(state, kept);
    let swatch = dot(app, kept);
    let room = width.saturating_sub(swatch.width());
    let side = (room / 3).clamp(4, 20);
    let text = format!("{hook_name}{number} {}", kept.card.name);
    Line::from(vec![
        swatch,
        Span::styled(pad(&text, room.saturating_sub(side + 1)), style),
        Span::styled(" ", style),
        Span::styled(
            pad(&where_now, side),
            if at_home {
                style
            } else {
                style.patch(app.theme.away())
            },
        ),
    ])
}

pub(super) fn rings(
    app: &App,
    state: &State,
    at: usize,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let listed = listed_rings(state);
    if listed.is_empty() {
        let text = "No ring is open. On the board, choose cards with Space and press t.";
        return paragraph(text, width, app.theme.faint());
    }
    let mut lines = Vec::new();
    let each = 3;
    for n in in_view(at, listed.len(), height / each) {
        let Some(ring) = listed.get(n) else { continue };
        let style = if n == at {
            app.theme.chosen()
        } else if ring.is_closed() {
            app.theme.faint()
        } else {
            app.theme.strong()
        };
        let chosen = app.chosen_rings.contains(&ring.id);
        let name = format!("{}{}", if chosen { "* " } else { "" }, ring.project);
        lines.push(Line::styled(pad(&name, width), style));
        let cards = state.cards_on(ring).count();
        let count = if cards == 1 {
            "1 card".to_owned()
        } else {
            format!("{cards} cards")
        };
        let (text, style) = match ring.state {
            RingState::Hanging { hook, since } => (
                format!(
                    "  {count}, hanging on {hook} {ago}",
                    hook = state.hook_name(hook),
                    ago = ago(since, app.now)
                ),
                app.theme.away(),
            ),
            RingState::Closed { at } => (
                format!("  closed {ago}; c reopens it", ago = ago(at, app.now)),
                app.theme.faint(),
            ),
            RingState::Live => (
                format!("  {count}, open {ago}", ago = ago(ring.opened, app.now)),
                Style::new(),
            ),
        };
        lines.push(Line::styled(fit(&text, width), style));
        let low = match low(state, ring).len() {
            _ if ring.is_closed() => String::new(),
            0 => String::new(),
            1 => "  1 colour runs low".to_owned(),
            n => format!("  {n} colours run low"),
        };
        lines.push(Line::styled(fit(&low, width), app.theme.wrong()));
    }
    lines
}

pub(super) fn away(
    app: &App,
    state: &State,
    at: usize,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let cards = state.not_at_home();
    let Some(chosen) = cards.get(at.min(cards.len().saturating_sub(1))) else {
        return paragraph("Every card is at home.", width, app.theme.strong());
    };
    let head = format!(
        "{count} of {cards} cards",
        count = cards.len(),
        cards = state.cards().len()
    );
    let mut lines = vec![Line::styled(head, app.theme.faint())];
    let with = text::places::last_seen_with(state, chosen);
    let with = with.map_or_else(String::new, |with| format!(", {with}"));
    let words = format!(
        "{}: {}{with}, {}",
        state.card_name(chosen),
        text::places::place_of(state, chosen),
        ago(chosen.place.since, app.now)
    );
    let below = paragraph(&words, width, app.theme.away());
    let room = height.saturating_sub(2 + below.len());
    for n in in_view(at, cards.len(), room) {
        if let Some(kept) = cards.get(n) {
            lines.push(row(app, state, kept, n == at, width));
        }
    }
    lines.push(Line::default());
    lines.extend(below);
    lines
}
