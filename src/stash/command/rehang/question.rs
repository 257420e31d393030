//! A re-hang as the engine sees it: hooks and cards as numbers, and its answers put back.

use std::collections::{HashMap, HashSet};

use super::unowned::{unowned, wanted_gaps};
use super::{Ask, HangStep, hand_first};
use crate::engine::instance::{EngineError, Instance};
use crate::engine::plans::{self, PlanHomes, Wishes};
use crate::engine::room::Room;
use crate::engine::work::order_of_work;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::order::Order;
use crate::stash::refusal::Refusal;
use crate::stash::state::{Kept, State};

/// Hooks in reading order, cards in wanted order, and what each may do.
pub(super) struct Question<'a> {
    state: &'a State,
    order: Order,
    /// Whether only some rows may change.
    some_rows: bool,
    /// Every hook.
    pub hooks: Vec<HookRef>,
    /// Places for cards on each hook in this re-hang.
    capacity: Vec<u32>,
    /// The cards that take part.
    pub cards: Vec<&'a Kept>,
    /// The home of each.
    pub now: Vec<Option<usize>>,
    /// Whether it stays there.
    stay: Vec<bool>,
    /// What touching it counts as.
    weight: Vec<u32>,
}

/// Whether a card may be given a home. Spare cards live on rings and have no hook, and a missing card
/// that never had one does not get one.
pub(super) fn takes_part(kept: &Kept) -> bool {
    let missing = matches!(kept.place.at, Whereabouts::Missing { .. });
    kept.card.parent.is_none() && (kept.home.is_some() || !missing)
}

/// The number of every hook.
pub(super) fn numbered(hooks: &[HookRef]) -> HashMap<HookRef, usize> {
    let hooks = hooks.iter().enumerate();
    hooks.map(|(at, &hook)| (hook, at)).collect()
}

impl<'a> Question<'a> {
    pub(super) fn new(state: &'a State, ask: &Ask) -> Result<Self, Refusal> {
        if state.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        let order = ask.order.clone().unwrap_or_else(|| state.order().into());
        let cards = state.in_order(&order, state.cards().filter(|kept| takes_part(kept)));
        if cards.is_empty() {
            return Err(Refusal::NoStock);
        }
        let pins: HashSet<CardId> = ask.pins.iter().copied().collect();
        let homeless = |kept: &&&Kept| kept.home.is_none() && pins.contains(&kept.card.id);
        if let Some(kept) = cards.iter().find(homeless) {
            return Err(Refusal::NoHomeYet(state.card_name(kept)));
        }
        let hooks: Vec<HookRef> = state.hooks().collect();
        let place = numbered(&hooks);
        let home = |kept: &Kept| kept.home.and_then(|hook| place.get(&hook).copied());
        let within = |hook: HookRef| ask.rows.as_ref().is_none_or(|rows| rows.have(hook));
        let stays = |kept: &Kept| {
            let stays = |hook| !within(hook) || pins.contains(&kept.card.id) || state.stays(kept);
            kept.home.is_some_and(stays)
        };
        let mut staying = vec![0; hooks.len()];
        for hook in cards
            .iter()
            .filter(|kept| stays(kept))
            .filter_map(|kept| home(kept))
        {
            staying[hook] += 1;
        }
        let open = |(at, &hook): (usize, &HookRef)| {
            let kept_free = |board: &crate::model::board::Board| board.kept_free(hook);
            if !within(hook) || state.board(hook.board).is_some_and(kept_free) {
                staying[at]
            } else {
                u32::from(state.capacity(hook))
            }
        };
        let capacity = hooks.iter().enumerate().map(open).collect();
        let mut question = Self {
            state,
            order,
            some_rows: ask.rows.is_some(),
            stay: cards.iter().map(|kept| stays(kept)).collect(),
            now: cards.iter().map(|kept| home(kept)).collect(),
            weight: Vec::new(),
            hooks,
            capacity,
            cards,
        };
        if question.some_rows {
            question.leave_out_what_belongs_elsewhere();
            if question.cards.is_empty() {
                return Err(Refusal::NothingToDo);
            }
        }
        let weight = |kept: &&Kept| u32::from(kept.card.touch.weight());
        question.weight = question.cards.iter().map(weight).collect();
        Ok(question)
    }

    /// Cards without a home that belong between two that stay, with no place there that may change,
    /// wait for another re-hang.
    fn leave_out_what_belongs_elsewhere(&mut self) {
        let open = self.open_gaps();
        let homes = self.now.iter().map(Option::is_some);
        let keep: Vec<bool> = homes.zip(open).map(|(home, open)| home || open).collect();
        let mut kept = keep.iter();
        self.cards.retain(|_| kept.next() == Some(&true));
        let mut kept = keep.iter();
        self.now.retain(|_| kept.next() == Some(&true));
        let mut kept = keep.iter();
        self.stay.retain(|_| kept.next() == Some(&true));
    }

