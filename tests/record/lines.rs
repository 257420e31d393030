//! The record with processes that are killed, run concurrently, or run out of space.
//!
//! The processes are this test binary itself, restarted to run only [`child`].

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

use homehook::journal::{Damage, Loaded, Log, News, Notice, RecordError, check};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::common::is_long;

const PATIENCE: Duration = Duration::from_secs(60);

#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Event {
    process: u32,
    turn: u64,
    text: String,
}

/// Lengths from a few bytes to several disk blocks, so that a kill hits lines of every kind.
fn event(process: u32, turn: u64) -> Event {
    let text = "thread".repeat(usize::try_from(turn * 271 % 2500).unwrap());
    Event {
        process,
        turn,
        text,
    }
}

fn open(dir: &Path) -> (Log<Event>, Loaded<Event>) {
    let (log, loaded) = Log::open(dir).unwrap();
    assert_eq!(log.damage(), None);
    (log, loaded)
}

/// The log in a folder, held.
fn writer(dir: &Path) -> Log<Event> {
    let (mut log, _) = open(dir);
    if log.hold(PATIENCE).unwrap() == News::Anew {
        log.load(None).unwrap();
    }
    log
}

fn say(word: &str, what: impl std::fmt::Display) {
    // The harness has already written the start of a line.
    println!("\n{word} {what}");
    stdout().flush().unwrap();
}

fn child_command(program: &OsStr, task: &str, dir: &Path) -> Command {
    let mut command = Command::new(program);
    command
        .args([
            "lines::child",
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

/// The text after `word` in the lines a child wrote.
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
            let mut record = writer(dir);
            for turn in 1.. {
                let seq = record.append(Timestamp::now(), &event(me, turn)).unwrap();
                say("recorded", format_args!("{seq} {turn}"));
            }
        }
        "append until refused" => {
            let mut record = writer(dir);
            for turn in 1.. {
                match record.append(Timestamp::now(), &event(me, turn)) {
                    Ok(_) => say("recorded", turn),
                    Err(error @ RecordError::NotSaved { .. }) => {
                        say("refused", format_args!("{error:?}"));
                        break;
                    }
                    Err(error) => panic!("{error:?}"),
                }
            }
            // A short enough event still fits.
            record.append(Timestamp::now(), &event(me, 0)).unwrap();
            say("recorded", 0);
        }
        "take turns" => {
            for turn in 1..=25 {
                let (mut log, loaded) = open(dir);
                let mut entries = loaded.entries;
                match log.hold(PATIENCE).unwrap() {
                    News::None => {}
                    News::More(more) => entries.extend(more),
                    News::Anew => entries = log.load(None).unwrap().entries,
                }
                let mine = entries.iter().filter(|entry| entry.event.process == me);
                assert_eq!(mine.count() as u64, turn - 1);
                log.append(Timestamp::now(), &event(me, turn)).unwrap();
            }
            say("done", me);
        }
        "open" => match Log::<Event>::open(dir) {
            Ok((log, loaded)) => {
                say("events", loaded.entries.len());
                for notice in &loaded.notices {
                    say("notice", format_args!("{notice:?}"));
                }
                say("obstacle", format_args!("{:?}", log.obstacle()));
            }
            Err(error) => say("error", format_args!("{error:?}")),
        },
        "append one" => {
            let (mut log, _) = open(dir);
            let held = log.hold(PATIENCE);
            let appended = held.and_then(|_| log.append(Timestamp::now(), &event(me, 1)));
            match appended {
                Ok(seq) => say("recorded", seq),
                Err(error) => say("error", format_args!("{error:?}")),
            }
        }
        "append by turns" => append_by_turns(dir, me),
        other => panic!("no such task: {other}"),
    }
}

/// Appends until a file `stop` appears next to the folder, locking again each time. Reports
/// acknowledged events; ends early if the record stays damaged.
fn append_by_turns(dir: &Path, me: u32) {
    let stop = dir.with_file_name("stop");
    let (mut log, _) = Log::<Event>::open(dir).unwrap();
    let (mut damaged, mut refused) = (0, 0);
    for turn in 1.. {
        while !stop.exists() && damaged < 50 {
            let held = log.hold(PATIENCE).and_then(|news| match news {
                News::Anew => log.load(None).map(drop),
                _ => Ok(()),
            });
            let appended = held.and_then(|()| log.append(Timestamp::now(), &event(me, turn % 9)));
            log.release();
            match appended {
                Ok(_) => {
                    damaged = 0;
                    say("recorded", turn);
                    break;
                }
                Err(RecordError::ReadOnly(_)) => {
                    damaged += 1;
                    thread::sleep(Duration::from_millis(2));
                }
                Err(_) => {}
            }
            refused += 1;
        }
        if stop.exists() || damaged >= 50 {
            break;
        }
    }
    say("refused", refused);
}

