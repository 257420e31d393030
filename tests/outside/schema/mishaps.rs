//! The troubled part of the story: refusals, two copies, a damaged record.

use std::fs;

use serde_json::{Value, json};

use super::answers::Story;
use crate::common::{Stash, run_in};

pub fn what_is_wrong(s: &mut Story) {
    s.fails("ring close Winter");
    s.fails("ring take Fox 12345");
    s.fails("schema weather");
    s.fails("import cards nowhere.csv");
    let bad = s.file("bad.csv", "number,hook\n9,Z99\n,\n");
    let told = s.fails(&format!("import cards {bad} --strict"));
    assert!(!told["error"]["rejected"].as_array().unwrap().is_empty());
}

/// The same stash on two computers, with changes on both.
pub fn copies(s: &mut Story) {
    let there = Stash::new();
    fs::create_dir(there.dir()).unwrap();
    fs::copy(
        s.stash.dir().join("record.jsonl"),
        there.dir().join("record.jsonl"),
    )
    .unwrap();
    let merge = format!("merge {}", there.dir().display());
    let told = s.says("merge", &merge);
    assert_eq!((&told["merged"], &told["event"]), (&json!(0), &json!(null)));
    there.ok(&["--by", "desktop", "family", "add", "earth"]);
    s.says("merge", &format!("{merge} --dry-run"));
    let told = s.says("merge", &merge);
    assert_eq!(told["questions"], json!([]));
    assert_eq!(
        (&told["merged"], &told["applied"]),
        (&json!(1), &json!(true))
    );

    s.says("ring", "ring take Owl 12");
    there.ok(&["--by", "desktop", "ring", "take", "Kite", "12"]);
    let run = s.asked(&merge);
    assert_eq!(run.code, 1, "{run:?}");
    let open = s.holds("merge", serde_json::from_str(&run.out).unwrap());
    assert_eq!(open["questions"][0]["answer"], Value::Null);
    let told = s.says("merge", &format!("{merge} --theirs"));
    assert_eq!(told["questions"][0]["answer"], "theirs");
    let log = s.says("history", "history --last 1");
    assert_eq!(log["events"][0]["settled"][0]["answer"], "theirs");
    s.fails("merge nowhere");
}

/// A damaged record is reported line by line, saved, and restored.
pub fn damage(s: &mut Story) {
    let other = Stash::new();
    let ask = |s: &mut Story, code: i32, schema: &str, args: &[&str]| {
        let run = run_in(&other.dir(), &[args, &["--json"]].concat());
        assert_eq!(run.code, code, "{args:?}: {run:?}");
        s.holds(schema, serde_json::from_str(&run.out).unwrap())
    };
    other.ok(&["board", "new", "Wall", "--rows", "1", "--columns", "2"]);
    ask(s, 0, "check-backups", &["check", "--restore"]);
    other.ok(&["board", "block", "A1", "--why", "lamp"]);
    let listed = ask(s, 0, "check-backups", &["check", "--restore"]);
    let backup = listed["backups"][0]["date"].as_str().unwrap().to_owned();
    let mut bytes = other.record();
    let middle = bytes.len() * 2 / 3;
    bytes[middle] ^= 1;
    let bad = other.dir().join("backups").join("record-1999-12-31.jsonl");
    fs::write(other.dir().join("record.jsonl"), bytes).unwrap();
    let told = ask(s, 1, "check", &["check"]);
    assert!(told["problems"][0]["what"].is_string(), "{told}");
    let into = other.folder.path().join("rescued");
    let into = into.to_str().unwrap();
    let saved = ask(s, 0, "check-salvage", &["check", "--salvage", into]);
    assert!(!saved["left_out"].as_array().unwrap().is_empty(), "{saved}");

    fs::write(bad, "no record").unwrap();
    let listed = ask(s, 0, "check-backups", &["check", "--restore"]);
    assert!(listed["backups"][0]["problem"].is_string(), "{listed}");
    ask(s, 0, "check-restore", &["check", "--restore", &backup]);
    fs::remove_file(other.dir().join("record.jsonl")).unwrap();
    let told = ask(s, 0, "check-restore", &["check", "--restore", &backup]);
    assert_eq!(told["set_aside"], Value::Null);

    other.ok(&["board", "block", "A1", "--why", "lamp"]);
    let header = other
        .record()
        .iter()
        .position(|&byte| byte == b'\n')
        .unwrap();
    let cut = other.record()[..=header].to_vec();
    fs::write(other.dir().join("record.jsonl"), cut).unwrap();
    let told = ask(s, 1, "check", &["check"]);
    assert!(told["problems"][0]["line"].is_null(), "{told}");
    let told = ask(s, 0, "check-accept-loss", &["check", "--accept-loss"]);
    assert_eq!((&told["recorded"], &told["found"]), (&json!(2), &json!(0)));
    ask(s, 0, "check", &["check"]);
    fs::write(other.dir().join("record.end"), "").unwrap();
    let told = ask(s, 0, "check-accept-loss", &["check", "--accept-loss"]);
    assert_eq!(told["recorded"], Value::Null);
}
