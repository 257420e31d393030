//! Colours that could stand in for one that is missing.

use std::collections::BTreeSet;

use super::share::Supply;
use super::share::at_hand;
use crate::engine::colour::nearest;
use crate::engine::need::Cut;
use crate::model::assumptions::Assumptions;
use crate::model::ids::CardId;
use crate::model::ring::{KeyThread, Ring};
use crate::model::thread::Strands;
use crate::stash::state::State;

/// How many are shown.
pub const SHOWN: usize = 3;

/// A difference above this comes with a warning. About 1 is just seen side by side (common
/// practice, no source); three times that shows at a glance, and the hex values of a range list
/// are seldom better than that themselves.
pub const WARN_ABOVE: f64 = 3.0;

/// An owned colour that could stand in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Substitute {
    /// Which card.
    pub card: CardId,
    /// How far it looks from the colour wanted: CIEDE2000.
    pub difference: f64,
    /// What is on it and beside it uncut that nobody was promised.
    pub free: Strands,
    /// Whether that would do; `None` where the key does not say how much is needed.
    pub enough: Option<bool>,
}

impl Substitute {
    /// Whether the difference is plain to see.
    #[must_use]
    pub fn is_far(&self) -> bool {
        self.difference > WARN_ABOVE
    }
}

/// The nearest owned colours of the same kind of thread, best first, with thread left that nobody was promised. Colours of the
/// same key are left out: two symbols would look alike. `needed_um` is what is to be stitched, in
/// thousandths of a millimetre. O(cards + lines of the key).
pub(super) fn substitutes(
    state: &State,
    shelf: &Supply,
    ring: &Ring,
    thread: &KeyThread,
    assumed: &Assumptions,
    needed_um: Option<u64>,
) -> Vec<Substitute> {
    let Some(wanted) = state.thread_colour(thread) else {
        return Vec::new();
    };
    let kind = state.colour_put_up(thread.stitched()).kind();
    let in_key: BTreeSet<CardId> = ring
        .threads()
        .flat_map(|other| state.cards_of(other.stitched()))
        .map(|kept| kept.card.id)
        .collect();
    let among = state
        .cards()
        .filter(|kept| kept.card.parent.is_none() && at_hand(kept))
        .filter(|kept| state.put_up(&kept.card).kind() == kind)
        .filter(|kept| shelf.free(kept.card.id) > Strands(0) && !in_key.contains(&kept.card.id))
        .filter_map(|kept| Some((kept, kept.card.colour?)));
    let found = nearest(wanted, among, SHOWN).into_iter();
    found
        .map(|(kept, difference)| {
            let free = shelf.free(kept.card.id);
            let gives = Cut::of(assumed, kept.card.cut_cm)
                .map_or(0, |cut| cut.of_a_strand_um() * u64::from(free.0));
            Substitute {
                card: kept.card.id,
                difference,
                free,
                enough: needed_um.map(|needed| gives >= needed),
            }
        })
        .collect()
}
