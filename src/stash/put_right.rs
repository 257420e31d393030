//! What the hands have to do after a change was taken back or done again, so that the wall is as the
//! record says.

use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::change::Change;
use crate::stash::event::{Act, Event};
use crate::stash::state::{CardState, State};

/// The cards that an event put somewhere else.
pub fn moved(event: &Event) -> impl Iterator<Item = CardId> {
    event.changes.iter().filter_map(|change| match change {
        Change::Place { card, .. } => Some(*card),
        _ => None,
    })
}

/// What is to be done with a card that is where it was before `act`, or again where that put it:
/// `hang it on G11 again`.
#[must_use]
pub fn again_in_words(state: &State, kept: &CardState, act: &Act) -> String {
    match (act, &kept.place.at) {
        // Nobody carried it anywhere.
        (Act::Missing { .. } | Act::RollCall { .. }, _)
        | (_, Whereabouts::Missing { .. } | Whereabouts::Elsewhere { .. }) => {
            format!("it is {place}", place = state.place_in_words(kept))
        }
        (_, Whereabouts::Hook { hook }) => {
            format!("hang it on {hook} again", hook = state.hook_name(*hook))
        }
        (_, Whereabouts::Ring { .. }) => {
            format!("put it on {ring} again", ring = state.place_in_brief(kept))
        }
        (_, Whereabouts::Unhung) => "put it with the cards to hang again".to_owned(),
        (_, Whereabouts::Hand) => "keep it in the hand".to_owned(),
    }
}
