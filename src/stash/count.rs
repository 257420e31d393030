//! How the stash stands, counted.

use super::state::State;
use crate::model::whereabouts::Whereabouts;

/// How many cards are where, each counted once, and how many places are free.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Cards on the hook they belong on.
    pub home: usize,
    /// Cards on rings.
    pub on_rings: usize,
    /// Cards in the hand, in the middle of a re-hang.
    pub in_hand: usize,
    /// Cards on another hook, or in a place the program does not keep.
    pub elsewhere: usize,
    /// Cards declared missing.
    pub missing: usize,
    /// Cards in the tray.
    pub in_tray: usize,
    /// Places nobody belongs on.
    pub free: usize,
}

impl Counts {
    /// Counts a stash. O(cards + hooks).
    #[must_use]
    pub fn of(state: &State) -> Self {
        let mut counts = Self::default();
        for kept in state.cards() {
            *match kept.place.at {
                Whereabouts::Hook { hook } if kept.home == Some(hook) => &mut counts.home,
                Whereabouts::Hook { .. } | Whereabouts::Elsewhere { .. } => &mut counts.elsewhere,
                Whereabouts::Ring { .. } => &mut counts.on_rings,
                Whereabouts::Hand => &mut counts.in_hand,
                Whereabouts::Missing { .. } => &mut counts.missing,
                Whereabouts::Unhung => &mut counts.in_tray,
            } += 1;
        }
        counts.free = state.hooks().map(|hook| state.free_places(hook)).sum();
        counts
    }

    /// Cards that are neither on their hook, nor missing, nor in the tray.
    #[must_use]
    pub const fn away(&self) -> usize {
        self.on_rings + self.in_hand + self.elsewhere
    }
}
