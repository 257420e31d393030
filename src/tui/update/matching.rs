//! Keys while the columns of a card list are matched.

use super::commit;
use crate::stash::state::State;
use crate::tui::app::matching::Matching;
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::{Effect, Want};
use crate::tui::view::matching::scroll;
use crate::tui::view::shown;

/// A card list was read: shows its columns, or says what is wrong with it.
pub(super) fn open(app: &mut App, state: &State, (path, range): (&str, &str), bytes: Vec<u8>) {
    let now = app.now;
    match &mut app.mode {
        Mode::Form(form) => {
            let named = (shown(path), range.to_owned());
            match Matching::new(state, form.clone(), named, bytes, now) {
                Ok(matching) => app.mode = Mode::Matching(Box::new(matching)),
                Err(wrong) => form.wrong = Some(wrong),
            }
        }
        Mode::Matching(matching) => {
            let again = matching.read_again(state, bytes, now);
            let wrong = match again {
                Ok(again) => {
                    let wrong = again.judged.as_ref().err().cloned();
                    **matching = again;
                    wrong
                }
                Err(wrong) => Some(wrong),
            };
            match wrong {
                Some(wrong) => app.complain(wrong),
                None => app.say("the file was read again; Enter brings it in"),
            }
        }
        _ => {}
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
        Action::PageUp | Action::PageDown => {
            let top = page(app, action);
            if let Mode::Matching(matching) = &mut app.mode {
                matching.top = top;
            }
        }
        Action::Right | Action::Left => {
            matching.turn(action == Action::Right);
            matching.judge(stash.state, app.now);
        }
        Action::Header => {
            matching.columns.header = !matching.columns.header;
            matching.judge(stash.state, app.now);
        }
        Action::Accept => return import(app, stash),
        Action::Cancel => app.mode = Mode::Form(matching.form.clone()),
        _ => {}
    }
    Vec::new()
}

/// The first line in view a page on, or back: no line is passed over unseen.
fn page(app: &App, action: Action) -> usize {
    let Mode::Matching(matching) = &app.mode else {
        return 0;
    };
    let scroll = scroll(app, matching);
    if action == Action::PageUp {
        return matching.top.saturating_sub(scroll.step.max(1));
    }
    matching.top + if scroll.more { scroll.step } else { 0 }
}

/// Asks for the list to be recorded, as the stash is now, or says why it cannot be.
fn import(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Matching(matching) = &mut app.mode else {
        return Vec::new();
    };
    matching.judge(stash.state, app.now);
    if matching.unreadable {
        // It may have been put right since.
        return vec![file_again(matching)];
    }
    let judged = matching.judged.as_ref();
    let outcome = judged.map(|judged| judged.outcome.as_ref().map(|outcome| outcome.event.clone()));
    match outcome {
        Ok(Some(Some(event))) => return commit(app, stash, Ok(event)),
        Ok(Some(None)) => {
            app.mode = matching.form.back.clone().mode();
            app.say("the list says nothing new");
        }
        Ok(None) => app.complain("no line can be taken: see why below, and change the columns"),
        Err(why) => {
            let why = why.clone();
            app.complain(why);
        }
    }
    Vec::new()
}

/// Asks for the file that was named in the form once more.
fn file_again(matching: &Matching) -> Effect {
    let text = |label: &str| {
        let blank = matching.form.blanks.iter().find(|b| b.label == label);
        blank
            .map_or("", |blank| blank.field.text().trim())
            .to_owned()
    };
    Effect::ReadFile {
        path: text("file"),
        want: Want::CardList {
            range: text("range"),
        },
    }
}

#[cfg(test)]
mod tests;
