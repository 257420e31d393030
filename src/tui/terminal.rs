//! The real terminal: reads events, draws frames and performs effects.

mod backups;
mod demo;
mod files;
mod guard;
mod held;
mod input;
mod lean;
mod outside;
mod planner;
mod speaker;
#[cfg(test)]
#[cfg(unix)]
mod tests;

use std::io;
use std::path::PathBuf;
use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

use jiff::{Timestamp, ZonedDateTime};
use ratatui::{Frame, Terminal};

use super::app::derived::Derived;
use super::app::{App, Stash};
use super::keymap::Keymap;
use super::looks::{Looks, Wish};
use super::message::{Effect, Message};
use super::screens::start::Start;
use super::screens::welcome::greet;
use super::update::update;
use super::view::view;
use crate::journal::store::Store;
use crate::journal::{Notice, ReadOnly};
use crate::text::record;
use backups::Backups;
use demo::Aside;
pub use demo::{Demo, Throwaway};
use guard::{Guard, Signals, after_a_fault};
use held::Held;
use lean::Lean;
use planner::Planner;
use speaker::Speaker;

/// How often the screen polls for writes by other processes, failed background threads, and a
/// terminal that is gone. Everything else arrives as a message.
const POLL_INTERVAL: Duration = Duration::from_millis(500);
/// How long hooks stay lit after cards land there.
const FLASH: Duration = Duration::from_millis(300);
/// The longest a frame waits while more messages keep coming.
const FRAME: Duration = Duration::from_millis(50);
/// How often dates on the screen are refreshed.
const CLOCK: Duration = Duration::from_secs(60);

/// The screen can't be used.
#[derive(Debug, thiserror::Error)]
pub enum ScreenError {
    /// The terminal can't be set up, drawn on or read from.
    #[error("The terminal doesn't answer ({it}). For the board as plain text: homehook board show", it = _0)]
    Terminal(#[from] io::Error),
    /// A background thread panicked.
    #[error("{_0}\n{}", after_a_fault())]
    Fault(String),
}

/// Settings for the screen.
#[derive(Debug)]
pub struct Settings {
    /// The active keymap.
    pub keys: Keymap,
    /// Its looks.
    pub looks: Looks,
    /// The file that saves looks chosen on the screen, if there is a place for one.
    pub looks_file: Option<PathBuf>,
    /// The program that speaks the steps of walks, with its arguments; may be empty.
    pub speak: Vec<String>,
    /// Whether the bell rings at each step.
    pub bell: bool,
    /// Whether animations are off.
    pub still: bool,
    /// Whether the stash is the demo, which isn't kept.
    pub invented: bool,
    /// The command that checks this stash.
    pub check: String,
}

/// What the event loop does next.
#[derive(PartialEq, Eq)]
enum Next {
    Go,
    Leave,
}

/// Opens the board on the terminal until the user leaves. The terminal is restored afterwards, even
/// after a panic or a termination signal. The first of the notices is shown at once. `demo` builds
/// the demo stash if the user asks for it.
///
/// # Errors
/// When the terminal can't be set up, drawn on or read from, or a background thread panics.
pub fn run(
    store: Store,
    settings: Settings,
    notices: Vec<String>,
    demo: &Demo,
) -> Result<(), ScreenError> {
    run_drawing(store, settings, notices, demo, view)
}

/// Like [`run`], with a drawing function as parameter, so that a test can make it panic.
fn run_drawing(
    store: Store,
    settings: Settings,
    notices: Vec<String>,
    demo: &Demo,
    draw: impl Fn(&App, Stash<'_>, &mut Frame<'_>),
) -> Result<(), ScreenError> {
    let (to, messages) = channel();
    let signals = Signals::watch(to.clone())?;
    let mut guard = Guard::enter()?;
    let mut terminal = Terminal::new(Lean::new(io::stdout()))?;
    let size = terminal.size()?;
    let app = App {
        keys: settings.keys,
        announces: settings.bell || !settings.speak.is_empty(),
        still: settings.still,
        kept_in: store.dir().display().to_string(),
        ..App::new(
            (size.width, size.height),
            Timestamp::now(),
            settings.looks.theme(),
        )
    };
    let app = App {
        looks: settings.looks,
        ..app
    };
    let speaker = Speaker::new(settings.speak, to.clone());
    let mut inbox = input::listen(to.clone(), messages);
    let planner = Planner::new(to.clone());
    let backups = Backups::new(to);
    let mut desk = EventLoop {
        app,
        store,
        planner,
        speaker,
        bell: settings.bell,
        flash: None,
        looks_file: settings.looks_file,
        demo,
        aside: None,
        backups,
        read_only: None,
        check: settings.check,
    };
    desk.judge();
    desk.greet(&notices, settings.invented);
    let (mut looked, mut ticked) = (Instant::now(), Instant::now());
    // When the pending changes began.
    let mut stale = Some(Instant::now());
    let mut held = Held::default();
    loop {
        if let Some(said) = guard.fault() {
            return Err(ScreenError::Fault(said));
        }
        if signals.end() {
            return Ok(());
        }
        // Messages already waiting are handled before the next frame, so a held key doesn't draw
        // once per character. An endless stream still gets a frame now and then.
        let next = match stale {
            None => inbox.take(desk.wait(held.wait(POLL_INTERVAL)))?,
            Some(since) if since.elapsed() < FRAME => inbox.take(Duration::ZERO)?,
            Some(_) => None,
        };
        let waited = held.due(Instant::now()).map(Message::Key);
        if next.is_some() || waited.is_some() {
            stale.get_or_insert_with(Instant::now);
            let next = next.map(|message| desk.once(&mut held, message));
            for message in waited.into_iter().chain(next.into_iter().flatten()) {
                if desk.take(message, &mut guard, &mut terminal)? == Next::Leave {
                    return Ok(());
                }
            }
        } else if stale.take().is_some() {
            desk.with_stash(|app, stash| terminal.draw(|frame| draw(app, stash, frame)).map(drop))?;
        }
        if desk.flash.is_some_and(|over| over <= Instant::now()) {
            desk.flash = None;
            stale.get_or_insert_with(Instant::now);
            desk.take(Message::FlashOver, &mut guard, &mut terminal)?;
        }
        if looked.elapsed() >= POLL_INTERVAL {
            looked = Instant::now();
            if guard.is_gone() {
                return Err(io::Error::from(io::ErrorKind::BrokenPipe).into());
            }
            if let Some(message) = desk.read_along() {
                stale.get_or_insert_with(Instant::now);
                desk.take(message, &mut guard, &mut terminal)?;
            }
        }
        if ticked.elapsed() >= CLOCK {
            ticked = Instant::now();
            stale.get_or_insert_with(Instant::now);
            desk.take(Message::Tick(Timestamp::now()), &mut guard, &mut terminal)?;
        }
    }
}

/// The interface with its stash.
struct EventLoop<'a> {
    app: App,
    /// Declared before the store, so that a running copy ends before its folder goes away.
    backups: Backups,
    store: Store,
    planner: Planner,
    speaker: Option<Speaker>,
    /// Whether the bell rings at each step of a walk.
    bell: bool,
    /// When the light on hooks where cards landed ends.
    flash: Option<Instant>,
    /// The file that saves the looks.
    looks_file: Option<PathBuf>,
    /// Builds the demo stash.
    demo: &'a Demo,
    /// The user's own stash while the demo is shown.
    aside: Option<Aside>,
    /// Why the stash is read-only, if it is.
    read_only: Option<String>,
    /// The command that checks this stash.
    check: String,
}

