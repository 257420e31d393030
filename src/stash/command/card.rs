//! Single cards: added by hand, lent or kept elsewhere, removed for good; and split cards rejoined.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;

use super::import::{CardRow, Outcome, Terms, card_list};
use super::{count, kept, once, place};
use crate::model::card::{Card, TAG_SIGN, Tag};
use crate::model::ids::CardId;
use crate::model::label::{Label, Name};
use crate::model::thread::{Strands, Thread, ThreadPart};
use crate::model::whereabouts::{Loan, Underway, Whereabouts};
use crate::stash::event::thread::{added, given_up};
use crate::stash::event::{Act, Change, Event, ring_changes};
use crate::stash::refusal::{NotHereNext, Refusal};
use crate::stash::state::{CardState, State};

/// Adds a new card, from a card list of one row.
///
/// # Errors
/// When the row can't be accepted as it is, or the stash has a card with its number and tag.
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

/// Edits a card with the values of a row. `None` if nothing changes.
///
/// # Errors
/// When the row can't be accepted as it is.
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

/// Gives a card another tag, or removes it if the text is empty. `None` if it already has that tag.
///
/// # Errors
/// When the card doesn't exist or is a split card, the text isn't a tag, or another card of its
/// range would be written the same.
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

/// Records that cards are neither on the wall nor on a ring but in another place, in the user's
/// words: in a drawer of another room, or lent to somebody, with or without a place. Each keeps its
/// hook, and comes back as a missing card does. Until then a card that is elsewhere already keeps
/// its loan and its place where none is given.
///
/// # Errors
/// When no card is named, neither a place nor a loan is given, the place isn't a label, or a card
/// is already in that place.
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
    let mut changes = Vec::with_capacity(cards.len());
    let mut all: Vec<(Label, Option<Loan>)> = Vec::with_capacity(cards.len());
    for &card in &cards {
        let kept = kept(state, card)?;
        let (note, loan) = match &kept.place.at {
            Whereabouts::Elsewhere {
                note: old,
                loan: lent,
            } => (
                if note.is_empty() { old } else { &note },
                loan.as_ref().or(lent.as_ref()),
            ),
            Whereabouts::Hook { .. }
            | Whereabouts::Ring { .. }
            | Whereabouts::Hand
            | Whereabouts::Missing { .. }
            | Whereabouts::Unhung => (&note, loan.as_ref()),
        };
        let place_and_loan = (note.clone(), loan.cloned());
        let to = Whereabouts::Elsewhere {
            note: note.clone(),
            loan: loan.cloned(),
        };
        if kept.place.at == to {
            return Err(Refusal::NotHere {
                card: state.card_name(kept),
                place: state.place_of(kept).into(),
                next: NotHereNext::Nothing,
            });
        }
        changes.push(place(kept, to, now));
        all.push(place_and_loan);
    }
    // Of cards that keep different loans, the act has what was given.
    all.dedup();
    let (note, loan) = match (all.pop(), all.is_empty()) {
        (Some(same), true) => same,
        _ => (note, loan),
    };
    Ok(Event {
        act: Act::Elsewhere {
            cards: count(&cards),
            note,
            loan,
        },
        changes,
    })
}

/// The day agreed with a person for all of these cards; `None` without one, or if the days differ.
#[must_use]
pub fn lent_until(state: &State, cards: &[CardId], whom: &Name) -> Option<Date> {
    let until = |&card: &CardId| {
        let loan = state.card(card)?.place.at.loan()?;
        loan.until.filter(|_| loan.whom == *whom)
    };
    let first = cards.first().and_then(until);
    first.filter(|_| cards.iter().all(|card| until(card) == first))
}

/// Removes cards from the stash for good, for example when they are given away or thrown out, with
/// the thread on them and their uncut skeins. Wherever they are, their hooks become free. An undo
/// restores them.
///
/// `why` is recorded in the history; it may be empty.
///
/// # Errors
/// When no card is named, the reason isn't a label, or a split card with thread of a card would
/// stay.
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
    // A split card goes before its whole card, so that no invariant is broken on the way back
    // either.
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

/// The re-hang underway without the removed cards, or its end if no other targets are left.
fn without(state: &State, cards: &[CardId]) -> Option<Change> {
    let before = state.underway()?;
    let mut after = before.clone();
    after.homes.retain(|(card, _)| !cards.contains(card));
    (after != *before).then(|| Change::Underway {
        before: Some(before.clone()),
        after: Some(after).filter(|after: &Underway| !after.homes.is_empty()),
    })
}

/// The changes that remove cards from the stash and from all rings, because their ids may be reused
/// for new cards. O(cards · rings).
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

