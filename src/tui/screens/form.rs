//! Forms: lines to fill in, stacked in a window.
//!
//! A form is a struct with an [`Input`] for each line, which implements [`Fields`]. [`Form`] is the
//! screen for any of them.

use std::fmt::Debug;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use crate::model::length::{Length, Unit};
use crate::stash::event::{Act, Event};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::capital;
use crate::text::faults::length_error;
#[cfg(test)]
use crate::tui::app::screen::Blank;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::{Effect, Message};
use crate::tui::refused::on_screen;
use crate::tui::widgets::chooser::{Choice, Chooser};
use crate::tui::widgets::text::{fit, pad, paragraph, told, typed, wrap};
use crate::tui::widgets::window;

/// The widest form window.
const WIDEST: u16 = 76;

/// The content of a line.
#[derive(Clone, PartialEq, Eq, Debug)]
enum Kind {
    /// Any text.
    Text(Field),
    /// A file path, with its completions.
    File(Field, Vec<String>),
    /// One of several options.
    Choice(Chooser),
}

/// A line of a form.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Input {
    label: &'static str,
    hint: &'static str,
    kind: Kind,
}

impl Input {
    /// A text line. Typing replaces the default text.
    #[must_use]
    pub fn text(label: &'static str, hint: &'static str, offered: &str) -> Self {
        let kind = Kind::Text(Field::offered(offered));
        Self { label, hint, kind }
    }

    /// A file path.
    #[must_use]
    pub fn file(label: &'static str, hint: &'static str) -> Self {
        let kind = Kind::File(Field::default(), Vec::new());
        Self { label, hint, kind }
    }

    /// The same line with a text entered earlier.
    #[must_use]
    pub fn with(mut self, text: &str) -> Self {
        if let Kind::Text(field) | Kind::File(field, _) = &mut self.kind {
            *field = Field::with(text);
        }
        self
    }

    /// One of several options.
    #[must_use]
    pub const fn choice(label: &'static str, hint: &'static str, chooser: Chooser) -> Self {
        let kind = Kind::Choice(chooser);
        Self { label, hint, kind }
    }

    /// One of several options that need no description.
    #[must_use]
    pub fn one_of(
        label: &'static str,
        hint: &'static str,
        all: impl IntoIterator<Item = impl Into<String>>,
        chosen: &str,
    ) -> Self {
        let choices = all.into_iter().map(|value| Choice::new(value, ""));
        Self::choice(label, hint, Chooser::of(choices.collect(), chosen))
    }

    /// Sets a default text that typing replaces.
    pub fn offer(&mut self, text: &str) {
        if let Kind::Text(field) = &mut self.kind {
            *field = Field::offered(text);
        }
    }

