//! The program killed at any moment.

use std::fs;
use std::io::Read;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, ExitStatus, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::common::{Stash, is_long, program};
use crate::crash::draw::{Draw, draw};
use crate::crash::stash::{CARDS, check, lines, stash, whole};
use crate::harness::Screen;

/// `SIGKILL`, the same number on every Unix.
const KILL: i32 = 9;
/// About the duration of a command.
const USUAL: u64 = 30_000;

/// How a command ended, with its output by then.
struct Ended {
    status: ExitStatus,
    out: String,
    err: String,
}

fn start(dir: &Path, args: &[String]) -> Child {
    program()
        .arg("--stash")
        .arg(dir)
        .arg("--json")
        .args(args)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Kills a process now, or reports how it ended before.
fn kill(mut child: Child) -> Ended {
    let _ = child.kill();
    let status = child.wait().unwrap();
    let (mut out, mut err) = (String::new(), String::new());
    child.stdout.unwrap().read_to_string(&mut out).unwrap();
    child.stderr.unwrap().read_to_string(&mut err).unwrap();
    Ended { status, out, err }
}

fn pause(micros: u64) {
    let until = Instant::now() + Duration::from_micros(micros);
    // Sleeping is too coarse for the moment between a write and its sync.
    while Instant::now() < until {
        std::hint::spin_loop();
    }
}

/// Waits until a condition holds, or the process has ended.
fn wait_for(child: &mut Child, so: impl Fn() -> bool) {
    while !so() && child.try_wait().unwrap().is_none() {
        std::hint::spin_loop();
    }
}

/// Starts a command and kills it: anywhere, or when the record grows. Some commands may end first.
fn start_and_kill(stash: &Stash, args: &[String], chance: &mut Draw) -> Ended {
    let path = stash.dir().join("record.jsonl");
    let before = fs::metadata(&path).unwrap().len();
    let mut child = start(&stash.dir(), args);
    match chance.below(10) {
        0..=4 => thread::sleep(Duration::from_micros(chance.below(USUAL))),
        5..=8 => {
            wait_for(&mut child, || {
                fs::metadata(&path).is_ok_and(|file| file.len() != before)
            });
            pause(chance.below(400));
        }
        _ => drop(child.wait()),
    }
    kill(child)
}

/// The number of the last event that an answer acknowledges, if it names one.
fn acknowledged(answer: &Value) -> Option<u64> {
    let list = ["undone", "redone"].map(|field| answer[field].as_array());
    let last = list.into_iter().flatten().flatten().last();
    last.map_or(&answer["event"], |entry| &entry["event"])
        .as_u64()
}

/// The least number of events that an answer without numbers stands for.
fn implied(answer: &Value) -> u64 {
    let count = |field: &str| answer[field].as_u64().unwrap_or(0);
    let changed = u64::from(count("added") + count("changed") > 0);
    // Each step is an event of its own.
    let steps = answer["steps"].as_array().map_or(0, Vec::len) as u64;
    changed.max(steps)
}

#[derive(Debug, Default)]
struct Counts {
    killed: u64,
    answered: u64,
    refused: u64,
    torn: u64,
    beyond: u64,
}

/// Starts a command, kills it, and checks that the record has no more and no fewer events than
/// allowed.
fn one_kill(stash: &Stash, chance: &mut Draw, counts: &mut Counts) {
    let before = good(stash.record());
    let store = whole(&stash.dir(), &before);
    let known = store.events();
    let drawn = draw(chance, store.state(), stash.folder.path());
    drop(store);
    let ended = start_and_kill(stash, &drawn.args, chance);
    let what = format!("{:?}: {} {}", drawn.args, ended.out, ended.err);

    let after = stash.record();
    assert!(after.starts_with(&before), "{what}");
    let (new, torn) = lines(&after[before.len()..]);
    assert!(new <= drawn.most, "{new} events: {what}");
    let answer: Option<Value> =
        (ended.out.ends_with('\n')).then(|| serde_json::from_str(&ended.out).unwrap());
    match ended.status.code() {
        Some(0) => counts.answered += 1,
        Some(1) => {
            counts.refused += 1;
            assert!(ended.err.contains("\"message\""), "{what}");
            assert_eq!((new, torn), (0, &b""[..]), "{what}");
        }
        _ => {
            assert_eq!(ended.status.signal(), Some(KILL), "{what}");
            counts.killed += 1;
            counts.beyond += u64::from(answer.is_none() && new > 0);
        }
    }
    if let Some(answer) = answer {
        assert_eq!(torn, b"", "{what}");
        match acknowledged(&answer) {
            Some(event) => assert_eq!(event, known + new, "{what}"),
            None => assert!(implied(&answer) <= new, "{new} events: {what}"),
        }
    }
    let (is_well, words) = check(stash);
    if torn.is_empty() {
        assert!(is_well, "{what}: {words}");
    } else {
        counts.torn += 1;
        assert!(
            !is_well && words.contains("breaks off unfinished"),
            "{words}"
        );
    }
    assert_eq!(whole(&stash.dir(), &before).events(), known + new, "{what}");
}

/// A record without an unfinished end.
fn good(mut record: Vec<u8>) -> Vec<u8> {
    record.truncate(record.len() - lines(&record).1.len());
    record
}

#[test]
fn a_killed_command_keeps_acknowledged_events_and_writes_none_by_half() {
    let kills = if is_long() { 500 } else { 10 };
    let mut counts = Counts::default();
    let mut seed = 0;
    while counts.killed < kills {
        // A new stash now and then, so that it doesn't fill up with rings and holes.
        let stash = stash();
        seed += 1;
        let mut chance = Draw::new(seed);
        for _ in 0..100 {
            if counts.killed < kills {
                one_kill(&stash, &mut chance, &mut counts);
            }
        }
    }
    eprintln!("{counts:?}");
    assert!(counts.answered > 0 && counts.beyond > 0, "{counts:?}");
}

#[test]
fn a_killed_screen_keeps_every_change_it_showed() {
    let kills = if is_long() { 20 } else { 3 };
    let stash = stash();
    let mut events = whole(&stash.dir(), b"").events();
    let mut missing = 0;
    let mut chance = Draw::new(7);
    for _ in 0..kills {
        let mut screen = Screen::open(&stash.dir(), (100, 30));
        screen.wait_for(if missing == 1 { "1 missing" } else { "A01 · " });
        let before = good(stash.record());
        for _ in 0..3 {
            screen.keys("m");
            missing = 1 - missing;
            events += 1;
            if missing == 1 {
                screen.wait_for("1 missing");
            } else {
                screen.wait_gone("1 missing");
            }
        }
        // One more change, which may not have appeared yet.
        screen.keys("m");
        pause(chance.below(6_000));
        screen.signal("KILL");
        screen.ended();
        let (words, torn) = (check(&stash).0, lines(&stash.record()).1.is_empty());
        assert_eq!(words, torn);
        let found = whole(&stash.dir(), &before).events();
        assert!(found == events || found == events + 1, "{found}, {events}");
        missing = (missing + (found - events)) % 2;
        events = found;
    }
}

#[test]
fn a_killed_export_leaves_the_old_file_or_the_new_one() {
    let kills = if is_long() { 100 } else { 10 };
    let stash = stash();
    let out = stash.folder.path().join("out");
    fs::create_dir(&out).unwrap();
    let file = out.join("stash.json");
    let name = file.display().to_string();
    stash.ok(&["export", "json", &name]);
    let mut chance = Draw::new(11);
    let (mut killed, mut begun, mut turn) = (0, 0, 0);
    while killed < kills {
        let old = fs::read(&file).unwrap();
        turn += 1;
        let card = (turn % CARDS + 1).to_string();
        stash.ok(&["use", &card, "--strands", "1"]);
        let new = stash.ok(&["export", "json"]).into_bytes();
        assert_ne!(old, new);
        let args = ["export", "json", &name, "--force"].map(str::to_owned);
        let mut child = start(&stash.dir(), &args);
        let names = || fs::read_dir(&out).unwrap().count();
        if killed % 3 == 0 {
            thread::sleep(Duration::from_micros(chance.below(USUAL)));
        } else {
            wait_for(&mut child, || names() > 1);
            pause(chance.below(300));
        }
        let ended = kill(child);
        killed += u64::from(ended.status.signal() == Some(KILL));
        let found = fs::read(&file).unwrap();
        if ended.status.success() {
            assert_eq!(found, new);
        }
        assert!(found == old || found == new, "a mixture of both");
        for left in fs::read_dir(&out).unwrap() {
            let left = left.unwrap().path();
            if left != file {
                // Its name identifies it, and a later export removes it.
                assert!(left.to_str().unwrap().ends_with(".unfinished"), "{left:?}");
                begun += 1;
                fs::remove_file(left).unwrap();
            }
        }
    }
    eprintln!("{begun} of {killed} had begun to write");
    assert!(begun > 0);
    assert!(check(&stash).0);
}
