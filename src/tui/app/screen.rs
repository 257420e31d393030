//! The stack of screens: what each can do, and what it can ask for.
//!
//! The topmost screen has the keys. It changes only itself and what is the same for all screens, in [`App`]; a
//! change of the stash, a file or another screen is asked for through its [`Context`].

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
    /// Which keys hold.
    fn scope(&self) -> Scope;

    /// How much of the screen it takes.
    fn extent(&self) -> Extent {
        Extent::Whole
    }

    /// What it wants seen on the board, where that is in view.
    fn lights<'a>(&'a self, app: &'a App, state: &'a State) -> Lights<'a> {
        let _ = (app, state);
        Lights::default()
    }

    /// Does what a key asks for.
    fn act(&mut self, context: &mut Context<'_>, action: Action);

    /// Takes a key that no action is bound to.
    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        context.nothing(key);
    }

    /// Takes text that was pasted, and gives what it could not take; it is settled afterwards.
    fn pasted(&mut self, text: &str) -> LeftOut {
        let _ = text;
        LeftOut::default()
    }

    /// The mouse's button was pressed at a column and a row of the screen.
    fn clicked(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let _ = (context, column, row);
    }

    /// The line that is typed now, where there is one.
    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        None
    }

    /// What it is called in the code.
    #[cfg(test)]
    fn name(&self) -> &'static str {
        std::any::type_name::<Self>()
    }

    /// The lines that can be filled in, where it is a form.
    #[cfg(test)]
    fn inputs(&mut self) -> Vec<&mut dyn Blank> {
        Vec::new()
    }

    /// Which of its lines is being written, where it is a form.
    #[cfg(test)]
    fn line(&mut self) -> Option<&mut usize> {
        None
    }

    /// What is wrong with it, where it is a form.
    #[cfg(test)]
    fn wrong(&self) -> Option<String> {
        None
    }

    /// What is asked, where it is a question.
    #[cfg(test)]
    fn question(&self) -> Option<&str> {
        None
    }

    /// The mouse moved to a column and a row with its button down.
    fn dragged(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let _ = (context, column, row);
    }

    /// The mouse's button went up at a column and a row.
    fn released(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let _ = (context, column, row);
    }

    /// Whether an action can be done now, where that is cheap to know: a key that does nothing now is not offered.
    fn can(&self, app: &App, stash: Stash<'_>, action: Action) -> bool {
        let _ = (app, stash, action);
        true
    }

    /// A change that was asked for from here, or from a window over it, is on disk.
    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let _ = (context, act);
    }

    /// A change that was asked for is not on disk, and nothing was changed.
    fn failed(&mut self, context: &mut Context<'_>, wrong: String) {
        context.app.complain(wrong);
    }

    /// Takes the answer to something that was asked for outside, other than a change; says whether it waited for it.
    /// The screens are asked from the topmost down.
    fn answered(&mut self, context: &mut Context<'_>, answer: &Message) -> bool {
        let _ = (context, answer);
        false
    }

    /// Brings it up to a stash that another window changed, or that was changed while another screen lay over it; it
    /// may close itself.
    fn settle(&mut self, context: &mut Context<'_>) {
        let _ = context;
    }

    /// The step of a walk that is shown, in a short sentence to be said aloud; `None` where there is none.
    fn spoken(&self, state: &State) -> Option<String> {
        let _ = state;
        None
    }

    /// What stands above it in a line of so many columns; `None` for the board's own title.
    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let _ = (app, stash, width);
        None
    }

    /// Draws it between the title and the status line, or in the pane beside the board.
    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect);
}

/// What a screen wants seen on the board.
#[derive(Default, Debug)]
pub struct Lights<'a> {
    /// The hook that the walk leads to.
    pub target: Option<HookRef>,
    /// The hook that the step of the walk starts from.
    pub source: Option<HookRef>,
    /// A plan to be shown in place of the wall as it is.
    pub plan: Option<&'a WallPlan>,
    /// While a card is being hung, the free hooks that keep the order.
    pub fitting: Option<HashSet<HookRef>>,
    /// While something is looked for, the hooks it was found on; all others are dimmed.
    pub found: Option<HashSet<HookRef>>,
}

/// Which way a plan takes a card.
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
    /// From one hook to another.
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

    /// The character that shows it.
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

/// The wall by a plan for a re-hang.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct WallPlan {
    /// Whether it is shown as it will be, not as it is.
    pub after: bool,
    /// Who will belong on each hook.
    pub homes: HashMap<HookRef, Vec<CardId>>,
    /// The cards whose home changes or is new, and which way they go.
    pub ways: HashMap<CardId, Way>,
}

/// A line that can be filled in.
#[cfg(test)]
pub trait Blank {
    /// What it is called.
    fn label(&self) -> &'static str;
    /// What is written there.
    fn value(&self) -> &str;
    /// Writes a text in place of that.
    fn fill(&mut self, text: &str);
}

/// How much of the screen a screen takes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Extent {
    /// All between the title and the status line.
    Whole,
    /// A pane beside the board, which shows what the screen lights.
    Beside,
    /// The pane of the card under the cursor; the board stays as large as it is.
    InPane,
    /// A window over what lies beneath.
    Window,
}

/// A screen that can be copied, for tests that go several ways from one place.
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

/// What is to become of the stack.
#[derive(Debug)]
enum Step {
    /// A screen comes on top.
    Open(Box<dyn Screen>),
    /// The screen that asks goes.
    Close,
    /// What is on top then does what a key would ask for.
    Act(Action),
}

/// What a screen works with while it takes a message.
pub struct Context<'a> {
    /// What is the same for all screens. The stack in it is what lies beneath.
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

    /// Changes the nearest screen of a kind that lies beneath, where there is one.
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

    /// Asks for a yes or a no.
    pub fn ask_for(&mut self, text: String, then: Then) {
        self.open(Question::new(text, then));
    }

    /// Asks for the last event to be undone; where another window made it, or it was made before the board was opened,
    /// only after a yes.
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
        // Somebody who types a word here may miss that one of its letters changed something.
        match self.app.last_notice.take() {
            Some(change) if change.undo => self.app.notice = Some(change),
            _ => (self.app).say(format!("{key} does nothing here; ? shows the keys")),
        }
    }

    /// Lets what is on top afterwards do an action.
    pub fn then(&mut self, action: Action) {
        self.steps.push(Step::Act(action));
    }

    /// Asks for something outside.
    pub fn ask(&mut self, effect: Effect) {
        self.effects.push(effect);
    }

    /// Asks for an event to be recorded, or says why there is none.
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

/// Lets the topmost screen do something, and does with the stack what it asks for. `None` where the stack is
/// empty; else whether that screen closed itself, what is asked for outside, and the actions left to do.
pub(in crate::tui) fn on_top(
    app: &mut App,
    stash: Stash<'_>,
    does: impl FnOnce(&mut dyn Screen, &mut Context<'_>),
) -> Option<Outcome> {
    let top = app.stack.len().checked_sub(1)?;
    Some(on(app, stash, top, does))
}

/// As [`on_top`], for any of the screens. What it opens comes on top of all.
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

/// Lets what lies beneath all screens ask for what a screen can ask for.
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

/// What came of letting a screen do something.
#[derive(Debug)]
pub(in crate::tui) struct Outcome {
    /// Whether it closed itself.
    pub closed: bool,
    /// What is asked for outside.
    pub effects: Vec<Effect>,
    /// What the next screen is to do.
    pub actions: Vec<Action>,
}
