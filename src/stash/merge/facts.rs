//! The events of two records as one set, and which events their writers knew.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::Timestamp;

use crate::model::ids::{EventId, Stamp};
use crate::model::label::Who;
use crate::stash::apply::ApplyError;
use crate::stash::event::{Act, Deed, Event, Fact, Settled, Thing};
use crate::stash::invariants::Violation;
use crate::stash::state::State;

/// The most chains, one for each computer whose events run parallel to others'. No user has more.
const MOST_CHAINS: usize = 512;

/// The parts of a record line that a merge uses.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its sequence number.
    pub seq: u64,
    /// Which event.
    pub id: EventId,
    /// Its position in the order of all events.
    pub stamp: Stamp,
    /// When it was written.
    pub time: Timestamp,
    /// Its author.
    pub by: Option<Who>,
    /// The event.
    pub event: Event,
}

/// One of the two records.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Side {
    /// The open one, to which the merge is written.
    Mine,
    /// The other one.
    Theirs,
}

impl Side {
    /// The opposite side.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Mine => Self::Theirs,
            Self::Theirs => Self::Mine,
        }
    }
}

/// Why two records can't be merged. Nothing was changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MergeError {
    /// They don't begin with the same event.
    #[error("different_stashes")]
    Strangers,
    /// The other record has no event.
    #[error("empty_copy")]
    Empty,
    /// An event claims to come after one that it comes before.
    #[error("altered_copy")]
    OutOfOrder(EventId),
    /// More computers worked in parallel than any user has.
    #[error("altered_copy")]
    TooManyCopies,
    /// The two records have different versions of an event.
    #[error("altered_copy")]
    Altered(EventId),
    /// The other copy's clock is years ahead.
    #[error("clock_ahead")]
    Ahead(Timestamp),
    /// A line of a record doesn't fit.
    #[error("read_only")]
    ApplyError {
        /// Which record.
        whose: Side,
        /// Which line.
        seq: u64,
        /// The fault.
        misfit: ApplyError,
    },
    /// The outcome can't be read as a stash.
    #[error("not_together")]
    Unreadable(String),
    /// The outcome would break a rule that no question covers.
    #[error("not_together")]
    Apart(Violation),
    /// The outcome doesn't fit for another reason.
    #[error("not_together")]
    Unfit(ApplyError),
}

/// Applies the lines of a record to a state.
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

/// The events of one record that are in effect, from some line on.
struct Log {
    facts: BTreeMap<EventId, Fact>,
    /// Earlier events, which aren't kept as facts.
    earlier: BTreeSet<EventId>,
    /// The events that no later event knows.
    heads: Vec<EventId>,
    /// Whether the facts of the current line are kept.
    is_kept: bool,
}

/// What undoing an event restores.
struct Done {
    id: EventId,
    /// The heads before it.
    before: Vec<EventId>,
    /// For a merge: its own fact and those it brought.
    merged: Vec<Fact>,
}

impl Log {
    /// Reads the lines of a record, and keeps the facts of those after the first `base`.
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

    /// A merge: it brings events, and is an event itself.
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

    /// An undo. Undoing a merge drops what it brought, in this copy alone, and isn't a fact.
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

/// The facts that none of the others knows.
fn heads(facts: &[Fact]) -> Vec<EventId> {
    let known: BTreeSet<EventId> = facts.iter().flat_map(|fact| &fact.after).copied().collect();
    let ids = facts.iter().map(|fact| fact.id);
    ids.filter(|id| !known.contains(id)).collect()
}

/// The event that a value comes from.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) enum Source {
    /// An event before the two records diverged. Everyone knows it.
    Base,
    /// One of the facts, by its index.
    Fact(usize),
    /// This merge, which knows everything.
    Merge,
}

/// All events of two records after their common beginning, in the order of their stamps.
pub(super) struct Facts {
    /// How many lines both records have in common.
    common: usize,
    /// The stash at the common beginning.
    pub(super) base: State,
    pub(super) all: Vec<Fact>,
    /// The one side that has each fact; `None` if both have it.
    sides: Vec<Option<Side>>,
    by_id: HashMap<EventId, usize>,
    /// The chain of each fact, and how many facts of it come before.
    place: Vec<(usize, usize)>,
    /// How many facts of each chain each fact knows, including itself.
    knows: Vec<BTreeMap<usize, usize>>,
}

impl Facts {
    /// Combines the events of two records. O(lines · log lines), and for each event the number of
    /// computers that worked in parallel.
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
                    // A salvaged record knows less of what came before.
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

    /// The state after all lines of one record.
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
            // A missing one came before the common beginning, or was dropped with a merge.
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

    /// Whether the writer of one event knew another. True for the event itself.
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

    /// Whether neither event knew the other.
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

    /// Whether a value was written by an act, not by an undo or a merge.
    pub(super) fn is_act(&self, of: Source) -> bool {
        let deed = self.fact(of).map(|fact| &fact.deed);
        of == Source::Base || matches!(deed, Some(Deed::Did(_)))
    }

    /// The index of an event among the facts.
    pub(super) fn find(&self, id: EventId) -> Option<usize> {
        self.by_id.get(&id).copied()
    }

    /// The events that only the other record has.
    pub(super) fn brought(&self) -> impl Iterator<Item = &Fact> {
        let sides = self.all.iter().zip(&self.sides);
        let new = sides.filter(|(_, side)| **side == Some(Side::Theirs));
        new.map(|(fact, _)| fact)
    }
}

/// The number of common lines after which both records are kept as facts. Nothing before is undone
/// or redone after.
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

/// Every line that undoes or redoes an event, itself or through a merge, with the line that brought
/// the event.
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

/// The events about which it was decided whether they count.
fn events(settled: &[Settled]) -> impl Iterator<Item = EventId> {
    settled.iter().filter_map(|of| match of.thing {
        Thing::Event(id) => Some(id),
        _ => None,
    })
}
