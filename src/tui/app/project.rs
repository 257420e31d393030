//! A project on the screen: its page, the walk that fetches its kit, and what is to be bought.

use std::collections::BTreeMap;

use crate::model::ids::{CardId, RangeId, RingId};
use crate::model::number::Number;
use crate::model::ring::Ring;
use crate::stash::projects::buy_list::{Purchase, buy_list};
use crate::stash::projects::kit::{ProjectKit, check, rings_in_use};
use crate::stash::projects::pull::{Splitting, pull};
use crate::stash::state::State;

/// The page of a project.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Project {
    /// Its ring.
    pub ring: RingId,
    /// Which line of its key is chosen.
    pub at: usize,
    /// Whether the stash is shared with all other projects in use, those opened before it first;
    /// else it is looked at as if only this one asked.
    pub shared: bool,
}

impl Project {
    /// The page of a ring, as it opens.
    #[must_use]
    pub const fn of(ring: RingId) -> Self {
        Self {
            ring,
            at: 0,
            shared: false,
        }
    }

    /// Checks it against the stash as it is now. `None` where the ring is gone.
    #[must_use]
    pub fn check<'a>(&self, state: &'a State) -> Option<ProjectKit<'a>> {
        let ring = state.ring(self.ring)?;
        let mut rings: Vec<&Ring> = Vec::new();
        if self.shared {
            rings = rings_in_use(state).unwrap_or_default();
        }
        if !rings.iter().any(|other| other.id == ring.id) {
            rings.push(ring);
        }
        let at = rings.iter().position(|other| other.id == ring.id)?;
        Some(check(state, &rings).projects.swap_remove(at))
    }
}

/// Something to be fetched for a kit.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Fetch {
    /// A card off the wall or from the cards to hang.
    Take(CardId),
    /// Thread off a card on another ring.
    Split(Splitting),
}

/// Fetching the kit of a project, card by card.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Pull {
    /// The page it was begun on.
    pub page: Project,
    /// What was put off, in the order it was.
    pub later: Vec<CardId>,
    /// How many were fetched since it began.
    pub done: usize,
}

impl Pull {
    /// What is still to be fetched, in the order to fetch it: along the wall, then from other rings,
    /// then what was put off.
    #[must_use]
    pub fn left(&self, state: &State) -> Vec<Fetch> {
        let Some(project) = self.page.check(state) else {
            return Vec::new();
        };
        let pull = pull(state, &project);
        let takes = pull.take.into_iter().map(Fetch::Take);
        let mut all: Vec<Fetch> = takes
            .chain(pull.split.into_iter().map(Fetch::Split))
            .collect();
        // Stable: what was not put off stays in its order, before what was.
        all.sort_by_key(|fetch| self.later.iter().position(|&card| card == fetch.card()));
        all
    }
}

impl Fetch {
    /// The card it is about.
    #[must_use]
    pub const fn card(&self) -> CardId {
        match self {
            Self::Take(card) => *card,
            Self::Split(splitting) => splitting.card,
        }
    }
}

/// What is to be bought, and what the buyer makes of it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Buy {
    /// For which projects, each once.
    pub rings: Vec<RingId>,
    /// The page it was opened from; `None` = the list of rings.
    pub page: Option<Project>,
    /// Which line is chosen.
    pub at: usize,
    /// Skeins that the buyer says instead of what was worked out; 0 leaves the colour out.
    pub said: BTreeMap<(RangeId, Number), u32>,
    /// The missing cards that new ones take the place of, once it was said what was bought.
    pub replaced: Vec<CardId>,
}

impl Buy {
    /// The list as it is worked out now, with what the buyer says.
    #[must_use]
    pub fn list(&self, state: &State) -> Vec<Purchase> {
        let rings = self.rings.iter().filter_map(|&ring| state.ring(ring));
        let rings: Vec<&Ring> = rings.collect();
        let mut list = buy_list(state, &check(state, &rings));
        for purchase in &mut list {
            if let Some(&skeins) = self.said.get(&key(purchase)) {
                purchase.skeins = skeins;
            }
        }
        list
    }

    /// Says another number of skeins for a line.
    pub fn say(&mut self, purchase: &Purchase, skeins: u32) {
        self.said.insert(key(purchase), skeins);
    }
}

fn key(purchase: &Purchase) -> (RangeId, Number) {
    (purchase.range, purchase.number.clone())
}
