//! Taking cards to project rings, and getting every one back.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::card::rejoin;
use super::{at_home, count, kept, once, place};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::ring::{Ring, RingState};
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Event, ring_changes};
use crate::stash::refusal::{NotHereNext, Refusal};
use crate::stash::state::{CardState, State};

/// The ring of a project as it was, and as it is with a card going on it: opened (again), or taken
/// up if it was hanging.
///
/// # Errors
/// When the name is none.
pub(super) fn for_project<'a>(
    state: &'a State,
    project: &str,
    now: Timestamp,
) -> Result<(Option<&'a Ring>, Ring), Refusal> {
    let (old, mut ring) = opened(state, project_name(project)?, now);
    ring.state = RingState::Live;
    Ok((old, ring))
}

/// The name of a project, as it is written down.
///
/// # Errors
/// When the name is none.
pub(super) fn project_name(project: &str) -> Result<Label, Refusal> {
    let project = Label::new(project)?;
    if project.is_empty() {
        return Err(Refusal::NoProject);
    }
    Ok(project)
}

/// The ring of a project as it was, and as it is when it is not closed: a new one, or opened again.
/// A hanging ring stays hanging.
pub(super) fn opened(state: &State, project: Label, now: Timestamp) -> (Option<&Ring>, Ring) {
    let old = state.find_ring(project.as_str());
    let mut ring = old.cloned().unwrap_or_else(|| Ring {
        id: state.new_ring_id(),
        project,
        key: Vec::new(),
        used: BTreeMap::new(),
        fabric: None,
        went_out: Vec::new(),
        state: RingState::Live,
        opened: now,
    });
    if ring.is_closed() {
        ring.went_out.clear();
        ring.opened = now;
        ring.state = RingState::Live;
    }
    (old, ring)
}

/// Opens a ring for a project, or the closed one again.
///
/// # Errors
/// When the project has no name, or its ring is open.
pub fn open(state: &State, project: &str, now: Timestamp) -> Result<Event, Refusal> {
    let (old, ring) = opened(state, project_name(project)?, now);
    if old.is_some_and(|old| !old.is_closed()) {
        return Err(Refusal::RingOpen(ring.project.to_string()));
    }
    Ok(Event {
        act: Act::OpenRing { ring: ring.id },
        changes: ring_changes(old, &ring),
    })
}

/// Takes cards to the ring of a project, which is opened (again) if need be. A hanging ring that
/// gets a card is in use again. A split card may come from another ring.
///
/// # Errors
/// When no card is named, or one is on a ring, missing or elsewhere: then none is taken.
pub fn take(
    state: &State,
    project: &str,
    cards: &[CardId],
    now: Timestamp,
) -> Result<Event, Refusal> {
    let (old, mut ring) = for_project(state, project, now)?;
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let mut moves = Vec::with_capacity(cards.len());
    for &card in &cards {
        let kept = kept(state, card)?;
        let next = match &kept.place.at {
            Whereabouts::Hook { .. } | Whereabouts::Unhung | Whereabouts::Hand => None,
            Whereabouts::Ring { ring: on } if *on == ring.id => Some(NotHereNext::Nothing),
            // Putting it away would rejoin it, so a split card goes from ring to ring.
            Whereabouts::Ring { .. } if kept.card.parent.is_some() => None,
            Whereabouts::Ring { .. } => Some(NotHereNext::ReturnIt),
            Whereabouts::Missing { .. } => Some(NotHereNext::WhenItTurnsUp),
            Whereabouts::Elsewhere { .. } => Some(NotHereNext::SayFound),
        };
        if let Some(next) = next {
            return Err(Refusal::NotHere {
                card: state.card_name(kept),
                place: state.place_of(kept).into(),
                next,
            });
        }
        // The newest taking counts for the order on the ring.
        ring.went_out.retain(|&other| other != card);
        ring.went_out.push(card);
        moves.push(place(kept, Whereabouts::Ring { ring: ring.id }, now));
    }
    let act = Act::Take {
        ring: ring.id,
        cards: count(&cards),
    };
    let mut changes = ring_changes(old, &ring);
    changes.append(&mut moves);
    Ok(Event { act, changes })
}

