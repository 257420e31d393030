//! What follows when a change is on disk, or is not, and when a file was read.

use super::{rehang, rollcall, walks};
use crate::exchange::read_stock;
use crate::stash::command::import;
use crate::stash::event::Act;
use crate::stash::history::Past;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::act_in_words;
use crate::tui::app::{App, Intake, Mode, Stash};
use crate::tui::message::Effect;
use crate::tui::view::shown;

pub(super) fn recorded(
    app: &mut App,
    stash: Stash<'_>,
    result: Result<Act, String>,
) -> Vec<Effect> {
    let state = stash.state;
    let act = match result {
        Ok(act) => act,
        Err(wrong) => {
            if let Mode::Work(work) = &mut app.mode {
                work.running = false;
            }
            match &mut app.mode {
                Mode::Form(form) => form.wrong = Some(wrong),
                _ => app.complain(wrong),
            }
            return Vec::new();
        }
    };
    if let Act::Take { .. } = act {
        app.chosen.clear();
    }
    match (&mut app.mode, &act) {
        (Mode::Form(_), _) => app.mode = Mode::Board,
        (Mode::Intake(_), _) => {
            app.mode = Mode::Board;
            if state.cards().any(|kept| kept.home.is_none()) {
                rehang::open_plans(app, state);
            }
        }
        (Mode::PutAway(walk), Act::Undo { .. }) => {
            walk.at = 0;
            walks::follow_walk(app, state);
        }
        (Mode::PutAway(_), _) => walks::follow_walk(app, state),
        (Mode::RollCall(_), _) => rollcall::recorded(app, state, &act),
        (Mode::Plans(_), Act::BeginRehang { .. }) => return rehang::go_on(app, stash),
        (Mode::Work(_), Act::EndRehang { .. }) => rehang::open_plans(app, state),
        (Mode::Work(_), Act::Rehang { .. }) if state.underway().is_none() => {
            app.mode = Mode::Board;
            app.say("the re-hang is done: every card has its home");
        }
        (Mode::Work(_), _) => return rehang::renew(app, stash),
        _ => {}
    }
    let listed = matches!(app.mode, Mode::Board | Mode::Rings(_) | Mode::Away(_));
    if listed && app.notice.is_none() {
        app.say(said(stash, &act));
    }
    Vec::new()
}

/// What an act was, in words; for an undo or a redo, what it took back or did again.
fn said(stash: Stash<'_>, act: &Act) -> String {
    let words = |past: Option<&Past>| {
        past.map_or_else(String::new, |past| act_in_words(stash.state, &past.act))
    };
    match act {
        Act::Undo { .. } => format!("taken back: {}", words(stash.history.last_undone())),
        Act::Redo { .. } => format!("done again: {}", words(stash.history.last_done())),
        act => act_in_words(stash.state, act),
    }
}

/// A stock list was read: shows what would come of it, or says in the form what is wrong.
pub(super) fn file_read(
    app: &mut App,
    state: &State,
    path: &str,
    range: &str,
    bytes: Result<Vec<u8>, String>,
) {
    let terms = import::Terms {
        range: Some(range.to_owned()).filter(|range| !range.is_empty()),
        ..import::Terms::default()
    };
    let read = bytes.and_then(|bytes| read_stock(&bytes).map_err(|wrong| wrong.to_string()));
    let judged = read.and_then(|list| {
        match import::stock(state, &list.rows, list.rejected, &terms, app.now) {
            Ok(outcome) => Ok((outcome, list.ignored)),
            Err(Refusal::RowsRejected { line, reason, .. }) => {
                Err(format!("no row can be taken; line {line}: {reason}"))
            }
            Err(refusal) => Err(refusal.to_string()),
        }
    });
    match (judged, &mut app.mode) {
        (Ok((outcome, ignored)), _) => {
            app.mode = Mode::Intake(Intake {
                file: shown(path),
                outcome,
                ignored,
                top: 0,
            });
        }
        (Err(wrong), Mode::Form(form)) => form.wrong = Some(wrong),
        (Err(wrong), _) => app.complain(wrong),
    }
}
