//! Chart keys, kit checks and purchases in the shell: the answers scripts rely on.

use crate::common::Stash;
use serde_json::{Value, json};

fn wall() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "2", "--columns", "3"]);
    let rows = "range,number,name,hook\nHeath,701,slate,A01\nHeath,9,moss,A02\nMoor,701,peat,A03\n\
                Moor,5,rush,\n";
    let list = stash.file("stock.csv", rows);
    stash.ok(&["import", "cards", &list]);
    stash
}

/// A project with a key on the wall of [`wall`]: moss is enough, slate is short, fern isn't owned.
fn project(stash: &Stash) {
    let key = stash.file(
        "key.csv",
        "symbol,range,number,name,strands,stitches,backstitch,french knots\n\
         X,Heath,9,,2,400,,\nO,Heath,701,,2,2000,120,4\n/,Heath,77,fern,2,100,,\n",
    );
    let answer = stash.json(&["import", "key", &key, "--project", "Mill Pond"]);
    assert_eq!(
        (&answer["entries"], &answer["rejected"]),
        (&json!(3), &json!([]))
    );
    assert_eq!(
        answer["not_owned"],
        json!([{"line": 4, "range": "Heath", "number": "77", "in_list": false, "owned_in": []}])
    );
}

#[test]
fn importing_a_key_opens_a_ring_and_can_be_undone() {
    let stash = wall();
    project(&stash);
    let ring = &stash.json(&["ring", "list"])["rings"][0];
    assert_eq!(
        (&ring["project"], &ring["state"], &ring["cards"]),
        (&json!("Mill Pond"), &json!("live"), &json!([]))
    );
    let key = stash.json(&["ring", "key", "mill pond"]);
    let numbers: Vec<&Value> = (0..3).map(|at| &key["key"][at]["number"]).collect();
    assert_eq!(numbers, ["9", "701", "77"]);
    assert_eq!(
        (&key["key"][1]["backstitch"], &key["key"][1]["french_knots"]),
        (&json!(120), &json!(4))
    );
    assert_eq!(
        (&key["key"][1]["owned"], &key["key"][2]["owned"]),
        (&json!(true), &json!(false))
    );
    assert_eq!(
        stash.ok(&["undo"]),
        "Undone: Imported a chart key of 3 lines for the ring 'Mill Pond'.\n"
    );
    assert_eq!(stash.json(&["ring", "list"])["rings"], json!([]));
    stash.ok(&["redo"]);
    assert_eq!(stash.json(&["ring", "key", "mill pond"]), key);
}

#[test]
fn fabric_settings_are_kept_and_used() {
    let stash = wall();
    project(&stash);
    let usual = stash.json(&["ring", "fabric", "Mill Pond"]);
    assert_eq!(
        (&usual["said"], &usual["fabric"]["count"]),
        (&json!(false), &json!(14))
    );
    let strands = |stash: &Stash| {
        let need = stash.json(&["need", "Mill Pond"]);
        need["projects"][0]["entries"][0]["needed"]["strands"].as_u64()
    };
    let before = strands(&stash).unwrap();
    let said = stash.json(&[
        "ring",
        "fabric",
        "mill pond",
        "--count",
        "28",
        "--over",
        "1",
        "--strands",
        "1",
        "--waste",
        "7.5",
        "--margin-percent",
        "0",
    ]);
    assert_eq!(
        (&said["fabric"]["count"], &said["fabric"]["waste_mm"]),
        (&json!(28), &json!(75))
    );
    assert!(strands(&stash).unwrap() < before);
    let wrong = stash.run(&["ring", "fabric", "Mill Pond", "--over", "3", "--json"]);
    assert_eq!(
        (wrong.code, &wrong.error()["code"]),
        (1, &json!("not_assumed"))
    );
    let wrong = stash.run(&["ring", "fabric", "Mill Pond", "--waste", "some"]);
    assert_eq!(wrong.code, 2);
    assert!(
        stash
            .ok(&["undo"])
            .contains("Set the fabric of the ring 'Mill Pond'")
    );
    assert_eq!(strands(&stash).unwrap(), before);
}

