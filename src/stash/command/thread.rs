//! Thread that goes from one card to another, and thread that is used.

use jiff::Timestamp;

use super::card::rejoin;
use super::kept;
use super::ring::for_project;
use crate::model::card::{Card, MoveCost, Tag};
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{DrawError, Lot, LotThread, Strands, Thread};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::thread::{added, brought, drawn};
use crate::stash::event::{Act, Change, Event, ring_changes};
use crate::stash::projects::needs::add_used;
use crate::stash::refusal::{Amount, NotHereNext, Refusal};
use crate::stash::state::{CardState, State};

/// Splits strands of a card off onto a split card, which goes on a project's ring; the ring is opened
/// (again) or taken up if need be. Where a split card of it is on the ring, it gets the strands.
///
/// The strands are of the lot that is named, else of those that [`Thread::draw`] chooses, and the split
/// card keeps their lots. `label` is written on the split card as its note; empty leaves the note as it
/// is.
///
/// # Errors
/// When no amount is said or there is less, the lot is not on the card, when the card is on that ring
/// itself, is missing or elsewhere, or is a split card.
pub fn split(
    state: &State,
    project: &str,
    card: CardId,
    amount: Strands,
    lot: Option<&Lot>,
    label: &str,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let label = Label::new(label)?;
    let from = kept(state, card)?;
    let (old, mut ring) = for_project(state, project, now)?;
    if from.card.parent.is_some() {
        return Err(Refusal::SplitCard(state.card_name(from)));
    }
    if from.place.at == (Whereabouts::Ring { ring: ring.id }) {
        return Err(not_here(state, from, NotHereNext::NoSplit));
    }
    at_hand(state, from)?;
    let lots = taken(state, from, amount, lot)?;
    let moved = thread_of(&lots);
    let there = old.and_then(|ring| split_cards_on(state, ring, card).next());
    let (split_card, cards) = match there {
        Some(there) => (there.card.id, more_on(state, there, &moved, label)?),
        None => {
            let split_card = Card {
                id: state.new_card_ids().draw(),
                tag: Tag::none(),
                note: label,
                parent: Some(card),
                touch: MoveCost::default(),
                ..from.card.clone()
            };
            ring.went_out.push(split_card.id);
            let at = Whereabouts::Ring { ring: ring.id };
            let place = Place { at, since: now };
            (split_card.id, new_split_card(split_card, place, &moved))
        }
    };
    let act = Act::Split {
        ring: ring.id,
        card: split_card,
        strands: amount,
    };
    let mut changes = Vec::with_capacity(cards.len() + lots.len() + 1);
    if old != Some(&ring) {
        changes.append(&mut ring_changes(old, &ring));
    }
    changes.extend(drawn(card, &lots));
    changes.extend(cards);
    Ok(Event { act, changes })
}

/// Strands of lots as the thread of a card.
fn thread_of(lots: &[(Lot, Strands)]) -> Thread {
    let lots = lots.iter().map(|(lot, strands)| {
        let of = LotThread {
            strands: *strands,
            ..LotThread::default()
        };
        (lot.clone(), of)
    });
    lots.collect()
}

/// More thread on a split card that is there, and another note where one is said.
fn more_on(
    state: &State,
    split_card: &CardState,
    moved: &Thread,
    label: Label,
) -> Result<Vec<Change>, Refusal> {
    let more = added(split_card.card.id, &split_card.thread, moved);
    let mut changes = more.ok_or_else(|| Refusal::TooMuch(state.card_name(split_card)))?;
    if !label.is_empty() && label != split_card.card.note {
        let written = Card {
            note: label,
            ..split_card.card.clone()
        };
        changes.push(Change::Card {
            before: Some(split_card.card.clone()),
            after: Some(written),
        });
    }
    Ok(changes)
}

/// A split card with its thread, where it is from the beginning.
fn new_split_card(split_card: Card, place: Place, thread: &Thread) -> Vec<Change> {
    let id = split_card.id;
    let mut changes = vec![Change::Card {
        before: None,
        after: Some(split_card),
    }];
    changes.extend(brought(id, thread));
    changes.push(Change::Place {
        card: id,
        before: None,
        after: Some(place),
    });
    changes
}

