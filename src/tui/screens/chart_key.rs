//! A project's chart key before it is imported: its preview, and what its columns mean.

use std::sync::Arc;

use jiff::Timestamp;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::columns::ColumnsPage;
use super::project::ProjectPage;
use super::project::forms::key_form_again;
use crate::exchange::{Column, look_over, plain, read_key_as};
use crate::model::colour::Srgb;
use crate::model::ring::KeyLine;
use crate::stash::command::import;
use crate::stash::command::key::{self, Keyed};
use crate::stash::event::{Act, Change};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::files::{file_error, looks_like_cards, rejected, to_check};
use crate::text::places::brief_of;
use crate::text::refusal::row_fault;
use crate::text::thread::{colour, owned_colours, owned_elsewhere, stitches};
use crate::text::{self, one_or_many};
use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::field::LeftOut;
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::refused::on_screen;
use crate::tui::told::told;
use crate::tui::widgets::list::{bar, counter, stepped};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, pad, paragraph, shown, wrap};
use crate::tui::widgets::window;

/// Columns before the text of a line.
const HEAD: usize = 8;

/// The style of a line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Kind {
    Heading,
    Wrong,
    Away,
    Plain,
}

/// A line of the preview.
#[derive(Clone, Debug)]
struct Entry {
    kind: Kind,
    head: String,
    colour: Option<Srgb>,
    words: String,
}

/// The screen.
#[derive(Clone, Debug)]
pub struct ChartKey {
    page: ColumnsPage,
    /// The path, as requested.
    path: String,
    /// The file's contents, as UTF-8 text.
    text: Arc<str>,
    /// Warnings about how it was read.
    to_check: Vec<String>,
    project: String,
    /// The range of rows that name none; may be empty.
    range: String,
    /// Its result, or the problem with the columns.
    judged: Result<Judged, String>,
    /// Whether the columns are shown beside the preview.
    with_columns: bool,
    /// First line shown.
    top: usize,
}

/// The result of the chart key with its current columns.
#[derive(Clone, Debug)]
struct Judged {
    keyed: Keyed,
    entries: Vec<Entry>,
    /// The column titles that make it look like a card list.
    card_titles: Vec<String>,
}

impl ChartKey {
    /// Reads a chart key from a file, or from one of its sheets, for a project. `range` is for rows
    /// that name none and may be empty. Where its columns are unclear, or no row can be taken, it opens
    /// with the columns.
    ///
    /// # Errors
    /// Why the file isn't a list, or why the stash can't take the chart key.
    pub fn read(
        state: &State,
        (file, project, range): (&str, &str, &str),
        (bytes, sheet): (&[u8], Option<&str>),
        now: Timestamp,
    ) -> Result<Self, String> {
        let read = plain(bytes.to_vec(), sheet).map_err(|error| file_error(&error))?;
        let found = look_over(read.text.as_bytes(), &Column::OF_KEY);
        let mut found = found.map_err(|error| file_error(&error))?;
        found.know_ranges(|name| state.find_range(name).is_some());
        let is_unclear = found.unclear().is_some();
        let mut of = Self {
            page: ColumnsPage::new(shown(file), found),
            path: file.to_owned(),
            to_check: to_check(&read.source),
            text: read.text.into(),
            project: project.to_owned(),
            range: range.to_owned(),
            judged: Err(String::new()),
            with_columns: is_unclear,
            top: 0,
        };
        match of.judgement(state, now) {
            Err(NotTaken::Stash(why)) => return Err(why),
            judged => of.judged = judged.map_err(NotTaken::into_words),
        }
        of.with_columns |= of.judged.is_err();
        Ok(of)
    }

    /// Computes the result of the chart key. O(size of the file).
    fn judge(&mut self, context: &Context<'_>) {
        let judged = self.judgement(context.stash.state, context.app.now);
        self.judged = judged.map_err(NotTaken::into_words);
    }

    fn judgement(&self, state: &State, now: Timestamp) -> Result<Judged, NotTaken> {
        if let Some(problem) = self.page.problem() {
            return Err(NotTaken::Columns(problem));
        }
        let terms = import::Terms {
            range: Some(self.range.clone()).filter(|range| !range.is_empty()),
            ..import::Terms::default()
        };
        let list = read_key_as(self.text.as_bytes(), &self.page.columns)
            .map_err(|error| NotTaken::Stash(file_error(&error)))?;
        let unreadable = rejected(&list.rejected);
        let keyed = key::import(state, &list.rows, unreadable, &self.project, &terms, now);
        let keyed = keyed.map_err(|refusal| match refusal {
            Refusal::RowsRejected { every, .. } if !every.is_empty() => NotTaken::Columns(format!(
                "No row can be taken. Line {line}: {reason}",
                line = every[0].line,
                reason = row_fault(&every[0].reason)
            )),
            refusal => NotTaken::Stash(on_screen(&refusal)),
        })?;
        Ok(Judged {
            entries: entries(state, &keyed, &list.ignored, &self.to_check),
            keyed,
            card_titles: list.titles_of_card_list(),
        })
    }

