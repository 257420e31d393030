//! Walking the wall hook by hook, recording what was seen, and hanging home what hangs wrong.

use super::{commit, look_at, look_at_card, stepped};
use crate::stash::command::rollcall;
use crate::stash::command::rollcall::{card_seen, hang_home};
use crate::stash::event::Act;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::rollcall::{RollCall, Stage};
use crate::tui::app::{App, Mode, Notice, Stash};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::refused;

/// Begins a roll call with the board that is looked at.
pub(super) fn open(app: &mut App, state: &State) {
    let call = RollCall::new(state, app.eye.board);
    if call.stop(state).is_none_or(|stop| stop.is_free()) {
        app.complain("nothing hangs on the wall or lives there yet: there is nothing to check");
        return;
    }
    app.mode = Mode::RollCall(call);
    follow(app, state);
}

/// Puts the cursor where the roll call is.
fn follow(app: &mut App, state: &State) {
    let Mode::RollCall(call) = &app.mode else {
        return;
    };
    match &call.stage {
        Stage::Home(cards, at, _) => {
            if let Some(&card) = cards.get(*at) {
                look_at_card(app, state, card);
            }
        }
        _ => {
            if let Some(hook) = call.hook() {
                look_at(app, state, hook);
            }
        }
    }
}

/// Takes a key that does something in a roll call.
pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::RollCall(call) = &mut app.mode else {
        return Vec::new();
    };
    let effects = match call.stage {
        Stage::Walk => {
            walk(app, stash.state, action);
            Vec::new()
        }
        Stage::Typing(..) => {
            typing(app, stash.state, action);
            Vec::new()
        }
        Stage::Report(..) => report(app, stash, action),
        Stage::Home(..) => return home(app, stash, action),
    };
    follow(app, stash.state);
    effects
}

fn walk(app: &mut App, state: &State, action: Action) {
    let Mode::RollCall(call) = &mut app.mode else {
        return;
    };
    let more = match action {
        Action::Accept => call.confirm(state),
        Action::DoAll => call.confirm_row(state),
        Action::Cancel => false,
        _ => {
            match action {
                Action::Missing => call.toggle(state),
                Action::Next => call.next_card(state),
                Action::Previous => call.back(state),
                Action::Right => call.step(state, true),
                Action::Left => call.step(state, false),
                Action::Seen => call.stage = Stage::Typing(Field::default(), None),
                _ => {}
            }
            true
        }
    };
    if !more {
        show_report(app, state);
    }
}

/// Shows what the hooks confirmed so far come to.
fn show_report(app: &mut App, state: &State) {
    let Mode::RollCall(call) = &mut app.mode else {
        return;
    };
    if call.seen.is_empty() {
        app.mode = Mode::Board;
        app.say("the roll call was left: no hook was confirmed, nothing is changed");
        return;
    }
    match rollcall::report(state, &call.sightings(state)) {
        Ok(report) => call.stage = Stage::Report(report, 0),
        Err(refusal) => app.complain(refused::on_screen(&refusal)),
    }
}

fn typing(app: &mut App, state: &State, action: Action) {
    let Mode::RollCall(call) = &mut app.mode else {
        return;
    };
    let (Stage::Typing(field, _), Some(hook)) = (&call.stage, call.hook()) else {
        return;
    };
    let text = field.text().trim().to_owned();
    if action == Action::Cancel || (action == Action::Accept && text.is_empty()) {
        call.stage = Stage::Walk;
        return;
    }
    if action != Action::Accept {
        return;
    }
    let unknown = |text: &str| {
        state
            .find_card(text)
            .err()
            .map(|refusal| refused::on_screen(&refusal))
    };
    let wrong = match card_seen(state, hook, &text, None) {
        _ if state.capacity(hook) == 0 => {
            let hook_name = state.hook_name(hook);
            Some(format!(
                "hook {hook_name} is blocked; free it first (x on the board)"
            ))
        }
        Err(refusal) => Some(refused::on_screen(&refusal)),
        Ok(None) => unknown(&text),
        Ok(Some(card)) => {
            if let (Some(other), Some(kept)) = (call.see_here(state, card), state.card(card)) {
                let (name, hook_name) = (state.card_name(kept), state.hook_name(other));
                app.notice = Some(Notice {
                    text: format!("{name} was confirmed on {hook_name}: it counts as here now"),
                    wrong: false,
                });
            }
            None
        }
    };
    match (&mut call.stage, wrong) {
        (Stage::Typing(_, why), Some(wrong)) => *why = Some(wrong),
        _ => call.stage = Stage::Walk,
    }
}

