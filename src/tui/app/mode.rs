//! What is going on: looking at the board, a walk, a page, a form or a question.

use super::design::Design;
use super::families::Families;
use super::matching::Matching;
use super::project::{Buy, Project, Pull};
use super::rollcall::RollCall;
use super::welcome::Welcome;
use super::{Form, ReturnTo};
use crate::stash::command::key::Keyed;
use crate::tui::keymap::Scope;

/// A pattern's key that was read, with what would come of it.
#[derive(Clone, Debug)]
pub struct Intake {
    /// The file's name.
    pub file: String,
    /// The project.
    pub project: String,
    /// What would come of it.
    pub keyed: Keyed,
    /// Headers the file has and nobody understands.
    pub ignored: Vec<String>,
    /// First line shown.
    pub top: usize,
}

/// What is going on.
#[derive(Clone, Debug)]
pub enum Mode {
    /// Looking at the board.
    Board,
    /// Filling in a form.
    Form(Form),
    /// The list of rings, and which one is chosen.
    Rings(usize),
    /// The page of a project: its key and how each colour stands.
    Project(Project),
    /// Fetching the kit of a project.
    Pull(Pull),
    /// What is to be bought.
    Buy(Buy),
    /// A key waits for a yes.
    Intake(Intake),
    /// The columns of a card list are matched.
    Matching(Box<Matching>),
    /// The first steps.
    Welcome(Welcome),
    /// A board is drawn.
    Design(Box<Design>),
    /// Checking the wall against the record.
    RollCall(RollCall),
    /// The families and their cards.
    Families(Families),
}

/// What is shown in place of the board.
#[derive(Clone, Copy, Debug)]
pub enum Page<'a> {
    /// A project.
    Project(Project),
    /// What is to be bought.
    Buy(&'a Buy),
    /// The families.
    Families(&'a Families),
    /// The first steps.
    Welcome(Welcome),
    /// A board that is drawn.
    Design(&'a Design),
    /// The columns of a card list.
    Matching(&'a Matching),
}

impl Mode {
    /// The page that is shown in place of the board, if any; it stays behind a form.
    #[must_use]
    pub fn page(&self) -> Option<Page<'_>> {
        match self {
            Self::Project(page) => Some(Page::Project(*page)),
            Self::Buy(buy) => Some(Page::Buy(buy)),
            Self::Families(page) => Some(Page::Families(page)),
            Self::Welcome(page) => Some(Page::Welcome(*page)),
            Self::Design(design) => Some(Page::Design(design)),
            Self::Matching(matching) => Some(Page::Matching(matching)),
            Self::Form(form) => match &form.back {
                ReturnTo::Project(page) => Some(Page::Project(*page)),
                ReturnTo::Families(page) => Some(Page::Families(page)),
                ReturnTo::Welcome(page) => Some(Page::Welcome(*page)),
                _ => None,
            },
            _ => None,
        }
    }

    /// Which keys hold.
    #[must_use]
    pub fn scope(&self) -> Scope {
        match self {
            Self::Board => Scope::Board,
            Self::Form(_) => Scope::Form,
            Self::Rings(_) => Scope::Rings,
            Self::Project(_) => Scope::Project,
            Self::Pull(_) => Scope::Pull,
            Self::Buy(_) => Scope::Buy,
            Self::Intake(_) => Scope::Intake,
            Self::Matching(_) => Scope::Matching,
            Self::Welcome(_) => Scope::Welcome,
            Self::Design(design) => design.scope(),
            Self::RollCall(call) => call.scope(),
            Self::Families(page) => page.scope(),
        }
    }
}
