//! Choosing a re-hang, doing it step by step, going on with it, and giving it up.

use super::board::missing_or_found;
use super::{commit, look_at, stepped};
use crate::stash::command::rehang::{self, RehangPlan};
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::whereabouts::Counts;
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::rehang::{Asked, Plans, Work};
use crate::tui::app::welcome::Progress;
use crate::tui::app::{App, Mode, Stash};
use crate::tui::keymap::Action;
use crate::tui::message::Effect;
use crate::tui::refused;
use crate::tui::screens::question::Then;

/// Goes on with the re-hang underway; without one, shows the plans for one.
pub(super) fn open(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    if stash.state.underway().is_some() {
        return go_on(app, stash);
    }
    open_plans(app, stash.state)
}

/// Asks for the plans for a re-hang. While one is underway, says so.
pub(super) fn open_plans(app: &mut App, state: &State) -> Vec<Effect> {
    app.mode = Mode::Board;
    if app.call_out_underway(state) {
        return Vec::new();
    }
    app.mode = Mode::Planning(0);
    vec![Effect::Plan]
}

/// Waits for the plans, or no longer.
pub(super) fn planning(app: &mut App, action: Action) -> Vec<Effect> {
    if action != Action::Cancel {
        return Vec::new();
    }
    app.mode = Mode::Board;
    app.say("stopped; nothing was changed");
    vec![Effect::StopPlanning]
}

/// Shows the plans for a re-hang, or why there are none; nothing where nobody waits for them.
pub(super) fn planned(app: &mut App, state: &State, plans: Result<Vec<RehangPlan>, Refusal>) {
    if !matches!(app.mode, Mode::Planning(_)) {
        return;
    }
    app.mode = Mode::Board;
    match plans {
        Ok(plans) if plans.iter().all(|plan| plan.steps.is_empty()) => {
            app.say("nothing to re-hang: every card has its home, in order");
        }
        Ok(plans) => {
            app.mode = Mode::Plans(Plans::new(state, plans));
            // What was said of the list that was imported is read first.
            if Progress::of(state).is_beginning() && app.notice.is_none() {
                app.say("Enter starts: then every card is shown with its hook, one by one");
            }
        }
        // Short, so that the way out is seen on a narrow screen.
        Err(Refusal::Short { short, cards, .. }) => app.complain(format!(
            "{short} more {places} wanted for {cards}: E draws the board larger",
            places = one_or_many(short, "place is", "places are"),
            cards = text::cards(u32::try_from(cards).unwrap_or(u32::MAX))
        )),
        Err(refusal) => app.complain(refused::on_screen(&refusal)),
    }
}

pub(super) fn plans(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let state = stash.state;
    let Mode::Plans(plans) = &mut app.mode else {
        return Vec::new();
    };
    let steps = plans.plan().map_or(0, |plan| plan.steps.len());
    match action {
        Action::Right => plans.show(state, plans.at + 1),
        Action::Left => plans.show(state, plans.at.saturating_sub(1)),
        Action::Next => plans.after = !plans.after,
        Action::Up | Action::Down => plans.top = stepped(plans.top, steps, action),
        Action::Accept if steps == 0 => app.complain("this plan has nothing to do"),
        Action::Accept => {
            if let Some(plan) = plans.plan() {
                let begun = rehang::begin(state, plan, app.now);
                return commit(app, stash, begun);
            }
        }
        Action::Cancel => app.mode = Mode::Board,
        _ => {}
    }
    Vec::new()
}

/// That the re-hang came to its end, and whether cards are missing.
pub(super) fn done(state: &State) -> String {
    match Counts::of(state).missing {
        0 => "the re-hang is done: every card has its home".to_owned(),
        1 => "the re-hang is done; 1 card is missing: w shows it".to_owned(),
        missing => format!("the re-hang is done; {missing} cards are missing: w shows them"),
    }
}

/// Shows the next step of the re-hang underway.
pub(super) fn go_on(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let work = Work::new(stash.state);
    show(app, stash, work)
}

/// Works out anew what is left of the work shown.
pub(super) fn renew(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Work(work) = &app.mode else {
        return Vec::new();
    };
    let mut work = work.clone();
    let renewed = work.renew(stash.state).map(|()| work);
    show(app, stash, renewed)
}

