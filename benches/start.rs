//! Time from the start of the program to its first frame, compared with a do-nothing program that
//! uses the same terminal library, in the same pseudo-terminal, alternating.
//!
//! The do-nothing program is this one, started with [`NOTHING`]: it takes over the terminal, draws
//! one line and waits for a key.
#![allow(clippy::unwrap_used, missing_docs)]

use std::io::{Read, Write, stdout};
use std::path::Path;
use std::time::{Duration, Instant};

use crossterm::cursor::Hide;
use crossterm::event::{Event, read};
use crossterm::execute;
use crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use portable_pty::{CommandBuilder, PtySize, native_pty_system};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;

mod stashes;

const COLUMNS: u16 = 200;
const ROWS: u16 = 60;

/// The argument that makes this program do nothing.
const NOTHING: &str = "nothing";

/// What the do-nothing program draws: one word, because blanks aren't always sent.
const SIGN: &str = "idle";

fn do_nothing() -> std::io::Result<()> {
    enable_raw_mode()?;
    execute!(stdout(), EnterAlternateScreen, Hide)?;
    let mut terminal = Terminal::new(CrosstermBackend::new(stdout()))?;
    terminal.draw(|frame| frame.render_widget(SIGN, frame.area()))?;
    while !matches!(read()?, Event::Key(_)) {}
    execute!(stdout(), LeaveAlternateScreen)?;
    disable_raw_mode()
}

/// Runs a program until a text appears on its screen. Returns the time, and the bytes sent until
/// then.
fn first_frame(program: &Path, args: &[&str], sign: &str) -> (Duration, usize) {
    let size = PtySize {
        rows: ROWS,
        cols: COLUMNS,
        ..PtySize::default()
    };
    let pty = native_pty_system().openpty(size).unwrap();
    let mut keyboard = pty.master.take_writer().unwrap();
    let mut screen = pty.master.try_clone_reader().unwrap();
    let mut command = CommandBuilder::new(program);
    command.args(args);
    command.env("TERM", "xterm-256color");
    command.env("COLORTERM", "truecolor");
    command.env("HOMEHOOK_KEYS", "");
    let start = Instant::now();
    let mut child = pty.slave.spawn_command(command).unwrap();
    // Otherwise the output wouldn't end with the program.
    drop(pty.slave);
    let (mut seen, mut bytes) = (Vec::new(), [0; 65_536]);
    while !seen.windows(sign.len()).any(|part| part == sign.as_bytes()) {
        let n = screen.read(&mut bytes).unwrap();
        assert!(n > 0, "it ended without a frame");
        seen.extend_from_slice(&bytes[..n]);
    }
    let took = start.elapsed();
    keyboard.write_all(b"q").unwrap();
    // It can't exit while its output isn't read.
    while screen.read(&mut bytes).is_ok_and(|n| n > 0) && child.try_wait().unwrap().is_none() {}
    child.wait().unwrap();
    (took, seen.len())
}

/// The quartiles, in milliseconds.
fn quartiles(times: &mut [Duration]) -> [f64; 3] {
    times.sort_unstable();
    [1, 2, 3].map(|part| times[times.len() * part / 4].as_secs_f64() * 1e3)
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if args.get(1).is_some_and(|arg| arg == NOTHING) {
        do_nothing().unwrap();
        return;
    }
    let rounds = if args.iter().any(|arg| arg == "--quick") {
        10
    } else {
        60
    };
    let folder = tempfile::tempdir().unwrap();
    let scenes = [
        ("a stash of 500 cards and 10,000 events", 10_000),
        ("a stash of 500 cards and 2 events", 2),
    ];
    for (at, (what, events)) in scenes.into_iter().enumerate() {
        let stash = folder.path().join(at.to_string());
        stashes::live(&stash, events);
        let stash = stash.display().to_string();
        let homehook = Path::new(env!("CARGO_BIN_EXE_homehook"));
        let this = std::env::current_exe().unwrap();
        let (mut ours, mut nothing) = (Vec::new(), Vec::new());
        let mut sent = 0;
        // The first run of each warms up the caches and takes the snapshot.
        for round in 0..=rounds {
            let (took, bytes) = first_frame(homehook, &["--stash", &stash], "closer");
            let (empty, _) = first_frame(&this, &[NOTHING], SIGN);
            if round > 0 {
                ours.push(took);
                nothing.push(empty);
                sent = bytes;
            }
        }
        let [low, middle, high] = quartiles(&mut ours);
        let [low_0, middle_0, high_0] = quartiles(&mut nothing);
        println!("{what}, {COLUMNS}x{ROWS}, {rounds} starts each, turn about; median (quartiles):");
        println!("  start to first frame: {middle:.2} ms ({low:.2} to {high:.2}), {sent} bytes");
        println!("  do-nothing program:   {middle_0:.2} ms ({low_0:.2} to {high_0:.2})");
        println!(
            "  ratio {:.2}, difference {:.2} ms",
            middle / middle_0,
            middle - middle_0
        );
    }
}
