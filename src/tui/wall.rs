//! The wall of hooks: what each hook shows - its card, its status, its highlight - and how it is
//! drawn.

pub mod board;
mod corner;
pub mod panel;
pub mod walk;

use std::collections::{BTreeSet, HashSet};
use strum::VariantArray;

use super::app::screen::{Lights, WallPlan, Way};
use super::app::{App, cards_at};
use super::heat::{Degree, Heat};
use jiff::Timestamp;

use crate::model::board::HookRef;
use crate::model::ids::{CardId, FamilyId};
use crate::model::range::PutUp;
use crate::model::ring::RingState;
use crate::stash::state::{AwayReason, CardState, State};

/// The status of a hook. Every status has a sign, so that none depends on colour alone.
#[derive(Clone, Copy, PartialEq, Eq, Debug, VariantArray)]
pub enum HookStatus {
    /// Its card hangs there.
    Home,
    /// Its card hangs there and is held, by itself or with its family.
    Held,
    /// Its card is on a ring.
    Out,
    /// Its card is missing.
    Missing,
    /// Its card is somewhere else.
    Elsewhere,
    /// A card hangs there that belongs elsewhere.
    Stranger,
    /// A ring hangs there.
    Hanging,
    /// No card belongs there.
    Free,
    /// No card belongs there, and re-hangs leave it free.
    Reserved,
    /// Nothing may hang there.
    Blocked,
    /// A card comes here under the plan shown.
    Coming,
    /// The card leaves here under the plan shown.
    Leaving,
    /// The card being hung would keep the order here.
    Fits,
}

impl HookStatus {
    /// Its sign, one column wide everywhere except for the dot. A card at home needs none: it fills
    /// its hook, or shows its number if nothing can be filled.
    #[must_use]
    pub const fn glyph(self) -> char {
        match self {
            Self::Home => '#',
            Self::Held => '=',
            Self::Out => 'o',
            Self::Missing => '?',
            Self::Elsewhere => '>',
            Self::Stranger => '!',
            Self::Hanging => '@',
            Self::Free => '·',
            Self::Reserved => '-',
            Self::Blocked => 'x',
            Self::Coming => '+',
            Self::Leaving => '<',
            Self::Fits => '_',
        }
    }

    /// Its meaning.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Home => "its card hangs there (a full hook where colour shows)",
            Self::Held => "its card hangs there and is held",
            Self::Out => "the card is on a ring",
            Self::Missing => "its card is missing",
            Self::Elsewhere => "its card is somewhere else",
            Self::Stranger => "a card hangs there that belongs elsewhere",
            Self::Hanging => "a ring hangs there",
            Self::Free => "a free hook",
            Self::Reserved => "a free hook that a re-hang leaves free",
            Self::Blocked => "a blocked hook",
            Self::Coming => "a card comes here (re-hang)",
            Self::Leaving => "its card leaves here (re-hang)",
            Self::Fits => "a free hook that keeps the order (hanging a card)",
        }
    }
}

/// The contents of a hook.
#[derive(Clone, Copy, Debug)]
pub struct HookView<'a> {
    /// The card to show, if any.
    pub card: Option<&'a CardState>,
    /// The kind of thread on it.
    pub put_up: PutUp,
    /// The number of cards that belong there.
    pub count: usize,
    /// The hook's status.
    pub status: HookStatus,
    /// The direction in which the plan shown moves its card.
    pub way: Option<Way>,
    /// Whether a card there is selected.
    pub chosen: bool,
    /// The heat degree of its cards.
    pub heat: Option<Degree>,
    /// The project of the ring that hangs there.
    pub ring: Option<&'a str>,
}

/// The data shared by all hooks of a frame.
#[derive(Debug)]
pub struct BoardView<'a> {
    state: &'a State,
    plan: Option<&'a WallPlan>,
    /// While a card is being hung, the free hooks that keep the order.
    fitting: Option<HashSet<HookRef>>,
    chosen: &'a BTreeSet<CardId>,
    heat: Heat,
    now: Timestamp,
    hanging: Vec<(HookRef, &'a str)>,
    /// The hook that the walk leads to.
    pub target: Option<HookRef>,
    /// The hook where the step of the walk starts.
    pub source: Option<HookRef>,
    /// The hooks where cards landed a moment ago.
    pub landed: &'a HashSet<HookRef>,
    /// Whether all other hooks are dimmed.
    pub sinks: bool,
    /// During a search, the hooks with matches; all others are dimmed.
    pub found: Option<HashSet<HookRef>>,
}

