//! The buy list, and the buyer's changes to it.

use std::collections::BTreeMap;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use crate::model::ids::{CardId, RangeId, RingId};
use crate::model::label::Label;
use crate::model::number::Number;
use crate::model::ring::Ring;
use crate::model::thread::Lot;
use crate::stash::command::buy::{self, Skeins};
use crate::stash::command::rehang::to_hang;
use crate::stash::event::Act;
use crate::stash::projects::buy_list::{Purchase, add_wanted, buy_list};
use crate::stash::projects::kit::check;
use crate::stash::state::{CardState, State};
use crate::text::print::buy_row;
use crate::text::{self, list};
use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::screens::marks::Marks;
use crate::tui::screens::rehang;
use crate::tui::screens::want::Want;
use crate::tui::widgets::list::{in_view, stepped};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, pad, paragraph};

/// The most skeins of one colour the list can count.
const MOST_SKEINS: u32 = 99;

/// The buy list.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Buy {
    /// The projects it covers, each once.
    rings: Vec<RingId>,
    /// Whether it includes the want list.
    wants: bool,
    /// Index of the selected line.
    at: usize,
    /// Skein counts set by the buyer instead of the computed ones; 0 leaves the colour out.
    said: BTreeMap<(RangeId, Number), u32>,
    /// Dye lots set by the buyer.
    lots: BTreeMap<(RangeId, Number), Lot>,
    /// Missing cards that the purchase replaces.
    replaced: Vec<CardId>,
}

fn key(purchase: &Purchase) -> (RangeId, Number) {
    (purchase.range, purchase.number.clone())
}

/// A card of these projects that is missing although an uncut skein of it is left.
fn missing_with_skein<'a>(state: &'a State, rings: &[RingId]) -> Option<&'a CardState> {
    let rings = rings.iter().filter_map(|&ring| state.ring(ring));
    let mut cards = rings
        .flat_map(Ring::threads)
        .flat_map(|thread| state.cards_of(thread.stitched()));
    cards.find(|kept| kept.place.at.is_missing() && kept.skeins() > 0)
}

impl Buy {
    /// The list for projects.
    #[must_use]
    pub const fn of(rings: Vec<RingId>) -> Self {
        Self {
            rings,
            wants: false,
            at: 0,
            said: BTreeMap::new(),
            lots: BTreeMap::new(),
            replaced: Vec::new(),
        }
    }

    /// The list for projects and the want list.
    #[must_use]
    pub const fn and_wants(rings: Vec<RingId>) -> Self {
        let mut buy = Self::of(rings);
        buy.wants = true;
        buy
    }

    /// Opens the list, or says that there is nothing to buy. Returns whether it opened.
    pub fn open(self, context: &mut Context<'_>) -> bool {
        let state = context.stash.state;
        if !self.list(state).is_empty() {
            context.open(self);
            return true;
        }
        let words = match missing_with_skein(state, &self.rings) {
            // A new card cut from that skein replaces the missing one, so the user marks it as
            // found.
            Some(kept) => format!(
                "{card} is missing but has an uncut skein. Cut it, then press m and c on its hook.",
                card = state.card_name(kept)
            ),
            None => "Nothing to buy for that.".to_owned(),
        };
        context.app.say(words);
        false
    }

    /// The want list changed: resets the count of the selected line, and closes an empty list.
    fn wants_changed(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        self.wants |= state.want_list().next().is_some();
        if let Some(line) = self.list(state).get(self.at) {
            self.said.remove(&key(line));
        }
        let count = self.list(state).len();
        self.at = self.at.min(count.saturating_sub(1));
        if count == 0 {
            context.close();
        }
    }

    /// The computed list with the buyer's changes.
    #[must_use]
    pub fn list(&self, state: &State) -> Vec<Purchase> {
        let rings = self.rings.iter().filter_map(|&ring| state.ring(ring));
        let rings: Vec<&Ring> = rings.collect();
        let mut list = buy_list(state, &check(state, &rings));
        if self.wants {
            add_wanted(state, &mut list);
        }
        for purchase in &mut list {
            if let Some(&skeins) = self.said.get(&key(purchase)) {
                purchase.skeins = skeins;
            }
        }
        list
    }
}

