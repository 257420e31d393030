//! Keys in the help and in the list of what can be done.

use super::{act as act_on, stepped};
use crate::tui::app::help::{Help, Pick, choices, lines};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::field::Field;
use crate::tui::key::Key;
use crate::tui::keymap::Action;
use crate::tui::layout;
use crate::tui::message::Effect;

/// Opens the help over what is on the screen.
pub(super) fn open(app: &mut App) -> Vec<Effect> {
    let back = Box::new(std::mem::replace(&mut app.mode, Mode::Board));
    app.mode = Mode::Help(Help {
        back,
        field: Field::default(),
        top: 0,
    });
    Vec::new()
}

/// Opens the list of what can be done here.
pub(super) fn open_actions(app: &mut App) -> Vec<Effect> {
    let back = Box::new(std::mem::replace(&mut app.mode, Mode::Board));
    app.mode = Mode::Actions(Pick {
        back,
        field: Field::default(),
        at: 0,
    });
    Vec::new()
}

/// Takes a key that is typed.
pub(super) fn typed(app: &mut App, key: Key) {
    match &mut app.mode {
        Mode::Help(help) => {
            let typed = help.field.press(key);
            help.top = if typed { 0 } else { help.top };
        }
        Mode::Actions(pick) => {
            let typed = pick.field.press(key);
            pick.at = if typed { 0 } else { pick.at };
        }
        _ => {}
    }
}

pub(super) fn act(app: &mut App, action: Action) -> Vec<Effect> {
    // The last screenful is as far as it goes; its frame and the line that is typed take four lines.
    let parts = layout::parts(app.size.0, app.size.1);
    let shown = usize::from(parts.body.height.saturating_sub(4));
    let Mode::Help(help) = &mut app.mode else {
        return Vec::new();
    };
    if action == Action::Cancel {
        let back = std::mem::replace(&mut *help.back, Mode::Board);
        app.mode = back;
        return Vec::new();
    }
    let count = lines(&app.keys, help.back.scope(), help.field.text()).len();
    help.top = stepped(help.top, count.saturating_sub(shown) + 1, action);
    Vec::new()
}

pub(super) fn pick(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Actions(pick) = &mut app.mode else {
        return Vec::new();
    };
    let found = choices(&app.keys, pick.back.scope(), pick.field.text());
    pick.at = stepped(pick.at, found.len(), action);
    let chosen = found.get(pick.at).map(|bound| bound.binding.action);
    if !matches!(action, Action::Accept | Action::Cancel) {
        return Vec::new();
    }
    let back = std::mem::replace(&mut *pick.back, Mode::Board);
    app.mode = back;
    match (action, chosen) {
        (Action::Accept, Some(chosen)) => act_on(app, stash, chosen),
        (Action::Accept, None) => {
            app.complain("nothing here does that");
            Vec::new()
        }
        _ => Vec::new(),
    }
}
