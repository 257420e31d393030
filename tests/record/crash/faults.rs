//! Fails every system call on the files of a stash once, or makes it the last before a kill.
//!
//! `strace` counts, fails and kills the calls (`-e inject`) of the unmodified program. Runs with
//! `HOMEHOOK_LONG=1`; `src/journal/tests/crash.rs` always fails the parts of an append.

use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use crate::common::{Stash, can_trace, finish, is_asked_for, program};
use crate::crash::stash::{check, lines, stash, whole};

/// All system calls that change a file, by their Linux names.
const CALLS: [&str; 8] = [
    "openat",
    "write",
    "fsync",
    "fdatasync",
    "rename",
    "ftruncate",
    "flock",
    "mkdir",
];

/// Runs the program, interfering with one call on a file of the stash. Returns whether there was
/// such a call.
fn interfere(stash: &Stash, call: &str, how: &str, args: &[&str]) -> (bool, Output) {
    let log = stash.folder.path().join("calls");
    let dir = stash.dir();
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-o"]).arg(&log);
    command.arg("-e").arg(format!("trace={call}"));
    command.arg("-e").arg(format!("inject={call}:{how}"));
    for name in [
        "lock",
        "record.jsonl",
        "record.new",
        "record.end",
        "record.torn-1",
    ] {
        command.arg("-P").arg(dir.join(name));
    }
    command
        .arg("-P")
        .arg(&dir)
        .arg("-P")
        .arg(stash.folder.path());
    let real = program();
    command.arg(real.get_program());
    command.arg("--stash").arg(&dir).args(args);
    command.env_remove("HOMEHOOK_STASH").stdin(Stdio::null());
    let output = command.output().unwrap();
    let log = fs::read_to_string(log).unwrap();
    let hit = log.contains("(INJECTED)") || log.contains("killed by SIGKILL");
    (hit, output)
}

/// A stash, and a repeatable command on it that makes at least one event.
struct Scene {
    what: &'static str,
    make: fn() -> Stash,
    args: &'static [&'static str],
    most: u64,
}

fn torn() -> Stash {
    let stash = stash();
    let mut bytes = stash.record();
    bytes.extend_from_slice(b"{\"seq\":3,\"time\":\"2026-");
    fs::write(stash.dir().join("record.jsonl"), bytes).unwrap();
    stash
}

const SCENES: [Scene; 4] = [
    Scene {
        what: "a new stash",
        make: Stash::new,
        args: &["board", "new", "Wall", "--rows", "2", "--columns", "3"],
        most: 1,
    },
    Scene {
        what: "one more change",
        make: stash,
        args: &["use", "1", "--strands", "1"],
        most: 1,
    },
    Scene {
        what: "a change after a torn end",
        make: torn,
        args: &["use", "1", "--strands", "1"],
        most: 1,
    },
    Scene {
        what: "a row of changes",
        make: stash,
        args: &["rehang", "--apply", "1"],
        most: 500,
    },
];

fn record(dir: &Path) -> Vec<u8> {
    fs::read(dir.join("record.jsonl")).unwrap_or_default()
}

/// The number of complete lines with events, in bytes that may have no header yet.
fn events(bytes: &[u8]) -> u64 {
    lines(bytes).0.saturating_sub(1)
}

