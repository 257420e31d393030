//! Plan 0: hung cards stay, and the cards to hang go to hooks with free places.
//!
//! The reference is the longest chain: the most hung cards whose hooks don't fall in the wanted
//! order. A card to hang belongs in the gap between the hooks of the chain's cards before and
//! behind it. As few cards as possible hang outside their gap, and of all ways to do that, the one
//! with the least sum of hooks off is taken. Hung cards outside the chain are counted, and their
//! places are taken.
//!
//! So groups of cards look for free hooks, and each group wants a stretch of the board: a min-cost
//! assignment. A card on a hook of its stretch costs nothing. Elsewhere it costs first one card
//! outside, then the hooks between it and the nearer end of the stretch. The cards of a group are
//! interchangeable, so this is a transportation problem, and on a line of hooks it is a small flow
//! network. Each group has edges to the hooks of its stretch and, for the price of one card
//! outside, to two lanes, one up the board and one down, one hook per step. Lanes lead to hooks,
//! and hooks accept as many cards as they have free places.
//!
//! The method is successive shortest paths with potentials (Ahuja, Magnanti and Orlin, *Network
//! Flows*, chapter 9). First the cards that fit into their stretch are hung at no cost; then the
//! others one by one, each by the shortest path in the residual network, found by Dijkstra's
//! method.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, VecDeque};

use super::instance::{EngineError, Instance};

/// How far homes are out of the wanted order; all 0 for homes in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Disorder {
    /// Cards newly hung outside their gap.
    pub newly_hung: usize,
    /// The most hooks between one of them and its gap, in reading order.
    pub farthest: usize,
    /// The sum of these distances in hooks.
    pub hooks_off: usize,
    /// Cards that hang outside the longest chain and stay there.
    pub left: usize,
}

impl Disorder {
    /// The number of cards out of order.
    #[must_use]
    pub const fn cards(&self) -> usize {
        self.newly_hung + self.left
    }
}

/// Homes that may be out of order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LooseHomes {
    /// The hook of each card, in wanted order.
    pub hook: Vec<usize>,
    /// Whether each card is out of order. The hooks of the others don't fall.
    pub astray: Vec<bool>,
    /// The figures of the disorder.
    pub disorder: Disorder,
}

/// Whether each card is in the longest chain of hung cards whose hooks don't fall. A card without a
/// hook isn't. Of several longest chains, it is one that ends on the lowest hook.
///
/// The patience method for the longest non-decreasing subsequence. O(cards * log cards).
#[must_use]
pub fn longest_chain(cards: &[Option<usize>]) -> Vec<bool> {
    // The last card of the best chain of each length, and each card's predecessor.
    let mut ends: Vec<(usize, usize)> = Vec::new();
    let mut before = vec![None; cards.len()];
    for (card, hook) in cards.iter().enumerate() {
        let Some(hook) = *hook else { continue };
        let length = ends.partition_point(|&(end, _)| end <= hook);
        before[card] = length.checked_sub(1).map(|length| ends[length].1);
        ends.truncate(ends.len().max(length));
        match ends.get_mut(length) {
            Some(end) => *end = (hook, card),
            None => ends.push((hook, card)),
        }
    }
    let mut chain = vec![false; cards.len()];
    let mut last = ends.last().map(|&(_, card)| card);
    while let Some(card) = last {
        chain[card] = true;
        last = before[card];
    }
    chain
}

/// Homes that move no hung card. Exact: the fewest new cards outside their gap, then the fewest
/// hooks off, in reading order.
///
/// Within its gap, a card hangs where it leaves the free hooks evenly spread. Complexity as for the
/// assignment: O(hooks + cards * log cards), and O(hooks * log hooks) for each card outside its
/// gap.
///
/// # Errors
/// [`EngineError::Short`] if there are fewer free places than cards to hang.
pub fn move_nothing(instance: &Instance) -> Result<LooseHomes, EngineError> {
    hang_the_rest(instance, instance.cards(), &longest_chain(instance.cards()))
}

