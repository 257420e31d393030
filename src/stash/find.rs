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
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stash::command::import::{self, RangeRow};
    use crate::stash::testing::{add_cards, apply, wall};

    fn stash() -> State {
        let mut state = wall(1, 1, 1);
        add_cards(
            &mut state,
            &[
                "Hill:310 lamp black",
                "Hill:31 black cherry",
                "Hill:3105 river stone",
                "Mill:310 deep river",
                "Mill:B:5 moss-green",
            ],
        );
        let shade = |line, number: &str, name: &str| RangeRow {
            line,
            number: number.into(),
            name: name.into(),
            colour: None,
            family: None,
        };
        let list = [shade(2, "310", "lamp black"), shade(3, "B40", "lamp oil")];
        let event = import::range(&state, &list, Vec::new(), "Hill")
            .unwrap()
            .event;
        apply(&mut state, &event.unwrap());
        state
    }

    fn found(text: &str) -> Vec<(String, Match)> {
        let state = stash();
        let name = |found: Found| state.card_name(state.card(found.card).unwrap());
        let found = state.find(text).into_iter();
        found.map(|found| (name(found), found.how)).collect()
    }

    fn is(found: &[(String, Match)], expected: &[(&str, Match)]) -> bool {
        let found = found.iter().map(|(name, how)| (name.as_str(), *how));
        found.eq(expected.iter().copied())
    }

    #[test]
    fn the_number_itself_comes_before_numbers_that_begin_so() {
        let all = found(" 310 ");
        assert!(
            is(
                &all,
                &[
                    ("Hill:310", Match::Number),
                    ("Mill:310", Match::Number),
                    ("3105", Match::NumberStart),
                ]
            ),
            "{all:?}"
        );
        assert_eq!(found("31")[0], ("31".to_owned(), Match::Number));
    }

    #[test]
    fn a_range_and_a_number_name_one_card() {
        for (text, card) in [
            ("mill:310", "Mill:310"),
            ("MILL : 310", "Mill:310"),
            ("Mill:B:5", "B:5"),
            ("b:5", "B:5"),
        ] {
            let all = found(text);
            assert!(is(&all, &[(card, Match::Number)]), "{text}: {all:?}");
        }
    }

    #[test]
    fn a_range_s_name_may_stand_before_the_number() {
        for text in ["Mill 310", "mill310", " MILL  310", "mill-310", "mill:3 10"] {
            let all = found(text);
            assert!(
                is(&all, &[("Mill:310", Match::RangeNumber)]),
                "{text}: {all:?}"
            );
        }
        let all = found("hill 31");
        assert!(
            is(
                &all,
                &[
                    ("31", Match::RangeNumber),
                    ("Hill:310", Match::NumberStart),
                    ("3105", Match::NumberStart),
                ]
            ),
            "{all:?}"
        );
        assert!(found("hill 9").is_empty());
    }

    proptest! {
        /// However it is written, range and number are that card, before all others.
        #[test]
        fn range_and_number_in_one_find_that_card_first(
            names in prop::collection::btree_set("(Hill|Hills|Moor):[1-9][0-9]{0,2}", 1..12),
            between in prop::sample::select(vec!["", " ", "-", ":", "  "]),
            capitals: bool,
        ) {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let mut state = wall(1, 1, 1);
            add_cards(&mut state, &names);
            for name in names {
                let (range, number) = name.split_once(':').unwrap();
                let mut text = format!("{range}{between}{number}");
                if capitals {
                    text = text.to_uppercase();
                }
                let best = state.card(state.find(&text)[0].card).unwrap();
                prop_assert_eq!(
                    (state.range_name(best), best.card.number.as_str()),
                    (range, number)
                );
            }
        }
    }

    #[test]
    fn words_are_found_by_how_they_begin_in_any_order() {
        let all = found("bl lam");
        assert!(is(&all, &[("Hill:310", Match::WordStart)]), "{all:?}");
        let all = found("Lamp  Black");
        assert!(is(&all, &[("Hill:310", Match::Name)]), "{all:?}");
        let all = found("green");
        assert!(is(&all, &[("B:5", Match::WordStart)]), "{all:?}");
        let all = found("tone");
        assert!(is(&all, &[("3105", Match::Inside)]), "{all:?}");
    }

    #[test]
    fn a_typing_slip_is_forgiven_where_nothing_matches() {
        for (text, slips) in [("rievr", 1), ("cherrry", 1), ("chery", 1), ("cehry", 2)] {
            let all = found(text);
            if text == "cehry" {
                // Two slips in five letters are another word.
                assert!(all.is_empty(), "{all:?}");
            } else {
                assert!(!all.is_empty(), "{text}");
                assert!(
                    all.iter().all(|(_, how)| *how == Match::Near(slips)),
                    "{all:?}"
                );
            }
        }
    }

    proptest! {
        /// Words are passed over by their letters alone, so none may be that is near.
        #[test]
        fn letters_that_are_not_there_are_never_more_than_slips(
            asked in "[a-eé\u{3b1}]{0,6}", word in "[a-eé\u{3b1}]{0,8}",
        ) {
            let missing = (letters(&asked) & !letters(&word)).count_ones() as usize;
            prop_assert!(missing <= damerau_levenshtein(&asked, &word));
        }

        #[test]
        fn folding_in_place_is_folding(before in ".{0,4}", text in "[ a-zA-ZÄÖΣ\u{130}ß]{0,8}") {
            let mut folded = before;
            fold_into(&text, &mut folded);
            prop_assert_eq!(folded, fold(&text));
        }
    }

    #[test]
    fn a_number_a_digit_off_is_no_match() {
        for text in ["311", "3015", "320", "", "  "] {
            assert!(found(text).is_empty(), "{text}");
        }
    }

    #[test]
    fn a_shade_that_is_not_owned_is_told_apart() {
        let state = stash();
        let not_owned = |text| {
            let found = state.find_not_owned(text).into_iter();
            found
                .map(|n| (n.number.as_str().to_owned(), n.how))
                .collect::<Vec<_>>()
        };
        assert_eq!(not_owned("lamp"), [("B40".to_owned(), Match::WordStart)]);
        assert_eq!(not_owned("hill:b40"), [("B40".to_owned(), Match::Number)]);
        assert_eq!(not_owned("310"), []);
        assert_eq!(not_owned(""), []);
    }

    #[test]
    fn a_tagged_card_is_found_by_its_name_and_after_the_card_without_a_tag() {
        let mut state = crate::stash::testing::wall(1, 1, 1);
        crate::stash::testing::add_cards(&mut state, &["Hill:310", "Hill:311"]);
        let mut row = crate::stash::testing::row("Hill:310");
        row.tag = Some("K7".into());
        let at = crate::stash::testing::at(1);
        let event = crate::stash::command::card::new_card(&state, row, at).unwrap();
        crate::stash::testing::apply(&mut state, &event);
        let names = |text: &str| -> Vec<String> {
            let found = state.find(text).into_iter();
            let kept = found.filter_map(|found| state.card(found.card));
            kept.map(|kept| state.card_name(kept)).collect()
        };
        assert_eq!(names("310/k7"), ["310/K7"]);
        assert_eq!(names("310"), ["310", "310/K7"]);
    }
}
