//! Finding a colour by number, name, hook or other details, or by something similar.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use strsim::damerau_levenshtein;
use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

use super::names::by_tag;
use super::state::{CardState, State};
use crate::model::board::HookRef;
use crate::model::card::TAG_SIGN;
use crate::model::ids::{CardId, FamilyId, RangeId, RingId};
use crate::model::label::{self, Label};
use crate::model::number::{Number, natural_order};
use crate::model::ring::{ColourRef, Ring};

/// The key for finding a text: trimmed, in lower case and without accents, so that `gru` begins `Grün`.
pub(super) fn fold(text: &str) -> String {
    let text = label::fold(text);
    if text.is_ascii() {
        return text;
    }
    text.nfd().filter(|&c| !is_combining_mark(c)).collect()
}

/// Like [`fold`], but overwrites `folded` and reuses its allocation.
fn fold_into(text: &str, folded: &mut String) {
    folded.clear();
    if text.is_ascii() {
        folded.push_str(text.trim());
        folded.make_ascii_lowercase();
    } else {
        folded.push_str(&fold(text));
    }
}

/// The quality of a match, best first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Match {
    /// The whole number, or range and number.
    Number,
    /// Range and number, one after the other, as in `Lantern 255`.
    RangeNumber,
    /// The hook that it hangs on or belongs on.
    Hook,
    /// The whole name.
    Name,
    /// The number begins with it.
    NumberStart,
    /// Words of the name begin with it.
    WordStart,
    /// Somewhere in the number or the name.
    Inside,
    /// Words of its number, its name and another detail begin with it.
    Detail(Detail),
    /// This many typing slips away.
    Near(usize),
}

/// Other details that a card is found by.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Detail {
    /// The name of its family.
    Family,
    /// The project whose ring it is on, or whose chart key has its colour.
    Project,
    /// A dye lot of its thread.
    Lot,
    /// Its note.
    Note,
    /// The name of its range.
    Range,
}

/// A card found by a search.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Found {
    /// The quality of the match.
    pub how: Match,
    /// Which card.
    pub card: CardId,
}

/// A colour in a range list, a chart key or a conversion list that has no card in the stash.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct NotOwned {
    /// The quality of the match.
    pub how: Match,
    /// The range.
    pub range: RangeId,
    /// The number.
    pub number: Number,
    /// Its name; may be empty.
    pub name: Label,
    /// The open projects whose chart key has it, in the order they were opened.
    pub needed_by: Vec<RingId>,
    /// The cards that match it in the user's conversion lists, by range and number.
    pub matches: Vec<CardId>,
}

/// The most similar numbers to list.
const MOST_NEAR: usize = 12;

/// A prepared search text.
struct Query {
    text: String,
    words: Vec<String>,
    /// The two parts of `RANGE:NUMBER`.
    parts: Option<(String, String)>,
    /// The text without spaces.
    tight: String,
}

/// Folds a text and removes its spaces.
fn tight(text: &str) -> String {
    fold(text).split_whitespace().collect()
}

/// A word without a leading `#`.
fn bare(word: &str) -> String {
    word.strip_prefix('#').unwrap_or(word).to_owned()
}

/// Replaces each letter O by `0` in words of digits and that letter. The first `kept` letters of a
/// word, such as the row of a hook, may be any and stay.
fn with_zeros(text: &str, kept: usize) -> String {
    let zeros = |word: &str| {
        let (head, tail) = word.split_at_checked(kept).unwrap_or((word, ""));
        let is_number = tail.chars().any(|c| c.is_ascii_digit())
            && tail.chars().all(|c| c.is_ascii_digit() || c == 'o');
        if is_number {
            format!("{head}{}", tail.replace('o', "0"))
        } else {
            word.to_owned()
        }
    };
    text.split(' ').map(zeros).collect::<Vec<_>>().join(" ")
}

impl Query {
    /// A `#` before a number is ignored.
    fn new(text: &str) -> Self {
        let words: Vec<String> = fold(text).split_whitespace().map(bare).collect();
        let text = words.join(" ").trim().to_owned();
        Self {
            words: text.split(' ').map(str::to_owned).collect(),
            parts: text
                .split_once(':')
                .map(|(range, number)| (fold(range), fold(number))),
            tight: tight(&text),
            text,
        }
    }

