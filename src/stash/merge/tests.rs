//! The properties of a merge, over random histories of everything a person can do.

use std::collections::{BTreeMap, BTreeSet};
use std::hash::{DefaultHasher, Hash, Hasher};

use proptest::prelude::*;

use super::*;
use crate::model::ids::IdSeed;
use crate::model::label::fold;
use crate::model::ring::ColourRef;
use crate::model::thread::ThreadPart;
use crate::stash::testing::at;
use crate::stash::testing::life::{Choice, Life, a_choice, choices};

/// One copy of a stash, with its record.
#[derive(Clone)]
struct Copy {
    life: Life,
    lines: Vec<Line>,
    seed: u64,
    /// How many seconds its clock is off.
    skew: i64,
}

impl Copy {
    fn new() -> Self {
        Self {
            life: Life::default(),
            lines: Vec::new(),
            seed: 0,
            skew: 0,
        }
    }

    /// The same folder on another computer.
    fn copied(&self, seed: u64, skew: i64) -> Self {
        let mut copy = self.clone();
        copy.seed = seed;
        copy.skew = skew;
        copy.life.state.seed_ids(IdSeed(seed));
        copy
    }

    fn note_lines(&mut self) {
        while let Some(event) = self.life.events.get(self.lines.len()) {
            let seq = self.lines.len() as u64 + 1;
            let mut hash = DefaultHasher::new();
            (self.seed, seq).hash(&mut hash);
            let time = at(seq as i64 + self.skew);
            let newest = self
                .lines
                .last()
                .map_or(Stamp::default(), |line| line.stamp);
            self.lines.push(Line {
                seq,
                id: EventId(hash.finish()),
                stamp: newest.max(event.act.newest_stamp()).next(time),
                time,
                by: None,
                event: event.clone(),
            });
        }
    }

    fn live(&mut self, choices: impl IntoIterator<Item = Choice>) {
        for choice in choices {
            self.life.live(choice);
        }
        self.note_lines();
    }

    fn commit(&mut self, event: Option<Event>) {
        if let Some(event) = event {
            self.life.commit(event);
            self.note_lines();
        }
    }

    fn state(&self) -> &State {
        &self.life.state
    }
}

fn now() -> Timestamp {
    at(1_000_000)
}

/// An answer to a question that is the same on both sides, derived from its name: the later side or
/// the other.
fn answer(question: &Question, whim: u64) -> Side {
    let mut hash = DefaultHasher::new();
    (question.name(), whim).hash(&mut hash);
    match (question.later, hash.finish().is_multiple_of(3)) {
        (side, false) => side,
        (Side::Mine, true) => Side::Theirs,
        (Side::Theirs, true) => Side::Mine,
    }
}

/// Merges, answering all questions round by round.
fn merged(ours: &Copy, theirs: &Copy, whim: u64) -> Merged {
    let mut answers = Answers::default();
    for _ in 0..100 {
        let merged = merge(&ours.lines, &theirs.lines, &answers, now()).unwrap();
        if !merged.is_open() {
            return merged;
        }
        for question in merged.questions {
            answers.each.insert(question.n, answer(&question, whim));
        }
    }
    panic!("it never stops asking");
}

/// The names of the questions, with the events on either side.
fn names(merged: &Merged) -> BTreeSet<String> {
    merged.questions.iter().map(Question::name).collect()
}

/// Shows the differences between two stashes that should be equal.
fn assert_same(left: &State, right: &State, when: &str) {
    if left != right {
        panic!("{when}: {:#?}", changes_between(left, right));
    }
}

