//! What is on the screen: the state of the interface, apart from the stash.
//!
//! What is going on is the stack of screens in it: [`screen`] says what each of them can do.

pub mod derived;
pub mod question;
pub mod screen;

use std::collections::{BTreeSet, HashSet};

use jiff::Timestamp;

use self::derived::Derived;
use self::question::{Question, Then};
use self::screen::{Extent, Screen};
use super::heat::Heat;
use super::key::Key;
use super::keymap::{Action, Keymap, Scope};
use super::looks::Looks;
use super::theme::{Depth, Theme};
use crate::model::board::{Board, HookRef};
use crate::model::ids::{CardId, RingId};
use crate::stash::history::History;
use crate::stash::state::{CardState, State};

/// The stash as the screen sees it.
#[derive(Clone, Copy)]
pub struct Stash<'a> {
    /// What there is.
    pub state: &'a State,
    /// What can be taken back.
    pub history: &'a History,
    /// Why nothing can be changed, if so.
    pub read_only: Option<&'a str>,
    /// Whether the last event was made by another process while this screen was open.
    pub last_is_others: bool,
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
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Viewport {
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

/// The button of the mouse is down on a hook.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Press {
    /// Which hook.
    pub hook: HookRef,
    /// The card there, if any, and whether pressing the button selected or deselected it.
    pub card: Option<(CardId, bool)>,
}

/// A line for the user until the next key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Notice {
    /// What it says.
    pub text: String,
    /// Whether something went wrong.
    pub wrong: bool,
    /// Whether it tells of a change that can be undone.
    pub undo: bool,
}

