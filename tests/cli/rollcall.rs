//! The roll call in the shell: the paper list, and the answers scripts rely on.

use crate::common::Stash;
use serde_json::json;

fn wall() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "3"]);
    stash.ok(&[
        "board",
        "new",
        "Door",
        "--rows",
        "1",
        "--columns",
        "2",
        "--cards-per-hook",
        "2",
        "--prefix",
        "2-",
    ]);
    let rows = "range,number,name,hook\nHeath,701,slate,A01\nHeath,9,moss,A02\nMoor,701,peat,B01\n\
                Moor,5,rush,2-A01\nMoor,6,reed,2-A01\nMoor,7,sedge,\n";
    let list = stash.file("stock.csv", rows);
    stash.ok(&["import", "cards", &list]);
    stash.ok(&["ring", "take", "Mill Pond", "9", "6"]);
    stash
}

#[test]
fn the_paper_list_names_cards_due_on_hooks_and_cards_that_are_out() {
    let stash = wall();
    assert_eq!(
        stash.ok(&["rollcall"]),
        "Wall:\n\
         \n\
         Row A\n  \
           [ ] A01: Heath:701 slate\n  \
           [ ] A02: nothing; 9 is out (on the ring 'Mill Pond')\n  \
           [ ] A03: nothing\n\
         \n\
         Row B\n  \
           [ ] B01: Moor:701 peat\n  \
           [ ] B02 to B03: nothing\n\
         \n\
         Door:\n\
         \n\
         Row 2-A\n  \
           [ ] 2-A01: 5 rush; 6 is out (on the ring 'Mill Pond')\n  \
           [ ] 2-A02: nothing\n"
    );
    let one = stash.ok(&["rollcall", "--rows", "B"]);
    assert!(one.contains("B01") && !one.contains("A01"), "{one}");
    let answer = stash.json(&["rollcall", "--rows", "2-A"]);
    assert_eq!(answer["hooks"].as_array().unwrap().len(), 2);
    let hook = &answer["hooks"][0];
    assert_eq!(
        (&hook["hook"], &hook["row"], &hook["cards"]),
        (
            &json!("2-A01"),
            &json!("Row 2-A"),
            &json!([{"range": "Moor", "number": "5"}])
        )
    );
    assert_eq!(hook["out"][0]["card"]["number"], "6");
    assert_eq!(hook["out"][0]["whereabouts"]["ring"], "Mill Pond");
    assert_eq!(
        stash.run(&["rollcall", "--rows", "Q", "--json"]).error()["code"],
        "unknown_row"
    );
}

