//! Drawing the page of a project: its key, and the state of each colour.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::ProjectPage;
use crate::model::ids::CardId;
use crate::model::ring::{KeyLine, KeyThread, Ring};
use crate::model::thread::Strands;
use crate::stash::projects::kit;
use crate::stash::projects::kit::{Availability, ProjectKit, ThreadLine};
use crate::stash::projects::supply::Source;
use crate::stash::state::State;
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::App;
use crate::tui::wall::panel;
use crate::tui::wall::panel::ring_stands;
use crate::tui::widgets::gauge::{gauge, thousandths};
use crate::tui::widgets::list::in_view;
use crate::tui::widgets::pane::{self, Pane};
use crate::tui::widgets::text::{fit, pad, paragraph, wrap};

/// The columns of the key, for the width of a pane.
struct Columns {
    number: usize,
    name: usize,
    /// Width of the bar; 0 if it doesn't fit.
    bar: usize,
    standing: usize,
}

const SYMBOL: usize = 4;
const SWATCH: usize = 3;
const AMOUNT: usize = 9;
/// The lines with number and name above the details of a card.
const HEADING: usize = 2;
/// Width of the bar, including the gap after it.
const BAR: usize = 14;
/// The fewest columns for a name, and for its state, beside a bar.
const NAME: usize = 9;
const STANDING: usize = 21;
/// From this width on, details stand beside the chart key, where the bars still fit.
const WIDE: u16 = 120;

impl Columns {
    fn of(state: &State, ring: &Ring, width: usize) -> Self {
        let longest = ring.threads().map(|thread| number(state, thread).width());
        let number = longest.max().unwrap_or(0).clamp(6, 16) + 2;
        let rest = width.saturating_sub(SYMBOL + number + SWATCH + 2 * AMOUNT);
        let bar = if rest >= BAR + NAME + STANDING {
            BAR
        } else {
            0
        };
        let rest = rest - bar;
        let names = ring
            .threads()
            .map(|thread| state.thread_name(thread).width());
        let name = names.max().unwrap_or(0).max(6) + 2;
        let name = name.min(rest * 9 / 20);
        let name = match bar {
            0 => name,
            _ => name.min(rest - STANDING),
        };
        Self {
            number,
            name,
            bar,
            standing: rest - name,
        }
    }
}

/// The number of the thread stitched with, and its range if there are several ranges.
fn number(state: &State, thread: &KeyThread) -> String {
    let colour = thread.stitched();
    match state.ranges().len() {
        0 | 1 => colour.number.to_string(),
        _ => text::thread::colour(state, colour),
    }
}

/// The title: the project, with its progress and its kit.
pub(super) fn title(
    app: &App,
    state: &State,
    page: ProjectPage,
    width: u16,
) -> Option<Line<'static>> {
    let theme = &app.theme;
    let ring = state.ring(page.ring)?;
    let kit = app.derived.kit(ring.id);
    let stands = ring_stands(app, state, ring);
    let cards = text::cards(u32::try_from(state.cards_on(ring).count()).unwrap_or(u32::MAX));
    let stands = match ring.status.as_str() {
        status if status.is_empty() || width < 100 => stands,
        status => format!(
            "{status}, {stands}",
            status = fit(status, usize::from(width / 4))
        ),
    };
    let mut spans = vec![
        Span::styled(
            format!(" {}  ", fit(ring.project.as_str(), usize::from(width / 3))),
            theme.strong(),
        ),
        Span::styled(format!("{stands}, {cards} on it  "), theme.muted()),
    ];
    if kit.needed_cm > 0 && width >= 100 {
        let share = thousandths(kit.used_cm, kit.needed_cm);
        spans.extend(gauge(16, share, theme.away(), theme.line()));
        spans.push(Span::styled(
            format!("  {} % stitched  ", share / 10),
            theme.muted(),
        ));
    }
    if kit.threads > 0 {
        let (there, of) = kit.kitted;
        let style = if there < of {
            theme.away()
        } else {
            theme.good()
        };
        let kitted = format!("kitted {there} of {of}");
        spans.push(Span::styled(kitted, style));
        if kit.owned < kit.threads {
            let lacking = format!("  {} to find or buy", kit.threads - kit.owned);
            spans.push(Span::styled(lacking, theme.wrong()));
        }
    }
    if page.shared {
        spans.push(Span::styled("  shared with the others", theme.muted()));
    }
    Some(Line::from(spans))
}

