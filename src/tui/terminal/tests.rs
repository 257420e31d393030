//! A panic on the real screen, in a process and pseudo-terminal of its own.

use std::io::{Read, Write};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use std::{env, process, thread};

use jiff::Timestamp;
use portable_pty::{CommandBuilder, PtySize, native_pty_system};

use super::*;
use crate::exchange::read_cards;
use crate::model::board::ReadingOrder;
use crate::stash::command::board::{NewBoard, new_board};
use crate::stash::command::import::{self, Terms};
use crate::stash::whereabouts::Counts;
use crate::tui::keymap::Scope;
use crate::tui::looks::Looks;
use crate::tui::theme::{Depth, Theme};

/// The variable that names the stash for the process that panics.
const STASH: &str = "HOMEHOOK_TEST_STASH";
/// The panic message.
const SAID: &str = "a fault made for this test";
/// How long anything may take. Only a failure waits this long.
const PATIENCE: Duration = Duration::from_secs(30);

/// Draws like the program, until the user opens the help, which panics here, or the list of
/// actions, which makes another thread panic.
fn draw_or_panic(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>) {
    match app.scope() {
        Scope::Help => panic!("{SAID}"),
        Scope::Actions => drop(thread::spawn(|| panic!("{SAID}")).join()),
        _ => {}
    }
    view(app, stash, frame);
}

#[test]
#[ignore = "run by the tests below, in a terminal of its own"]
fn the_screen_that_panics() {
    // Without a stash, this is a plain run of all ignored tests.
    let Some(dir) = env::var_os(STASH).map(PathBuf::from) else {
        return;
    };
    let (store, _) = Store::open(&dir).unwrap();
    let looks = Looks::of(Theme::new(Depth::True));
    let demo = || Err("there is none here".to_owned());
    let left = run_drawing(
        store,
        Settings {
            keys: Keymap::default(),
            looks,
            looks_file: None,
            speak: Vec::new(),
            bell: false,
            still: false,
            invented: false,
            check: "homehook check".to_owned(),
        },
        Vec::new(),
        &demo,
        draw_or_panic,
    );
    // As on the command line. A panic unwinds past this point and fails the test, which exits with
    // 101 like any program that panics.
    if let Err(error) = left {
        eprintln!("homehook: {error}");
        process::exit(1);
    }
}

/// A stash with one card, on the first hook.
fn stash() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let (mut store, _) = Store::open(dir.path()).unwrap();
    let now = Timestamp::now();
    let board = NewBoard {
        name: "wall".to_owned(),
        prefix: String::new(),
        rows: 2,
        columns: 3,
        cards_per_hook: 1,
        reading: ReadingOrder::Rows,
    };
    let event = new_board(store.state(), &board).unwrap();
    store.commit(now, &event).unwrap();
    let list = read_cards(b"number,hook\n701,A01\n").unwrap();
    let terms = Terms::default();
    let outcome = import::card_list(store.state(), &list.rows, Vec::new(), &terms, now).unwrap();
    store.commit(now, &outcome.event.unwrap()).unwrap();
    dir
}

/// The terminal screen after this output. It is parsed in one piece, because `vte` 0.15 loses the
/// letter after a character that arrives in two parts.
fn shown(written: &Mutex<Vec<u8>>) -> vt100::Screen {
    let mut parser = vt100::Parser::new(24.try_into().unwrap(), 80.try_into().unwrap(), 0);
    parser.process(&written.lock().unwrap());
    parser.screen().clone()
}

/// Runs the screen on a stash, marks the card under the cursor as missing, and presses a key that
/// causes a panic. Checks that the terminal is restored, the message is shown and the change is
/// saved. Returns the exit code.
fn panics(key: &str) -> u32 {
    let dir = stash();
    let size = PtySize {
        rows: 24,
        cols: 80,
        ..PtySize::default()
    };
    let pty = native_pty_system().openpty(size).unwrap();
    let before = pty.master.get_termios().unwrap();
    let mut command = CommandBuilder::new(env::current_exe().unwrap());
    let name = "tui::terminal::tests::the_screen_that_panics";
    command.args(["--exact", name, "--ignored", "--nocapture"]);
    command.args(["--test-threads", "1", "--color", "never"]);
    command.env(STASH, dir.path());
    command.env_remove("RUST_BACKTRACE");
    let mut child = pty.slave.spawn_command(command).unwrap();
    let mut keyboard = pty.master.take_writer().unwrap();
    let mut reader = pty.master.try_clone_reader().unwrap();
    let written = Arc::new(Mutex::new(Vec::new()));
    let writes = Arc::clone(&written);
    thread::spawn(move || {
        let mut bytes = [0; 4096];
        while let Ok(n @ 1..) = reader.read(&mut bytes) {
            writes.lock().unwrap().extend_from_slice(&bytes[..n]);
        }
    });
    let text = || shown(&written).contents();
    let wait = |what: &str, so: &mut dyn FnMut() -> bool| {
        let end = Instant::now() + PATIENCE;
        while !so() {
            assert!(Instant::now() < end, "no {what}; seen:\n{}", text());
            thread::sleep(Duration::from_millis(10));
        }
    };
    let mut press = |key: &str| {
        keyboard.write_all(key.as_bytes()).unwrap();
        keyboard.flush().unwrap();
    };
    wait("board", &mut || text().contains("0 missing"));
    assert_ne!(pty.master.get_termios().unwrap(), before, "raw mode");
    press("m");
    wait("change", &mut || text().contains("1 missing"));
    press(key);
    let mut code = None;
    wait("end", &mut || {
        code = child.try_wait().unwrap();
        code.is_some()
    });
    // Once the last line is there, everything has arrived.
    wait("words", &mut || text().contains("to its developers"));
    wait("restored terminal", &mut || {
        let screen = shown(&written);
        !(screen.alternate_screen()
            || screen.hide_cursor()
            || screen.bracketed_paste()
            || screen.mouse_protocol_mode() != vt100::MouseProtocolMode::None)
    });
    assert_eq!(pty.master.get_termios().unwrap(), before, "raw mode");
    // The messages are still readable, from the left edge on.
    let rows: Vec<String> = text().lines().map(str::to_owned).collect();
    for line in [SAID, "Homehook stopped because of a fault"] {
        assert!(rows.iter().any(|row| row.starts_with(line)), "{rows:#?}");
    }
    let raw = written.lock().unwrap().clone();
    let left = b"\x1b[?1049l";
    let times = raw.windows(left.len()).filter(|part| part == left).count();
    assert_eq!(times, 1, "the alternate screen is left once");

    let (store, notices) = Store::open(dir.path()).unwrap();
    assert!(
        store.unsound().is_none() && notices.is_empty(),
        "{notices:?}"
    );
    assert_eq!(Counts::of(store.state()).missing, 1, "the change is there");
    assert_eq!(store.broken_laws(), []);
    code.unwrap().exit_code()
}

#[test]
fn panic_restores_the_terminal_and_loses_nothing() {
    assert_eq!(panics("?"), 101);
}

#[test]
fn panic_in_a_background_thread_ends_the_screen_with_a_message() {
    assert_eq!(panics(":"), 1);
}
