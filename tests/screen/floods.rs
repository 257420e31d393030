//! More input than the program can handle at once, signals to end, and terminals that go away.

use std::fmt::Write as _;
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::common::is_long;
use crate::harness::{Flood, Folder, Screen};

const SIZE: (u16, u16) = (120, 40);
const LETTERS: &str = "qwertyuiopasdfghjklzxcvbnm";

/// How long the program may take to end after a signal.
const GONE: Duration = Duration::from_secs(1);

/// The longest time without a frame during a flood. The goal is 100 ms, measured with a release
/// build; this build is slower, and other tests run at the same time. Without the tested code there
/// was no frame during the whole time.
const APART: Duration = Duration::from_millis(1_000);

/// How long a flood lasts while frames are counted: more than [`APART`], so that the lack of any
/// frame is noticed.
const WATCHED: Duration = Duration::from_millis(1_200);

/// How long a flood lasts before something else happens. The terminal's buffer fills up long
/// before.
const BEGUN: Duration = Duration::from_millis(150);

/// A stash with a board of 20 rows and 30 columns, and a card on each of the first 300 hooks.
fn stash() -> Folder {
    let folder = Folder::new();
    let mut list = "range,number,name,hex,hook\n".to_owned();
    for hook in 0..300_usize {
        let row = char::from(b'A' + u8::try_from(hook / 30).unwrap());
        let (number, column) = (hook + 100, hook % 30 + 1);
        writeln!(list, "Sandbank,{number},moss,#2E5339,{row}{column:02}").unwrap();
    }
    let file = folder.file("cards.csv", &list);
    folder.json(&["board", "new", "wall", "--rows", "20", "--columns", "30"]);
    folder.json(&["import", "cards", &file]);
    folder
}

fn open(folder: &Folder) -> Screen {
    let screen = Screen::open(&folder.stash(), SIZE);
    screen.wait_for("A01 · ");
    screen.wait_quiet();
    screen
}

/// Moves the cursor along a row and back, so that it is rarely where it was a frame before. Uses
/// letters, because an arrow key that arrives in two parts becomes other keys.
fn steps() -> String {
    "l".repeat(29) + &"h".repeat(29)
}

/// A change at each of these steps.
fn changes() -> String {
    steps().replace('l', "ml").replace('h', "mh")
}

/// The mouse all over the board: pressed, dragged and released.
fn mouse() -> String {
    let mut path = String::new();
    for n in 0..97 {
        let (column, row) = (n * 31 % 97 + 5, n * 7 % 29 + 3);
        let on = column + 2;
        write!(
            path,
            "\x1b[<0;{column};{row}M\x1b[<32;{on};{row}M\x1b[<0;{on};{row}m"
        )
        .unwrap();
    }
    path
}

/// Resizes the terminal again and again for a while.
fn sizes(screen: &mut Screen) {
    let begun = Instant::now();
    for n in (0..1000_u16).cycle() {
        screen.resize(n * 7 % 83 + 40, n * 5 % 29 + 20);
        if begun.elapsed() > WATCHED {
            break;
        }
    }
}

/// Sends a signal, and checks that the program ends soon and restores the terminal.
fn ends(screen: &mut Screen, signal: &str, during: &str) {
    let sent = Instant::now();
    screen.signal(signal);
    is_gone(screen, sent, &format!("SIG{signal} during {during}"));
}

fn is_gone(screen: &mut Screen, sent: Instant, what: &str) {
    let status = screen.ended();
    let took = sent.elapsed();
    println!("{what}: gone after {took:?}");
    assert!(took < GONE, "{what}: {took:?}");
    assert_eq!(status.signal(), None, "{what}");
    screen.wait_restored();
}

/// The longest time without a frame since a given moment.
fn longest_wait(screen: &Screen, since: Instant, what: &str) -> Duration {
    let mut came = screen.came_since(since);
    let frames = came.len();
    came.insert(0, since);
    came.push(Instant::now());
    let apart = came.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap();
    println!("{what}: {frames} pieces, at most {apart:?} apart");
    apart
}

/// Runs `act` for each flood in parallel, each on its own stash, with its name, the key before it,
/// and its input.
fn in_each_flood(letters: &str, act: impl Fn(&Folder, &'static str, &'static str, &str) + Sync) {
    thread::scope(|scope| {
        for (what, first, text) in [
            ("letters into a search", "/", letters.to_owned()),
            ("steps over the board", "", steps()),
            ("changes", "", changes()),
            ("the mouse", "", mouse()),
        ] {
            let act = &act;
            scope.spawn(move || {
                let folder = stash();
                act(&folder, what, first, &text);
            });
        }
    });
}

#[test]
fn signal_ends_the_program_during_a_flood() {
    in_each_flood(LETTERS, |folder, what, first, text| {
        for signal in ["TERM", "HUP", "INT"] {
            let mut screen = open(folder);
            screen.keys(first);
            let flood = screen.flood(text);
            thread::sleep(BEGUN);
            ends(&mut screen, signal, what);
            drop(flood);
        }
        assert_eq!(folder.json(&["check"])["ok"], true, "{what}");
    });
}