pub(super) fn page(app: &App, state: &State, page: ProjectPage, frame: &mut Frame<'_>, body: Rect) {
    let Some(project) = page.check(state) else {
        return;
    };
    let wide = body.width >= WIDE;
    let (key, aside) = if wide {
        pane::with_right(body, (body.width * 2 / 7).clamp(34, 60))
    } else {
        pane::with_foot(body, (body.height / 3).clamp(4, 9))
    };
    key_pane(app, state, page, &project, frame, key);
    let fabric = if wide {
        // As many rows as its text needs, plus the frame.
        let width = usize::from(aside.width.saturating_sub(4));
        let lines = wrap(&assumed(project.ring, &project), width).len() + 2;
        u16::try_from(lines)
            .unwrap_or(u16::MAX)
            .min(aside.height / 2)
    } else {
        0
    };
    let (of_thread, of_fabric) = pane::with_foot(aside, fabric);
    thread_pane(app, state, page, &project, frame, of_thread, wide);
    if fabric >= 3 {
        let pane = Pane {
            title: "Fabric",
            counter: "f",
            focus: false,
        };
        let inside = pane.draw(&app.theme, of_fabric, frame.buffer_mut());
        let lines = paragraph(
            &assumed(project.ring, &project),
            inside.width.into(),
            app.theme.muted(),
        );
        frame.render_widget(Paragraph::new(lines), inside);
    }
}

/// The chart key, with a row for each thread of a line.
fn key_pane(
    app: &App,
    state: &State,
    page: ProjectPage,
    project: &ProjectKit<'_>,
    frame: &mut Frame<'_>,
    area: Rect,
) {
    let count = project.lines.len();
    let counter = format!("{} of {count}", (page.at + 1).min(count));
    let pane = Pane {
        title: "Chart key",
        counter: &counter,
        focus: true,
    };
    let inside = pane.draw(&app.theme, area, frame.buffer_mut());
    let (width, height) = (usize::from(inside.width), usize::from(inside.height));
    if project.lines.is_empty() {
        let text = "It has no chart key yet. i imports one from a list with columns such as symbol, number, \
         strands and stitches. a writes a line by hand.";
        let lines = paragraph(text, width, Style::new());
        frame.render_widget(Paragraph::new(lines), inside);
        return;
    }
    let columns = Columns::of(state, project.ring, width);
    let mut lines = paragraph(&sum(project), width, app.theme.muted());
    lines.push(heading(app, &columns));
    let room = height.saturating_sub(lines.len()).max(1);
    // A row for each thread of a line, and one for a notion.
    let rows = project.lines.iter().enumerate().flat_map(|(at, line)| {
        let threads = line.threads.iter().enumerate();
        let threads = threads.map(|(which, thread)| Some((which, thread)));
        let notion = line.line.notion().map(|_| None);
        threads.chain(notion).map(move |row| (at, line, row))
    });
    let rows: Vec<_> = rows.collect();
    let chosen = rows.iter().position(|&(at, ..)| at == page.at).unwrap_or(0);
    for &(at, line, ref thread) in rows
        .get(in_view(chosen, rows.len(), room))
        .unwrap_or_default()
    {
        let style = if at == page.at {
            app.theme.row()
        } else {
            Style::new()
        };
        lines.push(match thread {
            Some((which, of)) => {
                let symbol = if *which == 0 {
                    line.line.symbol.as_str()
                } else {
                    "+"
                };
                row(app, state, project.ring, symbol, of, style, &columns)
            }
            None => notion_row(line.line, style, &columns),
        });
    }
    frame.render_widget(Paragraph::new(lines), inside);
}

