use proptest::prelude::*;

use super::*;
use crate::model::ids::CardId;
use crate::stash::command::import;
use crate::stash::event::Event;
use crate::stash::intake::RangeRow;
use crate::stash::testing::{apply, read, rows, wall};

const COLOURS: [&str; 4] = ["#C8102E", "#101214", "#F4F2EC", "#2F5F8F"];
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

/// A range with these shades, of which some numbers come in as cards.
fn stash(shades: &[(&str, Vec<RangeRow>)], owned: &[String]) -> State {
    let mut state = wall(1, 1, 1);
    for (range, list) in shades {
        let taken = import::shades(&state, list, Vec::new(), range).unwrap();
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

/// The slow obvious way: bring a card of the shade in, see where it comes, and take it out again.
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

#[test]
fn shades_fall_between_the_cards_by_family_or_by_number() {
    let list = [("1", 0), ("2", 1), ("5", 1), ("7", 0), ("9", 0)];
    let list = list.map(|(number, family)| shade(number, Some(family), None));
    let state = stash(
        &[("Hill", list.to_vec())],
        &["5".to_owned(), "7".to_owned()],
    );
    let count = |order: Order| unowned(&state, &order, &state.in_order(&order, state.cards()));
    // Blues 1 (7) 9, then reds 2 (5).
    assert_eq!(count(Order::Family), [1.0, 2.0, 0.0]);
    // 1 2 (5) (7) 9.
    assert_eq!(count(Order::Number), [2.0, 0.0, 1.0]);
    let reds = state.find_family("reds").unwrap().id;
    assert_eq!(count(Order::Families(vec![reds])), [1.0, 1.0, 1.0]);
}

#[test]
fn by_lightness_a_shade_falls_where_its_colour_puts_it() {
    // Black, white, none, and a red of the family 'cool'; a black and a white card are there.
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
        &[("Hill", list.to_vec())],
        &["8".to_owned(), "9".to_owned()],
    );
    let cards = state.in_order(&Order::Lightness, state.cards());
    // White 2 (8), then the red and black 1 (9), then what has no colour.
    assert_eq!(unowned(&state, &Order::Lightness, &cards), [1.0, 2.0, 1.0]);
}

#[test]
fn a_list_of_what_is_owned_leaves_no_shade_over() {
    let state = stash(&[], &["Hill:5".to_owned(), "Hill:7".to_owned()]);
    let cards = state.in_wanted_order(state.cards());
    assert_eq!(unowned(&state, &Order::Family, &cards), [0.0; 3]);
}

proptest! {
    #[test]
    fn is_what_bringing_each_shade_in_would_give(
        shades in prop::collection::vec(
            (0..2usize, 0..40u8, prop::option::of(0..5usize), prop::option::of(0..4usize), any::<bool>()),
            0..24,
        ),
        by_number in any::<bool>(),
        by_lightness in any::<bool>(),
        first in prop::option::of(0..5usize),
    ) {
        let mut lists = [("Hill", Vec::new()), ("Mill", Vec::new())];
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
        // A card that is brought in makes its everyday family where there is none yet: such shades
        // come last either way, in the order of their ranges and numbers.
        let known = |shade: &Shade| {
            let family = shade.colour.map(|colour| family_of(colour).name());
            shade.family.is_some() || family.is_none_or(|name| state.find_family(name).is_ok())
        };
        prop_assume!(by_number || state.ranges().all(|range| range.shades.values().all(known)));
        let cards = state.in_order(&order, state.cards());
        prop_assert_eq!(unowned(&state, &order, &cards), by_importing(&state, &order));
    }
}