    /// Performs the action of a key on the page of columns.
    fn turn(&mut self, context: &mut Context<'_>, action: Action) {
        if self.page.act(context, action) {
            self.top = 0;
            self.judge(context);
        }
    }

    fn entries(&self) -> &[Entry] {
        let judged = self.judged.as_ref();
        judged.map_or(&[], |judged| &judged.entries)
    }

    /// Requests that the chart key be recorded, or shows why it can't be.
    fn import(&self, context: &mut Context<'_>) {
        let judged = match &self.judged {
            Ok(judged) => judged,
            Err(why) => return context.app.complain(why.clone()),
        };
        match judged.keyed.event.clone() {
            Some(event) if !judged.card_titles.is_empty() => {
                let question = format!(
                    "{looks} Import it as the chart key of '{project}' all the same?",
                    looks = text::capital(&looks_like_cards(&judged.card_titles)),
                    project = self.project
                );
                context.ask_for(question, Then::Record(Box::new(event)));
            }
            Some(event) => context.commit(Ok(event)),
            None => {
                self.leave(context);
                context.app.say("The chart key is unchanged.");
            }
        }
    }

    /// Closes, and opens the project page unless it lies beneath.
    fn leave(&self, context: &mut Context<'_>) {
        context.close();
        let beneath = context.app.stack.last().map(|screen| screen.scope());
        let ring = context.stash.state.find_ring(&self.project);
        if let (true, Some(ring)) = (beneath != Some(Scope::Project), ring) {
            context.open(ProjectPage::of(ring.id));
        }
    }

    /// The summary above the lines, or the problem with the columns.
    fn sums(&self, app: &App, width: usize) -> Vec<Line<'static>> {
        let keyed = match &self.judged {
            Ok(judged) => &judged.keyed,
            Err(why) => return paragraph(why, width, app.theme.wrong()),
        };
        let says = format!(
            "{} {} for the chart key of '{}'. {}",
            keyed.entries,
            one_or_many(keyed.entries, "line", "lines"),
            self.project,
            owned_colours(keyed)
        );
        let style = match keyed.owned {
            0 => app.theme.wrong(),
            _ => app.theme.strong(),
        };
        paragraph(&says, width, style)
    }

    /// The lines in view, and the number of entries they cover.
    fn laid_out(&self, app: &App, width: usize, height: usize) -> (Vec<Line<'static>>, usize) {
        let mut lines = Vec::new();
        let mut seen = 0;
        for entry in self.entries().iter().skip(self.top) {
            let of = entry.lines(app, width);
            if lines.len() + of.len() > height && seen > 0 {
                break;
            }
            lines.extend(of);
            seen += 1;
        }
        (lines, seen)
    }

    /// The width of the preview with its border, and the rows for its lines on a screen.
    fn room(&self, app: &App, body: Rect) -> (u16, usize) {
        let area = match self.with_columns {
            true => self.page.parts(body).1,
            false => Rect {
                width: 92.min(body.width),
                ..body
            },
        };
        let sums = self
            .sums(app, usize::from(area.width.saturating_sub(6)))
            .len();
        (
            area.width,
            usize::from(area.height).saturating_sub(sums + 3).max(1),
        )
    }
}

/// Why nothing of a chart key can be taken.
enum NotTaken {
    /// Other columns may help.
    Columns(String),
    /// Only another file or another stash helps.
    Stash(String),
}

impl NotTaken {
    fn into_words(self) -> String {
        match self {
            Self::Columns(why) | Self::Stash(why) => why,
        }
    }
}

impl Entry {
    fn lines(&self, app: &App, width: usize) -> Vec<Line<'static>> {
        let theme = &app.theme;
        let style = match self.kind {
            Kind::Heading => theme.strong(),
            Kind::Wrong => theme.wrong(),
            Kind::Away => theme.away(),
            Kind::Plain => Style::new(),
        };
        if self.kind != Kind::Plain {
            return paragraph(&self.words, width, style);
        }
        let swatch = self.colour.and_then(|colour| theme.swatch(colour));
        let words = wrap(&self.words, width.saturating_sub(HEAD + 4).max(8));
        let line = |(at, words): (usize, String)| {
            let head = if at == 0 { self.head.as_str() } else { "" };
            let swatch = swatch.filter(|_| at == 0).unwrap_or_default();
            Line::from(vec![
                Span::styled(pad(head, HEAD), theme.faint()),
                Span::styled("  ", swatch),
                Span::styled(format!("  {words}"), style),
            ])
        };
        words.into_iter().enumerate().map(line).collect()
    }
}

