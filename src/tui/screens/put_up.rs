//! The form for how a range is sold: kind of thread, skein length, strands.

use crate::model::length::{Length, Unit};
use crate::model::range::{PutUp, Range};
use crate::stash::command::range::{self, Kind, PutUpSaid};
use crate::stash::event::Act;
use crate::stash::state::State;
use crate::text;
use crate::tui::app::screen::Context;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs, something};
use crate::tui::widgets::chooser::{Choice, Chooser};

/// The kinds of thread, with their usual form.
const KINDS: [(Kind, &str, &str); 5] = [
    (Kind::Stranded, "stranded", "cotton, 8 m of six strands"),
    (Kind::Silk, "silk", "counted apart from cotton"),
    (Kind::Perle, "perle", "in sizes, not divided"),
    (Kind::Metallic, "metallic", "counted apart from cotton"),
    (Kind::Wool, "wool", "counted apart from cotton"),
];

/// The name of a kind.
fn word(kind: Kind) -> &'static str {
    let found = KINDS.iter().find(|(of, ..)| *of == kind);
    found.map_or("", |(_, word, _)| word)
}

/// The form for how a range is sold.
#[derive(Clone, Debug)]
pub struct RangeThread {
    range: Input,
    kind: Input,
    size: Input,
    skein: Input,
    strands: Input,
    /// The range and kind that the other lines are filled in for.
    shown: (String, String),
}

impl RangeThread {
    /// The form for the named range, or for the first range.
    #[must_use]
    pub fn form(state: &State, name: Option<&str>) -> Form<Self> {
        let choice =
            |range: &Range| Choice::new(range.name.as_str(), text::thread::put_up(range.put_up));
        let choices: Vec<Choice> = state.ranges().map(choice).collect();
        let first = choices.first().map_or("", |choice| &choice.value);
        let chosen = name.unwrap_or(first).to_owned();
        let mut form = Self {
            range: Input::choice(
                "range",
                "whose thread this is",
                Chooser::or_new(choices, &chosen, "new range"),
            ),
            kind: Self::kinds(""),
            size: Input::text("perle size", "for perle only: 5, 8, 12", ""),
            skein: Input::text("skein", "how long a skein is: 8m, 4.5m, 8.7yd", ""),
            strands: Input::text("strands", "strands of the thread", ""),
            shown: (String::new(), String::new()),
        };
        form.fill(state, true);
        Form::new(form)
    }

    fn kinds(chosen: &str) -> Input {
        let choices = KINDS.map(|(_, word, note)| Choice::new(word, note));
        let chooser = Chooser::of(choices.to_vec(), chosen);
        Input::choice("kind", "kinds are counted apart", chooser)
    }

    fn said_kind(&self) -> Option<Kind> {
        let found = KINDS.iter().find(|(_, word, _)| *word == self.kind.value());
        found.map(|&(kind, ..)| kind)
    }

    /// The recorded data of the chosen range.
    fn known(&self, state: &State) -> PutUp {
        let range = state.find_range(self.range.value());
        range.map_or_else(PutUp::default, |range| range.put_up)
    }

    /// Fills in the recorded data of the range, or the usual data of the chosen kind.
    fn fill(&mut self, state: &State, another_range: bool) {
        let mut put_up = self.known(state);
        if another_range {
            self.kind = Self::kinds(word(Kind::of(put_up.kind()).0));
        } else {
            // A perle cotton needs a size before it has usual data; any size will do, because all
            // are sold alike.
            let usual = |size| PutUpSaid {
                kind: self.said_kind(),
                size,
                ..PutUpSaid::default()
            };
            let usual = usual(None).over(put_up).or(usual(Some(5)).over(put_up));
            put_up = usual.unwrap_or(put_up);
        }
        let (of_record, size) = Kind::of(self.known(state).kind());
        let size = size.filter(|_| self.said_kind() == Some(of_record));
        self.size
            .offer(&size.map_or_else(String::new, |size| size.to_string()));
        self.skein.offer(&text::thread::metres(put_up.skein_cm()));
        self.strands.offer(&put_up.strands().to_string());
        self.shown = (self.range.value().to_owned(), self.kind.value().to_owned());
    }
}

