//! Steps of a walk spoken by well-behaved and badly behaved programs.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::process::Command;
use std::time::{Duration, Instant};

use crate::common::is_asked_for;
use crate::harness::{ENTER, Folder, Screen};

/// Three cards of a ring to put away, between two that hang.
fn stash() -> Folder {
    let folder = Folder::new();
    let list = "range,number,hook\n\
                Sandbank,10,A01\nSandbank,20,A02\nSandbank,30,A03\nSandbank,40,A04\nSandbank,50,A05\n";
    let file = folder.file("cards.csv", list);
    folder.json(&["board", "new", "wall", "--rows", "2", "--columns", "6"]);
    folder.json(&["import", "cards", &file]);
    folder.json(&["ring", "take", "Heron", "20", "30", "40"]);
    folder
}

/// A program made of a few lines of shell.
fn program(folder: &Folder, lines: &str) -> String {
    let path = folder.file("speak", &format!("#!/bin/sh\n{lines}\n"));
    fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
    path
}

/// The screen at the first step, with this speech program.
fn walk(folder: &Folder, command: &str) -> Screen {
    let stash = folder.stash().display().to_string();
    let mut screen = Screen::start(&["--stash", &stash, "--speak", command], &[], (80, 24));
    screen.wait_for("3 on rings");
    screen.press("r", "Heron");
    screen.press("p", "0 of 3 home");
    screen
}

/// Completes the walk and quits.
fn to_the_end(screen: &mut Screen) {
    screen.step("1 of 3 home");
    finish(screen);
}

/// Completes the walk after the first step, and quits.
fn finish(screen: &mut Screen) {
    screen.step("2 of 3 home");
    screen.step("finished?");
    screen.press("n", "5 home");
    screen.keys("q");
    screen.wait_for("BOARD");
    screen.keys("q");
    assert_eq!(screen.ended().exit_code(), 0);
}

#[test]
fn each_step_is_a_line_on_standard_input() {
    let folder = stash();
    let heard = folder.stash().with_file_name("heard");
    // Its arguments arrive unchanged, because no shell reads them.
    let speak = program(&folder, r#"cat >> "$1"; echo "$2" >> "$1""#);
    let mut screen = walk(&folder, &format!("{speak} {} '$HOME; x'", heard.display()));
    let lines = || fs::read_to_string(&heard).unwrap_or_default();
    screen.wait_until("first step", || lines().ends_with("$HOME; x\n"));
    screen.step("1 of 3 home");
    screen.wait_until("second step", || lines().matches("x\n").count() == 2);
    let said: Vec<String> = lines().lines().map(str::to_owned).collect();
    assert_eq!(said[0], "20 to A 2, between 10 and 50");
    assert_eq!(said[2], "30 to A 3, between 20 and 50");
}

#[test]
fn next_step_ends_the_previous_speech_and_quitting_ends_all() {
    let folder = stash();
    let pids = folder.stash().with_file_name("pids");
    // It hangs, and so does its child.
    let speak = program(
        &folder,
        &format!("sleep 600 &\necho $$ $! >> {}\nwait", pids.display()),
    );
    let started = || -> Vec<String> {
        let text = fs::read_to_string(&pids).unwrap_or_default();
        text.split_whitespace().map(str::to_owned).collect()
    };
    let gone = |pid: &String| {
        // A zombie counts as gone.
        let stat = fs::read_to_string(format!("/proc/{pid}/stat")).unwrap_or_default();
        stat.is_empty() || stat.contains(") Z ")
    };
    let mut screen = walk(&folder, &speak);
    screen.wait_until("first step", || started().len() == 2);
    let first = started();
    assert!(!first.iter().any(gone) || !cfg!(target_os = "linux"));
    screen.step("1 of 3 home");
    screen.wait_until("end of the first", || first.iter().all(gone));
    screen.wait_until("second step", || started().len() == 4);
    finish(&mut screen);
    screen.wait_until("end of all", || started().iter().all(gone));
}

#[test]
fn failing_or_flooding_speech_program_leaves_the_screen_alone() {
    for lines in ["exec 0<&-\nexit 3", "yes flood & yes flood >&2"] {
        let folder = stash();
        let speak = program(&folder, lines);
        let mut screen = walk(&folder, &speak);
        let began = Instant::now();
        to_the_end(&mut screen);
        assert!(began.elapsed() < Duration::from_secs(15));
        let seen = String::from_utf8_lossy(&screen.raw()).into_owned();
        assert!(!seen.contains("flood"));
    }
}

#[test]
fn missing_speech_program_is_reported_once() {
    let folder = stash();
    let mut screen = walk(&folder, "/no/such/program --loud");
    screen.wait_for("Steps aren't spoken");
    screen.step("1 of 3 home");
    screen.wait_quiet();
    assert!(!screen.text().contains("aren't spoken"));
    finish(&mut screen);
}

#[test]
fn bell_rings_at_each_step_if_enabled() {
    let folder = stash();
    let stash = folder.stash().display().to_string();
    let mut screen = Screen::start(&["--stash", &stash, "--bell"], &[], (80, 24));
    screen.wait_for("3 on rings");
    screen.press("r", "Heron");
    screen.press("p", "0 of 3 home");
    to_the_end(&mut screen);
    assert_eq!(screen.raw().iter().filter(|&&byte| byte == 7).count(), 3);
}

#[test]
fn held_key_counts_once() {
    let folder = stash();
    let stash = folder.stash().display().to_string();
    let mut screen = Screen::start(&["--stash", &stash], &[], (80, 24));
    screen.wait_for("3 on rings");
    screen.press("r", "Heron");
    screen.press("p", "0 of 3 home");
    for _ in 0..30 {
        screen.keys(ENTER);
    }
    screen.wait_for("1 of 3 home");
    screen.wait_quiet();
    assert!(screen.text().contains("1 of 3 home"), "{}", screen.text());
}

#[test]
fn a_real_speech_program_speaks_into_a_file() {
    let test = "a_real_speech_program_speaks_into_a_file";
    let is_installed = || Command::new("espeak-ng").arg("--version").output().is_ok();
    if !is_asked_for(test, "espeak-ng", is_installed) {
        return;
    }
    let folder = stash();
    let sound = folder.stash().with_file_name("step.wav");
    let mut screen = walk(&folder, &format!("espeak-ng -w {}", sound.display()));
    let spoken = || fs::metadata(&sound).is_ok_and(|file| file.len() > 10_000);
    screen.wait_until("sound", spoken);
    to_the_end(&mut screen);
}
