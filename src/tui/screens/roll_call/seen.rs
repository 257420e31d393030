//! Typing the number of a card that hangs where the record has another, or none.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::number::Number;
use crate::stash::command::card::new_card;
use crate::stash::command::import::{CardRow, RANGE_WITHOUT_NAME};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::App;
use crate::tui::app::screen::Context;
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::Action;
use crate::tui::widgets::list::{List, counter, stepped};
use crate::tui::widgets::text::{fit, told, typed};
use crate::tui::widgets::window;

/// The most choices shown.
const MOST: usize = 6;

/// A possible meaning of the number.
#[derive(Clone, PartialEq, Eq, Debug)]
enum Choice {
    /// A card of the stash.
    Card(CardId),
    /// A new card of a range.
    New(String),
}

/// A number being typed for a card on a hook.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Typing {
    /// The hook.
    pub hook: HookRef,
    field: Field,
    at: usize,
}

impl Typing {
    /// An empty line, or one with the key that began it.
    #[must_use]
    pub fn on(hook: HookRef, key: Option<Key>) -> Self {
        let mut field = Field::default();
        if let Some(key) = key {
            field.press(key);
        }
        Self { hook, field, at: 0 }
    }

    /// Handles a key.
    pub fn press(&mut self, key: Key) {
        if self.field.press(key) {
            self.at = 0;
        }
    }

    /// Accepts pasted text.
    pub fn paste(&mut self, text: &str) -> LeftOut {
        self.at = 0;
        self.field.insert(text)
    }