/// Rejoins the split cards of a card with it; the split cards cease to be. Those
/// on the ring are meant, or where there are none, those on no ring, of several the ones at hand; where
/// `card` is a split card itself, only that one.
///
/// # Errors
/// When there is no such split card, or it or the card it was split from is missing or elsewhere.
pub fn merge(state: &State, ring: &Ring, card: CardId) -> Result<Event, Refusal> {
    let named = kept(state, card)?;
    let whole = kept(state, named.card.parent.unwrap_or(card))?;
    let named = |split_card: &CardState| split_card.card.id == card || named.card.parent.is_none();
    let split_cards = |on: fn(&CardState, &Ring) -> bool| -> Vec<&CardState> {
        state
            .split_cards_of(whole.card.id)
            .filter(|split_card| named(split_card) && on(split_card, ring))
            .collect()
    };
    let mut meant = split_cards(|split_card, ring| split_card.place.at.ring() == Some(ring.id));
    if meant.is_empty() {
        meant = split_cards(|split_card, _| split_card.place.at.is_at_hand());
    }
    if meant.is_empty() {
        meant = split_cards(|split_card, _| split_card.place.at.ring().is_none());
    }
    if meant.is_empty() {
        let others = split_cards(|_, _| true);
        let others = others.iter().map(|split_card| state.place_of(split_card));
        return Err(Refusal::NoSplitCard {
            card: state.card_name(whole),
            project: ring.project.to_string(),
            others: others.collect(),
        });
    }
    for kept in meant.iter().copied().chain([whole]) {
        at_hand(state, kept)?;
    }
    let (changes, strands) = rejoin(state, &meant)?;
    let act = Act::Rejoin {
        card: whole.card.id,
        strands,
    };
    Ok(Event { act, changes })
}

/// Uses up strands of a card, of the lot that is named, else of those that [`Thread::draw`] chooses; with
/// a project, of what is on its ring: the split card of the colour, or else the card itself. What is
/// used of a card on a ring counts for the ring's key, if that is stitched in the colour (see
/// [`add_used`]).
///
/// # Errors
/// When no amount is said or there is less, the card is missing, or nothing of it is on the ring.
pub fn use_thread(
    state: &State,
    ring: Option<&Ring>,
    card: CardId,
    amount: Strands,
    lot: Option<&Lot>,
) -> Result<Event, Refusal> {
    let mut from = kept(state, card)?;
    if let Some(ring) = ring {
        if let Some(split_card) = split_cards_on(state, ring, card).next() {
            from = split_card;
        } else if from.place.at.ring() != Some(ring.id) {
            return Err(Refusal::NotOnRing {
                card: state.card_name(from),
                project: ring.project.to_string(),
                place: state.place_of(from).into(),
            });
        }
    }
    if matches!(from.place.at, Whereabouts::Missing { .. }) {
        at_hand(state, from)?;
    }
    let lots = taken(state, from, amount, lot)?;
    let mut changes: Vec<Change> = drawn(from.card.id, &lots).collect();
    if let Some(ring) = from.place.at.ring().and_then(|ring| state.ring(ring)) {
        let mut after = ring.clone();
        let used_cm = u64::from(amount.0) * u64::from(from.card.cut_cm);
        let colour = ColourRef::new(from.card.range, from.card.number.clone());
        add_used(&mut after, &colour, used_cm);
        changes.append(&mut ring_changes(Some(ring), &after));
    }
    Ok(Event {
        act: Act::Use {
            card: from.card.id,
            strands: amount,
            lots: lots
                .into_iter()
                .map(|(lot, _)| lot)
                .filter(|lot| !lot.is_unknown())
                .collect(),
        },
        changes,
    })
}

fn split_cards_on<'a>(
    state: &'a State,
    ring: &'a Ring,
    card: CardId,
) -> impl Iterator<Item = &'a CardState> {
    let of = move |kept: &&CardState| kept.card.parent == Some(card);
    state.cards_on(ring).filter(of)
}

fn not_here(state: &State, kept: &CardState, next: NotHereNext) -> Refusal {
    Refusal::NotHere {
        card: state.card_name(kept),
        place: state.place_of(kept).into(),
        next,
    }
}

/// Thread can be wound from and onto a card.
fn at_hand(state: &State, kept: &CardState) -> Result<(), Refusal> {
    match kept.place.at {
        Whereabouts::Missing { .. } => Err(not_here(state, kept, NotHereNext::WhenItTurnsUp)),
        _ if kept.place.at.must_be_found() => Err(not_here(state, kept, NotHereNext::SayFound)),
        _ => Ok(()),
    }
}

/// The lots that strands are taken from, and how many of each.
fn taken(
    state: &State,
    from: &CardState,
    amount: Strands,
    lot: Option<&Lot>,
) -> Result<Vec<(Lot, Strands)>, Refusal> {
    if amount == Strands(0) {
        return Err(Refusal::NoThread);
    }
    let put_up = state.put_up(&from.card);
    from.thread.draw(amount, lot).map_err(|wrong| match wrong {
        DrawError::NoSuchLot => Refusal::NoSuchLot {
            card: state.card_name(from),
            lot: lot.map_or_else(String::new, Lot::to_string),
            lots: from.thread.noted_lots().cloned().collect(),
        },
        DrawError::TooLittle { there } => Refusal::TooLittle {
            card: state.card_name(from),
            have: Amount {
                strands: there,
                put_up,
            },
            asked: Amount {
                strands: amount,
                put_up,
            },
        },
    })
}

#[cfg(test)]
mod tests;
