//! New homes for every card, with the fewest cards touched, one step at a time.

mod ask;
mod question;
mod underway;
mod unowned;

use jiff::Timestamp;

pub use self::ask::{PlanRequest, Rows, order_named};
use self::question::Question;
pub use self::underway::{begin, give_up, remaining, steps};
use super::kept;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// One thing to do with one card.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HangStep {
    /// Which card.
    pub card: CardId,
    /// The hook it comes from; `None` from the cards to hang or from the hand.
    pub from: Option<HookRef>,
    /// The hook it goes to; `None` to be set aside in the hand.
    pub to: Option<HookRef>,
}

/// A set of new homes, and the work it takes.
#[derive(Debug, Clone, PartialEq)]
pub struct RehangPlan {
    /// Cards on the wall that change their hook.
    pub touched: usize,
    /// Cards away from the wall whose home changes: only the mark on the card.
    pub relabel: usize,
    /// What those cards count as together, each by its effort; their number where none has one.
    pub effort: u64,
    /// Cards that get a home for the first time.
    pub newly_hung: usize,
    /// Colours to come that are expected to find no free place where they belong; lower is better. See
    /// [`crate::engine::room::room_score`].
    pub room: f64,
    /// Cards that the next new card is expected to touch; `None` where no place is free.
    pub touched_by_newcomer: Option<f64>,
    /// Families that go on in another row; `None` where the order does not go by family. See
    /// [`crate::engine::instance::family_breaks`].
    pub family_breaks: Option<usize>,
    /// Hooks the hand goes over, there and on, in rows and columns.
    pub travel: u64,
    /// The work in minutes, by an assumed pace. See [`crate::engine::pareto::WorkTimes`].
    pub minutes: f64,
    /// New home of every card that takes part, in the wanted order.
    pub homes: Vec<(CardId, HookRef)>,
    /// The work, in an order one hand can follow.
    pub steps: Vec<HangStep>,
}

impl RehangPlan {
    /// [`RehangPlan::room`] as people are told it: below ten so exactly that plans that differ are seen
    /// to.
    #[must_use]
    pub fn room_in_words(&self) -> String {
        if self.room >= 9.995 {
            format!("{:.1}", self.room)
        } else {
            format!("{:.2}", self.room)
        }
    }
}

/// The cards that a re-hang would give a home for the first time. Not among them are split cards, which
/// live on rings and are rejoined, and missing cards that never had a hook.
pub fn to_hang(state: &State) -> impl Iterator<Item = &CardState> {
    let may = state.cards().filter(|kept| question::takes_part(kept));
    may.filter(|kept| kept.home.is_none())
}

/// The plans for the stash as it stands, with nothing more wished. See [`plans_for`].
///
/// # Errors
/// As [`plans_for`].
pub fn plans(state: &State) -> Result<Vec<RehangPlan>, Refusal> {
    plans_for(state, &PlanRequest::default())
}

/// The plans for the stash as it stands. The first costs the least effort, hung or away, where a
/// card without an effort counts as 1; each further one gives more room for more work. Held cards
/// stay, and hooks reserved are left empty unless a card on them stays.
///
/// # Errors
/// When there is no board, no card, not enough places, or the cards that stay are in each other's
/// way.
pub fn plans_for(state: &State, ask: &PlanRequest) -> Result<Vec<RehangPlan>, Refusal> {
    plans_while(state, ask, &|_| true)
}

/// The same, as long as `go_on` says so: see [`crate::engine::pareto::plans_while`].
///
/// # Errors
/// As [`plans_for`], and when it says no.
pub fn plans_while(
    state: &State,
    ask: &PlanRequest,
    go_on: &dyn Fn(usize) -> bool,
) -> Result<Vec<RehangPlan>, Refusal> {
    let question = Question::new(state, ask)?;
    let found = question.solve(ask.most, go_on)?;
    let newly_hung = question.now.iter().filter(|home| home.is_none()).count();
    Ok(found
        .into_iter()
        .map(|plan| RehangPlan {
            touched: plan.touched,
            relabel: plan.relabel,
            effort: plan.effort_moved,
            newly_hung,
            room: plan.room,
            touched_by_newcomer: plan.touched_by_newcomer,
            family_breaks: plan.family_breaks,
            travel: plan.travel,
            minutes: plan.minutes,
            homes: question
                .cards
                .iter()
                .zip(&plan.homes.hook)
                .map(|(kept, &hook)| (kept.card.id, question.hooks[hook]))
                .collect(),
            steps: question.steps(plan.steps),
        })
        .collect())
}

/// Puts off what needs the hand until the card that is in it, left from an earlier re-hang, is hung.
///
/// A card is set aside and hung again in one row of steps, which can be done at any time: it is about
/// hooks that nothing else changes. See [`crate::engine::schedule::order_of_work`].
fn hand_first(steps: Vec<HangStep>, in_hand: Option<CardId>) -> Vec<HangStep> {
    let Some(hung) = steps.iter().position(|step| Some(step.card) == in_hand) else {
        return steps;
    };
    let mut first = Vec::with_capacity(steps.len());
    let mut later = Vec::new();
    let mut aside = None;
    for (at, step) in steps.into_iter().enumerate() {
        if step.to.is_none() {
            aside = Some(step.card);
        }
        if at > hung || aside.is_some() {
            later.push(step);
        } else {
            first.push(step);
        }
        if step.to.is_some() && aside == Some(step.card) {
            aside = None;
        }
    }
    first.append(&mut later);
    first
}

/// The event of one step, done as the plan says. A card on the wall, to hang or in the hand is
/// hung (or set aside); for a card that is away only its home changes. A step of a re-hang that is
/// underway counts for it, and its last step ends it.
///
/// # Errors
/// When the card is no longer there.
pub fn step(state: &State, step: &HangStep, now: Timestamp) -> Result<Event, Refusal> {
    let card = step.card;
    let kept = kept(state, card)?;
    let mut changes = vec![Change::Home {
        card,
        before: kept.home,
        after: step.to,
    }];
    // A card that hangs there by mistake is at home from now on, and stays where it is.
    let hangs_there = step.to.is_some() && kept.place.at.hook() == step.to;
    if kept.place.at.is_at_hand() && !hangs_there {
        let at = step
            .to
            .map_or(Whereabouts::Hand, |hook| Whereabouts::Hook { hook });
        changes.push(Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place { at, since: now }),
        });
    }
    changes.extend(underway::progress(state, step));
    Ok(Event {
        act: Act::Rehang { card },
        changes,
    })
}

#[cfg(test)]
mod tests;
