//! A conversion list in the shell: matching colours of two ranges, and their effects.

use std::fmt::Write as _;
use std::fs;

use crate::common::{Stash, run_in};
use serde_json::{Value, json};

/// Cove 12 and 40 are owned, but no colour of Sandbank is. The colour of Sandbank 7 is unknown.
fn stash() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "3"]);
    let cards = "range,number,name,hex,hook\nCove,12,kelp,#4F6B4A,A01\nCove,40,brick,#A84945,A02\n";
    let cards = stash.file("cards.csv", cards);
    stash.ok(&["import", "cards", &cards]);
    let range = stash.file("range.csv", "number,name,hex\n7,fern,\n9,rust,#A84945\n");
    stash.ok(&["import", "range", &range, "--range", "Sandbank"]);
    stash
}

fn import(stash: &Stash, text: &str, more: &[&str]) -> Value {
    let file = stash.file("matches.csv", text);
    stash.json(&[&["import", "matches", file.as_str()], more].concat())
}

/// The exported matches, without the titles.
fn exported(stash: &Stash) -> Vec<String> {
    let text = stash.ok(&["export", "matches"]);
    let mut lines = text.lines().map(str::to_owned);
    assert_eq!(
        lines.next().as_deref(),
        Some("range,number,match range,match number")
    );
    lines.collect()
}

const LIST: &str = "range,number,range,number\nSandbank,7,Cove,12\nCove,40,Sandbank,8\n";

#[test]
fn an_owned_match_is_named_before_any_other_colour() {
    let stash = stash();
    let taken = import(&stash, LIST, &[]);
    assert_eq!(
        (&taken["added"], &taken["rejected"]),
        (&json!(2), &json!([]))
    );
    let found = stash.json(&["find", "Sandbank:7"]);
    let matched = &found["not_owned"][0]["owned_matches"];
    assert_eq!(
        (&matched[0]["number"], &matched[0]["home"]),
        (&json!("12"), &json!("A01"))
    );
    let words = stash.ok(&["find", "Sandbank:8"]);
    assert_eq!(
        words,
        "Sandbank 8     not owned; you own its match Cove 40\n"
    );

    let key = "range,number,stitches\nSandbank,7,100\nSandbank,9,100\n";
    let key = stash.file("key.csv", key);
    stash.ok(&["import", "key", &key, "--project", "Mill Pond"]);
    let need = stash.json(&["need", "Mill Pond"]);
    let stand_ins = |line: usize| {
        let all = need["projects"][0]["entries"][line]["substitutes"].as_array();
        let all = all.unwrap().iter();
        all.map(|of| {
            (
                of["number"].clone(),
                of["reason"].clone(),
                of["difference"].clone(),
            )
        })
        .collect::<Vec<_>>()
    };
    assert_eq!(stand_ins(0), [(json!("12"), json!("match"), Value::Null)]);
    assert_eq!(stand_ins(1)[0], (json!("40"), json!("colour"), json!(0.0)));
    let words = stash.ok(&["need", "Mill Pond"]);
    assert!(
        words.contains("could stand in: 12  kelp   match   "),
        "{words}"
    );
    let words = stash.ok(&["buy", "Mill Pond"]);
    assert!(words.contains("you own its match Cove 12"), "{words}");
    let buy = stash.json(&["buy", "Mill Pond"]);
    assert_eq!(buy["buy"][0]["matches"][0]["number"], json!("12"));
    assert_eq!(buy["buy"][1]["matches"], json!([]));
}

