//! What follows from the stash and is shown again and again: worked out once a change.

use std::collections::BTreeMap;

use crate::model::board::Board;
use crate::model::ids::{CardId, RingId};
use crate::model::range::PutUp;
use crate::model::thread::Strands;
use crate::stash::projects::low::low;
use crate::stash::projects::needs::needs;
use crate::stash::state::State;
use crate::tui::screens::board_editor::{Cards, first_wall};

/// A project that still needs thread of a card.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Wanted {
    /// Which project.
    pub ring: RingId,
    /// How much; `None` where its chart key counts no stitches.
    pub left: Option<Strands>,
    /// What kind of thread that is.
    pub put_up: PutUp,
}

/// How far a project has come.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct KitState {
    /// Threads of its chart key.
    pub threads: usize,
    /// Those with a card that isn't missing.
    pub owned: usize,
    /// Thread used, and thread needed in all, in centimetres of single strands.
    pub used_cm: u64,
    /// See [`Self::used_cm`].
    pub needed_cm: u64,
    /// Colours on its ring that run low.
    pub low: usize,
}

/// What follows from the stash.
#[derive(Clone, Default, Debug)]
pub struct Derived {
    wanted: BTreeMap<CardId, Vec<Wanted>>,
    kits: BTreeMap<RingId, KitState>,
    /// The wall as it would fill, while nothing hangs yet.
    pub first_wall: Option<(Board, Cards)>,
}

impl Derived {
    /// Works it out. O(threads of the chart keys of open projects · log cards).
    #[must_use]
    pub fn of(state: &State) -> Self {
        let mut derived = Self {
            first_wall: first_wall(state),
            ..Self::default()
        };
        let open = |ring: &&_| !crate::model::ring::Ring::is_closed(ring);
        for ring in state.rings().filter(open) {
            let mut kit = KitState {
                low: low(state, ring).len(),
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

    /// How far an open project has come; nothing of a closed one.
    #[must_use]
    pub fn kit(&self, ring: RingId) -> KitState {
        self.kits.get(&ring).copied().unwrap_or_default()
    }
}
