//! The forms for a new card and for editing a card.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::model::colour::Srgb;
use crate::model::ids::{CardId, RangeId};
use crate::model::range::Range;
use crate::model::thread::Lot;
use crate::stash::command::import::{Amount, CardRow};
use crate::stash::command::{card, import};
use crate::stash::event::Act;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::faults::colour_error;
use crate::text::refusal::row_fault;
use crate::text::{self, capital};
use crate::tui::app::screen::Context;
use crate::tui::refused::on_screen;
use crate::tui::screens::form::{Asks, Fields, Form, Input, Wrong, inputs};
use crate::tui::widgets::chooser::{Choice, Chooser};

/// The most lengths a card can plausibly hold; a larger number is a typing slip.
const MOST_LENGTHS: f64 = 200.0;

/// The range that most cards have, or the first of several. Without cards, the first range.
pub fn usual_range(state: &State) -> Option<&Range> {
    let mut cards: BTreeMap<RangeId, usize> = BTreeMap::new();
    for kept in state.cards() {
        *cards.entry(kept.card.range).or_default() += 1;
    }
    let count = |range: &&Range| cards.get(&range.id).copied().unwrap_or(0);
    // The first of the most common; `max_by_key` would return the last.
    state.ranges().min_by_key(|range| Reverse(count(range)))
}

/// A chooser for the range, which also accepts a new one.
pub fn ranges(state: &State, chosen: &str) -> Chooser {
    let choices = state.ranges().map(|range| {
        let cards = state.cards();
        let cards = cards.filter(|kept| kept.card.range == range.id).count();
        let note = text::cards(u32::try_from(cards).unwrap_or(u32::MAX));
        Choice::new(range.name.as_str(), note)
    });
    Chooser::or_new(choices.collect(), chosen, "new range")
}

/// The form for a new card.
#[derive(Clone, Debug)]
pub struct NewCard {
    number: Input,
    range: Input,
    name: Input,
    colour: Input,
    lengths: Input,
    hook: Input,
}

impl NewCard {
    /// The form as it opens, with or without a known number.
    #[must_use]
    pub fn form(state: &State, number: &str) -> Form<Self> {
        let range = usual_range(state);
        let range = range.map_or(import::RANGE_WITHOUT_NAME, |range| range.name.as_str());
        Form::new(Self {
            number: Input::text("number", "as on the skein", number),
            range: Input::choice("range", "the maker's range", ranges(state, range)),
            name: Input::text("name", "may be empty: then the range's own name", ""),
            colour: Input::text("colour", "six hex digits such as #B4233C; may be empty", ""),
            lengths: Input::text("lengths", "cut lengths on the card; a skein gives 8", "8"),
            hook: Input::text("hook", "empty: to hang, for a re-hang", ""),
        })
    }

    /// The form's contents as a row of a card list.
    fn row(&self) -> Result<CardRow, Wrong> {
        let amount = self.lengths.filled();
        let amount = amount.map(|_| lengths(&self.lengths)).transpose()?;
        Ok(CardRow {
            line: 1,
            range: self.range.filled(),
            number: self.number.value().to_owned(),
            name: self.name.filled(),
            colour: colour(&self.colour)?,
            amount,
            hook: self.hook.filled(),
            ..CardRow::default()
        })
    }
}

impl Fields for NewCard {
    fn title(&self, _: &State) -> String {
        "Write a new card".to_owned()
    }

    inputs!(number, range, name, colour, lengths, hook);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let row = self.row()?;
        let event = card::new_card(context.stash.state, row, context.app.now);
        event.map(Asks::from).map_err(|refusal| wrong(&refusal))
    }
}

/// The form for editing a card. The range and number are fixed.
#[derive(Clone, Debug)]
pub struct ChangeCard {
    card: CardId,
    name: Input,
    colour: Input,
    lengths: Input,
    skeins: Input,
    family: Input,
    lot: Input,
    note: Input,
}

impl ChangeCard {
    /// The form, filled in from the card.
    #[must_use]
    pub fn form(state: &State, kept: &CardState) -> Form<Self> {
        let card = &kept.card;
        let families = state.families().iter().map(|family| {
            let cards = state.cards();
            let cards = cards.filter(|kept| state.family_of(kept) == Some(family.id));
            let note = text::cards(u32::try_from(cards.count()).unwrap_or(u32::MAX));
            Choice::new(family.name.as_str(), note)
        });
        let family = Chooser::or_new(families.collect(), state.family_name(kept), "new family");
        Form::new(Self {
            card: card.id,
            name: Input::text("name", "the colour's name", card.name.as_str()),
            colour: Input::text(
                "colour",
                "six hex digits such as #B4233C",
                &hex(card.colour),
            ),
            lengths: Input::text(
                "lengths",
                "cut lengths on the card; a skein gives 8",
                &in_lengths(state, kept),
            ),
            skeins: Input::text(
                "skeins",
                "uncut skeins of it that you have besides",
                &kept.skeins().to_string(),
            ),
            family: Input::choice("family", "what it hangs with; a new name makes one", family),
            lot: Input::text("dye lot", "may be empty", &kept.thread.lot_names()),
            note: Input::text("note", "may be empty", card.note.as_str()),
        })
    }

