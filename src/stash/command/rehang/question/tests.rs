//! Holds, efforts, reserved hooks, and the options of a re-hang.

use proptest::prelude::*;

use super::*;
use crate::model::card::Effort;
use crate::model::colour::Srgb;
use crate::model::ids::CardId;
use crate::model::range::Shade;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::import::RangeRow;
use crate::stash::command::rehang::{RehangPlan, Rows, order_named, plans, plans_for};
use crate::stash::command::{hold, import};
use crate::stash::event::Event;
use crate::stash::testing;
use crate::stash::testing::projects::give_key;
use crate::stash::testing::{
    Shown as _, add_cards, apply, follow, id, least_effort, place, read, rows, wall,
};

fn hook(state: &State, hook_name: &str) -> HookRef {
    state.find_hook(hook_name).unwrap()
}

fn held(state: &mut State, names: &[&str]) {
    let ids: Vec<CardId> = names.iter().map(|name| id(state, name)).collect();
    let event = hold::hold(state, &ids).unwrap();
    apply(state, &event);
}

fn refused(state: &State, ask: &PlanRequest) -> (String, String) {
    let refusal = plans_for(state, ask).unwrap_err();
    (refusal.to_string(), refusal.shown())
}

/// The homes in a plan, as `NUMBER@HOOK_NAME`.
fn homes(state: &State, plan: &RehangPlan) -> Vec<String> {
    let name = |id| state.card_name(state.card(id).unwrap());
    let homes = plan.homes.iter();
    homes
        .map(|&(card, hook)| format!("{}@{}", name(card), state.hook_name(hook)))
        .collect()
}

#[test]
fn a_held_card_stays_in_every_plan_and_the_others_go_around_it() {
    let mut state = wall(1, 6, 1);
    add_cards(&mut state, &["1@A01", "3@A02", "4@A03", "2"]);
    let ask = PlanRequest::default();
    assert_eq!(plans_for(&state, &ask).unwrap()[1].touched, 2);
    // With 3 in its place, 1 and 2 have only A01 in front of it.
    held(&mut state, &["3"]);
    let (code, words) = refused(&state, &ask);
    assert_eq!(code, "hold_out_of_reach");
    assert_eq!(
        words,
        "Card 3 stays on A02, so the cards that belong before or after it don't fit. Release it, \
         or add places."
    );
    let event = hold::release_all(&state).unwrap();
    apply(&mut state, &event);
    let once = PlanRequest {
        holds: vec![id(&state, "4")],
        ..PlanRequest::default()
    };
    assert_eq!(refused(&state, &once).0, "hold_out_of_reach");
    let once = PlanRequest {
        holds: vec![id(&state, "1")],
        ..PlanRequest::default()
    };
    for plan in plans_for(&state, &once).unwrap() {
        assert_eq!(homes(&state, &plan)[0], "1@A01");
    }
    let tray = PlanRequest {
        holds: vec![id(&state, "2")],
        ..PlanRequest::default()
    };
    assert_eq!(refused(&state, &tray).0, "no_home");
}

#[test]
fn two_conflicting_holds_are_named() {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["312@A02", "290@A03", "5"]);
    held(&mut state, &["290", "312"]);
    assert_eq!(
        refused(&state, &PlanRequest::default()),
        (
            "holds_clash".to_owned(),
            "Cards 312 on A02 and 290 on A03 are held, but 290 belongs before 312. Release one of \
             them."
                .to_owned()
        )
    );
    let mut state = wall(1, 5, 1);
    add_cards(&mut state, &["1@A03", "4@A04", "2"]);
    held(&mut state, &["1", "4"]);
    assert_eq!(
        refused(&state, &PlanRequest::default()),
        (
            "holds_clash".to_owned(),
            "Cards 1 on A03 and 4 on A04 are held, but the cards between them don't fit there. \
             Release one of them."
                .to_owned()
        )
    );
}

