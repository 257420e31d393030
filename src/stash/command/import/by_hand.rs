//! One card, written by hand: a stock list of one row, all of which has to be taken.

use jiff::Timestamp;

use super::{Outcome, Terms, stock};
use crate::model::ids::CardId;
use crate::stash::change::Change;
use crate::stash::event::{Act, Event};
use crate::stash::intake::StockRow;
use crate::stash::kit::words::amount_in_words;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;

/// Writes a new card.
///
/// # Errors
/// When the row cannot be taken as it is, or the stash has a card of its number.
pub fn new_card(state: &State, row: StockRow, now: Timestamp) -> Result<Event, Refusal> {
    let range = row.range.as_deref().unwrap_or_default();
    let there = state.find_card(&format!("{range}:{}", row.number)).ok();
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
        amount: amount_in_words(kept.strands(), state.put_up(&kept.card)),
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
    row: StockRow,
    now: Timestamp,
) -> Result<Option<Event>, Refusal> {
    let event = taken(state, row, now)?.event;
    Ok(event.map(|event| Event {
        act: Act::ChangeCard { card },
        ..event
    }))
}

fn taken(state: &State, row: StockRow, now: Timestamp) -> Result<Outcome, Refusal> {
    let terms = Terms {
        strict: true,
        ..Terms::default()
    };
    stock(state, &[row], Vec::new(), &terms, now)
}
