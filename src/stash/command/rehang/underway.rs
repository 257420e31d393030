//! A re-hang that is begun, goes on after a pause, and comes to its end.

use jiff::Timestamp;

use super::question::{numbered, takes_part, work};
use super::{HangStep, RehangPlan, step};
use crate::model::board::HookRef;
use crate::model::underway::Underway;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Begins a re-hang: from now on the stash knows which homes are aimed at, and how far it has come.
/// Steps are done with [`step`], and the last of them ends it.
///
/// # Errors
/// When one is underway already, or the plan has nothing to do.
pub fn begin(state: &State, plan: &RehangPlan, now: Timestamp) -> Result<Event, Refusal> {
    if state.underway().is_some() {
        return Err(already(state));
    }
    let aims: Vec<_> = plan
        .homes
        .iter()
        .filter(|(card, hook)| {
            state
                .card(*card)
                .is_some_and(|kept| kept.home != Some(*hook))
        })
        .copied()
        .collect();
    if aims.is_empty() {
        return Err(Refusal::NothingToDo);
    }
    let steps = u32::try_from(plan.steps.len()).unwrap_or(u32::MAX);
    Ok(Event {
        act: Act::BeginRehang { steps },
        changes: vec![Change::Underway {
            before: None,
            after: Some(Underway {
                homes: aims,
                steps,
                done: 0,
                begun: now,
            }),
        }],
    })
}

/// The refusal of a second re-hang while one is underway.
fn already(state: &State) -> Refusal {
    let (done, steps) = state.underway().map_or((0, 0), |u| (u.done, u.steps));
    Refusal::RehangUnderway { done, steps }
}

/// Gives up a re-hang that is underway. What was hung stays as it is.
///
/// # Errors
/// When none is underway.
pub fn give_up(state: &State) -> Result<Event, Refusal> {
    let underway = state.underway().ok_or(Refusal::NoRehangUnderway)?;
    let left = underway.homes.iter().filter(|&&aim| is_left(state, aim));
    let left = u32::try_from(left.count()).unwrap_or(u32::MAX);
    Ok(Event {
        act: Act::EndRehang { left },
        changes: vec![Change::Underway {
            before: Some(underway.clone()),
            after: None,
        }],
    })
}

/// Whether a card is still to be given the home aimed at. One that is gone, or that has lost its home
/// and went missing, is not.
fn is_left(state: &State, (card, aim): (crate::model::ids::CardId, HookRef)) -> bool {
    state
        .card(card)
        .is_some_and(|kept| kept.home != Some(aim) && takes_part(kept))
}

/// The steps of the re-hang underway that are left, worked out from where the cards are now. A card
/// that is away, on a ring or missing, only gets another mark; cards that came since stay where they
/// are. None are left where everything has come about by other ways.
///
/// O(hooks + cards · log cards).
///
/// # Errors
/// When none is underway, or what is aimed at can no longer be: a hook is blocked or gone, or its
/// places are taken.
pub fn remaining(state: &State) -> Result<Vec<HangStep>, Refusal> {
    let underway = state.underway().ok_or(Refusal::NoRehangUnderway)?;
    let hooks: Vec<HookRef> = state.hooks().collect();
    let place = numbered(&hooks);
    let cards: Vec<&CardState> = state.cards().filter(|kept| takes_part(kept)).collect();
    let now: Vec<Option<usize>> = cards
        .iter()
        .map(|kept| kept.home.and_then(|hook| place.get(&hook).copied()))
        .collect();
    let mut to = now.clone();
    for &(card, aim) in underway.homes.iter().filter(|&&aim| is_left(state, aim)) {
        // Cards come by id.
        let at = cards.binary_search_by_key(&card, |kept| kept.card.id);
        let hook = place.get(&aim).filter(|_| state.capacity(aim) > 0);
        match (at, hook) {
            (Ok(at), Some(&hook)) => to[at] = Some(hook),
            _ => return Err(unreachable_aim(state, aim)),
        }
    }
    let mut homes = vec![0; hooks.len()];
    for &hook in to.iter().flatten() {
        homes[hook] += 1;
    }
    let overfull = (0..hooks.len()).find(|&at| homes[at] > u32::from(state.capacity(hooks[at])));
    if let Some(at) = overfull {
        return Err(unreachable_aim(state, hooks[at]));
    }
    work(state, &hooks, &cards, &now, &to).map_err(Refusal::Engine)
}

fn unreachable_aim(state: &State, hook: HookRef) -> Refusal {
    Refusal::AimLost {
        hook_name: state.hook_name(hook),
    }
}

/// The events of a row of steps, each made on what the one before left.
///
/// O(steps · log cards) and the cost of a copy of the state.
///
/// # Errors
/// When a card is no longer there.
pub fn steps(state: &State, steps: &[HangStep], now: Timestamp) -> Result<Vec<Event>, Refusal> {
    let mut state = state.clone();
    let mut events = Vec::with_capacity(steps.len());
    for one in steps {
        let event = step(&state, one, now)?;
        state.apply(&event)?;
        events.push(event);
    }
    Ok(events)
}

/// How far the re-hang underway has come with a step; nothing where the step is none of its own. The
/// last step ends it.
pub(super) fn progress(state: &State, step: &HangStep) -> Option<Change> {
    let underway = state.underway()?;
    let aim = underway.homes.iter().find(|(card, _)| *card == step.card)?;
    if !is_left(state, *aim) || step.to.is_some_and(|to| to != aim.1) {
        return None;
    }
    // The steps go over the board from its first hook, so what is left is found soonest from the end.
    let others = underway.homes.iter().rev();
    let is_last = step.to.is_some()
        && !others
            .filter(|(card, _)| *card != step.card)
            .any(|&aim| is_left(state, aim));
    Some(if is_last {
        Change::Underway {
            before: Some(underway.clone()),
            after: None,
        }
    } else {
        Change::Progress {
            before: underway.done,
            after: underway.done.saturating_add(1),
        }
    })
}

#[cfg(test)]
mod tests;
