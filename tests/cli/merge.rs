//! One stash on two computers: the program merges both copies.

use std::fs;
use std::path::{Path, PathBuf};

use crate::common::{Stash, run_in};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

const CARDS: &str = "range,number,lengths,hook\nCove,1,8,A01\nCove,2,8,A02\nCove,3,8,A03\n";

/// A stash and a copy of its folder next to it.
fn two() -> (Stash, PathBuf) {
    let here = Stash::new();
    here.ok(&["board", "new", "wall", "--rows", "2", "--columns", "3"]);
    let file = here.file("cards.csv", CARDS);
    here.ok(&["import", "cards", &file]);
    let there = here.folder.path().join("there");
    fs::create_dir(&there).unwrap();
    for name in ["record.jsonl", "record.end"] {
        fs::copy(here.dir().join(name), there.join(name)).unwrap();
    }
    (here, there)
}

fn there_ok(dir: &Path, args: &[&str]) -> String {
    let run = run_in(dir, args);
    assert_eq!(run.code, 0, "{args:?}: {run:?}");
    run.out
}

/// The lengths of the first card of a card list.
fn lengths(card_list: &str) -> &str {
    let mut lines = card_list.lines();
    let names = lines.next().unwrap().split(',');
    let at = names
        .into_iter()
        .position(|name| name == "lengths")
        .unwrap();
    lines.next().unwrap().split(',').nth(at).unwrap()
}

fn export(out: &str) -> Value {
    serde_json::from_str(out).unwrap()
}

#[test]
fn a_card_removed_in_the_other_copy_goes_and_nothing_is_left_out() {
    let (here, there) = two();
    there_ok(&there, &["remove", "2"]);
    let merged = here.json(&["merge", there.to_str().unwrap()]);
    assert_eq!(
        (&merged["merged"], &merged["left_out"]),
        (&serde_json::json!(1), &serde_json::json!([]))
    );
    assert!(here.ok(&["find", "2"]).starts_with("Nothing found"));
}

#[test]
fn a_conflicted_copy_next_to_the_record_is_merged() {
    let (here, there) = two();
    here.ok(&["use", "1", "--lengths", "2"]);
    there_ok(&there, &["--by", "laptop", "use", "1", "--lengths", "3"]);
    there_ok(&there, &["--by", "laptop", "ring", "take", "Fox", "2"]);
    // As a sync tool leaves it: the other computer's record under another name.
    let copy = here.dir().join("record (conflicted copy).jsonl");
    fs::copy(there.join("record.jsonl"), &copy).unwrap();
    let copy = copy.to_str().unwrap();

    let before = here.record();
    let shown = here.ok(&["merge", copy, "--dry-run"]);
    assert!(
        shown.contains("The other copy has 2 changes this one lacks:"),
        "{shown}"
    );
    assert!(
        shown.contains("Took 1 card to the ring 'Fox', by laptop"),
        "{shown}"
    );
    assert_eq!(here.record(), before);

    let merged = here.json(&["merge", copy]);
    assert_eq!(merged["merged"], 2);
    assert_eq!(merged["applied"], true);
    assert_eq!(merged["questions"], serde_json::json!([]));
    let card_list = here.ok(&["export", "csv"]);
    assert_eq!(lengths(&card_list), "3");
    let rings = here.ok(&["ring", "list"]);
    assert!(rings.contains("Fox"), "{rings}");
    let log = here.ok(&["history", "--last", "1"]);
    assert!(log.contains("Merged 2 changes of another copy"), "{log}");
    assert!(log.contains("Used 3 lengths of card 1, by laptop"), "{log}");
    here.ok(&["check"]);

    // Merging again changes nothing, and a single undo reverts the merge.
    let after = here.record();
    let again = here.json(&["merge", copy]);
    assert_eq!(
        (&again["merged"], &again["applied"]),
        (&0.into(), &false.into())
    );
    assert_eq!(here.record(), after);
    here.ok(&["undo"]);
    assert_eq!(lengths(&here.ok(&["export", "csv"])), "6");
    here.ok(&["redo"]);

    // The other computer merges in turn and reaches the same state.
    let ours = here.dir();
    there_ok(&there, &["merge", ours.to_str().unwrap()]);
    let (left, right) = (
        here.ok(&["export", "json"]),
        there_ok(&there, &["export", "json"]),
    );
    assert_eq!(export(&left)["cards"], export(&right)["cards"]);
    there_ok(&there, &["check"]);
}

