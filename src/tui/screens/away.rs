//! The cards away from home, by where they are, and for how long.

use crate::model::ids::CardId;
use crate::stash::command::ring;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;
use jiff::Timestamp;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::card_form::ChangeCard;
use super::hang::Hang;
use crate::stash::state::{CardState, State};
use crate::stash::whereabouts::{self, IDLE_DAYS};
use crate::text;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::told::told;
use crate::tui::widgets::gauge::{gauge, thousandths};
use crate::tui::widgets::list::{List, counter, stepped, with_about};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{ago, fit, pad, paragraph};

/// Columns of a number in a list.
const NUMBER: usize = 5;
/// Columns for the time a card has been away: `123 days`.
const DAYS: usize = 8;

/// The screen.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
pub struct Away {
    /// Index of the selected card.
    at: usize,
}

/// A line of the list.
enum Entry<'a> {
    /// Where the cards below it are, how many there are, and whether that is a problem.
    Heading(String, usize, bool),
    /// A card.
    Card(&'a CardState),
}

/// The cards away from home, grouped by where they are: missing ones first, then those to hang,
/// then each ring. O(away · log cards).
fn entries(state: &State) -> Vec<Entry<'_>> {
    let whereabouts::Away {
        rings,
        to_hang,
        missing,
        elsewhere,
    } = state.away();
    let rings = rings.into_iter().map(|(ring, cards)| {
        let project = state.ring(ring).map_or("", |ring| ring.project.as_str());
        (format!("On the ring '{project}'"), cards, false)
    });
    let groups = [
        ("Missing".to_owned(), missing, true),
        ("Elsewhere".to_owned(), elsewhere, false),
        ("To hang".to_owned(), to_hang, false),
    ];
    let mut entries = Vec::new();
    for (what, cards, wrong) in groups.into_iter().chain(rings) {
        if !cards.is_empty() {
            entries.push(Entry::Heading(what, cards.len(), wrong));
            entries.extend(cards.into_iter().map(Entry::Card));
        }
    }
    entries
}

/// The cards in list order.
fn cards(state: &State) -> Vec<&CardState> {
    let entries = entries(state).into_iter();
    let cards = entries.filter_map(|entry| match entry {
        Entry::Card(kept) => Some(kept),
        Entry::Heading(..) => None,
    });
    cards.collect()
}

/// Whole days since a moment.
fn days(then: Timestamp, now: Timestamp) -> u64 {
    let days = now.duration_since(then).as_hours() / 24;
    u64::try_from(days).unwrap_or(0)
}

/// A bar for the time a card has been away, relative to the longest.
fn away_for(app: &App, kept: &CardState, longest: u64, width: usize) -> [Span<'static>; 2] {
    let away = days(kept.place.since, app.now);
    let long = i64::try_from(away).is_ok_and(|days| days >= IDLE_DAYS);
    let full = if long {
        app.theme.wrong()
    } else {
        app.theme.away()
    };
    let width = u16::try_from(width).unwrap_or(0);
    gauge(width, thousandths(away, longest), full, app.theme.line())
}

impl Away {
    /// Moves the cursor to the home of the selected card.
    fn follow(self, app: &mut App, state: &State) {
        if let Some(kept) = cards(state).get(self.at) {
            app.look_at_card(state, kept.card.id);
        }
    }

