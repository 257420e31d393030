//! Keys and the mouse while a card is hung on another hook.

use super::{act as act_on, board, commit, look_at, look_at_card};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::stash::command::hang::Wall;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::hang::{Hang, Press};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::layout;
use crate::tui::message::Effect;
use crate::tui::refused;
use crate::tui::screens::question::Then;

/// Begins with the chosen card, else with the one under the cursor.
pub(super) fn open(app: &mut App, stash: Stash<'_>) {
    match board::chosen(app, stash).as_slice() {
        [] => app.complain("put the cursor on a card, or choose one with Space, then hang it"),
        [card] => open_with(app, stash, *card),
        _ => app.complain("one card at a time: Esc lets go of the chosen ones"),
    }
}

/// Begins with a card. For one that has no hook the cursor goes where it would fit.
pub(super) fn open_with(app: &mut App, stash: Stash<'_>, card: CardId) {
    let state = stash.state;
    if let Some(why) = stash.read_only {
        return app.complain(why);
    }
    let wall = match Wall::new(state, card) {
        Ok(wall) => wall,
        Err(refusal) => return app.complain(refused::on_screen(&refusal)),
    };
    let back = app.eye.clone();
    look_at_card(app, state, card);
    let at = state
        .card(card)
        .and_then(|kept| kept.home.or(kept.place.at.hook()));
    if let (None, Some(first)) = (at, wall.first_thought()) {
        look_at(app, state, first);
        if wall.keeping_order().is_empty() {
            app.say("no free hook keeps the order: this is the nearest free one");
        }
    }
    let dragged = false;
    app.mode = Mode::Hang(Hang {
        card,
        back,
        dragged,
    });
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Hang(hang) = &app.mode else {
        return Vec::new();
    };
    match action {
        Action::Accept => {
            let hang = hang.clone();
            return match app.hook(stash.state) {
                Some(hook) => hang_on(app, stash, &hang, hook),
                None => Vec::new(),
            };
        }
        Action::Cancel => give_up(app),
        Action::Next | Action::Previous => {
            let wall = hang.wall(stash.state);
            let fitting = wall.map_or_else(|_| Vec::new(), |wall| wall.keeping_order());
            go_on(app, stash.state, &fitting, action == Action::Next);
        }
        Action::ZoomIn | Action::ZoomOut | Action::OtherBoard => {
            return board::act(app, stash, action);
        }
        action if action.moves() => return board::act(app, stash, action),
        _ => {}
    }
    Vec::new()
}

/// Back to the board as it was.
fn give_up(app: &mut App) {
    if let Mode::Hang(hang) = std::mem::replace(&mut app.mode, Mode::Board) {
        app.eye = hang.back;
    }
}

/// Puts the cursor on the next of some hooks, or on the one before, around the end.
fn go_on(app: &mut App, state: &State, hooks: &[HookRef], forward: bool) {
    let order: Vec<HookRef> = state.hooks().collect();
    let place = |hook: HookRef| order.iter().position(|&other| other == hook);
    let here = app.hook(state).and_then(place);
    let next = if forward {
        let mut after = hooks.iter().filter(|&&hook| place(hook) > here);
        after.next().or(hooks.first())
    } else {
        let mut before = hooks.iter().rev().filter(|&&hook| place(hook) < here);
        before.next().or(hooks.last())
    };
    match next {
        Some(&hook) => look_at(app, state, hook),
        None => app.complain("no free hook keeps the order; any free hook may be had"),
    }
}

