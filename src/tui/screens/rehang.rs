//! A re-hang: waiting for the plans, choosing one, and following it step by step.

mod cards;
mod plans;
#[cfg(test)]
mod tests;
mod work;

pub use self::plans::Plans;
pub use self::work::Work;

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

use crate::model::board::HookRef;
use crate::stash::command::rehang::{HangStep, RehangPlan, give_up};
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::stash::whereabouts::Counts;
use crate::text;
use crate::text::one_or_many;
use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Extent, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::message::{Effect, Message};
use crate::tui::refused::on_screen;
use crate::tui::screens::welcome::Progress;
use crate::tui::widgets::gauge::{gauge, thousandths};
use crate::tui::widgets::text::paragraph;
use crate::tui::widgets::window;

/// Rough number of candidates computed before the best are chosen.
const MOST_CANDIDATES: usize = 30;

/// Resumes the current re-hang, or requests plans if there is none.
pub fn open(context: &mut Context<'_>) {
    if context.stash.state.underway().is_none() {
        return open_plans(context);
    }
    go_on(context);
}

/// Requests re-hang plans. Says so if a re-hang is already underway.
pub fn open_plans(context: &mut Context<'_>) {
    if !context.app.call_out_underway(context.stash.state) {
        context.open(Planning::default());
        context.ask(Effect::Plan);
    }
}

/// Shows the next step of the current re-hang.
fn go_on(context: &mut Context<'_>) {
    match Work::new(context.stash.state) {
        Ok(work) if work.step().is_none() => context.commit(give_up(context.stash.state)),
        Ok(work) => {
            work.look(context);
            context.open(work);
        }
        Err(refusal) => cannot_go_on(context, &refusal),
    }
}

/// Asks whether to abandon a re-hang that can't continue.
fn cannot_go_on(context: &mut Context<'_>, refusal: &Refusal) {
    let why = match refusal {
        Refusal::AimLost { hook_name } => {
            format!("hook {hook_name} is no longer free for what was to hang there")
        }
        other => on_screen(other).trim_end_matches('.').to_owned(),
    };
    ask_to_give_up(context, &format!("The re-hang can't go on: {why}."));
}

/// Asks whether to abandon the current re-hang.
fn ask_to_give_up(context: &mut Context<'_>, why: &str) {
    match give_up(context.stash.state) {
        Ok(then) => {
            let question = format!(
                "{why} Give it up? Cards hung so far stay. Press g later to plan the rest."
            );
            context.ask_for(question, Then::Record(Box::new(then)));
        }
        Err(refusal) => context.app.complain(on_screen(&refusal)),
    }
}

/// The message that the re-hang is done, with the number of missing cards.
fn done(state: &State) -> String {
    match Counts::of(state).missing {
        0 => "The re-hang is done. Every card has its home.".to_owned(),
        1 => "The re-hang is done. 1 card is missing: press w.".to_owned(),
        missing => format!("The re-hang is done. {missing} cards are missing: press w."),
    }
}

/// Its name: "Re-hang", or "Hang" if no card had a home before.
fn name(state: &State) -> &'static str {
    let aims = state.underway().map_or(&[][..], |underway| &underway.homes);
    let is_old = |kept: &CardState| {
        kept.home
            .is_some_and(|home| !aims.contains(&(kept.card.id, home)))
    };
    if state.cards().any(is_old) {
        "Re-hang"
    } else {
        "Hang"
    }
}

/// A hook's name, or the given text if there is no hook.
fn hook(state: &State, hook: Option<HookRef>, none: &str) -> String {
    hook.map_or_else(|| none.to_owned(), |hook| state.hook_name(hook))
}

/// Where a step starts and ends.
fn from_and_to(state: &State, step: &HangStep) -> (String, String) {
    (hook(state, step.from, "new"), hook(state, step.to, "hand"))
}

/// The screen that waits for the plans.
#[derive(Clone, Default, Debug)]
pub struct Planning {
    /// The number of candidates so far.
    pub count: usize,
}

impl Planning {
    /// Shows the plans, or says why there are none.
    fn planned(context: &mut Context<'_>, plans: Result<Vec<RehangPlan>, Refusal>) {
        context.close();
        let state = context.stash.state;
        match plans {
            Ok(plans) if plans.iter().all(|plan| plan.steps.is_empty()) => {
                let nothing = "Nothing to re-hang: every card has its home, in order.";
                context.app.say(nothing);
            }
            Ok(plans) => {
                let back = context.app.eye.clone();
                context.open(Plans::new(state, plans, back));
                // An import's notice takes precedence.
                if Progress::of(state).is_beginning() && context.app.notice.is_none() {
                    let first = "Enter starts. Then every card is shown with its hook, one by one.";
                    context.app.say(first);
                }
            }
            // Short, so that a narrow screen shows the way out.
            Err(Refusal::Short { short, cards, .. }) => context.app.complain(format!(
                "{short} more {places} needed for {cards}. Press E to make the board larger.",
                places = one_or_many(short, "place is", "places are"),
                cards = text::cards(u32::try_from(cards).unwrap_or(u32::MAX))
            )),
            Err(refusal) => context.app.complain(on_screen(&refusal)),
        }
    }
}

impl Screen for Planning {
    fn scope(&self) -> Scope {
        Scope::Planning
    }

    fn extent(&self) -> Extent {
        Extent::Window
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        if action == Action::Cancel {
            context.close();
            context.ask(Effect::StopPlanning);
            context.app.say("Stopped. Nothing was changed.");
        }
    }

    fn answered(&mut self, context: &mut Context<'_>, answer: &Message) -> bool {
        match answer {
            Message::Planning(count) => self.count = *count,
            Message::Planned(plans) => Self::planned(context, plans.clone()),
            _ => return false,
        }
        true
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let width = 52.min(body.width);
        let inner = width.saturating_sub(4);
        let share = thousandths(self.count as u64, MOST_CANDIDATES as u64);
        let counted = format!("{} plans looked at, of about {MOST_CANDIDATES}", self.count);
        let mut lines = vec![
            Line::default(),
            Line::styled("Working out plans", app.theme.strong()),
            Line::from(gauge(inner, share, app.theme.good(), app.theme.line()).to_vec()),
            Line::styled(counted, app.theme.muted()),
            Line::default(),
        ];
        let text = "Many cards take a while. Nothing is changed. Esc stops.";
        lines.extend(paragraph(text, inner.into(), app.theme.faint()));
        let title = name(stash.state);
        let inside = window::draw(&app.theme, title, (width, lines.len()), frame, body);
        frame.render_widget(Paragraph::new(lines), inside);
    }
}
