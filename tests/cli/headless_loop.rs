//! The whole workflow without a screen, on an invented stash of 300 cards.

use std::collections::BTreeMap;

use crate::common::Stash;
use homehook::engine::fewest_moves::fewest_moves;
use homehook::engine::instance::Instance;
use serde_json::Value;

const FAMILIES: [&str; 6] = ["reds", "golds", "greens", "blues", "browns", "greys"];
const BLOCKED: [&str; 4] = ["A07", "C20", "H11", "R01"];

/// A card of the test: the index of its family in [`FAMILIES`], and its number. The pairs sort in
/// wanted order.
type Card = (usize, u32);

/// 37 has no factor in common with 997, so the numbers differ.
fn number(i: u32) -> u32 {
    i * 37 % 997 + 1
}

fn owned() -> Vec<Card> {
    let mut cards: Vec<Card> = (0..300).map(|i| (i as usize / 50, number(i))).collect();
    cards.sort_unstable();
    cards
}

fn bought() -> Vec<Card> {
    (300..335).map(|i| (i as usize % 6, number(i))).collect()
}

fn put_up(stash: &Stash) {
    let size = ["--rows", "18", "--columns", "20"];
    stash.ok(&[&["board", "new", "Wall"][..], &size].concat());
    for hook_name in BLOCKED {
        stash.ok(&["board", "block", hook_name, "--why", "bracket"]);
    }
}

/// Names of the usable hooks, in reading order.
fn usable() -> Vec<String> {
    let hook_names =
        ('A'..='R').flat_map(|row| (1..=20).map(move |column| format!("{row}{column:02}")));
    hook_names
        .filter(|hook_name| !BLOCKED.contains(&hook_name.as_str()))
        .collect()
}

/// 300 cards in order with gaps, and eight of them on each other's hooks.
fn card_list() -> String {
    let (cards, hooks) = (owned(), usable());
    let mut at: Vec<usize> = (0..cards.len())
        .map(|k| k * hooks.len() / cards.len())
        .collect();
    for (a, b) in [(3, 250), (40, 90), (120, 122), (200, 299)] {
        at.swap(a, b);
    }
    let mut text = "range,number,family,lengths,hook\n".to_owned();
    for ((family, number), at) in cards.iter().zip(at) {
        let (family, hook) = (FAMILIES[*family], &hooks[at]);
        text.push_str(&format!("Heath,{number},{family},8,{hook}\n"));
    }
    text
}

/// The wall as in `board show --json`.
struct Wall {
    capacity: Vec<u32>,
    /// The hook of every card with a home.
    homes: BTreeMap<u32, usize>,
    shown: Value,
}

impl Wall {
    fn of(stash: &Stash) -> Self {
        let shown = stash.json(&["board", "show"]);
        let hooks = shown["boards"][0]["hooks"].as_array().unwrap();
        assert_eq!(hooks.len(), 360);
        let cards_per_hook = |hook: &Value| match &hook["blocked"] {
            Value::Null => u32::try_from(hook["cards_per_hook"].as_u64().unwrap()).unwrap(),
            _ => 0,
        };
        let capacity = hooks.iter().map(cards_per_hook).collect();
        let mut homes = BTreeMap::new();
        for (at, hook) in hooks.iter().enumerate() {
            for card in hook["homes"].as_array().unwrap() {
                let number = card["number"].as_str().unwrap().parse().unwrap();
                assert_eq!(homes.insert(number, at), None, "{number} has two homes");
            }
        }
        Self {
            capacity,
            homes,
            shown,
        }
    }

    /// The hook of each of these cards.
    fn hooks(&self, cards: &[Card]) -> Vec<Option<usize>> {
        let hook = |card: &Card| self.homes.get(&card.1).copied();
        cards.iter().map(hook).collect()
    }
}

fn numbers(cards: &[Card]) -> Vec<String> {
    cards.iter().map(|card| card.1.to_string()).collect()
}

fn ring<'a>(verb: &'a str, project: &'a str, cards: &'a [String]) -> Vec<&'a str> {
    let mut args = vec!["ring", verb, project];
    args.extend(cards.iter().map(String::as_str));
    args
}

fn count(value: &Value) -> u64 {
    value.as_u64().unwrap()
}

#[test]
fn from_a_list_through_rings_and_a_purchase_to_a_wall_in_order() {
    let stash = Stash::new();
    put_up(&stash);
    let list = stash.file("stock.csv", card_list());
    let taken = stash.json(&["import", "cards", &list]);
    assert_eq!((count(&taken["added"]), count(&taken["changed"])), (300, 0));
    assert_eq!(taken["rejected"], Value::Array(Vec::new()));
    let families = stash.json(&["family", "list"]);
    assert_eq!(families["families"], serde_json::json!(FAMILIES));

    let cards = owned();
    let wanted = numbers(&cards[60..72]);
    let found = stash.json(&["find", &wanted[0]]);
    let best = &found["matches"][0];
    assert_eq!(best["number"].as_str(), Some(wanted[0].as_str()));
    assert_eq!(best["home"], best["whereabouts"]["hook"]);

    let rings = projects(&stash, &wanted, &numbers(&cards[150..170]));
    assert_eq!(rings.as_array().unwrap().len(), 2);

    let mut all = [cards, bought()].concat();
    let text: Vec<String> = bought()
        .iter()
        .map(|(family, number)| format!("Heath,{number},{}\n", FAMILIES[*family]))
        .collect();
    let text = format!("range,number,family\n{}", text.concat());
    let purchase = stash.file("purchase.csv", text);
    let taken = stash.json(&["import", "cards", &purchase]);
    assert_eq!(
        (count(&taken["added"]), count(&taken["usual_amount"])),
        (35, 35)
    );

    all.sort_unstable();
    let steps = rehang(&stash, &all);
    undo_and_redo(&stash, steps);
    moves_to_another_folder(&stash);
}

