//! A project with everything a cabinet holds, with keys only: hand-dyed and perle thread, a blend,
//! beads, a substitute and two dye lots, from a workbook and a list in Windows-1252; from import to
//! the last card home.

use serde_json::Value;

use crate::cabinet::{DYED, workbook};
use crate::harness::{DOWN, ENTER, Folder, Screen};

const CTRL_S: &str = "\x13";

const KEY: &str = "symbol,range,number,name,strands,stitches,notion,pieces\n\
    X,Lantern Hill,701+96,,1+1,1500,,\n\
    O,Lantern Hill,447,harbour blue,2,300,,\n\
    /,Cove,301,,2,400,,\n\
    P,Shore,5,,1,120,,\n";

/// Imports a list of any bytes into a range.
fn import(
    screen: &mut Screen,
    folder: &Folder,
    (name, bytes): (&str, &[u8]),
    range: &str,
    cards: &str,
) {
    let path = folder.stash().with_file_name(name);
    std::fs::write(&path, bytes).unwrap();
    screen.press("i", "Import a card list");
    screen.keys(&path.display().to_string());
    screen.keys(&format!("{ENTER}{range}"));
    screen.press(CTRL_S, &format!("{cards} new card"));
}

fn cabinet(screen: &mut Screen, folder: &Folder) {
    screen.wait_for("Welcome");
    screen.press(&format!("{DOWN}{DOWN}{DOWN}{ENTER}"), "what you call it");
    screen.keys(&format!("{ENTER}3{ENTER}8{CTRL_S}"));
    screen.wait_for("24 free");
    screen.escape("Welcome");

    import(
        screen,
        folder,
        ("own.xlsx", &workbook()),
        "Lantern Hill",
        "3",
    );
    screen.press("y", "3 home");
    import(screen, folder, ("dyed.csv", DYED), "Cove", "2");
    screen.wait_for("windows-1252");
    screen.wait_for("for\u{ea}t");
    screen.press("y", "5 home");
    let perle = b"number,name,skeins,hook\n5,shell,2,A04\n";
    import(screen, folder, ("perle.csv", perle), "Shore", "1");
    screen.press("y", "6 home");

    // The thread of the other two ranges.
    screen.press("R", "The thread of a range");
    screen.keys(&format!("Cove{ENTER}{ENTER}{ENTER}4.5m"));
    screen.press(CTRL_S, "Cove: stranded cotton, 4.5 m skeins");
    screen.press("R", "The thread of a range");
    screen.keys(&format!("Shore{ENTER}perle{ENTER}5"));
    screen.press(CTRL_S, "Shore: perle 5");
}

fn numbers_and_status(need: &Value) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let entries = need["projects"][0]["entries"].as_array().unwrap();
    let threads = entries
        .iter()
        .filter_map(|entry| entry["threads"].as_array());
    let threads = threads.flatten();
    threads
        .map(|thread| (text(&thread["number"]), text(&thread["status"])))
        .collect()
}

#[test]
fn project_with_all_kinds_of_thread_runs_with_keys() {
    let folder = Folder::new();
    let mut screen = Screen::open(&folder.stash(), (120, 40));
    cabinet(&mut screen, &folder);

    screen.press("r", "new project");
    screen.press("n", "Begin a project");
    screen.keys(&format!("Fox{ENTER}"));
    screen.keys(&folder.file("fox.csv", KEY));
    screen.press(CTRL_S, "for the chart key of 'Fox'");
    screen.press("y", "how it stands");

    // The beads are entered by hand, and 12 replaces 447 on the second line.
    screen.press("a", "A new line of the key");
    screen.keys(&format!("B12{ENTER}bead{ENTER}gold seed{ENTER}B{ENTER}24"));
    screen.press(CTRL_S, "gold seed: bead, 24 pieces");
    screen.press("kkk", "447");
    screen.press("e", "Line 2 of the key");
    // Going back from the first line of the form reaches the last.
    screen.keys("\x1b[Z");
    screen.keys("12");
    screen.press(CTRL_S, "12 for 447");
    let expected = [
        ("701", "home"),
        ("96", "short"),
        ("447", "home"),
        ("301", "home"),
        ("5", "home"),
    ];
    let expected = expected.map(|(number, status)| (number.to_owned(), status.to_owned()));
    assert_eq!(numbers_and_status(&folder.json(&["need", "Fox"])), expected);

    // The lot bought isn't the one requested, and it lasts by itself.
    screen.press("b", "To buy for Fox");
    screen.wait_for("ask for lot K7");
    screen.press("e", "The dye lot of Lantern Hill 96");
    screen.press(&format!("V1{ENTER}"), "lot V1; ");
    screen.press(ENTER, "how it stands");
    screen.press("t", "0 of 5 fetched");
    for fetched in 1..=5 {
        if screen.text().contains("S cuts") {
            screen.press("S", "Cut thread onto");
            screen.keys(CTRL_S);
            screen.wait_gone("Cut thread onto");
        }
        if fetched < 5 {
            screen.step(&format!("{fetched} of 5 fetched"));
        }
    }
    screen.step("Now put them on the ring");
    let rings = folder.json(&["ring", "list"]);
    assert_eq!(rings["rings"][0]["kitted"]["there"], 5, "{rings}");

    // Thread is used, and every card goes home.
    screen.press("\x1b", "RINGS");
    screen.press(ENTER, "how it stands");
    screen.press("-", "length");
    screen.press("p", "0 of 5 home");
    for home in 1..=4 {
        screen.step(&format!("{home} of 5 home"));
    }
    screen.step("finished?");
    screen.keys("y");
    screen.wait_gone("finished?");
    screen.keys("\x1b");
    screen.wait_for("RINGS");
    screen.press("q", "BOARD");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    screen.wait_restored();

    let export = folder.json(&["export", "json", "-"]);
    for card in export["cards"].as_array().unwrap() {
        assert_eq!(card["whereabouts"]["kind"], "hook", "{card}");
    }
    let glass = folder.json(&["find", "96"]);
    let lots = glass["matches"][0]["thread"].as_array().unwrap();
    let lots: Vec<&Value> = lots.iter().map(|of| &of["lot"]).collect();
    assert_eq!(lots, ["K7", "V1"], "{glass}");
    assert_eq!(folder.json(&["check"])["ok"], true);
}
