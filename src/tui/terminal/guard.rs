//! Taking the terminal over, and giving it back whatever happens.

use std::io::{self, Write, stdout};
use std::sync::Arc;
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};

use crossterm::cursor::{Hide, Show};
use crossterm::event::{
    DisableBracketedPaste, DisableMouseCapture, EnableBracketedPaste, EnableMouseCapture,
};
use crossterm::execute;
use crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};

/// Holds the terminal; gives it back when dropped.
pub(super) struct Guard(());

/// The panic hook is set once, before the screen is ever taken over.
static HOOK: Once = Once::new();

impl Guard {
    /// Takes the terminal over.
    pub fn enter() -> io::Result<Self> {
        HOOK.call_once(|| {
            let before = std::panic::take_hook();
            std::panic::set_hook(Box::new(move |panic| {
                leave();
                before(panic);
            }));
        });
        // From here on whatever fails gives the terminal back.
        let guard = Self(());
        enter(true)?;
        Ok(guard)
    }

    /// Takes the mouse from the terminal, or gives it back.
    pub fn mouse(&mut self, ours: bool) -> io::Result<()> {
        if ours {
            execute!(stdout(), EnableMouseCapture)
        } else {
            execute!(stdout(), DisableMouseCapture)
        }
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

fn enter(mouse: bool) -> io::Result<()> {
    enable_raw_mode()?;
    execute!(stdout(), EnterAlternateScreen, Hide, EnableBracketedPaste)?;
    if mouse {
        execute!(stdout(), EnableMouseCapture)?;
    }
    Ok(())
}

/// Gives the terminal back. A terminal that is gone cannot be given back, and that is no error.
fn leave() {
    let mut out = stdout();
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

/// The signals that ask a program to end.
pub(super) struct Signals {
    end: Arc<AtomicBool>,
}

impl Signals {
    /// Starts to watch for them.
    pub fn watch() -> io::Result<Self> {
        let end = Arc::new(AtomicBool::new(false));
        #[cfg(unix)]
        for signal in [
            signal_hook::consts::SIGTERM,
            signal_hook::consts::SIGHUP,
            signal_hook::consts::SIGINT,
        ] {
            signal_hook::flag::register(signal, Arc::clone(&end))?;
        }
        Ok(Self { end })
    }

    /// Whether one came.
    pub fn end(&self) -> bool {
        self.end.load(Ordering::Relaxed)
    }
}
