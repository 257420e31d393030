use super::*;
use crate::model::card::Card;
use crate::model::ids::BoardId;
use crate::model::label::Label;
use crate::model::number::Number;
use crate::model::thread::{Lot, ThreadPart};
use crate::model::whereabouts::{Place, Underway};
use crate::stash::command::board::{Unhang, block};
use crate::stash::command::ring;
use crate::stash::event::{AmountChange, ring_changes, without_lists};
use crate::stash::testing::{add_cards, apply, at, home, id, wall};
use crate::text::faults::apply_error;

/// Card 1 on its hook A01, 2 on the live ring Robin, A02 blocked, and Kite, a closed ring.
fn stash() -> State {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["1@A01", "2", "3@A03"]);
    let event = block(&state, "A02", "light", Unhang::Refused, at(1)).unwrap();
    apply(&mut state, &event);
    for project in ["Kite", "Robin"] {
        let event = ring::take(&state, project, &[id(&state, "2")], at(1)).unwrap();
        apply(&mut state, &event);
        if project == "Kite" {
            let kite = state.need_ring("Kite").unwrap().clone();
            let event = ring::give_back_all(&state, &kite, at(2)).unwrap();
            apply(&mut state, &event);
            let event = ring::close(&state, &kite, at(3)).unwrap();
            apply(&mut state, &event);
        }
    }
    state
}

fn refusal(state: &mut State, change: Change) -> String {
    let before = state.clone();
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![change],
    };
    let refusal = apply_error(&state.apply(&event).unwrap_err());
    assert_eq!(state, &before);
    refusal
}

#[test]
fn no_card_lists_a_lot_twice_in_different_case() {
    let mut state = stash();
    let card = id(&state, "3");
    let lists = |name| Change::Lot {
        card,
        lot: Lot(Label::new(name).unwrap()),
        before: None,
        after: Some(Label::default()),
    };
    let event = Event {
        act: Act::ChangeCard { card },
        changes: vec![lists("K7")],
    };
    apply(&mut state, &event);
    let refusal = refusal(&mut state, lists("k7"));
    assert!(refusal.contains("twice"), "{refusal}");
}

#[test]
fn no_card_goes_to_an_impossible_place() {
    let mut state = stash();
    let kept = state.card(id(&state, "3")).unwrap().clone();
    let card = kept.card.id;
    let (a01, a02) = (
        state.find_hook("A01").unwrap(),
        state.find_hook("A02").unwrap(),
    );
    let mut nowhere = a01;
    nowhere.board = BoardId(9);
    let goes = |after| Change::Home {
        card,
        before: kept.home,
        after: Some(after),
    };
    let unusable = |hook_name: &str| format!("hook {hook_name} is blocked or not on any board");
    assert_eq!(
        refusal(&mut state, goes(a01)),
        "hook A01 takes 1, and 2 would be at home there"
    );
    assert_eq!(refusal(&mut state, goes(a02)), unusable("A02"));
    assert_eq!(
        refusal(&mut state, goes(nowhere)),
        unusable(&nowhere.to_string())
    );
    let moves = |at_place| Change::Place {
        card,
        before: Some(kept.place.clone()),
        after: Some(Place {
            at: at_place,
            since: at(9),
        }),
    };
    let hangs = moves(Whereabouts::Hook { hook: a02 });
    assert_eq!(refusal(&mut state, hangs), unusable("A02"));
    let ring = |name| state.find_ring(name).unwrap().id;
    let rings = [ring("Kite"), ring("Robin"), RingId(7)];
    let rings = rings.map(|ring| moves(Whereabouts::Ring { ring }));
    let words = rings.map(|change| refusal(&mut state, change));
    assert_eq!(
        words,
        [
            format!("card {card} would be on the ring 'Kite', but was never taken to it"),
            format!("card {card} would be on the ring 'Robin', but was never taken to it"),
            format!("card {card} refers to a ring that doesn't exist"),
        ]
    );
    assert_eq!(home(&state, "3").as_deref(), Some("A03"));
}

#[test]
fn no_card_has_a_dangling_reference_or_a_duplicate() {
    let mut state = stash();
    let before = state.card(id(&state, "3")).unwrap().card.clone();
    let written = |write: &dyn Fn(&mut crate::model::card::Card)| {
        let mut after = before.clone();
        write(&mut after);
        Change::Card {
            before: Some(before.clone()),
            after: Some(after),
        }
    };
    let says = |what| format!("card {} refers to a {what} that doesn't exist", before.id);
    let range = written(&|card| card.range = RangeId(8));
    assert_eq!(refusal(&mut state, range), says("range"));
    let family = written(&|card| {
        card.family = crate::model::card::CardFamily::Chosen(FamilyId(8));
    });
    assert_eq!(refusal(&mut state, family), says("family"));
    let parent = written(&|card| card.parent = Some(CardId(8)));
    assert_eq!(refusal(&mut state, parent), says("parent card"));
    let one = state.card(id(&state, "1")).unwrap().card.number.clone();
    let twin = written(&|card| card.number = one.clone());
    assert_eq!(
        refusal(&mut state, twin),
        "number 1 is there twice in one range"
    );
    // A split card may have its parent's number.
    let parent = id(&state, "1");
    let split_card = written(&|card| {
        card.number = one.clone();
        card.parent = Some(parent);
    });
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![split_card],
    };
    apply(&mut state, &event);
}

