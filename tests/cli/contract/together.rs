//! Several processes using one stash, and a reader that closes the pipe.

use std::io::Read;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use homehook::journal::store::Store;
use serde_json::json;

use super::wall;
use crate::common::{Stash, program, run_in};

#[test]
fn reading_continues_during_a_write_and_writing_waits_its_turn() {
    let stash = wall();
    let (mut store, _) = Store::open(&stash.dir()).unwrap();
    store.hold(Duration::ZERO).unwrap();
    assert!(stash.ok(&["find", "9"]).contains("A02"));
    assert!(stash.ok(&["check"]).starts_with("All is well"));
    let before = stash.record();
    let run = stash.run(&["ring", "take", "Mill Pond", "9", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (1, &json!("busy")));
    assert_eq!(stash.record(), before);
    let dir = stash.dir();
    let waiting = thread::spawn(move || run_in(&dir, &["ring", "take", "Mill Pond", "9"]));
    thread::sleep(Duration::from_millis(300));
    drop(store);
    assert_eq!(waiting.join().unwrap().code, 0);
}

#[test]
fn an_unread_answer_does_not_block_writers() {
    let stash = wall();
    // Far more than fits a pipe, so that the answer waits for its reader.
    let list: String = (10..4000).map(|n| format!("{n},colour {n}\n")).collect();
    let list = stash.file("many.csv", format!("number,name\n{list}"));
    stash.ok(&["import", "cards", &list]);
    for args in [
        &["export", "json"][..],
        &["use", "9", "--strands", "1", "--json"],
    ] {
        let mut idle = program()
            .arg("--stash")
            .arg(stash.dir())
            .args(args)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        thread::sleep(Duration::from_millis(300));
        let begun = Instant::now();
        stash.ok(&["use", "9", "--strands", "1"]);
        assert!(begun.elapsed() < Duration::from_secs(3), "{args:?}");
        drop(idle.stdout.take());
        idle.wait().unwrap();
    }
}

#[test]
fn four_processes_at_once_lose_nothing() {
    const ROUNDS: usize = 5;
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "1", "--columns", "4"]);
    let list = stash.file("stock.csv", "number,hook\n1,A01\n2,A02\n3,A03\n4,A04\n");
    stash.ok(&["import", "cards", &list]);
    let before = stash.json(&["board", "show"]);
    thread::scope(|scope| {
        for card in ["1", "2", "3", "4"] {
            let dir = stash.dir();
            scope.spawn(move || {
                for _ in 0..ROUNDS {
                    for verb in ["take", "return"] {
                        let run = run_in(&dir, &["ring", verb, card, card]);
                        assert_eq!(run.code, 0, "{run:?}");
                    }
                }
            });
        }
    });
    let check = stash.json(&["check"]);
    assert_eq!(check["ok"], true);
    assert_eq!(check["events"], json!(2 + 4 * ROUNDS * 2));
    assert_eq!(stash.json(&["board", "show"]), before);
    for card in ["1", "2", "3", "4"] {
        let found = stash.json(&["find", card]);
        assert_eq!(found["matches"][0]["whereabouts"]["kind"], "hook");
    }
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let stash = wall();
    for args in [&["export", "json"][..], &["demo"], &["keyboard"]] {
        let mut child = program()
            .arg("--stash")
            .arg(stash.dir())
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut err = String::new();
        child
            .stderr
            .take()
            .unwrap()
            .read_to_string(&mut err)
            .unwrap();
        let status = child.wait().unwrap();
        assert_eq!((status.code(), err.as_str()), (Some(0), ""), "{args:?}");
    }
}
