//! Cards that leave the wall and the rings: lent, or kept in another place; or gone for good.

use jiff::Timestamp;

use super::ring::{count, kept, once, place};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::underway::Underway;
use crate::model::whereabouts::{Loan, Whereabouts};
use crate::stash::event::thread::given_up;
use crate::stash::event::{Act, Change, Event, ring_changes};
use crate::stash::refusal::{NotHereNext, Refusal};
use crate::stash::state::{CardState, State};

/// Says that cards are neither on the wall nor on a ring but in another place, told in words: in the
/// drawer of another room, or lent to somebody, with or without a place. Each keeps its home, and comes
/// back as a missing one does.
///
/// # Errors
/// When no card, or neither a place nor a loan is named, the place is no label, or a card is in that place already.
pub fn elsewhere(
    state: &State,
    cards: &[CardId],
    note: &str,
    loan: Option<Loan>,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let note = Label::new(note)?;
    if note.is_empty() && loan.is_none() {
        return Err(Refusal::NoPlaceNamed);
    }
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let to = Whereabouts::Elsewhere {
        note: note.clone(),
        loan: loan.clone(),
    };
    let mut changes = Vec::with_capacity(cards.len());
    for &card in &cards {
        let kept = kept(state, card)?;
        if kept.place.at == to {
            return Err(Refusal::NotHere {
                card: state.card_name(kept),
                place: state.place_of(kept).into(),
                next: NotHereNext::Nothing,
            });
        }
        changes.push(place(kept, to.clone(), now));
    }
    Ok(Event {
        act: Act::Elsewhere {
            cards: count(&cards),
            note,
            loan,
        },
        changes,
    })
}

/// Takes cards out of the stash for good, with the thread on them and the skeins beside them: given
/// away, thrown out. Wherever they are, their hooks are free. An undo brings them back as they were.
///
/// `why` is kept in the log; it may be empty.
///
/// # Errors
/// When no card is named, the reason is no label, or a split card with thread of a card would stay.
pub fn remove(state: &State, cards: &[CardId], why: &str) -> Result<Event, Refusal> {
    let why = Label::new(why)?;
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let going = cards
        .iter()
        .map(|&card| kept(state, card))
        .collect::<Result<Vec<_>, _>>()?;
    for whole in &going {
        let mut split_cards = state.split_cards_of(whole.card.id);
        if let Some(split_card) =
            split_cards.find(|split_card| !cards.contains(&split_card.card.id))
        {
            return Err(Refusal::SplitCardWouldStay {
                card: state.card_name(whole),
                split_card: state.card_name(split_card),
                place: state.place_of(split_card).into(),
            });
        }
    }
    // A split card goes before the card it was split from: no law is broken on the way back either.
    let (split_cards, wholes): (Vec<&CardState>, Vec<&CardState>) =
        going.iter().partition(|kept| kept.card.parent.is_some());
    let mut changes: Vec<Change> = without(state, &cards).into_iter().collect();
    changes.append(&mut cease(state, &[split_cards, wholes].concat()));
    Ok(Event {
        act: Act::Remove {
            cards: count(&cards),
            why,
        },
        changes,
    })
}

/// The re-hang underway without the cards that go; with them its end, where it aims at nothing else.
fn without(state: &State, cards: &[CardId]) -> Option<Change> {
    let before = state.underway()?;
    let mut after = before.clone();
    after.homes.retain(|(card, _)| !cards.contains(card));
    (after != *before).then(|| Change::Underway {
        before: Some(before.clone()),
        after: Some(after).filter(|after: &Underway| !after.homes.is_empty()),
    })
}

/// The changes by which cards cease to be, and no ring remembers them: their ids may be given to new
/// cards. O(cards · rings).
pub(super) fn cease(state: &State, cards: &[&CardState]) -> Vec<Change> {
    let is_gone = |id: &CardId| cards.iter().any(|kept| kept.card.id == *id);
    let rings = state.rings();
    let mut changes: Vec<Change> = rings
        .filter(|ring| ring.went_out.iter().any(is_gone))
        .flat_map(|ring| {
            let mut after = ring.clone();
            after.went_out.retain(|id| !is_gone(id));
            ring_changes(Some(ring), &after)
        })
        .collect();
    for kept in cards {
        let card = kept.card.id;
        changes.push(Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: None,
        });
        if kept.home.is_some() {
            changes.push(Change::Home {
                card,
                before: kept.home,
                after: None,
            });
        }
        changes.append(&mut given_up(card, &kept.thread));
        changes.push(Change::Card {
            before: Some(kept.card.clone()),
            after: None,
        });
    }
    changes
}

#[cfg(test)]
mod tests;
