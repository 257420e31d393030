//! A card list before it is imported: its columns, and how its lines are understood.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::inset;
use crate::exchange::Column;
use crate::stash::command::import::Outcome;
use crate::text;
use crate::text::files::warning;
use crate::text::one_or_many;
use crate::text::refusal::row_fault;
use crate::tui::app::App;
use crate::tui::app::matching::{Judged, Matching, meaning, row_summary};
use crate::tui::widgets::list::in_view;
use crate::tui::widgets::text::{fit, pad, paragraph, wrap};

/// Columns of a column's title at most, and of what it means.
const TITLE: usize = 22;
const MEANS: usize = 20;

pub(super) fn page(app: &App, matching: &Matching, frame: &mut Frame<'_>, body: Rect) {
    let area = inset(body);
    let (lines, _) = laid_out(app, matching, area.width.into(), area.height.into());
    frame.render_widget(Paragraph::new(lines), area);
}

/// How the lines below the columns are scrolled on the screen as it is.
pub fn scroll(app: &App, matching: &Matching) -> Scroll {
    let area = inset(crate::tui::layout::parts(app.size.0, app.size.1).body);
    laid_out(app, matching, area.width.into(), area.height.into()).1
}

/// The page, and how its lines below are scrolled.
fn laid_out(
    app: &App,
    matching: &Matching,
    width: usize,
    height: usize,
) -> (Vec<Line<'static>>, Scroll) {
    let head = format!("{file}: which column is what?", file = matching.file);
    let titles = if matching.columns.header {
        "Its first line has titles (t: it is a card like the rest)."
    } else {
        "Its first line is a card like the rest (t: it has titles)."
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
    for at in in_view(matching.at, count, room) {
        lines.push(column(app, matching, at, title, width));
    }
    let left = height.saturating_sub(lines.len());
    let (below, scroll) = below(app, matching, width, left);
    lines.extend(below);
    (lines, scroll)
}

/// A column: its title, what it is taken for, and its first values.
fn column(app: &App, matching: &Matching, at: usize, title: usize, width: usize) -> Line<'static> {
    let meant = matching.columns.uses.get(at).copied().flatten();
    let here = at == matching.at;
    let name = pad(&matching.found.title(&matching.columns, at), title);
    let word = meant.map_or("not used", Column::title);
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
fn below(
    app: &App,
    matching: &Matching,
    width: usize,
    height: usize,
) -> (Vec<Line<'static>>, Scroll) {
    let meant = matching.columns.uses.get(matching.at).copied().flatten();
    let says = match meant {
        Some(column) => format!("{}: {}", column.title(), meaning(meant)),
        None => format!(
            "not used: {meaning}; Left and Right change that",
            meaning = meaning(meant)
        ),
    };
    let mut lines = vec![
        Line::styled(fit(&says, width), app.theme.faint()),
        Line::default(),
    ];
    match &matching.judged {
        Err(why) => {
            lines.extend(paragraph(why, width, app.theme.wrong()));
            if matching.unreadable {
                let next = "When the file is put right, Enter reads it again.";
                lines.extend(paragraph(next, width, app.theme.strong()));
            }
            (lines, Scroll::default())
        }
        Ok(judged) => {
            lines.extend(sums(app, matching, judged, width));
            let left = height.saturating_sub(lines.len());
            let (rows, scroll) = rows(app, matching, judged, width, left);
            lines.extend(rows);
            (lines, scroll)
        }
    }
}

/// How much would come of it.
fn sums(app: &App, matching: &Matching, judged: &Judged, width: usize) -> Vec<Line<'static>> {
    let Some(outcome) = &judged.outcome else {
        let none = "No line can be taken with the columns so.";
        return vec![Line::styled(fit(none, width), app.theme.wrong())];
    };
    let mut lines = paragraph(&words_of(outcome), width, app.theme.strong());
    if judged.crowded {
        let crowded = "The board has too few places for all cards; it can be made larger after.";
        lines.extend(paragraph(crowded, width, app.theme.away()));
    }
    if matching.columns.uses.contains(&Some(Column::Range)) {
        return lines;
    }
    if !matching.range.is_empty() {
        let range = format!("All go into the range '{range}'.", range = matching.range);
        lines.push(Line::styled(fit(&range, width), app.theme.faint()));
    }
    lines
}

