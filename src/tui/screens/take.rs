//! Taking cards to a ring: the choice of a project.

use crate::model::ids::CardId;
use crate::model::ring::{Ring, RingState};
use crate::stash::command::ring;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::App;
use crate::tui::app::question::{Question, Then};
use crate::tui::app::screen::Context;
use crate::tui::refused::on_screen;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::widgets::chooser::{Choice, Chooser};
use crate::tui::widgets::text::since_when;

/// The form for cards to take, and their ring.
#[derive(Clone, Debug)]
pub struct Take {
    cards: Vec<CardId>,
    ring: Input,
}

/// The open rings to choose from, with what is on each.
pub fn ring_choices(app: &App, state: &State) -> Vec<Choice> {
    let note = |ring: &Ring| {
        let cards = text::cards(u32::try_from(state.cards_on(ring).count()).unwrap_or(u32::MAX));
        match ring.state {
            RingState::Hanging { hook, since } => format!(
                "{cards}, hanging on {hook} {how_long}",
                hook = state.hook_name(hook),
                how_long = since_when(since, app.now)
            ),
            _ => cards,
        }
    };
    let rings = state.rings_in_order().into_iter();
    rings
        .map(|ring| Choice::new(ring.project.as_str(), note(ring)))
        .collect()
}

impl Take {
    /// The form for the selected cards; `None` if there are none.
    #[must_use]
    pub fn form(app: &App, state: &State) -> Option<Form<Self>> {
        let cards = app.selected(state);
        if cards.is_empty() {
            return None;
        }
        let chooser = Chooser::or_new(ring_choices(app, state), "", "new ring");
        let hint = "type to find one; a name that no ring has makes a new ring";
        Some(Form::new(Self {
            cards,
            ring: Input::choice("project", hint, chooser),
        }))
    }

    /// Asks whether to take cards that are on other rings. `None` if no such card can be taken.
    fn ask_for_others(&self, context: &mut Context<'_>, project: &str) -> Option<Asks> {
        let (state, now) = (context.stash.state, context.app.now);
        let is_elsewhere = |kept: &&CardState| {
            let ring = kept.place.at.ring().and_then(|ring| state.ring(ring));
            ring.is_some_and(|ring| !ring.project.same_as(project)) && kept.card.parent.is_none()
        };
        let cards = self.cards.iter().filter_map(|&card| state.card(card));
        let (there, here): (Vec<_>, Vec<_>) = cards.partition(is_elsewhere);
        let all = ring::take_also_from_rings(state, project, &self.cards, now).ok()?;
        if there.is_empty() {
            return None;
        }
        let here: Vec<CardId> = here.iter().map(|kept| kept.card.id).collect();
        let rest = ring::take(state, project, &here, now).ok();
        let names = there.iter().map(|kept| {
            let name = state.card_name(kept);
            format!(
                "{name} is {place}",
                place = text::places::place_of(state, kept)
            )
        });
        let no = match (rest.is_some(), here.len()) {
            (false, _) => "n leaves it there.".to_owned(),
            (true, 1) => "n takes only the other card.".to_owned(),
            (true, n) => format!("n takes only the other {n} cards."),
        };
        context.open(Question {
            text: format!(
                "{there}. Take it to '{project}' from there? y takes all. {no}",
                there = text::list(names)
            ),
            then: Then::Record(Box::new(all)),
            otherwise: rest.map(|event| Then::Record(Box::new(event))),
        });
        Some(Asks::Nothing)
    }
}

impl Fields for Take {
    fn title(&self, state: &State) -> String {
        let cards = self.cards.iter().filter_map(|&card| state.card(card));
        let names: Vec<String> = cards.map(|kept| state.card_name(kept)).collect();
        match names.as_slice() {
            [one] => format!("Take {one} to a ring"),
            names => format!(
                "Take {n} cards: {all}",
                n = names.len(),
                all = names.join(", ")
            ),
        }
    }

    inputs!(ring);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let project = self.ring.value().to_owned();
        if project.is_empty() {
            return Err(Wrong::at(&self.ring, "type a name for the new ring."));
        }
        let taken = ring::take(context.stash.state, &project, &self.cards, context.app.now);
        match taken {
            Ok(event) => Ok(event.into()),
            Err(refusal) => (self.ask_for_others(context, &project))
                .ok_or_else(|| Wrong::from(on_screen(&refusal))),
        }
    }
}
