//! Forms for the thread of a card: counting it, and cutting uncut thread onto the card.

use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::length::{Length, Unit};
use crate::model::range::PutUp;
use crate::model::thread::{Lot, LotThread, Strands};
use crate::stash::command::thread::{self, Counted, CutAmount, lot_named};
use crate::stash::state::{CardState, State};
use crate::text;
use crate::tui::app::screen::Context;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, something};
use crate::tui::widgets::chooser::{Choice, Chooser};

/// A card's lots to choose from, with the amount of each.
fn lots(state: &State, kept: &CardState) -> Vec<Choice> {
    let put_up = state.put_up(&kept.card);
    let noted = kept.thread.lots().filter(|(lot, _)| !lot.is_unknown());
    noted
        .map(|(lot, of)| {
            let of = std::iter::once((lot.clone(), of.clone())).collect();
            Choice::new(lot.as_str(), text::thread::by_lot(&of, put_up))
        })
        .collect()
}

/// The dye lot to take thread from; asked for only if the card has several.
#[derive(Clone, Debug)]
pub struct LotToTake(Option<Input>);

impl LotToTake {
    /// Asks for one of the card's lots.
    #[must_use]
    pub fn of(state: &State, kept: &CardState) -> Self {
        let choices = lots(state, kept);
        Self((choices.len() > 1).then(|| {
            let chooser = Chooser::of(choices, "").or_none();
            Input::choice("dye lot", "none: the smallest that lasts", chooser)
        }))
    }

    /// Its line of the form, if it has one.
    pub fn input(&self) -> Option<&Input> {
        self.0.as_ref()
    }

    /// The same, to be typed in.
    pub fn input_mut(&mut self) -> Option<&mut Input> {
        self.0.as_mut()
    }

    /// The selected lot.
    ///
    /// # Errors
    /// If the card has no such lot any more.
    pub fn lot(&self, state: &State, card: CardId) -> Result<Option<Lot>, Wrong> {
        let named = self.0.as_ref().and_then(Input::filled);
        let named = named.map(|name| lot_named(state, card, &name));
        Ok(named.transpose()?)
    }
}

/// The form's card.
fn the_card(state: &State, card: CardId) -> Result<&CardState, Wrong> {
    let kept = state.card(card);
    kept.ok_or_else(|| "That card is gone.".to_owned().into())
}

/// A card by its number and name.
fn named(state: &State, card: CardId) -> String {
    let kept = state.card(card);
    kept.map_or_else(String::new, |kept| {
        let name = format!("{} {}", state.card_name(kept), kept.card.name);
        name.trim().to_owned()
    })
}

/// The card's recorded thread, as a sentence.
fn known(state: &State, card: CardId) -> Option<String> {
    let kept = state.card(card)?;
    let amount = text::thread::by_lot(&kept.thread, state.put_up(&kept.card));
    Some(format!("On record: {amount}."))
}

/// The form that counts a card's thread, lot by lot.
#[derive(Clone, Debug)]
pub struct Count {
    card: CardId,
    /// Whether it is a split card, which has no uncut thread.
    split: bool,
    /// The lot whose amounts are filled in.
    shown: String,
    /// Those amounts. Lines left unchanged aren't recorded, even if another window changed the
    /// amount since.
    was: LotThread,
    lot: Input,
    lengths: Input,
    strands: Input,
    part: Input,
    skeins: Input,
}

impl Count {
    /// The form, filled in for the card's first lot.
    #[must_use]
    pub fn form(state: &State, kept: &CardState) -> Form<Self> {
        let choices = lots(state, kept);
        let first = choices
            .first()
            .map_or("", |choice| &choice.value)
            .to_owned();
        let unknown = kept.thread.lots().any(|(lot, _)| lot.is_unknown());
        let mut chooser = Chooser::or_new(choices, &first, "new lot");
        if unknown || first.is_empty() {
            chooser = chooser.or_none();
        }
        let mut count = Self {
            card: kept.card.id,
            split: kept.card.parent.is_some(),
            shown: String::new(),
            was: LotThread::default(),
            lot: Input::choice(
                "dye lot",
                "which lot you counted; a new name adds one",
                chooser,
            ),
            lengths: Input::text("lengths", "whole lengths on the card", ""),
            strands: Input::text("strands", "single strands besides", ""),
            part: Input::text("part", "the rest of a part-used skein: 3.5m, 4yd", ""),
            skeins: Input::text("skeins", "uncut skeins", ""),
        };
        count.fill(state);
        Form::new(count)
    }