#[test]
fn signal_ends_the_program_during_a_paste() {
    let folder = stash();
    for signal in ["TERM", "HUP", "INT"] {
        let mut screen = open(&folder);
        screen.keys("/\x1b[200~");
        let flood = screen.flood(LETTERS);
        thread::sleep(BEGUN);
        let sent = Instant::now();
        screen.signal(signal);
        // The system doesn't release a process that reads from a terminal while keys arrive faster
        // than it can discard them.
        drop(flood);
        is_gone(&mut screen, sent, &format!("SIG{signal} during a paste"));
    }
}

#[test]
fn signal_ends_the_program_during_rapid_resizing() {
    let folder = stash();
    let mut screen = open(&folder);
    sizes(&mut screen);
    ends(&mut screen, "TERM", "a storm of sizes");
}

#[test]
fn frames_are_drawn_during_a_flood() {
    // The typed text is deleted again, because a field has a limit.
    let typed = format!("{LETTERS}\x15");
    in_each_flood(&typed, |folder, what, first, text| {
        let mut screen = open(folder);
        screen.keys(first);
        let begun = Instant::now();
        let flood = screen.flood(text);
        thread::sleep(WATCHED);
        let apart = longest_wait(&screen, begun, what);
        drop(flood);
        assert!(apart < APART, "{what}: {apart:?} without a frame");
    });
}

#[test]
fn frames_are_drawn_during_rapid_resizing() {
    let folder = stash();
    let mut screen = open(&folder);
    let begun = Instant::now();
    sizes(&mut screen);
    let apart = longest_wait(&screen, begun, "sizes");
    assert!(apart < APART, "{apart:?} without a frame");
}

#[test]
fn flood_stays_in_the_terminal_buffer() {
    let folder = stash();
    let mut screen = open(&folder);
    let flood = screen.flood(changes());
    thread::sleep(WATCHED);
    ends(&mut screen, "TERM", "changes");
    let sent = flood.sent();
    println!("{sent} bytes were taken within {WATCHED:?}");
    // The terminal itself buffers less than 100 kB.
    assert!(sent < 300_000, "{sent} bytes were taken in");
}

#[test]
fn blocked_terminal_does_not_delay_a_signal() {
    let folder = stash();
    let mut screen = open(&folder);
    screen.deaf(true);
    sizes(&mut screen);
    let sent = Instant::now();
    screen.signal("TERM");
    screen.ended();
    let took = sent.elapsed();
    println!("gone after {took:?} where nothing is taken");
    assert!(took < GONE, "{took:?}");
    screen.wait_until("settings as they were", || screen.is_as_it_was());
    screen.deaf(false);
    assert_eq!(folder.json(&["check"])["ok"], true);
}

#[test]
fn closing_the_terminal_during_a_flood_ends_the_program() {
    let folder = stash();
    let begin = |mut screen: Screen| -> (Screen, Flood) {
        screen.wait_for("A01 · ");
        let flood = screen.flood(steps());
        thread::sleep(BEGUN);
        (screen, flood)
    };
    for (what, screen) in [
        ("with a signal", Screen::open(&folder.stash(), SIZE)),
        (
            "without one",
            Screen::open_without_hang_up(&folder.stash(), SIZE),
        ),
    ] {
        let (screen, flood) = begin(screen);
        let took = screen.hang_up_in(flood);
        println!("closed in a flood {what}: gone after {took:?}");
        assert!(took < GONE, "{what}: {took:?}");
    }
}

#[test]
fn closing_the_terminal_without_a_signal_ends_the_program() {
    let folder = stash();
    let screen = Screen::open_without_hang_up(&folder.stash(), SIZE);
    screen.wait_for("A01 · ");
    let took = screen.hang_up();
    println!("closed without a signal: gone after {took:?}");
    assert!(took < GONE, "{took:?}");
    assert_eq!(folder.json(&["check"])["ok"], true);
}

#[test]
fn immediate_signals_restore_the_terminal() {
    let folder = stash();
    for (signal, word) in [("QUIT", "Quit"), ("ABRT", "Abort")] {
        for flooded in [false, true] {
            let mut screen = open(&folder);
            let flood = flooded.then(|| screen.flood(steps()));
            thread::sleep(Duration::from_millis(100));
            let sent = Instant::now();
            screen.signal(signal);
            let status = screen.ended();
            let took = sent.elapsed();
            println!("SIG{signal}: gone after {took:?}");
            assert!(took < GONE, "SIG{signal}: {took:?}");
            let by = status.signal().unwrap_or("none");
            assert!(by.starts_with(word), "SIG{signal}: ended by {by}");
            screen.wait_restored();
            drop(flood);
        }
    }
    assert_eq!(folder.json(&["check"])["ok"], true);
}

#[test]
fn change_interrupted_by_a_signal_is_recorded_whole_or_not_at_all() {
    let folder = stash();
    let record = || std::fs::read_to_string(folder.stash().join("record.jsonl")).unwrap();
    for more in (0..8).step_by(if is_long() { 1 } else { 3 }) {
        let before = record();
        let mut screen = open(&folder);
        let flood = screen.flood(changes());
        screen.wait_until("a change", || record() != before);
        thread::sleep(Duration::from_millis(more));
        ends(&mut screen, "TERM", "changes");
        drop(flood);
        let after = record();
        let added = after
            .strip_prefix(&before)
            .expect("what was recorded stays");
        assert!(added.ends_with('\n'), "{added:?}");
        for line in added.lines() {
            assert!(serde_json::from_str::<Value>(line).is_ok(), "{line}");
        }
        assert_eq!(folder.json(&["check"])["ok"], true);
    }
}