#[test]
fn contradictions_are_listed_and_asked() {
    let (here, there) = two();
    here.ok(&["--by", "desktop", "ring", "take", "Owl", "1"]);
    there_ok(&there, &["--by", "laptop", "ring", "take", "Fox", "1", "2"]);
    let other = there.to_str().unwrap();
    let before = here.record();

    let open = here.run(&["merge", other]);
    assert_eq!(open.code, 1, "{open:?}");
    for words in [
        "1. where card 1 is",
        "mine: on the ring 'Owl'",
        "by desktop: Took 1 card to the ring 'Owl')",
        "theirs: on the ring 'Fox'",
        "Nothing changed. Answer with --answer 1=theirs",
    ] {
        assert!(open.out.contains(words), "{words}: {}", open.out);
    }
    assert_eq!(here.record(), before);
    let open = here.run(&["merge", other, "--json"]);
    let json = export(&open.out);
    assert_eq!((open.code, &json["applied"]), (1, &false.into()));
    let conflict = &json["questions"][0];
    assert_eq!(
        (&conflict["n"], &conflict["later"]),
        (&1.into(), &"theirs".into())
    );
    assert_eq!(conflict["about"], "where card 1 is");
    assert_eq!(conflict["theirs"]["by"], "laptop");

    let done = here.ok(&["merge", other, "--answer", "1=theirs"]);
    assert!(done.contains("theirs: on the ring 'Fox'"), "{done}");
    assert!(here.ok(&["find", "1"]).contains("Fox"));
    let log = here.ok(&["history", "--last", "1"]);
    assert!(
        log.contains("where card 1 is: on the ring 'Fox' (as in the other copy)"),
        "{log}"
    );
    here.ok(&["undo"]);
    here.ok(&["merge", other, "--mine"]);
    assert!(here.ok(&["find", "1"]).contains("Owl"));
    assert!(here.ok(&["find", "2"]).contains("Fox"));
    here.ok(&["check"]);
}

#[test]
fn other_stashes_and_damaged_copies_are_refused_and_nothing_changes() {
    let (here, there) = two();
    let stranger = Stash::new();
    stranger.ok(&["board", "new", "wall", "--rows", "1", "--columns", "1"]);
    let before = here.record();
    let refused = here.run(&["merge", stranger.dir().to_str().unwrap(), "--json"]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &"different_stashes".into())
    );
    let mut bytes = fs::read(there.join("record.jsonl")).unwrap();
    bytes[200] ^= 1;
    let copy = here.file("copy.jsonl", bytes);
    let refused = here.run(&["merge", &copy, "--json"]);
    assert_eq!(refused.error()["code"], "copy_damaged");
    let refused = here.run(&["merge", "nowhere", "--json"]);
    assert_eq!(refused.error()["code"], "no_stash");
    assert_eq!(here.run(&["merge", "x", "--answer", "1=ours"]).code, 2);
    let none = Stash::new();
    assert_eq!(
        none.run(&["merge", there.to_str().unwrap(), "--json"])
            .error()["code"],
        "no_stash"
    );
    assert_eq!(here.record(), before);
}

#[test]
fn a_merge_lists_moved_cards_and_refuses_answers_without_a_question() {
    let (here, there) = two();
    here.ok(&["hang", "3", "B01"]);
    there_ok(&there, &["hang", "2", "B01"]);
    let there = there.to_str().unwrap();
    let unknown = here.run(&["merge", there, "--answer", "1=theirs", "9=mine", "--json"]);
    assert_eq!(
        (unknown.code, unknown.error()["code"].as_str()),
        (1, Some("no_question"))
    );
    let told = here.ok(&["merge", there, "--theirs"]);
    let lines = "In another place than before. Check these on the wall:\n  \
                 2  : at home on hook B01; it was at home on hook A02\n  \
                 3  : to hang, without a hook yet; it was at home on hook B01\n";
    assert!(told.contains(lines), "{told}");
}

