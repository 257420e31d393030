//! Matching colours, from a conversion list between ranges. A match holds in both directions.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::ids::RangeId;
use super::ring::ColourRef;

/// Two colours that match.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(try_from = "[ColourRef; 2]", into = "[ColourRef; 2]")]
pub struct ColourMatch([ColourRef; 2]);

/// A colour can't match itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("matches_itself")]
pub struct MatchesItself;

/// The identity of a colour: its range, and its number in lower case.
type Key = (RangeId, String);

fn key(colour: &ColourRef) -> Key {
    (colour.range, colour.number.key())
}

impl ColourMatch {
    /// A match of two colours, in either order.
    ///
    /// # Errors
    /// When both colours are the same.
    pub fn new(one: ColourRef, other: ColourRef) -> Result<Self, MatchesItself> {
        match key(&one).cmp(&key(&other)) {
            std::cmp::Ordering::Less => Ok(Self([one, other])),
            std::cmp::Ordering::Equal => Err(MatchesItself),
            std::cmp::Ordering::Greater => Ok(Self([other, one])),
        }
    }

    /// The two colours, in an order that doesn't depend on how the match was made.
    #[must_use]
    pub const fn colours(&self) -> &[ColourRef; 2] {
        &self.0
    }
}

impl PartialEq for ColourMatch {
    /// Compares the case of the numbers, too.
    fn eq(&self, other: &Self) -> bool {
        let mut pairs = self.0.iter().zip(&other.0);
        pairs.all(|(one, other)| one.is_written_like(other))
    }
}

impl Eq for ColourMatch {}

impl TryFrom<[ColourRef; 2]> for ColourMatch {
    type Error = MatchesItself;

    fn try_from([one, other]: [ColourRef; 2]) -> Result<Self, MatchesItself> {
        Self::new(one, other)
    }
}

impl From<ColourMatch> for [ColourRef; 2] {
    fn from(of: ColourMatch) -> Self {
        of.0
    }
}

/// All matches. Each is listed once, and can be looked up by either colour.
#[derive(Clone, Default, Debug)]
pub struct Matches {
    /// The matches of each colour, sorted. Each match is stored under both colours.
    by_colour: BTreeMap<Key, Vec<ColourRef>>,
    count: usize,
}

impl Matches {
    /// How many matches there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.count
    }

    /// Whether there are none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// The matches of a colour, by range and number. O(log matches).
    #[must_use]
    pub fn of(&self, colour: &ColourRef) -> &[ColourRef] {
        self.by_key(&key(colour))
    }

    fn by_key(&self, key: &Key) -> &[ColourRef] {
        self.by_colour.get(key).map_or(&[], Vec::as_slice)
    }

    /// Every match once, by range and number of its first colour. O(matches · log matches).
    pub fn iter(&self) -> impl Iterator<Item = ColourMatch> {
        self.by_colour.iter().flat_map(move |(own, others)| {
            let later = others.iter().filter(move |other| *own < key(other));
            later.filter_map(move |other| self.between(own, &key(other)))
        })
    }

    /// Every colour that has a match. A colour with several matches comes several times.
    pub fn colours(&self) -> impl Iterator<Item = &ColourRef> {
        self.by_colour.values().flatten()
    }

    /// The match of two colours as it is stored, ignoring the case of their numbers.
    #[must_use]
    pub fn find(&self, of: &ColourMatch) -> Option<ColourMatch> {
        let [one, other] = of.colours();
        self.between(&key(one), &key(other))
    }

    fn between(&self, one: &Key, other: &Key) -> Option<ColourMatch> {
        let among = |from: &Key, to: &Key| {
            let mut colours = self.by_key(from).iter();
            colours.find(|colour| key(colour) == *to).cloned()
        };
        Some(ColourMatch([among(other, one)?, among(one, other)?]))
    }

    /// Adds a match, replacing one that differs only in case.
    pub fn insert(&mut self, of: &ColourMatch) {
        self.remove(of);
        let [one, other] = of.colours();
        for (from, to) in [(one, other), (other, one)] {
            let list = self.by_colour.entry(key(from)).or_default();
            let at = list.partition_point(|known| known < to);
            list.insert(at, to.clone());
        }
        self.count += 1;
    }

    /// Removes a match, ignoring the case of its numbers.
    pub fn remove(&mut self, of: &ColourMatch) {
        if self.find(of).is_none() {
            return;
        }
        let [one, other] = of.colours();
        for (from, to) in [(one, other), (other, one)] {
            let key = key(from);
            if let Some(list) = self.by_colour.get_mut(&key) {
                list.retain(|known| known != to);
                if list.is_empty() {
                    self.by_colour.remove(&key);
                }
            }
        }
        self.count -= 1;
    }
}

impl PartialEq for Matches {
    fn eq(&self, other: &Self) -> bool {
        self.count == other.count && self.iter().eq(other.iter())
    }
}

