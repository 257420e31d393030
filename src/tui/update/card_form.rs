//! Forms for a card: a new one, and what is written on one that is there.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use jiff::Timestamp;

use super::form::{blank, form, whole};
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, RangeId};
use crate::model::range::Range;
use crate::model::thread::Lot;
use crate::stash::command::import::{Amount, CardRow};
use crate::stash::command::{card, import};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};
use crate::text::capital;
use crate::text::refusal::row_fault;
use crate::text::values::colour_error;
use crate::tui::app::{Form, Purpose};
use crate::tui::refused::on_screen;

/// The most lengths that a card is believed to hold; a number beyond it is a slip.
const MOST_LENGTHS: f64 = 200.0;

/// The range that most cards have, the first of them where several do; without cards the first one.
pub(super) fn usual_range(state: &State) -> Option<&Range> {
    let mut cards: BTreeMap<RangeId, usize> = BTreeMap::new();
    for kept in state.cards() {
        *cards.entry(kept.card.range).or_default() += 1;
    }
    let count = |range: &&Range| cards.get(&range.id).copied().unwrap_or(0);
    // The first of the most, while `max_by_key` gives the last.
    state.ranges().min_by_key(|range| Reverse(count(range)))
}

pub(super) fn new_card(state: &State) -> Form {
    let range = usual_range(state).map_or(import::RANGE_WITHOUT_NAME, |range| range.name.as_str());
    let blanks = vec![
        blank("number", "as on the skein", ""),
        blank("range", "the maker's range", range),
        blank("name", "may be empty: then the range's own name", ""),
        blank("colour", "six hex digits such as #C8102E; may be empty", ""),
        blank("lengths", "cut lengths on the card; a skein gives 8", "8"),
        blank("hook", "empty: to hang, for a re-hang", ""),
    ];
    form(Purpose::NewCard, "Write a new card", blanks)
}

/// A form for what is written on a card, all filled in. Its range and number stay what they are.
pub(super) fn change(state: &State, kept: &CardState) -> Form {
    let card = &kept.card;
    let blanks = vec![
        blank("name", "the colour's name", card.name.as_str()),
        blank(
            "colour",
            "six hex digits such as #C8102E",
            &hex(card.colour),
        ),
        blank(
            "lengths",
            "cut lengths on the card; a skein gives 8",
            &in_lengths(state, kept),
        ),
        blank(
            "skeins",
            "uncut skeins of it that you have besides",
            &kept.skeins().to_string(),
        ),
        blank(
            "family",
            "a new name makes a new family",
            state.family_name(kept),
        ),
        blank("dye lot", "may be empty", &kept.thread.lot_names()),
        blank("note", "may be empty", card.note.as_str()),
    ];
    let range = state.range(card.range);
    let title = format!(
        "Change card {range} {number}",
        range = range.map_or("", |range| range.name.as_str()),
        number = card.number
    );
    form(Purpose::ChangeCard(card.id), title, blanks)
}

fn hex(colour: Option<Srgb>) -> String {
    colour.map_or_else(String::new, |colour| colour.to_string())
}

/// An amount as a form has it: `8`, `7.33`.
fn in_lengths(state: &State, kept: &CardState) -> String {
    let (strands, put_up) = (kept.strands(), state.put_up(&kept.card));
    if put_up.loose(strands) == 0 {
        return put_up.lengths(strands).to_string();
    }
    format!("{:.2}", put_up.to_fraction(strands))
}

/// The card that a form says, as a row of a card list.
pub(super) fn written<'a>(text: &impl Fn(&str) -> &'a str) -> Result<CardRow, String> {
    let filled = |label: &str| Some(text(label).to_owned()).filter(|text| !text.is_empty());
    let colour = filled("colour").map(|hex| hex.parse()).transpose();
    let amount = filled("lengths").map(|text| lengths(&text)).transpose()?;
    Ok(CardRow {
        line: 1,
        range: filled("range"),
        number: text("number").to_owned(),
        name: filled("name"),
        colour: colour.map_err(|wrong| capital(&colour_error(&wrong)))?,
        amount,
        hook: filled("hook"),
        ..CardRow::default()
    })
}