/// Both copies after the same merge, seen from either side.
fn exports(here: &Stash, there: &Path) -> (Value, Value) {
    let ours = export(&here.ok(&["export", "json"]));
    (ours, export(&there_ok(there, &["export", "json"])))
}

#[test]
fn mine_here_is_theirs_there() {
    let (here, there) = two();
    here.ok(&["ring", "take", "Owl", "1"]);
    here.ok(&[
        "board",
        "new",
        "shelf",
        "--rows",
        "1",
        "--columns",
        "2",
        "--prefix",
        "2",
    ]);
    there_ok(&there, &["ring", "take", "Fox", "1", "2"]);
    there_ok(&there, &["hang", "3", "B01"]);
    let (a, b) = (here.dir(), there.clone());
    let (a, b) = (a.to_str().unwrap(), b.to_str().unwrap());
    let names = |json: &Value| -> Vec<String> {
        let questions = json["questions"].as_array().unwrap().iter();
        let mut names: Vec<String> = questions.map(|of| of["name"].to_string()).collect();
        names.sort();
        names
    };
    let asked_here = export(&here.run(&["merge", b, "--dry-run", "--json"]).out);
    let asked_there = export(&run_in(&there, &["merge", a, "--dry-run", "--json"]).out);
    assert_eq!(names(&asked_here), names(&asked_there));
    assert_eq!(names(&asked_here).len(), 1);

    // Each merges the other copy's earlier state.
    let before = here.folder.path().join("before");
    fs::create_dir(&before).unwrap();
    for name in ["record.jsonl", "record.end"] {
        fs::copy(here.dir().join(name), before.join(name)).unwrap();
    }
    here.ok(&["merge", b, "--mine"]);
    there_ok(&there, &["merge", before.to_str().unwrap(), "--theirs"]);
    let (ours, theirs) = exports(&here, &there);
    assert_eq!(ours, theirs);
    // Crosswise, nothing is asked and nothing changes.
    for other in [
        here.json(&["merge", b]),
        export(&there_ok(&there, &["merge", a, "--json"])),
    ] {
        assert_eq!(other["questions"], serde_json::json!([]));
    }
    assert_eq!(exports(&here, &there), (ours, theirs));
}

#[test]
fn overuse_on_both_sides_leaves_nothing_and_is_reported() {
    let (here, there) = two();
    here.ok(&["use", "1", "--lengths", "5"]);
    there_ok(&there, &["use", "1", "--lengths", "6"]);
    let merged = here.json(&["merge", there.to_str().unwrap()]);
    assert_eq!(merged["to_count"], serde_json::json!(["1"]));
    assert_eq!(lengths(&here.ok(&["export", "csv"])), "0");
    there_ok(&there, &["merge", here.dir().to_str().unwrap()]);
    let (ours, theirs) = exports(&here, &there);
    assert_eq!(ours, theirs);
}

#[test]
fn a_change_undone_here_and_built_upon_there_is_asked() {
    let (here, there) = two();
    here.ok(&["undo"]);
    there_ok(&there, &["use", "1", "--lengths", "1"]);
    let there = there.to_str().unwrap();
    let open = here.run(&["merge", there, "--json"]);
    assert_eq!(open.code, 1, "{open:?}");
    assert_eq!(export(&open.out)["questions"].as_array().unwrap().len(), 1);
    here.ok(&["merge", there, "--mine"]);
    assert_eq!(
        export(&here.ok(&["export", "json"]))["cards"],
        serde_json::json!([])
    );
    here.ok(&["undo"]);
    here.ok(&["merge", there, "--theirs"]);
    assert_eq!(lengths(&here.ok(&["export", "csv"])), "7");
}

