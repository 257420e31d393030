//! The contract with scripts: the shapes of answers, exit codes, and who may write when.

mod rehang;
mod slips;
mod split_cards;
mod together;

use crate::common::{Stash, finish, program};
use serde_json::{Value, json};

fn wall() -> Stash {
    let stash = Stash::new();
    let size = ["--rows", "2", "--columns", "3", "--cards-per-hook", "2"];
    stash.ok(&[&["board", "new", "Wall"][..], &size].concat());
    let rows = "range,number,name,hook\nHeath,701,slate,A01\nHeath,9,moss,A02\n\
                Moor,701,peat,A03\nMoor,5,rush,\n";
    let list = stash.file("stock.csv", rows);
    stash.ok(&["import", "cards", &list]);
    stash
}

fn card(range: &str, number: &str) -> Value {
    json!({"range": range, "number": number})
}

#[test]
fn answers_have_the_shapes_of_the_contract() {
    let stash = wall();
    stash.ok(&["board", "block", "b3", "--why", "lamp"]);
    let shown = stash.json(&["board", "show"]);
    let board = &shown["boards"][0];
    assert_eq!(
        (&board["name"], &board["rows"], &board["columns"]),
        (&json!("Wall"), &json!(2), &json!(3))
    );
    let hooks = board["hooks"].as_array().unwrap();
    let hook_names: Vec<&str> = hooks
        .iter()
        .map(|hook| hook["hook"].as_str().unwrap())
        .collect();
    assert_eq!(hook_names, ["A01", "A02", "A03", "B01", "B02", "B03"]);
    let first = json!({"hook": "A01", "cards_per_hook": 2, "blocked": null, "reserved": false, "homes": [card("Heath", "701")]});
    assert_eq!(hooks[0], first);
    assert_eq!(
        hooks[5],
        json!({"hook": "B03", "cards_per_hook": 2, "blocked": "lamp", "reserved": false, "homes": []})
    );

    let found = stash.json(&["find", "701"]);
    let matches = found["matches"].as_array().unwrap();
    assert_eq!(matches.len(), 2);
    for (field, value) in [
        ("range", "Heath"),
        ("number", "701"),
        ("name", "slate"),
        ("home", "A01"),
    ] {
        assert_eq!(matches[0][field], value);
    }
    assert_eq!(matches[0]["whereabouts"]["kind"], "hook");
    assert_eq!(matches[0]["whereabouts"]["hook"], "A01");
    let tray = &stash.json(&["find", "rush"])["matches"][0];
    assert_eq!(
        (&tray["home"], &tray["whereabouts"]["kind"]),
        (&Value::Null, &json!("unhung"))
    );
    assert_eq!(
        stash.json(&["find", "nothing", "like", "it"])["matches"],
        json!([])
    );

    stash.ok(&["ring", "take", "Mill Pond", "moor:701", "9"]);
    stash.ok(&["ring", "hang", "Mill Pond", "B01"]);
    let rings = stash.json(&["ring", "list"]);
    let ring = &rings["rings"][0];
    assert_eq!(
        (&ring["project"], &ring["state"], &ring["hangs_at"]),
        (&json!("Mill Pond"), &json!("hanging"), &json!("B01"))
    );
    assert_eq!(
        ring["cards"],
        json!([card("Moor", "701"), card("Heath", "9")])
    );
    let away = &stash.json(&["find", "moor:701"])["matches"][0]["whereabouts"];
    assert_eq!(
        (&away["kind"], &away["ring"]),
        (&json!("ring"), &json!("Mill Pond"))
    );
    stash.ok(&["missing", "Moor:701"]);
    let lost = &stash.json(&["find", "moor:701"])["matches"][0];
    assert_eq!(
        (&lost["home"], &lost["whereabouts"]["kind"]),
        (&json!("A03"), &json!("missing"))
    );
    stash.ok(&["found", "Moor:701"]);

    let plans = stash.json(&["rehang"]);
    let plan = &plans["plans"][1];
    for field in ["n", "touched", "relabel", "out_of_order"] {
        assert!(plan[field].is_u64(), "{field}");
    }
    for step in plan["steps"].as_array().unwrap() {
        assert!(step["card"]["range"].is_string() && step["card"]["number"].is_string());
        for end in ["from", "to"] {
            assert!(step[end].is_string() || step[end].is_null());
        }
    }
    let check = stash.json(&["check"]);
    assert_eq!(
        (&check["ok"], &check["problems"]),
        (&json!(true), &json!([]))
    );
    assert_eq!(check["events"], json!(7));
}

