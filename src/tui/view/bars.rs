//! The lines above and below the board.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

use super::text::{fit, wrap};
use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::tui::app::{App, Stash};
use crate::tui::layout::Parts;

/// The fewest columns in which the name of a board says something.
const LEAST_NAME: usize = 12;

/// A part of the title.
struct Part {
    text: String,
    style: Style,
    /// 0 stays at any width; of the others the highest goes first.
    goes: u8,
}

/// Which board it is, and how the stash stands. How many cards are home, out, missing and to be hung
/// is there at any width that can show it; first the free places go, then the chosen cards, those
/// elsewhere, and the name.
pub(super) fn title(app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
    let width = usize::from(area.width);
    let name = heading(app, state);
    let mut parts = counted(app, state);
    for goes in (1..=3).rev() {
        let short = name.width().min(LEAST_NAME) + 3;
        if used(&parts) + short > width {
            parts.retain(|part| part.goes < goes);
        }
    }
    let room = width.saturating_sub(used(&parts));
    let mut spans = Vec::new();
    if room >= 4 {
        let name = fit(&name, room - 3);
        spans.push(Span::styled(format!(" {name}  "), app.theme.strong()));
    }
    spans.extend(
        parts
            .into_iter()
            .map(|part| Span::styled(part.text, part.style)),
    );
    frame.render_widget(Line::from(spans), area);
}

fn used(parts: &[Part]) -> usize {
    parts.iter().map(|part| part.text.width()).sum()
}

/// The board that is looked at, and which of how many.
fn heading(app: &App, state: &State) -> String {
    let name = app
        .board(state)
        .map_or_else(|| "Homehook".to_owned(), |board| board.name.to_string());
    match state.boards().len() {
        0 | 1 => name,
        n => format!("{name} ({board} of {n})", board = app.eye.board + 1),
    }
}

fn counted(app: &App, state: &State) -> Vec<Part> {
    let counts = Counts::of(state);
    let theme = &app.theme;
    let told = |n: usize, style| if n > 0 { style } else { Style::new() };
    let part = |n: usize, what: &str, style, goes| Part {
        text: format!(" {n} {what} "),
        style,
        goes,
    };
    let to_hang = counts.to_hang + counts.in_hand;
    let (away, wrong) = (theme.away(), theme.wrong());
    let mut parts = vec![
        part(counts.home, "home", Style::new(), 0),
        part(counts.on_rings, "out", told(counts.on_rings, away), 0),
        part(counts.missing, "missing", told(counts.missing, wrong), 0),
        part(to_hang, "to hang", told(to_hang, away), 0),
    ];
    if counts.elsewhere > 0 {
        parts.push(part(counts.elsewhere, "elsewhere", away, 1));
    }
    parts.push(part(counts.free, "free", theme.faint(), 3));
    if !app.chosen.is_empty() {
        parts.push(part(app.chosen.len(), "chosen", theme.strong(), 2));
    }
    parts
}

/// The areas of the notice and of the keys: a notice that is too long for its line takes one of theirs.
pub(super) fn below(app: &App, parts: Parts) -> (Rect, Rect) {
    let (notice, keys) = (parts.notice, parts.footer);
    let room = usize::from(notice.width).saturating_sub(1);
    let is_long = (app.notice.as_ref()).is_some_and(|notice| notice.text.width() > room);
    if !is_long || keys.height < 2 || notice.height == 0 {
        return (notice, keys);
    }
    let (more, less) = (notice.height + 1, keys.height - 1);
    (
        Rect::new(notice.x, notice.y, notice.width, more),
        Rect::new(keys.x, keys.y + 1, keys.width, less),
    )
}

/// What the user should be told; without that, that nothing can be changed, if so. What is longer than
/// the lines there are is cut.
pub(super) fn notice(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, area: Rect) {
    let (text, style) = match (&app.notice, stash.read_only) {
        (Some(notice), _) if notice.wrong => (notice.text.as_str(), app.theme.wrong()),
        (Some(notice), _) => (notice.text.as_str(), app.theme.strong()),
        (None, Some(why)) => (why, app.theme.away()),
        (None, None) => return,
    };
    let room = usize::from(area.width).saturating_sub(1);
    let height = usize::from(area.height);
    let mut lines = wrap(text, room);
    if lines.len() > height {
        let rest = lines.split_off(height.saturating_sub(1)).join(" ");
        lines.push(fit(&rest, room));
    }
    for (text, y) in lines.into_iter().zip(area.y..area.bottom()) {
        let line = Rect::new(area.x, y, area.width, 1);
        frame.render_widget(Line::styled(format!(" {text}"), style), line);
    }
}

/// The keys that hold now, as many as there is room for.
pub(super) fn footer(app: &App, frame: &mut Frame<'_>, area: Rect) {
    let mut lines: Vec<Line<'_>> = Vec::new();
    let mut spans: Vec<Span<'_>> = vec![Span::raw(" ")];
    let mut used = 1;
    let scope = app.mode.scope();
    let hinted = app.keys.in_scope(scope).filter(|bound| {
        let holds = bound.binding.scope == scope || !scope.is_typed_in();
        holds && !bound.binding.hint.is_empty()
    });
    for bound in hinted {
        let (binding, Some(key)) = (bound.binding, bound.keys.first()) else {
            continue;
        };
        let key = key.to_string();
        let width = key.width() + 1 + binding.hint().width() + 3;
        if used + width > usize::from(area.width) {
            lines.push(Line::from(std::mem::take(&mut spans)));
            if lines.len() >= usize::from(area.height) {
                break;
            }
            spans.push(Span::raw(" "));
            used = 1;
        }
        spans.push(Span::styled(key, app.theme.strong()));
        spans.push(Span::raw(format!(" {}   ", binding.hint())));
        used += width;
    }
    lines.push(Line::from(spans));
    for (line, y) in lines.into_iter().zip(area.y..area.bottom()) {
        frame.render_widget(line, Rect::new(area.x, y, area.width, 1));
    }
}
