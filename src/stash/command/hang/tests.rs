use proptest::prelude::*;

use super::*;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::board::{Unhang, block, cards_per_hook, new_board};
use crate::stash::command::{hold, rehang, ring};
use crate::stash::testing::{Shown as _, add_cards, apply, at, board, home, id, place, wall};

fn stash() -> State {
    let mut state = wall(2, 4, 1);
    add_cards(&mut state, &["10@A01", "20@A03", "30@B01", "40@B02", "25"]);
    state
}

fn does(state: &mut State, ask: impl Fn(&State) -> Result<Event, Refusal>) {
    let event = ask(state).unwrap();
    apply(state, &event);
}

fn said(state: &State, card: &str, hook_name: &str) -> Vec<String> {
    let wall = Wall::new(state, id(state, card)).unwrap();
    let hanging = wall.at(state.find_hook(hook_name).unwrap()).unwrap();
    crate::text::rehang::hanging(&hanging)
}

fn hangs(state: &mut State, card: &str, hook_name: &str) {
    let event = hang(state, id(state, card), hook_name, at(5)).unwrap();
    apply(state, &event);
}

fn refused(state: &State, card: &str, hook_name: &str) -> String {
    let refusal = hang(state, id(state, card), hook_name, at(5)).unwrap_err();
    refusal.shown()
}

#[test]
fn a_card_without_a_hook_is_hung_where_it_belongs() {
    let mut state = stash();
    assert_eq!(
        said(&state, "25", "a4"),
        [
            "Card 25 goes to A04, between 20 on A03 and 30 on B01.",
            "That keeps the order.",
            "Write A04 on its label."
        ]
    );
    let wall = Wall::new(&state, id(&state, "25")).unwrap();
    let hook_names: Vec<String> = wall
        .keeping_order()
        .iter()
        .map(|&h| state.hook_name(h))
        .collect();
    assert_eq!(hook_names, ["A04"]);
    hangs(&mut state, "25", "A04");
    assert_eq!(home(&state, "25").as_deref(), Some("A04"));
    assert!(state.card(id(&state, "25")).unwrap().is_home());
}

#[test]
fn the_suggested_hook_leaves_room_on_both_sides() {
    let mut state = wall(2, 6, 1);
    add_cards(&mut state, &["10@A01", "20@A06", "15", "30"]);
    let thought = |state: &State, card: &str| {
        let wall = Wall::new(state, id(state, card)).unwrap();
        wall.first_thought().map(|hook| state.hook_name(hook))
    };
    assert_eq!(thought(&state, "15").as_deref(), Some("A03"));
    // After the last card, there is no other side.
    assert_eq!(thought(&state, "30").as_deref(), Some("B01"));
    // Nothing between its neighbours: the nearest hook, before or after.
    let mut state = wall(1, 6, 1);
    add_cards(&mut state, &["5@A02", "10@A03", "20@A04", "30@A05", "15"]);
    assert!(
        Wall::new(&state, id(&state, "15"))
            .unwrap()
            .keeping_order()
            .is_empty()
    );
    assert_eq!(thought(&state, "15").as_deref(), Some("A01"));
    add_cards(&mut state, &["1@A01"]);
    assert_eq!(thought(&state, "15").as_deref(), Some("A06"));
}

#[test]
fn a_card_without_a_family_shows_why_it_comes_last() {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["10@A01 moss", "20"]);
    assert_eq!(
        said(&state, "20", "A02")[0],
        "Card 20 goes to A02, after 10 on A01; it has no family or colour yet, so its place is \
         after all families."
    );
}

#[test]
fn hanging_out_of_order_is_allowed_and_shown() {
    let mut state = stash();
    assert_eq!(
        said(&state, "10", "B04"),
        [
            "Card 10 goes to B04, after 40 on B02.",
            "That breaks the order: it belongs before 20 on A03.",
            "Write B04 on its label."
        ]
    );
    hangs(&mut state, "10", "B04");
    assert_eq!(
        said(&state, "10", "A02")[..2],
        [
            "Card 10 goes to A02, before 20 on A03.",
            "That keeps the order."
        ]
    );
    assert_eq!(
        said(&state, "40", "A01")[1],
        "That breaks the order: it belongs after 30 on B01."
    );
}

