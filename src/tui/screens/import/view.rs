//! Drawing the columns of a card list, the preview of its lines, and the windows over them.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::list::{Amounts, CardList, EitherWay, Entry, Judged, Part};
use crate::exchange::Column;
use crate::stash::command::import::{AmountSaid, Outcome};
use crate::stash::state::State;
use crate::text;
use crate::text::one_or_many;
use crate::text::thread::before_and_after;
use crate::tui::app::App;
use crate::tui::layout;
use crate::tui::widgets::list::{bar, counter};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, pad, paragraph, wrap};
use crate::tui::widgets::window;

/// The most columns for the line and the number of a preview line.
const HEAD: usize = 9;
const NUMBER: usize = 9;

/// The columns of the list and the preview, side by side if there is space.
pub(super) fn columns(app: &App, list: &CardList, frame: &mut Frame<'_>, body: Rect) {
    let (upper, lower) = list.page.parts(body);
    let buffer = frame.buffer_mut();
    list.page.draw(app, upper, buffer);
    let said = format!("{}.", list.page.first_line());
    let seen = Preview::of(app, list, lower);
    let count = match &list.judged {
        Ok(judged) => judged.entries.len(),
        Err(_) => 0,
    };
    let shown = match list.top > 0 || seen.shown < count {
        true => counter((list.top + seen.shown).saturating_sub(1), count),
        false => String::new(),
    };
    let pane = Pane {
        title: if count == 0 { &said } else { "Preview" },
        counter: &shown,
        focus: false,
    };
    let inside = pane.draw(&app.theme, lower, buffer);
    let in_view = (list.top, seen.shown.max(1), count);
    frame.render_widget(Paragraph::new(seen.lines), inside);
    bar(&app.theme, inside, in_view, frame.buffer_mut());
}

/// The first preview line after paging on or back. No line is skipped.
pub(super) fn paged(app: &App, list: &CardList, on: bool) -> usize {
    let body = layout::parts(app.size.0, app.size.1).body;
    let seen = Preview::of(app, list, list.page.parts(body).1);
    if !on {
        return list.top.saturating_sub(seen.shown.max(1));
    }
    let count = list
        .judged
        .as_ref()
        .map_or(0, |judged| judged.entries.len());
    match list.top + seen.shown < count {
        true => list.top + seen.shown,
        false => list.top,
    }
}

/// The preview, laid out for an area.
struct Preview {
    lines: Vec<Line<'static>>,
    /// The number of whole entries in view.
    shown: usize,
}

impl Preview {
    fn of(app: &App, list: &CardList, area: Rect) -> Self {
        let width = usize::from(area.width.saturating_sub(6));
        let height = usize::from(area.height.saturating_sub(2));
        let mut lines = Vec::new();
        let judged = match &list.judged {
            Ok(judged) => judged,
            Err(why) => {
                lines.extend(paragraph(why, width, app.theme.wrong()));
                if list.unreadable {
                    let next = "When the file is put right, Enter reads it again.";
                    lines.extend(paragraph(next, width, app.theme.strong()));
                }
                return Self { lines, shown: 0 };
            }
        };
        lines.extend(sums(app, list, judged, width));
        if height > lines.len() + 4 {
            lines.push(Line::default());
        }
        let mut part = None;
        let mut shown = 0;
        for entry in judged.entries.iter().skip(list.top) {
            let mut of = Vec::new();
            if part != Some(entry.part) {
                if part.is_some() {
                    of.push(Line::default());
                }
                of.push(heading(app, judged, entry.part, width));
                part = Some(entry.part);
            }
            of.extend(entry_lines(app, entry, width));
            // An entry that doesn't fit moves to the next page; at least one entry is always shown.
            let fits = lines.len() + of.len() <= height;
            if !fits && shown > 0 {
                break;
            }
            lines.extend(of);
            shown += 1;
        }
        Self { lines, shown }
    }
}

fn heading(app: &App, judged: &Judged, part: Part, width: usize) -> Line<'static> {
    let style = match part {
        Part::Refused => app.theme.wrong(),
        Part::ToCheck | Part::LeftOut => app.theme.away(),
        Part::Here | Part::Taken => app.theme.strong(),
    };
    Line::styled(fit(&judged.heading(part), width), style)
}

/// An entry: its line in the file, a swatch, and its text.
fn entry_lines(app: &App, entry: &Entry, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let swatch = entry.colour.and_then(|colour| theme.swatch(colour));
    let number = match entry.part {
        Part::Here | Part::Taken => NUMBER,
        Part::ToCheck | Part::Refused | Part::LeftOut => 0,
    };
    let used = HEAD + 4 + number;
    let words = wrap(&entry.words, width.saturating_sub(used).max(8));
    let first = |at: usize| match at {
        0 => (pad(&entry.head, HEAD), swatch.unwrap_or_default()),
        _ => (" ".repeat(HEAD), Style::new()),
    };
    let line = |(at, words): (usize, String)| {
        let (head, swatch) = first(at);
        let number = number + 2;
        Line::from(vec![
            Span::styled(head, theme.faint()),
            Span::styled("  ", swatch),
            Span::styled(
                pad(
                    &format!("  {}", if at == 0 { &entry.number } else { "" }),
                    number,
                ),
                theme.strong(),
            ),
            Span::raw(words),
        ])
    };
    words.into_iter().enumerate().map(line).collect()
}

