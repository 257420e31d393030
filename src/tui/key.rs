//! A key press, independent of the terminal.

use std::fmt;
use std::str::FromStr;

use crate::model::label::is_invisible;

/// The key itself.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Code {
    /// A character, as typed.
    Char(char),
    /// Enter.
    Enter,
    /// Escape.
    Esc,
    /// Tab.
    Tab,
    /// Shift and Tab.
    BackTab,
    /// Backspace.
    Backspace,
    /// Delete.
    Delete,
    /// Cursor up.
    Up,
    /// Cursor down.
    Down,
    /// Cursor left.
    Left,
    /// Cursor right.
    Right,
    /// Home.
    Home,
    /// End.
    End,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
}

/// A key press with or without the control key.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Key {
    /// The key itself.
    pub code: Code,
    /// Whether control was held.
    pub ctrl: bool,
}

impl Key {
    /// A key by itself.
    #[must_use]
    pub const fn plain(code: Code) -> Self {
        Self { code, ctrl: false }
    }

    /// A character.
    #[must_use]
    pub const fn char(c: char) -> Self {
        Self::plain(Code::Char(c))
    }

    /// A character with control.
    #[must_use]
    pub const fn ctrl(c: char) -> Self {
        Self {
            code: Code::Char(c),
            ctrl: true,
        }
    }
}

impl Key {
    /// Whether it types a character in a text field.
    #[must_use]
    pub const fn types(&self) -> bool {
        !self.ctrl && matches!(self.code, Code::Char(_))
    }
}

/// Keys with a name.
const NAMED: [(&str, Code); 16] = [
    ("Space", Code::Char(' ')),
    ("Enter", Code::Enter),
    ("Esc", Code::Esc),
    ("Tab", Code::Tab),
    ("Shift-Tab", Code::BackTab),
    ("Backspace", Code::Backspace),
    ("Del", Code::Delete),
    ("Up", Code::Up),
    ("Down", Code::Down),
    ("Left", Code::Left),
    ("Right", Code::Right),
    ("Home", Code::Home),
    ("End", Code::End),
    ("PgUp", Code::PageUp),
    ("PgDn", Code::PageDown),
    ("Delete", Code::Delete),
];

impl FromStr for Key {
    type Err = String;

    /// Parses a key as displayed: a character, `Ctrl-F`, or a name such as `Enter` or `PgUp`.
    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!("there is no key '{text}'; write a character, Ctrl-F or a name such as PgUp")
        };
        let named = NAMED
            .iter()
            .find(|(name, _)| name.eq_ignore_ascii_case(text));
        if let Some(&(_, code)) = named {
            return Ok(Self::plain(code));
        }
        let (ctrl, rest) = match text.get(..5) {
            Some(start) if start.eq_ignore_ascii_case("ctrl-") => (true, &text[5..]),
            _ => (false, text),
        };
        let mut chars = rest.chars();
        match (chars.next(), chars.next()) {
            (Some(c), None) if ctrl && c.is_ascii_alphabetic() => {
                Ok(Self::ctrl(c.to_ascii_lowercase()))
            }
            (Some(c), None) if !ctrl && !is_invisible(c) => Ok(Self::char(c)),
            _ => Err(wrong()),
        }
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.ctrl {
            f.write_str("Ctrl-")?;
        }
        match self.code {
            Code::Char(' ') => f.write_str("Space"),
            Code::Char(c) if self.ctrl => write!(f, "{}", c.to_ascii_uppercase()),
            Code::Char(c) => write!(f, "{c}"),
            Code::Enter => f.write_str("Enter"),
            Code::Esc => f.write_str("Esc"),
            Code::Tab => f.write_str("Tab"),
            Code::BackTab => f.write_str("Shift-Tab"),
            Code::Backspace => f.write_str("Backspace"),
            Code::Delete => f.write_str("Del"),
            Code::Up => f.write_str("Up"),
            Code::Down => f.write_str("Down"),
            Code::Left => f.write_str("Left"),
            Code::Right => f.write_str("Right"),
            Code::Home => f.write_str("Home"),
            Code::End => f.write_str("End"),
            Code::PageUp => f.write_str("PgUp"),
            Code::PageDown => f.write_str("PgDn"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::keymap::BINDINGS;

    #[test]
    fn every_key_parses_as_displayed() {
        for key in BINDINGS.iter().flat_map(|binding| binding.keys) {
            assert_eq!(key.to_string().parse(), Ok(*key));
        }
        assert_eq!("ctrl-f".parse(), Ok(Key::ctrl('f')));
        assert_eq!("pgup".parse(), Ok(Key::plain(Code::PageUp)));
        for wrong in ["", "ab", "Ctrl-", "Ctrl-1", "F1", "\u{1b}", "ctrl-\u{e9}"] {
            assert!(wrong.parse::<Key>().is_err(), "{wrong:?}");
        }
    }
}
