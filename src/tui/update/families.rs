//! Keys on the page of the families.

use super::{commit, stepped};
use crate::model::ids::CardId;
use crate::stash::command::{family, hold};
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::tui::app::families::{Families, From, Shelf, Stage, cards_of, entries};
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::screens::family_form::FamilyName;

/// Shows the families; with cards chosen on the board, asks which of them these go to.
pub(super) fn open(app: &mut App) {
    let stage = match app.chosen.is_empty() {
        true => Stage::List,
        false => Stage::Send(None, From::Board),
    };
    app.mode = Mode::Families(Families { at: 0, stage });
}

pub(super) fn act(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Families(page) = app.mode else {
        return Vec::new();
    };
    match page.stage {
        Stage::List => list(app, stash, page, action),
        Stage::Cards(shelf) => cards(app, stash, page, shelf, action),
        Stage::Send(one, from) => send(app, stash, page, (one, from), action),
    }
}

/// A step in the list of families; the page after it.
fn moved(state: &State, page: Families, action: Action) -> Families {
    let at = stepped(page.at, page.lines(state), action);
    Families { at, ..page }
}

fn list(app: &mut App, stash: Stash<'_>, page: Families, action: Action) -> Vec<Effect> {
    let state = stash.state;
    let page = moved(state, page, action);
    app.mode = Mode::Families(page);
    match action {
        Action::Cancel => {
            app.mode = Mode::Board;
            return Vec::new();
        }
        Action::Add => {
            app.open(FamilyName::form(state, None));
            return Vec::new();
        }
        Action::ByColour => return commit(app, stash, family::order_by_colour(state)),
        Action::Send if app.chosen.is_empty() => {
            app.complain("no card is chosen: Enter opens a family, Space chooses cards in it");
            return Vec::new();
        }
        Action::Send => {
            let stage = Stage::Send(None, From::List);
            app.mode = Mode::Families(Families { stage, ..page });
            return Vec::new();
        }
        _ => {}
    }
    let entries = entries(state);
    let Some(entry) = entries.get(page.at) else {
        if !matches!(action, Action::Up | Action::Down) {
            app.complain("there is no family yet: n makes one");
        }
        return Vec::new();
    };
    if action == Action::Accept {
        let family = entry.family.map(|family| family.id);
        let stage = Stage::Cards(Shelf { family, at: 0 });
        app.mode = Mode::Families(Families { stage, ..page });
        return Vec::new();
    }
    let one_of = [
        Action::ShiftUp,
        Action::ShiftDown,
        Action::Edit,
        Action::Strike,
        Action::Hold,
    ];
    if !one_of.contains(&action) {
        return Vec::new();
    }
    let Some(of) = entry.family else {
        app.complain("these cards have no family: Enter opens them");
        return Vec::new();
    };
    let name = of.name.as_str();
    match action {
        Action::ShiftUp => shift(app, stash, page, name, -1),
        Action::ShiftDown => shift(app, stash, page, name, 1),
        Action::Strike => {
            let event = family::remove(state, name);
            commit(app, stash, event)
        }
        Action::Hold => {
            let names = [name.to_owned()];
            let event = match of.held {
                true => hold::release_families(state, &names),
                false => hold::hold_families(state, &names),
            };
            commit(app, stash, event)
        }
        _ => {
            app.open(FamilyName::form(state, Some(of.id)));
            Vec::new()
        }
    }
}

/// Moves a family, and the cursor with it.
fn shift(app: &mut App, stash: Stash<'_>, page: Families, name: &str, by: isize) -> Vec<Effect> {
    let effects = commit(app, stash, family::shift(stash.state, name, by));
    if !effects.is_empty() {
        let at = page.at.saturating_add_signed(by);
        app.mode = Mode::Families(Families { at, ..page });
    }
    effects
}

fn cards(
    app: &mut App,
    stash: Stash<'_>,
    page: Families,
    shelf: Shelf,
    action: Action,
) -> Vec<Effect> {
    let state = stash.state;
    let cards = cards_of(state, shelf.family);
    let at = stepped(shelf.at, cards.len(), action);
    let shelf = Shelf { at, ..shelf };
    let show = |stage| Mode::Families(Families { stage, ..page });
    app.mode = show(Stage::Cards(shelf));
    let here = cards.get(at).map(|kept| kept.card.id);
    match (action, here) {
        (Action::Cancel, _) => app.mode = show(Stage::List),
        (Action::Select, Some(card)) => toggle(app, card),
        (Action::SelectAll, Some(_)) => {
            let all: Vec<CardId> = cards.iter().map(|kept| kept.card.id).collect();
            if all.iter().all(|card| app.chosen.contains(card)) {
                app.chosen.retain(|card| !all.contains(card));
            } else {
                app.chosen.extend(all);
            }
        }
        (Action::Send, _) if here.is_some() || !app.chosen.is_empty() => {
            let one = here.filter(|_| app.chosen.is_empty());
            app.mode = show(Stage::Send(one, From::Cards(shelf)));
        }
        (Action::WorkOut, _) if here.is_some() || !app.chosen.is_empty() => {
            let event = family::unassign(state, &meant(app, here));
            return commit(app, stash, event);
        }
        (Action::Select | Action::SelectAll | Action::Send | Action::WorkOut, _) => {
            app.complain("there is no card in this family");
        }
        _ => {}
    }
    Vec::new()
}

fn toggle(app: &mut App, card: CardId) {
    if !app.chosen.remove(&card) {
        app.chosen.insert(card);
    }
}

/// All chosen cards; without any, the one named.
fn meant(app: &App, one: Option<CardId>) -> Vec<CardId> {
    match app.chosen.is_empty() {
        true => one.into_iter().collect(),
        false => app.chosen.iter().copied().collect(),
    }
}

fn send(
    app: &mut App,
    stash: Stash<'_>,
    page: Families,
    (one, from): (Option<CardId>, From),
    action: Action,
) -> Vec<Effect> {
    let state = stash.state;
    let page = moved(state, page, action);
    app.mode = Mode::Families(page);
    match action {
        Action::Cancel => app.mode = back(page, from),
        Action::Add => app.open(FamilyName::form(state, None)),
        Action::Accept => {
            let Some(family) = state.families().get(page.at) else {
                app.complain("there is no family yet: n makes one");
                return Vec::new();
            };
            let event = family::assign(state, family.name.as_str(), &meant(app, one));
            return commit(app, stash, event);
        }
        _ => {}
    }
    Vec::new()
}

/// Where it was asked to send cards.
fn back(page: Families, from: From) -> Mode {
    let stage = match from {
        From::Board => return Mode::Board,
        From::List => Stage::List,
        From::Cards(shelf) => Stage::Cards(shelf),
    };
    Mode::Families(Families { stage, ..page })
}

/// What follows when a change was recorded that was asked for on this page.
pub(super) fn recorded(app: &mut App, state: &State, act: &Act) {
    let Mode::Families(page) = app.mode else {
        return;
    };
    match (act, page.stage) {
        (Act::NewFamily { .. }, _) => {
            let at = state.families().len().saturating_sub(1);
            app.mode = Mode::Families(Families { at, ..page });
        }
        (Act::AssignFamily { .. }, Stage::Send(_, from)) => {
            app.chosen.clear();
            app.mode = back(page, from);
        }
        (Act::UnassignFamily { .. }, _) => app.chosen.clear(),
        _ => {}
    }
}

#[cfg(test)]
mod tests;
