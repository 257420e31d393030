//! The colours a key speaks of, as the stash knows them.

use crate::model::colour::Srgb;
use crate::model::range::PutUp;
use crate::model::ring::KeyEntry;
use crate::model::whereabouts::Whereabouts;
use crate::stash::shade::shade;
use crate::stash::state::{Kept, State};

impl State {
    /// The cards of the colour that a line of a key speaks of, spare cards too, by id; the whole
    /// card first.
    pub fn cards_of(&self, entry: &KeyEntry) -> impl Iterator<Item = &Kept> {
        let cards = self.index().numbered(&entry.number.key());
        let mut cards: Vec<&Kept> = cards
            .iter()
            .filter(|(range, _)| *range == entry.range)
            .filter_map(|&(_, id)| self.card(id))
            .collect();
        cards.sort_by_key(|kept| (kept.card.parent.is_some(), kept.card.id));
        cards.into_iter()
    }

    /// The name of a colour: the card's, else the key's, else the range's; empty where nobody says.
    #[must_use]
    pub fn entry_name<'a>(&'a self, entry: &'a KeyEntry) -> &'a str {
        let card = self.cards_of(entry).next().map(|kept| &kept.card.name);
        let listed = self
            .range(entry.range)
            .and_then(|range| shade(range, &entry.number))
            .map(|(_, shade)| &shade.name);
        [card, Some(&entry.name), listed]
            .into_iter()
            .flatten()
            .find(|name| !name.is_empty())
            .map_or("", |name| name.as_str())
    }

    /// What kind of thread a colour is, and how it is sold: as its card has it, else its range.
    #[must_use]
    pub fn entry_put_up(&self, entry: &KeyEntry) -> PutUp {
        let card = self.cards_of(entry).next();
        card.map_or_else(
            || self.put_up_of(entry.range),
            |kept| self.put_up(&kept.card),
        )
    }

    /// Whether a colour changes along the thread, as its card or its range says.
    #[must_use]
    pub fn entry_is_variegated(&self, entry: &KeyEntry) -> bool {
        let listed = self
            .range(entry.range)
            .and_then(|range| shade(range, &entry.number));
        listed.is_some_and(|(_, shade)| shade.variegated)
            || self
                .cards_of(entry)
                .any(|kept| self.is_variegated(&kept.card))
    }

    /// The colour itself: the card's, else the range's, else the key's.
    #[must_use]
    pub fn entry_colour(&self, entry: &KeyEntry) -> Option<Srgb> {
        let card = self.cards_of(entry).find_map(|kept| kept.card.colour);
        let listed = || {
            let range = self.range(entry.range)?;
            shade(range, &entry.number)?.1.colour
        };
        card.or_else(listed).or(entry.colour)
    }
}

/// Whether thread may be taken from a card: not from one that is missing.
pub(super) fn at_hand(kept: &Kept) -> bool {
    !matches!(kept.place.at, Whereabouts::Missing { .. })
}
