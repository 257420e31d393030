//! Pending work shown when a stash with cards opens: one line each, with the key that leads there.

use std::collections::BTreeSet;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::card_in_hand::{CardInHand, begins};
use super::roll_call;
use crate::model::ids::RingId;
use crate::stash::command::rehang::to_hang;
use crate::stash::event::Act;
use crate::stash::projects::low::low;
use crate::stash::whereabouts::forgotten;
use crate::text;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::screens::project::fetch::half_fetched;
use crate::tui::widgets::text::{fit, pad, wrap};
use crate::tui::widgets::window;

/// The most lines of one kind.
const MOST: usize = 3;

/// A pending item.
#[derive(Clone, PartialEq, Eq, Debug)]
struct Waits {
    /// The key that leads there.
    key: &'static str,
    /// Its description.
    words: String,
}

/// The window. Any key closes it and does what it does on the board.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Start {
    title: &'static str,
    lines: Vec<Waits>,
}

impl Start {
    /// The pending work; `None` if there is none.
    #[must_use]
    pub fn of(app: &App, stash: Stash<'_>) -> Option<Self> {
        let lines = waiting(app, stash);
        (!lines.is_empty()).then_some(Self {
            title: "Waiting for you",
            lines,
        })
    }

    /// An introduction to the demo stash, with things to try.
    #[must_use]
    pub fn of_demo() -> Self {
        let line = |key, words: &str| Waits {
            key,
            words: words.to_owned(),
        };
        Self {
            title: "An invented stash: nothing you do here is kept",
            lines: vec![
                line("/", "Find a colour: type slate, or 447"),
                line("447", "Hold a card in your hand: type its number"),
                line("g", "Hang the cards that wait: choose among plans"),
                line("q", "Leave"),
            ],
        }
    }
}

/// The pending items, most urgent first, at most one for each ring. O(cards + threads of the chart
/// keys of open projects).
fn waiting(app: &App, stash: Stash<'_>) -> Vec<Waits> {
    let state = stash.state;
    let cards = |n: usize| text::cards(u32::try_from(n).unwrap_or(u32::MAX));
    let waits = |key, words: String| Waits { key, words };
    let mut lines = Vec::new();
    if let Some(underway) = state.underway() {
        let (done, steps) = (underway.done, underway.steps);
        lines.push(waits(
            "g",
            format!("A re-hang is underway: {done} of {steps} steps done"),
        ));
    }
    if let Some((done, all)) = roll_call::underway(stash) {
        let words = format!("A roll call is underway: {done} of {all} rows confirmed");
        lines.push(waits("v", words));
    }
    let mut told: BTreeSet<RingId> = BTreeSet::new();
    let half = half_fetched(state).into_iter().take(MOST);
    lines.extend(half.map(|(ring, there, all)| {
        told.insert(ring.id);
        let project = &ring.project;
        waits(
            "r",
            format!("'{project}' is half fetched: {there} of {all} fetched"),
        )
    }));
    let mut left = forgotten(state, app.now);
    left.retain(|one| !told.contains(&one.ring.id));
    lines.extend(left.into_iter().take(MOST).map(|one| {
        told.insert(one.ring.id);
        let (project, days) = (&one.ring.project, one.days);
        let count = cards(state.cards_on(one.ring).count());
        let words = match one.hanging {
            Some(hook) => format!(
                "'{project}' has hung on {} for {days} days with {count}",
                state.hook_name(hook)
            ),
            None => format!("No card came to '{project}' for {days} days, with {count} on it"),
        };
        waits("r", words)
    }));
    let count = to_hang(state).count();
    if count > 0 && state.underway().is_none() {
        lines.push(waits("g", format!("{} to hang", cards(count))));
    }
    let open = state.rings().filter(|ring| !ring.is_closed());
    let open = open.filter(|ring| !told.contains(&ring.id));
    let short = open.filter_map(|ring| {
        let low = low(state, ring);
        let first = low.first()?;
        let more = match low.len() {
            1 => String::new(),
            n => format!(" and {} more", n - 1),
        };
        let project = &ring.project;
        Some(format!("{}{more} won't last for '{project}'", first.number))
    });
    lines.extend(short.take(MOST).map(|words| waits("r", words)));
    lines
}

