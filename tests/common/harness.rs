//! A pseudo-terminal running the program, and the screen a user would see.

use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, ExitStatus, MasterPty, PtySize, native_pty_system};
use serde_json::Value;

/// The limit for any wait. Only a failure takes this long.
const PATIENCE: Duration = Duration::from_secs(30);

pub const ENTER: &str = "\r";
pub const ESC: &str = "\x1b";
pub const TAB: &str = "\t";
pub const DOWN: &str = "\x1b[B";
pub const RIGHT: &str = "\x1b[C";
pub const LEFT: &str = "\x1b[D";

/// The screen that results from the bytes, however they are split.
pub struct Display {
    parser: vt100::Parser,
    /// The start of a character whose end hasn't arrived.
    cut: Vec<u8>,
}

impl Display {
    pub fn new(columns: u16, rows: u16) -> Self {
        Self {
            parser: vt100::Parser::new(cells(rows), cells(columns), 0),
            cut: Vec::new(),
        }
    }

    /// Processes new bytes. `vte` 0.15 loses the letter after a character split in two, so
    /// characters are passed whole.
    pub fn take(&mut self, bytes: &[u8]) {
        self.cut.extend_from_slice(bytes);
        let whole = match std::str::from_utf8(&self.cut) {
            Err(error) if error.error_len().is_none() => error.valid_up_to(),
            _ => self.cut.len(),
        };
        let rest = self.cut.split_off(whole);
        self.parser.process(&self.cut);
        self.cut = rest;
    }

    pub fn screen(&self) -> &vt100::Screen {
        self.parser.screen()
    }
}

/// The program's output so far.
struct Seen {
    display: Display,
    raw: Vec<u8>,
    /// When each piece of it arrived.
    came: Vec<Instant>,
    hang_up: bool,
    /// Nobody reads the output.
    deaf: bool,
}

/// Keys sent faster than the program can read them. Dropping this ends it, once the write in
/// progress is accepted.
pub struct Flood {
    stop: Arc<AtomicBool>,
    sent: Arc<AtomicUsize>,
    /// Returns the keyboard at the end.
    writer: Option<JoinHandle<Box<dyn Write + Send>>>,
}

impl Flood {
    /// The number of bytes accepted so far.
    pub fn sent(&self) -> usize {
        self.sent.load(Ordering::SeqCst)
    }

    /// Ends the flood once the write in progress is accepted, which needs a program that reads: it
    /// may itself wait until somebody reads its output.
    fn end(mut self) -> Box<dyn Write + Send> {
        self.stop.store(true, Ordering::SeqCst);
        let writer = self.writer.take().expect("a flood ends once");
        writer.join().expect("the writer does not fail")
    }
}

impl Drop for Flood {
    fn drop(&mut self) {
        // If the program has ended, the writer may block for good: don't wait for it.
        self.stop.store(true, Ordering::SeqCst);
    }
}

/// Our end of the terminal.
struct Line {
    master: Box<dyn MasterPty + Send>,
    keyboard: Box<dyn Write + Send>,
}

/// The program in a terminal. Ended on drop.
pub struct Screen {
    /// The terminal's initial settings: line by line, with echo.
    settings: String,
    child: Box<dyn Child + Send + Sync>,
    line: Option<Line>,
    reader: JoinHandle<()>,
    seen: Arc<(Mutex<Seen>, Condvar)>,
    /// Whether the last step of a walk was confirmed with Enter.
    entered: bool,
}

fn cells(n: u16) -> NonZeroU16 {
    NonZeroU16::new(n).expect("a terminal has cells")
}

fn size(columns: u16, rows: u16) -> PtySize {
    PtySize {
        rows,
        cols: columns,
        ..PtySize::default()
    }
}

impl Screen {
    /// Starts the program with arguments and variables on a terminal of this size.
    pub fn start(args: &[&str], vars: &[(&str, &str)], size: (u16, u16)) -> Self {
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_homehook"));
        command.args(args);
        Self::spawn(command, vars, size)
    }

