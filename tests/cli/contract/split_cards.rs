//! Split cards: thread split off onto them, and their later life.

use serde_json::json;

use super::wall;

#[test]
fn thread_is_split_off_used_and_rejoined() {
    let stash = wall();
    let split = ["ring", "split", "Mill Pond", "9", "--lengths", "2"];
    assert_eq!(
        stash.ok(&[&split[..], &["--strands", "1", "--label", "for reeds"]].concat()),
        "Split 2 lengths 1 strand of card 9 off to the ring 'Mill Pond'.\n  \
         9  moss: 5 lengths 5 strands left, at home on hook A02\n  \
         9@Mill Pond  moss: 2 lengths 1 strand left, on the ring 'Mill Pond'\n"
    );
    let split_card = &stash.json(&["find", "9"])["matches"][1];
    assert_eq!(
        (
            &split_card["split_card"],
            &split_card["strands"],
            &split_card["note"]
        ),
        (&json!(true), &json!(13), &json!("for reeds"))
    );
    let used = ["use", "9", "--project", "Mill Pond", "--lengths", "1"];
    let used = stash.json(&used);
    assert_eq!(used["done"], "Used 1 length of card 9@Mill Pond");
    assert_eq!(used["cards"][0]["strands"], 7);
    let run = stash.run(&["ring", "close", "Mill Pond", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (1, &json!("unaccounted")));
    let message = run.error()["message"].as_str().unwrap().to_owned();
    assert!(
        message.ends_with("homehook ring rejoin \"Mill Pond\" 9"),
        "{message}"
    );
    let merged = stash.json(&["ring", "rejoin", "Mill Pond", "9"]);
    assert_eq!(merged["done"], "Rejoined 1 length 1 strand with card 9");
    assert_eq!(merged["cards"].as_array().unwrap().len(), 1);
    assert_eq!(merged["cards"][0]["strands"], 42);
    stash.ok(&["undo"]);
    assert_eq!(stash.json(&["find", "9"])["matches"][1]["strands"], 7);
    stash.ok(&["redo"]);
    stash.ok(&["ring", "close", "Mill Pond"]);
    let runs: [(&[&str], &str); 4] = [
        (&["ring", "rejoin", "Mill Pond", "9"], "no_split_card"),
        (&["use", "9", "--lengths", "8"], "too_little"),
        (&["use", "9", "--lengths", "0"], "no_thread"),
        (
            &["use", "9", "--lengths", "1", "--project", "Mill Pond"],
            "not_on_ring",
        ),
    ];
    for (args, code) in runs {
        let run = stash.run(&[args, &["--json"]].concat());
        assert_eq!((run.code, &run.error()["code"]), (1, &json!(code)));
    }
    assert_eq!(stash.run(&["use", "9"]).code, 2);
    assert_eq!(stash.run(&["ring", "split", "Mill Pond", "9"]).code, 2);
}

#[test]
fn a_split_card_is_named_lost_found_moved_and_put_away() {
    let stash = wall();
    stash.ok(&["ring", "split", "Mill Pond", "9", "--lengths", "2"]);
    let listed = &stash.json(&["ring", "list"])["rings"][0]["cards"][0];
    assert_eq!(
        (
            &listed["number"],
            &listed["split_card_of"],
            &listed["called"]
        ),
        (&json!("9"), &json!("9"), &json!("9@Mill Pond"))
    );
    stash.ok(&["use", "9@mill pond", "--strands", "2"]);
    let lost = stash.json(&["missing", "9@Mill Pond"]);
    assert_eq!(lost["moved"][0]["split_card_of"], "9");
    stash.ok(&["found", "9@Mill Pond"]);
    let moved = stash.json(&["ring", "take", "Robin", "9@Mill Pond"]);
    assert_eq!(moved["moved"][0]["called"], "9@Robin");
    let run = stash.run(&["hold", "9@Robin", "--json"]);
    assert_eq!(
        (run.code, &run.error()["code"]),
        (1, &json!("split_card_has_no_hook"))
    );
    let run = stash.run(&["use", "9@Kite", "--strands", "1"]);
    assert!(
        run.err.contains("The split cards of 9 are: 9@Robin"),
        "{run:?}"
    );
    let found = stash.ok(&["find", "9"]);
    assert!(found.contains("9 (split: 9@Robin)"), "{found}");

    // It stays on its ring while its whole card is away, and is rejoined once that is back.
    stash.ok(&["ring", "take", "Kite", "9"]);
    let run = stash.run(&["ring", "return", "Robin", "--all", "--json"]);
    assert_eq!(
        (run.code, &run.error()["code"]),
        (1, &json!("split_card_stays"))
    );
    stash.ok(&["ring", "return", "Kite", "9"]);
    let back = stash.json(&["ring", "return", "Robin", "9@Robin"]);
    assert_eq!(back["done"], "Rejoined 1 split card from the ring 'Robin'");
    assert_eq!(back["rejoined"][0]["onto"]["number"], "9");
    assert_eq!(back["rejoined"][0]["strands"], 10);
    stash.ok(&["ring", "close", "Robin"]);
}

#[test]
fn a_list_of_what_is_owned_leaves_a_split_card_and_names_it() {
    let stash = wall();
    stash.ok(&["ring", "split", "Mill Pond", "9", "--lengths", "2"]);
    let range = stash.json(&["find", "9"])["matches"][0]["range"].clone();
    let range = range.as_str().unwrap();
    let list = format!("range,number,lengths\n{range},9,7\n");
    let list = stash.file("mine.csv", &list);
    for more in [&["--dry-run"][..], &[]] {
        let said = stash.ok(&[&["import", "cards", &list], more].concat());
        assert!(
            said.contains("9: 6 lengths -> 7 lengths, besides 9@Mill Pond"),
            "{said}"
        );
    }
    let found = stash.json(&["find", "9"]);
    let strands = [0, 1].map(|at| found["matches"][at]["strands"].clone());
    assert_eq!(strands, [json!(42), json!(12)]);
}