/// Merges both ways, and checks the properties of any two copies. Returns both as they are then.
fn both_ways(a: &Copy, b: &Copy, whim: u64) -> (Copy, Copy, bool) {
    let (ab, ba) = (merged(a, b, whim), merged(b, a, whim));
    assert_eq!(
        names(&ab),
        names(&ba),
        "other questions the other way round"
    );
    let (mut left, mut right) = (a.clone(), b.clone());
    left.commit(ab.event.clone());
    right.commit(ba.event.clone());
    assert_same(left.state(), right.state(), "the other way round");

    // Merging again, from either side or crosswise, asks nothing and changes nothing.
    for (one, other) in [(&left, b), (&right, a), (&left, &right), (&right, &left)] {
        let again = merge(&one.lines, &other.lines, &Answers::default(), now()).unwrap();
        assert_eq!(again.questions, [], "asked again");
        let mut same = one.clone();
        same.commit(again.event);
        assert_same(same.state(), one.state(), "merged again");
    }
    // A copy that hasn't merged yet takes the result over without a question.
    for (one, other) in [(a, &right), (b, &left)] {
        let over = merge(&one.lines, &other.lines, &Answers::default(), now()).unwrap();
        assert_eq!(over.questions, [], "asked though it is answered");
        let mut same = one.clone();
        same.commit(over.event);
        assert_same(same.state(), left.state(), "taken over");
    }
    // An undo restores the stash, and the same merge is possible again.
    if ab.event.is_some() {
        let mut back = left.clone();
        back.commit(Some(back.life.history.undo().unwrap()));
        assert_same(back.state(), a.state(), "undone");
        let anew = merged(&back, b, whim);
        assert_eq!(names(&anew), names(&ab));
        let mut anew_taken = back.clone();
        anew_taken.commit(anew.event);
        assert_same(anew_taken.state(), left.state(), "merged after an undo");
        back.commit(Some(back.life.history.redo().unwrap()));
        assert_same(back.state(), left.state(), "done again");
        let again = merge(&back.lines, &b.lines, &Answers::default(), now()).unwrap();
        assert!(again.event.is_none());
    }
    let asked = !ab.questions.is_empty();
    (left, right, asked)
}

/// All strands on cards, by card.
fn strands(state: &State) -> BTreeMap<CardId, u32> {
    state
        .cards()
        .map(|kept| (kept.card.id, kept.strands().0))
        .collect()
}

#[test]
fn a_lot_spelled_in_different_case_by_two_copies_is_one() {
    use crate::stash::command::import::{Terms, card_list};
    use crate::stash::testing::{kept, row};

    let names = |copy: &Copy| {
        let thread = &kept(copy.state(), "77").thread;
        let lots = thread.lots();
        lots.map(|(lot, of)| (lot.to_string(), of.skeins))
            .collect::<Vec<_>>()
    };
    let adds = |copy: &mut Copy, lot: &str, skeins| {
        let mut row = row("Cove:77");
        row.dye_lot = Some(lot.to_owned());
        row.uncut = Some(skeins);
        let terms = Terms {
            add: true,
            ..Terms::default()
        };
        let outcome = card_list(copy.state(), &[row], Vec::new(), &terms, at(0)).unwrap();
        copy.commit(outcome.event);
    };
    let mut common = Copy::new();
    adds(&mut common, "V1", 1);
    for (first, second) in [("K7", "k7"), ("k7", "K7")] {
        let (mut a, mut b) = (common.copied(1, 0), common.copied(2, 100));
        adds(&mut a, first, 2);
        adds(&mut b, second, 3);
        let (mut a, mut b, _) = both_ways(&a, &b, 0);
        let mut expected = vec![("V1".to_owned(), 1), (first.to_owned(), 5)];
        expected.sort();
        assert_eq!(names(&a), expected);
        adds(&mut a, second, 1);
        adds(&mut b, first, 1);
        let (a, ..) = both_ways(&a, &b, 0);
        assert_eq!(names(&a).iter().map(|(_, skeins)| skeins).sum::<u32>(), 8);
        assert_eq!(names(&a).len(), 2);
    }
}

#[test]
fn a_note_that_looks_like_an_id_is_kept_as_written() {
    use crate::stash::command::import::{Terms, card_list};
    use crate::stash::testing::row;

    let adds = |copy: &mut Copy, card: &str, note: Option<String>| {
        let mut row = row(card);
        row.note = note;
        let outcome =
            card_list(copy.state(), &[row], Vec::new(), &Terms::default(), at(0)).unwrap();
        copy.commit(outcome.event);
    };
    let mut common = Copy::new();
    adds(&mut common, "Moor:1", None);
    // Both create a range of the same name, and each note is the id of the other's or its own.
    let (mut a, mut b) = (common.copied(1, 0), common.copied(2, 100));
    adds(&mut a, "Sandbank:10", None);
    adds(&mut b, "Sandbank:20", None);
    let id = |copy: &Copy| {
        let ranges = copy.state().ranges();
        let mut made = ranges.filter(|range| range.name.as_str() == "Sandbank");
        made.next().map(|range| range.id.to_string()).unwrap()
    };
    let (of_a, of_b) = (id(&a), id(&b));
    assert_ne!(of_a, of_b);
    adds(&mut a, "Moor:2", Some(of_a.clone()));
    adds(&mut b, "Moor:3", Some(of_b.clone()));
    adds(&mut b, "Sandbank:20", Some(of_b.clone()));
    let (merged, ..) = both_ways(&a, &b, 0);
    let note = |number: &str| {
        let kept = merged
            .state()
            .cards()
            .find(|kept| kept.card.number.to_string() == number);
        kept.unwrap().card.note.to_string()
    };
    assert_eq!(
        (note("2"), note("3"), note("20")),
        (of_a, of_b.clone(), of_b)
    );
}

