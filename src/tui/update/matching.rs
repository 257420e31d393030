//! Keys while the columns of a card list are matched.

use super::commit;
use crate::stash::state::State;
use crate::tui::app::matching::Matching;
use crate::tui::app::welcome::{Progress, Welcome};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::{Effect, Want};
use crate::tui::screens::import_list::ImportList;
use crate::tui::view::matching::scroll;

/// A card list was read: shows its columns.
pub fn begin(
    app: &mut App,
    state: &State,
    (path, range): (&str, &str),
    bytes: &[u8],
) -> Result<(), String> {
    let matching = Matching::new(state, (path, range), bytes.to_vec(), app.now)?;
    app.mode = Mode::Matching(Box::new(matching));
    Ok(())
}

/// The file was read once more.
pub(super) fn again(app: &mut App, state: &State, bytes: Result<Vec<u8>, String>) {
    let now = app.now;
    let Mode::Matching(matching) = &mut app.mode else {
        return;
    };
    match bytes.and_then(|bytes| matching.read_again(state, bytes, now)) {
        Ok(again) => {
            let wrong = again.judged.as_ref().err().cloned();
            **matching = again;
            match wrong {
                Some(wrong) => app.complain(wrong),
                None => app.say("the file was read again; Enter brings it in"),
            }
        }
        Err(wrong) => app.complain(wrong),
    }
}

/// What is on the screen after a list.
fn after(state: &State) -> Mode {
    match Progress::of(state).boards {
        0 => Mode::Welcome(Welcome::new(state)),
        _ => Mode::Board,
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
        Action::Cancel => {
            let form = ImportList::of(&matching.path, stash.state, &matching.range);
            app.mode = after(stash.state);
            app.open(form);
        }
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
            app.mode = after(stash.state);
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

/// Asks for the file once more.
fn file_again(matching: &Matching) -> Effect {
    Effect::ReadFile {
        path: matching.path.clone(),
        want: Want::CardList {
            range: matching.range.clone(),
        },
    }
}

#[cfg(test)]
mod tests;