    /// Its label.
    #[must_use]
    pub const fn label(&self) -> &'static str {
        self.label
    }

    /// The text entered or chosen, trimmed.
    #[must_use]
    pub fn value(&self) -> &str {
        match &self.kind {
            Kind::Text(field) | Kind::File(field, _) => field.text().trim(),
            Kind::Choice(chooser) => chooser.value(),
        }
    }

    /// The text; `None` if empty.
    #[must_use]
    pub fn filled(&self) -> Option<String> {
        Some(self.value().to_owned()).filter(|text| !text.is_empty())
    }

    /// Whether the choice is an existing option rather than typed text.
    #[must_use]
    pub fn is_there(&self) -> bool {
        matches!(&self.kind, Kind::Choice(chooser) if chooser.is_there())
    }

    /// A whole number. An empty line is an error.
    ///
    /// # Errors
    /// When the text isn't a whole number that fits the type.
    pub fn number<T: std::str::FromStr>(&self) -> Result<T, String> {
        self.value().parse().map_err(|_| {
            format!(
                "'{text}' is not a whole number that can be kept.",
                text = self.value()
            )
        })
    }

    /// A whole number; `None` if the line is empty.
    ///
    /// # Errors
    /// When the text isn't a whole number that fits the type.
    pub fn said<T: std::str::FromStr>(&self) -> Result<Option<T>, Wrong> {
        let number = self.filled().map(|_| self.number());
        number.transpose().map_err(|words| Wrong::at(self, words))
    }

    /// A length, in unit `bare` if it names none.
    ///
    /// # Errors
    /// When the text isn't a length.
    pub fn length(&self, bare: Unit) -> Result<Length, Wrong> {
        let read = Length::read(self.value(), bare);
        read.map_err(|wrong| Wrong::at(self, capital(&length_error(&wrong))))
    }

    /// The field being typed in.
    #[cfg(test)]
    pub const fn field(&self) -> &Field {
        match &self.kind {
            Kind::Text(field) | Kind::File(field, _) => field,
            Kind::Choice(chooser) => chooser.field(),
        }
    }

    /// Replaces the text.
    #[cfg(test)]
    pub fn fill(&mut self, text: &str) {
        self.press(Key::ctrl('u'));
        self.paste(text);
    }

    fn press(&mut self, key: Key) {
        match &mut self.kind {
            Kind::Text(field) => {
                field.press(key);
            }
            Kind::File(field, offers) => {
                offers.clear();
                field.press(key);
            }
            Kind::Choice(chooser) => chooser.press(key),
        }
    }

    fn paste(&mut self, text: &str) -> LeftOut {
        match &mut self.kind {
            Kind::Text(field) => field.insert(text),
            Kind::File(field, offers) => {
                offers.clear();
                field.insert(text)
            }
            Kind::Choice(chooser) => chooser.paste(text),
        }
    }

    /// Completes a path from the files found: writes their common beginning, and lists them if
    /// there are several. Returns an error if there are none.
    fn complete(&mut self, asked: &str, found: &[String]) -> Option<String> {
        let Kind::File(field, offers) = &mut self.kind else {
            return None;
        };
        if field.text() != asked {
            return None;
        }
        let Some(first) = found.first() else {
            return Some(match asked {
                "" => "There is no file here. Type where it is, such as ~/cards.csv.".to_owned(),
                asked => format!("No file begins with '{asked}'."),
            });
        };
        let alike = |path: &String| {
            let same = first.chars().zip(path.chars()).take_while(|(x, y)| x == y);
            same.map(|(c, _)| c.len_utf8()).sum()
        };
        let common = found.iter().map(alike).min().unwrap_or(0);
        let common = first.get(..common).unwrap_or_default();
        if common.len() > asked.len() {
            *field = Field::with(common);
        }
        *offers = match found.len() {
            1 => Vec::new(),
            _ => found.to_vec(),
        };
        None
    }

    /// Draws the text and, on the current line, the list that opens below it.
    fn draw(
        &self,
        app: &App,
        here: bool,
        width: usize,
    ) -> (Vec<Span<'static>>, Vec<Line<'static>>) {
        let theme = &app.theme;
        let of_field = |field: &Field| match (here, field.is_offered()) {
            (true, true) => vec![Span::styled(fit(field.text(), width), theme.chosen())],
            (true, false) => typed(theme, field.halves(), width).spans,
            (false, _) => vec![Span::raw(fit(field.text(), width))],
        };
        let below = match &self.kind {
            _ if !here => Vec::new(),
            Kind::Text(_) => Vec::new(),
            Kind::File(_, offers) => offered_files(app, offers, width),
            Kind::Choice(chooser) => chooser.list(&app.theme, width),
        };
        let written = match &self.kind {
            Kind::Text(field) | Kind::File(field, _) => of_field(field),
            Kind::Choice(chooser) => chooser.line(&app.theme, here, width),
        };
        (written, below)
    }
}

#[cfg(test)]
impl Blank for Input {
    fn label(&self) -> &'static str {
        self.label
    }

    fn value(&self) -> &str {
        Self::value(self)
    }

    fn fill(&mut self, text: &str) {
        Self::fill(self, text);
    }
}

/// The completions of the path, by file name.
fn offered_files(app: &App, offers: &[String], width: usize) -> Vec<Line<'static>> {
    const MOST: usize = 6;
    let ends = |c| matches!(c, '/' | '\\');
    let name = |path: &String| {
        let end = path.trim_end_matches(ends).rfind(ends);
        path[end.map_or(0, |at| at + 1)..].to_owned()
    };
    let mut names: Vec<String> = offers.iter().take(MOST).map(name).collect();
    if offers.len() > MOST {
        names.push(format!("and {more} more", more = offers.len() - MOST));
    }
    let line = |name: String| Line::styled(fit(&name, width), app.theme.away());
    names.into_iter().map(line).collect()
}

/// An error in a form: its line, if it is about one, and its text.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Wrong {
    label: Option<&'static str>,
    words: String,
}

impl Wrong {
    /// An error in a line.
    pub fn at(input: &Input, words: impl Into<String>) -> Self {
        Self {
            label: Some(input.label),
            words: words.into(),
        }
    }

    fn sentence(&self) -> String {
        match self.label {
            Some(label) => format!("{label}: {words}", words = self.words),
            None => self.words.clone(),
        }
    }
}

impl From<String> for Wrong {
    fn from(words: String) -> Self {
        Self { label: None, words }
    }
}

impl From<Refusal> for Wrong {
    fn from(refusal: Refusal) -> Self {
        Self::from(on_screen(&refusal))
    }
}

/// The request of a form that was filled in.
#[derive(Debug)]
pub enum Asks {
    /// Record an event.
    Record(Box<Event>),
    /// Request an effect.
    Effect(Effect),
    /// Nothing more; it made its own request.
    Nothing,
}

