//! The whole job on one screen, with keys only: from an empty stash to a wall in order.

use std::fmt::Write;

use serde_json::Value;

use crate::harness::{DOWN, ENTER, ESC, Folder, LEFT, RIGHT, Screen, TAB};

const ROWS: usize = 18;
const COLUMNS: usize = 20;
/// Cards in the first list, and in the purchase.
const OWNED: usize = 300;
const BOUGHT: usize = 35;

/// The name of a hook by its place in reading order.
fn hook_name(place: usize) -> String {
    let letter = char::from(b'A' + u8::try_from(place / COLUMNS).unwrap());
    format!("{letter}{:02}", place % COLUMNS + 1)
}

/// The family of a number: a hundred cards each, in wall order.
fn family(number: usize) -> &'static str {
    ["hedgerow", "harbour", "hearth"][(number - 1) / 1_000]
}

/// The number of the nth card, from 0, leaving room for nine between two cards.
const fn number(nth: usize) -> usize {
    10 * nth + 10
}

/// Every sixth hook stays free.
const fn place(nth: usize) -> usize {
    nth + nth / 5
}

fn card_list() -> String {
    let mut text = "range,number,name,hex,family,lengths,hook\n".to_owned();
    for nth in 0..OWNED {
        let (number, hook) = (number(nth), hook_name(place(nth)));
        let (family, hex) = (family(number), format!("{:06X}", nth * 50_000));
        writeln!(
            text,
            "Sandbank,{number},tide {number},#{hex},{family},8,{hook}"
        )
        .unwrap();
    }
    text
}

/// New numbers, most of them side by side where there is least room.
fn purchase() -> String {
    let mut text = "range,number,name,hex,family,skeins\n".to_owned();
    for nth in 0..BOUGHT {
        let number = if nth < 20 {
            1_201 + 2 * nth
        } else {
            68 + 190 * (nth - 20)
        };
        let family = family(number);
        writeln!(text, "Sandbank,{number},new {number},#336699,{family},1").unwrap();
    }
    text
}

/// The number of cards with a home on the board.
fn homes(boards: &Value) -> usize {
    let hooks = boards["boards"][0]["hooks"].as_array().unwrap();
    hooks
        .iter()
        .map(|hook| hook["homes"].as_array().unwrap().len())
        .sum()
}

/// The steps of each plan by its number, as another process receives them.
fn steps(folder: &Folder) -> Vec<usize> {
    let plans = folder.json(&["rehang"]);
    let plans = plans["plans"].as_array().unwrap();
    let count = |plan: &Value| plan["steps"].as_array().unwrap().len();
    plans.iter().map(count).collect()
}

#[test]
fn whole_job_works_with_keys() {
    let folder = Folder::new();
    let mut screen = Screen::open(&folder.stash(), (120, 40));

    put_up_a_board(&mut screen);
    import(&mut screen, &folder.file("cards.csv", &card_list()), OWNED);
    screen.wait_for(&format!("{OWNED} home"));
    find_and_choose(&mut screen);
    take_and_put_away(&mut screen);

    import(
        &mut screen,
        &folder.file("purchase.csv", &purchase()),
        BOUGHT,
    );
    re_hang(&mut screen, &folder);

    // One change undone and redone, as after an everyday slip.
    screen.press("u", "Undone");
    screen.press("U", "Redone");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    screen.wait_restored();

    let check = folder.json(&["check"]);
    assert_eq!(check["ok"], true, "{check}");
    assert_eq!(homes(&folder.json(&["board", "show"])), OWNED + BOUGHT);
    let rings = folder.json(&["ring", "list"]);
    assert_eq!(rings["rings"][0]["state"], "closed", "{rings}");
    let kind = |number: usize| {
        let found = folder.json(&["find", &number.to_string()]);
        found["matches"][0]["whereabouts"]["kind"].clone()
    };
    assert_eq!(kind(number(0)), "missing");
    assert_eq!(kind(number(1)), "hook");
    assert_eq!(kind(1_201), "hook");
}

