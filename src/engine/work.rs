//! Order of work: a plan as single steps for a person with one spare hand.
//!
//! The hooks and the cards that change hook are a multigraph. A free place moves against the cards:
//! when a card goes from `u` to `v`, the free place of `v` comes to `u`. So a row of steps whose
//! target always has a place is a trail of a free place over the turned edges. A hook that ends with
//! more cards than it starts with has that many free places to send out, and a hook that keeps its
//! number but is not full has one to lend. Trails that leave such hooks use up every edge of their
//! connected part (Hierholzer's method for Euler trails). Only in a part where every hook is full and
//! keeps its number is there no free place: no first step is possible there, and lifting one card
//! makes all the others possible. So one card set aside for each such part is needed and enough.

use super::instance::EngineError;

/// One step of work: a card taken from one place and hung in another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// The card, by its index in the lists of the plan.
    pub card: usize,
    /// The hook it is taken from; `None` = from the tray of new cards, or from the hand.
    pub from: Option<usize>,
    /// The hook it is hung on; `None` = set aside in the hand.
    pub to: Option<usize>,
}

/// The steps that take cards from hooks `from` to hooks `to`, with as few set aside as possible.
///
/// Card `i` is on `from[i]` (`None` = in the tray) and is wanted on `to[i]` (`None` = stays without
/// a home, only for a card that has none now). A card whose hook does not change gives no step;
/// every other gives one, or, if set aside, one to `None` and a later one from `None`. After every
/// step no hook `h` carries more than `capacity[h]`, or than it did at the start if that is more,
/// and at most one card is in the hand. `liftable[i]` says that the card really hangs there; a card
/// that does is preferred for setting aside.
///
/// What is free in the order serves the hand: rows of steps come in reading order of the hook that
/// each begins with, and along a row the next card comes from near by where there is a choice.
///
/// O(hooks + cards * log cards).
///
/// # Errors
/// [`EngineError::Length`] for lists of unlike lengths; [`EngineError::NoSuchHook`] for a hook beyond
/// the last; [`EngineError::NoHome`] for a hung card without a wanted home;
/// [`EngineError::Overfull`] where the wanted homes put too many cards on a hook.
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

    // Every edge lies on one circuit of its part; where a part gains or loses cards, on the circuit
    // through the node outside of the board, which is cut there into trails.
    let mut graph = Graph::new(&start, &end, from, to);
    let mut rows: Vec<Vec<Step>> = Vec::new();
    let outside = hooks;
    let circuit = graph.circuit(outside);
    for trail in circuit.split_inclusive(|edge| edge.source == outside) {
        rows.push(trail.iter().filter_map(|edge| edge.step(outside)).collect());
    }
    for (hook, &places) in capacity.iter().enumerate() {
        if start[hook] < u64::from(places) && graph.has_edges(hook) {
            rows.push(
                graph
                    .circuit(hook)
                    .iter()
                    .filter_map(|edge| edge.step(outside))
                    .collect(),
            );
        }
    }
    for hook in 0..hooks {
        if graph.has_edges(hook) {
            let circuit = graph.circuit(hook);
            let mut row = circuit
                .iter()
                .filter_map(|edge| edge.step(outside))
                .collect();
            lift_one(&mut row, liftable);
            rows.push(row);
        }
    }
    // Rows of one part may be done in any order: each begins with a free place that no other one
    // uses, and gives back every other place it borrows.
    rows.sort_by_key(|row| row.first().map(|step| step.to.or(step.from)));
    Ok(rows.concat())
}

/// Turns a closed row of steps, whose first target has no place, into one that begins with a card
/// set aside and ends with hanging it.
fn lift_one(row: &mut Vec<Step>, liftable: &[bool]) {
    let chosen = row.iter().rposition(|step| liftable[step.card]);
    let after = chosen.map_or(0, |index| index + 1);
    row.rotate_left(after);
    if let Some(last) = row.last_mut() {
        let lifted = Step { to: None, ..*last };
        last.from = None;
        row.insert(0, lifted);
    }
}