#[test]
fn an_ambiguous_name_lists_the_possible_cards() {
    let stash = wall();
    let run = stash.run(&["ring", "take", "Mill Pond", "701", "--json"]);
    assert_eq!((run.code, run.out.as_str()), (1, ""));
    let error = run.error();
    assert_eq!(error["code"], "ambiguous");
    let message = error["message"].as_str().unwrap();
    assert!(
        message.contains("Heath:701") && message.contains("Moor:701"),
        "{message}"
    );
    let run = stash.run(&["missing", "8"]);
    assert_eq!((run.code, run.out.as_str()), (1, ""));
    assert!(run.err.starts_with("homehook: No card '8'"), "{run:?}");
}

#[test]
fn the_columns_of_a_list_can_be_named() {
    let stash = Stash::new();
    let bare = stash.file("bare.csv", "slate;x;701;2\nmoss;x;9;many\n");
    let named = ["--columns", "Name,-,no,skeins", "--no-header"];
    let said = stash.json(&[&["import", "cards", &bare][..], &named].concat());
    assert_eq!(
        (&said["added"], &said["warnings"][0]["line"]),
        (&json!(2), &json!(2))
    );
    assert_eq!(said["ignored_columns"], json!(["column 2"]));
    // Unknown titles, and two columns that may be the number.
    let odd = stash.file("odd.csv", "Garn,Ton,Blatt\n5,rush,7\n6,fern,8\n");
    let run = stash.run(&["import", "cards", &odd]);
    assert_eq!(run.code, 1);
    let typed = format!("homehook import cards {odd} --columns number,name,-");
    assert!(run.err.contains(&typed), "{run:?}");
    let said = stash.json(&["import", "cards", &odd, "--columns", "number,name,-"]);
    assert_eq!(said["added"], 2);
    let found = stash.json(&["find", "rush"]);
    assert_eq!(found["matches"][0]["number"], "5");
    let wrong = stash.run(&["import", "cards", &odd, "--columns", "number,shoe,-"]);
    assert_eq!(wrong.code, 2, "{wrong:?}");
}

