//! The record under processes that are killed, that run at once, and that have no room.
//!
//! The processes are this test binary itself, started again to run only [`child`].

#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use std::env;
use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead, BufReader, Write, stdout};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

use homehook::journal::{Access, Notice, Opened, Record, RecordError, check};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

const PATIENCE: Duration = Duration::from_secs(60);

#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Event {
    process: u32,
    turn: u64,
    text: String,
}

/// Lengths from a few bytes to several disk blocks, so that a kill finds lines of every kind.
fn event(process: u32, turn: u64) -> Event {
    let text = "thread".repeat(usize::try_from(turn * 271 % 2500).unwrap());
    Event {
        process,
        turn,
        text,
    }
}

fn open(dir: &Path) -> Opened<Event> {
    Record::open(dir).unwrap()
}

fn say(word: &str, what: impl std::fmt::Display) {
    // The harness has written the beginning of a line already.
    println!("\n{word} {what}");
    stdout().flush().unwrap();
}

fn child_command(program: &OsStr, task: &str, dir: &Path) -> Command {
    let mut command = Command::new(program);
    command
        .args([
            "child",
            "--exact",
            "--ignored",
            "--nocapture",
            "--test-threads=1",
        ])
        .env("HOMEHOOK_TEST_TASK", task)
        .env("HOMEHOOK_TEST_DIR", dir)
        .stdout(Stdio::piped())
        .stderr(Stdio::null());
    command
}

fn start(task: &str, dir: &Path) -> Child {
    child_command(env::current_exe().unwrap().as_os_str(), task, dir)
        .spawn()
        .unwrap()
}

/// What follows `word` in the lines a child wrote.
fn said(child: &mut Child, word: &str) -> impl Iterator<Item = String> + use<> {
    let start = format!("{word} ");
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    lines
        .map_while(Result::ok)
        .filter_map(move |line| Some(line.strip_prefix(&start)?.to_owned()))
}

#[test]
#[ignore = "the other tests run it in a process of its own"]
fn child() {
    let dir = env::var_os("HOMEHOOK_TEST_DIR").expect("started by another test");
    let dir = Path::new(&dir);
    let me = std::process::id();
    match env::var("HOMEHOOK_TEST_TASK").unwrap().as_str() {
        "append until killed" => {
            let mut record = open(dir).record;
            for turn in 1.. {
                let seq = record.append(Timestamp::now(), &event(me, turn)).unwrap();
                say("recorded", format_args!("{seq} {turn}"));
            }
        }
        "append until refused" => {
            let mut record = open(dir).record;
            for turn in 1.. {
                match record.append(Timestamp::now(), &event(me, turn)) {
                    Ok(_) => say("recorded", turn),
                    Err(error @ RecordError::NotSaved { .. }) => {
                        say("refused", error);
                        break;
                    }
                    Err(error) => panic!("{error}"),
                }
            }
            // What is short enough still fits.
            record.append(Timestamp::now(), &event(me, 0)).unwrap();
            say("recorded", 0);
        }
        "take turns" => {
            for turn in 1..=25 {
                let mut opened = Record::<Event>::open_waiting(dir, PATIENCE).unwrap();
                assert_eq!(opened.access, Access::Writer);
                let mine = opened
                    .entries
                    .iter()
                    .filter(|entry| entry.event.process == me);
                assert_eq!(mine.count() as u64, turn - 1);
                opened
                    .record
                    .append(Timestamp::now(), &event(me, turn))
                    .unwrap();
            }
            say("done", me);
        }
        "open" => match Record::<Event>::open(dir) {
            Ok(opened) => {
                say("events", opened.entries.len());
                for notice in &opened.notices {
                    say("notice", notice);
                }
                say("access", format_args!("{:?}", opened.access));
            }
            Err(error) => say("error", error),
        },
        other => panic!("no such task: {other}"),
    }
}

fn kills() -> u64 {
    if env::var_os("HOMEHOOK_LONG").is_some() {
        200
    } else {
        5
    }
}

