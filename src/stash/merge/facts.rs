//! The events of two records as one set, and who knew what.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::Timestamp;

use crate::model::ids::{EventId, Stamp};
use crate::model::label::Who;
use crate::stash::apply::ApplyError;
use crate::stash::event::{Act, Deed, Event, Fact, Settled, Thing};
use crate::stash::invariants::Violation;
use crate::stash::state::State;

/// Where the events of one computer run beside those of another. More of them come from no person.
const MOST_CHAINS: usize = 512;

/// A line of a record, as far as a merge looks at it.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its number.
    pub seq: u64,
    /// Which event.
    pub id: EventId,
    /// Its place in the order of all events.
    pub stamp: Stamp,
    /// When it was written.
    pub time: Timestamp,
    /// By whom.
    pub by: Option<Who>,
    /// What happened.
    pub event: Event,
}

/// One of the two records.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Side {
    /// The one that is open, to which the merge is written.
    Mine,
    /// The other one.
    Theirs,
}

/// Why two records are not merged. Nothing was changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MergeError {
    /// They don't begin with the same event.
    #[error("different_stashes")]
    Strangers,
    /// The other record has no event.
    #[error("empty_copy")]
    Empty,
    /// An event is said to come after one that it comes before.
    #[error("altered_copy")]
    OutOfOrder(EventId),
    /// More computers worked apart than any person has.
    #[error("altered_copy")]
    TooManyCopies,
    /// An event of the one record isn't as the other has it.
    #[error("altered_copy")]
    Altered(EventId),
    /// The other copy was written by a clock that is years ahead.
    #[error("clock_ahead")]
    Ahead(Timestamp),
    /// A line of a record doesn't fit.
    #[error("read_only")]
    ApplyError {
        /// Of which record.
        whose: Side,
        /// Which line.
        seq: u64,
        /// What is wrong with it.
        misfit: ApplyError,
    },
    /// The outcome can't be a stash.
    #[error("not_together")]
    Unreadable(String),
    /// The outcome would break a rule that no question settles.
    #[error("not_together")]
    Apart(Violation),
    /// The outcome doesn't fit for another reason.
    #[error("not_together")]
    Unfit(ApplyError),
}

/// What the lines of a record make of a state.
fn replayed(mut state: State, lines: &[Line], whose: Side) -> Result<State, MergeError> {
    for line in lines {
        let misfit = |misfit| MergeError::ApplyError {
            whose,
            seq: line.seq,
            misfit,
        };
        state.apply(&line.event).map_err(misfit)?;
    }
    Ok(state)
}

/// The events of one record that are in force, from some line on.
struct Log {
    facts: BTreeMap<EventId, Fact>,
    /// Those that came before, which are not kept as facts.
    earlier: BTreeSet<EventId>,
    /// The events of which nothing later knows.
    heads: Vec<EventId>,
    /// Whether what comes now is kept.
    is_kept: bool,
}

/// What an undo of an event gives back.
struct Done {
    id: EventId,
    /// The heads before it.
    before: Vec<EventId>,
    /// Of a merge: its own fact and those it brought.
    merged: Vec<Fact>,
}

impl Log {
    /// Goes through the lines of a record, and keeps the facts of those that come after the first `base`.
    fn of(lines: &[Line], base: usize) -> Self {
        let mut log = Self {
            facts: BTreeMap::new(),
            earlier: BTreeSet::new(),
            heads: Vec::new(),
            is_kept: true,
        };
        let (mut done, mut undone): (Vec<Done>, Vec<Done>) = (Vec::new(), Vec::new());
        for (at, line) in lines.iter().enumerate() {
            log.is_kept = at >= base;
            match &line.event.act {
                Act::AcceptLoss { .. } => {}
                Act::Undo { .. } => {
                    let Some(last) = done.pop() else { continue };
                    log.turn(line, &last, Deed::Undid(last.id));
                    undone.push(last);
                }
                Act::Redo { .. } => {
                    let Some(last) = undone.pop() else { continue };
                    if last.merged.is_empty() {
                        log.add(line, Deed::Redid(last.id));
                    } else {
                        log.bring(&last.merged);
                        log.heads = vec![last.id];
                    }
                    done.push(last);
                }
                Act::Merge { facts, settled } => {
                    undone.clear();
                    done.push(log.merge(line, facts, settled));
                }
                _ => {
                    undone.clear();
                    let before = log.heads.clone();
                    if log.is_kept {
                        log.add(line, Deed::Did(line.event.clone()));
                    }
                    log.earlier.insert(line.id);
                    log.heads = vec![line.id];
                    done.push(Done {
                        id: line.id,
                        before,
                        merged: Vec::new(),
                    });
                }
            }
        }
        log
    }

