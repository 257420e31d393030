//! The walk after a roll call that hangs misplaced cards back home, card by card.

use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

use crate::model::ids::CardId;
use crate::stash::command::rollcall::hang_home;
use crate::stash::event::Act;
use crate::stash::state::{CardState, State};
use crate::text::{self, places};

use crate::tui::app::screen::{Context, Screen};
use crate::tui::app::{App, Stash};
use crate::tui::keymap::{Action, Scope};
use crate::tui::wall::walk::{self, Next};

/// The walk.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct HangHome {
    cards: Vec<CardId>,
    at: usize,
    /// The result of the roll call.
    act: Act,
}

/// Whether a card hangs on a hook that isn't its own.
fn is_astray(kept: &CardState) -> bool {
    let on = kept.place.at.hook();
    on.is_some() && kept.home.is_some() && on != kept.home
}

impl HangHome {
    /// The walk for cards that hang on a hook other than their own; `None` if there are none.
    #[must_use]
    pub fn of(state: &State, cards: Vec<CardId>, act: &Act) -> Option<Self> {
        let mut kept = cards.iter().filter_map(|&card| state.card(card));
        kept.any(is_astray).then_some(Self {
            cards,
            at: 0,
            act: act.clone(),
        })
    }

    /// The card in hand, then the cards after it.
    fn left<'a>(&self, state: &'a State) -> impl Iterator<Item = &'a CardState> {
        let cards = self
            .cards
            .iter()
            .skip(self.at)
            .filter_map(|&card| state.card(card));
        cards
            .filter(|kept| is_astray(kept))
            .collect::<Vec<_>>()
            .into_iter()
    }

    /// Goes to the next misplaced card, or shows the result of the roll call if there is none.
    fn go_on(&mut self, context: &mut Context<'_>) {
        let state = context.stash.state;
        let is_left = |card: &CardId| state.card(*card).is_some_and(is_astray);
        let next = self.cards.iter().skip(self.at).position(is_left);
        match next {
            Some(step) => {
                self.at += step;
                context.app.look_at_card(state, self.cards[self.at]);
            }
            None => {
                context.close();
                // The roll call beneath is over, too.
                context.then(Action::GiveUp);
                let said = text::history::act(state, &self.act);
                context.app.say(said);
            }
        }
    }
}

impl Screen for HangHome {
    fn scope(&self) -> Scope {
        Scope::HangHome
    }

    fn act(&mut self, context: &mut Context<'_>, action: Action) {
        let state = context.stash.state;
        match action {
            Action::Accept => {
                if let Some(&card) = self.cards.get(self.at) {
                    let now = context.app.now;
                    context.commit(hang_home(state, card, now));
                }
                return;
            }
            Action::Skip => self.at += 1,
            Action::Previous => {
                let before = self.cards.iter().take(self.at);
                let is_left = |card: &CardId| state.card(*card).is_some_and(is_astray);
                self.at = before
                    .rev()
                    .position(is_left)
                    .map_or(self.at, |back| self.at - back - 1);
            }
            Action::Cancel => self.at = self.cards.len(),
            _ => return,
        }
        self.go_on(context);
    }

    fn recorded(&mut self, context: &mut Context<'_>, act: &Act) {
        if matches!(act, Act::Undo { .. }) {
            self.at = 0;
        }
        self.go_on(context);
    }

    fn settle(&mut self, context: &mut Context<'_>) {
        self.go_on(context);
    }

    fn spoken(&self, state: &State) -> Option<String> {
        let kept = self.left(state).next()?;
        Some(places::spoken_at_hook(state, kept, "to", kept.home?))
    }

    fn title(&self, app: &App, stash: Stash<'_>, width: u16) -> Option<Line<'static>> {
        let all = self.cards.len();
        let done = all - self.left(stash.state).count().min(all);
        let words = format!("{done} of {all} cards");
        Some(walk::title(
            app,
            ("Roll call", "Hang home"),
            (done, all),
            &words,
            width,
        ))
    }

    fn view(&self, app: &App, stash: Stash<'_>, frame: &mut Frame<'_>, body: Rect) {
        let state = stash.state;
        let mut left = self.left(state);
        let Some(kept) = left.next() else {
            return;
        };
        let name = |hook: Option<_>| hook.map_or_else(String::new, |hook| state.hook_name(hook));
        let now = name(kept.place.at.hook());
        let step = walk::Step {
            kept,
            words: format!("take it off {now} and hang it on"),
            place: name(kept.home),
            beside: kept.home,
            more: String::new(),
            target: kept.home,
            source: kept.place.at.hook(),
            next: left
                .map(|kept| Next {
                    kept,
                    place: name(kept.home),
                    later: false,
                })
                .collect(),
            hint: "s leaves a card where it hangs. Esc leaves all.",
        };
        step.draw(app, state, frame, body);
    }
}
