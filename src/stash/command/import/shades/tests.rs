use super::*;
use crate::model::colour::Srgb;
use crate::stash::refusal::{Field, RowFault};
use crate::stash::testing::{GREEN, RED, add_cards, apply, families, kept, read, rows, wall};

fn range_row(line: u64, number: &str, name: &str, colour: Option<Srgb>) -> RangeRow {
    RangeRow {
        line,
        number: number.into(),
        name: name.into(),
        colour,
        family: None,
    }
}

#[test]
fn a_range_list_says_of_a_card_what_was_not_known() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["Hill:b5", "Hill:9 moss", "Mill:9"]);
    let list = [
        range_row(2, "B5", "plum jam", Some(RED)),
        range_row(3, "9", "meadow", Some(GREEN)),
        range_row(4, "10", "chalk", None),
    ];
    let outcome = shades(&state, &list, Vec::new(), "hill").unwrap();
    assert_eq!((outcome.added, outcome.changed), (3, 0));
    apply(&mut state, &outcome.event.unwrap());
    let card = |name| {
        let card = &kept(&state, name).card;
        (card.name.as_str(), card.colour)
    };
    assert_eq!(card("b5"), ("plum jam", Some(RED)));
    assert_eq!(card("Hill:9"), ("moss", Some(GREEN)));
    assert_eq!(card("Mill:9"), ("", None));
    let red = crate::engine::colour_families::family_of(RED).name();
    assert_eq!(state.family_name(kept(&state, "b5")), red);
    // The same list says nothing new, in whatever capitals.
    let again = [range_row(2, "b5", "plum jam", Some(RED))];
    assert_eq!(
        shades(&state, &again, Vec::new(), "Hill").unwrap().event,
        None
    );
    // A card that comes later is filled in as well.
    let mut list = rows(&["Hill:10"]);
    list[0].colour = Some(RED);
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    assert_eq!(kept(&state, "10").card.name.as_str(), "chalk");
}

#[test]
fn a_range_list_gives_families_unless_the_user_chose() {
    let mut state = wall(1, 2, 1);
    let mut list = rows(&["Hill:1", "Hill:B2"]);
    list[0].family = Some("mine".into());
    let event = read(&state, &list).event.unwrap();
    apply(&mut state, &event);
    let said = |line, number| RangeRow {
        family: Some("theirs".into()),
        ..range_row(line, number, "", None)
    };
    let list = [said(2, "1"), said(3, "b2")];
    let event = shades(&state, &list, Vec::new(), "Hill")
        .unwrap()
        .event
        .unwrap();
    apply(&mut state, &event);
    assert_eq!(state.family_name(kept(&state, "1")), "mine");
    assert_eq!(state.family_name(kept(&state, "B2")), "theirs");
}

#[test]
fn bad_rows_of_a_range_list_are_rejected_and_the_rest_is_taken() {
    let state = wall(1, 1, 1);
    let list = [
        range_row(2, "B5", "", None),
        range_row(3, "b5", "", None),
        range_row(4, "6", "bell\u{7}", None),
    ];
    let outcome = shades(&state, &list, Vec::new(), "Hill").unwrap();
    assert_eq!(outcome.added, 1);
    let twice = RowFault::Twice {
        number: "b5".to_owned(),
        range: None,
        line: 2,
        lot: false,
    };
    assert_eq!(outcome.rejected[0].reason, twice);
    assert!(matches!(
        outcome.rejected[1].reason,
        RowFault::Label(Field::Name, _)
    ));
    let refused = |rows: &[RangeRow], range| {
        shades(&state, rows, Vec::new(), range)
            .unwrap_err()
            .to_string()
    };
    assert_eq!(refused(&[], "Hill"), "no_rows");
    assert_eq!(refused(&list[2..], "Hill"), "rows_rejected");
    assert_eq!(refused(&list[..1], "Hi:ll"), "range_name");
}

#[test]
fn a_range_list_that_says_less_takes_nothing_away() {
    let mut state = wall(1, 1, 1);
    let list = [range_row(2, "9", "moss", Some(GREEN))];
    let event = shades(&state, &list, Vec::new(), "Hill")
        .unwrap()
        .event
        .unwrap();
    apply(&mut state, &event);
    let list = [RangeRow {
        family: Some("greens".into()),
        ..range_row(2, "9", "", None)
    }];
    let outcome = shades(&state, &list, Vec::new(), "Hill").unwrap();
    assert_eq!((outcome.added, outcome.changed), (0, 1));
    apply(&mut state, &outcome.event.unwrap());
    let shade = state
        .ranges()
        .next()
        .unwrap()
        .shades
        .values()
        .next()
        .unwrap();
    assert_eq!((shade.name.as_str(), shade.colour), ("moss", Some(GREEN)));
    assert!(shade.family.is_some());
}

#[test]
fn families_of_a_range_list_come_as_the_wall_has_them() {
    let mut state = wall(1, 2, 1);
    add_cards(&mut state, &["Hill:1@A02", "Hill:2@A01"]);
    let said = |line, number, family: &str| RangeRow {
        family: Some(family.into()),
        ..range_row(line, number, "", None)
    };
    let list = [said(2, "1", "right"), said(3, "2", "left")];
    let event = shades(&state, &list, Vec::new(), "Hill")
        .unwrap()
        .event
        .unwrap();
    apply(&mut state, &event);
    assert_eq!(families(&state), ["left", "right"]);
}