    /// Runs a shell command, where `"$0"` is the program and `"$1"` a stash.
    pub fn shell(line: &str, stash: &Path, size: (u16, u16)) -> Self {
        let mut command = CommandBuilder::new("sh");
        command.args(["-c", line, env!("CARGO_BIN_EXE_homehook")]);
        command.arg(stash);
        Self::spawn(command, &[], size)
    }

    /// Opens the board on a terminal that doesn't control it, so that closing it sends no signal.
    pub fn open_without_hang_up(stash: &Path, size: (u16, u16)) -> Self {
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_homehook"));
        command.arg("--stash");
        command.arg(stash);
        command.set_controlling_tty(false);
        Self::spawn(command, &[], size)
    }

    fn spawn(
        mut command: CommandBuilder,
        vars: &[(&str, &str)],
        (columns, rows): (u16, u16),
    ) -> Self {
        let pty = native_pty_system().openpty(size(columns, rows)).unwrap();
        let settings = format!("{:?}", pty.master.get_termios());
        for name in [
            "NO_COLOR",
            "CLICOLOR",
            "COLORFGBG",
            "HOMEHOOK_COLOUR",
            "HOMEHOOK_THEME",
            "HOMEHOOK_STASH",
        ] {
            command.env_remove(name);
        }
        // Without the user's own keys and looks.
        command.env("HOMEHOOK_KEYS", "");
        command.env("HOME", std::env::temp_dir());
        command.env("XDG_CONFIG_HOME", "/nowhere/settings");
        command.env("TERM", "xterm-256color");
        command.env("COLORTERM", "truecolor");
        for (name, value) in vars {
            command.env(name, value);
        }
        let child = pty.slave.spawn_command(command).unwrap();
        let keyboard = pty.master.take_writer().unwrap();
        let mut reader = pty.master.try_clone_reader().unwrap();
        let seen = Arc::new((
            Mutex::new(Seen {
                display: Display::new(columns, rows),
                raw: Vec::new(),
                came: Vec::new(),
                hang_up: false,
                deaf: false,
            }),
            Condvar::new(),
        ));
        let writes = Arc::clone(&seen);
        let reader = thread::spawn(move || {
            let mut bytes = [0; 4096];
            // The terminal returns an error once the program has ended.
            while let Ok(n @ 1..) = reader.read(&mut bytes) {
                let (seen, news) = &*writes;
                let mut seen = seen.lock().unwrap();
                seen.came.push(Instant::now());
                seen.raw.extend_from_slice(&bytes[..n]);
                seen.display.take(&bytes[..n]);
                news.notify_all();
                if seen.hang_up {
                    break;
                }
                while seen.deaf {
                    seen = news.wait(seen).unwrap();
                }
            }
        });
        Self {
            settings,
            child,
            line: Some(Line {
                master: pty.master,
                keyboard,
            }),
            reader,
            seen,
            entered: false,
        }
    }

    /// Opens the board on a stash.
    pub fn open(stash: &Path, size: (u16, u16)) -> Self {
        Self::start(&["--stash", &stash.display().to_string()], &[], size)
    }

