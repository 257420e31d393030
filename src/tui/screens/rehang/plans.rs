//! Choosing a plan: the plans as cards side by side, the wall before and after, and the moves.

use std::collections::{HashMap, HashSet};

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use super::cards;
use super::{go_on, name};
use crate::model::board::HookRef;
use crate::model::card::WallOrder;
use crate::model::ids::CardId;
use crate::stash::command::rehang::{HangStep, RehangPlan, begin, give_up, worth_showing};
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::tui::app::question::Then;
use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::screen::{Lights, WallPlan, Way};
use crate::tui::app::{App, Stash, Viewport};
use crate::tui::keymap::{Action, Scope};
use crate::tui::widgets::list::stepped;
use crate::tui::widgets::text::fit;

/// Re-hang plans to choose from.
#[derive(Clone, PartialEq, Debug)]
pub struct Plans {
    /// The plans.
    pub plans: Vec<RehangPlan>,
    /// Index of the plan shown.
    pub at: usize,
    /// Index of the selected move.
    pub step: usize,
    /// The wall under that plan.
    pub wall: WallPlan,
    /// The previous viewport.
    back: Viewport,
    /// Whether a plan is underway, which a new one would replace.
    over_running: bool,
}

impl Plans {
    /// The plans, showing plan 1 and the wall after it. Omits plan 0 if it is useless, and shows it first if plan 1
    /// would sort more of the wall than there are cards to hang.
    #[must_use]
    pub fn new(state: &State, plans: Vec<RehangPlan>, back: Viewport) -> Self {
        let plans = worth_showing(&plans).to_vec();
        let first = Self::first(&plans);
        let mut shown = Self {
            plans,
            at: 0,
            step: 0,
            wall: WallPlan {
                after: true,
                ..WallPlan::default()
            },
            back,
            over_running: state.underway().is_some(),
        };
        shown.show(state, first.unwrap_or(0));
        shown
    }

    /// The index of the plan to show first.
    fn first(plans: &[RehangPlan]) -> Option<usize> {
        let find = |number| plans.iter().position(|plan| plan.number == number);
        let (nothing, in_order) = (find(0), find(1));
        let sorts = |nothing: &RehangPlan, in_order: &RehangPlan| {
            let sorted = nothing.disorder.left.min(in_order.touched);
            nothing.newly_hung > 0 && sorted > nothing.newly_hung
        };
        match (nothing, in_order) {
            (Some(at), Some(other)) if sorts(&plans[at], &plans[other]) => nothing,
            _ => in_order,
        }
    }

    /// Shows another plan.
    pub fn show(&mut self, state: &State, at: usize) {
        self.at = at.min(self.plans.len().saturating_sub(1));
        self.step = 0;
        self.wall.homes.clear();
        self.wall.ways.clear();
        let homes = self.plans.get(self.at).map(|plan| plan.homes.as_slice());
        for &(card, hook) in homes.unwrap_or_default() {
            self.wall.homes.entry(hook).or_default().push(card);
            let home = state.card(card).and_then(|kept| kept.home);
            if home != Some(hook) {
                self.wall.ways.insert(card, Way::between(home, hook));
            }
        }
    }

    /// The plan shown.
    #[must_use]
    pub fn plan(&self) -> Option<&RehangPlan> {
        self.plans.get(self.at)
    }

    /// The selected move.
    fn step(&self) -> Option<&HangStep> {
        self.plan()?.steps.get(self.step)
    }

    /// Why the plan shown gives a card its home; `None` for a card it leaves alone. O(hooks +
    /// cards).
    #[must_use]
    pub fn why(&self, state: &State, card: CardId) -> Option<Why> {
        let homes = self.plan()?.homes.as_slice();
        let at = homes.iter().position(|&(other, _)| other == card)?;
        if !self.wall.ways.contains_key(&card) {
            return None;
        }
        let home = |at: usize| state.card(homes[at].0).and_then(|kept| kept.home);
        let Some(now) = home(at) else {
            return Some(Why::New);
        };
        if (state.board(now.board)).is_some_and(|board| board.reserved(now)) {
            return Some(Why::Reserved);
        }
        let place: HashMap<HookRef, usize> = state.hooks().zip(0..).collect();
        let hangs = |at: usize| home(at).and_then(|hook| place.get(&hook).copied());
        let before: Vec<usize> = (0..at).rev().filter_map(hangs).take(2).collect();
        let after: Vec<usize> = (at + 1..homes.len()).filter_map(hangs).take(2).collect();
        if hangs(at).is_some_and(|here| strays(here, &before, &after)) {
            return Some(Why::OutOfOrder);
        }
        let fewest = self.plans.iter().find(|plan| plan.number == 1);
        let fewest = fewest.map_or(&[][..], |plan| &plan.homes);
        if !fewest.iter().any(|&(c, hook)| c == card && hook != now) {
            return Some(Why::Room);
        }
        let new = (0..homes.len()).filter(|&other| home(other).is_none());
        let nearest = new.min_by_key(|&other| other.abs_diff(at));
        Some(Why::MakesWay(nearest.map(|other| homes[other].0)))
    }