#[test]
fn a_costly_card_moves_if_that_is_cheaper() {
    let mut state = wall(1, 6, 1);
    add_cards(&mut state, &["2@A02", "3@A03", "1@A04"]);
    let effort = |state: &mut State, name, effort| {
        let effort = Effort::new(effort).unwrap();
        let event = hold::effort(state, &[id(state, name)], Some(effort)).unwrap();
        apply(state, &event);
    };
    let figures = |state: &State| {
        let plan = &plans(state).unwrap()[1];
        (plan.touched, plan.effort)
    };
    assert_eq!(figures(&state), (1, 1));
    effort(&mut state, "1", 20);
    assert_eq!(figures(&state), (2, 2));
    effort(&mut state, "2", 15);
    effort(&mut state, "3", 15);
    assert_eq!(figures(&state), (1, 20));
}

#[test]
fn a_reserved_hook_is_emptied_and_stays_empty_in_every_plan() {
    let mut state = wall(1, 4, 1);
    add_cards(&mut state, &["1@A01", "2@A02", "3"]);
    let event = hold::reserve(&state, "A02").unwrap();
    apply(&mut state, &event);
    let a02 = hook(&state, "A02");
    // Plan 0 leaves the card that hangs there.
    for plan in &plans(&state).unwrap()[1..] {
        assert!(plan.homes.iter().all(|&(_, hook)| hook != a02));
    }
    // A hold on that card takes precedence.
    held(&mut state, &["2"]);
    for plan in plans(&state).unwrap() {
        assert!(plan.homes.contains(&(id(&state, "2"), a02)));
    }
    add_cards(&mut state, &["4", "5"]);
    let event = hold::release_all(&state).unwrap();
    apply(&mut state, &event);
    assert_eq!(refused(&state, &PlanRequest::default()).0, "short");
}

#[test]
fn a_one_time_order_leaves_the_order_of_the_stash() {
    let mut state = wall(1, 4, 1);
    let mut list = testing::rows(&["1@A01", "3@A02", "2@A03"]);
    for (row, family) in list.iter_mut().zip(["reds", "reds", "blues"]) {
        row.family = Some(family.to_owned());
    }
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let by = |order| {
        let ask = PlanRequest {
            order: Some(order),
            ..PlanRequest::default()
        };
        homes(&state, &plans_for(&state, &ask).unwrap()[1])
    };
    assert_eq!(by(Order::Family), ["1@A01", "3@A02", "2@A03"]);
    assert_eq!(by(Order::Number), ["1@A01", "2@A03", "3@A04"]);
    let blues = order_named(&state, &["blues".to_owned()]).unwrap();
    assert_eq!(by(blues), ["2@A01", "1@A02", "3@A03"]);
    let named = |names: &[&str]| {
        let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
        order_named(&state, &names)
    };
    assert_eq!(named(&["Number"]), Ok(Order::Number));
    assert_eq!(named(&["family"]), Ok(Order::Family));
    assert_eq!(named(&["LIGHTNESS"]), Ok(Order::Lightness));
    assert!(matches!(
        named(&["reds", "Reds"]),
        Err(Refusal::FamilyTwice(_))
    ));
    assert!(matches!(
        named(&["number", "reds"]),
        Err(Refusal::UnknownFamily { .. })
    ));
}

#[test]
fn only_selected_rows_change() {
    let mut state = wall(3, 3, 1);
    let cards = [
        "2@A01", "1@A02", "5@B02", "4@B03", "8@C01", "7@C02", "3", "9",
    ];
    add_cards(&mut state, &cards);
    let rows = |names: &[&str]| {
        let names: Vec<String> = names.iter().map(|&name| name.to_owned()).collect();
        PlanRequest {
            rows: Some(Rows::named(&state, &names).unwrap()),
            ..PlanRequest::default()
        }
    };
    let (code, words) = refused(&state, &rows(&["A"]));
    assert_eq!(code, "holds_clash");
    assert_eq!(
        words,
        "Cards 5 on B02 and 4 on B03 stay, held or outside the rows that may change, but 4 \
         belongs before 5. Name more rows, or release one of them."
    );
    let found = plans_for(&state, &rows(&["A-C"])).unwrap();
    assert_eq!(found[0].homes.len(), 8);
    // 2 and 1 of row A hang in the wrong order, and stay.
    assert_eq!(refused(&state, &rows(&["B", "c"])).0, "holds_clash");
}

