//! How often the program waits for the disk in use.
#![cfg(target_os = "linux")]

use std::fmt::Write as _;

use crate::common::{can_trace, is_asked_for};
use crate::harness::{ENTER, Folder, RIGHT, Screen};

/// A stash with 500 cards on 600 hooks, with every sixth hook free.
fn usual_stash() -> Folder {
    let folder = Folder::new();
    let mut list = "range,number,name,hex,hook\n".to_owned();
    let hows = ["pale", "deep", "dusky", "warm", "faded"];
    let whats = ["moss", "river", "slate", "heather", "bramble", "straw"];
    let hung = (0..600_usize).filter(|at| at % 6 != 5);
    for (at, hook) in hung.enumerate() {
        let row = char::from(b'A' + u8::try_from(hook / 30).unwrap());
        let (how, what) = (hows[at % hows.len()], whats[at / 7 % whats.len()]);
        let (r, g, b) = (at * 7 % 256, at * 13 % 256, at * 29 % 256);
        let (number, column) = (at + 100, hook % 30 + 1);
        writeln!(
            list,
            "Sandbank,{number},{how} {what},#{r:02X}{g:02X}{b:02X},{row}{column:02}"
        )
        .unwrap();
    }
    let file = folder.file("cards.csv", &list);
    folder.json(&["board", "new", "wall", "--rows", "20", "--columns", "30"]);
    folder.json(&["import", "cards", &file]);
    folder
}

#[cfg(target_os = "linux")]
#[test]
fn a_key_waits_for_the_disk_once_at_most() {
    if !is_asked_for("a_key_waits_for_the_disk_once_at_most", "strace", can_trace) {
        return;
    }
    let folder = usual_stash();
    let traced = "exec strace -f -qq -o \"$1.calls\" \
                  -e trace=fsync,fdatasync,sync,syncfs,sync_file_range,msync \"$0\" --stash \"$1\"";
    let calls = folder.stash().with_extension("calls");
    let syncs = || {
        let told = std::fs::read_to_string(&calls).unwrap();
        told.lines().filter(|line| line.contains("sync")).count()
    };
    let mut screen = Screen::shell(traced, &folder.stash(), (120, 40));
    screen.wait_for("A01 · ");
    for (keys, shows, most) in [
        (RIGHT, "A02 · ", 0),
        ("/", "Type a number", 0),
        ("1", "river", 0),
        (ENTER, " · ", 0),
        ("m", "? 1 ", 1),
        ("m", "? 0 ", 1),
        ("p", "held", 1),
        ("u", "Undone", 1),
        ("U", "Redone", 1),
        ("t", "a name that no ring has", 0),
        ("Heron", "Heron", 0),
        (ENTER, "o 1 on rings", 1),
        ("r", "new project", 0),
        ("p", "Put away", 0),
        (ENTER, "o 0 on rings", 1),
    ] {
        let before = syncs();
        screen.press(keys, shows);
        screen.wait_quiet();
        let waited = syncs() - before;
        assert_eq!(waited, most, "{keys:?}");
    }
}
