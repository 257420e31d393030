//! The number of keys that frequent actions take from the board: as many as
//! assets/handbook/keyboard.md says. Their results are recorded.

use std::fmt::Write;
use std::path::Path;
use std::process::Command;

use serde_json::{Value, json};

use crate::harness::{DOWN, ENTER, Folder, Screen, TAB};

pub const CTRL_S: &str = "\x13";

/// Forty cards on sixty hooks: 10 to 400, in order.
fn card_list() -> String {
    let mut text = "range,number,name,hex,family,lengths,hook\n".to_owned();
    for nth in 0..40 {
        let (place, number) = (nth + nth / 4, 10 * nth + 10);
        let (row, column) = (["A", "B", "C", "D", "E"][place / 10], place % 10 + 1);
        let hex = format!("{:06X}", nth * 50_000);
        writeln!(
            text,
            "Sandbank,{number},tide {number},#{hex},shore,8,{row}{column:02}"
        )
        .unwrap();
    }
    text
}

const BOUGHT: &str = "range,number,name,hex,family,skeins\n\
    Sandbank,101,reed,#336699,shore,1\n\
    Sandbank,102,gull,#335599,shore,1\n\
    Sandbank,103,sand,#334499,shore,1\n";
const KEY: &str = "symbol,number,strands,stitches\nX,30,2,800\nO,50,2,200\n/,70,2,300\n";

/// A folder with a stash and the three lists. The ring 'Heron' has the cards 210 to 400; 'Fox' has
/// a key and its kit.
pub fn stash() -> Folder {
    let folder = Folder::new();
    let file = folder.file("cards.csv", &card_list());
    let key = folder.file("fox.csv", KEY);
    let numbers: Vec<String> = (21..=40).map(|tens| (tens * 10).to_string()).collect();
    let numbers = numbers.iter().map(String::as_str);
    let take: Vec<&str> = ["ring", "take", "Heron"]
        .into_iter()
        .chain(numbers)
        .collect();
    folder.json(&["board", "new", "wall", "--rows", "6", "--columns", "10"]);
    folder.json(&["import", "cards", &file]);
    folder.json(&["import", "key", &key, "--project", "Fox"]);
    folder.json(&["ring", "pull", "Fox", "--take"]);
    folder.json(&take);
    folder
}

/// A copy of it, together with the lists.
pub fn copy(of: &Path) -> Folder {
    let folder = Folder::new();
    folder.file("bought.csv", BOUGHT);
    folder.file("robin.csv", KEY);
    let copied = Command::new("cp")
        .arg("-R")
        .args([of, &folder.stash()])
        .status();
    assert!(copied.unwrap().success());
    folder
}

/// A screen, and the number of keys pressed.
pub struct Hand {
    pub screen: Screen,
    pub folder: Folder,
    pub pressed: usize,
}

impl Hand {
    /// The board of a stash, in the folder with the lists.
    pub fn on(folder: Folder) -> Self {
        Self {
            screen: Self::board(&folder),
            folder,
            pressed: 0,
        }
    }

    fn board(folder: &Folder) -> Screen {
        let line = "cd \"$1/..\" && exec \"$0\" --stash \"$1\"";
        let screen = Screen::shell(line, &folder.stash(), (120, 40));
        screen.wait_for("? help");
        screen
    }

    /// Reopens the board after the program has ended.
    pub fn reopen(&mut self) {
        self.screen = Self::board(&self.folder);
    }

    /// Presses keys of one character each, or Down, and waits for the text they show.
    pub fn press(&mut self, keys: &str, text: &str) {
        // Down sends several characters.
        self.pressed += keys.replace(DOWN, " ").chars().count();
        self.screen.press(keys, text);
    }

    /// Confirms a step of a walk.
    pub fn step(&mut self, text: &str) {
        self.pressed += 1;
        self.screen.step(text);
    }

    pub fn json(&self, args: &[&str]) -> Value {
        self.folder.json(args)
    }

    /// The place of a card.
    fn kind(&self, number: &str) -> Value {
        self.json(&["find", number])["matches"][0]["whereabouts"]["kind"].clone()
    }
}

fn put_back(hand: &mut Hand) {
    hand.press("350", "Enter: hang");
    hand.press(ENTER, "o 22");
    assert_eq!(hand.kind("350"), "hook");
}

fn find(hand: &mut Hand) {
    hand.press("150", "Enter: show B08");
}

fn use_length(hand: &mut Hand) {
    hand.press("r", "Fox");
    hand.press(ENTER, "how it stands");
    hand.press("-", "Used 1 length");
    let cards = hand.json(&["export", "json", "-"]);
    let cards = cards["cards"].as_array().unwrap();
    let used = cards.iter().find(|card| card["number"] == "30").unwrap();
    assert_eq!(used["strands"], json!(7 * 6));
}