    /// The changes, as a row of a card list.
    fn row(&self, state: &State) -> Result<CardRow, Wrong> {
        let kept = state.card(self.card);
        let kept = kept.ok_or_else(|| "That card is gone.".to_owned())?;
        let is = &kept.card;
        let names = kept.thread.lot_names();
        let mut amount = stays(&self.lengths, &in_lengths(state, kept))?;
        let mut skeins = stays(&self.skeins, &kept.skeins().to_string())?;
        let mut lot = anew(&self.lot, &names);
        let mut lots = kept.thread.lots().map(|(lot, _)| lot);
        match (lots.next(), lots.next()) {
            (Some(_), Some(_)) if amount.is_some() || skeins.is_some() || lot.is_some() => {
                let words = format!(
                    "This card has several dye lots: {lots}. Go back and press N to set what it has of each.",
                    lots = match names.as_str() {
                        "" => "none noted",
                        names => names,
                    }
                );
                return Err(words.into());
            }
            // An edited amount counts all the thread of the lot in the form.
            (only, _) if amount.is_some() || skeins.is_some() => {
                let is_of = only.map_or("", Lot::as_str);
                lot = Some(lot.unwrap_or_else(|| is_of.to_owned()));
                amount = amount.or_else(|| Some(self.lengths.value().to_owned()));
                skeins = skeins.or_else(|| Some(self.skeins.value().to_owned()));
            }
            _ => {}
        }
        let range = state.range(is.range);
        let new_colour = stays(&self.colour, &hex(is.colour))?;
        Ok(CardRow {
            line: 1,
            range: range.map(|range| range.name.to_string()),
            number: is.number.to_string(),
            name: stays(&self.name, is.name.as_str())?,
            colour: match new_colour {
                Some(_) => colour(&self.colour)?,
                None => None,
            },
            family: stays(&self.family, state.family_name(kept))?,
            amount: amount.map(|_| lengths(&self.lengths)).transpose()?,
            uncut: match skeins {
                Some(_) => Some(
                    self.skeins
                        .number()
                        .map_err(|w| Wrong::at(&self.skeins, w))?,
                ),
                None => None,
            },
            dye_lot: lot,
            note: anew(&self.note, is.note.as_str()),
            ..CardRow::default()
        })
    }
}

impl Fields for ChangeCard {
    fn title(&self, state: &State) -> String {
        let kept = state.card(self.card);
        let range = kept.and_then(|kept| state.range(kept.card.range));
        format!(
            "Change card {range} {number}",
            range = range.map_or("", |range| range.name.as_str()),
            number = kept.map_or("", |kept| kept.card.number.as_str())
        )
    }

    inputs!(name, colour, lengths, skeins, family, lot, note);

    fn done(&self, context: &mut Context<'_>) -> Result<Asks, Wrong> {
        let (state, now) = (context.stash.state, context.app.now);
        let event = card::change_card(state, self.card, self.row(state)?, now);
        let event = event.map_err(|refusal| wrong(&refusal))?;
        let event =
            event.ok_or_else(|| "Nothing to change: the card is like that already.".to_owned())?;
        Ok(event.into())
    }

    fn recorded(&self, context: &mut Context<'_>, _: &Act) {
        let state = context.stash.state;
        if let Some(kept) = state.card(self.card) {
            let words = format!("Card {card} is changed", card = state.card_name(kept));
            context.app.say(words);
        }
    }
}

/// The text of a line, if it changed.
fn anew(input: &Input, was: &str) -> Option<String> {
    Some(input.value().to_owned()).filter(|now| now != was)
}

/// Like [`anew`], for values that can't be deleted.
fn stays(input: &Input, was: &str) -> Result<Option<String>, Wrong> {
    match anew(input, was) {
        Some(now) if now.is_empty() => Err(Wrong::at(input, "you can change it, not delete it.")),
        now => Ok(now),
    }
}

fn hex(colour: Option<Srgb>) -> String {
    colour.map_or_else(String::new, |colour| colour.to_string())
}

/// The colour entered, if any.
fn colour(input: &Input) -> Result<Option<Srgb>, Wrong> {
    let colour = input.filled().map(|hex| hex.parse()).transpose();
    colour.map_err(|wrong| capital(&colour_error(&wrong)).into())
}

/// An amount as shown in the form: `8`, `7.33`.
fn in_lengths(state: &State, kept: &CardState) -> String {
    let (strands, put_up) = (kept.strands(), state.put_up(&kept.card));
    if put_up.loose(strands) == 0 {
        return put_up.lengths(strands).to_string();
    }
    format!("{:.2}", put_up.to_fraction(strands))
}

/// The amount entered.
fn lengths(input: &Input) -> Result<Amount, Wrong> {
    let text = input.value();
    match text.replace(',', ".").parse() {
        Ok(number) if number > MOST_LENGTHS => Err(Wrong::at(
            input,
            format!(
                "{text} lengths is more than a card can hold. Write how many cut lengths are on it, {most} at most.",
                most = MOST_LENGTHS
            ),
        )),
        Ok(number) if number >= 0.0 => Ok(Amount::Lengths(number)),
        _ => Err(Wrong::at(
            input,
            format!(
                "'{text}' isn't a number from 0 to {most}.",
                most = MOST_LENGTHS
            ),
        )),
    }
}

fn wrong(refusal: &Refusal) -> Wrong {
    match refusal {
        Refusal::RowsRejected { every, .. } if !every.is_empty() => {
            capital(&row_fault(&every[0].reason)).into()
        }
        refusal => on_screen(refusal).into(),
    }
}

#[cfg(test)]
mod tests;
