//! Names of hooks and cards.
//!
//! A split card is named `NUMBER@PROJECT` after the ring it is on, or was last on; that is also on
//! its temporary label. If another split card has that name, or it would be ambiguous, `#` and its
//! unique id in the record follow: `701@Harbour#17`, or `701@#17` if no ring is known.

use std::borrow::Cow;
use std::cmp::Ordering;

use super::state::{CardState, State};
use crate::model::board::{Board, HookRef};
use crate::model::card::{TAG_SIGN, Tag};
use crate::model::ids::{CardId, RangeId};
use crate::model::label::fold;
use crate::model::number::{Number, natural_order};
use crate::model::range::Range;
use crate::model::ring::Ring;

/// The separator between the number of a split card and its project.
pub(super) const SPLIT_SIGN: char = '@';
/// The separator before an id that sets split cards of one name apart.
const WHICH: char = '#';

/// A hook name that two boards share, if any. O(hooks of the smaller board).
#[must_use]
pub(super) fn shared_hook_name(a: &Board, b: &Board) -> Option<String> {
    let hooks = |board: &Board| u32::from(board.rows) * u32::from(board.columns);
    let (small, large) = if hooks(a) <= hooks(b) { (a, b) } else { (b, a) };
    // Only names with the same prefix can be equal, as [`Board::find_hook`] reads them.
    let plain = |board: &Board| -> String {
        let typed = board.prefix.as_str().chars();
        let typed = typed.filter(|c| !c.is_whitespace() && *c != '-');
        typed.flat_map(char::to_uppercase).collect()
    };
    let (x, y) = (plain(a), plain(b));
    if !x.starts_with(&y) && !y.starts_with(&x) {
        return None;
    }
    small
        .hooks()
        .map(|hook| small.hook_name(hook))
        .find(|hook_name| large.find_hook(hook_name).is_some())
}

impl State {
    /// The name of a hook. For a hook on no board, its form in the record.
    #[must_use]
    pub fn hook_name(&self, hook: HookRef) -> String {
        self.board(hook.board)
            .map_or_else(|| hook.to_string(), |board| board.hook_name(hook))
    }

    /// The range with a name, ignoring case.
    #[must_use]
    pub fn find_range(&self, name: &str) -> Option<&Range> {
        self.ranges().find(|range| range.name.same_as(name))
    }

    /// The ring of a project, ignoring case.
    #[must_use]
    pub fn find_ring(&self, project: &str) -> Option<&Ring> {
        self.rings().find(|ring| ring.project.same_as(project))
    }

    /// The name of a card's range.
    #[must_use]
    pub fn range_name(&self, kept: &CardState) -> &str {
        self.range(kept.card.range)
            .map_or("", |range| range.name.as_str())
    }

    /// The card that a split card was split from; for any other card, the card itself.
    fn whole_card<'a>(&'a self, kept: &'a CardState) -> &'a CardState {
        // An invariant keeps the card that a split card was split from.
        let parent = kept.card.parent.and_then(|parent| self.card(parent));
        parent.unwrap_or(kept)
    }

    /// The tag that tells cards of one colour apart. A split card uses that of the card it was
    /// split from.
    #[must_use]
    pub fn tag<'a>(&'a self, kept: &'a CardState) -> &'a Tag {
        &self.whole_card(kept).card.tag
    }

    /// A card's number, with its tag if it has one: `701`, `701/K7`.
    #[must_use]
    pub fn number_and_tag<'a>(&'a self, kept: &'a CardState) -> Cow<'a, str> {
        written(&kept.card.number, self.tag(kept))
    }

    /// A card's number and tag, with its range if they are ambiguous without it.
    pub(super) fn number_in_full(&self, kept: &CardState) -> String {
        let name = self.number_and_tag(kept);
        match self.range_to_tell(kept) {
            None => name.into_owned(),
            Some(range) => format!("{range}:{name}"),
        }
    }

    /// The range that a card's number needs beside it, because another card has the same number.
    #[must_use]
    pub fn range_to_tell<'a>(&'a self, kept: &'a CardState) -> Option<&'a str> {
        let whole = self.whole_card(kept).card.id;
        match self.whole_cards(&self.number_and_tag(kept)).as_slice() {
            [one] if one.card.id == whole => None,
            _ => Some(self.range_name(kept)),
        }
    }

