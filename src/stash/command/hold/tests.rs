use super::*;
use crate::stash::testing::{apply, at, bring_in, id, read, rows, wall};

/// Cards 1 and 2 of the reds on A01 and A02, 3 in the tray, A03 and A04 free.
fn stash() -> State {
    let mut state = wall(1, 4, 1);
    let mut list = rows(&["1@A01", "2@A02", "3"]);
    for row in &mut list {
        row.family = Some("reds".to_owned());
    }
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    state
}

fn ids(state: &State, names: &[&str]) -> Vec<CardId> {
    names.iter().map(|name| id(state, name)).collect()
}

fn reds() -> Vec<String> {
    vec!["Reds".to_owned()]
}

fn no(outcome: Result<Event, Refusal>) -> String {
    outcome.unwrap_err().to_string()
}

fn stays(state: &State, name: &str) -> bool {
    state.stays(state.card(id(state, name)).unwrap())
}

#[test]
fn cards_are_pinned_and_let_go() {
    let mut state = stash();
    let first = state.clone();
    assert_eq!(no(pin(&state, &[])), "name at least one card");
    assert_eq!(
        no(pin(&state, &ids(&state, &["1", "3"]))),
        "card 3 has no home yet; a re-hang gives it one, then pin it"
    );
    let event = pin(&state, &ids(&state, &["1", "1"])).unwrap();
    assert_eq!(event.act, Act::Pin { cards: 1 });
    apply(&mut state, &event);
    assert!(stays(&state, "1") && !stays(&state, "2"));
    assert_eq!(no(pin(&state, &ids(&state, &["1"]))), "pinned already: 1");
    // Of several only those that are not pinned yet count.
    let event = pin(&state, &ids(&state, &["1", "2"])).unwrap();
    assert_eq!(event.act, Act::Pin { cards: 1 });
    let event = unpin(&state, &ids(&state, &["1", "2"])).unwrap();
    assert_eq!(event.act, Act::Unpin { cards: 1 });
    apply(&mut state, &event);
    assert_eq!(state, first);
    assert_eq!(no(unpin(&state, &ids(&state, &["1"]))), "not pinned: 1");
}

#[test]
fn a_family_is_pinned_as_far_as_its_cards_have_homes() {
    let mut state = stash();
    let first = state.clone();
    let event = pin_families(&state, &reds()).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        ["1", "2", "3"].map(|name| stays(&state, name)),
        [true, true, false]
    );
    assert_eq!(no(pin_families(&state, &reds())), "pinned already: Reds");
    assert_eq!(
        no(unpin(&state, &ids(&state, &["2"]))),
        "card 2 is not pinned itself, its family is; let it go with: \
         homehook unpin --family \"reds\""
    );
    assert_eq!(
        no(pin_families(&state, &["blues".to_owned()])),
        "there is no family 'blues'; the families are: reds"
    );
    let event = unpin_families(&state, &reds()).unwrap();
    apply(&mut state, &event);
    assert_eq!(state, first);
    assert_eq!(no(unpin_families(&state, &reds())), "not pinned: Reds");
    assert_eq!(no(unpin_all(&state)), "nothing is pinned");
    for event in [
        pin_families(&state, &reds()).unwrap(),
        pin(&state, &ids(&state, &["1", "2"])).unwrap(),
    ] {
        apply(&mut state, &event);
    }
    let event = unpin_all(&state).unwrap();
    assert_eq!(event.act, Act::Unpin { cards: 2 });
    apply(&mut state, &event);
    assert_eq!(state, first);
}