    /// Whether the line is empty.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.name().is_empty()
    }

    #[cfg(test)]
    pub const fn field(&self) -> &Field {
        &self.field
    }

    /// The text without its sign.
    fn name(&self) -> &str {
        let text = self.field.text().trim();
        text.strip_prefix('#').unwrap_or(text).trim()
    }

    /// The range before a colon, if any, and the number.
    fn parts<'a>(&'a self, state: &'a State) -> (Option<&'a str>, &'a str) {
        let named = self.name().split_once(':');
        let named = named.and_then(|(range, rest)| Some((state.find_range(range)?, rest)));
        named.map_or((None, self.name()), |(range, rest)| {
            (Some(range.name.as_str()), rest.trim())
        })
    }

    /// The cards with exactly that number, those of this hook first. Then the ranges that could
    /// have a new card with it, those with the most cards first. O(cards).
    fn choices(&self, state: &State) -> Vec<Choice> {
        let (range, number) = self.parts(state);
        if number.is_empty() {
            return Vec::new();
        }
        let is = |name: &str, asked: &str| name.eq_ignore_ascii_case(asked);
        let is_it = |kept: &&CardState| {
            let of_range = range.is_none_or(|range| is(state.range_name(kept), range));
            kept.card.parent.is_none()
                && of_range
                && (is(kept.card.number.as_str(), number)
                    || is(&state.number_and_tag(kept), number))
        };
        let mut cards: Vec<&CardState> = state.cards().filter(is_it).collect();
        let here = |kept: &CardState| {
            kept.place.at.hook() == Some(self.hook) || kept.home == Some(self.hook)
        };
        cards.sort_by_key(|kept| !here(kept));
        let mut choices: Vec<Choice> = cards
            .iter()
            .map(|kept| Choice::Card(kept.card.id))
            .collect();
        if Number::new(number).is_err() || number.contains(['/', '@']) {
            return choices;
        }
        let mut ranges: Vec<(usize, &str)> = state
            .ranges()
            .filter(|of| range.is_none_or(|range| is(of.name.as_str(), range)))
            .filter(|of| cards.iter().all(|kept| kept.card.range != of.id))
            .map(|of| {
                let cards = state.cards().filter(|kept| kept.card.range == of.id);
                (cards.count(), of.name.as_str())
            })
            .collect();
        if state.ranges().len() == 0 {
            ranges.push((0, RANGE_WITHOUT_NAME));
        }
        ranges.sort_by_key(|(cards, _)| std::cmp::Reverse(*cards));
        choices.extend(
            ranges
                .into_iter()
                .map(|(_, range)| Choice::New(range.to_owned())),
        );
        choices
    }

    /// Moves up or down the choices.
    pub fn step(&mut self, state: &State, action: Action) {
        self.at = stepped(self.at, self.choices(state).len(), action);
    }

    /// The chosen card. For a new card, it first requests that it be recorded: on this hook if
    /// there is space, otherwise among the cards to hang.
    pub fn chosen(&self, context: &mut Context<'_>) -> Option<CardId> {
        let state = context.stash.state;
        match self.choices(state).get(self.at) {
            Some(Choice::Card(card)) => return Some(*card),
            Some(Choice::New(range)) => {
                let free = state.free_places(self.hook) > 0;
                let hanging = state.index().hanging_on(self.hook).is_empty();
                let row = CardRow {
                    range: Some(range.clone()),
                    number: self.parts(state).1.to_owned(),
                    hook: (free && hanging).then(|| state.hook_name(self.hook)),
                    ..CardRow::default()
                };
                let now = context.app.now;
                context.commit(new_card(state, row, now));
            }
            None if self.is_empty() => {}
            None => {
                let text = format!("No card '{}', and no number for a new one", self.name());
                context.app.complain(told(&text));
            }
        }
        None
    }

    /// A choice: its swatch, its name, and what Enter does with it.
    fn line(
        &self,
        app: &App,
        state: &State,
        (choice, here): (&Choice, bool),
        width: usize,
    ) -> Line<'static> {
        let theme = &app.theme;
        let on = state.hook_name(self.hook);
        let number = self.parts(state).1;
        let kept = match choice {
            Choice::Card(card) => state.card(*card),
            Choice::New(_) => None,
        };
        let (name, words) = match (choice, kept) {
            (Choice::New(range), _) => (
                format!("{range} {number}"),
                format!("add as a new card on {on}"),
            ),
            (_, Some(kept)) => {
                let name = format!("{} {}", state.card_name(kept), kept.card.name);
                let place = text::places::brief_of(state, kept);
                let words = if kept.place.at.hook() == Some(self.hook) {
                    format!("hangs here, on {on}")
                } else {
                    format!("hangs on {on}, not {place}")
                };
                (name, words)
            }
            (_, None) => (String::new(), String::new()),
        };
        let row = if here { theme.row() } else { Style::new() };
        let colour = kept.and_then(|kept| kept.card.colour);
        let swatch = colour.and_then(|colour| theme.swatch(colour));
        let half = width.saturating_sub(6) / 2;
        Line::from(vec![
            Span::styled(if here { "▸ " } else { "  " }, row.patch(theme.accent())),
            Span::styled("  ", swatch.unwrap_or(row)),
            Span::styled(format!(" {:<half$} ", fit(&name, half)), row),
            Span::styled(fit(&words, half), row),
        ])
    }

    /// Draws the window at the bottom of an area.
    pub fn view(&self, app: &App, state: &State, frame: &mut Frame<'_>, body: Rect) {
        let choices = self.choices(state);
        let lines = choices.len().clamp(1, MOST);
        let title = format!("What hangs on {}?", state.hook_name(self.hook));
        let counter = match choices.len() {
            0 | 1 => String::new(),
            n => counter(self.at, n),
        };
        let size = (72, lines + 2);
        let inside = window::over_foot(&app.theme, (&title, &counter), size, frame, body);
        let room = usize::from(inside.width);
        let nobody = !choices
            .iter()
            .any(|choice| matches!(choice, Choice::Card(_)));
        let say = match (self.name(), nobody) {
            ("", _) => "Type its number, or RANGE:NUMBER.".to_owned(),
            (name, true) => format!("No card {name} in the stash."),
            (_, false) => String::new(),
        };
        let head = vec![
            typed(&app.theme, self.field.halves(), room),
            Line::styled(fit(&say, room), app.theme.muted()),
        ];
        frame.render_widget(Paragraph::new(head), inside);
        let rest = Rect {
            y: inside.y + 2.min(inside.height),
            height: inside.height.saturating_sub(2),
            ..inside
        };
        let list = List {
            at: self.at,
            count: choices.len(),
            each: 1,
        };
        list.draw(&app.theme, rest, frame.buffer_mut(), |at, width| {
            let choice = (&choices[at], at == self.at);
            vec![self.line(app, state, choice, width)]
        });
    }
}
