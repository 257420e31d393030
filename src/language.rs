//! The words of the program, and how they are said in another language.
//!
//! The source has every text in English, in [`say!`](crate::say) where something is put in and
//! [`word!`](crate::word) where nothing is, or [`one_or_many!`](crate::one_or_many) by a number; what must
//! be a constant stands in [`text!`](crate::text). `assets/language/en.json` lists all of them in one place. A
//! language is such a list with something else on the right. What it leaves out, or leaves empty, is
//! said in English.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Display;
use std::sync::OnceLock;

pub use crate::{one_or_many, say, text, word};

/// The language that is spoken, where it is not English. Set once, before anything is said.
static SPOKEN: OnceLock<Language> = OnceLock::new();

/// Texts by what they are in English.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Language(HashMap<String, String>);

/// A list of texts that is not one.
#[derive(Debug, thiserror::Error)]
pub enum NotALanguage {
    /// It is not in the form of a list of texts.
    #[error(
        "it is not a list of texts in JSON ({0}); begin with a copy of assets/language/en.json"
    )]
    Form(#[from] serde_json::Error),
    /// A text puts in what there is not.
    #[error(
        "the text for \"{english}\" has {{{name}}}, which the English one has not; take it out"
    )]
    PutsIn {
        /// The text in English.
        english: String,
        /// What it puts in.
        name: String,
    },
}

impl Language {
    /// Reads a language from a JSON object of texts by what they are in English.
    ///
    /// # Errors
    /// When it is not such an object, or a text puts in what the English one does not.
    pub fn read(json: &str) -> Result<Self, NotALanguage> {
        let list: BTreeMap<String, String> = serde_json::from_str(json)?;
        for (english, text) in &list {
            let known: BTreeSet<&str> = places(english).collect();
            if let Some(name) = places(text).find(|name| !known.contains(name)) {
                return Err(NotALanguage::PutsIn {
                    english: english.clone(),
                    name: name.to_owned(),
                });
            }
        }
        let said = |(english, text): &(String, String)| !text.is_empty() && english != text;
        Ok(Self(list.into_iter().filter(said).collect()))
    }
}

/// Speaks a language from now on. False, and nothing is changed, where one is spoken already.
pub fn speak(language: Language) -> bool {
    SPOKEN.set(language).is_ok()
}

/// Whether another language than English is spoken.
#[must_use]
pub fn is_foreign() -> bool {
    SPOKEN.get().is_some()
}

/// What is said for an English text in the language that is spoken; nothing where it is English.
#[must_use]
pub fn told(english: &str) -> Option<&'static str> {
    SPOKEN.get()?.0.get(english).map(String::as_str)
}

/// What is said for an English text.
#[must_use]
pub fn word(english: &'static str) -> &'static str {
    told(english).unwrap_or(english)
}

/// The parts of a text: what stands there, and the names of what is put in.
enum Part<'a> {
    Text(&'a str),
    Place(&'a str),
}

/// `{{` and `}}` stand for single braces, as in the formats of the standard library.
fn parts(text: &str) -> impl Iterator<Item = Part<'_>> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let at = rest.find(['{', '}']).unwrap_or(rest.len());
        if at > 0 {
            let (text, after) = rest.split_at(at);
            rest = after;
            return Some(Part::Text(text));
        }
        let brace = rest.get(..1)?;
        if rest.get(1..2) == Some(brace) {
            rest = &rest[2..];
            return Some(Part::Text(brace));
        }
        let Some((name, after)) = rest[1..].split_once('}').filter(|_| brace == "{") else {
            rest = &rest[1..];
            return Some(Part::Text(brace));
        };
        rest = after;
        Some(Part::Place(name))
    })
}

/// The names of what a text puts in.
fn places(text: &str) -> impl Iterator<Item = &str> {
    parts(text).filter_map(|part| match part {
        Part::Place(name) => Some(name),
        Part::Text(_) => None,
    })
}

/// Puts things in where a text has their names in braces.
#[must_use]
pub fn fill(text: &str, things: &[(&str, &dyn Display)]) -> String {
    let mut filled = String::with_capacity(text.len() + 16);
    for part in parts(text) {
        match part {
            Part::Text(text) => filled.push_str(text),
            Part::Place(name) => {
                if let Some((_, thing)) = things.iter().find(|(known, _)| *known == name) {
                    filled.push_str(&thing.to_string());
                }
            }
        }
    }
    filled
}

/// A text with things put in, in the language that is spoken: `say!("no card {name}", name = card)`, or
/// `say!("no card {name}", name)`. Every thing is named, so that a language can put them in another order.
#[macro_export]
macro_rules! say {
    ($text:literal $(, $name:ident $(= $thing:expr)?)* $(,)?) => {
        match $crate::language::told($text) {
            // Through `concat!`, nothing is put in that is not named here.
            None => ::std::format!(::std::concat!($text) $(, $name = $crate::put_in!($name $(= $thing)?))*),
            Some(text) => $crate::language::fill(
                text,
                &[$((
                    ::std::stringify!($name),
                    &$crate::put_in!($name $(= $thing)?) as &dyn ::std::fmt::Display,
                )),*],
            ),
        }
    };
}

/// What is put in under a name: the variable of that name where nothing else is said.
#[doc(hidden)]
#[macro_export]
macro_rules! put_in {
    ($name:ident) => {
        $name
    };
    ($name:ident = $thing:expr) => {
        $thing
    };
}

/// A text that is a constant, in English: it goes through [`word()`] where it is shown.
#[macro_export]
macro_rules! text {
    ($text:literal) => {
        $text
    };
}

/// A text in the language that is spoken.
#[macro_export]
macro_rules! word {
    ($text:literal) => {
        $crate::language::word($text)
    };
}

/// The word for one of a thing, or that for any other number of it, in the language that is spoken:
/// `one_or_many!(cards, "card", "cards")`.
#[macro_export]
macro_rules! one_or_many {
    ($count:expr, $one:literal, $many:literal) => {
        $crate::language::word(if $count == 1 { $one } else { $many })
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn things_are_put_in_where_the_text_has_their_names() {
        let (a, b) = (7, "moss");
        let things: [(&str, &dyn Display); 2] = [("a", &a), ("b", &b)];
        for (text, filled) in [
            ("{b}: {a} ({b})", "moss: 7 (moss)"),
            ("{{{a}}} }{{}} {c}{", "{7} }{} {"),
            ("", ""),
            ("\u{e4}{a}\u{df}", "\u{e4}7\u{df}"),
        ] {
            assert_eq!(fill(text, &things), filled, "{text}");
        }
        assert_eq!(say!("{a} and {{b}} {b}", a, b = b), "7 and {b} moss");
        assert_eq!(word!("home"), "home");
        let cards = |n: u32| one_or_many!(n, "card", "cards");
        assert_eq!([0, 1, 2].map(cards), ["cards", "card", "cards"]);
    }

    #[test]
    fn a_language_is_a_list_of_texts_that_put_in_no_more_than_the_english_ones() {
        let list = r#"{"{n} cards": "{n} Karten", "home": "", "away": "away"}"#;
        let german = Language::read(list).unwrap();
        assert_eq!(german.0.len(), 1);
        assert_eq!(german.0["{n} cards"], "{n} Karten");
        assert!(matches!(
            Language::read(r#"{"{n} cards": "{m} Karten"}"#),
            Err(NotALanguage::PutsIn { name, .. }) if name == "m"
        ));
        assert!(matches!(Language::read("[]"), Err(NotALanguage::Form(_))));
    }
}