/// Interferes with the `n`th such call and checks all guarantees. Returns whether there was one.
fn one_fault(scene: &Scene, call: &str, (how, more): (&str, &str), n: u32) -> bool {
    let stash = (scene.make)();
    let all = record(&stash.dir());
    let good = all[..all.len() - lines(&all).1.len()].to_vec();
    let (hit, output) = interfere(&stash, call, &format!("{how}:when={n}{more}"), scene.args);
    if !hit {
        assert!(output.status.success(), "{output:?}");
        return false;
    }
    let what = format!("{}, {call} {n}{more} {how}: {output:?}", scene.what);
    let after = record(&stash.dir());
    assert!(after.starts_with(&good), "{what}");
    let new = events(&after) - events(&good);
    match output.status.code() {
        Some(0) => assert!(new > 0, "{what}"),
        Some(1) => {
            let words = String::from_utf8_lossy(&output.stderr);
            assert!(words.starts_with("homehook: "), "{what}");
            assert!(!words.contains("panicked"), "{what}");
            // The message has advice: a second sentence, or text after the reason in brackets.
            assert!(words.contains("). ") || words.contains("), "), "{what}");
            assert_eq!(new, 0, "{what}");
        }
        _ => {
            assert_eq!(output.status.signal(), Some(9), "{what}");
            assert!(new <= scene.most, "{what}");
        }
    }
    // Once the disk works, the next attempt succeeds at once.
    let again = stash.run(scene.args);
    if again.code != 0 {
        assert!(new > 0, "{what}; then {again:?}");
    }
    let store = whole(&stash.dir(), &good);
    assert!(store.events() > events(&good), "{what}");
    assert!(store.events() >= events(&good) + new, "{what}");
    drop(store);
    assert!(check(&stash).0, "{what}");
    true
}

#[test]
fn every_call_on_the_files_of_a_stash_fails_or_is_the_last() {
    if !is_asked_for(
        "every_call_on_the_files_of_a_stash_fails_or_is_the_last",
        "strace",
        can_trace,
    ) {
        return;
    }
    let ways = [
        ("error=EIO", ""),
        ("error=ENOSPC", ""),
        ("error=EACCES", ""),
        // And every call after it, as on a disk that stays full.
        ("error=ENOSPC", "+"),
        ("signal=KILL", ""),
    ];
    let mut cases = 0;
    for scene in &SCENES {
        for call in CALLS {
            for way in ways {
                let hit = (1..).take_while(|&n| one_fault(scene, call, way, n));
                cases += hit.count();
            }
        }
    }
    eprintln!("{cases} calls");
    assert!(cases > 50, "{cases}");
}

/// The program under `ulimit -f`, which counts blocks of 512 or 1024 bytes.
fn with_files_of(blocks: u64, dir: &Path, args: &[&str]) -> crate::common::Run {
    let script = format!("ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let mut command = Command::new("sh");
    command.arg("-c").arg(script).arg(program().get_program());
    command.arg("--stash").arg(dir).args(args);
    finish(command.env_remove("HOMEHOOK_STASH").stdin(Stdio::null()))
}

#[test]
fn a_file_that_may_not_grow_is_reported_in_words() {
    let stash = stash();
    let before = stash.record();
    // This error comes with a signal that by default ends a program; it must not.
    let run = with_files_of(1, &stash.dir(), &["use", "1", "--strands", "1"]);
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.err.contains("Not saved"), "{run:?}");
    assert!(run.err.contains("Make room"), "{run:?}");
    assert_eq!(stash.record(), before);
    let out = stash.file("out.csv", "old");
    let run = with_files_of(0, &stash.dir(), &["export", "csv", &out, "--force"]);
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.err.contains("can't be written"), "{run:?}");
    assert_eq!(fs::read(&out).unwrap(), b"old");
    stash.ok(&["use", "1", "--strands", "1"]);
    assert!(check(&stash).0);
}

// Only Linux has a file that is always full.
#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_cannot_be_written_ends_with_an_error() {
    let stash = stash();
    let events = whole(&stash.dir(), b"").events();
    for args in [
        &["board", "show"][..],
        &["export", "json"],
        &["history"],
        &["use", "1", "--strands", "1"],
        &["check"],
        &["use", "1", "--strands", "1", "--json"],
    ] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full");
        let mut command = program();
        command.arg("--stash").arg(stash.dir()).args(args);
        let output = command.stdout(full.unwrap()).output().unwrap();
        let words = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{args:?}: {words}");
        assert!(words.contains("The answer can't be written"), "{words}");
        assert!(words.contains("homehook history"), "{words}");
    }
    // Those changes were committed, as the message says.
    assert_eq!(whole(&stash.dir(), b"").events(), events + 2);
}