#[test]
fn free_places_are_spread_over_the_selected_rows() {
    let mut state = wall(2, 6, 1);
    let mut cards = vec!["1@A01".to_owned(), "2@A02".to_owned(), "3@A03".to_owned()];
    cards.extend((4..10).map(|n| format!("{n}@B{:02}", n - 3)));
    add_cards(
        &mut state,
        &cards.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    let ask = PlanRequest {
        rows: Some(Rows::named(&state, &["A".to_owned()]).unwrap()),
        ..PlanRequest::default()
    };
    let found = plans_for(&state, &ask).unwrap();
    assert_eq!(found[0].touched, 0);
    let roomy = homes(&state, found.last().unwrap());
    // A free place at either end, and one between two of the cards.
    assert_eq!((&*roomy[0], &*roomy[2]), ("1@A02", "3@A05"));
}

#[test]
fn shades_not_owned_attract_the_free_places_where_they_would_hang() {
    let mut state = wall(1, 6, 1);
    add_cards(&mut state, &["Cove:1@A01", "Cove:2@A02", "Cove:9@A03"]);
    let shades: Vec<_> = ["4", "5", "6"]
        .map(|number| crate::stash::command::import::RangeRow {
            line: 2,
            number: number.to_owned(),
            name: String::new(),
            colour: None,
            family: None,
        })
        .to_vec();
    let taken = import::range(&state, &shades, Vec::new(), "Cove");
    apply(&mut state, &taken.unwrap().event.unwrap());
    let found = plans(&state).unwrap();
    let roomy = homes(&state, found.last().unwrap());
    assert_eq!(roomy, ["1@A01", "2@A02", "9@A06"]);
}

#[test]
fn a_new_card_that_belongs_on_another_row_waits() {
    let mut state = wall(2, 3, 1);
    add_cards(&mut state, &["1@A01", "3@A02", "6@B01", "8@B02", "2", "7"]);
    let ask = PlanRequest {
        rows: Some(Rows::named(&state, &["A".to_owned()]).unwrap()),
        ..PlanRequest::default()
    };
    let found = plans_for(&state, &ask).unwrap();
    let plan = &found[1];
    assert_eq!((plan.touched, plan.newly_hung), (1, 1));
    assert_eq!(
        homes(&state, plan),
        ["1@A01", "2@A02", "3@A03", "6@B01", "8@B02"]
    );
    follow(&mut state, plan);
    assert_eq!(place(&state, "7"), Whereabouts::Unhung);
}

/// A two-row wall of three hooks each, with cards hung in an order at a distance, and the last one
/// to hang.
fn drawn_wall(
    order: &[&str; 5],
    to_hang: usize,
    gaps: &[usize],
    places: u8,
    families: u8,
) -> State {
    let mut state = wall(2, 3, places);
    let mut hook = 0;
    let hung = order.len() - to_hang;
    let mut list = Vec::new();
    for (at, number) in order.iter().enumerate() {
        hook += gaps[at];
        let hook_name = ["A01", "A02", "A03", "B01", "B02", "B03"].get(hook / usize::from(places));
        hook += 1;
        list.push(match hook_name {
            Some(hook_name) if at < hung => format!("{number}@{hook_name}"),
            _ => (*number).to_owned(),
        });
    }
    let list: Vec<&str> = list.iter().map(String::as_str).collect();
    let mut list = testing::rows(&list);
    for (at, row) in list.iter_mut().enumerate() {
        let family = if families >> at & 1 == 1 {
            "reds"
        } else {
            "blues"
        };
        row.family = Some(family.to_owned());
        let colours = [
            Some(Srgb::new(0, 0, 0)),
            None,
            Some(Srgb::new(255, 255, 255)),
        ];
        row.colour = colours[at % 3];
    }
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    state
}

/// Some of the cards with a home; none in half of the cases.
fn some_at_home(state: &State, bits: u8) -> Vec<CardId> {
    let homes = (1..)
        .zip(state.cards())
        .filter(|(_, kept)| kept.home.is_some());
    homes
        .filter(|(at, _)| bits >> at & 1 == 1 && bits & 1 == 1)
        .map(|(_, kept)| kept.card.id)
        .collect()
}

fn order_wanted(state: &State, n: u8) -> Option<Order> {
    match n {
        0 => None,
        1 => Some(Order::Number),
        2 => Some(Order::Family),
        3 => Some(Order::Lightness),
        _ => Some(order_named(state, &["blues".to_owned()]).unwrap_or(Order::Number)),
    }
}

fn some_rows(state: &State, bits: u8) -> Rows {
    let names = ["A", "B"].iter().zip(0..);
    let names = names.filter(|(_, at)| bits >> at & 1 == 1);
    let names: Vec<String> = names.map(|(name, _)| (*name).to_owned()).collect();
    Rows::named(state, &names).unwrap()
}

/// Checks that a plan has the effort it claims, leaves what is held or outside the rows, and takes
/// no reserved hook.
fn assert_within_what_is_wished(state: &State, ask: &PlanRequest, plan: &RehangPlan) {
    let kept = |id| state.card(id).unwrap();
    let effort = plan
        .homes
        .iter()
        .filter(|(card, hook)| kept(*card).home.is_some_and(|home| home != *hook));
    let effort: u64 = effort
        .map(|(card, _)| u64::from(kept(*card).card.touch.effort()))
        .sum();
    assert_eq!(effort, plan.effort);
    for &(card, hook) in &plan.homes {
        let within = |hook| ask.rows.as_ref().is_none_or(|rows| rows.have(hook));
        let left = plan.number == 0 && kept(card).home.is_some();
        let stays = left || state.stays(kept(card)) || ask.holds.contains(&card);
        if let Some(home) = kept(card).home.filter(|&home| stays || !within(home)) {
            assert_eq!(hook, home);
        } else {
            let free = state.board(hook.board).unwrap().reserved(hook);
            assert!(within(hook) && !free, "{} on {}", card, hook);
        }
    }
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn the_first_plan_has_the_least_effort_within_the_options(
        order in Just(["1", "2", "3", "4", "5"]).prop_shuffle(),
        to_hang in 0..3usize,
        gaps in prop::collection::vec(0..3usize, 5),
        places in 1..=2u8,
        holds in any::<u8>(),
        once in any::<u8>(),
        efforts in prop::collection::vec(0..4u16, 5),
        reserved in prop::collection::vec(any::<bool>(), 6),
        rows in prop::option::of(1..4u8),
        families in any::<u8>(),
        wanted in 0..5u8,
    ) {
        let mut state = drawn_wall(&order, to_hang, &gaps, places, families);
        let cards: Vec<CardId> = state.cards().map(|kept| kept.card.id).collect();
        for (card, &effort) in cards.into_iter().zip(&efforts) {
            let effort = Effort::new(effort).ok();
            if let Ok(event) = hold::effort(&state, &[card], effort) {
                apply(&mut state, &event);
            }
        }
        if let Ok(event) = hold::hold(&state, &some_at_home(&state, holds)) {
            apply(&mut state, &event);
        }
        if holds & 0b1100_0000 == 0 {
            let event = hold::hold_families(&state, &["reds".to_owned()]);
            if let Ok(event) = event {
                apply(&mut state, &event);
            }
        }
        for (hook, free) in state.hooks().collect::<Vec<_>>().into_iter().zip(&reserved) {
            if *free && families & 3 == 0 {
                let event = hold::reserve(&state, &state.hook_name(hook)).unwrap();
                apply(&mut state, &event);
            }
        }
        let ask = PlanRequest {
            order: order_wanted(&state, wanted),
            rows: rows.map(|bits| some_rows(&state, bits)),
            holds: some_at_home(&state, once),
            most: 5,
            pace: WorkTimes::default(),
        };
        let least = least_effort(&state, &ask);
        let found = match plans_for(&state, &ask) {
            Ok(found) => found,
            Err(Refusal::NothingToDo) => return Ok(()),
            Err(refusal) => {
                let no = ["short", "holds_clash", "hold_out_of_reach"];
                prop_assert!(no.contains(&refusal.to_string().as_str()), "{}", refusal);
                prop_assert_eq!(least, None, "{}", refusal);
                return Ok(());
            }
        };
        prop_assert_eq!(Some(found[1].effort), least);
        for plan in &found {
            assert_within_what_is_wished(&state, &ask, plan);
            follow(&mut state.clone(), plan);
        }
    }
}

const COLOURS: [&str; 4] = ["#B4233C", "#101214", "#F4F2EC", "#2F5F8F"];
const FAMILIES: [&str; 5] = ["blues", "reds", "whites", "cool", "warm"];

fn shade(number: &str, family: Option<usize>, colour: Option<usize>) -> RangeRow {
    RangeRow {
        line: 2,
        number: number.to_owned(),
        name: String::new(),
        colour: colour.map(|at| COLOURS[at].parse().unwrap()),
        family: family.map(|at| FAMILIES[at].to_owned()),
    }
}

/// A range with these shades, some of whose numbers are imported as cards.
fn stash(shades: &[(&str, Vec<RangeRow>)], owned: &[String]) -> State {
    let mut state = wall(1, 1, 1);
    for (range, list) in shades {
        let taken = import::range(&state, list, Vec::new(), range).unwrap();
        if let Some(event) = taken.event {
            apply(&mut state, &event);
        }
    }
    let owned: Vec<&str> = owned.iter().map(String::as_str).collect();
    if let Some(event) = (!owned.is_empty())
        .then(|| read(&state, &rows(&owned)).event)
        .flatten()
    {
        apply(&mut state, &event);
    }
    state
}

/// The slow, obvious way: import a card of the shade, see where it comes, and remove it again.
fn by_importing(state: &State, order: &Order) -> Vec<f64> {
    let owned: Vec<CardId> = state
        .in_order(order, state.cards())
        .iter()
        .map(|k| k.card.id)
        .collect();
    let mut before = vec![0.0; owned.len() + 1];
    for range in state.ranges() {
        for number in range.shades.keys() {
            let has = |kept: &CardState| {
                kept.card.range == range.id && kept.card.number.key() == number.key()
            };
            if state.cards().any(has) {
                continue;
            }
            let row = rows(&[&format!("{}:{number}", range.name)]);
            let event: Event = read(state, &row).event.unwrap();
            let mut with = state.clone();
            with.apply(&event).unwrap();
            let new = with.cards().map(|kept| kept.card.id).max().unwrap();
            let wanted = with.in_order(order, with.cards());
            let at = wanted.iter().position(|kept| kept.card.id == new).unwrap();
            before[at] += 1.0;
        }
    }
    before
}

/// The shades before each card, none of which is on the way.
fn possible(state: &State, order: &Order, cards: &[&CardState]) -> Vec<f64> {
    let unowned = Unowned::new(state, order, cards);
    assert!(unowned.certain.iter().all(|&colours| colours == 0));
    unowned.possible
}

#[test]
fn a_colour_needed_by_a_project_gets_its_place_before_any_other() {
    let mut state = wall(1, 4, 1);
    let list = ["1", "2", "3", "4", "5", "10", "20", "30"].map(|number| shade(number, None, None));
    let taken = import::range(&state, &list, Vec::new(), "Cove").unwrap();
    apply(&mut state, &taken.event.unwrap());
    add_cards(&mut state, &["10", "20", "30"]);
    let first = |state: &State| plans(state).unwrap().swap_remove(1);
    // Five colours may come before the first card, and none is on the way.
    let plan = first(&state);
    assert_eq!(homes(&state, &plan), ["10@A02", "20@A03", "30@A04"]);
    assert_eq!((plan.on_the_way, plan.on_the_way_without_place), (0, 0));
    // 25 is in no list.
    give_key(&mut state, "Fox", &[("10", 5), ("25", 5)]);
    let plan = first(&state);
    assert_eq!(homes(&state, &plan), ["10@A01", "20@A02", "30@A04"]);
    assert_eq!((plan.on_the_way, plan.on_the_way_without_place), (1, 0));
    assert_eq!(plan.to_come, 1.0);
    // Between two cards that stay side by side it finds no place, however many are free elsewhere.
    follow(&mut state, &plan);
    let event = hold::hold(&state, &[id(&state, "20"), id(&state, "30")]).unwrap();
    let mut held = state.clone();
    apply(&mut held, &event);
    assert_eq!(first(&held).on_the_way_without_place, 0);
    add_cards(&mut held, &["27"]);
    let plan = first(&held);
    assert_eq!((plan.on_the_way, plan.on_the_way_without_place), (1, 1));
}

#[test]
fn shades_fall_between_the_cards_by_family_or_by_number() {
    let list = [("1", 0), ("2", 1), ("5", 1), ("7", 0), ("9", 0)];
    let list = list.map(|(number, family)| shade(number, Some(family), None));
    let state = stash(
        &[("Cove", list.to_vec())],
        &["5".to_owned(), "7".to_owned()],
    );
    let count = |order: Order| possible(&state, &order, &state.in_order(&order, state.cards()));
    // Blues 1 (7) 9, then reds 2 (5).
    assert_eq!(count(Order::Family), [1.0, 2.0, 0.0]);
    // 1 2 (5) (7) 9.
    assert_eq!(count(Order::Number), [2.0, 0.0, 1.0]);
    let reds = state.find_family("reds").unwrap().id;
    assert_eq!(count(Order::Families(vec![reds])), [1.0, 1.0, 1.0]);
}

#[test]
fn by_lightness_a_shade_is_placed_by_its_colour() {
    // Black, white, none, and a red of the family 'cool'; the stash has a black and a white card.
    let list = [
        ("1", Some(1)),
        ("2", Some(2)),
        ("3", None),
        ("4", Some(0)),
        ("8", Some(2)),
        ("9", Some(1)),
    ];
    let list = list.map(|(number, colour)| shade(number, Some(3), colour));
    let state = stash(
        &[("Cove", list.to_vec())],
        &["8".to_owned(), "9".to_owned()],
    );
    let cards = state.in_order(&Order::Lightness, state.cards());
    // White 2 (8), then the red and black 1 (9), then shades without a colour.
    assert_eq!(possible(&state, &Order::Lightness, &cards), [1.0, 2.0, 1.0]);
}

#[test]
fn a_list_of_owned_shades_leaves_none_over() {
    let state = stash(&[], &["Cove:5".to_owned(), "Cove:7".to_owned()]);
    let cards = state.in_wanted_order(state.cards());
    assert_eq!(possible(&state, &Order::Family, &cards), [0.0; 3]);
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn agrees_with_importing_each_shade(
        shades in prop::collection::vec(
            (0..2usize, 0..40u8, prop::option::of(0..5usize), prop::option::of(0..4usize), any::<bool>()),
            0..24,
        ),
        by_number in any::<bool>(),
        by_lightness in any::<bool>(),
        first in prop::option::of(0..5usize),
    ) {
        let mut lists = [("Cove", Vec::new()), ("Sandbank", Vec::new())];
        let mut owned = Vec::new();
        for &(range, number, family, colour, own) in &shades {
            let number = if number % 3 == 0 { format!("b{number}") } else { number.to_string() };
            lists[range].1.push(shade(&number, family, colour));
            let name = format!("{}:{}", lists[range].0, number.to_uppercase());
            if own && !owned.contains(&name) {
                owned.push(name);
            }
        }
        let lists: Vec<_> = lists.into_iter().filter(|(_, list)| !list.is_empty()).collect();
        let state = stash(&lists, &owned);
        let order = match first.and_then(|at| state.find_family(FAMILIES[at]).ok()) {
            _ if by_number => Order::Number,
            _ if by_lightness => Order::Lightness,
            Some(family) => Order::Families(vec![family.id]),
            None => Order::Family,
        };
        // An imported card adds its everyday family if it doesn't exist yet. Such shades come last
        // either way, in the order of their ranges and numbers.
        let known = |shade: &Shade| {
            let family = shade.colour.map(|colour| family_of(colour).name());
            shade.family.is_some() || family.is_none_or(|name| state.find_family(name).is_ok())
        };
        prop_assume!(by_number || state.ranges().all(|range| range.shades.values().all(known)));
        let cards = state.in_order(&order, state.cards());
        prop_assert_eq!(possible(&state, &order, &cards), by_importing(&state, &order));
    }
}
