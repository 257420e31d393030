//! Remedies for a damaged stash in the shell: explaining, salvaging, and restoring a backup.

use std::fs;
use std::path::Path;

use crate::common::{Stash, run_in};
use serde_json::{Value, json};

fn wall() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "3"]);
    let rows = "range,number,name,hook\nHeath,701,slate,A01\nHeath,9,moss,A02\n";
    let list = stash.file("stock.csv", rows);
    stash.ok(&["import", "cards", &list]);
    stash.ok(&["ring", "take", "Sandbank", "701"]);
    stash.ok(&["ring", "take", "Pond", "9"]);
    stash.ok(&["ring", "hang", "Sandbank", "B01"]);
    stash
}

/// Damages the line that took card 701, and returns the resulting record.
fn damage(stash: &Stash) -> Vec<u8> {
    let mut record = stash.record();
    let ends = record
        .iter()
        .enumerate()
        .filter(|(_, byte)| **byte == b'\n');
    let third = ends.map(|(at, _)| at).nth(2).unwrap();
    let at = third + 1 + record[third + 1..].iter().position(|&b| b == b'T').unwrap();
    record[at] = b'X';
    fs::write(stash.dir().join("record.jsonl"), &record).unwrap();
    record
}

#[test]
fn a_damaged_stash_is_explained_and_saved() {
    let stash = wall();
    let bad = damage(&stash);
    let run = stash.run(&["check"]);
    assert_eq!(run.code, 1);
    assert!(run.out.contains("Line 4 of the record"), "{run:?}");
    assert!(
        run.out.contains("It was: A change of the kind 'take'"),
        "{run:?}"
    );
    // Typed as printed, the remedies look after this stash, which isn't the usual one.
    let salvage = format!(
        "homehook --stash {} check --salvage DIR",
        stash.dir().display()
    );
    assert!(run.out.contains(&salvage), "{run:?}");
    let check: Value = serde_json::from_str(&stash.run(&["check", "--json"]).out).unwrap();
    assert!(check["problems"][0]["what"].is_string());
    assert_eq!(check["next"].as_array().unwrap().len(), 2);

    let into = stash.dir().with_file_name("rescued");
    let into = into.to_str().unwrap();
    let saved = stash.json(&["check", "--salvage", into]);
    assert_eq!((&saved["ok"], &saved["taken"]), (&json!(true), &json!(3)));
    assert_eq!(saved["folder"], into);
    let left = saved["left_out"].as_array().unwrap();
    let lines: Vec<_> = left.iter().map(|left| left["line"].as_u64()).collect();
    assert_eq!(lines, [Some(4), Some(6)]);
    assert!(
        left.iter()
            .all(|left| left["what"].is_string() && left["reason"].is_string())
    );
    assert_eq!(stash.record(), bad);
    let check = run_in(Path::new(into), &["check"]);
    assert!(check.out.starts_with("All is well: 3 changes"), "{check:?}");
    let refused = stash.run(&["check", "--salvage", into, "--json"]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &json!("not_empty"))
    );
    let within = stash.dir().join("backups/../saved/here");
    let within = within.to_str().unwrap();
    let refused = stash.run(&["check", "--salvage", within, "--json"]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &json!("inside_stash"))
    );
}

#[test]
fn a_stash_is_backed_up_once_a_day_and_a_damaged_one_can_be_restored() {
    let stash = wall();
    let listed = stash.json(&["check", "--restore"]);
    let backups = listed["backups"].as_array().unwrap();
    // Made by the second change, which was the first with something to copy.
    assert_eq!(backups.len(), 1);
    assert_eq!(
        (&backups[0]["sound"], &backups[0]["events"]),
        (&json!(true), &json!(1))
    );
    let date = backups[0]["date"].as_str().unwrap();
    assert!(
        stash
            .ok(&["check", "--restore"])
            .contains(&format!("{date}  1 change, sound"))
    );

    let bad = damage(&stash);
    let restored = stash.json(&["check", "--restore", date]);
    assert_eq!(
        (&restored["events"], &restored["lacking"]),
        (&json!(1), &json!(4))
    );
    let aside = restored["set_aside"].as_str().unwrap();
    assert!(aside.ends_with("record.before-restore-1.jsonl"));
    assert_eq!(fs::read(aside).unwrap(), bad);
    assert!(
        stash
            .ok(&["check"])
            .starts_with("All is well: 1 change recorded, and everything")
    );
    let refused = stash.run(&[
        "check",
        "--restore",
        "record.before-restore-1.jsonl",
        "--json",
    ]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &json!("unsound"))
    );
    let refused = stash.run(&["check", "--restore", "1999-01-01", "--json"]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &json!("unreadable"))
    );
}

#[test]
fn a_failed_backup_is_reported_and_stops_nothing() {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "3"]);
    fs::write(stash.dir().join("backups"), "in the way").unwrap();
    let run = stash.run(&["board", "block", "A01", "--why", "lamp"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.err.contains("No backup today"), "{run:?}");
    assert!(stash.ok(&["check"]).starts_with("All is well: 2 changes"));
}
