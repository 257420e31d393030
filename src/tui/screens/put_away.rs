//! The walk that puts a ring away, card by card: the number and its hook in letters to be read from the wall.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;

use super::card_in_hand::{CardInHand, begins};
use super::question::Then;
use crate::model::board::HookRef;
use crate::model::ids::{CardId, RingId};
use crate::model::ring::Ring;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::ring;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::{App, Stash, Viewport};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::layout;
use crate::tui::refused::on_screen;
use crate::tui::screen::{Context, Screen};
use crate::tui::spot::BoardView;
use crate::tui::update::look_at_card;
use crate::tui::view::board;
use crate::tui::widgets::digits::{self, Size};
use crate::tui::widgets::gauge::{gauge, thousandths};
use crate::tui::widgets::pane::Pane;
use crate::tui::widgets::text::{fit, paragraph, put_within};

/// Columns of the pane with the card in the hand, where the wall is shown beside it.
const NOW: u16 = 50;
/// Rows of the list of the next cards below the wall.
const NEXT: u16 = 11;

/// The walk.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PutAway {
    ring: RingId,
    /// The cards that were on the ring, in the order they go home.
    order: Vec<CardId>,
    /// Which of them is in the hand.
    at: usize,
}

impl PutAway {
    /// The walk for a ring with cards on it.
    ///
    /// # Errors
    /// When there is none.
    pub fn of(state: &State, ring: &Ring) -> Result<Self, Refusal> {
        let on_it: Vec<&CardState> = state.cards_on(ring).collect();
        if on_it.is_empty() {
            return Err(Refusal::EmptyRing(ring.project.to_string()));
        }
        let mut cards = state.in_board_order(on_it.into_iter());
        // A split card is rejoined while the card it was split from is still in the hand.
        cards.sort_by_key(|kept| kept.card.parent.is_none());
        Ok(Self {
            ring: ring.id,
            order: cards.iter().map(|kept| kept.card.id).collect(),
            at: 0,
        })
    }

    /// The cards still on the ring, in the order of the walk.
    fn left<'a>(&'a self, state: &'a State) -> impl Iterator<Item = &'a CardState> {
        let cards = self.order.iter().filter_map(|&id| state.card(id));
        cards.filter(|kept| kept.place.at.ring() == Some(self.ring))
    }

    /// The card in the hand.
    fn in_hand<'a>(&self, state: &'a State) -> Option<&'a CardState> {
        let kept = state.card(self.order.get(self.at).copied()?)?;
        (kept.place.at.ring() == Some(self.ring)).then_some(kept)
    }

    /// The cards after the one in the hand, then those that were put off.
    fn next<'a>(&'a self, state: &'a State) -> Vec<&'a CardState> {
        let (before, after) = self.order.split_at(self.at.min(self.order.len()));
        let order = after.iter().skip(1).chain(before);
        let cards = order.filter_map(|&id| state.card(id));
        cards
            .filter(|kept| kept.place.at.ring() == Some(self.ring))
            .collect()
    }

    /// Goes on to the next card still on the ring, around the end; without one, asks whether the project is finished.
    pub fn go_on(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let count = self.order.len();
        let on = |at: &usize| {
            let kept = state.card(self.order[*at]);
            kept.is_some_and(|kept| kept.place.at.ring() == Some(self.ring))
        };
        let mut from_here = (0..count).map(|step| (self.at + step) % count.max(1));
        self.at = from_here.find(on).unwrap_or(0);
        if let Some(kept) = self.in_hand(state) {
            look_at_card(context.app, state, goes_onto(state, kept).card.id);
            return;
        }
        context.close();
        let Some(ring) = state.ring(self.ring) else {
            return;
        };
        match ring::close(state, ring, context.app.now) {
            Ok(then) => {
                let question = format!(
                    "{gone} Is '{project}' finished? y closes its ring. n leaves it open: its cards are only put away.",
                    gone = accounted_for(state, ring),
                    project = ring.project
                );
                context.ask_for(question, Then::Record(Box::new(then)));
            }
            Err(refusal) => context.app.complain(on_screen(&refusal)),
        }
    }
}

