//! The work of a re-hang: its steps in order, the steps left after a pause, and its end.

use std::collections::{HashMap, HashSet};

use jiff::Timestamp;

use crate::engine::instance::EngineError;
use crate::engine::schedule::{Step, order_of_work};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::command::kept;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// One step with one card.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HangStep {
    /// Which card.
    pub card: CardId,
    /// The hook it comes from; `None` for a card to hang or in the hand.
    pub from: Option<HookRef>,
    /// The hook it goes to; `None` to set it aside in the hand.
    pub to: Option<HookRef>,
}

/// Whether a card may get a home. Split cards belong on rings and have no hook, and a missing card
/// that never had one doesn't get one.
pub(super) fn takes_part(kept: &CardState) -> bool {
    let missing = kept.place.at.is_missing();
    kept.card.parent.is_none() && (kept.home.is_some() || !missing)
}

/// The number of each hook.
pub(super) fn numbered(hooks: &[HookRef]) -> HashMap<HookRef, usize> {
    let hooks = hooks.iter().enumerate();
    hooks.map(|(at, &hook)| (hook, at)).collect()
}

/// The steps that take cards from their current to their new homes, both as hook numbers.
fn work(
    state: &State,
    hooks: &[HookRef],
    cards: &[&CardState],
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
    Ok(hang_steps(hooks, cards, steps))
}

/// Converts steps of the engine to steps with cards. The hand is emptied first.
pub(super) fn hang_steps(
    hooks: &[HookRef],
    cards: &[&CardState],
    steps: Vec<Step>,
) -> Vec<HangStep> {
    let steps = steps.into_iter().map(|step| {
        let kept = cards[step.card];
        // A card on the wrong hook is fetched from there.
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
    hand_first(steps.collect(), in_hand)
}

/// Postpones steps that need the hand until the card left in it by an earlier re-hang is hung.
///
/// Setting a card aside and hanging it again is one block of steps, which can be done at any time
/// because nothing else changes its hooks. See [`crate::engine::schedule::order_of_work`].
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

/// The event of one step, done as planned. A card on the wall, to hang or in the hand is hung (or
/// set aside); a card that is away only gets another home. A step of the re-hang underway counts
/// for it, and its last step ends it.
///
/// # Errors
/// When the card no longer exists.
pub fn step(state: &State, step: &HangStep, now: Timestamp) -> Result<Event, Refusal> {
    let card = step.card;
    let kept = kept(state, card)?;
    let mut changes = vec![Change::Home {
        card,
        before: kept.home,
        after: step.to,
    }];
    // A card that hangs there by mistake now belongs there, and stays where it is.
    let hangs_there = step.to.is_some() && kept.place.at.hook() == step.to;
    if kept.place.at.can_be_hung() && !hangs_there {
        let at = step
            .to
            .map_or(Whereabouts::Hand, |hook| Whereabouts::Hook { hook });
        changes.push(Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place { at, since: now }),
        });
    }
    changes.extend(progress(state, step));
    Ok(Event {
        act: Act::Rehang { card },
        changes,
    })
}

/// Gives up the re-hang underway. Hung cards stay as they are.
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

/// Whether a card still has to get its target home. A card that was removed, or that has lost its
/// home and went missing, doesn't.
fn is_left(state: &State, (card, aim): (crate::model::ids::CardId, HookRef)) -> bool {
    state
        .card(card)
        .is_some_and(|kept| kept.home != Some(aim) && takes_part(kept))
}

/// The steps left of the re-hang underway, computed from where the cards are now. A card that is
/// away, on a ring or missing, only gets another home. Newer cards stay where they are. No steps
/// are left if everything was done in other ways.
///
/// O(hooks + cards · log cards).
///
/// # Errors
/// When none is underway, or its targets are no longer possible: a hook is blocked or gone, or its
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
        // Cards are sorted by id.
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

/// The events of several steps, each based on the result of the previous one.
///
/// O(steps · log cards) and the cost of a copy of the state.
///
/// # Errors
/// When a card no longer exists.
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