/// The matches of a copy, as `RANGE:NUMBER=RANGE:NUMBER`.
fn matches_of(copy: &Copy) -> BTreeSet<String> {
    let named = |of: &ColourRef| {
        let range = copy.state().range(of.range).unwrap();
        format!("{}:{}", range.name, of.number)
    };
    let all = copy.state().matches().iter();
    all.map(|of| of.colours().each_ref().map(named).join("="))
        .collect()
}

#[test]
fn matches_of_two_copies_merge_one_by_one() {
    use crate::stash::command::import::{MatchRow, Terms, card_list, matches};
    use crate::stash::testing::row;

    let card = |copy: &mut Copy, card: &str| {
        let outcome = card_list(
            copy.state(),
            &[row(card)],
            Vec::new(),
            &Terms::default(),
            at(0),
        );
        copy.commit(outcome.unwrap().event);
    };
    let import = |copy: &mut Copy, replace: bool, list: &[[&str; 4]]| {
        let rows: Vec<MatchRow> = list
            .iter()
            .map(|row| {
                let [range, number, match_range, match_number] = row.map(str::to_owned);
                MatchRow {
                    line: 2,
                    range: Some(range),
                    number,
                    match_range: Some(match_range),
                    match_number,
                }
            })
            .collect();
        let outcome = matches(copy.state(), &rows, Vec::new(), replace);
        copy.commit(outcome.unwrap().event);
    };
    let mut common = Copy::new();
    card(&mut common, "Heath:1");
    card(&mut common, "Cove:1");
    import(&mut common, false, &[["Heath", "1", "Cove", "1"]]);
    let (mut a, mut b) = (common.copied(1, 0), common.copied(2, 100));
    // One removes the old match and adds a match that the other adds too, in different case and
    // reversed.
    import(&mut a, true, &[["Heath", "b5", "Cove", "2"]]);
    import(
        &mut b,
        false,
        &[["Cove", "2", "Heath", "B5"], ["Heath", "1", "Cove", "3"]],
    );
    // Both create a range of the same name. They become one, and so do the matches in them.
    for (copy, of_its_own) in [(&mut a, "Moor:7"), (&mut b, "Moor:8")] {
        card(copy, of_its_own);
        import(copy, false, &[["Moor", "7", "Heath", "1"]]);
    }
    let (merged, other, asked) = both_ways(&a, &b, 0);
    assert!(!asked);
    let expected = ["Heath:1=Cove:3", "Heath:1=Moor:7", "Heath:B5=Cove:2"];
    assert_eq!(matches_of(&merged), expected.map(str::to_owned).into());
    assert_eq!(matches_of(&other), matches_of(&merged));
    assert!(invariants::check_all(merged.state()).is_empty());
}

/// Every amount, by card, lot and part.
fn by_lot(state: &State) -> BTreeMap<(CardId, String, ThreadPart), i64> {
    let mut amounts = BTreeMap::new();
    for kept in state.cards() {
        for (lot, of) in kept.thread.lots() {
            for part in ThreadPart::ALL {
                let key = (kept.card.id, fold(lot.as_str()), part);
                *amounts.entry(key).or_default() += i64::from(of.amount(part));
            }
        }
    }
    amounts.retain(|_, amount| *amount != 0);
    amounts
}

