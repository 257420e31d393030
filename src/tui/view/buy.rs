//! What is to be bought, and what each skein is for.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::inset;
use crate::stash::projects::buy_list::Purchase;
use crate::stash::state::State;
use crate::text;
use crate::text::list;
use crate::tui::app::App;
use crate::tui::app::project::Buy;
use crate::tui::widgets::list::in_view;
use crate::tui::widgets::text::{fit, pad};

pub(super) fn page(app: &App, state: &State, buy: &Buy, frame: &mut Frame<'_>, body: Rect) {
    let area = inset(body);
    let (width, height) = (usize::from(area.width), usize::from(area.height));
    let purchases = buy.list(state);
    let projects = list(buy.rings.iter().filter_map(|&ring| {
        let ring = state.ring(ring)?;
        Some(ring.project.to_string())
    }));
    let skeins = purchases.iter().map(|line| line.skeins);
    let skeins = skeins.fold(0, u32::saturating_add);
    let mut lines = vec![
        Line::styled(
            fit(
                &format!(
                    "To buy for {projects}: {skeins}",
                    skeins = text::thread::skeins(skeins)
                ),
                width,
            ),
            app.theme.strong(),
        ),
        Line::styled(
            fit(
                "Whole skeins. A colour with none is left out when you say it was bought.",
                width,
            ),
            app.theme.faint(),
        ),
        Line::default(),
    ];
    let room = height.saturating_sub(lines.len()).max(1);
    for at in in_view(buy.at, purchases.len(), room) {
        if let Some(purchase) = purchases.get(at) {
            lines.push(row(app, state, purchase, at == buy.at, width));
        }
    }
    frame.render_widget(Paragraph::new(lines), area);
}

fn row(app: &App, state: &State, purchase: &Purchase, chosen: bool, width: usize) -> Line<'static> {
    let style = if chosen {
        app.theme.chosen()
    } else {
        Style::new()
    };
    let swatch = purchase.colour.and_then(|colour| app.theme.swatch(colour));
    let range = state
        .range(purchase.range)
        .map_or("", |range| range.name.as_str());
    let colour = format!("{range} {}  {}", purchase.number, purchase.name);
    let whys = purchase.why.iter().map(|why| {
        let project = state
            .ring(why.ring)
            .map_or("", |ring| ring.project.as_str());
        match why.short {
            Some(short) => format!(
                "{project} is short of {amount}",
                amount = text::thread::amount(short, purchase.put_up)
            ),
            None => format!("{project} needs it"),
        }
    });
    let why = list(whys);
    let owned = if purchase.card.is_some() { "" } else { "new: " };
    let count = format!("{:>3}  ", purchase.skeins);
    let room = width.saturating_sub(count.len() + 3);
    let left = (room * 2 / 5).min(40);
    Line::from(vec![
        Span::styled(count, style),
        Span::styled("  ", swatch.unwrap_or(style)),
        Span::styled(" ", style),
        Span::styled(pad(&colour, left.saturating_sub(1)), style),
        Span::styled(" ", style),
        Span::styled(pad(&format!("{owned}{why}"), room - left), style),
    ])
}
