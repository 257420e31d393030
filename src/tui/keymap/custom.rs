//! The user's keymap: the table, with other keys for some of its bindings.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use super::{Action, BINDINGS, Binding, Scope};
use crate::text::list;
use crate::tui::key::{Code, Key};

/// A binding with its active keys.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bound {
    /// The binding in the table.
    pub binding: &'static Binding,
    /// The keys, the preferred one first; empty if all were removed.
    pub keys: Vec<Key>,
}

/// The active keymap.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Keymap {
    lines: Vec<Bound>,
}

impl Default for Keymap {
    /// The table's own keys.
    fn default() -> Self {
        let lines = BINDINGS.iter().map(|binding| Bound {
            binding,
            keys: binding.keys.to_vec(),
        });
        Self {
            lines: lines.collect(),
        }
    }
}

/// The name of a scope or action in a keymap file, such as `use-length`.
fn name(of: impl Serialize) -> String {
    match serde_json::to_value(of) {
        Ok(Value::String(name)) => name,
        _ => String::new(),
    }
}

impl Keymap {
    /// Reads a keymap file: a JSON object of scopes, each an object of actions with their keys.
    /// Anything it omits stays as in the table. A key given to one action is removed from any
    /// other. Also returns messages for entries it rejects; the others apply.
    ///
    /// ```json
    /// {"board": {"find": ["/", "Ctrl-F"], "quit": ["q"]}}
    /// ```
    #[must_use]
    pub fn read(text: &str) -> (Self, Vec<String>) {
        let mut keymap = Self::default();
        let wishes: BTreeMap<String, BTreeMap<String, Vec<String>>> = match serde_json::from_str(
            text,
        ) {
            Ok(wishes) => wishes,
            Err(wrong) => {
                let why = format!(
                    "not a list of keys ({wrong}). 'homehook keyboard --json' prints one to begin with"
                );
                return (keymap, vec![why]);
            }
        };
        let mut wrong = Vec::new();
        for (scope_name, actions) in &wishes {
            let Some(scope) = Scope::ALL
                .into_iter()
                .find(|&scope| name(scope) == *scope_name)
            else {
                let known = list(Scope::ALL.into_iter().map(name));
                wrong.push(format!(
                    "there is no part '{scope_name}'; the parts are {known}"
                ));
                continue;
            };
            for (action, keys) in actions {
                if let Err(why) = keymap.set(scope, action, keys) {
                    wrong.push(format!("{scope_name}, {action}: {why}"));
                }
            }
        }
        for scope in Scope::ALL {
            if let Some(why) = keymap.keep_a_way_out(scope) {
                wrong.push(why);
            }
        }
        (keymap, wrong)
    }

    /// Rebinds an action of a scope.
    fn set(&mut self, scope: Scope, action: &str, keys: &[String]) -> Result<(), String> {
        let here = |bound: &&mut Bound| bound.binding.scope == scope;
        let names = self
            .in_own_scope(scope)
            .map(|bound| name(bound.binding.action));
        let names: Vec<String> = names.collect();
        let mut set: Vec<Key> = Vec::with_capacity(keys.len());
        for key in keys {
            let key = read_key(scope, key)?;
            if !set.contains(&key) {
                set.push(key);
            }
        }
        let keys = set;
        if !names.iter().any(|known| known == action) {
            return Err(format!(
                "no such action here; there are {names}",
                names = names.join(", ")
            ));
        }
        for bound in self.lines.iter_mut().filter(here) {
            if name(bound.binding.action) == action {
                bound.keys.clone_from(&keys);
            } else {
                bound.keys.retain(|key| !keys.contains(key));
            }
        }
        Ok(())
    }

    /// Restores the table's keys to the action that leaves a scope, if no key leaves it any more.
    fn keep_a_way_out(&mut self, scope: Scope) -> Option<String> {
        let leads_out = |bound: &Bound| {
            bound.binding.scope == scope
                && matches!(bound.binding.action, Action::Cancel | Action::Quit)
        };
        let mut ways = self.lines.iter_mut().filter(|bound| leads_out(bound));
        if ways.by_ref().any(|bound| !bound.keys.is_empty()) {
            return None;
        }
        let mut way = self
            .lines
            .iter_mut()
            .filter(|bound| leads_out(bound))
            .collect::<Vec<_>>();
        let way = way.last_mut()?;
        way.keys = way.binding.keys.to_vec();
        let (binding, words) = (way.binding, way.keys_shown());
        for other in &mut self.lines {
            if other.binding.scope == scope && other.binding != binding {
                other.keys.retain(|key| !binding.keys.contains(key));
            }
        }
        Some(format!(
            "{name}: no key would lead out, so '{name2}' keeps {words}",
            name = name(scope),
            name2 = name(binding.action)
        ))
    }

    fn in_own_scope(&self, scope: Scope) -> impl Iterator<Item = &Bound> {
        self.lines
            .iter()
            .filter(move |bound| bound.binding.scope == scope)
    }

    /// The bindings of a scope, its own first, then the global ones.
    pub fn in_scope(&self, scope: Scope) -> impl Iterator<Item = &Bound> {
        let anywhere = self
            .in_own_scope(Scope::Anywhere)
            .filter(move |_| scope != Scope::Anywhere);
        self.in_own_scope(scope).chain(anywhere)
    }