    /// Why the card of the selected move gets its home, as a sentence; may be empty.
    pub(super) fn reason(&self, state: &State) -> String {
        let why = self.step().and_then(|step| self.why(state, step.card));
        match why {
            None => String::new(),
            Some(Why::New) => "It has no home yet.".to_owned(),
            Some(Why::Reserved) => "Its hook is reserved.".to_owned(),
            Some(Why::OutOfOrder) => "It hangs out of order.".to_owned(),
            Some(Why::Room) => "It leaves room for colours to come.".to_owned(),
            Some(Why::MakesWay(new)) => match new.and_then(|new| state.card(new)) {
                Some(new) => format!("It makes room for {}.", state.card_name(new)),
                None => "It makes room for others.".to_owned(),
            },
        }
    }

    /// Brings the selected move into view.
    fn look(&self, context: &mut Context<'_>) {
        if let Some(hook) = self.step().and_then(|step| step.to.or(step.from)) {
            context.app.look_at(context.stash.state, hook);
        }
    }

    fn begin(&self, context: &mut Context<'_>) {
        if let Some(plan) = self.plan() {
            context.commit(begin(context.stash.state, plan, context.app.now));
        }
    }

    fn leave(&self, context: &mut Context<'_>) {
        context.app.eye = self.back.clone();
        context.close();
    }
}

/// Why a plan gives a card another home.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Why {
    /// The card has none yet.
    New,
    /// Its hook is reserved.
    Reserved,
    /// Its neighbours hang in order, and it doesn't hang between them.
    OutOfOrder,
    /// Plan 1, with the fewest moves, moves it too: it makes way for the nearest card that gets its
    /// first home, if there is one.
    MakesWay(Option<CardId>),
    /// It could stay, but moves to leave room for future colours.
    Room,
}

/// Whether a card hangs out of order: its nearest neighbours in the desired order, at most two on
/// each side, nearest first, are in order with each other but not with it.
fn strays(here: usize, before: &[usize], after: &[usize]) -> bool {
    match (before, after) {
        ([b, ..], [a, ..]) => b <= a && !(b <= &here && &here <= a),
        ([], [a, rest @ ..]) => here > *a && rest.iter().all(|next| a <= next),
        ([b, rest @ ..], []) => here < *b && rest.iter().all(|next| next <= b),
        ([], []) => false,
    }
}

impl Screen for Plans {
    fn scope(&self) -> Scope {
        Scope::Plans
    }

