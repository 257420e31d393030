//! A day with keys: a length used and five cards taken in the morning, a purchase and its re-hang
//! with a power cut in the middle, a second computer, a finished project, a card lost and found,
//! and a ring put away in the evening. At its end, every card is where the record says.

use std::collections::BTreeMap;
use std::fs;

use serde_json::Value;

use crate::harness::{DOWN, ENTER, ESC, Screen, TAB};
use crate::keys::{CTRL_S, Hand, copy, stash};

/// The keys of the whole day, so that a change that makes the day longer shows up here.
const KEYS: usize = 82;

/// Where each card is, by its number.
fn places(hand: &Hand) -> BTreeMap<String, Value> {
    let export = hand.json(&["export", "json", "-"]);
    let cards = export["cards"].as_array().unwrap().iter();
    cards
        .map(|card| {
            let at = &card["whereabouts"];
            let place = match at["kind"].as_str() {
                Some("hook") => &card["home"],
                Some("ring") => &at["ring"],
                _ => &at["kind"],
            };
            (card["number"].as_str().unwrap().to_owned(), place.clone())
        })
        .collect()
}

#[test]
fn every_card_is_where_the_record_says_after_a_busy_day() {
    let mut hand = Hand::on(copy(&stash().stash()));
    let morning = places(&hand);

    // Morning: one length of 30 was used, and five cards go to a new project.
    hand.press("r", "Fox");
    hand.press(ENTER, "how it stands");
    hand.press("-", "Used 1 length");
    hand.press("qq", "BOARD");
    for (nth, number) in ["110", "130", "150", "170", "190"].iter().enumerate() {
        hand.press(number, "Enter: show");
        hand.press(TAB, &format!("{} selected", nth + 1));
    }
    hand.press("t", "a name that no ring has");
    hand.press(&format!("Robin{ENTER}"), "o 28");

    // The second computer has the stash up to now, and takes a card to a ring of its own.
    let other = hand.folder.stash().with_file_name("other");
    fs::create_dir(&other).unwrap();
    for file in ["record.jsonl", "record.end"] {
        fs::copy(hand.folder.stash().join(file), other.join(file)).unwrap();
    }
    let mut there = Screen::open(&other, (80, 24));
    there.wait_for("? help");
    there.press("20", "Enter: show");
    there.press(TAB, "1 selected");
    there.press("t", "a name that no ring has");
    there.press(&format!("Wren{ENTER}"), "o 29");
    there.keys("q");
    assert_eq!(there.ended().exit_code(), 0);

    // A purchase. The power fails in the middle of its re-hang.
    hand.press("i", "Import a card list");
    hand.press(&format!("b{TAB}"), "bought.csv");
    hand.press(CTRL_S, "3 new cards");
    hand.press(ENTER, "plan 1 of");
    hand.press(ENTER, "steps done");
    hand.step("1 of ");
    hand.step("2 of ");
    hand.screen.signal("KILL");
    hand.screen.ended();
    hand.reopen();
    hand.screen.wait_for("2 of ");
    hand.press("g", "steps done");
    hand.press("A", "left as done?");
    hand.press("y", "The re-hang is done");

    // A card falls off the board, and turns up underneath.
    hand.press("60", "Enter: show");
    hand.press(ENTER, " · ");
    hand.press("m", "? 1 ");
    hand.press("m", "? 0 ");

    // Fox is finished: its kit goes home, and y closes the ring.
    hand.press("r", "Fox");
    hand.press("p", "0 of 3 home");
    for home in 1..3 {
        hand.step(&format!("{home} of 3 home"));
    }
    hand.step("Every card is accounted for");
    hand.press("y", "RINGS");

    // Evening: Heron goes home, too; one of its cards lies on the floor until its number is typed.
    hand.press("p", "0 of 20 home");
    hand.press(DOWN, "0 of 20 home");
    for home in 1..20 {
        hand.step(&format!("{home} of 20 home"));
    }
    hand.press(ESC, "1 card still on the ring");
    hand.press("q", "BOARD");
    hand.press("210", "Enter: hang");
    hand.press(ENTER, "o 5");
    hand.press("q", "");
    assert_eq!(hand.screen.ended().exit_code(), 0);

    // Merge the other computer's change.
    let merged = hand.json(&["merge", other.to_str().unwrap()]);
    assert_eq!(merged["questions"], Value::Array(Vec::new()), "{merged}");
    let evening = places(&hand);
    for (number, place) in &evening {
        let ring = match number.as_str() {
            "110" | "130" | "150" | "170" | "190" => Some("Robin"),
            "20" => Some("Wren"),
            _ => None,
        };
        match ring {
            Some(ring) => assert_eq!(place, ring, "{number}"),
            None => assert!(
                place.as_str().is_some_and(|hook| hook.len() == 3),
                "{number}: {place}"
            ),
        }
    }
    let new = evening.len() - morning.len();
    assert_eq!((new, hand.json(&["check"])["ok"].clone()), (3, true.into()));
    let rings = hand.json(&["ring", "list"]);
    let fox = rings["rings"].as_array().unwrap().iter();
    let fox = fox.filter(|ring| ring["project"] == "Fox");
    assert!(fox.clone().count() == 1 && fox.into_iter().all(|ring| ring["state"] == "closed"));
    assert_eq!(hand.pressed, KEYS);
}