/// Two rings: one hangs on a hook, is returned in part and in whole, and is closed; the other stays
/// out.
fn projects(stash: &Stash, first: &[String], second: &[String]) -> Value {
    stash.ok(&ring("take", "Mill Pond", first));
    stash.ok(&ring("take", "Long Barn", second));
    stash.ok(&["ring", "hang", "mill pond", "A01"]);
    let list = stash.json(&["ring", "list"]);
    assert_eq!(list["rings"][0]["hangs_at"], "A01");
    assert_eq!(list["rings"][0]["state"], "hanging");
    let on_it = list["rings"][0]["cards"].as_array().unwrap();
    let on_it: Vec<&str> = on_it
        .iter()
        .map(|c| c["number"].as_str().unwrap())
        .collect();
    assert_eq!(on_it, first, "in the order of taking");

    let early = stash.run(&["ring", "close", "Mill Pond", "--json"]);
    assert_eq!(
        (early.code, &early.error()["code"]),
        (1, &"unaccounted".into())
    );
    stash.ok(&ring("return", "Mill Pond", &first[..2]));
    stash.ok(&["ring", "return", "Mill Pond", "--all"]);
    stash.ok(&["ring", "close", "Mill Pond"]);
    stash.json(&["ring", "list"])["rings"].clone()
}

/// Carries out plan 1 and returns its number of steps. `all` are the cards in wanted order.
fn rehang(stash: &Stash, all: &[Card]) -> usize {
    let before = Wall::of(stash);
    let hung = before.hooks(all);
    let instance = Instance::new(before.capacity.clone(), hung.clone()).unwrap();
    let fewest = fewest_moves(&instance).unwrap().moved as u64;
    assert!(fewest > 0);

    let plans = stash.json(&["rehang"]);
    let first = &plans["plans"][1];
    assert_eq!(count(&first["n"]), 1);
    assert_eq!(count(&first["touched"]) + count(&first["relabel"]), fewest);
    for plan in plans["plans"].as_array().unwrap() {
        let moved = count(&plan["touched"]) + count(&plan["relabel"]);
        match count(&plan["n"]) {
            0 => assert_eq!(moved, 0),
            // Fewer cards move only if some are left out of order.
            _ => assert!(moved >= fewest || count(&plan["out_of_order"]) > 0),
        }
    }

    let applied = stash.json(&["rehang", "--apply", "1"]);
    assert_eq!(count(&applied["applied"]), 1);
    assert_eq!(applied["steps"], first["steps"]);

    let after = Wall::of(stash);
    let new = after.hooks(all);
    assert!(new.iter().all(Option::is_some), "a card has no home");
    assert!(new.is_sorted(), "out of order");
    assert_eq!(after.homes.len(), all.len());
    for (hook, &cards_per_hook) in after.capacity.iter().enumerate() {
        let load = new.iter().filter(|&&at| at == Some(hook)).count();
        assert!(load <= cards_per_hook as usize, "{load} on hook {hook}");
    }
    let moved = |(old, new): &(&Option<usize>, &Option<usize>)| old.is_some() && old != new;
    assert_eq!(hung.iter().zip(&new).filter(moved).count() as u64, fewest);
    assert!(stash.ok(&["rehang"]).contains("Nothing"));
    applied["steps"].as_array().unwrap().len()
}

fn undo_and_redo(stash: &Stash, steps: usize) {
    let after = Wall::of(stash).shown;
    let undone = stash.json(&["undo", &steps.to_string()]);
    assert_eq!(undone["undone"].as_array().unwrap().len(), steps);
    let hung = Wall::of(stash).homes.len();
    assert_eq!(hung, 300);
    stash.ok(&["redo", &steps.to_string()]);
    assert_eq!(Wall::of(stash).shown, after);
    let check = stash.json(&["check"]);
    assert_eq!(
        (&check["ok"], &check["problems"]),
        (&true.into(), &serde_json::json!([]))
    );
    let lines = stash.record().split(|&byte| byte == b'\n').count();
    // One line is the header, and the last line break ends the file.
    assert_eq!(count(&check["events"]) as usize, lines - 2);
}

fn moves_to_another_folder(stash: &Stash) {
    let list = stash.folder.path().join("out.csv");
    let list = list.to_str().unwrap();
    stash.ok(&["export", "csv", list]);
    assert_eq!(
        std::fs::read_to_string(list).unwrap(),
        stash.ok(&["export", "csv"])
    );
    let other = Stash::new();
    put_up(&other);
    let taken = other.json(&["import", "cards", list, "--strict"]);
    assert_eq!(count(&taken["added"]), 335);
    assert_eq!(Wall::of(&other).shown, Wall::of(stash).shown);
    assert_eq!(other.ok(&["export", "csv"]), stash.ok(&["export", "csv"]));
    assert!(other.ok(&["rehang"]).contains("Nothing"));
}
