//! What lies over the board: forms, a list to bring in, the help, a question.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::lists::written;
use crate::stash::command::key::Keyed;
use crate::text;
use crate::text::list;
use crate::text::one_or_many;
use crate::text::refusal::row_fault;
use crate::tui::app::{App, Form, Intake};

use crate::tui::widgets::text::{fit, pad, paragraph, told, wrap};
use crate::tui::widgets::window;

/// Colours that are told to be owned in another range, at most.
const HINTS: usize = 8;

pub(super) fn form(app: &App, form: &Form, frame: &mut Frame<'_>, body: Rect) {
    let width = 72.min(body.width);
    let inner = usize::from(width.saturating_sub(4));
    let labels = form.blanks.iter().map(|blank| blank.label.width() + 2);
    let label = labels.max().unwrap_or(0).max(10);
    let room = inner.saturating_sub(label);
    let mut lines = vec![Line::default()];
    for (at, blank) in form.blanks.iter().enumerate() {
        let here = at == form.at;
        let style = if here {
            app.theme.strong()
        } else {
            Style::new()
        };
        let mut spans = vec![Span::styled(pad(blank.label, label), style)];
        let offered = blank.field.is_offered();
        spans.extend(written(app, &blank.field, here, offered, room));
        lines.push(Line::from(spans));
        if here {
            let hint = format!("{}{}", " ".repeat(label), blank.hint);
            lines.push(Line::styled(fit(&hint, inner), app.theme.faint()));
            lines.extend(offers(app, form, label, inner));
        }
    }
    lines.push(Line::default());
    if let Some(wrong) = &form.wrong {
        lines.extend(paragraph(&told(wrong), inner, app.theme.wrong()));
    }
    let inside = window::draw(app, &form.title, (width, lines.len()), frame, body);
    frame.render_widget(Paragraph::new(lines), inside);
}

/// The files that go on as the path that is typed, by their names alone.
fn offers(app: &App, form: &Form, label: usize, inner: usize) -> Vec<Line<'static>> {
    const MOST: usize = 6;
    let ends = |c| matches!(c, '/' | '\\');
    let name = |path: &str| {
        let end = path.trim_end_matches(ends).rfind(ends);
        path[end.map_or(0, |at| at + 1)..].to_owned()
    };
    let mut names: Vec<String> = form.offers.iter().take(MOST).map(|p| name(p)).collect();
    if form.offers.len() > MOST {
        names.push(format!(
            "and {offers} more",
            offers = form.offers.len() - MOST
        ));
    }
    let indented = |name: String| fit(&format!("{}{name}", " ".repeat(label)), inner);
    let lines = names.into_iter().map(indented);
    lines
        .map(|line| Line::styled(line, app.theme.away()))
        .collect()
}

pub(super) fn intake(app: &App, intake: &Intake, frame: &mut Frame<'_>, body: Rect) {
    let width = 76.min(body.width);
    let inner = usize::from(width.saturating_sub(4));
    let mut lines = vec![Line::default()];
    lines.extend(key(app, &intake.project, &intake.keyed, inner));
    if !intake.ignored.is_empty() {
        let text = format!(
            "{word} not understood: {columns}",
            word = one_or_many(intake.ignored.len(), "column", "columns"),
            columns = intake.ignored.join(", ")
        );
        lines.extend(paragraph(&text, inner, app.theme.away()));
    }
    let rejected = &intake.keyed.rejected;
    if !rejected.is_empty() {
        let text = format!(
            "{count:>5} {rows} cannot be taken:",
            count = rejected.len(),
            rows = one_or_many(rejected.len(), "row", "rows")
        );
        lines.push(Line::styled(text, app.theme.wrong()));
        for row in rejected.iter().skip(intake.top).take(50) {
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
    let title = format!("Bring in {file}", file = intake.file);
    let inside = window::draw(app, &title, (width, lines.len()), frame, body);
    frame.render_widget(Paragraph::new(lines), inside);
}

/// What would come of a key.
fn key(app: &App, project: &str, keyed: &Keyed, width: usize) -> Vec<Line<'static>> {
    let mut lines = vec![Line::raw(fit(
        &format!(
            "{entries:>5} {lines} for the key of {project}",
            entries = keyed.entries,
            lines = one_or_many(keyed.entries, "line", "lines")
        ),
        width,
    ))];
    let style = if keyed.owned == 0 {
        app.theme.wrong()
    } else {
        app.theme.strong()
    };
    lines.extend(paragraph(&text::thread::owned_colours(keyed), width, style));
    if keyed.not_owned.is_empty() {
        return lines;
    }
    let text = match keyed.not_owned.len() {
        1 => "    1 colour is not in the stash:".to_owned(),
        count => format!("{count:>5} colours are not in the stash:"),
    };
    lines.push(Line::styled(text, app.theme.away()));
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
    for text in said {
        for line in wrap(&text, width.saturating_sub(2)) {
            lines.push(Line::raw(format!("  {line}")));
        }
    }
    lines
}
