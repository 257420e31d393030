//! The real terminal: events in, frames out, and what was asked for done outside.

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
use crate::journal::ReadOnly;
use crate::journal::store::Store;
use crate::text::record;
use backups::Backups;
use demo::Aside;
pub use demo::{Demo, Throwaway};
use guard::{Guard, Signals, after_a_fault};
use held::Held;
use lean::Lean;
use planner::Planner;
use speaker::Speaker;

/// How often the screen looks at what other processes wrote, whether a thread beside it failed, and whether
/// the terminal is still there. All else that is waited for is a message.
const POLL_INTERVAL: Duration = Duration::from_millis(500);
/// So long the hooks where cards landed are lit.
const FLASH: Duration = Duration::from_millis(300);
/// How long what has happened may wait to be drawn while more of it comes.
const FRAME: Duration = Duration::from_millis(50);
/// How often the days on the screen are looked at.
const CLOCK: Duration = Duration::from_secs(60);

/// The screen cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ScreenError {
    /// The terminal cannot be set up, drawn on, or read from.
    #[error("The terminal doesn't answer ({it}). For the board as plain text: homehook board show", it = _0)]
    Terminal(#[from] io::Error),
    /// A thread that works beside the screen panicked.
    #[error("{_0}\n{}", after_a_fault())]
    Fault(String),
}

/// How the user wants the screen.
#[derive(Debug)]
pub struct Settings {
    /// The keys that hold.
    pub keys: Keymap,
    /// How it looks.
    pub looks: Looks,
    /// The file where a choice of that made on the screen is kept, where there is a place for it.
    pub looks_file: Option<PathBuf>,
    /// The program that says the steps of walks aloud, and its arguments; may be empty.
    pub speak: Vec<String>,
    /// Whether the bell rings at each step.
    pub bell: bool,
    /// Whether nothing moves on the screen by itself.
    pub still: bool,
    /// Whether the stash is an invented one that is not kept.
    pub invented: bool,
}

/// What the loop was told by the interface.
#[derive(PartialEq, Eq)]
enum Next {
    Go,
    Leave,
}

/// Opens the board on the terminal and stays until the user leaves. The terminal is given back as
/// it was found, also after a panic or a signal to end. The first of the notices is shown at once; `demo`
/// is asked for the invented stash where the user wants to see that.
///
/// # Errors
/// When the terminal cannot be set up, drawn on, or read from, or something beside the screen panics.
pub fn run(
    store: Store,
    settings: Settings,
    notices: Vec<String>,
    demo: &Demo,
) -> Result<(), ScreenError> {
    run_drawing(store, settings, notices, demo, view)
}

/// As [`run`], with what draws: a test of what a panic leaves draws as no program should.
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
    };
    desk.judge();
    desk.greet(&notices, settings.invented);
    let (mut looked, mut ticked) = (Instant::now(), Instant::now());
    // Since when there is something to draw.
    let mut stale = Some(Instant::now());
    let mut held = Held::default();
    loop {
        if let Some(said) = guard.fault() {
            return Err(ScreenError::Fault(said));
        }
        if signals.end() {
            return Ok(());
        }
        // What is waiting already is taken before the next frame: a held key does not draw once a
        // character. Where there is no end to it, a frame is drawn in between.
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

/// The interface and the stash it is about.
struct EventLoop<'a> {
    app: App,
    /// Before the store: what is being copied ends before its folder goes.
    backups: Backups,
    store: Store,
    planner: Planner,
    speaker: Option<Speaker>,
    /// Whether the bell rings at each step of a walk.
    bell: bool,
    /// When the hooks where cards landed are lit no longer.
    flash: Option<Instant>,
    /// The file where a choice of colours is kept.
    looks_file: Option<PathBuf>,
    /// Builds the invented stash.
    demo: &'a Demo,
    /// The user's own stash while the invented one is shown.
    aside: Option<Aside>,
    /// Why nothing can be changed, if so.
    read_only: Option<String>,
}

type Screen = Terminal<Lean<io::Stdout>>;

impl EventLoop<'_> {
    /// Looks why nothing can be changed, if so.
    fn judge(&mut self) {
        self.read_only = self.store.read_only().map(|why| match why {
            ReadOnly::Damaged(_) | ReadOnly::ApplyError { .. } => format!(
                "Read-only, see 'homehook check': {why}",
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

    /// Shows what the user should know at once: the first steps or what waits, and trouble with the record or the keys.
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

    /// How long to wait for a key at most, where something else is due then.
    fn wait(&self, most: Duration) -> Duration {
        let left = |over: Instant| over.saturating_duration_since(Instant::now());
        self.flash.map_or(most, |over| most.min(left(over)))
    }

    /// The messages to take for one that came: a held key may count once.
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

    /// Keeps what was chosen for the next time, or says why it holds only until the screen is left.
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

    /// Takes a message and does all that follows from it.
    fn take(
        &mut self,
        message: Message,
        guard: &mut Guard,
        terminal: &mut Screen,
    ) -> Result<Next, ScreenError> {
        let mut messages = std::collections::VecDeque::from([message]);
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
                        // Draws everything anew. `clear` would ask the terminal where its cursor
                        // is, and fail where there is no answer.
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
                        // The invented stash needs no backup.
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

    /// Catches up with what other processes did to the folder; a message where that was anything.
    fn read_along(&mut self) -> Option<Message> {
        match self.store.refresh() {
            Ok(false) => None,
            Ok(true) => {
                let was_read_only = self.read_only.is_some();
                self.judge();
                let others = self.store.take_others();
                let what = outside::others_did(&self.store, &others);
                let what = match &self.read_only {
                    Some(why) => Some(why.clone()),
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
