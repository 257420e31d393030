//! Hanging a card on a hook of the user's choice, whatever the order of the wall.
//!
//! The user has the last word on where a card hangs, so only the impossible is refused: a blocked
//! hook, or one without a free place. Everything else is shown beforehand, above all whether the
//! order is kept and between which cards the hook lies.

use std::collections::HashMap;

use jiff::Timestamp;

use super::kept;
use super::rehang::{HangStep, step};
use super::rollcall::hang_home;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::ring::{Ring, RingState};
use crate::stash::event::Event;
use crate::stash::order::Order;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// The wall as seen by a card to hang, with the cards that belong on it.
#[derive(Debug)]
pub struct Wall<'a> {
    state: &'a State,
    /// The card to hang.
    kept: &'a CardState,
    /// Every hook, in reading order.
    hooks: Vec<HookRef>,
    /// Every other card with a home, in the wanted order.
    others: Vec<&'a CardState>,
    /// The rank of each of them.
    ranks: HashMap<CardId, usize>,
    /// How many of them belong before the card.
    before: usize,
}

/// A hook that a card can hang on, with what to know beforehand.
#[derive(Debug, Clone)]
pub struct Hanging<'a> {
    /// The stash.
    pub state: &'a State,
    /// The card.
    pub kept: &'a CardState,
    /// The hook.
    pub hook: HookRef,
    /// The cards that belong on the hook.
    pub beside: Vec<&'a CardState>,
    /// The nearest card that belongs on an earlier hook, in reading order; if several share that
    /// hook, the last in the wanted order.
    pub before: Option<&'a CardState>,
    /// The nearest card that belongs on a later hook; if several share that hook, the first in the
    /// wanted order.
    pub after: Option<&'a CardState>,
    /// Whether it would hang between these two in the wanted order.
    pub keeps_order: bool,
    /// Its neighbours in the wanted order, among the cards with a hook.
    pub belongs: (Option<&'a CardState>, Option<&'a CardState>),
}

impl<'a> Wall<'a> {
    /// The wall as seen by one card. O(hooks + cards · log cards).
    ///
    /// # Errors
    /// When the card isn't in the stash, or is a split card, which has no hook.
    pub fn new(state: &'a State, card: CardId) -> Result<Self, Refusal> {
        let kept = kept(state, card)?;
        if let Some(whole) = kept.card.parent.and_then(|parent| state.card(parent)) {
            return Err(Refusal::SplitCardHasNoHook {
                card: state.card_name(kept),
                whole: state.card_name(whole),
            });
        }
        if state.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        let order: Order = state.order().into();
        let other = |other: &&CardState| other.card.id == card || other.home.is_some();
        let mut others = state.in_order(&order, state.cards().filter(other));
        let before = others.iter().position(|other| other.card.id == card);
        let before = before.unwrap_or(0);
        others.remove(before);
        let ranks = others.iter().zip(0..);
        let ranks = ranks.map(|(other, at)| (other.card.id, at)).collect();
        Ok(Self {
            state,
            kept,
            hooks: state.hooks().collect(),
            others,
            ranks,
            before,
        })
    }

    /// The first and last rank of the other cards that belong on a hook.
    fn ranks_on(&self, hook: HookRef) -> Option<(usize, usize)> {
        let ranks = || {
            let homes = self.state.index().homes_on(hook).iter();
            homes.filter_map(|card| self.ranks.get(card).copied())
        };
        Some((ranks().min()?, ranks().max()?))
    }

    fn is_free(&self, hook: HookRef) -> bool {
        self.kept.home != Some(hook) && self.state.free_places(hook) > 0
    }

    /// The hooks with a free place where the card would keep the wanted order, in reading order,
    /// without the one it belongs on. O(hooks + cards).
    #[must_use]
    pub fn keeping_order(&self) -> Vec<HookRef> {
        let on: Vec<_> = self.hooks.iter().map(|&hook| self.ranks_on(hook)).collect();
        let mut next = None;
        let mut after = vec![None; on.len()];
        for at in (0..on.len()).rev() {
            after[at] = next;
            next = on[at].map(|(first, _)| first).or(next);
        }
        let mut last = None;
        let mut found = Vec::new();
        for (at, &hook) in self.hooks.iter().enumerate() {
            if self.is_free(hook) && self.in_between(last, after[at]) {
                found.push(hook);
            }
            last = on[at].map(|(_, last)| last).or(last);
        }
        found
    }

