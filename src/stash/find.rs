//! Finding a colour by number, by name, or by something near.

use std::collections::BTreeMap;

use strsim::damerau_levenshtein;

use super::names::by_tag;
use super::state::{CardState, State};
use crate::model::card::TAG_SIGN;
use crate::model::ids::{CardId, RangeId};
use crate::model::label::{fold, fold_into};
use crate::model::number::{Number, natural_order};

/// How good a match is, best first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Match {
    /// The whole number, or range and number.
    Number,
    /// Range and number, one after the other, as in `Lantern 255`.
    RangeNumber,
    /// The whole name.
    Name,
    /// The number begins so.
    NumberStart,
    /// Words of the name begin so.
    WordStart,
    /// Somewhere in the number or the name.
    Inside,
    /// So many typing slips away.
    Near(usize),
}

/// A card that was found.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Found {
    /// How good the match is.
    pub how: Match,
    /// Which card.
    pub card: CardId,
}

/// A shade that a range has and the stash has not.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct NotOwned {
    /// How good the match is.
    pub how: Match,
    /// The range.
    pub range: RangeId,
    /// The number.
    pub number: Number,
}

/// What a person typed, made ready.
struct Query {
    text: String,
    words: Vec<String>,
    /// `RANGE:NUMBER`, taken apart.
    parts: Option<(String, String)>,
    /// Without spaces.
    tight: String,
}

/// Folded, without spaces.
fn tight(text: &str) -> String {
    fold(text).split_whitespace().collect()
}

impl Query {
    fn new(text: &str) -> Self {
        let text = fold(text).split_whitespace().collect::<Vec<_>>().join(" ");
        Self {
            words: text.split(' ').map(str::to_owned).collect(),
            parts: text
                .split_once(':')
                .map(|(range, number)| (fold(range), fold(number))),
            tight: tight(&text),
            text,
        }
    }

    /// What stands after a range's name: `Lantern 255`, `Lantern-255` and `lantern255` are 255 of
    /// Lantern.
    fn after(&self, range: &str) -> Option<&str> {
        let range = tight(range);
        let rest = self.tight.strip_prefix(range.as_str())?;
        let rest = rest.strip_prefix([':', '-']).unwrap_or(rest);
        (!range.is_empty() && !rest.is_empty()).then_some(rest)
    }

    fn within(&self, range: &str) -> Within<'_> {
        let full = self.parts.as_ref();
        let full = full.filter(|(named, _)| *named == fold(range));
        Within {
            full: full.map(|(_, number)| number.as_str()),
            rest: self.after(range),
        }
    }

    /// How a number and a name match, both folded, slips aside.
    fn sure(&self, within: Within<'_>, number: &str, name: &str) -> Option<Match> {
        if number == self.text || within.full.is_some_and(|full| full == number) {
            return Some(Match::Number);
        }
        let of_range = within.rest.map(|rest| (rest, tight(number)));
        if of_range.as_ref().is_some_and(|(rest, n)| rest == n) {
            return Some(Match::RangeNumber);
        }
        if name == self.text {
            return Some(Match::Name);
        }
        if number.starts_with(&self.text) || of_range.is_some_and(|(rest, n)| n.starts_with(rest)) {
            return Some(Match::NumberStart);
        }
        let begins = |asked: &String| words(name).any(|word| word.starts_with(asked));
        if self.words.iter().all(begins) {
            return Some(Match::WordStart);
        }
        (name.contains(&self.text) || number.contains(&self.text)).then_some(Match::Inside)
    }

    /// Typing slips between what was asked and a name, each asked word against its nearest word;
    /// `None` where a word is too far from every one: about one slip in three letters is the most.
    fn slips(&self, name: &str) -> Option<usize> {
        let mut total = 0;
        for asked in &self.words {
            let length = asked.chars().count();
            // A number a digit away is another number, not a slip.
            if length < 3 || asked.chars().all(|c| c.is_ascii_digit()) {
                return None;
            }
            let allowed = (length / 3).min(3);
            let letters = letters(asked);
            let whole = |word: &str| damerau_levenshtein(asked, word);
            let start = |word: &str| {
                let head: String = word.chars().take(length).collect();
                damerau_levenshtein(asked, &head) + usize::from(head.len() < word.len())
            };
            // Each letter that a word has not is a slip at least, and most words are too far by that.
            let near =
                |word: &&str| (letters & !self::letters(word)).count_ones() as usize <= allowed;
            let nearest = words(name)
                .filter(|word| !word.is_empty())
                .filter(near)
                .map(|word| whole(word).min(start(word)))
                .min()?;
            if nearest > allowed {
                return None;
            }
            total += nearest;
        }
        Some(total)
    }
}

