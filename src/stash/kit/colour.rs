//! The colours a key speaks of, as the stash knows them.

use crate::model::colour::Srgb;
use crate::model::range::{PutUp, Shade};
use crate::model::ring::{ColourRef, KeyThread};
use crate::model::whereabouts::Whereabouts;
use crate::stash::order::by_tag;
use crate::stash::shade::shade;
use crate::stash::state::{CardState, State};

impl State {
    /// The cards of a colour, split cards too: whole cards first, each kind by tag and id, so that the
    /// card without a tag comes first of all.
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

    fn shade_of(&self, colour: &ColourRef) -> Option<&Shade> {
        let range = self.range(colour.range)?;
        shade(range, &colour.number).map(|(_, shade)| shade)
    }

    /// The name of the colour that a thread is stitched in: the card's, else the key's, else the
    /// range's; empty where nobody says.
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

    /// What kind of thread a colour is, and how it is sold: as its card has it, else its range.
    #[must_use]
    pub fn colour_put_up(&self, colour: &ColourRef) -> PutUp {
        let card = self.cards_of(colour).next();
        card.map_or_else(
            || self.put_up_of(colour.range),
            |kept| self.put_up(&kept.card),
        )
    }

    /// Whether a colour changes along the thread, as one of its cards or its range says.
    #[must_use]
    pub fn colour_is_variegated(&self, colour: &ColourRef) -> bool {
        self.shade_of(colour).is_some_and(|shade| shade.variegated)
            || self
                .cards_of(colour)
                .any(|kept| self.is_variegated(&kept.card))
    }

    /// What the colour that a thread is stitched in looks like: the card's, else the range's, else
    /// the key's.
    #[must_use]
    pub fn thread_colour(&self, thread: &KeyThread) -> Option<Srgb> {
        let colour = thread.stitched();
        let card = self.cards_of(colour).find_map(|kept| kept.card.colour);
        let in_key = thread.hex.filter(|_| thread.stitched_with.is_none());
        card.or_else(|| self.shade_of(colour)?.colour).or(in_key)
    }
}

/// Whether thread may be taken from a card: not from one that is missing.
pub(super) fn at_hand(kept: &CardState) -> bool {
    !matches!(kept.place.at, Whereabouts::Missing { .. })
}
