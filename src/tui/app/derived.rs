//! Values derived from the stash that the screen shows often, computed once per change.

use std::collections::BTreeMap;

use crate::model::board::{Board, ReadingOrder};
use crate::model::ids::{CardId, RingId};
use crate::model::range::PutUp;
use crate::model::thread::Strands;
use crate::stash::command::board::{NewBoard, measured};
use crate::stash::command::rehang::to_hang;
use crate::stash::order::Order;
use crate::stash::projects::kit::check;
use crate::stash::projects::low::low;
use crate::stash::projects::needs::needs;
use crate::stash::state::{CardState, State};

/// The card on each hook, by row and column.
pub type Cards = BTreeMap<(u16, u16), CardId>;

/// A project that still needs thread of a card.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Wanted {
    /// The project.
    pub ring: RingId,
    /// How much; `None` if its chart key counts no stitches.
    pub left: Option<Strands>,
    /// The kind of thread.
    pub put_up: PutUp,
}

/// The progress of a project.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct KitState {
    /// Threads in its chart key.
    pub threads: usize,
    /// Those with a card that isn't missing.
    pub owned: usize,
    /// Thread used, in centimetres of single strands.
    pub used_cm: u64,
    /// Thread needed in all, in centimetres of single strands.
    pub needed_cm: u64,
    /// Colours on its ring that are running low.
    pub low: usize,
    /// Colours of its key with enough thread on its ring, and colours in all; 0 of 0 without a key.
    pub kitted: (usize, usize),
}

/// Values derived from the stash.
#[derive(Clone, Default, Debug)]
pub struct Derived {
    wanted: BTreeMap<CardId, Vec<Wanted>>,
    kits: BTreeMap<RingId, KitState>,
    /// A preview of the filled wall, while nothing hangs yet.
    pub first_wall: Option<(Board, Cards)>,
}

impl Derived {
    /// Computes them. O((threads of the chart keys of open projects)²) at worst.
    #[must_use]
    pub fn of(state: &State) -> Self {
        let mut derived = Self {
            first_wall: first_wall(state),
            ..Self::default()
        };
        let open = state.rings_in_order();
        let with_key = open.iter().copied().filter(|ring| !ring.key.is_empty());
        let checked = check(state, &with_key.collect::<Vec<_>>());
        let checked = checked.projects.iter();
        let kitted: BTreeMap<RingId, (usize, usize)> = checked
            .map(|project| {
                let kitted = project.kitted(state);
                (project.ring.id, (kitted.there, kitted.colours))
            })
            .collect();
        for ring in open {
            let mut kit = KitState {
                low: low(state, ring).len(),
                kitted: kitted.get(&ring.id).copied().unwrap_or_default(),
                ..KitState::default()
            };
            for (line, needs) in ring.key.iter().zip(needs(state, ring)) {
                for (thread, need) in line.threads().iter().zip(needs) {
                    kit.threads += 1;
                    let all = need.need.map_or(Strands(0), |need| need.strands);
                    kit.needed_cm += need.in_cm(all);
                    kit.used_cm += need.in_cm(need.used).min(need.in_cm(all));
                    let cards = state.cards_of(thread.stitched());
                    let mut owned = false;
                    for kept in cards {
                        owned |= !kept.place.at.must_be_found();
                        if need.is_done() {
                            continue;
                        }
                        let wanted = derived.wanted.entry(kept.card.id).or_default();
                        wanted.push(Wanted {
                            ring: ring.id,
                            left: need.left,
                            put_up: need.put_up,
                        });
                    }
                    kit.owned += usize::from(owned);
                }
            }
            derived.kits.insert(ring.id, kit);
        }
        derived
    }

    /// The projects that still need thread of a card, in the order they were opened.
    #[must_use]
    pub fn wanted(&self, card: CardId) -> &[Wanted] {
        self.wanted.get(&card).map_or(&[], Vec::as_slice)
    }

    /// The progress of an open project; all zero for a closed one.
    #[must_use]
    pub fn kit(&self, ring: RingId) -> KitState {
        self.kits.get(&ring).copied().unwrap_or_default()
    }
}

/// A user's first wall: the first board, or else the proposed one, and roughly where each card
/// would hang. `None` if there is nothing to hang, or cards already hang. O(cards · log cards +
/// hooks).
#[must_use]
pub fn first_wall(state: &State) -> Option<(Board, Cards)> {
    let begun = state.cards().any(|kept| kept.home.is_some());
    if begun || to_hang(state).next().is_none() {
        return None;
    }
    let first = state.boards().next().cloned();
    let board = first.map_or_else(|| measured(state, &proposed_board(state)).ok(), Some)?;
    let blocked = |(row, column)| board.blocked(board.hook(row, column)).is_some();
    let cards = filling(state, &board, blocked).into_iter();
    let cards = cards.map(|(at, kept)| (at, kept.card.id)).collect();
    Some((board, cards))
}

/// The board proposed for the cards to hang.
#[must_use]
pub fn proposed_board(state: &State) -> NewBoard {
    let (name, prefix) = match state.boards().len() {
        0 => ("wall".to_owned(), String::new()),
        there => (
            format!("wall {n}", n = there + 1),
            format!("{n}-", n = there + 1),
        ),
    };
    let (rows, columns) = proposed(to_hang(state).count());
    NewBoard {
        name,
        prefix,
        rows,
        columns,
        cards_per_hook: 1,
        reading: ReadingOrder::Rows,
    }
}

/// Rows and columns for this many cards plus a quarter as many spare hooks, in roughly the
/// proportions of a wall of 12 rows of 20. Without cards, that wall itself.
#[must_use]
pub fn proposed(cards: usize) -> (u16, u16) {
    let wanted = cards + cards.div_ceil(4);
    if cards == 0 {
        return (12, 20);
    }
    let columns_of = |rows: usize| wanted.div_ceil(rows).max(2);
    let off = |rows: usize| (rows * 20).abs_diff(columns_of(rows) * 12);
    let rows = (2..=26).min_by_key(|&rows| off(rows)).unwrap_or(12);
    let size = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
    (size(rows), size(columns_of(rows)))
}

/// The cards to hang, each with the approximate hook: in wall order, with the free hooks spread
/// among them. Re-hang plans compute exact hooks. O(cards · log cards + hooks).
#[must_use]
pub fn filling<'a>(
    state: &'a State,
    board: &Board,
    taken: impl Fn((u16, u16)) -> bool,
) -> BTreeMap<(u16, u16), &'a CardState> {
    let order = Order::from(state.order());
    let cards: Vec<&CardState> = state.in_order(&order, to_hang(state));
    let hooks = board.hooks().map(|hook| (hook.row, hook.column));
    let free: Vec<(u16, u16)> = hooks.filter(|&at| !taken(at)).collect();
    let count = cards.len().max(1);
    let spread = |at: usize| match cards.len() < free.len() {
        true => at * free.len() / count,
        false => at / usize::from(board.cards_per_hook.max(1)),
    };
    let placed = cards.iter().enumerate();
    placed
        .filter_map(|(at, kept)| Some((*free.get(spread(at))?, *kept)))
        .collect()
}
