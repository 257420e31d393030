//! The state of the interface, apart from the stash.
//!
//! Activity is a stack of screens: [`screen`] defines what each of them can do.

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
    /// The current state.
    pub state: &'a State,
    /// The undo history.
    pub history: &'a History,
    /// Why the stash is read-only, if it is.
    pub read_only: Option<&'a str>,
    /// Whether another process recorded the last event while this screen was open.
    pub last_is_others: bool,
}

/// How closely the board is viewed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Zoom {
    /// Colours and states only.
    Far,
    /// With numbers.
    Middle,
    /// With names and amounts.
    Near,
}

/// The part of a board in view, and the cursor.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Viewport {
    /// Index of the board.
    pub board: usize,
    /// Row of the cursor.
    pub row: u16,
    /// Column of the cursor.
    pub column: u16,
    /// Index of the card on the hook.
    pub pick: usize,
    /// Zoom level; `None` fits the whole board.
    pub zoom: Option<Zoom>,
    /// First row shown.
    pub top: u16,
    /// First column shown.
    pub left: u16,
}

/// The mouse button is down on a hook.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Press {
    /// The hook.
    pub hook: HookRef,
    /// The card there, if any, and whether pressing the button selected or deselected it.
    pub card: Option<(CardId, bool)>,
}

/// A line for the user, shown until the next key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Notice {
    /// Its text.
    pub text: String,
    /// Whether something went wrong.
    pub wrong: bool,
    /// Whether it reports a change that can be undone.
    pub undo: bool,
}

/// The interface.
#[derive(Clone, Debug)]
pub struct App {
    /// Columns and rows of the screen.
    pub size: (u16, u16),
    /// The current time.
    pub now: Timestamp,
    /// How the user wants the screen to look.
    pub looks: Looks,
    /// The theme that follows from the looks.
    pub theme: Theme,
    /// The part of the board in view.
    pub eye: Viewport,
    /// Values derived from the current stash.
    pub derived: Derived,
    /// The measure that colours the board.
    pub heat: Heat,
    /// The selected cards.
    pub chosen: BTreeSet<CardId>,
    /// The rings selected to buy for them together.
    pub chosen_rings: BTreeSet<RingId>,
    /// The screens over the board, the topmost last.
    pub stack: Vec<Box<dyn Screen>>,
    /// Extent of the screen that is handling a message, which is off the stack meanwhile.
    pub acting: Option<Extent>,
    /// A line for the user.
    pub notice: Option<Notice>,
    /// The line shown before the current key press.
    pub last_notice: Option<Notice>,
    /// Whether animations are off.
    pub still: bool,
    /// The hooks where cards landed a moment ago.
    pub landed: HashSet<HookRef>,
    /// Whether Homehook captures the mouse.
    pub mouse: bool,
    /// Where its button went down, until the button is released or a card is dragged.
    pub press: Option<Press>,
    /// Whether each step of a walk is announced.
    pub announces: bool,
    /// The last step announced.
    pub announced: Option<String>,
    /// The active keymap.
    pub keys: Keymap,
    /// The folder of the stash.
    pub kept_in: String,
    /// Number of the last event when the board was opened; 0 if there was none.
    pub opened_after: u64,
    /// Whether this is the demo stash, with the user's own set aside.
    pub demo: bool,
}

impl App {
    /// The interface at startup.
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

    /// The current board, if any.
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

    /// The card under the cursor: one that belongs there, or one that hangs there by mistake.
    #[must_use]
    pub fn card<'a>(&self, state: &'a State) -> Option<&'a CardState> {
        let cards = cards_at(state, self.hook(state)?);
        cards
            .get(self.eye.pick.min(cards.len().saturating_sub(1)))
            .copied()
    }

    /// Shows a notice if a re-hang is unfinished, and returns whether it is.
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

    /// Applies new looks.
    pub fn look(&mut self, looks: Looks) {
        self.looks = looks;
        self.theme = looks.theme();
    }

    /// Explains why threads have no swatches if nobody asked for that, and names the key that can
    /// change it.
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

    /// The scope of the topmost screen.
    #[must_use]
    pub fn scope(&self) -> Scope {
        let top = self.stack.last();
        top.map_or(Scope::Board, |screen| screen.scope())
    }

    /// Whether a key counts once while it is held: steps of a walk, and undo.
    #[must_use]
    pub fn counts_once(&self, key: Key) -> bool {
        let scope = self.scope();
        match self.keys.action(scope, key) {
            Some(Action::Undo | Action::Redo) => true,
            Some(Action::Accept | Action::Previous) => scope.is_walk(),
            _ => false,
        }
    }

    /// The selected cards in board order, or the card under the cursor if none is selected.
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

    /// Moves the cursor to a hook.
    pub fn look_at(&mut self, state: &State, hook: HookRef) {
        if let Some(at) = state.boards().position(|board| board.id == hook.board) {
            self.eye.board = at;
            (self.eye.row, self.eye.column, self.eye.pick) = (hook.row, hook.column, 0);
        }
    }

    /// Moves the cursor to a card's home, or to the hook it hangs on if it has no home.
    pub fn look_at_card(&mut self, state: &State, card: CardId) {
        let Some(kept) = state.card(card) else { return };
        if let Some(hook) = kept.home.or(kept.place.at.hook()) {
            self.look_at(state, hook);
            let cards = cards_at(state, hook);
            let at = cards.iter().position(|other| other.card.id == card);
            self.eye.pick = at.unwrap_or(0);
        }
    }

    /// Selects or deselects a card.
    pub fn toggle(&mut self, card: CardId) {
        if !self.chosen.remove(&card) {
            self.chosen.insert(card);
        }
    }

    /// Opens a screen on top of the stack.
    pub fn open(&mut self, screen: impl Screen + 'static) {
        self.stack.push(Box::new(screen));
    }

    /// The topmost screen that isn't a window; `None` if that is the board.
    #[must_use]
    pub fn screen(&self) -> Option<&dyn Screen> {
        let mut from_top = self.stack.iter().rev().map(|screen| &**screen);
        from_top.find(|screen| screen.extent() != Extent::Window)
    }

    /// Asks a yes-or-no question.
    pub fn ask(&mut self, text: impl Into<String>, then: Then) {
        self.open(Question::new(text, then));
    }

    /// Shows a notice.
    pub fn say(&mut self, text: impl Into<String>) {
        self.notice = Some(Notice {
            text: text.into(),
            wrong: false,
            undo: false,
        });
    }

    /// Shows an error.
    pub fn complain(&mut self, text: impl ToString) {
        self.notice = Some(Notice {
            text: text.to_string(),
            wrong: true,
            undo: false,
        });
    }
}

/// The cards that belong on a hook, then the cards that hang there but belong elsewhere.
#[must_use]
pub fn cards_at(state: &State, hook: HookRef) -> Vec<&CardState> {
    let strangers = state
        .hanging_on(hook)
        .filter(|kept| kept.home != Some(hook));
    state.homes_on(hook).chain(strangers).collect()
}
