//! The lines above and below the board.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

use super::text::fit;
use crate::stash::count::Counts;
use crate::stash::state::State;
use crate::tui::app::{App, Stash};

/// Which board it is, and how the stash stands.
pub(super) fn title(app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
    let name = app
        .board(state)
        .map_or_else(|| "Homehook".to_owned(), |board| board.name.to_string());
    let boards = match state.boards().len() {
        0 | 1 => String::new(),
        n => format!(" ({} of {n})", app.eye.board + 1),
    };
    let counts = Counts::of(state);
    let to_hang = counts.in_tray + counts.in_hand;
    let mut spans = vec![Span::styled(
        format!(" {name}{boards}  "),
        app.theme.strong(),
    )];
    let mut say = |n: usize, what: &str, style| {
        spans.push(Span::styled(format!(" {n} {what} "), style));
    };
    let plain = ratatui::style::Style::new();
    say(counts.home, "home", plain);
    let (out, missing) = (counts.on_rings, counts.missing);
    say(out, "out", if out > 0 { app.theme.away() } else { plain });
    say(
        missing,
        "missing",
        if missing > 0 {
            app.theme.wrong()
        } else {
            plain
        },
    );
    say(
        to_hang,
        "to hang",
        if to_hang > 0 { app.theme.away() } else { plain },
    );
    if counts.elsewhere > 0 {
        say(counts.elsewhere, "elsewhere", app.theme.away());
    }
    say(counts.free, "free", app.theme.faint());
    if !app.chosen.is_empty() {
        say(app.chosen.len(), "chosen", app.theme.strong());
    }
    frame.render_widget(Line::from(spans), area);
}

/// What the user should be told; without that, that nothing can be changed, if so.
pub(super) fn notice(app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, area: Rect) {
    let (text, style) = match (&app.notice, stash.read_only) {
        (Some(notice), _) if notice.wrong => (notice.text.as_str(), app.theme.wrong()),
        (Some(notice), _) => (notice.text.as_str(), app.theme.strong()),
        (None, Some(why)) => (why, app.theme.away()),
        (None, None) => return,
    };
    let text = fit(text, usize::from(area.width).saturating_sub(1));
    frame.render_widget(Line::styled(format!(" {text}"), style), area);
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
        let width = key.width() + 1 + binding.hint.width() + 3;
        if used + width > usize::from(area.width) {
            lines.push(Line::from(std::mem::take(&mut spans)));
            if lines.len() >= usize::from(area.height) {
                break;
            }
            spans.push(Span::raw(" "));
            used = 1;
        }
        spans.push(Span::styled(key, app.theme.strong()));
        spans.push(Span::raw(format!(" {}   ", binding.hint)));
        used += width;
    }
    lines.push(Line::from(spans));
    for (line, y) in lines.into_iter().zip(area.y..area.bottom()) {
        frame.render_widget(line, Rect::new(area.x, y, area.width, 1));
    }
}