impl From<Event> for Asks {
    fn from(event: Event) -> Self {
        Self::Record(Box::new(event))
    }
}

/// The contents of a form: its lines and its outcome.
pub trait Fields: Clone + Debug {
    /// The heading.
    fn title(&self, state: &State) -> String;

    /// The lines from top to bottom; never empty.
    fn inputs(&self) -> Vec<&Input>;

    /// The same lines, mutable.
    fn inputs_mut(&mut self) -> Vec<&mut Input>;

    /// Whether Enter may leave a line as it is.
    ///
    /// # Errors
    /// What is wrong with the line.
    fn may_leave(&self, line: usize) -> Result<(), Wrong> {
        let _ = line;
        Ok(())
    }

    /// Updates lines that depend on others. Runs after each key, and may find nothing to do.
    fn follow(&mut self, state: &State) {
        let _ = state;
    }

    /// A note below the lines.
    fn note(&self, state: &State) -> Option<String> {
        let _ = state;
        None
    }

    /// The request of the completed form.
    ///
    /// # Errors
    /// What is wrong with the form.
    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong>;

    /// Its change is on disk, and the form is about to close.
    fn recorded(&self, context: &mut Context<'_>, act: &Act) {
        let _ = (context, act);
    }

    /// A file it requested was read; the form closes afterwards.
    ///
    /// # Errors
    /// What is wrong with the file.
    fn read(&self, context: &mut Context<'_>, bytes: &[u8]) -> Result<(), String> {
        let _ = (context, bytes);
        Ok(())
    }

    /// Files it requested were written, and the form is about to close.
    fn written(&self, context: &mut Context<'_>, files: &[String]) {
        let _ = (context, files);
    }
}

/// The event, or an error if nothing would change.
pub fn something(event: Result<Option<Event>, Refusal>, same: &str) -> Result<Asks, Wrong> {
    match event {
        Ok(Some(event)) => Ok(event.into()),
        Ok(None) => Err(same.to_owned().into()),
        Err(refusal) => Err(refusal.into()),
    }
}

/// Implements the line accessors of `Fields` from the names of struct fields.
macro_rules! inputs {
    ($($($name:ident).+),+ $(,)?) => {
        fn inputs(&self) -> Vec<&$crate::tui::screens::form::Input> {
            vec![$(&self.$($name).+),+]
        }

        fn inputs_mut(&mut self) -> Vec<&mut $crate::tui::screens::form::Input> {
            vec![$(&mut self.$($name).+),+]
        }
    };
}
pub(in crate::tui) use inputs;

/// The screen of a form.
#[derive(Clone, Debug)]
pub struct Form<F> {
    fields: F,
    /// Index of the current line.
    at: usize,
    wrong: Option<Wrong>,
}

impl<F: Fields> Form<F> {
    /// A form as it opens.
    pub const fn new(fields: F) -> Self {
        Self {
            fields,
            at: 0,
            wrong: None,
        }
    }

    fn last(&self) -> usize {
        self.fields.inputs().len().saturating_sub(1)
    }

    /// The current line.
    fn here(&mut self) -> Option<&mut Input> {
        self.wrong = None;
        let at = self.at;
        self.fields.inputs_mut().into_iter().nth(at)
    }

    fn chooser(&mut self) -> Option<&mut Chooser> {
        match &mut self.here()?.kind {
            Kind::Choice(chooser) => Some(chooser),
            _ => None,
        }
    }

    fn go(&mut self, down: bool) {
        let last = self.last();
        self.at = match down {
            true if self.at == last => 0,
            true => self.at + 1,
            false => self.at.checked_sub(1).unwrap_or(last),
        };
    }

    /// Shows an error, and moves the cursor to its line.
    fn tell(&mut self, wrong: Wrong) {
        let is_about = |input: &&Input| Some(input.label) == wrong.label;
        if let Some(at) = self.fields.inputs().iter().position(is_about) {
            self.at = at;
        }
        self.wrong = Some(wrong);
    }

    fn done(&mut self, context: &mut Context<'_>) {
        match self.fields.done(context) {
            Ok(Asks::Record(event)) => context.commit(Ok(*event)),
            Ok(Asks::Effect(effect)) => context.ask(effect),
            Ok(Asks::Nothing) => {}
            Err(wrong) => self.tell(wrong),
        }
    }
}

