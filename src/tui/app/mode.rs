//! What is going on: looking at the board, a walk, a page, a form or a question.

use super::families::Families;
use super::welcome::Welcome;
use crate::tui::keymap::Scope;

/// What is going on.
#[derive(Clone, Debug)]
pub enum Mode {
    /// Looking at the board.
    Board,
    /// The first steps.
    Welcome(Welcome),
    /// The families and their cards.
    Families(Families),
}

/// What is shown in place of the board.
#[derive(Clone, Copy, Debug)]
pub enum Page<'a> {
    /// The families.
    Families(&'a Families),
    /// The first steps.
    Welcome(Welcome),
}

impl Mode {
    /// The page that is shown in place of the board, if any; it stays behind a form.
    #[must_use]
    pub fn page(&self) -> Option<Page<'_>> {
        match self {
            Self::Families(page) => Some(Page::Families(page)),
            Self::Welcome(page) => Some(Page::Welcome(*page)),
            _ => None,
        }
    }

    /// Which keys hold.
    #[must_use]
    pub fn scope(&self) -> Scope {
        match self {
            Self::Board => Scope::Board,
            Self::Welcome(_) => Scope::Welcome,
            Self::Families(page) => page.scope(),
        }
    }
}
