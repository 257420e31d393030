//! The walk that puts a ring away, card by card.

use super::board::missing_or_found;
use super::{commit, look_at_card};
use crate::model::ids::CardId;
use crate::model::ring::Ring;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::ring;
use crate::stash::state::{CardState, State};
use crate::tui::app::{App, ConfirmAction, Mode, PutAway, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::refused::on_screen;

/// Starts to put a ring away, or says that nothing is on it.
pub(super) fn put_ring_away(app: &mut App, state: &State, ring: &Ring) {
    let on_it: Vec<&CardState> = state.cards_on(ring).collect();
    let cards = state.in_board_order(on_it.into_iter());
    if cards.is_empty() {
        app.complain("no card is on this ring; in the list of rings c closes it");
        return;
    }
    app.mode = Mode::PutAway(PutAway {
        ring: ring.id,
        order: cards.iter().map(|kept| kept.card.id).collect(),
        at: 0,
    });
    follow_walk(app, state);
}

/// The card of the walk that is in the hand.
fn in_hand(walk: &PutAway, state: &State) -> Option<CardId> {
    let kept = state.card(walk.order.get(walk.at).copied()?)?;
    (kept.place.at.ring() == Some(walk.ring)).then_some(kept.card.id)
}

pub(super) fn put_away(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let (state, now) = (stash.state, app.now);
    let Mode::PutAway(walk) = &mut app.mode else {
        return Vec::new();
    };
    match (action, in_hand(walk, state)) {
        (Action::Accept, Some(card)) => {
            let Some(ring) = state.ring(walk.ring) else {
                return Vec::new();
            };
            commit(app, stash, ring::give_back(state, ring, &[card], now))
        }
        (Action::Missing, Some(card)) => {
            let event = missing_or_found(app, stash, card);
            commit(app, stash, event)
        }
        (Action::Skip | Action::Down, Some(_)) => {
            walk.at += 1;
            follow_walk(app, state);
            Vec::new()
        }
        (Action::Cancel, _) => {
            let left = walk.left(state).count();
            app.mode = Mode::Board;
            if left > 0 {
                app.say(format!("{left} still on the ring, and the record says so"));
            }
            Vec::new()
        }
        _ => Vec::new(),
    }
}

/// Goes on to the next card of the walk, or to its end.
pub(super) fn follow_walk(app: &mut App, state: &State) {
    let Mode::PutAway(walk) = &mut app.mode else {
        return;
    };
    walk.settle(state);
    let id = walk.ring;
    if let Some(card) = in_hand(walk, state) {
        // A split card is rejoined with another card, so that one is looked at.
        let onto = state.card(card).map(|kept| match state.rejoins(kept) {
            Ok(whole) | Err((whole, _)) => whole.card.id,
        });
        look_at_card(app, state, onto.unwrap_or(card));
        return;
    }
    app.mode = Mode::Board;
    let Some(ring) = state.ring(id) else { return };
    let is_missing = |kept: &&CardState| matches!(kept.place.at, Whereabouts::Missing { .. });
    let went_out = ring.went_out.iter().filter_map(|&card| state.card(card));
    let gone = match went_out.filter(is_missing).count() {
        0 => "Every card is accounted for, none missing".to_owned(),
        1 => "Every card is accounted for, 1 declared missing".to_owned(),
        n => format!("Every card is accounted for, {n} declared missing"),
    };
    match ring::close(state, ring, app.now) {
        Ok(then) => {
            let question = format!(
                "{gone}. Is '{project}' finished? y: it is, and its ring is closed; n: its cards are \
                 only put away, and its ring stays open.",
                project = ring.project
            );
            app.mode = Mode::Confirm {
                question,
                then: ConfirmAction::Record(then),
            };
        }
        Err(refusal) => app.complain(on_screen(&refusal)),
    }
}
