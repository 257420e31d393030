//! What follows when a change is on disk, or is not.

use super::families;
use crate::stash::event::Act;
use crate::tui::app::welcome::{Step, Welcome};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::message::Effect;
use crate::tui::screens::hang;
use crate::tui::told::told;

pub(super) fn recorded(
    app: &mut App,
    stash: Stash<'_>,
    result: Result<Act, String>,
) -> Vec<Effect> {
    let state = stash.state;
    let act = match result {
        Ok(act) => act,
        Err(wrong) => {
            app.complain(wrong);
            return Vec::new();
        }
    };
    match (&mut app.mode, &act) {
        (Mode::Families(_), _) => families::recorded(app, state, &act),
        (Mode::Board, Act::Rehang { card } | Act::HangHome { card }) if app.notice.is_none() => {
            hang::hung(app, state, *card);
        }
        _ => {}
    }
    if let Mode::Welcome(page) = &mut app.mode {
        *page = Welcome::new(state);
        // The cards of the list hang already.
        if matches!(act, Act::ImportCards { .. }) && page.step() == Step::BoardView {
            app.mode = Mode::Board;
        }
    }
    let listed = matches!(app.mode, Mode::Board | Mode::Families(_) | Mode::Welcome(_));
    if listed && app.notice.is_none() {
        app.say(told(stash, &act));
    }
    Vec::new()
}
