//! Two records with a common beginning become one.
//!
//! A stash folder lies where it is carried from one computer to another, and was changed on both.
//! What then has to be kept is every fact of either side, and what cannot be so on both at once has to
//! be asked.
//!
//! # The common beginning
//!
//! Every line of a record has a checksum chained to all before it, so equal sums mean equal pasts. The
//! *facts* of a record are the sums of its lines, together with those that earlier joins brought in
//! ([`Act::Join`] lists them in `taken`); a join's own line is none, and a join that was taken back
//! brings nothing in. Two records whose first facts differ are two stashes and are refused. Otherwise
//! the common beginning is that state, at some line of either record, whose facts are exactly those
//! which both have. For two plain copies this is the longest common prefix; after earlier joins, in
//! either direction or over a third copy, it is what was agreed last, so nothing is counted twice.
//! Where there is no such line (two computers that each took over a different part of the other's
//! work) the records are refused in words.
//!
//! # What is compared
//!
//! Not event by event but state by state: the common beginning, ours, theirs. Taking a thing out and
//! hanging it back is no conflict with anything, and the outcome does not depend on the order of
//! events. [`identity`] says which things of the three are the same, by the line of their birth, and
//! gives numbers of our own to what is new on their side. `three` goes through every field: who
//! alone changed it has his way; thread, reserve and what was used for a key are amounts, so both
//! changes are added; cards that went out on a ring, blocked hooks and lines of a key are united.
//! Both changed the same to something else: that is a [`Conflict`]. Then `clash` looks for what is good by
//! itself and cannot be together: more homes on a hook than places, a closed ring with cards on it.
//! These are asked when the first conflicts are answered, and numbered after them.
//!
//! Families are the same by the line of their birth, whatever they are called now, and so are two that
//! were made under one name. Each way to rename one, and each order of the wall, is asked where both
//! sides chose otherwise; cards of a family that one side gave up and the other put cards in keep it.
//! A renaming on one side to a name that the other gave to another family is refused in words.
//!
//! A thing that one side took out of the stash and the other changed stays. A spare card that one side
//! wound back is gone, and what the other used of it is taken off the card that has its thread now.
//!
//! # What is written down
//!
//! One event, so that one undo takes all of it back: an [`Act::Join`] with the difference between ours
//! and the outcome. Its act tells every change of the other side that came in with it (time, who,
//! what), and of each conflict both sides and the answer, so what lost is still told by the log.

mod clash;
pub mod identity;
mod lived;
mod sheet;
#[cfg(test)]
mod tests;
mod three;

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use self::identity::{Same, match_up};
use self::lived::Lived;
use self::sheet::Sheet;
use self::three::Asking;
use super::event::{Act, Event};
use super::laws::Broken;
use super::state::{Misfit, State};
use crate::language::{say, word};
use crate::model::who::Who;

/// A line of a record, as far as a join looks at it.
#[derive(Clone, Debug)]
pub struct Line {
    /// Its number.
    pub seq: u64,
    /// When it was written.
    pub time: Timestamp,
    /// By whom.
    pub by: Option<Who>,
    /// Its checksum, which stands for it and all lines before.
    pub sum: String,
    /// What happened.
    pub event: Event,
}

/// A change of another copy that came in with a join.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Taken {
    /// Its number in that copy.
    pub seq: u64,
    /// When it was made.
    pub time: Timestamp,
    /// By whom, where that was written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Who>,
    /// What was done, as a sentence without its full stop.
    pub what: String,
    /// The checksum of its line.
    pub sum: String,
}

/// One of the two records.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The one that is open, to which the join is written.
    Mine,
    /// The other one.
    Theirs,
}

/// A conflict and its answer, as it is written down.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Settled {
    /// What it was about.
    pub about: String,
    /// How it was here.
    pub mine: String,
    /// How it was there.
    pub theirs: String,
    /// Whose way it is now.
    pub answer: Side,
}

/// How one side has something that is in conflict.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Version {
    /// What it is there.
    pub what: String,
    /// The change that made it so last: its time, its maker and its sentence.
    pub last: Option<(Timestamp, Option<Who>, String)>,
}

/// Something that cannot be as both sides have it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Conflict {
    /// Its number, from 1.
    pub n: usize,
    /// What it is about.
    pub about: String,
    /// As it is here.
    pub mine: Version,
    /// As it is there.
    pub theirs: Version,
    /// The side that changed it later.
    pub later: Side,
    /// The answer, where there is one.
    pub answer: Option<Side>,
}

/// Answers to conflicts.
#[derive(Clone, Default, Debug)]
pub struct Answers {
    /// To all that have no answer of their own.
    pub all: Option<Side>,
    /// To single ones, by number.
    pub each: BTreeMap<usize, Side>,
}

impl Answers {
    fn to(&self, n: usize) -> Option<Side> {
        self.each.get(&n).copied().or(self.all)
    }
}

/// What comes of two records.
#[derive(Clone, Debug)]
pub struct Joined {
    /// The event for our record; nothing where a conflict is open or nothing is new.
    pub event: Option<Event>,
    /// The changes of the other side that are new to ours, oldest first as its record has them.
    pub taken: Vec<Taken>,
    /// Every conflict found so far, answered or not.
    pub conflicts: Vec<Conflict>,
}

impl Joined {
    /// Whether a conflict has no answer yet.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.conflicts
            .iter()
            .any(|conflict| conflict.answer.is_none())
    }
}