    /// A card: its swatch, number and name, and how long it has been away, relative to the longest.
    fn line(
        app: &App,
        state: &State,
        (kept, here): (&CardState, bool),
        longest: u64,
        width: usize,
    ) -> Line<'static> {
        let theme = &app.theme;
        let row = if here { theme.row() } else { Style::new() };
        let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
        let mark = app.chosen.contains(&kept.card.id);
        let bar: usize = match width {
            ..36 => 0,
            36..44 => 5,
            _ => 10,
        };
        let room = width.saturating_sub(4 + bar + 2 + DAYS);
        let words = format!("{:<NUMBER$} {}", state.card_name(kept), kept.card.name);
        let mut spans = vec![
            Span::styled(if here { "▸" } else { " " }, row.patch(theme.accent())),
            Span::styled("  ", swatch.unwrap_or(row)),
            Span::styled(if mark { "*" } else { " " }, row),
            Span::styled(pad(&words, room), row),
            Span::styled(" ", row),
        ];
        let bars = away_for(app, kept, longest, bar);
        let ground = row
            .bg
            .map_or_else(Style::new, |ground| Style::new().bg(ground));
        spans.extend(bars.map(|bar| bar.patch_style(ground)));
        let since = format!(
            "{:>width$}",
            ago(kept.place.since, app.now),
            width = DAYS + 1
        );
        spans.push(Span::styled(since, row.patch(theme.muted())));
        Line::from(spans)
    }

    /// Details of where the selected card is.
    fn about(
        app: &App,
        state: &State,
        kept: &CardState,
        longest: u64,
        width: usize,
    ) -> Vec<Line<'static>> {
        let theme = &app.theme;
        let name = format!("{} {}", state.card_name(kept), kept.card.name);
        let home = kept.home.map_or_else(
            || "It has no hook yet: e chooses one, g plans all.".to_owned(),
            |home| format!("It belongs on {}.", state.hook_name(home)),
        );
        let place = format!(
            "{}, {}",
            text::capital(&text::places::place_of(state, kept)),
            ago(kept.place.since, app.now)
        );
        let with = text::places::last_seen_with(state, kept);
        let with = with.map(|with| text::capital(&format!("{with}.")));
        let mut lines = vec![Line::default()];
        lines.push(Line::styled(fit(name.trim(), width), theme.strong()));
        lines.extend(paragraph(&place, width, theme.away()));
        lines.push(Line::from(away_for(app, kept, longest, width).to_vec()));
        for text in with.into_iter().chain([home]) {
            lines.extend(paragraph(&text, width, theme.muted()));
        }
        lines
    }
}

impl Screen for Away {
    fn scope(&self) -> Scope {
        Scope::Away
    }

    fn extent(&self) -> Extent {
        Extent::Beside
    }

