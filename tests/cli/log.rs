//! The history of movements: every movement has the data that a location-control procedure
//! requires.

use crate::common::{Run, Stash, finish, program};
use jiff::Timestamp;
use serde_json::{Value, json};

const LIST: &str = "range,number,name,hook\nHeath,701,stone,A01\nHeath,9,fog,A03\n";

/// Runs the program with the login name `login`.
fn run(stash: &Stash, login: &str, args: &[&str]) -> Run {
    let mut command = program();
    command.env_remove("HOMEHOOK_BY").env_remove("USERNAME");
    command.env("USER", login).arg("--stash").arg(stash.dir());
    finish(command.args(args))
}

fn ok(stash: &Stash, login: &str, args: &[&str]) {
    let run = run(stash, login, args);
    assert_eq!(run.code, 0, "{args:?}: {run:?}");
}

fn put_up(stash: &Stash, login: &str) {
    ok(
        stash,
        login,
        &["board", "new", "Wall", "--rows", "1", "--columns", "4"],
    );
}

fn log(stash: &Stash, args: &[&str]) -> Vec<Value> {
    let told = stash.json(&[&["history"][..], args].concat());
    told["events"].as_array().unwrap().clone()
}

/// A place without its time.
fn place(of: &Value) -> Value {
    let mut place = of.clone();
    if let Value::Object(fields) = &mut place {
        let since = fields.remove("since").unwrap();
        let _: Timestamp = since.as_str().unwrap().parse().unwrap();
        // Its last companions depend on the current state.
        fields.remove("last_seen");
    }
    place
}

/// Every row of the table 'Where a card is, and the standard for it' in assets/decisions.md, for
/// the life of one card.
#[test]
fn every_movement_of_a_card_has_the_data_for_location_control() {
    let stash = Stash::new();
    let started = Timestamp::now();
    put_up(&stash, "laptop");
    let list = stash.file("stock.csv", LIST);
    ok(&stash, "laptop", &["import", "cards", &list]);
    ok(&stash, "desktop", &["ring", "take", "Robin", "701"]);
    ok(&stash, "desktop", &["ring", "hang", "Robin", "A04"]);
    ok(&stash, "laptop", &["ring", "return", "Robin", "701"]);
    ok(&stash, "laptop", &["use", "701", "--lengths", "1"]);
    ok(&stash, "desktop", &["missing", "701"]);
    ok(&stash, "desktop", &["found", "701"]);
    // 9 belongs before 701; with 9 held, 701 is the card that moves.
    ok(&stash, "laptop", &["hold", "9"]);
    ok(&stash, "laptop", &["rehang", "--apply", "1"]);
    let ended = Timestamp::now();

    let hook = |hook_name: &str| json!({"kind": "hook", "hook": hook_name});
    let ring = json!({"kind": "ring", "ring": "Robin"});
    let hanging = json!({"kind": "ring", "ring": "Robin", "hook": "A04"});
    let missing = json!({"kind": "missing", "hook": "A01"});
    let life = [
        (
            "Imported a card list: 2 cards new, 0 changed",
            "laptop",
            Value::Null,
            hook("A01"),
            "A01",
        ),
        (
            "Took 1 card to the ring 'Robin'",
            "desktop",
            hook("A01"),
            ring.clone(),
            "A01",
        ),
        (
            "Hung up the ring 'Robin'",
            "desktop",
            ring,
            hanging.clone(),
            "A01",
        ),
        (
            "Returned 1 card from the ring 'Robin'",
            "laptop",
            hanging,
            hook("A01"),
            "A01",
        ),
        (
            "Marked 1 card as missing",
            "desktop",
            hook("A01"),
            missing.clone(),
            "A01",
        ),
        (
            "Found card 701 again",
            "desktop",
            missing,
            hook("A01"),
            "A01",
        ),
        (
            "Re-hung card 701",
            "laptop",
            hook("A01"),
            hook("A04"),
            "A04",
        ),
    ];

    let events = log(&stash, &["701"]);
    // Location history: complete and in order.
    let moving: Vec<&Value> = events
        .iter()
        .filter(|event| event["moves"] != json!([]))
        .collect();
    assert_eq!(moving.len(), life.len(), "{events:#?}");
    let mut before = started;
    let mut was = Value::Null;
    for (event, (reason, who, from, to, home)) in moving.iter().zip(&life) {
        let moves = event["moves"].as_array().unwrap();
        assert_eq!(moves.len(), 1, "{event}");
        let movement = &moves[0];
        // Object number.
        assert_eq!(movement["card"]["range"], "Heath");
        assert_eq!(movement["card"]["number"], "701");
        // The previous location, and the current one from then on.
        assert_eq!(
            (&place(&movement["from"]), &place(&movement["to"])),
            (from, to),
            "{event}"
        );
        assert_eq!(movement["from"], was, "{event}");
        was = movement["to"].clone();
        // Normal location.
        assert_eq!(movement["home"], *home, "{event}");
        // Date.
        let time: Timestamp = event["time"].as_str().unwrap().parse().unwrap();
        assert!(before <= time && time <= ended, "{event}");
        before = time;
        // Reason for the move, and its writer.
        assert_eq!(
            (&event["what"], &event["by"]),
            (&json!(reason), &json!(who))
        );
    }
    // The current location is the end of the last movement.
    let now = stash.json(&["find", "701"]);
    assert_eq!(now["matches"][0]["whereabouts"], was);
    assert_eq!(now["matches"][0]["home"], "A04");

    // Other events are shown for what they are: thread used, and changed homes.
    let what = |event: &Value| event["what"].as_str().unwrap().to_owned();
    assert!(
        events
            .iter()
            .any(|event| what(event) == "Used 1 length of card 701")
    );
    let homes: Vec<Value> = events
        .iter()
        .flat_map(|e| e["homes"].as_array().unwrap().clone())
        .collect();
    let of = |home: &Value| json!([home["card"]["number"], home["from"], home["to"]]);
    assert_eq!(
        homes.iter().map(of).collect::<Vec<_>>(),
        [json!(["701", null, "A01"]), json!(["701", "A01", "A04"])]
    );

    // The text output shows the same.
    let told = stash.ok(&["history", "701"]);
    for line in [
        "Took 1 card to the ring 'Robin', by desktop",
        "701: at home on hook A01 -> on the ring 'Robin'",
        "701: on the ring 'Robin' -> on the ring 'Robin', hanging on hook A04",
        "701: at home on hook A01 -> missing, last seen on hook A01",
        "701: home A01 -> A04",
    ] {
        assert!(told.contains(line), "{line}\n{told}");
    }
}

