//! Following a re-hang, one step at a time.

use std::collections::HashSet;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::{Planning, ask_to_give_up, cannot_go_on, done, hook};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Whereabouts;
use crate::stash::command::rehang::{HangStep, all, give_up, remaining, step};
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::{one_or_many, places};

use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::Effect;
use crate::tui::screens::away::missing_or_found;
use crate::tui::told::told;
use crate::tui::wall::walk::{self, Next};

/// A re-hang underway. The stash keeps the progress; this keeps only the next steps.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Work {
    /// The remaining steps in order, as far as the stash determines them.
    pub steps: Vec<HangStep>,
    /// Index of the step shown.
    pub at: usize,
    /// Cards skipped until the others are done.
    skipped: HashSet<CardId>,
}

impl Work {
    /// The remaining work of the current re-hang.
    ///
    /// # Errors
    /// Like [`remaining`].
    pub fn new(state: &State) -> Result<Self, Refusal> {
        let mut work = Self {
            steps: Vec::new(),
            at: 0,
            skipped: HashSet::new(),
        };
        work.renew(state)?;
        Ok(work)
    }

    /// Recomputes the remaining steps from the stash, and shows the first step that wasn't skipped
    /// and is possible now. If there is none, skipped steps return.
    fn renew(&mut self, state: &State) -> Result<(), Refusal> {
        self.steps = remaining(state)?;
        let hand_full = state
            .cards()
            .any(|kept| matches!(kept.place.at, Whereabouts::Hand));
        let can_be_done = |step: &HangStep| match step.to {
            Some(hook) => state.free_places(hook) > 0,
            None => !hand_full,
        };
        let next = |skipped: &HashSet<CardId>| {
            let wanted = |step: &HangStep| !skipped.contains(&step.card) && can_be_done(step);
            self.steps.iter().position(wanted)
        };
        let mut at = next(&self.skipped);
        if at.is_none() {
            self.skipped.clear();
            at = next(&self.skipped);
        }
        // The very first step is always possible.
        self.at = at.unwrap_or(0);
        Ok(())
    }

    /// The step shown.
    #[must_use]
    pub fn step(&self) -> Option<&HangStep> {
        self.steps.get(self.at)
    }

    /// The steps after the one shown: first those not skipped, then the skipped ones.
    fn then(&self) -> impl Iterator<Item = &HangStep> {
        let others = || {
            let steps = self.steps.iter().enumerate();
            steps.filter(|&(at, _)| at != self.at).map(|(_, step)| step)
        };
        let put_off = |step: &&HangStep| self.skipped.contains(&step.card);
        let first = others().filter(move |step| !put_off(step));
        first.chain(others().filter(put_off))
    }

    /// Moves the cursor to the target of the step shown.
    pub(super) fn look(&self, context: &mut Context<'_>) {
        if let Some(hook) = self.step().and_then(|step| step.to.or(step.from)) {
            context.app.look_at(context.stash.state, hook);
        }
    }

    /// Shows the next step. Ends the re-hang if nothing is left. If it can't continue, asks whether
    /// to abandon it.
    fn go_on(&mut self, context: &mut Context<'_>) {
        match self.renew(context.stash.state) {
            Ok(()) if self.steps.is_empty() => {
                context.close();
                context.commit(give_up(context.stash.state));
            }
            Ok(()) => self.look(context),
            Err(refusal) => {
                context.close();
                cannot_go_on(context, &refusal);
            }
        }
    }

    /// Requests that the step shown be recorded.
    fn record(&self, context: &mut Context<'_>) {
        if let Some(shown) = self.step() {
            context.commit(step(context.stash.state, shown, context.app.now));
        }
    }

