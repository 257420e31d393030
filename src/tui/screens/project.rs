//! The page of a project: its chart key, the state of each colour, and the actions.

pub mod fetch;
pub mod forms;
mod view;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use self::fetch::Fetching;
use self::forms::{Fabric, ImportKey, KeyEntry, Progress, Split, Use};
use super::buy::Buy;
use super::counting::{Count, Cut, nothing_uncut};
use super::marks::Marks;
use super::rings::put_away;
use super::want::Want;
use crate::model::ids::{CardId, RingId};
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, Ring};
use crate::model::thread::Strands;
use crate::stash::command::{key, ring, thread};
use crate::stash::event::{Act, Event};
use crate::stash::projects::kit::{ProjectKit, check, rings_in_use};
use crate::stash::projects::low::low_of;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::told::{scarce, told};
use crate::tui::widgets::list::stepped;

/// The page of a project.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ProjectPage {
    /// Its ring.
    ring: RingId,
    /// Index of the selected line of its key.
    at: usize,
    /// The previous number of lines.
    lines: usize,
    /// Whether the project shares the stash with all other projects in use, those opened before it
    /// first. Otherwise it is checked as if it were the only one.
    shared: bool,
}

impl ProjectPage {
    /// The page of a ring as it opens.
    #[must_use]
    pub const fn of(ring: RingId) -> Self {
        Self {
            ring,
            at: 0,
            lines: 0,
            shared: false,
        }
    }

    /// Checks it against the current stash. `None` if the ring is gone.
    #[must_use]
    pub fn check<'a>(&self, state: &'a State) -> Option<ProjectKit<'a>> {
        let ring = state.ring(self.ring)?;
        let mut rings: Vec<&Ring> = Vec::new();
        if self.shared {
            rings = rings_in_use(state).unwrap_or_default();
        }
        if !rings.iter().any(|other| other.id == ring.id) {
            rings.push(ring);
        }
        let at = rings.iter().position(|other| other.id == ring.id)?;
        Some(check(state, &rings).projects.swap_remove(at))
    }

    /// The amount of a card that the key needs, if the card isn't on the ring.
    fn wanted(self, state: &State, card: CardId) -> Option<Strands> {
        let project = self.check(state)?;
        let promises = project.threads().flat_map(|thread| &thread.promises);
        let of = promises.filter(|promise| promise.card == card);
        let ring = state.card(card)?.place.at.ring();
        let sum = of.fold(0, |sum: u32, promise| sum.saturating_add(promise.strands.0));
        (ring != Some(self.ring) && sum > 0).then_some(Strands(sum))
    }

    /// Performs an action on the whole project; returns whether it was one.
    fn act_on_project(&mut self, context: &mut Context<'_>, ring: &Ring, action: Action) -> bool {
        let state = context.stash.state;
        match action {
            Action::Cancel => context.close(),
            Action::Share => {
                self.shared = !self.shared;
                context.app.say(if self.shared {
                    "Shared with all projects in use, those opened before it first."
                } else {
                    "As if only this project asked; what is on other rings stays theirs."
                });
            }
            Action::Take => Fetching::begin(context, *self),
            Action::PutAway => put_away(context, ring),
            Action::Buy => {
                Buy::of(vec![ring.id]).open(context);
            }
            Action::Import => context.open(ImportKey::form(state, ring)),
            Action::Fabric => context.open(Fabric::form(ring)),
            Action::Add => context.open(KeyEntry::form(state, ring, None)),
            _ => return false,
        }
        true
    }

    /// Performs an action on the selected line.
    fn act_on_line(
        &mut self,
        context: &mut Context<'_>,
        (ring, line): (&Ring, &KeyLine),
        action: Action,
    ) {
        let state = context.stash.state;
        match action {
            Action::Edit | Action::Accept => {
                context.open(KeyEntry::form(state, ring, Some(self.at)));
            }
            Action::Want | Action::Mark => want_or_mark(context, line, action),
            Action::Cut | Action::Count => cut_or_count(context, line, action),
            Action::Strike => change(context, key::strike(ring, self.at)),
            Action::ShiftUp | Action::ShiftDown => {
                let to = match action {
                    Action::ShiftUp => self.at.saturating_sub(1),
                    _ => (self.at + 1).min(ring.key.len() - 1),
                };
                change(context, key::shift(ring, self.at, to));
                self.at = to;
            }
            Action::UseLength => use_up(context, ring, line, |put_up| put_up.from_lengths(1)),
            Action::UseStrand => use_up(context, ring, line, |_| Strands(1)),
            Action::UseSome => match on_ring(state, ring, line) {
                Some(kept) => context.open(Use::form(state, ring.id, kept)),
                None => not_on_ring(context.app, line),
            },
            Action::Missing => match on_ring(state, ring, line) {
                Some(kept) => {
                    context.commit(ring::missing(state, &[kept.card.id], context.app.now));
                }
                None => not_on_ring(context.app, line),
            },
            Action::Progress => context.open(Progress::form(state, ring, line)),
            Action::Split | Action::Rejoin => match whole_card(state, ring, line) {
                Some(kept) if action == Action::Rejoin => {
                    context.commit(thread::merge(state, ring, kept.card.id));
                }
                Some(kept) if kept.place.at.ring() == Some(ring.id) => {
                    let words = format!(
                        "{card} is on this ring itself, so there's nothing to split.",
                        card = state.card_name(kept)
                    );
                    context.app.complain(words);
                }
                Some(kept) => {
                    let suggested = self.wanted(state, kept.card.id);
                    context.open(Split::form(state, ring.id, kept, suggested));
                }
                None => not_there(context.app, line),
            },
            _ => {}
        }
    }
}