impl Buy {
    /// The dye lot of a purchase.
    fn lot(&self, purchase: &Purchase) -> Lot {
        let said = self.lots.get(&key(purchase));
        said.cloned().unwrap_or_else(Lot::unknown)
    }
}

/// The form for the dye lot of one colour on the list.
#[derive(Clone, Debug)]
struct DyeLot {
    of: (RangeId, Number),
    named: String,
    lot: Input,
}

impl Fields for DyeLot {
    fn title(&self, _: &State) -> String {
        format!("The dye lot of {}", self.named)
    }

    inputs!(lot);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let lot = Label::new(self.lot.value());
        let lot = lot.map_err(|wrong| Wrong::at(&self.lot, text::faults::label_error(&wrong)))?;
        let lot = Lot(lot);
        context
            .app
            .say(format!("{}: {}", self.named, text::thread::lot(&lot)));
        context.tell(|buy: &mut Buy| {
            buy.lots.insert(self.of.clone(), lot);
        });
        context.close();
        Ok(Asks::Nothing)
    }
}

impl Screen for Buy {
    fn scope(&self) -> Scope {
        Scope::Buy
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        let list = self.list(state);
        self.at = stepped(self.at, list.len(), action);
        match (action, list.get(self.at)) {
            (Action::Cancel, _) => context.close(),
            (Action::More | Action::Less, Some(line)) => {
                let skeins = match action {
                    Action::More => (line.skeins + 1).min(MOST_SKEINS),
                    _ => line.skeins.saturating_sub(1),
                };
                self.said.insert(key(line), skeins);
            }
            (Action::Want, Some(line)) => {
                if let Some(form) = Want::form(state, vec![line.of()]) {
                    context.open(form);
                }
            }
            (Action::Mark, Some(line)) => {
                if let Some(form) = Marks::form(state, vec![line.of()]) {
                    context.open(form);
                }
            }
            (Action::Edit, Some(line)) => {
                let lot = self.lot(line).to_string();
                context.open(Form::new(DyeLot {
                    of: key(line),
                    named: text::thread::colour(state, &line.of()),
                    lot: Input::text("dye lot", "as on the skein; empty: not noted", &lot),
                }));
            }
            (Action::Accept, _) => {
                let skeins = list.iter().map(|line| line.skeins);
                let colours = skeins.clone().filter(|&skeins| skeins > 0).count();
                if colours > 1 {
                    let skeins = skeins.fold(0, u32::saturating_add);
                    let question = format!(
                        "Did you buy all {colours} colours, {skeins}? y adds them.",
                        skeins = text::thread::skeins(skeins)
                    );
                    return context.ask_for(question, Then::Act(Action::Confirmed));
                }
                self.act(context, Action::Confirmed);
            }
            (Action::Confirmed, _) => {
                let bought = list.iter().filter(|line| line.skeins > 0);
                let skeins = bought.map(|line| Skeins {
                    lot: self.lot(line),
                    ..Skeins::of(line)
                });
                let skeins: Vec<Skeins> = skeins.collect();
                let event = buy::bought(state, &skeins, context.app.now);
                self.replaced = event.as_ref().map(buy::replaced).unwrap_or_default();
                context.commit(event);
            }
            _ => {}
        }
    }