    /// Undoes the last step. Undoing the start of the re-hang is left to the board.
    fn step_back(context: &mut Context<'_>) {
        let last = context.stash.history.last_done();
        let is_step = |act: &Act| {
            matches!(
                act,
                Act::Rehang { .. } | Act::Missing { .. } | Act::Found { .. }
            )
        };
        match last.map(|past| &past.act) {
            Some(act) if is_step(act) => context.undo(),
            _ => context.app.say("This is the first step."),
        }
    }

    fn ask_for_all(&self, context: &mut Context<'_>) {
        let left = self.steps.len();
        let question = format!(
            "Mark the {left} {steps} left as done? One undo reverts that.",
            steps = one_or_many(left, "step", "steps")
        );
        context.ask_for(question, Then::Act(Action::Confirmed));
    }

    fn stop(&self, context: &mut Context<'_>) {
        let left = self.steps.len();
        context.close();
        // The first steps have no key for it, their marked step goes on.
        let beneath = context.app.stack.last().map(|screen| screen.scope());
        let key = match beneath {
            Some(Scope::Welcome) => "Enter",
            _ => "g",
        };
        context.app.say(format!(
            "Saved. {left} {steps} left. Press {key} to continue.",
            steps = one_or_many(left, "step is", "steps are")
        ));
    }
}

