//! The roll call on the screen: the walk, its report, and the way home for what hangs wrong.

use std::collections::{BTreeSet, HashMap};

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::command::rollcall::{Report, Sighting, Stop, is_free, same_run, stop};
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::tui::field::Field;
use crate::tui::keymap::Scope;

/// How far a roll call is.
#[derive(Clone, PartialEq, Debug)]
pub enum Stage {
    /// Going from hook to hook.
    Walk,
    /// Typing what else hangs on the hook, and what is wrong with that, if anything.
    Typing(Field, Option<String>),
    /// Looking at the report, from so many lines down.
    Report(Report, usize),
    /// The report is recorded: cards to be hung on their own hooks, which of them, and how the roll
    /// call went.
    Home(Vec<CardId>, usize, Act),
}

/// A roll call. Nothing of it is recorded before its report is.
#[derive(Clone, PartialEq, Debug)]
pub struct RollCall {
    /// Every hook, from the first one of the board that was looked at, around all boards.
    pub hooks: Vec<HookRef>,
    /// Which of them is looked at.
    pub at: usize,
    /// Which of the cards that hang there is looked at.
    pub pick: usize,
    /// What was seen on the hooks that were confirmed.
    pub seen: HashMap<HookRef, Vec<CardId>>,
    /// The cards that should be on the hook looked at and are not.
    pub absent: BTreeSet<CardId>,
    /// The cards that are on the hook looked at and that the record has elsewhere.
    pub others: Vec<CardId>,
    /// How far it is.
    pub stage: Stage,
}

/// What was confirmed so far.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Tally {
    /// Hooks.
    pub hooks: usize,
    /// Cards that hang where the record says.
    pub found: usize,
    /// Cards that do not.
    pub absent: usize,
    /// Cards that hang where the record does not have them.
    pub others: usize,
}

impl RollCall {
    /// A roll call from the first hook of a board on, by its place among the boards, that has
    /// something to look at.
    #[must_use]
    pub fn new(state: &State, board: usize) -> Self {
        let (before, from): (Vec<_>, Vec<_>) =
            state.boards().enumerate().partition(|&(at, _)| at < board);
        let boards = from.into_iter().chain(before);
        let mut call = Self {
            hooks: boards.flat_map(|(_, board)| board.hooks()).collect(),
            at: 0,
            pick: 0,
            seen: HashMap::new(),
            absent: BTreeSet::new(),
            others: Vec::new(),
            stage: Stage::Walk,
        };
        if let Some(first) = call.next_stop(state, 0) {
            call.at = first;
        }
        call
    }

    /// Which keys hold.
    #[must_use]
    pub const fn scope(&self) -> Scope {
        match self.stage {
            Stage::Walk => Scope::RollCall,
            Stage::Typing(..) => Scope::Seen,
            Stage::Report(..) => Scope::Report,
            Stage::Home(..) => Scope::HangHome,
        }
    }

    /// The hook that is looked at.
    #[must_use]
    pub fn hook(&self) -> Option<HookRef> {
        self.hooks.get(self.at).copied()
    }