fn kills() -> u64 {
    if is_long() { 200 } else { 5 }
}

#[test]
fn a_killed_writer_loses_no_acknowledged_event() {
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
        assert_eq!(seq, events.len(), "kill {kill}");

        // No lock is left, and no wait is needed.
        let (mut log, loaded) = open(dir.path());
        log.hold(Duration::ZERO).unwrap();
        let torn = (loaded.notices.iter())
            .all(|notice| matches!(notice, Notice::Torn { .. } | Notice::NoMarker));
        assert!(torn, "kill {kill}: {:?}", loaded.notices);
        // One more event may have reached the disk before the kill.
        if loaded.entries.len() > seq {
            events.push(event(process, turn + 1));
        }
        assert!(
            loaded.entries.iter().map(|entry| &entry.event).eq(&events),
            "kill {kill}"
        );
        // The next append sets the unfinished line aside.
        events.push(event(0, 0));
        log.append(Timestamp::now(), &event(0, 0)).unwrap();
        assert!(check::<Event>(dir.path()).unwrap().is_sound());
    }
}

#[test]
fn a_kill_while_the_record_is_created_or_repaired_does_no_harm() {
    for kill in 0..kills() * 2 {
        let dir = tempfile::tempdir().unwrap();
        let torn = kill % 2 == 1;
        if torn {
            let mut log = writer(dir.path());
            log.append(Timestamp::now(), &event(1, 1)).unwrap();
            drop(log);
            let path = dir.path().join("record.jsonl");
            let mut file = fs::OpenOptions::new().append(true).open(path).unwrap();
            file.write_all(b"{\"seq\":2,").unwrap();
        }
        let mut child = start("append until killed", dir.path());
        thread::sleep(Duration::from_micros(1000 + kill * 683 % 9000));
        child.kill().unwrap();
        child.wait().unwrap();
        let recorded = said(&mut child, "recorded").count();
        let (_, loaded) = open(dir.path());
        let before = usize::from(torn);
        let found = loaded.entries.len() - before;
        assert!(
            found == recorded || found == recorded + 1,
            "{found} of {recorded}"
        );
        if torn {
            assert_eq!(loaded.entries[0].event, event(1, 1));
        }
        // At whatever stage it was killed, the next append succeeds, and the unfinished line is
        // kept.
        let mut log = writer(dir.path());
        log.append(Timestamp::now(), &event(0, 0)).unwrap();
        assert!(check::<Event>(dir.path()).unwrap().is_sound());
        let pieces = fs::read_dir(dir.path()).unwrap().filter(|item| {
            item.as_ref()
                .unwrap()
                .file_name()
                .to_string_lossy()
                .starts_with("record.torn-")
        });
        assert!(!torn || pieces.count() > 0);
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
    let (_, loaded) = open(dir.path());
    assert_eq!((loaded.entries.len(), loaded.notices), (100, vec![]));
    for child in children {
        let of_child = loaded
            .entries
            .iter()
            .filter(|entry| entry.event.process == child.id());
        let events: Vec<&Event> = of_child.map(|entry| &entry.event).collect();
        let expected: Vec<Event> = (1..=25).map(|turn| event(child.id(), turn)).collect();
        assert!(events.into_iter().eq(&expected));
    }
}

#[test]
fn a_second_window_follows_and_writes_when_the_first_releases_the_lock() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = start("append until killed", dir.path());
    let mut recorded = said(&mut child, "recorded");
    recorded.next().unwrap();
    let (mut log, loaded) = open(dir.path());
    assert!(matches!(log.hold(Duration::ZERO), Err(RecordError::Busy)));
    let mut seen = loaded.entries.len();
    let mut catch_up = |log: &mut Log<Event>, news: News<Event>| match news {
        News::None => seen,
        News::More(entries) => {
            seen += entries.len();
            seen
        }
        News::Anew => {
            seen = log.load(None).unwrap().entries.len();
            seen
        }
    };
    loop {
        let news = log.look().unwrap();
        if catch_up(&mut log, news) >= 200 {
            break;
        }
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let last = recorded.last().unwrap();
    let news = log.hold(Duration::ZERO).unwrap();
    let seen = catch_up(&mut log, news);
    let acknowledged: usize = last.split_once(' ').unwrap().0.parse().unwrap();
    assert!(seen == acknowledged || seen == acknowledged + 1);
    let next = log.append(Timestamp::now(), &event(0, 0)).unwrap();
    assert_eq!(next, seen as u64 + 1);
}

/// Starts a child whose files can't grow beyond this many blocks (of 512 or 1024 bytes, depending
/// on the shell). Larger writes fail with an error, as on a full disk.
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
fn without_space_a_change_is_refused_and_the_rest_kept() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = start_without_room(100, "append until refused", dir.path());
    let process = child.id();
    let lines: Vec<String> = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(Result::unwrap)
        .collect();
    assert!(child.wait().unwrap().success(), "{lines:?}");
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("refused NotSaved"))
    );
    let turns = lines
        .iter()
        .filter_map(|line| line.strip_prefix("recorded "));
    let expected: Vec<Event> = turns
        .map(|turn| event(process, turn.parse().unwrap()))
        .collect();
    assert!(expected.len() > 2);

    assert_eq!(check::<Event>(dir.path()).unwrap().problems, []);
    let (_, loaded) = open(dir.path());
    assert_eq!(loaded.notices, []);
    assert!(
        loaded
            .entries
            .iter()
            .map(|entry| &entry.event)
            .eq(&expected)
    );
    writer(dir.path())
        .append(Timestamp::now(), &event(0, 9))
        .unwrap();
}