/// The amount that was written.
fn lengths(text: &str) -> Result<Amount, String> {
    match text.replace(',', ".").parse() {
        Ok(number) if number > MOST_LENGTHS => Err(format!(
            "{text} lengths is more than a card can hold: write how many cut lengths are on it, \
             {most} at most",
            most = MOST_LENGTHS
        )),
        Ok(number) if number >= 0.0 => Ok(Amount::Lengths(number)),
        _ => Err(format!(
            "lengths: '{text}' is not a number from 0 to {most}",
            most = MOST_LENGTHS
        )),
    }
}

/// What a form says anew of a card, as a row of a card list.
pub(super) fn changed<'a>(
    state: &State,
    card: CardId,
    text: &impl Fn(&str) -> &'a str,
) -> Result<CardRow, String> {
    let kept = state.card(card);
    let kept = kept.ok_or_else(|| "that card is gone".to_owned())?;
    let is = &kept.card;
    let anew = |label: &str, was: &str| Some(text(label).to_owned()).filter(|now| now != was);
    // A list has no word for taking these away.
    let stays = |label: &'static str, was: &str| match anew(label, was) {
        Some(now) if now.is_empty() => Err(format!(
            "{what}: it can be changed, not taken away",
            what = label
        )),
        now => Ok(now),
    };
    let colour = stays("colour", &hex(is.colour))?;
    let colour = colour.map(|hex| hex.parse()).transpose();
    let mut amount = stays("lengths", &in_lengths(state, kept))?;
    let mut skeins = stays("skeins", &kept.skeins().to_string())?;
    let names = kept.thread.lot_names();
    let mut lot = anew("dye lot", &names);
    let mut lots = kept.thread.lots().map(|(lot, _)| lot);
    match (lots.next(), lots.next()) {
        (Some(_), Some(_)) if amount.is_some() || skeins.is_some() || lot.is_some() => {
            return Err(format!(
                "This card has several dye lots: {lots}. Set what it has of each with a list",
                lots = if names.is_empty() {
                    "none noted"
                } else {
                    &names
                }
            ));
        }
        // What is counted anew is of the lot the form says, all of it.
        (only, _) if amount.is_some() || skeins.is_some() => {
            let is_of = only.map_or("", Lot::as_str);
            lot = Some(lot.unwrap_or_else(|| is_of.to_owned()));
            amount = amount.or_else(|| Some(text("lengths").to_owned()));
            skeins = skeins.or_else(|| Some(text("skeins").to_owned()));
        }
        _ => {}
    }
    let range = state.range(is.range);
    Ok(CardRow {
        line: 1,
        range: range.map(|range| range.name.to_string()),
        number: is.number.to_string(),
        name: stays("name", is.name.as_str())?,
        colour: colour.map_err(|wrong| capital(&colour_error(&wrong)))?,
        family: stays("family", state.family_name(kept))?,
        amount: amount.map(|text| lengths(&text)).transpose()?,
        uncut: skeins.map(|text| whole(&text, "skeins")).transpose()?,
        dye_lot: lot,
        note: anew("note", is.note.as_str()),
        ..CardRow::default()
    })
}

/// The new card that a form says.
pub(super) fn new_event(state: &State, row: CardRow, now: Timestamp) -> Result<Event, String> {
    card::new_card(state, row, now).map_err(|refusal| wrong(&refusal))
}

/// What a form says anew of a card.
pub(super) fn change_event(
    state: &State,
    card: CardId,
    row: CardRow,
    now: Timestamp,
) -> Result<Event, String> {
    let same = || "that card is in the stash just so".to_owned();
    let event = card::change_card(state, card, row, now);
    event.map_err(|refusal| wrong(&refusal))?.ok_or_else(same)
}

fn wrong(refusal: &Refusal) -> String {
    match refusal {
        Refusal::RowsRejected { every, .. } if !every.is_empty() => {
            capital(&row_fault(&every[0].reason))
        }
        refusal => on_screen(refusal),
    }
}

#[cfg(test)]
mod tests;