    /// The same query with `0` for each letter O among digits, because the two are easily confused.
    /// `None` if there is no such letter.
    fn with_zeros(&self) -> Option<Self> {
        let text = with_zeros(&with_zeros(&self.text, 0), 1);
        (text != self.text).then(|| Self::new(&text))
    }

    /// A bit for each query word that some word of the text begins with.
    fn mask(&self, text: &str) -> u64 {
        // 'blues' also means the family 'blue'; the reverse is covered by the prefix.
        let one = |asked: &str| {
            asked
                .strip_suffix('s')
                .filter(|one| one.len() > 2)
                .map(str::to_owned)
        };
        let begins = |asked: &String| {
            let one = one(asked);
            words(text).any(|word| {
                word.starts_with(asked.as_str()) || one.as_deref().is_some_and(|one| word == one)
            })
        };
        self.bits(begins)
    }

    /// A bit for each query word that fulfils a condition. Words after the 64th are ignored.
    fn bits(&self, is_so: impl Fn(&String) -> bool) -> u64 {
        let words = self.words.iter().zip(0..u64::BITS);
        words.fold(0, |bits, (word, at)| bits | u64::from(is_so(word)) << at)
    }

    /// The text after a range's name: `Lantern 255`, `Lantern-255` and `lantern255` are 255 of
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

    /// How a number and a name match, both folded, without typing slips.
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

