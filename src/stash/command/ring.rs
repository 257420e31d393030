//! Taking cards onto project rings, and putting every one away again.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::card::rejoin;
use super::{at_home, count, kept, once, place};
use crate::model::ids::{CardId, RingId};
use crate::model::label::Label;
use crate::model::ring::{Ring, RingState};
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Event, ring_changes};
use crate::stash::refusal::{NotHereNext, Refusal};
use crate::stash::state::{CardState, State};

/// The ring of a project before and after a card goes on it: it is opened or reopened if necessary,
/// and taken down if it was hanging.
///
/// # Errors
/// When the name isn't valid.
pub(super) fn for_project<'a>(
    state: &'a State,
    project: &str,
    now: Timestamp,
) -> Result<(Option<&'a Ring>, Ring), Refusal> {
    let (old, mut ring) = opened(state, project_name(project)?, now);
    ring.state = RingState::Live;
    Ok((old, ring))
}

/// The name of a project as it is recorded.
///
/// # Errors
/// When the name isn't valid.
pub(super) fn project_name(project: &str) -> Result<Label, Refusal> {
    let project = Label::new(project)?;
    if project.is_empty() {
        return Err(Refusal::NoProject);
    }
    Ok(project)
}

/// The ring of a project before and after opening: a new one, or the reopened one. A hanging ring
/// stays hanging.
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
        status: Label::default(),
        place: 0,
    });
    if ring.is_closed() {
        ring.went_out.clear();
        ring.opened = now;
        ring.state = RingState::Live;
    }
    (old, ring)
}

/// Opens a ring for a project, or reopens a closed one.
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

/// Takes cards onto the ring of a project, which is opened or reopened if necessary. A hanging ring
/// that gets a card is back in use. A split card may come from another ring.
///
/// # Errors
/// When no card is named, all are on this ring already, or one is on another ring, missing or elsewhere: then none is
/// taken. Those already on this ring stay as they are.
pub fn take(
    state: &State,
    project: &str,
    cards: &[CardId],
    now: Timestamp,
) -> Result<Event, Refusal> {
    taken(state, project, cards, OtherRings::Keep, now)
}

/// Like [`take`], but also takes cards from other rings.
///
/// # Errors
/// As [`take`], except for those cards.
pub fn take_also_from_rings(
    state: &State,
    project: &str,
    cards: &[CardId],
    now: Timestamp,
) -> Result<Event, Refusal> {
    taken(state, project, cards, OtherRings::GiveUp, now)
}

/// Whether other rings keep requested cards.
#[derive(Clone, Copy, PartialEq, Eq)]
enum OtherRings {
    Keep,
    GiveUp,
}

