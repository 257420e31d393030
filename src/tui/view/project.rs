//! The page of a project: its key, and how each colour stands.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::inset;
use crate::model::ids::CardId;
use crate::model::ring::{KeyLine, KeyThread, Ring, RingState};
use crate::model::thread::Strands;
use crate::model::whereabouts::Whereabouts;
use crate::stash::projects::kit;
use crate::stash::projects::kit::{Availability, ProjectKit, ThreadLine};
use crate::stash::projects::supply::Source;
use crate::stash::state::State;
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::App;
use crate::tui::app::project::Project;
use crate::tui::widgets::list::in_view;
use crate::tui::widgets::text::{ago, fit, pad, paragraph};

/// Where the columns of the key begin, for a page of a width.
struct Columns {
    number: usize,
    name: usize,
    standing: usize,
}

const SYMBOL: usize = 4;
const SWATCH: usize = 3;
const AMOUNT: usize = 8;

impl Columns {
    fn of(state: &State, ring: &Ring, width: usize) -> Self {
        let longest = ring.threads().map(|thread| {
            let number = number(state, thread);
            unicode_width::UnicodeWidthStr::width(number.as_str())
        });
        let number = longest.max().unwrap_or(0).clamp(6, 16) + 2;
        let rest = width.saturating_sub(SYMBOL + number + SWATCH + 2 * AMOUNT);
        let name = (rest * 2 / 5).min(32);
        Self {
            number,
            name,
            standing: rest - name,
        }
    }
}

/// The number that a thread is stitched in, with its range where there are several.
fn number(state: &State, thread: &KeyThread) -> String {
    let colour = thread.stitched();
    match state.ranges().len() {
        0 | 1 => colour.number.to_string(),
        _ => text::thread::colour(state, colour),
    }
}

pub(super) fn page(app: &App, state: &State, page: Project, frame: &mut Frame<'_>, body: Rect) {
    let area = inset(body);
    let (width, height) = (usize::from(area.width), usize::from(area.height));
    let Some(project) = page.check(state) else {
        return;
    };
    let mut lines = head(app, state, page, &project, width);
    if project.lines.is_empty() {
        lines.push(Line::default());
        let text = "It has no key yet. i brings it in from a list with columns such as symbol, number, \
         strands and stitches; a writes a line by hand.";
        lines.extend(paragraph(text, width, Style::new()));
        frame.render_widget(Paragraph::new(lines), area);
        return;
    }
    let columns = Columns::of(state, project.ring, width);
    lines.push(heading(app, &columns));
    let below = project
        .lines
        .get(page.at)
        .map_or_else(Vec::new, |line| details(app, state, line, width));
    let room = height.saturating_sub(lines.len() + below.len()).max(1);
    // A row for each thread of a line, and one for a notion.
    let rows = project.lines.iter().enumerate().flat_map(|(at, line)| {
        let threads = line.threads.iter().enumerate();
        let threads = threads.map(|(which, thread)| Some((which, thread)));
        let notion = line.line.notion().map(|_| None);
        threads.chain(notion).map(move |row| (at, line, row))
    });
    let rows: Vec<_> = rows.collect();
    let chosen = rows.iter().position(|&(at, ..)| at == page.at).unwrap_or(0);
    let shown = in_view(chosen, rows.len(), room);
    let used = shown.len();
    for &(at, line, ref thread) in rows.get(shown).unwrap_or_default() {
        let style = if at == page.at {
            app.theme.chosen()
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
    lines.extend(std::iter::repeat_n(
        Line::default(),
        room.saturating_sub(used),
    ));
    lines.extend(below);
    frame.render_widget(Paragraph::new(lines), area);
}

fn head(
    app: &App,
    state: &State,
    page: Project,
    project: &ProjectKit<'_>,
    width: usize,
) -> Vec<Line<'static>> {
    let ring = project.ring;
    let cards = state.cards_on(ring).count();
    let stands = match ring.state {
        RingState::Hanging { hook, since } => {
            format!(
                "left on hook {hook} {ago}",
                hook = state.hook_name(hook),
                ago = ago(since, app.now)
            )
        }
        _ => format!("open {ago}", ago = ago(ring.opened, app.now)),
    };
    let alone = if page.shared {
        ", shared with the others"
    } else {
        ""
    };
    let title = format!("{}  ", ring.project);
    let rest = format!("{stands}, {cards} on the ring{alone}");
    let room = width.saturating_sub(unicode_width::UnicodeWidthStr::width(title.as_str()));
    vec![
        Line::from(vec![
            Span::styled(fit(&title, width), app.theme.strong()),
            Span::raw(fit(&rest, room)),
        ]),
        Line::styled(fit(&assumed(ring, project), width), app.theme.faint()),
        Line::raw(fit(&sum(project), width)),
    ]
}

/// What the need was worked out for, and whether somebody said so.
fn assumed(ring: &Ring, project: &ProjectKit<'_>) -> String {
    let words = text::thread::assumptions(&project.assumed);
    match ring.fabric {
        Some(_) => words,
        None => format!("Assumed (f: say what it is): {words}"),
    }
}

/// How many colours stand how: `12 colours: 9 enough (4 on the ring), 2 short, 1 not owned`.
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
    let sum = format!("{lines} {word}: {}", parts.join(", "));
    // An amount as the columns write it, told once.
    let mut left = project
        .threads()
        .filter_map(|thread| Some((thread.left?, thread.put_up)));
    match left.find(|(left, put_up)| put_up.lengths(*left) > 0 && put_up.loose(*left) > 0) {
        Some((short, put_up)) => format!(
            "{sum}; {short} is {amount}",
            short = put_up.show(short),
            amount = text::thread::amount(short, put_up)
        ),
        None => sum,
    }
}

