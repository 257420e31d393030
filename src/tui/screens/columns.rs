//! The page of columns: what each column of a list means. Card lists and chart keys share it.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::keyboard::has;
use crate::exchange::{Column, Columns, Found};
use crate::tui::app::App;
use crate::tui::app::screen::Context;
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::widgets::list::{List, in_view, stepped};
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::{fit, pad, paragraph, search_line};
use crate::tui::widgets::window;

/// The most columns for a column's title, and those for its meaning.
const TITLE: usize = 22;
const MEANS: usize = 17;

/// The columns of a list with their meanings, and the window in which one is chosen.
#[derive(Clone, Debug)]
pub struct ColumnsPage {
    /// The file's name.
    pub file: String,
    /// The columns as found in the file.
    pub found: Found,
    /// Their meanings.
    pub columns: Columns,
    /// Index of the selected column.
    pub at: usize,
    /// The filter text and the index of the selected match, while a meaning is chosen.
    choice: Option<(Field, usize)>,
}

/// The name of a meaning.
fn title(choice: Option<Column>) -> &'static str {
    choice.map_or("not used", Column::title)
}

/// A meaning, explained for a first-time user.
fn meaning(column: Option<Column>) -> &'static str {
    column.map_or("leave this column out", Column::meaning)
}

impl ColumnsPage {
    /// The columns of a file with their guessed meanings.
    pub fn new(file: String, found: Found) -> Self {
        Self {
            file,
            columns: found.guess.clone(),
            found,
            at: 0,
            choice: None,
        }
    }

    /// The scope of the keys: that of the columns, or of the meanings to choose from.
    pub const fn scope(&self) -> Scope {
        match self.choice {
            None => Scope::Matching,
            Some(_) => Scope::Meaning,
        }
    }

    /// The meaning of the selected column.
    fn meant(&self) -> Option<Column> {
        self.meaning_at(self.at)
    }

    fn meaning_at(&self, at: usize) -> Option<Column> {
        self.columns.uses.get(at).copied().flatten()
    }

    /// The possible meanings of the selected column, in cycling order: meanings that no other column
    /// uses come first. `None` leaves the column out.
    fn choices(&self) -> Vec<Option<Column>> {
        let uses = self.columns.uses.iter().enumerate();
        let others: Vec<Option<Column>> = uses
            .filter(|(at, _)| *at != self.at)
            .map(|(_, of)| *of)
            .collect();
        let (taken, free): (Vec<_>, Vec<_>) = Column::as_asked(self.found.known)
            .into_iter()
            .map(Some)
            .partition(|choice| others.contains(choice));
        [vec![None], free, taken].concat()
    }

    /// The meanings that match the filter.
    fn matches(&self, typed: &str) -> Vec<Option<Column>> {
        let is_found = |choice: &Option<Column>| {
            has(&format!("{} {}", title(*choice), meaning(*choice)), typed)
        };
        self.choices().into_iter().filter(is_found).collect()
    }

    /// Sets the meaning of the selected column. Another column with that meaning is left out from
    /// now on.
    fn mean(&mut self, column: Option<Column>) {
        for (at, used) in self.columns.uses.iter_mut().enumerate() {
            if at == self.at {
                *used = column;
            } else if column.is_some() && *used == column {
                *used = None;
            }
        }
    }

    /// Gives the selected column the next or previous meaning.
    fn turn(&mut self, on: bool) {
        let all = self.choices();
        let Some(place) = self.columns.uses.get_mut(self.at) else {
            return;
        };
        let now = all.iter().position(|choice| choice == place).unwrap_or(0);
        let next = if on { now + 1 } else { now + all.len() - 1 };
        *place = all.get(next % all.len()).copied().flatten();
    }

    /// Whether another column has the same meaning as this one.
    #[must_use]
    pub fn is_twice(&self, at: usize) -> bool {
        let meant = self.meaning_at(at);
        let alike = self.columns.uses.iter().filter(|other| **other == meant);
        meant.is_some() && alike.count() > 1
    }

