//! The stack of screens: what each can do, and what it can request.
//!
//! The topmost screen receives the keys. It changes only itself and the shared state in [`App`]. It
//! requests changes to the stash, files or other screens through its [`Context`].

use std::any::Any;
use std::collections::{HashMap, HashSet};
use std::fmt::Debug;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::question::{Question, Then};
use super::{App, Stash};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
#[cfg(test)]
use crate::tui::field::Field;
use crate::tui::field::LeftOut;
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::{Effect, Message};
use crate::tui::refused::on_screen;

/// A screen, or a window over one.
pub trait Screen: Any + Debug + CloneScreen {
    /// The scope of its keys.
    fn scope(&self) -> Scope;

    /// How much of the screen it takes.
    fn extent(&self) -> Extent {
        Extent::Whole
    }

    /// Its highlights on the board, if the board is in view.
    fn lights<'a>(&'a self, app: &'a App, state: &'a State) -> Lights<'a> {
        let _ = (app, state);
        Lights::default()
    }

    /// Performs the action of a key.
    fn act(&mut self, context: &mut Context<'_>, action: Action);

    /// Handles a key with no action.
    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        context.nothing(key);
    }

    /// Accepts pasted text and returns what it left out. The caller settles the screen afterwards.
    fn pasted(&mut self, text: &str) -> LeftOut {
        let _ = text;
        LeftOut::default()
    }

    /// Handles a mouse press at a column and row of the screen.
    fn clicked(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let _ = (context, column, row);
    }

    /// The field being typed in, if any.
    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        None
    }

    /// Its name in the code.
    #[cfg(test)]
    fn name(&self) -> &'static str {
        std::any::type_name::<Self>()
    }

    /// Its lines to fill in, if it is a form.
    #[cfg(test)]
    fn inputs(&mut self) -> Vec<&mut dyn Blank> {
        Vec::new()
    }

    /// The line being edited, if it is a form.
    #[cfg(test)]
    fn line(&mut self) -> Option<&mut usize> {
        None
    }

    /// Its error, if it is a form.
    #[cfg(test)]
    fn wrong(&self) -> Option<String> {
        None
    }

    /// The question, if it is one.
    #[cfg(test)]
    fn question(&self) -> Option<&str> {
        None
    }

    /// Handles a drag to a column and row.
    fn dragged(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let _ = (context, column, row);
    }

    /// Handles a mouse release at a column and row.
    fn released(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let _ = (context, column, row);
    }

    /// Whether an action is possible now, if that is cheap to know. Keys that do nothing aren't
    /// offered.
    fn can(&self, app: &App, stash: Stash<'_>, action: Action) -> bool {
        let _ = (app, stash, action);
        true
    }

    /// A change requested from here, or from a window over it, is on disk.
    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let _ = (context, act);
    }

    /// A requested change failed, and nothing was changed.
    fn failed(&mut self, context: &mut Context<'_>, wrong: String) {
        context.app.complain(wrong);
    }

    /// Handles the answer to an effect other than a change; returns whether it was waiting for it.
    /// Screens are asked from the topmost down.
    fn answered(&mut self, context: &mut Context<'_>, answer: &Message) -> bool {
        let _ = (context, answer);
        false
    }

    /// Catches up with a stash that changed in another window, or under another screen. It may
    /// close itself.
    fn settle(&mut self, context: &mut Context<'_>) {
        let _ = context;
    }

    /// The current step of a walk as a short sentence to speak; `None` if there is none.
    fn spoken(&self, state: &State) -> Option<String> {
        let _ = state;
        None
    }

    /// Its title line for this width; `None` for the board's own title.
    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let _ = (app, stash, width);
        None
    }

    /// Draws it between the title and the status line, or in the pane beside the board.
    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect);
}

/// A screen's highlights on the board.
#[derive(Default, Debug)]
pub struct Lights<'a> {
    /// The hook that the walk leads to.
    pub target: Option<HookRef>,
    /// The hook where the step of the walk starts.
    pub source: Option<HookRef>,
    /// A plan to show instead of the current wall.
    pub plan: Option<&'a WallPlan>,
    /// While a card is being hung, the free hooks that keep the order.
    pub fitting: Option<HashSet<HookRef>>,
    /// During a search, the hooks with matches; all others are dimmed.
    pub found: Option<HashSet<HookRef>>,
}