fn heading(app: &App, columns: &Columns) -> Line<'static> {
    let text = [
        pad("", SYMBOL),
        pad("number", columns.number + SWATCH),
        pad("name", columns.name),
        pad("needs", AMOUNT),
        pad("on ring", AMOUNT),
        pad("how it stands", columns.standing),
    ];
    Line::styled(text.concat(), app.theme.faint())
}

/// A notion: its name and how many, where the threads have their columns.
fn notion_row(line: &KeyLine, style: Style, columns: &Columns) -> Line<'static> {
    let width = columns.number + SWATCH + columns.name + 2 * AMOUNT + columns.standing;
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
        .map_or_else(|| "-".to_owned(), |left| line.put_up.show(left).to_string());
    let there: u32 = state
        .cards_of(thread.stitched())
        .filter(|kept| kept.place.at.ring() == Some(ring.id))
        .fold(0, |sum, kept| sum.saturating_add(kept.strands().0));
    let there = if there == 0 {
        "-".to_owned()
    } else {
        line.put_up.show(Strands(there)).to_string()
    };
    let (words, mood) = standing(app, state, line);
    let number = number(state, thread);
    let mut spans = vec![
        Span::styled(pad(&format!(" {symbol}"), SYMBOL - 1), style),
        Span::styled(" ", style),
        Span::styled(pad(&number, columns.number), style),
    ];
    spans.extend(swatch);
    spans.extend([
        Span::styled(
            pad(state.thread_name(thread), columns.name.saturating_sub(1)),
            style,
        ),
        Span::styled(" ", style),
        Span::styled(pad(&needs, AMOUNT), style),
        Span::styled(pad(&there, AMOUNT), style),
        Span::styled(pad(&words, columns.standing), style.patch(mood)),
    ]);
    Line::from(spans)
}

/// How a colour stands, in a few words, and how urgent that is.
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
                format!(
                    "short by {short}{uncut}",
                    short = line.put_up.show(line.short)
                ),
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

/// All there is to say of the line chosen.
fn details(app: &App, state: &State, line: &kit::Line<'_>, width: usize) -> Vec<Line<'static>> {
    let mut lines = vec![Line::styled("-".repeat(width), app.theme.faint())];
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
    // In the measure of the cards, lengths as they are cut, so that the two can be compared.
    let has: u32 = state
        .cards_of(thread.stitched())
        .filter(|kept| !matches!(kept.place.at, Whereabouts::Missing { .. }))
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
    let first = format!(
        "{number} {}: {counted}{needs}{used}; {}",
        state.thread_name(thread),
        text::thread::availability(state, of)
    );
    let mut lines: Vec<Line<'_>> = paragraph(&first, width, Style::new());
    lines.truncate(3);
    for found in of.substitutes.iter().take(2) {
        let text = text::thread::substitute(state, found);
        let mood = if found.is_far() {
            app.theme.away()
        } else {
            Style::new()
        };
        lines.push(Line::styled(fit(&text, width), mood));
    }
    if of.standing.is_missing() && of.substitutes.is_empty() {
        let text = "nothing in the stash could stand in for it";
        lines.push(Line::styled(fit(text, width), app.theme.faint()));
    }
    lines
}
