//! New homes for every card, with the fewest cards touched, one step at a time.

use jiff::Timestamp;

use crate::engine::instance::{EngineError, Instance};
use crate::engine::plans::{self, Wishes};
use crate::engine::work::order_of_work;
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::change::Change;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{Kept, State};

/// One thing to do with one card.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HangStep {
    /// Which card.
    pub card: CardId,
    /// The hook it comes from; `None` from the tray or from the hand.
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
    /// Cards that get a home for the first time.
    pub newly_hung: usize,
    /// How far the free places lie off an even layout, in places; lower is better. See
    /// [`crate::engine::room::room_score`].
    pub room: f64,
    /// Cards that the next new card is expected to touch; `None` where no place is free.
    pub touched_by_newcomer: Option<f64>,
    /// New home of every card that takes part, in the wanted order.
    pub homes: Vec<(CardId, HookRef)>,
    /// The work, in an order one hand can follow.
    pub steps: Vec<HangStep>,
}

/// The cards a re-hang is about, in the wanted order. Spare cards live on rings and have no hook,
/// and a missing card that never had one does not get one.
fn taking_part(state: &State) -> Vec<&Kept> {
    let missing = |kept: &Kept| matches!(kept.place.at, Whereabouts::Missing { .. });
    state.in_wanted_order(
        state
            .cards()
            .filter(|kept| kept.card.parent.is_none())
            .filter(|kept| kept.home.is_some() || !missing(kept)),
    )
}

/// Whether a card hangs on the wall now, on whichever hook.
fn on_the_wall(kept: &Kept) -> bool {
    kept.place.at.hook().is_some()
}

/// The plans for the stash as it stands. The first touches the fewest cards, hung or away, each
/// counted alike; each further one gives more room for more work.
///
/// # Errors
/// When there is no board, no card, or not enough places.
pub fn plans(state: &State) -> Result<Vec<RehangPlan>, Refusal> {
    if state.boards().len() == 0 {
        return Err(Refusal::NoBoard);
    }
    let cards = taking_part(state);
    if cards.is_empty() {
        return Err(Refusal::NoStock);
    }
    let hooks: Vec<HookRef> = state.hooks().collect();
    let place: std::collections::HashMap<HookRef, usize> = hooks
        .iter()
        .enumerate()
        .map(|(at, &hook)| (hook, at))
        .collect();
    let capacity: Vec<u32> = hooks
        .iter()
        .map(|&hook| u32::from(state.capacity(hook)))
        .collect();
    let now: Vec<Option<usize>> = cards
        .iter()
        .map(|kept| kept.home.and_then(|hook| place.get(&hook).copied()))
        .collect();
    let have = capacity.iter().sum::<u32>() as usize;
    let short = |wrong: EngineError| match wrong {
        EngineError::Short { places_short, .. } => Refusal::Short {
            short: usize::try_from(places_short).unwrap_or(usize::MAX),
            cards: cards.len(),
            have,
        },
        // Homes are on boards and within capacity, by law.
        other => Refusal::Engine(other),
    };
    let instance = Instance::new(capacity.clone(), now.clone()).map_err(short)?;
    let liftable: Vec<bool> = cards.iter().map(|kept| on_the_wall(kept)).collect();
    let in_hand = cards
        .iter()
        .find(|kept| kept.place.at == Whereabouts::Hand)
        .map(|kept| kept.card.id);
    let found = plans::plans(&instance, &Wishes::default()).map_err(short)?;
    found
        .into_iter()
        .map(|plan| {
            let to: Vec<Option<usize>> = plan.homes.hook.iter().copied().map(Some).collect();
            let work = order_of_work(&capacity, &now, &to, &liftable).map_err(short)?;
            let moved = |on_wall: bool| {
                let changes = now.iter().zip(&plan.homes.hook);
                changes
                    .zip(&liftable)
                    .filter(|((now, new), wall)| {
                        **wall == on_wall && now.is_some_and(|now| now != **new)
                    })
                    .count()
            };
            Ok(RehangPlan {
                touched: moved(true),
                relabel: moved(false),
                newly_hung: now.iter().filter(|home| home.is_none()).count(),
                room: plan.room,
                touched_by_newcomer: plan.touched_by_newcomer,
                homes: cards
                    .iter()
                    .zip(&plan.homes.hook)
                    .map(|(kept, &hook)| (kept.card.id, hooks[hook]))
                    .collect(),
                steps: hand_first(
                    work.into_iter()
                        .map(|step| {
                            let kept = cards[step.card];
                            // A card that hangs on the wrong hook is fetched from there.
                            let hangs = |home: usize| kept.place.at.hook().unwrap_or(hooks[home]);
                            HangStep {
                                card: kept.card.id,
                                from: step.from.map(hangs),
                                to: step.to.map(|hook| hooks[hook]),
                            }
                        })
                        .collect(),
                    in_hand,
                ),
            })
        })
        .collect()
}

/// Puts off what needs the hand until the card that is in it, left from an earlier re-hang, is hung.
///
/// A card is set aside and hung again in one row of steps, which can be done at any time: it is about
/// hooks that nothing else changes. See [`order_of_work`].
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

/// The event of one step, done as the plan says. A card on the wall, in the tray or in the hand is
/// hung (or set aside); for a card that is away only its home changes.
///
/// # Errors
/// When the card is no longer there.
pub fn step(state: &State, step: &HangStep, now: Timestamp) -> Result<Event, Refusal> {
    let card = step.card;
    let kept = state.card(card).ok_or_else(|| Refusal::UnknownCard {
        name: card.to_string(),
        hint: String::new(),
    })?;
    let mut changes = vec![Change::Home {
        card,
        before: kept.home,
        after: step.to,
    }];
    let at_hand = matches!(
        kept.place.at,
        Whereabouts::Hook { .. } | Whereabouts::Unhung | Whereabouts::Hand
    );
    if at_hand {
        let at = step
            .to
            .map_or(Whereabouts::Hand, |hook| Whereabouts::Hook { hook });
        changes.push(Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place { at, since: now }),
        });
    }
    Ok(Event {
        act: Act::Rehang { card },
        changes,
    })
}

#[cfg(test)]
mod tests;
