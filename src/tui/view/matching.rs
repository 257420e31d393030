//! A stock list before it is brought in: its columns, and how its lines are understood.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::inset;
use super::lists::window;
use super::text::{fit, pad, paragraph, wrap};
use crate::exchange::Column;
use crate::language::{one_or_many, say, word};
use crate::stash::command::import::Outcome;
use crate::stash::words;
use crate::tui::app::App;
use crate::tui::app::matching::{Judged, Matching, meaning, row_in_words};

/// Columns of a column's title at most, and of what it means.
const TITLE: usize = 22;
const MEANS: usize = 20;

pub(super) fn page(app: &App, matching: &Matching, frame: &mut Frame<'_>, body: Rect) {
    let area = inset(body);
    let (width, height) = (usize::from(area.width), usize::from(area.height));
    let head = say!("{file}: which column is what?", file = matching.file);
    let titles = if matching.columns.header {
        word!("Its first line has titles (t: it is a card like the rest).")
    } else {
        word!("Its first line is a card like the rest (t: it has titles).")
    };
    let mut lines = vec![
        Line::styled(fit(&head, width), app.theme.strong()),
        Line::styled(fit(titles, width), app.theme.faint()),
    ];
    // The lines below keep half of the room.
    let count = matching.found.count();
    let room = (height.saturating_sub(4) / 2).clamp(1, count.max(1));
    let names = (0..count).map(|at| matching.found.title(&matching.columns, at).width());
    let title = names.max().unwrap_or(0).clamp(6, TITLE);
    for at in window(matching.at, count, room) {
        lines.push(column(app, matching, at, title, width));
    }
    let left = height.saturating_sub(lines.len());
    lines.extend(below(app, matching, width, left));
    frame.render_widget(Paragraph::new(lines), area);
}

/// A column: its title, what it is taken for, and its first values.
fn column(app: &App, matching: &Matching, at: usize, title: usize, width: usize) -> Line<'static> {
    let meant = matching.columns.uses.get(at).copied().flatten();
    let here = at == matching.at;
    let name = pad(&matching.found.title(&matching.columns, at), title);
    let word = meant.map_or(word!("not used"), Column::title);
    let word = if here {
        format!("< {word} >")
    } else {
        format!("  {word}")
    };
    let values: Vec<&str> = matching
        .found
        .values(&matching.columns, at)
        .take(5)
        .collect();
    let values = values.join(" | ");
    let style = if matching.is_twice(at) {
        app.theme.wrong()
    } else if here {
        app.theme.chosen()
    } else if meant.is_some() {
        Style::new()
    } else {
        app.theme.faint()
    };
    let cursor = if here { ">" } else { " " };
    let room = width.saturating_sub(title + MEANS + 4);
    Line::from(vec![
        Span::styled(
            fit(&format!("{cursor} {name} "), width),
            if here {
                app.theme.strong()
            } else {
                Style::new()
            },
        ),
        Span::styled(pad(&word, MEANS), style),
        Span::styled(format!(" {}", fit(&values, room)), app.theme.faint()),
    ])
}

/// What the chosen column says, then how the lines are understood.
fn below(app: &App, matching: &Matching, width: usize, height: usize) -> Vec<Line<'static>> {
    let meant = matching.columns.uses.get(matching.at).copied().flatten();
    let says = match meant {
        Some(column) => format!("{}: {}", column.title(), meaning(meant)),
        None => say!(
            "not used: {meaning}; Left and Right change that",
            meaning = meaning(meant)
        ),
    };
    let mut lines = vec![
        Line::styled(fit(&says, width), app.theme.faint()),
        Line::default(),
    ];
    match &matching.judged {
        Err(why) => lines.extend(paragraph(why, width, app.theme.wrong())),
        Ok(judged) => {
            lines.extend(sums(app, matching, judged, width));
            let left = height.saturating_sub(lines.len());
            lines.extend(rows(app, matching, judged, width, left));
        }
    }
    lines
}

