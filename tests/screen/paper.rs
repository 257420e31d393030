//! Paper, files and the history from the screen, in a real pseudo-terminal.

use crate::harness::{ENTER, Folder, RIGHT, Screen};

const CTRL_S: &str = "\x13";

#[test]
fn labels_and_exports_are_written_and_history_lists_changes() {
    let folder = Folder::new();
    let list = "range,number,name,hex,hook\n\
                Sandbank,10,dune,#C8A165,A01\n\
                Sandbank,20,shell,#F1E4D4,A02\n";
    let file = folder.file("cards.csv", list);
    folder.json(&["board", "new", "wall", "--rows", "2", "--columns", "5"]);
    folder.json(&["import", "cards", &file]);
    let labels = folder.file("taken.html", "mine");
    let fresh = labels.replace("taken.html", "fresh.html");
    let copy = labels.replace("taken.html", "copy.csv");

    let mut screen = Screen::open(&folder.stash(), (80, 24));
    screen.wait_for("2 home");
    screen.press("P", "Print, or export to a file");
    screen.keys(&format!("{ENTER}{ENTER}{ENTER}{labels}"));
    screen.press(CTRL_S, "is there already");
    assert_eq!(std::fs::read_to_string(&labels).unwrap(), "mine");
    screen.keys(&format!("\x15{fresh}"));
    // The form closes once the file exists.
    screen.keys(CTRL_S);
    screen.wait_gone("Print, or export to a file");
    let html = std::fs::read_to_string(&fresh).unwrap();
    assert!(html.contains("dune") && html.contains("shell"));

    screen.press("P", "Print, or export to a file");
    screen.keys(&format!("\x15csv{ENTER}{ENTER}{ENTER}{copy}"));
    screen.keys(CTRL_S);
    screen.wait_gone("Print, or export to a file");
    let csv = std::fs::read_to_string(&copy).unwrap();
    assert!(csv.contains("Sandbank,10,dune"), "{csv}");

    screen.press(RIGHT, "A02 · ");
    screen.press("m", "? 1 ");
    screen.press("u", "? 0 ");
    screen.press("L", "History");
    screen.wait_for("Marked 1 card as missing (undone by 4)");
    screen.wait_for("Imported a card list: 2 cards new");
    screen.wait_for("Put up the board 'wall'");
    screen.press("q", "A02 · ");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
}