    /// A merge: it brings events, and is one itself.
    fn merge(&mut self, line: &Line, facts: &[Fact], settled: &[Settled]) -> Done {
        let before = self.heads.clone();
        let new = facts.iter().filter(|fact| !self.has(fact.id));
        let mut merged: Vec<Fact> = new.cloned().collect();
        self.heads.extend(heads(&merged));
        let own = fact(line, &self.heads, Deed::Settled(settled.to_vec()));
        merged.push(own);
        self.bring(&merged);
        self.heads = vec![line.id];
        Done {
            id: line.id,
            before,
            merged,
        }
    }

    fn add(&mut self, line: &Line, deed: Deed) {
        if self.is_kept {
            self.facts.insert(line.id, fact(line, &self.heads, deed));
        } else {
            self.earlier.insert(line.id);
        }
        self.heads = vec![line.id];
    }

    fn bring(&mut self, merged: &[Fact]) {
        if self.is_kept {
            let merged = merged.iter().map(|fact| (fact.id, fact.clone()));
            self.facts.extend(merged);
        } else {
            self.earlier.extend(merged.iter().map(|fact| fact.id));
        }
    }

    fn has(&self, id: EventId) -> bool {
        self.facts.contains_key(&id) || self.earlier.contains(&id)
    }

    /// An undo. That of a merge drops what it brought, in this copy alone, and is itself no fact.
    fn turn(&mut self, line: &Line, last: &Done, deed: Deed) {
        if last.merged.is_empty() {
            return self.add(line, deed);
        }
        for fact in &last.merged {
            self.facts.remove(&fact.id);
            self.earlier.remove(&fact.id);
        }
        self.heads.clone_from(&last.before);
    }
}

fn fact(line: &Line, after: &[EventId], deed: Deed) -> Fact {
    Fact {
        id: line.id,
        stamp: line.stamp,
        time: line.time,
        by: line.by.clone(),
        after: after.to_vec(),
        deed,
    }
}

/// Those that none of the others knows.
fn heads(facts: &[Fact]) -> Vec<EventId> {
    let known: BTreeSet<EventId> = facts.iter().flat_map(|fact| &fact.after).copied().collect();
    let ids = facts.iter().map(|fact| fact.id);
    ids.filter(|id| !known.contains(id)).collect()
}

/// Which event a value comes from.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) enum Source {
    /// One before both records part. Everyone knows it.
    Base,
    /// One of the facts, by its place in their order.
    Fact(usize),
    /// This merge, which knows everything.
    Merge,
}

/// All events of two records that came after their common beginning, in the order of their stamps.
pub(super) struct Facts {
    /// How many lines both records begin with.
    common: usize,
    /// The stash at the common beginning.
    pub(super) base: State,
    pub(super) all: Vec<Fact>,
    /// Which records have each.
    sides: Vec<Option<Side>>,
    by_id: HashMap<EventId, usize>,
    /// The chain each is on, and how many of it come before.
    place: Vec<(usize, usize)>,
    /// How many of each chain each one knows, itself included.
    knows: Vec<BTreeMap<usize, usize>>,
}

