//! What is on the screen: the state of the interface, apart from the stash.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::design::Design;
use super::families::Families;
use super::field::Field;
use super::hang::{Hang, Press};
use super::heat::Heat;
use super::help::{Help, Pick};
use super::keymap::{Keymap, Scope};
use super::log::Log;
use super::matching::Matching;
use super::project::{Buy, Project, Pull};
use super::rehang::{Plans, Work};
use super::rollcall::RollCall;
use super::theme::Theme;
use super::welcome::Welcome;
use crate::language::say;
use crate::model::board::{Board, HookRef};
use crate::model::ids::{CardId, FamilyId, RingId};
use crate::stash::command::key::Keyed;
use crate::stash::event::Event;
use crate::stash::find::NotOwned;
use crate::stash::forgotten::forgotten;
use crate::stash::history::History;
use crate::stash::state::{Kept, State};
use crate::stash::words;

/// The stash as the screen sees it.
#[derive(Clone, Copy)]
pub struct Stash<'a> {
    /// What there is.
    pub state: &'a State,
    /// What can be taken back.
    pub history: &'a History,
    /// Why nothing can be changed, if so.
    pub read_only: Option<&'a str>,
}

/// How closely the board is looked at.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Zoom {
    /// Colours and states only.
    Far,
    /// With numbers.
    Middle,
    /// With names and amounts.
    Near,
}

/// What part of which board is looked at.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Eye {
    /// Which board, by its place among the boards.
    pub board: usize,
    /// Row of the cursor.
    pub row: u16,
    /// Column of the cursor.
    pub column: u16,
    /// Which of the cards on the hook.
    pub pick: usize,
    /// How closely; `None` = as closely as the whole board allows.
    pub zoom: Option<Zoom>,
    /// First row shown.
    pub top: u16,
    /// First column shown.
    pub left: u16,
}

/// A line for the user until the next key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Notice {
    /// What it says.
    pub text: String,
    /// Whether something went wrong.
    pub wrong: bool,
}

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
    pub back: Eye,
}

/// What a form is filled in for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Purpose {
    /// To take cards to a ring.
    Take,
    /// To bring in a stock list.
    Import,
    /// To write a card by hand.
    NewCard,
    /// To change what is written on a card.
    ChangeCard(CardId),
    /// To leave a ring on a hook.
    Park(RingId),
    /// To block a hook.
    Block(HookRef),
    /// To begin a project, with or without its key.
    NewProject,
    /// To bring in the key of a project.
    BringKey(RingId),
    /// To write a line of a key; `None` = a new one at its end.
    KeyLine(RingId, Option<usize>),
    /// To say what cloth a project is stitched on.
    Fabric(RingId),
    /// To wind thread of a card onto a spare card on a ring.
    Decant(RingId, CardId),
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
pub struct Blank {
    /// What it is called.
    pub label: &'static str,
    /// What may be written there.
    pub hint: &'static str,
    /// What is written there.
    pub field: Field,
}

/// What is on the screen again when a form is filled in or left.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Back {
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