/// The entries of the preview: warnings, rejected lines, colours that aren't owned, then the
/// key itself.
fn entries(state: &State, keyed: &Keyed, ignored: &[String], checks: &[String]) -> Vec<Entry> {
    let said = |kind, words: String| Entry {
        kind,
        head: String::new(),
        colour: None,
        words,
    };
    let checks = checks.iter().map(|words| said(Kind::Away, words.clone()));
    let mut entries: Vec<Entry> = checks.collect();
    if !ignored.is_empty() {
        let words = one_or_many(ignored.len(), "Column", "Columns");
        let names = ignored.join(", ");
        entries.push(said(Kind::Away, format!("{words} not understood: {names}")));
    }
    let refused = keyed.rejected.len();
    if refused > 0 {
        let rows = one_or_many(refused, "row", "rows");
        entries.push(said(
            Kind::Wrong,
            format!("{refused} {rows} can't be taken:"),
        ));
    }
    entries.extend(keyed.rejected.iter().map(|row| Entry {
        head: format!("line {}", row.line),
        ..said(Kind::Plain, row_fault(&row.reason))
    }));
    let lacking = keyed.not_owned.len();
    if lacking > 0 {
        let words = match lacking {
            1 => "1 colour isn't in the stash:".to_owned(),
            n => format!("{n} colours aren't in the stash:"),
        };
        entries.push(said(Kind::Away, words));
    }
    entries.extend(keyed.not_owned.iter().map(|of| {
        let slip = match of.in_list {
            true => "",
            false => " (not in its range's list)",
        };
        let words = owned_elsewhere(of);
        Entry {
            head: format!("line {}", of.line),
            ..said(
                Kind::Plain,
                words.unwrap_or_else(|| format!("{} {}{slip}", of.range, of.number)),
            )
        }
    }));
    let changes = keyed.event.iter().flat_map(|event| &event.changes);
    let mut lines = changes.filter_map(|change| match change {
        Change::Key { after, .. } => Some(after),
        _ => None,
    });
    if let Some(key) = lines.next() {
        if !entries.is_empty() {
            entries.push(said(Kind::Heading, String::new()));
            entries.push(said(Kind::Heading, "Preview:".to_owned()));
        }
        entries.extend(key.iter().map(|line| key_line(state, line)));
    }
    entries
}

/// A line of the key: its symbol, colour and counts, and where the card is.
fn key_line(state: &State, line: &KeyLine) -> Entry {
    let threads = line.threads().iter();
    let cards = threads.clone().map(|thread| {
        let kept = state.cards_of(thread.stitched()).next();
        let name = colour(state, thread.stitched());
        match kept {
            Some(kept) => format!("{name} {} · {}", kept.card.name, brief_of(state, kept)),
            None => format!("{name} · not in the stash"),
        }
    });
    let mut words: Vec<String> = cards.collect();
    let counted = stitches(line);
    if !counted.is_empty() {
        words.push(counted);
    }
    let notion = crate::text::thread::notion(line);
    if !notion.is_empty() {
        words.push(notion);
    }
    let first = threads.map(|thread| state.cards_of(thread.stitched()).next());
    let first = first.flatten().find_map(|kept| kept.card.colour);
    Entry {
        kind: Kind::Plain,
        head: line.symbol.to_string(),
        colour: first,
        words: words.join(" · "),
    }
}

impl Screen for ChartKey {
    fn scope(&self) -> Scope {
        match self.with_columns {
            true => self.page.scope(),
            false => Scope::Intake,
        }
    }

