//! What a re-hang leaves alone.

use super::state::{CardState, State};
use crate::model::card::{Family, MoveCost};
use crate::model::ids::FamilyId;

impl State {
    /// The family of an id.
    #[must_use]
    pub fn family(&self, id: FamilyId) -> Option<&Family> {
        self.families().iter().find(|family| family.id == id)
    }

    /// The family of a card, where it is held.
    #[must_use]
    pub fn family_hold(&self, kept: &CardState) -> Option<&Family> {
        self.family_of(kept)
            .and_then(|id| self.family(id))
            .filter(|family| family.held)
    }

    /// Whether a card has a home that every re-hang leaves it: it is held, or its family is.
    #[must_use]
    pub fn stays(&self, kept: &CardState) -> bool {
        kept.home.is_some()
            && (kept.card.touch == MoveCost::Held || self.family_hold(kept).is_some())
    }
}