    /// A card's name: its number and tag, with its range if they are ambiguous without it. A split
    /// card is named `NUMBER@PROJECT`.
    #[must_use]
    pub fn card_name(&self, kept: &CardState) -> String {
        if kept.card.parent.is_some() {
            self.split_card_name(kept)
        } else {
            self.number_in_full(kept)
        }
    }

    /// The whole cards named `NUMBER` or `NUMBER/TAG`, with or without `RANGE:`. The form with a
    /// range is tried first: range names contain no colon, but numbers may.
    pub(super) fn whole_cards(&self, name: &str) -> Vec<&CardState> {
        if let Some((range, rest)) = name.split_once(':') {
            let range = fold(range);
            let of_range = |kept: &CardState| range == fold(self.range_name(kept));
            let found = self.cards_written(rest, of_range);
            if !found.is_empty() {
                return found;
            }
        }
        self.cards_written(name, |_| true)
    }

    /// The cards of some ranges named `NUMBER` or `NUMBER/TAG`. The text as a number is tried
    /// first, because numbers may contain a slash. If no card is written like that, a number means
    /// its cards that have a tag.
    fn cards_written(&self, name: &str, of_range: impl Fn(&CardState) -> bool) -> Vec<&CardState> {
        let of_range = |kept: &&CardState| of_range(kept);
        let (plain, tagged): (Vec<&CardState>, Vec<&CardState>) = self
            .cards_numbered(name)
            .filter(of_range)
            .partition(|kept| kept.card.tag.is_empty());
        if !plain.is_empty() {
            return plain;
        }
        let exact: Vec<&CardState> = match name.rsplit_once(TAG_SIGN) {
            Some((number, tag)) => {
                let cards = self.cards_tagged(number, fold(tag));
                cards.filter(of_range).collect()
            }
            None => Vec::new(),
        };
        if exact.is_empty() { tagged } else { exact }
    }

    /// The whole cards with a number and a folded tag.
    fn cards_tagged(&self, number: &str, tag: String) -> impl Iterator<Item = &CardState> {
        let cards = self.cards_numbered(number);
        cards.filter(move |kept| !kept.card.tag.is_empty() && kept.card.tag.key() == tag)
    }

    /// A whole card of a range that would be written like a number and a tag, and so couldn't be
    /// told apart.
    pub(super) fn written_alike(
        &self,
        range: RangeId,
        number: &Number,
        tag: &Tag,
        but: Option<CardId>,
    ) -> Option<&CardState> {
        let name = written(number, tag);
        let plain = self.cards_numbered(&name);
        let plain = plain.filter(|kept| kept.card.tag.is_empty());
        let parts = name.rsplit_once(TAG_SIGN);
        let tagged = parts
            .into_iter()
            .flat_map(|(number, tag)| self.cards_tagged(number, fold(tag)));
        let mut alike = plain.chain(tagged);
        alike.find(|kept| kept.card.range == range && Some(kept.card.id) != but)
    }

    /// The whole cards with a number.
    fn cards_numbered(&self, number: &str) -> impl Iterator<Item = &CardState> {
        let cards = self.index().numbered(&fold(number)).iter();
        cards
            .filter_map(|&(_, id)| self.card(id))
            .filter(|kept| kept.card.parent.is_none())
    }
}

/// Joins a number and a tag.
pub(super) fn written<'a>(number: &'a Number, tag: &Tag) -> Cow<'a, str> {
    if tag.is_empty() {
        Cow::Borrowed(number.as_str())
    } else {
        Cow::Owned(format!("{number}{TAG_SIGN}{tag}"))
    }
}

/// Compares cards of one colour by their tags, in natural order; the card without a tag comes
/// first.
pub(super) fn by_tag(state: &State, a: &CardState, b: &CardState) -> Ordering {
    let (a, b) = (state.tag(a), state.tag(b));
    if a.is_empty() && b.is_empty() {
        return Ordering::Equal;
    }
    natural_order(&a.key(), &b.key())
}

impl State {
    /// The split cards, by id. O(cards).
    pub fn split_cards(&self) -> impl Iterator<Item = &CardState> {
        self.cards().filter(|kept| kept.card.parent.is_some())
    }