/// A key while a number is typed.
pub(super) fn typed(app: &mut App, key: Key) {
    if let Mode::RollCall(call) = &mut app.mode
        && let Stage::Typing(field, wrong) = &mut call.stage
    {
        *wrong = None;
        field.press(key);
    }
}

pub(super) fn paste(call: &mut RollCall, text: &str) -> LeftOut {
    match &mut call.stage {
        Stage::Typing(field, wrong) => {
            *wrong = None;
            field.insert(text)
        }
        _ => LeftOut::default(),
    }
}

fn report(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::RollCall(call) = &mut app.mode else {
        return Vec::new();
    };
    let sightings = call.sightings(stash.state);
    let Stage::Report(shown, top) = &mut call.stage else {
        return Vec::new();
    };
    match action {
        Action::Up | Action::Down => {
            *top = stepped(*top, shown.misplaced.len() + shown.missing.len(), action);
        }
        Action::Previous => call.stage = Stage::Walk,
        Action::Cancel => {
            let hooks = shown.walked;
            app.mode = Mode::Board;
            let word = one_or_many(hooks, "hook", "hooks");
            app.say(format!(
                "nothing is recorded: what was seen on {hooks} {word} is forgotten"
            ));
        }
        Action::Accept => match rollcall::report(stash.state, &sightings) {
            Ok(now) if now == *shown => {
                let event = rollcall::record(shown, app.now);
                return commit(app, stash, Ok(event));
            }
            // Another window may have changed the stash since it was shown.
            Ok(now) => {
                (*shown, *top) = (now, 0);
                app.say("the stash was changed meanwhile: look at the report again");
            }
            Err(refusal) => app.complain(refused::on_screen(&refusal)),
        },
        _ => {}
    }
    Vec::new()
}

/// The report is on disk: offers to hang home what hangs wrong.
pub(super) fn recorded(app: &mut App, state: &State, act: &Act) {
    let Mode::RollCall(call) = &mut app.mode else {
        return;
    };
    if let (Stage::Report(report, _), Act::RollCall { .. }) = (&call.stage, act) {
        call.stage = Stage::Home(report.strays(state), 0, act.clone());
    }
    go_on(app, state);
}

/// Goes to the next card that hangs wrong, or says how the roll call went.
fn go_on(app: &mut App, state: &State) {
    let Mode::RollCall(call) = &mut app.mode else {
        return;
    };
    let Stage::Home(cards, at, act) = &mut call.stage else {
        return;
    };
    let wrong = |kept: &CardState| {
        kept.place
            .at
            .hook()
            .is_some_and(|hook| kept.home != Some(hook))
    };
    while (cards.get(*at)).is_some_and(|&card| !state.card(card).is_some_and(wrong)) {
        *at += 1;
    }
    if *at < cards.len() {
        follow(app, state);
        return;
    }
    let said = text::history::act(state, act);
    app.mode = Mode::Board;
    app.say(said);
}

fn home(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::RollCall(call) = &mut app.mode else {
        return Vec::new();
    };
    let Stage::Home(cards, at, _) = &mut call.stage else {
        return Vec::new();
    };
    match action {
        Action::Accept => {
            if let Some(&card) = cards.get(*at) {
                return commit(app, stash, hang_home(stash.state, card, app.now));
            }
        }
        Action::Skip => *at += 1,
        Action::Cancel => *at = cards.len(),
        _ => return Vec::new(),
    }
    go_on(app, stash.state);
    Vec::new()
}

#[cfg(test)]
mod tests;