    fn extent(&self) -> Extent {
        match self.with_columns {
            true => Extent::Whole,
            false => Extent::Window,
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let (app, count) = (&*context.app, self.entries().len());
        let (width, height) = app.size;
        let (width, room) = self.room(app, layout::parts(width, height).body);
        let (_, seen) = self.laid_out(app, usize::from(width.saturating_sub(6)), room);
        let choosing = self.scope() == Scope::Meaning;
        match action {
            Action::Accept if !choosing => self.import(context),
            Action::Cancel if !choosing && self.with_columns && self.judged.is_ok() => {
                self.with_columns = false;
            }
            Action::Cancel if !choosing => {
                context.close();
                if self.with_columns {
                    key_form_again(context, (&self.path, &self.project, &self.range));
                }
            }
            Action::Edit => self.with_columns = true,
            Action::PageDown if !choosing && self.top + seen < count => self.top += seen,
            Action::PageUp if !choosing => self.top = self.top.saturating_sub(seen.max(1)),
            _ if self.with_columns => self.turn(context, action),
            Action::Down if self.top + seen >= count => {}
            Action::Up | Action::Down => self.top = stepped(self.top, count, action),
            _ => {}
        }
    }

    fn typed(&mut self, _: &mut Context<'_>, key: Key) {
        self.page.typed(key);
    }

    fn pasted(&mut self, text: &str) -> LeftOut {
        self.page.pasted(text)
    }

    #[cfg(test)]
    fn field(&self) -> Option<&crate::tui::field::Field> {
        self.page.field()
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let judged = self.judged.as_ref();
        let left_out = judged.map_or(0, |judged| judged.keyed.rejected.len());
        if left_out > 0 {
            let lines = text::one_or_many(left_out, "line was", "lines were");
            let words = told(context.stash, act);
            context
                .app
                .say(format!("{words}. {left_out} {lines} left out"));
        }
        self.leave(context);
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let (width, room) = self.room(app, body);
        let inner = usize::from(width.saturating_sub(6));
        let mut lines = self.sums(app, inner);
        let (of, seen) = self.laid_out(app, inner, room);
        if !of.is_empty() {
            lines.push(Line::default());
        }
        lines.extend(of);
        let count = self.entries().len();
        let last = match seen < count {
            false => String::new(),
            true => counter((self.top + seen).saturating_sub(1), count),
        };
        let inside = if self.with_columns {
            let (upper, lower) = self.page.parts(body);
            self.page.draw(app, upper, frame.buffer_mut());
            let pane = Pane {
                title: "Preview",
                counter: &last,
                focus: false,
            };
            pane.draw(&app.theme, lower, frame.buffer_mut())
        } else {
            let title = match last.as_str() {
                "" => format!("Chart key: {}", self.page.file),
                last => format!("Chart key: {} · {last}", self.page.file),
            };
            let title = fit(&title, inner);
            window::draw(&app.theme, &title, (width, lines.len()), frame, body)
        };
        frame.render_widget(Paragraph::new(lines), inside);
        let at = (self.top, seen, count);
        bar(&app.theme, inside, at, frame.buffer_mut());
        if self.with_columns {
            self.page.draw_choice(app, frame, body);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::message::{Message, Want};
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    /// The file of a chart key, read for a new project Robin.
    fn opened(text: &str) -> TestApp {
        let mut desk = TestApp::sample(Depth::None).after("rnRobin\nkey.csv\n");
        desk.take(Message::FileRead {
            path: "key.csv".to_owned(),
            want: Want::Key {
                project: "Robin".to_owned(),
                range: "Sandbank".to_owned(),
            },
            bytes: Ok(text.as_bytes().to_vec()),
        });
        desk
    }

    #[test]
    fn columns_of_a_chart_key_can_be_assigned() {
        let mut desk = opened("What,Which,Amount\nX,10,40\nO,20,50\n");
        assert_eq!(desk.app.scope(), Scope::Matching);
        let drawn = desk.drawn((120, 40)).join("\n");
        assert!(drawn.contains("Which column is what? key.csv"), "{drawn}");
        desk.keys(" sign\nj number\nj full\n");
        let drawn = desk.drawn((120, 40)).join("\n");
        assert!(drawn.contains("2 lines for the chart key"), "{drawn}");
        desk.keys("\n");
        let key = &desk.state.find_ring("Robin").unwrap().key;
        let stitches: Vec<_> = key
            .iter()
            .map(|line| (line.symbol.to_string(), line.stitches().full))
            .collect();
        assert_eq!(stitches, [("X".to_owned(), 40), ("O".to_owned(), 50)]);
    }

    #[test]
    fn leaving_unclear_columns_opens_the_form_again() {
        let mut desk = opened("What,Which\nX,dune\nO,shell\n");
        desk.keys("\u{1b}");
        assert_eq!(desk.app.scope(), Scope::Form);
        assert_eq!(
            (desk.filled("project"), desk.filled("chart key")),
            ("Robin".to_owned(), "key.csv".to_owned())
        );
        assert!(desk.state.find_ring("Robin").is_none());
    }

    #[test]
    fn columns_are_a_key_away_from_the_preview() {
        let mut desk = opened("symbol,number,colours\nX,10,40\n");
        assert_eq!(desk.app.scope(), Scope::Intake);
        desk.keys("c");
        assert_eq!(desk.app.scope(), Scope::Matching);
        desk.keys("jj full\n\u{1b}");
        assert_eq!(desk.app.scope(), Scope::Intake);
        desk.keys("\n");
        assert_eq!(
            desk.state.find_ring("Robin").unwrap().key[0]
                .stitches()
                .full,
            40
        );
    }
}