#[test]
fn without_space_a_torn_record_is_read_and_no_byte_of_it_changes() {
    let dir = tempfile::tempdir().unwrap();
    writer(dir.path())
        .append(Timestamp::now(), &event(1, 1))
        .unwrap();
    let path = dir.path().join("record.jsonl");
    let mut torn = fs::read(&path).unwrap();
    torn.extend_from_slice(b"{\"seq\":2,");
    fs::write(&path, &torn).unwrap();
    let mut child = start_without_room(0, "open", dir.path());
    assert_eq!(said(&mut child, "events").last().as_deref(), Some("1"));
    assert!(child.wait().unwrap().success());
    let mut child = start_without_room(0, "append one", dir.path());
    assert!(said(&mut child, "error").last().is_some());
    assert!(child.wait().unwrap().success());
    assert_eq!(fs::read(&path).unwrap(), torn);
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);

    let empty = tempfile::tempdir().unwrap();
    let mut child = start_without_room(0, "append one", empty.path());
    let error = said(&mut child, "error").last().unwrap();
    assert!(error.starts_with("Create {"), "{error}");
    assert!(child.wait().unwrap().success());
    assert_eq!(fs::read_dir(empty.path()).unwrap().count(), 0);
    writer(empty.path())
        .append(Timestamp::now(), &event(1, 1))
        .unwrap();
}

#[test]
fn a_write_protected_stash_can_be_read() {
    let outer = tempfile::tempdir().unwrap();
    let mode = |path: &Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    };
    mode(outer.path(), 0o755);
    let dir = outer.path().join("stash");
    fs::create_dir(&dir).unwrap();
    writer(&dir).append(Timestamp::now(), &event(1, 1)).unwrap();
    for item in fs::read_dir(&dir).unwrap() {
        mode(&item.unwrap().path(), 0o444);
    }
    mode(&dir, 0o555);

    let program = outer.path().join("program");
    // Copied by a separate process: a child started here meanwhile would hold the copy open for
    // writing, and then it can't be executed.
    let copied = Command::new("cp")
        .arg(env::current_exe().unwrap())
        .arg(&program)
        .status();
    assert!(copied.unwrap().success());
    // Permissions don't restrict the superuser, so the child runs as another user.
    let is_superuser = fs::write(dir.join("probe"), "").is_ok();
    if is_superuser {
        fs::remove_file(dir.join("probe")).unwrap();
    }
    for (task, expected) in [
        ("open", vec!["events 1", "obstacle Some(Protected)"]),
        ("append one", vec!["error Unwritable {"]),
    ] {
        let mut command = child_command(program.as_os_str(), task, &dir);
        if is_superuser {
            command.uid(65534).gid(65534);
        }
        let mut child = command.current_dir("/").spawn().unwrap();
        let lines: Vec<String> = BufReader::new(child.stdout.take().unwrap())
            .lines()
            .map(Result::unwrap)
            .collect();
        assert!(child.wait().unwrap().success(), "{lines:?}");
        for start in expected {
            let found = lines.iter().any(|line| line.starts_with(start));
            assert!(found, "{start}: {lines:?}");
        }
    }
    mode(&dir, 0o755);
}

/// Interference with the folder while it is being written to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Meddling {
    /// Deletes and recreates the lock file of older programs.
    Lock,
    /// Renames the record away and back.
    Away,
    /// Replaces the record with a copy.
    Copy,
    /// Renames the folder away and back.
    Folder,
}