/// Bought skeins, and thread used from a card that isn't on a ring.
fn wound() -> impl Strategy<Value = Choice> {
    let bought = any::<[u16; 5]>().prop_map(|n| (103, n));
    let used = any::<[u16; 5]>().prop_map(|n| (108, n));
    prop_oneof![bought, used]
}

fn lives(most: usize) -> impl Strategy<Value = Vec<Choice>> {
    prop::collection::vec(a_choice(), 0..most)
}

proptest! {
    // Each case merges ten times or more.
    #![proptest_config(crate::testing::one_case_in(24))]

    #[test]
    fn both_directions_lead_to_the_same_stash(
        common in choices(10),
        left in lives(8),
        right in lives(8),
        later in lives(8),
        skew in -30..30_i64,
        crosswise: bool,
        whim: u64,
    ) {
        let mut a = Copy::new();
        a.live(common);
        prop_assume!(!a.lines.is_empty());
        let mut b = a.copied(2, skew);
        a = a.copied(1, 0);
        a.live(left);
        b.live(right);
        let (x, y, _) = both_ways(&a, &b, whim);
        // Both continue after one of them, or each of them, has merged.
        a = x;
        if crosswise {
            b = y;
        }
        let (half, rest) = later.split_at(later.len() / 2);
        a.live(half.iter().copied());
        b.live(rest.iter().copied());
        both_ways(&a, &b, whim);
    }

    #[test]
    fn thread_added_and_used_on_both_sides_adds_up_lot_by_lot(
        common in choices(10),
        left in prop::collection::vec(wound(), 0..8),
        right in prop::collection::vec(wound(), 0..8),
        whim: u64,
    ) {
        let mut base = Copy::new();
        base.live(common);
        prop_assume!(!base.lines.is_empty());
        let (mut a, mut b) = (base.copied(1, 0), base.copied(2, 20));
        a.live(left);
        b.live(right);
        let (merged, ..) = both_ways(&a, &b, whim);
        let (was, of_a, of_b, now) = (
            by_lot(base.state()),
            by_lot(a.state()),
            by_lot(b.state()),
            by_lot(merged.state()),
        );
        let known = |state: &State, (card, ..): &(CardId, String, ThreadPart)| state.card(*card).is_some();
        let keys: BTreeSet<_> = was.keys().chain(of_a.keys()).chain(of_b.keys()).collect();
        for key in keys.into_iter().filter(|key| known(base.state(), key)) {
            let amount = |of: &BTreeMap<_, i64>| of.get(key).copied().unwrap_or(0);
            // If both together used more than there was, nothing is left.
            let sum = amount(&of_a) + amount(&of_b) - amount(&was);
            prop_assert_eq!(amount(&now), sum.max(0), "{:?}", key);
        }
    }

    #[test]
    fn three_copies_reach_the_same_stash_by_any_route(
        common in choices(8),
        first in lives(6),
        second in lives(6),
        third in lives(6),
        skew in -30..30_i64,
        whim: u64,
    ) {
        let mut all = Copy::new();
        all.live(common);
        prop_assume!(!all.lines.is_empty());
        let lives = [first, second, third];
        let copies: Vec<Copy> = (0_u64..).zip(lives).map(|(at, life)| {
            let mut copy = all.copied(at + 1, skew * at as i64);
            copy.live(life);
            copy
        }).collect();
        let mut ends: Vec<(Copy, bool)> = Vec::new();
        for [a, b, c] in [[0, 1, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
            let mut copy = copies[a].clone();
            let one = merged(&copy, &copies[b], whim);
            let mut asked = !one.questions.is_empty();
            copy.commit(one.event);
            let two = merged(&copy, &copies[c], whim);
            asked |= !two.questions.is_empty();
            copy.commit(two.event);
            assert!(invariants::check_all(copy.state()).is_empty());
            ends.push((copy, asked));
        }
        let (first, asked) = &ends[0];
        for (other, asked_too) in &ends[1..] {
            if !asked && !asked_too {
                assert_same(first.state(), other.state(), "another route");
            }
            // Amounts are sums, whatever the answers: for cards that remain on both routes they are
            // equal.
            let (one, two) = (strands(first.state()), strands(other.state()));
            if !asked && !asked_too {
                assert_eq!(one, two);
            }
        }
        // Two copies that went different routes can be merged, too.
        both_ways(&ends[0].0, &ends[1].0, whim);
    }
}