impl Back {
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
    pub back: Back,
    /// Its heading.
    pub title: String,
    /// Its lines.
    pub blanks: Vec<Blank>,
    /// Which line is being written.
    pub at: usize,
    /// What is wrong with it, if anything.
    pub wrong: Option<String>,
    /// The files that go on as the path that is typed.
    pub offers: Vec<String>,
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
    pub fn left<'a>(&'a self, state: &'a State) -> impl Iterator<Item = &'a Kept> {
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
    /// The columns of a stock list are matched.
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
        then: Event,
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
    /// The columns of a stock list.
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
                Back::Project(page) => Some(Page::Project(*page)),
                Back::Families(page) => Some(Page::Families(page)),
                Back::Welcome(page) => Some(Page::Welcome(*page)),
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

/// The interface.
#[derive(Clone, Debug)]
pub struct App {
    /// Columns and rows of the screen.
    pub size: (u16, u16),
    /// What time it is.
    pub now: Timestamp,
    /// How colours come out.
    pub theme: Theme,
    /// What is looked at.
    pub eye: Eye,
    /// What the board is coloured by.
    pub heat: Heat,
    /// The cards that were chosen.
    pub chosen: BTreeSet<CardId>,
    /// The rings that were chosen, to buy for them together.
    pub chosen_rings: BTreeSet<RingId>,
    /// What is going on.
    pub mode: Mode,
    /// A line for the user.
    pub notice: Option<Notice>,
    /// Whether the mouse is ours.
    pub mouse: bool,
    /// Where its button went down, until it goes up or draws a card along.
    pub press: Option<Press>,
    /// The keys that hold.
    pub keys: Keymap,
    /// The folder where the stash is kept.
    pub kept_in: String,
    /// Whether the stash is the invented one, with the person's own aside.
    pub demo: bool,
}

impl App {
    /// The interface as it opens.
    #[must_use]
    pub fn new(size: (u16, u16), now: Timestamp, theme: Theme) -> Self {
        Self {
            size,
            now,
            theme,
            eye: Eye {
                board: 0,
                row: 0,
                column: 0,
                pick: 0,
                zoom: None,
                top: 0,
                left: 0,
            },
            heat: Heat::Off,
            chosen: BTreeSet::new(),
            chosen_rings: BTreeSet::new(),
            mode: Mode::Board,
            notice: None,
            mouse: true,
            press: None,
            keys: Keymap::default(),
            kept_in: String::new(),
            demo: false,
        }
    }

    /// The board that is looked at; `None` where there is none.
    #[must_use]
    pub fn board<'a>(&self, state: &'a State) -> Option<&'a Board> {
        state.boards().nth(self.eye.board)
    }

    /// The hook under the cursor.
    #[must_use]
    pub fn hook(&self, state: &State) -> Option<HookRef> {
        self.board(state)
            .map(|board| board.hook(self.eye.row, self.eye.column))
    }

    /// The card under the cursor: one that lives there, or one that hangs there by mistake.
    #[must_use]
    pub fn card<'a>(&self, state: &'a State) -> Option<&'a Kept> {
        let cards = cards_at(state, self.hook(state)?);
        cards
            .get(self.eye.pick.min(cards.len().saturating_sub(1)))
            .copied()
    }

    /// Calls out a re-hang that was begun and is not at its end; says whether there is one.
    pub fn call_out_underway(&mut self, state: &State) -> bool {
        let Some(underway) = state.underway() else {
            return false;
        };
        self.say(say!(
            "a re-hang is underway: {done} of {steps} steps; press g to go on",
            done = underway.done,
            steps = underway.steps
        ));
        true
    }

    /// Calls out the ring that was left for longest, if one was; see [`forgotten`].
    pub fn call_out_forgotten(&mut self, state: &State) {
        let Some(one) = forgotten(state, self.now).into_iter().next() else {
            return;
        };
        let (project, days) = (&one.ring.project, one.days);
        let count = state.cards_on(one.ring).count();
        let cards = words::cards(u32::try_from(count).unwrap_or(u32::MAX));
        self.say(match one.parked {
            Some(hook) => say!(
                "'{project}' has hung on {hook} for {days} days with {cards}: press r",
                project,
                hook = state.mark(hook),
                days,
                cards
            ),
            None => {
                say!(
                    "no card came to '{project}' for {days} days, with {cards} on it: press r",
                    project,
                    days,
                    cards
                )
            }
        });
    }

    /// Tells the user something.
    pub fn say(&mut self, text: impl Into<String>) {
        self.notice = Some(Notice {
            text: text.into(),
            wrong: false,
        });
    }

    /// Tells the user what went wrong.
    pub fn complain(&mut self, text: impl ToString) {
        self.notice = Some(Notice {
            text: text.to_string(),
            wrong: true,
        });
    }
}

/// The cards that live on a hook, then those that hang there and live elsewhere.
#[must_use]
pub fn cards_at(state: &State, hook: HookRef) -> Vec<&Kept> {
    let strangers = state
        .hanging_on(hook)
        .filter(|kept| kept.home != Some(hook));
    state.homes_on(hook).chain(strangers).collect()
}

/// The cards that are not at home, in board order of their homes.
#[must_use]
pub fn not_at_home(state: &State) -> Vec<&Kept> {
    let cards = state.index().not_at_home();
    state.in_board_order(cards.filter_map(|id| state.card(id)))
}