fn taken(
    state: &State,
    project: &str,
    cards: &[CardId],
    others: OtherRings,
    now: Timestamp,
) -> Result<Event, Refusal> {
    let (old, mut ring) = for_project(state, project, now)?;
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let there = |card: &CardId| {
        let kept = state.card(*card);
        kept.is_some_and(|kept| kept.place.at.ring() == Some(ring.id))
    };
    let all_there = cards.iter().all(there);
    let mut moves = Vec::with_capacity(cards.len());
    for &card in &cards {
        let kept = kept(state, card)?;
        let next = match kept.place.at.ring() {
            Some(on) if on == ring.id && all_there => Some(NotHereNext::Nothing),
            Some(on) if on == ring.id => continue,
            // A split card goes from ring to ring, because putting it away would rejoin it.
            Some(_) if kept.card.parent.is_some() || others == OtherRings::GiveUp => None,
            Some(_) | None => NotHereNext::of(&kept.place.at),
        };
        if let Some(next) = next {
            return Err(Refusal::NotHere {
                card: state.card_name(kept),
                place: state.place_of(kept).into(),
                next,
            });
        }
        // The latest time it was taken decides its position on the ring.
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

/// Puts cards from a ring away, each on its hook; a card without one becomes a card to hang.
///
/// A split card has no hook to go back to. To hang, its thread would be forgotten until its ring
/// closes, which a split card prevents. So the same event rejoins its thread with the card it was
/// split from, if that is at hand or on the same ring. Winding is manual work, so it isn't recorded
/// as done while that card isn't there to wind onto.
///
/// # Errors
/// When no card is named, one isn't on that ring, or one is a split card whose whole card is on
/// another ring, missing or elsewhere; then none is put away.
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

/// Why a split card can't be put away from a ring; `None` if it can.
fn stays(state: &State, ring: &Ring, split_card: &CardState) -> Option<Refusal> {
    let (whole, place) = state.rejoins(split_card).err()?;
    Some(Refusal::SplitCardStays {
        card: state.card_name(split_card),
        project: ring.project.to_string(),
        whole: state.card_name(whole),
        place: place.into(),
    })
}

/// The split cards that can't be put away from a ring now, because their whole cards are on other
/// rings, missing or elsewhere, each with the reason.
pub fn split_cards_that_stay<'a>(
    state: &'a State,
    ring: &'a Ring,
) -> impl Iterator<Item = (&'a CardState, Refusal)> {
    let split_cards = state.cards_on(ring);
    let split_cards = split_cards.filter(|kept| kept.card.parent.is_some());
    split_cards.filter_map(move |kept| stays(state, ring, kept).map(|why| (kept, why)))
}

/// Puts every card of a ring away, and rejoins its split cards. Split cards that can't be put away
/// stay on it; see [`split_cards_that_stay`].
///
/// # Errors
/// When there are no cards on it, or all of them have to stay.
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

/// Sets the status of a project, in the user's words; an empty text removes it. `None` if nothing
/// changes.
///
/// # Errors
/// When the text isn't a label.
pub fn status(ring: &Ring, words: &str) -> Result<Option<Event>, Refusal> {
    let mut after = ring.clone();
    after.status = Label::new(words)?;
    Ok((after != *ring).then(|| Event {
        act: Act::Status { ring: ring.id },
        changes: ring_changes(Some(ring), &after),
    }))
}

/// Reorders the open projects: the named ones first, in that order, then the others as before.
///
/// # Errors
/// When one doesn't exist or is closed, or they are already in that order.
pub fn order(state: &State, projects: &[String]) -> Result<Event, Refusal> {
    let mut first: Vec<&Ring> = Vec::with_capacity(projects.len());
    for project in projects {
        let ring = state.need_ring(project)?;
        if ring.is_closed() {
            return Err(Refusal::RingClosed(ring.project.to_string()));
        }
        if !first.iter().any(|other| other.id == ring.id) {
            first.push(ring);
        }
    }
    let others = state.rings_in_order().into_iter();
    let others = others.filter(|ring| first.iter().all(|other| other.id != ring.id));
    let after: Vec<&Ring> = first.iter().copied().chain(others).collect();
    reordered(state, after)
}

/// Moves an open project up or down the order by a number of steps, stopping at the end.
///
/// # Errors
/// When it is closed, or already at that end.
pub fn shift(state: &State, ring: &Ring, by: isize) -> Result<Event, Refusal> {
    let mut after = state.rings_in_order();
    let at = after.iter().position(|other| other.id == ring.id);
    let at = at.ok_or_else(|| Refusal::RingClosed(ring.project.to_string()))?;
    let to = at.saturating_add_signed(by).min(after.len() - 1);
    let moved = after.remove(at);
    after.insert(to, moved);
    reordered(state, after)
}

/// The event that puts the open projects in an order.
fn reordered(state: &State, after: Vec<&Ring>) -> Result<Event, Refusal> {
    let before = state.rings_in_order();
    let ids = |rings: &[&Ring]| -> Vec<RingId> { rings.iter().map(|ring| ring.id).collect() };
    if ids(&after) == ids(&before) {
        return Err(Refusal::RingOrderSame);
    }
    let changes = (1..).zip(after).flat_map(|(place, ring)| {
        let after = Ring {
            place,
            ..ring.clone()
        };
        ring_changes(Some(ring), &after)
    });
    Ok(Event {
        act: Act::OrderRings,
        changes: changes.collect(),
    })
}

/// Hangs a ring up on a hook.
///
/// # Errors
/// When the ring is closed, or the hook doesn't exist or is blocked.
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

/// Takes down a hanging ring.
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

/// Closes a ring.
///
/// # Errors
/// When it is already closed, or a card that was on it is neither put away, nor on another ring,
/// nor missing. A split card has to be rejoined.
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

/// Marks cards as missing, wherever they are thought to be. Each keeps its hook.
///
/// # Errors
/// When no card is named, or one is already missing.
pub fn missing(state: &State, cards: &[CardId], now: Timestamp) -> Result<Event, Refusal> {
    let cards = once(cards);
    if cards.is_empty() {
        return Err(Refusal::NoCards);
    }
    let mut changes = Vec::with_capacity(cards.len());
    for &card in &cards {
        let kept = kept(state, card)?;
        if kept.place.at.is_missing() {
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

/// A card that was missing or elsewhere is back and hangs on its hook again; without one, it
/// becomes a card to hang.
///
/// # Errors
/// When the card is neither.
pub fn found(state: &State, card: CardId, now: Timestamp) -> Result<Event, Refusal> {
    let kept = kept(state, card)?;
    if !kept.place.at.must_be_found() {
        return Err(Refusal::NotMissing {
            card: state.card_name(kept),
            place: state.place_of(kept).into(),
        });
    }
    let home = at_home(kept);
    Ok(Event {
        act: Act::Found { card },
        changes: vec![place(kept, home, now)],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::board::{Unhang, block};
    use crate::stash::command::rehang;
    use crate::stash::command::rehang::HangStep;
    use crate::stash::event::inverse;
    use crate::stash::testing::{Shown as _, add_cards, apply, at, id, place, wall};
    use crate::text;

    /// Cards 1 and 2 on their hooks A01 and A02, 3 to hang, and a free hook.
    fn stash() -> State {
        let mut state = wall(1, 3, 1);
        add_cards(&mut state, &["1@A01", "2@A02", "3"]);
        state
    }

    fn ids(state: &State, names: &[&str]) -> Vec<CardId> {
        names.iter().map(|name| id(state, name)).collect()
    }

    fn taken(state: &mut State, project: &str, names: &[&str]) {
        let event = take(state, project, &ids(state, names), at(1)).unwrap();
        apply(state, &event);
    }

    fn the_ring<'a>(state: &'a State, project: &str) -> &'a Ring {
        state.need_ring(project).unwrap()
    }

    fn on_ring(state: &State, project: &str) -> Vec<String> {
        let cards = state.cards_on(the_ring(state, project));
        cards.map(|kept| state.card_name(kept)).collect()
    }

    fn words(outcome: Result<Event, Refusal>) -> String {
        outcome.unwrap_err().shown()
    }

    #[test]
    fn cards_go_to_a_ring_once_in_the_order_named() {
        let mut state = stash();
        taken(&mut state, " Robin ", &["3", "1", "3"]);
        assert_eq!(on_ring(&state, "robin"), ["3", "1"]);
        assert_eq!(the_ring(&state, "ROBIN").project.as_str(), "Robin");
        let kept = state.card(id(&state, "1")).unwrap();
        assert_eq!(kept.home, state.find_hook("A01").ok());
        assert_eq!(kept.place.since, at(1));
        // A card taken later comes last, on the same ring.
        taken(&mut state, "robin", &["2"]);
        assert_eq!(on_ring(&state, "Robin"), ["3", "1", "2"]);
        assert_eq!(state.rings().len(), 1);
    }

    #[test]
    fn cards_on_the_ring_already_stay_and_the_others_are_taken() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1"]);
        taken(&mut state, "Robin", &["3", "1"]);
        assert_eq!(on_ring(&state, "Robin"), ["1", "3"]);
        assert_eq!(
            words(take(&state, "Robin", &ids(&state, &["3", "1"]), at(3))),
            "Card 3 is on the ring 'Robin'. Nothing is left to do."
        );
    }

    #[test]
    fn if_one_card_is_not_available_none_is_taken() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1"]);
        let event = missing(&state, &ids(&state, &["2"]), at(2)).unwrap();
        apply(&mut state, &event);
        let no = |project, names: &[&str]| words(take(&state, project, &ids(&state, names), at(3)));
        assert_eq!(
            no("Harbour", &["3", "1"]),
            "Card 1 is on the ring 'Robin'. Return it from there first."
        );
        assert_eq!(
            no("Harbour", &["2"]),
            "Card 2 is missing, last seen on hook A02. When it turns up, mark it as found first."
        );
        assert_eq!(no(" ", &["3"]), "A ring needs the name of its project.");
        assert_eq!(no("Harbour", &[]), "Name at least one card.");
        assert!(take(&state, "Harbour", &[CardId(99)], at(3)).is_err());
    }

    #[test]
    fn returned_cards_hang_on_their_hooks_or_become_cards_to_hang() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1", "2", "3"]);
        let ring = the_ring(&state, "Robin").clone();
        let event = give_back(&state, &ring, &ids(&state, &["2"]), at(2)).unwrap();
        apply(&mut state, &event);
        let hook = state.find_hook("A02").unwrap();
        assert_eq!(place(&state, "2"), Whereabouts::Hook { hook });
        assert_eq!(
            words(give_back(&state, &ring, &ids(&state, &["1", "2"]), at(3))),
            "Card 2 isn't on the ring 'Robin': it is at home on hook A02."
        );
        assert_eq!(
            words(give_back(&state, &ring, &[], at(3))),
            "Name at least one card."
        );
        let event = give_back_all(&state, &ring, at(3)).unwrap();
        apply(&mut state, &event);
        assert_eq!(place(&state, "3"), Whereabouts::Unhung);
        assert_eq!(
            words(give_back_all(&state, &ring, at(4))),
            "The ring 'Robin' has no cards on it."
        );
    }

    #[test]
    fn a_ring_is_hung_up_and_taken_down_again() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1"]);
        let event = block(&state, "A03", "bracket", Unhang::Refused, at(1)).unwrap();
        apply(&mut state, &event);
        let ring = the_ring(&state, "Robin").clone();
        assert_eq!(
            words(hang_up(&state, &ring, "A03", at(2))),
            "Hook A03 is blocked (bracket)."
        );
        assert!(words(hang_up(&state, &ring, "B01", at(2))).starts_with("There is no hook B01"));
        assert_eq!(
            words(take_down(&ring)),
            "The ring 'Robin' isn't hanging on a hook."
        );
        let event = hang_up(&state, &ring, "a1", at(2)).unwrap();
        apply(&mut state, &event);
        let kept = state.card(id(&state, "1")).unwrap();
        assert_eq!(
            text::places::place_of(&state, kept),
            "on the ring 'Robin', hanging on hook A01"
        );
        let event = take_down(the_ring(&state, "Robin")).unwrap();
        apply(&mut state, &event);
        assert_eq!(the_ring(&state, "Robin"), &ring);
        // Taking a card onto a hanging ring takes the ring down.
        let event = hang_up(&state, &ring, "A01", at(3)).unwrap();
        apply(&mut state, &event);
        taken(&mut state, "Robin", &["3"]);
        assert_eq!(the_ring(&state, "Robin").state, RingState::Live);
    }

    #[test]
    fn a_ring_closes_when_every_card_is_accounted_for() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1", "2", "3"]);
        let ring = the_ring(&state, "Robin").clone();
        let event = give_back(&state, &ring, &ids(&state, &["1"]), at(2)).unwrap();
        apply(&mut state, &event);
        assert_eq!(
            words(close(&state, &ring, at(3))),
            "The ring 'Robin' can't close: 2 (on the ring 'Robin'), 3 (on the ring 'Robin') not \
             accounted for. Return them, or mark them as missing."
        );
        let event = missing(&state, &ids(&state, &["2"]), at(3)).unwrap();
        apply(&mut state, &event);
        let event = give_back_all(&state, &ring, at(3)).unwrap();
        apply(&mut state, &event);
        // A card on another ring is accounted for.
        taken(&mut state, "Harbour", &["3"]);
        let event = close(&state, &ring, at(4)).unwrap();
        apply(&mut state, &event);
        let ring = the_ring(&state, "Robin").clone();
        assert_eq!(ring.state, RingState::Closed { at: at(4) });
        let closed = "The ring 'Robin' is closed. Take a card to it to open it again.";
        assert_eq!(words(close(&state, &ring, at(5))), closed);
        assert_eq!(words(hang_up(&state, &ring, "A01", at(5))), closed);
        // A reopened ring has forgotten its earlier cards.
        taken(&mut state, "robin", &["1"]);
        let ring = the_ring(&state, "Robin");
        assert_eq!(ring.went_out, ids(&state, &["1"]));
        assert_eq!((ring.state, ring.opened), (RingState::Live, at(1)));
    }

    #[test]
    fn the_invariant_itself_keeps_a_ring_open() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1"]);
        let ring = the_ring(&state, "Robin");
        let mut after = ring.clone();
        after.state = RingState::Closed { at: at(2) };
        let event = Event {
            act: Act::Close { ring: ring.id },
            changes: ring_changes(Some(ring), &after),
        };
        let before = state.clone();
        assert!(state.apply(&event).is_err());
        assert_eq!(state, before);
    }

    #[test]
    fn reopening_a_ring_can_be_undone_whatever_its_old_cards_do() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1"]);
        let ring = the_ring(&state, "Robin").clone();
        let event = give_back_all(&state, &ring, at(2)).unwrap();
        apply(&mut state, &event);
        let event = close(&state, &ring, at(3)).unwrap();
        apply(&mut state, &event);
        let aside = HangStep {
            card: id(&state, "1"),
            from: None,
            to: None,
        };
        let event = rehang::step(&state, &aside, at(4)).unwrap();
        apply(&mut state, &event);
        let before = state.clone();
        let event = take(&state, "Robin", &ids(&state, &["2"]), at(5)).unwrap();
        apply(&mut state, &event);
        let event = Event {
            act: Act::Undo { seq: 6 },
            changes: inverse(&event.changes),
        };
        apply(&mut state, &event);
        assert_eq!(state, before);
    }

    #[test]
    fn a_missing_card_keeps_its_hook_and_hangs_there_when_found() {
        let mut state = stash();
        taken(&mut state, "Robin", &["1"]);
        assert_eq!(
            words(found(&state, id(&state, "2"), at(2))),
            "Card 2 isn't missing: it is at home on hook A02."
        );
        let event = missing(&state, &ids(&state, &["1", "2", "3", "1"]), at(2)).unwrap();
        assert_eq!(event.act, Act::Missing { cards: 3 });
        apply(&mut state, &event);
        let said = |name| text::places::place_of(&state, state.card(id(&state, name)).unwrap());
        assert_eq!(said("1"), "missing, last seen on the ring 'Robin'");
        assert_eq!(said("2"), "missing, last seen on hook A02");
        assert_eq!(said("3"), "missing");
        assert_eq!(
            words(missing(&state, &ids(&state, &["3"]), at(3))),
            "Card 3 is missing. Nothing is left to do."
        );
        assert_eq!(
            words(missing(&state, &[], at(3))),
            "Name at least one card."
        );
        for name in ["1", "3"] {
            let event = found(&state, id(&state, name), at(3)).unwrap();
            apply(&mut state, &event);
        }
        let hook = state.find_hook("A01").unwrap();
        assert_eq!(place(&state, "1"), Whereabouts::Hook { hook });
        assert_eq!(place(&state, "3"), Whereabouts::Unhung);
    }

    #[test]
    fn an_unknown_project_is_refused_with_the_existing_rings() {
        let mut state = stash();
        let no = |state: &State| state.need_ring("Kite").unwrap_err().shown();
        assert_eq!(
            no(&state),
            "There is no ring for 'Kite'. There are no rings yet."
        );
        taken(&mut state, "Robin", &["1"]);
        assert_eq!(
            no(&state),
            "There is no ring for 'Kite'. The rings are: 'Robin'."
        );
    }

    #[test]
    fn projects_move_one_by_one_and_stop_at_the_ends() {
        let mut state = stash();
        for project in ["Robin", "Wren", "Heron"] {
            let event = open(&state, project, at(1)).unwrap();
            apply(&mut state, &event);
        }
        let moved = |state: &mut State, project: &str, by: isize| {
            let event = shift(state, state.need_ring(project).unwrap(), by)?;
            apply(state, &event);
            let names = state.rings_in_order().into_iter();
            let names: Vec<String> = names.map(|ring| ring.project.to_string()).collect();
            Ok::<String, Refusal>(names.join(" "))
        };
        let moved = |state: &mut State, project, by| moved(state, project, by).ok();
        assert_eq!(
            moved(&mut state, "Heron", -1).as_deref(),
            Some("Robin Heron Wren")
        );
        assert_eq!(
            moved(&mut state, "Heron", -9).as_deref(),
            Some("Heron Robin Wren")
        );
        assert_eq!(moved(&mut state, "Heron", -1), None);
        assert_eq!(
            moved(&mut state, "Robin", 1).as_deref(),
            Some("Heron Wren Robin")
        );
        assert_eq!(moved(&mut state, "Robin", 1), None);
        let event = close(&state, state.need_ring("Wren").unwrap(), at(2)).unwrap();
        apply(&mut state, &event);
        assert_eq!(moved(&mut state, "Wren", -1), None);
    }
}
