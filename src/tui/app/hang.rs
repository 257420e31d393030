//! Hanging a card on another hook: by the cursor, or drawn over the board with the mouse.

use super::Viewport;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::command::hang::Wall;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// A card that is to be hung where the cursor is.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Hang {
    /// Which card.
    pub card: CardId,
    /// Where the cursor was before.
    pub back: Viewport,
    /// Whether the mouse drags it.
    pub dragged: bool,
}

impl Hang {
    /// The wall as the card finds it. O(hooks + cards · log cards).
    ///
    /// # Errors
    /// When the card is gone, or cannot be hung.
    pub fn wall<'a>(&self, state: &'a State) -> Result<Wall<'a>, Refusal> {
        Wall::new(state, self.card)
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