#[test]
fn impossible_hooks_are_refused_with_advice() {
    let mut state = stash();
    does(&mut state, |state| {
        block(state, "B04", "bracket", Unhang::Refused, at(1))
    });
    does(&mut state, |state| {
        ring::take(state, "Robin", &[id(state, "30")], at(2))
    });
    for (card, hook_name, words) in [
        ("25", "B04", "Hook B04 is blocked (bracket)."),
        (
            "25",
            "A01",
            "Hook A01 is full (10). Choose another hook, or move a card first.",
        ),
        (
            "25",
            "B01",
            "Hook B01 is full (30, now on the ring 'Robin'). Choose another hook, or move a card \
             first.",
        ),
        (
            "10",
            "A01",
            "Card 10 belongs on A01 already. It is at home on hook A01.",
        ),
        (
            "30",
            "B01",
            "Card 30 belongs on B01 already. It is on the ring 'Robin'.",
        ),
        (
            "25",
            "C01",
            "There is no hook C01. 'wall' runs from A01 to B04.",
        ),
    ] {
        assert_eq!(refused(&state, card, hook_name), words);
    }
    let unknown = hang(&state, CardId(99), "A02", at(1)).unwrap_err();
    assert_eq!(unknown.to_string(), "unknown_card");
}

#[test]
fn a_split_card_gets_no_hook_and_the_whole_card_is_suggested() {
    let mut state = stash();
    does(&mut state, |state| {
        ring::take(state, "Robin", &[id(state, "30")], at(2))
    });
    let event = crate::stash::command::thread::split(
        &state,
        "Robin",
        id(&state, "10"),
        crate::model::thread::Strands(6),
        None,
        "",
        at(3),
    );
    apply(&mut state, &event.unwrap());
    assert_eq!(
        hang(&state, id(&state, "10@Robin"), "A02", at(4)),
        Err(Refusal::SplitCardHasNoHook {
            card: "10@Robin".into(),
            whole: "10".into()
        })
    );
}

#[test]
fn a_card_that_is_away_stays_there_and_gets_another_hook() {
    let mut state = stash();
    let cards = [id(&state, "20"), id(&state, "40")];
    does(&mut state, |state| {
        ring::take(state, "Robin", &cards[..1], at(1))
    });
    does(&mut state, |state| ring::missing(state, &cards[1..], at(2)));
    assert_eq!(
        said(&state, "20", "A02")[2],
        "It is on the ring 'Robin': only its home changes; its label must say A02."
    );
    assert_eq!(
        said(&state, "40", "B03")[2],
        "It is missing, last seen on hook B02: only its home changes; when it turns up, its label must say B03."
    );
    let before = place(&state, "20");
    hangs(&mut state, "20", "A02");
    assert_eq!(
        (home(&state, "20").as_deref(), place(&state, "20")),
        (Some("A02"), before)
    );
    let robin = state.need_ring("Robin").unwrap().clone();
    does(&mut state, |state| {
        ring::give_back_all(state, &robin, at(9))
    });
    assert_eq!(
        place(&state, "20"),
        Whereabouts::Hook {
            hook: state.find_hook("A02").unwrap()
        }
    );
}

#[test]
fn holds_reserved_hooks_and_hanging_rings_are_shown() {
    let mut state = stash();
    does(&mut state, |state| hold::hold(state, &[id(state, "20")]));
    does(&mut state, |state| hold::reserve(state, "A02"));
    does(&mut state, |state| {
        ring::take(state, "Robin", &[id(state, "30")], at(1))
    });
    let robin = state.need_ring("Robin").unwrap().clone();
    does(&mut state, |state| {
        ring::hang_up(state, &robin, "B04", at(2))
    });
    assert_eq!(
        said(&state, "20", "A02")[3..],
        [
            "A02 is reserved: a re-hang gives the card another home.",
            "Held: a re-hang leaves it on A02."
        ]
    );
    assert_eq!(
        said(&state, "20", "B04")[3..],
        [
            "Held: a re-hang leaves it on B04: out of order, and a re-hang may not get around it.",
            "The ring 'Robin' hangs there."
        ]
    );
    hangs(&mut state, "20", "A02");
    assert!(state.stays(state.card(id(&state, "20")).unwrap()));
}

