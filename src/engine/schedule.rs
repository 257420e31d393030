//! Order of work: a plan as single steps for a person with one spare hand.
//!
//! # The problem
//!
//! Hook `h` carries `s(h)` cards before the work and `e(h)` after it, and it may carry
//! `L(h) = max(capacity(h), s(h))` at any time, so `e(h) <= L(h)`. A step takes a card off a hook,
//! out of the cards to hang or out of the hand, and puts it on a hook that carries less than `L`,
//! or in the hand. A card is *set aside* when it is put anywhere but on its wanted hook.
//!
//! Let the hooks be the vertices of a directed multigraph with an edge `u -> v` for each card that
//! goes from hook `u` to hook `v`. A *part* is a connected component of it, ignoring directions,
//! together with the new cards wanted on its hooks, in which at least one card moves or is new. A
//! part is *tight* when `e(h) = s(h) >= capacity(h)` on every hook of it: no hook has a place to
//! spare, before or after.
//!
//! **Theorem.** An order exists that sets aside one card for each tight part and no other, with at
//! most one card in the hand. No order sets aside fewer, however many cards the hand may hold.
//!
//! # Why no order sets aside fewer
//!
//! 1. Every card that hangs in a part is wanted in that part, whether it moves or stays.
//! 2. Before the first card is taken off a hook of a tight part, each hook there carries
//!    `s(h) = L(h)`, so no card can have been hung there.
//! 3. So that first card can't be hung on any hook of its part and, by 1, not on its wanted hook:
//!    it is set aside, in the hand or on a hook elsewhere. Cards of two parts are two cards, so
//!    each tight part costs one.
//!
//! # Why one card for each tight part and one spare hand are enough
//!
//! 4. A step that hangs a card on its wanted hook changes loads in its own part only, so parts can
//!    be worked through one after the other. A free place moves against the cards: when a card goes
//!    from `u` to `v`, a place at `v` is used and one at `u` becomes free. So reverse the edges,
//!    `v -> u`, with a vertex *outside* for the cards to hang as the end of the edges of new cards.
//! 5. Add `e(h) - s(h)` edges from outside to each hook that gains cards, and `s(h) - e(h)` edges
//!    from each hook that loses cards to outside. Arriving cards minus leaving cards are
//!    `e(h) - s(h)`, so now as many edges leave each hook as enter it, and the same holds for
//!    outside. Each connected component has an Euler circuit, which Hierholzer's method finds.
//! 6. Call a trail over reversed edges *ready* if its first hook has a place. Then its steps can be
//!    done in turn: each hangs a card where there is a place and frees the place that the next one
//!    uses. Meanwhile the first hook carries at most one card more than before, and no other hook
//!    carries more. At the end the first hook carries one more and the last hook one less (no hook
//!    one less if the last card was new); after a closed trail each carries as many as before.
//! 7. *Parts where some `e(h) != s(h)`.* Summed over a part, `e - s` is the number of its new cards,
//!    at least 0, so some hook gains, and its added edge joins the whole part to outside. Cut at
//!    outside, the circuit is a row of trails, each beginning on a hook that gains. Such a hook begins
//!    `e(h) - s(h)` of them and none ends there, so before each it carries less than
//!    `e(h) <= L(h)`: every trail is ready. Nothing is set aside.
//! 8. *Parts where `e = s` throughout and some `s(h) < capacity(h)`.* There are no new cards, and the
//!    circuit from `h` is one closed trail, ready at once. Nothing is set aside.
//! 9. *Tight parts.* The circuit is one closed trail. Lift its last card. The hook it leaves is the
//!    first hook of the trail, so the trail without its last step is ready. When that is done, the
//!    last card's wanted hook has a place, and the card is hung out of the hand. One card was set
//!    aside, and the hand is empty again before the next part starts. ∎
//!
//! Every card that changes hooks is hung on its wanted hook at least once, so the order also has
//! the fewest steps: one for each such card and one for each tight part.
//!
//! Steps 7 and 8 leave freedom in the order, which `nearest_first` uses without breaking a limit.
//!
//! The method for Euler circuits: C. Hierholzer, "Ueber die Möglichkeit, einen Linienzug ohne
//! Wiederholung und ohne Unterbrechung zu umfahren", Mathematische Annalen 6, 30-32, 1873 (cited from
//! memory).

use std::collections::BTreeSet;

use super::instance::{EngineError, ListOf, check_length};

/// One step of work: take a card from one place and hang it in another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// The card, by its index in the lists of the plan.
    pub card: usize,
    /// The hook it is taken from; `None` for a new card to hang, or for the card in the hand.
    pub from: Option<usize>,
    /// The hook it is hung on; `None` if it is set aside in the hand.
    pub to: Option<usize>,
}

