//! Families under random commands and lists.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;
use crate::stash::command::import::{self, CardRow, RangeRow, Terms, card_list};
use crate::stash::event::inverse;
use crate::stash::testing::{Shown as _, add_cards, apply, at, id, read, row, rows, wall};

const COLOURS: [&str; 6] = [
    "#B4233C", "#101214", "#F4F2EC", "#2F5F8F", "#208040", "#888888",
];
const NAMES: [&str; 4] = ["reds", "blues", "warm", "cool"];

fn names(state: &State) -> Vec<&str> {
    let families = state.families().iter();
    families.map(|family| family.name.as_str()).collect()
}

fn family_of(state: &State, card: &str) -> String {
    let kept = state.card(id(state, card)).unwrap();
    state.family_name(kept).to_owned()
}

/// Rows for the numbers 1 to 8 of the range Cove, some with a colour.
fn card_rows(numbers: &[(u8, Option<usize>, Option<usize>)]) -> Vec<CardRow> {
    let lines = 2..;
    numbers
        .iter()
        .zip(lines)
        .map(|(&(number, colour, family), line)| CardRow {
            line,
            colour: colour.map(|at| COLOURS[at].parse().unwrap()),
            family: family.map(|at| NAMES[at].to_owned()),
            ..row(&format!("Cove:{number}"))
        })
        .collect()
}

fn range_rows(numbers: &[(u8, Option<usize>, Option<usize>)]) -> Vec<RangeRow> {
    let lines = 2..;
    numbers
        .iter()
        .zip(lines)
        .map(|(&(number, colour, family), line)| RangeRow {
            line,
            number: number.to_string(),
            name: String::new(),
            colour: colour.map(|at| COLOURS[at].parse().unwrap()),
            family: family.map(|at| NAMES[at].to_owned()),
        })
        .collect()
}

fn import_cards(state: &mut State, rows: &[CardRow]) {
    let taken = card_list(state, rows, Vec::new(), &Terms::default(), at(0));
    if let Some(event) = taken.ok().and_then(|taken| taken.event) {
        apply(state, &event);
    }
}

type Said = Vec<(u8, Option<usize>, Option<usize>)>;

fn said(least: usize) -> impl Strategy<Value = Said> {
    let one = (
        1..9u8,
        prop::option::of(0..COLOURS.len()),
        prop::option::of(0..NAMES.len()),
    );
    prop::collection::vec(one, least..12)
}

/// A stash from a card list and a range list, with the families of [`NAMES`] in it.
fn stash(list: &Said, range: &Said) -> State {
    let mut state = wall(2, 4, 1);
    for name in NAMES {
        let event = add(&state, name).unwrap();
        apply(&mut state, &event);
    }
    import_cards(&mut state, &card_rows(list));
    import_range(&mut state, range);
    state
}

fn import_range(state: &mut State, range: &Said) {
    let taken = import::range(state, &range_rows(range), Vec::new(), "Cove");
    if let Some(event) = taken.ok().and_then(|taken| taken.event) {
        apply(state, &event);
    }
}

