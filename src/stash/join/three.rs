//! Every field of the common beginning, ours and theirs, and what comes of it.

mod cards;
mod project;
mod wall;

use std::collections::{BTreeMap, BTreeSet};

pub(super) use self::project::state_in_words as ring_state_in_words;
use super::lived::{Topic, Touch};
use super::sheet::Sheet;
use super::{Answers, Conflict, Side, Version};
use crate::language::{say, word};
use crate::model::family::WallOrder;
use crate::model::ids::CardId;
use crate::model::whereabouts::LastSeen;
use crate::stash::state::State;

/// The conflicts met so far, and where their answers come from.
pub(super) struct Asking<'a> {
    answers: &'a Answers,
    pub(super) conflicts: Vec<Conflict>,
    pub(super) ours: &'a State,
    pub(super) theirs: &'a State,
    touched: [&'a BTreeMap<Topic, Touch>; 2],
}

impl<'a> Asking<'a> {
    pub(super) fn new(
        answers: &'a Answers,
        ours: &'a State,
        theirs: &'a State,
        mine_touched: &'a BTreeMap<Topic, Touch>,
        theirs_touched: &'a BTreeMap<Topic, Touch>,
    ) -> Self {
        Self {
            answers,
            conflicts: Vec::new(),
            ours,
            theirs,
            touched: [mine_touched, theirs_touched],
        }
    }

    /// Whether a conflict has no answer yet.
    pub(super) fn is_open(&self) -> bool {
        self.conflicts
            .iter()
            .any(|conflict| conflict.answer.is_none())
    }

    /// The state of a side.
    pub(super) const fn of(&self, side: Side) -> &'a State {
        match side {
            Side::Mine => self.ours,
            Side::Theirs => self.theirs,
        }
    }

    /// Asks whose way it is. Where nobody has answered yet, ours stands in so that the rest can be
    /// looked at.
    pub(super) fn ask(
        &mut self,
        topics: &[Topic],
        about: String,
        mine: String,
        theirs: String,
    ) -> Side {
        let last = |touched: &BTreeMap<Topic, Touch>| {
            let touches = topics.iter().filter_map(|topic| touched.get(topic));
            touches.max_by_key(|touch| touch.0).cloned()
        };
        let [mine_last, theirs_last] = self.touched.map(last);
        let time = |last: &Option<Touch>| last.as_ref().map(|touch| touch.0);
        let later = if time(&theirs_last) > time(&mine_last) {
            Side::Theirs
        } else {
            Side::Mine
        };
        let n = self.conflicts.len() + 1;
        let answer = self.answers.to(n);
        self.conflicts.push(Conflict {
            n,
            about,
            mine: Version {
                what: mine,
                last: mine_last,
            },
            theirs: Version {
                what: theirs,
                last: theirs_last,
            },
            later,
            answer,
        });
        answer.unwrap_or(Side::Mine)
    }

    /// The value of who alone changed it, or of who is answered.
    fn pick<V: Clone + PartialEq>(
        &mut self,
        topic: Topic,
        about: impl FnOnce() -> String,
        [base, mine, theirs]: [&V; 3],
        say: impl Fn(&State, &V) -> String,
    ) -> V {
        if mine == theirs || theirs == base {
            return mine.clone();
        }
        if mine == base {
            return theirs.clone();
        }
        let words = (say(self.ours, mine), say(self.theirs, theirs));
        match self.ask(&[topic], about(), words.0, words.1) {
            Side::Mine => mine.clone(),
            Side::Theirs => theirs.clone(),
        }
    }

    /// An amount with what both sides added and took away.
    fn add(
        &mut self,
        topic: Topic,
        about: impl FnOnce() -> String,
        [base, mine, theirs]: [i64; 3],
        most: i64,
        say: impl Fn(i64) -> String,
    ) -> i64 {
        let sum = mine.saturating_add(theirs.saturating_sub(base));
        if (0..=most).contains(&sum) {
            return sum;
        }
        match self.ask(&[topic], about(), say(mine), say(theirs)) {
            Side::Mine => mine.clamp(0, most),
            Side::Theirs => theirs.clamp(0, most),
        }
    }

    /// `card 310`, by the name it has on the side that knows it.
    pub(super) fn card_name(&self, id: CardId) -> String {
        let name = |state: &State| state.card(id).map(|kept| state.card_name(kept));
        let name = name(self.ours).or_else(|| name(self.theirs));
        say!("card {name}", name = name.unwrap_or_default())
    }
}

/// All that stands after both sides' changes, as far as each thing by itself goes.
pub(super) fn merge(asking: &mut Asking<'_>, base: &State) -> Sheet {
    let mut sheet = Sheet::default();
    wall::ranges(asking, base, &mut sheet);
    wall::families(asking, base, &mut sheet);
    wall::boards(asking, base, &mut sheet);
    let order = [base, asking.ours, asking.theirs].map(State::order);
    sheet.order = asking.pick(
        Topic::Order,
        || word!("what the wall is ordered by").to_owned(),
        order.each_ref(),
        |_, order| {
            let words = match order {
                WallOrder::Family => word!("family, then number"),
                WallOrder::Number => word!("number alone"),
                WallOrder::Lightness => word!("family, then from light to dark"),
            };
            words.to_owned()
        },
    );
    cards::cards(asking, base, &mut sheet);
    project::rings(asking, base, &mut sheet);
    underway(asking, base, &mut sheet);
    keep_what_is_spoken_of(asking, &mut sheet);
    sheet
}

