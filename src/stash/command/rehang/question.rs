//! Translates a re-hang for the engine: hooks and cards become numbers, and its answers cards
//! again.

use std::collections::{HashMap, HashSet};

use super::PlanRequest;
use super::work::{HangStep, hang_steps, numbered, takes_part};
use crate::engine::colour_families::family_of;
use crate::engine::instance::{EngineError, Instance, Rows};
use crate::engine::pareto::{self, PlanList, PlanOptions, WorkTimes};
use crate::engine::room::{Room, ToCome, to_come};
use crate::engine::schedule::Step;
use crate::model::board::{HookRef, ReadingOrder};
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, FamilyId, RangeId};
use crate::model::label::fold;
use crate::model::number::Number;
use crate::model::ring::ColourRef;
use crate::stash::order::{Depth, FamilyRanks, Order};
use crate::stash::projects::on_the_way::on_the_way;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Hooks in reading order, cards in wanted order, and the limits of each.
pub(super) struct Question<'a> {
    state: &'a State,
    order: Order,
    /// Whether only some rows may change.
    some_rows: bool,
    /// How long the work takes.
    pace: WorkTimes,
    /// Every hook.
    pub hooks: Vec<HookRef>,
    /// Places on each hook that this re-hang may use.
    capacity: Vec<u32>,
    /// The cards that take part.
    pub cards: Vec<&'a CardState>,
    /// The current home of each.
    pub now: Vec<Option<usize>>,
    /// Whether it stays there.
    stay: Vec<bool>,
    /// The effort of moving it.
    effort: Vec<u32>,
}

/// How many cards stay on each hook.
fn staying(hooks: usize, now: &[Option<usize>], stay: &[bool]) -> Vec<u32> {
    let mut staying = vec![0; hooks];
    let homes = now.iter().zip(stay).filter(|(_, stay)| **stay);
    for hook in homes.filter_map(|(home, _)| *home) {
        staying[hook] += 1;
    }
    staying
}

