//! One card, written by hand: a card list of one row, all of which has to be taken.

use jiff::Timestamp;

use super::{Outcome, Terms, card_list};
use crate::model::card::{Card, TAG_SIGN, Tag};
use crate::model::ids::CardId;
use crate::stash::command::ring::kept;
use crate::stash::event::{Act, Change, Event};
use crate::stash::intake::CardRow;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// Writes a new card.
///
/// # Errors
/// When the row cannot be taken as it is, or the stash has a card of its number and tag.
pub fn new_card(state: &State, row: CardRow, now: Timestamp) -> Result<Event, Refusal> {
    let range = row.range.as_deref().unwrap_or_default();
    let tag = row.tag.as_deref().filter(|tag| !tag.trim().is_empty());
    let tag = tag.map_or_else(String::new, |tag| format!("{TAG_SIGN}{tag}"));
    let name = format!("{range}:{}{tag}", row.number);
    let there = state.find_card(&name).ok();
    let taken = taken(state, row, now)?;
    let mut changes = taken.event.iter().flat_map(|event| &event.changes);
    let new = changes.find_map(|change| match change {
        Change::Card {
            before: None,
            after: Some(card),
        } => Some(card.id),
        _ => None,
    });
    if let (Some(card), Some(event)) = (new, taken.event) {
        let act = Act::NewCard { card };
        return Ok(Event { act, ..event });
    }
    let there = there.and_then(|id| state.card(id));
    Err(there.map_or(Refusal::NoRows, |kept| Refusal::CardThere {
        card: state.card_name(kept),
        amount: state.amount_on(kept),
    }))
}

/// Writes anew what stands on a card, as far as the row says anything of it. Nothing where that is what
/// stands there.
///
/// # Errors
/// When the row cannot be taken as it is.
pub fn change_card(
    state: &State,
    card: CardId,
    mut row: CardRow,
    now: Timestamp,
) -> Result<Option<Event>, Refusal> {
    if let Some(kept) = state.card(card) {
        row.tag = Some(state.tag(kept).to_string());
    }
    let event = taken(state, row, now)?.event;
    Ok(event.map(|event| Event {
        act: Act::ChangeCard { card },
        ..event
    }))
}

/// Gives a card another tag, or none where it is empty. Nothing where it has that one.
///
/// # Errors
/// When the card is not there or a split card, the text is no tag, or another card of its range is
/// written so.
pub fn retag(state: &State, card: CardId, tag: &str) -> Result<Option<Event>, Refusal> {
    let kept = kept(state, card)?;
    if kept.card.parent.is_some() {
        return Err(Refusal::SplitCard(state.card_name(kept)));
    }
    let tag = Tag::new(tag)?;
    let other = state.written_alike(kept.card.range, &kept.card.number, &tag, Some(card));
    if let Some(other) = other {
        return Err(Refusal::CardThere {
            card: state.card_name(other),
            amount: state.amount_on(other),
        });
    }
    let after = Card {
        tag,
        ..kept.card.clone()
    };
    Ok((after != kept.card).then(|| Event {
        act: Act::ChangeCard { card },
        changes: vec![Change::Card {
            before: Some(kept.card.clone()),
            after: Some(after),
        }],
    }))
}

fn taken(state: &State, row: CardRow, now: Timestamp) -> Result<Outcome, Refusal> {
    let terms = Terms {
        strict: true,
        ..Terms::default()
    };
    card_list(state, &[row], Vec::new(), &terms, now)
}
