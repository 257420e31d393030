//! The re-hang problem on plain indices, its solution and its errors.
//!
//! Hooks are numbered in reading order, cards in wanted order, both from 0. Hook `h` offers
//! `capacity[h]` places. Put end to end, the hooks form one line of places; hook `h` owns those
//! from [`Instance::first_place`]`(h)` up to the first place of the next hook. A card of rank `r`
//! on place `p` has `q = p - r` free places before it, so a plan is a non-decreasing row of `q`
//! between 0 and the number of free places. Every solver of this layer works on that line of `q`.

use thiserror::Error;

/// Why the engine refuses a problem.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EngineError {
    /// More cards than open places.
    #[error("short")]
    Short {
        /// Cards to hang.
        cards: usize,
        /// Places on hooks that aren't blocked.
        places: u64,
        /// Cards minus places, at least 1.
        places_short: u64,
    },
    /// A card names a hook that isn't on the board.
    #[error("no_such_hook")]
    NoSuchHook {
        /// Rank of the card.
        card: usize,
        /// The hook it names.
        hook: usize,
        /// Hooks on the board.
        hooks: usize,
    },
    /// A list doesn't have one entry for each card, hook or gap.
    #[error("wrong_length")]
    Length {
        /// The list's contents.
        of: ListOf,
        /// Entries needed.
        expected: usize,
        /// Entries given.
        found: usize,
    },
    /// A number of colours to come that is negative or not a number.
    #[error("bad_gap")]
    BadGap {
        /// Index of the gap: the one before the card of the same rank.
        gap: usize,
    },
    /// The caller stopped the computation.
    #[error("stopped")]
    Stopped,
    /// The wanted homes put more cards on a hook than it may carry.
    #[error("overfull")]
    Overfull {
        /// The hook.
        hook: usize,
        /// The most it may carry: its places, or its load at the start if that is more.
        limit: u64,
        /// Cards it would carry.
        cards: u64,
    },
    /// Two held cards cannot both stay.
    #[error("holds_clash")]
    HoldsClash {
        /// Rank of the one that comes first in the wanted order.
        first: usize,
        /// Its hook.
        first_hook: usize,
        /// Rank of the other.
        second: usize,
        /// Its hook.
        second_hook: usize,
    },
    /// A held card can't stay, wherever the others go.
    #[error("hold_out_of_reach")]
    HoldOutOfReach {
        /// Rank of the card.
        card: usize,
        /// Its hook.
        hook: usize,
    },
    /// A held card doesn't hang.
    #[error("hold_without_hook")]
    HoldWithoutHook {
        /// Rank of the card.
        card: usize,
    },
    /// A hung card has no wanted home.
    #[error("no_home")]
    NoHome {
        /// Rank of the card.
        card: usize,
    },
}

/// A list with one entry for each card, hook or gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ListOf {
    /// The effort of moving each card.
    Efforts,
    /// Whether each card is away.
    Away,
    /// The row and column of each hook.
    PlacesOfHooks,
    /// Whether each card is held.
    Holds,
    /// The hook of each card.
    Hooks,
    /// Colours that may come in each gap.
    Gaps,
    /// Whether a family starts at each card.
    FamilyStarts,
    /// The row of each hook.
    RowsOfHooks,
    /// The wanted home of each card.
    WantedHomes,
    /// Whether each card may be lifted.
    Liftable,
}

/// Checks that a list has the expected length.
pub(super) fn check_length(of: ListOf, expected: usize, found: usize) -> Result<(), EngineError> {
    if found == expected {
        Ok(())
    } else {
        Err(EngineError::Length {
            of,
            expected,
            found,
        })
    }
}

/// A board and its cards: the input of a re-hang.
///
/// Every card names a hook that exists. There may be too few places, which the solvers report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Instance {
    capacity: Vec<u32>,
    cards: Vec<Option<usize>>,
    /// The first place of each hook, then the number of places: `capacity.len() + 1` entries.
    first: Vec<u64>,
    holds: Option<Holds>,
}