impl<'a> Question<'a> {
    pub(super) fn new(state: &'a State, ask: &PlanRequest) -> Result<Self, Refusal> {
        if state.boards().len() == 0 {
            return Err(Refusal::NoBoard);
        }
        let order = ask.order.clone().unwrap_or_else(|| state.order().into());
        let cards = state.in_order(&order, state.cards().filter(|kept| takes_part(kept)));
        if cards.is_empty() {
            return Err(Refusal::NoCardsYet);
        }
        let holds: HashSet<CardId> = ask.holds.iter().copied().collect();
        let to_hang = |kept: &&&CardState| kept.home.is_none() && holds.contains(&kept.card.id);
        if let Some(kept) = cards.iter().find(to_hang) {
            return Err(Refusal::NoHomeYet(state.card_name(kept)));
        }
        let hooks: Vec<HookRef> = state.hooks().collect();
        let place = numbered(&hooks);
        let home = |kept: &CardState| kept.home.and_then(|hook| place.get(&hook).copied());
        let within = |hook: HookRef| ask.rows.as_ref().is_none_or(|rows| rows.have(hook));
        let stays = |kept: &CardState| {
            let stays = |hook| !within(hook) || holds.contains(&kept.card.id) || state.stays(kept);
            kept.home.is_some_and(stays)
        };
        let stay: Vec<bool> = cards.iter().map(|kept| stays(kept)).collect();
        let now: Vec<Option<usize>> = cards.iter().map(|kept| home(kept)).collect();
        let staying = staying(hooks.len(), &now, &stay);
        let open = |(at, &hook): (usize, &HookRef)| {
            let reserved = |board: &crate::model::board::Board| board.reserved(hook);
            if !within(hook) || state.board(hook.board).is_some_and(reserved) {
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
            pace: ask.pace,
            stay,
            now,
            effort: Vec::new(),
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
        let effort = |kept: &&CardState| u32::from(kept.card.touch.effort());
        question.effort = question.cards.iter().map(effort).collect();
        Ok(question)
    }

    /// Leaves out cards without a home that belong between two staying cards, if no place there may
    /// change. They wait for another re-hang.
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

    /// For the gap before each card and after the last, whether there is any place for another card
    /// between the staying cards around it.
    fn open_gaps(&self) -> Vec<bool> {
        let cards = self.cards.len();
        let stays = |at: usize| self.now[at].filter(|_| self.stay[at]);
        let staying = staying(self.hooks.len(), &self.now, &self.stay);
        // Open hooks before each hook.
        let mut opens = vec![0; self.hooks.len() + 1];
        for (at, (places, staying)) in self.capacity.iter().zip(&staying).enumerate() {
            opens[at + 1] = opens[at] + usize::from(places > staying);
        }
        // The hooks of the nearest staying cards, before and behind each gap.
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

    /// The plans and the expected colours, or why there are no plans.
    pub(super) fn solve(
        &self,
        most: usize,
        go_on: &dyn Fn(usize) -> bool,
    ) -> Result<(PlanList, Expected), Refusal> {
        self.check_the_order_of_what_stays()?;
        let instance = Instance::new(self.capacity.clone(), self.now.clone())
            .and_then(|instance| instance.with_holds(&self.stay))
            .map_err(|wrong| self.refusal(wrong))?;
        // A gap without any possible free place wants none. If nothing is known about the colours
        // to come, all other gaps have the same share.
        let open = self.open_gaps();
        let mut colours = Unowned::new(self.state, &self.order, &self.cards);
        let share = |open: &bool| f64::from(u8::from(*open));
        let mut shut_out = 0;
        let gaps = colours.certain.iter_mut().zip(&mut colours.possible);
        for ((certain, possible), open) in gaps.zip(&open) {
            *possible *= share(open);
            if !open {
                shut_out += u64::from(std::mem::take(certain));
            }
        }
        if colours.possible.iter().sum::<f64>() == 0.0 {
            colours.possible = open.iter().map(share).collect();
        }
        let on_the_wall = |kept: &&CardState| kept.place.at.hook().is_some();
        let away: Vec<bool> = self.cards.iter().map(|kept| !on_the_wall(kept)).collect();
        let (family_start, row_of) = (self.family_starts(), self.rows());
        let by_family = !matches!(self.order, Order::Number);
        let room = Room {
            certain: Some(&colours.certain),
            possible: Some(&colours.possible),
        };
        let wishes = PlanOptions {
            rows: by_family.then_some(Rows {
                family_start: &family_start,
                row_of: &row_of,
            }),
            pace: self.pace,
            room,
            effort: Some(&self.effort),
            away: Some(&away),
            grid: Some(&self.grid()),
            most,
        };
        let free = instance.free().map_err(|wrong| self.refusal(wrong))?;
        let plans = pareto::plan_list(&instance, &wishes, go_on);
        let plans = plans.map_err(|wrong| self.refusal(wrong))?;
        let expected = Expected {
            to_come: to_come(free, &room),
            // Those that belong in unchanging rows may well have a place there.
            shut_out: if self.some_rows { 0 } else { shut_out },
        };
        Ok((plans, expected))
    }

    /// Checks that any two staying cards hang in the wanted order. The engine notices that too, but
    /// may first report another problem that is only a consequence.
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
        let hook_name = self.cards[at].home.map(|hook| self.state.hook_name(hook));
        (
            self.state.card_name(self.cards[at]),
            hook_name.unwrap_or_default(),
        )
    }

    /// The refusal for two cards, by their ranks, that can't both stay.
    fn clash(&self, first: usize, second: usize) -> Refusal {
        let (earlier, earlier_hook) = self.named(first);
        let (later, later_hook) = self.named(second);
        Refusal::HoldsClash {
            earlier,
            earlier_hook,
            later,
            later_hook,
            crossed: self.now[first] > self.now[second],
            some_rows: self.some_rows,
        }
    }

    /// Converts an error of the engine to a refusal.
    pub(super) fn refusal(&self, wrong: EngineError) -> Refusal {
        match wrong {
            EngineError::Short { places_short, .. } => Refusal::Short {
                short: usize::try_from(places_short).unwrap_or(usize::MAX),
                cards: self.cards.len(),
                have: self.capacity.iter().sum::<u32>() as usize,
            },
            EngineError::HoldsClash { first, second, .. } => self.clash(first, second),
            EngineError::HoldOutOfReach { card, .. } => {
                let (card, hook_name) = self.named(card);
                Refusal::HoldOutOfReach { card, hook_name }
            }
            EngineError::Stopped => Refusal::Stopped,
            // The invariants keep homes on boards and within capacity.
            other => Refusal::Engine(other),
        }
    }

    /// Whether each card is the first of its family.
    fn family_starts(&self) -> Vec<bool> {
        let mut last = None;
        let cards = self.cards.iter().map(|kept| {
            let family = Some(self.state.family_of(kept));
            let starts = family != last;
            last = family;
            starts
        });
        cards.collect()
    }

    /// The row of each hook, or its column on a board read by columns; numbered separately for each
    /// board.
    fn rows(&self) -> Vec<u32> {
        let mut rows = Vec::with_capacity(self.hooks.len());
        let mut last = None;
        let mut number = 0;
        for hook in &self.hooks {
            let board = self.state.board(hook.board);
            let by_columns = board.is_some_and(|board| board.reading == ReadingOrder::Columns);
            let row = (hook.board, if by_columns { hook.column } else { hook.row });
            number += u32::from(last.is_some_and(|last| last != row));
            last = Some(row);
            rows.push(number);
        }
        rows
    }

    /// Row and column of each hook, one board below the other.
    fn grid(&self) -> Vec<(u32, u32)> {
        let mut above = HashMap::new();
        let mut rows = 0;
        for board in self.state.boards() {
            above.insert(board.id, rows);
            rows += u32::from(board.rows);
        }
        let place = |hook: &HookRef| {
            let above = above.get(&hook.board).copied().unwrap_or(0);
            (above + u32::from(hook.row), u32::from(hook.column))
        };
        self.hooks.iter().map(place).collect()
    }

    /// Converts steps of the engine to steps with cards.
    pub(super) fn steps(&self, steps: Vec<Step>) -> Vec<HangStep> {
        hang_steps(&self.hooks, &self.cards, steps)
    }
}

/// The colours expected before the next re-hang.
pub(super) struct Expected {
    /// The colours expected to need places.
    pub to_come: ToCome,
    /// Certain ones for which no plan has a place.
    pub shut_out: u64,
}

/// How many colours without a card would come before each card, and after the last: one number more
/// than there are cards.
struct Unowned {
    /// Those on the way.
    certain: Vec<u32>,
    /// Other shades of the stash's ranges.
    possible: Vec<f64>,
}

impl Unowned {
    /// `cards` are in the wanted order.
    ///
    /// O((cards + shades) · log cards), plus finding the everyday family of each shade with a
    /// colour but no family.
    fn new(state: &State, order: &Order, cards: &[&CardState]) -> Self {
        let gaps = Gaps::new(state, order, cards);
        let mut certain = vec![0; cards.len() + 1];
        let mut possible = vec![0.0; cards.len() + 1];
        let mut coming = on_the_way(state);
        for range in state.ranges() {
            for (number, shade) in &range.shades {
                let bearing = state.index().numbered(&number.key());
                if bearing.iter().any(|(of, _)| *of == range.id) {
                    continue;
                }
                let colour = ColourRef::new(range.id, number.clone());
                let gap = gaps.of(&colour, shade.family, shade.colour);
                if coming.remove(&colour).is_some() {
                    certain[gap] += 1;
                } else {
                    possible[gap] += 1.0;
                }
            }
        }
        // Colours of a chart key that are in no list.
        for (colour, looks) in &coming {
            certain[gaps.of(colour, None, *looks)] += 1;
        }
        Self { certain, possible }
    }
}

/// The cards in the wanted order, and where a colour without a card would come.
///
/// A shade belongs to the family that its range gives it, else to the everyday family of its colour
/// if the stash has one with that name. Otherwise it comes last, like a card without a family. If
/// the order uses lightness, the colour decides the position within the family.
struct Gaps<'a> {
    order: &'a Order,
    ranks: FamilyRanks,
    /// The sort key of each card.
    keys: Vec<(usize, Depth, RangeId, &'a Number)>,
    /// The families by name.
    named: HashMap<String, FamilyId>,
}

impl<'a> Gaps<'a> {
    fn new(state: &State, order: &'a Order, cards: &[&'a CardState]) -> Self {
        let ranks = FamilyRanks::new(state, order);
        let card_rank = |kept: &CardState| match ranks.matter() {
            true => ranks.of(state.family_of(kept)),
            false => 0,
        };
        let keys = cards.iter().map(|kept| {
            let card = &kept.card;
            let depth = order.depth(card.colour);
            (card_rank(kept), depth, card.range, &card.number)
        });
        let keys = keys.collect();
        let families = state.families().iter();
        let named = families.map(|family| (fold(family.name.as_str()), family.id));
        Self {
            order,
            keys,
            named: named.collect(),
            ranks,
        }
    }

    /// The rank of the card that a colour comes before.
    fn of(&self, colour: &ColourRef, family: Option<FamilyId>, looks: Option<Srgb>) -> usize {
        let everyday = || self.named.get(family_of(looks?).name()).copied();
        let rank = if self.ranks.matter() {
            self.ranks.of(family.or_else(everyday))
        } else {
            0
        };
        let depth = self.order.depth(looks);
        let key = (rank, depth, colour.range, &colour.number);
        self.keys.partition_point(|card| *card < key)
    }
}

#[cfg(test)]
mod tests;
