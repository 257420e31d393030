//! A record lived through: what it came to, which facts it holds, and when each thing was touched.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;

use super::identity::{Birth, Ids, Thing};
use super::{Line, NotJoined, Taken};
use crate::model::ids::{CardId, RingId};
use crate::model::who::Who;
use crate::stash::change::Change;
use crate::stash::event::Act;
use crate::stash::movements::Replay;
use crate::stash::state::State;

/// What a conflict can be about.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) enum Topic {
    Written(CardId),
    Place(CardId),
    Home(CardId),
    Thread(CardId),
    Ring(RingId),
    Of(Thing),
    Families,
    Order,
    Underway,
}

/// The change that touched something last.
pub(super) type Touch = (Timestamp, Option<Who>, String);

/// The births that things had otherwise.
type Births = Vec<(Thing, Option<BTreeSet<Birth>>)>;

/// A record after some of its lines.
#[derive(Default)]
pub(super) struct Lived {
    pub(super) state: State,
    /// Every fact, oldest first.
    pub(super) facts: Vec<Taken>,
    sums: BTreeSet<String>,
    pub(super) births: BTreeMap<Thing, BTreeSet<Birth>>,
    pub(super) touched: BTreeMap<Topic, Touch>,
}

impl Lived {
    /// A whole record.
    pub(super) fn through(lines: &[Line], whose: &'static str) -> Result<Self, NotJoined> {
        let mut lived = Self::default();
        let mut replay = Replay::default();
        let mut done: Vec<(Vec<Taken>, Births)> = Vec::new();
        let mut undone: Vec<(Vec<Taken>, Births)> = Vec::new();
        for line in lines {
            let misfit = |misfit| NotJoined::Misfit {
                whose,
                seq: line.seq,
                misfit,
            };
            let told = replay.tell(line.seq, line.event.clone(), |_, _| ());
            let what = told.map_err(misfit)?.what;
            for topic in line.event.changes.iter().flat_map(topics) {
                let touch = (line.time, line.by.clone(), what.clone());
                lived.touched.insert(topic, touch);
            }
            let own = Taken {
                seq: line.seq,
                time: line.time,
                by: line.by.clone(),
                what,
                sum: line.sum.clone(),
            };
            match &line.event.act {
                Act::Join { taken, .. } => {
                    taken.iter().for_each(|fact| lived.learn(fact));
                    undone.clear();
                    done.push((taken.clone(), lived.born(line)));
                }
                Act::Undo { .. } => {
                    let (taken, births) = done.pop().unwrap_or_default();
                    taken.iter().for_each(|fact| lived.forget(fact));
                    undone.push((taken, lived.exchange(births)));
                    lived.learn(&own);
                }
                Act::Redo { .. } => {
                    let (taken, births) = undone.pop().unwrap_or_default();
                    taken.iter().for_each(|fact| lived.learn(fact));
                    done.push((taken, lived.exchange(births)));
                    lived.learn(&own);
                }
                _ => {
                    undone.clear();
                    done.push((Vec::new(), lived.born(line)));
                    lived.learn(&own);
                }
            }
        }
        lived.state = replay.state().clone();
        Ok(lived)
    }

    /// The record as long as it holds exactly these facts; nothing where it never does.
    pub(super) fn until(
        lines: &[Line],
        facts: &BTreeSet<&str>,
        whose: &'static str,
    ) -> Result<Option<Self>, NotJoined> {
        let mut length = None;
        let mut done: Vec<&[Taken]> = Vec::new();
        let mut undone: Vec<&[Taken]> = Vec::new();
        let mut has: BTreeSet<&str> = BTreeSet::new();
        let mut strange = 0_usize;
        let count = |sum: &str, comes: bool, strange: &mut usize| {
            if !facts.contains(sum) {
                *strange = if comes {
                    *strange + 1
                } else {
                    strange.saturating_sub(1)
                };
            }
        };
        for (at, line) in lines.iter().enumerate() {
            let (mut come, mut go): (Vec<&str>, Vec<&str>) = (Vec::new(), Vec::new());
            match &line.event.act {
                Act::Join { taken, .. } => {
                    come.extend(taken.iter().map(|fact| fact.sum.as_str()));
                    undone.clear();
                    done.push(taken);
                }
                Act::Undo { .. } => {
                    let taken = done.pop().unwrap_or_default();
                    go.extend(taken.iter().map(|fact| fact.sum.as_str()));
                    undone.push(taken);
                    come.push(&line.sum);
                }
                Act::Redo { .. } => {
                    let taken = undone.pop().unwrap_or_default();
                    come.extend(taken.iter().map(|fact| fact.sum.as_str()));
                    done.push(taken);
                    come.push(&line.sum);
                }
                _ => {
                    undone.clear();
                    done.push(&[]);
                    come.push(&line.sum);
                }
            }
            for sum in come {
                if has.insert(sum) {
                    count(sum, true, &mut strange);
                }
            }
            for sum in go {
                if has.remove(sum) {
                    count(sum, false, &mut strange);
                }
            }
            if strange == 0 && has.len() == facts.len() {
                length = Some(at + 1);
            }
        }
        let lines = length.and_then(|length| lines.get(..length));
        lines.map(|lines| Self::through(lines, whose)).transpose()
    }