fn some_cards(state: &State, bits: u8) -> Vec<crate::model::ids::CardId> {
    let cards = state.cards().map(|kept| kept.card.id);
    let chosen = cards
        .enumerate()
        .filter(|(at, _)| bits >> (at % 8) & 1 == 1);
    chosen.map(|(_, id)| id).collect()
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(4))]

    #[test]
    fn a_choice_survives_every_list_without_a_family_for_the_card(
        list in said(1), range in said(0), bits in any::<u8>(), name in 0..NAMES.len(),
        later in said(1), later_range in said(1),
    ) {
        let mut state = stash(&list, &range);
        let cards = some_cards(&state, bits);
        if let Ok(event) = assign(&state, NAMES[name], &cards) {
            apply(&mut state, &event);
        }
        let family = state.find_family(NAMES[name]).unwrap().id;
        let silent: Said = later.iter().map(|&(number, colour, _)| (number, colour, None)).collect();
        import_cards(&mut state, &card_rows(&silent));
        import_range(&mut state, &later_range);
        for card in cards {
            let kept = state.card(card).unwrap();
            prop_assert_eq!(kept.card.family, CardFamily::Chosen(family));
            prop_assert_eq!(state.family_of(kept), Some(family));
        }
    }

    #[test]
    fn every_command_can_be_undone_and_orders_are_permutations(
        list in said(1), range in said(0), steps in prop::collection::vec((0..7u8, any::<u8>(), 0..4usize, -3..4isize), 1..8),
    ) {
        let mut state = stash(&list, &range);
        for (what, bits, name, by) in steps {
            let (cards, name) = (some_cards(&state, bits), NAMES[name]);
            let event = match what {
                0 => assign(&state, name, &cards),
                1 => unassign(&state, &cards),
                2 => shift(&state, name, by),
                3 => order_by_colour(&state),
                4 => remove(&state, name),
                5 => add(&state, name),
                _ => rename(&state, name, NAMES[usize::from(bits) % 4]),
            };
            let Ok(event) = event else { continue };
            let mut after = state.clone();
            apply(&mut after, &event);
            prop_assert!(after != state, "{:?} changes nothing", event.act);
            let mut back = after.clone();
            apply(&mut back, &Event { act: Act::Undo { seq: 1 }, changes: inverse(&event.changes) });
            prop_assert!(back == state, "{:?} is not taken back", event.act);
            if event.act == Act::OrderFamilies {
                let set = |state: &State| state.families().iter().map(|f| f.id).collect::<BTreeSet<_>>();
                prop_assert_eq!(set(&after), set(&state));
                prop_assert_eq!(after.families().len(), state.families().len());
            }
            if let Act::AssignFamily { .. } = event.act {
                let family = state.find_family(name).unwrap().id;
                let there = |&card: &_| after.family_of(after.card(card).unwrap()) == Some(family);
                prop_assert!(cards.iter().all(there));
            }
            state = after;
        }
    }
}

#[test]
fn without_a_choice_the_range_or_colour_decides_again() {
    let mut state = wall(1, 4, 1);
    import_cards(
        &mut state,
        &card_rows(&[(1, Some(0), None), (2, Some(0), None), (3, None, None)]),
    );
    import_range(&mut state, &vec![(2, None, Some(3))]);
    assert_eq!(names(&state), ["reds", "cool"]);
    let all: Vec<_> = state.cards().map(|kept| kept.card.id).collect();
    let event = add(&state, "warm").unwrap();
    apply(&mut state, &event);
    let event = assign(&state, "WARM", &all).unwrap();
    apply(&mut state, &event);
    let warm = state.find_family("warm").unwrap().id;
    assert_eq!(
        Membership::of(&state, warm),
        Membership {
            chosen: 3,
            ..Membership::default()
        }
    );
    let again = assign(&state, "warm", &all).unwrap_err().shown();
    assert_eq!(again, "In 'warm' already: 1, 2, 3.");
    let event = unassign(&state, &all).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        ["1", "2", "3"].map(|card| family_of(&state, card)),
        ["reds", "cool", ""]
    );
    assert_eq!(
        unassign(&state, &all).unwrap_err().shown(),
        "No family is chosen for 1, 2, 3. Colour or range decides it already."
    );
}

#[test]
fn a_family_can_be_removed_when_no_range_or_colour_needs_it() {
    let mut state = wall(1, 4, 1);
    import_cards(
        &mut state,
        &card_rows(&[(1, Some(0), None), (2, Some(3), Some(2))]),
    );
    import_range(&mut state, &vec![(7, None, Some(2))]);
    assert_eq!(names(&state), ["warm", "reds"]);
    let refused = remove(&state, "reds").unwrap_err().shown();
    assert_eq!(
        refused,
        "Colour or range would still put 1 in the family 'reds'. Put them in another family first."
    );
    // The chosen card falls back to its colour, whose family is added; the shade forgets.
    let warm = state.find_family("warm").unwrap().id;
    let event = remove(&state, "warm").unwrap();
    apply(&mut state, &event);
    assert_eq!(names(&state), ["reds", "blues"]);
    assert_eq!(family_of(&state, "2"), "blues");
    let shades = state.ranges().flat_map(|range| range.shades.values());
    let said: Vec<_> = shades.map(|shade| shade.family).collect();
    assert_eq!(said, [None], "the shade of {warm:?}");
}

