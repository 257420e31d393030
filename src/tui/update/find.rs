//! Typing to find a colour. The board follows the best match as it is typed.

use super::look_at_card;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::{App, FindBox, Mode};
use crate::tui::field::{Field, LeftOut};
use crate::tui::key::Key;
use crate::tui::keymap::Action;
use crate::tui::message::Effect;

fn with_box(app: &mut App, change: impl FnOnce(&mut FindBox)) {
    if let Mode::Find(find) = &mut app.mode {
        change(find);
    }
}

/// Looks again for what is typed now.
pub(super) fn search(app: &mut App, state: &State) {
    with_box(app, |find| {
        let found = state.find(find.field.text());
        find.matches = found.iter().map(|found| found.card).collect();
        find.not_owned = state.find_not_owned(find.field.text());
        find.at = 0;
    });
    follow(app, state);
}

/// Moves the cursor to the chosen match's home, or back where it was.
fn follow(app: &mut App, state: &State) {
    let Mode::Find(find) = &app.mode else { return };
    let zoom = app.eye.zoom;
    match find.matches.get(find.at).copied() {
        Some(card) => look_at_card(app, state, card),
        None => app.eye = find.back.clone(),
    }
    app.eye.zoom = zoom;
}

pub(super) fn typed(app: &mut App, state: &State, key: Key) {
    let mut changed = false;
    with_box(app, |find| changed = find.field.press(key));
    if changed {
        search(app, state);
    }
}

pub(super) fn paste(app: &mut App, state: &State, text: &str) -> LeftOut {
    let mut left_out = LeftOut::default();
    with_box(app, |find| left_out = find.field.insert(text));
    search(app, state);
    left_out
}

pub(super) fn act(app: &mut App, state: &State, action: Action) -> Vec<Effect> {
    match action {
        Action::Up | Action::Down => {
            with_box(app, |find| {
                find.at = super::stepped(find.at, find.matches.len(), action);
            });
            follow(app, state);
        }
        Action::Select => choose(app, state),
        Action::Accept => accept(app, state),
        Action::Cancel => {
            if let Mode::Find(find) = &app.mode {
                app.eye = find.back.clone();
            }
            app.mode = Mode::Board;
        }
        _ => {}
    }
    Vec::new()
}

/// Chooses the match and makes the line ready for the next.
fn choose(app: &mut App, state: &State) {
    let Mode::Find(find) = &mut app.mode else {
        return;
    };
    let Some(&card) = find.matches.get(find.at) else {
        return;
    };
    find.field = Field::default();
    if !app.chosen.remove(&card) {
        app.chosen.insert(card);
    }
    if let Some(kept) = state.card(card) {
        let (name, count) = (state.card_name(kept), app.chosen.len());
        app.say(format!(
            "{name}: {count} chosen. Esc, then t takes them to a ring"
        ));
    }
}

/// Goes to the chosen match and says where the card is.
fn accept(app: &mut App, state: &State) {
    let Mode::Find(find) = &app.mode else { return };
    let Some(kept) = find.matches.get(find.at).and_then(|&card| state.card(card)) else {
        if !find.field.text().is_empty() {
            app.complain("no card like that in the stash");
        }
        return;
    };
    let text = format!(
        "{} {}: {}",
        state.card_name(kept),
        kept.card.name,
        text::places::place_of(state, kept)
    );
    look_at_card(app, state, kept.card.id);
    app.mode = Mode::Board;
    app.say(text);
}
