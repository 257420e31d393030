use super::*;
use crate::model::thread::Strands;
use crate::stash::command::import::{self, KeyRow, RangeRow};
use crate::stash::command::{key, ring};
use crate::stash::invariants;
use crate::stash::projects::kit::Availability;
use crate::stash::state::State;
use crate::stash::testing::{add_cards, apply, at, id, place, wall};
use crate::text;

fn skeins(state: &State, text: &str) -> (RangeId, String, u32) {
    let of = said(state, text).unwrap();
    (of.range, of.number.to_string(), of.skeins)
}

fn code(state: &State, text: &str) -> String {
    said(state, text).unwrap_err().to_string()
}

/// Strands that are there, cut or not.
fn all_strands(state: &State) -> u32 {
    let cards = state.cards();
    cards
        .map(|kept| kept.strands().0 + kept.skeins() * 48)
        .sum()
}

#[test]
fn skeins_of_a_known_colour_stay_uncut_and_a_new_colour_gets_a_card() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:310@A01 lamp black"]);
    let before = all_strands(&state);
    let list = ["310=2", "77=3", "310=1"].map(|text| said(&state, text).unwrap());
    let event = bought(&state, &list, at(5)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        text::history::act(&state, &event.act),
        "Brought home 6 skeins: 1 card new"
    );
    let old = state.card(id(&state, "310")).unwrap();
    assert_eq!((old.strands(), old.skeins()), (Strands(48), 3));
    let new = state.card(id(&state, "77")).unwrap();
    assert_eq!(
        (new.strands(), new.skeins(), new.home),
        (Strands(48), 2, None)
    );
    assert_eq!(place(&state, "77"), Whereabouts::Unhung);
    assert_eq!(all_strands(&state), before + 6 * 48);
    assert_eq!(bought(&state, &[], at(6)), Err(Refusal::NothingToBuy));
}

#[test]
fn a_new_colour_is_described_by_the_list_of_its_range_else_by_the_key() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:310@A01"]);
    let shade = RangeRow {
        line: 2,
        number: "b5".into(),
        name: "moss".into(),
        colour: Some(Srgb::new(0x2E, 0x8B, 0x3A)),
        family: None,
    };
    let event = import::range(&state, &[shade], Vec::new(), "Hill")
        .unwrap()
        .event;
    apply(&mut state, &event.unwrap());
    let row = KeyRow {
        line: 2,
        number: "9".into(),
        name: Some("rush".into()),
        colour: Some(Srgb::new(0xC8, 0x10, 0x2E)),
        ..KeyRow::default()
    };
    let terms = crate::stash::command::import::Terms::default();
    let keyed = key::import(&state, &[row], Vec::new(), "Fox", &terms, at(1)).unwrap();
    apply(&mut state, &keyed.event.unwrap());
    let list = ["B5=1", "9=1"].map(|text| said(&state, text).unwrap());
    let event = bought(&state, &list, at(5)).unwrap();
    apply(&mut state, &event);
    for (card, name) in [("b5", "moss"), ("9", "rush")] {
        let kept = state.card(id(&state, card)).unwrap();
        assert_eq!(kept.card.name.as_str(), name);
        assert!(kept.card.colour.is_some());
        assert!(state.family_of(kept).is_some());
    }
}

#[test]
fn words_are_projects_or_skeins_of_a_card() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:310@A01", "Moor:310", "Moor:9"]);
    let [hill, moor] = ["Hill", "Moor"].map(|name| state.find_range(name).unwrap().id);
    assert_eq!(skeins(&state, "hill:310=2"), (hill, "310".to_owned(), 2));
    assert_eq!(skeins(&state, "9 = 1"), (moor, "9".to_owned(), 1));
    assert_eq!(skeins(&state, "Moor:77=1"), (moor, "77".to_owned(), 1));
    for text in [
        "310", "310=", "310=two", "310=0", "310=1001", "310=-1", "=", "310=1.5",
    ] {
        assert_eq!(code(&state, text), "not_skeins", "{text}");
    }
    assert_eq!(code(&state, "310=1"), "ambiguous");
    // Either range could be meant.
    assert_eq!(code(&state, "77=1"), "unknown_card");
    assert_eq!(code(&state, "Fen:77=1"), "unknown_card");

    let event = ring::take(&state, "a=1", &[id(&state, "9")], at(1)).unwrap();
    apply(&mut state, &event);
    let of = |words: &[&str]| {
        let words: Vec<String> = words.iter().map(|&word| word.to_owned()).collect();
        meant(&state, &words)
    };
    assert_eq!(of(&["a=1"]).unwrap_err().to_string(), "no_key");
    assert_eq!(of(&["Fox"]).unwrap_err().to_string(), "unknown_ring");
    assert_eq!(of(&[]).unwrap_err().to_string(), "no_keys");
    assert_eq!(of(&["9=2"]).unwrap()[0].skeins, 2);
}

#[test]
fn all_that_a_project_lacks_comes_home_at_once() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:310@A01"]);
    let rows = ["310", "77"].map(|number| KeyRow {
        line: 2,
        number: number.into(),
        stitches: 4_000,
        ..KeyRow::default()
    });
    let terms = crate::stash::command::import::Terms::default();
    let keyed = key::import(&state, &rows, Vec::new(), "Fox", &terms, at(1)).unwrap();
    apply(&mut state, &keyed.event.unwrap());
    let words = ["fox".to_owned(), "310=1".to_owned()];
    let list = meant(&state, &words).unwrap();
    let event = bought(&state, &list, at(5)).unwrap();
    apply(&mut state, &event);
    // 4,000 crosses need 119 strands, 48 are there: two skeins; of the other colour three.
    assert_eq!(state.card(id(&state, "310")).unwrap().skeins(), 3);
    assert_eq!(state.card(id(&state, "77")).unwrap().skeins(), 2);
    let again = meant(&state, &words[..1]).unwrap();
    assert_eq!(bought(&state, &again, at(6)), Err(Refusal::NothingToBuy));
}

