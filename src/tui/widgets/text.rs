//! Fitting text into a width, and times in words.

use std::borrow::Cow;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use ratatui::buffer::Buffer;
use ratatui::layout::Position;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

use crate::model::label::is_invisible;
use crate::tui::field::Field;
use crate::tui::theme::Theme;

/// A text cut to a width, with an ellipsis if anything is left out.
#[must_use]
pub fn fit(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let dots = if width >= 2 { "…" } else { "" };
    let mut cut = String::new();
    for grapheme in text.graphemes(true) {
        let before = cut.len();
        cut.push_str(grapheme);
        // Measured as a whole, because in some scripts neighbours change each other's width.
        if cut.width() + dots.width() > width {
            cut.truncate(before);
            break;
        }
    }
    cut + dots
}

/// Like [`fit`], but keeps the end of a longer text.
#[must_use]
pub fn fit_end(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let dots = if width >= 2 { "…" } else { "" };
    let ends = text.grapheme_indices(true).map(|(at, _)| &text[at..]);
    let mut ends = ends.skip_while(|end| end.width() + dots.width() > width);
    format!("{dots}{end}", end = ends.next().unwrap_or_default())
}

/// Writes a text at a position, clipped to the buffer.
pub fn put(buffer: &mut Buffer, (x, y): (u16, u16), text: impl AsRef<str>, style: Style) {
    put_within(buffer, (x, y), text, usize::from(u16::MAX), style);
}

/// Writes at most this many columns of a text at a position, clipped to the buffer.
pub fn put_within(
    buffer: &mut Buffer,
    (x, y): (u16, u16),
    text: impl AsRef<str>,
    width: usize,
    style: Style,
) {
    if buffer.area.contains(Position::new(x, y)) {
        buffer.set_stringn(x, y, text, width, style);
    }
}

/// A text cut or padded with spaces to a width.
#[must_use]
pub fn pad(text: &str, width: usize) -> String {
    let mut text = fit(text, width);
    let missing = width.saturating_sub(text.width());
    text.extend(std::iter::repeat_n(' ', missing));
    text
}

/// External text without characters that a terminal could take for a command.
#[must_use]
pub fn shown(text: &str) -> String {
    text.chars()
        .filter(|&c| !is_invisible(c))
        .take(300)
        .collect()
}

/// The longest error message shown, in characters. It quotes the input, which may be very long.
const TOLD: usize = 400;

/// An error message without its middle if it is very long. The middle is quoted input; the
/// explanation is before or after it.
#[must_use]
pub fn told(wrong: &str) -> Cow<'_, str> {
    let count = wrong.chars().count();
    if count <= TOLD {
        return Cow::Borrowed(wrong);
    }
    let head: String = wrong.chars().take(TOLD / 2).collect();
    let tail = wrong.chars().skip(count - TOLD / 2);
    Cow::Owned(head + " … " + &tail.collect::<String>())
}

/// A text in lines of at most this width, broken at spaces if possible.
#[must_use]
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let used = lines.last().map_or(0, |line| line.width());
        if used > 0 && used + 1 + word.width() > width {
            lines.push(String::new());
        }
        let Some(line) = lines.last_mut() else { break };
        if !line.is_empty() {
            line.push(' ');
        }
        for grapheme in word.graphemes(true) {
            let Some(line) = lines.last_mut() else { break };
            // A grapheme wider than a line can't be shown.
            let grapheme = if grapheme.width() > width {
                "?"
            } else {
                grapheme
            };
            let before = line.len();
            line.push_str(grapheme);
            if line.width() > width && before > 0 {
                line.truncate(before);
                lines.push(grapheme.to_owned());
            }
        }
    }
    lines
}

/// A wrapped text as styled lines.
pub fn paragraph(text: &str, width: usize, style: Style) -> Vec<Line<'static>> {
    wrap(text, width)
        .into_iter()
        .map(|line| Line::styled(line, style))
        .collect()
}