/// Hangs it where nothing speaks against it; else, and for the mouse always, asks first.
fn hang_on(app: &mut App, stash: Stash<'_>, hang: &Hang, hook: HookRef) -> Vec<Effect> {
    let hanging = match hang.wall(stash.state).and_then(|wall| wall.at(hook)) {
        Ok(hanging) => hanging,
        Err(refusal) => {
            if hang.dragged {
                give_up(app);
            }
            app.complain(refused::on_screen(&refusal));
            return Vec::new();
        }
    };
    let event = hanging.event(app.now);
    let at_once = hanging.keeps_order && text::hang::warnings(&hanging).is_empty() && !hang.dragged;
    match event {
        Ok(then) if !at_once => {
            let question = format!(
                "{told} Hang it there?",
                told = text::hang::all(&hanging).join(" ")
            );
            if hang.dragged {
                app.mode = Mode::Board;
            }
            app.ask(question, Then::Record(Box::new(then)));
            Vec::new()
        }
        event => {
            app.mode = Mode::Board;
            commit(app, stash, event)
        }
    }
}

/// A card was hung from the board: the cursor is on it, and it is no longer chosen.
pub(super) fn recorded(app: &mut App, state: &State, card: CardId) {
    app.chosen.remove(&card);
    look_at_card(app, state, card);
    let Some(kept) = state.card(card) else { return };
    if let Some(home) = kept.home {
        let (name, hook_name) = (state.card_name(kept), state.hook_name(home));
        app.say(if kept.is_home() {
            format!("card {name} hangs on {hook_name}: write {hook_name} on its label")
        } else {
            format!("card {name} lives on {hook_name} from now on: its label must say {hook_name}")
        });
    }
}

/// The button goes down. A click goes to the hook under it. On the hook where the cursor is already,
/// it chooses the card, or hangs the one that is to be hung.
pub(super) fn click(app: &mut App, stash: Stash<'_>, column: u16, row: u16) -> Vec<Effect> {
    app.press = None;
    let Some(hook) = layout::hook_at(app, stash.state, column, row) else {
        return Vec::new();
    };
    let again = app.hook(stash.state) == Some(hook);
    match (&app.mode, again) {
        (Mode::Hang(_), true) => return act(app, stash, Action::Accept),
        (Mode::Hang(_), false) => look_at(app, stash.state, hook),
        (Mode::Board, _) => {
            if !again {
                look_at(app, stash.state, hook);
            }
            let card = app.card(stash.state).map(|kept| (kept.card.id, again));
            app.press = Some(Press { hook, card });
            if again {
                return act_on(app, stash, Action::Select);
            }
        }
        _ => {}
    }
    Vec::new()
}

/// The mouse moves with its button down: a card is drawn along.
pub(super) fn drag(app: &mut App, stash: Stash<'_>, column: u16, row: u16) {
    let state = stash.state;
    let Some(hook) = layout::hook_at(app, state, column, row) else {
        return;
    };
    match (&app.mode, app.press) {
        (Mode::Hang(hang), _) if hang.dragged => look_at(app, state, hook),
        (Mode::Board, Some(press)) if press.hook != hook => {
            app.press = None;
            let Some((card, chose)) = press.card else {
                return;
            };
            // It was no click after all.
            if chose && !app.chosen.remove(&card) {
                app.chosen.insert(card);
            }
            app.notice = None;
            let back = app.eye.clone();
            open_with(app, stash, card);
            if let Mode::Hang(hang) = &mut app.mode {
                (hang.back, hang.dragged) = (back, true);
                look_at(app, state, hook);
            }
        }
        _ => {}
    }
}

/// The button goes up: asks whether the card is to hang there. Beside the board, or where it came
/// from, it is left as it is.
pub(super) fn release(app: &mut App, stash: Stash<'_>, column: u16, row: u16) -> Vec<Effect> {
    app.press = None;
    let hang = match &app.mode {
        Mode::Hang(hang) if hang.dragged => hang.clone(),
        _ => return Vec::new(),
    };
    let state = stash.state;
    let from = state.card(hang.card).and_then(|kept| kept.place.at.hook());
    match layout::hook_at(app, state, column, row) {
        Some(hook) if from != Some(hook) => hang_on(app, stash, &hang, hook),
        _ => {
            give_up(app);
            Vec::new()
        }
    }
}

#[cfg(test)]
mod tests;
