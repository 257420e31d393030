//! What a re-hang leaves alone: held cards and families, cards that are costly to touch, and hooks
//! reserved. Nothing moves until the next re-hang.

use super::board::{board_of, edit};
use super::ring::{count, kept, once};
use crate::model::board::HookRef;
use crate::model::family::Family;
use crate::model::ids::CardId;
use crate::model::move_cost::{Effort, MoveCost};
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Holds cards to the hooks they belong on. An effort that one had is forgotten.
///
/// # Errors
/// When no card is named, one is a split card or has no home to stay on, or all are held already.
pub fn hold(state: &State, cards: &[CardId]) -> Result<Event, Refusal> {
    let named = no_split_cards(state, named(state, cards)?)?;
    if let Some(kept) = named.iter().find(|kept| kept.home.is_none()) {
        return Err(Refusal::NoHomeYet(state.card_name(kept)));
    }
    let changes = touch_changes(&named, |_| MoveCost::Held);
    if changes.is_empty() {
        return Err(Refusal::HeldAlready(names(state, &named)));
    }
    let cards = count(&changes);
    let act = Act::Hold { cards };
    Ok(Event { act, changes })
}

/// Refuses split cards: they have no hook, and no re-hang touches them.
fn no_split_cards<'a>(
    state: &'a State,
    named: Vec<&'a CardState>,
) -> Result<Vec<&'a CardState>, Refusal> {
    let split_card = named.iter().find_map(|kept| {
        let whole = kept.card.parent.and_then(|parent| state.card(parent))?;
        Some((kept, whole))
    });
    match split_card {
        None => Ok(named),
        Some((kept, whole)) => Err(Refusal::SplitCardHasNoHook {
            card: state.card_name(kept),
            whole: state.card_name(whole),
        }),
    }
}

/// Lets held cards move again.
///
/// # Errors
/// When no card is named, or none of them is held itself; a card can stay because its family is
/// held.
pub fn release(state: &State, cards: &[CardId]) -> Result<Event, Refusal> {
    let named = named(state, cards)?;
    let changes = touch_changes(&named, |touch| match touch {
        MoveCost::Held => MoveCost::Plain,
        other => other,
    });
    if changes.is_empty() {
        let with_family = |kept: &&&CardState| state.family_hold(kept).is_some();
        return Err(match named.iter().find(with_family) {
            Some(kept) => Refusal::HeldByFamily {
                card: state.card_name(kept),
                family: state.family_name(kept).to_owned(),
            },
            None => Refusal::NotHeld(names(state, &named)),
        });
    }
    let cards = count(&changes);
    let act = Act::Release { cards };
    Ok(Event { act, changes })
}

/// Lets every card and every family move again. Weights and hooks reserved stay as they are.
///
/// # Errors
/// When nothing is held.
pub fn release_all(state: &State) -> Result<Event, Refusal> {
    let held: Vec<&CardState> = state
        .cards()
        .filter(|kept| kept.card.touch == MoveCost::Held)
        .collect();
    let mut changes = touch_changes(&held, |_| MoveCost::Plain);
    let cards = count(&changes);
    let before = state.families().to_vec();
    let mut after = before.clone();
    for family in &mut after {
        family.held = false;
    }
    if after != before {
        changes.push(Change::Families { before, after });
    }
    if changes.is_empty() {
        return Err(Refusal::NothingHeld);
    }
    let act = Act::Release { cards };
    Ok(Event { act, changes })
}

/// Says how many plain cards touching each of these cards counts as; `None` = they are plain. A card
/// that was held moves again.
///
/// # Errors
/// When no card is named, one is a split card, or all count so already.
pub fn effort(state: &State, cards: &[CardId], effort: Option<Effort>) -> Result<Event, Refusal> {
    let named = no_split_cards(state, named(state, cards)?)?;
    let touch = effort.map_or(MoveCost::Plain, MoveCost::Costly);
    let changes = touch_changes(&named, |_| touch);
    let effort = touch.effort();
    if changes.is_empty() {
        let cards = names(state, &named);
        return Err(Refusal::EffortAlready { cards, effort });
    }
    let cards = count(&changes);
    let act = Act::Effort { cards, effort };
    Ok(Event { act, changes })
}

