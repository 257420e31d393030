//! The board itself: keys and mouse while no screen covers it.

use crate::model::card::MoveCost;
use crate::stash::command::{board, hold};
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::tui::app::question::{Question, Then};
use crate::tui::app::screen::{Screen, beneath};
use crate::tui::app::{App, Press, Stash, Zoom, cards_at};
use crate::tui::keymap::Action;
use crate::tui::layout;
use crate::tui::message::Effect;
use crate::tui::screens::away::{Away, missing_or_found};
use crate::tui::screens::board_editor::BoardEditor;
use crate::tui::screens::card_form::{ChangeCard, NewCard};
use crate::tui::screens::counting::{Count, Cut, nothing_uncut};
use crate::tui::screens::families::Families;
use crate::tui::screens::find::Find;
use crate::tui::screens::hang::{self, Hang};
use crate::tui::screens::import_list::{ImportList, ImportMatches};
use crate::tui::screens::leave::{Block, Elsewhere, Remove};
use crate::tui::screens::marks::Marks;
use crate::tui::screens::print::{Print, What};
use crate::tui::screens::put_up::RangeThread;
use crate::tui::screens::rehang;
use crate::tui::screens::rings::Rings;
use crate::tui::screens::roll_call::{RollCall, underway};
use crate::tui::screens::take::Take;
use crate::tui::screens::want::{Want, colours_of};
use crate::tui::screens::welcome::Welcome;
use crate::tui::told::told;

const NO_CARD: &str = "There is no card on this hook";

/// Performs the action of a key and returns the effects.
pub fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let state = stash.state;
    match action {
        Action::Next => next_card(app, stash),
        Action::Heat => {
            app.heat = app.heat.next();
            let lines = app.heat.scale();
            app.say(lines.map_or("Heat view off".to_owned(), |lines| lines.join(": ")));
        }
        Action::Find => {
            let find = Find::over(app);
            app.stack.push(Box::new(find));
        }
        Action::Select => select(app, stash),
        Action::Cancel => app.chosen.clear(),
        Action::Take => {
            let form = Take::form(app, state);
            open_for_cards(app, form);
        }
        Action::Want => {
            let form = Want::form(state, colours_of(state, &app.selected(state)));
            open_for_cards(app, form);
        }
        Action::Mark => {
            let form = Marks::form(state, colours_of(state, &app.selected(state)));
            open_for_cards(app, form);
        }
        Action::RangeThread => {
            let cards = app.selected(state);
            let range = cards.first().and_then(|card| state.card(*card));
            let name = range.map(|kept| state.range_name(kept));
            app.open(RangeThread::form(state, name));
        }
        Action::Hang => hang_elsewhere(app, stash),
        Action::Rings => app.open(Rings::default()),
        Action::Away => app.open(Away::default()),
        Action::Families => {
            let families = Families::of(app);
            app.open(families);
        }
        Action::Import => app.open(ImportList::form(state)),
        Action::ImportMatches => app.open(ImportMatches::form()),
        Action::NewCard => app.open(NewCard::form(state, "")),
        Action::Edit => change_card(app, stash),
        Action::Cut | Action::Count => cut_or_count(app, stash, action),
        Action::Elsewhere => {
            let form = Elsewhere::form(app, state);
            open_for_cards(app, form);
        }
        Action::Remove => {
            let form = Remove::form(app, state);
            open_for_cards(app, form);
        }
        Action::Print => {
            let form = Print::form(app, stash, What::Labels, None);
            app.open(form);
        }
        Action::Log => return vec![Effect::ReadLog],
        Action::NewBoard => {
            app.open(BoardEditor::new_board(state));
        }
        Action::EditBoard => {
            let editor = BoardEditor::of_board(app, state);
            app.open(editor);
        }
        Action::FirstSteps => app.open(Welcome::new(state)),
        Action::Rehang => return beneath(app, stash, rehang::open),
        Action::RollCall => offer_roll_call(app, stash),
        Action::Confirmed => roll_call(app, stash, false),
        Action::BeginAgain => roll_call(app, stash, true),
        Action::Block => return block(app, stash),
        Action::Hold => return hold_or_release(app, stash),
        Action::Reserve => return reserve_or_not(app, stash),
        Action::Missing => return missing(app, stash),
        Action::Mouse => {
            app.mouse = !app.mouse;
            app.say(if app.mouse {
                "The mouse chooses hooks and drags cards"
            } else {
                "The mouse is the terminal's: select and copy text"
            });
            return vec![Effect::Mouse(app.mouse)];
        }
        Action::Quit => return vec![Effect::Quit],
        action => look_about(app, state, action),
    }
    Vec::new()
}

