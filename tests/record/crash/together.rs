//! Several screens and shells on one stash.

use std::fs;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::common::{finish, is_long, program};
use crate::crash::draw::{Draw, draw};
use crate::crash::stash::{check, stash, whole};
use crate::harness::Screen;

const WIDE: (u16, u16) = (140, 30);

#[test]
fn a_killed_screen_leaves_no_lock_and_nothing_in_the_folder() {
    let stash = stash();
    let files = || {
        let files = fs::read_dir(stash.dir()).unwrap();
        let mut names: Vec<_> = files.map(|file| file.unwrap().file_name()).collect();
        names.sort();
        names
    };
    let before = files();
    let mut screen = Screen::open(&stash.dir(), WIDE);
    screen.wait_for("A01 · ");
    screen.signal("KILL");
    screen.ended();
    assert_eq!(files(), before, "looking at a stash makes no file in it");
    let begun = Instant::now();
    stash.ok(&["use", "1", "--strands", "1"]);
    assert!(begun.elapsed() < Duration::from_secs(4), "it waited");
    assert!(check(&stash).0);
}

#[test]
fn two_screens_and_a_shell_all_write_and_see_each_others_changes() {
    let stash = stash();
    let mut first = Screen::open(&stash.dir(), WIDE);
    first.wait_for("A01 · ");
    let mut second = Screen::open(&stash.dir(), WIDE);
    second.wait_for("A01 · ");
    // Open screens don't keep a shell waiting, and both show its change.
    let begun = Instant::now();
    stash.ok(&["missing", "9"]);
    assert!(begun.elapsed() < Duration::from_secs(4));
    first.wait_for("1 missing");
    second.wait_for("another window did this");
    second.wait_for("1 missing");
    let seen = Instant::now();
    first.press("m", "2 missing");
    second.wait_for("2 missing");
    // One screen redraws and the other polls, each well below a second.
    assert!(seen.elapsed() < Duration::from_secs(3));
    // Undoing another window's change asks first.
    second.press("u", "Another window did this");
    second.press("n", "2 missing");
    assert!(stash.ok(&["where"]).contains("missing"));
    second.press("u", "Another window did this");
    second.press("y", "1 missing");
    first.wait_for("1 missing");
    let away = stash.ok(&["where"]);
    assert!(away.contains("missing"), "{away}");
    for mut screen in [first, second] {
        screen.keys("q");
        screen.ended();
    }
    // The board, the list, the shell's card, the screen's and its undo.
    assert_eq!(whole(&stash.dir(), b"").events(), 5);
    assert!(check(&stash).0);
}

#[test]
fn two_screens_and_a_shell_writing_at_the_same_time_lose_nothing() {
    let rounds = if is_long() { 100 } else { 8 };
    let stash = stash();
    let begun = whole(&stash.dir(), b"").events();
    let mut screens: Vec<Screen> = (0..2)
        .map(|n| {
            let mut screen = Screen::open(&stash.dir(), WIDE);
            screen.wait_for("A01 · ");
            // Each uses a card of its own: one hook further right, and one row further down.
            screen.press(
                if n == 0 { "l" } else { "j" },
                if n == 0 { "A02 · " } else { "B01 · " },
            );
            screen
        })
        .collect();
    let acknowledged = thread::scope(|scope| {
        let shell = scope.spawn(|| {
            let change = |n: u64| [["hold", "5"], ["release", "5"]][(n % 2) as usize];
            let done = (0..rounds * 2).filter(|&n| stash.run(&change(n)).code == 0);
            done.count() as u64
        });
        // Missing and found, over and over, without waiting for the other.
        for _ in 0..rounds {
            for screen in &mut screens {
                screen.keys("mm");
            }
            thread::sleep(Duration::from_millis(20));
        }
        shell.join().unwrap()
    });
    assert_eq!(acknowledged, rounds * 2);
    for screen in &mut screens {
        screen.wait_quiet();
        screen.keys("q");
        assert_eq!(screen.ended().exit_code(), 0);
    }
    // Every key was a change of its own, as nobody else touches that card.
    let keys = 2 * 2 * rounds;
    let events = whole(&stash.dir(), b"").events();
    assert_eq!(events, begun + acknowledged + keys);
    assert!(!stash.ok(&["where"]).contains("missing"));
    assert!(check(&stash).0);
}

/// The numbers of the events that an answer acknowledges.
fn events(answer: &Value) -> Vec<u64> {
    let list = ["undone", "redone"].map(|field| answer[field].as_array());
    let mut numbers: Vec<u64> = (list.into_iter().flatten().flatten())
        .filter_map(|entry| entry["event"].as_u64())
        .collect();
    numbers.extend(answer["event"].as_u64());
    numbers
}

#[test]
fn four_shells_hammering_lose_nothing() {
    let each = if is_long() { 150 } else { 12 };
    let stash = stash();
    let before = whole(&stash.dir(), b"").events();
    let (state, lists) = (
        whole(&stash.dir(), b"").state().clone(),
        stash.folder.path(),
    );
    let said: Vec<Vec<u64>> = thread::scope(|scope| {
        let shells: Vec<_> = (0..4)
            .map(|shell| {
                let (state, dir) = (&state, stash.dir());
                scope.spawn(move || {
                    let lists = lists.join(format!("shell-{shell}"));
                    fs::create_dir(&lists).unwrap();
                    let mut chance = Draw::new(100 + shell);
                    let mut numbers = Vec::new();
                    let mut done = 0;
                    while done < each {
                        // The stash has changed since the draw, so some commands are refused.
                        let args = draw(&mut chance, state, &lists).args;
                        // These don't report the numbers of their events.
                        if ["import", "rehang"].contains(&args[0].as_str()) {
                            continue;
                        }
                        let mut command = program();
                        command.arg("--stash").arg(&dir).arg("--json").args(&args);
                        let run = finish(command.stdin(Stdio::null()));
                        match run.code {
                            0 => numbers.extend(events(&serde_json::from_str(&run.out).unwrap())),
                            code => assert_eq!((code, run.out.as_str()), (1, ""), "{run:?}"),
                        }
                        // On a busy machine a shell's wait may time out with this message; it then
                        // tries again.
                        done += u64::from(!run.err.contains("is writing to this stash"));
                    }
                    numbers
                })
            })
            .collect();
        shells
            .into_iter()
            .map(|shell| shell.join().unwrap())
            .collect()
    });
    for numbers in &said {
        assert!(numbers.is_sorted(), "each saw its own in order");
    }
    let mut all = said.concat();
    all.sort_unstable();
    let events = whole(&stash.dir(), b"").events();
    eprintln!("{} events by 4 shells of {each} commands", all.len());
    assert!(all.len() > 4);
    // Each number was given to one shell only, and none is missing.
    assert_eq!(all, (before + 1..=events).collect::<Vec<u64>>());
    assert!(check(&stash).0);
}
