//! Which family a card is of: the person's choice, or what its range or colour says.

use crate::model::card::{Card, CardFamily};
use crate::model::ids::{CardId, FamilyId};
use crate::stash::colours::shade;
use crate::stash::command::families::Families;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// Puts cards in a family. From then on neither range nor colour counts for them, and no list
/// changes it that does not name a family for the card. Nothing moves until the next re-hang.
///
/// # Errors
/// When the name is no family, or all the cards were chosen for it before.
pub fn assign(state: &State, family: &str, cards: &[CardId]) -> Result<Event, Refusal> {
    let family = state.find_family(family)?;
    let changes = changed(state, cards, |_| CardFamily::Chosen(family.id));
    if changes.is_empty() {
        return Err(Refusal::FamilySame {
            family: family.name.to_string(),
            cards: called(state, cards),
        });
    }
    let act = Act::AssignFamily {
        name: family.name.to_string(),
        cards: count(&changes),
    };
    Ok(Event { act, changes })
}

/// Lets the range of cards say their family again, else their colour, worked out anew. An everyday
/// family that is not there yet is made.
///
/// # Errors
/// When that changes no card.
pub fn unassign(state: &State, cards: &[CardId]) -> Result<Event, Refusal> {
    let mut families = Families::new(state);
    let changes = changed(state, cards, |kept| by_itself(state, kept, &mut families));
    if changes.is_empty() {
        return Err(Refusal::FamilyNotChosen(called(state, cards)));
    }
    let act = Act::UnassignFamily {
        cards: count(&changes),
    };
    let changes = families.change(state).into_iter().chain(changes).collect();
    Ok(Event { act, changes })
}

/// What the family of a card is when nobody chooses: from the colour, unless its range says better.
pub(super) fn by_itself(state: &State, kept: &CardState, families: &mut Families) -> CardFamily {
    if of_range(state, kept).is_some() {
        return CardFamily::Unknown;
    }
    kept.card.colour.map_or(CardFamily::Unknown, |colour| {
        CardFamily::WorkedOut(families.of_colour(colour))
    })
}

/// The family that the range of a card says.
pub(super) fn of_range(state: &State, kept: &CardState) -> Option<FamilyId> {
    let range = state.range(kept.card.range)?;
    shade(range, &kept.card.number)?.1.family
}

/// The change of one card to another family, if it is another.
pub(super) fn into(kept: &CardState, family: CardFamily) -> Option<Change> {
    (kept.card.family != family).then(|| Change::Card {
        before: Some(kept.card.clone()),
        after: Some(Card {
            family,
            ..kept.card.clone()
        }),
    })
}

/// The changes of these cards, each once.
fn changed(
    state: &State,
    cards: &[CardId],
    mut to: impl FnMut(&CardState) -> CardFamily,
) -> Vec<Change> {
    let mut once = cards.to_vec();
    once.sort_unstable();
    once.dedup();
    let cards = once.into_iter().filter_map(|id| state.card(id));
    cards.filter_map(|kept| into(kept, to(kept))).collect()
}

fn called(state: &State, cards: &[CardId]) -> Vec<String> {
    let kept = cards.iter().filter_map(|&id| state.card(id));
    kept.map(|kept| state.card_name(kept)).collect()
}

fn count(changes: &[Change]) -> u32 {
    u32::try_from(changes.len()).unwrap_or(u32::MAX)
}