impl<'a> BoardView<'a> {
    /// The data of this frame.
    #[must_use]
    pub fn new(app: &'a App, state: &'a State) -> Self {
        let top = app.screen();
        let lights = top.map_or_else(Lights::default, |screen| screen.lights(app, state));
        Self {
            state,
            plan: lights.plan,
            fitting: lights.fitting,
            chosen: &app.chosen,
            heat: app.heat,
            now: app.now,
            hanging: state
                .rings()
                .filter_map(|ring| match ring.state {
                    RingState::Hanging { hook, .. } => Some((hook, ring.project.as_str())),
                    _ => None,
                })
                .collect(),
            target: lights.target,
            source: lights.source,
            landed: &app.landed,
            sinks: false,
            found: lights.found,
        }
    }

    /// A frame of a walk that leads to one hook, possibly from another; everything else is dimmed.
    #[must_use]
    pub fn lit(
        app: &'a App,
        state: &'a State,
        target: Option<HookRef>,
        source: Option<HookRef>,
    ) -> Self {
        Self {
            target,
            source,
            heat: Heat::Off,
            sinks: true,
            ..Self::new(app, state)
        }
    }

    fn put_up(&self, card: Option<&CardState>) -> PutUp {
        card.map_or_else(PutUp::default, |kept| self.state.put_up(&kept.card))
    }

    /// The contents of a hook in this frame.
    #[must_use]
    pub fn spot(&self, hook: HookRef) -> HookView<'a> {
        if let Some(plan) = self.plan {
            return self.planned(plan, hook);
        }
        let cards = cards_at(self.state, hook);
        let fits = |fitting: &HashSet<HookRef>| fitting.contains(&hook);
        let mut hanging = self.hanging.iter().filter(|(at, _)| *at == hook);
        let ring = hanging.next().map(|&(_, project)| project);
        let status = if self.fitting.as_ref().is_some_and(fits) {
            HookStatus::Fits
        } else if ring.is_some() {
            HookStatus::Hanging
        } else {
            cards
                .first()
                .map_or_else(|| self.empty(hook), |kept| stands(self.state, kept, hook))
        };
        let card = cards.first().copied();
        HookView {
            card,
            put_up: self.put_up(card),
            count: cards.len(),
            status,
            way: None,
            chosen: cards.iter().any(|kept| self.chosen.contains(&kept.card.id)),
            heat: self.heat().hottest(self.state, &cards, self.now),
            ring,
        }
    }

    /// The measure that colours the hooks; off while a plan is shown or a card is being hung.
    #[must_use]
    pub const fn heat(&self) -> Heat {
        match (self.plan, &self.fitting) {
            (None, None) => self.heat,
            _ => Heat::Off,
        }
    }

    /// The family that belongs on a hook: that of its first card.
    #[must_use]
    pub fn family(&self, hook: HookRef) -> Option<FamilyId> {
        let after = self.plan.filter(|plan| plan.after);
        let first = match after {
            Some(plan) => {
                let ids = plan.homes.get(&hook)?;
                self.state.card(*ids.first()?)
            }
            None => self.state.homes_on(hook).next(),
        };
        self.state.family_of(first?)
    }

    fn empty(&self, hook: HookRef) -> HookStatus {
        if self.state.capacity(hook) == 0 {
            HookStatus::Blocked
        } else if (self.state.board(hook.board)).is_some_and(|board| board.reserved(hook)) {
            HookStatus::Reserved
        } else {
            HookStatus::Free
        }
    }

    /// A hook before or after the plan shown.
    fn planned(&self, plan: &WallPlan, hook: HookRef) -> HookView<'a> {
        let homes: Vec<&CardState> = if plan.after {
            let ids = plan.homes.get(&hook).map_or(&[][..], Vec::as_slice);
            ids.iter().filter_map(|&id| self.state.card(id)).collect()
        } else {
            self.state.homes_on(hook).collect()
        };
        let moves = homes
            .iter()
            .find(|kept| plan.ways.contains_key(&kept.card.id));
        let first = moves.or(homes.first()).copied();
        let status = match (first, moves, plan.after) {
            (None, ..) => self.empty(hook),
            (Some(_), Some(_), true) => HookStatus::Coming,
            (Some(_), Some(_), false) => HookStatus::Leaving,
            (Some(kept), None, _) => stands(self.state, kept, hook),
        };
        HookView {
            card: first,
            put_up: self.put_up(first),
            count: homes.len(),
            status,
            way: moves.and_then(|kept| plan.ways.get(&kept.card.id).copied()),
            chosen: false,
            heat: None,
            ring: None,
        }
    }
}

/// The status of a card's hook.
fn stands(state: &State, kept: &CardState, hook: HookRef) -> HookStatus {
    if kept.home != Some(hook) {
        return HookStatus::Stranger;
    }
    match AwayReason::of(kept) {
        None if state.stays(kept) => HookStatus::Held,
        None => HookStatus::Home,
        Some(AwayReason::OnRing) => HookStatus::Out,
        Some(AwayReason::Missing) => HookStatus::Missing,
        Some(AwayReason::InHand | AwayReason::Elsewhere | AwayReason::ToHang) => {
            HookStatus::Elsewhere
        }
    }
}