/// Homes for the cards without one in `homes`, based on those in order there.
///
/// # Errors
/// As [`move_nothing`].
pub(super) fn hang_the_rest(
    instance: &Instance,
    homes: &[Option<usize>],
    in_order: &[bool],
) -> Result<LooseHomes, EngineError> {
    let mut free: Vec<u64> = instance.capacity().iter().map(|&p| p.into()).collect();
    for &hook in homes.iter().flatten() {
        free[hook] = free[hook].saturating_sub(1);
    }
    let (groups, cards_of) = groups(instance.capacity().len(), homes, in_order);
    let short = || {
        let (places, cards) = (free.iter().sum(), cards_of.iter().map(Vec::len).sum());
        EngineError::Short {
            cards,
            places,
            places_short: (cards as u64).saturating_sub(places),
        }
    };
    let mut hooks_of = assign(&free, &groups).ok_or_else(short)?;
    spread(&mut free, &groups, &mut hooks_of);

    let mut astray: Vec<bool> = homes
        .iter()
        .zip(in_order)
        .map(|(home, in_order)| home.is_some() && !in_order)
        .collect();
    let mut disorder = Disorder {
        left: astray.iter().filter(|astray| **astray).count(),
        ..Disorder::default()
    };
    let mut hook: Vec<usize> = homes.iter().map(|home| home.unwrap_or(0)).collect();
    for ((group, cards), hooks) in groups.iter().zip(cards_of).zip(hooks_of) {
        for (card, here) in cards.into_iter().zip(hooks) {
            hook[card] = here;
            let far = group.hooks_off(here);
            astray[card] = far > 0;
            disorder.newly_hung += usize::from(far > 0);
            disorder.farthest = disorder.farthest.max(far);
            disorder.hooks_off += far;
        }
    }
    Ok(LooseHomes {
        hook,
        astray,
        disorder,
    })
}

/// Groups the cards without a home by their gap, and lists the cards of each group.
fn groups(
    hooks: usize,
    homes: &[Option<usize>],
    in_order: &[bool],
) -> (Vec<Group>, Vec<Vec<usize>>) {
    let mut groups: Vec<Group> = Vec::new();
    let mut cards_of: Vec<Vec<usize>> = Vec::new();
    let mut low = 0;
    // Whether the next card to hang starts a new group.
    let mut new = true;
    // The groups up to here know where their stretch ends.
    let mut known = 0;
    for (card, home) in homes.iter().enumerate() {
        match home {
            Some(hook) if in_order[card] => {
                for group in &mut groups[known..] {
                    group.high = *hook;
                }
                known = groups.len();
                (low, new) = (*hook, true);
            }
            Some(_) => {}
            None => {
                if new {
                    groups.push(Group {
                        low,
                        high: hooks.saturating_sub(1),
                        cards: 0,
                    });
                    cards_of.push(Vec::new());
                    new = false;
                }
                if let (Some(group), Some(cards)) = (groups.last_mut(), cards_of.last_mut()) {
                    group.cards += 1;
                    cards.push(card);
                }
            }
        }
    }
    (groups, cards_of)
}

/// Spreads the cards within their gap over its places that no other card takes. The number of cards
/// outside, and their distance, stay the same. `free` is updated to the places still free.
/// O(hooks + overlaps of gaps + cards).
fn spread(free: &mut [u64], groups: &[Group], hooks_of: &mut [Vec<usize>]) {
    for &hook in hooks_of.iter().flatten() {
        free[hook] = free[hook].saturating_sub(1);
    }
    for (group, hooks) in groups.iter().zip(hooks_of) {
        let within = |hook: &usize| (group.low..=group.high).contains(hook);
        let first = hooks.iter().take_while(|hook| !within(hook)).count();
        let cards = hooks.iter().filter(|hook| within(hook)).count();
        let inside = &mut hooks[first..first + cards];
        for hook in inside.iter() {
            free[*hook] += 1;
        }
        let open: u64 = free
            .get(group.low..=group.high)
            .map_or(0, |free| free.iter().sum());
        // The cards' places among the open ones: the middles of parts of equal size.
        let place = |card: usize| (2 * card as u64 + 1) * open / (2 * cards as u64);
        let (mut hook, mut passed) = (group.low, 0);
        let mut taken = Vec::with_capacity(cards);
        for card in 0..cards {
            while passed + free[hook] <= place(card) {
                passed += free[hook];
                hook += 1;
            }
            taken.push(hook);
        }
        for (place, hook) in inside.iter_mut().zip(taken) {
            *place = hook;
            free[hook] = free[hook].saturating_sub(1);
        }
    }
}

/// Cards that want hooks from `low` to `high`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Group {
    pub(super) low: usize,
    pub(super) high: usize,
    pub(super) cards: usize,
}