/// Holds families: every card of theirs that has a home stays there.
///
/// # Errors
/// When a name is no family, or all are held already.
pub fn hold_families(state: &State, families: &[String]) -> Result<Event, Refusal> {
    let (families, changes) = set_families(state, families, true)?;
    let act = Act::HoldFamilies { families };
    Ok(Event { act, changes })
}

/// Lets held families move again.
///
/// # Errors
/// When a name is no family, or none of them is held.
pub fn release_families(state: &State, families: &[String]) -> Result<Event, Refusal> {
    let (families, changes) = set_families(state, families, false)?;
    let act = Act::ReleaseFamilies { families };
    Ok(Event { act, changes })
}

/// Keeps a hook free: a re-hang leaves it empty, and gives a card that lives there another home.
///
/// # Errors
/// When there is no such hook, or it is reserved already.
pub fn reserve(state: &State, hook_name: &str) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let hook_name = state.hook_name(hook);
    let changes = vec![set_reserved(state, hook, true)?];
    let act = Act::Reserve { hook: hook_name };
    Ok(Event { act, changes })
}

/// Lets a re-hang use a hook again.
///
/// # Errors
/// When there is no such hook, or it isn't reserved.
pub fn unreserve(state: &State, hook_name: &str) -> Result<Event, Refusal> {
    let hook = state.find_hook(hook_name)?;
    let hook_name = state.hook_name(hook);
    let changes = vec![set_reserved(state, hook, false)?];
    let act = Act::Unreserve { hook: hook_name };
    Ok(Event { act, changes })
}

fn named<'a>(state: &'a State, cards: &[CardId]) -> Result<Vec<&'a CardState>, Refusal> {
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    once(cards)
        .into_iter()
        .map(|card| kept(state, card))
        .collect()
}

fn names(state: &State, cards: &[&CardState]) -> Vec<String> {
    cards.iter().map(|kept| state.card_name(kept)).collect()
}

/// The changes of the cards of which something else is to be said than before.
fn touch_changes(cards: &[&CardState], to: impl Fn(MoveCost) -> MoveCost) -> Vec<Change> {
    cards
        .iter()
        .filter(|kept| to(kept.card.touch) != kept.card.touch)
        .map(|kept| {
            let mut card = kept.card.clone();
            card.touch = to(card.touch);
            Change::Card {
                before: Some(kept.card.clone()),
                after: Some(card),
            }
        })
        .collect()
}

/// Holds or releases families, and counts those that were not so before.
fn set_families(
    state: &State,
    names: &[String],
    held: bool,
) -> Result<(u32, Vec<Change>), Refusal> {
    let before = state.families().to_vec();
    let mut after = before.clone();
    for name in names {
        let id = state.find_family(name)?.id;
        if let Some(family) = after.iter_mut().find(|family| family.id == id) {
            family.held = held;
        }
    }
    let differs = |(old, new): &(&Family, &Family)| old != new;
    match before.iter().zip(&after).filter(differs).count() {
        0 if held => Err(Refusal::HeldAlready(names.to_vec())),
        0 => Err(Refusal::NotHeld(names.to_vec())),
        families => Ok((
            u32::try_from(families).unwrap_or(u32::MAX),
            vec![Change::Families { before, after }],
        )),
    }
}

fn set_reserved(state: &State, hook: HookRef, reserved: bool) -> Result<Change, Refusal> {
    let old = board_of(state, hook)?;
    if old.reserved(hook) == reserved {
        let hook_name = state.hook_name(hook);
        return Err(Refusal::Reserved {
            hook_name,
            reserved,
        });
    }
    let mut board = old.clone();
    edit(&mut board, hook, |spec| spec.reserved = reserved);
    Ok(Change::Board {
        before: Some(old.clone()),
        after: Some(board),
    })
}

#[cfg(test)]
mod tests;