/// The steps that take cards from hooks `from` to hooks `to`, with as few set aside as possible.
///
/// Card `i` is on `from[i]` (`None` = to hang) and is wanted on `to[i]` (`None` = stays without a
/// home, only for a card that has none now). A card whose hook doesn't change gives no step. Every
/// other gives one or, if set aside, two: one to `None` and a later one from `None`. After every
/// step, no hook `h` carries more than `capacity[h]`, or than it did at the start if that is more,
/// and at most one card is in the hand. `liftable[i]` means that the card really hangs there; such
/// a card is preferred for setting aside.
///
/// Any freedom in the order saves travel: the next step is the nearest one that is ready, starting
/// at the first hook. But a card set aside is hung again before anything else starts.
///
/// O(hooks + cards * log cards).
///
/// # Errors
/// [`EngineError::Length`] for lists of different lengths; [`EngineError::NoSuchHook`] for a hook
/// beyond the last; [`EngineError::NoHome`] for a hung card without a wanted home;
/// [`EngineError::Overfull`] if the wanted homes put too many cards on a hook.
pub fn order_of_work(
    capacity: &[u32],
    from: &[Option<usize>],
    to: &[Option<usize>],
    liftable: &[bool],
) -> Result<Vec<Step>, EngineError> {
    let hooks = capacity.len();
    check(hooks, from, to, liftable)?;
    let start = loads(hooks, from);
    let end = loads(hooks, to);
    for (hook, &places) in capacity.iter().enumerate() {
        let limit = u64::from(places).max(start[hook]);
        if end[hook] > limit {
            return Err(EngineError::Overfull {
                hook,
                limit,
                cards: end[hook],
            });
        }
    }

    // Steps 7, 8 and 9 of the proof, in turn. Used edges are left out of later circuits.
    let mut graph = Graph::new(&start, &end, from, to);
    let mut steps = graph.circuit(graph.outside());
    for (hook, &places) in capacity.iter().enumerate() {
        if start[hook] < u64::from(places) {
            steps.append(&mut graph.circuit(hook));
        }
    }
    let closed = (0..hooks).map(|hook| lift_one(graph.circuit(hook), liftable));
    let closed: Vec<Vec<Step>> = closed.collect();
    let free: Vec<u64> = (0..hooks)
        .map(|hook| u64::from(capacity[hook]).saturating_sub(start[hook]))
        .collect();
    Ok(nearest_first(&free, &steps, &closed))
}

/// Turns a closed row of steps whose first target is full into one that starts by setting a card
/// aside and ends by hanging it.
fn lift_one(mut row: Vec<Step>, liftable: &[bool]) -> Vec<Step> {
    let chosen = row.iter().rposition(|step| liftable[step.card]);
    row.rotate_left(chosen.map_or(0, |index| index + 1));
    if let Some(last) = row.last_mut() {
        let lifted = Step { to: None, ..*last };
        last.from = None;
        row.insert(0, lifted);
    }
    row
}

/// Checks that lists have one length, hooks exist, and every hung card has a home.
fn check(
    hooks: usize,
    from: &[Option<usize>],
    to: &[Option<usize>],
    liftable: &[bool],
) -> Result<(), EngineError> {
    check_length(ListOf::WantedHomes, from.len(), to.len())?;
    check_length(ListOf::Liftable, from.len(), liftable.len())?;
    for (card, (&from, &to)) in from.iter().zip(to).enumerate() {
        if let Some(hook) = [from, to].into_iter().flatten().find(|&hook| hook >= hooks) {
            return Err(EngineError::NoSuchHook { card, hook, hooks });
        }
        if from.is_some() && to.is_none() {
            return Err(EngineError::NoHome { card });
        }
    }
    Ok(())
}

/// Counts the cards on each hook.
fn loads(hooks: usize, cards: &[Option<usize>]) -> Vec<u64> {
    let mut loads = vec![0; hooks];
    for &hook in cards.iter().flatten() {
        loads[hook] += 1;
    }
    loads
}

/// How a free place moves: from the hook a card goes to, to the hook the card leaves.
#[derive(Debug, Clone, Copy)]
struct Edge {
    target: usize,
    /// The hook the card leaves; outside the board for the cards to hang.
    source: usize,
    /// `None` = a trail begins (`target` outside) or ends (`source` outside) here.
    card: Option<usize>,
}

impl Edge {
    fn step(self, outside: usize) -> Option<Step> {
        let from = (self.source != outside).then_some(self.source);
        self.card.map(|card| Step {
            card,
            from,
            to: Some(self.target),
        })
    }
}

/// The reversed edges by the node they leave, with as many out of each node as into it.
struct Graph {
    edges: Vec<Edge>,
    /// The first unused edge of each node, and one past its last edge.
    unused: Vec<(usize, usize)>,
}