/// Details of the line under the cursor; below a narrow page, also the fabric.
fn thread_pane(
    app: &App,
    state: &State,
    page: ProjectPage,
    project: &ProjectKit<'_>,
    frame: &mut Frame<'_>,
    area: Rect,
    wide: bool,
) {
    let line = project.lines.get(page.at);
    let title = line.map_or_else(String::new, |line| text::thread::line_in_brief(line.line));
    let card = line
        .and_then(|line| line.threads.first())
        .and_then(|of| state.cards_of(of.thread.stitched()).next());
    let place = card.map_or_else(String::new, |kept| {
        text::places::brief(&state.place_of(kept))
    });
    let pane = Pane {
        title: &title,
        counter: &place,
        focus: false,
    };
    let inside = pane.draw(&app.theme, area, frame.buffer_mut());
    let width = usize::from(inside.width);
    let mut lines = Vec::new();
    if let Some(line) = line {
        let colour = line
            .threads
            .first()
            .and_then(|of| state.thread_colour(of.thread));
        if let (Some(style), true) = (colour.and_then(|c| app.theme.swatch(c)), wide) {
            for text in ["", &format!(" {title}"), ""] {
                lines.push(Line::styled(pad(text, width.min(14)), style));
            }
            lines.push(Line::default());
        }
        lines.extend(details(app, state, line, width));
        if let (Some(kept), true) = (card, wide) {
            // Skip its heading, which is already drawn.
            let about = panel::about(app, state, kept, width);
            lines.extend(about.into_iter().skip(HEADING));
        }
    }
    if !wide {
        let fabric = assumed(project.ring, project);
        lines.extend(paragraph(&fabric, width, app.theme.faint()));
    }
    frame.render_widget(Paragraph::new(lines), inside);
}

/// The basis of the computed need, and whether the user set it.
fn assumed(ring: &Ring, project: &ProjectKit<'_>) -> String {
    let words = text::thread::assumptions(&project.assumed);
    match ring.fabric {
        Some(_) => words,
        None => format!("Assumed, f sets it: {words}"),
    }
}

/// Counts of threads by state: `11 lines, 12 threads: 9 enough (4 on the ring), 2 short, 1 not
/// owned`.
fn sum(project: &ProjectKit<'_>) -> String {
    let count = |is: fn(Availability) -> bool| {
        let threads = project.threads();
        threads.filter(|thread| is(thread.standing)).count()
    };
    let lines = project.lines.len();
    let mut parts = Vec::new();
    let enough = count(Availability::is_enough);
    let on_ring = count(|standing| standing == Availability::OnRing);
    if enough > 0 {
        let there = if on_ring > 0 {
            format!(" ({on_ring} on the ring)")
        } else {
            String::new()
        };
        parts.push(format!("{enough} enough{there}"));
    }
    for (standing, words) in [
        (count(|s| s == Availability::Split), "of them to split off"),
        (count(|s| s == Availability::Short), "short"),
        (count(|s| s == Availability::Uncounted), "not counted"),
        (count(|s| s == Availability::Lost), "missing"),
        (count(|s| s == Availability::NotOwned), "not owned"),
    ] {
        if standing > 0 {
            parts.push(format!("{standing} {words}"));
        }
    }
    let word = one_or_many(lines, "line", "lines");
    // A blend has several threads in one line, and beads have none.
    let threads = project.threads().count();
    let threads = match threads == lines {
        true => String::new(),
        false => format!(", {threads} {}", one_or_many(threads, "thread", "threads")),
    };
    format!("{lines} {word}{threads}: {}", parts.join(", "))
}

/// Thread in metres as cut lengths: `4.4 m`.
fn metres(strands: Strands, line: &ThreadLine<'_>) -> String {
    let metres = line.put_up.to_fraction(strands) * f64::from(line.cut_cm) / 100.0;
    format!("{metres:.1} m")
}

fn heading(app: &App, columns: &Columns) -> Line<'static> {
    let text = [
        pad("", SYMBOL + SWATCH),
        pad("number", columns.number),
        pad("name", columns.name),
        format!("{:>width$}  ", "needs", width = AMOUNT - 2),
        pad("on the ring", columns.bar),
        format!(
            "{:>width$}  ",
            if columns.bar > 0 { "" } else { "ring" },
            width = AMOUNT - 2
        ),
        pad("how it stands", columns.standing),
    ];
    Line::styled(text.concat(), app.theme.faint())
}

