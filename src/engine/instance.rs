//! The re-hang problem on plain indices, its answer and its errors.
//!
//! Hooks are numbered in reading order, cards in wanted order, both from 0. Hook `h` offers
//! `capacity[h]` places. Put end to end the hooks form one line of places; hook `h` owns those from
//! [`Instance::first_place`]`(h)` up to the first place of the next hook. A card of rank `r` on place
//! `p` has `q = p - r` free places before it, so a plan is a non-decreasing row of `q` between 0 and
//! the number of free places. Every solver of this layer works on that line of `q`.

use thiserror::Error;

/// What can be wrong with a question put to the engine.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EngineError {
    /// More cards than open places.
    #[error(
        "{places_short} more places are needed: {cards} cards, {places} open places; open a blocked hook, add places or a board"
    )]
    Short {
        /// Cards to be hung.
        cards: usize,
        /// Places on hooks that are not blocked.
        places: u64,
        /// Cards less places, at least 1.
        places_short: u64,
    },
    /// A card names a hook that the board does not have.
    #[error(
        "card {card} names hook {hook}, but the hooks are numbered from 0 and there are only {hooks} of them; correct the card's hook"
    )]
    NoSuchHook {
        /// Rank of the card.
        card: usize,
        /// The hook it names.
        hook: usize,
        /// Hooks on the board.
        hooks: usize,
    },
    /// A list does not have one entry for each card, hook or gap.
    #[error("the list of {what} has {found} entries, but {expected} are needed; give one for each")]
    Length {
        /// What the list holds.
        what: &'static str,
        /// Entries needed.
        expected: usize,
        /// Entries given.
        found: usize,
    },
    /// A wish for room that is negative or not a number.
    #[error(
        "the room wanted at gap {gap} is not a number from 0 up; give 0 where no room is wanted"
    )]
    BadGap {
        /// Index of the gap: the one before the card of the same rank.
        gap: usize,
    },
    /// The wanted homes put more cards on a hook than it may carry.
    #[error(
        "hook {hook} would carry {cards} cards, but may carry {limit}; choose another home for some of them"
    )]
    Overfull {
        /// The hook.
        hook: usize,
        /// The most it may carry: its places, or its load at the start if that is more.
        limit: u64,
        /// Cards it would carry.
        cards: u64,
    },
    /// A card that hangs has no home in the wanted homes.
    #[error(
        "card {card} hangs on a hook, but is given no home; give it one, or take it off the board first"
    )]
    NoHome {
        /// Rank of the card.
        card: usize,
    },
}

/// As many entries as expected in the list of `what`, or an error.
pub(super) fn check_length(
    what: &'static str,
    expected: usize,
    found: usize,
) -> Result<(), EngineError> {
    if found == expected {
        Ok(())
    } else {
        Err(EngineError::Length {
            what,
            expected,
            found,
        })
    }
}

/// A board and its cards: the question of a re-hang.
///
/// Every card names a hook that exists. There may be too few places: the solvers report that.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Instance {
    capacity: Vec<u32>,
    cards: Vec<Option<usize>>,
    /// First place of each hook, then the number of places: `capacity.len() + 1` entries.
    first: Vec<u64>,
}

impl Instance {
    /// A board with `capacity[h]` places on hook `h` (0 = blocked), in reading order, and cards in
    /// wanted order: `Some(h)` = hung on hook `h` now, `None` = new or without a home. A hook may
    /// carry more cards at the start than it has places. O(hooks + cards).
    ///
    /// # Errors
    /// [`EngineError::NoSuchHook`] where a card names a hook beyond the last.
    pub fn new(capacity: Vec<u32>, cards: Vec<Option<usize>>) -> Result<Self, EngineError> {
        let hooks = capacity.len();
        for (card, hook) in cards.iter().enumerate() {
            if let Some(hook) = *hook
                && hook >= hooks
            {
                return Err(EngineError::NoSuchHook { card, hook, hooks });
            }
        }
        // No plan hangs more than all the cards on one hook, so places beyond that number cannot
        // change an answer; without them the line of places stays short.
        let most = cards.len() as u64;
        let mut first = Vec::with_capacity(hooks + 1);
        let mut place = 0;
        for &places in &capacity {
            first.push(place);
            place += u64::from(places).min(most);
        }
        first.push(place);
        Ok(Self {
            capacity,
            cards,
            first,
        })
    }

