//! A project from its key to its end, with keys only, in a real pseudo-terminal.

use serde_json::{Value, json};

use crate::harness::{DOWN, ENTER, Folder, Screen};

const CTRL_S: &str = "\x13";

/// Five colours at home; 30 will be split, 50 will be lost and found.
fn stash(screen: &mut Screen, folder: &Folder) {
    let list = "range,number,name,hex,family,lengths,hook\n\
                Sandbank,10,dune,#C8A165,shore,8,A05\n\
                Sandbank,20,shell,#F1E4D4,shore,8,A04\n\
                Sandbank,30,kelp,#2E5339,shore,16,A03\n\
                Sandbank,40,foam,#EEF4F4,shore,8,A02\n\
                Sandbank,50,rock,#556066,shore,8,A01\n";
    screen.wait_for("Welcome");
    screen.press(&format!("{DOWN}{DOWN}{DOWN}{ENTER}"), "what you call it");
    screen.keys(&format!("{ENTER}4{ENTER}6{CTRL_S}"));
    screen.wait_for("24 free");
    screen.press(ENTER, "Import a card list");
    screen.keys(&folder.file("cards.csv", list));
    screen.press(CTRL_S, "5 new cards");
    screen.press("y", "5 home");
    screen.wait_gone("Welcome to Homehook");
}

/// Starts a project with a key from a list.
fn begin(screen: &mut Screen, folder: &Folder, project: &str, key: &str) {
    screen.press("r", "new project");
    screen.press("n", "Begin a project");
    screen.keys(&format!("{project}{ENTER}"));
    let file = format!("{}.csv", project.to_lowercase());
    screen.keys(&folder.file(&file, key));
    screen.press(CTRL_S, &format!("for the chart key of '{project}'"));
    screen.press("y", "how it stands");
}

fn card<'a>(found: &'a Value, number: &str) -> &'a Value {
    let all = found["matches"].as_array().unwrap();
    all.iter().find(|card| card["number"] == number).unwrap()
}

#[test]
fn project_runs_from_its_key_to_its_end_with_keys() {
    let folder = Folder::new();
    let mut screen = Screen::open(&folder.stash(), (120, 40));
    stash(&mut screen, &folder);

    // Heron takes its whole kit; 50 isn't where it should be.
    let heron = "symbol,number,strands,stitches\nX,30,2,800\nO,50,2,200\n/,10,2,300\n";
    begin(&mut screen, &folder, "Heron", heron);
    screen.wait_for("3 lines: 3 enough");
    screen.press("t", "0 of 3 fetched");
    screen.press("m", "0 of 2 fetched");
    screen.step("1 of 2 fetched");
    screen.step("Now put them on the ring");
    screen.wait_for("missing");
    screen.escape("how it stands");
    screen.escape("new project");

    // One key marks it as found, and it is fetched after all.
    screen.press("w", "missing");
    screen.keys("q");
    screen.press("/50", "rock");
    screen.step("A01 · ");
    screen.press("m", "? 0 ");
    screen.press(&format!("r{ENTER}"), "how it stands");
    // The count resumes where it was.
    screen.press("t", "2 of 3 fetched");
    screen.press("A", "left as taken?");
    screen.press("y", "Now put them on the ring");

    // One length and one strand of 30, on the first line, are used.
    screen.press("-", "Used 1 length");
    screen.press(",", "Used 1 strand");
    screen.escape("how it stands");
    screen.escape("new project");

    // Robin needs 30, too, and a colour that isn't owned.
    let robin = "symbol,number,name,strands,stitches,hex\nA,30,,2,500,\nB,20,,2,300,\nC,77,moss,2,90,#2F553A\n";
    begin(&mut screen, &folder, "Robin", robin);
    screen.wait_for("split off from Heron");
    screen.wait_for("not owned");
    screen.press("t", "0 of 2 fetched");
    screen.step("the ring 'Heron'");
    screen.step("Now put them on the ring");
    screen.keys(&format!("{DOWN}{DOWN}"));
    screen.wait_for("could stand in");

    // Buy what is missing, and re-hang to make space for it.
    screen.press("b", "To buy for Robin");
    screen.press(ENTER, "plan 1 of");
    screen.press("q", "how it stands");

    // Robin is finished: the split card is rejoined, the other card hangs again, and the ring is
    // closed.
    screen.press("kkw", "Rejoined");
    screen.press("p", "0 of 1 home");
    screen.step("Every card is accounted for");
    screen.keys("y");
    screen.wait_gone("Every card is accounted for");
    screen.press("q", "RINGS");
    screen.press("q", "BOARD");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    screen.wait_restored();

    let check = folder.json(&["check"]);
    assert_eq!(check["ok"], true, "{check}");
    let rings = folder.json(&["ring", "list"]);
    assert_eq!(rings["rings"][1]["state"], "closed", "{rings}");
    let kelp = folder.json(&["find", "30"]);
    assert_eq!(card(&kelp, "30")["whereabouts"]["ring"], "Heron", "{kelp}");
    // 16 lengths minus one length and a strand; the thread split off came back.
    let card_list = folder.json(&["export", "json", "-"]);
    let cards = card_list["cards"].as_array().unwrap();
    let kelp = cards.iter().find(|card| card["number"] == "30").unwrap();
    assert_eq!(kelp["strands"], json!(16 * 6 - 7), "{kelp}");
    assert!(cards.iter().all(|card| card["split_card"] == false));
}

#[test]
fn roll_call_finds_misplaced_cards_and_hangs_them_home() {
    let folder = Folder::new();
    let mut screen = Screen::open(&folder.stash(), (80, 24));
    stash(&mut screen, &folder);

    // Dune hangs on A02 instead of foam, so nothing hangs on A05; the rest of the row is as shown.
    screen.press("v", "0 of 1 rows");
    screen.press("l", "[A02]");
    screen.press("10", "hangs on A02, not");
    screen.press(ENTER, "? not here");
    screen.press(" ", "Enter record");
    screen.wait_for("hangs on A02");
    // Offers to hang the misplaced card home.
    screen.press(ENTER, "ang it on");
    screen.press(" ", "Roll call: 3 found, 1 misplaced, 1 missing");
    screen.press("q", "");
    assert_eq!(screen.ended().exit_code(), 0);

    let place = |number: &str| {
        let found = folder.json(&["find", number]);
        card(&found, number)["whereabouts"].clone()
    };
    assert_eq!(place("10")["hook"], "A05");
    assert_eq!(place("40")["kind"], "missing");
    assert_eq!(place("40")["last_seen"]["hook"], "A02");
    let log = folder.json(&["history", "10"]);
    let events = log["events"].as_array().unwrap();
    assert_eq!(events.len(), 3, "{log}");
}
