use super::*;
use crate::stash::testing::Shown as _;
use crate::stash::testing::{add_cards, apply, at, id, read, rows, wall};

/// Cards 1 and 2 of the reds on A01 and A02, 3 to hang, A03 and A04 free.
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
    outcome.unwrap_err().shown()
}

fn stays(state: &State, name: &str) -> bool {
    state.stays(state.card(id(state, name)).unwrap())
}

#[test]
fn cards_are_held_and_let_go() {
    let mut state = stash();
    let first = state.clone();
    assert_eq!(no(hold(&state, &[])), "name at least one card");
    assert_eq!(
        no(hold(&state, &ids(&state, &["1", "3"]))),
        "card 3 has no home yet; a re-hang gives it one, then hold it"
    );
    let event = hold(&state, &ids(&state, &["1", "1"])).unwrap();
    assert_eq!(event.act, Act::Hold { cards: 1 });
    apply(&mut state, &event);
    assert!(stays(&state, "1") && !stays(&state, "2"));
    assert_eq!(no(hold(&state, &ids(&state, &["1"]))), "held already: 1");
    // Of several only those that are not held yet count.
    let event = hold(&state, &ids(&state, &["1", "2"])).unwrap();
    assert_eq!(event.act, Act::Hold { cards: 1 });
    let event = release(&state, &ids(&state, &["1", "2"])).unwrap();
    assert_eq!(event.act, Act::Release { cards: 1 });
    apply(&mut state, &event);
    assert_eq!(state, first);
    assert_eq!(no(release(&state, &ids(&state, &["1"]))), "not held: 1");
}

#[test]
fn a_family_is_held_as_far_as_its_cards_have_homes() {
    let mut state = stash();
    let first = state.clone();
    let event = hold_families(&state, &reds()).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        ["1", "2", "3"].map(|name| stays(&state, name)),
        [true, true, false]
    );
    assert_eq!(no(hold_families(&state, &reds())), "held already: Reds");
    assert_eq!(
        no(release(&state, &ids(&state, &["2"]))),
        "card 2 is not held itself, its family is; let it go with: \
         homehook release --family \"reds\""
    );
    assert_eq!(
        no(hold_families(&state, &["blues".to_owned()])),
        "there is no family 'blues'; the families are: reds"
    );
    let event = release_families(&state, &reds()).unwrap();
    apply(&mut state, &event);
    assert_eq!(state, first);
    assert_eq!(no(release_families(&state, &reds())), "not held: Reds");
    assert_eq!(no(release_all(&state)), "nothing is held");
    for event in [
        hold_families(&state, &reds()).unwrap(),
        hold(&state, &ids(&state, &["1", "2"])).unwrap(),
    ] {
        apply(&mut state, &event);
    }
    let event = release_all(&state).unwrap();
    assert_eq!(event.act, Act::Release { cards: 2 });
    apply(&mut state, &event);
    assert_eq!(state, first);
}

#[test]
fn an_effort_takes_the_place_of_a_hold_and_a_hold_of_an_effort() {
    let mut state = stash();
    let two = ids(&state, &["2"]);
    let five = Effort::new(5).unwrap();
    let touch = |state: &State| state.card(two[0]).unwrap().card.touch;
    let event = effort(&state, &two, Some(five)).unwrap();
    apply(&mut state, &event);
    assert_eq!(touch(&state), MoveCost::Costly(five));
    assert_eq!(
        no(effort(&state, &two, Some(five))),
        "counted as 5 already: 2"
    );
    assert_eq!(no(release(&state, &two)), "not held: 2");
    let event = hold(&state, &two).unwrap();
    apply(&mut state, &event);
    assert_eq!(touch(&state), MoveCost::Held);
    let event = effort(&state, &two, None).unwrap();
    assert_eq!(
        event.act,
        Act::Effort {
            cards: 1,
            effort: 1
        }
    );
    apply(&mut state, &event);
    assert_eq!(touch(&state), MoveCost::Plain);
}

#[test]
fn a_hold_outlives_a_list_that_says_something_else() {
    let mut state = stash();
    let event = hold(&state, &ids(&state, &["1"])).unwrap();
    apply(&mut state, &event);
    add_cards(&mut state, &["1 rust"]);
    assert!(stays(&state, "1"));
}

#[test]
fn a_hook_is_reserved_for_re_hangs_and_usable_by_hand() {
    let mut state = stash();
    let first = state.clone();
    let event = reserve(&state, "a3").unwrap();
    apply(&mut state, &event);
    let hook = state.find_hook("A03").unwrap();
    assert!(state.board(hook.board).unwrap().reserved(hook));
    assert_eq!(state.capacity(hook), 1);
    assert_eq!(no(reserve(&state, "A03")), "hook A03 is reserved already");
    assert_eq!(no(unreserve(&state, "A04")), "hook A04 is not reserved");
    assert!(no(reserve(&state, "C09")).starts_with("there is no hook C09"));
    let event = unreserve(&state, "A03").unwrap();
    apply(&mut state, &event);
    assert_eq!(state, first);
    let event = crate::stash::command::ring::missing(&state, &ids(&state, &["1"]), at(1));
    apply(&mut state, &event.unwrap());
    // A card that is away keeps its hold and its home.
    let event = hold(&state, &ids(&state, &["1"])).unwrap();
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
    let kept = reserve(&state, "A03").unwrap();
    let json = serde_json::to_string(&kept).unwrap();
    assert!(
        json.contains(r#"{"row":0,"column":2,"reserved":true}"#),
        "{json}"
    );
    assert_eq!(serde_json::from_str::<Event>(&json).unwrap(), kept);
}

#[test]
fn a_split_card_has_no_hook_to_be_held_on() {
    let mut state = stash();
    let one = id(&state, "1");
    let strands = crate::model::thread::Strands(6);
    let event =
        crate::stash::command::thread::split(&state, "Robin", one, strands, None, "", at(1));
    apply(&mut state, &event.unwrap());
    let split_card = ids(&state, &["1@Robin"]);
    let says = "card 1@Robin is a split card: it has no hook of its own and no re-hang touches it; \
                name 1 instead";
    assert_eq!(no(hold(&state, &split_card)), says);
    assert_eq!(no(effort(&state, &split_card, Effort::new(5).ok())), says);
    assert_eq!(no(release(&state, &split_card)), "not held: 1@Robin");
}
