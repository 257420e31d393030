//! Every sentence of the program, for all who show one.
//!
//! What the stash, the record and the files hold are values; here they become words. Advice that names a
//! command is added by the shell, advice that names a key by the screen.

pub mod faults;
pub mod files;
pub mod history;
pub mod merge;
pub mod places;
pub mod print;
pub mod record;
pub mod refusal;
pub mod rehang;
pub mod thread;

use crate::exchange::export::Export;
use crate::stash::state::State;

/// A stash for JSON, with the sentences that belong there.
#[must_use]
pub fn export(state: &State) -> Export<'_> {
    Export {
        state,
        place: places::place,
        low: thread::low,
    }
}

/// The word for one of a thing, or that for any other number of it.
pub fn one_or_many<'a, N: From<u8> + PartialEq>(count: N, one: &'a str, many: &'a str) -> &'a str {
    if count == N::from(1) { one } else { many }
}

/// Joins names with commas, and says how many more there are past the first ten.
pub fn list(names: impl IntoIterator<Item = impl Into<String>>) -> String {
    let names: Vec<String> = names.into_iter().map(Into::into).collect();
    let (shown, more) = names.split_at(names.len().min(10));
    let mut text = shown.join(", ");
    if !more.is_empty() {
        text.push_str(&format!(" and {count} more", count = more.len()));
    }
    text
}

/// A text with a capital at its beginning.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

/// `1 card`, `2 cards`.
#[must_use]
pub fn cards(count: u32) -> String {
    format!("{count} {}", one_or_many(count, "card", "cards"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every variant of an enum stands in what says them, which goes through them in parts that no compiler
    /// adds up.
    pub(super) fn assert_all_are_said(of: &str, declared: &str, said: &str) {
        let head = format!("pub enum {of} {{\n");
        let (_, rest) = declared.split_once(&head).unwrap();
        let (body, _) = rest.split_once("\n}\n").unwrap();
        let (said, _) = said.split_once("#[cfg(test)]").unwrap();
        let is_name = |c: char| c.is_alphanumeric() || c == '_';
        let variants = body.lines().filter_map(|line| {
            let line = line.strip_prefix("    ")?;
            let name = line.starts_with(char::is_uppercase);
            name.then(|| line.split(|c| !is_name(c)).next().unwrap_or(line))
        });
        let mut seen = 0;
        for variant in variants {
            let name = format!("{of}::{variant}");
            let mut found = said.split(&name).skip(1);
            assert!(found.any(|after| !after.starts_with(is_name)), "{name}");
            seen += 1;
        }
        assert!(
            seen > 20,
            "only {seen} variants were found: the reading is off"
        );
    }

    #[test]
    fn a_long_list_of_names_is_cut() {
        let names = |count: u32| list((1..=count).map(|n| n.to_string()));
        assert_eq!(names(2), "1, 2");
        assert_eq!(names(12), "1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 2 more");
    }
}