/// Hangs cards back from a ring, each on its home hook; a card without one is to hang.
///
/// A split card has no place to go back to: left to hang, nobody would ask for its thread again until
/// its ring is to close, and a ring does not close over it. So its thread is rejoined, in the same
/// event, onto the card it was split from, where that one is at hand or on this very ring; winding
/// is work of the hands, so it is not said to be done where the card is not there to be wound onto.
///
/// # Errors
/// When no card is named, one is not on that ring, or one is a split card and the card it was split
/// from is on another ring, missing or elsewhere: then none is returned.
pub fn give_back(
    state: &State,
    ring: &Ring,
    cards: &[CardId],
    now: Timestamp,
) -> Result<Event, Refusal> {
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let mut hung = Vec::with_capacity(cards.len());
    let mut rejoined = Vec::new();
    for &card in &cards {
        let kept = kept(state, card)?;
        if kept.place.at.ring() != Some(ring.id) {
            return Err(Refusal::NotOnRing {
                card: state.card_name(kept),
                project: ring.project.to_string(),
                place: state.place_of(kept).into(),
            });
        }
        if kept.card.parent.is_none() {
            hung.push(place(kept, at_home(kept), now));
        } else if let Some(why) = stays(state, ring, kept) {
            return Err(why);
        } else {
            rejoined.push(kept);
        }
    }
    let act = Act::Return {
        ring: ring.id,
        cards: count(&hung),
        rejoined: count(&rejoined),
    };
    let (mut changes, _) = rejoin(state, &rejoined)?;
    changes.append(&mut hung);
    Ok(Event { act, changes })
}

/// Why a split card cannot be put away from a ring; nothing where it can.
fn stays(state: &State, ring: &Ring, split_card: &CardState) -> Option<Refusal> {
    let (whole, place) = state.rejoins(split_card).err()?;
    Some(Refusal::SplitCardStays {
        card: state.card_name(split_card),
        project: ring.project.to_string(),
        whole: state.card_name(whole),
        place: place.into(),
        on_ring: whole.place.at.ring().is_some(),
    })
}

/// The split cards that cannot be put away from a ring now, because the cards they were split from
/// are on other rings, missing or elsewhere, each with the reason.
pub fn split_cards_that_stay<'a>(
    state: &'a State,
    ring: &'a Ring,
) -> impl Iterator<Item = (&'a CardState, Refusal)> {
    let split_cards = state.cards_on(ring);
    let split_cards = split_cards.filter(|kept| kept.card.parent.is_some());
    split_cards.filter_map(move |kept| stays(state, ring, kept).map(|why| (kept, why)))
}

/// Hangs every card of a ring back, and rejoins its split cards. Split cards that cannot be put
/// away stay on it; see [`split_cards_that_stay`].
///
/// # Errors
/// When there is none on it, or all that are on it have to stay.
pub fn give_back_all(state: &State, ring: &Ring, now: Timestamp) -> Result<Event, Refusal> {
    let mut cards: Vec<CardId> = state.cards_on(ring).map(|kept| kept.card.id).collect();
    if cards.is_empty() {
        return Err(Refusal::EmptyRing(ring.project.to_string()));
    }
    let mut why = None;
    for (split_card, reason) in split_cards_that_stay(state, ring) {
        cards.retain(|&card| card != split_card.card.id);
        why.get_or_insert(reason);
    }
    match why {
        Some(why) if cards.is_empty() => Err(why),
        _ => give_back(state, ring, &cards, now),
    }
}