    /// The suggested hook: the middle of the first free gap that keeps the order, so that there is
    /// room on both sides, or its start if no card comes after. Otherwise the free hook nearest to
    /// the card it belongs after, or before. O(hooks + cards).
    #[must_use]
    pub fn first_thought(&self) -> Option<HookRef> {
        let place = |hook: HookRef| self.hooks.iter().position(|&other| other == hook);
        let keeping = self.keeping_order();
        if let Some(&first) = keeping.first() {
            let start = place(first)?;
            let lived_on = |hook: &&HookRef| self.ranks_on(**hook).is_some();
            let gap = self.hooks[start..]
                .iter()
                .take_while(|hook| !lived_on(hook));
            let gap: Vec<&HookRef> = gap.filter(|hook| self.is_free(**hook)).collect();
            let is_between = self.before < self.others.len();
            let middle = if is_between {
                gap.len().saturating_sub(1) / 2
            } else {
                0
            };
            return Some(gap.get(middle).map_or(first, |hook| **hook));
        }
        let neighbour = match self.before.checked_sub(1) {
            Some(at) => self.others.get(at),
            None => self.others.first(),
        };
        let near = neighbour.and_then(|kept| place(kept.home?)).unwrap_or(0);
        let hooks = self.hooks.iter().enumerate();
        let free = hooks.filter(|&(_, &hook)| self.is_free(hook));
        let nearest = free.min_by_key(|&(at, _)| (at.abs_diff(near), at < near));
        nearest.map(|(_, &hook)| hook)
    }

    fn in_between(&self, last: Option<usize>, next: Option<usize>) -> bool {
        last.is_none_or(|last| last < self.before) && next.is_none_or(|next| next >= self.before)
    }

    /// What hanging the card on a hook would mean. O(hooks).
    ///
    /// # Errors
    /// When the hook is blocked or has no free place, or the card already belongs there and either
    /// hangs there or is away.
    pub fn at(&self, hook: HookRef) -> Result<Hanging<'a>, Refusal> {
        let (state, kept) = (self.state, self.kept);
        let hook_name = state.hook_name(hook);
        let on = state.board(hook.board);
        if let Some(why) = on.and_then(|board| board.blocked(hook)) {
            let why = why.to_string();
            return Err(Refusal::Blocked { hook_name, why });
        }
        // A card at hand that strayed from its hook can be hung back there.
        let strayed = kept.place.at.can_be_hung() && !kept.is_home();
        if kept.home == Some(hook) && !strayed {
            return Err(Refusal::HomeThere {
                card: state.card_name(kept),
                hook_name,
                place: state.place_of(kept).into(),
            });
        }
        let beside: Vec<&CardState> = state
            .homes_on(hook)
            .filter(|other| other.card.id != kept.card.id)
            .collect();
        if beside.len() >= usize::from(state.capacity(hook)) {
            let who = |other: &&CardState| {
                let strayed = (!other.is_home()).then(|| state.place_of(other));
                (state.card_name(other), strayed)
            };
            return Err(Refusal::HookFull {
                hook_name,
                who: beside.iter().map(who).collect(),
            });
        }
        let at = self.hooks.iter().position(|&other| other == hook);
        let at = at.unwrap_or(0);
        let mut earlier = self.hooks[..at].iter().rev();
        let last = earlier.find_map(|&hook| self.ranks_on(hook));
        let mut later = self.hooks.iter().skip(at + 1);
        let next = later.find_map(|&hook| self.ranks_on(hook));
        let (last, next) = (last.map(|(_, last)| last), next.map(|(first, _)| first));
        let of_rank = |rank: Option<usize>| rank.and_then(|rank| self.others.get(rank).copied());
        Ok(Hanging {
            state,
            kept,
            hook,
            beside,
            before: of_rank(last),
            after: of_rank(next),
            keeps_order: self.in_between(last, next),
            belongs: (
                of_rank(self.before.checked_sub(1)),
                of_rank(Some(self.before)),
            ),
        })
    }
}

impl Hanging<'_> {
    /// Whether the card itself moves now. For a card that is away, only its hook changes.
    #[must_use]
    pub fn is_moved(&self) -> bool {
        self.kept.place.at.can_be_hung()
    }

    /// The rings hanging on the hook.
    pub fn hanging(&self) -> impl Iterator<Item = &Ring> {
        self.state.rings().filter(|ring| match ring.state {
            RingState::Hanging { hook, .. } => hook == self.hook,
            _ => false,
        })
    }

    /// The event that hangs it. If that is a target of the re-hang underway, it counts as a step of
    /// it.
    ///
    /// # Errors
    /// When the card no longer exists.
    pub fn event(&self, now: Timestamp) -> Result<Event, Refusal> {
        let card = self.kept.card.id;
        if self.kept.home == Some(self.hook) {
            return hang_home(self.state, card, now);
        }
        let one = HangStep {
            card,
            from: self.kept.place.at.hook(),
            to: Some(self.hook),
        };
        step(self.state, &one, now)
    }
}

/// Hangs a card on the hook with a name, if it is at hand. A card that is away, on a ring or
/// missing only gets another hook, which waits for it.
///
/// # Errors
/// When there is no such card or hook, the card is a split card or already belongs on that hook, or
/// the hook is blocked or full.
pub fn hang(
    state: &State,
    card: CardId,
    hook_name: &str,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let wall = Wall::new(state, card)?;
    wall.at(state.find_hook(hook_name)?)?.event(now)
}

#[cfg(test)]
mod tests;
