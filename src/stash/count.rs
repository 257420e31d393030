//! How the stash stands, counted.

use super::state::{CardState, State};
use crate::model::board::Board;
use crate::model::whereabouts::Whereabouts;

/// How a card is away from home.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AwayReason {
    /// On a ring.
    OnRing,
    /// In the hand.
    InHand,
    /// On another hook, in a place the program does not keep, or a split card that is to hang.
    Elsewhere,
    /// Declared missing.
    Missing,
    /// To hang, where a re-hang can hang it.
    ToHang,
}

impl AwayReason {
    /// How a card is away; `None` where it hangs on the hook it belongs on.
    #[must_use]
    pub fn of(kept: &CardState) -> Option<Self> {
        Some(match kept.place.at {
            Whereabouts::Hook { hook } if kept.home == Some(hook) => return None,
            Whereabouts::Hook { .. } | Whereabouts::Elsewhere { .. } => Self::Elsewhere,
            Whereabouts::Ring { .. } => Self::OnRing,
            Whereabouts::Hand => Self::InHand,
            Whereabouts::Missing { .. } => Self::Missing,
            Whereabouts::Unhung if kept.card.parent.is_some() => Self::Elsewhere,
            Whereabouts::Unhung => Self::ToHang,
        })
    }
}

/// How many cards are where, each counted once, and how many places are free.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Cards on the hook they belong on.
    pub home: usize,
    /// Cards on rings.
    pub on_rings: usize,
    /// Cards in the hand, in the middle of a re-hang.
    pub in_hand: usize,
    /// Cards on another hook, in a place the program does not keep, or a split card that is to hang: a split
    /// card has no hook to go to and waits to be rejoined.
    pub elsewhere: usize,
    /// Cards declared missing.
    pub missing: usize,
    /// Cards to hang that a re-hang can hang.
    pub to_hang: usize,
    /// Places nobody belongs on.
    pub free: usize,
}

impl Counts {
    /// Counts a stash. O(boards and hooks that differ): the cards are counted as they change, and since
    /// no hook is home to more than it has places for, what is free is all places less all homes.
    #[must_use]
    pub fn of(state: &State) -> Self {
        let index = state.index();
        let places: usize = state.boards().map(Board::capacity_in_all).sum();
        Self {
            home: index.count_at_home(),
            on_rings: index.count_abroad(AwayReason::OnRing),
            in_hand: index.count_abroad(AwayReason::InHand),
            elsewhere: index.count_abroad(AwayReason::Elsewhere),
            missing: index.count_abroad(AwayReason::Missing),
            to_hang: index.count_abroad(AwayReason::ToHang),
            free: places.saturating_sub(index.count_with_home()),
        }
    }

    /// Cards that are neither on their hook, nor missing, nor to hang.
    #[must_use]
    pub const fn away(&self) -> usize {
        self.on_rings + self.in_hand + self.elsewhere
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thread::Strands;
    use crate::stash::command::{ring, thread};
    use crate::stash::testing::{add_cards, apply, at, id, wall};

    #[test]
    fn a_split_card_without_a_place_is_not_to_be_hung() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01", "2"]);
        let one = id(&state, "1");
        let split = thread::split(&state, "Robin", one, Strands(6), None, "", at(1)).unwrap();
        apply(&mut state, &split);
        let robin = state.rings().next().unwrap();
        let split_card = [state.cards_on(robin).next().unwrap().card.id];
        let lost = ring::missing(&state, &split_card, at(2)).unwrap();
        apply(&mut state, &lost);
        let found = ring::found(&state, split_card[0], at(2)).unwrap();
        apply(&mut state, &found);
        let counts = Counts::of(&state);
        assert_eq!((counts.home, counts.to_hang, counts.elsewhere), (1, 1, 1));
        assert_eq!(counts.free, 2);
    }
}