/// The card that one in the hand is hung as: itself, or for a split card the one it is rejoined with.
fn goes_onto<'a>(state: &'a State, kept: &'a CardState) -> &'a CardState {
    match state.rejoins(kept) {
        Ok(whole) | Err((whole, _)) => whole,
    }
}

/// That all cards came home, or how many are missing: those that went out, and those of the chart key that were missing
/// when it was fetched.
fn accounted_for(state: &State, ring: &Ring) -> String {
    let of_key = ring.key.iter().flat_map(|line| line.threads());
    let of_key = of_key.flat_map(|thread| state.cards_of(thread.stitched()));
    let went_out = ring.went_out.iter().filter_map(|&card| state.card(card));
    let mut missing: Vec<CardId> = went_out
        .chain(of_key)
        .filter(|kept| matches!(kept.place.at, Whereabouts::Missing { .. }))
        .map(|kept| kept.card.id)
        .collect();
    missing.sort_unstable();
    missing.dedup();
    match missing.len() {
        0 => "Every card is accounted for, none missing.".to_owned(),
        n => {
            let names = missing.iter().filter_map(|&card| state.card(card));
            let names = text::list(names.map(|kept| state.card_name(kept)));
            format!("Every other card is home. {n} missing: {names}.")
        }
    }
}

/// What the hands do with the card: a line before the large letters, and the letters.
fn what_to_do(state: &State, kept: &CardState) -> (&'static str, String) {
    if kept.card.parent.is_none() {
        return match kept.home {
            Some(home) => ("hang it on", state.hook_name(home)),
            None => ("no hook yet: put it with the cards to hang", String::new()),
        };
    }
    match state.rejoins(kept) {
        Ok(whole) => ("rejoin it with", state.number_and_tag(whole).into_owned()),
        Err((whole, _)) => (
            "leave it on the ring; it belongs with",
            state.number_and_tag(whole).into_owned(),
        ),
    }
}

/// Who hangs on either side, or where the card is that it is rejoined with.
fn beside(state: &State, kept: &CardState) -> String {
    if kept.card.parent.is_some() {
        return match state.rejoins(kept) {
            Ok(whole) => format!("which is {}", text::places::place_of(state, whole)),
            Err((_, place)) => format!("which is {}", text::places::place(&place)),
        };
    }
    let Some(home) = kept.home else {
        return String::new();
    };
    match state.cards_beside(home) {
        (None, None) => "the first on this board".to_owned(),
        (before, after) => {
            let name = |(hook, kept): (HookRef, &CardState)| {
                format!(
                    "{} on {}",
                    state.number_and_tag(kept),
                    state.hook_name(hook)
                )
            };
            match (before.map(name), after.map(name)) {
                (Some(before), Some(after)) => format!("between {before} and {after}"),
                (Some(before), None) => format!("after {before}, the last"),
                (None, Some(after)) => format!("before {after}, the first"),
                (None, None) => String::new(),
            }
        }
    }
}

impl Screen for PutAway {
    fn scope(&self) -> Scope {
        Scope::PutAway
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let (state, now) = (context.stash.state, context.app.now);
        let card = self.in_hand(state).map(|kept| kept.card.id);
        match (action, card, state.ring(self.ring)) {
            (Action::Accept, Some(card), Some(ring)) => {
                context.commit(ring::give_back(state, ring, &[card], now));
            }
            (Action::Missing, Some(card), _) => {
                context.commit(ring::missing(state, &[card], now));
            }
            (Action::Skip | Action::Down, Some(_), _) => {
                self.at += 1;
                self.go_on(context);
            }
            (Action::Up, Some(_), _) => {
                let count = self.order.len();
                let on = |at: &usize| {
                    let kept = state.card(self.order[*at]);
                    kept.is_some_and(|kept| kept.place.at.ring() == Some(self.ring))
                };
                let mut back = (1..=count).map(|step| (self.at + count - step) % count);
                self.at = back.find(on).unwrap_or(self.at);
                self.go_on(context);
            }
            (Action::Cancel, ..) => {
                let left = self.left(state).count();
                context.close();
                if left > 0 {
                    let cards = text::cards(u32::try_from(left).unwrap_or(u32::MAX));
                    context.app.say(format!("Saved. {cards} still on the ring"));
                }
            }
            _ => {}
        }
    }

