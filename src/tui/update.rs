//! Updates the interface for a message, and collects the effects.

#[cfg(test)]
mod tests;

use super::app::derived::Derived;
use super::app::screen::{Outcome, beneath, on, on_top};
use super::app::{App, Stash};
use super::key::Key;
use super::keymap::{Action, Scope};
use super::layout;
use super::message::{Effect, Message};
use super::screens::board;
use super::screens::card_in_hand::{CardInHand, begins};
use super::screens::colours::Colours;
use super::screens::history::History;
use super::screens::keyboard::Keyboard;
use super::screens::palette::Palette;
use super::theme::Depth;
use crate::stash::event::Act;
use crate::stash::state::State;

/// Handles a message. Pure: it only reads the stash, and returns all effects.
pub fn update(app: &mut App, stash: Stash<'_>, message: Message) -> Vec<Effect> {
    if matches!(
        message,
        Message::Recorded(Ok(_)) | Message::OthersChanged(_)
    ) {
        app.derived = Derived::of(stash.state);
    }
    if let Message::Recorded(Ok(Act::Take { .. })) = message {
        app.chosen.clear();
    }
    let is_change =
        matches!(&message, Message::Recorded(Ok(act)) if !matches!(act, Act::Undo { .. }));
    let came = match &message {
        Message::Recorded(Ok(act)) => Some(matches!(act, Act::Undo { .. })),
        _ => None,
    };
    let mut effects = match answered(app, stash, &message) {
        Some(effects) => effects,
        None => take(app, stash, message),
    };
    if let Some(notice) = app.notice.as_mut().filter(|_| is_change) {
        notice.undo = !notice.wrong && stash.history.last_done().is_some();
    }
    effects.extend(came.and_then(|undone| flash(app, stash, undone)));
    settle(app, stash.state);
    announce(app, stash.state, &mut effects);
    effects
}

/// Lights the hooks where a change or an undo brought cards; does nothing if animations are off.
fn flash(app: &mut App, stash: Stash<'_>, undone: bool) -> Option<Effect> {
    let past = match undone {
        true => stash.history.last_undone(),
        false => stash.history.last_done(),
    };
    let moved = past.into_iter().flat_map(|past| past.event.moved());
    let cards = moved.filter_map(|card| stash.state.card(card));
    app.landed.clear();
    if !app.still && app.theme.depth != Depth::None {
        app.landed
            .extend(cards.filter_map(|kept| kept.place.at.hook()));
    }
    (!app.landed.is_empty()).then_some(Effect::Flash)
}

/// Handles a message that no screen was waiting for.
fn take(app: &mut App, stash: Stash<'_>, message: Message) -> Vec<Effect> {
    match message {
        Message::Key(key) => press(app, stash, key),
        Message::Paste(text) => {
            app.notice = None;
            let mut effects = Vec::new();
            let top = app.stack.last_mut().map(|screen| screen.pasted(&text));
            if let Some(outcome) = on_top(app, stash, |screen, context| screen.settle(context)) {
                effects = follow(app, stash, outcome);
            }
            let left_out = top.unwrap_or_default();
            if let Some(words) = left_out.sentence() {
                app.complain(words);
            }
            effects
        }
        Message::Click { column, row } => click(app, stash, column, row),
        Message::Drag { column, row } => {
            let top = on_top(app, stash, |screen, context| {
                screen.dragged(context, column, row)
            });
            match top {
                Some(outcome) => follow(app, stash, outcome),
                None => {
                    board::drag(app, stash, column, row);
                    Vec::new()
                }
            }
        }
        Message::Release { column, row } => {
            app.press = None;
            let top = on_top(app, stash, |screen, context| {
                screen.released(context, column, row)
            });
            top.map_or_else(Vec::new, |outcome| follow(app, stash, outcome))
        }
        Message::Wheel { up } => {
            let action = if up { Action::Up } else { Action::Down };
            act(app, stash, action)
        }
        Message::Resize { width, height } => {
            app.size = (width, height);
            Vec::new()
        }
        Message::Tick(now) => {
            app.now = now;
            Vec::new()
        }
        Message::Recorded(result) => recorded(app, stash, result),
        // The screen that asked is gone.
        Message::FileRead { .. } | Message::Files { .. } | Message::Written(_) => Vec::new(),
        Message::LogRead(entries) => {
            match entries {
                Ok(entries) => app.stack.push(Box::new(History::of(entries))),
                Err(wrong) => app.complain(wrong),
            }
            Vec::new()
        }
        // The screen that asked is gone.
        Message::Planning(_) | Message::Planned(_) => Vec::new(),
        Message::FlashOver => {
            app.landed.clear();
            Vec::new()
        }
        Message::News(text) => {
            app.say(text);
            Vec::new()
        }
        Message::OthersChanged(what) => others_changed(app, stash, what),
    }
}

/// Requests an announcement of the current step of a walk, once per step.
fn announce(app: &mut App, state: &State, effects: &mut Vec<Effect>) {
    if !app.announces {
        return;
    }
    let shown = app.screen().and_then(|screen| screen.spoken(state));
    if shown != app.announced {
        effects.extend(shown.clone().map(Effect::Speak));
        app.announced = shown;
    }
}