/// The direction in which a plan moves a card.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Way {
    /// To its first hook.
    New,
    /// To a row above.
    Up,
    /// To a row below.
    Down,
    /// To the left in its row.
    Left,
    /// To the right in its row.
    Right,
    /// To another board.
    Across,
}

impl Way {
    /// The direction from one hook to another.
    #[must_use]
    pub fn between(from: Option<HookRef>, to: HookRef) -> Self {
        match from {
            None => Self::New,
            Some(from) if from.board != to.board => Self::Across,
            Some(from) if from.row > to.row => Self::Up,
            Some(from) if from.row < to.row => Self::Down,
            Some(from) if from.column > to.column => Self::Left,
            Some(_) => Self::Right,
        }
    }

    /// Its arrow on screen.
    #[must_use]
    pub const fn glyph(self) -> char {
        match self {
            Self::New => '+',
            Self::Up => '↑',
            Self::Down => '↓',
            Self::Left => '←',
            Self::Right => '→',
            Self::Across => '»',
        }
    }
}

/// The wall under a re-hang plan.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct WallPlan {
    /// Whether to show the wall after the re-hang instead of before it.
    pub after: bool,
    /// The cards that will belong on each hook.
    pub homes: HashMap<HookRef, Vec<CardId>>,
    /// The cards with a new or changed home, and their direction.
    pub ways: HashMap<CardId, Way>,
}

/// A line that can be filled in.
#[cfg(test)]
pub trait Blank {
    /// Its label.
    fn label(&self) -> &'static str;
    /// Its text.
    fn value(&self) -> &str;
    /// Replaces its text.
    fn fill(&mut self, text: &str);
}

/// How much of the screen a screen takes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Extent {
    /// All between the title and the status line.
    Whole,
    /// A pane beside the board, which shows the screen's highlights.
    Beside,
    /// The pane of the card under the cursor; the board keeps its size.
    InPane,
    /// A window over what lies beneath.
    Window,
}

/// A screen that can be cloned, so that tests can try several paths from one place.
pub trait CloneScreen {
    /// A copy.
    fn clone_screen(&self) -> Box<dyn Screen>;
}

impl<T: Screen + Clone + 'static> CloneScreen for T {
    fn clone_screen(&self) -> Box<dyn Screen> {
        Box::new(self.clone())
    }
}

impl Clone for Box<dyn Screen> {
    fn clone(&self) -> Self {
        (**self).clone_screen()
    }
}

/// A pending change to the stack.
#[derive(Debug)]
enum Step {
    /// Push a screen.
    Open(Box<dyn Screen>),
    /// Close the requesting screen.
    Close,
    /// Then perform an action on the topmost screen.
    Act(Action),
}

/// The environment of a screen while it handles a message.
pub struct Context<'a> {
    /// The shared state. Its stack holds the other screens.
    pub app: &'a mut App,
    /// The stash.
    pub stash: Stash<'a>,
    steps: Vec<Step>,
    effects: Vec<Effect>,
}