#[test]
fn a_kit_check_shows_stock_and_purchases_and_buying_fixes_it() {
    let stash = wall();
    let none = stash.run(&["need", "--json"]);
    assert_eq!((none.code, &none.error()["code"]), (1, &json!("no_keys")));
    project(&stash);
    let need = stash.json(&["need", "Mill Pond"]);
    let project = &need["projects"][0];
    let entries = project["entries"].as_array().unwrap();
    let statuses: Vec<&Value> = entries.iter().map(|entry| &entry["status"]).collect();
    assert_eq!(statuses, ["home", "short", "not_owned"]);
    for entry in entries {
        let needed = &entry["needed"];
        assert!(needed["metres"].as_f64().unwrap() > needed["stitched_m"].as_f64().unwrap());
        for whole in ["strands", "lengths", "skeins", "cut_cm"] {
            assert!(needed[whole].is_u64(), "{whole}");
        }
        for amount in ["short", "to_buy"] {
            assert!(entry[amount]["strands"].is_u64() && entry[amount]["lengths"].is_u64());
        }
    }
    assert!(entries[1]["short"]["strands"].as_u64().unwrap() > 0);
    assert_eq!(project["assumptions"]["working_cm"], 50);
    assert_eq!(need["promises"][0]["project"], "Mill Pond");
    assert_eq!(
        need["promises"][0]["card"],
        json!({"range": "Heath", "number": "9"})
    );
    let text = stash.ok(&["need"]);
    assert!(text.contains("enough: at home on hook A02"), "{text}");
    assert!(
        text.contains("not owned") && !text.contains("missing, not"),
        "{text}"
    );
    assert!(text.contains("14 count over 1 thread"), "{text}");
    assert!(text.contains("homehook buy \"Mill Pond\""), "{text}");

    let buy = stash.json(&["buy", "Mill Pond"]);
    assert_eq!(buy["skeins"], 2);
    let list = buy["buy"].as_array().unwrap();
    assert_eq!(list.len(), 2);
    assert_eq!(
        (&list[0]["number"], &list[0]["skeins"], &list[0]["owned"]),
        (&json!("77"), &json!(1), &json!(false))
    );
    assert_eq!(list[1]["why"][0]["project"], "Mill Pond");
    let file = stash.folder.path().join("buy.csv");
    stash.ok(&["buy", "--csv", file.to_str().unwrap()]);
    let csv = std::fs::read_to_string(&file).unwrap();
    assert!(
        csv.starts_with("range,number,name,hex,skeins,why\r\n"),
        "{csv}"
    );
    assert_eq!(stash.ok(&["buy", "--csv", "-"]), csv);

    let bought = stash.json(&["bought", "Mill Pond"]);
    assert_eq!(bought["rehang"]["newly_hung"], 2);
    let cards = bought["cards"].as_array().unwrap();
    assert_eq!(cards.len(), 2);
    let fern = &stash.json(&["find", "heath:77"])["matches"][0];
    assert_eq!(
        (
            &fern["name"],
            &fern["strands"],
            &fern["whereabouts"]["kind"]
        ),
        (&json!("fern"), &json!(48), &json!("unhung"))
    );
    let slate = &stash.json(&["find", "heath:701"])["matches"][0];
    assert_eq!(
        (&slate["strands"], &slate["thread"][0]["skeins"]),
        (&json!(48), &json!(1))
    );
    assert_eq!(stash.json(&["buy"])["buy"], json!([]));
    let again = stash.run(&["bought", "Mill Pond", "--json"]);
    assert_eq!(
        (again.code, &again.error()["code"]),
        (1, &json!("nothing_to_buy"))
    );
    assert!(stash.ok(&["undo"]).contains("Bought 2 skeins: 1 card new"));
    assert_eq!(stash.json(&["need", "Mill Pond"]), need);
    // The same by hand, and with the file.
    stash.ok(&["bought", "heath:701=1", "77=1"]);
    stash.ok(&["undo"]);
    stash.ok(&["import", "cards", file.to_str().unwrap(), "--purchase"]);
    let slate = &stash.json(&["find", "heath:701"])["matches"][0];
    assert_eq!(slate["strands"], 96);
    assert_eq!(stash.json(&["check"])["ok"], true);
}