impl Screen for Start {
    fn scope(&self) -> Scope {
        Scope::Board
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        context.close();
        if action != Action::Cancel {
            context.then(action);
        }
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        context.close();
        if begins(key) {
            context.open(CardInHand::begun(key));
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, _: &Act) {
        context.close();
    }

    fn clicked(&mut self, context: &mut Context<'_>, _: u16, _: u16) {
        context.close();
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let theme = &app.theme;
        let width = 66.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let mut lines = vec![Line::default()];
        for waits in &self.lines {
            let words = wrap(&waits.words, inner.saturating_sub(6).max(8));
            for (at, words) in words.into_iter().enumerate() {
                let key = if at == 0 { waits.key } else { "" };
                lines.push(Line::from(vec![
                    Span::styled(format!("  {}", pad(key, 4)), theme.accent()),
                    Span::styled(words, Style::new()),
                ]));
            }
        }
        lines.push(Line::default());
        let foot = "Any other key closes this and does what it does on the board.";
        lines.push(Line::styled(fit(foot, inner), theme.faint()));
        let inside = window::at_foot(&app.theme, self.title, (width, lines.len()), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::screens::welcome::greet;
    use crate::tui::testing::{ROBIN, TestApp, now};
    use crate::tui::theme::Depth;

    fn opened(desk: &TestApp, days: i64) -> TestApp {
        let mut desk = desk.clone();
        let mut app = desk.app.clone();
        app.now = now() + jiff::SignedDuration::from_hours(days * 24);
        greet(&mut app, desk.stash());
        desk.app = app;
        desk
    }

    #[test]
    fn pending_work_is_listed_with_its_key() {
        let desk = TestApp::sample(Depth::None);
        let opened_late = opened(&desk, 40);
        let drawn = opened_late.drawn((80, 24)).join("\n");
        for says in [
            "r   'Kite' has hung on D06 for 40 days with 1 card",
            "g   2 cards to hang",
        ] {
            assert!(drawn.contains(says), "{says:?} in\n{drawn}");
        }
        // Any key closes it and does what it does on the board.
        assert_eq!(opened_late.after("r").app.scope(), Scope::Rings);
        assert_eq!(opened_late.after("g").app.scope(), Scope::Plans);
        assert_eq!(opened_late.after("20").app.scope(), Scope::InHand);
        assert!(opened_late.after("\u{1b}").app.stack.is_empty());
        assert_eq!(opened_late.after("l").app.eye.column, 1);
    }

    #[test]
    fn interrupted_fetch_and_current_re_hang_are_listed() {
        let desk = TestApp::sample(Depth::None).after(ROBIN);
        let fetching = opened(&desk.after("t\n\u{1b}\u{1b}\u{1b}"), 0);
        let drawn = fetching.drawn((80, 24)).join("\n");
        assert!(drawn.contains("'Robin' is half fetched: 1 of "), "{drawn}");
        let hanging = opened(&TestApp::sample(Depth::None).after("g\n\n\u{1b}"), 0);
        let drawn = hanging.drawn((80, 24)).join("\n");
        assert!(
            drawn.contains("g   A re-hang is underway: 1 of "),
            "{drawn}"
        );
    }

    #[test]
    fn no_window_opens_without_pending_work() {
        let mut desk = TestApp::empty(Depth::None);
        desk.keys("B\n2\n2\u{13}n310\u{13}g\n\n");
        assert!(
            desk.state
                .cards()
                .all(crate::stash::state::CardState::is_home)
        );
        assert!(opened(&desk, 0).app.stack.is_empty());
    }
}