    fn typed(&mut self, context: &mut Context<'_>, key: Key) {
        if begins(key) {
            context.open(CardInHand::begun(key));
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if matches!(act, Act::Undo { .. }) {
            self.at = 0;
        }
        self.go_on(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.go_on(context);
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let theme = &app.theme;
        let ring = stash.state.ring(self.ring)?;
        let (all, left) = (self.order.len(), self.left(stash.state).count());
        let home = all.saturating_sub(left);
        let share = thousandths(home as u64, all as u64);
        let bar = (width / 3).min(40);
        let mut spans = vec![
            Span::styled(" Put away  ", theme.accent()),
            Span::styled(
                fit(ring.project.as_str(), usize::from(width / 3)),
                theme.strong(),
            ),
            Span::raw("  "),
        ];
        spans.extend(gauge(bar, share, theme.good(), theme.line()));
        spans.push(Span::styled(
            format!("  {home} of {all} home"),
            theme.muted(),
        ));
        Some(Line::from(spans))
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let Some(kept) = self.in_hand(state) else {
            return;
        };
        let (now, next) = if body.width >= 100 && body.height >= 24 {
            let next = if body.height >= 34 { NEXT } else { 5 };
            let upper = Rect {
                height: body.height - next,
                ..body
            };
            let now = Rect {
                x: upper.right() - NOW,
                width: NOW,
                ..upper
            };
            let wall = Rect {
                width: upper.width - NOW - 1,
                ..upper
            };
            self.wall(app, state, kept, frame, wall);
            let below = Rect {
                y: upper.bottom(),
                height: next,
                ..body
            };
            (now, below)
        } else {
            let now = body.width.min(NOW).min(body.width.max(60) - 22);
            let (left, right) = (
                Rect { width: now, ..body },
                Rect {
                    x: body.x + now,
                    width: body.width - now,
                    ..body
                },
            );
            (left, right)
        };
        hand(app, state, kept, frame, now);
        self.list(app, state, frame, next);
    }
}

impl PutAway {
    /// The wall with the hook that the card goes to.
    fn wall(&self, app: &App, state: &State, kept: &CardState, frame: &mut Frame<'_>, area: Rect) {
        let target = goes_onto(state, kept).home;
        let Some(board) = app.board(state) else {
            return;
        };
        let eye = Viewport {
            zoom: None,
            ..app.eye.clone()
        };
        let mut grid = layout::grid(state, board, &eye, area);
        if grid.rows < board.rows || grid.columns < board.columns {
            let far = Viewport {
                zoom: Some(crate::tui::app::Zoom::Far),
                ..eye
            };
            grid = layout::grid(state, board, &far, area);
        }
        let look = BoardView::lit(app, state, target, None);
        board::draw(app, state, &look, &grid, frame);
    }

    /// The next cards.
    fn list(&self, app: &App, state: &State, frame: &mut Frame<'_>, area: Rect) {
        if area.width < 14 || area.height < 3 {
            return;
        }
        let next = self.next(state);
        let counter = format!("{} to go", next.len() + 1);
        let pane = Pane {
            title: "Next",
            counter: &counter,
            focus: false,
        };
        let inside = pane.draw(&app.theme, area, frame.buffer_mut());
        let buffer = frame.buffer_mut();
        let column = if inside.width >= 90 {
            inside.width / 2
        } else {
            inside.width
        };
        for (kept, y) in next.iter().zip(inside.y..inside.bottom()) {
            let (_, place) = what_to_do(state, kept);
            put_within(buffer, (inside.x, y), fit(&place, 6), 6, app.theme.accent());
            let number = format!("{:>5}", state.number_and_tag(kept));
            put_within(buffer, (inside.x + 6, y), &number, 12, app.theme.strong());
            let room = usize::from(column.saturating_sub(16));
            let name = fit(kept.card.name.as_str(), room);
            put_within(buffer, (inside.x + 13, y), name, room, app.theme.muted());
        }
        let hint = "Type the number of the card in your hand to put that one away first.";
        let at = if column < inside.width {
            Some((inside.x + column, inside.y))
        } else {
            let y = inside.y
                + u16::try_from(next.len())
                    .unwrap_or(u16::MAX)
                    .saturating_add(1);
            (y + 3 <= inside.bottom()).then_some((inside.x, inside.bottom() - 3))
        };
        if let Some((x, y)) = at {
            let room = inside.right() - x;
            let lines = paragraph(hint, room.into(), app.theme.faint());
            let area = Rect::new(x, y, room, inside.bottom() - y);
            frame.render_widget(Paragraph::new(lines), area);
        }
    }
}

/// The card in the hand: its number on its own colour, and where it goes.
fn hand(app: &App, state: &State, kept: &CardState, frame: &mut Frame<'_>, area: Rect) {
    let theme = &app.theme;
    let pane = Pane {
        title: "Now",
        counter: "",
        focus: true,
    };
    let inside = pane.draw(theme, area, frame.buffer_mut());
    let buffer = frame.buffer_mut();
    let swatch = kept.card.colour.and_then(|colour| theme.swatch(colour));
    let style = swatch.unwrap_or_else(|| theme.strong());
    // Both in large letters where there is room, else the hook alone, else neither.
    let both = 2 * Size::Large.height() + 6;
    let (number_size, hook_size) = match inside.height {
        h if h >= both => (Size::Large, Size::Large),
        h if h >= Size::Large.height() + Size::Half.height() + 4 => (Size::Half, Size::Large),
        _ => (Size::Half, Size::Half),
    };
    let spare = inside.height > both;
    let block = number_size.height() + 2 + u16::from(spare);
    let patch = Rect {
        height: block.min(inside.height),
        ..inside
    };
    if swatch.is_some() {
        buffer.set_style(patch, style);
    }
    let number = state.number_and_tag(kept);
    let digits = Rect {
        x: patch.x + 1,
        y: patch.y + u16::from(spare),
        width: patch.width.saturating_sub(1),
        height: number_size.height().min(patch.height),
    };
    digits::draw(buffer, digits, &number, number_size, style);
    let name = match kept.card.parent {
        Some(_) => state.card_name(kept),
        None => kept.card.name.to_string(),
    };
    let name = fit(&name, usize::from(patch.width.saturating_sub(2)));
    if patch.height > 1 {
        let at = (patch.x + 1, patch.bottom() - 1);
        put_within(buffer, at, name, patch.width.into(), style);
    }
    let (words, place) = what_to_do(state, kept);
    let rest = Rect {
        y: patch.bottom(),
        height: inside.bottom().saturating_sub(patch.bottom()),
        ..inside
    };
    if rest.height == 0 {
        return;
    }
    let at = (rest.x, rest.y);
    put_within(
        buffer,
        at,
        fit(words, rest.width.into()),
        rest.width.into(),
        theme.muted(),
    );
    let large = Rect {
        x: rest.x + 1,
        y: rest.y + 1,
        width: rest.width.saturating_sub(1),
        height: rest.height.saturating_sub(1).min(hook_size.height()),
    };
    digits::draw(buffer, large, &place, hook_size, theme.accent());
    let beside = beside(state, kept);
    let y = large.bottom() + u16::from(spare);
    let lines = paragraph(&beside, rest.width.into(), Style::new());
    let below = Rect {
        y,
        height: rest.bottom().saturating_sub(y),
        ..rest
    };
    frame.render_widget(Paragraph::new(lines), below);
}
