//! A choice from a list that typing narrows, with an optional new name.

use std::borrow::Cow;

use ratatui::text::{Line, Span};

use super::list::in_view;
use super::text::{fit, pad, typed};
use crate::model::label::fold;
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::theme::Theme;

/// The most lines of an open list.
const MOST: usize = 6;

/// An option.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Choice {
    /// Its value, which is also its name.
    pub value: String,
    /// A note that helps to choose; may be empty.
    pub note: String,
}

impl Choice {
    /// An option with a note.
    pub fn new(value: impl Into<String>, note: impl Into<String>) -> Self {
        Self {
            value: value.into(),
            note: note.into(),
        }
    }
}

/// A choice from several options, by typing part of a name or moving through the list. If new names
/// are allowed, an unknown name becomes the last line of the list.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Chooser {
    typed: Field,
    choices: Vec<Choice>,
    /// What a new name creates, such as `new ring`; `None` if only existing options are allowed.
    new: Option<&'static str>,
    /// Index of the selected line among the matches.
    at: usize,
}

impl Chooser {
    /// A choice of existing options with one preselected, or the first if none has that name.
    #[must_use]
    pub fn of(choices: Vec<Choice>, chosen: &str) -> Self {
        let at = choices.iter().position(|choice| choice.value == chosen);
        Self {
            typed: Field::default(),
            choices,
            new: None,
            at: at.unwrap_or(0),
        }
    }

    /// Like [`Self::of`], but also accepts a new name. An unknown `chosen` becomes the default
    /// text.
    #[must_use]
    pub fn or_new(choices: Vec<Choice>, chosen: &str, new: &'static str) -> Self {
        let is_there = chosen.is_empty() || choices.iter().any(|choice| choice.value == chosen);
        let typed = if is_there {
            Field::default()
        } else {
            Field::offered(chosen)
        };
        Self {
            typed,
            new: Some(new),
            ..Self::of(choices, chosen)
        }
    }

    /// Adds "none" as the first option, and selects it if nothing else is selected.
    #[must_use]
    pub fn or_none(mut self) -> Self {
        let is_chosen = self.at > 0 || !self.typed.text().is_empty();
        self.choices.insert(0, Choice::new("", "none"));
        self.at = usize::from(is_chosen) * (self.at + 1);
        self
    }

    /// The options that contain the text: exact matches first, then those that begin with it.
    fn matches(&self) -> Vec<&Choice> {
        let wanted = fold(self.typed.text().trim());
        let rank = |choice: &&Choice| {
            let value = fold(&choice.value);
            match value.find(&*wanted) {
                Some(0) if value == wanted => 0,
                Some(0) => 1,
                Some(_) => 2,
                None => 3,
            }
        };
        let mut found: Vec<&Choice> = self.choices.iter().filter(|c| rank(c) < 3).collect();
        if !wanted.is_empty() {
            found.sort_by_key(rank);
        }
        found
    }

    /// The new name typed, if new names are allowed and no option has it.
    fn new_name(&self) -> Option<&str> {
        self.new?;
        let name = self.typed.text().trim();
        let is_there = |choice: &Choice| fold(&choice.value) == fold(name);
        (!name.is_empty() && !self.choices.iter().any(is_there)).then_some(name)
    }

    /// The selected option, or the typed text if it matches none; empty if nothing is typed or
    /// selected.
    #[must_use]
    pub fn value(&self) -> &str {
        let found = self.matches();
        match found.get(self.at) {
            Some(choice) => &choice.value,
            None => self.typed.text().trim(),
        }
    }

    /// Whether the choice is an existing option.
    #[must_use]
    pub fn is_there(&self) -> bool {
        self.at < self.matches().len()
    }

    fn lines(&self) -> usize {
        self.matches().len() + usize::from(self.new_name().is_some())
    }

    /// Moves a line up or down the list.
    pub fn step(&mut self, down: bool) {
        let last = self.lines().saturating_sub(1);
        self.at = if down {
            (self.at + 1).min(last)
        } else {
            self.at.min(last).saturating_sub(1)
        };
    }

    /// Handles a key that narrows the list.
    pub fn press(&mut self, key: Key) {
        let before = self.typed.text().to_owned();
        self.typed.press(key);
        if self.typed.text() != before {
            self.at = 0;
        }
    }

    /// Accepts pasted text and returns what it left out.
    pub fn paste(&mut self, text: &str) -> LeftOut {
        self.at = 0;
        self.typed.insert(text)
    }