/// A record with one of its lines changed, and all sums right again.
fn forged(record: &str, from: &str, to: &str) -> String {
    let mut previous = String::new();
    let mut forged = String::new();
    for line in record.lines() {
        let (body, _) = line.rsplit_once(r#","sum":"#).unwrap();
        let body = body.replace(from, to);
        let digest = Sha256::digest(format!("{previous}{body}"));
        previous = digest
            .iter()
            .take(8)
            .map(|byte| format!("{byte:02x}"))
            .collect();
        forged.push_str(&format!("{body},\"sum\":\"{previous}\"}}\n"));
    }
    forged
}

#[test]
fn a_copy_with_a_changed_past_or_a_clock_in_the_future_is_refused() {
    let (here, there) = two();
    there_ok(&there, &["use", "1", "--lengths", "1"]);
    let before = here.record();
    let record = fs::read_to_string(there.join("record.jsonl")).unwrap();
    let past = here.file("past.jsonl", forged(&record, "\"Cove\"", "\"Dale\""));
    let refused = here.run(&["merge", &past, "--json"]);
    assert_eq!(refused.error()["code"], "altered_copy");
    let last = record.lines().last().unwrap();
    let (_, stamp) = last.split_once("\"stamp\":").unwrap();
    let stamp = stamp.split_once(',').unwrap().0;
    let ahead = forged(&record, stamp, "9007199254740000");
    let ahead = here.file("ahead.jsonl", ahead);
    let refused = here.run(&["merge", &ahead, "--json"]);
    assert_eq!(refused.error()["code"], "clock_ahead");
    assert_eq!(here.record(), before);
}

#[test]
fn new_boards_with_the_same_hook_names_get_their_own_prefixes() {
    let (here, there) = two();
    for at in 0..30 {
        let prefix = format!("P{at}");
        let size = ["--rows", "1", "--columns", "1", "--prefix", &prefix];
        let (ours, theirs) = (format!("a{at}"), format!("b{at}"));
        here.ok(&[&["board", "new", &ours], &size[..]].concat());
        there_ok(&there, &[&["board", "new", &theirs], &size[..]].concat());
    }
    here.ok(&["merge", there.to_str().unwrap()]);
    here.ok(&["check"]);
    there_ok(&there, &["merge", here.dir().to_str().unwrap()]);
    let (ours, theirs) = exports(&here, &there);
    assert_eq!(ours, theirs);
}

#[test]
fn a_line_break_in_a_name_of_another_copy_forges_no_line() {
    let (here, there) = two();
    there_ok(&there, &["family", "add", "reds"]);
    let record = fs::read_to_string(there.join("record.jsonl")).unwrap();
    let copy = here.file(
        "copy.jsonl",
        forged(&record, "\"reds\"", "\"a\\n  999  fake\""),
    );
    let refused = here.run(&["merge", &copy, "--json"]);
    assert_eq!(refused.error()["code"], "copy_damaged");
}

/// The copy of a stash folder as it is now.
fn copy_of(dir: &Path, name: &str) -> PathBuf {
    let copy = dir.with_file_name(name);
    fs::create_dir(&copy).unwrap();
    for name in ["record.jsonl", "record.end"] {
        fs::copy(dir.join(name), copy.join(name)).unwrap();
    }
    copy
}

#[test]
fn opposite_answers_about_a_removed_card_are_asked_again() {
    let (here, there) = two();
    let (ours, theirs) = (here.dir(), there.to_str().unwrap());
    here.ok(&["remove", "1", "--why", "moths"]);
    there_ok(&there, &["use", "1", "--lengths", "1"]);
    let before = copy_of(&ours, "before");
    // Each keeps its own way: here the card stays removed, there it stays.
    here.ok(&["merge", theirs, "--mine"]);
    there_ok(&there, &["merge", before.to_str().unwrap(), "--mine"]);
    let open = here.run(&["merge", theirs]);
    assert_eq!(open.code, 1, "{open:?}");
    assert!(open.out.contains("Nothing changed. Answer"), "{open:?}");
    let open = run_in(&there, &["merge", ours.to_str().unwrap()]);
    assert_eq!(open.code, 1, "{open:?}");
    there_ok(&there, &["merge", ours.to_str().unwrap(), "--mine"]);
    assert!(there_ok(&there, &["find", "1"]).contains("7 lengths"));
    // What is decided there holds here without another question.
    here.ok(&["merge", theirs]);
    assert!(here.ok(&["find", "1"]).contains("7 lengths"));
}

#[test]
fn a_card_counted_on_both_sides_and_one_without_its_hook_are_named() {
    let (here, there) = two();
    here.ok(&["count", "1", "--lengths", "5"]);
    here.ok(&["board", "block", "B03", "--why", "lamp"]);
    there_ok(&there, &["count", "1", "--lengths", "7"]);
    there_ok(&there, &["hang", "2", "B03"]);
    let merged = here.json(&["merge", there.to_str().unwrap()]);
    assert_eq!(merged["to_count"], serde_json::json!(["1"]));
    assert_eq!(merged["without_hook"], serde_json::json!(["2"]));
    let again = there_ok(&there, &["merge", here.dir().to_str().unwrap()]);
    assert!(again.contains("Without a hook now"), "{again}");
}

#[test]
fn a_new_colour_bought_on_both_sides_has_the_thread_of_both() {
    let (here, there) = two();
    here.ok(&["bought", "800=1:L1"]);
    there_ok(&there, &["bought", "800=2:L2"]);
    let other = there.to_str().unwrap();
    here.ok(&["merge", other, "--mine"]);
    let found = here.ok(&["find", "800"]);
    assert!(
        found.contains("8 lengths of lot L1")
            && found.contains("8 lengths + 1 uncut skein of lot L2"),
        "{found}"
    );
    there_ok(&there, &["merge", here.dir().to_str().unwrap()]);
    let sides = [
        here.ok(&["export", "json"]),
        there_ok(&there, &["export", "json"]),
    ];
    assert_eq!(export(&sides[0])["cards"], export(&sides[1])["cards"]);
}

#[test]
fn a_question_says_in_words_what_differs() {
    let (here, there) = two();
    here.ok(&["ring", "open", "Owl"]);
    fs::remove_dir_all(&there).unwrap();
    let there = copy_of(&here.dir(), "there");
    let key = |name: &str, stitches: u32| {
        let key = format!("number,symbol,stitches\n1,X,{stitches}\n2,Y,20\n");
        here.file(name, key)
    };
    here.ok(&["import", "key", &key("a.csv", 40), "--project", "Owl"]);
    there_ok(
        &there,
        &["import", "key", &key("b.csv", 60), "--project", "Owl"],
    );
    here.ok(&["board", "block", "B03", "--why", "lamp"]);
    there_ok(&there, &["board", "reserve", "B03"]);
    here.ok(&["range", "put-up", "Cove", "--kind", "silk"]);
    there_ok(&there, &["range", "put-up", "Cove", "--skein", "10m"]);
    let asked = here.run(&["merge", there.to_str().unwrap()]).out;
    for said in [
        "mine: 2 lines, here alone: X 1: 40 full",
        "theirs: 2 lines, here alone: X 1: 60 full",
        ". hook B03\n",
        "mine: blocked (lamp)",
        "theirs: reserved",
        "mine: silk, 5 m skeins",
        "theirs: stranded cotton, 10 m skeins",
    ] {
        assert!(asked.contains(said), "{said}: {asked}");
    }
    assert!(!asked.contains('{'), "{asked}");
}

#[test]
fn thread_split_on_both_sides_for_one_project_is_named() {
    let (here, there) = two();
    here.ok(&["ring", "open", "Owl"]);
    fs::remove_dir_all(&there).unwrap();
    let there = copy_of(&here.dir(), "there");
    here.ok(&["ring", "split", "Owl", "1", "--lengths", "2"]);
    there_ok(&there, &["ring", "split", "Owl", "1", "--lengths", "3"]);
    let there = there.to_str().unwrap();
    let looked = here.json(&["merge", there, "--dry-run"]);
    assert_eq!(looked["split_twice"], serde_json::json!(["1@Owl"]));
    let told = here.ok(&["merge", there]);
    assert!(
        told.contains("Split on both sides, so there are two of each now: 1@Owl."),
        "{told}"
    );
    assert_eq!(lengths(&here.ok(&["export", "csv"])), "3");
}