impl Group {
    /// Hooks between `hook` and the stretch; 0 within.
    pub(super) const fn hooks_off(&self, hook: usize) -> usize {
        self.low.saturating_sub(hook) + hook.saturating_sub(self.high)
    }
}

/// A card outside costs more than all hooks that all cards can be off: 2^40 is far beyond any
/// board.
const OUTSIDE: i64 = 1 << 40;

/// The hooks of the cards of each group, in reading order: as few cards as possible outside their
/// stretch, then the least sum of hooks off. Exact. `None` if there are fewer free places than
/// cards.
///
/// `free[h]` is the number of free places on hook `h`. The stretches are on the board, and neither
/// their low nor their high ends fall from group to group.
///
/// O(hooks + overlaps of stretches) for the cards within, and O(hooks * log hooks) for each card
/// outside, less if a free hook is near.
pub(super) fn assign(free: &[u64], groups: &[Group]) -> Option<Vec<Vec<usize>>> {
    let cards: usize = groups.iter().map(|group| group.cards).sum();
    if free.iter().sum::<u64>() < cards as u64 {
        return None;
    }
    let mut network = Network::new(free, groups);
    let outside = network.hang_within(free, groups);
    for (group, cards) in outside.into_iter().enumerate() {
        for _ in 0..cards {
            network.hang_one(group)?;
        }
    }
    Some(network.hooks_of(groups))
}

#[derive(Debug, Clone, Copy)]
struct Edge {
    to: usize,
    /// Residual capacity.
    left: u64,
    cost: i64,
}

/// Nodes are the groups, then for each hook the hook itself, its lane up and its lane down.
struct Network {
    groups: usize,
    hooks: usize,
    /// An edge is next to its reverse: the reverse of `e` is `e ^ 1`.
    edges: Vec<Edge>,
    from: Vec<Vec<usize>>,
    /// Free places left on each hook.
    spare: Vec<u64>,
    potential: Vec<i64>,
    /// From the last search: the cost of reaching each node, and the edge that leads there.
    reached: Vec<Option<(i64, usize)>>,
}

impl Network {
    fn new(free: &[u64], groups: &[Group]) -> Self {
        let (count, hooks) = (groups.len(), free.len());
        let nodes = count + 3 * hooks;
        let mut network = Self {
            groups: count,
            hooks,
            edges: Vec::new(),
            from: vec![Vec::new(); nodes],
            spare: free.to_vec(),
            potential: vec![0; nodes],
            reached: vec![None; nodes],
        };
        for (at, group) in groups.iter().enumerate() {
            for hook in (group.low..=group.high).filter(|&hook| free[hook] > 0) {
                network.edge(at, network.hook(hook), 0);
            }
            if group.high + 1 < hooks {
                network.edge(at, network.up(group.high + 1), OUTSIDE + 1);
            }
            if group.low > 0 {
                network.edge(at, network.down(group.low - 1), OUTSIDE + 1);
            }
        }
        for (hook, &free) in free.iter().enumerate() {
            if hook + 1 < hooks {
                network.edge(network.up(hook), network.up(hook + 1), 1);
                network.edge(network.down(hook + 1), network.down(hook), 1);
            }
            if free > 0 {
                network.edge(network.up(hook), network.hook(hook), 0);
                network.edge(network.down(hook), network.hook(hook), 0);
            }
        }
        network
    }

    const fn hook(&self, hook: usize) -> usize {
        self.groups + hook
    }

    const fn up(&self, hook: usize) -> usize {
        self.groups + self.hooks + hook
    }

    const fn down(&self, hook: usize) -> usize {
        self.groups + 2 * self.hooks + hook
    }

    /// The hook that a node stands for, if any.
    fn as_hook(&self, node: usize) -> Option<usize> {
        node.checked_sub(self.groups)
            .filter(|&hook| hook < self.hooks)
    }

    fn edge(&mut self, from: usize, to: usize, cost: i64) {
        self.from[from].push(self.edges.len());
        self.edges.push(Edge {
            to,
            left: u64::MAX / 2,
            cost,
        });
        self.from[to].push(self.edges.len());
        self.edges.push(Edge {
            to: from,
            left: 0,
            cost: -cost,
        });
    }

    fn flow(&mut self, edge: usize, cards: u64) {
        self.edges[edge].left -= cards;
        self.edges[edge ^ 1].left += cards;
    }

    /// The flow over a forward edge.
    fn flows(&self, edge: usize) -> u64 {
        self.edges[edge ^ 1].left
    }

