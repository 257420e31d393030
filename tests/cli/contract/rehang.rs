//! The contract with scripts about re-hangs: held cards, plan options, and a re-hang that stopped
//! halfway.

use serde_json::{Value, json};

use super::card;
use crate::common::Stash;

/// Twelve cards in two families on a wall of three rows of five, and two to hang.
fn twelve() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "Wall", "--rows", "3", "--columns", "5"]);
    let mut rows = "range,number,family,hook\n".to_owned();
    for n in 0..10 {
        let family = if n < 5 { "reds" } else { "blues" };
        let hook_name = format!("{}0{}", ['A', 'B'][n / 5], n % 5 + 1);
        rows += &format!("Heath,{},{family},{hook_name}\n", 10 * (n + 1));
    }
    rows += "Heath,15,reds,\nHeath,75,blues,\n";
    let list = stash.file("stock.csv", rows);
    stash.ok(&["import", "cards", &list]);
    stash
}

fn homes(stash: &Stash) -> Vec<(String, String)> {
    let shown = stash.json(&["board", "show"]);
    let hooks = shown["boards"][0]["hooks"].as_array().unwrap();
    let word = |value: &Value| value.as_str().unwrap().to_owned();
    hooks
        .iter()
        .flat_map(|hook| {
            let homes = hook["homes"].as_array().unwrap();
            homes
                .iter()
                .map(|card| (word(&card["number"]), word(&hook["hook"])))
        })
        .collect()
}

fn refused(stash: &Stash, args: &[&str]) -> (String, String) {
    let run = stash.run(&[args, &["--json"]].concat());
    assert_eq!((run.code, run.out.as_str()), (1, ""), "{args:?}: {run:?}");
    let word = |value: &Value| value.as_str().unwrap().to_owned();
    let error = run.error();
    (word(&error["code"]), word(&error["message"]))
}

#[test]
fn holds_efforts_and_reserved_hooks_are_listed_and_released() {
    let stash = twelve();
    assert_eq!(
        stash.ok(&["hold"]),
        "Nothing is held, costly or reserved.\n"
    );
    assert_eq!(stash.ok(&["hold", "10", "30"]), "Held 2 cards.\n");
    assert_eq!(stash.ok(&["hold", "--family", "blues"]), "Held 1 family.\n");
    assert_eq!(
        stash.ok(&["effort", "20", "--as", "7"]),
        "Set the effort of 1 card to 7.\n"
    );
    stash.ok(&["board", "reserve", "c5"]);
    let listed = stash.json(&["hold", "--list"]);
    let hold = |number: &str, home: &str, effort: u16| json!({"card": card("Heath", number), "home": home, "effort": effort});
    assert_eq!(
        listed,
        json!({
            "held": [hold("10", "A01", 1), hold("30", "A03", 1)],
            "families": ["blues"],
            "with_effort": [hold("20", "A02", 7)],
            "reserved": ["C05"],
        })
    );
    assert!(stash.ok(&["hold"]).contains("20: counts as 7 cards\n"));
    let found = |number: &str| stash.json(&["find", number])["matches"][0].clone();
    assert_eq!(
        (&found("60")["held"], &found("60")["effort"]),
        (&json!(true), &json!(1))
    );
    assert_eq!(
        (&found("20")["held"], &found("20")["effort"]),
        (&json!(false), &json!(7))
    );
    assert_eq!(found("75")["held"], json!(false));
    let shown = stash.json(&["board", "show"]);
    assert_eq!(shown["boards"][0]["hooks"][14]["reserved"], json!(true));
    for (args, code) in [
        (&["hold", "75"][..], "no_home"),
        (&["hold", "10"], "held_already"),
        (&["hold", "--family", "greens"], "families"),
        (&["release", "50"], "not_held"),
        (&["release", "60"], "held_by_family"),
        (&["effort", "20", "--as", "0"], "not_an_effort"),
        (&["effort", "20", "--as", "7"], "effort_already"),
        (&["board", "reserve", "C05"], "reserved_already"),
        (&["board", "unreserve", "C04"], "not_reserved"),
    ] {
        assert_eq!(refused(&stash, args).0, code, "{args:?}");
    }
    for args in [
        &["hold", "10", "--family", "reds"][..],
        &["release"],
        &["release", "10", "--all"],
        &["effort", "10"],
    ] {
        assert_eq!(stash.run(args).code, 2, "{args:?}");
    }
    stash.ok(&["release", "--family", "blues"]);
    stash.ok(&["release", "10"]);
    stash.ok(&["release", "--all"]);
    stash.ok(&["effort", "20", "--as", "1"]);
    stash.ok(&["board", "unreserve", "C05"]);
    assert_eq!(
        stash.ok(&["hold"]),
        "Nothing is held, costly or reserved.\n"
    );
}