/// The interface.
#[derive(Clone, Debug)]
pub struct App {
    /// Columns and rows of the screen.
    pub size: (u16, u16),
    /// What time it is.
    pub now: Timestamp,
    /// How the user wants the screen to look.
    pub looks: Looks,
    /// How colours come out: what follows from the looks.
    pub theme: Theme,
    /// What is looked at.
    pub eye: Viewport,
    /// What follows from the stash as it is now.
    pub derived: Derived,
    /// What the board is coloured by.
    pub heat: Heat,
    /// The cards that were chosen.
    pub chosen: BTreeSet<CardId>,
    /// The rings that were chosen, to buy for them together.
    pub chosen_rings: BTreeSet<RingId>,
    /// The screens over the board, the topmost last.
    pub stack: Vec<Box<dyn Screen>>,
    /// How much of the screen that one of them takes which is at work, and so not among them.
    pub acting: Option<Extent>,
    /// A line for the user.
    pub notice: Option<Notice>,
    /// What it said before the key that is pressed.
    pub last_notice: Option<Notice>,
    /// Whether nothing moves on the screen by itself.
    pub still: bool,
    /// The hooks where cards landed a moment ago.
    pub landed: HashSet<HookRef>,
    /// Whether the mouse is ours.
    pub mouse: bool,
    /// Where its button went down, until it goes up or draws a card along.
    pub press: Option<Press>,
    /// Whether each step of a walk is announced, and the last that was.
    pub announces: bool,
    /// See [`Self::announces`].
    pub announced: Option<String>,
    /// The keys that hold.
    pub keys: Keymap,
    /// The folder where the stash is kept.
    pub kept_in: String,
    /// The last event there was when the board was opened; 0 where there was none.
    pub opened_after: u64,
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
            looks: Looks::of(theme),
            theme,
            eye: Viewport::default(),
            derived: Derived::default(),
            heat: Heat::Off,
            chosen: BTreeSet::new(),
            chosen_rings: BTreeSet::new(),
            stack: Vec::new(),
            acting: None,
            notice: None,
            last_notice: None,
            still: false,
            landed: HashSet::new(),
            mouse: true,
            press: None,
            announces: false,
            announced: None,
            keys: Keymap::default(),
            kept_in: String::new(),
            opened_after: 0,
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
    pub fn card<'a>(&self, state: &'a State) -> Option<&'a CardState> {
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
        self.say(format!(
            "A re-hang is underway: {done} of {steps} steps done. Press g to continue.",
            done = underway.done,
            steps = underway.steps
        ));
        true
    }

    /// Lets the screen look otherwise.
    pub fn look(&mut self, looks: Looks) {
        self.looks = looks;
        self.theme = looks.theme();
    }

    /// Says that threads have no swatches, where nobody asked for that, and with what key they may get some.
    pub fn call_out_few_colours(&mut self) {
        let few = match self.theme.depth {
            _ if !self.looks.is_short_of_colours() => return,
            Depth::Sixteen => "The terminal announces only 16 colours",
            _ => "The terminal announces no colours",
        };
        let key = self.keys.first(Scope::Board, Action::Colours);
        let key = key.map_or_else(|| ":".to_owned(), ToString::to_string);
        self.say(format!("{few}. Press {key} if it has more."));
    }

    /// Which keys hold.
    #[must_use]
    pub fn scope(&self) -> Scope {
        let top = self.stack.last();
        top.map_or(Scope::Board, |screen| screen.scope())
    }

    /// Whether a key counts once while it is held: what goes on or back on a walk, and what undoes.
    #[must_use]
    pub fn counts_once(&self, key: Key) -> bool {
        let scope = self.scope();
        match self.keys.action(scope, key) {
            Some(Action::Undo | Action::Redo) => true,
            Some(Action::Accept | Action::Previous) => scope.is_walk(),
            _ => false,
        }
    }

    /// The selected cards in board order; without any, the card under the cursor.
    #[must_use]
    pub fn selected(&self, state: &State) -> Vec<CardId> {
        if self.chosen.is_empty() {
            let under_cursor = self.card(state).map(|kept| kept.card.id);
            return under_cursor.into_iter().collect();
        }
        let cards = self.chosen.iter().filter_map(|&id| state.card(id));
        let ordered = state.in_board_order(cards);
        ordered.iter().map(|kept| kept.card.id).collect()
    }

    /// Puts the cursor on a hook.
    pub fn look_at(&mut self, state: &State, hook: HookRef) {
        if let Some(at) = state.boards().position(|board| board.id == hook.board) {
            self.eye.board = at;
            (self.eye.row, self.eye.column, self.eye.pick) = (hook.row, hook.column, 0);
        }
    }

    /// Puts the cursor on a card's home; where it has none, on the hook it hangs on.
    pub fn look_at_card(&mut self, state: &State, card: CardId) {
        let Some(kept) = state.card(card) else { return };
        if let Some(hook) = kept.home.or(kept.place.at.hook()) {
            self.look_at(state, hook);
            let cards = cards_at(state, hook);
            let at = cards.iter().position(|other| other.card.id == card);
            self.eye.pick = at.unwrap_or(0);
        }
    }

    /// Selects a card, or deselects it.
    pub fn toggle(&mut self, card: CardId) {
        if !self.chosen.remove(&card) {
            self.chosen.insert(card);
        }
    }

    /// Opens a screen over all that are there.
    pub fn open(&mut self, screen: impl Screen + 'static) {
        self.stack.push(Box::new(screen));
    }

    /// The topmost screen that is no window; `None` where that is what goes on beneath the stack.
    #[must_use]
    pub fn screen(&self) -> Option<&dyn Screen> {
        let mut from_top = self.stack.iter().rev().map(|screen| &**screen);
        from_top.find(|screen| screen.extent() != Extent::Window)
    }

    /// Asks for a yes or a no.
    pub fn ask(&mut self, text: impl Into<String>, then: Then) {
        self.open(Question::new(text, then));
    }

    /// Tells the user something.
    pub fn say(&mut self, text: impl Into<String>) {
        self.notice = Some(Notice {
            text: text.into(),
            wrong: false,
            undo: false,
        });
    }

    /// Tells the user what went wrong.
    pub fn complain(&mut self, text: impl ToString) {
        self.notice = Some(Notice {
            text: text.to_string(),
            wrong: true,
            undo: false,
        });
    }
}

/// The cards that live on a hook, then those that hang there and live elsewhere.
#[must_use]
pub fn cards_at(state: &State, hook: HookRef) -> Vec<&CardState> {
    let strangers = state
        .hanging_on(hook)
        .filter(|kept| kept.home != Some(hook));
    state.homes_on(hook).chain(strangers).collect()
}
