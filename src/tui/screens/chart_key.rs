//! A chart key that was read from a file, with what would come of it, waits for a yes.

use jiff::Timestamp;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use super::project::ProjectPage;
use crate::exchange::read_key;
use crate::stash::command::key::Keyed;
use crate::stash::command::{import, key};
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::files::{file_error, rejected};
use crate::text::refusal::{row_fault, sentence};
use crate::text::{self, list, one_or_many};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::screen::{Context, Extent, Screen};
use crate::tui::update::stepped;
use crate::tui::widgets::text::{fit, paragraph, shown, wrap};
use crate::tui::widgets::window;

/// Colours that are told to be owned in another range, at most.
const HINTS: usize = 8;

/// The chart key with what would come of it.
#[derive(Clone, Debug)]
pub struct ChartKey {
    file: String,
    project: String,
    keyed: Keyed,
    /// Headers the file has and nobody understands.
    ignored: Vec<String>,
    /// First row shown of those that cannot be taken.
    top: usize,
}

impl ChartKey {
    /// What would come of the key in a file, for a project; the range is for rows that name none and may be empty.
    ///
    /// # Errors
    /// Why none of it can be taken.
    pub fn read(
        state: &State,
        (file, project, range): (&str, &str, &str),
        bytes: &[u8],
        now: Timestamp,
    ) -> Result<Self, String> {
        let terms = import::Terms {
            range: Some(range.to_owned()).filter(|range| !range.is_empty()),
            ..import::Terms::default()
        };
        let read = read_key(bytes).map_err(|error| file_error(&error))?;
        let faults = rejected(&read.rejected);
        let keyed = key::import(state, &read.rows, faults, project, &terms, now);
        Ok(Self {
            file: shown(file),
            project: project.to_owned(),
            keyed: keyed.map_err(said_of_rows)?,
            ignored: read.ignored,
            top: 0,
        })
    }

    /// Closes, and shows the page of the project where it does not lie beneath.
    fn leave(&self, context: &mut Context<'_>) {
        context.close();
        let beneath = context.app.stack.last().map(|screen| screen.scope());
        let ring = context.stash.state.find_ring(&self.project);
        if let (true, Some(ring)) = (beneath != Some(Scope::Project), ring) {
            context.open(ProjectPage::of(ring.id));
        }
    }
}

/// Why a list was refused, without the words about options that the screen does not have.
fn said_of_rows(refusal: Refusal) -> String {
    match refusal {
        Refusal::RowsRejected { every, .. } if !every.is_empty() => format!(
            "No row can be taken. Line {line}: {reason}",
            line = every[0].line,
            reason = row_fault(&every[0].reason)
        ),
        refusal => sentence(&refusal),
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
        self.top = stepped(self.top, self.keyed.rejected.len(), action);
        match (action, self.keyed.event.clone()) {
            (Action::Accept, Some(event)) => context.commit(Ok(event)),
            (Action::Accept, None) => {
                self.leave(context);
                context.app.say("The list says nothing new.");
            }
            (Action::Cancel, _) => context.close(),
            _ => {}
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, _: &Act) {
        self.leave(context);
    }

    fn view(&self, app: &App, _: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let width = 76.min(body.width);
        let inner = usize::from(width.saturating_sub(4));
        let mut lines = vec![Line::default()];
        lines.extend(self.comes_of_it(app, inner));
        if !self.ignored.is_empty() {
            let text = format!(
                "{word} not understood: {columns}",
                word = one_or_many(self.ignored.len(), "column", "columns"),
                columns = self.ignored.join(", ")
            );
            lines.extend(paragraph(&text, inner, app.theme.away()));
        }
        let rows = &self.keyed.rejected;
        if !rows.is_empty() {
            let text = format!(
                "{count:>5} {rows} cannot be taken:",
                count = rows.len(),
                rows = one_or_many(rows.len(), "row", "rows")
            );
            lines.push(Line::styled(text, app.theme.wrong()));
            for row in rows.iter().skip(self.top).take(50) {
                let text = format!(
                    "line {line}: {reason}",
                    line = row.line,
                    reason = row_fault(&row.reason)
                );
                for line in wrap(&text, inner.saturating_sub(2)) {
                    lines.push(Line::raw(format!("  {line}")));
                }
            }
        }
        lines.push(Line::default());
        let title = format!("Import {file}", file = self.file);
        let inside = window::draw(app, &title, (width, lines.len()), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
    }
}

impl ChartKey {
    /// How much of the key is there, and what is not in the stash.
    fn comes_of_it(&self, app: &App, width: usize) -> Vec<Line<'static>> {
        let keyed = &self.keyed;
        let mut lines = vec![Line::raw(fit(
            &format!(
                "{entries:>5} {lines} for the key of {project}",
                entries = keyed.entries,
                lines = one_or_many(keyed.entries, "line", "lines"),
                project = self.project
            ),
            width,
        ))];
        let style = match keyed.owned {
            0 => app.theme.wrong(),
            _ => app.theme.strong(),
        };
        lines.extend(paragraph(&text::thread::owned_colours(keyed), width, style));
        let text = match keyed.not_owned.len() {
            0 => return lines,
            1 => "    1 colour is not in the stash:".to_owned(),
            count => format!("{count:>5} colours are not in the stash:"),
        };
        lines.push(Line::styled(text, app.theme.away()));
        for text in not_owned(keyed) {
            for line in wrap(&text, width.saturating_sub(2)) {
                lines.push(Line::raw(format!("  {line}")));
            }
        }
        lines
    }
}

/// The colours of a key that are not in the stash, and those that are in another range.
fn not_owned(keyed: &Keyed) -> Vec<String> {
    let (elsewhere, nowhere): (Vec<_>, Vec<_>) = keyed
        .not_owned
        .iter()
        .partition(|of| !of.owned_in.is_empty());
    let all = nowhere.into_iter().map(|of| {
        let slip = if of.in_list {
            ""
        } else {
            " (not in its range's list)"
        };
        format!("{} {}{slip}", of.range, of.number)
    });
    let hints = elsewhere
        .into_iter()
        .filter_map(text::thread::owned_elsewhere);
    let mut said: Vec<String> = hints.collect();
    said.dedup();
    let more = said.len().saturating_sub(HINTS);
    said.truncate(HINTS);
    if more > 0 {
        said.push(format!("and {more} more"));
    }
    let all = list(all);
    if !all.is_empty() {
        said.insert(0, all);
    }
    said
}
