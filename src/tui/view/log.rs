//! What was done, when and by whom.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::inset;
use crate::tui::app::App;
use crate::tui::app::log::Log;
use crate::tui::widgets::text::{day_and_time, fit, pad, wrap};

/// What was done from the first line shown on; a long sentence goes on in the next line.
pub(super) fn page(app: &App, log: &Log, frame: &mut Frame<'_>, body: Rect) {
    let area = inset(body);
    let width = usize::from(area.width);
    let title = match log.lines.len() {
        0 => "Nothing has been written down yet.".to_owned(),
        n => format!(
            "What was done, the newest first ({top} to {n})",
            top = log.top + 1
        ),
    };
    let mut lines = vec![
        Line::styled(fit(&title, width), app.theme.strong()),
        Line::default(),
    ];
    let height = usize::from(area.height);
    for event in log.lines.iter().skip(log.top) {
        if lines.len() >= height {
            break;
        }
        let when = day_and_time(event.time, app.now);
        let left = format!("{:>6}  {} ", event.seq, pad(&when, 17));
        let by = event.by.as_ref().map(|by| format!(", by {by}"));
        let undone = event
            .taken_back_by
            .map(|seq| format!(" (taken back by {seq})"));
        let colon = if event.which.is_empty() { "" } else { ": " };
        let what = format!(
            "{}{}{}{colon}{}",
            event.what,
            undone.unwrap_or_default(),
            by.unwrap_or_default(),
            event.which
        );
        let style = match event.taken_back_by {
            Some(_) => app.theme.faint(),
            None => Style::new(),
        };
        let room = width.saturating_sub(left.len()).max(1);
        let blank = " ".repeat(left.len());
        for (at, words) in wrap(&what, room).into_iter().enumerate() {
            let before = if at == 0 { &left } else { &blank };
            lines.push(Line::from(vec![
                Span::styled(fit(before, width), app.theme.faint()),
                Span::styled(words, style),
            ]));
        }
    }
    frame.render_widget(Paragraph::new(lines), area);
}