#[test]
fn taken_names_are_refused() {
    let mut state = wall(1, 1, 1);
    let event = add(&state, " Heathers ").unwrap();
    apply(&mut state, &event);
    let words = |event: Result<Event, Refusal>| event.unwrap_err().shown();
    assert_eq!(
        words(add(&state, "HEATHERS")),
        "There is a family 'Heathers' already."
    );
    assert_eq!(words(add(&state, " ")), "A family needs a name.");
    assert_eq!(
        words(rename(&state, "heathers", "Heathers")),
        "There is a family 'Heathers' already."
    );
    let event = rename(&state, "heathers", "heathers").unwrap();
    apply(&mut state, &event);
    assert_eq!(names(&state), ["heathers"]);
    assert_eq!(
        words(shift(&state, "heathers", -1)),
        "The families are in that order already."
    );
}

#[test]
fn families_are_sorted_around_the_circle_of_hues() {
    let mut state = wall(1, 1, 1);
    let list = [
        ("#101010", "night"),
        ("#2050B0", "sea"),
        ("#B8102E", "berry"),
        ("#FFFFFF", "snow"),
        ("#208040", "wood"),
        ("#808080", "stone"),
        ("#F4D53C", "sun"),
    ];
    let lines = 1..;
    let list: Vec<CardRow> = list
        .into_iter()
        .zip(lines)
        .map(|((hex, family), line)| CardRow {
            line,
            colour: Some(hex.parse().unwrap()),
            family: Some(family.to_owned()),
            ..row(&line.to_string())
        })
        .collect();
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let event = add(&state, "nothing yet").unwrap();
    apply(&mut state, &event);
    let event = shift(&state, "nothing yet", -9).unwrap();
    apply(&mut state, &event);
    assert_eq!(names(&state)[0], "nothing yet");
    let event = order_by_colour(&state).unwrap();
    apply(&mut state, &event);
    let expected = [
        "snow",
        "berry",
        "sun",
        "wood",
        "sea",
        "stone",
        "night",
        "nothing yet",
    ];
    assert_eq!(names(&state), expected);
}

#[test]
fn within_a_family_light_comes_before_dark_and_unknown_last() {
    let mut state = wall(1, 8, 1);
    let mut list = rows(&["1", "2", "3", "4", "5"]);
    let said = [
        (Some("#101214"), "one"),
        (Some("#F4F2EC"), "one"),
        (None, "one"),
        (Some("#888888"), "one"),
        (Some("#FFFFFF"), "two"),
    ];
    for (row, (hex, family)) in list.iter_mut().zip(said) {
        row.colour = hex.map(|hex| hex.parse().unwrap());
        row.family = Some(family.to_owned());
    }
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    apply_order(&mut state, WallOrder::Lightness);
    let wanted = state.in_wanted_order(state.cards());
    let wanted: Vec<String> = wanted.iter().map(|kept| state.card_name(kept)).collect();
    assert_eq!(wanted, ["2", "4", "1", "3", "5"]);
    // Hung like that, the wall reveals its order.
    for (name, hook) in ["2", "4", "1", "3", "5"]
        .iter()
        .zip(["A01", "A02", "A03", "A05", "A06"])
    {
        add_cards(&mut state, &[&format!("{name}@{hook}")]);
    }
    assert_eq!(state.order_on_the_wall(), WallOrder::Lightness);
}

fn apply_order(state: &mut State, by: WallOrder) {
    let event = order_wall(state, by);
    let kept = serde_json::to_string(&event).unwrap();
    assert!(kept.contains(r#""after":"lightness""#), "{kept}");
    apply(state, &event);
}