impl Screen for Work {
    fn scope(&self) -> Scope {
        Scope::Work
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        // Another window may have changed the board since the step was shown.
        let shown = self.clone();
        if self.renew(context.stash.state).is_err() || *self != shown {
            let changed = "The board has changed meanwhile. Look at the step again.";
            context.app.say(changed);
            return self.go_on(context);
        }
        match action {
            Action::Accept => self.record(context),
            Action::DoAll => self.ask_for_all(context),
            Action::Confirmed => {
                context.commit(all(context.stash.state, &self.steps, context.app.now));
            }
            Action::Skip => {
                if let Some(card) = self.step().map(|step| step.card) {
                    self.skipped.insert(card);
                }
                self.go_on(context);
            }
            Action::Missing => {
                if let Some(card) = self.step().map(|step| step.card) {
                    let event = missing_or_found(context.stash.state, card, context.app.now);
                    context.commit(event);
                }
            }
            Action::Undo | Action::Previous => Self::step_back(context),
            Action::PlanAnew => {
                context.open(Planning::default());
                context.ask(Effect::Plan);
            }
            Action::GiveUp => ask_to_give_up(context, "The re-hang is not at its end."),
            Action::Cancel => self.stop(context),
            _ => {}
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if context.stash.state.underway().is_none() {
            context.close();
            if let Act::Rehang { .. } | Act::RehangAll { .. } = act {
                context.app.say(done(context.stash.state));
            }
            return;
        }
        match act {
            Act::Missing { .. } | Act::Found { .. } | Act::Undo { .. } | Act::Redo { .. } => {
                let words = told(context.stash, act);
                context.app.say(words);
            }
            Act::BeginRehang { .. } => self.skipped.clear(),
            _ => {}
        }
        self.go_on(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        if context.stash.state.underway().is_none() {
            return context.close();
        }
        self.go_on(context);
    }

    fn spoken(&self, state: &State) -> Option<String> {
        let step = self.step()?;
        Some(said_aloud(state, step, state.card(step.card)?))
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let state = stash.state;
        let done = state.underway().map_or(0, |underway| {
            usize::try_from(underway.done).unwrap_or(usize::MAX)
        });
        let all = done + self.steps.len();
        let words = format!("{done} of {all} {} done", one_or_many(all, "step", "steps"));
        let board = app.board(state).map_or("", |board| board.name.as_str());
        Some(walk::title(
            app,
            ("Re-hang", board),
            (done, all),
            &words,
            width,
        ))
    }

    /// Draws the step to do next.
    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let Some((step, kept)) = self
            .step()
            .and_then(|step| Some((step, state.card(step.card)?)))
        else {
            return;
        };
        let (words, place) = what_to_do(state, step, kept);
        let is_missing = kept.place.at.is_missing();
        let more = match step.to {
            Some(_) if is_missing => "Write it on the card when it turns up.".to_owned(),
            Some(to) => format!("Write {} on the card.", state.hook_name(to)),
            None => String::new(),
        };
        let next = self.then().filter_map(|step| {
            Some(Next {
                kept: state.card(step.card)?,
                place: hook(state, step.to, "hand"),
                later: self.skipped.contains(&step.card),
            })
        });
        let shown = walk::Step {
            kept,
            words,
            place,
            beside: step.to,
            more,
            target: step.to,
            source: step.from,
            next: next.collect(),
            hint: "Write the new hook on each card. s puts a card off, m says that it is missing.",
        };
        shown.draw(app, state, frame, body);
    }
}

/// The instruction, and the place in large letters.
fn what_to_do(state: &State, step: &HangStep, kept: &CardState) -> (String, String) {
    let missing = kept.place.at.is_missing();
    let away = !kept.place.at.can_be_hung();
    let in_hand = matches!(kept.place.at, Whereabouts::Hand);
    let on = |to: Option<HookRef>| to.map_or_else(String::new, |to| state.hook_name(to));
    let to = on(step.to);
    match (step.from, step.to) {
        (_, Some(_)) if missing => ("missing: its hook becomes".to_owned(), to),
        (_, None) if away => ("out: rub its hook out for now".to_owned(), String::new()),
        (from, None) => ("lift it off and keep it in hand".to_owned(), on(from)),
        (_, Some(_)) if away => ("out: its hook becomes".to_owned(), to),
        (None, Some(_)) if in_hand => ("hang it from the hand on".to_owned(), to),
        (None, Some(_)) => ("a new card: hang it on".to_owned(), to),
        (Some(from), Some(_)) => (format!("move it from {} to", on(Some(from))), to),
    }
}

/// The instruction as a sentence to speak.
fn said_aloud(state: &State, step: &HangStep, kept: &CardState) -> String {
    let card = places::spoken_card(state, kept);
    let missing = kept.place.at.is_missing();
    let away = !kept.place.at.can_be_hung();
    match (step.from, step.to) {
        (_, Some(to)) if away => format!(
            "{card} is {}. Its hook becomes {}",
            if missing { "missing" } else { "out" },
            places::spoken_hook(state, to)
        ),
        (Some(from), Some(to)) => {
            let from = format!("from {} to", places::spoken_hook(state, from));
            places::spoken_at_hook(state, kept, &from, to)
        }
        (None, Some(to)) => places::spoken_at_hook(state, kept, "to", to),
        (_, None) if away => format!("{card} is out. It has no hook for now"),
        (Some(from), None) => format!(
            "{card} from {} into the hand",
            places::spoken_hook(state, from)
        ),
        (None, None) => format!("{card} into the hand"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::{card, ring};
    use crate::stash::testing::{add_cards, apply, at, id, wall};

    #[test]
    fn a_card_away_from_the_wall_gets_only_a_new_hook_wherever_it_is() {
        let mut state = wall(1, 4, 1);
        add_cards(&mut state, &["1@A01", "2@A02"]);
        let (one, two) = (id(&state, "1"), id(&state, "2"));
        let event = ring::take(&state, "Robin", &[one], at(1)).unwrap();
        apply(&mut state, &event);
        let event = card::elsewhere(&state, &[two], "drawer", None, at(2)).unwrap();
        apply(&mut state, &event);
        for card in [one, two] {
            let kept = state.card(card).unwrap();
            let step = HangStep {
                card,
                from: kept.home,
                to: state.find_hook("A03").ok(),
            };
            let (words, place) = what_to_do(&state, &step, kept);
            assert_eq!(
                (words.as_str(), place.as_str()),
                ("out: its hook becomes", "A03")
            );
            let said = said_aloud(&state, &step, kept);
            assert!(said.ends_with("is out. Its hook becomes A 3"), "{said}");
        }
    }
}
