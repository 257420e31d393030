//! A re-hang on the screen: the plans to choose from, and the work.

use std::collections::{HashMap, HashSet};

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{HangStep, RehangPlan, remaining};
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
    /// Plans with the first one shown as the wall will be.
    #[must_use]
    pub fn new(state: &State, plans: Vec<RehangPlan>) -> Self {
        let mut shown = Self {
            plans,
            at: 0,
            after: true,
            top: 0,
            homes: HashMap::new(),
            changed: HashSet::new(),
        };
        shown.show(state, 0);
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

    /// The plan that is shown.
    #[must_use]
    pub fn plan(&self) -> Option<&RehangPlan> {
        self.plans.get(self.at)
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