#[test]
fn no_ring_closes_over_its_cards_or_disappears_under_them() {
    let mut state = stash();
    let whole = state.need_ring("Robin").unwrap().clone();
    let robin = without_lists(&whole);
    let change = |after| Change::Ring {
        before: Some(robin.clone()),
        after,
    };
    let mut closed = robin.clone();
    closed.state = RingState::Closed { at: at(9) };
    assert_eq!(
        refusal(&mut state, change(Some(closed))),
        "a card would be on the ring 'Robin', which is closed"
    );
    let event = Event {
        act: Act::OrderFamilies,
        changes: [ring_changes(Some(&whole), &robin), vec![change(None)]].concat(),
    };
    assert_eq!(
        apply_error(&state.apply(&event).unwrap_err()),
        format!(
            "card {} refers to a ring that doesn't exist",
            id(&state, "2")
        )
    );
    let mut hanging = robin.clone();
    let hook = state.find_hook("A02").unwrap();
    hanging.state = RingState::Hanging { hook, since: at(9) };
    assert_eq!(
        refusal(&mut state, change(Some(hanging))),
        "hook A02 is blocked or not on any board"
    );
}

#[test]
fn no_re_hang_is_underway_without_targets_or_with_two_for_a_card() {
    let mut state = stash();
    let begins = |homes: Vec<(CardId, HookRef)>, steps| Change::Underway {
        before: None,
        after: Some(Underway {
            homes,
            steps,
            done: 0,
            begun: at(9),
        }),
    };
    let aim = (id(&state, "1"), state.find_hook("A03").unwrap());
    let aimless = "a re-hang would be underway with nothing to do";
    assert_eq!(refusal(&mut state, begins(Vec::new(), 1)), aimless);
    assert_eq!(refusal(&mut state, begins(vec![aim], 0)), aimless);
    assert_eq!(
        refusal(&mut state, begins(vec![aim, aim], 2)),
        format!("a re-hang would take card {} to two homes", aim.0)
    );
    let further = Change::Progress {
        before: 0,
        after: 1,
    };
    let fits_not = "change 1 of the event doesn't fit: the progress of the re-hang isn't as the \
                    event says it was";
    assert_eq!(refusal(&mut state, further), fits_not);
}

#[test]
fn no_board_is_invalid() {
    let mut state = stash();
    let before = state.boards().next().unwrap().clone();
    let twin_of = before.id;
    let mut twin = before.clone();
    twin.id = BoardId(2);
    let put_up = Change::Board {
        before: None,
        after: Some(twin),
    };
    assert_eq!(refusal(&mut state, put_up), "two hooks would be called A01");
    let mut flat = before.clone();
    flat.cards_per_hook = 0;
    let measured = Change::Board {
        before: Some(before.clone()),
        after: Some(flat),
    };
    assert!(refusal(&mut state, measured).starts_with("0 cards per hook"));
    let taken_down = Change::Board {
        before: Some(before),
        after: None,
    };
    assert!(refusal(&mut state, taken_down).starts_with(&format!("hook {}/0.", twin_of)));
    let thread = Change::Thread {
        card: id(&state, "1"),
        lot: Lot::unknown(),
        part: ThreadPart::Strands,
        amount: AmountChange::Set {
            before: 1,
            after: 2,
        },
    };
    assert!(refusal(&mut state, thread).starts_with("change 1 of the event"));
}

#[test]
fn no_ring_has_a_key_without_ranges_or_an_impossible_fabric() {
    use crate::model::assumptions::Assumptions;
    use crate::model::ring::{KeyLine, Ring};
    let mut state = stash();
    let robin = state.need_ring("Robin").unwrap().clone();
    let written = |write: &dyn Fn(&mut Ring)| {
        let mut after = robin.clone();
        write(&mut after);
        let mut changes = ring_changes(Some(&robin), &after);
        assert_eq!(changes.len(), 1);
        changes.remove(0)
    };
    let number = state.card(id(&state, "3")).unwrap().card.number.clone();
    let nowhere = written(&|ring| ring.key = vec![KeyLine::of(RangeId(9), number.clone())]);
    assert_eq!(
        refusal(&mut state, nowhere),
        "the chart key of the project 'Robin' refers to a range that doesn't exist"
    );
    let cannot_be = written(&|ring| {
        ring.fabric = Some(Assumptions {
            over: 3,
            ..Assumptions::default()
        });
    });
    assert_eq!(
        refusal(&mut state, cannot_be),
        "the number of threads stitched over can't be 3"
    );
}

#[test]
fn no_two_cards_are_written_alike_and_no_split_card_has_a_tag() {
    use crate::model::card::Tag;
    let mut state = stash();
    let card = |state: &State, name| state.card(id(state, name)).unwrap().card.clone();
    let written = |before: &Card, number: &str, tag: &str| Change::Card {
        before: Some(before.clone()),
        after: Some(Card {
            number: Number::new(number).unwrap(),
            tag: Tag::new(tag).unwrap(),
            ..before.clone()
        }),
    };
    let event = Event {
        act: Act::OrderFamilies,
        changes: vec![written(&card(&state, "1"), "3", "K7")],
    };
    apply(&mut state, &event);
    let two = card(&state, "2");
    for (number, tag) in [("3", "k7"), ("3/k7", "")] {
        assert_eq!(
            refusal(&mut state, written(&two, number, tag)),
            format!(
                "number {} is there twice in one range",
                if tag.is_empty() { number } else { "3/k7" }
            )
        );
    }
    let split = Change::Card {
        before: Some(two.clone()),
        after: Some(Card {
            parent: Some(id(&state, "3/K7")),
            tag: Tag::new("x").unwrap(),
            ..two
        }),
    };
    assert!(refusal(&mut state, split).contains("would have a tag"));
}
