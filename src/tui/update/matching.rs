//! Keys while the columns of a stock list are matched.

use super::commit;
use crate::language::word;
use crate::stash::state::State;
use crate::tui::app::matching::Matching;
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::view::shown;

/// A stock list was read: shows its columns, or says in the form what is wrong with it.
pub(super) fn open(app: &mut App, state: &State, (path, range): (&str, &str), bytes: Vec<u8>) {
    let Mode::Form(form) = &mut app.mode else {
        return;
    };
    let named = (shown(path), range.to_owned());
    match Matching::new(state, form.clone(), named, bytes, app.now) {
        Ok(matching) => app.mode = Mode::Matching(Box::new(matching)),
        Err(wrong) => form.wrong = Some(wrong),
    }
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Matching(matching) = &mut app.mode else {
        return Vec::new();
    };
    let last = matching.found.count().saturating_sub(1);
    match action {
        Action::Up => matching.at = matching.at.saturating_sub(1),
        Action::Down => matching.at = (matching.at + 1).min(last),
        Action::PageUp => matching.top = matching.top.saturating_sub(3),
        Action::PageDown => {
            matching.top = (matching.top + 3).min(matching.lines().saturating_sub(1));
        }
        Action::Right | Action::Left => {
            matching.turn(action == Action::Right);
            matching.judge(stash.state, app.now);
        }
        Action::Header => {
            matching.columns.header = !matching.columns.header;
            matching.judge(stash.state, app.now);
        }
        Action::Accept => return bring_in(app, stash),
        Action::Cancel => app.mode = Mode::Form(matching.form.clone()),
        _ => {}
    }
    Vec::new()
}

/// Asks for the list to be recorded, as the stash is now, or says why it cannot be.
fn bring_in(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Matching(matching) = &mut app.mode else {
        return Vec::new();
    };
    matching.judge(stash.state, app.now);
    let judged = matching.judged.as_ref();
    let outcome = judged.map(|judged| judged.outcome.as_ref().map(|outcome| outcome.event.clone()));
    match outcome {
        Ok(Some(Some(event))) => return commit(app, stash, Ok(event)),
        Ok(Some(None)) => {
            app.mode = matching.form.back.clone().mode();
            app.say(word!("the list says nothing new"));
        }
        Ok(None) => app.complain(word!(
            "no line can be taken: see why below, and change the columns"
        )),
        Err(why) => {
            let why = why.clone();
            app.complain(why);
        }
    }
    Vec::new()
}

#[cfg(test)]
mod tests;