#[test]
fn a_weight_takes_the_place_of_a_pin_and_a_pin_of_a_weight() {
    let mut state = stash();
    let two = ids(&state, &["2"]);
    let five = Weight::new(5).unwrap();
    let touch = |state: &State| state.card(two[0]).unwrap().card.touch;
    let event = weigh(&state, &two, Some(five)).unwrap();
    apply(&mut state, &event);
    assert_eq!(touch(&state), MoveCost::Costly(five));
    assert_eq!(
        no(weigh(&state, &two, Some(five))),
        "counted as 5 already: 2"
    );
    assert_eq!(no(unpin(&state, &two)), "not pinned: 2");
    let event = pin(&state, &two).unwrap();
    apply(&mut state, &event);
    assert_eq!(touch(&state), MoveCost::Pinned);
    let event = weigh(&state, &two, None).unwrap();
    assert_eq!(
        event.act,
        Act::Weigh {
            cards: 1,
            weight: 1
        }
    );
    apply(&mut state, &event);
    assert_eq!(touch(&state), MoveCost::Plain);
}

#[test]
fn a_pin_outlives_a_list_that_says_something_else() {
    let mut state = stash();
    let event = pin(&state, &ids(&state, &["1"])).unwrap();
    apply(&mut state, &event);
    bring_in(&mut state, &["1 rust"]);
    assert!(stays(&state, "1"));
}

#[test]
fn a_hook_is_kept_free_for_re_hangs_and_usable_by_hand() {
    let mut state = stash();
    let first = state.clone();
    let event = keep_free(&state, "a3").unwrap();
    apply(&mut state, &event);
    let hook = state.find_mark("A03").unwrap();
    assert!(state.board(hook.board).unwrap().kept_free(hook));
    assert_eq!(state.capacity(hook), 1);
    assert_eq!(
        no(keep_free(&state, "A03")),
        "hook A03 is kept free already"
    );
    assert_eq!(no(use_again(&state, "A04")), "hook A04 is not kept free");
    assert!(no(keep_free(&state, "C09")).starts_with("there is no hook C09"));
    let event = use_again(&state, "A03").unwrap();
    apply(&mut state, &event);
    assert_eq!(state, first);
    let event = crate::stash::command::ring::missing(&state, &ids(&state, &["1"]), at(1));
    apply(&mut state, &event.unwrap());
    // A card that is away keeps its pin and its home.
    let event = pin(&state, &ids(&state, &["1"])).unwrap();
    apply(&mut state, &event);
    assert!(stays(&state, "1"));
}

#[test]
fn what_is_plain_is_not_written() {
    let state = stash();
    let card = &state.card(id(&state, "1")).unwrap().card;
    let json = serde_json::to_string(card).unwrap();
    assert!(!json.contains("touch"), "{json}");
    assert_eq!(
        serde_json::from_str::<crate::model::card::Card>(&json).unwrap(),
        *card
    );
    let family = state.families().first().unwrap();
    let json = serde_json::to_string(family).unwrap();
    assert_eq!(json, format!(r#"{{"id":"{}","name":"reds"}}"#, family.id));
    assert_eq!(&serde_json::from_str::<Family>(&json).unwrap(), family);
    let kept = keep_free(&state, "A03").unwrap();
    let json = serde_json::to_string(&kept).unwrap();
    assert!(
        json.contains(r#"{"row":0,"column":2,"kept_free":true}"#),
        "{json}"
    );
    assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), kept);
}

#[test]
fn a_spare_card_has_no_hook_to_be_pinned_to() {
    let mut state = stash();
    let one = id(&state, "1");
    let strands = crate::model::thread::Strands(6);
    let event =
        crate::stash::command::thread::decant(&state, "Robin", one, strands, None, "", at(1));
    apply(&mut state, &event.unwrap());
    let spare = ids(&state, &["1@Robin"]);
    let says = "card 1@Robin is a spare card: it has no hook of its own and no re-hang touches it; \
                name 1 instead";
    assert_eq!(no(pin(&state, &spare)), says);
    assert_eq!(no(weigh(&state, &spare, Weight::new(5).ok())), says);
    assert_eq!(no(unpin(&state, &spare)), "not pinned: 1@Robin");
}
