//! A project with everything a cabinet holds: hand-dyed and perle thread, a blend, beads, a
//! stand-in, two dye lots, from a workbook and a list in Windows-1252, from import to the last card
//! home.

use std::fs;

use serde_json::Value;

use crate::cabinet::{DYED, workbook};
use crate::common::Stash;

const KEY: &str = "symbol,range,number,name,strands,stitches,notion,pieces\n\
    X,Lantern Hill,701+96,,1+1,1500,,\n\
    O,Lantern Hill,447,harbour blue,2,300,,\n\
    /,Cove,301,,2,400,,\n\
    P,Shore,5,,1,120,,\n\
    B,,B12,gold seed,,,bead,24\n";

fn cabinet() -> Stash {
    let stash = Stash::new();
    stash.ok(&["board", "new", "wall", "--rows", "3", "--columns", "8"]);
    let own = stash.file("own.xlsx", workbook());
    let range = ["--range", "Lantern Hill"];
    let taken = stash.json(&[&["import", "cards", &own], &range[..]].concat());
    assert_eq!(taken["added"], 3);
    let dyed = stash.file("dyed.csv", DYED);
    let run = stash.run(&["import", "cards", &dyed, "--range", "Cove"]);
    assert!(
        run.err
            .contains("Read as windows-1252. Check these words: café, crème, forêt"),
        "{run:?}"
    );
    let perle = stash.file(
        "perle.csv",
        "range,number,name,skeins,hook\nShore,5,shell,2,A04\n",
    );
    stash.ok(&["import", "cards", &perle]);
    stash.ok(&["range", "put-up", "Cove", "--skein", "4.5m"]);
    stash.ok(&["range", "put-up", "Shore", "--kind", "perle", "--size", "5"]);
    stash
}

/// The stitched colours of a project, and the availability of each.
fn threads(need: &Value) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let entries = need["projects"][0]["entries"].as_array().unwrap();
    let threads = entries
        .iter()
        .filter_map(|entry| entry["threads"].as_array());
    threads
        .flatten()
        .map(|thread| (text(&thread["number"]), text(&thread["status"])))
        .collect()
}

#[test]
fn a_project_of_all_kinds_of_thread_goes_from_its_lists_to_the_last_card_home() {
    let stash = cabinet();
    let key = stash.file("key.csv", KEY);
    stash.ok(&["import", "key", &key, "--project", "Fox"]);
    stash.ok(&["ring", "swap", "Fox", "447", "--with", "12"]);

    // Each thread of the blend is counted separately, and 12 stands in for 447; the beads aren't
    // thread.
    let stand = |status: [&str; 5]| {
        let numbers = ["701", "96", "447", "301", "5"];
        let stand = numbers.into_iter().zip(status);
        stand
            .map(|(number, status)| (number.to_owned(), status.to_owned()))
            .collect::<Vec<_>>()
    };
    let need = stash.json(&["need", "Fox"]);
    assert_eq!(
        threads(&need),
        stand(["home", "short", "home", "home", "home"])
    );
    let text = stash.ok(&["need", "Fox"]);
    for part in [
        "447, stitched with Lantern Hill 12  sail white",
        "(120 full), perle 5",
        "1 m of 6 strands in stranded cotton, 1 m in perle 5",
        "B12 gold seed: bead, 24 pieces",
    ] {
        assert!(text.contains(part), "{part:?} is not in:\n{text}");
    }

    // A different lot came than the requested one. It lasts alone, so the two aren't mixed.
    let buy = stash.ok(&["buy", "Fox"]);
    assert!(
        buy.contains("1 skein of Lantern Hill 96") && buy.contains("ask for lot K7"),
        "{buy}"
    );
    assert!(!buy.contains("B12") && !buy.contains("447"), "{buy}");
    let bought = stash.ok(&["bought", "96=1:V1"]);
    assert!(
        bought.contains("now 2 lengths of lot K7, 1 uncut skein of lot V1"),
        "{bought}"
    );
    let pull = stash.ok(&["ring", "pull", "Fox"]);
    assert!(
        pull.contains("96  sea glass: 4 lengths of lot V1, from a skein"),
        "{pull}"
    );
    stash.ok(&["ring", "pull", "Fox", "--take"]);
    let list = stash.ok(&["ring", "list"]);
    assert!(list.contains("kitted 5 of 5"), "{list}");
    let card = stash.file("card.html", "");
    stash.ok(&["print", "ring", "Fox", "--to", &card, "--force"]);
    let card = fs::read_to_string(card).unwrap();
    for part in ["701", "sea glass", "12 for 447", "café crème", "gold seed"] {
        assert!(card.contains(part), "{part:?} is not on the ring card");
    }

    // Thread of each kind is used, and every card comes home.
    stash.ok(&["use", "301", "--lengths", "2"]);
    stash.ok(&["use", "96", "--lengths", "1", "--lot", "V1"]);
    stash.ok(&["ring", "return", "Fox", "--all"]);
    stash.ok(&["ring", "close", "Fox"]);
    let export: Value = serde_json::from_str(&stash.ok(&["export", "json"])).unwrap();
    for card in export["cards"].as_array().unwrap() {
        assert_eq!(card["whereabouts"]["kind"], "hook", "{card}");
    }
    let glass = stash.ok(&["find", "96"]);
    assert!(
        glass.contains("2 lengths of lot K7, 3 lengths + 4 m part-used of lot V1"),
        "{glass}"
    );
    assert_eq!(stash.json(&["check"])["ok"], true);
}
