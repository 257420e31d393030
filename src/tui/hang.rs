//! Hanging a card on another hook: by the cursor, or drawn over the board with the mouse.

use super::app::Eye;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::command::hang::{Hanging, Wall};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// A card that is to be hung where the cursor is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Hang {
    /// Which card.
    pub card: CardId,
    /// Where the cursor was before.
    pub back: Eye,
    /// Whether the mouse drags it.
    pub dragged: bool,
}

impl Hang {
    /// What it is like to hang it on a hook. O(hooks + cards · log cards).
    ///
    /// # Errors
    /// Why it cannot be.
    pub fn at<'a>(&self, state: &'a State, hook: HookRef) -> Result<Hanging<'a>, Refusal> {
        Wall::new(state, self.card)?.at(hook)
    }

    /// The free hooks that keep the order, in reading order; see [`Wall::keeping_order`].
    #[must_use]
    pub fn fitting(&self, state: &State) -> Vec<HookRef> {
        let wall = Wall::new(state, self.card);
        wall.map_or_else(|_| Vec::new(), |wall| wall.keeping_order())
    }
}

/// The button of the mouse is down on a hook.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Press {
    /// Which hook.
    pub hook: HookRef,
    /// The card there, if any, and whether pressing the button chose it or let it go.
    pub card: Option<(CardId, bool)>,
}
