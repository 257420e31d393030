//! Between moving nothing and full order: the fewest hung cards to move when some of the new cards
//! may hang out of order.
//!
//! Let `M(k)` be the least effort when at most `k` new cards are left out of the order. A card that
//! is left out takes no place in the row of cards, so the rank of each card behind it drops by one.
//! On the line of places (see [`super::instance`]), `q` counts the places before a card in order
//! that no card in order takes, and these values still don't fall from card to card. So the table
//! has a best effort for each card, each `q` and each number left out so far. A hung card must take
//! a place, and costs its effort if that is on another hook; a new one takes any place or is left
//! out. Taking the longest chain first and leaving out `k` cards afterwards isn't the same, because
//! it ignores the shifted ranks.
//!
//! A card that is left out may hang on any place, so the only condition here is that there are
//! enough places. [`super::move_nothing`] finds a near one.

use super::fewest_moves::check_efforts;
use super::instance::{EngineError, Instance};

/// The largest table (cards, free places, cards left out) that is computed.
const MOST_ENTRIES: usize = 1 << 23;

/// The effort of an unreachable entry.
const NEVER: u64 = u64::MAX;

/// A plan that leaves new cards out of the order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// The least effort for the hung cards that move.
    pub effort: u64,
    /// Whether each card is left out of the order.
    pub out: Vec<bool>,
    /// How many cards are left out.
    pub cards: usize,
}

/// For each number of new cards left out, from none to `most`, the least effort, but only if it is
/// less than for every smaller number. Exact. `effort[r]` is the cost of moving card `r`. Held
/// cards stay.
///
/// The list stops before `most` if the table would be too large, but always has its first entry.
/// O(cards * (free places + most) * most) time, one bit per entry of memory.
///
/// # Errors
/// [`EngineError::Length`] unless there is one effort for each card; [`EngineError::Short`] if
/// there are fewer places than cards.
pub fn fewest_moves_leaving_out(
    instance: &Instance,
    effort: &[u32],
    most: usize,
) -> Result<Vec<LeftOut>, EngineError> {
    check_efforts(instance, effort)?;
    let free = instance.free()? as usize;
    let cards = instance.cards();
    let new = cards.iter().filter(|now| now.is_none()).count();
    let fits = |most: &usize| {
        let entries = (free + most + 1).saturating_mul(most + 1);
        entries.saturating_mul(cards.len().max(1)) <= MOST_ENTRIES
    };
    let most = (0..=most.min(new)).rev().find(fits).unwrap_or(0);
    let table = Table::new(instance, effort, free, most);
    let mut found: Vec<LeftOut> = Vec::new();
    for (out, &least) in table.least.iter().enumerate() {
        if least < NEVER && found.last().is_none_or(|last| least < last.effort) {
            found.push(LeftOut {
                effort: least,
                out: table.left_out(instance, out),
                cards: out,
            });
        }
    }
    Ok(found)
}

/// Back pointers: how the best value of each entry was reached.
struct Table {
    /// How many values `q` can take.
    width: usize,
    /// How many 64-bit words these take.
    words: usize,
    most: usize,
    /// Number of places on the board.
    places: usize,
    /// A row of bits for each card and each number left out. For a hung card: this `q` is better
    /// than every lower one. For a new one: it is left out.
    bits: Vec<u64>,
    /// The least effort for exactly each number left out.
    least: Vec<u64>,
}

/// The hook of each place of the board.
fn hooks_of_places(instance: &Instance) -> Vec<usize> {
    (0..instance.capacity().len())
        .flat_map(|hook| {
            let places = instance.first_place(hook + 1) - instance.first_place(hook);
            std::iter::repeat_n(hook, places as usize)
        })
        .collect()
}

