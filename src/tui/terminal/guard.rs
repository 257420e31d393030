//! Taking the terminal over, and giving it back whatever happens.

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

/// Holds the terminal; gives it back when dropped.
pub(super) struct Guard(());

/// The panic hook is set once, before the screen is ever taken over.
static HOOK: Once = Once::new();

/// Whether the terminal is ours now. It is given back once: a second time would put the cursor of
/// many terminals back to where it was before, and what was said since would be written over.
static OURS: AtomicBool = AtomicBool::new(false);

/// How long the terminal may take nothing before the program ends without it.
#[cfg(unix)]
const STUCK: Duration = Duration::from_millis(200);

/// What a panic in a thread beside the screen said, until the screen asks.
static BESIDE: Mutex<Option<String>> = Mutex::new(None);

/// What is said of a panic, below what it says itself.
pub(super) fn after_a_fault() -> &'static str {
    "Homehook stopped because of a fault of its own. Everything it recorded is on disk: open it again to go on, and show the lines above to its developers."
}

impl Guard {
    /// Takes the terminal over, for this thread.
    pub fn enter() -> io::Result<Self> {
        let screen = thread::current().id();
        HOOK.call_once(|| {
            let before = std::panic::take_hook();
            std::panic::set_hook(Box::new(move |panic| {
                // Another thread neither writes into a frame that is being drawn nor has its words
                // drawn over: the screen is told, and says them.
                let on_screen = thread::current().id() == screen;
                if !on_screen && OURS.load(Ordering::SeqCst) {
                    *beside() = Some(panic.to_string());
                    return;
                }
                leave();
                before(panic);
                if on_screen {
                    // Where even this is closed there is nobody left to tell.
                    let _ = writeln!(io::stderr(), "{}", after_a_fault());
                }
            }));
        });
        // From here on whatever fails gives the terminal back.
        let guard = Self(());
        enter(true)?;
        Ok(guard)
    }

    /// What a panic in a thread beside the screen said, if there was one.
    pub fn fault(&self) -> Option<String> {
        beside().take()
    }

    /// Whether the terminal has gone away. No signal tells it where it was not the program's own, and
    /// the reader of keys hears nothing more.
    pub fn is_gone(&self) -> bool {
        !(stdin().is_terminal() && stdout().is_terminal())
    }

    /// Takes the mouse from the terminal, or gives it back.
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

    /// Goes to the shell until called back.
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
    // Held over all of it: who gives the terminal back finds either nothing done or everything.
    let mut out = stdout().lock();
    OURS.store(true, Ordering::SeqCst);
    enable_raw_mode()?;
    execute!(out, EnterAlternateScreen, Hide, EnableBracketedPaste)?;
    if mouse {
        execute!(out, EnableMouseCapture)?;
    }
    Ok(())
}

/// Gives the terminal back. A terminal that is gone cannot be given back, and that is no error.
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

/// Stops this process as Ctrl-Z does; returns when it is called back.
#[cfg(unix)]
fn stop() -> io::Result<()> {
    signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP)
}

/// Where there is no such thing, nothing happens.
#[cfg(not(unix))]
fn stop() -> io::Result<()> {
    Ok(())
}

/// Gives the terminal back and ends by a signal, as a program does that knows nothing of it.
#[cfg(unix)]
fn end_by(signal: i32) {
    let (tell, told) = channel();
    // Beside this thread, which a terminal that takes nothing must not hold up.
    let started = thread::Builder::new().spawn(move || {
        // Kept until the end: no frame is drawn on what was given back.
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

/// Ends by a signal where the screen would end but cannot, since the terminal takes nothing of what is
/// written. Whatever else holds the screen up is at its end soon, such as a change on its way to the disk.
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

/// The signals that ask a program to end.
pub(super) struct Signals {
    end: Arc<AtomicBool>,
}

impl Signals {
    /// Starts to watch for them. When one comes, the loop is woken by a message. Those that end a program
    /// at once do so here too, but for the terminal, which is given back.
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
                    // The loop is left already where nobody takes it.
                    let _ = wake.send(Ok(Message::Tick(Timestamp::now())));
                    if first {
                        // Where no thread can be had, only a terminal that takes nothing holds up the end.
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

    /// Whether one came.
    pub fn end(&self) -> bool {
        self.end.load(Ordering::Relaxed)
    }
}