#[test]
fn the_last_events_come_newest_last_with_undone_ones_marked() {
    let stash = Stash::new();
    assert_eq!(log(&stash, &[]), Vec::<Value>::new());
    assert!(!stash.dir().exists());
    put_up(&stash, "laptop");
    for _ in 0..12 {
        ok(
            &stash,
            "laptop",
            &["board", "block", "A02", "--why", "lamp"],
        );
        ok(&stash, "laptop", &["undo"]);
    }
    ok(&stash, "laptop", &["redo"]);
    let numbers = |events: &[Value]| -> Vec<u64> {
        events
            .iter()
            .map(|event| event["seq"].as_u64().unwrap())
            .collect()
    };
    let events = log(&stash, &[]);
    assert_eq!(numbers(&events), (7..=26).collect::<Vec<_>>());
    let last = log(&stash, &["--last", "3"]);
    assert_eq!(last, events[17..]);
    let told: Vec<(&Value, &Value)> = last
        .iter()
        .map(|e| (&e["what"], &e["taken_back_by"]))
        .collect();
    let block = "Blocked hook A02";
    assert_eq!(
        told,
        [
            (&json!(block), &json!(25)),
            (&json!(format!("Undid change 24: {block}")), &json!(26)),
            (
                &json!(format!("Redid what change 25 undid: {block}")),
                &Value::Null
            ),
        ]
    );
    assert_eq!(log(&stash, &["--last", "500"]).len(), 26);
    let text = stash.ok(&["history", "--last", "2"]);
    assert_eq!(text.lines().count(), 2);
    assert!(
        text.contains("Blocked hook A02, by laptop (undone by change 26)"),
        "{text}"
    );
    let unknown = run(&stash, "laptop", &["history", "701", "--json"]);
    assert_eq!(
        (unknown.code, &unknown.error()["code"]),
        (1, &json!("unknown_card"))
    );
    assert_eq!(run(&stash, "laptop", &["history", "--last", "0"]).code, 2);
}

#[test]
fn the_writer_is_the_given_name_or_the_login_and_may_be_empty() {
    let stash = Stash::new();
    put_up(&stash, " lap\u{1b}top ");
    let keep = |login: &str, by: &[&str], env: Option<&str>| {
        let mut command = program();
        command
            .env("USER", login)
            .env_remove("USERNAME")
            .env_remove("HOMEHOOK_BY");
        if let Some(by) = env {
            command.env("HOMEHOOK_BY", by);
        }
        command
            .arg("--stash")
            .arg(stash.dir())
            .args(["board", "block", "A01", "--why", "x"]);
        let done = finish(command.args(by));
        if done.code == 0 {
            stash.ok(&["board", "unblock", "A01", "--by", ""]);
        }
        done
    };
    assert_eq!(
        keep("laptop", &["--by", "sewing room"], Some("tablet")).code,
        0
    );
    assert_eq!(keep("laptop", &[], Some("tablet")).code, 0);
    assert_eq!(keep("laptop", &[], Some("")).code, 0);
    assert_eq!(keep("laptop", &["--by", ""], None).code, 0);
    assert_eq!(keep("", &[], None).code, 0);
    let by: Vec<Value> = log(&stash, &[])
        .iter()
        .map(|event| event["by"].clone())
        .collect();
    let (room, tablet, none) = (json!("sewing room"), json!("tablet"), Value::Null);
    let expected = [json!("laptop"), room, none.clone(), tablet, none.clone()];
    assert_eq!(by[..5], expected);
    assert!(by[5..].iter().all(Value::is_null) && by.len() == 11);
    let record = String::from_utf8(stash.record()).unwrap();
    assert_eq!(record.matches("\"by\":").count(), 3);

    let long = "x".repeat(61);
    for wrong in [&long[..], "a\u{1b}[31m"] {
        let refused = keep("laptop", &["--by", wrong], None);
        assert_eq!(refused.code, 2, "{refused:?}");
        assert!(!refused.err.contains("panicked"), "{refused:?}");
    }
}