impl<F: Fields + 'static> Screen for Form<F> {
    fn scope(&self) -> Scope {
        Scope::Form
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let last = self.last();
        match action {
            Action::Complete => match self.here().map(|input| &input.kind) {
                Some(Kind::File(field, _)) => {
                    let typed = field.text().to_owned();
                    context.ask(Effect::ListFiles { typed });
                }
                _ => self.go(true),
            },
            Action::Up | Action::Down => {
                let down = action == Action::Down;
                match self.chooser() {
                    Some(chooser) => {
                        chooser.step(down);
                        self.fields.follow(context.stash.state);
                    }
                    None => self.go(down),
                }
            }
            Action::Previous => self.go(false),
            Action::Accept if self.at < last => match self.fields.may_leave(self.at) {
                Ok(()) => {
                    self.wrong = None;
                    self.at += 1;
                }
                Err(wrong) => self.tell(wrong),
            },
            Action::Accept | Action::Save => self.done(context),
            Action::Cancel => context.close(),
            _ => {}
        }
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        if let Some(input) = self.here() {
            input.press(key);
            self.fields.follow(context.stash.state);
        }
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.fields.follow(context.stash.state);
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        self.here()
            .map_or_else(LeftOut::default, |input| input.paste(text))
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        context.close();
        self.fields.recorded(context, act);
    }

    fn failed(&mut self, _: &mut Context<'_>, wrong: String) {
        self.tell(wrong.into());
    }

    fn answered(&mut self, context: &mut Context<'_>, answer: &Message) -> bool {
        match answer {
            Message::Files { typed, found } => {
                let wrong = self.here().and_then(|input| input.complete(typed, found));
                self.wrong = wrong.map(Wrong::from);
            }
            Message::FileRead { bytes, .. } => {
                let read = bytes.as_ref().map_err(Clone::clone);
                match read.and_then(|bytes| self.fields.read(context, bytes)) {
                    Ok(()) => context.close(),
                    Err(wrong) => self.tell(wrong.into()),
                }
            }
            Message::Written(Ok(files)) => {
                context.close();
                self.fields.written(context, files);
            }
            Message::Written(Err(wrong)) => self.tell(wrong.clone().into()),
            _ => return false,
        }
        true
    }

    #[cfg(test)]
    fn field(&self) -> Option<&Field> {
        let inputs = self.fields.inputs();
        inputs.get(self.at).map(|input| input.field())
    }

    #[cfg(test)]
    fn inputs(&mut self) -> Vec<&mut dyn Blank> {
        let inputs = self.fields.inputs_mut().into_iter();
        inputs.map(|input| input as &mut dyn Blank).collect()
    }

    #[cfg(test)]
    fn line(&mut self) -> Option<&mut usize> {
        Some(&mut self.at)
    }

    #[cfg(test)]
    fn wrong(&self) -> Option<String> {
        self.wrong.as_ref().map(Wrong::sentence)
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let width = WIDEST.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let inputs = self.fields.inputs();
        let labels = inputs.iter().map(|input| input.label.width() + 2);
        let label = labels.max().unwrap_or(0).max(10);
        let room = inner.saturating_sub(label);
        let wrong = self.wrong.as_ref().map(Wrong::sentence);
        // An error takes the place of the note.
        let wrong = match (wrong, self.fields.note(stash.state)) {
            (Some(wrong), _) => paragraph(&told(&wrong), inner, app.theme.wrong()),
            (None, Some(note)) => paragraph(&note, inner, app.theme.muted()),
            (None, None) => Vec::new(),
        };
        let mut lines = vec![Line::default()];
        for (at, input) in inputs.iter().enumerate() {
            let here = at == self.at;
            let style = match here {
                true => app.theme.strong(),
                false => app.theme.muted(),
            };
            let (written, below) = input.draw(app, here, room);
            let mut spans = vec![Span::styled(pad(input.label, label), style)];
            spans.extend(written);
            lines.push(Line::from(spans));
            if !here {
                continue;
            }
            let indent = || Span::raw(" ".repeat(label));
            if !input.hint.is_empty() {
                for hint in wrap(input.hint, room) {
                    let hint = Span::styled(hint, app.theme.faint());
                    lines.push(Line::from(vec![indent(), hint]));
                }
            }
            // The open list shrinks if the window has no space for it.
            let rest = inputs.len() - at + wrong.len() + 3;
            let free = usize::from(body.height).saturating_sub(lines.len() + rest);
            lines.extend(below.into_iter().take(free).map(|line| {
                let spans = std::iter::once(indent()).chain(line.spans.into_iter().map(|span| {
                    let style = line.style.patch(span.style);
                    Span::styled(span.content, style)
                }));
                Line::from(spans.collect::<Vec<_>>())
            }));
        }
        lines.push(Line::default());
        lines.extend(wrong);
        let title = self.fields.title(stash.state);
        let inside = window::draw(&app.theme, &title, (width, lines.len()), frame, body);
        frame.render_widget(Paragraph::new(lines).style(Style::new()), inside);
    }
}
