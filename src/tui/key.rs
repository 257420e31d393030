//! A key press, whatever terminal it came from.

use std::fmt;

/// What was pressed.
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
    /// What was pressed.
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