    /// Places of each hook, in reading order; 0 = blocked.
    pub fn capacity(&self) -> &[u32] {
        &self.capacity
    }

    /// The hook of each card now, in wanted order; `None` = new or without a home.
    pub fn cards(&self) -> &[Option<usize>] {
        &self.cards
    }

    /// First place of hook `hook` on the line of places; for the number of hooks, the number of
    /// places. A hook counts at most as many places as there are cards.
    ///
    /// # Panics
    /// If `hook` is beyond the number of hooks.
    pub fn first_place(&self, hook: usize) -> u64 {
        self.first[hook]
    }

    /// Places of the line: the sum over hooks of the smaller of capacity and number of cards.
    pub fn places(&self) -> u64 {
        self.first[self.capacity.len()]
    }

    /// Places that stay free once every card hangs.
    ///
    /// # Errors
    /// [`EngineError::Short`] where there are fewer places than cards.
    pub fn free(&self) -> Result<u64, EngineError> {
        let cards = self.cards.len() as u64;
        let places = self.places();
        places.checked_sub(cards).ok_or(EngineError::Short {
            cards: self.cards.len(),
            places,
            places_short: cards.saturating_sub(places),
        })
    }

    /// The values of `q` with which the card of rank `rank` hangs on `hook`, lowest and highest,
    /// given `free` free places in all; `None` where it cannot hang there at all.
    pub(super) fn window(&self, rank: usize, hook: usize, free: u64) -> Option<(u64, u64)> {
        let rank = rank as u64;
        let low = self.first[hook].saturating_sub(rank);
        // One past the last place of the hook, seen from the card; 0 or less = out of reach.
        let end = self.first[hook + 1].checked_sub(rank)?;
        let high = free.min(end.checked_sub(1)?);
        (low <= high).then_some((low, high))
    }
}

/// New homes for all cards: the answer of a re-hang.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Homes {
    /// The new hook of each card, in wanted order: non-decreasing, within capacity.
    pub hook: Vec<usize>,
    /// Hung cards whose hook changes.
    pub moved: usize,
    /// Sum over moved hung cards of the hooks between old and new, in reading order.
    pub distance: u64,
    /// Whether `distance` is known to be the least for what the plan touches.
    pub least_distance: bool,
}

impl Homes {
    /// Reads the homes off a plan `q`: non-decreasing, one value a card, none above the number of
    /// free places. O(hooks + cards).
    pub(super) fn from_line(instance: &Instance, q: &[u64], least_distance: bool) -> Self {
        let mut homes = Self {
            hook: Vec::with_capacity(q.len()),
            moved: 0,
            distance: 0,
            least_distance,
        };
        let mut hook = 0;
        for (rank, (&q, now)) in q.iter().zip(&instance.cards).enumerate() {
            let place = q + rank as u64;
            while instance.first[hook + 1] <= place {
                hook += 1;
            }
            homes.hook.push(hook);
            if let Some(now) = *now
                && now != hook
            {
                homes.moved += 1;
                homes.distance += now.abs_diff(hook) as u64;
            }
        }
        homes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hook_beyond_the_last_is_an_error() {
        assert_eq!(
            Instance::new(vec![1, 1], vec![None, Some(2)]),
            Err(EngineError::NoSuchHook {
                card: 1,
                hook: 2,
                hooks: 2
            })
        );
    }

    #[test]
    fn says_how_many_places_are_short() {
        let instance = Instance::new(vec![1, 0, 1], vec![None; 5]).unwrap();
        let error = instance.free().unwrap_err();
        assert_eq!(
            error,
            EngineError::Short {
                cards: 5,
                places: 2,
                places_short: 3
            }
        );
        assert!(error.to_string().starts_with("3 more places are needed"));
    }

    #[test]
    fn vast_hooks_do_not_lengthen_the_line() {
        let instance = Instance::new(vec![u32::MAX; 3], vec![None, Some(2)]).unwrap();
        assert_eq!(instance.places(), 6);
        assert_eq!(instance.capacity()[0], u32::MAX);
    }
}
