//! The families: the list, the cards of one, and sending cards to another.

mod view;

use std::collections::BTreeMap;

use ratatui::Frame;
use ratatui::layout::Rect;

use crate::model::card::Family;
use crate::model::ids::{CardId, FamilyId};
use crate::stash::command::{family, hold};
use crate::stash::event::Act;
use crate::stash::order::Order;
use crate::stash::state::{CardState, State};
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::told::told;
use crate::tui::widgets::list::stepped;

/// The current view of the families.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Stage {
    /// The list.
    List,
    /// The cards of one family, or the cards without one.
    Cards(Shelf),
    /// Choosing a family to send cards to: the given card, or else all selected cards.
    Send(Option<CardId>, From),
}

/// The cards of a family, with the cursor.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct Shelf {
    /// The family; `None` for the cards without one.
    family: Option<FamilyId>,
    /// Index of the card.
    at: usize,
}

/// The view that asked to send cards.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum From {
    /// The board.
    Board,
    /// The list of families.
    List,
    /// The cards of a family.
    Cards(Shelf),
}

/// The page of the families.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Families {
    /// Index of the selected line in the list.
    at: usize,
    /// The current view.
    stage: Stage,
}

/// A line of the list: a family and its cards from light to dark.
#[derive(Debug)]
struct Entry<'a> {
    /// The family; `None` for the cards without one.
    family: Option<&'a Family>,
    /// Its cards. Split cards are left out, because they never hang.
    cards: Vec<&'a CardState>,
}

/// The families in wall order, then the cards without one, if any. O(cards · log cards + families).
#[must_use]
fn entries(state: &State) -> Vec<Entry<'_>> {
    let cards = state.cards().filter(|kept| kept.card.parent.is_none());
    let mut of: BTreeMap<Option<FamilyId>, Vec<&CardState>> = BTreeMap::new();
    for kept in state.in_order(&Order::Lightness, cards) {
        of.entry(state.family_of(kept)).or_default().push(kept);
    }
    let families = state.families().iter().map(Some);
    let mut entries: Vec<Entry<'_>> = families
        .map(|family| Entry {
            family,
            cards: of.remove(&family.map(|one| one.id)).unwrap_or_default(),
        })
        .collect();
    entries.extend(of.remove(&None).map(|cards| Entry {
        family: None,
        cards,
    }));
    entries
}

/// The cards of a family, or the cards without one, from light to dark; see [`entries`].
#[must_use]
fn cards_of(state: &State, family: Option<FamilyId>) -> Vec<&CardState> {
    let of = |entry: &Entry<'_>| entry.family.map(|one| one.id) == family;
    let entry = entries(state).into_iter().find(of);
    entry.map_or_else(Vec::new, |entry| entry.cards)
}

impl Families {
    /// The families. If cards are selected on the board, it asks which family they go to.
    #[must_use]
    pub fn of(app: &App) -> Self {
        let stage = match app.chosen.is_empty() {
            true => Stage::List,
            false => Stage::Send(None, From::Board),
        };
        Self { at: 0, stage }
    }

    /// The number of lines in the list.
    fn lines(&self, state: &State) -> usize {
        match self.stage {
            // Cards can't be sent to "no family".
            Stage::Send(..) => state.families().len(),
            Stage::List | Stage::Cards(_) => entries(state).len(),
        }
    }

    /// Drops lines and families that no longer exist.
    fn keep_true(&mut self, state: &State) {
        let gone = |family: Option<FamilyId>| family.is_some_and(|id| state.family(id).is_none());
        match &mut self.stage {
            Stage::Cards(shelf) | Stage::Send(_, From::Cards(shelf)) => {
                let count = cards_of(state, shelf.family).len();
                shelf.at = shelf.at.min(count.saturating_sub(1));
                if gone(shelf.family) {
                    self.stage = Stage::List;
                }
            }
            Stage::List | Stage::Send(..) => {}
        }
        self.at = self.at.min(self.lines(state).saturating_sub(1));
    }

    fn in_list(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        match action {
            Action::Cancel => return context.close(),
            Action::Add => return context.open(FamilyName::form(state, None)),
            Action::ByColour => return context.commit(family::order_by_colour(state)),
            Action::Send if context.app.chosen.is_empty() => {
                let words = "No card is selected. Enter opens a family, Space selects cards in it.";
                return context.app.complain(words);
            }
            Action::Send => {
                self.stage = Stage::Send(None, From::List);
                return;
            }
            _ => {}
        }
        let entries = entries(state);
        match (action, entries.get(self.at)) {
            (Action::Up | Action::Down | Action::PageUp | Action::PageDown, _) => {}
            (_, None) => context.app.complain("There is no family yet. n makes one."),
            (Action::Accept, Some(entry)) => {
                let family = entry.family.map(|family| family.id);
                self.stage = Stage::Cards(Shelf { family, at: 0 });
            }
            (_, Some(Entry { family: None, .. })) => {
                let words = "These cards have no family. Enter opens them.";
                context.app.complain(words);
            }
            (
                _,
                Some(Entry {
                    family: Some(of), ..
                }),
            ) => self.on_family(context, of, action),
        }
    }