fn press(app: &mut App, stash: Stash<'_>, key: Key) -> Vec<Effect> {
    app.last_notice = app.notice.take();
    let scope = app.scope();
    if let Some(action) = app.keys.action(scope, key) {
        return act(app, stash, action);
    }
    if let Some(outcome) = on_top(app, stash, |screen, context| screen.typed(context, key)) {
        return follow(app, stash, outcome);
    }
    match scope {
        Scope::Board if begins(key) => {
            app.stack.push(Box::new(CardInHand::begun(key)));
        }
        _ => return beneath(app, stash, |context| context.nothing(key)),
    }
    Vec::new()
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    match action {
        Action::Undo if app.scope() != Scope::Work => {
            return beneath(app, stash, |context| context.undo());
        }
        Action::Redo => return redo(stash),
        Action::Suspend => return vec![Effect::Suspend],
        Action::Colours if app.scope() == Scope::Colours => return Vec::new(),
        Action::Colours => {
            let window = Colours::over(app);
            app.open(window);
            return Vec::new();
        }
        Action::Help => {
            app.stack.push(Box::new(Keyboard::over(app.scope())));
            return Vec::new();
        }
        Action::Actions => {
            app.stack.push(Box::new(Palette::over(app.scope())));
            return Vec::new();
        }
        _ => {}
    }
    if let Some(outcome) = on_top(app, stash, |screen, context| screen.act(context, action)) {
        return follow(app, stash, outcome);
    }
    board::act(app, stash, action)
}

/// Delivers an answer to the topmost screen that is waiting for it; `None` if there is none.
fn answered(app: &mut App, stash: Stash<'_>, answer: &Message) -> Option<Vec<Effect>> {
    if !answer.is_answer() {
        return None;
    }
    for at in (0..app.stack.len()).rev() {
        let mut taken = false;
        let outcome = on(app, stash, at, |screen, context| {
            taken = screen.answered(context, answer);
        });
        if taken {
            return Some(follow(app, stash, outcome));
        }
    }
    None
}

/// Follows up on a screen's requests. If it closed itself, the screen beneath settles first.
fn follow(app: &mut App, stash: Stash<'_>, outcome: Outcome) -> Vec<Effect> {
    let mut effects = Vec::new();
    if outcome.closed
        && let Some(beneath) = on_top(app, stash, |screen, context| screen.settle(context))
    {
        effects = follow(app, stash, beneath);
    }
    effects.extend(carry_out(app, stash, outcome));
    effects
}

/// Performs a screen's actions and returns all effects.
fn carry_out(app: &mut App, stash: Stash<'_>, outcome: Outcome) -> Vec<Effect> {
    let mut effects = outcome.effects;
    for action in outcome.actions {
        effects.extend(act(app, stash, action));
    }
    effects
}

/// A change is on disk, or failed. The topmost screen handles that, and if it closes, so does the
/// screen beneath.
fn recorded(app: &mut App, stash: Stash<'_>, result: Result<Act, String>) -> Vec<Effect> {
    let (mut effects, mut actions) = (Vec::new(), Vec::new());
    loop {
        let told = on_top(app, stash, |screen, context| match &result {
            Ok(act) => screen.recorded(context, act),
            Err(wrong) => screen.failed(context, wrong.clone()),
        });
        let Some(outcome) = told else {
            board::recorded(app, stash, result);
            break;
        };
        effects.extend(outcome.effects);
        actions.extend(outcome.actions);
        if !outcome.closed {
            break;
        }
    }
    // Run the actions only now, when the right screen is on top.
    for action in actions {
        effects.extend(act(app, stash, action));
    }
    effects
}

fn redo(stash: Stash<'_>) -> Vec<Effect> {
    let seq = stash.history.last_undone().map_or(0, |past| past.seq);
    vec![Effect::Redo { seq }]
}

/// Catches up with a stash that another window changed, and says what it changed.
fn others_changed(app: &mut App, stash: Stash<'_>, what: Option<String>) -> Vec<Effect> {
    if let Some(what) = what {
        app.say(what);
    }
    let top = on_top(app, stash, |screen, context| screen.settle(context));
    top.map_or_else(Vec::new, |outcome| follow(app, stash, outcome))
}

/// Sends a click to the topmost screen, or to the board.
fn click(app: &mut App, stash: Stash<'_>, column: u16, row: u16) -> Vec<Effect> {
    let top = on_top(app, stash, |screen, context| {
        screen.clicked(context, column, row)
    });
    if let Some(outcome) = top {
        return follow(app, stash, outcome);
    }
    board::click(app, stash, column, row)
}

/// Adapts the interface to the stash: the cursor stays on a board, and removed cards are
/// deselected.
fn settle(app: &mut App, state: &State) {
    app.eye.board = app.eye.board.min(state.boards().len().saturating_sub(1));
    if let Some(board) = state.boards().nth(app.eye.board) {
        app.eye.row = app.eye.row.min(board.rows - 1);
        app.eye.column = app.eye.column.min(board.columns - 1);
    }
    app.chosen.retain(|&card| state.card(card).is_some());
    app.chosen_rings
        .retain(|&ring| state.ring(ring).is_some_and(|ring| !ring.is_closed()));
    if let Some(grid) = layout::current(app, state) {
        (app.eye.top, app.eye.left) = (grid.top, grid.left);
    }
}