    fn can(&self, _: &App, stash: Stash<'_>, action: Action) -> bool {
        let acts = matches!(
            action,
            Action::Accept | Action::Missing | Action::Hang | Action::Edit
        );
        !acts || stash.state.index().not_at_home().next().is_some()
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        let cards = cards(state);
        self.at = match action {
            Action::First => 0,
            Action::Last => cards.len().saturating_sub(1),
            action => stepped(self.at, cards.len(), action),
        };
        let card = cards.get(self.at).map(|kept| kept.card.id);
        match (action, card) {
            (Action::Cancel, _) => context.close(),
            (Action::Accept, Some(card)) => {
                context.app.look_at_card(state, card);
                context.close();
            }
            (Action::Hang, Some(card)) => {
                if let Some(hang) = Hang::of(context.app, context.stash, card) {
                    context.open(hang);
                }
            }
            (Action::Edit, Some(card)) => {
                if let Some(kept) = state.card(card) {
                    context.open(ChangeCard::form(state, kept));
                }
            }
            (Action::Missing, Some(card)) => {
                let event = missing_or_found(context.stash.state, card, context.app.now);
                context.commit(event);
            }
            (action, _) if action.moves() => self.follow(context.app, state),
            _ => {}
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if context.app.notice.is_none() {
            let said = told(context.stash, act);
            context.app.say(said);
        }
        self.settle(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        let count = context.stash.state.index().not_at_home().count();
        self.at = self.at.min(count.saturating_sub(1));
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let entries = entries(state);
        let is_card = |entry: &&Entry<'_>| matches!(entry, Entry::Card(_));
        let count = entries.iter().filter(is_card).count();
        let counter = counter(self.at, count);
        let pane = Pane {
            title: "Not at home",
            counter: &counter,
            focus: true,
        };
        let inside = pane.draw(&app.theme, body, frame.buffer_mut());
        let width = usize::from(inside.width);
        let mut of_cards = entries
            .iter()
            .enumerate()
            .filter_map(|(at, entry)| match entry {
                Entry::Card(kept) => Some((at, *kept)),
                Entry::Heading(..) => None,
            });
        let Some((at, chosen)) = of_cards.nth(self.at) else {
            let lines = paragraph("Every card is at home.", width, app.theme.strong());
            frame.render_widget(Paragraph::new(lines), inside);
            return;
        };
        let since = entries.iter().filter_map(|entry| match entry {
            Entry::Card(kept) => Some(days(kept.place.since, app.now)),
            Entry::Heading(..) => None,
        });
        let longest = since.max().unwrap_or(0).max(1);
        let least = (inside.height / 2).max(3);
        let (list, below, about) = with_about(inside, (entries.len(), least), |width| {
            Self::about(app, state, chosen, longest, width)
        });
        let shown = List {
            at,
            count: entries.len(),
            each: 1,
        };
        shown.draw(&app.theme, list, frame.buffer_mut(), |n, width| {
            vec![match &entries[n] {
                Entry::Heading(what, count, wrong) => heading(app, (what, *count, *wrong), width),
                Entry::Card(kept) => Self::line(app, state, (kept, n == at), longest, width),
            }]
        });
        frame.render_widget(Paragraph::new(about), below);
    }
}

/// A heading: where the cards below it are, and how many there are.
fn heading(app: &App, (what, count, wrong): (&str, usize, bool), width: usize) -> Line<'static> {
    let style = if wrong {
        app.theme.wrong()
    } else {
        app.theme.strong()
    };
    let count = count.to_string();
    let room = width.saturating_sub(count.width() + 1);
    Line::from(vec![
        Span::styled(fit(what, room), style),
        Span::styled(format!(" {count}"), app.theme.muted()),
    ])
}

/// Marks a missing card as found, and any other card as missing.
pub fn missing_or_found(state: &State, id: CardId, now: Timestamp) -> Result<Event, Refusal> {
    if state
        .card(id)
        .is_some_and(|kept| kept.place.at.must_be_found())
    {
        ring::found(state, id, now)
    } else {
        ring::missing(state, &[id], now)
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::keymap::Scope;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    fn drawn(desk: &TestApp, size: (u16, u16)) -> String {
        desk.drawn(size).join("\n")
    }

    #[test]
    fn c_changes_the_card_of_the_list_though_it_hangs_nowhere() {
        let mut desk = TestApp::sample(Depth::None).after("w");
        desk.keys("c");
        assert_eq!(desk.app.scope(), Scope::Form);
    }

    #[test]
    fn cards_are_grouped_by_where_they_are() {
        let desk = TestApp::sample(Depth::None).after("w");
        let text = drawn(&desk, (120, 40));
        let place = |what: &str| text.find(what).unwrap_or_else(|| panic!("{what}: {text}"));
        let order = [
            "1 of 7",
            "Missing 1",
            "60 ",
            "To hang 2",
            "80 ",
            "'Heron' 3",
            "'Kite' 1",
        ];
        assert!(order.map(place).is_sorted(), "{text}");
    }

    #[test]
    fn cursor_moves_to_the_home_of_the_card() {
        let mut desk = TestApp::sample(Depth::None).after("wjjj");
        let hook = |desk: &TestApp| desk.state.hook_name(desk.app.hook(&desk.state).unwrap());
        assert_eq!(hook(&desk), "A02");
        desk.keys("j\n");
        assert_eq!(
            (hook(&desk).as_str(), desk.app.scope()),
            ("A04", Scope::Board)
        );
    }

    #[test]
    fn finding_a_missing_card_in_the_list_names_its_hook() {
        let mut desk = TestApp::sample(Depth::None).after("wm");
        let said = &desk.app.notice.as_ref().unwrap().text;
        assert!(said.contains("hang it on B02"), "{said}");
        assert_eq!(desk.app.scope(), Scope::Away);
        desk.keys("u");
        assert!(drawn(&desk, (120, 40)).contains("Missing 1"));
    }

    #[test]
    fn long_list_shows_a_scrollbar() {
        let desk = TestApp::sample(Depth::None).after("wjj");
        let text = drawn(&desk, (80, 14));
        assert!(text.contains('█') && text.contains("3 of 7"), "{text}");
    }
}
