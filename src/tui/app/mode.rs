//! What is going on: looking at the board, a walk, a page, a form or a question.

use super::design::Design;
use super::families::Families;
use super::hang::Hang;
use super::help::{Help, Pick};
use super::log::Log;
use super::matching::Matching;
use super::project::{Buy, Project, Pull};
use super::rehang::{Plans, Work};
use super::rollcall::RollCall;
use super::welcome::Welcome;
use super::{Form, ReturnTo, Viewport};
use crate::model::ids::{CardId, RingId};
use crate::stash::command::key::Keyed;
use crate::stash::event::Event;
use crate::stash::find::NotOwned;
use crate::stash::state::{CardState, State};
use crate::tui::field::Field;
use crate::tui::keymap::Scope;

/// Typing to find a colour.
#[derive(Clone, PartialEq, Debug)]
pub struct FindBox {
    /// What is typed.
    pub field: Field,
    /// Which match is chosen.
    pub at: usize,
    /// The matches, best first.
    pub matches: Vec<CardId>,
    /// Shades that match and are not owned.
    pub not_owned: Vec<NotOwned>,
    /// Where the eye was before.
    pub back: Viewport,
}

/// Putting a ring's cards away, one by one.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PutAway {
    /// Which ring.
    pub ring: RingId,
    /// The cards that were on it, in board order.
    pub order: Vec<CardId>,
    /// Which of them is in the hand.
    pub at: usize,
}

impl PutAway {
    /// The cards still on the ring, in board order.
    pub fn left<'a>(&'a self, state: &'a State) -> impl Iterator<Item = &'a CardState> {
        self.order
            .iter()
            .filter_map(|&id| state.card(id))
            .filter(|kept| kept.place.at.ring() == Some(self.ring))
    }

    /// Goes to the next card still on the ring, from where it stands on, around the end.
    pub fn settle(&mut self, state: &State) {
        let on = |id: CardId| {
            state
                .card(id)
                .is_some_and(|kept| kept.place.at.ring() == Some(self.ring))
        };
        let count = self.order.len();
        let next = (0..count)
            .map(|step| (self.at + step) % count.max(1))
            .find(|&at| on(self.order[at]));
        self.at = next.unwrap_or(0);
    }
}

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
    /// Finding a colour.
    Find(FindBox),
    /// Filling in a form.
    Form(Form),
    /// The list of rings, and which one is chosen.
    Rings(usize),
    /// The list of cards that are not at home, and which one is chosen.
    Away(usize),
    /// Hanging a card on another hook.
    Hang(Hang),
    /// Putting a ring away.
    PutAway(PutAway),
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
    /// Plans are being worked out, and so many candidates are there.
    Planning(usize),
    /// Choosing a plan.
    Plans(Plans),
    /// Doing a re-hang.
    Work(Work),
    /// Checking the wall against the record.
    RollCall(RollCall),
    /// The families and their cards.
    Families(Families),
    /// What was done.
    Log(Log),
    /// The help.
    Help(Help),
    /// Choosing something to do by typing.
    Actions(Pick),
    /// A question, and what a yes does.
    Confirm {
        /// What is asked.
        question: String,
        /// What a yes does.
        then: ConfirmAction,
    },
}

/// What a yes does.
#[derive(Clone, Debug)]
pub enum ConfirmAction {
    /// It writes an event down.
    Record(Event),
    /// It writes down every step that is left of a re-hang.
    AllSteps(Work),
    /// It undoes what another process did.
    Undo {
        /// The number of the event.
        seq: u64,
        /// What was going on, and goes on after either answer.
        back: Box<Mode>,
    },
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
    /// What was done.
    Log(&'a Log),
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
            Self::Help(Help { back, .. }) | Self::Actions(Pick { back, .. }) => back.page(),
            Self::Families(page) => Some(Page::Families(page)),
            Self::Log(log) => Some(Page::Log(log)),
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
            Self::Find(_) => Scope::Find,
            Self::Form(_) => Scope::Form,
            Self::Rings(_) => Scope::Rings,
            Self::Away(_) => Scope::Away,
            Self::Hang(_) => Scope::Hang,
            Self::PutAway(_) => Scope::PutAway,
            Self::Project(_) => Scope::Project,
            Self::Pull(_) => Scope::Pull,
            Self::Buy(_) => Scope::Buy,
            Self::Intake(_) => Scope::Intake,
            Self::Matching(_) => Scope::Matching,
            Self::Welcome(_) => Scope::Welcome,
            Self::Design(design) => design.scope(),
            Self::Planning(_) => Scope::Planning,
            Self::Plans(_) => Scope::Plans,
            Self::Work(_) => Scope::Work,
            Self::RollCall(call) => call.scope(),
            Self::Families(page) => page.scope(),
            Self::Log(_) => Scope::Log,
            Self::Help(_) => Scope::Help,
            Self::Actions(_) => Scope::Actions,
            Self::Confirm { .. } => Scope::Confirm,
        }
    }
}
