//! Preview of a project's chart key before it is imported.

use jiff::Timestamp;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::project::ProjectPage;
use crate::exchange::{plain, read_key};
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
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::refused::on_screen;
use crate::tui::told::told;
use crate::tui::widgets::list::{bar, counter, stepped};
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

/// The window.
#[derive(Clone, Debug)]
pub struct ChartKey {
    file: String,
    project: String,
    keyed: Keyed,
    entries: Vec<Entry>,
    /// The column titles that make it look like a card list.
    card_titles: Vec<String>,
    /// First line shown.
    top: usize,
}

impl ChartKey {
    /// Reads a chart key from a file, or from one of its sheets, for a project. `range` is for rows
    /// that name none and may be empty.
    ///
    /// # Errors
    /// Why none of it can be imported.
    pub fn read(
        state: &State,
        (file, project, range): (&str, &str, &str),
        (bytes, sheet): (&[u8], Option<&str>),
        now: Timestamp,
    ) -> Result<Self, String> {
        let terms = import::Terms {
            range: Some(range.to_owned()).filter(|range| !range.is_empty()),
            ..import::Terms::default()
        };
        let read = plain(bytes.to_vec(), sheet).map_err(|error| file_error(&error))?;
        let list = read_key(read.text.as_bytes()).map_err(|error| file_error(&error))?;
        let unreadable = rejected(&list.rejected);
        let keyed = key::import(state, &list.rows, unreadable, project, &terms, now);
        let keyed = keyed.map_err(|refusal| match refusal {
            Refusal::RowsRejected { every, .. } if !every.is_empty() => format!(
                "No row can be taken. Line {line}: {reason}",
                line = every[0].line,
                reason = row_fault(&every[0].reason)
            ),
            refusal => on_screen(&refusal),
        })?;
        Ok(Self {
            file: shown(file),
            project: project.to_owned(),
            entries: entries(state, &keyed, &list.ignored, &to_check(&read.source)),
            keyed,
            card_titles: list.titles_of_card_list(),
            top: 0,
        })
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

    /// The summary above the lines.
    fn sums(&self, app: &App, width: usize) -> Vec<Line<'static>> {
        let keyed = &self.keyed;
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
        for entry in self.entries.iter().skip(self.top) {
            let of = entry.lines(app, width);
            if lines.len() + of.len() > height && seen > 0 {
                break;
            }
            lines.extend(of);
            seen += 1;
        }
        (lines, seen)
    }

    /// The width of the window, and the rows for its lines on a screen.
    fn room(&self, app: &App, body: Rect) -> (u16, usize) {
        let width = 92.min(body.width);
        let sums = self.sums(app, usize::from(width.saturating_sub(6))).len();
        (
            width,
            usize::from(body.height).saturating_sub(sums + 3).max(1),
        )
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
        Scope::Intake
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let (app, count) = (&*context.app, self.entries.len());
        let (width, height) = app.size;
        let (width, room) = self.room(app, layout::parts(width, height).body);
        let (_, seen) = self.laid_out(app, usize::from(width.saturating_sub(6)), room);
        match (action, self.keyed.event.clone()) {
            (Action::Accept, Some(event)) if !self.card_titles.is_empty() => {
                let question = format!(
                    "{looks} Import it as the chart key of '{project}' all the same?",
                    looks = text::capital(&looks_like_cards(&self.card_titles)),
                    project = self.project
                );
                context.ask_for(question, Then::Record(Box::new(event)));
            }
            (Action::Accept, Some(event)) => context.commit(Ok(event)),
            (Action::Accept, None) => {
                self.leave(context);
                context.app.say("The chart key is unchanged.");
            }
            (Action::Cancel, _) => context.close(),
            (Action::PageDown, _) if self.top + seen < count => self.top += seen,
            (Action::PageUp, _) => self.top = self.top.saturating_sub(seen.max(1)),
            (Action::Down, _) if self.top + seen >= count => {}
            (Action::Up | Action::Down, _) => self.top = stepped(self.top, count, action),
            _ => {}
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let left_out = self.keyed.rejected.len();
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
        let count = self.entries.len();
        let last = counter((self.top + seen).saturating_sub(1), count);
        let title = match seen < count {
            false => format!("Chart key: {}", self.file),
            true => format!("Chart key: {} · {last}", self.file),
        };
        let title = fit(&title, inner);
        let inside = window::draw(&app.theme, &title, (width, lines.len()), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
        let at = (self.top, seen, count);
        bar(&app.theme, inside, at, frame.buffer_mut());
    }
}