/// Moves the cursor, zooms, or switches to another board.
pub fn look_about(app: &mut App, state: &State, action: Action) {
    match action {
        Action::Up => go(app, 0, -1),
        Action::Down => go(app, 0, 1),
        Action::Left => go(app, -1, 0),
        Action::Right => go(app, 1, 0),
        Action::PageUp => go(app, 0, -5),
        Action::PageDown => go(app, 0, 5),
        Action::First => app.eye.column = 0,
        Action::Last => app.eye.column = u16::MAX,
        Action::ZoomIn => app.eye.zoom = zoomed(app, state, true),
        Action::ZoomOut => app.eye.zoom = zoomed(app, state, false),
        Action::OtherBoard => {
            let count = state.boards().len().max(1);
            app.eye.board = (app.eye.board + 1) % count;
            app.eye.pick = 0;
        }
        _ => {}
    }
}

/// Starts a roll call, or asks whether to continue the one underway.
fn offer_roll_call(app: &mut App, stash: Stash<'_>) {
    let Some((done, all)) = underway(stash) else {
        return roll_call(app, stash, false);
    };
    app.open(Question {
        text: format!(
            "A roll call is underway: {done} of {all} rows confirmed. Continue it? n begins again."
        ),
        then: Then::Act(Action::Confirmed),
        otherwise: Some(Then::Act(Action::BeginAgain)),
    });
}

/// Opens a roll call with the current board.
fn roll_call(app: &mut App, stash: Stash<'_>, again: bool) {
    match RollCall::of(stash, app.eye.board, again) {
        Some(call) => {
            call.follow(app, stash.state);
            app.stack.push(Box::new(call));
        }
        None => app.complain("No card hangs or belongs on the wall yet. There is nothing to check"),
    }
}

/// Starts hanging the selected card elsewhere, or the one under the cursor.
fn hang_elsewhere(app: &mut App, stash: Stash<'_>) {
    match app.selected(stash.state).as_slice() {
        [] => app.complain("Put the cursor on a card, or select one with Space, then press e"),
        [card] => {
            if let Some(hang) = Hang::of(app, stash, *card) {
                app.stack.push(Box::new(hang));
            }
        }
        _ => app.complain("One card at a time. Esc deselects all"),
    }
}

/// Handles a mouse press. A click moves to the hook under it; on the hook that already has the
/// cursor, it selects the card.
pub fn click(app: &mut App, stash: Stash<'_>, column: u16, row: u16) -> Vec<Effect> {
    app.press = None;
    let Some(hook) = layout::hook_at(app, stash.state, column, row) else {
        return Vec::new();
    };
    let again = app.hook(stash.state) == Some(hook);
    if !again {
        app.look_at(stash.state, hook);
    }
    let card = app.card(stash.state).map(|kept| (kept.card.id, again));
    app.press = Some(Press { hook, card });
    if again {
        select(app, stash);
    }
    Vec::new()
}

/// Handles a drag, which moves a card along.
pub fn drag(app: &mut App, stash: Stash<'_>, column: u16, row: u16) {
    let Some(press) = app.press else {
        return;
    };
    let hook = layout::hook_at(app, stash.state, column, row);
    let Some(hook) = hook.filter(|&hook| hook != press.hook) else {
        return;
    };
    app.press = None;
    let Some((card, selected)) = press.card else {
        return;
    };
    // It wasn't a click after all.
    if selected {
        app.toggle(card);
    }
    app.notice = None;
    if let Some(hang) = Hang::dragged_to(app, stash, card, hook) {
        app.stack.push(Box::new(hang));
    }
}