    /// Fills in the recorded amounts of the selected lot.
    fn fill(&mut self, state: &State) {
        let Some(kept) = state.card(self.card) else {
            return;
        };
        let put_up = state.put_up(&kept.card);
        let name = Label::new(self.lot.value()).unwrap_or_default();
        let listed = kept.thread.listed(&name);
        let of = listed.and_then(|lot| kept.thread.lot(lot));
        let of = of.cloned().unwrap_or_default();
        for (input, text) in [
            (&mut self.lengths, put_up.lengths(of.strands).to_string()),
            (&mut self.strands, put_up.loose(of.strands).to_string()),
            (&mut self.part, text::thread::metres(of.part_cm)),
            (&mut self.skeins, of.skeins.to_string()),
        ] {
            input.offer(&text);
        }
        self.shown = self.lot.value().to_owned();
        self.was = of;
    }

    /// The amounts that differ from the record. Parts left alone stay as they are.
    fn counted(&self, put_up: PutUp) -> Result<Counted, Wrong> {
        let was = &self.was;
        let (lengths, loose) = (self.lengths.said()?, self.strands.said()?);
        let on_card = (lengths.is_some() || loose.is_some()).then(|| {
            let whole = put_up.from_lengths(lengths.unwrap_or(0));
            Strands(whole.0.saturating_add(loose.unwrap_or(0)))
        });
        let strands = on_card.filter(|strands| *strands != was.strands);
        if self.split {
            return Ok(Counted {
                strands,
                ..Counted::default()
            });
        }
        let part = self.part.filled().map(|_| self.part.length(Unit::M));
        let part = part.transpose()?;
        Ok(Counted {
            strands,
            part_cm: part.map(Length::long_cm).filter(|cm| *cm != was.part_cm),
            skeins: self.skeins.said()?.filter(|skeins| *skeins != was.skeins),
        })
    }
}

impl Fields for Count {
    fn title(&self, state: &State) -> String {
        format!("What you counted of {}", named(state, self.card))
    }

    fn inputs(&self) -> Vec<&Input> {
        let mut inputs = vec![&self.lot, &self.lengths, &self.strands];
        if !self.split {
            inputs.extend([&self.part, &self.skeins]);
        }
        inputs
    }

    fn inputs_mut(&mut self) -> Vec<&mut Input> {
        let mut inputs = vec![&mut self.lot, &mut self.lengths, &mut self.strands];
        if !self.split {
            inputs.extend([&mut self.part, &mut self.skeins]);
        }
        inputs
    }

    fn follow(&mut self, state: &State) {
        if self.lot.value() != self.shown {
            self.fill(state);
        }
    }

    fn note(&self, state: &State) -> Option<String> {
        known(state, self.card)
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let kept = the_card(state, self.card)?;
        let lot = lot_named(state, self.card, self.lot.value())?;
        let counted = self.counted(state.put_up(&kept.card))?;
        let event = match counted == Counted::default() {
            true => Ok(None),
            false => thread::count(state, self.card, counted, Some(&lot)),
        };
        something(event, "That is what is on record already.")
    }
}

/// The form that cuts uncut thread onto its card.
#[derive(Clone, Debug)]
pub struct Cut {
    card: CardId,
    skeins: Input,
    lengths: Input,
    lot: LotToTake,
    /// The texts for skeins and lengths before the last key.
    was: (String, String),
}

impl Cut {
    /// The form for a card; `None` if it has no uncut thread.
    #[must_use]
    pub fn form(state: &State, kept: &CardState) -> Option<Form<Self>> {
        if kept.skeins() == 0 && kept.thread.part_cm() == 0 {
            return None;
        }
        let whole = if kept.skeins() > 0 { "1" } else { "" };
        Some(Form::new(Self {
            card: kept.card.id,
            skeins: Input::text("skeins", "whole skeins", whole),
            lengths: Input::text("lengths", "or so many, from a part-used skein first", ""),
            lot: LotToTake::of(state, kept),
            was: (whole.to_owned(), String::new()),
        }))
    }
}

/// The message that a card has no uncut thread.
pub fn nothing_uncut(state: &State, kept: &CardState) -> String {
    let card = state.card_name(kept);
    format!("{card} has no uncut thread. N sets what you counted")
}

impl Fields for Cut {
    fn title(&self, state: &State) -> String {
        format!("Cut thread onto {}", named(state, self.card))
    }