impl Table {
    fn new(instance: &Instance, effort: &[u32], free: usize, most: usize) -> Self {
        let cards = instance.cards();
        let width = free + most + 1;
        let words = width.div_ceil(64);
        let mut table = Self {
            width,
            words,
            most,
            places: instance.places() as usize,
            bits: vec![0; cards.len() * (most + 1) * words],
            least: Vec::new(),
        };
        let hook_of = hooks_of_places(instance);
        // The least effort, by the number left out and an upper limit for the last `q`. It doesn't
        // rise with `q`.
        let mut best = vec![vec![NEVER; width]; most + 1];
        best[0].fill(0);
        for (card, now) in cards.iter().enumerate() {
            for out in (0..=most.min(card + 1)).rev() {
                let row = (card * (most + 1) + out) * words;
                match *now {
                    // No more cards can be left out than come before this one.
                    Some(_) if out > card => {}
                    Some(now) => {
                        let held = instance.is_held(card);
                        let effort = u64::from(effort[card]);
                        let ends = table.ends(card, out);
                        let mut least = NEVER;
                        for q in 0..ends {
                            let known = best[out][q];
                            let here = match hook_of[q + card - out] == now {
                                true => known,
                                false if held => NEVER,
                                false => known.saturating_add(effort),
                            };
                            if here < least {
                                least = here;
                                table.bits[row + q / 64] |= 1 << (q % 64);
                            }
                            best[out][q] = least;
                        }
                        best[out][ends..].fill(least);
                    }
                    None => {
                        let ends = table.ends(card, out);
                        let last = ends.checked_sub(1).map_or(NEVER, |last| best[out][last]);
                        best[out][ends..].fill(last);
                        if out > 0 {
                            table.leave_out(row, out, &mut best);
                        }
                    }
                }
            }
        }
        table.least = best.iter().map(|row| row[width - 1]).collect();
        table
    }

    /// Leaves out a new card wherever that is better than hanging it in order.
    fn leave_out(&mut self, row: usize, out: usize, best: &mut [Vec<u64>]) {
        let (before, here) = best.split_at_mut(out);
        let before = &before[out - 1];
        for (q, (here, &before)) in here[0].iter_mut().zip(before).enumerate() {
            if before < *here {
                *here = before;
                self.bits[row + q / 64] |= 1 << (q % 64);
            }
        }
    }

    /// One past the highest `q` at which a card has a place, with `out` cards before it left out.
    fn ends(&self, card: usize, out: usize) -> usize {
        (self.places + out).saturating_sub(card).min(self.width)
    }

