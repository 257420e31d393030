//! The history: what changed, when and by whom, newest first.

use crate::tui::message::PastEvent;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::widgets::list;
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{day_and_time, fit, pad, wrap};

/// The most events shown; `homehook history` lists them all.
pub const MOST: usize = 1000;

/// The screen.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct History {
    entries: Vec<PastEvent>,
    /// Index of the first event shown.
    top: usize,
}

impl History {
    /// The screen with its events, newest first.
    #[must_use]
    pub const fn of(entries: Vec<PastEvent>) -> Self {
        Self { entries, top: 0 }
    }
}

impl Screen for History {
    fn scope(&self) -> Scope {
        Scope::Log
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let (width, height) = context.app.size;
        let page = usize::from(layout::parts(width, height).body.height) / 2;
        let last = self.entries.len().saturating_sub(1);
        self.top = match action {
            Action::First => 0,
            // Show some of the events before the last, too.
            Action::Last => last.saturating_sub(page.saturating_sub(1)),
            Action::PageUp => self.top.saturating_sub(page),
            Action::PageDown => (self.top + page).min(last),
            Action::Cancel => return context.close(),
            action => stepped(self.top, last + 1, action),
        };
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let counter = list::counter(self.top, self.entries.len());
        let pane = Pane {
            title: "History",
            counter: &counter,
            focus: true,
        };
        let area = pane.draw(&app.theme, body, frame.buffer_mut());
        let width = usize::from(area.width);
        let mut lines = Vec::new();
        if self.entries.is_empty() {
            lines.push(Line::styled("Nothing recorded yet.", app.theme.muted()));
        }
        for entry in self.entries.iter().skip(self.top) {
            if lines.len() >= usize::from(area.height) {
                break;
            }
            lines.extend(entry.lines(app, width));
        }
        frame.render_widget(Paragraph::new(lines), area);
    }
}

impl PastEvent {
    /// An event on one line, or more for a long sentence.
    fn lines(&self, app: &App, width: usize) -> Vec<Line<'static>> {
        let when = day_and_time(self.time, app.now);
        let left = format!("{:>6}  {} ", self.seq, pad(&when, 17));
        let by = self.by.as_ref().map(|by| format!(", by {by}"));
        let undone = self.taken_back_by.map(|seq| format!(" (undone by {seq})"));
        let colon = if self.which.is_empty() { "" } else { ": " };
        let what = format!(
            "{}{}{}{colon}{}",
            self.what,
            undone.unwrap_or_default(),
            by.unwrap_or_default(),
            self.which
        );
        let style = match self.taken_back_by {
            Some(_) => app.theme.faint(),
            None => Style::new(),
        };
        let room = width.saturating_sub(left.len()).max(1);
        let blank = " ".repeat(left.len());
        let words = wrap(&what, room).into_iter().enumerate();
        let line = |(at, words)| {
            let before = if at == 0 { &left } else { &blank };
            Line::from(vec![
                Span::styled(fit(before, width), app.theme.faint()),
                Span::styled(words, style),
            ])
        };
        words.map(line).collect()
    }
}
