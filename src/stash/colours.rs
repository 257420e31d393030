//! Colour data, combined from its cards, its range list and the chart keys that name it.

use std::collections::{HashMap, HashSet};

use super::event::{Change, Event};
use super::names::by_tag;
use super::state::{CardState, State};
use crate::engine::colour::oklch;
use crate::model::card::Card;
use crate::model::colour::Srgb;
use crate::model::ids::{CardId, RangeId};
use crate::model::number::Number;
use crate::model::range::{PutUp, Range, Shade};
use crate::model::ring::{ColourRef, KeyThread};

/// The shade of a number, and the number as the range list writes it, ignoring case as for cards.
/// O(log shades).
#[must_use]
pub fn shade<'a>(range: &'a Range, number: &Number) -> Option<(&'a Number, &'a Shade)> {
    let exact = range.shades.get_key_value(number);
    if exact.is_some() || number.as_str().bytes().all(|byte| byte.is_ascii_digit()) {
        return exact;
    }
    // Numbers that differ only in case or leading zeros are neighbours in natural order.
    let parts = parts(&number.key());
    let near = |(other, _): &(&Number, &Shade)| self::parts(&other.key()) == parts;
    let after = range.shades.range(number..).take_while(near);
    let before = range.shades.range(..number).rev().take_while(near);
    let key = number.key();
    after.chain(before).find(|(other, _)| other.key() == key)
}

/// The key of a number without the zeros before other digits.
fn parts(key: &str) -> String {
    let mut parts = String::new();
    let (mut digits, mut value) = (false, false);
    for c in key.chars() {
        let digit = c.is_ascii_digit();
        if digit && !digits {
            parts.push('0');
        }
        digits = digit;
        value = digit && (value || c != '0');
        if value || !digit {
            parts.push(c);
        }
    }
    parts
}

/// The number of a new card that reads like another of its range: they differ only in zeros before
/// digits or in spaces.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lookalike {
    /// The number of the new card.
    pub new: Number,
    /// The other number, of a card or in the range list.
    pub known: Number,
}

/// The new cards of an event whose numbers read like others, each once. A number that stands in the
/// range list is no slip. The state may be that before the event or after it. O(cards + shades).
#[must_use]
pub fn lookalikes(state: &State, event: &Event) -> Vec<Lookalike> {
    let new = event.changes.iter().filter_map(|change| match change {
        Change::Card {
            before: None,
            after: Some(card),
        } if card.parent.is_none() => Some(card),
        _ => None,
    });
    let new: Vec<&Card> = new.collect();
    let ids: HashSet<CardId> = new.iter().map(|card| card.id).collect();
    let tight = |number: &Number| parts(&number.key().split_whitespace().collect::<String>());
    let mut alike: HashMap<(RangeId, String), Vec<&Number>> = new
        .iter()
        .map(|card| ((card.range, tight(&card.number)), Vec::new()))
        .collect();
    if alike.is_empty() {
        return Vec::new();
    }
    let cards = state.cards().map(|kept| &kept.card);
    let cards = cards.filter(|card| !ids.contains(&card.id));
    let cards = cards.map(|card| (card.range, &card.number));
    let listed = state
        .ranges()
        .flat_map(|range| range.shades.keys().map(|number| (range.id, number)));
    for (range, number) in cards.chain(listed) {
        if let Some(known) = alike.get_mut(&(range, tight(number))) {
            known.push(number);
        }
    }
    let mut found = Vec::new();
    for card in new {
        let known = alike.entry((card.range, tight(&card.number))).or_default();
        let is_listed = state
            .range(card.range)
            .is_some_and(|range| shade(range, &card.number).is_some());
        let is_other = |other: &&&Number| other.key() != card.number.key();
        if let Some(&known) = known.iter().find(is_other).filter(|_| !is_listed) {
            found.push(Lookalike {
                new: card.number.clone(),
                known: known.clone(),
            });
        }
        known.push(&card.number);
    }
    found
}

