//! The help, and the list of what can be done: made from the keys that hold, and searched by typing.

use super::Mode;
use crate::tui::field::Field;
use crate::tui::keymap::{Action, Bound, Keymap, Scope};
use crate::tui::spot::HookStatus;

/// The help on the screen.
#[derive(Clone, Debug)]
pub struct Help {
    /// What is on the screen again after it.
    pub back: Box<Mode>,
    /// What is typed to find a line.
    pub field: Field,
    /// First line shown.
    pub top: usize,
}

/// Choosing something to do by typing.
#[derive(Clone, Debug)]
pub struct Pick {
    /// Where it is to be done.
    pub back: Box<Mode>,
    /// What is typed.
    pub field: Field,
    /// Which of those that match is chosen.
    pub at: usize,
}

/// A line of the help.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Line {
    /// Space between two parts.
    Gap,
    /// What the next lines are about.
    Heading(&'static str),
    /// A sign or keys, and what it means or they do.
    Entry(String, &'static str),
}

/// The signs beside those of how a hook stands.
const OTHER_SIGNS: [(&str, &str); 8] = [
    ("*", "chosen"),
    (
        "|",
        "a family begins here; its name stands where it has room",
    ),
    ("+ +1", "after a sign or an amount: more cards on the hook"),
    ("0 to 9", "heat view of thread: whole metres left, 0 is hot"),
    ("0 to 9", "heat view of time away: whole weeks, 9 is hot"),
    ("[ ]", "the hook under the cursor"),
    ("> <", "the hook that a card goes to, or is fetched from"),
    ("( )", "the hook that a card comes from"),
];

/// Whether a text has every word that is typed, whatever their order and capitals.
fn has(text: &str, words: &str) -> bool {
    let text = text.to_lowercase();
    words
        .to_lowercase()
        .split_whitespace()
        .all(|word| text.contains(word))
}

/// The help: signs on the board, then every key, those that hold now first. With something typed, the
/// lines that have its words, under their headings.
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
    let signs = HookStatus::ALL.map(|shape| (shape.glyph(), shape.meaning()));
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

/// What can be done in a scope and matches what is typed, in the order of the table. Moving about is
/// left out: nobody looks for that by name.
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
    fn the_help_is_searched_by_words_in_any_order() {
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
            bound + HookStatus::ALL.len() + OTHER_SIGNS.len()
        );
        let found = lines(&keys, Scope::Board, "STRAND single");
        assert!(entries(&found) >= 1 && entries(&found) < 5, "{found:?}");
        assert!(matches!(found[0], Line::Heading("A project")), "{found:?}");
        assert_eq!(lines(&keys, Scope::Board, "zzzz"), []);
        // Lending has no key of its own name; it is found where one looks for it.
        assert_eq!(entries(&lines(&keys, Scope::Board, "lend")), 1);
        let found = choices(&keys, Scope::Board, "lend");
        assert_eq!(found[0].binding.action, Action::Elsewhere);
        // What is drawn beside the signs of the hooks is explained too, and fits 80 columns.
        assert_eq!(entries(&lines(&keys, Scope::Board, "family begins")), 1);
        assert_eq!(entries(&lines(&keys, Scope::Board, "heat hot")), 2);
        for (_, meaning) in OTHER_SIGNS {
            assert!(meaning.len() <= 55, "{meaning}");
        }
        // A heading brings all its lines.
        assert!(entries(&lines(&keys, Scope::Board, "roll call")) > 8);
        assert!(matches!(
            lines(&keys, Scope::Rings, "")[0],
            Line::Heading("Rings")
        ));
    }

    #[test]
    fn what_can_be_done_is_found_by_what_it_does() {
        let keys = Keymap::default();
        let found = choices(&keys, Scope::Board, "find colour");
        assert_eq!(found[0].binding.action, Action::Find);
        assert!(choices(&keys, Scope::Board, "").len() > 15);
        assert!(choices(&keys, Scope::Board, "qqqq").is_empty());
    }
}
