//! The event that the rows which are taken make together.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::Outcome;
use super::amounts::{of_known_card, of_new_card};
use super::draft::Draft;
use super::ranges::Ranges;
use crate::model::board::HookRef;
use crate::model::card::{Card, CardFamily, USUAL_CUT_CM};
use crate::model::ids::{CardId, RangeId};
use crate::model::range::Shade;
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::command::family::Families;
use crate::stash::event::thread::brought;
use crate::stash::event::{Act, Change, Event};
use crate::stash::refusal::Rejected;
use crate::stash::state::{CardState, State};

/// Makes the event of the rows that are taken.
pub(super) fn write_down(
    state: &State,
    ranges: Ranges,
    drafts: &[Draft<'_>],
    rejected: Vec<Rejected>,
    now: Timestamp,
) -> Outcome {
    let mut families = Families::new(state);
    let mut ids = state.new_card_ids();
    let (mut added, mut changed, mut usual_amount) = (0, 0, 0);
    let mut cards = Vec::new();
    let mut lifted = Vec::new();
    let mut hung = Vec::new();
    let mut used: BTreeSet<RangeId> = BTreeSet::new();
    for draft in drafts {
        used.insert(draft.range);
        let shade = ranges.shade(draft.range, &draft.number);
        let id = draft.known.map_or_else(|| ids.draw(), |kept| kept.card.id);
        let card = card(draft, shade, id, &mut families);
        let hangs = draft.hook.or_else(|| draft.known?.home);
        if let (Some(family), Some(hook)) = (card.family.id(), hangs) {
            families.seen_at(family, state, hook);
        }
        match draft.known {
            None => {
                added += 1;
                let (thread, unsaid) = of_new_card(draft);
                usual_amount += u32::from(unsaid);
                let at = draft
                    .hook
                    .map_or(Whereabouts::Unhung, |hook| Whereabouts::Hook { hook });
                cards.push(Change::Card {
                    before: None,
                    after: Some(card),
                });
                cards.append(&mut brought(id, &thread));
                cards.push(Change::Home {
                    card: id,
                    before: None,
                    after: draft.hook,
                });
                cards.push(Change::Place {
                    card: id,
                    before: None,
                    after: Some(Place { at, since: now }),
                });
            }
            Some(kept) => {
                let before = cards.len() + hung.len();
                if card != kept.card {
                    cards.push(Change::Card {
                        before: Some(kept.card.clone()),
                        after: Some(card),
                    });
                }
                cards.append(&mut of_known_card(draft, kept));
                if let Some(hook) = draft.hook {
                    rehome(kept, hook, now, &mut lifted, &mut hung);
                }
                changed += u32::from(cards.len() + hung.len() > before);
            }
        }
    }
    let mut changes: Vec<Change> = ranges.changes(&used).collect();
    changes.extend(families.change(state));
    changes.append(&mut cards);
    changes.append(&mut lifted);
    changes.append(&mut hung);
    let act = Act::ImportCards {
        added,
        changed,
        list: None,
    };
    let mut event = Event { act, changes };
    event.changes.extend(learn_order(state, &event));
    Outcome {
        event: (added + changed > 0).then_some(event),
        added,
        changed,
        usual_amount,
        onto_own: 0,
        rejected,
    }
}

/// The first cards that hang show what their owner orders the wall by; what was chosen later
/// stands.
fn learn_order(state: &State, event: &Event) -> Option<Change> {
    if state.cards().any(|kept| kept.home.is_some()) {
        return None;
    }
    let mut hung = state.clone();
    hung.apply(event).ok()?;
    let (before, after) = (state.order(), hung.order_on_the_wall());
    (before != after).then_some(Change::Order { before, after })
}

/// A known card goes to the hook its row names: off its old home first, so that cards can change
/// places, then on. Only a card on the wall, to hang or in the hand moves; one that is away keeps
/// away.
fn rehome(
    kept: &CardState,
    hook: HookRef,
    now: Timestamp,
    lifted: &mut Vec<Change>,
    hung: &mut Vec<Change>,
) {
    let card = kept.card.id;
    if kept.home != Some(hook) {
        if kept.home.is_some() {
            lifted.push(Change::Home {
                card,
                before: kept.home,
                after: None,
            });
        }
        hung.push(Change::Home {
            card,
            before: None,
            after: Some(hook),
        });
    }
    let here = Whereabouts::Hook { hook };
    if kept.place.at.is_at_hand() && kept.place.at != here {
        hung.push(Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place {
                at: here,
                since: now,
            }),
        });
    }
}

/// The card a row asks for: what the row says, else what was known, else what the range says.
fn card(draft: &Draft<'_>, shade: Option<&Shade>, id: CardId, families: &mut Families) -> Card {
    let old = draft.known.map(|kept| &kept.card);
    let name = draft.name.clone().filter(|name| !name.is_empty());
    let colour = draft
        .colour
        .or(old.and_then(|card| card.colour))
        .or(shade.and_then(|shade| shade.colour));
    let same_colour = old.is_some_and(|card| card.colour == colour);
    let family = match (&draft.family, old.map(|card| card.family)) {
        // A list that was written from the stash chooses nothing.
        (Some(name), Some(as_before)) if name.same_as(draft.family_now) => as_before,
        (Some(name), _) => CardFamily::Chosen(families.named(name)),
        (None, Some(chosen @ CardFamily::Chosen(_))) => chosen,
        (None, Some(as_before)) if same_colour => as_before,
        // The range says better than the colour sums.
        (None, _) if shade.is_some_and(|shade| shade.family.is_some()) => CardFamily::Unknown,
        (None, _) => colour.map_or(CardFamily::Unknown, |colour| {
            CardFamily::WorkedOut(families.of_colour(colour))
        }),
    };
    Card {
        id,
        range: draft.range,
        number: old.map_or_else(|| draft.number.clone(), |card| card.number.clone()),
        tag: old.map_or_else(|| draft.tag.clone(), |card| card.tag.clone()),
        name: name
            .or_else(|| old.map(|card| card.name.clone()).filter(|n| !n.is_empty()))
            .or_else(|| shade.map(|shade| shade.name.clone()))
            .unwrap_or_default(),
        colour,
        family,
        cut_cm: old.map_or(USUAL_CUT_CM, |card| card.cut_cm),
        put_up: old.and_then(|card| card.put_up),
        variegated: old.is_some_and(|card| card.variegated),
        note: draft
            .note
            .clone()
            .or_else(|| old.map(|card| card.note.clone()))
            .unwrap_or_default(),
        parent: old.and_then(|card| card.parent),
        touch: old.map(|card| card.touch).unwrap_or_default(),
    }
}
