//! The walk that puts a ring away card by card, with the number and hook in letters readable from
//! the wall.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::card_in_hand::{CardInHand, begins, begins_name};
use crate::model::ids::{CardId, RingId};
use crate::model::ring::Ring;
use crate::stash::command::ring;
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::places;

use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::key::Key;
use crate::tui::keymap::{Action, Scope};
use crate::tui::refused::on_screen;
use crate::tui::told::told;
use crate::tui::wall::walk::{self, Next};

/// The walk.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PutAway {
    ring: RingId,
    /// The cards that were on the ring, in the order they go home.
    order: Vec<CardId>,
    /// Index of the card in hand.
    at: usize,
}

impl PutAway {
    /// The walk for a ring with cards on it.
    ///
    /// # Errors
    /// When the ring has no cards.
    pub fn of(state: &State, ring: &Ring) -> Result<Self, Refusal> {
        let on_it: Vec<&CardState> = state.cards_on(ring).collect();
        if on_it.is_empty() {
            return Err(Refusal::EmptyRing(ring.project.to_string()));
        }
        let mut cards = state.in_board_order(on_it.into_iter());
        // Split cards come first, before a source card on the same ring goes home.
        cards.sort_by_key(|kept| kept.card.parent.is_none());
        Ok(Self {
            ring: ring.id,
            order: cards.iter().map(|kept| kept.card.id).collect(),
            at: 0,
        })
    }

    /// The cards still on the ring, in walk order.
    fn left<'a>(&'a self, state: &'a State) -> impl Iterator<Item = &'a CardState> {
        let cards = self.order.iter().filter_map(|&id| state.card(id));
        cards.filter(|kept| kept.place.at.ring() == Some(self.ring))
    }

    /// The card in hand.
    fn in_hand<'a>(&self, state: &'a State) -> Option<&'a CardState> {
        let kept = state.card(self.order.get(self.at).copied()?)?;
        (kept.place.at.ring() == Some(self.ring)).then_some(kept)
    }

    /// The cards after the one in hand, then those skipped.
    fn next<'a>(&'a self, state: &'a State) -> Vec<&'a CardState> {
        let (before, after) = self.order.split_at(self.at.min(self.order.len()));
        let order = after.iter().skip(1).chain(before);
        let cards = order.filter_map(|&id| state.card(id));
        cards
            .filter(|kept| kept.place.at.ring() == Some(self.ring))
            .collect()
    }

    /// Goes to the next card still on the ring, wrapping around. If there is none, asks whether the
    /// project is finished.
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
            context
                .app
                .look_at_card(state, goes_onto(state, kept).card.id);
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

/// The card that is hung for the one in hand: itself, or for a split card the one it rejoins.
fn goes_onto<'a>(state: &'a State, kept: &'a CardState) -> &'a CardState {
    match state.rejoins(kept) {
        Ok(whole) | Err((whole, _)) => whole,
    }
}

/// That all cards came home, or how many are missing: those that went out, and those of the chart
/// key that were missing during the fetch.
fn accounted_for(state: &State, ring: &Ring) -> String {
    let of_key = ring.key.iter().flat_map(|line| line.threads());
    let of_key = of_key.flat_map(|thread| state.cards_of(thread.stitched()));
    let went_out = ring.went_out.iter().filter_map(|&card| state.card(card));
    let mut missing: Vec<CardId> = went_out
        .chain(of_key)
        .filter(|kept| kept.place.at.is_missing())
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

/// The instruction for the card: a line above the large letters, and the letters.
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

/// Where the card is that a split card rejoins; nothing for a card with a home of its own.
fn whole(state: &State, kept: &CardState) -> String {
    if kept.card.parent.is_none() {
        return String::new();
    }
    match state.rejoins(kept) {
        Ok(whole) => format!("which is {}", text::places::place_of(state, whole)),
        Err((_, place)) => format!("which is {}", text::places::place(&place)),
    }
}

/// The instruction as a sentence to speak.
fn said(state: &State, kept: &CardState) -> String {
    let card = places::spoken_card(state, kept);
    if kept.card.parent.is_none() {
        return match kept.home {
            Some(home) => places::spoken_at_hook(state, kept, "to", home),
            None => format!("{card} has no hook yet"),
        };
    }
    match state.rejoins(kept) {
        Ok(whole) => format!("Rejoin {card} with {}", places::spoken_card(state, whole)),
        Err(_) => format!("{card} stays on the ring"),
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
        if begins(key) || begins_name(key) {
            context.open(CardInHand::begun(key));
        } else {
            context.nothing(key);
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        match act {
            Act::Undo { .. } => self.at = 0,
            Act::Missing { .. } => {
                let words = told(context.stash, act);
                context.app.say(words);
            }
            _ => {}
        }
        self.go_on(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.go_on(context);
    }

    fn spoken(&self, state: &State) -> Option<String> {
        self.in_hand(state).map(|kept| said(state, kept))
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let ring = stash.state.ring(self.ring)?;
        let (all, left) = (self.order.len(), self.left(stash.state).count());
        let cards = self.order.iter().filter_map(|&id| stash.state.card(id));
        let missing = cards.filter(|kept| kept.place.at.is_missing()).count();
        let home = all.saturating_sub(left + missing);
        let done = match missing {
            0 => format!("{home} of {all} home"),
            _ => format!("{home} of {all} home, {missing} missing"),
        };
        let title = walk::title(
            app,
            ("Put away", ring.project.as_str()),
            (home + missing, all),
            &done,
            width,
        );
        Some(title)
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let Some(kept) = self.in_hand(state) else {
            return;
        };
        let (words, place) = what_to_do(state, kept);
        let next = self.next(state).into_iter().map(|kept| Next {
            place: what_to_do(state, kept).1,
            kept,
            later: false,
        });
        let step = walk::Step {
            kept,
            words: words.to_owned(),
            place,
            beside: kept.home.filter(|_| kept.card.parent.is_none()),
            more: whole(state, kept),
            target: goes_onto(state, kept).home,
            source: None,
            next: next.collect(),
            hint: "Type the number or name of the card in your hand to put that one away first.",
        };
        step.draw(app, state, frame, body);
    }
}