impl Context<'_> {
    /// Opens a screen over this one.
    pub fn open(&mut self, screen: impl Screen + 'static) {
        self.steps.push(Step::Open(Box::new(screen)));
    }

    /// Changes the nearest screen of a type beneath this one, if there is one.
    pub fn tell<T: Screen + 'static>(&mut self, change: impl FnOnce(&mut T)) {
        let mut beneath = self.app.stack.iter_mut().rev();
        let found = beneath.find_map(|screen| {
            let screen: &mut dyn Any = &mut **screen;
            screen.downcast_mut::<T>()
        });
        if let Some(screen) = found {
            change(screen);
        }
    }

    /// Closes this screen.
    pub fn close(&mut self) {
        self.steps.push(Step::Close);
    }

    /// Asks a yes-or-no question.
    pub fn ask_for(&mut self, text: String, then: Then) {
        self.open(Question::new(text, then));
    }

    /// Requests an undo of the last event. Asks first if another window recorded it, or if it is
    /// older than the opening of the board.
    pub fn undo(&mut self) {
        if let Some(why) = self.stash.read_only {
            return self.app.complain(why);
        }
        let Some(past) = self.stash.history.last_done() else {
            return self.ask(Effect::Undo { seq: 0 });
        };
        let seq = past.seq;
        let who = match (self.stash.last_is_others, seq <= self.app.opened_after) {
            (true, _) => "Another window did this",
            (false, true) => "This was done before you opened the board",
            (false, false) => return self.ask(Effect::Undo { seq }),
        };
        let what = text::history::act(self.stash.state, &past.act);
        let question = format!("{who}: {what}. Undo it?");
        self.ask_for(question, Then::Undo(seq));
    }

    /// Says that a key does nothing here.
    pub fn nothing(&mut self, key: Key) {
        // Someone typing a word here may miss that one of its letters changed something.
        match self.app.last_notice.take() {
            Some(change) if change.undo => self.app.notice = Some(change),
            _ => (self.app).say(format!("{key} does nothing here; ? shows the keys")),
        }
    }

    /// Performs an action on whatever is topmost afterwards.
    pub fn then(&mut self, action: Action) {
        self.steps.push(Step::Act(action));
    }

    /// Requests an effect.
    pub fn ask(&mut self, effect: Effect) {
        self.effects.push(effect);
    }

    /// Requests that an event be recorded, or shows why there is none.
    pub fn commit(&mut self, event: Result<Event, Refusal>) {
        if let Some(why) = self.stash.read_only {
            return self.app.complain(why);
        }
        match event {
            Ok(event) => self.ask(Effect::Commit(event)),
            Err(refusal) => self.app.complain(on_screen(&refusal)),
        }
    }
}

/// Runs the topmost screen and applies its changes to the stack. `None` if the stack is empty;
/// otherwise whether the screen closed itself, its effects, and the actions left to perform.
pub(in crate::tui) fn on_top(
    app: &mut App,
    stash: Stash<'_>,
    does: impl FnOnce(&mut dyn Screen, &mut Context<'_>),
) -> Option<Outcome> {
    let top = app.stack.len().checked_sub(1)?;
    Some(on(app, stash, top, does))
}

/// Like [`on_top`], for any screen. New screens open on top of the stack.
pub(in crate::tui) fn on(
    app: &mut App,
    stash: Stash<'_>,
    at: usize,
    does: impl FnOnce(&mut dyn Screen, &mut Context<'_>),
) -> Outcome {
    let mut screen = app.stack.remove(at);
    app.acting = Some(screen.extent());
    let (steps, effects) = with_context(app, stash, |context| does(&mut *screen, context));
    app.acting = None;
    app.stack.insert(at, screen);
    let mut outcome = Outcome {
        closed: false,
        effects,
        actions: Vec::new(),
    };
    for step in steps {
        match step {
            Step::Open(screen) => app.stack.push(screen),
            Step::Close if !outcome.closed => {
                app.stack.remove(at);
                outcome.closed = true;
            }
            Step::Close => {}
            Step::Act(action) => outcome.actions.push(action),
        }
    }
    outcome
}

fn with_context(
    app: &mut App,
    stash: Stash<'_>,
    does: impl FnOnce(&mut Context<'_>),
) -> (Vec<Step>, Vec<Effect>) {
    let mut context = Context {
        app,
        stash,
        steps: Vec::new(),
        effects: Vec::new(),
    };
    does(&mut context);
    (context.steps, context.effects)
}

/// Runs the board itself, beneath all screens, with the same requests that a screen has.
pub(in crate::tui) fn beneath(
    app: &mut App,
    stash: Stash<'_>,
    does: impl FnOnce(&mut Context<'_>),
) -> Vec<Effect> {
    let (steps, effects) = with_context(app, stash, does);
    for step in steps {
        if let Step::Open(screen) = step {
            app.stack.push(screen);
        }
    }
    effects
}

/// The result of running a screen.
#[derive(Debug)]
pub(in crate::tui) struct Outcome {
    /// Whether it closed itself.
    pub closed: bool,
    /// The requested effects.
    pub effects: Vec<Effect>,
    /// Actions for the next screen.
    pub actions: Vec<Action>,
}
