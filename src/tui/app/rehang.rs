//! A re-hang on the screen: the plans to choose from, and the work.

use std::collections::{HashMap, HashSet};

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{HangStep, RehangPlan, remaining, worth_showing};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// Plans for a re-hang to choose from.
#[derive(Clone, PartialEq, Debug)]
pub struct Plans {
    /// The plans.
    pub plans: Vec<RehangPlan>,
    /// Which one is shown.
    pub at: usize,
    /// Whether the wall is shown as it will be.
    pub after: bool,
    /// First move shown.
    pub top: usize,
    /// Who will live on each hook by the plan shown.
    pub homes: HashMap<HookRef, Vec<CardId>>,
    /// Cards whose home changes or is new.
    pub changed: HashSet<CardId>,
}

impl Plans {
    /// Plans with plan 1 shown as the wall will be; without plan 0 where it is of no use.
    #[must_use]
    pub fn new(state: &State, plans: Vec<RehangPlan>) -> Self {
        let plans = worth_showing(&plans).to_vec();
        let first = plans.iter().position(|plan| plan.number == 1);
        let mut shown = Self {
            plans,
            at: 0,
            after: true,
            top: 0,
            homes: HashMap::new(),
            changed: HashSet::new(),
        };
        shown.show(state, first.unwrap_or(0));
        shown
    }

    /// Shows another plan.
    pub fn show(&mut self, state: &State, at: usize) {
        self.at = at.min(self.plans.len().saturating_sub(1));
        self.top = 0;
        self.homes.clear();
        self.changed.clear();
        let homes = self.plans.get(self.at).map(|plan| plan.homes.as_slice());
        for &(card, hook) in homes.unwrap_or_default() {
            self.homes.entry(hook).or_default().push(card);
            if state.card(card).is_some_and(|kept| kept.home != Some(hook)) {
                self.changed.insert(card);
            }
        }
    }

    /// Why the plan shown gives a card the home it does; `None` for one that it leaves alone.
    /// O(hooks + cards).
    #[must_use]
    pub fn why(&self, state: &State, card: CardId) -> Option<Why> {
        let homes = self.plan()?.homes.as_slice();
        let at = homes.iter().position(|&(other, _)| other == card)?;
        if !self.changed.contains(&card) {
            return None;
        }
        let home = |at: usize| state.card(homes[at].0).and_then(|kept| kept.home);
        let Some(now) = home(at) else {
            return Some(Why::New);
        };
        if (state.board(now.board)).is_some_and(|board| board.reserved(now)) {
            return Some(Why::Reserved);
        }
        let place: HashMap<HookRef, usize> = state.hooks().zip(0..).collect();
        let hangs = |at: usize| home(at).and_then(|hook| place.get(&hook).copied());
        let before: Vec<usize> = (0..at).rev().filter_map(hangs).take(2).collect();
        let after: Vec<usize> = (at + 1..homes.len()).filter_map(hangs).take(2).collect();
        if hangs(at).is_some_and(|here| strays(here, &before, &after)) {
            return Some(Why::OutOfOrder);
        }
        let fewest = self.plans.iter().find(|plan| plan.number == 1);
        let fewest = fewest.map_or(&[][..], |plan| &plan.homes);
        if !fewest.iter().any(|&(c, hook)| c == card && hook != now) {
            return Some(Why::Room);
        }
        let new = (0..homes.len()).filter(|&other| home(other).is_none());
        let nearest = new.min_by_key(|&other| other.abs_diff(at));
        Some(Why::MakesWay(nearest.map(|other| homes[other].0)))
    }

    /// The plan that is shown.
    #[must_use]
    pub fn plan(&self) -> Option<&RehangPlan> {
        self.plans.get(self.at)
    }
}

/// Why a plan gives a card another home.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Why {
    /// It has none yet.
    New,
    /// Its hook is reserved.
    Reserved,
    /// Its neighbours hang in order, and it does not hang between them.
    OutOfOrder,
    /// It has to move by every plan; for the nearest of the cards that get a home for the first time,
    /// where there are any.
    MakesWay(Option<CardId>),
    /// It could stay, and moves to leave room for colours to come.
    Room,
}

/// Whether a card hangs out of order: its nearest neighbours in the wanted order, at most two on each
/// side, nearest first, hang in order with each other and not with it.
fn strays(here: usize, before: &[usize], after: &[usize]) -> bool {
    match (before, after) {
        ([b, ..], [a, ..]) => b <= a && !(b <= &here && &here <= a),
        ([], [a, rest @ ..]) => here > *a && rest.iter().all(|next| a <= next),
        ([b, rest @ ..], []) => here < *b && rest.iter().all(|next| next <= b),
        ([], []) => false,
    }
}

