//! Takes over the terminal, and restores it whatever happens.

use std::io::{self, IsTerminal, Write, stdin, stdout};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;
#[cfg(unix)]
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex, MutexGuard, Once, PoisonError};
use std::thread;
#[cfg(unix)]
use std::time::Duration;

use crossterm::cursor::{Hide, Show};
use crossterm::event::{
    DisableBracketedPaste, DisableMouseCapture, EnableBracketedPaste, EnableMouseCapture,
};
use crossterm::execute;
use crossterm::style::Print;
use crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use jiff::Timestamp;

use crate::tui::message::Message;

/// Owns the terminal; restores it when dropped.
pub(super) struct Guard(());

/// The panic hook is installed once, before the screen is first taken over.
static HOOK: Once = Once::new();

/// Whether the terminal is ours now. It is restored only once: a second time would move the cursor
/// of many terminals back to its saved position, and later output would be overwritten.
static OURS: AtomicBool = AtomicBool::new(false);

/// How long to wait for a terminal that accepts no output before the program ends without it.
#[cfg(unix)]
const STUCK: Duration = Duration::from_millis(200);

/// The panic message of a background thread, until the screen asks for it.
static BESIDE: Mutex<Option<String>> = Mutex::new(None);

/// The text below a panic's own message.
pub(super) fn after_a_fault() -> &'static str {
    "Homehook stopped because of a fault of its own. Everything it recorded is on disk: open it again to go on, and show the lines above to its developers."
}

impl Guard {
    /// Takes over the terminal for this thread.
    pub fn enter() -> io::Result<Self> {
        let screen = thread::current().id();
        HOOK.call_once(|| {
            let before = std::panic::take_hook();
            std::panic::set_hook(Box::new(move |panic| {
                // Another thread must not write into a frame being drawn, nor have its message
                // drawn over. The screen picks it up and shows it.
                let on_screen = thread::current().id() == screen;
                if !on_screen && OURS.load(Ordering::SeqCst) {
                    *beside() = Some(panic.to_string());
                    return;
                }
                leave();
                before(panic);
                if on_screen {
                    // If even this is closed, nobody is left to tell.
                    let _ = writeln!(io::stderr(), "{}", after_a_fault());
                }
            }));
        });
        // From here on, any failure restores the terminal.
        let guard = Self(());
        enter(true)?;
        Ok(guard)
    }

    /// The panic message of a background thread, if there was a panic.
    pub fn fault(&self) -> Option<String> {
        beside().take()
    }

    /// Whether the terminal has gone away. No signal reports that if it isn't the program's
    /// controlling terminal, and the key reader only falls silent.
    pub fn is_gone(&self) -> bool {
        !(stdin().is_terminal() && stdout().is_terminal())
    }

    /// Captures or releases the mouse.
    pub fn mouse(&mut self, ours: bool) -> io::Result<()> {
        if ours {
            execute!(stdout(), EnableMouseCapture)
        } else {
            execute!(stdout(), DisableMouseCapture)
        }
    }

    /// Rings the bell.
    pub fn bell(&mut self) -> io::Result<()> {
        execute!(stdout(), Print('\x07'))
    }

    /// Goes to the shell until resumed.
    pub fn suspend(&mut self, mouse: bool) -> io::Result<()> {
        leave();
        stop()?;
        enter(mouse)
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        leave();
    }
}

fn beside() -> MutexGuard<'static, Option<String>> {
    BESIDE.lock().unwrap_or_else(PoisonError::into_inner)
}

fn enter(mouse: bool) -> io::Result<()> {
    // Locked throughout, so that whoever restores the terminal finds it either untouched or fully
    // set up.
    let mut out = stdout().lock();
    OURS.store(true, Ordering::SeqCst);
    enable_raw_mode()?;
    execute!(out, EnterAlternateScreen, Hide, EnableBracketedPaste)?;
    if mouse {
        execute!(out, EnableMouseCapture)?;
    }
    Ok(())
}

/// Restores the terminal. A terminal that is gone can't be restored, which isn't an error.
fn leave() {
    if !OURS.load(Ordering::SeqCst) {
        return;
    }
    let mut out = stdout().lock();
    if !OURS.swap(false, Ordering::SeqCst) {
        return;
    }
    let _ = execute!(
        out,
        DisableMouseCapture,
        DisableBracketedPaste,
        LeaveAlternateScreen,
        Show
    );
    let _ = out.flush();
    let _ = disable_raw_mode();
}

/// Stops this process as Ctrl-Z does; returns when it is resumed.
#[cfg(unix)]
fn stop() -> io::Result<()> {
    signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP)
}

/// Does nothing on platforms without job control.
#[cfg(not(unix))]
fn stop() -> io::Result<()> {
    Ok(())
}

/// Restores the terminal and ends by a signal, like a program without a handler.
#[cfg(unix)]
fn end_by(signal: i32) {
    let (tell, told) = channel();
    // In another thread, because a terminal that accepts no output must not block this one.
    let started = thread::Builder::new().spawn(move || {
        // Held until the end, so that no frame is drawn on the restored terminal.
        let _out = stdout().lock();
        leave();
        let _ = tell.send(());
        loop {
            thread::park();
        }
    });
    if started.is_err() || told.recv_timeout(STUCK).is_err() {
        let _ = disable_raw_mode();
    }
    let _ = signal_hook::low_level::emulate_default_handler(signal);
}

/// Ends by a signal if the screen wants to end but can't, because the terminal accepts no output.
/// Anything else that delays the screen is short, such as a change on its way to disk.
#[cfg(unix)]
fn end_where_stuck(signal: i32) {
    loop {
        thread::sleep(STUCK);
        let (tell, told) = channel();
        let started = thread::Builder::new().spawn(move || {
            drop(stdout().lock());
            let _ = tell.send(());
        });
        if started.is_ok() && told.recv_timeout(STUCK).is_err() {
            end_by(signal);
        }
    }
}

/// The termination signals.
pub(super) struct Signals {
    end: Arc<AtomicBool>,
}

impl Signals {
    /// Starts to watch for them. A message wakes the loop when one comes. Signals that end a
    /// program at once do so here, too, after the terminal is restored.
    pub fn watch(wake: Sender<io::Result<Message>>) -> io::Result<Self> {
        let end = Arc::new(AtomicBool::new(false));
        #[cfg(unix)]
        {
            use signal_hook::consts::{SIGABRT, SIGHUP, SIGINT, SIGQUIT, SIGTERM};
            let watched = [SIGTERM, SIGHUP, SIGINT, SIGQUIT, SIGABRT];
            let mut signals = signal_hook::iterator::Signals::new(watched)?;
            let end = Arc::clone(&end);
            thread::spawn(move || {
                for signal in signals.forever() {
                    if matches!(signal, SIGQUIT | SIGABRT) {
                        end_by(signal);
                    }
                    let first = !end.swap(true, Ordering::Relaxed);
                    // If nobody receives it, the loop has already ended.
                    let _ = wake.send(Ok(Message::Tick(Timestamp::now())));
                    if first {
                        // Without this thread, only a terminal that accepts no output can delay the
                        // end.
                        let watcher = thread::Builder::new();
                        let _ = watcher.spawn(move || end_where_stuck(signal));
                    }
                }
            });
        }
        #[cfg(not(unix))]
        drop(wake);
        Ok(Self { end })
    }

    /// Whether one was received.
    pub fn end(&self) -> bool {
        self.end.load(Ordering::Relaxed)
    }
}
