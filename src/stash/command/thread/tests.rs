use super::*;
use crate::stash::change::turned;
use crate::stash::command::ring::{close, give_back_all, missing, take};
use crate::stash::testing::{apply, at, bring_in, id, wall};

/// Cards 1 and 2 at home, each with a skein of 48 strands.
fn stash() -> State {
    let mut state = wall(1, 3, 1);
    bring_in(&mut state, &["Hill:1@A01", "Hill:2@A02"]);
    state
}

fn decanted(state: &mut State, project: &str, name: &str, strands: u32) -> CardId {
    let event = decant(state, project, id(state, name), Strands(strands), "", at(1)).unwrap();
    apply(state, &event);
    let Act::Decant { card, .. } = event.act else {
        panic!("{event:?}");
    };
    card
}

fn on(state: &State, card: CardId) -> u32 {
    state.card(card).unwrap().strands.0
}

fn merged(state: &mut State, project: &str, name: &str) -> Event {
    let ring = state.need_ring(project).unwrap();
    let event = merge(state, ring, id(state, name)).unwrap();
    apply(state, &event);
    event
}

fn words(outcome: Result<Event, Refusal>) -> String {
    outcome.unwrap_err().to_string()
}

#[test]
fn thread_goes_to_a_spare_card_on_the_ring_and_comes_back() {
    let mut state = stash();
    let whole = id(&state, "1");
    let first = state.clone();
    let event = decant(&state, " Robin ", whole, Strands(14), "for wings", at(1)).unwrap();
    apply(&mut state, &event);
    let ring = state.need_ring("robin").unwrap();
    let spare = state.cards_on(ring).next().unwrap();
    assert_eq!((spare.strands, on(&state, whole)), (Strands(14), 34));
    assert_eq!(
        (spare.card.parent, spare.card.note.as_str()),
        (Some(whole), "for wings")
    );
    assert_eq!((spare.card.reserve, spare.home), (0, None));
    // A spare card of the same range makes no number doubtful.
    assert_eq!(state.card_name(spare), "1 (spare)");
    assert_eq!(state.card_name(state.card(whole).unwrap()), "1");
    assert_eq!(id(&state, "1"), whole);

    let event = merged(&mut state, "Robin", "1");
    assert_eq!(state.cards().len(), 2);
    assert_eq!(on(&state, whole), 48);
    assert!(state.need_ring("Robin").unwrap().went_out.is_empty());
    let undo = Event {
        act: Act::Undo { seq: 3 },
        changes: turned(&event.changes),
    };
    apply(&mut state, &undo);
    assert_eq!((state.cards().len(), on(&state, whole)), (3, 34));
    assert_ne!(state, first);
}

#[test]
fn more_goes_to_the_spare_card_that_is_on_the_ring() {
    let mut state = stash();
    let spare = decanted(&mut state, "Robin", "1", 6);
    assert_eq!(decanted(&mut state, "robin", "1", 7), spare);
    let other = decanted(&mut state, "Kite", "1", 5);
    assert_ne!(other, spare);
    assert_eq!(
        [
            on(&state, id(&state, "1")),
            on(&state, spare),
            on(&state, other)
        ],
        [30, 13, 5]
    );
    // The spare cards of one ring are merged, those of another ring are not.
    merged(&mut state, "Robin", "1");
    assert_eq!(on(&state, id(&state, "1")), 43);
    let robin = state.need_ring("Robin").unwrap();
    assert_eq!(
        words(merge(&state, robin, id(&state, "1"))),
        "there is no spare card of 1 on the ring 'Robin'; there is one on the ring 'Kite': name \
         that project"
    );
    assert_eq!(
        words(merge(&state, robin, id(&state, "2"))),
        "there is no spare card of 2 on the ring 'Robin'; 'homehook ring list' shows what is on \
         the rings"
    );
}

#[test]
fn a_card_on_another_ring_is_decanted_from_there() {
    let mut state = stash();
    let card = id(&state, "1");
    let event = take(&state, "Robin", &[card], at(1)).unwrap();
    apply(&mut state, &event);
    decanted(&mut state, "Kite", "1", 6);
    assert_eq!(on(&state, card), 42);
    assert_eq!(
        words(decant(&state, "Robin", card, Strands(1), "", at(2))),
        "card 1 is on the ring 'Robin'; its thread need not be decanted"
    );
}

