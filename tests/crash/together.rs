//! Several at once: screens and shells on one stash.

use std::fs;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::common::{Run, finish, program};
use crate::draw::{Draw, draw};
use crate::harness::Screen;
use crate::stash::{check, is_long, stash, whole};

const WIDE: (u16, u16) = (140, 30);

#[test]
fn a_lock_left_by_a_killed_process_locks_nobody_out() {
    let stash = stash();
    let mut screen = Screen::open(&stash.dir(), WIDE);
    screen.wait_for("Hook A01");
    screen.signal("KILL");
    screen.ended();
    let lock = stash.dir().join("lock");
    let left = fs::read_to_string(&lock).unwrap();
    assert!(left.contains(&screen.pid().to_string()), "{left}");
    // Another process has that number by now: this one, which is alive.
    let ours = left.replace(&screen.pid().to_string(), &std::process::id().to_string());
    for content in [left, ours] {
        fs::write(&lock, content).unwrap();
        let begun = Instant::now();
        stash.ok(&["use", "1", "--strands", "1"]);
        assert!(begun.elapsed() < Duration::from_secs(4), "it waited");
    }
    let mut screen = Screen::open(&stash.dir(), WIDE);
    screen.wait_for("Hook A01");
    screen.press("m", "1 missing");
    screen.keys("q");
    screen.ended();
    assert!(check(&stash).0);
}

fn held_by(run: &Run, screen: &Screen) {
    assert_eq!((run.code, run.out.as_str()), (1, ""), "{run:?}");
    assert!(run.err.contains("nothing was changed"), "{run:?}");
    let holder = format!("process {}", screen.pid());
    assert!(run.err.contains(&holder), "{run:?}");
}

#[test]
fn two_screens_and_two_shells_see_the_same_and_one_writes() {
    let stash = stash();
    let change = ["use", "1", "--strands", "1"];
    let all_home = stash.ok(&["where"]);
    let mut first = Screen::open(&stash.dir(), WIDE);
    first.wait_for("Hook A01");
    let mut second = Screen::open(&stash.dir(), WIDE);
    second.wait_for(&format!("process {}", first.pid()));
    // Shells read while both screens are open, and are told who writes.
    thread::scope(|scope| {
        let shells: Vec<_> = (0..2)
            .map(|_| scope.spawn(|| (stash.ok(&["where"]), stash.run(&change))))
            .collect();
        for shell in shells {
            let (away, run) = shell.join().unwrap();
            assert_eq!(away, all_home);
            held_by(&run, &first);
        }
    });
    first.press("m", "1 missing");
    second.wait_for("1 missing");
    let away = stash.ok(&["where"]);
    assert!(away != all_home && away.contains("missing"), "{away}");
    first.keys("q");
    first.ended();
    second.wait_for("changes can be made here now");
    held_by(&stash.run(&change), &second);
    second.keys("m");
    second.wait_gone("1 missing");
    second.keys("q");
    second.ended();
    stash.ok(&change);
    // The board, the list, twice the mark of a card, and the thread.
    assert_eq!(whole(&stash.dir(), b"").events(), 5);
    assert!(check(&stash).0);
}

/// The numbers of the events that an answer says were recorded.
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
                        // The stash is not as it was when this was drawn, so some are refused.
                        let args = draw(&mut chance, state, &lists).args;
                        // These do not say the numbers of their events.
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
                        // On a busy machine a shell may wait in vain and is told so; it asks again.
                        done += u64::from(!run.err.contains("another window"));
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
