//! Walks that go card by card: putting a ring away, and doing a re-hang.

use super::board::missing_or_found;
use super::{commit, look_at, look_at_card};
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::{rehang, ring};
use crate::stash::event::Act;
use crate::stash::state::{Kept, State};
use crate::tui::app::{App, Mode, PutAway, Stash, Work};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;

/// Starts to put a ring away.
pub(super) fn begin(app: &mut App, state: &State, walk: PutAway) {
    app.mode = Mode::PutAway(walk);
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
        look_at_card(app, state, card);
        return;
    }
    app.mode = Mode::Board;
    let Some(ring) = state.ring(id) else { return };
    let is_missing = |kept: &&Kept| matches!(kept.place.at, Whereabouts::Missing { .. });
    let went_out = ring.went_out.iter().filter_map(|&card| state.card(card));
    let gone = match went_out.filter(is_missing).count() {
        0 => "Every card is accounted for, none missing".to_owned(),
        1 => "Every card is accounted for, 1 declared missing".to_owned(),
        n => format!("Every card is accounted for, {n} declared missing"),
    };
    match ring::close(state, ring, app.now) {
        Ok(then) => {
            let question = format!("{gone}. Close the ring '{}'?", ring.project);
            app.mode = Mode::Confirm { question, then };
        }
        Err(refusal) => app.complain(refusal),
    }
}

pub(super) fn plans(app: &mut App, state: &State, action: Action) -> Vec<Effect> {
    let Mode::Plans(plans) = &mut app.mode else {
        return Vec::new();
    };
    let steps = plans.plan().map_or(0, |plan| plan.steps.len());
    match action {
        Action::Right => plans.show(state, plans.at + 1),
        Action::Left => plans.show(state, plans.at.saturating_sub(1)),
        Action::Next => plans.after = !plans.after,
        Action::Up | Action::Down => plans.top = super::stepped(plans.top, steps, action),
        Action::Accept if steps == 0 => app.complain("this plan has nothing to do"),
        Action::Accept => {
            let steps = plans.plan().map(|plan| plan.steps.clone());
            app.mode = Mode::Work(Work {
                steps: steps.unwrap_or_default(),
                done: 0,
                running: false,
            });
            follow_work(app, state);
        }
        Action::Cancel => app.mode = Mode::Board,
        _ => {}
    }
    Vec::new()
}

/// Puts the cursor where the next step goes.
pub(super) fn follow_work(app: &mut App, state: &State) {
    let Mode::Work(work) = &app.mode else { return };
    let next = work.steps.get(work.done);
    if let Some(hook) = next.and_then(|step| step.to.or(step.from)) {
        look_at(app, state, hook);
    }
}

pub(super) fn work(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Work(work) = &mut app.mode else {
        return Vec::new();
    };
    match action {
        Action::Accept | Action::DoAll => {
            work.running = action == Action::DoAll;
            next_step(app, stash)
        }
        Action::Undo if work.done > 0 => match stash.history.last_done().map(|past| &past.act) {
            Some(Act::Rehang { .. }) => vec![Effect::Undo],
            _ => Vec::new(),
        },
        Action::Cancel => {
            let left = work.steps.len() - work.done;
            app.mode = Mode::Board;
            app.say(format!(
                "stopped with {left} steps left: the record is true, and g plans the rest"
            ));
            Vec::new()
        }
        _ => Vec::new(),
    }
}

/// Asks for the next step to be recorded.
pub(super) fn next_step(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Work(work) = &app.mode else {
        return Vec::new();
    };
    let Some(step) = work.steps.get(work.done) else {
        return Vec::new();
    };
    commit(app, stash, rehang::step(stash.state, step, app.now))
}