#[test]
fn a_stray_card_returns_or_gets_the_hook_where_it_hangs() {
    use crate::stash::command::rollcall::{Sighting, record, report};
    let mut state = stash();
    let seen = [("A01", None), ("A02", Some("10"))].map(|(hook_name, card)| Sighting {
        hook: state.find_hook(hook_name).unwrap(),
        cards: card.map(|name| id(&state, name)).into_iter().collect(),
    });
    let event = record(&report(&state, &seen).unwrap(), at(1));
    apply(&mut state, &event);
    assert_eq!(
        said(&state, "25", "A02")[3..],
        ["Not its home, but there hangs 10."]
    );
    assert_eq!(said(&state, "10", "A01")[2], "Its label says A01 already.");
    let mut other = state.clone();
    hangs(&mut other, "10", "A01");
    assert!(other.card(id(&other, "10")).unwrap().is_home());
    let since = state.card(id(&state, "10")).unwrap().place.since;
    hangs(&mut state, "10", "A02");
    let kept = state.card(id(&state, "10")).unwrap();
    assert!(kept.is_home());
    assert_eq!(kept.place.since, since);
}

#[test]
fn a_re_hang_underway_is_shown_and_counts_a_step_done_by_hand() {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["10@A02", "20@A01", "30@A04"]);
    let plan = rehang::plans(&state).unwrap().remove(1);
    does(&mut state, |state| rehang::begin(state, &plan, at(1)));
    let &(card, aim) = &state.underway().unwrap().homes[0];
    let (card, aim) = (
        state.card_name(state.card(card).unwrap()),
        state.hook_name(aim),
    );
    assert_eq!((card.as_str(), aim.as_str()), ("20", "A03"));
    assert_eq!(
        said(&state, "30", "A03")[3..],
        ["The re-hang underway needs that place and can't go on without it."]
    );
    hangs(&mut state, "20", "A03");
    assert_eq!(state.underway(), None);
}

#[test]
fn a_hook_for_several_cards_takes_more_and_counts_as_one() {
    let mut state = stash();
    does(&mut state, |state| {
        cards_per_hook(state, "A03", 3, Unhang::Refused, at(1))
    });
    assert_eq!(
        said(&state, "25", "A03")[..2],
        [
            "Card 25 goes to A03 with 20, between 10 on A01 and 30 on B01.",
            "That keeps the order."
        ]
    );
    hangs(&mut state, "25", "A03");
    hangs(&mut state, "10", "A03");
    assert!(refused(&state, "40", "A03").ends_with("or move a card first."));
    let event = new_board(&state, &board("shelf", "2-", 1, 2, 1)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        said(&state, "10", "2-A01")[1],
        "That breaks the order: it belongs before 20 on A03."
    );
    assert_eq!(
        said(&state, "40", "2-A02")[..2],
        [
            "Card 40 goes to 2-A02, after 30 on B01.",
            "That keeps the order."
        ]
    );
}

#[test]
fn without_a_board_there_is_nothing_to_hang_on() {
    let mut state = State::default();
    add_cards(&mut state, &["10"]);
    assert_eq!(
        Wall::new(&state, id(&state, "10")).unwrap_err(),
        Refusal::NoBoard
    );
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(8))]

    /// On a wall in order, a hook keeps the order exactly if a re-hang has nothing to do
    /// afterwards, and exactly those hooks are shown as keeping it.
    #[test]
    fn a_hook_keeps_the_order_if_a_re_hang_finds_nothing_to_do(
        cards_per_hook in 1_u8..3,
        hook_names in proptest::collection::btree_set(0_usize..8, 1..6),
        which in any::<usize>(),
        to_hang in any::<bool>(),
    ) {
        let mut state = wall(2, 4, cards_per_hook);
        let hooks: Vec<HookRef> = state.hooks().collect();
        let texts: Vec<String> = hook_names
            .iter()
            .zip(1..)
            .map(|(&at, n)| format!("{n}@{}", state.hook_name(hooks[at])))
            .collect();
        let mut texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let which = which % texts.len();
        let name = (which + 1).to_string();
        if to_hang {
            texts[which] = &name;
        }
        add_cards(&mut state, &texts);
        let card = id(&state, &name);
        let wall = Wall::new(&state, card).unwrap();
        let keeping = wall.keeping_order();
        for &hook in &hooks {
            match wall.at(hook) {
                Ok(hanging) => {
                    prop_assert_eq!(hanging.keeps_order, keeping.contains(&hook));
                    let mut after = state.clone();
                    apply(&mut after, &hanging.event(at(1)).unwrap());
                    let plan = rehang::plans(&after).unwrap().remove(1);
                    prop_assert_eq!(plan.touched == 0, hanging.keeps_order, "{}", hook);
                }
                Err(_) => prop_assert!(!keeping.contains(&hook)),
            }
        }
    }
}