    /// Why the list can't be read with these columns, and what to press.
    pub fn problem(&self) -> Option<String> {
        let uses = &self.columns.uses;
        if let Some(at) = (0..uses.len()).find(|&at| self.is_twice(at)) {
            return Some(format!(
                "Two columns are '{title}'. Go to one of them and press Space to choose another meaning.",
                title = title(uses[at])
            ));
        }
        let of = if self.is_of_key() { "colour" } else { "card" };
        (!uses.contains(&Some(Column::Number))).then(|| {
            format!(
                "Which column has the number of the {of}? Go to it with Up and Down, press Space and choose 'number'."
            )
        })
    }

    fn is_of_key(&self) -> bool {
        self.found.known == Column::OF_KEY
    }

    /// What the first line of the file is: `The first line has titles`.
    pub fn first_line(&self) -> &'static str {
        match (self.columns.header, self.is_of_key()) {
            (true, _) => "The first line has titles",
            (false, true) => "The first line is a colour",
            (false, false) => "The first line is a card",
        }
    }

    /// Performs the action of a key on the columns, or on the meanings to choose from. Returns
    /// whether the list reads differently now.
    pub fn act(&mut self, context: &mut Context<'_>, action: Action) -> bool {
        if let Some((field, at)) = &self.choice {
            let found = self.matches(field.text());
            let chosen = stepped(*at, found.len(), action);
            return self.choose(context, action, &found, chosen);
        }
        match action {
            Action::Up => self.at = self.at.saturating_sub(1),
            Action::Down => self.at = (self.at + 1).min(self.found.count().saturating_sub(1)),
            Action::Right | Action::Left => self.turn(action == Action::Right),
            Action::Header => self.columns.header = !self.columns.header,
            Action::Select => {
                let meant = self.meant();
                let at = self.choices().iter().position(|&choice| choice == meant);
                self.choice = Some((Field::default(), at.unwrap_or(0)));
            }
            _ => {}
        }
        matches!(action, Action::Right | Action::Left | Action::Header)
    }

    fn choose(
        &mut self,
        context: &mut Context<'_>,
        action: Action,
        found: &[Option<Column>],
        chosen: usize,
    ) -> bool {
        match (action, found.get(chosen)) {
            (Action::Cancel, _) => self.choice = None,
            (Action::Accept, Some(&column)) => {
                self.choice = None;
                self.mean(column);
                return true;
            }
            (Action::Accept, None) => context.app.complain("No meaning has these words."),
            _ => {
                if let Some((_, at)) = &mut self.choice {
                    *at = chosen;
                }
            }
        }
        false
    }

    /// Takes a key as text for the filter.
    pub fn typed(&mut self, key: Key) {
        if let Some((field, at)) = &mut self.choice
            && field.press(key)
        {
            *at = 0;
        }
    }

    /// Takes a pasted text for the filter.
    pub fn pasted(&mut self, text: &str) -> LeftOut {
        match &mut self.choice {
            Some((field, _)) => field.insert(text),
            None => LeftOut::default(),
        }
    }

    /// The filter text, while a meaning is chosen.
    #[cfg(test)]
    pub fn field(&self) -> Option<&Field> {
        self.choice.as_ref().map(|(field, _)| field)
    }
}

/// Drawing.
impl ColumnsPage {
    /// The areas of the columns and of the preview: side by side if there is space.
    pub fn parts(&self, body: Rect) -> (Rect, Rect) {
        if body.width >= 100 {
            let right = body.width - (body.width * 9 / 20).min(90);
            return pane::with_right(body, right);
        }
        // The preview keeps half of the space.
        let wanted = u16::try_from(self.found.count()).unwrap_or(u16::MAX);
        let upper = wanted.saturating_add(4).min(body.height / 2);
        pane::with_foot(body, body.height - upper)
    }