/// A notion: its name and count, aligned with the thread columns.
fn notion_row(line: &KeyLine, style: Style, columns: &Columns) -> Line<'static> {
    let width =
        columns.number + SWATCH + columns.name + 2 * AMOUNT + columns.bar + columns.standing;
    Line::from(vec![
        Span::styled(pad(&format!(" {}", line.symbol), SYMBOL - 1), style),
        Span::styled(" ", style),
        Span::styled(pad(&text::thread::notion(line), width), style),
    ])
}

fn row(
    app: &App,
    state: &State,
    ring: &Ring,
    symbol: &str,
    line: &ThreadLine<'_>,
    style: Style,
    columns: &Columns,
) -> Line<'static> {
    let thread = line.thread;
    let swatch = state
        .thread_colour(thread)
        .and_then(|colour| app.theme.swatch(colour));
    let swatch = match swatch {
        Some(swatch) => [Span::styled("  ", swatch), Span::styled(" ", style)],
        None => [Span::styled("  ", style), Span::styled(" ", style)],
    };
    let needs = line
        .left
        .map_or_else(|| "-".to_owned(), |left| metres(left, line));
    let there: u32 = state
        .cards_of(thread.stitched())
        .filter(|kept| kept.place.at.ring() == Some(ring.id))
        .fold(0, |sum, kept| sum.saturating_add(kept.strands().0));
    let (mut words, mut mood) = standing(app, state, line);
    if text::thread::mixed_lots(line).is_some() {
        words = format!("mixes lots, {words}");
        mood = app.theme.wrong();
    }
    let has = if there == 0 {
        "-".to_owned()
    } else {
        metres(Strands(there), line)
    };
    let number = number(state, thread);
    let mut spans = vec![
        Span::styled(pad(&format!(" {symbol}"), SYMBOL - 1), style),
        Span::styled(" ", style),
    ];
    spans.extend(swatch);
    spans.extend([
        Span::styled(
            pad(&number, columns.number),
            style.add_modifier(Modifier::BOLD),
        ),
        Span::styled(
            pad(state.thread_name(thread), columns.name.saturating_sub(1)),
            style,
        ),
        Span::styled(" ", style),
        Span::styled(format!("{needs:>width$}  ", width = AMOUNT - 2), style),
    ]);
    if columns.bar > 0 {
        let need = line.left.map_or(0, |left| left.0);
        let share = match (need, there) {
            (0, 0) => 0,
            _ => thousandths(there.into(), need.into()),
        };
        let full = if there >= need {
            app.theme.good()
        } else {
            app.theme.wrong()
        };
        let bar = u16::try_from(columns.bar - 2).unwrap_or(0);
        let bars = gauge(bar, share, style.patch(full), style.patch(app.theme.line()));
        spans.extend(bars);
        spans.push(Span::styled("  ", style));
    }
    spans.extend([
        Span::styled(format!("{has:>width$}  ", width = AMOUNT - 2), style),
        Span::styled(pad(&words, columns.standing), style.patch(mood)),
    ]);
    Line::from(spans)
}