#[test]
fn a_list_is_compared_with_the_record_and_changes_nothing_unless_asked() {
    let stash = wall();
    // 5 hangs on A01, where slate should be; 9 came home; 77 is unknown; 2-A01 is empty.
    let list = stash.file(
        "seen.csv",
        "hook,number,range\nA01,5,\nA02,9,\nA03,77,\n2-A01,,\n",
    );
    let before = stash.record();
    let mut answer = stash.json(&["rollcall", &list]);
    let misplaced = answer["misplaced"].as_array_mut().unwrap();
    for of in misplaced.iter_mut() {
        let since = of["recorded"].as_object_mut().unwrap().remove("since");
        assert!(since.unwrap().is_string());
    }
    assert_eq!(
        answer["misplaced"],
        json!([
            {"card": {"range": "Moor", "number": "5"}, "seen": "A01",
             "recorded": {"kind": "hook", "hook": "2-A01"}},
            {"card": {"range": "Heath", "number": "9"}, "seen": "A02",
             "recorded": {"kind": "ring", "ring": "Mill Pond"}},
        ])
    );
    let missing = answer["missing"].as_array().unwrap();
    assert_eq!(missing.len(), 1);
    assert_eq!(
        missing[0]["card"],
        json!({"range": "Heath", "number": "701"})
    );
    assert_eq!(missing[0]["recorded"]["hook"], "A01");
    assert_eq!(
        (&answer["walked"], &answer["found"], &answer["applied"]),
        (&json!(4), &json!(0), &json!(false))
    );
    assert_eq!(answer["unknown"], json!([{"line": 4, "text": "77"}]));
    assert_eq!(stash.record(), before);
    assert_eq!(
        stash.ok(&["rollcall", &list]),
        "Roll call: 0 found, 2 misplaced, 1 missing.\n  \
           5 hangs on A01; the record had it at home on hook 2-A01.\n  \
           9 hangs on A02; the record had it on the ring 'Mill Pond'.\n  \
           Heath:701 is not there; the record had it at home on hook A01.\n  \
           line 4: no card of the stash is called 77.\n\
         To record it, add --apply.\n"
    );

    let applied = stash.json(&["rollcall", &list, "--apply"]);
    assert_eq!(applied["applied"], true);
    assert!(applied["event"].is_u64());
    let found = stash.json(&["find", "5"]);
    assert!(found.to_string().contains("\"A01\""), "{found}");
    let again = stash.json(&["rollcall", &list]);
    assert_eq!(
        (&again["found"], &again["misplaced"], &again["missing"]),
        (&json!(2), &json!([]), &json!([]))
    );
    assert_eq!(
        stash.ok(&["undo"]),
        "Undone: Roll call: 0 found, 2 misplaced, 1 missing.\n  \
           Heath:701  slate: it is at home on hook A01\n  \
           9  moss: it is on the ring 'Mill Pond'\n  \
           5  rush: it is at home on hook 2-A01\n"
    );
    assert_eq!(stash.json(&["rollcall", &list])["found"], 0);
}

#[test]
fn hooks_missing_from_the_list_count_as_walked_only_on_request() {
    let stash = wall();
    let list = stash.file("seen.csv", "hook,number\nA01,701\n");
    let figures = |more: &[&str]| {
        let answer = stash.json(&[&["rollcall", &list], more].concat());
        let missing = answer["missing"].as_array().unwrap().len();
        (answer["walked"].as_u64(), answer["found"].as_u64(), missing)
    };
    assert_eq!(figures(&[]), (Some(1), Some(1), 0));
    assert_eq!(figures(&["--rows", "A-B"]), (Some(6), Some(1), 1));
    assert_eq!(figures(&["--all"]), (Some(8), Some(1), 2));
}

#[test]
fn nothing_is_recorded_from_a_list_with_an_unreadable_row() {
    let stash = wall();
    for (text, code, what) in [
        ("hook,number\nA01,701\nZ9,9\n", "rows_rejected", "line 3"),
        ("hook,number\nA01,9\nA03,9\n", "seen_twice", "A03"),
        (
            "hook,number\nA03,701\n",
            "rows_rejected",
            "Heath:701, Moor:701",
        ),
        ("hook,number\n,701\n", "rows_rejected", "the hook is empty"),
        ("hook,name\nA01,x\n", "not_a_list", "'number'"),
    ] {
        let list = stash.file("seen.csv", text);
        let before = stash.record();
        let run = stash.run(&["rollcall", &list, "--apply", "--json"]);
        assert_eq!(
            (run.code, run.error()["code"].as_str()),
            (1, Some(code)),
            "{text}"
        );
        let message = run.error()["message"].as_str().unwrap().to_owned();
        assert!(message.contains(what), "{message}");
        assert_eq!(stash.record(), before);
    }
    // A wall without deviations is worth recording too.
    let list = stash.file("seen.csv", "hook,number\nA01,701\n");
    let said = stash.ok(&["rollcall", &list, "--apply"]);
    assert_eq!(said, "Roll call: 1 found, 0 misplaced, 0 missing.\n");
    assert!(stash.ok(&["undo"]).contains("Roll call: 1 found"));
    assert_eq!(stash.run(&["rollcall", "--apply"]).code, 2);
}