/// A re-hang being done. How far it is stands in the stash; here is only what is to be done next.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Work {
    /// The steps that are left, in the order to do them, as far as is known from the stash.
    pub steps: Vec<HangStep>,
    /// Which of them is shown.
    pub at: usize,
    /// Cards that were put off until the others are done.
    pub skipped: HashSet<CardId>,
    /// Whether the rest is to be written down without asking.
    pub running: bool,
    /// What a question that may still be open asks about.
    pub asked: Option<Asked>,
}

/// What is asked about while a re-hang is underway.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Asked {
    /// Whether all steps that are left are done.
    AllSteps,
    /// Whether to give the rest up and plan anew.
    PlanAnew,
}

impl Work {
    /// The work that is left of the re-hang underway.
    ///
    /// # Errors
    /// As [`remaining`].
    pub fn new(state: &State) -> Result<Self, Refusal> {
        let mut work = Self {
            steps: Vec::new(),
            at: 0,
            skipped: HashSet::new(),
            running: false,
            asked: None,
        };
        work.renew(state)?;
        Ok(work)
    }

    /// Works out from the stash what is left, and shows the first step that was not put off and can
    /// be done now. Where there is none, those put off come again.
    ///
    /// # Errors
    /// As [`remaining`].
    pub fn renew(&mut self, state: &State) -> Result<(), Refusal> {
        self.steps = remaining(state)?;
        let hand_full = state
            .cards()
            .any(|kept| matches!(kept.place.at, Whereabouts::Hand));
        let can_be_done = |step: &HangStep| match step.to {
            Some(hook) => state.free_places(hook) > 0,
            None => !hand_full,
        };
        let next = |skipped: &HashSet<CardId>| {
            let wanted = |step: &HangStep| !skipped.contains(&step.card) && can_be_done(step);
            self.steps.iter().position(wanted)
        };
        let mut at = next(&self.skipped);
        if at.is_none() {
            self.skipped.clear();
            at = next(&self.skipped);
        }
        // The first step of all can be done at any time.
        self.at = at.unwrap_or(0);
        Ok(())
    }

    /// Puts the step shown off, and shows another where there is one.
    ///
    /// # Errors
    /// As [`remaining`].
    pub fn skip(&mut self, state: &State) -> Result<(), Refusal> {
        if let Some(step) = self.step() {
            self.skipped.insert(step.card);
        }
        self.renew(state)
    }

    /// The step that is shown.
    #[must_use]
    pub fn step(&self) -> Option<&HangStep> {
        self.steps.get(self.at)
    }

    /// The steps after the one shown: those not put off, then those that are.
    pub fn then(&self) -> impl Iterator<Item = &HangStep> {
        let others = || {
            let steps = self.steps.iter().enumerate();
            steps.filter(|&(at, _)| at != self.at).map(|(_, step)| step)
        };
        let put_off = |step: &&HangStep| self.skipped.contains(&step.card);
        let first = others().filter(move |step| !put_off(step));
        first.chain(others().filter(put_off))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::hold::reserve;
    use crate::stash::command::rehang::plans;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    #[test]
    fn every_card_a_plan_moves_has_a_reason_and_no_other() {
        let mut state = TestApp::sample(Depth::None).state;
        let event = reserve(&state, "A04").unwrap();
        state.apply(&event).unwrap();
        let mut shown = Plans::new(&state, plans(&state).unwrap());
        let card = |name: &str| state.find_card(name).unwrap();
        let mut rooms = 0;
        for at in 0..shown.plans.len() {
            shown.show(&state, at);
            for kept in state.cards() {
                let why = shown.why(&state, kept.card.id);
                let changed = shown.changed.contains(&kept.card.id);
                assert_eq!(why.is_some(), changed, "{:?}", kept.card.number);
                rooms += usize::from(why == Some(Why::Room));
            }
            assert_eq!(shown.why(&state, card("80")), Some(Why::New));
            let moves = shown.plans[at].number > 0;
            assert_eq!(
                shown.why(&state, card("30")),
                moves.then_some(Why::Reserved)
            );
        }
        let first = shown.plans.iter().position(|plan| plan.number == 1);
        shown.show(&state, first.unwrap());
        let in_first = |why| {
            let cards = shown.changed.iter();
            cards
                .filter(|&&card| shown.why(&state, card) == Some(why))
                .count()
        };
        assert_eq!(
            in_first(Why::Room),
            0,
            "the fewest moves leave no room on purpose"
        );
        assert!(rooms > 0);
    }

    #[test]
    fn a_stray_is_told_from_its_neighbours() {
        assert!(strays(9, &[2, 1], &[4, 5]));
        assert!(strays(0, &[2, 1], &[4, 5]));
        assert!(!strays(3, &[2, 1], &[4, 5]));
        // The neighbour is the stray.
        assert!(!strays(3, &[9, 2], &[4, 5]));
        assert!(strays(9, &[], &[4, 5]) && !strays(3, &[], &[4, 6]));
        assert!(!strays(5, &[], &[4, 1]));
        assert!(strays(0, &[4, 3], &[]) && !strays(5, &[4, 3], &[]));
        assert!(!strays(5, &[], &[]));
    }
}
