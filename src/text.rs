//! Every sentence of the program, for the shell and the screen.
//!
//! Stash, record and files hold values; this module turns them into words. The shell adds advice
//! that names a command, the screen advice that names a key.

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
use crate::stash::colours::Lookalike;
use crate::stash::state::State;

/// A stash for JSON export, with the sentences it includes.
#[must_use]
pub fn export(state: &State) -> Export<'_> {
    Export {
        state,
        place: places::place,
        low: thread::low,
    }
}

/// The singular word for one, the plural for any other count.
pub fn one_or_many<'a, N: From<u8> + PartialEq>(count: N, one: &'a str, many: &'a str) -> &'a str {
    if count == N::from(1) { one } else { many }
}

/// Joins names with commas, listing the first ten and the number of the others.
pub fn list(names: impl IntoIterator<Item = impl Into<String>>) -> String {
    let names: Vec<String> = names.into_iter().map(Into::into).collect();
    let (shown, more) = names.split_at(names.len().min(10));
    let mut text = shown.join(", ");
    if !more.is_empty() {
        text.push_str(&format!(" and {count} more", count = more.len()));
    }
    text
}

/// `0310 is a new card. Did you mean 310?`
#[must_use]
pub fn lookalike(of: &Lookalike) -> String {
    format!(
        "{new} is a new card. Did you mean {known}?",
        new = of.new,
        known = of.known
    )
}

/// A text with its first letter capitalized.
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

    /// Checks that the source with an enum's texts mentions every variant. The texts are split over
    /// several matches, so the compiler can't check that they are exhaustive.
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