    /// Hangs as many cards within their stretches as possible, each group on the first hooks that
    /// earlier groups left. For stretches in order, that is the most. Returns the cards left of
    /// each group.
    fn hang_within(&mut self, free: &[u64], groups: &[Group]) -> Vec<usize> {
        let mut left = Vec::with_capacity(groups.len());
        for (at, group) in groups.iter().enumerate() {
            let mut cards = group.cards as u64;
            let within = (group.low..=group.high).filter(|&hook| free[hook] > 0);
            // The first edges of a group lead to these hooks.
            for (hook, place) in within.zip(0..) {
                let here = cards.min(self.spare[hook]);
                if here > 0 {
                    self.flow(self.from[at][place], here);
                    self.spare[hook] -= here;
                    cards -= here;
                }
            }
            left.push(cards as usize);
        }
        left
    }

    /// Hangs one more card of a group by the shortest path to a hook with a free place; `None` if
    /// there is none.
    fn hang_one(&mut self, group: usize) -> Option<()> {
        let mut queue = BinaryHeap::new();
        let mut done: Vec<(usize, i64)> = Vec::new();
        self.reached[group] = Some((0, usize::MAX));
        let mut met = vec![group];
        queue.push(Reverse((0, group)));
        let mut end = None;
        while let Some(Reverse((cost, node))) = queue.pop() {
            if self.reached[node].is_none_or(|(least, _)| least < cost) {
                continue;
            }
            if let Some(hook) = self.as_hook(node)
                && self.spare[hook] > 0
            {
                end = Some((node, hook, cost));
                break;
            }
            done.push((node, cost));
            for &at in &self.from[node] {
                let edge = self.edges[at];
                if edge.left == 0 {
                    continue;
                }
                let cost = cost + edge.cost + self.potential[node] - self.potential[edge.to];
                let known = &mut self.reached[edge.to];
                if known.is_none_or(|(least, _)| cost < least) {
                    if known.is_none() {
                        met.push(edge.to);
                    }
                    *known = Some((cost, at));
                    queue.push(Reverse((cost, edge.to)));
                }
            }
        }
        let found = end.map(|(mut node, hook, far)| {
            // With these potentials, no residual edge has a negative cost.
            for &(node, cost) in &done {
                self.potential[node] += cost - far;
            }
            self.spare[hook] -= 1;
            while let Some((_, edge)) = self.reached[node].filter(|_| node != group) {
                node = self.edges[edge ^ 1].to;
                self.flow(edge, 1);
            }
        });
        for node in met {
            self.reached[node] = None;
        }
        found
    }

    /// The hooks of each group's cards. On a lane, the first cards on are the first off, which
    /// keeps them in order.
    fn hooks_of(&self, groups: &[Group]) -> Vec<Vec<usize>> {
        let mut hooks_of = vec![Vec::new(); groups.len()];
        // The groups whose cards enter the lanes at each hook.
        let mut onto_up = vec![Vec::new(); self.hooks];
        let mut onto_down = vec![Vec::new(); self.hooks];
        for (group, hooks) in hooks_of.iter_mut().enumerate() {
            for &edge in self.from[group].iter().filter(|&&edge| edge % 2 == 0) {
                let (to, cards) = (self.edges[edge].to, self.flows(edge) as usize);
                if let Some(hook) = self.as_hook(to) {
                    hooks.resize(hooks.len() + cards, hook);
                } else if to >= self.down(0) {
                    let onto = &mut onto_down[to - self.down(0)];
                    onto.resize(onto.len() + cards, group);
                } else {
                    let onto = &mut onto_up[to - self.up(0)];
                    onto.resize(onto.len() + cards, group);
                }
            }
        }
        let mut lane: VecDeque<usize> = VecDeque::new();
        for (hook, onto) in onto_up.into_iter().enumerate() {
            lane.extend(onto);
            for group in lane.drain(..self.off(self.up(hook), hook).min(lane.len())) {
                hooks_of[group].push(hook);
            }
        }
        lane.clear();
        for (hook, onto) in onto_down.into_iter().enumerate().rev() {
            lane.extend(onto);
            for group in lane.drain(..self.off(self.down(hook), hook).min(lane.len())) {
                hooks_of[group].push(hook);
            }
        }
        for hooks in &mut hooks_of {
            hooks.sort_unstable();
        }
        hooks_of
    }

