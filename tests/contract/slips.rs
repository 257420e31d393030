//! What a slip on the command line must not do.

use std::fs;

use serde_json::json;

use super::wall;
use crate::common::{Stash, program};

#[test]
fn an_export_writes_over_an_earlier_export_and_over_nothing_else() {
    let stash = wall();
    for form in ["csv", "json"] {
        let own = stash.file("mine.txt", "my threads, by hand\n310\n");
        let refused = stash.run(&["export", form, &own, "--json"]);
        assert_eq!(
            (refused.code, &refused.error()["code"]),
            (1, &json!("file_there"))
        );
        assert_eq!(
            fs::read_to_string(&own).unwrap(),
            "my threads, by hand\n310\n"
        );
        stash.ok(&["export", form, &own, "--force"]);
        // What is there now is an export, and an older one than the next.
        stash.ok(&["use", "9", "--strands", "1"]);
        stash.ok(&["export", form, &own]);
        assert_eq!(
            fs::read_to_string(&own).unwrap(),
            stash.ok(&["export", form])
        );
    }
}

#[test]
fn a_folder_without_a_stash_is_told_of() {
    let stash = Stash::new();
    let found = stash.run(&["find", "310"]);
    assert_eq!(found.code, 0);
    assert!(
        found.err.starts_with("homehook: there is no stash in "),
        "{found:?}"
    );
    assert!(!stash.dir().exists());
    // A file is no folder.
    let file = stash.file("list.csv", "number\n310\n");
    let run = program()
        .args(["--stash", &file, "where"])
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(1));
}

#[test]
fn a_script_hears_of_bad_usage_as_of_every_error() {
    let stash = wall();
    let run = stash.run(&["find", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (2, &json!("usage")));
}

#[test]
fn a_parked_project_is_left_out_in_words() {
    let stash = wall();
    let key = stash.file("key.csv", "symbol,range,number,stitches\nX,Heath,9,9000\n");
    stash.ok(&["import", "key", &key, "--project", "Robin"]);
    stash.ok(&["ring", "park", "Robin", "B03"]);
    let refused = stash.run(&["buy", "--json"]);
    assert_eq!(
        (refused.code, &refused.error()["code"]),
        (1, &json!("keys_parked"))
    );
    stash.ok(&["import", "key", &key, "--project", "Wren"]);
    let bought = stash.run(&["buy"]);
    assert!(
        bought.err.contains("left out, being parked: 'Robin'"),
        "{bought:?}"
    );
    assert!(stash.run(&["need"]).err.contains("'Robin'"));
    assert_eq!(stash.run(&["buy", "Robin", "Wren"]).err, "");
}

#[test]
fn the_thread_and_the_skeins_that_go_with_a_card_are_told() {
    let stash = wall();
    let list = stash.file("more.csv", "range,number,reserve\nHeath,9,2\n");
    stash.ok(&["import", "stock", &list]);
    assert_eq!(
        stash.ok(&["discard", "9", "--why", "moths"]),
        "Took 1 card out of the stash: moths.\n  \
         9  moss: 8 lengths on it and 2 uncut skeins; it was at home on hook A02\n"
    );
}