impl Graph {
    fn new(start: &[u64], end: &[u64], from: &[Option<usize>], to: &[Option<usize>]) -> Self {
        let outside = start.len();
        let mut edges = Vec::with_capacity(from.len());
        for (card, (&from, &to)) in from.iter().zip(to).enumerate() {
            if let Some(target) = to
                && from != to
            {
                let source = from.unwrap_or(outside);
                edges.push(Edge {
                    target,
                    source,
                    card: Some(card),
                });
            }
        }
        for hook in 0..outside {
            let begin = Edge {
                target: outside,
                source: hook,
                card: None,
            };
            edges.extend((start[hook]..end[hook]).map(|_| begin));
            let stop = Edge {
                target: hook,
                source: outside,
                card: None,
            };
            edges.extend((end[hook]..start[hook]).map(|_| stop));
        }
        // Nearest hook first; trails leave the board last.
        edges.sort_by_key(|edge| {
            let leaves = edge.source == outside && edge.target != outside;
            (edge.target, leaves, edge.target.abs_diff(edge.source))
        });
        let mut unused = vec![(0, 0); outside + 1];
        let mut index = 0;
        for here in edges.chunk_by(|a, b| a.target == b.target) {
            unused[here[0].target] = (index, index + here.len());
            index += here.len();
        }
        Self { edges, unused }
    }

    /// The node for the cards to hang and the ends of trails.
    fn outside(&self) -> usize {
        self.unused.len() - 1
    }

    fn take(&mut self, node: usize) -> Option<Edge> {
        let (next, end) = self.unused[node];
        (next < end).then(|| {
            self.unused[node].0 = next + 1;
            self.edges[next]
        })
    }

    /// The steps of a closed walk from `node` over every unused edge of its connected part, which
    /// it uses up (Hierholzer's method); none if all are used.
    fn circuit(&mut self, node: usize) -> Vec<Step> {
        let mut walk: Vec<Edge> = Vec::new();
        let mut circuit = Vec::new();
        loop {
            let here = walk.last().map_or(node, |edge| edge.source);
            if let Some(edge) = self.take(here) {
                walk.push(edge);
            } else if let Some(edge) = walk.pop() {
                circuit.push(edge);
            } else {
                break;
            }
        }
        circuit.reverse();
        circuit
            .into_iter()
            .filter_map(|edge| edge.step(self.outside()))
            .collect()
    }
}

/// Reorders steps to continue with the nearest one that is ready, keeping every limit that the
/// given order keeps.
///
/// `steps` is an order without cards set aside in which no hook ever takes more than `free[hook]`
/// cards above its number at the start. Here arrival `k` at a hook (from 0) waits for departure
/// `k - free[hook]` from it, and the first `free[hook]` arrivals don't wait:
///
/// - That departure comes earlier in the given order: there, the first `k + 1` arrivals minus the
///   departures so far are at most `free[hook]`. So no wait is circular, and every step is done.
/// - In any order that respects the waits, each arrival has a departure of its own before it, or is
///   one of the first `free[hook]`. So no hook ever takes more than that above its start.
///
/// Each of `blocks` is a row of steps that is done in one go, and at any time: its hooks are in no
/// other block and in none of `steps`. Distance is counted in hooks in reading order, from where
/// the last card was hung to where the next one is taken. For a card to hang, that is where it
/// goes. O(hooks + steps * log steps).
pub(super) fn nearest_first(free: &[u64], steps: &[Step], blocks: &[Vec<Step>]) -> Vec<Step> {
    let mut departures: Vec<Vec<usize>> = vec![Vec::new(); free.len()];
    for (index, step) in steps.iter().enumerate() {
        if let Some(from) = step.from {
            departures[from].push(index);
        }
    }
    // The step that takes the place each departure frees. The first arrivals take the free places,
    // and the next ones take those of the departures in turn.
    let mut waiting: Vec<Option<usize>> = vec![None; steps.len()];
    let mut arrived = vec![0u64; free.len()];
    let mut ready = BTreeSet::new();
    for (index, step) in steps.iter().enumerate() {
        let Some(to) = step.to else { continue };
        match arrived[to].checked_sub(free[to]) {
            Some(turn) => waiting[departures[to][turn as usize]] = Some(index),
            None => {
                ready.insert((place(step), index));
            }
        }
        arrived[to] += 1;
    }
    for (index, block) in blocks.iter().enumerate() {
        ready.extend(block.first().map(|step| (place(step), steps.len() + index)));
    }

    let mut order = Vec::with_capacity(steps.len());
    let mut hand = 0;
    while let Some(next) = nearest(&ready, hand) {
        ready.remove(&next);
        match steps.get(next.1) {
            Some(step) => {
                order.push(*step);
                if let Some(index) = waiting[next.1] {
                    ready.insert((place(&steps[index]), index));
                }
            }
            None => order.extend_from_slice(&blocks[next.1 - steps.len()]),
        }
        hand = order.last().and_then(|step| step.to).unwrap_or(hand);
    }
    order
}

/// Where the hand goes for a step.
fn place(step: &Step) -> usize {
    step.from.or(step.to).unwrap_or(0)
}

/// The entry nearest to `hand`; of two equally near, the later one in reading order.
fn nearest(ready: &BTreeSet<(usize, usize)>, hand: usize) -> Option<(usize, usize)> {
    let after = ready.range((hand, 0)..).next();
    let before = ready.range(..(hand, 0)).next_back();
    let nearest = [after, before].into_iter().flatten();
    nearest
        .min_by_key(|(place, _)| place.abs_diff(hand))
        .copied()
}

#[cfg(test)]
mod tests;
