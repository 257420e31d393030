//! The first steps: what is done of them, and which is next.

use crate::stash::state::State;
use crate::stash::whereabouts::Counts;

/// A line of the page that can be chosen.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Step {
    /// Import a list of what is owned.
    List,
    /// Write one card by hand.
    Card,
    /// Put up the board.
    Board,
    /// Hang what has no hook yet.
    Hang,
    /// Look at the invented stash.
    Demo,
    /// Go to the board.
    BoardView,
}

impl Step {
    /// Every line, in order.
    pub const ALL: [Self; 6] = [
        Self::List,
        Self::Card,
        Self::Board,
        Self::Hang,
        Self::Demo,
        Self::BoardView,
    ];
}

/// The page of the first steps.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Welcome {
    /// Which line is chosen, by its place in [`Step::ALL`].
    pub at: usize,
}

/// How far the first steps have come.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Progress {
    /// Boards.
    pub boards: usize,
    /// Cards.
    pub cards: usize,
    /// Cards that wait for a hook.
    pub to_hang: usize,
}

impl Progress {
    /// As the stash has it. O(cards).
    #[must_use]
    pub fn of(state: &State) -> Self {
        Self {
            boards: state.boards().len(),
            cards: state.cards().len(),
            to_hang: Counts::of(state).to_hang,
        }
    }

    /// Whether nothing hangs yet, so that the page is what a person needs.
    #[must_use]
    pub const fn is_beginning(self) -> bool {
        self.boards == 0 || self.cards == self.to_hang
    }

    /// Whether a step is behind.
    #[must_use]
    pub const fn has(self, step: Step) -> bool {
        match step {
            Step::Board => self.boards > 0,
            Step::List => self.cards > 0,
            Step::Hang => self.cards > 0 && self.to_hang == 0,
            Step::Card | Step::Demo | Step::BoardView => false,
        }
    }

    /// The step to be done next.
    #[must_use]
    pub fn next(self) -> Step {
        let steps = [Step::List, Step::Board, Step::Hang];
        let open = steps.into_iter().find(|&step| !self.has(step));
        open.unwrap_or(Step::BoardView)
    }
}

impl Welcome {
    /// The page with the next step chosen.
    #[must_use]
    pub fn new(state: &State) -> Self {
        let next = Progress::of(state).next();
        let at = Step::ALL.iter().position(|&step| step == next);
        Self {
            at: at.unwrap_or(0),
        }
    }

    /// The line that is chosen.
    #[must_use]
    pub fn step(self) -> Step {
        Step::ALL.get(self.at).copied().unwrap_or(Step::BoardView)
    }
}