/// The ids of any of the three, in order.
fn every<K: Ord + Copy>(lists: [impl Iterator<Item = K>; 3]) -> BTreeSet<K> {
    lists.into_iter().flatten().collect()
}

/// Of two spellings that differ in capitals at most, the one that is new on one side, or else the first
/// of the alphabet: nobody is asked for that.
fn spelling<T: Ord + Clone>(was: Option<&T>, mine: &T, theirs: &T) -> T {
    match was {
        Some(was) if was == mine => theirs.clone(),
        Some(was) if was == theirs => mine.clone(),
        _ => mine.min(theirs).clone(),
    }
}

/// What is left of a thing that one side took out: nothing where the other left it alone.
fn left<'a, T: PartialEq>(base: &T, other: Option<&'a T>) -> Option<&'a T> {
    other.filter(|other| *other != base)
}

fn underway(asking: &mut Asking<'_>, base: &State, sheet: &mut Sheet) {
    let three = [base, asking.ours, asking.theirs].map(|of| of.underway().cloned());
    let [was, mine, theirs] = &three;
    let underway = asking.pick(
        Topic::Underway,
        || word!("the re-hang underway").to_owned(),
        [was, mine, theirs],
        |_, underway| {
            let words = underway.as_ref();
            words.map_or_else(
                || "none".to_owned(),
                |of| {
                    say!(
                        "{done} of {steps} steps done",
                        done = of.done,
                        steps = of.steps
                    )
                },
            )
        },
    );
    sheet.underway = underway;
}

/// Puts back what one side took out and something of the outcome speaks of.
pub(super) fn keep_what_is_spoken_of(asking: &Asking<'_>, sheet: &mut Sheet) {
    let (ours, theirs) = (asking.ours, asking.theirs);
    let parents: BTreeSet<CardId> = sheet
        .cards
        .values()
        .filter_map(|kept| kept.card.parent)
        .collect();
    for id in parents {
        if let (false, Some(kept)) = (
            sheet.cards.contains_key(&id),
            ours.card(id).or(theirs.card(id)),
        ) {
            sheet.cards.insert(id, kept.clone());
        }
    }
    // A missing card still speaks of the ring or the hook it was last seen on.
    let (mut on_rings, mut on_boards) = (BTreeSet::new(), BTreeSet::new());
    for kept in sheet.cards.values() {
        on_boards.extend(kept.home.map(|hook| hook.board));
        match kept.place.at.last_seen() {
            LastSeen::Ring(ring) => drop(on_rings.insert(ring)),
            LastSeen::Hook(hook) => drop(on_boards.insert(hook.board)),
            LastSeen::Loose => {}
        }
    }
    for ring in on_rings {
        if let (false, Some(of)) = (
            sheet.rings.contains_key(&ring),
            ours.ring(ring).or(theirs.ring(ring)),
        ) {
            sheet.rings.insert(ring, of.clone());
        }
    }
    for ring in sheet.rings.values_mut() {
        ring.went_out.retain(|card| sheet.cards.contains_key(card));
    }
    // Where one side gave up a card and wrote one of its number anew, that one has gone nowhere there.
    for kept in sheet.cards.values() {
        if let Some(ring) = kept.place.at.ring()
            && let Some(ring) = sheet.rings.get_mut(&ring)
            && !ring.went_out.contains(&kept.card.id)
        {
            ring.went_out.push(kept.card.id);
        }
    }
    let of_keys = sheet
        .rings
        .values()
        .flat_map(|ring| ring.key.iter().map(|line| line.range));
    let of_cards = sheet.cards.values().map(|kept| kept.card.range);
    for range in of_keys.chain(of_cards) {
        if let (false, Some(of)) = (
            sheet.ranges.contains_key(&range),
            ours.range(range).or(theirs.range(range)),
        ) {
            sheet.ranges.insert(range, of.clone());
        }
    }
    let shades = sheet
        .ranges
        .values()
        .flat_map(|range| range.shades.values());
    let of_shades = shades.filter_map(|shade| shade.family);
    let of_cards = sheet
        .cards
        .values()
        .filter_map(|kept| kept.card.family.id());
    for family in of_cards.chain(of_shades) {
        let there = sheet.families.iter().any(|of| of.id == family);
        if let (false, Some(of)) = (there, ours.family(family).or(theirs.family(family))) {
            sheet.families.push(of.clone());
        }
    }
    for board in on_boards {
        if let (false, Some(of)) = (
            sheet.boards.contains_key(&board),
            ours.board(board).or(theirs.board(board)),
        ) {
            sheet.boards.insert(board, of.clone());
        }
    }
    // A card that is gone, or a hook of a board that is, cannot be aimed at.
    if let Some(mut underway) = sheet.underway.take() {
        underway.homes.retain(|(card, hook)| {
            sheet.cards.contains_key(card) && sheet.boards.contains_key(&hook.board)
        });
        sheet.underway = Some(underway).filter(|of| !of.homes.is_empty());
    }
}