/// Why two records do not become one. Nothing was changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotJoined {
    /// They have no line in common.
    #[error("{}", say!(
        "these are two different stashes: their records have no change in common, not even \
         the first. To bring cards of one into the other, export a stock list there and \
         import it here"
    ))]
    Strangers,
    /// Both took over a part of the other, and nowhere do they stand on the same.
    #[error("{}", say!(
        "both copies took over changes of the other already, each in its own way or with \
         other answers, so it cannot be told what was counted. Undo the last merge in one of \
         them, or keep one record and make the other's last changes there again"
    ))]
    Crossed,
    /// A line of a record does not fit.
    #[error("{}", say!(
        "change {seq} of {whose} record does not fit ({misfit}). Run: homehook check",
        seq,
        whose,
        misfit
    ))]
    Misfit {
        /// `this` or `the other`.
        whose: &'static str,
        /// Which line.
        seq: u64,
        /// What is wrong with it.
        misfit: Misfit,
    },
    /// The outcome would break a law that no question settles.
    #[error("{}", say!(
        "with these answers both sides do not go together: {it}. Answer otherwise, or \
         change that on one of the two computers first, and then merge",
        it = _0
    ))]
    Apart(Broken),
    /// One side gave a family the name under which the other has another.
    #[error("{}", say!(
        "with these answers there would be two families called '{it}': one that was renamed \
         to it and one that had the name already. Rename one of them on one of the two \
         computers first, or answer otherwise, and then merge",
        it = _0
    ))]
    Namesakes(String),
    /// The outcome does not fit for another reason.
    #[error("{}", say!("the two records cannot be brought together: {it}", it = _0))]
    Unfit(Misfit),
}

/// Brings the other record's facts into ours. O((lines + cards) · log).
///
/// # Errors
/// When the records have no common beginning, one of them does not fit, or the outcome would break a law.
pub fn join(ours: &[Line], theirs: &[Line], answers: &Answers) -> Result<Joined, NotJoined> {
    match (ours.first(), theirs.first()) {
        (Some(a), Some(b)) if a.sum == b.sum => {}
        _ => return Err(NotJoined::Strangers),
    }
    let mine = Lived::through(ours, "this")?;
    let other = Lived::through(theirs, word!("the other"))?;
    let taken: Vec<Taken> = other
        .facts
        .iter()
        .filter(|fact| !mine.knows(&fact.sum))
        .cloned()
        .collect();
    if taken.is_empty() {
        // Each has all of the other: then they stand on the same, unless they answered otherwise.
        if mine.facts.len() == other.facts.len() && !is_same(&mine, &mine, &other, &other) {
            return Err(NotJoined::Crossed);
        }
        return Ok(Joined {
            event: None,
            taken,
            conflicts: Vec::new(),
        });
    }
    let common: BTreeSet<&str> = (other.facts.iter())
        .map(|fact| fact.sum.as_str())
        .filter(|sum| mine.knows(sum))
        .collect();
    let here = Lived::until(ours, &common, "this")?;
    let there = Lived::until(theirs, &common, word!("the other"))?;
    if let (Some(here), Some(there)) = (&here, &there)
        && !is_same(here, &mine, there, &other)
    {
        return Err(NotJoined::Crossed);
    }
    let base = here.or(there).ok_or(NotJoined::Crossed)?;
    let matched = match_up(&base, &mine, &other);
    let base = Sheet::of(&base.state).renumbered(&matched.base);
    let there = Sheet::of(&other.state).renumbered(&matched.theirs);
    let (base, there) = (base.into_state()?, there.into_state()?);
    let touched = lived::renumbered(&other.touched, &matched.theirs);
    let mut asking = Asking::new(answers, &mine.state, &there, &mine.touched, &touched);
    let mut sheet = three::merge(&mut asking, &base);
    if !asking.is_open() {
        clash::settle(&mut asking, &mut sheet);
        three::keep_what_is_spoken_of(&asking, &mut sheet);
    }
    let conflicts = asking.conflicts;
    let mut joined = Joined {
        event: None,
        taken,
        conflicts,
    };
    if !joined.is_open() {
        joined.event = Some(event(&mine.state, &sheet, &joined, matched.same)?);
    }
    Ok(joined)
}

/// Whether a state that each record came through is the same in both but for its numbers.
fn is_same(here: &Lived, ours: &Lived, there: &Lived, theirs: &Lived) -> bool {
    let [left, right] = [here, there].map(|state| {
        let numbers = match_up(state, ours, theirs).base;
        Sheet::of(&state.state).renumbered(&numbers).in_any_order()
    });
    left == right
}

/// The event that makes of our state what is on the sheet, tried out.
fn event(
    ours: &State,
    sheet: &Sheet,
    joined: &Joined,
    same: Vec<Same>,
) -> Result<Event, NotJoined> {
    for (at, family) in sheet.families.iter().enumerate() {
        let mut before = sheet.families.iter().take(at);
        if before.any(|other| other.name.same_as(family.name.as_str())) {
            return Err(NotJoined::Namesakes(family.name.to_string()));
        }
    }
    let settled = joined.conflicts.iter().filter_map(|conflict| {
        Some(Settled {
            about: conflict.about.clone(),
            mine: conflict.mine.what.clone(),
            theirs: conflict.theirs.what.clone(),
            answer: conflict.answer?,
        })
    });
    let event = Event {
        act: Act::Join {
            taken: joined.taken.clone(),
            settled: settled.collect(),
            same,
        },
        changes: sheet.changes_from(ours),
    };
    match ours.clone().apply(&event) {
        Ok(()) => Ok(event),
        Err(Misfit::Law(broken)) => Err(NotJoined::Apart(broken)),
        Err(misfit) => Err(NotJoined::Unfit(misfit)),
    }
}

impl NotJoined {
    /// A stable word for scripts.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Strangers => "different_stashes",
            Self::Crossed => "merged_crosswise",
            Self::Misfit { .. } => "read_only",
            Self::Apart(_) | Self::Namesakes(_) | Self::Unfit(_) => "not_together",
        }
    }
}
