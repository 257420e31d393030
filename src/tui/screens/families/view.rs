//! Drawing the families: the list, the cards of one, and where to send cards.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use unicode_width::UnicodeWidthStr;

use super::{Entry, Families, Shelf, Stage, cards_of, entries};
use crate::model::card::WallOrder;
use crate::stash::command::family::{How, how};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::App;
use crate::tui::widgets::list::in_view;
use crate::tui::widgets::pane::inset;
use crate::tui::widgets::text::{fit, pad};

pub fn page(app: &App, state: &State, page: &Families, frame: &mut Frame<'_>, body: Rect) {
    let area = inset(body);
    let (width, height) = (usize::from(area.width), usize::from(area.height));
    let (head, says) = heading(app, state, page);
    let mut lines = vec![
        Line::styled(fit(&head, width), app.theme.strong()),
        Line::styled(fit(&says, width), app.theme.faint()),
        Line::default(),
    ];
    // The selected line matters more than the heading.
    lines.truncate(height.saturating_sub(1));
    let room = height.saturating_sub(lines.len()).max(1);
    match page.stage {
        Stage::Cards(shelf) => lines.extend(cards(app, state, shelf, width, room)),
        Stage::List | Stage::Send(..) => lines.extend(list(app, state, page, width, room)),
    }
    frame.render_widget(Paragraph::new(lines), area);
}

fn count(cards: usize) -> String {
    text::cards(u32::try_from(cards).unwrap_or(u32::MAX))
}

fn heading(app: &App, state: &State, page: &Families) -> (String, String) {
    match page.stage {
        Stage::List => {
            let says = match state.order() {
                WallOrder::Family => {
                    "The wall hangs by family, then number. Nothing moves before a re-hang."
                }
                WallOrder::Number => {
                    "The wall hangs by number alone: families do not matter there."
                }
                WallOrder::Lightness => {
                    "The wall hangs by family, light to dark. Nothing moves before a re-hang."
                }
            };
            ("Families".to_owned(), says.to_owned())
        }
        Stage::Cards(shelf) => {
            let family = shelf.family.and_then(|id| state.family(id));
            let name = family.map_or("Without a family", |family| family.name.as_str());
            let all = count(cards_of(state, shelf.family).len());
            let says = "From light to dark. What you choose wins over range and colour.";
            (format!("{name}: {all}"), says.to_owned())
        }
        Stage::Send(one, _) => {
            let what = match one.and_then(|id| state.card(id)) {
                Some(kept) => state.card_name(kept),
                None => format!("the {count} chosen", count = count(app.chosen.len())),
            };
            let says = "It counts whatever range and colour say, until you say otherwise.";
            (format!("Send {what} to which family?"), says.to_owned())
        }
    }
}

fn list(
    app: &App,
    state: &State,
    page: &Families,
    width: usize,
    room: usize,
) -> Vec<Line<'static>> {
    let entries = entries(state);
    let shown = page.lines(state);
    if shown == 0 {
        let none = "There is no family yet: n makes one, and colours make theirs.";
        return vec![Line::raw(fit(none, width))];
    }
    let names = entries.iter().map(|entry| title(entry).width());
    let name = names.max().unwrap_or(0).min(width * 2 / 5);
    let lines = in_view(page.at, shown, room);
    let lines = lines.filter_map(|at| Some((at, entries.get(at)?)));
    lines
        .map(|(at, entry)| row(app, state, entry, at == page.at, (name, width)))
        .collect()
}

fn title(entry: &Entry<'_>) -> String {
    let name = entry.family.map(|family| family.name.to_string());
    name.unwrap_or_else(|| "(no family)".to_owned())
}

/// A family: its name, how its cards joined it, and their colours.
fn row(
    app: &App,
    state: &State,
    entry: &Entry<'_>,
    chosen: bool,
    (name, width): (usize, usize),
) -> Line<'static> {
    let style = if chosen {
        app.theme.chosen()
    } else {
        Style::new()
    };
    let of = |wanted: How| {
        let cards = entry.cards.iter();
        cards.filter(|kept| how(state, kept) == wanted).count()
    };
    let (by_hand, by_range) = (of(How::Chosen), of(How::ByRange));
    let mut said = count(entry.cards.len());
    if by_hand > 0 {
        said += &format!(", {by_hand} chosen");
    }
    if by_range > 0 {
        said += &format!(", {by_range} by range");
    }
    if entry.family.is_some_and(|family| family.held) {
        said += ", held";
    }
    let text = format!("{}  {}", pad(&title(entry), name), pad(&said, 32));
    let text = fit(&text, width);
    let room = width.saturating_sub(text.width() + 1);
    let mut spans = vec![Span::styled(text, style), Span::raw(" ")];
    spans.extend(strip(app, &entry.cards, room));
    Line::from(spans)
}

/// Card colours side by side, as many as fit, sampled evenly.
fn strip(app: &App, cards: &[&CardState], room: usize) -> Vec<Span<'static>> {
    let swatch = |kept: &&CardState| app.theme.swatch(kept.card.colour?);
    let all: Vec<Style> = cards.iter().filter_map(swatch).collect();
    let shown = all.len().min(room / 2);
    let spread = (0..shown).filter_map(|at| all.get(at * all.len() / shown));
    spread.map(|&style| Span::styled("  ", style)).collect()
}

fn cards(app: &App, state: &State, shelf: Shelf, width: usize, room: usize) -> Vec<Line<'static>> {
    let cards = cards_of(state, shelf.family);
    if cards.is_empty() {
        return vec![Line::raw(fit("No card is in it.", width))];
    }
    let lines = in_view(shelf.at, cards.len(), room);
    let lines = lines.filter_map(|at| Some((at, *cards.get(at)?)));
    lines
        .map(|(at, kept)| card(app, state, kept, at == shelf.at, width))
        .collect()
}

/// A card: its selection, colour and name, and how it joined its family.
fn card(app: &App, state: &State, kept: &CardState, here: bool, width: usize) -> Line<'static> {
    let style = if here {
        app.theme.chosen()
    } else {
        Style::new()
    };
    let hook_name = if app.chosen.contains(&kept.card.id) {
        "* "
    } else {
        "  "
    };
    let swatch = kept.card.colour.and_then(|colour| app.theme.swatch(colour));
    let came = match how(state, kept) {
        How::Chosen => "chosen",
        How::ByRange => "by range",
        How::ByColour if state.family_of(kept).is_some() => "by colour",
        How::ByColour => "",
    };
    let text = format!("{}  {}", state.card_name(kept), kept.card.name);
    let room = width.saturating_sub(6);
    let name = (room * 3 / 4).min(56);
    Line::from(vec![
        Span::styled(fit(hook_name, width), style),
        Span::styled("  ", swatch.unwrap_or(style)),
        Span::styled(" ", style),
        Span::styled(pad(&text, name), style),
        Span::styled(" ", style),
        Span::styled(fit(came, room - name), style),
    ])
}