/// Lists of one length, hooks that exist, and a home for every hung card.
fn check(
    hooks: usize,
    from: &[Option<usize>],
    to: &[Option<usize>],
    liftable: &[bool],
) -> Result<(), EngineError> {
    let expected = from.len();
    for (what, found) in [
        ("wanted homes", to.len()),
        ("liftable cards", liftable.len()),
    ] {
        if found != expected {
            return Err(EngineError::Length {
                what,
                expected,
                found,
            });
        }
    }
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

/// Cards on each hook.
fn loads(hooks: usize, cards: &[Option<usize>]) -> Vec<u64> {
    let mut loads = vec![0; hooks];
    for &hook in cards.iter().flatten() {
        loads[hook] += 1;
    }
    loads
}

/// A way for a free place: from the hook a card goes to, to the hook the card leaves.
#[derive(Debug, Clone, Copy)]
struct Edge {
    target: usize,
    /// The hook the card leaves; outside of the board for the tray.
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

/// The turned edges by the node they leave, with as many out of each node as into it.
struct Graph {
    edges: Vec<Edge>,
    /// First edge of each node not yet used, and one past its last edge.
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

    fn has_edges(&self, node: usize) -> bool {
        self.unused[node].0 < self.unused[node].1
    }

    fn take(&mut self, node: usize) -> Option<Edge> {
        let (next, end) = self.unused[node];
        (next < end).then(|| {
            self.unused[node].0 = next + 1;
            self.edges[next]
        })
    }

    /// A closed walk from `node` over every unused edge of its connected part, which it uses up
    /// (Hierholzer's method).
    fn circuit(&mut self, node: usize) -> Vec<Edge> {
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
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{HashSet, VecDeque};

    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::distance::fewest_moves_least_distance;
    use super::super::testing::boards;
    use super::*;

    /// Does the steps one by one, checks every rule and the end, and counts the cards set aside.
    fn simulate(
        capacity: &[u32],
        from: &[Option<usize>],
        to: &[Option<usize>],
        steps: &[Step],
    ) -> usize {
        let mut load = loads(capacity.len(), from);
        let limit: Vec<u64> = load
            .iter()
            .zip(capacity)
            .map(|(&load, &places)| load.max(places.into()))
            .collect();
        let mut place = from.to_vec();
        let mut touched = vec![0; from.len()];
        let (mut hand, mut aside) = (None, 0);
        for step in steps {
            touched[step.card] += 1;
            if hand == Some(step.card) {
                assert_eq!(step.from, None, "a card in the hand is on no hook");
                hand = None;
            } else {
                assert_eq!(step.from, place[step.card], "the card is somewhere else");
                step.from.into_iter().for_each(|hook| load[hook] -= 1);
                if step.to.is_none() {
                    assert!(step.from.is_some(), "a card of the tray is set aside");
                    assert_eq!(hand.replace(step.card), None, "two cards in the hand");
                    aside += 1;
                }
            }
            if let Some(hook) = step.to {
                assert_eq!(
                    step.to, to[step.card],
                    "a card is hung where it is not wanted"
                );
                load[hook] += 1;
                assert!(load[hook] <= limit[hook], "hook {hook} is over its limit");
            }
            place[step.card] = step.to;
        }
        assert_eq!(place, to);
        for (card, times) in touched.into_iter().enumerate() {
            assert!(times <= 2 && (times == 0) == (from[card] == to[card]));
        }
        aside
    }

    /// The fewest cards set aside over all orders of direct steps: breadth first over the sets of
    /// cards done and the card in the hand, an extra round for each card set aside.
    fn fewest_aside(capacity: &[u32], from: &[Option<usize>], to: &[Option<usize>]) -> usize {
        let start = loads(capacity.len(), from);
        let moving: Vec<usize> = (0..from.len())
            .filter(|&card| from[card] != to[card])
            .collect();
        let all = (1u32 << moving.len()) - 1;
        let mut seen = HashSet::new();
        let mut queue = VecDeque::from([(0u32, None, 0)]);
        while let Some((done, hand, aside)) = queue.pop_front() {
            if done == all {
                return aside;
            }
            if !seen.insert((done, hand)) {
                continue;
            }
            let mut load = start.clone();
            for (bit, &card) in moving.iter().enumerate() {
                let up = done >> bit & 1 == 1;
                if let Some(hook) = from[card]
                    && (up || hand == Some(bit))
                {
                    load[hook] -= 1;
                }
                if let Some(hook) = to[card]
                    && up
                {
                    load[hook] += 1;
                }
            }
            for (bit, &card) in moving
                .iter()
                .enumerate()
                .filter(|(bit, _)| done >> bit & 1 == 0)
            {
                let hook = to[card].unwrap();
                if load[hook] < start[hook].max(capacity[hook].into()) {
                    let hand = hand.filter(|&held| held != bit);
                    queue.push_front((done | 1 << bit, hand, aside));
                }
                if hand.is_none() && from[card].is_some() {
                    queue.push_back((done, Some(bit), aside + 1));
                }
            }
        }
        panic!("no order at all");
    }

    /// A board, homes now, and wanted homes within the limits.
    type Plan = (Vec<u32>, Vec<Option<usize>>, Vec<Option<usize>>);

    fn plans(hooks: usize, places: u32, cards: usize) -> impl Strategy<Value = Plan> {
        let hook = prop::option::weighted(0.9, 0..hooks);
        (
            vec(0..=places, hooks),
            vec((hook, any::<usize>()), 0..=cards),
        )
            .prop_map(move |(capacity, cards)| {
                let from: Vec<_> = cards.iter().map(|(from, _)| *from).collect();
                let start = loads(hooks, &from);
                let mut left: Vec<u64> = start
                    .iter()
                    .zip(&capacity)
                    .map(|(&a, &b)| a.max(b.into()))
                    .collect();
                // Cards that hang choose first, so that there is a hook for each.
                let mut to = vec![None; cards.len()];
                let (hung, tray): (Vec<_>, Vec<_>) =
                    (0..cards.len()).partition(|&card| from[card].is_some());
                for card in hung.into_iter().chain(tray) {
                    let mut turn = (0..hooks).map(|step| (cards[card].1 % hooks + step) % hooks);
                    to[card] = turn.find(|&hook| left[hook] > 0);
                    to[card].into_iter().for_each(|hook| left[hook] -= 1);
                }
                (capacity, from, to)
            })
    }

    #[test]
    fn two_full_hooks_swap_with_one_card_in_the_hand() {
        let (from, to) = ([Some(0), Some(1)], [Some(1), Some(0)]);
        let steps = order_of_work(&[1, 1], &from, &to, &[false, true]).unwrap();
        assert_eq!(
            steps,
            [
                Step {
                    card: 1,
                    from: Some(1),
                    to: None
                },
                Step {
                    card: 0,
                    from: Some(0),
                    to: Some(1)
                },
                Step {
                    card: 1,
                    from: None,
                    to: Some(0)
                },
            ]
        );
        let steps = order_of_work(&[2, 1], &from, &to, &[true, true]).unwrap();
        assert_eq!(simulate(&[2, 1], &from, &to, &steps), 0);
    }

    #[test]
    fn a_shift_runs_along_the_board() {
        let from = [None, Some(0), Some(1), Some(2)];
        let to = [Some(0), Some(1), Some(2), Some(3)];
        let steps = order_of_work(&[1; 4], &from, &to, &[true; 4]).unwrap();
        let cards: Vec<usize> = steps.iter().map(|step| step.card).collect();
        assert_eq!(cards, [3, 2, 1, 0]);
    }

    #[test]
    fn says_what_is_wrong_with_the_wanted_homes() {
        let order = |from: &[Option<usize>], to: &[Option<usize>]| {
            order_of_work(&[1, 1], from, to, &[true, true])
        };
        assert_eq!(
            order(&[Some(0), None], &[Some(1), Some(1)]),
            Err(EngineError::Overfull {
                hook: 1,
                limit: 1,
                cards: 2
            })
        );
        assert_eq!(
            order(&[Some(0), None], &[None, None]),
            Err(EngineError::NoHome { card: 0 })
        );
        assert_eq!(
            order(&[Some(0), None], &[Some(0), Some(2)]),
            Err(EngineError::NoSuchHook {
                card: 1,
                hook: 2,
                hooks: 2
            })
        );
        assert!(matches!(
            order(&[None], &[None]),
            Err(EngineError::Length { .. })
        ));
        assert_eq!(order(&[Some(0), None], &[Some(0), None]), Ok(vec![]));
    }

    proptest! {
        #[test]
        fn as_few_set_aside_as_any_order((capacity, from, to) in plans(5, 2, 7)) {
            let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
            let aside = simulate(&capacity, &from, &to, &steps);
            prop_assert_eq!(aside, fewest_aside(&capacity, &from, &to));
        }

        #[test]
        fn as_few_set_aside_as_any_order_on_full_hooks((_, from, to) in plans(6, 0, 7)) {
            // Without spare places every hook is full at its load, the case of closed trails.
            let capacity = [0; 6];
            let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
            let aside = simulate(&capacity, &from, &to, &steps);
            prop_assert_eq!(aside, fewest_aside(&capacity, &from, &to));
        }

        #[test]
        fn sound_on_larger_boards((capacity, from, to) in plans(40, 3, 90)) {
            let steps = order_of_work(&capacity, &from, &to, &vec![true; from.len()]).unwrap();
            simulate(&capacity, &from, &to, &steps);
        }

        #[test]
        fn carries_out_a_re_hang(board in boards(30, 3, 50), keep in vec(any::<bool>(), 50)) {
            let homes = fewest_moves_least_distance(&board).unwrap();
            let to: Vec<_> = homes.hook.iter().map(|&hook| Some(hook)).collect();
            let liftable = &keep[..to.len()];
            let steps = order_of_work(board.capacity(), board.cards(), &to, liftable).unwrap();
            let aside = simulate(board.capacity(), board.cards(), &to, &steps);
            // A card that is not there is only lifted where no other card of its row is.
            for (index, step) in steps.iter().enumerate().filter(|(_, step)| step.to.is_none()) {
                let row = steps[index + 1..].iter().take_while(|later| later.card != step.card);
                prop_assert!(liftable[step.card] || row.clone().all(|step| !liftable[step.card]));
            }
            prop_assert!(aside <= homes.moved / 2);
        }
    }
}