/// One event for several steps, so that a single undo reverts them all.
///
/// O(steps · log cards) and the cost of a copy of the state.
///
/// # Errors
/// As [`steps`].
pub fn all(state: &State, row: &[HangStep], now: Timestamp) -> Result<Event, Refusal> {
    let events = steps(state, row, now)?;
    let cards: HashSet<CardId> = row.iter().map(|step| step.card).collect();
    Ok(Event {
        act: Act::RehangAll {
            cards: u32::try_from(cards.len()).unwrap_or(u32::MAX),
        },
        changes: events.into_iter().flat_map(|event| event.changes).collect(),
    })
}

/// The progress of the re-hang underway after a step; `None` if the step isn't part of it. The last
/// step ends it.
fn progress(state: &State, step: &HangStep) -> Option<Change> {
    let underway = state.underway()?;
    let aim = underway.homes.iter().find(|(card, _)| *card == step.card)?;
    if !is_left(state, *aim) || step.to.is_some_and(|to| to != aim.1) {
        return None;
    }
    // The steps go over the board from its first hook, so searching from the end finds a remaining
    // one sooner.
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
mod tests {
    use super::*;
    use crate::model::whereabouts::Whereabouts;
    use crate::stash::command::board::{Unhang, block};
    use crate::stash::command::rehang::{RehangPlan, begin, plans};
    use crate::stash::command::ring;
    use crate::stash::event::inverse;
    use crate::stash::testing::{Shown as _, add_cards, apply, at, home, id, place, wall};

    /// 1 to 4 hang in reverse order on a wall of five hooks: a cycle that doesn't need the hand.
    fn stash() -> State {
        let mut state = wall(1, 5, 1);
        add_cards(&mut state, &["1@A04", "2@A03", "3@A02", "4@A01"]);
        state
    }

    fn begun(state: &mut State) -> RehangPlan {
        let plan = plans(state).unwrap().remove(1);
        let event = begin(state, &plan, at(1)).unwrap();
        apply(state, &event);
        plan
    }

    fn go_on(state: &mut State, most: usize) {
        let left = remaining(state).unwrap();
        let most = most.min(left.len());
        for event in steps(state, &left[..most], at(2)).unwrap() {
            apply(state, &event);
        }
    }

    fn done(state: &State) -> Option<(u32, u32)> {
        state
            .underway()
            .map(|underway| (underway.done, underway.steps))
    }

    fn hook_names(state: &State) -> Vec<String> {
        let cards = state.in_wanted_order(state.cards());
        cards
            .iter()
            .map(|kept| home(state, &state.card_name(kept)).unwrap_or_default())
            .collect()
    }

    #[test]
    fn a_re_hang_counts_its_steps_and_ends_with_the_last() {
        let mut state = stash();
        let plan = begun(&mut state);
        let steps = u32::try_from(plan.steps.len()).unwrap();
        assert_eq!(done(&state), Some((0, steps)));
        assert_eq!(remaining(&state).unwrap(), plan.steps);
        assert_eq!(
            begin(&state, &plan, at(2)).unwrap_err().to_string(),
            "rehang_underway"
        );
        let mut pasts = vec![state.clone()];
        let mut events = Vec::new();
        for (at_step, one) in plan.steps.iter().enumerate() {
            assert_eq!(done(&state), Some((u32::try_from(at_step).unwrap(), steps)));
            let event = step(&state, one, at(3)).unwrap();
            apply(&mut state, &event);
            events.push(event);
            pasts.push(state.clone());
        }
        assert_eq!(done(&state), None);
        assert_eq!(
            remaining(&state).unwrap_err().to_string(),
            "no_rehang_underway"
        );
        assert_eq!(
            give_up(&state).unwrap_err().to_string(),
            "no_rehang_underway"
        );
        // Undoing the steps passes through the same states, each with the re-hang underway.
        for (event, past) in events.iter().zip(&pasts).rev() {
            let back = Event {
                act: Act::Undo { seq: 1 },
                changes: inverse(&event.changes),
            };
            apply(&mut state, &back);
            assert_eq!(&state, past);
        }
    }

    #[test]
    fn a_re_hang_with_nothing_to_do_does_not_start() {
        let mut state = wall(1, 2, 1);
        add_cards(&mut state, &["1@A01"]);
        let plan = RehangPlan {
            homes: vec![(id(&state, "1"), state.find_hook("A01").unwrap())],
            steps: Vec::new(),
            ..plans(&state).unwrap().remove(1)
        };
        assert_eq!(begin(&state, &plan, at(1)), Err(Refusal::NothingToDo));
    }

    #[test]
    fn a_re_hang_continues_after_cards_left_and_others_came() {
        let mut state = stash();
        begun(&mut state);
        let first = remaining(&state).unwrap()[0];
        go_on(&mut state, 1);
        // Of the three left, one is now on a ring and one is missing, and two more are bought.
        let left: Vec<_> = ["1", "2", "3", "4"]
            .into_iter()
            .filter(|name| id(&state, name) != first.card)
            .collect();
        let event = ring::take(&state, "Robin", &[id(&state, left[0])], at(2)).unwrap();
        apply(&mut state, &event);
        let event = ring::missing(&state, &[id(&state, left[1])], at(2)).unwrap();
        apply(&mut state, &event);
        add_cards(&mut state, &["5", "6"]);
        go_on(&mut state, usize::MAX);
        assert_eq!(done(&state), None);
        assert!(place(&state, left[0]).ring().is_some());
        assert!(matches!(
            place(&state, left[1]),
            Whereabouts::Missing { .. }
        ));
        let hook_names = hook_names(&state);
        assert!(
            hook_names[..4].is_sorted()
                && hook_names[..4]
                    .iter()
                    .all(|hook_name| !hook_name.is_empty()),
            "{hook_names:?}"
        );
        assert_eq!(&hook_names[4..], ["", ""]);
        for name in ["5", "6"] {
            assert_eq!(place(&state, name), Whereabouts::Unhung);
        }
    }

    #[test]
    fn a_lost_target_is_refused_with_advice_to_plan_again() {
        let mut state = stash();
        begun(&mut state);
        let aim = remaining(&state).unwrap()[0].to.unwrap();
        let hook_name = state.hook_name(aim);
        let event = block(&state, &hook_name, "lamp", Unhang::Allowed, at(2)).unwrap();
        apply(&mut state, &event);
        assert_eq!(
            remaining(&state).unwrap_err().shown(),
            format!(
                "The re-hang underway can't go on: hook {hook_name} is no longer free for what \
                 was to hang there. End it, then plan again: homehook rehang --give-up"
            )
        );
        let event = give_up(&state).unwrap();
        assert!(matches!(event.act, Act::EndRehang { left } if left > 0));
        apply(&mut state, &event);
        assert_eq!(done(&state), None);
        // A card hung there by hand takes the place, too.
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01", "2", "3@A02"]);
        begun(&mut state);
        let free = state.find_hook("A03").unwrap();
        assert!(
            remaining(&state)
                .unwrap()
                .iter()
                .any(|step| step.to == Some(free))
        );
        add_cards(&mut state, &["9@A03"]);
        assert_eq!(remaining(&state).unwrap_err().to_string(), "aim_lost");
    }

    #[test]
    fn a_step_of_another_plan_does_not_count() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A02", "2@A01"]);
        begun(&mut state);
        let other = HangStep {
            card: id(&state, "1"),
            from: state.find_hook("A02").ok(),
            to: state.find_hook("A04").ok(),
        };
        let event = step(&state, &other, at(2)).unwrap();
        assert_eq!(event.changes.len(), 2);
        let (before, steps) = (done(&state), state.underway().unwrap().steps);
        apply(&mut state, &event);
        assert_eq!(done(&state), before);
        go_on(&mut state, usize::MAX);
        assert_eq!(done(&state), None);
        assert!(steps > 0);
    }

    #[test]
    fn cards_moved_by_hand_leave_nothing_to_do() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01", "2", "3@A02"]);
        begun(&mut state);
        add_cards(&mut state, &["3@A03", "2@A02"]);
        assert_eq!(remaining(&state).unwrap(), []);
        let event = give_up(&state).unwrap();
        assert_eq!(event.act, Act::EndRehang { left: 0 });
        apply(&mut state, &event);
    }
}
