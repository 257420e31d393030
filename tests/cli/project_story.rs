//! A project in the shell, from its key to its end: the same story as with keys in `tests/screen`.

use crate::common::Stash;
use serde_json::{Value, json};

fn place(stash: &Stash, card: &str) -> Value {
    let found = stash.json(&["find", card]);
    let all = found["matches"].as_array().unwrap();
    let is_it =
        |of: &&Value| of["number"] == card && of.get("split_card_of").is_none_or(Value::is_null);
    all.iter().find(is_it).unwrap()["whereabouts"].clone()
}

/// The exported strands of all cards of a number together.
fn strands(stash: &Stash, number: &str) -> u64 {
    let text = stash.ok(&["export", "json", "-"]);
    let card_list: Value = serde_json::from_str(&text).unwrap();
    let cards = card_list["cards"].as_array().unwrap().iter();
    let of = cards.filter(|card| card["number"] == number);
    of.map(|card| card["strands"].as_u64().unwrap()).sum()
}

#[test]
fn a_project_from_its_key_to_its_end() {
    let stash = Stash::new();
    stash.ok(&["board", "new", "wall", "--rows", "4", "--columns", "6"]);
    let list = stash.file(
        "cards.csv",
        "range,number,name,hex,lengths,hook\n\
         Sandbank,10,dune,#C8A165,8,A05\nSandbank,20,shell,#F1E4D4,8,A04\n\
         Sandbank,30,kelp,#2E5339,16,A03\nSandbank,40,foam,#EEF4F4,8,A02\n\
         Sandbank,50,rock,#556066,8,A01\n",
    );
    stash.ok(&["import", "cards", &list]);

    // Heron's kit; 50 hangs on the wrong hook, and turns up later.
    let heron = "symbol,number,strands,stitches\nX,30,2,800\nO,50,2,200\n/,10,2,300\n";
    let heron = stash.file("heron.csv", heron);
    stash.ok(&["import", "key", &heron, "--project", "Heron"]);
    let walk = |stash: &Stash, project: &str| -> Vec<String> {
        let pull = stash.json(&["ring", "pull", project]);
        let walk = pull["walk"].as_array().unwrap().iter();
        walk.map(|card| card["number"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(walk(&stash, "Heron"), ["50", "30", "10"]);
    stash.ok(&["missing", "50"]);
    stash.ok(&["ring", "pull", "Heron", "--take"]);
    let seen = place(&stash, "50");
    assert_eq!(
        (&seen["kind"], &seen["last_seen"]["hook"]),
        (&json!("missing"), &json!("A01"))
    );
    stash.ok(&["found", "50"]);
    stash.ok(&["ring", "pull", "Heron", "--take"]);
    stash.ok(&["use", "30", "--project", "Heron", "--lengths", "1"]);

    // Robin needs 30 too, and a colour nobody owns.
    let robin = "symbol,number,name,strands,stitches,hex\n\
                 A,30,,2,500,\nB,20,,2,300,\nC,77,moss,2,90,#2F553A\n";
    let robin = stash.file("robin.csv", robin);
    stash.ok(&["import", "key", &robin, "--project", "Robin"]);
    let need = stash.json(&["need", "Robin"]);
    let entries = need["projects"][0]["entries"].as_array().unwrap();
    let standing: Vec<&Value> = entries.iter().map(|entry| &entry["status"]).collect();
    assert_eq!(standing, ["split", "home", "not_owned"]);
    // The nearest is kelp, but kelp has a symbol of its own in this chart.
    assert_eq!(entries[2]["substitutes"][0]["number"], "50", "{need}");
    stash.ok(&["ring", "pull", "Robin", "--take"]);
    stash.ok(&["ring", "split", "Robin", "30", "--lengths", "3"]);
    stash.ok(&["use", "30", "--project", "Robin", "--strands", "4"]);
    stash.ok(&["bought", "Robin"]);
    stash.ok(&["rehang", "--apply", "1"]);
    assert_eq!(place(&stash, "77")["kind"], "hook");

    // A ring doesn't close while it has cards; the split card of one that is on another ring stays
    // until it is rejoined by hand.
    let back = stash.json(&["ring", "return", "Robin", "--all"]);
    assert_eq!(back["moved"][0]["number"], "20", "{back}");
    assert_eq!(back["stay"][0]["card"]["called"], "30@Robin", "{back}");
    assert_eq!(stash.run(&["ring", "close", "Robin"]).code, 1);
    stash.ok(&["ring", "rejoin", "Robin", "30"]);
    stash.ok(&["ring", "close", "Robin"]);
    assert_eq!(place(&stash, "30")["ring"], "Heron");
    assert_eq!(strands(&stash, "30"), 16 * 6 - 6 - 4);
    stash.ok(&["ring", "return", "Heron", "--all"]);
    stash.ok(&["ring", "close", "Heron"]);

    // The wall matches the record, and every invariant holds.
    let away = stash.json(&["where"]);
    assert_eq!(away["missing"], json!([]), "{away}");
    assert_eq!(stash.json(&["check"])["ok"], json!(true));
}