/// Leaves a ring hanging on a hook.
///
/// # Errors
/// When the ring is closed, or the hook is not there or blocked.
pub fn hang_up(
    state: &State,
    ring: &Ring,
    hook_name: &str,
    now: Timestamp,
) -> Result<Event, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    let hook = state.find_hook(hook_name)?;
    if let Some(why) = state
        .board(hook.board)
        .and_then(|board| board.blocked(hook))
    {
        return Err(Refusal::Blocked {
            hook_name: state.hook_name(hook),
            why: why.to_string(),
        });
    }
    let mut after = ring.clone();
    after.state = RingState::Hanging { hook, since: now };
    Ok(Event {
        act: Act::HangUp { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    })
}

/// Takes a hanging ring back into use.
///
/// # Errors
/// When it isn't hanging on a hook.
pub fn take_down(ring: &Ring) -> Result<Event, Refusal> {
    if !matches!(ring.state, RingState::Hanging { .. }) {
        return Err(Refusal::NotHanging(ring.project.to_string()));
    }
    let mut after = ring.clone();
    after.state = RingState::Live;
    Ok(Event {
        act: Act::TakeDown { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    })
}

/// Ends a project.
///
/// # Errors
/// When it is closed already, or a card that went out is neither home, nor on another ring, nor
/// declared missing. A split card is home nowhere.
pub fn close(state: &State, ring: &Ring, now: Timestamp) -> Result<Event, Refusal> {
    if ring.is_closed() {
        return Err(Refusal::RingClosed(ring.project.to_string()));
    }
    let left: Vec<&CardState> = state.unaccounted(ring).collect();
    let say = |kept: &&CardState| (state.card_name(kept), state.place_of(kept));
    if let Some(split_card) = left.iter().find(|kept| kept.card.parent.is_some()) {
        let split_cards = left.iter().filter(|kept| kept.card.parent.is_some());
        let whole = split_card.card.parent.and_then(|parent| state.card(parent));
        return Err(Refusal::SplitCardLeft {
            project: ring.project.to_string(),
            cards: split_cards.map(say).collect(),
            first: whole.map_or_else(String::new, |whole| state.card_name(whole)),
        });
    }
    if !left.is_empty() {
        return Err(Refusal::Unaccounted {
            project: ring.project.to_string(),
            cards: left.iter().map(say).collect(),
        });
    }
    let mut after = ring.clone();
    after.state = RingState::Closed { at: now };
    Ok(Event {
        act: Act::Close { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    })
}

/// Declares cards missing, wherever they are thought to be. Each keeps its home.
///
/// # Errors
/// When no card is named, or one is missing already.
pub fn missing(state: &State, cards: &[CardId], now: Timestamp) -> Result<Event, Refusal> {
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let mut changes = Vec::with_capacity(cards.len());
    for &card in &cards {
        let kept = kept(state, card)?;
        if matches!(kept.place.at, Whereabouts::Missing { .. }) {
            return Err(Refusal::NotHere {
                card: state.card_name(kept),
                place: state.place_of(kept).into(),
                next: NotHereNext::Nothing,
            });
        }
        let last_seen = kept.place.at.last_seen();
        changes.push(place(kept, Whereabouts::Missing { last_seen }, now));
    }
    Ok(Event {
        act: Act::Missing {
            cards: count(&cards),
        },
        changes,
    })
}

/// A card that was missing or elsewhere is back and hangs at home again; without a home it is to
/// hang.
///
/// # Errors
/// When the card is neither.
pub fn found(state: &State, card: CardId, now: Timestamp) -> Result<Event, Refusal> {
    let kept = kept(state, card)?;
    match kept.place.at {
        Whereabouts::Missing { .. } | Whereabouts::Elsewhere { .. } => {}
        _ => {
            return Err(Refusal::NotMissing {
                card: state.card_name(kept),
                place: state.place_of(kept).into(),
            });
        }
    }
    let home = at_home(kept);
    Ok(Event {
        act: Act::Found { card },
        changes: vec![place(kept, home, now)],
    })
}

#[cfg(test)]
mod tests;