impl Facts {
    /// Puts the events of two records together. O(lines · log lines), and for each event the number of
    /// computers that worked apart.
    pub(super) fn of(ours: &[Line], theirs: &[Line]) -> Result<Self, MergeError> {
        match (ours.first(), theirs.first()) {
            (Some(a), Some(b)) if a.id == b.id => {}
            (_, None) => return Err(MergeError::Empty),
            _ => return Err(MergeError::Strangers),
        }
        let common = parting(ours, theirs)?;
        let base = replayed(State::default(), &ours[..common], Side::Mine)?;
        let [mine, mut other] = [ours, theirs].map(|lines| Log::of(lines, common).facts);
        let mut sides: BTreeMap<(Stamp, EventId), (Fact, Option<Side>)> = BTreeMap::new();
        for (id, mut fact) in mine {
            let side = match other.remove(&id) {
                None => Some(Side::Mine),
                Some(same) if (same.stamp, &same.deed) == (fact.stamp, &fact.deed) => {
                    // A record that was salvaged knows less of what came before.
                    fact.after.extend(same.after);
                    fact.after.sort_unstable();
                    fact.after.dedup();
                    None
                }
                Some(_) => return Err(MergeError::Altered(id)),
            };
            sides.insert((fact.stamp, id), (fact, side));
        }
        let theirs = other
            .into_iter()
            .map(|(id, fact)| ((fact.stamp, id), (fact, Some(Side::Theirs))));
        sides.extend(theirs);
        let (all, sides) = sides.into_values().unzip();
        Self::ordered(common, base, all, sides)
    }

    /// The state after all lines of one of the two records.
    pub(super) fn replayed(&self, lines: &[Line], whose: Side) -> Result<State, MergeError> {
        replayed(self.base.clone(), &lines[self.common..], whose)
    }

    fn ordered(
        common: usize,
        base: State,
        all: Vec<Fact>,
        sides: Vec<Option<Side>>,
    ) -> Result<Self, MergeError> {
        let ids = all.iter().enumerate().map(|(at, fact)| (fact.id, at));
        let mut facts = Self {
            common,
            base,
            sides,
            by_id: ids.collect(),
            place: Vec::with_capacity(all.len()),
            knows: Vec::with_capacity(all.len()),
            all,
        };
        let mut chains: Vec<usize> = Vec::new();
        for (at, fact) in facts.all.iter().enumerate() {
            let mut knows: BTreeMap<usize, usize> = BTreeMap::new();
            let mut on = None;
            // One that is not here came before the common beginning, or was dropped with a merge.
            for parent in fact.after.iter().filter_map(|id| facts.by_id.get(id)) {
                let Some(known) = facts.knows.get(*parent) else {
                    return Err(MergeError::OutOfOrder(fact.id));
                };
                for (&chain, &count) in known {
                    let most = knows.entry(chain).or_default();
                    *most = count.max(*most);
                }
                let (chain, before) = facts.place[*parent];
                if chains.get(chain) == Some(&(before + 1)) {
                    on = on.or(Some(chain));
                }
            }
            let chain = on.unwrap_or(chains.len());
            if chain == chains.len() {
                chains.push(0);
            }
            if chains.len() > MOST_CHAINS {
                return Err(MergeError::TooManyCopies);
            }
            facts.place.push((chain, chains[chain]));
            chains[chain] += 1;
            knows.insert(chain, chains[chain]);
            facts.knows.push(knows);
            debug_assert_eq!(facts.knows.len(), at + 1);
        }
        Ok(facts)
    }

    /// Whether the maker of one event knew another when he made it; of itself, yes.
    pub(super) fn knows(&self, later: Source, earlier: Source) -> bool {
        match (later, earlier) {
            (Source::Merge, _) | (_, Source::Base) => true,
            (Source::Base, _) | (_, Source::Merge) => false,
            (Source::Fact(later), Source::Fact(earlier)) => {
                let (chain, before) = self.place[earlier];
                self.knows[later]
                    .get(&chain)
                    .is_some_and(|&count| count > before)
            }
        }
    }