/// The changes that remove split cards and return their thread to their whole cards, each lot to
/// its own; and the total number of strands. O(cards · rings).
///
/// # Errors
/// When a card would have more thread than can be counted.
pub(super) fn rejoin(
    state: &State,
    split_cards: &[&CardState],
) -> Result<(Vec<Change>, Strands), Refusal> {
    let mut onto: BTreeMap<CardId, Thread> = BTreeMap::new();
    for split_card in split_cards {
        let Some(parent) = split_card.card.parent else {
            continue;
        };
        let sum = onto.entry(parent).or_default();
        for (lot, of) in split_card.thread.lots() {
            sum.list(lot.clone(), of.kept_at.clone());
            let Some(all) = sum.lot_mut(lot) else {
                continue;
            };
            for part in ThreadPart::ALL {
                let more = all.amount(part).checked_add(of.amount(part));
                *all.amount_mut(part) = more.ok_or_else(|| too_much(state, parent))?;
            }
        }
    }
    let mut changes = cease(state, split_cards);
    let mut all = Strands(0);
    for (parent, thread) in onto {
        let Some(whole) = state.card(parent) else {
            continue;
        };
        let more = added(parent, &whole.thread, &thread);
        changes.append(&mut more.ok_or_else(|| too_much(state, parent))?);
        all.0 = all.0.saturating_add(thread.strands().0);
    }
    Ok((changes, all))
}