    /// Typing slips between the query and a name, each query word against its nearest word. `None`
    /// if a word is too far from all: at most about one slip in three letters is allowed.
    fn slips(&self, name: &str) -> Option<usize> {
        let mut total = 0;
        for asked in &self.words {
            let length = asked.chars().count();
            // A number one digit off is another number, not a slip.
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
            // Each letter that a word lacks is at least one slip, which rules most words out.
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

/// A bit for each letter of a word; some letters share one.
fn letters(word: &str) -> u64 {
    word.chars()
        .fold(0, |bits, letter| bits | 1 << (u32::from(letter) % 64))
}

/// What a query asks for within a range.
#[derive(Clone, Copy, Default)]
struct Within<'a> {
    /// The number, if the range comes before a colon.
    full: Option<&'a str>,
    /// The text after the range's name.
    rest: Option<&'a str>,
}

/// Which query words match other details of the cards. Only details with some of the words are
/// kept, so most cards need no lookup.
struct Details {
    /// A bit for each word.
    all: u64,
    /// The words made of digits only, which aren't searched for in names.
    numbers: u64,
    families: BTreeMap<FamilyId, u64>,
    ranges: BTreeMap<RangeId, u64>,
    projects: BTreeMap<CardId, u64>,
}

impl Details {
    /// O(families + ranges + rings + colours and cards of the rings with some of the words).
    fn new(state: &State, query: &Query) -> Self {
        let of = |text: &str| query.mask(&fold(text));
        let some = |bits: &u64| *bits != 0;
        let families = state.families().iter();
        let families = families.map(|family| (family.id, of(family.name.as_str())));
        let ranges = state
            .ranges()
            .map(|range| (range.id, of(range.name.as_str())));
        let mut projects: BTreeMap<CardId, u64> = BTreeMap::new();
        for ring in state.rings().filter(|ring| !ring.is_closed()) {
            let bits = of(ring.project.as_str());
            if bits == 0 {
                continue;
            }
            let stitched = ring.threads().flat_map(|of| state.cards_of(of.stitched()));
            for kept in state.cards_on(ring).chain(stitched) {
                *projects.entry(kept.card.id).or_default() |= bits;
            }
        }
        Self {
            all: query.bits(|_| true),
            numbers: query.bits(|word| word.chars().all(|c| c.is_ascii_digit())),
            families: families.filter(|(_, bits)| some(bits)).collect(),
            ranges: ranges.filter(|(_, bits)| some(bits)).collect(),
            projects,
        }
    }

    /// If a card has every query word in its number, its name or its other details: the first of
    /// these details that was needed. Number and name are folded.
    fn of(
        &self,
        state: &State,
        query: &Query,
        kept: &CardState,
        named: (&str, &str),
    ) -> Option<Detail> {
        let card = &kept.card;
        let family = || self.families.get(&state.family_of(kept)?).copied();
        let lots = || {
            let lots = kept.thread.noted_lots();
            lots.fold(0, |bits, lot| bits | query.mask(&fold(lot.as_str())))
        };
        let note = || query.mask(&fold(card.note.as_str()));
        let known = [
            (
                Detail::Family,
                if self.families.is_empty() {
                    0
                } else {
                    family().unwrap_or(0)
                },
            ),
            (
                Detail::Project,
                self.projects.get(&card.id).copied().unwrap_or(0),
            ),
            (Detail::Lot, lots()),
            (Detail::Note, if card.note.is_empty() { 0 } else { note() }),
            (
                Detail::Range,
                self.ranges.get(&card.range).copied().unwrap_or(0),
            ),
        ];
        if known.iter().all(|(_, bits)| *bits == 0) {
            return None;
        }
        let (number, name) = named;
        let mut have = query.bits(|word| number.starts_with(word.as_str()));
        let details = known.iter().fold(have, |bits, (_, more)| bits | more);
        let missing = self.all & !details;
        if missing & self.numbers != 0 {
            return None;
        }
        // Names are the most expensive to check.
        if missing != 0 || self.all.count_ones() > 1 {
            have |= query.mask(name);
        }
        let mut first = None;
        for (detail, bits) in known {
            if bits & !have != 0 {
                first = first.or(Some(detail));
                have |= bits;
            }
        }
        first.filter(|_| have == self.all)
    }
}

impl State {
    /// Cards that match a text, best first, then in order of number and tag, with the split cards
    /// of a card after the card itself. O(cards · length).
    #[must_use]
    pub fn find(&self, text: &str) -> Vec<Found> {
        let query = Query::new(text);
        if query.text.is_empty() {
            return Vec::new();
        }
        let mut found = self.find_sure(&query);
        if found.is_empty()
            && let Some(zeros) = query.with_zeros()
        {
            found = self.find_sure(&zeros);
        }
        // With a sure match, guesses are noise.
        if found.is_empty() {
            let mut name = String::new();
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

    /// The cards that match without typing slips. Other details than number and name count only if
    /// the text isn't a number, hook or whole name.
    fn find_sure(&self, query: &Query) -> Vec<(Found, &CardState)> {
        let within: BTreeMap<RangeId, Within<'_>> = self
            .ranges()
            .map(|range| (range.id, query.within(range.name.as_str())))
            .collect();
        let hook = self.hook_meant(&query.text);
        let details = Details::new(self, query);
        let (mut number, mut name) = (String::new(), String::new());
        let mut exact = false;
        let sure = self.cards().filter_map(|kept| {
            let card = &kept.card;
            let sign = if card.parent.is_some() { '@' } else { TAG_SIGN };
            let by_name = (card.parent.is_some() || !card.tag.is_empty())
                && query.text.contains(sign)
                && (fold(&self.card_name(kept)) == query.text
                    || fold(&self.number_and_tag(kept)) == query.text);
            let there = hook.is_some() && (kept.home == hook || kept.place.at.hook() == hook);
            let how = if by_name {
                Match::Number
            } else {
                fold_into(card.number.as_str(), &mut number);
                fold_into(card.name.as_str(), &mut name);
                let within = within.get(&card.range).copied().unwrap_or_default();
                let sure = query.sure(within, &number, &name);
                let sure = sure.into_iter().chain(there.then_some(Match::Hook)).min();
                sure.or_else(|| {
                    let detail = details.of(self, query, kept, (&number, &name));
                    detail.map(Match::Detail)
                })?
            };
            exact |= how <= Match::Name;
            let card = card.id;
            Some((Found { how, card }, kept))
        });
        let mut found: Vec<(Found, &CardState)> = sure.collect();
        if exact {
            found.retain(|(found, _)| !matches!(found.how, Match::Detail(_)));
        }
        found
    }

    /// The hook that a text names. If there is none, each letter O counts as 0.
    #[must_use]
    pub fn hook_meant(&self, text: &str) -> Option<HookRef> {
        let text = fold(text);
        // A number alone isn't a hook, and neither are most texts.
        if !text.chars().any(|c| c.is_ascii_digit()) || text.len() > 24 {
            return None;
        }
        let find = |text: &str| self.boards().find_map(|board| board.find_hook(text));
        let zeros = |kept| find(&with_zeros(&text, kept));
        find(&text).or_else(|| zeros(0)).or_else(|| zeros(1))
    }

    /// Whole cards whose number is one slip from the text: one character wrong, missing or extra,
    /// or two swapped. The nearest by value first. O(cards).
    #[must_use]
    pub fn near_numbers(&self, text: &str) -> Vec<CardId> {
        let query = Query::new(text);
        let asked = query.with_zeros().map_or(query.text, |query| query.text);
        if asked.len() < 2 || asked.len() > 12 || !asked.chars().any(|c| c.is_ascii_digit()) {
            return Vec::new();
        }
        let value = |text: &str| text.parse::<u64>().unwrap_or(u64::MAX);
        let mut number = String::new();
        let whole = self.cards().filter(|kept| kept.card.parent.is_none());
        let mut near: Vec<(u64, &CardState)> = whole
            .filter_map(|kept| {
                fold_into(kept.card.number.as_str(), &mut number);
                let is_near = number.len().abs_diff(asked.len()) <= 1
                    && damerau_levenshtein(&asked, &number) == 1;
                is_near.then(|| (value(&number).abs_diff(value(&asked)), kept))
            })
            .collect();
        near.sort_by(|(a, x), (b, y)| {
            let numbers = || natural_order(x.card.number.as_str(), y.card.number.as_str());
            a.cmp(b).then_with(numbers)
        });
        near.truncate(MOST_NEAR);
        near.into_iter().map(|(_, kept)| kept.card.id).collect()
    }

    /// Colours that match a text and are in a range list, in the chart key of an open project or in
    /// a conversion list, but not in the stash. Those of a chart key come first, then the best
    /// matches. O(shades + colours of chart keys + matches + those found · colours of chart keys).
    #[must_use]
    pub fn find_not_owned(&self, text: &str) -> Vec<NotOwned> {
        let query = Query::new(text);
        if query.text.is_empty() {
            return Vec::new();
        }
        let found = self.not_owned(&query);
        match query.with_zeros() {
            Some(zeros) if found.is_empty() => self.not_owned(&zeros),
            _ => found,
        }
    }

    fn not_owned(&self, query: &Query) -> Vec<NotOwned> {
        let open: Vec<&Ring> = self.rings().filter(|ring| !ring.is_closed()).collect();
        let mut found = Vec::new();
        let mut name = String::new();
        let shades = self.ranges().flat_map(|range| {
            let shades = range.shades.iter();
            shades.map(|(number, shade)| (range.id, number, &shade.name))
        });
        let threads = open.iter().flat_map(|ring| ring.threads());
        let charted = threads.map(|thread| {
            let stitched = thread.stitched();
            (stitched.range, &stitched.number, &thread.name)
        });
        let nameless = Label::default();
        let matched = self.matches().colours();
        let matched = matched.map(|colour| (colour.range, &colour.number, &nameless));
        let mut known = BTreeSet::new();
        let mut within: BTreeMap<RangeId, Within<'_>> = BTreeMap::new();
        for (range, number, called) in shades.chain(charted).chain(matched) {
            let of_range = within.entry(range).or_insert_with(|| {
                let range = self.range(range);
                range.map_or_else(Within::default, |range| query.within(range.name.as_str()))
            });
            let key = number.key();
            fold_into(called.as_str(), &mut name);
            let how = query.sure(*of_range, &key, &name);
            let Some(how) = how.or_else(|| query.slips(&name).map(Match::Near)) else {
                continue;
            };
            let twins = self.index().numbered(&key);
            let owned = twins.iter().any(|&(owned, _)| owned == range);
            if owned || !known.insert((range, key)) {
                continue;
            }
            let colour = ColourRef::new(range, number.clone());
            let matching = self.matching_cards(&colour);
            let needs = open.iter().filter(|ring| ring.is_stitched_in(&colour));
            found.push(NotOwned {
                how,
                range,
                needed_by: needs.map(|ring| ring.id).collect(),
                matches: matching.map(|kept| kept.card.id).collect(),
                number: colour.number,
                name: called.clone(),
            });
        }
        found.sort_by(|a, b| {
            a.how
                .cmp(&b.how)
                .then_with(|| a.needed_by.is_empty().cmp(&b.needed_by.is_empty()))
                .then_with(|| a.range.cmp(&b.range))
                .then_with(|| a.number.cmp(&b.number))
        });
        found
    }
}

/// The byte ranges of a displayed text that match the typed one, from left to right: the words that
/// begin with it, else any place. Matches with typing slips have none.
#[must_use]
pub fn matched(typed: &str, shown: &str) -> Vec<Range<usize>> {
    let query = Query::new(typed);
    let mut letters: Vec<(char, usize)> = Vec::new();
    for (at, c) in shown.char_indices() {
        let bare = c.to_lowercase().nfd().filter(|&c| !is_combining_mark(c));
        letters.extend(bare.map(|c| (c, at)));
    }
    let zeros = query.with_zeros();
    let asked = query
        .words
        .iter()
        .chain(zeros.iter().flat_map(|query| &query.words));
    let mut is_in = vec![false; letters.len()];
    for asked in asked {
        let asked: Vec<char> = asked.chars().collect();
        mark(&letters, &asked, &mut is_in);
    }
    let mut parts: Vec<Range<usize>> = Vec::new();
    for (n, _) in is_in.iter().enumerate().filter(|(_, is_in)| **is_in) {
        let (start, end) = (
            letters[n].1,
            letters.get(n + 1).map_or(shown.len(), |next| next.1),
        );
        match parts.last_mut() {
            Some(last) if last.end >= start => last.end = last.end.max(end),
            _ => parts.push(start..end),
        }
    }
    parts
}

/// Marks where a query word occurs in the displayed letters.
fn mark(letters: &[(char, usize)], asked: &[char], is_in: &mut [bool]) {
    if asked.is_empty() || asked.len() > letters.len() {
        return;
    }
    let is_at = |start: &usize| {
        let here = letters[*start..].iter().map(|(c, _)| c);
        here.zip(asked).filter(|(a, b)| a == b).count() == asked.len()
    };
    let begins = |start: &usize| *start == 0 || !letters[start - 1].0.is_alphanumeric();
    let places = (0..=letters.len() - asked.len())
        .filter(is_at)
        .collect::<Vec<_>>();
    let starts: Vec<usize> = places.iter().copied().filter(begins).collect();
    let places = if starts.is_empty() { places } else { starts };
    for start in places {
        is_in[start..start + asked.len()].fill(true);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stash::command::card::new_card;
    use crate::stash::command::import::{self, Amount, CardRow, KeyRow, RangeRow, Terms};
    use crate::stash::command::{key, ring};
    use crate::stash::testing::{add_cards, apply, at, read, row, rows, wall};

    fn stash() -> State {
        let mut state = wall(1, 1, 1);
        add_cards(
            &mut state,
            &[
                "Cove:701 lamp black",
                "Cove:70 black cherry",
                "Cove:7015 river stone",
                "Sandbank:701 deep river",
                "Sandbank:B:5 moss-green",
            ],
        );
        let shade = |line, number: &str, name: &str| RangeRow {
            line,
            number: number.into(),
            name: name.into(),
            colour: None,
            family: None,
        };
        let list = [shade(2, "701", "lamp black"), shade(3, "B40", "lamp oil")];
        let event = import::range(&state, &list, Vec::new(), "Cove")
            .unwrap()
            .event;
        apply(&mut state, &event.unwrap());
        state
    }

    #[test]
    fn a_colour_without_a_card_comes_with_its_matching_cards() {
        let mut state = stash();
        let row = |number: &str, other: &str| import::MatchRow {
            line: 2,
            range: Some("Cove".into()),
            number: number.into(),
            match_range: Some("Sandbank".into()),
            match_number: other.into(),
        };
        let list = [
            row("B40", "701"),
            row("70", "77"),
            row("78", "78"),
            row("701", "b:5"),
        ];
        let event = import::matches(&state, &list, Vec::new(), false)
            .unwrap()
            .event;
        apply(&mut state, &event.unwrap());
        let found = |text: &str| -> Vec<(String, usize)> {
            let found = state.find_not_owned(text).into_iter();
            found
                .map(|of| (of.number.to_string(), of.matches.len()))
                .collect()
        };
        assert_eq!(found("B40"), [("B40".to_owned(), 1)]);
        // Only in the conversion list.
        assert_eq!(found("Sandbank:77"), [("77".to_owned(), 1)]);
        assert_eq!(found("78"), [("78".to_owned(), 0), ("78".to_owned(), 0)]);
        assert_eq!(found("701"), []);
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
    fn an_accent_may_be_left_out_from_the_first_letter_on() {
        let mut state = wall(1, 3, 1);
        let rows = rows(&["1 Gr\u{fc}n", "2 caf\u{e9} cr\u{e8}me", "3 gruen"]);
        let event = read(&state, &rows).event.unwrap();
        apply(&mut state, &event);
        let found = |text: &str| {
            let found = state.find(text).into_iter();
            let names = found.map(|found| state.card_name(state.card(found.card).unwrap()));
            names.collect::<Vec<_>>()
        };
        for text in ["gr\u{fc}", "GRU", "gru\u{308}n"] {
            assert!(
                found(text).contains(&"1".to_owned()),
                "{text}: {:?}",
                found(text)
            );
        }
        assert_eq!(found("cafe cre"), ["2"]);
    }

    #[test]
    fn a_family_is_found_in_singular_and_plural() {
        let mut state = wall(1, 1, 1);
        let families = [("1", "yellows"), ("2", "blue"), ("3", "bluish")];
        let rows = families.map(|(number, family)| CardRow {
            family: Some(family.to_owned()),
            ..row(number)
        });
        let taken = import::card_list(&state, &rows, Vec::new(), &Terms::default(), at(0));
        apply(&mut state, &taken.unwrap().event.unwrap());
        for (text, numbers) in [
            ("yellow", &["1"][..]),
            ("yellows", &["1"]),
            ("blue", &["2"]),
            ("blues", &["2"]),
        ] {
            let found = state.find(text).into_iter();
            let found = found.map(|found| state.card_name(state.card(found.card).unwrap()));
            assert_eq!(found.collect::<Vec<_>>(), numbers, "{text}");
        }
    }

    #[test]
    fn the_exact_number_comes_before_numbers_that_begin_with_it() {
        let all = found(" 701 ");
        assert!(
            is(
                &all,
                &[
                    ("Cove:701", Match::Number),
                    ("Sandbank:701", Match::Number),
                    ("7015", Match::NumberStart),
                ]
            ),
            "{all:?}"
        );
        assert_eq!(found("70")[0], ("70".to_owned(), Match::Number));
    }

    #[test]
    fn a_range_and_a_number_name_one_card() {
        for (text, card) in [
            ("sandbank:701", "Sandbank:701"),
            ("SANDBANK : 701", "Sandbank:701"),
            ("Sandbank:B:5", "B:5"),
            ("b:5", "B:5"),
        ] {
            let all = found(text);
            assert!(is(&all, &[(card, Match::Number)]), "{text}: {all:?}");
        }
    }

    #[test]
    fn a_range_name_may_come_before_the_number() {
        for text in [
            "Sandbank 701",
            "sandbank701",
            " SANDBANK  701",
            "sandbank-701",
            "sandbank:7 01",
        ] {
            let all = found(text);
            assert!(
                is(&all, &[("Sandbank:701", Match::RangeNumber)]),
                "{text}: {all:?}"
            );
        }
        let all = found("cove 70");
        assert!(
            is(
                &all,
                &[
                    ("70", Match::RangeNumber),
                    ("Cove:701", Match::NumberStart),
                    ("7015", Match::NumberStart),
                ]
            ),
            "{all:?}"
        );
        assert!(found("cove 9").is_empty());
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(4))]

        /// In any spelling, range and number mean that card, before all others.
        #[test]
        fn range_and_number_in_one_word_find_that_card_first(
            names in prop::collection::btree_set("(Cove|Coves|Moor):[1-9][0-9]{0,2}", 1..12),
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
    fn words_match_by_their_beginning_in_any_order() {
        let all = found("bl lam");
        assert!(is(&all, &[("Cove:701", Match::WordStart)]), "{all:?}");
        let all = found("Lamp  Black");
        assert!(is(&all, &[("Cove:701", Match::Name)]), "{all:?}");
        let all = found("green");
        assert!(is(&all, &[("B:5", Match::WordStart)]), "{all:?}");
        let all = found("tone");
        assert!(is(&all, &[("7015", Match::Inside)]), "{all:?}");
    }

    #[test]
    fn a_typing_slip_is_forgiven_if_nothing_else_matches() {
        for (text, slips) in [("rievr", 1), ("cherrry", 1), ("chery", 1), ("cehry", 2)] {
            let all = found(text);
            if text == "cehry" {
                // Two slips in five letters make another word.
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
        /// Words are skipped by their letters alone, so that must never skip a near one.
        #[test]
        fn missing_letters_never_outnumber_slips(
            asked in "[a-eé\u{3b1}]{0,6}", word in "[a-eé\u{3b1}]{0,8}",
        ) {
            let missing = (letters(&asked) & !letters(&word)).count_ones() as usize;
            prop_assert!(missing <= damerau_levenshtein(&asked, &word));
        }

        #[test]
        fn fold_into_agrees_with_fold(before in ".{0,4}", text in "[ a-zA-ZÄÖΣ\u{130}ß]{0,8}") {
            let mut folded = before;
            fold_into(&text, &mut folded);
            prop_assert_eq!(folded, fold(&text));
        }
    }

    #[test]
    fn a_number_one_digit_off_does_not_match() {
        for text in ["702", "7105", "320", "", "  "] {
            assert!(found(text).is_empty(), "{text}");
        }
    }

    #[test]
    fn a_shade_without_a_card_is_found_separately() {
        let state = stash();
        let not_owned = |text| {
            let found = state.find_not_owned(text).into_iter();
            found
                .map(|n| (n.number.as_str().to_owned(), n.how))
                .collect::<Vec<_>>()
        };
        assert_eq!(not_owned("lamp"), [("B40".to_owned(), Match::WordStart)]);
        assert_eq!(not_owned("cove:b40"), [("B40".to_owned(), Match::Number)]);
        assert_eq!(not_owned("701"), []);
        assert_eq!(not_owned(""), []);
    }

    /// A wall of 2 x 5 with cards that have other details.
    fn known() -> State {
        let mut state = wall(2, 5, 1);
        let rows = [
            ("104", "dune", "shore", "A01", "K7", "frayed at the end"),
            ("105", "kelp", "shore", "A02", "", ""),
            ("C70", "moor", "field", "B02", "", ""),
            ("401", "straw", "field", "", "", "from the fair"),
        ];
        let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        for (number, name, family, hook, lot, note) in rows {
            let new = CardRow {
                name: some(name),
                family: some(family),
                hook: some(hook),
                dye_lot: some(lot),
                note: some(note),
                amount: some(lot).map(|_| Amount::Lengths(3.0)),
                ..row(&format!("Cove:{number}"))
            };
            let event = new_card(&state, new, at(1)).unwrap();
            apply(&mut state, &event);
        }
        let kelp = state.find_card("105").unwrap();
        let event = ring::take(&state, "Night Heron", &[kelp], at(2)).unwrap();
        apply(&mut state, &event);
        state
    }

    fn numbers(state: &State, text: &str) -> Vec<(String, Match)> {
        let found = state.find(text).into_iter();
        let number = |found: &Found| state.card(found.card).unwrap().card.number.to_string();
        found.map(|found| (number(&found), found.how)).collect()
    }

    #[test]
    fn a_card_is_found_by_its_other_details() {
        let state = known();
        for (text, numbers_found, how) in [
            ("A01", &["104"][..], Match::Hook),
            ("b2", &["C70"], Match::Hook),
            ("shore", &["104", "105"], Match::Detail(Detail::Family)),
            ("heron", &["105"], Match::Detail(Detail::Project)),
            ("k7", &["104"], Match::Detail(Detail::Lot)),
            ("the fair", &["401"], Match::Detail(Detail::Note)),
            ("cove kelp", &["105"], Match::Detail(Detail::Range)),
            ("field straw", &["401"], Match::Detail(Detail::Family)),
            ("10 shore", &["104", "105"], Match::Detail(Detail::Family)),
        ] {
            let found = numbers(&state, text);
            let is = |(number, of): &(String, Match)| (number.clone(), *of);
            let expected = numbers_found
                .iter()
                .map(|number| ((*number).to_owned(), how));
            assert!(found.iter().map(is).eq(expected), "{text}: {found:?}");
        }
        assert!(numbers(&state, "shore straw").is_empty());
    }

    #[test]
    fn a_letter_o_among_digits_counts_as_zero_and_a_leading_sharp_is_ignored() {
        let state = known();
        for text in ["1O4", "#104", "#1o4", "AO1", "aO1"] {
            assert_eq!(numbers(&state, text)[0].0, "104", "{text}");
        }
        assert_eq!(
            numbers(&state, "#c7o")[0],
            ("C70".to_owned(), Match::Number)
        );
        // A word keeps its letters.
        assert_eq!(numbers(&state, "moo")[0].0, "C70");
    }

    #[test]
    fn numbers_one_slip_away_are_similar() {
        let state = known();
        let near = |text: &str| -> Vec<String> {
            let near = state.near_numbers(text).into_iter();
            near.map(|card| state.card(card).unwrap().card.number.to_string())
                .collect()
        };
        assert_eq!(near("106"), ["105", "104"]);
        assert_eq!(near("140"), ["104"]);
        assert_eq!(near("41"), ["401"]);
        assert!(near("999").is_empty() && near("4").is_empty() && near("dune").is_empty());
    }

    #[test]
    fn matching_parts_are_marked_in_the_displayed_text() {
        let marked = |typed: &str, shown: &'static str| -> Vec<&str> {
            let parts = matched(typed, shown).into_iter();
            parts.map(|part| &shown[part]).collect()
        };
        assert_eq!(marked("mo ri", "Moss river"), ["Mo", "ri"]);
        // If a word begins with it, the inside of other words isn't meant.
        assert_eq!(marked("st", "rust stone"), ["st"]);
        assert_eq!(marked("1o4", "104"), ["104"]);
        assert_eq!(marked("\u{e9}", "caf\u{c9} \u{130}"), ["\u{c9}"]);
        assert!(marked("", "dune").is_empty() && marked("rievr", "river").is_empty());
    }

    #[test]
    fn a_colour_needed_by_a_chart_but_not_owned_names_the_project() {
        let mut state = known();
        let key = [
            KeyRow {
                line: 2,
                number: "77".to_owned(),
                name: Some("sandbar".to_owned()),
                ..KeyRow::default()
            },
            KeyRow {
                line: 3,
                number: "104".to_owned(),
                ..KeyRow::default()
            },
        ];
        let terms = Terms::default();
        let keyed = key::import(&state, &key, Vec::new(), "Robin", &terms, at(3)).unwrap();
        apply(&mut state, &keyed.event.unwrap());
        let robin = state.find_ring("Robin").unwrap().id;
        for text in ["77", "sandb", "7O77"] {
            let found = state.find_not_owned(text);
            assert_eq!(found.is_empty(), text == "7O77", "{text}");
            assert!(
                found.iter().all(|found| found.needed_by == [robin]),
                "{text}"
            );
        }
        // A project whose chart key has a colour finds its card.
        assert_eq!(
            numbers(&state, "robin"),
            [("104".to_owned(), Match::Detail(Detail::Project))]
        );
        let ring = state.find_ring("Robin").unwrap();
        let closed = ring::close(&state, ring, at(4)).unwrap();
        apply(&mut state, &closed);
        assert!(state.find_not_owned("77").is_empty());
    }

    #[test]
    fn a_tagged_card_is_found_by_name_after_the_card_without_a_tag() {
        let mut state = crate::stash::testing::wall(1, 1, 1);
        crate::stash::testing::add_cards(&mut state, &["Cove:701", "Cove:702"]);
        let mut row = crate::stash::testing::row("Cove:701");
        row.tag = Some("K7".into());
        let at = crate::stash::testing::at(1);
        let event = crate::stash::command::card::new_card(&state, row, at).unwrap();
        crate::stash::testing::apply(&mut state, &event);
        let names = |text: &str| -> Vec<String> {
            let found = state.find(text).into_iter();
            let kept = found.filter_map(|found| state.card(found.card));
            kept.map(|kept| state.card_name(kept)).collect()
        };
        assert_eq!(names("701/k7"), ["701/K7"]);
        assert_eq!(names("701"), ["701", "701/K7"]);
    }
}
