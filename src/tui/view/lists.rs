//! Lists in the panel: matches, rings, cards not at home.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use crate::model::ring::RingState;
use crate::stash::projects::low::low;
use crate::stash::state::State;
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