/// The card of a line that is on the ring: that of the first thread with one, a split card before
/// the card itself.
fn on_ring<'a>(state: &'a State, ring: &Ring, line: &KeyLine) -> Option<&'a CardState> {
    let there = |kept: &&CardState| kept.place.at.ring() == Some(ring.id);
    let mut threads = line.threads().iter();
    threads.find_map(|thread| state.cards_of(thread.stitched()).filter(there).last())
}

/// Opens the form for wanted skeins or for marks, for the colours of a line.
fn want_or_mark(context: &mut Context<'_>, line: &KeyLine, action: Action) {
    let state = context.stash.state;
    let threads = line.threads().iter();
    let colours: Vec<ColourRef> = threads.map(|thread| thread.stitched().clone()).collect();
    if colours.is_empty() {
        return context.app.complain("A notion is no thread");
    }
    match action {
        Action::Want => Want::form(state, colours).map(|form| context.open(form)),
        _ => Marks::form(state, colours).map(|form| context.open(form)),
    };
}

/// Opens the form that cuts onto the first card of the line with uncut thread, or the form that
/// counts its first card.
fn cut_or_count(context: &mut Context<'_>, line: &KeyLine, action: Action) {
    let state = context.stash.state;
    let threads = line.threads().iter();
    let mut cards = threads.flat_map(|thread| state.cards_of(thread.stitched()));
    let Some(first) = cards.next() else {
        return not_there(context.app, line);
    };
    if action == Action::Count {
        return context.open(Count::form(state, first));
    }
    let mut forms = std::iter::once(first).chain(cards);
    match forms.find_map(|kept| Cut::form(state, kept)) {
        Some(form) => context.open(form),
        None => context.app.complain(nothing_uncut(state, first)),
    }
}

fn not_there(app: &mut App, line: &KeyLine) {
    app.complain(format!(
        "No card of {number} is in the stash.",
        number = text::thread::line_in_brief(line)
    ));
}

fn not_on_ring(app: &mut App, line: &KeyLine) {
    app.complain(format!(
        "No card of {number} is on this ring.",
        number = text::thread::line_in_brief(line)
    ));
}

/// A whole card of a line, not a split card: one with a split card on the ring, else one that isn't
/// on the ring itself, else the first.
fn whole_card<'a>(state: &'a State, ring: &Ring, line: &KeyLine) -> Option<&'a CardState> {
    let threads = line.threads().iter();
    let cards = threads.flat_map(|thread| state.cards_of(thread.stitched()));
    let whole = cards.filter(|kept| kept.card.parent.is_none());
    let there = |kept: &CardState| kept.place.at.ring() == Some(ring.id);
    whole.min_by_key(|kept| {
        let is_split = state.split_cards_of(kept.card.id).any(there);
        (!is_split, there(kept))
    })
}

/// Requests a change to the key; does nothing if there is none.
fn change(context: &mut Context<'_>, event: Result<Option<Event>, Refusal>) {
    if let Some(event) = event.transpose() {
        context.commit(event);
    }
}

fn use_up(
    context: &mut Context<'_>,
    ring: &Ring,
    line: &KeyLine,
    amount: impl FnOnce(PutUp) -> Strands,
) {
    let state = context.stash.state;
    match on_ring(state, ring, line) {
        Some(kept) => {
            let amount = amount(state.put_up(&kept.card));
            let used = thread::use_thread(state, Some(ring), kept.card.id, amount, None);
            context.commit(used);
        }
        None => not_on_ring(context.app, line),
    }
}

impl Screen for ProjectPage {
    fn scope(&self) -> Scope {
        Scope::Project
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let Some(ring) = context.stash.state.ring(self.ring) else {
            return context.close();
        };
        self.lines = ring.key.len();
        self.at = stepped(self.at, self.lines, action);
        let is_step = matches!(
            action,
            Action::Up | Action::Down | Action::PageUp | Action::PageDown
        );
        if is_step || self.act_on_project(context, ring, action) {
            return;
        }
        match ring.key.get(self.at) {
            Some(line) => self.act_on_line(context, (ring, line), action),
            None if matches!(action, Action::Edit | Action::Accept) => {
                context.open(KeyEntry::form(context.stash.state, ring, None));
            }
            None => {
                let words = "The key has no line yet. i imports it from a list, a writes a line.";
                context.app.complain(words);
            }
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        let state = context.stash.state;
        let Some(ring) = state.ring(self.ring) else {
            return context.close();
        };
        let lines = ring.key.len();
        // Move to a new line, which is at the end of the key.
        if lines == self.lines + 1 {
            self.at = lines - 1;
        }
        self.at = self.at.min(lines.saturating_sub(1));
        self.lines = lines;
        if let Act::Use { card, .. } = act
            && let Some(low) = low_of(state, ring, *card)
        {
            let low = std::iter::once(text::thread::low(state, &low));
            let warnings: Vec<String> = low.chain(scarce(context.stash, act)).collect();
            context.app.complain(warnings.join(". "));
        }
        if context.app.notice.is_none() {
            let words = told(context.stash, act);
            context.app.say(words);
        }
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        // Undo may remove a project that was just started.
        match context.stash.state.ring(self.ring) {
            Some(ring) => self.at = self.at.min(ring.key.len().saturating_sub(1)),
            None => context.close(),
        }
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        view::title(app, stash.state, *self, width)
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        view::page(app, stash.state, *self, frame, body);
    }
}

#[cfg(test)]
mod tests;
