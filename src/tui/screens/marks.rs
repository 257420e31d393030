//! Marks of a colour: variegated or discontinued.

use crate::model::ring::ColourRef;
use crate::stash::command::range::mark_colours;
use crate::stash::event::{Act, Mark};
use crate::stash::state::State;
use crate::tui::app::screen::Context;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::screens::want::named;
use crate::tui::widgets::chooser::{Choice, Chooser};

/// The marks with their descriptions.
const MARKS: [(Mark, &str, &str); 2] = [
    (
        Mark::Discontinued,
        "discontinued",
        "no longer made: its last skein is a warning",
    ),
    (
        Mark::Variegated,
        "variegated",
        "changes colour: crosses are worked one by one",
    ),
];

/// The form that marks or unmarks colours.
#[derive(Clone, Debug)]
pub struct Marks {
    colours: Vec<ColourRef>,
    mark: Input,
}

/// Whether all of the colours have a mark.
fn all_have(state: &State, colours: &[ColourRef], mark: Mark) -> bool {
    colours.iter().all(|colour| match mark {
        Mark::Discontinued => state.is_discontinued(colour),
        Mark::Variegated => state.colour_is_variegated(colour),
    })
}

impl Marks {
    /// The form for colours; `None` without any.
    #[must_use]
    pub fn form(state: &State, colours: Vec<ColourRef>) -> Option<Form<Self>> {
        let choices = MARKS.map(|(mark, word, meaning)| {
            let note = match all_have(state, &colours, mark) {
                true => "marked; Enter takes the mark away",
                false => meaning,
            };
            Choice::new(word, note)
        });
        let chooser = Chooser::of(choices.to_vec(), "");
        let mark = Input::choice("mark", "Enter sets it, or takes it away", chooser);
        (!colours.is_empty()).then(|| Form::new(Self { colours, mark }))
    }
}

impl Fields for Marks {
    fn title(&self, state: &State) -> String {
        format!("Marks of {}", named(state, &self.colours))
    }

    inputs!(mark);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let chosen = MARKS.iter().find(|(_, word, _)| *word == self.mark.value());
        let &(mark, ..) = chosen.ok_or_else(|| Wrong::at(&self.mark, "choose one of the list."))?;
        let set = !all_have(state, &self.colours, mark);
        Ok(mark_colours(state, &self.colours, mark, set)?.into())
    }

    fn recorded(&self, context: &mut Context<'_>, act: &Act) {
        let Act::Mark { mark, set, .. } = act else {
            return;
        };
        let word = MARKS.iter().find(|(of, ..)| of == mark);
        let words = format!(
            "{named}: {not}{word}",
            named = named(context.stash.state, &self.colours),
            not = if *set { "" } else { "no longer marked as " },
            word = word.map_or("", |(_, word, _)| word)
        );
        context.app.say(words);
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::keymap::Scope;
    use crate::tui::testing::{ROBIN, TestApp};
    use crate::tui::theme::Depth;

    fn drawn(desk: &TestApp) -> String {
        desk.drawn((120, 40)).join("\n")
    }

    #[test]
    fn same_keys_set_and_remove_a_mark() {
        let mut desk = TestApp::sample(Depth::None).after("Vvar\n");
        assert_eq!(desk.said(), "Sandbank 10 dune: variegated");
        assert!(drawn(&desk).contains("Variegated"), "{}", drawn(&desk));
        desk.keys("V\n");
        let text = drawn(&desk);
        assert!(
            text.contains("Variegated; discontinued, no uncut"),
            "{text}"
        );
        let again = desk.after("V");
        let text = drawn(&again);
        assert!(text.contains("Enter takes the mark away"), "{text}");
        desk.keys("V\n");
        assert_eq!(
            desk.said(),
            "Sandbank 10 dune: no longer marked as discontinued"
        );
        desk.keys("Vvar\n");
        assert!(!drawn(&desk).contains("Variegated"));
    }

    #[test]
    fn using_a_discontinued_colour_warns_of_its_last_skein() {
        let mut desk = TestApp::sample(Depth::None);
        // 20 is on Heron, whose key has a line of it.
        desk.keys("lV\nr\nikey.csv\n\n\nj-");
        assert_eq!(desk.app.scope(), Scope::Project);
        assert!(
            desk.said()
                .contains("20: discontinued, no uncut skein left"),
            "{}",
            desk.said()
        );
    }

    #[test]
    fn project_page_marks_a_colour_without_a_card() {
        let desk = TestApp::sample(Depth::None).after(ROBIN);
        let marked = desk.after("jjjjjV\n");
        assert_eq!(marked.said(), "Sandbank 99: discontinued");
        let text = drawn(&marked);
        assert!(text.contains("discontinued, no uncut skein"), "{text}");
        // The buy list shows the mark, too.
        let text = drawn(&marked.after("bj"));
        assert!(text.contains("look for a stand-in too"), "{text}");
    }
}