    /// Performs an action on the selected family.
    fn on_family(&mut self, context: &mut Context<'_>, of: &Family, action: Action) {
        let state = context.stash.state;
        let name = of.name.as_str();
        match action {
            Action::ShiftUp | Action::ShiftDown => {
                let by = if action == Action::ShiftUp { -1 } else { 1 };
                let event = family::shift(state, name, by);
                // The cursor follows it.
                if event.is_ok() && context.stash.read_only.is_none() {
                    self.at = self.at.saturating_add_signed(by);
                }
                context.commit(event);
            }
            Action::Strike => context.commit(family::remove(state, name)),
            Action::Hold => {
                let names = [name.to_owned()];
                context.commit(match of.held {
                    true => hold::release_families(state, &names),
                    false => hold::hold_families(state, &names),
                });
            }
            Action::Edit => context.open(FamilyName::form(state, Some(of.id))),
            _ => {}
        }
    }

    fn among_cards(&mut self, context: &mut Context<'_>, shelf: Shelf, action: Action) {
        let state = context.stash.state;
        let cards = cards_of(state, shelf.family);
        let at = stepped(shelf.at, cards.len(), action);
        let shelf = Shelf { at, ..shelf };
        self.stage = Stage::Cards(shelf);
        let here = cards.get(at).map(|kept| kept.card.id);
        let chosen = &mut context.app.chosen;
        match (action, here) {
            (Action::Cancel, _) => self.stage = Stage::List,
            (Action::Select, Some(card)) if chosen.remove(&card) => {}
            (Action::Select, Some(card)) => {
                chosen.insert(card);
            }
            (Action::SelectAll, Some(_)) => {
                let all: Vec<CardId> = cards.iter().map(|kept| kept.card.id).collect();
                if all.iter().all(|card| chosen.contains(card)) {
                    chosen.retain(|card| !all.contains(card));
                } else {
                    chosen.extend(all);
                }
            }
            (Action::Send, _) if here.is_some() || !chosen.is_empty() => {
                let one = here.filter(|_| chosen.is_empty());
                self.stage = Stage::Send(one, From::Cards(shelf));
            }
            (Action::WorkOut, _) if here.is_some() || !chosen.is_empty() => {
                let event = family::unassign(state, &meant(context.app, here));
                context.commit(event);
            }
            (Action::Select | Action::SelectAll | Action::Send | Action::WorkOut, _) => {
                context.app.complain("There is no card in this family.");
            }
            _ => {}
        }
    }

    fn sending(
        &mut self,
        context: &mut Context<'_>,
        (one, from): (Option<CardId>, From),
        action: Action,
    ) {
        let state = context.stash.state;
        match action {
            Action::Cancel => self.back(context, from),
            Action::Add => context.open(FamilyName::form(state, None)),
            Action::Accept => match state.families().get(self.at) {
                Some(family) => {
                    let cards = meant(context.app, one);
                    context.commit(family::assign(state, family.name.as_str(), &cards));
                }
                None => context.app.complain("There is no family yet. n makes one."),
            },
            _ => {}
        }
    }

    /// Returns to the view that asked to send cards.
    fn back(&mut self, context: &mut Context<'_>, from: From) {
        match from {
            From::Board => context.close(),
            From::List => self.stage = Stage::List,
            From::Cards(shelf) => self.stage = Stage::Cards(shelf),
        }
    }
}

/// The selected cards, or the given one if none is selected.
fn meant(app: &App, one: Option<CardId>) -> Vec<CardId> {
    match app.chosen.is_empty() {
        true => one.into_iter().collect(),
        false => app.chosen.iter().copied().collect(),
    }
}

impl Screen for Families {
    fn scope(&self) -> Scope {
        match self.stage {
            Stage::List => Scope::Families,
            Stage::Cards(_) => Scope::FamilyCards,
            Stage::Send(..) => Scope::SendTo,
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        if !matches!(self.stage, Stage::Cards(_)) {
            self.at = stepped(self.at, self.lines(context.stash.state), action);
        }
        match self.stage {
            Stage::List => self.in_list(context, action),
            Stage::Cards(shelf) => self.among_cards(context, shelf, action),
            Stage::Send(one, from) => self.sending(context, (one, from), action),
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let state = context.stash.state;
        match (act, self.stage) {
            (Act::NewFamily { .. }, _) => self.at = state.families().len().saturating_sub(1),
            (Act::AssignFamily { .. }, Stage::Send(_, from)) => {
                context.app.chosen.clear();
                self.back(context, from);
            }
            (Act::UnassignFamily { .. }, _) => context.app.chosen.clear(),
            _ => {}
        }
        self.keep_true(state);
        if context.app.notice.is_none() {
            let words = told(context.stash, act);
            context.app.say(words);
        }
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.keep_true(context.stash.state);
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        view::page(app, stash.state, self, frame, body);
    }
}

/// The form for a family's name.
#[derive(Clone, Debug)]
pub struct FamilyName {
    /// The family; `None` for a new one.
    family: Option<FamilyId>,
    name: Input,
}

impl FamilyName {
    /// The form for a family, or for a new one.
    #[must_use]
    pub fn form(state: &State, family: Option<FamilyId>) -> Form<Self> {
        let is = family.and_then(|family| state.family(family));
        let is = is.map_or("", |family| family.name.as_str());
        let name = Input::text("name", "what you call it", is);
        Form::new(Self { family, name })
    }
}

impl Fields for FamilyName {
    fn title(&self, state: &State) -> String {
        match self.family.and_then(|family| state.family(family)) {
            Some(family) => format!("Another name for {name}", name = family.name),
            None => "Make a family".to_owned(),
        }
    }

    inputs!(name);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let name = self.name.value();
        let event = match self.family.and_then(|family| state.family(family)) {
            Some(family) => family::rename(state, family.name.as_str(), name)?,
            None => family::add(state, name)?,
        };
        Ok(event.into())
    }
}

#[cfg(test)]
mod tests;