fn words_of(outcome: &Outcome) -> String {
    let mut says = vec![match outcome.added {
        1 => "1 new card".to_owned(),
        added => format!("{added} new cards"),
    }];
    if outcome.changed > 0 {
        says.push(format!(
            "{words} written anew",
            words = text::cards(outcome.changed)
        ));
    }
    if outcome.event.is_none() {
        says = vec!["the list says nothing new".to_owned()];
    }
    if outcome.usual_amount > 0 {
        says.push(format!(
            "{words} without an amount: {taken}",
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
            "{words} spare, not here: {thread}",
            words = text::cards(outcome.onto_own),
            thread = one_or_many(
                outcome.onto_own,
                "its thread goes onto the card itself",
                "their thread goes onto the cards themselves"
            )
        ));
    }
    format!("{list}. Enter brings it in.", list = says.join("; "))
}

/// The lines of a list from one on; of a short list the last stays in view.
fn from<T>(lines: &[T], top: usize) -> &[T] {
    &lines[top.min(lines.len().saturating_sub(1))..]
}

/// What is told of some lines of the list.
struct Told {
    heading: Line<'static>,
    lines: Vec<Line<'static>>,
}

/// How the lines below are scrolled.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Scroll {
    /// Lines that can be passed over at once without one being left out.
    pub step: usize,
    /// Whether there are lines below those in view.
    pub more: bool,
}

impl Scroll {
    /// Of so many lines so many are in view from `top` on.
    fn over(&mut self, top: usize, seen: usize, all: usize) {
        self.more |= top + seen < all;
        if seen < all {
            self.step = match self.step {
                0 => seen,
                step => step.min(seen),
            };
        }
    }
}

/// The lines that are refused, and those that are taken with something left out.
fn told(app: &App, judged: &Judged, width: usize) -> Vec<Told> {
    let of = |rows: &mut dyn Iterator<Item = String>| -> Vec<Line<'static>> {
        let wrapped = rows.flat_map(|says| wrap(&says, width.saturating_sub(2)));
        wrapped.map(|line| Line::raw(format!("  {line}"))).collect()
    };
    let mut all = Vec::new();
    let refused = judged.refused;
    if refused > 0 {
        let plural = one_or_many(refused, "line", "lines");
        let says = format!("{refused} {plural} cannot be taken:");
        all.push(Told {
            heading: Line::styled(fit(&says, width), app.theme.wrong()),
            lines: of(&mut judged.rejected.iter().map(|row| {
                format!(
                    "line {line}: {reason}",
                    line = row.line,
                    reason = row_fault(&row.reason)
                )
            })),
        });
    }
    if judged.doubts > 0 {
        let says = if judged.doubts == 1 {
            "A value cannot be read; its card is taken without:".to_owned()
        } else {
            format!(
                "{count} values cannot be read; their cards are taken without:",
                count = judged.doubts
            )
        };
        all.push(Told {
            heading: Line::styled(fit(&says, width), app.theme.away()),
            lines: of(&mut judged.warnings.iter().map(|told| {
                format!(
                    "line {line}: {words}",
                    line = told.line,
                    words = warning(told)
                )
            })),
        });
    }
    all
}

/// What is told of lines, then those understood: each from the line on that is scrolled to.
fn rows(
    app: &App,
    matching: &Matching,
    judged: &Judged,
    width: usize,
    height: usize,
) -> (Vec<Line<'static>>, Scroll) {
    let mut lines = Vec::new();
    let mut scroll = Scroll::default();
    let told = told(app, judged, width);
    // Both kinds are seen, whatever there is most of.
    let share = if judged.rows.is_empty() {
        height
    } else {
        height.div_ceil(2).max(2)
    };
    let all = told.iter().map(|told| told.lines.len()).sum::<usize>();
    let top = matching.top.min(all.saturating_sub(1));
    let (mut passed, mut seen) = (top, 0);
    for Told { heading, lines: of } in told {
        let rest = of.get(passed..).unwrap_or_default();
        passed = passed.saturating_sub(of.len());
        // A heading stands over a line at least.
        let room = share.saturating_sub(lines.len() + 1);
        if rest.is_empty() || room == 0 {
            continue;
        }
        lines.push(heading);
        let shown = rest.iter().take(room).cloned();
        seen += shown.len();
        lines.extend(shown);
    }
    scroll.over(top, seen.max(1), all);
    if !judged.rows.is_empty() && lines.len() + 1 < height {
        lines.push(Line::styled(
            fit("As it is understood:", width),
            app.theme.strong(),
        ));
        let rows = from(&judged.rows, matching.top);
        let room = height - lines.len();
        for row in rows.iter().take(room) {
            let says = format!(
                "line {line}: {row}",
                line = row.line,
                row = row_summary(row)
            );
            let says = fit(&says, width.saturating_sub(2));
            lines.push(Line::raw(format!("  {says}")));
        }
        let top = judged.rows.len() - rows.len();
        scroll.over(top, room.min(rows.len()), judged.rows.len());
    }
    (lines, scroll)
}
