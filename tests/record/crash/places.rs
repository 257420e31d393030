//! Folders that can't hold a stash, or no longer can.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::common::{Run, Stash, finish, is_asked_for, program, run_in};
use crate::crash::stash::{check, lines, stash, whole};
use crate::harness::Screen;

const CHANGE: &[&str] = &["board", "new", "Wall", "--rows", "2", "--columns", "3"];
const LOOK: &[&str] = &["board", "show"];

/// Checks for exit code 1 and an explanation, as text and as JSON.
fn refused(dir: &Path, args: &[&str], says: &str) {
    let run = run_in(dir, args);
    assert_eq!((run.code, run.out.as_str()), (1, ""), "{args:?}: {run:?}");
    assert!(run.err.starts_with("homehook: "), "{run:?}");
    assert!(run.err.contains(says), "{says:?}: {run:?}");
    assert!(!run.err.contains("panicked"), "{run:?}");
    let run = run_in(dir, &[args, &["--json"]].concat());
    assert_eq!(run.code, 1, "{run:?}");
    assert!(!run.error()["message"].as_str().unwrap().is_empty());
}

#[test]
fn an_invalid_folder_or_file_is_reported_in_words() {
    let stash = stash();
    let record = stash.dir().join("record.jsonl");
    let kept = stash.record();

    fs::remove_file(&record).unwrap();
    fs::create_dir(&record).unwrap();
    for args in [LOOK, CHANGE, &["check"], &["export", "csv"]] {
        refused(&stash.dir(), args, "is a folder");
    }
    fs::remove_dir(&record).unwrap();
    fs::write(&record, kept).unwrap();
    assert!(check(&stash).0);

    let file = PathBuf::from(stash.file("file", "no stash"));
    refused(&file, CHANGE, "can't be read");
    refused(&file.join("under"), CHANGE, "can't be read");
    refused(Path::new("/proc/none"), CHANGE, "can't be made");
}

/// A copy of the program next to a stash, executable by another user.
pub fn program_for_anybody(stash: &Stash) -> PathBuf {
    let copy = stash.folder.path().join("program");
    // Copied by a separate process: a child started here meanwhile would hold the copy open for
    // writing, and then it can't be executed.
    let copied = Command::new("cp")
        .arg(program().get_program())
        .arg(&copy)
        .status();
    assert!(copied.unwrap().success());
    fs::set_permissions(stash.folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
    copy
}

/// Runs the program as a user bound by permissions, if this is the superuser.
pub fn as_nobody(copy: &Path, dir: &Path, args: &[&str]) -> Run {
    let probe = dir.join("probe");
    let mut command = Command::new(copy);
    command.arg("--stash").arg(dir).args(args).current_dir("/");
    if fs::write(&probe, "").is_ok() {
        fs::remove_file(probe).unwrap();
        command.uid(65534).gid(65534);
    }
    command.env_remove("HOMEHOOK_STASH");
    finish(command.env("HOME", "/"))
}

#[test]
fn without_permission_it_reads_what_it_may_and_explains_the_limits() {
    let stash = stash();
    let mode = |path: &Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    };
    let copy = program_for_anybody(&stash);
    let before = stash.record();
    let dir = stash.dir();
    for item in fs::read_dir(&dir).unwrap() {
        mode(&item.unwrap().path(), 0o444);
    }
    mode(&dir, 0o555);
    let shown = as_nobody(&copy, &dir, LOOK);
    assert_eq!(shown.code, 0, "{shown:?}");
    assert_eq!(shown.out, stash.ok(LOOK));
    let change = &["use", "1", "--strands", "1"];
    let run = as_nobody(&copy, &dir, change);
    assert_eq!((run.code, run.out.as_str()), (1, ""), "{run:?}");
    assert!(run.err.contains("can be read but not written"), "{run:?}");

    mode(&dir.join("record.jsonl"), 0o000);
    for args in [LOOK, change, &["check"]] {
        let run = as_nobody(&copy, &dir, args);
        assert_eq!((run.code, run.out.as_str()), (1, ""), "{run:?}");
        assert!(run.err.contains("can't be read"), "{run:?}");
    }
    mode(&dir, 0o755);
    for item in fs::read_dir(&dir).unwrap() {
        mode(&item.unwrap().path(), 0o644);
    }
    assert_eq!(stash.record(), before);
    stash.ok(change);
}

#[test]
fn a_folder_that_vanishes_under_the_screen_is_reported_and_may_return() {
    let stash = stash();
    let mut screen = Screen::open(&stash.dir(), (140, 30));
    screen.wait_for("A01 · ");
    screen.press("m", "1 missing");
    let before = stash.record();
    let away = stash.folder.path().join("away");
    fs::rename(stash.dir(), &away).unwrap();
    screen.press("m", "the stash is gone");
    // No new folder is created, and the screen keeps its content.
    assert!(!stash.dir().exists());
    screen.wait_for("1 missing");
    // Long enough for the screen to look again by itself.
    std::thread::sleep(std::time::Duration::from_millis(600));
    fs::rename(&away, stash.dir()).unwrap();
    assert_eq!(stash.record(), before);
    // The first key after that works, though the screen hasn't looked since.
    screen.keys("m");
    screen.wait_gone("1 missing");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
    let events = whole(&stash.dir(), &before).events();
    assert_eq!(events, lines(&before).0);
    assert!(check(&stash).0);
}

/// A small disk of its own, unmounted on drop.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    fn mount() -> Option<Self> {
        let at = tempfile::tempdir().unwrap();
        let done = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=64k", "tmpfs"])
            .arg(at.path())
            .output();
        done.is_ok_and(|done| done.status.success())
            .then(|| Self(at))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).status();
    }
}

#[test]
fn a_full_disk_refuses_changes_until_there_is_room() {
    let name = "a_full_disk_refuses_changes_until_there_is_room";
    let mut disk = None;
    if !is_asked_for(name, "a small disk to mount", || {
        disk = SmallDisk::mount();
        disk.is_some()
    }) {
        return;
    }
    let disk = disk.unwrap();
    let dir = disk.0.path().join("stash");
    assert_eq!(run_in(&dir, CHANGE).code, 0);
    let ballast = disk.0.path().join("ballast");
    let list = stash();
    let rows: String = (1..=200).map(|n| format!("{n},shade {n}\n")).collect();
    let list = list.file("shades.csv", format!("number,name\n{rows}"));
    let import = ["import", "range", &list, "--range", "Heath"];
    for room in [0, 4, 8, 12] {
        let _ = fs::remove_file(&ballast);
        let before = fs::read(dir.join("record.jsonl")).unwrap();
        // Fills the disk, except for the room.
        let _ = fs::write(&ballast, vec![b'x'; 1 << 17]);
        let full = fs::metadata(&ballast).unwrap().len();
        let file = fs::OpenOptions::new().write(true).open(&ballast).unwrap();
        file.set_len(full.saturating_sub(room << 10)).unwrap();
        let run = run_in(&dir, &import);
        if run.code == 0 {
            assert!(room > 0);
            continue;
        }
        assert_eq!(run.code, 1, "{run:?}");
        assert!(run.err.contains("Make room on the disk"), "{run:?}");
        assert_eq!(fs::read(dir.join("record.jsonl")).unwrap(), before);
        whole(&dir, &before);
    }
    fs::remove_file(ballast).unwrap();
    let run = run_in(&dir, &import);
    assert_eq!(run.code, 0, "{run:?}");
    assert_eq!(run_in(&dir, &["check"]).code, 0);
}