impl Meddling {
    fn once(self, dir: &Path, turn: u64) {
        let record = dir.join("record.jsonl");
        match self {
            Self::Lock => {
                let _ = fs::remove_file(dir.join("lock"));
                let _ = fs::write(dir.join("lock"), "x");
            }
            Self::Away => {
                let away = dir.with_file_name("away");
                fs::rename(&record, &away).unwrap();
                thread::sleep(Duration::from_micros(turn * 137 % 2500));
                fs::rename(&away, &record).unwrap();
            }
            Self::Copy => {
                let copy = dir.with_file_name("copy");
                fs::copy(&record, &copy).unwrap();
                fs::rename(&copy, &record).unwrap();
            }
            Self::Folder => {
                let away = dir.with_file_name("away");
                fs::rename(dir, &away).unwrap();
                thread::sleep(Duration::from_micros(turn * 137 % 2500));
                fs::rename(&away, dir).unwrap();
            }
        }
    }
}

/// Runs this many appending processes while the folder is interfered with, until enough events are
/// acknowledged or the record is found damaged. Checks that each event is in the record, or that
/// the record is known to have lost that many. Returns the number of acknowledged events.
fn meddled_with(how: Meddling, writers: usize, enough: usize) -> usize {
    let outer = tempfile::tempdir().unwrap();
    let dir = outer.path().join("stash");
    fs::create_dir(&dir).unwrap();
    writer(&dir).append(Timestamp::now(), &event(0, 0)).unwrap();
    let mut children: Vec<Child> = (0..writers)
        .map(|_| start("append by turns", &dir))
        .collect();
    let count = std::sync::atomic::AtomicUsize::new(0);
    let outcomes: Vec<(usize, usize)> = thread::scope(|scope| {
        let readers: Vec<_> = children
            .iter_mut()
            .map(|child| {
                let lines = BufReader::new(child.stdout.take().unwrap()).lines();
                let count = &count;
                scope.spawn(move || {
                    let (mut recorded, mut refused) = (0, 0);
                    for line in lines.map_while(Result::ok) {
                        if line.starts_with("recorded ") {
                            recorded += 1;
                            count.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                        } else if let Some(many) = line.strip_prefix("refused ") {
                            refused = many.parse().unwrap();
                        }
                    }
                    (recorded, refused)
                })
            })
            .collect();
        for turn in 0.. {
            how.once(&dir, turn);
            thread::sleep(Duration::from_micros(1_000 + turn * 331 % 3_000));
            let done = count.load(std::sync::atomic::Ordering::Relaxed) >= enough;
            let all_ended = readers.iter().all(|reader| reader.is_finished());
            if done || all_ended {
                break;
            }
        }
        fs::write(outer.path().join("stop"), "").unwrap();
        readers
            .into_iter()
            .map(|reader| reader.join().unwrap())
            .collect()
    });
    for mut child in children {
        assert!(child.wait().unwrap().success(), "{how:?}");
    }
    let acknowledged: usize = outcomes.iter().map(|(recorded, _)| recorded).sum();
    let refused: usize = outcomes.iter().map(|(_, refused)| refused).sum();
    let (log, loaded) = Log::<Event>::open(&dir).unwrap();
    let found = loaded.entries.len() - 1;
    match log.damage() {
        None => {
            assert!(found >= acknowledged, "{how:?}: {found} of {acknowledged}");
            // A copy may have kept an event that its writer reported as refused.
            let extra = if how == Meddling::Copy { refused } else { 0 };
            assert!(
                found <= acknowledged + extra,
                "{how:?}: {found}, {acknowledged}"
            );
            assert_eq!(check::<Event>(&dir).unwrap().problems, []);
        }
        Some(&Damage::Shortened { recorded, found }) => {
            assert_eq!(how, Meddling::Copy);
            assert!(recorded > found && recorded as usize > acknowledged);
            assert!(check::<Event>(&dir).unwrap().loss.is_some());
        }
        Some(other) => panic!("{how:?}: {other:?}"),
    }
    acknowledged
}

#[test]
fn writers_lose_nothing_silently_while_the_folder_is_interfered_with() {
    let long = is_long();
    let enough = if long { 2_000 } else { 30 };
    for how in [
        Meddling::Lock,
        Meddling::Away,
        Meddling::Copy,
        Meddling::Folder,
    ] {
        for writers in [8, 16] {
            let (mut acknowledged, mut rounds) = (0, 0);
            while acknowledged < enough {
                acknowledged += meddled_with(how, writers, enough - acknowledged);
                rounds += 1;
            }
            eprintln!("{how:?}, {writers} writers: {acknowledged} in {rounds} rounds");
        }
    }
}
