//! The list of actions, with a filter.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use super::keyboard::has;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Bound, Keymap, Scope};
use crate::tui::widgets::list::{List, stepped};
use crate::tui::widgets::pane;
use crate::tui::widgets::text::{pad, search_line};
use crate::tui::widgets::window;

/// The window, over the screen that performs the action.
#[derive(Clone, Debug)]
pub struct Palette {
    over: Scope,
    /// The filter text.
    field: Field,
    /// Index of the selected match.
    at: usize,
}

impl Palette {
    /// The window over a screen with these keys.
    #[must_use]
    pub fn over(scope: Scope) -> Self {
        Self {
            over: scope,
            field: Field::default(),
            at: 0,
        }
    }
}

impl Screen for Palette {
    fn scope(&self) -> Scope {
        Scope::Actions
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let found = choices(&context.app.keys, self.over, self.field.text());
        self.at = stepped(self.at, found.len(), action);
        let chosen = found.get(self.at).map(|bound| bound.binding.action);
        match (action, chosen) {
            (Action::Accept, Some(chosen)) => {
                context.close();
                context.then(chosen);
            }
            (Action::Accept, None) => context.app.complain("Nothing here does that"),
            (Action::Cancel, _) => context.close(),
            _ => {}
        }
    }

    fn typed(&mut self, _: &mut Context<'_>, key: Key) {
        if self.field.press(key) {
            self.at = 0;
        }
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        self.field.insert(text)
    }

    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        Some(&self.field)
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let width = 76.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let found = choices(&app.keys, self.over, self.field.text());
        let mut lines = search_line(&app.theme, &self.field, inner);
        let above = lines.len();
        if found.is_empty() {
            lines.push(Line::styled("Nothing here does that.", app.theme.wrong()));
        }
        let height = lines.len() + found.len();
        let inside = window::draw(&app.theme, self.over.title(), (width, height), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
        let rest = inside
            .height
            .saturating_sub(u16::try_from(above).unwrap_or(0));
        let (_, below) = pane::with_foot(inside, rest);
        let list = List {
            at: self.at,
            count: found.len(),
            each: 1,
        };
        list.draw(&app.theme, below, frame.buffer_mut(), |at, width| {
            let style = if at == self.at {
                app.theme.chosen()
            } else {
                Style::new()
            };
            let line = found.get(at).map(|bound| {
                let keys = bound.keys_shown();
                let text = format!("{:<58} {keys}", bound.binding.help());
                Line::styled(pad(&text, width), style)
            });
            line.into_iter().collect()
        });
    }
}

/// The actions of a scope that match the filter, in table order. Cursor moves are left out, because
/// nobody searches for them by name.
#[must_use]
pub fn choices<'a>(keys: &'a Keymap, scope: Scope, typed: &str) -> Vec<&'a Bound> {
    let is_found = |action: Action| !action.moves() && action != Action::Actions;
    keys.in_scope(scope)
        .filter(|bound| is_found(bound.binding.action))
        .filter(|bound| {
            let binding = bound.binding;
            has(&format!("{} {}", binding.hint(), binding.help()), typed)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn actions_are_found_by_their_help_text() {
        let keys = Keymap::default();
        let found = choices(&keys, Scope::Board, "find colour");
        assert_eq!(found[0].binding.action, Action::Find);
        assert!(choices(&keys, Scope::Board, "").len() > 15);
        assert!(choices(&keys, Scope::Board, "qqqq").is_empty());
        // "Lend" isn't the name of an action; the search finds it in the help text.
        let found = choices(&keys, Scope::Board, "lend");
        assert_eq!(found[0].binding.action, Action::Elsewhere);
    }
}