    /// The field being typed in.
    #[cfg(test)]
    pub const fn field(&self) -> &Field {
        &self.typed
    }

    /// The choice as shown on a line, with a cursor while the user types.
    #[must_use]
    pub fn line(&self, theme: &Theme, here: bool, width: usize) -> Vec<Span<'static>> {
        match (here, self.typed.text().is_empty()) {
            (true, true) => vec![Span::styled(fit(self.value(), width), theme.chosen())],
            (true, false) => typed(theme, self.typed.halves(), width).spans,
            (false, _) => vec![Span::raw(fit(self.value(), width))],
        }
    }

    /// The open list below it: the matches, the new name, and the total if some are out of view.
    #[must_use]
    pub fn list(&self, theme: &Theme, width: usize) -> Vec<Line<'static>> {
        let found = self.matches();
        let new = self.new_name().zip(self.new);
        let count = self.lines();
        if count == 0 {
            let words = match self.new {
                Some(new) => format!("type a name for a {new}"),
                None => "nothing is called so".to_owned(),
            };
            return vec![Line::styled(fit(&words, width), theme.faint())];
        }
        let view = in_view(self.at, count, MOST);
        let (first, last) = (view.start, view.end);
        let name_width = found.iter().map(|choice| choice.value.chars().count());
        let name_width = name_width.max().unwrap_or(0).max(8).min(width / 2);
        let mut lines: Vec<Line<'static>> = view
            .map(|at| {
                let (name, note) = match (found.get(at), new) {
                    (Some(choice), _) => (choice.value.as_str(), Cow::from(&choice.note)),
                    (None, Some((name, what))) => (name, Cow::from(format!("a {what}"))),
                    (None, None) => ("", Cow::from("")),
                };
                let (style, sign) = match at == self.at {
                    true => (theme.row(), "> "),
                    false => (theme.base(), "  "),
                };
                let room = width.saturating_sub(name_width + 4);
                Line::from(vec![
                    Span::styled(sign, style.patch(theme.accent())),
                    Span::styled(pad(name, name_width), style),
                    Span::styled("  ", style),
                    Span::styled(pad(&note, room), style.patch(theme.muted())),
                ])
            })
            .collect();
        if count > MOST {
            let words = format!("  {} to {last} of {count}", first + 1);
            lines.push(Line::styled(fit(&words, width), theme.faint()));
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::key::Code;

    fn names(all: &[&str]) -> Vec<Choice> {
        all.iter().map(|name| Choice::new(*name, "")).collect()
    }

    fn typed(mut chooser: Chooser, text: &str) -> Chooser {
        text.chars().for_each(|c| chooser.press(Key::char(c)));
        chooser
    }

    #[test]
    fn partial_names_match_in_any_case() {
        let rings = Chooser::of(names(&["Fox", "Big Sampler", "Sampler"]), "Fox");
        assert_eq!(rings.value(), "Fox");
        assert_eq!(typed(rings.clone(), "big").value(), "Big Sampler");
        // An exact match comes before a partial one.
        assert_eq!(typed(rings.clone(), "sampler").value(), "Sampler");
        let none = typed(rings, "zebra");
        assert_eq!((none.value(), none.is_there()), ("zebra", false));
    }

    #[test]
    fn new_name_is_its_own_line_unless_it_already_exists() {
        let rings = Chooser::or_new(names(&["Fox", "Foxglove"]), "", "new ring");
        let mut some = typed(rings.clone(), "Fo");
        assert_eq!((some.value(), some.is_there()), ("Fox", true));
        some.step(true);
        some.step(true);
        some.step(true);
        assert_eq!((some.value(), some.is_there()), ("Fo", false));
        some.step(false);
        assert_eq!(some.value(), "Foxglove");
        let same = typed(rings.clone(), "FOX");
        assert_eq!((same.value(), same.lines()), ("Fox", 2));
        let new = typed(rings, "Robin");
        assert_eq!((new.value(), new.is_there()), ("Robin", false));
    }

    #[test]
    fn narrowing_the_list_selects_its_first_line() {
        let mut rings = Chooser::of(names(&["Fox", "Heron", "Otter"]), "Otter");
        assert_eq!(rings.value(), "Otter");
        rings.press(Key::char('r'));
        assert_eq!(rings.value(), "Heron");
        rings.press(Key::plain(Code::Backspace));
        assert_eq!(rings.value(), "Fox");
    }
}