/// The state of a colour in a few words, and its urgency.
fn standing(app: &App, state: &State, line: &ThreadLine<'_>) -> (String, Style) {
    let theme = &app.theme;
    let place = |card: CardId| {
        let kept = state.card(card);
        let hook = kept.and_then(|kept| kept.place.at.hook());
        hook.map_or_else(
            || "to hang".to_owned(),
            |hook| format!("on {hook}", hook = state.hook_name(hook)),
        )
    };
    let promised = |is: fn(Source) -> bool| line.promises.iter().find(move |p| is(p.source));
    match line.standing {
        Availability::Done => ("enough, all used".to_owned(), Style::new()),
        Availability::OnRing => ("enough, on the ring".to_owned(), Style::new()),
        Availability::Home => {
            let from = promised(|source| source == Source::Here);
            let from = from.map(|promise| place(promise.card)).unwrap_or_default();
            (format!("enough, {from}"), Style::new())
        }
        Availability::Split => {
            let from = promised(|source| matches!(source, Source::OtherRing(_)));
            let from = from.and_then(|promise| match promise.source {
                Source::OtherRing(ring) => state.ring(ring),
                _ => None,
            });
            let from = from.map_or("another ring", |ring| ring.project.as_str());
            (format!("split off from {from}"), theme.away())
        }
        Availability::Short => {
            let uncut = match line.uncut_skeins {
                0 => String::new(),
                n => format!(", cut {skeins}", skeins = text::thread::skeins(n)),
            };
            (
                format!("short by {short}{uncut}", short = metres(line.short, line)),
                theme.wrong(),
            )
        }
        Availability::Uncounted => {
            let kept = state.cards_of(line.thread.stitched()).next();
            let place = kept.map(|kept| text::places::place_of(state, kept));
            (place.unwrap_or_default(), Style::new())
        }
        Availability::Lost => ("missing".to_owned(), theme.wrong()),
        Availability::NotOwned => ("not owned".to_owned(), theme.wrong()),
    }
}

/// All details of the selected line.
fn details(app: &App, state: &State, line: &kit::Line<'_>, width: usize) -> Vec<Line<'static>> {
    let mut lines = Vec::new();
    if line.line.notion().is_some() {
        let text = text::thread::notion(line.line);
        lines.extend(paragraph(&text, width, Style::new()).into_iter().take(3));
    }
    for of in &line.threads {
        lines.extend(thread_details(app, state, line.line, of, width));
    }
    lines
}

fn thread_details(
    app: &App,
    state: &State,
    line: &KeyLine,
    of: &ThreadLine<'_>,
    width: usize,
) -> Vec<Line<'static>> {
    let thread = of.thread;
    let counted = match text::thread::stitches(line) {
        none if none.is_empty() => "stitches not counted".to_owned(),
        counted => counted,
    };
    // In lengths as cut, like the cards, so that the two can be compared.
    let has: u32 = state
        .cards_of(thread.stitched())
        .filter(|kept| !kept.place.at.is_missing())
        .fold(0, |sum, kept| sum.saturating_add(kept.strands().0));
    let needs = of.need.map_or_else(String::new, |need| {
        format!(
            ", needs {need}, owned {has}",
            need = text::thread::amount(need.strands, of.put_up),
            has = text::thread::amount(Strands(has), of.put_up)
        )
    });
    let used = text::thread::used(of.used, of.left, of.put_up);
    let used = used.map_or_else(String::new, |used| format!(", {used}"));
    let number = match &thread.stitched_with {
        None => thread.colour.number.to_string(),
        Some(with) => format!(
            "{number} for {colour}",
            number = with.number,
            colour = thread.colour.number
        ),
    };
    let named = format!("{number} {}", state.thread_name(thread));
    let first = format!(
        "{}: {counted}{needs}{used}; {}",
        named.trim_end(),
        text::thread::availability(state, of)
    );
    let mut lines: Vec<Line<'_>> = paragraph(&first, width, Style::new());
    lines.truncate(6);
    let variegated = state.colour_is_variegated(thread.stitched());
    let variegated = variegated.then(|| "variegated".to_owned());
    let scarce = text::thread::scarcity(state, thread.stitched());
    let lots = text::thread::lots_of(state, of);
    let lots = lots.map(|words| format!("dye lots: {words}"));
    for note in lots.into_iter().chain(variegated).chain(scarce) {
        lines.extend(paragraph(&note, width, app.theme.away()));
    }
    for found in of.substitutes.iter().take(2) {
        let text = text::thread::substitute(state, found);
        let mood = if found.is_far() {
            app.theme.away()
        } else {
            Style::new()
        };
        lines.push(Line::styled(fit(&text, width), mood));
    }
    if of.standing.has_no_card() && of.substitutes.is_empty() {
        let known = state.cards().any(|kept| kept.card.colour.is_some());
        let text = match known {
            true => "nothing in the stash could stand in for it",
            false => "no card has a colour, so what could stand in isn't known",
        };
        lines.push(Line::styled(fit(text, width), app.theme.faint()));
    }
    lines
}