#[test]
fn the_shell_guesses_what_columns_are_and_prints_the_guess() {
    let stash = Stash::new();
    let list = stash.file("list.csv", "Shade No.;Colour;Qty\n405;plum;2\n406;moss;1\n");
    let run = stash.run(&["import", "cards", &list, "--dry-run"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.err.contains("--columns number,name,skeins"), "{run:?}");
    assert!(run.out.contains("2 cards added"), "{run:?}");
    assert!(run.out.contains("Dry run: nothing changed"), "{run:?}");
    let said = stash.json(&["import", "cards", &list]);
    assert_eq!(said["columns"], "--columns number,name,skeins");
    assert_eq!(stash.json(&["find", "plum"])["matches"][0]["number"], "405");
    // Clear titles need no guess, and trade words are known titles.
    let plain = stash.file("plain.csv", "Floss,Name,Skeins owned,Peg\n9,chalk,1,\n");
    let said = stash.json(&["import", "cards", &plain]);
    assert_eq!(
        (&said["columns"], &said["ignored_columns"]),
        (&json!(null), &json!([]))
    );
    // No column may be the number.
    let none = stash.file("none.csv", "colour,qty\nblue,7\nred,9\n");
    let run = stash.run(&["import", "cards", &none, "--json"]);
    assert_eq!(run.error()["code"], "unclear_columns");
}

#[test]
fn columns_of_a_chart_key_are_guessed_or_assigned() {
    let stash = Stash::new();
    let key = stash.file("key.csv", "Wie,Was,Wo\nX,eins,3\nO,zwei,4\n");
    let key_of = ["import", "key", &key, "--project", "Fox", "--json"];
    let titled = stash.file("titled.csv", "Zeichen;Farbnummer;Stiche\nX;701;40\n");
    let said = stash.json(&["import", "key", &titled, "--project", "Fox"]);
    assert_eq!(
        (&said["entries"], &said["columns"]),
        (&json!(1), &json!(null))
    );
    let said = stash.json(&[&key_of[..5], &["--columns", "symbol,-,number"]].concat());
    assert_eq!(said["entries"], 2);
    assert_eq!(said["columns"], "--columns symbol,-,number");
    // Nothing fits: the titles, and how to assign them.
    let none = stash.file("none.csv", "Wie,Was\nX,eins\nO,zwei\n");
    let run = stash.run(&["import", "key", &none, "--project", "Fox", "--json"]);
    let error = run.error();
    assert_eq!(error["code"], "unclear_columns");
    let message = error["message"].as_str().unwrap();
    assert!(
        message.contains("'Wie', 'Was'") && message.contains("--project Fox --columns "),
        "{message}"
    );
}

#[test]
fn an_exported_list_names_the_cards_that_are_not_on_their_hooks() {
    let stash = wall();
    assert_eq!(stash.run(&["export", "csv"]).err, "");
    stash.ok(&["missing", "9"]);
    let run = stash.run(&["export", "csv"]);
    let said = "The list has 1 card on its hook as if it hung there: 9. For where each card is: \
                homehook export json";
    assert!(run.err.contains(said), "{run:?}");
    assert_eq!(stash.run(&["export", "json"]).err, "");
}

#[test]
fn a_new_number_that_differs_by_zeros_is_pointed_out() {
    let stash = Stash::new();
    let mine = stash.file("mine.csv", "range,number\nCove,310\n");
    assert_eq!(stash.run(&["import", "cards", &mine]).err, "");
    let bought = stash.file("bought.csv", "range,number,skeins\nCove,0310,1\n");
    let list = ["import", "cards", &bought, "--purchase"];
    let said = "0310 is a new card. Did you mean 310?";
    for more in [&["--dry-run"][..], &["--json"], &[]] {
        let run = stash.run(&[&list[..], more].concat());
        assert!(run.code == 0 && run.err.contains(said), "{run:?}");
        if !more.contains(&"--dry-run") {
            stash.ok(&["undo"]);
        }
    }
    let run = stash.run(&["bought", "Cove:0310=1"]);
    assert!(
        run.err.contains(&format!("{said} If so: homehook undo")),
        "{run:?}"
    );
}

#[test]
fn a_purchase_shows_each_card_in_the_preview_and_after_the_import() {
    let stash = Stash::new();
    let list = stash.file("mine.csv", "number,lengths,dye lot\n405,8,K7\n406,1,\n");
    stash.ok(&["import", "cards", &list]);
    let bought = stash.file("bought.csv", "number,skeins,uncut\n405,1,\n406,,2\n");
    let taking = ["import", "cards", &bought, "--purchase"];
    let before = stash.record();
    let dry = stash.ok(&[&taking[..], &["--dry-run"]].concat());
    let said = [
        "405: 8 -> 16 lengths",
        "406: 0 uncut skeins -> 2 uncut skeins",
    ];
    assert!(said.iter().all(|line| dry.contains(line)), "{dry}");
    assert_eq!(stash.record(), before);
    let dry = stash.json(&[&taking[..], &["--dry-run"]].concat());
    assert_eq!(dry["dry_run"], true);
    let done = stash.ok(&taking);
    assert!(said.iter().all(|line| done.contains(line)), "{done}");
    assert!(!done.contains("Dry run: nothing changed"), "{done}");
}

#[test]
fn a_chart_key_and_a_card_list_are_not_mistaken_for_each_other() {
    let stash = Stash::new();
    let key = stash.file("key.csv", "symbol,number,stitches\nX,405,100\n");
    let cards = stash.file("cards.csv", "number,lengths\n405,8\n");
    let run = stash.run(&["import", "cards", &key, "--json"]);
    assert_eq!(
        (run.code, &run.error()["code"]),
        (1, &json!("looks_like_chart_key"))
    );
    let message = run.error()["message"].to_string();
    for part in [
        "'symbol'",
        &format!("homehook import key {key} --project NAME"),
        "--as-cards",
    ] {
        assert!(message.contains(part), "{message}");
    }
    let run = stash.run(&[
        "import",
        "key",
        &cards,
        "--project",
        "Fox",
        "--range",
        "Heath",
        "--json",
    ]);
    assert_eq!(
        (run.code, &run.error()["code"]),
        (1, &json!("looks_like_card_list"))
    );
    assert!(run.error()["message"].to_string().contains("--as-key"));
    assert_eq!(stash.run(&["check", "--json"]).error()["code"], "no_stash");
    // The user may insist.
    assert_eq!(
        stash.json(&["import", "cards", &key, "--as-cards"])["added"],
        1
    );
    stash.ok(&["import", "key", &cards, "--project", "Fox", "--as-key"]);
}

#[test]
fn bad_usage_exits_with_two() {
    let stash = wall();
    let bad: [&[&str]; 7] = [
        &["fnid", "701"],
        &["find"],
        &["board", "new", "Second", "--rows", "2"],
        &["board", "block", "A01"],
        &["ring", "return", "Mill Pond"],
        &["ring", "return", "Mill Pond", "9", "--all"],
        &["undo", "0"],
    ];
    for args in bad {
        let run = stash.run(args);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{args:?}: {run:?}");
    }
    assert_eq!(stash.run(&["--help"]).code, 0);
}

#[test]
fn the_folder_comes_from_the_option_or_else_from_the_environment() {
    let (one, two) = (wall(), Stash::new());
    let from_env = finish(
        program()
            .env("HOMEHOOK_STASH", one.dir())
            .args(["find", "9"]),
    );
    assert!(
        from_env
            .out
            .starts_with("Heath 9  moss   8 lengths   home A02   at home"),
        "{from_env:?}"
    );
    let both = program()
        .env("HOMEHOOK_STASH", one.dir())
        .arg("--stash")
        .arg(two.dir())
        .args(["find", "9"])
        .output()
        .unwrap();
    assert_eq!(
        String::from_utf8(both.stdout).unwrap(),
        "Nothing found for '9'.\n"
    );
    assert!(!two.dir().exists(), "reading made a stash");
}

#[test]
fn a_check_makes_no_stash_and_finds_a_changed_byte() {
    let none = Stash::new();
    let run = none.run(&["check", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (1, &json!("no_stash")));
    assert!(!none.dir().exists());

    let stash = wall();
    let mut record = stash.record();
    let at = record.len() / 2;
    record[at] ^= 1;
    std::fs::write(stash.dir().join("record.jsonl"), &record).unwrap();
    let run = stash.run(&["check", "--json"]);
    assert_eq!(run.code, 1);
    let check: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(check["ok"], false);
    assert!(check["problems"][0]["line"].is_u64());
    assert_eq!(stash.record(), record);
    let run = stash.run(&["ring", "take", "Mill Pond", "9", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (1, &json!("read_only")));
    assert_eq!(stash.record(), record);
}

#[test]
fn only_the_first_change_creates_the_folder() {
    let none = Stash::new();
    let run = none.run(&["family", "add", "earth", "--json"]);
    assert_eq!((run.code, &run.error()["code"]), (1, &json!("no_stash")));
    assert!(!none.dir().exists());
    none.ok(&["board", "new", "Wall", "--rows", "1", "--columns", "2"]);
    none.ok(&["family", "add", "earth"]);
}

#[test]
fn a_refused_change_creates_no_stash() {
    let none = Stash::new();
    let list = none.file("stock.csv", "number,hook\n9,A01\n");
    let changes: [(&[&str], &str); 6] = [
        (&["ring", "take", "Mill Pond", "9"], "unknown_card"),
        (&["board", "block", "A01", "--why", "lamp"], "no_board"),
        (&["import", "cards", &list], "rows_rejected"),
        (&["rehang", "--apply", "1"], "no_board"),
        (&["undo"], "nothing_to_undo"),
        (&["redo"], "nothing_to_redo"),
    ];
    for (args, code) in changes {
        let run = none.run(&[args, &["--json"]].concat());
        assert_eq!((run.code, &run.error()["code"]), (1, &json!(code)));
        assert!(!none.dir().exists(), "{args:?}");
    }
}

#[test]
fn undo_and_redo_show_their_changes_and_when_there_are_no_more() {
    let stash = wall();
    stash.ok(&["ring", "take", "Mill Pond", "9"]);
    assert_eq!(
        stash.ok(&["undo"]),
        "Undone: Took 1 card to the ring 'Mill Pond'.\n  9  moss: hang it on A02 again\n"
    );
    assert_eq!(
        stash.ok(&["redo"]),
        "Redone: Took 1 card to the ring 'Mill Pond'.\n  9  moss: put it on 'Mill Pond' again\n"
    );
    // Out and back again: the wall matches, so nothing is mentioned.
    stash.ok(&["ring", "return", "Mill Pond", "9"]);
    stash.ok(&["ring", "take", "Mill Pond", "9"]);
    let undone = stash.json(&["undo", "2"]);
    assert_eq!(undone["undone"].as_array().unwrap().len(), 2);
    assert_eq!(undone["cards"], json!([]));
    stash.ok(&["redo", "2"]);
    let none = stash.run(&["redo", "--json"]);
    assert_eq!(
        (none.code, &none.error()["code"]),
        (1, &json!("nothing_to_redo"))
    );
    let fewer = stash.run(&["undo", "9", "--json"]);
    assert_eq!(
        (fewer.code, &fewer.error()["code"]),
        (1, &json!("fewer_to_undo"))
    );
    stash.ok(&["undo", "5"]);
    assert_eq!(
        stash.json(&["board", "show"]),
        json!({"boards": [], "hang_out_of_order": []})
    );
    let none = stash.run(&["undo", "--json"]);
    assert_eq!(
        (none.code, &none.error()["code"]),
        (1, &json!("nothing_to_undo"))
    );
}

#[test]
fn the_demo_prints_a_board_with_work_to_do_and_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let run = finish(program().env("TMPDIR", folder.path()).arg("demo"));
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(
        run.out.starts_with("Workroom wall: 12 rows of 20 hooks"),
        "{}",
        run.out
    );
    assert!(run.out.contains("2 missing, 30 to hang"), "{}", run.out);
    assert!(run.out.contains("hanging on hook"), "{}", run.out);
    assert!(run.out.contains("(96 days)"), "{}", run.out);
    assert_eq!(folder.path().read_dir().unwrap().count(), 0);
}

#[test]
fn every_card_away_is_listed_with_its_companions() {
    let stash = wall();
    assert!(
        stash.json(&["where"])["missing"]
            .as_array()
            .unwrap()
            .is_empty()
    );
    stash.ok(&["ring", "take", "Mill Pond", "9", "Moor:701"]);
    let said = stash.ok(&["missing", "9"]);
    assert!(
        said.contains("last seen on the ring 'Mill Pond', with Moor:701 (still on the ring)"),
        "{said}"
    );
    let away = stash.json(&["where"]);
    assert_eq!(away["rings"][0]["project"], "Mill Pond");
    let seen = &away["missing"][0]["whereabouts"]["last_seen"];
    assert_eq!(
        (
            &seen["ring"],
            &seen["with"][0]["called"],
            &seen["with"][0]["home"]
        ),
        (&json!("Mill Pond"), &json!("Moor:701"), &json!("A03"))
    );
    let said = stash.ok(&["where"]);
    assert!(
        said.contains("Mill Pond: 1 card, in use since today"),
        "{said}"
    );
    assert!(
        said.contains("Missing: 1 card\n  9  moss: home A02, missing"),
        "{said}"
    );
}