    /// Draws the columns.
    pub fn draw(&self, app: &App, area: Rect, buffer: &mut Buffer) {
        let count = self.found.count();
        let at = format!("column {} of {count}", self.at + 1);
        let heading = format!("Which column is what? {}", self.file);
        let pane = Pane {
            title: &heading,
            counter: &at,
            focus: true,
        };
        let inside = pane.draw(&app.theme, area, buffer);
        let width = usize::from(inside.width);
        let mut foot = paragraph(&self.explained(), width, app.theme.muted());
        let height = usize::from(inside.height);
        foot.truncate(height / 3);
        let room = height.saturating_sub(foot.len() + 1).clamp(1, count.max(1));
        let titles = (0..count).map(|at| self.found.title(&self.columns, at).width());
        let title = titles
            .max()
            .unwrap_or(0)
            .clamp(6, TITLE.min(width / 3).max(6));
        let rows = u16::try_from(room).unwrap_or(inside.height);
        let (columns, below) = pane::with_foot(inside, inside.height.saturating_sub(rows));
        let listed = List {
            at: self.at,
            count,
            each: 1,
        };
        listed.draw(&app.theme, columns, buffer, |at, width| {
            vec![self.line(app, at, title, width)]
        });
        let gap = usize::from(below.height).saturating_sub(foot.len()).min(1);
        let gap = u16::try_from(gap).unwrap_or(0);
        for (line, y) in foot.into_iter().zip(below.y + gap..below.bottom()) {
            buffer.set_line(below.x, y, &line, below.width);
        }
    }

    /// An explanation of the selected column.
    fn explained(&self) -> String {
        let titles = self.first_line();
        match self.meant() {
            Some(of) => format!("{}: {}. {titles} (t).", of.title(), of.meaning()),
            None => format!("Not used. Space gives it a meaning. {titles} (t)."),
        }
    }

    /// A column: its title, its meaning and its first values.
    fn line(&self, app: &App, at: usize, wide: usize, width: usize) -> Line<'static> {
        let theme = &app.theme;
        let meant = self.meaning_at(at);
        let here = at == self.at;
        let name = pad(&self.found.title(&self.columns, at), wide);
        let values: Vec<&str> = self.found.values(&self.columns, at).take(6).collect();
        let room = width.saturating_sub(wide + MEANS + 4);
        let values = pad(&values.join(" · "), room);
        let style = match meant {
            _ if self.is_twice(at) => theme.wrong(),
            Some(_) => theme.accent(),
            None => theme.faint(),
        };
        let line = Line::from(vec![
            Span::styled(if here { "▸ " } else { "  " }, theme.accent()),
            Span::raw(format!("{name} ")),
            Span::styled(pad(title(meant), MEANS), style),
            Span::styled(format!(" {values}"), theme.muted()),
        ]);
        if here { line.style(theme.row()) } else { line }
    }

    /// Draws the window of the meanings to choose from, if it is open.
    pub fn draw_choice(&self, app: &App, frame: &mut Frame<'_>, body: Rect) {
        let Some((field, at)) = &self.choice else {
            return;
        };
        let found = self.matches(field.text());
        let theme = &app.theme;
        let width = 72.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let heading = format!("What is '{}'?", self.found.title(&self.columns, self.at));
        let values: Vec<&str> = (self.found.values(&self.columns, self.at).take(8)).collect();
        let mut lines = vec![Line::styled(
            fit(&format!("It has {}", values.join(" · ")), inner),
            theme.muted(),
        )];
        lines.extend(search_line(theme, field, inner));
        if found.is_empty() {
            lines.push(Line::styled("No meaning has these words.", theme.wrong()));
        }
        let room = usize::from(body.height)
            .saturating_sub(lines.len() + 2)
            .max(1);
        for row in in_view(*at, found.len(), room) {
            let Some(&choice) = found.get(row) else {
                continue;
            };
            let taken =
                choice.is_some() && choice != self.meant() && self.columns.uses.contains(&choice);
            let says = match taken {
                true => format!("{} (in use)", meaning(choice)),
                false => meaning(choice).to_owned(),
            };
            let here = row == *at;
            let line = Line::from(vec![
                Span::styled(if here { "▸ " } else { "  " }, theme.accent()),
                Span::styled(pad(title(choice), MEANS), theme.strong()),
                Span::styled(pad(&says, inner.saturating_sub(MEANS + 2)), theme.muted()),
            ]);
            lines.push(if here { line.style(theme.row()) } else { line });
        }
        let inside = window::draw(&app.theme, &heading, (width, lines.len()), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
    }
}