    /// The cards left out by the best plan with `out` cards left out.
    fn left_out(&self, instance: &Instance, mut out: usize) -> Vec<bool> {
        let mut left_out = vec![false; instance.cards().len()];
        let mut q = self.width - 1;
        for (card, now) in instance.cards().iter().enumerate().rev() {
            let row = (card * (self.most + 1) + out) * self.words;
            let bits = &self.bits[row..row + self.words];
            let here = bits[q / 64] >> (q % 64) & 1 == 1;
            if now.is_some() {
                q = (0..=q)
                    .rev()
                    .find(|q| bits[q / 64] >> (q % 64) & 1 == 1)
                    .unwrap_or(0);
            } else if here {
                left_out[card] = true;
                out = out.saturating_sub(1);
            } else {
                q = q.min(self.ends(card, out).saturating_sub(1));
            }
        }
        left_out
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::fewest_moves::fewest_moves_weighted;
    use super::super::move_nothing::{longest_chain, move_nothing};
    use super::super::testing::{boards, some_held};
    use super::*;

    #[test]
    fn leaving_one_card_out_saves_a_row_of_moves() {
        // The new card's gap is at one end, the free hook at the other.
        let cards = vec![Some(0), None, Some(1), Some(2), Some(3)];
        let board = Instance::new(vec![1; 5], cards).unwrap();
        let found = fewest_moves_leaving_out(&board, &[1; 5], 5).unwrap();
        let figures: Vec<(usize, u64)> = found.iter().map(|one| (one.cards, one.effort)).collect();
        assert_eq!(figures, [(0, 3), (1, 0)]);
        assert_eq!(found[1].out, [false, true, false, false, false]);
    }

    #[test]
    fn a_board_without_cards_has_a_plan_and_too_many_cards_are_an_error() {
        let none = Instance::new(vec![], vec![]).unwrap();
        assert_eq!(fewest_moves_leaving_out(&none, &[], 3).unwrap().len(), 1);
        let short = Instance::new(vec![1], vec![None, None]).unwrap();
        assert!(fewest_moves_leaving_out(&short, &[1, 1], 3).is_err());
        assert!(fewest_moves_leaving_out(&none, &[1], 3).is_err());
    }

    /// The least effort by the number of new cards that must be left out of the order, over every
    /// way to hang all cards that keeps the held ones.
    fn every_way(board: &Instance, effort: &[u32]) -> BTreeMap<usize, u64> {
        struct Ways<'a> {
            board: &'a Instance,
            effort: &'a [u32],
            left: Vec<u32>,
            least: BTreeMap<usize, u64>,
        }
        impl Ways<'_> {
            /// `last` is the hook of the last card in order.
            fn hang(&mut self, card: usize, last: usize, out: usize, cost: u64) {
                let Some(now) = self.board.cards().get(card) else {
                    let known = self.least.entry(out).or_insert(cost);
                    *known = cost.min(*known);
                    return;
                };
                for hook in 0..self.left.len() {
                    if self.left[hook] == 0 {
                        continue;
                    }
                    self.left[hook] -= 1;
                    let moved = now.is_some_and(|now| now != hook);
                    if hook >= last && !(moved && self.board.is_held(card)) {
                        let more = if moved { self.effort[card].into() } else { 0 };
                        self.hang(card + 1, hook, out, cost + more);
                    }
                    if now.is_none() {
                        self.hang(card + 1, last, out + 1, cost);
                    }
                    self.left[hook] += 1;
                }
            }
        }
        let mut ways = Ways {
            board,
            effort,
            left: board.capacity().to_vec(),
            least: BTreeMap::new(),
        };
        ways.hang(0, 0, 0, 0);
        ways.least
    }

    /// The board without the cards left out.
    fn rest(board: &Instance, out: &[bool], held: &[bool], effort: &[u32]) -> (Instance, Vec<u32>) {
        let keep = |card: &usize| !out[*card];
        let cards = || (0..out.len()).filter(keep);
        let stay: Vec<bool> = cards().map(|card| held[card]).collect();
        let hung = cards().map(|card| board.cards()[card]).collect();
        let rest = Instance::new(board.capacity().to_vec(), hung).unwrap();
        let effort = cards().map(|card| effort[card]).collect();
        (rest.with_holds(&stay).unwrap(), effort)
    }

    proptest! {
        #[test]
        fn as_good_as_trying_every_way_to_hang_the_cards(
            board in boards(5, 2, 6),
            effort in vec(prop_oneof![2 => Just(1), 1 => 0..4u32, 1 => Just(u32::MAX)], 6),
            holds in vec(any::<u8>(), 6),
            new in vec(any::<bool>(), 6),
        ) {
            let cards = board.cards().iter().zip(&new);
            let cards = cards.map(|(now, new)| now.filter(|_| !new)).collect();
            let board = Instance::new(board.capacity().to_vec(), cards).unwrap();
            let effort = &effort[..board.cards().len()];
            let stay = some_held(&board, &holds);
            let board = match board.clone().with_holds(&stay) {
                Ok(board) => board,
                Err(_) => board,
            };
            let held: Vec<bool> = (0..stay.len()).map(|card| board.is_held(card)).collect();
            let ways = every_way(&board, effort);
            let found = fewest_moves_leaving_out(&board, effort, 6).unwrap();
            for most in 0..=6 {
                let least = ways.range(..=most).map(|(_, least)| *least).min();
                let best = found.iter().take_while(|one| one.cards <= most).last();
                prop_assert_eq!(best.map(|one| one.effort), least);
            }
            for one in &found {
                // The solver for full order agrees once the cards left out are gone.
                let (rest, effort) = rest(&board, &one.out, &held, effort);
                let homes = fewest_moves_weighted(&rest, &effort).unwrap();
                let moved = rest.cards().iter().zip(&homes.hook).zip(&effort);
                let moved = moved.filter(|((now, new), _)| now.is_some_and(|now| now != **new));
                let sum: u64 = moved.map(|(_, &effort)| u64::from(effort)).sum();
                prop_assert_eq!(sum, one.effort);
                prop_assert_eq!(one.out.iter().filter(|out| **out).count(), one.cards);
            }
        }

        #[test]
        fn leaves_out_as_many_as_plan_0_when_hung_cards_are_in_order(board in boards(30, 2, 40)) {
            // Two exact methods, a table and a flow, agree on the fewest cards outside their gap.
            let chain = longest_chain(board.cards());
            let cards = board.cards().iter().zip(&chain);
            let cards = cards.map(|(now, in_chain)| now.filter(|_| *in_chain)).collect();
            let mut load = vec![0; board.capacity().len()];
            for &hook in board.cards().iter().zip(&chain).filter(|(_, c)| **c).filter_map(|(now, _)| now.as_ref()) {
                load[hook] += 1;
            }
            let capacity = board.capacity().iter().zip(&load);
            let capacity = capacity.map(|(&places, &load)| places.max(load)).collect();
            let board = Instance::new(capacity, cards).unwrap();
            let ones = vec![1; board.cards().len()];
            let found = fewest_moves_leaving_out(&board, &ones, ones.len()).unwrap();
            let last = found.last().unwrap();
            let outside = move_nothing(&board).unwrap().disorder.newly_hung;
            prop_assert_eq!((last.effort, last.cards), (0, outside));
        }
    }
}
