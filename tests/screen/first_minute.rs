//! From an empty folder to a hung board, with keys only.

use serde_json::Value;

use crate::harness::{DOWN, ENTER, ESC, Folder, RIGHT, Screen, TAB};

/// Columns with unknown titles, and a typing error in the amount of the fourth row.
const ODD: &str = "Garn;Beschreibung;Ton;Vorrat\n\
    701;soot;#101214;8\n9;chalk;#FFFFFF;4\n447;river slate;#445566;2\n12;plum jam;#5A2A4B;x\n";
/// No header, and the number in the second column.
const BARE: &str = "fox red,118,#AA3311\ndandelion,96,#EEDD33\n";

fn hooks(boards: &Value) -> &Vec<Value> {
    boards["boards"][0]["hooks"].as_array().unwrap()
}

/// Cards that have a home on the board.
fn homes(boards: &Value) -> usize {
    let of = |hook: &Value| hook["homes"].as_array().unwrap().len();
    hooks(boards).iter().map(of).sum()
}

fn blocked(boards: &Value) -> Vec<(&str, &str)> {
    let hooks = hooks(boards).iter();
    hooks
        .filter_map(|hook| Some((hook["hook"].as_str()?, hook["blocked"].as_str()?)))
        .collect()
}

#[test]
fn new_user_gets_from_an_empty_folder_to_a_hung_board() {
    let folder = Folder::new();
    let odd = folder.file("odd.csv", ODD);
    let bare = folder.file("bare.csv", BARE);
    let mut screen = Screen::open(&folder.stash(), (80, 24));

    // The page shows the next step, and where the stash is kept.
    screen.wait_for("> [ ] 1. Import a list");
    screen.wait_for("The stash is kept in");
    screen.press(
        &format!("{DOWN}{DOWN}{DOWN}{ENTER}"),
        "240 hooks, A01 to L20",
    );
    // The preview follows the input.
    screen.press(&format!("{ENTER}3"), "60 hooks, A01 to C20");
    screen.press(&format!("{ENTER}4"), "12 hooks, A01 to C04");
    screen.press(&format!("{ENTER}{RIGHT}"), "for 24 cards.");
    screen.press(&ENTER.repeat(3), "Blocked hooks");
    // The second hook has a bracket over it, and the last row ends after one hook.
    screen.press(&format!("{RIGHT} "), "A02 is blocked: bracket");
    screen.press(TAB, "no hook here");
    screen.press(&format!("{DOWN}{DOWN}e"), "Room for 16 cards.");
    screen.press(ENTER, "> [ ] 1. Import a list");
    screen.wait_for("[x] 2. Put up a board for them               3 rows of 4");

    // Tab completes the name; all columns but one are guessed.
    screen.press(ENTER, "Import a card list");
    let start = odd.strip_suffix("d.csv").unwrap();
    screen.press(&format!("{start}{TAB}"), "odd.csv");
    screen.press(&format!("{ENTER}{ENTER}"), "Which column is what?");
    screen.wait_for("4 new cards");
    screen.keys(&DOWN.repeat(3));
    // Range, then family, then lengths.
    screen.press(RIGHT, "range: the maker's range");
    screen.press(&RIGHT.repeat(2), "lengths: on the card");
    screen.wait_for("A value can't be read");
    screen.wait_for("is imported without an amount");
    screen.wait_for("soot · 8 lengths");
    // Back to the file name, and forward again: nothing was imported.
    screen.escape("Which column is what?");
    screen.wait_for("+ 0 ");
    screen.press(&ENTER.repeat(2), "Which column is what?");
    screen.keys(&DOWN.repeat(3));
    screen.press(&RIGHT.repeat(3), "4 new cards");
    screen.press(ENTER, "plan 1 of");
    screen.wait_for("4 cards imported; a value on line 5 couldn't be read");
    screen.press(ENTER, "0 of 4 steps done");
    screen.step("1 of 4 steps done");
    screen.step("2 of 4 steps done");
    screen.step("3 of 4 steps done");
    screen.step("Every card has its home");
    screen.wait_for("4 home");

    // A list without a header, imported from the board.
    screen.press("i", "Import a card list");
    screen.press(&format!("{bare}{ENTER}{ENTER}"), "The first line is a card");
    screen.wait_for("2 new cards");
    screen.press("t", "1 new card ·");
    screen.press("t", "2 new cards");
    screen.press(ENTER, "plan 1 of");
    screen.press(ENTER, "steps done");
    screen.press("A", "left as done?");
    screen.press("y", "6 home");

    // Edit the board: a hook in use can't be blocked.
    screen.press("E", "Edit the board");
    screen.press(&ENTER.repeat(5), "Blocked hooks");
    screen.press("c", "can't be blocked");
    screen.keys(ESC);
    screen.wait_for("Edit the board");
    screen.escape("Edit the board");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);

    let boards = folder.json(&["board", "show"]);
    let bracket = ("A02", "bracket");
    let none = ["C02", "C03", "C04"].map(|hook_name| (hook_name, "no hook here"));
    let expected = [&[bracket][..], &none].concat();
    assert_eq!(blocked(&boards), expected);
    assert_eq!((hooks(&boards).len(), homes(&boards)), (12, 6));
    let found = folder.json(&["find", "118"]);
    assert_eq!(found["matches"][0]["name"], "fox red", "{found}");
    assert_eq!(folder.json(&["check"])["ok"], true);
}

#[test]
fn demo_stash_can_be_tried_and_left() {
    let folder = Folder::new();
    let mut screen = Screen::open(&folder.stash(), (120, 40));
    screen.wait_for("Welcome to Homehook");
    screen.press("d", "Workroom wall");
    screen.wait_for("An invented stash: nothing you do here is kept");
    screen.press("u", "Undo it?");
    screen.press("y", "Undone");
    screen.press("q", "Back at your own stash");
    screen.wait_for("> [ ] 1. Import a list");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    screen.wait_restored();
    assert!(!folder.stash().exists(), "looking makes no stash");
}