#[test]
fn a_killed_writer_loses_nothing_it_acknowledged() {
    let dir = tempfile::tempdir().unwrap();
    let mut events: Vec<Event> = Vec::new();
    for kill in 0..kills() {
        let mut child = start("append until killed", dir.path());
        let process = child.id();
        let mut recorded = said(&mut child, "recorded");
        let turns = usize::try_from(5 + kill * 7 % 20).unwrap();
        let mut last = recorded.nth(turns).expect("the child appends");
        thread::sleep(Duration::from_micros(kill * 379 % 3000));
        child.kill().unwrap();
        child.wait().unwrap();
        last = recorded.last().unwrap_or(last);
        let (seq, turn) = last.split_once(' ').unwrap();
        let (seq, turn): (usize, u64) = (seq.parse().unwrap(), turn.parse().unwrap());
        events.extend((1..=turn).map(|turn| event(process, turn)));
        assert_eq!(seq, events.len());

        // No lock is left, and no wait is needed.
        let opened = open(dir.path());
        assert_eq!(opened.access, Access::Writer, "kill {kill}");
        let torn = opened
            .notices
            .iter()
            .all(|notice| matches!(notice, Notice::Torn { .. }));
        assert!(torn, "kill {kill}: {:?}", opened.notices);
        // One more may have reached the disk before the kill.
        if opened.entries.len() > seq {
            events.push(event(process, turn + 1));
        }
        assert!(
            opened.entries.iter().map(|entry| &entry.event).eq(&events),
            "kill {kill}"
        );
        assert_eq!(check::<Event>(dir.path()).unwrap().problems, []);
    }
}

#[test]
fn a_kill_while_the_record_is_made_or_put_right_does_no_harm() {
    for kill in 0..kills() * 2 {
        let dir = tempfile::tempdir().unwrap();
        let torn = kill % 2 == 1;
        if torn {
            let mut opened = open(dir.path());
            opened
                .record
                .append(Timestamp::now(), &event(1, 1))
                .unwrap();
            drop(opened);
            let path = dir.path().join("record.jsonl");
            let mut file = fs::OpenOptions::new().append(true).open(path).unwrap();
            file.write_all(b"{\"seq\":2,").unwrap();
        }
        let mut child = start("append until killed", dir.path());
        thread::sleep(Duration::from_micros(1000 + kill * 683 % 9000));
        child.kill().unwrap();
        child.wait().unwrap();
        let recorded = said(&mut child, "recorded").count();
        let opened = open(dir.path());
        assert_eq!(opened.access, Access::Writer);
        let before = usize::from(torn);
        let found = opened.entries.len() - before;
        assert!(
            found == recorded || found == recorded + 1,
            "{found} of {recorded}"
        );
        if torn {
            assert_eq!(opened.entries[0].event, event(1, 1));
            let pieces = fs::read_dir(dir.path()).unwrap().filter(|item| {
                item.as_ref()
                    .unwrap()
                    .file_name()
                    .to_string_lossy()
                    .starts_with("record.torn-")
            });
            assert!(pieces.count() > 0);
        }
    }
}

#[test]
fn four_processes_at_once_lose_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let mut children: Vec<Child> = (0..4).map(|_| start("take turns", dir.path())).collect();
    for child in &mut children {
        assert_eq!(said(child, "done").count(), 1);
        assert!(child.wait().unwrap().success());
    }
    let opened = open(dir.path());
    assert_eq!((opened.entries.len(), opened.notices), (100, vec![]));
    for child in children {
        let of_child = opened
            .entries
            .iter()
            .filter(|entry| entry.event.process == child.id());
        let events: Vec<&Event> = of_child.map(|entry| &entry.event).collect();
        let expected: Vec<Event> = (1..=25).map(|turn| event(child.id(), turn)).collect();
        assert!(events.into_iter().eq(&expected));
    }
}

#[test]
fn a_second_window_is_told_of_the_first_and_reads_along() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = start("append until killed", dir.path());
    let mut recorded = said(&mut child, "recorded");
    recorded.next().unwrap();
    let mut opened = open(dir.path());
    let Access::Reader {
        holder: Some(holder),
    } = &opened.access
    else {
        panic!("{:?}", opened.access);
    };
    assert_eq!(holder.pid, child.id());
    assert!(
        opened
            .access
            .to_string()
            .contains(&format!("process {}", child.id()))
    );
    let mut seen = opened.entries.len();
    while seen < 200 {
        seen += opened.record.poll().unwrap().len();
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let last = recorded.last().unwrap();
    let caught_up = opened.record.become_writer(Duration::ZERO).unwrap();
    assert_eq!(caught_up.access, Access::Writer);
    seen += caught_up.entries.len();
    let acknowledged: usize = last.split_once(' ').unwrap().0.parse().unwrap();
    assert!(seen == acknowledged || seen == acknowledged + 1);
    let next = opened
        .record
        .append(Timestamp::now(), &event(0, 0))
        .unwrap();
    assert_eq!(next, seen as u64 + 1);
}