/// Creates a board: the first step, six lines, no blocked hooks.
fn put_up_a_board(screen: &mut Screen) {
    screen.wait_for("Welcome");
    screen.press(&format!("{DOWN}{DOWN}{DOWN}{ENTER}"), "what you call it");
    // The default name stays; typing replaces the other defaults.
    screen.keys(&format!("{ENTER}{ROWS}{ENTER}{COLUMNS}{ENTER}"));
    screen.press(&ENTER.repeat(3), "Blocked hooks");
    screen.press(ENTER, &format!("{} free", ROWS * COLUMNS));
    screen.escape("Welcome");
}

/// Imports a list: `i`, the path, an empty range, and the guessed columns.
fn import(screen: &mut Screen, path: &str, cards: usize) {
    screen.press("i", "Import a card list");
    screen.keys(path);
    screen.keys(ENTER);
    screen.press(ENTER, &format!("{cards} new cards"));
    screen.keys(ENTER);
    screen.wait_gone("new cards");
}

/// Finds one card by typing and goes there, then selects six cards with Space and with find and
/// Tab.
fn find_and_choose(screen: &mut Screen) {
    screen.press("/tide 2345", "Find");
    // Nobody has the number 2345: delete one digit and type another.
    screen.press("\x7f0", "tide 2340");
    screen.press(ENTER, &format!("{} · ", hook_name(place(233))));

    // The first six cards: three under the cursor, three by typing.
    screen.press("/10", "tide 10");
    screen.press(ENTER, "A01 · ");
    screen.keys(&format!(" {RIGHT} {RIGHT} "));
    screen.wait_for("* 3");
    screen.keys("/");
    for (nth, chosen) in [(3, 4), (4, 5), (5, 6)] {
        screen.keys(&format!("{}{TAB}", number(nth)));
        screen.wait_for(&format!("* {chosen}"));
    }
    screen.keys(ESC);
    screen.wait_for("BOARD");
}

/// Takes the six cards to a ring and puts them away, with one of them lost on the way.
fn take_and_put_away(screen: &mut Screen) {
    screen.press("t", "a name that no ring has");
    screen.press(&format!("Heron at dawn{ENTER}"), "o 6 ");
    screen.press("r", "Heron at dawn");
    screen.press("p", "0 of 6 home");
    screen.press("-", "0 of 6 home, 1 missing");
    for done in 1..=4 {
        screen.step(&format!("{done} of 6 home"));
    }
    screen.step("Every other card is home. 1 missing");
    screen.keys("y");
    screen.wait_gone("Every other card is home");
    screen.wait_for("? 1 ");
    screen.keys("q");
    screen.wait_for("BOARD");
}

/// Views the plans, does some steps, quits the program, and does the rest after reopening it.
fn re_hang(screen: &mut Screen, folder: &Folder) {
    let plans = steps(folder);
    let fewest = plans[1];
    assert!(plans.len() > 2 && plans[0] < fewest);
    screen.wait_for(&format!("plan 1 of {}", plans.len() - 1));
    screen.wait_for("Wall after");
    screen.press(TAB, "Wall now");
    screen.press(TAB, "Wall after");
    screen.press(RIGHT, "plan 2 of");
    screen.keys(DOWN);
    screen.press(LEFT, "plan 1 of");

    screen.press(ENTER, &format!("0 of {fewest} steps done"));
    for done in 1..=4 {
        screen.step(&format!("{done} of {fewest} steps done"));
    }
    screen.press("u", &format!("3 of {fewest} steps done"));
    screen.keys(ESC);
    screen.wait_for(&format!("Saved. {} steps are left.", fewest - 3));

    // Another process resumes the re-hang.
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    *screen = Screen::open(&folder.stash(), (120, 40));
    screen.wait_for(&format!("A re-hang is underway: 3 of {fewest} steps done"));
    screen.press("g", &format!("3 of {fewest} steps done"));
    screen.step(&format!("4 of {fewest} steps done"));
    screen.press("A", "left as done?");
    screen.press("y", "The re-hang is done");
    screen.wait_for(&format!("{} home", OWNED + BOUGHT - 1));
}