/// The words of a name.
fn words(name: &str) -> impl Iterator<Item = &str> {
    name.split(|c: char| !c.is_alphanumeric())
}

/// Which letters a word has, a bit each; some share one.
fn letters(word: &str) -> u64 {
    word.chars()
        .fold(0, |bits, letter| bits | 1 << (u32::from(letter) % 64))
}

/// What a query asks of the cards of a range.
#[derive(Clone, Copy, Default)]
struct Within<'a> {
    /// The number, where the range is named before a colon.
    full: Option<&'a str>,
    /// What stands after the range's name.
    rest: Option<&'a str>,
}

impl State {
    /// Cards that match a text, best first, then in order of number and tag, the split cards of a card
    /// after the card itself. O(cards · length).
    #[must_use]
    pub fn find(&self, text: &str) -> Vec<Found> {
        let query = Query::new(text);
        if query.text.is_empty() {
            return Vec::new();
        }
        let within: BTreeMap<RangeId, Within<'_>> = self
            .ranges()
            .map(|range| (range.id, query.within(range.name.as_str())))
            .collect();
        let (mut number, mut name) = (String::new(), String::new());
        let sure = self.cards().filter_map(|kept| {
            let card = &kept.card;
            let sign = if card.parent.is_some() { '@' } else { TAG_SIGN };
            let by_name = (card.parent.is_some() || !card.tag.is_empty())
                && query.text.contains(sign)
                && (fold(&self.card_name(kept)) == query.text
                    || fold(&self.number_and_tag(kept)) == query.text);
            let how = if by_name {
                Some(Match::Number)
            } else {
                fold_into(card.number.as_str(), &mut number);
                fold_into(card.name.as_str(), &mut name);
                let within = within.get(&card.range).copied().unwrap_or_default();
                query.sure(within, &number, &name)
            }?;
            let card = card.id;
            Some((Found { how, card }, kept))
        });
        let mut found: Vec<(Found, &CardState)> = sure.collect();
        // A sure match makes a guess noise.
        if found.is_empty() {
            let near = self.cards().filter_map(|kept| {
                fold_into(kept.card.name.as_str(), &mut name);
                let how = Match::Near(query.slips(&name)?);
                let card = kept.card.id;
                Some((Found { how, card }, kept))
            });
            found = near.collect();
        }
        found.sort_by(|(a, x), (b, y)| {
            a.how
                .cmp(&b.how)
                .then_with(|| natural_order(x.card.number.as_str(), y.card.number.as_str()))
                .then_with(|| by_tag(self, x, y))
                .then_with(|| x.card.parent.is_some().cmp(&y.card.parent.is_some()))
                .then_with(|| a.card.cmp(&b.card))
        });
        found.into_iter().map(|(found, _)| found).collect()
    }

    /// Shades that match a text and are in a range's list but not in the stash, best first.
    #[must_use]
    pub fn find_not_owned(&self, text: &str) -> Vec<NotOwned> {
        let query = Query::new(text);
        if query.text.is_empty() {
            return Vec::new();
        }
        let mut found = Vec::new();
        let mut name = String::new();
        for range in self.ranges() {
            let within = query.within(range.name.as_str());
            for (number, shade) in &range.shades {
                let key = number.key();
                fold_into(shade.name.as_str(), &mut name);
                let how = query.sure(within, &key, &name);
                let Some(how) = how.or_else(|| query.slips(&name).map(Match::Near)) else {
                    continue;
                };
                let twins = self.index().numbered(&key);
                if !twins.iter().any(|&(owned, _)| owned == range.id) {
                    found.push(NotOwned {
                        how,
                        range: range.id,
                        number: number.clone(),
                    });
                }
            }
        }
        found.sort_by(|a, b| {
            a.how
                .cmp(&b.how)
                .then_with(|| a.range.cmp(&b.range))
                .then_with(|| a.number.cmp(&b.number))
        });
        found
    }
}

#[cfg(test)]
mod tests;