impl Eq for Matches {}

impl FromIterator<ColourMatch> for Matches {
    fn from_iter<I: IntoIterator<Item = ColourMatch>>(all: I) -> Self {
        let mut matches = Self::default();
        for of in all {
            matches.insert(&of);
        }
        matches
    }
}

impl Serialize for Matches {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(self.iter())
    }
}

impl<'de> Deserialize<'de> for Matches {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Ok(Vec::<ColourMatch>::deserialize(from)?.into_iter().collect())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::model::number::Number;

    fn colour(range: u64, number: &str) -> ColourRef {
        ColourRef::new(RangeId(range), Number::new(number).unwrap())
    }

    fn pair(a: (u64, &str), b: (u64, &str)) -> ColourMatch {
        ColourMatch::new(colour(a.0, a.1), colour(b.0, b.1)).unwrap()
    }

    #[test]
    fn a_match_is_found_from_both_colours_and_counts_once() {
        let mut matches = Matches::default();
        matches.insert(&pair((1, "9"), (2, "B5")));
        matches.insert(&pair((2, "B5"), (1, "9")));
        matches.insert(&pair((1, "10"), (2, "b5")));
        assert_eq!(matches.len(), 2);
        assert_eq!(matches.of(&colour(1, "9")), [colour(2, "B5")]);
        let both = [colour(1, "9"), colour(1, "10")];
        assert_eq!(matches.of(&colour(2, "b5")), both);
        assert_eq!(matches.of(&colour(2, "9")), []);
        matches.remove(&pair((2, "B5"), (1, "10")));
        matches.remove(&pair((2, "B5"), (1, "10")));
        assert_eq!(matches.len(), 1);
    }

    #[test]
    fn a_colour_that_matches_itself_is_refused_everywhere() {
        let [one, other] = [colour(1, "b5"), colour(1, "B5")];
        assert_eq!(ColourMatch::new(one, other), Err(MatchesItself));
        let text = |b: &str| {
            format!(
                r#"[{{"range":"0000000000000001","number":"b5"}},{{"range":"0000000000000001","number":"{b}"}}]"#
            )
        };
        assert!(serde_json::from_str::<ColourMatch>(&text("B5")).is_err());
        assert!(serde_json::from_str::<ColourMatch>(&text("B6")).is_ok());
    }

    #[test]
    fn a_match_in_other_case_replaces_the_earlier_one() {
        let mut matches = Matches::default();
        let (small, capital) = (pair((1, "b5"), (2, "9")), pair((1, "B5"), (2, "9")));
        matches.insert(&small);
        let before = matches.clone();
        matches.insert(&capital);
        assert_ne!(matches, before);
        assert_eq!(matches.find(&small), Some(capital));
        matches.insert(&small);
        assert_eq!(matches, before);
    }

    fn any_pair() -> impl Strategy<Value = Option<ColourMatch>> {
        let numbers = prop::sample::select(&["1", "9", "10", "b5", "B5"][..]);
        let colour = (1..3u64, numbers).prop_map(|(range, number)| colour(range, number));
        (colour.clone(), colour).prop_map(|(a, b)| ColourMatch::new(a, b).ok())
    }

    fn same(a: &ColourMatch, b: &ColourMatch) -> bool {
        a.colours() == b.colours()
    }

    proptest! {
        /// Compares with a plain list of pairs, searched from end to end.
        #[test]
        fn matches_agree_with_a_plain_list(
            steps in prop::collection::vec((any::<bool>(), any_pair()), 0..40)
        ) {
            let mut matches = Matches::default();
            let mut plain: Vec<ColourMatch> = Vec::new();
            for (adds, of) in steps.into_iter().filter_map(|(adds, of)| Some((adds, of?))) {
                plain.retain(|known| !same(known, &of));
                if adds {
                    matches.insert(&of);
                    plain.push(of);
                } else {
                    matches.remove(&of);
                }
            }
            prop_assert_eq!(matches.len(), plain.len());
            prop_assert_eq!(matches.iter().count(), plain.len());
            for of in &plain {
                prop_assert_eq!(matches.find(of), Some(of.clone()));
            }
            for range in 1..3 {
                for number in ["1", "9", "10", "b5", "B5"] {
                    let asked = colour(range, number);
                    let other = |of: &ColourMatch| match of.colours() {
                        [a, b] if *a == asked => Some(b.clone()),
                        [a, b] if *b == asked => Some(a.clone()),
                        _ => None,
                    };
                    let mut expected: Vec<ColourRef> = plain.iter().filter_map(other).collect();
                    expected.sort();
                    prop_assert_eq!(matches.of(&asked), expected);
                }
            }
            let json = serde_json::to_string(&matches).unwrap();
            prop_assert_eq!(serde_json::from_str::<Matches>(&json).unwrap(), matches);
        }
    }
}
