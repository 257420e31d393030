//! A text field.

use unicode_segmentation::UnicodeSegmentation;

use super::key::{Code, Key};
use crate::model::label::is_invisible;
use crate::text::one_or_many;

/// The most characters a field holds; the rest of a paste is left out.
pub const LONGEST: usize = 1_000;

/// A line of text with a cursor.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Field {
    text: String,
    /// Byte offset of the cursor, always on a grapheme boundary.
    cursor: usize,
    /// Whether the text is a default that the user hasn't touched.
    offered: bool,
}

/// The characters a field left out of a text.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
pub struct LeftOut {
    /// Control and invisible characters.
    pub unseen: usize,
    /// Characters beyond the limit.
    pub beyond: usize,
}

impl LeftOut {
    /// A message for the user; `None` if nothing was left out.
    #[must_use]
    pub fn sentence(self) -> Option<String> {
        let beyond = format!(
            "A line takes {LONGEST} characters: {beyond} of what was pasted are left out",
            beyond = self.beyond
        );
        let word = one_or_many(self.unseen, "character", "characters");
        let unseen = format!(
            "Left out of what was pasted: {unseen} invisible {word}",
            unseen = self.unseen
        );
        match self {
            Self { beyond: 1.., .. } => Some(beyond),
            Self { unseen: 1.., .. } => Some(unseen),
            _ => None,
        }
    }
}

impl Field {
    /// A field with this text and the cursor at its end.
    #[must_use]
    pub fn with(text: &str) -> Self {
        let mut field = Self::default();
        field.insert(text);
        field
    }

    /// A field with default text. Typing, pasting or deleting replaces the whole text; moving the
    /// cursor keeps it.
    #[must_use]
    pub fn offered(text: &str) -> Self {
        let mut field = Self::with(text);
        field.offered = !field.text.is_empty();
        field
    }

    /// Whether the text is still the default.
    #[must_use]
    pub const fn is_offered(&self) -> bool {
        self.offered
    }

    /// The text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text before and after the cursor.
    #[must_use]
    pub fn halves(&self) -> (&str, &str) {
        self.text.split_at(self.cursor)
    }

    /// Types or pastes text at the cursor. Line ends become spaces. Control and invisible
    /// characters are left out, as is text beyond the limit.
    pub fn insert(&mut self, text: &str) -> LeftOut {
        self.give_way();
        let mut room = LONGEST.saturating_sub(self.text.chars().count());
        let mut left_out = LeftOut::default();
        let mut clean = String::new();
        let mut chars = text.chars();
        while room > 0
            && let Some(c) = chars.next()
        {
            let c = if matches!(c, '\n' | '\r' | '\t') {
                ' '
            } else {
                c
            };
            if is_invisible(c) {
                left_out.unseen += 1;
            } else {
                clean.push(c);
                room -= 1;
            }
        }
        left_out.beyond = chars.count();
        self.text.insert_str(self.cursor, &clean);
        self.cursor += clean.len();
        // A combining character may have joined the character before it.
        while !self.is_boundary(self.cursor) {
            self.cursor += 1;
        }
        left_out
    }

    /// Clears the default text before an edit.
    fn give_way(&mut self) {
        if self.offered {
            *self = Self::default();
        }
    }

    fn is_boundary(&self, at: usize) -> bool {
        at >= self.text.len()
            || self
                .text
                .grapheme_indices(true)
                .any(|(start, _)| start == at)
    }

    fn before(&self) -> usize {
        let (head, _) = self.halves();
        head.grapheme_indices(true)
            .next_back()
            .map_or(0, |(start, _)| start)
    }

    fn after(&self) -> usize {
        let (_, tail) = self.halves();
        self.cursor + tail.graphemes(true).next().map_or(0, str::len)
    }

    /// Handles an editing key. Returns whether it was one.
    pub fn press(&mut self, key: Key) -> bool {
        if let (false, Code::Backspace | Code::Delete) = (key.ctrl, key.code) {
            self.give_way();
        }
        match (key.ctrl, key.code) {
            (false, Code::Char(c)) => {
                self.insert(c.encode_utf8(&mut [0; 4]));
            }
            (false, Code::Backspace) => {
                let start = self.before();
                self.text.replace_range(start..self.cursor, "");
                self.cursor = start;
            }
            (false, Code::Delete) => {
                let end = self.after();
                self.text.replace_range(self.cursor..end, "");
            }
            (false, Code::Left) => self.cursor = self.before(),
            (false, Code::Right) => self.cursor = self.after(),
            (false, Code::Home) | (true, Code::Char('a')) => self.cursor = 0,
            (false, Code::End) | (true, Code::Char('e')) => self.cursor = self.text.len(),
            (true, Code::Char('u')) => *self = Self::default(),
            (true, Code::Char('w')) => {
                let (head, _) = self.halves();
                let start = head.trim_end().rfind(' ').map_or(0, |at| at + 1);
                self.text.replace_range(start..self.cursor, "");
                self.cursor = start;
            }
            _ => return false,
        }
        self.offered = false;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn editing_works_on_whole_graphemes() {
        let mut field = Field::with("ae\u{301}o");
        field.press(Key::plain(Code::Left));
        field.press(Key::plain(Code::Backspace));
        assert_eq!(field.text(), "ao");
    }

    #[test]
    fn typing_replaces_the_default_text_and_moving_the_cursor_keeps_it() {
        let typed = |keys: &[Key]| {
            let mut field = Field::offered("816");
            assert!(field.is_offered());
            for &key in keys {
                field.press(key);
                assert!(!field.is_offered());
            }
            field.text().to_owned()
        };
        assert_eq!(typed(&[Key::char('1'), Key::char('6')]), "16");
        assert_eq!(typed(&[Key::plain(Code::Backspace)]), "");
        assert_eq!(typed(&[Key::plain(Code::End), Key::char('0')]), "8160");
        let mut field = Field::offered("816");
        assert!(!field.press(Key::plain(Code::Enter)) && field.is_offered());
        field.insert("9");
        assert_eq!(field.text(), "9");
    }

    #[test]
    fn pasting_strips_control_characters_and_limits_length() {
        let field = Field::with("a\u{1b}[31m\nb\u{202e}");
        assert_eq!(field.text(), "a[31m b");
        assert_eq!(Field::with(&"x".repeat(1_000_000)).text().len(), LONGEST);
    }

    #[test]
    fn pasting_reports_the_characters_left_out() {
        let mut field = Field::default();
        let unseen = |unseen| LeftOut { unseen, beyond: 0 };
        assert_eq!(field.insert("a\nb").sentence(), None);
        assert_eq!(field.insert("\u{1b}[31m\u{202e}"), unseen(2));
        let said = unseen(1).sentence().unwrap();
        assert!(said.ends_with("1 invisible character"), "{said}");
        let said = field.insert(&"x".repeat(LONGEST)).sentence().unwrap();
        assert!(said.contains("7 of what was pasted are left out"), "{said}");
    }

    proptest! {
        #[test]
        fn cursor_stays_on_grapheme_boundaries(keys in prop::collection::vec(0usize..9, 0..40), text in "\\PC{0,12}") {
            let mut field = Field::with(&text);
            for key in keys {
                field.press([
                    Key::plain(Code::Left), Key::plain(Code::Right), Key::plain(Code::Home),
                    Key::plain(Code::End), Key::plain(Code::Backspace), Key::plain(Code::Delete),
                    Key::char('x'), Key::char('\u{301}'), Key::ctrl('w'),
                ][key]);
                prop_assert!(field.is_boundary(field.halves().0.len()));
            }
        }
    }
}
