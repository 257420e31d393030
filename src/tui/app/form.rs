//! A form: lines to be filled in, what for, and what is on the screen after it.

use super::Mode;
use super::families::Families;
use super::project::{Project, Pull};
use super::welcome::Welcome;
use crate::model::board::HookRef;
use crate::model::ids::{CardId, FamilyId, RingId};
use crate::tui::field::Field;

/// What a form is filled in for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Purpose {
    /// To take cards to a ring.
    Take,
    /// To import a card list.
    Import,
    /// To write a card by hand.
    NewCard,
    /// To change what is written on a card.
    ChangeCard(CardId),
    /// To say where else the chosen cards are.
    Elsewhere,
    /// To take the chosen cards out of the stash.
    Remove,
    /// To leave a ring on a hook.
    HangUp(RingId),
    /// To block a hook.
    Block(HookRef),
    /// To begin a project, with or without its key.
    NewProject,
    /// To bring in the key of a project.
    ImportKey(RingId),
    /// To write a line of a key; `None` = a new one at its end.
    KeyLine(RingId, Option<usize>),
    /// To say what fabric a project is stitched on.
    Fabric(RingId),
    /// To split thread of a card off onto a split card on a ring.
    Split(RingId, CardId),
    /// To say how far a project has come.
    Progress(RingId),
    /// To note thread of a card on a ring as used.
    Use(RingId, CardId),
    /// To say what goes on paper or into a file.
    Paper,
    /// To make a family.
    NewFamily,
    /// To give a family another name.
    RenameFamily(FamilyId),
}

/// A line of a form.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct FormField {
    /// What it is called.
    pub label: &'static str,
    /// What may be written there.
    pub hint: &'static str,
    /// What is written there.
    pub field: Field,
}

/// What is on the screen again when a form is filled in or left.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum ReturnTo {
    /// The board.
    Board,
    /// The list of rings.
    Rings(usize),
    /// The page of a project.
    Project(Project),
    /// The walk that fetches a kit.
    Pull(Pull),
    /// The page of the families.
    Families(Families),
    /// The first steps.
    Welcome(Welcome),
}

impl ReturnTo {
    /// There.
    #[must_use]
    pub fn mode(self) -> Mode {
        match self {
            Self::Board => Mode::Board,
            Self::Rings(at) => Mode::Rings(at),
            Self::Project(project) => Mode::Project(project),
            Self::Pull(pull) => Mode::Pull(pull),
            Self::Families(page) => Mode::Families(page),
            Self::Welcome(page) => Mode::Welcome(page),
        }
    }
}

/// A form to be filled in.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Form {
    /// What for.
    pub purpose: Purpose,
    /// Where it leads back to.
    pub back: ReturnTo,
    /// Its heading.
    pub title: String,
    /// Its lines.
    pub blanks: Vec<FormField>,
    /// Which line is being written.
    pub at: usize,
    /// What is wrong with it, if anything.
    pub wrong: Option<String>,
    /// The files that go on as the path that is typed.
    pub offers: Vec<String>,
}