/// The limits that held cards put on all cards.
///
/// A row of `q` that gives every held card its hook keeps each `q` within these ends. Conversely, a
/// non-decreasing row of cards within their ends can always be completed so that every held card
/// stays. Between the values before and behind a held card and the ends of its window, some value
/// is left, because no two of these ranges are disjoint.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Holds {
    stay: Vec<bool>,
    /// Lowest `q` of each card, non-decreasing.
    low: Vec<u64>,
    /// Highest `q` of each card, non-decreasing.
    high: Vec<u64>,
}

impl Instance {
    /// A board with `capacity[h]` places on hook `h` (0 = blocked), in reading order, and cards in
    /// wanted order: `Some(h)` = hung on hook `h` now, `None` = new or without a home. At the
    /// start, a hook may carry more cards than it has places. O(hooks + cards).
    ///
    /// # Errors
    /// [`EngineError::NoSuchHook`] if a card names a hook beyond the last.
    pub fn new(capacity: Vec<u32>, cards: Vec<Option<usize>>) -> Result<Self, EngineError> {
        let hooks = capacity.len();
        for (card, hook) in cards.iter().enumerate() {
            if let Some(hook) = *hook
                && hook >= hooks
            {
                return Err(EngineError::NoSuchHook { card, hook, hooks });
            }
        }
        // No plan hangs more than all the cards on one hook, so places beyond that number can't
        // change an answer. Without them, the line of places stays short.
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
            holds: None,
        })
    }

    /// Adds held cards: if `stay[r]`, card `r` keeps its hook in every answer. O(cards).
    ///
    /// # Errors
    /// [`EngineError::Length`] unless there is one entry for each card;
    /// [`EngineError::HoldWithoutHook`] for a card that doesn't hang;
    /// [`EngineError::HoldOutOfReach`] and [`EngineError::HoldsClash`] if held cards can't stay;
    /// [`EngineError::Short`] if there are fewer places than cards.
    pub fn with_holds(mut self, stay: &[bool]) -> Result<Self, EngineError> {
        check_length(ListOf::Holds, self.cards.len(), stay.len())?;
        self.holds = None;
        let free = self.free()?;
        let mut low = vec![0; stay.len()];
        let mut high = vec![free; stay.len()];
        // The held card that sets the lower limit so far, with its hook and its lowest value.
        let mut holds: Option<(usize, usize, u64)> = None;
        for (card, _) in stay.iter().enumerate().filter(|(_, stay)| **stay) {
            let hook = self.cards[card].ok_or(EngineError::HoldWithoutHook { card })?;
            let window = self.window(card, hook, free);
            let (from, to) = window.ok_or(EngineError::HoldOutOfReach { card, hook })?;
            if let Some((first, first_hook, value)) = holds
                && value > to
            {
                return Err(EngineError::HoldsClash {
                    first,
                    first_hook,
                    second: card,
                    second_hook: hook,
                });
            }
            if holds.is_none_or(|(.., value)| value < from) {
                holds = Some((card, hook, from));
            }
            (low[card], high[card]) = (from, to);
        }
        for card in 1..low.len() {
            low[card] = low[card].max(low[card - 1]);
        }
        for card in (1..high.len()).rev() {
            high[card - 1] = high[card - 1].min(high[card]);
        }
        self.holds = Some(Holds {
            stay: stay.to_vec(),
            low,
            high,
        });
        Ok(self)
    }

    /// Whether card `rank` is held where it hangs.
    pub fn is_held(&self, rank: usize) -> bool {
        self.holds.as_ref().is_some_and(|holds| holds.stay[rank])
    }

    /// The lowest and highest `q` that holds allow card `rank`, with `free` free places.
    pub(super) fn ends(&self, rank: usize, free: u64) -> (u64, u64) {
        self.holds
            .as_ref()
            .map_or((0, free), |holds| (holds.low[rank], holds.high[rank]))
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

    /// Length of the line: the sum over hooks of the smaller of capacity and number of cards.
    pub fn places(&self) -> u64 {
        self.first[self.capacity.len()]
    }

    /// Places still free once every card hangs.
    ///
    /// # Errors
    /// [`EngineError::Short`] if there are fewer places than cards.
    pub fn free(&self) -> Result<u64, EngineError> {
        let cards = self.cards.len() as u64;
        let places = self.places();
        places.checked_sub(cards).ok_or(EngineError::Short {
            cards: self.cards.len(),
            places,
            places_short: cards.saturating_sub(places),
        })
    }

    /// The lowest and highest `q` at which card `rank` hangs on `hook`, with `free` free places in
    /// all. `None` if it can't hang there at all. Respects holds.
    pub(super) fn window(&self, rank: usize, hook: usize, free: u64) -> Option<(u64, u64)> {
        let (least, most) = self.ends(rank, free);
        let rank = rank as u64;
        let low = self.first[hook].saturating_sub(rank).max(least);
        // One past the last place of the hook, relative to the card; 0 or less is out of reach.
        let end = self.first[hook + 1].checked_sub(rank)?;
        let high = most.min(end.checked_sub(1)?);
        (low <= high).then_some((low, high))
    }
}