/// Starts a child that cannot let a file grow beyond so many blocks (of 512 or 1024 bytes, as
/// the shell has it). Writes beyond them fail with an error, as they do on a full disk.
fn start_without_room(blocks: u32, task: &str, dir: &Path) -> Child {
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let inner = child_command(env::current_exe().unwrap().as_os_str(), task, dir);
    let mut command = Command::new("sh");
    command
        .arg("-c")
        .arg(script)
        .arg(inner.get_program())
        .args(inner.get_args());
    for (name, value) in inner.get_envs() {
        command.env(name, value.unwrap());
    }
    command
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

#[test]
fn without_room_the_change_is_refused_and_the_rest_kept() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = start_without_room(100, "append until refused", dir.path());
    let process = child.id();
    let lines: Vec<String> = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(Result::unwrap)
        .collect();
    assert!(child.wait().unwrap().success(), "{lines:?}");
    let refused = lines
        .iter()
        .find(|line| line.starts_with("refused "))
        .unwrap();
    assert!(
        refused.contains("The record is as it was before"),
        "{refused}"
    );
    let turns = lines
        .iter()
        .filter_map(|line| line.strip_prefix("recorded "));
    let expected: Vec<Event> = turns
        .map(|turn| event(process, turn.parse().unwrap()))
        .collect();
    assert!(expected.len() > 2);

    assert_eq!(check::<Event>(dir.path()).unwrap().problems, []);
    let mut opened = open(dir.path());
    assert_eq!((&opened.access, opened.notices.len()), (&Access::Writer, 0));
    assert!(
        opened
            .entries
            .iter()
            .map(|entry| &entry.event)
            .eq(&expected)
    );
    opened
        .record
        .append(Timestamp::now(), &event(0, 9))
        .unwrap();
}

#[test]
fn without_room_a_torn_record_can_still_be_read() {
    let dir = tempfile::tempdir().unwrap();
    open(dir.path())
        .record
        .append(Timestamp::now(), &event(1, 1))
        .unwrap();
    let path = dir.path().join("record.jsonl");
    let mut torn = fs::read(&path).unwrap();
    torn.extend_from_slice(b"{\"seq\":2,");
    fs::write(&path, &torn).unwrap();

    let mut child = start_without_room(0, "open", dir.path());
    let access = said(&mut child, "access").last().unwrap();
    assert!(access.starts_with("Unwritable"), "{access}");
    assert!(child.wait().unwrap().success());
    assert_eq!(fs::read(&path).unwrap(), torn);
    assert!(!dir.path().join("record.torn-1").exists());

    let empty = tempfile::tempdir().unwrap();
    let mut child = start_without_room(0, "open", empty.path());
    let error = said(&mut child, "error").last().unwrap();
    assert!(error.contains("a new record cannot be written"), "{error}");
    assert!(child.wait().unwrap().success());
    assert!(!empty.path().join("record.jsonl").exists());
    assert_eq!(open(empty.path()).access, Access::Writer);
}

#[test]
fn a_write_protected_stash_can_be_read() {
    let outer = tempfile::tempdir().unwrap();
    let mode = |path: &Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    };
    mode(outer.path(), 0o755);
    let dir = outer.path().join("stash");
    open(&dir)
        .record
        .append(Timestamp::now(), &event(1, 1))
        .unwrap();
    for item in fs::read_dir(&dir).unwrap() {
        mode(&item.unwrap().path(), 0o444);
    }
    mode(&dir, 0o555);

    let program = outer.path().join("program");
    // By a process of its own: one that is started here meanwhile would hold the copy open to be
    // written, and what is being written cannot be run.
    let copied = Command::new("cp")
        .arg(env::current_exe().unwrap())
        .arg(&program)
        .status();
    assert!(copied.unwrap().success());
    let mut command = child_command(program.as_os_str(), "open", &dir);
    if fs::write(outer.path().join("stash/probe"), "").is_ok() {
        // The superuser is not held back by permissions, so the child runs as another user.
        fs::remove_file(outer.path().join("stash/probe")).unwrap();
        command.uid(65534).gid(65534);
    }
    let mut child = command.current_dir("/").spawn().unwrap();
    let lines: Vec<String> = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(Result::unwrap)
        .collect();
    assert!(child.wait().unwrap().success(), "{lines:?}");
    assert!(lines.iter().any(|line| line == "events 1"), "{lines:?}");
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("access Unwritable")),
        "{lines:?}"
    );
    mode(&dir, 0o755);
}