/// How much would come of it.
fn sums(app: &App, matching: &Matching, judged: &Judged, width: usize) -> Vec<Line<'static>> {
    let Some(outcome) = &judged.outcome else {
        let none = word!("No line can be taken with the columns so.");
        return vec![Line::styled(fit(none, width), app.theme.wrong())];
    };
    let mut lines = paragraph(&words_of(outcome), width, app.theme.strong());
    if judged.crowded {
        let crowded =
            word!("The board has too few places for all cards; it can be made larger after.");
        lines.extend(paragraph(crowded, width, app.theme.away()));
    }
    if matching.columns.uses.contains(&Some(Column::Range)) {
        return lines;
    }
    if !matching.range.is_empty() {
        let range = say!("All go into the range '{range}'.", range = matching.range);
        lines.push(Line::styled(fit(&range, width), app.theme.faint()));
    }
    lines
}

fn words_of(outcome: &Outcome) -> String {
    let mut says = vec![match outcome.added {
        1 => word!("1 new card").to_owned(),
        added => say!("{added} new cards", added),
    }];
    if outcome.changed > 0 {
        says.push(say!(
            "{words} written anew",
            words = words::cards(outcome.changed)
        ));
    }
    if outcome.event.is_none() {
        says = vec![word!("the list says nothing new").to_owned()];
    }
    if outcome.usual_amount > 0 {
        says.push(say!(
            "{words} without an amount: each taken as one skein, 8 lengths",
            words = words::cards(outcome.usual_amount)
        ));
    }
    if outcome.onto_own > 0 {
        says.push(say!(
            "{words} spare, not here: their thread goes onto the cards themselves",
            words = words::cards(outcome.onto_own)
        ));
    }
    say!("{list}. Enter brings it in.", list = says.join("; "))
}

/// The lines of a list from one on; of a short list the last stays in view.
fn from<T>(lines: &[T], top: usize) -> &[T] {
    &lines[top.min(lines.len().saturating_sub(1))..]
}

/// What was left out of lines that are taken, as long as there are fewer than so many lines.
fn doubts(
    matching: &Matching,
    judged: &Judged,
    inner: usize,
    share: usize,
    lines: &mut Vec<Line<'static>>,
) {
    for told in from(&judged.warnings, matching.top) {
        let says = say!("line {line}: {words}", line = told.line, words = told.words);
        for line in wrap(&says, inner) {
            if lines.len() >= share.max(2) {
                return;
            }
            lines.push(Line::raw(format!("  {line}")));
        }
    }
}

/// The lines that are refused, then those understood.
fn rows(
    app: &App,
    matching: &Matching,
    judged: &Judged,
    width: usize,
    height: usize,
) -> Vec<Line<'static>> {
    let mut lines = Vec::new();
    let inner = width.saturating_sub(2);
    let refused = judged.refused;
    // Both kinds are seen, whatever there is most of.
    let share = if judged.rows.is_empty() {
        height
    } else {
        height.div_ceil(2)
    };
    if refused == 0 && judged.doubts > 0 {
        let says = if judged.doubts == 1 {
            word!("A value cannot be read; its card is taken without:").to_owned()
        } else {
            say!(
                "{count} values cannot be read; their cards are taken without:",
                count = judged.doubts
            )
        };
        lines.push(Line::styled(fit(&says, width), app.theme.away()));
        doubts(matching, judged, inner, share, &mut lines);
    }
    if refused > 0 {
        let plural = one_or_many!(refused, "line", "lines");
        let says = say!("{refused} {plural} cannot be taken:", refused, plural);
        lines.push(Line::styled(fit(&says, width), app.theme.wrong()));
        for row in from(&judged.rejected, matching.top) {
            let says = say!(
                "line {line}: {reason}",
                line = row.line,
                reason = row.reason
            );
            for line in wrap(&says, inner) {
                lines.push(Line::raw(format!("  {line}")));
            }
            if lines.len() >= share {
                break;
            }
        }
        if lines.len() < share {
            doubts(matching, judged, inner, share, &mut lines);
        }
        lines.truncate(share.max(1));
    }
    if !judged.rows.is_empty() && lines.len() + 1 < height {
        lines.push(Line::styled(
            fit(word!("As it is understood:"), width),
            app.theme.strong(),
        ));
        for row in from(&judged.rows, matching.top) {
            if lines.len() >= height {
                break;
            }
            let says = say!(
                "line {line}: {row}",
                line = row.line,
                row = row_in_words(row)
            );
            lines.push(Line::raw(format!("  {}", fit(&says, inner))));
        }
    }
    lines
}