    /// The split cards of a card, by id. O(cards of its number).
    pub fn split_cards_of(&self, card: CardId) -> impl Iterator<Item = &CardState> {
        let number = self.card(card).map(|kept| kept.card.number.key());
        let alike = number.map_or(&[][..], |number| self.index().numbered(&number));
        let alike = alike.iter().filter_map(|&(_, id)| self.card(id));
        alike.filter(move |kept| kept.card.parent == Some(card))
    }

    /// The ring that a split card is named after: the one it is on or was last seen on, else the
    /// latest opened of those it was on, preferring open ones.
    pub(super) fn ring_of_split_card(&self, kept: &CardState) -> Option<&Ring> {
        let known = kept.place.at.last_ring().and_then(|ring| self.ring(ring));
        known.or_else(|| {
            self.rings()
                .filter(|ring| ring.went_out.contains(&kept.card.id))
                .max_by_key(|ring| (!ring.is_closed(), ring.opened, ring.id))
        })
    }

    /// The part of a split card's name after the `@`. No two split cards with the same number, tag
    /// and range have the same.
    #[must_use]
    pub fn split_card_tag(&self, kept: &CardState) -> String {
        let project = self.project_of(kept);
        // The first of those with the same name needs no suffix.
        let number = self.number_in_full(kept);
        let alike = self
            .index()
            .numbered(&kept.card.number.key())
            .iter()
            .filter(|&&(range, id)| range == kept.card.range && id < kept.card.id)
            .filter_map(|&(_, id)| self.card(id))
            .filter(|other| other.card.parent.is_some() && self.tag(other) == self.tag(kept))
            .any(|other| fold(self.project_of(other)) == fold(project));
        let plain = format!("{number}{SPLIT_SIGN}{project}");
        let in_doubt = project.is_empty()
            || alike
            || plain.contains(WHICH)
            || number.contains(SPLIT_SIGN)
            || !self.whole_cards(&plain).is_empty();
        if !in_doubt {
            return project.to_owned();
        }
        let mut tag = format!("{project}{WHICH}{}", kept.card.id.0);
        while !self
            .whole_cards(&format!("{number}{SPLIT_SIGN}{tag}"))
            .is_empty()
        {
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
            "{}{SPLIT_SIGN}{}",
            self.number_in_full(kept),
            self.split_card_tag(kept)
        )
    }

    /// The split cards that a name with an `@` may mean: the one with that name, else those that
    /// had or could have it. O(cards).
    pub(super) fn split_cards_called(&self, name: &str) -> Vec<&CardState> {
        let asked = folded(name);
        if !asked.contains(SPLIT_SIGN) {
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
                    .any(|number| folded(&format!("{number}{SPLIT_SIGN}{tag}")) == asked)
            })
        };
        split_cards.into_iter().filter(could).collect()
    }

    /// The split card with a number in a range and a name after the `@`, ignoring case; see
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
}