/// Opens a form for the selected cards, or says how to select some.
fn open_for_cards(app: &mut App, form: Option<impl Screen + 'static>) {
    match form {
        Some(form) => app.open(form),
        None => app.complain("Put the cursor on a card, or select some with Space."),
    }
}

fn go(app: &mut App, across: i16, down: i16) {
    app.eye.column = app.eye.column.saturating_add_signed(across);
    app.eye.row = app.eye.row.saturating_add_signed(down);
    app.eye.pick = 0;
}

fn next_card(app: &mut App, stash: Stash<'_>) {
    if let Some(hook) = app.hook(stash.state) {
        let count = cards_at(stash.state, hook).len().max(1);
        app.eye.pick = (app.eye.pick + 1) % count;
    }
}

fn select(app: &mut App, stash: Stash<'_>) {
    let Some(kept) = app.card(stash.state) else {
        app.complain(NO_CARD);
        return;
    };
    app.toggle(kept.card.id);
}

/// Opens the form that edits the card under the cursor.
fn change_card(app: &mut App, stash: Stash<'_>) {
    match app.card(stash.state) {
        Some(kept) => app.open(ChangeCard::form(stash.state, kept)),
        None => app.complain(NO_CARD),
    }
}

/// Opens the form that cuts thread onto the card under the cursor, or the one that counts its
/// thread.
fn cut_or_count(app: &mut App, stash: Stash<'_>, action: Action) {
    let state = stash.state;
    let Some(kept) = app.card(state) else {
        return app.complain(NO_CARD);
    };
    if action == Action::Count {
        return app.open(Count::form(state, kept));
    }
    match Cut::form(state, kept) {
        Some(form) => app.open(form),
        None => app.complain(nothing_uncut(state, kept)),
    }
}

fn block(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let state = stash.state;
    let (Some(hook), Some(on)) = (app.hook(state), app.board(state)) else {
        return Vec::new();
    };
    if on.blocked(hook).is_some() {
        let event = board::unblock(state, &state.hook_name(hook), app.now);
        return beneath(app, stash, |context| context.commit(event));
    }
    app.open(Block::form(hook));
    Vec::new()
}

/// Holds or releases the card under the cursor.
fn hold_or_release(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Some(kept) = app.card(stash.state) else {
        app.complain(NO_CARD);
        return Vec::new();
    };
    let card = [kept.card.id];
    let event = if kept.card.touch == MoveCost::Held {
        hold::release(stash.state, &card)
    } else {
        hold::hold(stash.state, &card)
    };
    beneath(app, stash, |context| context.commit(event))
}

/// Reserves the hook under the cursor, or frees it for re-hangs.
fn reserve_or_not(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let state = stash.state;
    let (Some(hook), Some(on)) = (app.hook(state), app.board(state)) else {
        return Vec::new();
    };
    let hook_name = state.hook_name(hook);
    let event = if on.reserved(hook) {
        hold::unreserve(state, &hook_name)
    } else {
        hold::reserve(state, &hook_name)
    };
    beneath(app, stash, |context| context.commit(event))
}

/// Marks the card under the cursor as missing or found.
fn missing(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Some(kept) = app.card(stash.state) else {
        app.complain(NO_CARD);
        return Vec::new();
    };
    let id = kept.card.id;
    let event = missing_or_found(stash.state, id, app.now);
    beneath(app, stash, |context| context.commit(event))
}

/// A change requested on the board is on disk, or failed.
pub fn recorded(app: &mut App, stash: Stash<'_>, result: Result<Act, String>) {
    let act = match result {
        Ok(act) => act,
        Err(wrong) => return app.complain(wrong),
    };
    if app.notice.is_some() {
        return;
    }
    match act {
        Act::Rehang { card } | Act::HangHome { card } => hang::hung(app, stash.state, card),
        act => app.say(told(stash, &act)),
    }
}

/// The next zoom level in or out from the current one.
fn zoomed(app: &App, state: &State, closer: bool) -> Option<Zoom> {
    let now = layout::current(app, state)?.zoom;
    Some(match (now, closer) {
        (Zoom::Far, true) | (Zoom::Near, false) => Zoom::Middle,
        (_, true) => Zoom::Near,
        (_, false) => Zoom::Far,
    })
}