    fn seen(&self) -> MutexGuard<'_, Seen> {
        self.seen.0.lock().unwrap()
    }

    pub fn text(&self) -> String {
        self.seen().display.screen().contents()
    }

    /// The rows of the screen, each up to a width.
    pub fn rows(&self, width: u16) -> Vec<String> {
        self.seen().display.screen().rows(0, width).collect()
    }

    /// All of the program's output.
    pub fn raw(&self) -> Vec<u8> {
        self.seen().raw.clone()
    }

    pub fn pid(&self) -> u32 {
        self.child.process_id().expect("the program was started")
    }

    pub fn keys(&mut self, keys: &str) {
        let keyboard = &mut self.line.as_mut().unwrap().keyboard;
        keyboard.write_all(keys.as_bytes()).unwrap();
        keyboard.flush().unwrap();
    }

    /// Starts sending a text over and over, as fast as it is accepted. No other keys can be pressed
    /// from then on.
    pub fn flood(&mut self, text: impl Into<String>) -> Flood {
        let line = self.line.as_mut().unwrap();
        let mut keyboard = std::mem::replace(&mut line.keyboard, Box::new(std::io::sink()));
        let (stop, sent) = (Arc::<AtomicBool>::default(), Arc::<AtomicUsize>::default());
        let (stopped, counted) = (Arc::clone(&stop), Arc::clone(&sent));
        let text = text.into();
        let writer = thread::spawn(move || {
            for piece in text.as_bytes().chunks(256).cycle() {
                if stopped.load(Ordering::SeqCst) || keyboard.write_all(piece).is_err() {
                    break;
                }
                counted.fetch_add(piece.len(), Ordering::SeqCst);
            }
            keyboard
        });
        Flood {
            stop,
            sent,
            writer: Some(writer),
        }
    }

    /// When each piece of output since a moment arrived.
    pub fn came_since(&self, moment: Instant) -> Vec<Instant> {
        let seen = self.seen();
        let came = seen.came.iter().copied();
        came.filter(|&at| at >= moment).collect()
    }

    /// Sets whether the program's output goes unread from now on.
    pub fn deaf(&self, deaf: bool) {
        self.seen().deaf = deaf;
        self.seen.1.notify_all();
    }

    /// Waits until no output has arrived for a while. Bytes sent right after an Escape would be
    /// taken as part of it.
    pub fn wait_quiet(&self) {
        let mut seen = self.raw().len();
        loop {
            thread::sleep(Duration::from_millis(80));
            let now = self.raw().len();
            if now == seen {
                return;
            }
            seen = now;
        }
    }

    /// Waits until the output meets a condition.
    fn until(&self, what: &str, so: impl Fn(&Seen) -> bool) {
        let end = Instant::now() + PATIENCE;
        let mut seen = self.seen();
        while !so(&seen) {
            let left = end.saturating_duration_since(Instant::now());
            if left.is_zero() {
                drop(seen);
                panic!(
                    "no {what} within {PATIENCE:?}; on the screen is:\n{}",
                    self.text()
                );
            }
            seen = self.seen.1.wait_timeout(seen, left).unwrap().0;
        }
    }

    /// Polls a condition that doesn't depend on the output.
    pub fn wait_until(&self, what: &str, so: impl Fn() -> bool) {
        let end = Instant::now() + PATIENCE;
        while !so() {
            let text = self.text();
            assert!(Instant::now() < end, "no {what}; on the screen is:\n{text}");
            thread::sleep(Duration::from_millis(10));
        }
    }

    /// Waits until a text is on the screen.
    pub fn wait_for(&self, text: &str) {
        self.until(&format!("'{text}'"), |seen| {
            seen.display.screen().contents().contains(text)
        });
    }

    /// Waits until a text is no longer on the screen.
    pub fn wait_gone(&self, text: &str) {
        self.until(&format!("end of '{text}'"), |seen| {
            !seen.display.screen().contents().contains(text)
        });
    }

    /// Waits until bytes have been written `count` times.
    pub fn wait_raw(&self, bytes: &[u8], count: usize) {
        let what = format!("'{}', {count} times", bytes.escape_ascii());
        self.until(&what, |seen| times(&seen.raw, bytes) >= count);
    }

    /// Presses keys and waits for a text.
    pub fn press(&mut self, keys: &str, text: &str) {
        self.keys(keys);
        self.wait_for(text);
    }

    /// Advances a walk and waits for a text: with Enter and Space in turn, since repeating the same
    /// key at once would look like a held key.
    pub fn step(&mut self, text: &str) {
        self.entered = !self.entered;
        self.press(if self.entered { ENTER } else { " " }, text);
    }

    /// Presses Escape and waits until a text is gone. A key right after Escape would look like a
    /// key with Alt.
    pub fn escape(&mut self, text: &str) {
        self.keys(ESC);
        self.wait_gone(text);
    }

    /// Resizes the terminal.
    pub fn resize(&mut self, columns: u16, rows: u16) {
        let mut seen = self.seen();
        seen.display.parser.set_size(cells(rows), cells(columns));
        drop(seen);
        let master = &self.line.as_ref().unwrap().master;
        master.resize(size(columns, rows)).unwrap();
    }

    /// Sends a signal to the program by its name, such as `TERM`.
    pub fn signal(&self, name: &str) {
        let pid = self.pid().to_string();
        let done = Command::new("sh")
            .args(["-c", "kill -s \"$0\" \"$1\"", name, &pid])
            .status();
        assert!(done.unwrap().success(), "signal {name}");
    }

    /// Waits until the program has ended, and the terminal has received all its output.
    pub fn ended(&mut self) -> ExitStatus {
        let end = Instant::now() + PATIENCE;
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status;
            }
            assert!(
                Instant::now() < end,
                "the program has not ended within {PATIENCE:?}; on the screen is:\n{}",
                self.text()
            );
            thread::sleep(Duration::from_millis(10));
        }
    }

    /// Closes the terminal, like closing its window, and waits until the program has ended. Returns
    /// how long that took.
    pub fn hang_up(mut self) -> Duration {
        // The reader has the terminal open too: it closes it after the next output.
        self.seen().hang_up = true;
        // One key at a time: right and left together would change nothing on the screen.
        for key in [RIGHT, LEFT].into_iter().cycle() {
            if self.reader.is_finished() {
                break;
            }
            self.keys(key);
            thread::sleep(Duration::from_millis(20));
        }
        self.close()
    }

    /// Like [`Self::hang_up`], at the end of a flood that makes the program draw. The program still
    /// processes keys sent by then.
    pub fn hang_up_in(mut self, flood: Flood) -> Duration {
        // The writer also has the terminal open. It stops first: a program whose output is unread
        // doesn't read keys either.
        self.line.as_mut().unwrap().keyboard = flood.end();
        self.hang_up()
    }

    fn close(&mut self) -> Duration {
        self.line = None;
        let closed = Instant::now();
        self.ended();
        closed.elapsed()
    }

    /// Whether the terminal has its initial settings.
    pub fn is_as_it_was(&self) -> bool {
        let master = &self.line.as_ref().unwrap().master;
        format!("{:?}", master.get_termios()) == self.settings
    }

    /// Waits for the terminal to be restored: the alternate screen left, the cursor shown, and
    /// pastes, the mouse and the settings (raw or not) as before.
    pub fn wait_restored(&self) {
        self.until("terminal as it was", |seen| {
            let screen = seen.display.screen();
            let mouse = screen.mouse_protocol_mode() == vt100::MouseProtocolMode::None;
            !screen.alternate_screen()
                && !screen.hide_cursor()
                && !screen.bracketed_paste()
                && mouse
        });
        self.wait_until("settings as they were", || self.is_as_it_was());
        let raw = self.raw();
        let last = |bytes: &[u8]| raw.windows(bytes.len()).rposition(|part| part == bytes);
        for (on, off) in [("\x1b[?1049h", "\x1b[?1049l"), ("\x1b[?25l", "\x1b[?25h")] {
            assert!(last(on.as_bytes()).is_some(), "{on:?} was never written");
            assert!(
                last(off.as_bytes()) > last(on.as_bytes()),
                "{off:?} is last"
            );
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        if let Ok(None) = self.child.try_wait() {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

/// How many times `bytes` occur in the raw output.
pub fn times(raw: &[u8], bytes: &[u8]) -> usize {
    raw.windows(bytes.len())
        .filter(|part| *part == bytes)
        .count()
}

/// A temporary folder for a stash, and files next to it.
pub struct Folder(tempfile::TempDir);

impl Folder {
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    /// The stash folder.
    pub fn stash(&self) -> PathBuf {
        self.0.path().join("stash")
    }

    /// Writes a file and returns its path.
    pub fn file(&self, name: &str, text: &str) -> String {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    }

    /// Runs a command on the stash and returns its JSON answer.
    pub fn json(&self, args: &[&str]) -> Value {
        let output = Command::new(env!("CARGO_BIN_EXE_homehook"))
            .arg("--stash")
            .arg(self.stash())
            .arg("--json")
            .args(args)
            .env_remove("HOMEHOOK_STASH")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{args:?}: {said}");
        serde_json::from_slice(&output.stdout).unwrap()
    }
}
