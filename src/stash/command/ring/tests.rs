use super::*;
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::rehang::{self, HangStep};
use crate::stash::event::inverse;
use crate::stash::testing::{Shown as _, add_cards, apply, at, id, place, wall};
use crate::text;

/// Cards 1 and 2 at home on A01 and A02, 3 to hang, and a free hook.
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
fn cards_go_to_a_ring_in_the_order_named_each_once() {
    let mut state = stash();
    taken(&mut state, " Robin ", &["3", "1", "3"]);
    assert_eq!(on_ring(&state, "robin"), ["3", "1"]);
    assert_eq!(the_ring(&state, "ROBIN").project.as_str(), "Robin");
    let kept = state.card(id(&state, "1")).unwrap();
    assert_eq!(kept.home, state.find_hook("A01").ok());
    assert_eq!(kept.place.since, at(1));
    // A second taking goes behind, and no second ring comes of it.
    taken(&mut state, "robin", &["2"]);
    assert_eq!(on_ring(&state, "Robin"), ["3", "1", "2"]);
    assert_eq!(state.rings().len(), 1);
}

#[test]
fn a_card_that_is_not_here_is_not_taken_and_none_with_it() {
    let mut state = stash();
    taken(&mut state, "Robin", &["1"]);
    let event = missing(&state, &ids(&state, &["2"]), at(2)).unwrap();
    apply(&mut state, &event);
    let no = |project, names: &[&str]| words(take(&state, project, &ids(&state, names), at(3)));
    assert_eq!(
        no("Robin", &["3", "1"]),
        "card 1 is on the ring 'Robin'; nothing is left to do"
    );
    assert_eq!(
        no("Harbour", &["1"]),
        "card 1 is on the ring 'Robin'; return it from there first"
    );
    assert_eq!(
        no("Harbour", &["2"]),
        "card 2 is missing, last seen on hook A02; when it turns up, say that it is found first"
    );
    assert_eq!(no(" ", &["3"]), "a ring needs the name of its project");
    assert_eq!(no("Harbour", &[]), "name at least one card");
    assert!(take(&state, "Harbour", &[CardId(99)], at(3)).is_err());
}

#[test]
fn returned_cards_hang_at_home_or_are_to_hang() {
    let mut state = stash();
    taken(&mut state, "Robin", &["1", "2", "3"]);
    let ring = the_ring(&state, "Robin").clone();
    let event = give_back(&state, &ring, &ids(&state, &["2"]), at(2)).unwrap();
    apply(&mut state, &event);
    let hook = state.find_hook("A02").unwrap();
    assert_eq!(place(&state, "2"), Whereabouts::Hook { hook });
    assert_eq!(
        words(give_back(&state, &ring, &ids(&state, &["1", "2"]), at(3))),
        "card 2 is not on the ring 'Robin': it is at home on hook A02"
    );
    assert_eq!(
        words(give_back(&state, &ring, &[], at(3))),
        "name at least one card"
    );
    let event = give_back_all(&state, &ring, at(3)).unwrap();
    apply(&mut state, &event);
    assert_eq!(place(&state, "3"), Whereabouts::Unhung);
    assert_eq!(
        words(give_back_all(&state, &ring, at(4))),
        "the ring 'Robin' has no cards on it"
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
        "hook A03 is blocked (bracket)"
    );
    assert!(words(hang_up(&state, &ring, "B01", at(2))).starts_with("there is no hook B01"));
    assert_eq!(
        words(take_down(&ring)),
        "the ring 'Robin' isn't hanging on a hook"
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
    // A card that is taken to a hanging ring takes the ring up.
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
        "the ring 'Robin' cannot close: 2 (on the ring 'Robin'), 3 (on the ring 'Robin') \
         not accounted for; return them, or declare them missing"
    );
    let event = missing(&state, &ids(&state, &["2"]), at(3)).unwrap();
    apply(&mut state, &event);
    let event = give_back_all(&state, &ring, at(3)).unwrap();
    apply(&mut state, &event);
    // On another ring is accounted for.
    taken(&mut state, "Harbour", &["3"]);
    let event = close(&state, &ring, at(4)).unwrap();
    apply(&mut state, &event);
    let ring = the_ring(&state, "Robin").clone();
    assert_eq!(ring.state, RingState::Closed { at: at(4) });
    let closed = "the ring 'Robin' is closed; take a card to it to open it again";
    assert_eq!(words(close(&state, &ring, at(5))), closed);
    assert_eq!(words(hang_up(&state, &ring, "A01", at(5))), closed);
    // A ring that is opened again has forgotten the cards of before.
    taken(&mut state, "robin", &["1"]);
    let ring = the_ring(&state, "Robin");
    assert_eq!(ring.went_out, ids(&state, &["1"]));
    assert_eq!((ring.state, ring.opened), (RingState::Live, at(1)));
}

#[test]
fn the_law_itself_keeps_a_ring_open() {
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
fn opening_a_closed_ring_can_be_taken_back_whatever_its_old_cards_do() {
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
fn a_missing_card_keeps_its_home_and_hangs_there_when_found() {
    let mut state = stash();
    taken(&mut state, "Robin", &["1"]);
    assert_eq!(
        words(found(&state, id(&state, "2"), at(2))),
        "card 2 is not missing: it is at home on hook A02"
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
        "card 3 is missing; nothing is left to do"
    );
    assert_eq!(words(missing(&state, &[], at(3))), "name at least one card");
    for name in ["1", "3"] {
        let event = found(&state, id(&state, name), at(3)).unwrap();
        apply(&mut state, &event);
    }
    let hook = state.find_hook("A01").unwrap();
    assert_eq!(place(&state, "1"), Whereabouts::Hook { hook });
    assert_eq!(place(&state, "3"), Whereabouts::Unhung);
}

#[test]
fn an_unknown_project_is_refused_with_the_rings_there_are() {
    let mut state = stash();
    let no = |state: &State| state.need_ring("Kite").unwrap_err().shown();
    assert_eq!(
        no(&state),
        "there is no ring for 'Kite'; there are no rings yet"
    );
    taken(&mut state, "Robin", &["1"]);
    assert_eq!(
        no(&state),
        "there is no ring for 'Kite'; the rings are: 'Robin'"
    );
}