    /// The action of a key in a scope; none for a key that types there.
    #[must_use]
    pub fn action(&self, scope: Scope, key: Key) -> Option<Action> {
        if scope.types(key) {
            return None;
        }
        self.in_scope(scope)
            .find(|bound| bound.keys.contains(&key))
            .map(|bound| bound.binding.action)
    }

    /// The preferred key for an action in a scope; `None` if it has none there.
    #[must_use]
    pub fn first(&self, scope: Scope, action: Action) -> Option<&Key> {
        let mut bound = self.in_scope(scope);
        bound
            .find(|bound| bound.binding.action == action)?
            .keys
            .first()
    }

    /// The whole table as a keymap file that [`Self::read`] accepts.
    #[must_use]
    pub fn to_json(&self) -> Value {
        let mut scopes = serde_json::Map::new();
        for scope in Scope::ALL {
            let mut actions = serde_json::Map::new();
            for bound in self.in_own_scope(scope) {
                let keys = bound.keys.iter().map(|key| Value::from(key.to_string()));
                let known = actions
                    .entry(name(bound.binding.action))
                    .or_insert_with(|| Value::Array(Vec::new()));
                if let Value::Array(known) = known {
                    known.extend(keys);
                }
            }
            scopes.insert(name(scope), Value::Object(actions));
        }
        Value::Object(scopes)
    }
}

/// Parses a key from a file, if a scope allows it.
fn read_key(scope: Scope, text: &str) -> Result<Key, String> {
    let key: Key = text.parse()?;
    if scope.types(key) {
        return Err(format!(
            "'{text}' is typed here; take Ctrl and a letter, or a named key"
        ));
    }
    if key.code == Code::Char('c') && key.ctrl && scope == Scope::Anywhere {
        return Err("Ctrl-C leads out everywhere".to_owned());
    }
    Ok(key)
}

impl Bound {
    /// Its keys, as shown in the help.
    #[must_use]
    pub fn keys_shown(&self) -> String {
        let names: Vec<String> = self.keys.iter().map(Key::to_string).collect();
        names.join(" ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn does(keymap: &Keymap, scope: Scope, key: &str) -> Option<Action> {
        keymap.action(scope, key.parse().unwrap())
    }

    #[test]
    fn exported_table_reads_back_unchanged() {
        let text = Keymap::default().to_json().to_string();
        assert_eq!(Keymap::read(&text), (Keymap::default(), Vec::new()));
        assert_eq!(Keymap::read("{}"), (Keymap::default(), Vec::new()));
    }

    #[test]
    fn rebinding_a_key_removes_it_from_its_old_action() {
        let (keymap, wrong) = Keymap::read(r#"{"board":{"find":["Ctrl-F","r"],"undo":[]}}"#);
        assert_eq!(wrong, Vec::<String>::new());
        assert_eq!(does(&keymap, Scope::Board, "r"), Some(Action::Find));
        assert_eq!(does(&keymap, Scope::Board, "Ctrl-F"), Some(Action::Find));
        for free in ["/", "u"] {
            assert_eq!(does(&keymap, Scope::Board, free), None, "{free}");
        }
        assert_eq!(does(&keymap, Scope::Rings, "u"), Some(Action::Undo));
    }

    #[test]
    fn invalid_entries_are_reported_and_the_rest_apply() {
        let (keymap, wrong) = Keymap::read(
            r#"{"bored":{},"board":{"fly":["f"],"take":["NoKey"],"rings":["R"]},"find":{"select":["x"]},
                "confirm":{"cancel":[]}}"#,
        );
        assert_eq!(does(&keymap, Scope::Board, "R"), Some(Action::Rings));
        assert_eq!(does(&keymap, Scope::Board, "t"), Some(Action::Take));
        assert_eq!(does(&keymap, Scope::Confirm, "q"), Some(Action::Cancel));
        assert_eq!(wrong.len(), 5, "{wrong:#?}");
        let (same, wrong) = Keymap::read("[");
        assert_eq!((same, wrong.len()), (Keymap::default(), 1));
    }

    proptest! {
        #[test]
        fn every_scope_can_be_left_under_any_keymap_file(
            wishes in prop::collection::vec((0usize..30, 0usize..200, prop::collection::vec(0usize..12, 0..4)), 0..30),
        ) {
            let keys = ["q", "Esc", "Ctrl-C", "n", "y", "x", "Enter", "Up", "Space", "Ctrl-S", "?", ":"];
            let mut file = BTreeMap::<String, BTreeMap<String, Vec<&str>>>::new();
            for (scope, action, chosen) in wishes {
                let scope = Scope::ALL[scope % Scope::ALL.len()];
                let action = BINDINGS[action % BINDINGS.len()].action;
                let chosen = chosen.into_iter().map(|at| keys[at]).collect();
                file.entry(name(scope)).or_default().insert(name(action), chosen);
            }
            let (keymap, _) = Keymap::read(&serde_json::to_string(&file).unwrap());
            for scope in Scope::ALL.into_iter().filter(|&scope| scope != Scope::Anywhere) {
                let out = |bound: &Bound| matches!(bound.binding.action, Action::Cancel | Action::Quit) && !bound.keys.is_empty();
                prop_assert!(keymap.in_own_scope(scope).any(out), "{:?}", scope);
                let mut seen = Vec::new();
                for key in keymap.in_own_scope(scope).flat_map(|bound| &bound.keys) {
                    prop_assert!(!seen.contains(key), "{} twice in {:?}", key, scope);
                    seen.push(*key);
                }
            }
        }
    }
}