/// Totals of the import.
fn sums(app: &App, list: &CardList, judged: &Judged, width: usize) -> Vec<Line<'static>> {
    let theme = &app.theme;
    let Some(outcome) = &judged.outcome else {
        let none = "No line can be taken with these columns.";
        return paragraph(none, width, theme.wrong());
    };
    let mut lines = paragraph(&words_of(list, outcome), width, theme.strong());
    if judged.crowded {
        let crowded =
            "The board has too few places for all these cards. You can make it larger later.";
        lines.extend(paragraph(crowded, width, theme.away()));
    }
    let has = |column| list.page.columns.uses.contains(&Some(column));
    if !has(Column::Range) && !list.range.is_empty() {
        let range = format!("All go into the range '{}'.", list.range);
        lines.push(Line::styled(fit(&range, width), theme.muted()));
    }
    lines
}

fn words_of(list: &CardList, outcome: &Outcome) -> String {
    let here = outcome.amounts.len();
    let mut says = vec![match outcome.added {
        1 => "1 new card".to_owned(),
        added => format!("{added} new cards"),
    }];
    let asks = here > 0 && list.amounts.is_none();
    if asks {
        let here = u32::try_from(here).unwrap_or(u32::MAX);
        says.push(format!("{} here already", text::cards(here)));
    } else if outcome.changed > 0 {
        says.push(format!("{} changed", text::cards(outcome.changed)));
    }
    if outcome.event.is_none() && !asks {
        says = vec!["The list changes nothing".to_owned()];
    }
    if outcome.usual_amount > 0 {
        says.push(format!(
            "{words} without an amount, {taken}",
            words = text::cards(outcome.usual_amount),
            taken = one_or_many(
                outcome.usual_amount,
                "taken as one skein, 8 lengths",
                "each taken as one skein, 8 lengths"
            )
        ));
    }
    if outcome.onto_own > 0 {
        says.push(format!(
            "{words} that {split} not here: {thread}",
            words = one_or_many(outcome.onto_own, "a split card", "split cards"),
            split = one_or_many(outcome.onto_own, "is", "are"),
            thread = one_or_many(
                outcome.onto_own,
                "its thread goes onto the card itself",
                "their thread goes onto the cards themselves"
            )
        ));
    }
    let next = match asks {
        true => "Enter asks what the list is: a purchase, or what you own now",
        false => "Enter imports the list",
    };
    format!("{}. {next}.", says.join(" · "))
}

/// The effect on existing cards, as a purchase and as what is owned now.
pub(super) fn either_way(
    app: &App,
    state: &State,
    (cards, rehomed): (&[EitherWay], Option<&str>),
    (chosen, top): (Amounts, usize),
    frame: &mut Frame<'_>,
    body: Rect,
) {
    let theme = &app.theme;
    let width = 90.min(body.width);
    let inner = usize::from(width.saturating_sub(4));
    let count = cards.len();
    let says = match count {
        1 => "A card of the list is here already. What is the list?".to_owned(),
        n => format!("{n} cards of the list are here already. What is the list?"),
    };
    let mut lines = paragraph(&says, inner, Style::new());
    if let Some(rehomed) = rehomed {
        lines.extend(paragraph(&format!("{rehomed}."), inner, theme.wrong()));
    }
    lines.push(Line::default());
    for (amounts, words) in [
        (Amounts::Purchase, "A purchase: add its thread to the cards"),
        (
            Amounts::Owned,
            "What I own now: its amounts replace those of the cards",
        ),
    ] {
        let here = amounts == chosen;
        let line = Line::from(vec![
            Span::styled(if here { "▸ " } else { "  " }, theme.accent()),
            Span::raw(pad(words, inner.saturating_sub(2))),
        ]);
        lines.push(if here { line.style(theme.row()) } else { line });
    }
    lines.push(Line::default());
    let room = usize::from(body.height)
        .saturating_sub(lines.len() + 4)
        .max(1);
    let top = top.min(count.saturating_sub(room));
    let shown = count.saturating_sub(top).min(room);
    for of in cards.iter().skip(top).take(room) {
        lines.extend(becomes(app, state, of, chosen, inner));
    }
    if shown < count {
        let says = format!("{} · PgDn", counter(top + shown - 1, count));
        lines.push(Line::styled(says, theme.faint()));
    }
    let inside = window::draw(
        &app.theme,
        "Purchase or not?",
        (width, lines.len()),
        frame,
        body,
    );
    frame.render_widget(Paragraph::new(lines), inside);
}

/// `405  16 lengths → 24 lengths`, for the selected answer.
fn becomes(
    app: &App,
    state: &State,
    of: &EitherWay,
    chosen: Amounts,
    width: usize,
) -> Option<Line<'static>> {
    let theme = &app.theme;
    let said: &AmountSaid = match chosen {
        Amounts::Purchase => &of.purchase,
        Amounts::Owned => &of.owned,
    };
    let kept = state.card(said.card)?;
    let (before, after) = before_and_after(state, said)?;
    let [was, becomes] = said.sums();
    let less = becomes < was;
    let style = match (said.changes(), less) {
        (false, _) => theme.faint(),
        (true, true) => theme.wrong(),
        (true, false) => theme.good(),
    };
    let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
    let name = width.saturating_sub(54).min(22);
    Some(Line::from(vec![
        Span::styled("  ", swatch.unwrap_or_default()),
        Span::raw(format!(" {} ", pad(&state.number_and_tag(kept), 9))),
        Span::styled(pad(kept.card.name.as_str(), name), theme.muted()),
        Span::raw(format!(" {before:>18} → ")),
        Span::styled(fit(&after, 22), style),
    ]))
}