/// Lower case, without spaces around the `@`.
fn folded(name: &str) -> String {
    let name = fold(name);
    match name.split_once(SPLIT_SIGN) {
        Some((number, tag)) => format!("{}{SPLIT_SIGN}{}", number.trim(), tag.trim()),
        None => name,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::model::thread::Strands;
    use crate::stash::command::import::{self, CardRow, Terms};
    use crate::stash::command::{ring, thread};
    use crate::stash::event::Event;
    use crate::stash::testing::{Shown as _, add_cards, apply, at, id, wall};

    fn stash() -> State {
        let mut state = wall(1, 4, 1);
        add_cards(
            &mut state,
            &["Cove:701@A01", "Cove:9@A02", "Sandbank:9@A03"],
        );
        state
    }

    fn split(state: &mut State, project: &str, card: &str) -> CardId {
        let known: Vec<CardId> = state.split_cards().map(|kept| kept.card.id).collect();
        let card = id(state, card);
        let event = thread::split(state, project, card, Strands(6), None, "", at(1)).unwrap();
        apply(state, &event);
        let mut new = state.split_cards().map(|kept| kept.card.id);
        new.find(|id| !known.contains(id)).unwrap()
    }

    fn name(state: &State, card: CardId) -> String {
        state.card_name(state.card(card).unwrap())
    }

    /// The event that imports cards of any range and number.
    fn imported<'a>(
        state: &State,
        rows: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Option<Event> {
        let rows = rows
            .into_iter()
            .zip(2..)
            .map(|((range, number), line)| CardRow {
                line,
                range: Some(range.to_owned()),
                number: number.to_owned(),
                ..CardRow::default()
            });
        let rows: Vec<CardRow> = rows.collect();
        let taken = import::card_list(state, &rows, Vec::new(), &Terms::default(), at(0));
        taken.ok()?.event
    }

    fn lose(state: &mut State, card: CardId) {
        let event = ring::missing(state, &[card], at(2)).unwrap();
        apply(state, &event);
    }

    #[test]
    fn a_split_card_is_named_after_the_ring_it_is_on() {
        let mut state = stash();
        let one = split(&mut state, "Harbour at Dusk", "701");
        let two = split(&mut state, "Robin", "Sandbank:9");
        assert_eq!(name(&state, one), "701@Harbour at Dusk");
        assert_eq!(name(&state, two), "Sandbank:9@Robin");
        for (text, card) in [
            ("701@harbour at dusk", one),
            (" 701 @ Harbour at Dusk", one),
            ("cove:701@HARBOUR AT DUSK", one),
            ("sandbank:9@robin", two),
            ("9@robin", two),
        ] {
            assert_eq!(state.find_card(text), Ok(card), "{text}");
        }
        assert_ne!(id(&state, "701"), one);
    }

    #[test]
    fn a_lost_split_card_keeps_its_name_and_on_another_ring_takes_that_name() {
        let mut state = stash();
        let split_card = split(&mut state, "Harbour", "701");
        lose(&mut state, split_card);
        assert_eq!(name(&state, split_card), "701@Harbour");
        let event = ring::found(&state, id(&state, "701@harbour"), at(3)).unwrap();
        apply(&mut state, &event);
        assert_eq!(name(&state, split_card), "701@Harbour");
        let event = ring::take(&state, "Robin", &[split_card], at(4)).unwrap();
        apply(&mut state, &event);
        assert_eq!(name(&state, split_card), "701@Robin");
        // The name on its old label still works.
        assert_eq!(state.find_card("701@Harbour"), Ok(split_card));
    }

    #[test]
    fn two_split_cards_of_one_project_have_different_names() {
        let mut state = stash();
        let first = split(&mut state, "Harbour", "701");
        lose(&mut state, first);
        let second = split(&mut state, "Harbour", "701");
        assert_eq!(name(&state, first), "701@Harbour");
        let long = format!("701@Harbour#{}", second.0);
        assert_eq!(name(&state, second), long);
        assert_eq!(state.find_card(&long.to_uppercase()), Ok(second));
        assert_eq!(state.find_card("701@harbour"), Ok(first));
        // Both are found by the long form, even after the short one becomes free.
        assert_eq!(state.find_card(&format!("701@#{}", first.0)), Ok(first));
        let event = ring::found(&state, first, at(3)).unwrap();
        apply(&mut state, &event);
        let event = thread::merge(&state, state.need_ring("Harbour").unwrap(), first).unwrap();
        apply(&mut state, &event);
        assert_eq!(name(&state, second), "701@Harbour");
        assert_eq!(state.find_card(&long), Ok(second));
    }

    #[test]
    fn a_split_card_of_an_unknown_ring_has_a_name_too() {
        let mut state = stash();
        let split_card = split(&mut state, "Harbour", "701");
        lose(&mut state, split_card);
        // A ring that was closed over a missing split card and reopened doesn't remember it.
        let close = ring::close(&state, state.need_ring("Harbour").unwrap(), at(3)).unwrap();
        apply(&mut state, &close);
        let again = ring::take(&state, "Harbour", &[id(&state, "Cove:9")], at(4)).unwrap();
        apply(&mut state, &again);
        assert_eq!(name(&state, split_card), "701@Harbour");
        let event = ring::found(&state, split_card, at(5)).unwrap();
        apply(&mut state, &event);
        assert_eq!(name(&state, split_card), format!("701@#{}", split_card.0));
        assert_eq!(state.find_card(&name(&state, split_card)), Ok(split_card));
    }

    #[test]
    fn an_unknown_split_card_suggests_existing_ones() {
        let mut state = stash();
        let said = |state: &State, name: &str| state.find_card(name).unwrap_err().shown();
        assert_eq!(
            said(&state, "701@Robin"),
            "No card '701@Robin' in the stash. Card 701 has no split card."
        );
        split(&mut state, "Robin", "701");
        split(&mut state, "Kite", "701");
        assert_eq!(
            said(&state, "701@heron"),
            "No card '701@heron' in the stash. The split cards of 701 are: 701@Robin, 701@Kite."
        );
        split(&mut state, "Robin", "Cove:9");
        split(&mut state, "Robin", "Sandbank:9");
        assert_eq!(
            said(&state, "9@Robin"),
            "'9@Robin' could be any of: Cove:9@Robin, Sandbank:9@Robin. Name it in full."
        );
    }

    #[test]
    fn a_search_lists_split_cards_after_the_card_itself() {
        let mut state = stash();
        let split_card = split(&mut state, "Robin", "701");
        let found = |text: &str| {
            let found = state.find(text).into_iter();
            found.map(|found| found.card).collect::<Vec<_>>()
        };
        assert_eq!(found("701"), [id(&state, "701"), split_card]);
        assert_eq!(found("701@robin"), [split_card]);
    }

    #[test]
    fn a_number_with_a_colon_is_not_mistaken_for_a_range_and_number() {
        let mut state = wall(1, 1, 1);
        let rows = [
            ("Cove", "1"),
            ("Sandbank", "1"),
            ("Sandbank", "Cove:1"),
            ("Cove", "1@Fox"),
        ];
        let event = imported(&state, rows).unwrap();
        apply(&mut state, &event);
        let split_card = split(&mut state, "Fox", "Cove:1");
        let names: Vec<String> = state.cards().map(|kept| state.card_name(kept)).collect();
        let long = format!("Cove:1@Fox#{}", split_card.0);
        assert_eq!(
            names,
            ["Cove:1", "Sandbank:1", "Sandbank:Cove:1", "1@Fox", &long]
        );
        for (kept, name) in state.cards().zip(&names) {
            assert_eq!(state.find_card(name), Ok(kept.card.id), "{name}");
        }
    }

    proptest! {
        #![proptest_config(crate::testing::one_case_in(4))]

        /// Whatever the names of projects, ranges and numbers, each card is found by its name, and
        /// no name means two cards.
        #[test]
        fn every_name_means_one_card(
            rows in prop::collection::vec(
                ("(a|b|1|@|#| |1@a){1,2}", "(a|b|1|@|#|:| |@a|#5|a:1){1,3}"),
                1..6,
            ),
            projects in prop::collection::vec("(a|b|1|@|#|#5|#6|:| ){1,3}", 1..4),
            steps in prop::collection::vec((any::<u8>(), any::<u8>(), 0_u8..5), 0..16),
        ) {
            let mut state = wall(1, 1, 1);
            let rows = rows.iter().map(|(range, number)| (range.as_str(), number.as_str()));
            let Some(event) = imported(&state, rows) else {
                return Ok(());
            };
            apply(&mut state, &event);
            for (n, p, what) in steps {
                let pick = |of: Vec<CardId>| (!of.is_empty()).then(|| of[usize::from(n) % of.len()]);
                let project = &projects[usize::from(p) % projects.len()];
                let split_cards = pick(state.split_cards().map(|kept| kept.card.id).collect());
                let wholes = state.cards().filter(|kept| kept.card.parent.is_none());
                let whole = pick(wholes.map(|kept| kept.card.id).collect()).unwrap();
                let event = match (what, split_cards) {
                    (0, Some(split_card)) => ring::missing(&state, &[split_card], at(2)),
                    (1, Some(split_card)) => ring::found(&state, split_card, at(3)),
                    (2, Some(split_card)) => ring::take(&state, project, &[split_card], at(4)),
                    _ => thread::split(&state, project, whole, Strands(1), None, "", at(1)),
                };
                if let Ok(event) = event {
                    apply(&mut state, &event);
                }
            }
            let mut seen = std::collections::BTreeSet::new();
            for kept in state.cards() {
                let name = state.card_name(kept);
                prop_assert!(seen.insert(fold(&name)), "{} twice", name);
                prop_assert_eq!(state.find_card(&name), Ok(kept.card.id), "{}", name);
                if kept.card.parent.is_none() {
                    let full = format!("{}:{}", state.range_name(kept), kept.card.number);
                    prop_assert_eq!(state.find_card(&full), Ok(kept.card.id), "{}", full);
                }
            }
        }
    }
}