#[test]
fn exported_matches_import_the_same_and_can_be_undone() {
    let stash = stash();
    let whole = || -> Value { serde_json::from_str(&stash.ok(&["export", "json"])).unwrap() };
    let before = whole();
    import(&stash, LIST, &[]);
    let lines = exported(&stash);
    assert_eq!(lines, ["Cove,12,Sandbank,7", "Cove,40,Sandbank,8"]);
    let json = whole();
    assert_eq!(
        json["matches"][0],
        json!({"range": "Cove", "number": "12", "match_range": "Sandbank", "match_number": "7"})
    );
    let record = stash.record();
    let again = stash.ok(&["export", "matches"]);
    let again = import(&stash, &again, &["--replace"]);
    assert_eq!(
        (&again["added"], &again["known"], &again["removed"]),
        (&json!(0), &json!(2), &json!(0))
    );
    assert_eq!(stash.record(), record);
    assert_eq!(
        stash.ok(&["undo"]),
        "Undone: Imported 2 matches between colours.\n"
    );
    assert_eq!(whole(), before);
    stash.ok(&["redo"]);
    assert_eq!(exported(&stash), lines);
    let other = "range,number,match range,match number\nCove,12,Sandbank,9\n";
    let replaced = import(&stash, other, &["--replace"]);
    assert_eq!(
        (&replaced["added"], &replaced["removed"]),
        (&json!(1), &json!(2))
    );
    assert_eq!(exported(&stash), ["Cove,12,Sandbank,9"]);
    stash.ok(&["check"]);
}

#[test]
fn two_copies_with_different_lists_merge() {
    let here = stash();
    let there = here.folder.path().join("there");
    fs::create_dir(&there).unwrap();
    for name in ["record.jsonl", "record.end"] {
        fs::copy(here.dir().join(name), there.join(name)).unwrap();
    }
    import(&here, LIST, &[]);
    let other = here.file(
        "other.csv",
        "range,number,range,number\nSandbank,9,Cove,40\nSandbank,7,Cove,12\n",
    );
    let run = run_in(&there, &["import", "matches", &other]);
    assert_eq!(run.code, 0, "{run:?}");
    let copy = there.join("record.jsonl");
    let merged = here.json(&["merge", copy.to_str().unwrap()]);
    assert_eq!(
        (&merged["applied"], &merged["questions"]),
        (&json!(true), &json!([]))
    );
    let all = [
        "Cove,12,Sandbank,7",
        "Cove,40,Sandbank,8",
        "Cove,40,Sandbank,9",
    ];
    assert_eq!(exported(&here), all);
    here.ok(&["check"]);
}

#[test]
fn rows_without_a_match_are_refused_with_advice() {
    let stash = stash();
    let list = "range,number,range,number\nSandbank,7,Cove,12\nSandbank,7,Covee,12\n\
                Cove,12,Cove,12\nCove,12,Sandbank,7\nCove,,Sandbank,1\n,1,Cove,12\n";
    let taken = import(&stash, list, &[]);
    assert_eq!((&taken["added"], &taken["known"]), (&json!(1), &json!(1)));
    let rejected = taken["rejected"].as_array().unwrap().iter();
    let rejected: Vec<(u64, &str)> = rejected
        .map(|row| {
            (
                row["line"].as_u64().unwrap(),
                row["reason"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        rejected,
        [
            (
                3,
                "there is no range 'Covee'. Import its list or a card of it first, or correct the name."
            ),
            (
                4,
                "12 can't match itself. Write the number of another colour."
            ),
            (6, "the number is empty. Write the number on the card."),
            (7, "the range is empty. Write the name of the range."),
        ]
    );
    let before = stash.record();
    let mut long = "range,number,range,number\n".to_owned();
    for row in 0..50_001 {
        writeln!(long, "Cove,{row},Sandbank,{row}").unwrap();
    }
    for (text, code) in [
        ("range,number,match range\nCove,12,Sandbank\n", "not_a_list"),
        (
            "range,number,range,number\nNowhere,1,Cove,2\n",
            "rows_rejected",
        ),
        (long.as_str(), "too_many_rows"),
    ] {
        let file = stash.file("matches.csv", text);
        let run = stash.run(&["import", "matches", &file, "--json"]);
        assert_eq!(
            (run.code, &run.error()["code"]),
            (1, &json!(code)),
            "{run:?}"
        );
    }
    assert_eq!(stash.record(), before);
}