    /// Whether the record holds a fact.
    pub(super) fn knows(&self, sum: &str) -> bool {
        self.sums.contains(sum)
    }

    fn learn(&mut self, fact: &Taken) {
        if self.sums.insert(fact.sum.clone()) {
            self.facts.push(fact.clone());
        }
    }

    fn forget(&mut self, fact: &Taken) {
        if self.sums.remove(&fact.sum) {
            self.facts.retain(|known| known.sum != fact.sum);
        }
    }

    /// Notes what came into being, and gives the births that were known before. A number can be given
    /// again, when what had it last is gone.
    fn born(&mut self, line: &Line) -> Births {
        let mut before = Vec::new();
        for thing in line.event.changes.iter().flat_map(new_things) {
            let birth = Birth {
                sum: line.sum.clone(),
                id: thing.number(),
            };
            let births = BTreeSet::from([birth]);
            before.push((thing, self.births.insert(thing, births)));
        }
        if let Act::Join { same, .. } = &line.event.act {
            for known in same {
                before.push((known.thing, self.births.get(&known.thing).cloned()));
                let births = self.births.entry(known.thing).or_default();
                births.extend(known.births.iter().cloned());
            }
        }
        before
    }

    /// What an undo or a redo brings back is what it was before. Gives what puts it as it is now.
    fn exchange(&mut self, births: Births) -> Births {
        let swap = |(thing, births): (Thing, Option<BTreeSet<Birth>>)| {
            let now = match births {
                Some(births) => self.births.insert(thing, births),
                None => self.births.remove(&thing),
            };
            (thing, now)
        };
        births.into_iter().rev().map(swap).collect()
    }
}

/// What of a record another join looks at, by other numbers.
pub(super) fn renumbered(touched: &BTreeMap<Topic, Touch>, ids: &Ids) -> BTreeMap<Topic, Touch> {
    let topic = |topic: &Topic| match *topic {
        Topic::Written(card) => Topic::Written(ids.card(card)),
        Topic::Place(card) => Topic::Place(ids.card(card)),
        Topic::Home(card) => Topic::Home(ids.card(card)),
        Topic::Thread(card) => Topic::Thread(ids.card(card)),
        Topic::Ring(ring) => Topic::Ring(ids.ring(ring)),
        Topic::Of(thing) => Topic::Of(ids.thing(thing)),
        other => other,
    };
    let touched = touched.iter();
    touched
        .map(|(of, touch)| (topic(of), touch.clone()))
        .collect()
}

fn new_things(change: &Change) -> Vec<Thing> {
    match change {
        Change::Range {
            before: None,
            after: Some(range),
        } => vec![Thing::Range(range.id)],
        Change::Board {
            before: None,
            after: Some(board),
        } => vec![Thing::Board(board.id)],
        Change::Card {
            before: None,
            after: Some(card),
        } => vec![Thing::Card(card.id)],
        Change::Ring {
            before: None,
            after: Some(ring),
        } => vec![Thing::Ring(ring.id)],
        Change::Families { before, after } => (after.iter())
            .filter(|family| !before.iter().any(|old| old.id == family.id))
            .map(|family| Thing::Family(family.id))
            .collect(),
        _ => Vec::new(),
    }
}

fn topics(change: &Change) -> Option<Topic> {
    match change {
        Change::Range { before, after } => {
            let range = after.as_ref().or(before.as_ref())?;
            Some(Topic::Of(Thing::Range(range.id)))
        }
        Change::Board { before, after } => {
            let board = after.as_ref().or(before.as_ref())?;
            Some(Topic::Of(Thing::Board(board.id)))
        }
        Change::Ring { before, after } => {
            let ring = after.as_ref().or(before.as_ref())?;
            Some(Topic::Ring(ring.id))
        }
        Change::Card { before, after } => {
            let card = after.as_ref().or(before.as_ref())?;
            Some(Topic::Written(card.id))
        }
        Change::Families { .. } => Some(Topic::Families),
        Change::Place { card, .. } => Some(Topic::Place(*card)),
        Change::Home { card, .. } => Some(Topic::Home(*card)),
        Change::Thread { card, .. } => Some(Topic::Thread(*card)),
        Change::Key { ring, .. } | Change::Used { ring, .. } | Change::WentOut { ring, .. } => {
            Some(Topic::Ring(*ring))
        }
        Change::Underway { .. } | Change::Progress { .. } => Some(Topic::Underway),
        Change::Order { .. } => Some(Topic::Order),
    }
}
