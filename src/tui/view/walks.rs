//! Fetching a kit and putting a ring away, in the panel.

use ratatui::text::Line;

use super::panel;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::App;
use crate::tui::app::project::{Fetch, Pull};
use crate::tui::widgets::text::{fit, pad, paragraph};

/// How far a walk is, as a bar of ASCII.
pub(super) fn bar(done: usize, all: usize, width: usize) -> String {
    let room = width.saturating_sub(2).min(40);
    let full = (room * done).checked_div(all).unwrap_or(room);
    format!("[{}{}]", "=".repeat(full), " ".repeat(room - full))
}

pub(super) fn pull(
    app: &App,
    state: &State,
    pull: &Pull,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let left = pull.left(state);
    let (done, all) = (pull.done, pull.done + left.len());
    let project = state
        .ring(pull.page.ring)
        .map_or("", |ring| ring.project.as_str());
    let mut lines = vec![
        Line::styled(fit(project, width), app.theme.strong()),
        Line::raw(format!("{done} of {all} fetched")),
        Line::raw(bar(done, all, width)),
        Line::default(),
    ];
    let Some((first, then)) = left.split_first() else {
        return lines;
    };
    let Some(kept) = state.card(first.card()) else {
        return lines;
    };
    let what = match first {
        Fetch::Take(_) => match kept.place.at.hook() {
            Some(hook) => format!("take it off {hook}", hook = state.hook_name(hook)),
            None => "take it from the cards to hang".to_owned(),
        },
        Fetch::Split(from) => {
            let amount = from.strands.map_or_else(
                || "some".to_owned(),
                |amount| text::thread::amount(amount, state.put_up(&kept.card)),
            );
            let ring = state.ring(from.ring).map_or_else(
                || "another ring".to_owned(),
                |ring| format!("the ring '{name}'", name = ring.project),
            );
            format!("split off {amount} from {ring}")
        }
    };
    for line in paragraph(&what, width, app.theme.target()) {
        lines.push(Line::styled(pad(&line.to_string(), width), line.style));
    }
    lines.extend(panel::heading(app, state, kept, width));
    lines.push(Line::raw(fit(&panel::amount(state, kept), width)));
    lines.push(Line::default());
    lines.push(Line::styled("then", app.theme.faint()));
    let room = height.saturating_sub(lines.len());
    for fetch in then.iter().take(room) {
        let Some(kept) = state.card(fetch.card()) else {
            continue;
        };
        let place = match fetch {
            Fetch::Take(_) => kept
                .place
                .at
                .hook()
                .map_or("tray".to_owned(), |hook| state.hook_name(hook)),
            Fetch::Split(_) => "decant".to_owned(),
        };
        let text = format!("{place:<5} {} {}", state.card_name(kept), kept.card.name);
        lines.push(Line::raw(fit(&text, width)));
    }
    lines
}