/// New homes for all cards: the result of a re-hang.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Homes {
    /// The new hook of each card, in wanted order: within capacity, and non-decreasing unless
    /// a plan leaves cards out of order (see [`super::pareto::PlanHomes::disorder`]).
    pub hook: Vec<usize>,
    /// Hung cards whose hook changes.
    pub moved: usize,
    /// Sum over moved hung cards of the hooks between old and new, in reading order.
    pub distance: u64,
    /// Whether `distance` is known to be the least for the cards that the plan moves.
    pub least_distance: bool,
}

impl Homes {
    /// The homes of a plan `q`: non-decreasing, one value for each card, none above the number of
    /// free places. O(hooks + cards).
    pub(super) fn from_line(instance: &Instance, q: &[u64], least_distance: bool) -> Self {
        let mut hooks = Vec::with_capacity(q.len());
        let mut hook = 0;
        for (rank, &q) in q.iter().enumerate() {
            let place = q + rank as u64;
            while instance.first[hook + 1] <= place {
                hook += 1;
            }
            hooks.push(hook);
        }
        Self {
            least_distance,
            ..Self::of_hooks(instance, hooks)
        }
    }

    /// The homes `hook`, in any order, with their figures. O(cards).
    pub(super) fn of_hooks(instance: &Instance, hook: Vec<usize>) -> Self {
        let mut homes = Self {
            hook,
            moved: 0,
            distance: 0,
            least_distance: false,
        };
        for (&hook, now) in homes.hook.iter().zip(&instance.cards) {
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

/// Checks that there is an existing hook for each card.
pub(super) fn check_hooks(instance: &Instance, hook: &[usize]) -> Result<(), EngineError> {
    check_length(ListOf::Hooks, instance.cards().len(), hook.len())?;
    let hooks = instance.capacity().len();
    match hook.iter().position(|&hook| hook >= hooks) {
        Some(card) => Err(EngineError::NoSuchHook {
            card,
            hook: hook[card],
            hooks,
        }),
        None => Ok(()),
    }
}

/// Checks that there is a number of 0 or more for each gap of `cards` cards.
pub(super) fn check_gaps(cards: usize, gaps: &[f64]) -> Result<(), EngineError> {
    check_length(ListOf::Gaps, cards + 1, gaps.len())?;
    match gaps
        .iter()
        .position(|share| !(0.0..f64::INFINITY).contains(share))
    {
        Some(gap) => Err(EngineError::BadGap { gap }),
        None => Ok(()),
    }
}

/// The first cards of the families, and the row of each hook.
#[derive(Debug, Clone, Copy)]
pub struct Rows<'a> {
    /// Whether each card, in wanted order, is the first of its family.
    pub family_start: &'a [bool],
    /// The row of each hook, in reading order. Any numbers that differ between rows.
    pub row_of: &'a [u32],
}

/// Checks that there is an entry for each card and each hook.
pub(super) fn check_rows(instance: &Instance, rows: &Rows) -> Result<(), EngineError> {
    let (cards, hooks) = (instance.cards().len(), instance.capacity().len());
    check_length(ListOf::FamilyStarts, cards, rows.family_start.len())?;
    check_length(ListOf::RowsOfHooks, hooks, rows.row_of.len())
}

/// Family breaks: how many cards, hung on `hook`, hang in a different row than the previous card of
/// their family. A family on one row has none; each further row adds one. O(cards).
///
/// # Errors
/// [`EngineError::Length`] and [`EngineError::NoSuchHook`] for lists that don't fit the board.
pub fn family_breaks(
    instance: &Instance,
    rows: &Rows,
    hook: &[usize],
) -> Result<usize, EngineError> {
    check_rows(instance, rows)?;
    check_hooks(instance, hook)?;
    let pairs = hook.windows(2).zip(&rows.family_start[hook.len().min(1)..]);
    let broken = |(pair, start): &(&[usize], &bool)| {
        !**start && rows.row_of[pair[0]] != rows.row_of[pair[1]]
    };
    Ok(pairs.filter(broken).count())
}

#[cfg(test)]
mod row_tests {
    use super::*;

    #[test]
    fn a_family_breaks_where_it_continues_in_another_row() {
        let board = Instance::new(vec![1; 6], vec![None; 5]).unwrap();
        let rows = Rows {
            family_start: &[true, false, true, false, false],
            row_of: &[0, 0, 1, 1, 2, 2],
        };
        let breaks = |hook: &[usize]| family_breaks(&board, &rows, hook).unwrap();
        assert_eq!(breaks(&[0, 1, 2, 3, 4]), 1);
        assert_eq!(breaks(&[0, 1, 3, 4, 5]), 1);
        assert_eq!(breaks(&[0, 2, 3, 4, 5]), 2);
        let none = Instance::new(vec![1], vec![]).unwrap();
        let rows = Rows {
            family_start: &[],
            row_of: &[0],
        };
        assert_eq!(family_breaks(&none, &rows, &[]), Ok(0));
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
    fn the_error_says_how_many_places_are_short() {
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
    }

    fn held(capacity: &[u32], cards: &[usize], holds: &[usize]) -> Result<Instance, EngineError> {
        let cards: Vec<Option<usize>> = cards.iter().copied().map(Some).collect();
        let stay: Vec<bool> = (0..cards.len()).map(|card| holds.contains(&card)).collect();
        Instance::new(capacity.to_vec(), cards)?.with_holds(&stay)
    }

    #[test]
    fn the_error_names_cards_that_cannot_be_held() {
        // In the wrong order, or with too little room between them.
        let clash = EngineError::HoldsClash {
            first: 0,
            first_hook: 2,
            second: 2,
            second_hook: 3,
        };
        assert_eq!(held(&[1; 5], &[2, 0, 3], &[0, 2]), Err(clash));
        assert!(held(&[1; 5], &[1, 0, 3], &[0, 2]).is_ok());
        let reach = EngineError::HoldOutOfReach { card: 1, hook: 0 };
        assert_eq!(held(&[1; 5], &[2, 0, 3], &[1]), Err(reach));
        let blocked = EngineError::HoldOutOfReach { card: 0, hook: 1 };
        assert_eq!(held(&[1, 0, 1], &[1], &[0]), Err(blocked));
        assert!(held(&[2, 2], &[0, 0, 1], &[0, 1, 2]).is_ok());
        let none = Instance::new(vec![1], vec![None]).unwrap();
        let error = none.with_holds(&[true]).unwrap_err();
        assert_eq!(error, EngineError::HoldWithoutHook { card: 0 });
    }

    #[test]
    fn huge_hooks_do_not_lengthen_the_line() {
        let instance = Instance::new(vec![u32::MAX; 3], vec![None, Some(2)]).unwrap();
        assert_eq!(instance.places(), 6);
        assert_eq!(instance.capacity()[0], u32::MAX);
    }
}