/// A text being typed, with its cursor.
pub fn typed(theme: &Theme, halves: (&str, &str), width: usize) -> Line<'static> {
    let (head, tail) = halves;
    let mut rest = tail.graphemes(true);
    let under = rest.next().unwrap_or(" ");
    let room = width.max(2).saturating_sub(under.width().max(1));
    // The text just before the cursor matters most.
    let (mut start, mut used) = (head.len(), 0);
    for (at, grapheme) in head.grapheme_indices(true).rev() {
        let wider = used + grapheme.width();
        if wider > room {
            break;
        }
        (start, used) = (at, wider);
    }
    Line::from(vec![
        Span::raw(head[start..].to_owned()),
        Span::styled(under.to_owned(), theme.chosen()),
        Span::raw(fit(rest.as_str(), room - used)),
    ])
}

/// The search line of a window, with a blank line below.
#[must_use]
pub fn search_line(theme: &Theme, field: &Field, width: usize) -> Vec<Line<'static>> {
    let mut spans = vec![Span::styled("find  ", theme.faint())];
    spans.extend(typed(theme, field.halves(), width.saturating_sub(6)).spans);
    vec![Line::from(spans), Line::default()]
}

/// A faint label and its value.
pub fn labelled(label: &str, value: &str, width: usize, faint: Style) -> Line<'static> {
    let head = format!("{label:<8}");
    let room = width.saturating_sub(head.width());
    Line::from(vec![Span::styled(head, faint), Span::raw(fit(value, room))])
}

/// The time since something, in whole days.
#[must_use]
pub fn ago(then: Timestamp, now: Timestamp) -> String {
    match now.duration_since(then).as_hours() / 24 {
        days if days < 1 => "today".to_owned(),
        1 => "1 day".to_owned(),
        days => format!("{days} days"),
    }
}

/// The same for use after a verb: `for 12 days`, `since today`.
#[must_use]
pub fn since_when(then: Timestamp, now: Timestamp) -> String {
    match ago(then, now).as_str() {
        "today" => "since today".to_owned(),
        days => format!("for {days}"),
    }
}

/// `12 Oct 14:05`, with the year unless it is the current one.
#[must_use]
pub fn day_and_time(at: Timestamp, now: Timestamp) -> String {
    let zone = TimeZone::system();
    let then = at.to_zoned_datetime(zone.clone());
    let form = if then.year() == now.to_zoned_datetime(zone).year() {
        "%-d %b %H:%M"
    } else {
        "%-d %b %Y %H:%M"
    };
    then.strftime(form).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn fit_end_keeps_the_end_of_a_long_text() {
        assert_eq!(fit_end("1033", 4), "1033");
        assert_eq!(fit_end("1033", 3), "…33");
        assert_eq!(fit_end("1033", 2), "…3");
        assert_eq!(fit_end("1033", 1), "3");
        assert_eq!(fit_end("1033", 0), "");
    }

    #[test]
    fn text_is_cut_padded_and_wrapped() {
        assert_eq!(fit("river slate", 7), "river …");
        assert_eq!(pad("ab", 4), "ab  ");
        assert_eq!(wrap("a bb ccc", 4), ["a bb", "ccc"]);
        assert_eq!(wrap("abcdefgh", 3), ["abc", "def", "gh"]);
        assert_eq!(shown("a\u{1b}[2Jb"), "a[2Jb");
    }

    #[test]
    fn long_error_keeps_its_beginning_and_end() {
        assert_eq!(told("'x' is no number"), "'x' is no number");
        let wrong = format!("rows: '{}' is no number", "9".repeat(1_000));
        let said = told(&wrong);
        assert!(said.starts_with("rows: '9") && said.ends_with("9' is no number"));
        assert_eq!(said.chars().count(), TOLD + 3);
    }

    proptest! {
        #[test]
        fn no_line_exceeds_its_width(text in "\\PC{0,30}", width in 2usize..20) {
            prop_assert!(fit(&text, width).width() <= width);
            prop_assert_eq!(pad(&text, width).width(), width);
            for line in wrap(&text, width) {
                prop_assert!(line.width() <= width);
            }
        }
    }
}
