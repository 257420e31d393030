//! Split cards: what they are called, and how one is named.
//!
//! A split card is called `NUMBER@PROJECT` after the ring it is on, or went out on last; that is what
//! stands on its temporary label. Where another split card is called so already, or a name would be
//! in doubt, `#` and its place in the record follow, which no two cards share: `310@Harbour#17`, and
//! `310@#17` where no ring is known.

use super::refusal::CardHint;
use super::state::{CardState, State};
use crate::model::ids::CardId;
use crate::model::label::fold;
use crate::model::ring::Ring;
use crate::model::whereabouts::{CardPlace, LastSeen, Whereabouts};

/// Between the number of a split card and its project.
const AT: char = '@';
/// Before what tells split cards of one name apart.
const WHICH: char = '#';

impl State {
    /// The split cards, by id. O(cards).
    pub fn split_cards(&self) -> impl Iterator<Item = &CardState> {
        self.cards().filter(|kept| kept.card.parent.is_some())
    }

    /// The split cards split from a card, by id. O(cards of its number).
    pub fn split_cards_of(&self, card: CardId) -> impl Iterator<Item = &CardState> {
        let number = self.card(card).map(|kept| kept.card.number.key());
        let alike = number.map_or(&[][..], |number| self.index().numbered(&number));
        let alike = alike.iter().filter_map(|&(_, id)| self.card(id));
        alike.filter(move |kept| kept.card.parent == Some(card))
    }

    /// The ring that a split card is named after: the one it is on or was last seen on, else the
    /// latest opened of those it went out on, open ones first.
    fn ring_of_split_card(&self, kept: &CardState) -> Option<&Ring> {
        let known = match kept.place.at {
            Whereabouts::Ring { ring }
            | Whereabouts::Missing {
                last_seen: LastSeen::Ring(ring),
            } => self.ring(ring),
            _ => None,
        };
        known.or_else(|| {
            self.rings()
                .filter(|ring| ring.went_out.contains(&kept.card.id))
                .max_by_key(|ring| (!ring.is_closed(), ring.opened, ring.id))
        })
    }

    /// What stands after the `@` in the name of a split card. No two split cards of one number and tag
    /// in one range have the same.
    #[must_use]
    pub fn split_card_tag(&self, kept: &CardState) -> String {
        let project = self.project_of(kept);
        // The first of those that would be called alike needs no more.
        let number = self.number_in_full(kept);
        let alike = self
            .index()
            .numbered(&kept.card.number.key())
            .iter()
            .filter(|&&(range, id)| range == kept.card.range && id < kept.card.id)
            .filter_map(|&(_, id)| self.card(id))
            .filter(|other| other.card.parent.is_some() && self.tag(other) == self.tag(kept))
            .any(|other| fold(self.project_of(other)) == fold(project));
        let plain = format!("{number}{AT}{project}");
        let in_doubt = project.is_empty()
            || alike
            || plain.contains(WHICH)
            || number.contains(AT)
            || !self.whole_cards(&plain).is_empty();
        if !in_doubt {
            return project.to_owned();
        }
        let mut tag = format!("{project}{WHICH}{}", kept.card.id.0);
        while !self.whole_cards(&format!("{number}{AT}{tag}")).is_empty() {
            tag.push_str(&format!("{WHICH}{}", kept.card.id.0));
        }
        tag
    }

    fn project_of(&self, split_card: &CardState) -> &str {
        self.ring_of_split_card(split_card)
            .map_or("", |ring| ring.project.as_str())
    }

    /// The name of a split card.
    pub(super) fn split_card_name(&self, kept: &CardState) -> String {
        format!(
            "{}{AT}{}",
            self.number_in_full(kept),
            self.split_card_tag(kept)
        )
    }

    /// The split cards that a person may mean by a name with an `@`: the one that is called so, else
    /// those that were or could be. O(cards).
    pub(super) fn split_cards_called(&self, name: &str) -> Vec<&CardState> {
        let asked = folded(name);
        if !asked.contains(AT) {
            return Vec::new();
        }
        let split_cards: Vec<&CardState> = self.split_cards().collect();
        let exact = |kept: &&&CardState| folded(&self.split_card_name(kept)) == asked;
        if let Some(&one) = split_cards.iter().find(exact) {
            return vec![one];
        }
        let could = |kept: &&CardState| {
            let number = &*self.number_and_tag(kept);
            let full = format!("{}:{number}", self.range_name(kept));
            let which = format!("{WHICH}{}", kept.card.id.0);
            let project = self.project_of(kept);
            let went_out = self
                .rings()
                .filter(|ring| ring.went_out.contains(&kept.card.id));
            let projects = went_out.map(|ring| ring.project.to_string());
            let tags = projects.chain([
                which.clone(),
                format!("{project}{which}"),
                project.to_owned(),
            ]);
            tags.filter(|tag| !tag.is_empty()).any(|tag| {
                [number, &full]
                    .iter()
                    .any(|number| folded(&format!("{number}{AT}{tag}")) == asked)
            })
        };
        split_cards.into_iter().filter(could).collect()
    }

    /// The split card of a number in a range that has a tag, capitals aside; see
    /// [`State::split_card_tag`].
    #[must_use]
    pub(super) fn split_card_tagged<'a>(
        &'a self,
        split_cards: impl Iterator<Item = &'a CardState>,
        tag: &str,
    ) -> Option<&'a CardState> {
        let split_cards: Vec<&CardState> = split_cards
            .filter(|kept| kept.card.parent.is_some())
            .collect();
        let exact = |kept: &&&CardState| fold(&self.split_card_tag(kept)) == fold(tag);
        let by_id = |kept: &&&CardState| {
            let which = format!("{}{WHICH}{}", self.project_of(kept), kept.card.id.0);
            fold(&which) == fold(tag)
        };
        let found = split_cards.iter().find(exact);
        found.or_else(|| split_cards.iter().find(by_id)).copied()
    }

    /// The split cards of the number in a name with an `@`.
    pub(super) fn split_cards_hint(&self, name: &str) -> Option<CardHint> {
        let (number, _) = name.rsplit_once(AT)?;
        let whole = self.whole_cards(number);
        let [whole] = whole.as_slice() else {
            return None;
        };
        let split_cards = self.split_cards_of(whole.card.id);
        Some(CardHint::SplitCards {
            card: self.card_name(whole),
            split_cards: split_cards.map(|kept| self.card_name(kept)).collect(),
        })
    }

    /// The card onto which a split card's thread is wound when it is put away: the one it was split
    /// from. A card that is no split card is its own.
    ///
    /// # Errors
    /// When that card is neither at hand nor on the ring the split card is on: the card, and where it
    /// is.
    pub fn rejoins<'a>(
        &'a self,
        split_card: &'a CardState,
    ) -> Result<&'a CardState, (&'a CardState, CardPlace)> {
        // A law keeps the card a split card speaks of.
        let whole = split_card.card.parent.and_then(|parent| self.card(parent));
        let whole = whole.unwrap_or(split_card);
        let ring = split_card.place.at.ring();
        if whole.place.at.is_at_hand() || (ring.is_some() && whole.place.at.ring() == ring) {
            return Ok(whole);
        }
        Err((whole, self.place_of(whole)))
    }
}

/// Lower case, without spaces around the `@`.
fn folded(name: &str) -> String {
    let name = fold(name);
    match name.split_once(AT) {
        Some((number, tag)) => format!("{}{AT}{}", number.trim(), tag.trim()),
        None => name,
    }
}

#[cfg(test)]
mod tests;