    /// Whether between the cards that stay there is any place for another card, before each card and
    /// after the last.
    fn open_gaps(&self) -> Vec<bool> {
        let cards = self.cards.len();
        let stays = |at: usize| self.now[at].filter(|_| self.stay[at]);
        let mut staying = vec![0; self.hooks.len()];
        for hook in (0..cards).filter_map(stays) {
            staying[hook] += 1;
        }
        // Open hooks before each hook.
        let mut opens = vec![0; self.hooks.len() + 1];
        for (at, (places, staying)) in self.capacity.iter().zip(&staying).enumerate() {
            opens[at + 1] = opens[at] + usize::from(places > staying);
        }
        // The hooks of the nearest cards that stay, before and behind each gap.
        let mut low = vec![0; cards + 1];
        let mut high = vec![self.hooks.len(); cards + 1];
        for at in 0..cards {
            low[at + 1] = stays(at).unwrap_or(low[at]);
        }
        for at in (0..cards).rev() {
            high[at] = stays(at).map_or(high[at + 1], |hook| hook + 1);
        }
        (0..=cards)
            .map(|gap| low[gap] < high[gap] && opens[high[gap]] > opens[low[gap]])
            .collect()
    }

    /// The plans, or why there are none.
    pub(super) fn solve(&self, most: usize) -> Result<Vec<PlanHomes>, Refusal> {
        self.check_the_order_of_what_stays()?;
        // A pin is a weight that all other cards together do not reach.
        let others: u32 = self.weight.iter().sum();
        let weight: Vec<u32> = self
            .weight
            .iter()
            .zip(&self.stay)
            .map(|(weight, stay)| if *stay { others + 1 } else { *weight })
            .collect();
        let instance = Instance::new(self.capacity.clone(), self.now.clone())
            .map_err(|wrong| self.refusal(wrong))?;
        let free = instance.free().map_err(|wrong| self.refusal(wrong))?;
        let unowned = unowned(self.state, &self.order, &self.cards);
        let gaps = wanted_gaps(&unowned, &self.open_gaps(), free);
        let wishes = Wishes {
            room: Room {
                gaps: Some(&gaps),
                rows: None,
            },
            weight: Some(&weight),
            most,
        };
        let mut found = plans::plans(&instance, &wishes).map_err(|wrong| self.refusal(wrong))?;
        let moved = |plan: &PlanHomes| {
            let homes = self.now.iter().zip(&plan.homes.hook).zip(&self.stay);
            homes
                .enumerate()
                .find(|(_, ((now, new), stay))| **stay && **now != Some(**new))
                .map(|(at, _)| at)
        };
        if let Some(at) = found.first().and_then(moved) {
            return Err(self.out_of_reach(at));
        }
        found.retain(|plan| moved(plan).is_none());
        Ok(found)
    }

    /// Two cards that stay must hang in the order that is wanted.
    fn check_the_order_of_what_stays(&self) -> Result<(), Refusal> {
        let mut last: Option<usize> = None;
        for at in (0..self.cards.len()).filter(|&at| self.stay[at]) {
            if let Some(before) = last
                && self.now[before] > self.now[at]
            {
                return Err(self.clash(before, at));
            }
            last = Some(at);
        }
        Ok(())
    }

    fn named(&self, at: usize) -> (String, String) {
        let mark = self.cards[at].home.map(|hook| self.state.mark(hook));
        (
            self.state.card_name(self.cards[at]),
            mark.unwrap_or_default(),
        )
    }

    /// The refusal of two cards, by their ranks, that cannot both stay.
    fn clash(&self, first: usize, second: usize) -> Refusal {
        let (earlier, earlier_mark) = self.named(first);
        let (later, later_mark) = self.named(second);
        Refusal::PinsClash {
            earlier,
            earlier_mark,
            later,
            later_mark,
            crossed: self.now[first] > self.now[second],
            some_rows: self.some_rows,
        }
    }

    fn out_of_reach(&self, at: usize) -> Refusal {
        let (card, mark) = self.named(at);
        Refusal::PinOutOfReach { card, mark }
    }

    /// What the engine finds wrong, in the words of the stash.
    pub(super) fn refusal(&self, wrong: EngineError) -> Refusal {
        match wrong {
            EngineError::Short { places_short, .. } => Refusal::Short {
                short: usize::try_from(places_short).unwrap_or(usize::MAX),
                cards: self.cards.len(),
                have: self.capacity.iter().sum::<u32>() as usize,
            },
            // Homes are on boards and within capacity, by law.
            other => Refusal::Engine(other),
        }
    }

    /// The steps that give every card its new home.
    pub(super) fn work(&self, to: &[Option<usize>]) -> Result<Vec<HangStep>, EngineError> {
        work(self.state, &self.hooks, &self.cards, &self.now, to)
    }
}

/// The steps that take cards from the homes they have to those they are to have, both as numbers of
/// hooks. The hand is emptied first.
pub(super) fn work(
    state: &State,
    hooks: &[HookRef],
    cards: &[&Kept],
    now: &[Option<usize>],
    to: &[Option<usize>],
) -> Result<Vec<HangStep>, EngineError> {
    let places: Vec<u32> = hooks
        .iter()
        .map(|&hook| u32::from(state.capacity(hook)))
        .collect();
    let liftable: Vec<bool> = cards
        .iter()
        .map(|kept| kept.place.at.hook().is_some())
        .collect();
    let steps = order_of_work(&places, now, to, &liftable)?;
    let steps = steps.into_iter().map(|step| {
        let kept = cards[step.card];
        // A card that hangs on the wrong hook is fetched from there.
        let hangs = |home: usize| kept.place.at.hook().unwrap_or(hooks[home]);
        HangStep {
            card: kept.card.id,
            from: step.from.map(hangs),
            to: step.to.map(|hook| hooks[hook]),
        }
    });
    let in_hand = cards
        .iter()
        .find(|kept| kept.place.at == Whereabouts::Hand)
        .map(|kept| kept.card.id);
    Ok(hand_first(steps.collect(), in_hand))
}

#[cfg(test)]
mod tests;