    fn lights<'a>(&'a self, _: &'a App, state: &'a State) -> Lights<'a> {
        let after = self.wall.after;
        let changed = self.wall.homes.iter().flat_map(|(&hook, cards)| {
            let moving = cards
                .iter()
                .filter(|card| self.wall.ways.contains_key(card));
            moving.filter_map(move |&card| match after {
                true => Some(hook),
                false => state.card(card)?.home,
            })
        });
        let step = self.step();
        Lights {
            target: step.and_then(|step| step.to),
            source: step.and_then(|step| step.from),
            plan: Some(&self.wall),
            found: Some(changed.collect::<HashSet<HookRef>>()),
            ..Lights::default()
        }
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        let steps = self.plan().map_or(0, |plan| plan.steps.len());
        match action {
            Action::Right => self.show(state, self.at + 1),
            Action::Left => self.show(state, self.at.saturating_sub(1)),
            Action::Next => self.wall.after = !self.wall.after,
            Action::Up | Action::Down | Action::PageUp | Action::PageDown => {
                self.step = stepped(self.step, steps, action);
            }
            Action::Accept if steps == 0 => context.app.complain("This plan has nothing to do."),
            Action::Accept if state.underway().is_some() => {
                let question =
                    "Give up the rest of the running plan for this one? Cards hung so far stay.";
                context.ask_for(question.to_owned(), Then::Act(Action::Confirmed));
            }
            // Abandon the current plan first; when that is recorded, the new one starts.
            Action::Confirmed => context.commit(give_up(state)),
            Action::Accept => self.begin(context),
            Action::Cancel => return self.leave(context),
            _ => {}
        }
        self.look(context);
    }

    fn clicked(&mut self, context: &mut Context<'_>, column: u16, row: u16) {
        let (width, height) = context.app.size;
        let body = crate::tui::layout::parts(width, height).body;
        if let Some(at) = cards::at(self, body, column, row) {
            self.show(context.stash.state, at);
            self.look(context);
        }
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        match act {
            Act::EndRehang { .. } => self.begin(context),
            Act::BeginRehang { .. } => {
                self.leave(context);
                if !self.over_running {
                    go_on(context);
                }
            }
            _ => {}
        }
    }

    /// A change in another window may have made the plans impossible.
    fn settle(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let mut homes = self.plans.iter().flat_map(|plan| &plan.homes);
        let begun = state.underway().is_some() && !self.over_running;
        if begun || homes.any(|&(card, _)| state.card(card).is_none()) {
            self.leave(context);
            return;
        }
        self.look(context);
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let state = stash.state;
        let theme = &app.theme;
        let families = state.cards().any(|kept| state.family_of(kept).is_some());
        let order = match state.order() {
            WallOrder::Number => "by number",
            WallOrder::Family if families => "by family, then number",
            WallOrder::Lightness if families => "by family, then light to dark",
            WallOrder::Family => "by number",
            WallOrder::Lightness => "light to dark",
        };
        let new = self.plan().map_or(0, |plan| plan.newly_hung);
        let what = match new {
            0 => String::new(),
            1 => "1 card to hang".to_owned(),
            n => format!("{n} cards to hang"),
        };
        let left = [
            (name(state), theme.accent()),
            (what.as_str(), theme.strong()),
        ];
        let mut spans = vec![Span::raw(" ")];
        let mut used = 1;
        for (text, style) in left {
            let text = fit(text, usize::from(width).saturating_sub(used));
            used += text.chars().count() + 2;
            spans.push(Span::styled(text, style));
            spans.push(Span::raw("  "));
        }
        let number = |plan: Option<&RehangPlan>| plan.map_or(0, |plan| plan.number);
        let (at, last) = (number(self.plan()), number(self.plans.last()));
        let right = format!("{order}   plan {at} of {last} ");
        if let Some(gap) = usize::from(width).checked_sub(used + right.len()) {
            spans.push(Span::raw(" ".repeat(gap)));
            spans.push(Span::styled(right, theme.muted()));
        }
        Some(Line::from(spans))
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        cards::draw(self, app, stash.state, frame, body);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stash::command::hold::reserve;
    use crate::stash::command::rehang::plans;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    #[test]
    fn exactly_the_cards_a_plan_moves_have_a_reason() {
        let desk = TestApp::sample(Depth::None);
        let mut state = desk.state;
        let event = reserve(&state, "A04").unwrap();
        state.apply(&event).unwrap();
        let mut shown = Plans::new(&state, plans(&state).unwrap(), desk.app.eye);
        let card = |name: &str| state.find_card(name).unwrap();
        let mut rooms = 0;
        for at in 0..shown.plans.len() {
            shown.show(&state, at);
            for kept in state.cards() {
                let why = shown.why(&state, kept.card.id);
                let changed = shown.wall.ways.contains_key(&kept.card.id);
                assert_eq!(why.is_some(), changed, "{:?}", kept.card.number);
                rooms += usize::from(why == Some(Why::Room));
            }
            assert_eq!(shown.why(&state, card("80")), Some(Why::New));
            let moves = shown.plans[at].number > 0;
            assert_eq!(
                shown.why(&state, card("30")),
                moves.then_some(Why::Reserved)
            );
        }
        let first = shown.plans.iter().position(|plan| plan.number == 1);
        shown.show(&state, first.unwrap());
        let in_first = |why| {
            let cards = shown.wall.ways.keys();
            cards
                .filter(|&&card| shown.why(&state, card) == Some(why))
                .count()
        };
        assert_eq!(
            in_first(Why::Room),
            0,
            "the fewest moves leave no room on purpose"
        );
        assert!(rooms > 0);
    }

    #[test]
    fn a_wall_in_no_order_begins_with_the_plan_that_moves_nothing() {
        use crate::stash::testing::{add_cards, wall};
        let first = |hung: &[&str]| {
            let mut state = wall(2, 5, 1);
            add_cards(&mut state, hung);
            add_cards(&mut state, &["9"]);
            let plans = plans(&state).unwrap();
            let at = Plans::first(&plans).unwrap();
            plans[at].number
        };
        // One card to hang on a wall in order, and on one that would be turned round.
        assert_eq!(first(&["1@A01", "2@A02", "3@A03", "4@A04"]), 1);
        assert_eq!(first(&["4@A01", "3@A02", "2@A03", "1@A04"]), 0);
    }

    #[test]
    fn strays_spots_the_card_out_of_order() {
        assert!(strays(9, &[2, 1], &[4, 5]));
        assert!(strays(0, &[2, 1], &[4, 5]));
        assert!(!strays(3, &[2, 1], &[4, 5]));
        // Here the neighbour is the stray.
        assert!(!strays(3, &[9, 2], &[4, 5]));
        assert!(strays(9, &[], &[4, 5]) && !strays(3, &[], &[4, 6]));
        assert!(!strays(5, &[], &[4, 1]));
        assert!(strays(0, &[4, 3], &[]) && !strays(5, &[4, 3], &[]));
        assert!(!strays(5, &[], &[]));
    }
}