fn take_five(hand: &mut Hand) {
    for (nth, number) in ["110", "130", "150", "170", "190"].iter().enumerate() {
        hand.press(number, "Enter: show");
        hand.press(TAB, &format!("{} selected", nth + 1));
    }
    hand.press("t", "a name that no ring has");
    hand.press(&format!("Robin{ENTER}"), "o 28");
    let rings = hand.json(&["ring", "list"]);
    let rings = rings["rings"].as_array().unwrap();
    let robin = rings
        .iter()
        .find(|ring| ring["project"] == "Robin")
        .unwrap();
    assert_eq!(robin["cards"].as_array().unwrap().len(), 5, "{robin}");
}

fn put_away(hand: &mut Hand) {
    hand.press("r", "Heron");
    hand.press("jp", "0 of 20 home");
    for done in 1..20 {
        hand.step(&format!("{done} of 20 home"));
    }
    hand.step("Every card is accounted for");
    assert_eq!(hand.kind("400"), "hook");
}

fn import_a_purchase(hand: &mut Hand) {
    hand.press("i", "Import a card list");
    hand.press(&format!("b{TAB}"), "bought.csv");
    hand.press(CTRL_S, "3 new cards");
    hand.press(ENTER, "plan 1 of");
    hand.press(ENTER, "steps done");
    assert!(hand.json(&["rehang"])["underway"]["steps"].as_u64() > Some(0));
}

fn see_what_is_out(hand: &mut Hand) {
    hand.press("w", "On the ring 'Heron' 20");
}

fn miss(hand: &mut Hand) {
    hand.press("150", "Enter: show B08");
    hand.press(ENTER, "B08 · ");
    hand.press("m", "? 1 ");
    assert_eq!(hand.kind("150"), "missing");
}

fn lend(hand: &mut Hand) {
    hand.press("150", "Enter: show B08");
    hand.press(ENTER, "B08 · ");
    hand.press("a", "drawer in the hall");
    hand.press("Mum\x13", "> 1 ");
    assert_eq!(hand.kind("150"), "elsewhere");
}

fn print_ring(hand: &mut Hand) {
    hand.press("r", "Fox");
    hand.press("P", "Print, or export to a file");
    hand.press(CTRL_S, "ring.html");
    let html = hand.folder.stash().with_file_name("ring.html");
    assert!(std::fs::read_to_string(html).unwrap().contains("Fox"));
}

fn begin_project(hand: &mut Hand) {
    hand.press("r", "new project");
    hand.press("n", "Begin a project");
    hand.press(&format!("Robin{ENTER}r{TAB}"), "robin.csv");
    hand.press(CTRL_S, "chart key of 'Robin'");
    hand.press(ENTER, "how it stands");
    let rings = hand.json(&["ring", "list"]);
    assert_eq!(rings["rings"].as_array().unwrap().len(), 3);
}

fn undo(hand: &mut Hand) {
    hand.screen.press("m", "? 1 ");
    hand.press("u", "? 0 ");
    assert_eq!(hand.kind("10"), "hook");
}

type Doing = fn(&mut Hand);

const ACTS: [(&str, Doing); 12] = [
    ("Put one loose card back", put_back),
    ("Find a colour", find),
    ("Note a length used", use_length),
    ("Take five cards to a new ring", take_five),
    ("Put a ring of 20 cards away", put_away),
    ("Import a purchase and start plan 1", import_a_purchase),
    ("See what is out", see_what_is_out),
    ("Mark a card as missing", miss),
    ("Lend a card", lend),
    ("Print a ring's card", print_ring),
    ("Begin a project from its chart key", begin_project),
    ("Undo the last change", undo),
];

/// The handbook's count for an action: the last column of its line in the table of keys to press.
fn said(page: &str, act: &str) -> usize {
    let table = page.split("## Keys to press").nth(1).unwrap();
    let line = table
        .lines()
        .find(|line| line.starts_with(&format!("| {act}")));
    let line = line.unwrap_or_else(|| panic!("no line for '{act}'"));
    let figure = line.trim_end_matches('|').rsplit('|').next().unwrap();
    figure.trim().parse().unwrap()
}

#[test]
fn frequent_actions_take_as_many_keys_as_the_handbook_says() {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets/handbook/keyboard.md");
    let page = std::fs::read_to_string(page).unwrap();
    let stash = stash();
    for (act, doing) in ACTS {
        let mut hand = Hand::on(copy(&stash.stash()));
        doing(&mut hand);
        assert_eq!(hand.pressed, said(&page, act), "{act}");
    }
}