    /// After a purchase, continues with hanging the new cards.
    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let state = context.stash.state;
        if let Act::Want { .. } = act {
            return self.wants_changed(context);
        }
        if !matches!(act, Act::Bought { .. }) {
            return;
        }
        context.close();
        let replaced = self.replaced.iter().filter_map(|&card| state.card(card));
        let replaced: Vec<String> = replaced
            .map(|kept| text::thread::replaced(state, kept))
            .collect();
        if !replaced.is_empty() {
            context.app.say(replaced.join("; "));
        }
        if to_hang(state).next().is_some() {
            rehang::open_plans(context);
        }
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let purchases = self.list(state);
        let projects = self.rings.iter().filter_map(|&ring| {
            let ring = state.ring(ring)?;
            Some(ring.project.to_string())
        });
        let projects = list(projects.chain(self.wants.then(|| "the want list".to_owned())));
        let skeins = purchases.iter().map(|line| line.skeins);
        let skeins = skeins.fold(0, u32::saturating_add);
        let counter = format!(
            "{at} of {count}",
            at = (self.at + 1).min(purchases.len()),
            count = purchases.len()
        );
        let pane = Pane {
            title: &format!("To buy for {projects}"),
            counter: &counter,
            focus: true,
        };
        let inside = pane.draw(&app.theme, body, frame.buffer_mut());
        let (width, height) = (usize::from(inside.width), usize::from(inside.height));
        let sum = text::thread::skeins(skeins);
        let mut lines = vec![
            Line::from(vec![
                Span::styled(format!("{sum}  "), app.theme.strong()),
                Span::styled(
                    fit(
                        "A colour with 0 is left out when you mark this as bought.",
                        width.saturating_sub(sum.len() + 2),
                    ),
                    app.theme.muted(),
                ),
            ]),
            Line::default(),
        ];
        let chosen = purchases.get(self.at);
        let about = chosen.map_or_else(Vec::new, |line| about(app, state, line, width));
        let room = height.saturating_sub(lines.len() + about.len()).max(1);
        for at in in_view(self.at, purchases.len(), room) {
            if let Some(purchase) = purchases.get(at) {
                let lot = self.lot(purchase);
                lines.push(row(app, state, purchase, &lot, at == self.at, width));
            }
        }
        lines.extend(about);
        frame.render_widget(Paragraph::new(lines), inside);
    }
}

/// Details of the selected line, shown below the list.
fn about(app: &App, state: &State, purchase: &Purchase, width: usize) -> Vec<Line<'static>> {
    let text = format!(
        "{colour} {name}: {why}",
        colour = text::thread::colour(state, &purchase.of()),
        name = purchase.name,
        why = buy_row(state, purchase).why
    );
    let mut lines = vec![Line::default()];
    lines.extend(paragraph(&text, width, app.theme.muted()));
    lines
}

/// The purpose of the skeins, project by project.
fn reasons(state: &State, purchase: &Purchase) -> String {
    let wanted = (purchase.wanted > 0).then(|| "on the want list".to_owned());
    let whys = purchase.why.iter().map(|why| {
        let project = state
            .ring(why.ring)
            .map_or("", |ring| ring.project.as_str());
        match why.short {
            Some(short) => format!(
                "{project} lacks {amount}",
                amount = text::thread::amount(short, purchase.put_up)
            ),
            None => format!("{project} needs it"),
        }
    });
    list(whys.chain(wanted))
}

fn row(
    app: &App,
    state: &State,
    purchase: &Purchase,
    lot: &Lot,
    chosen: bool,
    width: usize,
) -> Line<'static> {
    let theme = &app.theme;
    let style = match chosen {
        true => theme.row(),
        false => Style::new(),
    };
    let swatch = purchase.colour.and_then(|colour| theme.swatch(colour));
    let range = state
        .range(purchase.range)
        .map_or("", |range| range.name.as_str());
    let colour = format!("{range} {}  {}", purchase.number, purchase.name);
    let (note, mood) = match purchase.card {
        _ if purchase.missing => ("missing: look first  ", theme.wrong()),
        Some(_) => ("", theme.muted()),
        None => ("new  ", theme.accent()),
    };
    let counted = match purchase.skeins {
        0 => theme.muted(),
        _ => theme.strong(),
    };
    let of_lot = match lot.is_unknown() {
        true => String::new(),
        false => format!("{}; ", text::thread::lot(lot)),
    };
    let count = format!("{:>3} x  ", purchase.skeins);
    let room = width.saturating_sub(count.len() + 3);
    let left = (room * 2 / 5).min(40);
    let why = room.saturating_sub(left + note.len());
    Line::from(vec![
        Span::styled(count, style.patch(counted)),
        Span::styled("  ", swatch.unwrap_or(style)),
        Span::styled(" ", style),
        Span::styled(pad(&colour, left.saturating_sub(1)), style),
        Span::styled(" ", style),
        Span::styled(note, style.patch(mood)),
        Span::styled(
            pad(&format!("{of_lot}{}", reasons(state, purchase)), why),
            style.patch(theme.muted()),
        ),
    ])
}