    /// What the record says of the hook that is looked at.
    #[must_use]
    pub fn stop<'a>(&self, state: &'a State) -> Option<Stop<'a>> {
        self.hook().map(|hook| stop(state, hook))
    }

    /// The first hook from a place on where a card hangs or lives by the record.
    fn next_stop(&self, state: &State, from: usize) -> Option<usize> {
        let matters = |&at: &usize| !is_free(state, self.hooks[at]);
        (from..self.hooks.len()).find(matters)
    }

    /// Goes to a hook and looks at it anew; what was confirmed of it before is shown.
    fn go(&mut self, state: &State, at: usize) {
        self.at = at;
        self.pick = 0;
        self.absent.clear();
        self.others.clear();
        let Some(stop) = self.stop(state) else { return };
        let hang: Vec<CardId> = stop.hang.iter().map(|kept| kept.card.id).collect();
        match self.seen.get(&stop.hook) {
            Some(seen) => {
                let others = seen.iter().filter(|card| !hang.contains(card));
                self.others = others.copied().collect();
                let absent = hang.iter().filter(|card| !seen.contains(card));
                self.absent = absent.copied().collect();
            }
            // What was seen on another hook is not here.
            None => {
                let elsewhere = |card: &CardId| self.seen.values().any(|seen| seen.contains(card));
                let absent = hang.into_iter().filter(elsewhere).collect();
                self.absent = absent;
            }
        }
    }

    /// Steps to the neighbouring hook, whatever should hang there, and confirms nothing.
    pub fn step(&mut self, state: &State, on: bool) {
        let last = self.hooks.len().saturating_sub(1);
        let at = if on {
            (self.at + 1).min(last)
        } else {
            self.at.saturating_sub(1)
        };
        self.go(state, at);
    }

    /// Goes back to the hook before with something to look at, which counts as not yet confirmed.
    pub fn back(&mut self, state: &State) {
        let matters = |&at: &usize| {
            self.seen.contains_key(&self.hooks[at]) || !is_free(state, self.hooks[at])
        };
        if let Some(at) = (0..self.at).rev().find(matters) {
            self.go(state, at);
            self.seen.remove(&self.hooks[at]);
        }
    }

    /// Confirms the hook as it is shown and goes to the next. Says whether there is one.
    pub fn confirm(&mut self, state: &State) -> bool {
        if let Some(stop) = self.stop(state) {
            let hang = stop.hang.iter().map(|kept| kept.card.id);
            let here = hang.filter(|card| !self.absent.contains(card));
            let cards: Vec<CardId> = here.chain(self.others.iter().copied()).collect();
            // A card hangs on one hook: where it was seen last.
            for before in self.seen.values_mut() {
                before.retain(|card| !cards.contains(card));
            }
            self.seen.insert(stop.hook, cards);
        }
        match self.next_stop(state, self.at + 1) {
            Some(next) => self.go(state, next),
            None => return false,
        }
        true
    }

    /// Confirms the hook as it is shown and the rest of its row as the record has it; free hooks of
    /// the row too. Says whether there is a hook after it.
    pub fn confirm_row(&mut self, state: &State) -> bool {
        let Some(here) = self.hook() else {
            return false;
        };
        let mut more = self.confirm(state);
        while more && self.hook().is_some_and(|hook| same_run(state, here, hook)) {
            more = self.confirm(state);
        }
        more
    }

    /// Says that the card looked at is not here, or is after all. A card that the record has elsewhere
    /// is no longer here.
    pub fn toggle(&mut self, state: &State) {
        let hang = self.stop(state).map_or_else(Vec::new, |stop| stop.hang);
        if let Some(kept) = hang.get(self.pick) {
            let card = kept.card.id;
            if self.absent.contains(&card) {
                self.see_here(state, card);
            } else {
                self.absent.insert(card);
            }
        } else if self.pick - hang.len() < self.others.len() {
            self.others.remove(self.pick - hang.len());
            self.pick = 0;
        }
    }

    /// Says that a card hangs here; when that is confirmed, it hangs on no other hook. Answers with
    /// the hook where it was confirmed before, if it was.
    pub fn see_here(&mut self, state: &State, card: CardId) -> Option<HookRef> {
        let here = self.hook()?;
        if state.index().hanging_on(here).contains(&card) {
            self.absent.remove(&card);
        } else if !self.others.contains(&card) {
            self.others.push(card);
        }
        let mut before = self.seen.iter();
        before
            .find(|(hook, cards)| **hook != here && cards.contains(&card))
            .map(|(&hook, _)| hook)
    }

    /// Looks at the next of the cards here.
    pub fn next_card(&mut self, state: &State) {
        let hang = self.stop(state).map_or(0, |stop| stop.hang.len());
        self.pick = (self.pick + 1) % (hang + self.others.len()).max(1);
    }

    /// What was seen, for the report. What is gone or blocked meanwhile is left out.
    #[must_use]
    pub fn sightings(&self, state: &State) -> Vec<Sighting> {
        let there = |hook: &HookRef| state.board(hook.board).is_some_and(|b| b.has(*hook));
        let seen = self.seen.iter().filter(|(hook, _)| there(hook));
        seen.map(|(&hook, cards)| {
            let known = |card: &&CardId| state.capacity(hook) > 0 && state.card(**card).is_some();
            let cards = cards.iter().filter(known).copied().collect();
            Sighting { hook, cards }
        })
        .collect()
    }

    /// What was confirmed so far. O(hooks confirmed).
    #[must_use]
    pub fn tally(&self, state: &State) -> Tally {
        let mut tally = Tally::default();
        for (&hook, seen) in &self.seen {
            let hang = state.index().hanging_on(hook);
            let found = hang.iter().filter(|card| seen.contains(card)).count();
            tally.hooks += 1;
            tally.found += found;
            tally.absent += hang.len() - found;
            tally.others += seen.len() - found;
        }
        tally
    }

    /// How many hooks the walk stops at. O(hooks).
    #[must_use]
    pub fn stops(&self, state: &State) -> usize {
        let stops = |hook: &&HookRef| !is_free(state, **hook) || self.seen.contains_key(*hook);
        self.hooks.iter().filter(stops).count()
    }
}