#[test]
fn a_card_that_is_bought_again_takes_the_place_of_the_missing_one() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:310@A01", "Hill:77"]);
    let rows = ["310", "77"].map(|number| KeyRow {
        line: 2,
        number: number.into(),
        stitches: 100,
        ..KeyRow::default()
    });
    let terms = crate::stash::command::import::Terms::default();
    let keyed = key::import(&state, &rows, Vec::new(), "Fox", &terms, at(1)).unwrap();
    apply(&mut state, &keyed.event.unwrap());
    let cards = ["310", "77"].map(|name| id(&state, name));
    let event = ring::take(&state, "Fox", &cards, at(2)).unwrap();
    apply(&mut state, &event);
    let event = ring::missing(&state, &cards, at(3)).unwrap();
    apply(&mut state, &event);
    let gone = state.clone();

    let fox = ["Fox".to_owned()];
    let list = meant(&state, &fox).unwrap();
    assert_eq!(list.len(), 2);
    // By number: as the cards are named here.
    let mut list: Vec<Skeins> = list.into_iter().rev().collect();
    list[0].skeins = 3;
    let event = bought(&state, &list, at(5)).unwrap();
    let mut new = replaced(&event);
    new.sort_unstable();
    assert_eq!(new, cards);
    apply(&mut state, &event);
    assert_eq!(invariants::check_all(&state), []);
    for (card, of) in cards.into_iter().zip(&list) {
        let kept = state.card(card).unwrap();
        assert_eq!(kept.strands(), Strands(48));
        assert_eq!(kept.skeins(), of.skeins - 1);
    }
    assert!(state.card(cards[0]).unwrap().is_home());
    assert_eq!(place(&state, "77"), Whereabouts::Unhung);
    let said = |card| text::thread::replaced(&state, state.card(card).unwrap());
    assert!(said(cards[0]).ends_with("hang it on A01"));
    assert!(said(cards[1]).ends_with("it is to hang"));

    // The kit counts them, and nothing more is to be bought.
    let kit = check(&state, &rings_in_use(&state).unwrap());
    let standing = kit.projects[0].threads().map(|of| of.standing);
    assert_eq!(standing.collect::<Vec<_>>(), [Availability::Home; 2]);
    assert!(buy_list(&state, &kit).is_empty());
    assert!(gone != state);
}

#[test]
fn skeins_come_to_their_lot_and_one_is_cut_onto_a_new_card() {
    let mut state = wall(1, 3, 1);
    add_cards(&mut state, &["Hill:310@A01 lamp black"]);
    let of = |text: &str, name: &str| Skeins {
        lot: Lot(Label::new(name).unwrap()),
        ..said(&state, text).unwrap()
    };
    let list = [
        of("310=2", "K7"),
        of("310=1", ""),
        of("77=2", "V1"),
        of("77=1", "K7"),
        of("77=1", "v1"),
        of("310=1", "K7"),
    ];
    let event = bought(&state, &list, at(5)).unwrap();
    apply(&mut state, &event);
    let lots = |state: &State, name: &str| -> Vec<(String, u32, u32)> {
        let lots = state.card(id(state, name)).unwrap().thread.clone();
        lots.lots()
            .map(|(lot, of)| (lot.to_string(), of.strands.0, of.skeins))
            .collect()
    };
    let lot = |name: &str, strands, skeins| (name.to_owned(), strands, skeins);
    assert_eq!(lots(&state, "310"), [lot("", 48, 1), lot("K7", 0, 3)]);
    assert_eq!(lots(&state, "77"), [lot("K7", 0, 1), lot("V1", 48, 2)]);
    // Of a card that is missing the cut thread is lost, the skeins beside it are not.
    let gone = ring::missing(&state, &[id(&state, "310")], at(6)).unwrap();
    apply(&mut state, &gone);
    let list = [Skeins {
        lot: Lot(Label::new("W2").unwrap()),
        ..said(&state, "310=1").unwrap()
    }];
    let event = bought(&state, &list, at(7)).unwrap();
    apply(&mut state, &event);
    assert_eq!(
        lots(&state, "310"),
        [lot("", 0, 1), lot("K7", 0, 3), lot("W2", 48, 0)]
    );
}

#[test]
fn skeins_come_beside_the_card_without_a_tag_unless_it_is_missing() {
    let mut state = crate::stash::testing::projects::stash(&[("1", 6, 0), ("1/K7", 6, 0)]);
    let bring = |state: &mut State| {
        let skeins = [said(state, "1=2").unwrap()];
        let event = bought(state, &skeins, at(5)).unwrap();
        apply(state, &event);
        ["1", "1/K7"].map(|name| state.card(id(state, name)).unwrap().skeins())
    };
    assert_eq!(bring(&mut state), [2, 0]);
    let gone = crate::stash::command::ring::missing(&state, &[id(&state, "1")], at(6)).unwrap();
    apply(&mut state, &gone);
    assert_eq!(bring(&mut state), [2, 2]);
}