/// Whether a colour is one of those known to bleed: a red or a dark blue. By hue angle and
/// lightness in OKLCh; the bounds are a guess.
#[must_use]
pub fn may_bleed(colour: Srgb) -> bool {
    let seen = oklch(colour);
    let (lightness, chroma, hue) = (seen.l, seen.chroma, seen.hue.into_positive_degrees());
    let red = chroma > 0.12 && (5.0..40.0).contains(&hue) && lightness < 0.70;
    let dark_blue = chroma > 0.05 && (235.0..290.0).contains(&hue) && lightness < 0.45;
    red || dark_blue
}

impl State {
    /// The kind and put-up of a card's thread: the card's own, else its range's.
    #[must_use]
    pub fn put_up(&self, card: &Card) -> PutUp {
        card.put_up.unwrap_or_else(|| self.put_up_of(card.range))
    }

    /// The kind and put-up of a range's thread.
    #[must_use]
    pub fn put_up_of(&self, range: RangeId) -> PutUp {
        self.range(range)
            .map_or_else(PutUp::default, |range| range.put_up)
    }

    /// Whether a card's colour changes along the thread, according to the card or its range. O(log
    /// shades).
    #[must_use]
    pub fn is_variegated(&self, card: &Card) -> bool {
        card.variegated
            || self
                .range(card.range)
                .and_then(|range| shade(range, &card.number))
                .is_some_and(|(_, shade)| shade.variegated)
    }

    /// The cards of a colour, including split cards: whole cards first, each kind by tag and id, so
    /// that the card without a tag is first of all.
    pub fn cards_of(&self, colour: &ColourRef) -> impl Iterator<Item = &CardState> {
        let cards = self.index().numbered(&colour.number.key());
        let mut cards: Vec<&CardState> = cards
            .iter()
            .filter(|(range, _)| *range == colour.range)
            .filter_map(|&(_, id)| self.card(id))
            .collect();
        cards.sort_by(|a, b| {
            let split = |kept: &CardState| kept.card.parent.is_some();
            let order = split(a).cmp(&split(b)).then_with(|| by_tag(self, a, b));
            order.then_with(|| a.card.id.cmp(&b.card.id))
        });
        cards.into_iter()
    }

    /// Whether the maker no longer makes a colour.
    #[must_use]
    pub fn is_discontinued(&self, colour: &ColourRef) -> bool {
        self.shade_of(colour)
            .is_some_and(|shade| shade.discontinued)
    }

    /// Skeins of a colour on the want list.
    #[must_use]
    pub fn wanted(&self, colour: &ColourRef) -> u32 {
        self.shade_of(colour).map_or(0, |shade| shade.wanted)
    }

    /// The want list: colours and the skeins wanted of each, by range and number. O(shades).
    pub fn want_list(&self) -> impl Iterator<Item = (ColourRef, u32)> {
        self.ranges().flat_map(|range| {
            let wanted = range.shades.iter().filter(|(_, shade)| shade.wanted > 0);
            wanted.map(|(number, shade)| (ColourRef::new(range.id, number.clone()), shade.wanted))
        })
    }

    /// A colour with its number written as on its card, else as in its range list, else unchanged.
    #[must_use]
    pub fn as_written(&self, colour: ColourRef) -> ColourRef {
        let card = self.cards_of(&colour).next();
        let listed = || shade(self.range(colour.range)?, &colour.number);
        let number = card.map(|kept| &kept.card.number);
        match number.or_else(|| listed().map(|(number, _)| number)) {
            Some(number) => ColourRef::new(colour.range, number.clone()),
            None => colour,
        }
    }

    /// The cards of the colours that match one in the user's conversion lists, without split cards,
    /// by range and number. O(matches of the colour · log cards).
    pub fn matching_cards(&self, colour: &ColourRef) -> impl Iterator<Item = &CardState> {
        let matching = self.matches().of(colour).iter();
        let cards = matching.flat_map(|other| self.cards_of(other));
        cards.filter(|kept| kept.card.parent.is_none())
    }