    /// Whether neither of two events knew the other.
    pub(super) fn apart(&self, a: Source, b: Source) -> bool {
        !self.knows(a, b) && !self.knows(b, a)
    }

    /// Whether a record has an event.
    pub(super) fn is_on(&self, of: Source, side: Side) -> bool {
        match of {
            Source::Base => true,
            Source::Merge => false,
            Source::Fact(at) => self.sides[at].is_none_or(|only| only == side),
        }
    }

    pub(super) fn fact(&self, of: Source) -> Option<&Fact> {
        match of {
            Source::Fact(at) => self.all.get(at),
            _ => None,
        }
    }

    /// Whether a value was written by an act, not by undoing one or by a merge.
    pub(super) fn is_act(&self, of: Source) -> bool {
        let deed = self.fact(of).map(|fact| &fact.deed);
        of == Source::Base || matches!(deed, Some(Deed::Did(_)))
    }

    /// The place of an event among the facts.
    pub(super) fn find(&self, id: EventId) -> Option<usize> {
        self.by_id.get(&id).copied()
    }

    /// The events that the other record has and ours has not.
    pub(super) fn brought(&self) -> impl Iterator<Item = &Fact> {
        let sides = self.all.iter().zip(&self.sides);
        let new = sides.filter(|(_, side)| **side == Some(Side::Theirs));
        new.map(|(fact, _)| fact)
    }
}

/// How many lines two records have in common after which all that they do is kept as facts: nothing
/// before is undone or done again after.
fn parting(ours: &[Line], theirs: &[Line]) -> Result<usize, MergeError> {
    let pairs = ours.iter().zip(theirs);
    let same = pairs.take_while(|(a, b)| a.id == b.id);
    let mut common = 0;
    for (a, b) in same {
        if (a.stamp, &a.event) != (b.stamp, &b.event) {
            return Err(MergeError::Altered(a.id));
        }
        common += 1;
    }
    let turned = [turns(ours), turns(theirs)];
    loop {
        let earlier = turned.iter().flatten().filter(|&&(at, _)| at >= common);
        let least = earlier.map(|&(_, of)| of).min().unwrap_or(common);
        if least >= common {
            return Ok(common);
        }
        common = least;
    }
}

/// Every line that undoes an event or does it again, itself or by what it carries, with the line that
/// brought that event.
fn turns(lines: &[Line]) -> Vec<(usize, usize)> {
    let (mut done, mut undone): (Vec<usize>, Vec<usize>) = (Vec::new(), Vec::new());
    let mut turns = Vec::new();
    let mut came: HashMap<EventId, usize> = HashMap::new();
    for (at, line) in lines.iter().enumerate() {
        came.entry(line.id).or_insert(at);
        if let Act::Merge { facts, settled } = &line.event.act {
            for fact in facts {
                came.entry(fact.id).or_insert(at);
            }
            let mut turned: Vec<EventId> = events(settled).collect();
            for fact in facts {
                match &fact.deed {
                    Deed::Did(_) => {}
                    Deed::Undid(id) | Deed::Redid(id) => turned.push(*id),
                    Deed::Settled(settled) => turned.extend(events(settled)),
                }
            }
            turns.extend(turned.iter().filter_map(|id| Some((at, *came.get(id)?))));
        }
        let (from, to) = match line.event.act {
            Act::AcceptLoss { .. } => continue,
            Act::Undo { .. } => (&mut done, &mut undone),
            Act::Redo { .. } => (&mut undone, &mut done),
            _ => {
                undone.clear();
                done.push(at);
                continue;
            }
        };
        if let Some(of) = from.pop() {
            turns.push((at, of));
            to.push(of);
        }
    }
    turns
}

/// The events of which it is settled whether they count.
fn events(settled: &[Settled]) -> impl Iterator<Item = EventId> {
    settled.iter().filter_map(|of| match of.thing {
        Thing::Event(id) => Some(id),
        _ => None,
    })
}