    /// How many cards leave a lane at its hook.
    fn off(&self, lane: usize, hook: usize) -> usize {
        let to = self.hook(hook);
        let mut edges = self.from[lane].iter();
        let edge = edges.find(|&&edge| edge % 2 == 0 && self.edges[edge].to == to);
        edge.map_or(0, |&edge| self.flows(edge) as usize)
    }
}

#[cfg(test)]
mod tests {
    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::super::testing::boards;
    use super::*;

    fn disorder(newly_hung: usize, farthest: usize, hooks_off: usize, left: usize) -> Disorder {
        Disorder {
            newly_hung,
            farthest,
            hooks_off,
            left,
        }
    }

    #[test]
    fn a_card_without_room_in_its_gap_goes_to_the_nearest_free_hook() {
        let board = Instance::new(vec![1; 5], vec![Some(1), None, Some(2), Some(3)]).unwrap();
        let loose = move_nothing(&board).unwrap();
        assert_eq!(loose.hook, [1, 0, 2, 3]);
        assert_eq!(loose.disorder, disorder(1, 1, 1, 0));
        assert_eq!(loose.astray, [false, true, false, false]);
    }

    #[test]
    fn a_misfiled_card_is_counted_and_blocks_its_place() {
        // The second card hangs behind all others, but the new one still fits before it.
        let board = Instance::new(vec![1; 4], vec![Some(0), Some(3), None, Some(1)]).unwrap();
        let loose = move_nothing(&board).unwrap();
        assert_eq!(loose.disorder, disorder(1, 1, 1, 1));
        assert_eq!(loose.hook, [0, 3, 2, 1]);
    }

    #[test]
    fn cards_with_room_are_spread_over_it() {
        let board = Instance::new(vec![1; 9], vec![None; 3]).unwrap();
        let loose = move_nothing(&board).unwrap();
        assert_eq!(
            (loose.hook, loose.disorder),
            (vec![1, 4, 7], Disorder::default())
        );
        let none = Instance::new(vec![], vec![]).unwrap();
        assert!(move_nothing(&none).unwrap().hook.is_empty());
    }

    #[test]
    fn too_few_free_places_are_an_error() {
        let board = Instance::new(vec![1, 0], vec![Some(0), None]).unwrap();
        assert!(matches!(
            move_nothing(&board),
            Err(EngineError::Short {
                places_short: 1,
                ..
            })
        ));
    }

    /// The length of the longest chain, by trying all.
    fn longest(cards: &[Option<usize>]) -> usize {
        let hung: Vec<usize> = cards.iter().flatten().copied().collect();
        let chains = (0u32..1 << hung.len()).filter(|chosen| {
            let chain = (0..hung.len()).filter(|at| chosen >> at & 1 == 1);
            chain.map(|at| hung[at]).is_sorted()
        });
        chains
            .map(|chosen| chosen.count_ones() as usize)
            .max()
            .unwrap_or(0)
    }

    /// The fewest cards outside, then hooks off, over every way to hang the cards.
    fn least(stretches: &[Group], left: &mut [u64]) -> Option<(usize, usize)> {
        let Some((first, rest)) = stretches.split_first() else {
            return Some((0, 0));
        };
        let mut best: Option<(usize, usize)> = None;
        for hook in 0..left.len() {
            if left[hook] > 0 {
                left[hook] -= 1;
                if let Some((outside, sum)) = least(rest, left) {
                    let far = first
                        .low
                        .saturating_sub(hook)
                        .max(hook.saturating_sub(first.high));
                    let cost = (outside + usize::from(far > 0), sum + far);
                    best = Some(best.map_or(cost, |best| best.min(cost)));
                }
                left[hook] += 1;
            }
        }
        best
    }

