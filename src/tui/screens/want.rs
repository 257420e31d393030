//! The want list: how many skeins of a colour the user wants, owned or not.

use crate::model::ids::CardId;
use crate::model::ring::{ColourRef, KeyThread};
use crate::stash::command::buy::MOST_SKEINS;
use crate::stash::command::range::want_colours;
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::screen::Context;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};

/// The form that adds colours to the want list, or removes them.
#[derive(Clone, Debug)]
pub struct Want {
    colours: Vec<ColourRef>,
    skeins: Input,
}

/// The colours of cards, each once, in card order.
pub fn colours_of(state: &State, cards: &[CardId]) -> Vec<ColourRef> {
    let mut colours: Vec<ColourRef> = Vec::new();
    for kept in cards.iter().filter_map(|&card| state.card(card)) {
        let colour = kept.colour_ref();
        if !colours.contains(&colour) {
            colours.push(colour);
        }
    }
    colours
}

/// One colour with its name, several by their count: `Cove 12 barley sheaf`, `3 colours`.
pub fn named(state: &State, colours: &[ColourRef]) -> String {
    match colours {
        [one] => {
            let name = text::thread::colour(state, one);
            let thread = KeyThread::new(one.clone());
            let name = format!("{name} {}", state.thread_name(&thread));
            name.trim().to_owned()
        }
        more => format!("{} colours", more.len()),
    }
}

impl Want {
    /// The form for colours; `None` without any. If all of them are already wanted, Enter removes
    /// them.
    #[must_use]
    pub fn form(state: &State, colours: Vec<ColourRef>) -> Option<Form<Self>> {
        let is_on = colours.iter().all(|colour| state.wanted(colour) > 0);
        let skeins = Input::text(
            "skeins",
            "to buy of it; 0 takes it off the list",
            if is_on { "0" } else { "1" },
        );
        (!colours.is_empty()).then(|| Form::new(Self { colours, skeins }))
    }
}

impl Fields for Want {
    fn title(&self, state: &State) -> String {
        let named = named(state, &self.colours);
        let wanted = self.colours.iter().map(|colour| state.wanted(colour));
        match wanted.fold(0, u32::saturating_add) {
            0 => format!("Put {named} on the want list"),
            n => format!(
                "Want list: {named}, {skeins}",
                skeins = text::thread::skeins(n)
            ),
        }
    }

    inputs!(skeins);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let skeins = self.skeins.number();
        let skeins = skeins.ok().filter(|n| *n <= MOST_SKEINS).ok_or_else(|| {
            let words = format!(
                "'{text}' isn't a number from 0 to {MOST_SKEINS}.",
                text = self.skeins.value()
            );
            Wrong::at(&self.skeins, words)
        })?;
        let mut colours = self.colours.clone();
        // Of several colours, those not on the list stay off it.
        if skeins == 0 && colours.len() > 1 {
            colours.retain(|colour| state.wanted(colour) > 0);
        }
        Ok(want_colours(state, &colours, skeins)?.into())
    }

    fn recorded(&self, context: &mut Context<'_>, act: &Act) {
        let named = named(context.stash.state, &self.colours);
        let words = match act {
            Act::Want { skeins: 0, .. } => format!("{named}: off the want list"),
            Act::Want { skeins, .. } => format!(
                "{named}: {skeins} on the want list",
                skeins = text::thread::skeins(*skeins)
            ),
            _ => return,
        };
        context.app.say(words);
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::keymap::Scope;
    use crate::tui::testing::{ROBIN, TestApp};
    use crate::tui::theme::Depth;

    fn wanted(desk: &TestApp) -> Vec<(String, u32)> {
        let list = desk.state.want_list();
        list.map(|(colour, skeins)| (colour.number.to_string(), skeins))
            .collect()
    }

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((120, 40)).join("\n")
    }

    #[test]
    fn same_keys_add_and_remove_a_wanted_colour() {
        let mut desk = TestApp::sample(Depth::None).after("$\n");
        assert_eq!(wanted(&desk), [("10".to_owned(), 1)]);
        assert_eq!(desk.said(), "Sandbank 10 dune: 1 skein on the want list");
        assert!(drawn(&desk).contains("wanted    want list: 1 skein"));
        desk.keys("$3\n");
        assert_eq!(wanted(&desk), [("10".to_owned(), 3)]);
        desk.keys("$\n");
        assert_eq!(wanted(&desk), []);
        assert_eq!(desk.said(), "Sandbank 10 dune: off the want list");
        desk.keys("uu");
        assert_eq!(wanted(&desk), [("10".to_owned(), 1)]);
    }

    #[test]
    fn selected_cards_are_wanted_together_each_colour_once() {
        let mut desk = TestApp::sample(Depth::None).after("l l l $2\n");
        let both = [("20".to_owned(), 2), ("30".to_owned(), 2)];
        assert_eq!(wanted(&desk)[..2], both);
        desk.keys("$\n");
        assert_eq!(wanted(&desk), []);
    }

    #[test]
    fn invalid_number_of_skeins_stays_in_the_form() {
        let desk = TestApp::sample(Depth::None).after("$x\n");
        assert_eq!(desk.app.scope(), Scope::Form);
        assert!(desk.wrong().contains("isn't a number"), "{}", desk.wrong());
        let off = TestApp::sample(Depth::None).after("$0\n");
        assert!(off.wrong().contains("want list"), "{}", off.wrong());
    }

    #[test]
    fn unowned_colour_can_be_wanted_from_the_search() {
        let desk = TestApp::sample(Depth::None).after(ROBIN);
        let mut desk = desk.after("\u{1b}\u{1b}/99\u{c}2\n");
        assert_eq!(wanted(&desk), [("99".to_owned(), 2)]);
        assert_eq!(desk.app.scope(), Scope::Find);
        desk.keys("\u{c}\n");
        assert_eq!(wanted(&desk), []);
        desk.keys("zzz\u{c}");
        assert_eq!(
            (desk.app.scope(), desk.said()),
            (Scope::Find, "Find a colour first")
        );
    }

    #[test]
    fn only_the_buy_list_of_all_projects_includes_wanted_colours() {
        let mut desk = TestApp::sample(Depth::None).after("$2\nrb");
        assert_eq!(desk.app.scope(), Scope::Buy);
        let text = drawn(&desk);
        assert!(text.contains("To buy for the want list"), "{text}");
        assert!(text.contains("2 skeins on the want list"), "{text}");
        // Purchased colours leave the list.
        let bought = desk.after("\n");
        assert_eq!(wanted(&bought), []);
        // Removed colours do, too, and an empty list closes.
        desk.keys("$\n");
        assert_eq!(
            (wanted(&desk), desk.app.scope()),
            (Vec::new(), Scope::Rings)
        );
        let robin = TestApp::sample(Depth::None).after("$2\n").after(ROBIN);
        let text = drawn(&robin.after("b"));
        assert!(!text.contains("want list,"), "{text}");
        let text = drawn(&robin.after("\u{1b}b"));
        assert!(text.contains("Robin, the want list"), "{text}");
    }

    #[test]
    fn chart_key_colour_can_be_wanted_on_its_page() {
        let mut desk = TestApp::sample(Depth::None).after(ROBIN);
        desk.keys("jjjjj$\n");
        assert_eq!(wanted(&desk), [("99".to_owned(), 1)]);
        assert_eq!(desk.app.scope(), Scope::Project);
        // The list for all projects buys it for both.
        let text = drawn(&desk.after("\u{1b}b"));
        assert!(text.contains("on the want list"), "{text}");
    }
}
