//! Fetching a kit.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::panel;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::App;
use crate::tui::app::project::{Fetch, Pull};
use crate::tui::widgets::walk::{self, Next};

/// How far a walk is, as a bar of ASCII.
pub(super) fn bar(done: usize, all: usize, width: usize) -> String {
    let room = width.saturating_sub(2).min(40);
    let full = (room * done).checked_div(all).unwrap_or(room);
    format!("[{}{}]", "=".repeat(full), " ".repeat(room - full))
}

/// How far a kit is fetched, above its step.
pub(super) fn fetch_title(app: &App, state: &State, pull: &Pull, width: u16) -> Line<'static> {
    let project = state.ring(pull.page.ring);
    let project = project.map_or("", |ring| ring.project.as_str());
    let all = pull.done + pull.left(state).len();
    let words = format!("{} of {all} fetched", pull.done);
    walk::title(app, ("Fetch", project), (pull.done, all), &words, width)
}

/// The card of a kit that is to be fetched next.
pub(super) fn fetch(app: &App, state: &State, pull: &Pull, frame: &mut Frame<'_>, body: Rect) {
    let left = pull.left(state);
    let Some((first, then)) = left.split_first() else {
        return;
    };
    let Some(kept) = state.card(first.card()) else {
        return;
    };
    let on = kept.place.at.hook();
    let hook_name = on.map_or_else(String::new, |hook| state.hook_name(hook));
    let mut more = panel::amount(state, kept);
    let (words, place) = match first {
        Fetch::Take(_) if on.is_some() => ("take it off".to_owned(), hook_name),
        Fetch::Take(_) => ("take it from the cards to hang".to_owned(), String::new()),
        Fetch::Split(from) => {
            let amount = from.strands.map_or_else(
                || "some".to_owned(),
                |amount| text::thread::amount(amount, state.put_up(&kept.card)),
            );
            let ring = state.ring(from.ring).map_or_else(
                || "another ring".to_owned(),
                |ring| format!("the ring '{name}'", name = ring.project),
            );
            more = format!("from {ring}");
            (format!("split off {amount}"), String::new())
        }
    };
    let next = then.iter().filter_map(|fetch| {
        let kept = state.card(fetch.card())?;
        let place = match (fetch, kept.place.at.hook()) {
            (Fetch::Take(_), Some(hook)) => state.hook_name(hook),
            (Fetch::Take(_), None) => "to hang".to_owned(),
            (Fetch::Split(_), _) => "split".to_owned(),
        };
        Some(Next {
            kept,
            place,
            later: pull.later.contains(&fetch.card()),
        })
    });
    let step = walk::Step {
        kept,
        words,
        place,
        beside: on,
        more,
        target: on,
        source: None,
        next: next.collect(),
        hint: "s puts a card off. m says that it is missing. A takes all that are left.",
    };
    step.draw(app, state, frame, body);
}