    proptest! {
        #[test]
        fn as_good_as_trying_every_way_to_hang(board in boards(6, 2, 7), more in 0..3usize) {
            // Adds cards to hang at any position in the order.
            let mut cards = board.cards().to_vec();
            for at in 0..more {
                cards.insert((at * 3) % (cards.len() + 1), None);
            }
            let board = Instance::new(board.capacity().to_vec(), cards).unwrap();
            let chain = longest_chain(board.cards());
            let in_chain = || (0..chain.len()).filter(|&card| chain[card]);
            prop_assert!(in_chain().map(|card| board.cards()[card].unwrap()).is_sorted());
            prop_assert_eq!(in_chain().count(), longest(board.cards()));

            let mut left: Vec<u64> = board.capacity().iter().map(|&places| places.into()).collect();
            for &hook in board.cards().iter().flatten() {
                left[hook] = left[hook].saturating_sub(1);
            }
            let stretches: Vec<Group> = (0..chain.len())
                .filter(|&card| board.cards()[card].is_none())
                .map(|card| Group {
                    low: in_chain().take_while(|&at| at < card).last()
                        .and_then(|at| board.cards()[at]).unwrap_or(0),
                    high: in_chain().find(|&at| at > card)
                        .and_then(|at| board.cards()[at]).unwrap_or(left.len() - 1),
                    cards: 1,
                })
                .collect();
            let best = least(&stretches, &mut left.clone());
            let found = move_nothing(&board).ok();
            let figures = found.as_ref().map(|loose| {
                (loose.disorder.newly_hung, loose.disorder.hooks_off)
            });
            prop_assert_eq!(figures, best);
            let Some(loose) = found else { return Ok(()) };
            for (card, now) in board.cards().iter().enumerate() {
                match *now {
                    Some(now) => prop_assert_eq!(loose.hook[card], now),
                    None => {
                        prop_assert!(left[loose.hook[card]] > 0);
                        left[loose.hook[card]] -= 1;
                    }
                }
            }
            let rest = loose.hook.iter().zip(&loose.astray).filter(|(_, astray)| !**astray);
            prop_assert!(rest.map(|(hook, _)| hook).is_sorted());
            let astray = loose.astray.iter().filter(|astray| **astray).count();
            prop_assert_eq!(astray, loose.disorder.cards());
        }
    }

    /// Cards outside, then hooks off.
    fn cost(groups: &[Group], hooks: &[Vec<usize>]) -> (usize, usize) {
        let mut cost = (0, 0);
        for (group, hooks) in groups.iter().zip(hooks) {
            for far in hooks.iter().map(|&hook| group.hooks_off(hook)) {
                cost.0 += usize::from(far > 0);
                cost.1 += far;
            }
        }
        cost
    }

    fn ordered(hooks: usize, ends: &[(usize, usize, usize)]) -> Vec<Group> {
        let mut lows: Vec<usize> = ends.iter().map(|end| end.0 % hooks).collect();
        let mut highs: Vec<usize> = ends.iter().map(|end| end.1 % hooks).collect();
        lows.sort_unstable();
        highs.sort_unstable();
        let ends = lows.into_iter().zip(highs).zip(ends);
        ends.map(|((low, high), end)| Group {
            low,
            high: high.max(low),
            cards: end.2,
        })
        .collect()
    }

    fn assert_sound(free: &[u64], groups: &[Group], hooks: &[Vec<usize>]) {
        let mut left = free.to_vec();
        for (group, hooks) in groups.iter().zip(hooks) {
            assert_eq!(hooks.len(), group.cards);
            assert!(hooks.is_sorted());
            for &hook in hooks {
                assert!(left[hook] > 0, "hook {hook} is over capacity");
                left[hook] -= 1;
            }
        }
    }

    #[test]
    fn one_card_far_off_beats_two_slightly_off() {
        // The third card could push the other two out by one hook each, or go three hooks off itself.
        let groups =
            [(2, 2, 1), (3, 3, 1), (2, 3, 1)].map(|(low, high, cards)| Group { low, high, cards });
        let ordered = [groups[0], groups[2], groups[1]];
        let hooks = assign(&[0, 0, 1, 1, 0, 0, 1], &ordered).unwrap();
        assert_eq!(cost(&ordered, &hooks), (1, 3));
        assert_eq!(assign(&[1], &groups[..0]), Some(vec![]));
        assert_eq!(assign(&[1, 0, 0], &ordered[..2]), None);
    }

    proptest! {
        #[test]
        fn assignment_agrees_with_trying_every_way(
            free in vec(0..=2u64, 1..=6),
            ends in vec((any::<usize>(), any::<usize>(), 0..=2usize), 0..=3),
        ) {
            let groups = ordered(free.len(), &ends);
            let cards: Vec<Group> = groups
                .iter()
                .flat_map(|&group| std::iter::repeat_n(group, group.cards))
                .collect();
            let found = assign(&free, &groups);
            let best = least(&cards, &mut free.clone());
            prop_assert_eq!(found.as_ref().map(|hooks| cost(&groups, hooks)), best);
            if let Some(hooks) = found {
                assert_sound(&free, &groups, &hooks);
            }
        }
    }
}