/// Shows what is to be done next; where nothing is left the re-hang is ended, and where it cannot go
/// on the user is asked whether to give it up.
fn show(app: &mut App, stash: Stash<'_>, work: Result<Work, Refusal>) -> Vec<Effect> {
    match work {
        Ok(work) if work.steps.is_empty() => {
            app.mode = Mode::Board;
            return commit(app, stash, rehang::give_up(stash.state));
        }
        Ok(work) => {
            let hook = work.step().and_then(|step| step.to.or(step.from));
            let running = work.running;
            app.mode = Mode::Work(work);
            if running {
                return next_step(app, stash);
            }
            if let Some(hook) = hook {
                look_at(app, stash.state, hook);
            }
        }
        Err(refusal) => {
            app.mode = Mode::Board;
            let why = match refusal {
                Refusal::AimLost { hook_name } => {
                    format!("hook {hook_name} is no longer free for what was to hang there")
                }
                other => refused::on_screen(&other),
            };
            ask_to_give_up(app, stash, &format!("The re-hang cannot go on: {why}."));
        }
    }
    Vec::new()
}

/// Asks whether to give up the re-hang underway.
fn ask_to_give_up(app: &mut App, stash: Stash<'_>, why: &str) {
    match rehang::give_up(stash.state) {
        Ok(then) => {
            let question = format!(
                "{why} Give it up? Cards hung so far stay. Press g later to plan the rest."
            );
            app.ask(question, Then::Record(Box::new(then)));
        }
        Err(refusal) => app.complain(refused::on_screen(&refusal)),
    }
}

pub(super) fn work(app: &mut App, stash: Stash<'_>, action: Action) -> Vec<Effect> {
    let Mode::Work(work) = &mut app.mode else {
        return Vec::new();
    };
    // Another window may have changed the board since the step was shown.
    let mut now = work.clone();
    match now.renew(stash.state) {
        Ok(()) if now == *work => {}
        renewed => {
            app.say("the board was changed meanwhile: look at the step again");
            return show(app, stash, renewed.map(|()| now));
        }
    }
    match action {
        Action::Accept => next_step(app, stash),
        Action::DoAll => {
            let left = work.steps.len();
            let question = format!(
                "Write down what is left as done, {left} {steps}? u takes back one step at a time.",
                steps = one_or_many(left, "step", "steps")
            );
            work.asked = Some(Asked::AllSteps);
            app.ask(question, Then::Act(Action::Confirmed));
            Vec::new()
        }
        Action::Skip => {
            let mut work = work.clone();
            let skipped = work.skip(stash.state).map(|()| work);
            show(app, stash, skipped)
        }
        Action::Missing => match work.step().map(|step| step.card) {
            Some(card) => {
                let event = missing_or_found(app, stash, card);
                commit(app, stash, event)
            }
            None => Vec::new(),
        },
        // The beginning is taken back on the board, not here.
        Action::Undo => match stash.history.last_done().map(|past| &past.act) {
            Some(Act::Rehang { .. } | Act::Missing { .. } | Act::Found { .. }) => {
                super::undo(app, stash)
            }
            _ => Vec::new(),
        },
        Action::PlanAnew => {
            work.asked = Some(Asked::PlanAnew);
            app.ask(
                "Give up the rest of this plan and show new ones? Cards hung so far stay.",
                Then::Act(Action::Confirmed),
            );
            Vec::new()
        }
        Action::Confirmed => match work.asked {
            Some(Asked::AllSteps) => {
                let work = work.clone();
                all_steps(app, stash, work)
            }
            Some(Asked::PlanAnew) => commit(app, stash, rehang::give_up(stash.state)),
            None => Vec::new(),
        },
        Action::GiveUp => {
            ask_to_give_up(app, stash, "The re-hang is not at its end.");
            Vec::new()
        }
        Action::Cancel => {
            let left = work.steps.len();
            app.mode = Mode::Board;
            app.say(format!(
                "stopped with {left} {steps} left: the record is true, and g goes on",
                steps = one_or_many(left, "step", "steps")
            ));
            Vec::new()
        }
        _ => Vec::new(),
    }
}

/// Writes down all that is left, or goes back to the step that was shown.
fn all_steps(app: &mut App, stash: Stash<'_>, mut work: Work) -> Vec<Effect> {
    work.running = true;
    let renewed = work.renew(stash.state).map(|()| work);
    show(app, stash, renewed)
}

/// Asks for the step shown to be recorded.
fn next_step(app: &mut App, stash: Stash<'_>) -> Vec<Effect> {
    let Mode::Work(work) = &app.mode else {
        return Vec::new();
    };
    let Some(step) = work.step() else {
        return Vec::new();
    };
    commit(app, stash, rehang::step(stash.state, step, app.now))
}

#[cfg(test)]
mod tests;
