//! What lies over the board: forms, a list to bring in, the help, a question.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::lists::{self, typed, written};
use crate::stash::command::key::Keyed;
use crate::text;
use crate::text::list;
use crate::text::one_or_many;
use crate::text::refusal::row_fault;
use crate::tui::app::help::{Help, Line as HelpLine, Pick, choices, lines as help_lines};
use crate::tui::app::{App, Form, Intake};
use crate::tui::widgets::pane::{Pane, clear};
use crate::tui::widgets::text::{fit, pad, paragraph, told, wrap};

/// Colours that are told to be owned in another range, at most.
const HINTS: usize = 8;

/// A frame in the middle of an area, with room for so many lines; gives its inside.
fn window(
    app: &App,
    title: &str,
    width: u16,
    lines: usize,
    frame: &mut Frame<'_>,
    body: Rect,
) -> Rect {
    let lines = u16::try_from(lines).unwrap_or(u16::MAX).saturating_add(2);
    let width = width.min(body.width);
    let height = lines.min(body.height);
    let area = Rect::new(
        body.x + (body.width - width) / 2,
        body.y + (body.height - height) / 2,
        width,
        height,
    );
    let buffer = frame.buffer_mut();
    dim(app, body, buffer);
    clear(area, app.theme.base(), buffer);
    let pane = Pane {
        title,
        counter: "",
        focus: true,
    };
    pane.draw(&app.theme, area, buffer)
}

/// What is behind a window steps back.
fn dim(app: &App, area: Rect, buffer: &mut Buffer) {
    let faint = app.theme.line();
    for at in area.intersection(buffer.area).positions() {
        let cell = &mut buffer[at];
        cell.modifier = ratatui::style::Modifier::empty();
        cell.set_style(app.theme.base().patch(faint));
    }
}

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
    let inside = window(app, &form.title, width, lines.len(), frame, body);
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
    let inside = window(app, &title, width, lines.len(), frame, body);
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

pub(super) fn confirm(app: &App, question: &str, frame: &mut Frame<'_>, body: Rect) {
    let width = 60.min(body.width);
    let inner = usize::from(width.saturating_sub(4));
    let mut lines = vec![Line::default()];
    lines.extend(paragraph(question, inner, Style::new()));
    lines.push(Line::default());
    lines.push(Line::styled("y  yes     n  no", app.theme.strong()));
    let inside = window(app, "Question", width, lines.len() + 1, frame, body);
    frame.render_widget(Paragraph::new(lines), inside);
}

/// The line that is typed in a window, and a gap.
fn search(app: &App, halves: (&str, &str), width: usize) -> Vec<Line<'static>> {
    let mut spans = vec![Span::styled("find  ", app.theme.faint())];
    spans.extend(typed(app, halves, width.saturating_sub(6)).spans);
    vec![Line::from(spans), Line::default()]
}

pub(super) fn help(app: &App, help: &Help, frame: &mut Frame<'_>, body: Rect) {
    let width = 92.min(body.width);
    let inner = usize::from(width.saturating_sub(4));
    let found = help_lines(&app.keys, help.back.scope(), help.field.text());
    let mut lines = search(app, help.field.halves(), inner);
    // Its frame and the line that is typed take four lines.
    let room = usize::from(body.height.saturating_sub(4));
    let last = found.len().saturating_sub(room);
    if found.is_empty() {
        lines.push(Line::styled("Nothing like that.", app.theme.wrong()));
    }
    for line in found.into_iter().skip(help.top.min(last)) {
        lines.push(match line {
            HelpLine::Gap => Line::default(),
            HelpLine::Heading(title) => Line::styled(title, app.theme.strong()),
            HelpLine::Entry(keys, text) => Line::raw(format!("  {keys:<18} {text}")),
        });
    }
    let inside = window(app, "Help", width, usize::from(body.height), frame, body);
    frame.render_widget(Paragraph::new(lines), inside);
}

pub(super) fn actions(app: &App, pick: &Pick, frame: &mut Frame<'_>, body: Rect) {
    let width = 76.min(body.width);
    let inner = usize::from(width.saturating_sub(4));
    let found = choices(&app.keys, pick.back.scope(), pick.field.text());
    let mut lines = search(app, pick.field.halves(), inner);
    if found.is_empty() {
        lines.push(Line::styled("Nothing here does that.", app.theme.wrong()));
    }
    let room = usize::from(body.height.saturating_sub(4)).max(1);
    for at in lists::window(pick.at, found.len(), room) {
        if let Some(bound) = found.get(at) {
            let style = if at == pick.at {
                app.theme.chosen()
            } else {
                Style::new()
            };
            let keys = bound.keys_shown();
            let text = format!("{:<58} {keys}", bound.binding.help());
            lines.push(Line::styled(pad(&text, inner), style));
        }
    }
    let title = pick.back.scope().title();
    let inside = window(app, title, width, lines.len(), frame, body);
    frame.render_widget(Paragraph::new(lines), inside);
}