type Screen = Terminal<Lean<io::Stdout>>;

impl EventLoop<'_> {
    /// Updates why the stash is read-only, if it is.
    fn judge(&mut self) {
        self.read_only = self.store.read_only().map(|why| match why {
            ReadOnly::Damaged(_) | ReadOnly::ApplyError { .. } => format!(
                "Read-only, see '{check}': {why}",
                check = self.check,
                why = record::read_only_reason(&why)
            ),
            _ => format!("Read-only: {why}", why = record::read_only_reason(&why)),
        });
    }

    fn with_stash<T>(&mut self, f: impl FnOnce(&mut App, Stash<'_>) -> T) -> T {
        let history = self.store.history();
        let last = history.last_done();
        let stash = Stash {
            state: self.store.state(),
            history,
            read_only: self.read_only.as_deref(),
            last_is_others: last.is_some_and(|past| self.store.is_others(past.seq)),
        };
        f(&mut self.app, stash)
    }

    /// Shows what matters at startup: the first steps or pending work, and trouble with the record
    /// or the keymap.
    fn greet(&mut self, notices: &[String], invented: bool) {
        self.with_stash(|app, stash| {
            app.derived = Derived::of(stash.state);
            app.opened_after = stash.history.last_done().map_or(0, |past| past.seq);
        });
        if invented {
            self.app.open(Start::of_demo());
        } else {
            self.with_stash(greet);
        }
        if let Some(notice) = notices.first().or(self.read_only.as_ref()) {
            self.app.complain(notice);
        } else {
            self.app.call_out_few_colours();
        }
    }

    /// How long to wait for a key, which is at most `most` and less if something else is due.
    fn wait(&self, most: Duration) -> Duration {
        let left = |over: Instant| over.saturating_duration_since(Instant::now());
        self.flash.map_or(most, |over| most.min(left(over)))
    }

    /// The messages to handle for one that arrived: a held key may count once.
    fn once(&self, held: &mut Held, message: Message) -> Vec<Message> {
        let Message::Key(key) = message else {
            return vec![message];
        };
        let keys = held.came(key, Instant::now(), self.app.counts_once(key));
        keys.into_iter().flatten().map(Message::Key).collect()
    }

    /// Announces a step of a walk.
    fn speak(&self, sentence: String, guard: &mut Guard) -> io::Result<()> {
        if self.bell {
            guard.bell()?;
        }
        if let Some(speaker) = &self.speaker {
            speaker.say(sentence);
        }
        Ok(())
    }

    /// Saves the chosen looks for the next time, or says why they last only until the screen
    /// closes.
    fn keep_looks(&mut self, wish: Wish) {
        let kept = files::keep(
            self.looks_file.as_deref(),
            &wish.to_json(),
            self.store.dir(),
        );
        if let Err(why) = kept {
            let told = format!("These colours hold until you leave and can't be kept: {why}");
            self.app.complain(told);
        }
    }

    /// Handles a message and performs all its effects.
    fn take(
        &mut self,
        message: Message,
        guard: &mut Guard,
        terminal: &mut Screen,
    ) -> Result<Next, ScreenError> {
        // A folder may have come back since the last look: a key must not be refused for what is over.
        let is_stale = self.read_only.is_some() && matches!(message, Message::Key(_));
        let news = is_stale.then(|| self.read_along()).flatten();
        let mut messages = std::collections::VecDeque::from_iter(news.into_iter().chain([message]));
        while let Some(message) = messages.pop_front() {
            self.app.now = Timestamp::now();
            let effects = self.with_stash(|app, stash| update(app, stash, message));
            for effect in effects {
                match effect {
                    Effect::Quit if self.leave_demo() => {}
                    Effect::Quit => return Ok(Next::Leave),
                    Effect::Demo => self.enter_demo(),
                    Effect::Suspend => {
                        guard.suspend(self.app.mouse)?;
                        let size = terminal.size()?;
                        // Redraws everything. `clear` would query the cursor position, and fail if
                        // the terminal doesn't answer.
                        terminal.resize(size.into())?;
                        let (width, height) = (size.width, size.height);
                        messages.push_back(Message::Resize { width, height });
                    }
                    Effect::Mouse(ours) => guard.mouse(ours)?,
                    Effect::KeepLooks(wish) => self.keep_looks(wish),
                    Effect::Flash => self.flash = Some(Instant::now() + FLASH),
                    Effect::Speak(sentence) => self.speak(sentence, guard)?,
                    Effect::Plan => messages.extend(self.planner.begin(self.store.state())),
                    Effect::StopPlanning => self.planner.stop(),
                    effect => {
                        let changes = matches!(
                            effect,
                            Effect::Commit(_) | Effect::Undo { .. } | Effect::Redo { .. }
                        );
                        // The demo stash needs no backup.
                        if changes && self.aside.is_none() && self.read_only.is_none() {
                            let today = ZonedDateTime::now().date();
                            self.backups.before_change(&self.store, today);
                        }
                        messages.extend(outside::perform(&mut self.store, effect));
                        if changes {
                            self.judge();
                        }
                    }
                }
            }
        }
        Ok(Next::Go)
    }

    /// Catches up with other processes' changes to the folder; returns a message if there were any.
    fn read_along(&mut self) -> Option<Message> {
        if self.backups.take_differs() {
            self.store.doubt();
        }
        match self.store.refresh() {
            Ok(false) => None,
            Ok(true) => {
                let was_read_only = self.read_only.is_some();
                self.judge();
                let others = self.store.take_others();
                let what = outside::others_did(&self.store, &others);
                let mut replaced = self.store.take_notices().into_iter();
                let replaced = replaced.find(Notice::is_of_a_loss);
                let what = match &self.read_only {
                    Some(why) => Some(why.clone()),
                    None if replaced.is_some() => replaced.as_ref().map(record::notice),
                    None if was_read_only => {
                        Some("The stash is whole again and can be changed.".to_owned())
                    }
                    None => what,
                };
                Some(Message::OthersChanged(what))
            }
            Err(error) => {
                let why = format!("Read-only: {why}", why = record::record_error(&error));
                let is_news = self.read_only.as_ref() != Some(&why);
                self.read_only = Some(why.clone());
                is_news.then_some(Message::OthersChanged(Some(why)))
            }
        }
    }
}