fn too_much(state: &State, card: CardId) -> Refusal {
    let name = state.card(card).map(|kept| state.card_name(kept));
    Refusal::TooMuch(name.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thread::Strands;
    use crate::stash::command::ring::{found, take};
    use crate::stash::command::thread::split;
    use crate::stash::command::{rehang, ring};
    use crate::stash::event::inverse;
    use crate::stash::testing::{Shown as _, add_cards, apply, at, id, wall};
    use crate::text;

    /// Cards 1 and 2 on their hooks A01 and A02, 3 to hang, and two free hooks.
    fn stash() -> State {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "2@A02", "3"]);
        state
    }

    fn ids(state: &State, names: &[&str]) -> Vec<CardId> {
        names.iter().map(|name| id(state, name)).collect()
    }

    fn words(outcome: Result<Event, Refusal>) -> String {
        outcome.unwrap_err().shown()
    }

    fn where_is(state: &State, name: &str) -> String {
        text::places::place_of(state, state.card(id(state, name)).unwrap())
    }

    /// Applies an event, and checks on a copy that undo and redo make no difference.
    fn done(state: &mut State, event: &Event) {
        let before = state.clone();
        apply(state, event);
        let mut back = state.clone();
        let undone = Event {
            act: Act::Undo { seq: 1 },
            changes: inverse(&event.changes),
        };
        apply(&mut back, &undone);
        assert_eq!(back, before);
    }

    #[test]
    fn a_lent_card_keeps_its_hook_and_comes_back_to_it() {
        let mut state = stash();
        let event = elsewhere(
            &state,
            &ids(&state, &["2", "3", "2"]),
            " with a friend ",
            None,
            at(1),
        )
        .unwrap();
        done(&mut state, &event);
        assert_eq!(
            text::history::act(&state, &event.act),
            "Put 2 cards elsewhere: with a friend"
        );
        assert_eq!(where_is(&state, "2"), "elsewhere: with a friend");
        let kept = state.card(id(&state, "2")).unwrap();
        assert_eq!(kept.home, state.find_hook("A02").ok());
        assert_eq!(kept.place.since, at(1));
        // It can't be taken while it is away.
        assert!(take(&state, "Robin", &ids(&state, &["2"]), at(2)).is_err());
        let event = found(&state, id(&state, "2"), at(3)).unwrap();
        done(&mut state, &event);
        assert_eq!(where_is(&state, "2"), "at home on hook A02");
    }

    #[test]
    fn a_place_elsewhere_must_be_given_and_must_differ() {
        let mut state = stash();
        let two = ids(&state, &["2"]);
        assert_eq!(
            words(elsewhere(&state, &two, "  ", None, at(1))),
            "Name its place in a word or two, such as 'with a friend' or 'drawer in the hall'."
        );
        assert_eq!(
            words(elsewhere(&state, &[], "a friend", None, at(1))),
            "Name at least one card."
        );
        let event = elsewhere(&state, &two, "a friend", None, at(1)).unwrap();
        done(&mut state, &event);
        assert_eq!(
            words(elsewhere(&state, &two, "a friend", None, at(2))),
            "Card 2 is elsewhere: a friend. Nothing is left to do."
        );
        // Lent on to someone else.
        let event = elsewhere(&state, &two, "Cleo", None, at(2)).unwrap();
        done(&mut state, &event);
        assert_eq!(where_is(&state, "2"), "elsewhere: Cleo");
    }

    #[test]
    fn a_card_given_away_takes_its_thread_and_leaves_all_rings() {
        let mut state = stash();
        let event = take(&state, "Robin", &ids(&state, &["1", "3"]), at(1)).unwrap();
        apply(&mut state, &event);
        let event = remove(&state, &ids(&state, &["1"]), "to the school").unwrap();
        assert_eq!(
            text::history::act(&state, &event.act),
            "Removed 1 card: to the school"
        );
        done(&mut state, &event);
        assert!(state.find_card("1").is_err());
        let hook = state.find_hook("A01").unwrap();
        assert_eq!(state.index().homes_on(hook).len(), 0);
        let robin = state.need_ring("Robin").unwrap();
        assert_eq!(robin.went_out, ids(&state, &["3"]));
        // The ring can be emptied and closed without it.
        let event = ring::give_back_all(&state, robin, at(2)).unwrap();
        apply(&mut state, &event);
        let event = ring::close(&state, state.need_ring("Robin").unwrap(), at(2)).unwrap();
        apply(&mut state, &event);
        // The number is free again.
        add_cards(&mut state, &["1@A03"]);
        assert_eq!(where_is(&state, "1"), "at home on hook A03");
    }

    #[test]
    fn a_split_card_cannot_outlive_its_whole_card() {
        let mut state = stash();
        let event = split(
            &state,
            "Robin",
            id(&state, "1"),
            Strands(4),
            None,
            "",
            at(1),
        )
        .unwrap();
        apply(&mut state, &event);
        assert_eq!(
            words(remove(&state, &ids(&state, &["1"]), "")),
            "Thread of card 1 is on the split card 1@Robin (on the ring 'Robin'). Name that too, \
             or rejoin it first."
        );
        for names in [&["1", "1@Robin"][..], &["1@Robin", "1"], &["1@Robin"]] {
            let mut state = state.clone();
            let event = remove(&state, &ids(&state, names), "").unwrap();
            done(&mut state, &event);
            assert_eq!(state.split_cards().count(), 0);
            assert_eq!(state.cards().count(), 4 - names.len());
        }
    }

    #[test]
    fn a_rehang_underway_continues_without_removed_cards_until_the_last() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["2@A01", "1@A02", "3"]);
        let plans = rehang::plans(&state).unwrap();
        let events = rehang::begin(&state, &plans[1], at(1)).unwrap();
        apply(&mut state, &events);
        let aims: Vec<CardId> = (state.underway().unwrap().homes.iter())
            .map(|(card, _)| *card)
            .collect();
        assert!(aims.len() > 1, "{aims:?}");
        for (at, &card) in aims.iter().enumerate() {
            let event = remove(&state, &[card], "").unwrap();
            done(&mut state, &event);
            let left = state.underway().map_or(0, |underway| underway.homes.len());
            assert_eq!(left, aims.len() - at - 1);
        }
        assert!(state.underway().is_none());
    }

    #[test]
    fn a_new_place_keeps_the_loan_until_the_card_is_back() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01", "2@A02"]);
        let (one, both) = ([id(&state, "1")], [id(&state, "1"), id(&state, "2")]);
        let whom = Name::new("a friend").unwrap();
        let until = Some("2026-11-01".parse().unwrap());
        let loan = Loan {
            whom: whom.clone(),
            until,
        };
        let event = elsewhere(&state, &one, "her bag", Some(loan), at(1)).unwrap();
        done(&mut state, &event);
        let event = elsewhere(&state, &one, "her desk", None, at(2)).unwrap();
        assert_eq!(
            crate::text::history::act(&state, &event.act),
            "Put 1 card elsewhere: lent to a friend until 2026-11-01: her desk"
        );
        done(&mut state, &event);
        assert_eq!(lent_until(&state, &one, &whom), until);
        assert_eq!(lent_until(&state, &both, &whom), None);
        // A loan to another person keeps the place; another card has no loan.
        let other = Loan {
            whom: Name::new("Cleo").unwrap(),
            until: None,
        };
        let event = elsewhere(&state, &one, "", Some(other), at(3)).unwrap();
        done(&mut state, &event);
        assert_eq!(where_is(&state, "1"), "lent to Cleo: her desk");
        let event = elsewhere(&state, &both, "the shop", None, at(4)).unwrap();
        done(&mut state, &event);
        assert_eq!(where_is(&state, "1"), "lent to Cleo: the shop");
        assert_eq!(where_is(&state, "2"), "elsewhere: the shop");
        let event = crate::stash::command::ring::found(&state, one[0], at(5)).unwrap();
        done(&mut state, &event);
        let event = elsewhere(&state, &one, "the shop", None, at(6)).unwrap();
        done(&mut state, &event);
        assert_eq!(where_is(&state, "1"), "elsewhere: the shop");
    }

    #[test]
    fn a_loan_names_the_borrower_and_the_date() {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01"]);
        let card = [id(&state, "1")];
        let whom = Name::new("a friend").unwrap();
        for (note, until, words) in [
            ("", None, "lent to a friend"),
            (
                "",
                Some(jiff::civil::date(2026, 11, 1)),
                "lent to a friend until 2026-11-01",
            ),
            ("by post", None, "lent to a friend: by post"),
        ] {
            let whom = whom.clone();
            let event = elsewhere(&state, &card, note, Some(Loan { whom, until }), at(1)).unwrap();
            apply(&mut state, &event);
            let kept = state.card(card[0]).unwrap();
            assert_eq!(text::places::place_of(&state, kept), words);
            assert_eq!(
                text::history::act(&state, &event.act),
                format!("Put 1 card elsewhere: {words}")
            );
        }
        let back = ring::found(&state, card[0], at(2)).unwrap();
        apply(&mut state, &back);
        assert!(state.card(card[0]).unwrap().is_home());
    }
}