#[test]
fn a_colour_on_another_ring_is_split_off_as_far_as_that_ring_can_spare() {
    let stash = wall();
    project(&stash);
    stash.ok(&["ring", "take", "Fox", "heath:9"]);
    let text = stash.ok(&["need", "Mill Pond"]);
    assert!(
        text.contains(
            "enough, to split off: 2 lengths on the ring 'Fox' ('Fox' has no chart key, so its need is unknown)"
        ),
        "{text}"
    );
    let key = stash.file("fox.csv", "range,number,stitches\nHeath,9,1500\n");
    stash.ok(&["import", "key", &key, "--project", "Fox"]);
    let need = stash.json(&["need", "Mill Pond"]);
    let moss = &need["projects"][0]["entries"][0];
    assert_eq!(
        (&moss["status"], &moss["others"][0]["project"]),
        (&json!("short"), &json!("Fox"))
    );
    // All of it goes to one or the other.
    let strands = |of: &Value| of["strands"].as_u64().unwrap();
    assert_eq!(
        strands(&moss["others"][0]) + strands(&moss["promised"][0]),
        48
    );
    assert_eq!(moss["promised"][0]["ring"], "Fox");
}

#[test]
fn a_kit_is_fetched_along_the_wall_and_laid_out_in_key_order() {
    let stash = wall();
    project(&stash);
    stash.ok(&["ring", "open", "Elsewhere"]);
    stash.ok(&["ring", "take", "Elsewhere", "Heath:701"]);
    let pull = stash.json(&["ring", "pull", "Mill Pond"]);
    let numbers = |list: &Value| -> Vec<String> {
        let cards = list.as_array().unwrap().iter();
        cards
            .map(|card| card["number"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(numbers(&pull["walk"]), ["9"]);
    assert_eq!(numbers(&pull["split"]), ["701"]);
    assert_eq!(pull["split"][0]["ring"], "Elsewhere");
    assert_eq!(numbers(&pull["order"]), ["9", "701", "77"]);
    assert_eq!(
        (&pull["taken"], &pull["order"][0]["on_ring"]),
        (&json!(0), &json!(false))
    );
    let text = stash.ok(&["ring", "pull", "Mill Pond"]);
    assert!(text.contains("[ ] A02     9  moss"), "{text}");

    let taken = stash.json(&["ring", "pull", "Mill Pond", "--take"]);
    assert_eq!(
        (
            &taken["taken"],
            &taken["walk"],
            &taken["order"][0]["on_ring"]
        ),
        (&json!(1), &json!([]), &json!(true))
    );
    let again = stash.run(&["ring", "pull", "Mill Pond", "--take", "--json"]);
    assert_eq!(again.error()["code"], "nothing_to_fetch");
    stash.ok(&["undo"]);
    assert_eq!(
        stash.json(&["ring", "pull", "Mill Pond"])["walk"],
        pull["walk"]
    );
}

#[test]
fn used_thread_is_no_longer_needed_and_low_thread_is_reported() {
    let stash = wall();
    project(&stash);
    stash.ok(&["ring", "take", "Mill Pond", "heath:701"]);
    let entry = |stash: &Stash, at: usize| {
        stash.json(&["need", "Mill Pond"])["projects"][0]["entries"][at].clone()
    };
    let before = entry(&stash, 1);
    assert_eq!(before["used"]["strands"], 0);
    assert_eq!(
        before["still_needed"]["strands"],
        before["needed"]["strands"]
    );

    let used = stash.json(&["use", "heath:701", "--lengths", "2", "--strands", "3"]);
    let after = entry(&stash, 1);
    let strands = |of: &Value| of["strands"].as_u64().unwrap();
    assert_eq!(
        after["used"],
        json!({"strands": 15, "lengths": 2, "loose": 3})
    );
    assert_eq!(after["needed"], before["needed"]);
    assert_eq!(
        strands(&after["still_needed"]) + 15,
        strands(&before["needed"])
    );
    // The use reduced both the card and the need, so the shortage stays.
    assert_eq!(after["short"], before["short"]);
    let low = &used["low"];
    assert_eq!(
        (&low["range"], &low["number"], &low["supply"]),
        (&json!("Heath"), &json!("701"), &json!("low"))
    );
    assert_eq!(strands(&low["on_ring"]), 33);
    assert_eq!(low["still_needed"], after["still_needed"]);
    assert_eq!(strands(&low["more"]), strands(&after["still_needed"]) - 33);
    assert_eq!(
        (&low["elsewhere"], &low["uncut_skeins"]),
        (&json!([]), &json!(0))
    );
    let words = low["words"].as_str().unwrap();
    assert!(
        words.starts_with("Heath:701: 5 lengths 3 strands on the ring, about "),
        "{words}"
    );
    assert!(
        words.ends_with(" more needed; there is no more of it"),
        "{words}"
    );
    let rings = stash.json(&["ring", "list"]);
    assert_eq!(rings["rings"][0]["low"], json!([low]));
    let need = stash.json(&["need", "Mill Pond"]);
    assert_eq!(need["projects"][0]["low"], json!([low]));
    for command in [&["ring", "list"][..], &["need"]] {
        let text = stash.ok(command);
        assert!(text.contains(&format!("  Low: {words}.\n")), "{text}");
    }
    let text = stash.ok(&["need"]);
    assert!(text.contains("2 lengths 3 strands used, "), "{text}");
    assert!(text.contains(" still needed   short by"), "{text}");
    let buy = &stash.json(&["buy", "Mill Pond"])["buy"][1]["why"][0];
    assert_eq!(
        (&buy["used"], &buy["still_needed"]),
        (&after["used"], &after["still_needed"])
    );
    let text = stash.ok(&["buy", "Mill Pond"]);
    assert!(text.contains(" (2 lengths 3 strands used, "), "{text}");
    let text = stash.ok(&["ring", "key", "Mill Pond"]);
    assert!(
        text.contains("2 strands   2 lengths 3 strands used, "),
        "{text}"
    );
    let key = stash.json(&["ring", "key", "Mill Pond"]);
    assert_eq!(
        (&key["key"][1]["used"], &key["key"][1]["still_needed"]),
        (&after["used"], &after["still_needed"])
    );
    let text = stash.ok(&["use", "heath:701", "--strands", "33"]);
    assert!(
        text.contains("  Low: Heath:701: none left on the ring, about "),
        "{text}"
    );
    // The key again, with smaller counts.
    let file = stash.file("less.csv", "range,number,stitches\nHeath,701,2\n");
    stash.ok(&["import", "key", &file, "--project", "Mill Pond"]);
    let slate = entry(&stash, 0);
    assert_eq!(
        (&slate["status"], strands(&slate["used"])),
        (&json!("done"), 48)
    );
    let text = stash.ok(&["need"]);
    assert!(
        text.contains("8 lengths used, nothing still needed   enough: all it needs is used"),
        "{text}"
    );
    stash.ok(&["undo", "3"]);
    assert_eq!(entry(&stash, 1), before);
}

#[test]
fn the_progress_of_a_project_can_be_set() {
    let stash = wall();
    project(&stash);
    let said = stash.json(&[
        "ring",
        "progress",
        "Mill Pond",
        "77",
        "--lengths",
        "1",
        "--strands",
        "2",
    ]);
    assert_eq!(
        (&said["done"], &said["key"][2]["used"]["strands"]),
        (
            &json!("Set the progress of the ring 'Mill Pond'"),
            &json!(8)
        )
    );
    let all = stash.ok(&["ring", "progress", "mill pond", "--done", "100"]);
    assert!(all.contains("nothing still needed"), "{all}");
    let need = stash.json(&["need"]);
    for at in 0..3 {
        assert_eq!(need["projects"][0]["entries"][at]["status"], "done");
    }
    assert_eq!(stash.json(&["buy"])["buy"], json!([]));
    let again = stash.json(&["ring", "progress", "mill pond", "--done", "100%"]);
    assert_eq!(
        (&again["event"], &again["done"]),
        (&Value::Null, &Value::Null)
    );
    for (args, code) in [
        (&["9000", "--lengths", "1"][..], "not_in_key"),
        (&["9000", "--done", "5"], "not_in_key"),
    ] {
        let args = [&["ring", "progress", "Mill Pond", "--json"][..], args].concat();
        let wrong = stash.run(&args);
        assert_eq!((wrong.code, &wrong.error()["code"]), (1, &json!(code)));
    }
    for args in [
        &[][..],
        &["9"],
        &["--lengths", "1"],
        &["9", "--done", "101"],
        &["9", "--done", "5", "--strands", "1"],
    ] {
        let args = [&["ring", "progress", "Mill Pond"][..], args].concat();
        assert_eq!(stash.run(&args).code, 2, "{args:?}");
    }
    stash.ok(&["undo", "2"]);
    let key = stash.json(&["ring", "key", "Mill Pond"]);
    assert_eq!(key["key"][2]["used"]["strands"], 0);
    assert_eq!(stash.json(&["check"])["ok"], true);
}

#[test]
fn a_missing_card_that_is_bought_again_is_replaced_and_counts() {
    let stash = wall();
    project(&stash);
    stash.ok(&["missing", "heath:9"]);
    let status = |stash: &Stash| {
        let need = stash.json(&["need", "Mill Pond"]);
        need["projects"][0]["entries"][0]["status"].clone()
    };
    let place =
        |stash: &Stash| stash.json(&["find", "heath:9"])["matches"][0]["whereabouts"].clone();
    let gone = (status(&stash), place(&stash));
    assert_eq!(
        (&gone.0, &gone.1["kind"]),
        (&json!("lost"), &json!("missing"))
    );
    let text = stash.ok(&["bought", "heath:9=1"]);
    assert!(
        text.contains("a new card of 9 takes the place of the missing one; hang it on A02"),
        "{text}"
    );
    assert_eq!(status(&stash), "home");
    assert_eq!(place(&stash)["hook"], "A02");
    let moss = &stash.json(&["find", "heath:9"])["matches"][0];
    assert_eq!(
        (&moss["strands"], &moss["thread"][0]["skeins"]),
        (&json!(48), &json!(0))
    );
    stash.ok(&["undo"]);
    assert_eq!((status(&stash), place(&stash)), gone);
    let cards = stash.json(&["bought", "heath:9=3"]);
    assert_eq!(cards["cards"][0]["number"], "9");
    let moss = &stash.json(&["find", "heath:9"])["matches"][0];
    assert_eq!(moss["thread"][0]["skeins"], 2);
    assert_eq!(stash.json(&["check"])["ok"], true);
}

#[test]
fn a_blend_and_beads_go_through_need_purchase_fetch_and_print() {
    let stash = wall();
    let key = stash.file(
        "blend.csv",
        "symbol,range,number,name,strands,stitches,notion,pieces\n\
         X,Heath,701+9,,1+2,2000,,\nO,Moor,701+88,,,100,,\nB,,B12,gold seed,,,bead,24\n",
    );
    let answer = stash.json(&["import", "key", &key, "--project", "Fox"]);
    assert_eq!(answer["entries"], json!(3));
    assert_eq!(answer["not_owned"][0]["number"], json!("88"));
    let need = stash.json(&["need", "Fox"]);
    let lines = &need["projects"][0]["entries"];
    let numbers: Vec<&Value> = (0..2)
        .map(|at| &lines[0]["threads"][at]["number"])
        .collect();
    assert_eq!(numbers, ["701", "9"]);
    // Twice the strands of the second thread, each compared with its own card.
    let strands = |at: usize| {
        lines[0]["threads"][at]["needed"]["strands"]
            .as_u64()
            .unwrap()
    };
    assert!(strands(1).abs_diff(2 * strands(0)) <= 1);
    assert_eq!(lines[0]["threads"][1]["promised"][0]["card"]["number"], "9");
    assert_eq!(
        (
            &lines[2]["notion"]["kind"],
            &lines[2]["notion"]["pieces"],
            &lines[2]["threads"]
        ),
        (&json!("bead"), &json!(24), &json!([]))
    );
    let buy = stash.json(&["buy", "Fox"]);
    let numbers: Vec<&Value> = buy["buy"]
        .as_array()
        .unwrap()
        .iter()
        .map(|of| &of["number"])
        .collect();
    assert!(numbers.contains(&&json!("88")), "{buy}");
    assert!(
        numbers.iter().all(|number| **number != json!("B12")),
        "{buy}"
    );
    let pull = stash.json(&["ring", "pull", "Fox", "--take"]);
    assert_eq!(
        (&pull["taken"], &pull["notions"][0]["pieces"]),
        (&json!(3), &json!(24))
    );
    let kitted = &stash.json(&["ring", "list"])["rings"][0]["kitted"];
    assert_eq!(
        (&kitted["there"], &kitted["colours"]),
        (&json!(2), &json!(4))
    );
    let sheet = stash.file("ring.html", "");
    stash.ok(&["print", "ring", "Fox", "--to", &sheet, "--force"]);
    let sheet = std::fs::read_to_string(sheet).unwrap();
    for word in ["B12 gold seed", "x24", "x2"] {
        assert!(sheet.contains(word), "{word}");
    }
}

#[test]
fn two_dye_lots_of_a_card_stay_separate() {
    let stash = Stash::new();
    let rows = "range,number,lengths,dye lot\nHeath,96,8,K7\n";
    stash.ok(&["import", "cards", &stash.file("cards.csv", rows)]);
    let rows = "range,number,skeins,dye lot\nHeath,96,1,V1\n";
    let said = stash.ok(&[
        "import",
        "cards",
        &stash.file("more.csv", rows),
        "--purchase",
    ]);
    assert!(
        said.contains("96: 8 lengths of lot K7 -> 8 lengths of lot K7, 8 lengths of lot V1"),
        "{said}"
    );
    let thread = &stash.json(&["find", "96"])["matches"][0]["thread"];
    let lots: Vec<(&Value, &Value)> = (0..2)
        .map(|at| (&thread[at]["lot"], &thread[at]["lengths"]))
        .collect();
    assert_eq!(lots, [(&json!("K7"), &json!(8)), (&json!("V1"), &json!(8))]);
    assert!(
        stash
            .ok(&["find", "96"])
            .contains("8 lengths of lot K7, 8 lengths of lot V1")
    );
    assert!(stash.ok(&["history"]).contains("8 lengths of lot V1"));
    stash.ok(&["bought", "96=1:V1"]);
    stash.ok(&["use", "96", "--lengths", "2", "--lot", "k7"]);
    let key = stash.file("key.csv", "number,strands,stitches\n96,2,2900\n");
    stash.ok(&["import", "key", &key, "--project", "Fox"]);
    // V1 lasts with its skein, so K7 is left alone.
    let need = stash.json(&["need", "Fox"]);
    assert_eq!(need["projects"][0]["entries"][0]["lots"], json!(["V1"]));
    let pull = stash.json(&["ring", "pull", "Fox"]);
    assert_eq!(
        (&pull["cut"][0]["lot"], &pull["mixed"]),
        (&json!("V1"), &json!([]))
    );
    stash.ok(&["ring", "pull", "Fox", "--take"]);
    assert!(stash.ok(&["need", "Fox"]).contains("enough: on its ring"));
    stash.ok(&["use", "96", "--lengths", "7", "--lot", "V1"]);
    let key = stash.file("key.csv", "number,strands,stitches\n96,2,7500\n");
    stash.ok(&["import", "key", &key, "--project", "Fox"]);
    assert!(
        stash
            .ok(&["need", "Fox"])
            .contains("would mix lot K7 and lot V1")
    );
}

#[test]
fn a_range_with_other_strands_names_the_cards_to_count_again() {
    let stash = Stash::new();
    stash.ok(&["board", "new", "wall", "--rows", "1", "--columns", "3"]);
    let list = stash.file("list.csv", "range,number,lengths\nCove,1,8\nCove,2,0\n");
    stash.ok(&["import", "cards", &list]);
    let longer = stash.run(&["range", "put-up", "Cove", "--skein", "9m"]);
    assert!(!longer.err.contains("other lengths"), "{longer:?}");
    let run = stash.run(&["range", "put-up", "Cove", "--strands", "4"]);
    assert!(
        run.err
            .contains("these cards have other lengths now: 1. Count them again: homehook count"),
        "{run:?}"
    );
}

#[test]
fn a_number_that_no_list_has_is_named_when_it_is_bought() {
    let stash = Stash::new();
    stash.ok(&["board", "new", "wall", "--rows", "1", "--columns", "3"]);
    let range = stash.file("range.csv", "number,name\n447,river slate\n");
    stash.ok(&["import", "range", &range, "--range", "Cove"]);
    let listed = stash.run(&["bought", "447=1"]);
    assert_eq!((listed.code, listed.err.as_str()), (0, ""), "{listed:?}");
    let slip = stash.run(&["bought", "nope=1"]);
    assert!(
        slip.err
            .contains("nope is a new card, and no list has that colour"),
        "{slip:?}"
    );
}