    fn shade_of(&self, colour: &ColourRef) -> Option<&Shade> {
        let range = self.range(colour.range)?;
        shade(range, &colour.number).map(|(_, shade)| shade)
    }

    /// The name of the colour that a thread is stitched in: the card's, else the key's, else the
    /// range's; empty if there is none.
    #[must_use]
    pub fn thread_name<'a>(&'a self, thread: &'a KeyThread) -> &'a str {
        let colour = thread.stitched();
        let card = self.cards_of(colour).next().map(|kept| &kept.card.name);
        let in_key = Some(&thread.name).filter(|_| thread.stitched_with.is_none());
        let listed = self.shade_of(colour).map(|shade| &shade.name);
        [card, in_key, listed]
            .into_iter()
            .flatten()
            .find(|name| !name.is_empty())
            .map_or("", |name| name.as_str())
    }

    /// The kind and put-up of a colour's thread: its card's, else its range's.
    #[must_use]
    pub fn colour_put_up(&self, colour: &ColourRef) -> PutUp {
        let card = self.cards_of(colour).next();
        card.map_or_else(
            || self.put_up_of(colour.range),
            |kept| self.put_up(&kept.card),
        )
    }

    /// Whether a colour changes along the thread, according to any of its cards or its range.
    #[must_use]
    pub fn colour_is_variegated(&self, colour: &ColourRef) -> bool {
        self.shade_of(colour).is_some_and(|shade| shade.variegated)
            || self
                .cards_of(colour)
                .any(|kept| self.is_variegated(&kept.card))
    }

    /// The colour on screen of the colour that a thread is stitched in: the card's, else the
    /// range's, else the key's.
    #[must_use]
    pub fn thread_colour(&self, thread: &KeyThread) -> Option<Srgb> {
        let colour = thread.stitched();
        let card = self.cards_of(colour).find_map(|kept| kept.card.colour);
        let in_key = thread.hex.filter(|_| thread.stitched_with.is_none());
        card.or_else(|| self.shade_of(colour)?.colour).or(in_key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::ids::RangeId;
    use crate::model::label::Label;
    use crate::stash::testing::{add_cards, apply, read, rows, wall};

    #[test]
    fn a_new_number_that_differs_in_zeros_or_spaces_reads_like_the_known_one() {
        let mut state = wall(1, 1, 1);
        add_cards(&mut state, &["Cove:310", "Cove:B5"]);
        let mut list = rows(&[
            "Cove:0310",
            "Cove:B 05",
            "Cove:311",
            "Sandbank:0310",
            "Cove:077",
            "Cove:77",
        ]);
        list[1].number = "B 05".into();
        let event = read(&state, &list).event.unwrap();
        let found = |state: &State| -> Vec<(String, String)> {
            let found = lookalikes(state, &event).into_iter();
            found
                .map(|of| (of.new.to_string(), of.known.to_string()))
                .collect()
        };
        let expected = [("0310", "310"), ("B 05", "B5"), ("77", "077")];
        let expected = expected.map(|(new, known)| (new.to_owned(), known.to_owned()));
        assert_eq!(found(&state), expected);
        apply(&mut state, &event);
        assert_eq!(found(&state), expected);
    }

    #[test]
    fn case_is_ignored_and_zeros_are_not() {
        let number = |text| Number::new(text).unwrap();
        let numbers = ["b5", "701", "B05", "a5", "A05", "grün"];
        let range = Range {
            id: RangeId(1),
            name: Label::new("Cove").unwrap(),
            put_up: PutUp::default(),
            shades: numbers.map(|n| (number(n), Shade::default())).into(),
        };
        for (asked, found) in [
            ("B5", Some("b5")),
            ("b5", Some("b5")),
            ("b05", Some("B05")),
            ("A5", Some("a5")),
            ("a05", Some("A05")),
            ("a005", None),
            ("701", Some("701")),
            ("0310", None),
            ("GRÜN", Some("grün")),
            ("C5", None),
        ] {
            let is = shade(&range, &number(asked)).map(|(number, _)| number.as_str());
            assert_eq!(is, found, "{asked}");
        }
    }
}