#[test]
fn what_cannot_be_decanted_is_refused() {
    let mut state = stash();
    let card = id(&state, "1");
    let no = |state: &State, card, strands| {
        words(decant(state, "Robin", card, Strands(strands), "", at(2)))
    };
    assert_eq!(
        no(&state, card, 49),
        "card 1 has 8 lengths, which is less than 8 lengths 1 strand; ask for no more than there is"
    );
    assert_eq!(
        no(&state, card, 0),
        "say how much thread: --lengths N, --strands N or both"
    );
    assert!(no(&state, CardId(77), 1).starts_with("no card"));
    assert_eq!(
        words(decant(&state, " ", card, Strands(1), "", at(2))),
        "a ring needs the name of its project"
    );
    let spare = decanted(&mut state, "Robin", "1", 48);
    assert_eq!(on(&state, card), 0);
    assert_eq!(
        no(&state, spare, 1),
        "card 1 (spare) is a spare card itself; decant from the card it was split from"
    );
    let event = missing(&state, &[card], at(3)).unwrap();
    apply(&mut state, &event);
    let gone =
        "card 1 is missing, last seen on hook A01; when it turns up, say that it is found first";
    assert_eq!(no(&state, card, 1), gone);
    // Nor can thread be wound onto it.
    let ring = state.need_ring("Robin").unwrap();
    assert_eq!(words(merge(&state, ring, card)), gone);
}

#[test]
fn a_ring_does_not_close_over_a_spare_card() {
    let mut state = stash();
    let spare = decanted(&mut state, "Robin", "1", 6);
    let ring = state.need_ring("Robin").unwrap().clone();
    let says = |place| {
        format!(
            "the ring 'Robin' cannot close: 1 (spare) ({place}) not accounted for; wind the thread \
             back onto the card it came from: homehook ring merge \"Robin\" 1"
        )
    };
    assert_eq!(
        words(close(&state, &ring, at(2))),
        says("on the ring 'Robin'")
    );
    // In the tray it would be forgotten.
    let event = give_back_all(&state, &ring, at(2)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        words(close(&state, &ring, at(3))),
        says("in the tray, not hung yet")
    );
    merged(&mut state, "Robin", "1");
    assert!(state.card(spare).is_none());
    let event = close(&state, state.need_ring("Robin").unwrap(), at(4)).unwrap();
    apply(&mut state, &event);
}

#[test]
fn a_spare_card_that_was_missing_can_be_merged_and_a_new_card_is_not_taken_for_it() {
    let mut state = stash();
    let spare = decanted(&mut state, "Robin", "1", 6);
    let event = missing(&state, &[spare], at(2)).unwrap();
    apply(&mut state, &event);
    merged(&mut state, "Robin", "1");
    assert_eq!(on(&state, id(&state, "1")), 48);
    bring_in(&mut state, &["Hill:3"]);
    assert_eq!(id(&state, "3"), spare);
    assert!(state.rings().all(|ring| !ring.went_out.contains(&spare)));
}

#[test]
fn thread_is_used_from_the_card_or_from_what_is_on_a_ring() {
    let mut state = stash();
    let (one, two) = (id(&state, "1"), id(&state, "2"));
    let event = use_thread(&state, None, one, Strands(7)).unwrap();
    apply(&mut state, &event);
    assert_eq!(on(&state, one), 41);
    let spare = decanted(&mut state, "Robin", "1", 6);
    let event = take(&state, "Robin", &[two], at(2)).unwrap();
    apply(&mut state, &event);
    let ring = state.need_ring("Robin").unwrap().clone();
    for (card, strands) in [(one, 6), (two, 8)] {
        let event = use_thread(&state, Some(&ring), card, Strands(strands)).unwrap();
        apply(&mut state, &event);
    }
    assert_eq!([one, two, spare].map(|card| on(&state, card)), [35, 40, 0]);
    assert_eq!(
        words(use_thread(&state, Some(&ring), one, Strands(1))),
        "card 1 (spare) has 0 lengths, which is less than 1 strand; ask for no more than there is"
    );
    // An empty spare card is merged like any other.
    merged(&mut state, "Robin", "1");
    let ring = state.need_ring("Robin").unwrap().clone();
    assert_eq!(
        words(use_thread(&state, Some(&ring), one, Strands(1))),
        "card 1 is not on the ring 'Robin': it is at home on hook A01"
    );
    let event = missing(&state, &[one], at(3)).unwrap();
    apply(&mut state, &event);
    assert!(words(use_thread(&state, None, one, Strands(1))).starts_with("card 1 is missing"));
}

#[test]
fn more_thread_than_can_be_counted_is_refused() {
    let mut state = stash();
    let card = id(&state, "1");
    decanted(&mut state, "Robin", "1", 6);
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![Change::Thread {
            card,
            before: Strands(42),
            after: Strands(u32::MAX),
        }],
    };
    apply(&mut state, &event);
    let ring = state.need_ring("Robin").unwrap();
    assert!(words(merge(&state, ring, card)).starts_with("card 1 would have more thread"));
}