    fn inputs(&self) -> Vec<&Input> {
        let amount = [&self.skeins, &self.lengths].into_iter();
        amount.chain(self.lot.input()).collect()
    }

    fn inputs_mut(&mut self) -> Vec<&mut Input> {
        let amount = [&mut self.skeins, &mut self.lengths].into_iter();
        amount.chain(self.lot.input_mut()).collect()
    }

    /// Skeins and lengths express the same amount: the last one typed wins.
    fn follow(&mut self, _: &State) {
        let now = |cut: &Self| {
            (
                cut.skeins.value().to_owned(),
                cut.lengths.value().to_owned(),
            )
        };
        let (skeins, lengths) = now(self);
        if lengths != self.was.1 && !lengths.is_empty() {
            self.skeins.offer("");
        } else if skeins != self.was.0 && !skeins.is_empty() {
            self.lengths.offer("");
        }
        self.was = now(self);
    }

    fn note(&self, state: &State) -> Option<String> {
        known(state, self.card)
    }

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let state = context.stash.state;
        let amount = match (self.lengths.said()?, self.skeins.said()?) {
            (Some(lengths), _) => CutAmount::Lengths(lengths),
            (None, skeins) => CutAmount::Skeins(skeins.unwrap_or(0)),
        };
        let lot = self.lot.lot(state, self.card)?;
        Ok(thread::cut(state, self.card, amount, lot.as_ref())?.into())
    }
}

#[cfg(test)]
mod tests {
    use crate::tui::keymap::Scope;
    use crate::tui::testing::TestApp;
    use crate::tui::theme::Depth;

    fn thread_of(desk: &TestApp, card: &str) -> String {
        let kept = desk
            .state
            .card(desk.state.find_card(card).unwrap())
            .unwrap();
        crate::text::thread::by_lot(&kept.thread, desk.state.put_up(&kept.card))
    }

    #[test]
    fn recount_replaces_the_recorded_amounts() {
        let mut desk = TestApp::sample(Depth::None).after("N");
        assert_eq!(desk.filled("lengths"), "8");
        desk.keys("\n5\n2\n3.5m\n1\n");
        assert_eq!(
            thread_of(&desk, "Sandbank:10"),
            "5 lengths 2 strands + 3.5 m part-used + 1 uncut skein"
        );
        let text = desk.drawn((120, 40)).join("\n");
        assert!(text.contains("part-used 3.5 m"), "{text}");
        // An unchanged count is refused.
        desk.keys("N\u{13}");
        assert!(
            desk.wrong().contains("on record already"),
            "{}",
            desk.wrong()
        );
        desk.keys("\u{1b}uN");
        assert_eq!(
            (
                desk.filled("lengths").as_str(),
                desk.filled("part").as_str()
            ),
            ("8", "0 m")
        );
    }

    #[test]
    fn choosing_a_lot_shows_its_amounts() {
        let mut desk = TestApp::sample(Depth::None).after("NK7\n6\n\u{13}");
        assert_eq!(
            thread_of(&desk, "Sandbank:10"),
            "6 lengths of lot K7",
            "all that was of no lot is what was counted"
        );
        desk.keys("N");
        assert_eq!(desk.filled("lengths"), "6");
        desk.keys("V1");
        assert_eq!(desk.filled("lengths"), "0");
        desk.keys("\n2\u{13}");
        assert!(thread_of(&desk, "Sandbank:10").ends_with("2 lengths of lot V1"));
    }

    #[test]
    fn part_used_skein_is_cut_first_by_skeins_or_lengths() {
        let desk = TestApp::sample(Depth::None).after("S");
        assert_eq!(
            desk.said(),
            "Sandbank:10 has no uncut thread. N sets what you counted"
        );
        let mut desk = desk.after("N\n\n\n3.5\n2\nS");
        assert_eq!(desk.app.scope(), Scope::Form);
        assert_eq!(desk.filled("skeins"), "1");
        let skein = desk.after("\n\n");
        assert_eq!(
            thread_of(&skein, "Sandbank:10"),
            "16 lengths + 3.5 m part-used + 1 uncut skein"
        );
        desk.keys("\n2");
        assert_eq!(desk.filled("skeins"), "");
        desk.keys("\n");
        assert_eq!(
            thread_of(&desk, "Sandbank:10"),
            "10 lengths + 1.5 m part-used + 2 uncut skeins"
        );
    }
}