#[test]
fn options_apply_to_the_list_of_plans_and_to_the_applied_plan() {
    let stash = twelve();
    let plan = |args: &[&str]| stash.json(&[&["rehang"], args].concat())["plans"][1].clone();
    assert_eq!(plan(&[])["touched"], json!(9));
    assert_eq!(plan(&[])["effort"], json!(9));
    let (code, words) = refused(&stash, &["rehang", "--hold", "10,20"]);
    assert_eq!(code, "hold_out_of_reach", "{words}");
    // Row A stays as it is; 15, which belongs there, waits.
    let rows = plan(&["--rows", "B-C"]);
    let numbers = |plan: &Value| -> Vec<String> {
        let steps = plan["steps"].as_array().unwrap().iter();
        steps
            .map(|step| step["card"]["number"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(
        (&rows["touched"], &rows["newly_hung"]),
        (&json!(3), &json!(1))
    );
    assert!(!numbers(&rows).contains(&"15".to_owned()));
    assert!(
        refused(&stash, &["rehang", "--rows", "D"])
            .1
            .contains("'Wall' has A to C")
    );
    // Blues first: all cards of one family or the other move.
    let blues = plan(&["--order", "blues"]);
    assert!(blues["touched"].as_u64().unwrap() >= 5);
    assert_eq!(
        refused(&stash, &["rehang", "--order", "greens"]).0,
        "families"
    );
    stash.ok(&["hold", "10", "100"]);
    let (code, words) = refused(&stash, &["rehang", "--order", "blues"]);
    assert_eq!(code, "holds_clash");
    assert_eq!(
        words,
        "Cards 10 on A01 and 100 on B05 are held, but 100 belongs before 10. Release one of them."
    );
    stash.ok(&["release", "--all"]);

    stash.ok(&["rehang", "--rows", "B-C", "--hold", "60,70", "--apply", "1"]);
    let homes = homes(&stash);
    for (number, hook_name) in [("10", "A01"), ("60", "B01"), ("70", "B02"), ("75", "B03")] {
        let home = (number.to_owned(), hook_name.to_owned());
        assert!(homes.contains(&home), "{homes:?}");
    }
    assert_eq!(
        stash.json(&["find", "15"])["matches"][0]["home"],
        Value::Null
    );
    let again = stash.ok(&["rehang", "--order", "blues,reds"]);
    assert!(
        again.ends_with("To do it: homehook rehang --apply 1 --order blues,reds\n"),
        "{again}"
    );
}

#[test]
fn a_re_hang_that_stopped_halfway_is_continued_or_given_up() {
    let stash = twelve();
    assert_eq!(stash.json(&["rehang"])["underway"], Value::Null);
    for args in [&["rehang", "--go-on"], &["rehang", "--give-up"]] {
        assert_eq!(refused(&stash, args).0, "no_rehang_underway");
    }
    for args in [
        &["rehang", "--steps", "2"][..],
        &["rehang", "--go-on", "--apply", "1"],
        &["rehang", "--go-on", "--give-up"],
        &["rehang", "--go-on", "--rows", "A"],
        &["rehang", "--apply", "1", "--steps", "0"],
    ] {
        assert_eq!(stash.run(args).code, 2, "{args:?}");
    }
    let whole = stash.json(&["rehang"])["plans"][1]["steps"].clone();
    let all = whole.as_array().unwrap().len();
    let done = stash.json(&["rehang", "--apply", "1", "--steps", "3"]);
    assert_eq!(
        (&done["applied"], &done["left"]),
        (&json!(1), &json!(all - 3))
    );
    assert_eq!(
        done["steps"].as_array().unwrap()[..],
        whole.as_array().unwrap()[..3]
    );
    let underway = stash.json(&["rehang"])["underway"].clone();
    assert_eq!(
        (&underway["steps"], &underway["done"]),
        (&json!(all), &json!(3))
    );
    assert_eq!(underway["left"].as_array().unwrap().len(), all - 3);
    let said = stash.ok(&["rehang"]);
    assert!(
        said.starts_with(&format!(
            "A re-hang is underway since today: 3 of {all} steps done.\n"
        )),
        "{said}"
    );
    assert!(said.contains("To go on: homehook rehang --go-on"), "{said}");
    let (code, words) = refused(&stash, &["rehang", "--apply", "1"]);
    assert_eq!(code, "rehang_underway", "{words}");
    // Meanwhile a card is lost: it still gets its home.
    stash.ok(&["missing", "100"]);
    let said = stash.ok(&["rehang", "--go-on", "--steps", "1"]);
    assert!(
        said.contains("left. To go on: homehook rehang --go-on\nNext: "),
        "{said}"
    );
    let said = stash.ok(&["rehang", "--go-on"]);
    assert!(said.contains("The re-hang is done"), "{said}");
    assert_eq!(homes(&stash).len(), 12);
    assert!(stash.ok(&["rehang"]).contains("Nothing"));
    // Undoing the last step, it is underway again.
    stash.ok(&["undo"]);
    assert!(stash.ok(&["rehang"]).starts_with("A re-hang is underway"));
    assert_eq!(
        stash.ok(&["rehang", "--give-up"]),
        "Gave up the re-hang with 1 card left.\n"
    );
    assert_eq!(stash.json(&["rehang"])["underway"], Value::Null);
    stash.ok(&["undo"]);
    stash.ok(&["rehang", "--go-on"]);
    assert_eq!(stash.json(&["check"])["ok"], json!(true));
}

#[test]
fn a_re_hang_interrupted_by_a_crash_continues_from_there() {
    let stash = twelve();
    let before = stash.record().len();
    stash.ok(&["rehang", "--apply", "1"]);
    let (whole, record) = (homes(&stash), stash.record());
    for eighth in 1..8 {
        let cut = before + (record.len() - before) * eighth / 8;
        std::fs::write(stash.dir().join("record.jsonl"), &record[..cut]).unwrap();
        // The crash came before any of it was acknowledged.
        std::fs::remove_file(stash.dir().join("record.end")).unwrap();
        let check = stash.run(&["check", "--json"]);
        assert!(check.out.contains("breaks off"), "{check:?}");
        let said = stash.ok(&["rehang"]);
        assert!(
            said.starts_with("A re-hang is underway"),
            "{eighth}: {said}"
        );
        stash.ok(&["rehang", "--go-on"]);
        assert_eq!(homes(&stash), whole, "{eighth}");
        assert_eq!(stash.json(&["check"])["ok"], json!(true));
    }
}

#[test]
fn plan_0_moves_nothing_and_lists_what_stays_out_of_order() {
    let stash = twelve();
    let before = homes(&stash);
    let plans = stash.json(&["rehang"])["plans"].clone();
    let numbers = plans.as_array().unwrap().iter().map(|plan| &plan["n"]);
    assert!(
        numbers.eq((0..plans.as_array().unwrap().len())
            .map(|n| json!(n))
            .collect::<Vec<_>>()
            .iter())
    );
    let nothing = &plans[0];
    for (field, figure) in [
        ("touched", 0),
        ("relabel", 0),
        ("newly_hung", 2),
        ("out_of_order", 2),
        ("hooks_off", 9),
    ] {
        assert_eq!(nothing[field], json!(figure), "{field}");
    }
    assert_eq!(plans[1]["out_of_order"], json!(0));
    let words = stash.ok(&["rehang", "--plan", "0"]);
    for line in [
        "0 \u{b7} move nothing: 2 hung now, 2 away from their neighbours, at most 9 hooks off",
        "Plan 0, step by step:",
        "To do it: homehook rehang --apply 0",
    ] {
        assert!(words.contains(line), "{line}:\n{words}");
    }

    let done = stash.json(&["rehang", "--apply", "0"]);
    assert_eq!((&done["applied"], &done["left"]), (&json!(0), &json!(0)));
    let after = homes(&stash);
    assert!(before.iter().all(|home| after.contains(home)));
    let strays = json!([card("Heath", "15"), card("Heath", "75")]);
    assert_eq!(stash.json(&["board", "show"])["hang_out_of_order"], strays);
    assert_eq!(stash.json(&["rehang"])["hang_out_of_order"], strays);
    for command in [&["board", "show"][..], &["rehang"]] {
        let words = stash.ok(command);
        assert!(
            words.contains("2 cards hang out of order: 15 on C0"),
            "{words}"
        );
    }

    // Only the labels of hung cards have to be written, then those of moved cards.
    let labels = |name: &str| {
        let file = stash.file(name, "");
        stash.ok(&["print", "labels", "--changed", "--force", "--to", &file]);
        let sheet = std::fs::read_to_string(&file).unwrap();
        ["15", "20", "75"].map(|number| sheet.contains(&format!(">{number}<")))
    };
    assert_eq!(labels("hung.html"), [true, false, true]);
    let moved = stash.json(&["rehang", "--apply", "1"])["steps"].clone();
    let moved = |number: &str| {
        let mut steps = moved.as_array().unwrap().iter();
        steps.any(|step| step["card"]["number"] == *number)
    };
    assert_eq!(
        stash.json(&["board", "show"])["hang_out_of_order"],
        json!([])
    );
    assert_eq!(labels("mended.html"), ["15", "20", "75"].map(moved));
    assert!(moved("15") && moved("20"));

    let (code, words) = refused(&stash, &["rehang", "--plan", "99"]);
    assert_eq!(code, "unknown_plan", "{words}");
    let fresh = twelve();
    let (code, words) = refused(&fresh, &["print", "labels", "--changed"]);
    assert_eq!(code, "nothing_to_print", "{words}");
}
