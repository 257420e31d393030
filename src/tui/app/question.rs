//! A yes-or-no question.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use crate::stash::event::Event;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::Effect;
use crate::tui::widgets::text::paragraph;
use crate::tui::widgets::window;

/// The effect of a yes.
#[derive(Clone, Debug)]
pub enum Then {
    /// Record an event.
    Record(Box<Event>),
    /// Undo the event with this number.
    Undo(u64),
    /// Leave it to the screen beneath, which asked.
    Act(Action),
}

/// A question.
#[derive(Clone, Debug)]
pub struct Question {
    /// The text.
    pub text: String,
    /// The effect of a yes.
    pub then: Then,
    /// The effect of a no; `None` means nothing happens.
    pub otherwise: Option<Then>,
}

impl Question {
    /// A question whose "no" changes nothing.
    pub fn new(text: impl Into<String>, then: Then) -> Self {
        Self {
            text: text.into(),
            then,
            otherwise: None,
        }
    }
}

impl Then {
    fn follow(&self, context: &mut Context<'_>) {
        context.close();
        match self.clone() {
            Self::Record(event) => context.commit(Ok(*event)),
            Self::Undo(seq) => context.ask(Effect::Undo { seq }),
            Self::Act(action) => context.then(action),
        }
    }
}

impl Screen for Question {
    fn scope(&self) -> Scope {
        Scope::Confirm
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        match action {
            Action::Accept => self.then.follow(context),
            Action::Decline => match &self.otherwise {
                Some(then) => then.follow(context),
                None => context.close(),
            },
            Action::Cancel => context.close(),
            _ => {}
        }
    }

    #[cfg(test)]
    fn question(&self) -> Option<&str> {
        Some(&self.text)
    }

    /// Enter is pressed too often to count as a yes.
    fn typed(&mut self, context: &mut Context<'_>, _: Key) {
        context.app.say("Press y for yes or n for no");
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let width = 60.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let mut lines = vec![Line::default()];
        lines.extend(paragraph(&self.text, inner, Style::new()));
        lines.push(Line::default());
        lines.push(Line::styled("y  yes     n  no", app.theme.strong()));
        let height = lines.len() + 1;
        let inside = window::draw(&app.theme, "Question", (width, height), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
    }
}
