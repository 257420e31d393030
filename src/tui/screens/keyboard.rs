//! The help: every key and sign, with a search.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line as Text;
use ratatui::widgets::Paragraph;
use strum::VariantArray;

use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Keymap, Scope};
use crate::tui::layout;
use crate::tui::screens::guide::Guide;
use crate::tui::wall::HookStatus;
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::text::search_line;
use crate::tui::widgets::window;

/// The window, which lists the keys of the screen beneath first.
#[derive(Clone, Debug)]
pub struct Keyboard {
    over: Scope,
    /// The search text.
    field: Field,
    /// First line shown.
    top: usize,
}

impl Keyboard {
    /// The window over a screen with these keys.
    #[must_use]
    pub fn over(scope: Scope) -> Self {
        Self {
            over: scope,
            field: Field::default(),
            top: 0,
        }
    }
}

impl Screen for Keyboard {
    fn scope(&self) -> Scope {
        Scope::Help
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match action {
            Action::Cancel => return context.close(),
            Action::Guide => return context.open(Guide::about(self.over)),
            _ => {}
        }
        // Stop at the last screenful; its frame and the search line take four rows.
        let (width, height) = context.app.size;
        let shown = layout::parts(width, height).body.height.saturating_sub(4);
        let count = lines(&context.app.keys, self.over, self.field.text()).len();
        self.top = stepped(self.top, count.saturating_sub(shown.into()) + 1, action);
    }

    fn typed(&mut self, _: &mut Context<'_>, key: Key) {
        if self.field.press(key) {
            self.top = 0;
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
        let width = 92.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let found = lines(&app.keys, self.over, self.field.text());
        let mut shown = search_line(&app.theme, &self.field, inner);
        let room = usize::from(body.height.saturating_sub(4));
        let last = found.len().saturating_sub(room);
        if found.is_empty() {
            shown.push(Text::styled("Nothing like that.", app.theme.wrong()));
        }
        for line in found.into_iter().skip(self.top.min(last)) {
            shown.push(match line {
                Line::Gap => Text::default(),
                Line::Heading(title) => Text::styled(title, app.theme.strong()),
                Line::Entry(keys, text) => Text::raw(format!("  {keys:<18} {text}")),
            });
        }
        let inside = window::draw(&app.theme, "Keys", (width, body.height.into()), frame, body);
        frame.render_widget(Paragraph::new(shown), inside);
    }
}

/// A line of the help.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Line {
    /// A gap between two parts.
    Gap,
    /// The heading of the next lines.
    Heading(&'static str),
    /// A sign or keys, with their meaning.
    Entry(String, &'static str),
}

/// The signs besides those for the status of a hook.
const OTHER_SIGNS: [(&str, &str); 7] = [
    ("*", "selected"),
    (
        "+",
        "several cards on the hook, or one comes here (re-hang)",
    ),
    ("0 to 9", "heat view of thread: whole metres left, 0 is hot"),
    ("0 to 9", "heat view of time away: whole weeks, 9 is hot"),
    ("[ ]", "the hook under the cursor"),
    ("> <", "the hook that a card goes to, or is fetched from"),
    ("( )", "the hook that a card comes from"),
];

/// Whether a text contains every word of a search, in any order and case.
pub(super) fn has(text: &str, words: &str) -> bool {
    let text = text.to_lowercase();
    words
        .to_lowercase()
        .split_whitespace()
        .all(|word| text.contains(word))
}

/// The help: signs on the board, then every key, those of the current scope first. With a search,
/// only the matching lines, under their headings.
#[must_use]
pub fn lines(keys: &Keymap, now: Scope, typed: &str) -> Vec<Line> {
    let mut scopes = vec![now];
    scopes.extend(Scope::ALL.into_iter().filter(|&scope| scope != now));
    let of_scope = |scope: Scope| {
        let bound = keys
            .in_scope(scope)
            .filter(move |bound| bound.binding.scope == scope && !bound.keys.is_empty());
        let entries = bound.map(|bound| {
            let keys = bound.keys_shown();
            let said = format!("{keys} {} {}", bound.binding.hint(), bound.binding.help());
            (Line::Entry(keys, bound.binding.help()), said)
        });
        (scope.title(), entries.collect::<Vec<_>>())
    };
    let signs = HookStatus::VARIANTS
        .iter()
        .map(|status| (status.glyph(), status.meaning()));
    let signs = signs.map(|(glyph, meaning)| (glyph.to_string(), meaning));
    let others = OTHER_SIGNS.map(|(sign, meaning)| (sign.to_owned(), meaning));
    let signs = signs.into_iter().chain(others).map(|(sign, meaning)| {
        let said = format!("{sign} {meaning}");
        (Line::Entry(sign, meaning), said)
    });
    let signs = ("Signs on the board", signs.collect::<Vec<_>>());
    let mut parts: Vec<_> = scopes.into_iter().map(of_scope).collect();
    parts.insert(usize::from(now != Scope::Board), signs);
    let mut all = Vec::new();
    for (title, entries) in parts {
        let about_all = has(title, typed);
        let entries = entries.into_iter();
        let entries = entries.filter(|(_, said)| about_all || has(said, typed));
        let entries: Vec<Line> = entries.map(|(line, _)| line).collect();
        if entries.is_empty() {
            continue;
        }
        if !all.is_empty() {
            all.push(Line::Gap);
        }
        all.push(Line::Heading(title));
        all.extend(entries);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn help_search_matches_words_in_any_order() {
        let keys = Keymap::default();
        let all = lines(&keys, Scope::Board, "");
        let entries = |lines: &[Line]| {
            let is_entry = |line: &&Line| matches!(line, Line::Entry(..));
            lines.iter().filter(is_entry).count()
        };
        let bound: usize = Scope::ALL
            .into_iter()
            .map(|scope| crate::tui::keymap::in_scope(scope).count())
            .sum();
        assert_eq!(
            entries(&all),
            bound + HookStatus::VARIANTS.len() + OTHER_SIGNS.len()
        );
        let found = lines(&keys, Scope::Board, "STRAND single");
        assert!(entries(&found) >= 1 && entries(&found) < 5, "{found:?}");
        assert!(matches!(found[0], Line::Heading("A project")), "{found:?}");
        assert_eq!(lines(&keys, Scope::Board, "zzzz"), []);
        // "Lend" isn't the name of an action; the search finds it in the help text.
        assert_eq!(entries(&lines(&keys, Scope::Board, "lend")), 1);
        // The other signs are explained too, and fit 80 columns.
        assert_eq!(entries(&lines(&keys, Scope::Board, "heat hot")), 2);
        for (_, meaning) in OTHER_SIGNS {
            assert!(meaning.len() <= 55, "{meaning}");
        }
        // A matching heading brings all its lines.
        assert!(entries(&lines(&keys, Scope::Board, "roll call")) > 8);
        assert!(matches!(
            lines(&keys, Scope::Rings, "")[0],
            Line::Heading("Rings")
        ));
    }
}
