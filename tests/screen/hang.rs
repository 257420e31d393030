//! Hanging a card on another hook with keys and the mouse, in a real pseudo-terminal.

use homehook::tui::layout;
use serde_json::json;

use crate::harness::{ENTER, Folder, LEFT, RIGHT, Screen, TAB};

/// A board of 3 rows and 6 columns with four cards in order, and one to hang.
fn stash() -> Folder {
    let folder = Folder::new();
    let list = "range,number,name,hex,hook\n\
                Sandbank,10,dune,#C8A165,A01\n\
                Sandbank,20,shell,#F1E4D4,A03\n\
                Sandbank,30,kelp,#2E5339,B01\n\
                Sandbank,40,foam,#EEF4F4,B03\n\
                Sandbank,25,reed,#8A9A5B,\n";
    let file = folder.file("cards.csv", list);
    folder.json(&["board", "new", "wall", "--rows", "3", "--columns", "6"]);
    folder.json(&["import", "cards", &file]);
    folder
}

fn home(folder: &Folder, card: &str) -> serde_json::Value {
    folder.json(&["find", card])["matches"][0]["home"].clone()
}

#[test]
fn keys_hang_a_card_elsewhere_and_a_new_one_where_it_fits() {
    for size in [(80, 24), (120, 40)] {
        let folder = stash();
        let mut screen = Screen::open(&folder.stash(), size);
        screen.wait_for("4 home");
        screen.press(&RIGHT.repeat(2), "A03 · ");
        screen.press("e", "A03 is where it hangs now");
        screen.wait_for("hang here");
        screen.press(LEFT, "keeps the order");
        screen.press(ENTER, "hangs on A02. Write");
        assert_eq!(home(&folder, "20"), json!("A02"));
        // A hook out of order asks first.
        screen.press("e", "A02 is where it hangs now");
        screen.press("jj", "breaks the order");
        screen.press(ENTER, "Hang it there?");
        screen.press("y", "hangs on C02. Write");
        assert_eq!(home(&folder, "20"), json!("C02"));
        screen.press("u", "Undone");
        assert_eq!(home(&folder, "20"), json!("A02"));
        // A card from the list of cards to hang.
        screen.press("w", "To hang 1");
        screen.press("e", "Hang elsewhere");
        screen.wait_for("goes to A04");
        screen.press(TAB, "goes to A05");
        screen.press(ENTER, "hangs on A05. Write");
        assert_eq!(home(&folder, "25"), json!("A05"));
        screen.wait_for("Every card is at home");
        screen.escape("Not at home");
        screen.press("e", "is where it hangs now");
        screen.escape("Hang elsewhere");
        screen.keys("q");
        assert_eq!(screen.ended().exit_code(), 0);
    }
}

#[test]
fn mouse_drags_a_card_to_another_hook() {
    let size = (80, 24);
    let folder = stash();
    let mut screen = Screen::open(&folder.stash(), size);
    screen.wait_for("Waiting for you");
    screen.escape("Waiting for you");
    // Drawn last.
    screen.wait_for("? help");
    // The letters and numbers at the edges give the positions of the hooks.
    let grid = layout::parts(size.0, size.1).body;
    let rows = screen.rows(grid.width);
    let head = &rows[usize::from(grid.y)];
    let cell = |hook_name: &str| {
        let column = head.find(&hook_name[1..]).unwrap() + 2;
        let row = rows.iter().position(|row| row.starts_with(&hook_name[..1]));
        // Counted from 1.
        (column + 1, row.unwrap() + 1)
    };
    let send = |screen: &mut Screen, button: u8, hook_name: &str, end: char| {
        let (column, row) = cell(hook_name);
        screen.keys(&format!("\x1b[<{button};{column};{row}{end}"));
    };
    // Button 0 down; plus 32 while it moves; a lower-case letter on release.
    send(&mut screen, 0, "B03", 'M');
    screen.wait_for("B03 · ");
    send(&mut screen, 32, "B04", 'M');
    screen.wait_for("Card 40 goes to B04");
    send(&mut screen, 32, "A02", 'M');
    screen.wait_for("breaks the order");
    send(&mut screen, 0, "A02", 'm');
    screen.wait_for("Hang it there?");
    screen.press("n", "A02 · ");
    assert_eq!(home(&folder, "40"), json!("B03"));
    send(&mut screen, 0, "B03", 'M');
    screen.wait_for("B03 · ");
    send(&mut screen, 32, "C06", 'M');
    screen.wait_for("keeps the order");
    send(&mut screen, 0, "C06", 'm');
    screen.wait_for("Hang it there?");
    screen.press("y", "hangs on C06. Write");
    assert_eq!(home(&folder, "40"), json!("C06"));
    // Released beside the board.
    send(&mut screen, 0, "A01", 'M');
    screen.wait_for("A01 · ");
    send(&mut screen, 32, "A02", 'M');
    screen.wait_for("Hang elsewhere");
    screen.keys("\x1b[<0;1;1m");
    screen.wait_gone("Hang elsewhere");
    assert_eq!(home(&folder, "10"), json!("A01"));
    assert_eq!(folder.json(&["check"])["ok"], true);
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
}
