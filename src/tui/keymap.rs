//! The key table. The footer, the help and the handbook's list are generated from it.

mod action;
pub mod custom;
mod scope;
mod table;

pub use self::action::Action;
pub use self::custom::{Bound, Keymap};
pub use self::scope::Scope;
pub use self::table::BINDINGS;
use super::key::Key;

/// One line of the table.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Binding {
    /// The scope it belongs to.
    pub scope: Scope,
    /// The keys, the preferred one first.
    pub keys: &'static [Key],
    /// Its action.
    pub action: Action,
    /// One or two words for the footer; empty keeps it out of the footer.
    pub hint: &'static str,
    /// Its text in the help.
    pub help: &'static str,
}

impl Binding {
    /// One or two words for the footer; empty if it isn't listed there.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        self.hint
    }

    /// Its text in the help.
    #[must_use]
    pub fn help(&self) -> &'static str {
        self.help
    }
}

/// The bindings of a scope.
pub fn in_scope(scope: Scope) -> impl Iterator<Item = &'static Binding> {
    BINDINGS
        .iter()
        .filter(move |binding| binding.scope == scope)
}

/// The table as Markdown, for the handbook.
#[must_use]
pub fn as_markdown() -> String {
    let mut text = String::new();
    for scope in Scope::ALL {
        text.push_str(&format!(
            "**{title}**\n\n| key | what it does |\n|---|---|\n",
            title = scope.title()
        ));
        for binding in in_scope(scope) {
            let keys: Vec<String> = binding.keys.iter().map(|key| format!("`{key}`")).collect();
            text.push_str(&format!("| {} | {} |\n", keys.join(" "), binding.help()));
        }
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_has_two_meanings_in_one_scope() {
        for scope in Scope::ALL {
            let anywhere = in_scope(Scope::Anywhere).filter(|_| scope != Scope::Anywhere);
            let keys: Vec<Key> = in_scope(scope)
                .chain(anywhere)
                .flat_map(|b| b.keys.iter().copied())
                .collect();
            for (at, key) in keys.iter().enumerate() {
                assert!(!keys[at + 1..].contains(key), "{key} in {scope:?}");
            }
        }
    }

    #[test]
    fn every_scope_can_be_left() {
        for scope in Scope::ALL
            .into_iter()
            .filter(|&scope| scope != Scope::Anywhere)
        {
            let leaves = |b: &Binding| matches!(b.action, Action::Cancel | Action::Quit);
            assert!(in_scope(scope).any(leaves), "{scope:?}");
        }
    }

    #[test]
    fn keys_that_type_are_unbound_where_they_type() {
        for scope in Scope::ALL {
            for &key in in_scope(scope).flat_map(|b| b.keys) {
                assert!(!scope.types(key), "{key} in {scope:?}");
            }
        }
    }
}