impl Fields for RangeThread {
    fn title(&self, _: &State) -> String {
        "The thread of a range".to_owned()
    }

    inputs!(range, kind, size, skein, strands);

    fn follow(&mut self, state: &State) {
        if self.range.value() != self.shown.0 {
            self.fill(state, true);
        } else if self.kind.value() != self.shown.1 {
            self.fill(state, false);
        }
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let kind = self.said_kind();
        let kind = kind.ok_or_else(|| Wrong::at(&self.kind, "choose one of the list."))?;
        let skein = self.skein.filled().map(|_| self.skein.length(Unit::M));
        let skein = skein.transpose()?;
        let said = PutUpSaid {
            kind: Some(kind),
            size: self.size.said()?,
            skein_cm: skein.map(Length::long_cm),
            strands: self.strands.said()?,
            divided: None,
        };
        let event = range::put_up(context.stash.state, self.range.value(), &said);
        something(event, "That is what is on record already.")
    }

    fn recorded(&self, context: &mut Context<'_>, act: &Act) {
        let Act::PutUp { range } = act else {
            return;
        };
        if let Some(range) = context.stash.state.range(*range) {
            let sold = text::thread::put_up(range.put_up);
            let last = context.stash.history.last_done();
            let changes = last.map_or(&[][..], |last| &last.event.changes);
            let warning = text::thread::lengths_changed(context.stash.state, changes);
            let is_now = format!("{}: {sold}", range.name);
            context.app.say(match warning {
                Some(warning) => format!("{is_now}. {warning} Count them again with N."),
                None => is_now,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    fn put_up(desk: &TestApp, name: &str) -> String {
        let range = desk.state.find_range(name).unwrap();
        crate::text::thread::put_up(range.put_up)
    }

    #[test]
    fn hand_dyed_range_can_have_shorter_skeins() {
        let mut desk = TestApp::sample(Depth::None).after("R");
        let text = desk.drawn((120, 40)).join("\n");
        assert!(text.contains("Sandbank") && text.contains("8 m"), "{text}");
        desk.keys("\n\n\n4.5m\n\n");
        assert_eq!(
            desk.said(),
            "Sandbank: stranded cotton, 4.5 m skeins, 6 strands"
        );
        assert_eq!(
            put_up(&desk, "Sandbank"),
            "stranded cotton, 4.5 m skeins, 6 strands"
        );
        desk.keys("R\n\n\n\n\n");
        assert_eq!(desk.wrong(), "That is what is on record already.");
        // Other strands make other lengths of what was counted.
        desk.keys("\u{1b}R\n\n\n\n\u{8}4\n");
        let said = desk.said();
        assert!(
            said.contains("skeins, 4 strands. The strands on record stay, so these cards have other lengths now:")
                && said.ends_with(". Count them again with N."),
            "{said}"
        );
    }

    #[test]
    fn new_perle_range_gets_usual_values_and_needs_a_size() {
        let mut desk = TestApp::sample(Depth::None).after("RShore\nperle\n");
        let text = desk.drawn((120, 40)).join("\n");
        assert!(text.contains("25 m"), "{text}");
        desk.keys("\n\n\n");
        assert!(desk.wrong().contains("Perle has sizes"), "{}", desk.wrong());
        let mut desk = TestApp::sample(Depth::None).after("RShore\nperle\n5\n\n\n");
        assert_eq!(desk.said(), "Shore: perle 5, 25 m skeins, not divided");
        // The other kinds have no size.
        desk.keys("RShore\nsilk\n\n\n\n");
        assert!(
            put_up(&desk, "Shore").starts_with("silk, "),
            "{}",
            desk.said()
        );
    }

    #[test]
    fn invalid_length_is_reported_at_its_line() {
        let desk = TestApp::sample(Depth::None).after("R\n\n\nlong\n\n");
        assert!(desk.wrong().contains("skein: "), "{}", desk.wrong());
    }
}
