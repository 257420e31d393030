//! Taking things off the board: cards lent or kept elsewhere, cards removed for good, and blocked
//! hooks.

use jiff::civil::Date;

use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::label::Name;
use crate::model::whereabouts::Loan;
use crate::stash::command::board::{self, Unhang};
use crate::stash::command::card;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::screen::Context;
use crate::tui::app::{App, cards_at};
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};

/// The form for cards that are neither on the board nor on a ring.
#[derive(Clone, Debug)]
pub struct Elsewhere {
    cards: Vec<CardId>,
    place: Input,
    whom: Input,
    until: Input,
}

/// The form for the reason that cards leave the stash.
#[derive(Clone, Debug)]
pub struct Remove {
    cards: Vec<CardId>,
    why: Input,
}

/// The form for the reason that a hook is blocked.
#[derive(Clone, Debug)]
pub struct Block {
    hook: HookRef,
    why: Input,
}

/// One card by its name, several by their count.
fn named(state: &State, cards: &[CardId]) -> String {
    match cards {
        &[one] => {
            let kept = state.card(one);
            kept.map_or_else(String::new, |kept| state.card_name(kept))
        }
        more => text::cards(u32::try_from(more.len()).unwrap_or(u32::MAX)),
    }
}

/// The loan that all of these cards have.
fn shared_loan<'a>(state: &'a State, cards: &[CardId]) -> Option<&'a Loan> {
    let lent = |&card: &CardId| state.card(card)?.place.at.loan();
    let first = cards.first().and_then(lent);
    first.filter(|_| cards.iter().all(|card| lent(card) == first))
}

impl Elsewhere {
    /// The form for the selected cards, with the loan that they share; `None` if there are none.
    #[must_use]
    pub fn form(app: &App, state: &State) -> Option<Form<Self>> {
        let cards = app.selected(state);
        let lent = shared_loan(state, &cards);
        let day = lent.and_then(|loan| loan.until);
        let day = day.map_or_else(String::new, |day| day.to_string());
        let lent = lent.map_or("", |loan| loan.whom.as_str());
        let hint = "drawer in the hall, at the shop ...; m when it is back";
        let place = Input::text("where", hint, "");
        let whom = Input::text("lent to", "who has it; may be empty", lent);
        let until = Input::text("until", "when it is due back, such as 2026-12-24", &day);
        let form = Self {
            cards,
            place,
            whom,
            until,
        };
        (!form.cards.is_empty()).then(|| Form::new(form))
    }
}

impl Fields for Elsewhere {
    fn title(&self, state: &State) -> String {
        format!("Elsewhere: {cards}", cards = named(state, &self.cards))
    }

    inputs!(place, whom, until);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let (state, now) = (context.stash.state, context.app.now);
        let until = self.until.filled().map(|day| day.parse::<Date>());
        let until = until
            .transpose()
            .map_err(|_| Wrong::at(&self.until, "write a day such as 2026-12-24."))?;
        let loan = match self.whom.filled() {
            Some(whom) => {
                let whom = Name::new(&whom).map_err(Refusal::Whom)?;
                Some(Loan { whom, until })
            }
            None if until.is_some() => {
                return Err(Wrong::at(&self.whom, "write who has it until then."));
            }
            None if shared_loan(state, &self.cards).is_some() => {
                let back = "a loan ends when the card is back: leave with Esc and press m.";
                return Err(Wrong::at(&self.whom, back));
            }
            None => None,
        };
        let event = card::elsewhere(state, &self.cards, self.place.value(), loan, now)?;
        Ok(event.into())
    }
}

impl Remove {
    /// The form for the selected cards; `None` if there are none.
    #[must_use]
    pub fn form(app: &App, state: &State) -> Option<Form<Self>> {
        let cards = app.selected(state);
        let hint = "given away, moths ...; may be empty. u brings it back";
        let why = Input::text("why", hint, "");
        (!cards.is_empty()).then(|| Form::new(Self { cards, why }))
    }
}

impl Fields for Remove {
    fn title(&self, state: &State) -> String {
        let kept = self.cards.iter().filter_map(|&card| state.card(card));
        let going: Vec<&CardState> = kept.collect();
        let skeins = going.iter().map(|kept| kept.skeins());
        let amounts = going.iter();
        let amounts = amounts.map(|kept| (kept.strands(), state.put_up(&kept.card)));
        format!(
            "Remove for good: {cards}, with {amount}{skeins}",
            cards = named(state, &self.cards),
            amount = text::thread::amounts(amounts),
            skeins = text::thread::and_skeins(skeins.fold(0, u32::saturating_add))
        )
    }

    inputs!(why);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let event = card::remove(context.stash.state, &self.cards, self.why.value())?;
        Ok(event.into())
    }
}

impl Block {
    /// The form for a hook.
    #[must_use]
    pub fn form(hook: HookRef) -> Form<Self> {
        let why = Input::text("why", "bracket, light, out of reach ...", "");
        Form::new(Self { hook, why })
    }
}

impl Fields for Block {
    fn title(&self, state: &State) -> String {
        let hook_name = state.hook_name(self.hook);
        match cards_at(state, self.hook).len() {
            0 => format!("Block hook {hook_name}"),
            1 => format!("Block hook {hook_name}: its card is to hang"),
            n => format!("Block hook {hook_name}: its {n} cards are to hang"),
        }
    }

    inputs!(why);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let (state, now) = (context.stash.state, context.app.now);
        let hook_name = state.hook_name(self.hook);
        let event = board::block(state, &hook_name, self.why.value(), Unhang::Allowed, now)?;
        Ok(event.into())
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    #[test]
    fn form_shows_the_loan_and_a_new_place_keeps_it() {
        let mut desk = TestApp::sample(Depth::None);
        let card = desk.app.card(&desk.state).unwrap().card.id;
        desk.keys("aher bag\na friend\n2026-12-24\u{13}");
        let place = |desk: &TestApp| {
            let kept = desk.state.card(card).unwrap();
            crate::text::places::place_of(&desk.state, kept)
        };
        let lent = place(&desk);
        assert!(
            lent.contains("a friend") && lent.contains("her bag"),
            "{lent}"
        );
        let mut desk = desk.after("a");
        assert_eq!(
            (desk.filled("lent to"), desk.filled("until")),
            ("a friend".to_owned(), "2026-12-24".to_owned())
        );
        desk.keys("her desk\u{13}");
        assert_eq!(place(&desk), lent.replace("her bag", "her desk"));
        // Only coming back ends it.
        desk.keys("a\n\u{8}\n\u{8}\u{13}");
        assert!(desk.wrong().contains("a loan ends"), "{}", desk.wrong());
    }
}
