//! Two copies of a stash that were changed apart become one, the same whichever takes in the other.
//!
//! **Facts.** Every event has an id that is its own in all copies, and a stamp that is later than all its
//! writer knew. The events of two copies are one set; a merge writes the other side's events down whole,
//! each with what its writer knew, so that a third copy can take them from here.
//!
//! **State.** A stash is what all events of the set make of it in the order of (stamp, id), without those
//! that were undone: these are left out, not turned around. Each field has the value of the latest event
//! that set it. An amount is what was added to it since it was last set; where more was taken than there was,
//! nothing is left. What an event says was there before counts in its own record only.
//!
//! **Questions.** A person is asked where two events set a field to different values and neither knew the
//! other, where one side changed what the other removed or undid, where two cards or projects of one name
//! came to be, where one list was imported twice, and where the outcome breaks a rule: a hook with too many
//! cards, a closed ring with cards on it. Amounts and matches of colours aren't asked about.
//!
//! **Answers** are values of fields with a stamp of their own, so they are the same for whoever hears of
//! them. Undoing a merge drops what it brought, in this copy alone.
//!
//! Laws, as properties over random histories in `merge/tests.rs`:
//! - both directions come to the same stash, with each other's answers to the same questions;
//! - merging again, or crosswise, asks nothing and changes nothing;
//! - three copies come to the same stash by any route where nothing is asked, and to one that keeps the
//!   rules in any case;
//! - an undo gives back the stash as it was.

mod asking;
mod facts;
mod fields;
mod fold;
mod questions;
#[cfg(test)]
mod tests;

use jiff::Timestamp;

use self::asking::{Asking, Round, is_open};
use self::facts::Facts;
use self::fields::{Write, changes_between};
use self::fold::{Fold, Sheet};
use super::event::{Act, Deed, Event, Fact, Thing};
use super::invariants;
use crate::model::ids::{CardId, EventId, Stamp};
use crate::stash::state::State;

pub use self::asking::{Answers, Claim, Question, Subject};
pub use self::facts::{Line, MergeError, Side};

/// How far the clock of another computer may be ahead, in microseconds: ten years. Every stamp that is
/// made after a merge is later than those it brought, so one that no clock could show is not let in.
const MOST_AHEAD: u64 = 10 * 366 * 24 * 3600 * 1_000_000;

/// What comes of two records.
#[derive(Clone, Debug)]
pub struct Merged {
    /// The event for our record; nothing where a question is open or nothing is new.
    pub event: Option<Event>,
    /// The events of the other side that are new to ours, in the order of their stamps.
    pub new: Vec<Fact>,
    /// Every question so far, answered or not.
    pub questions: Vec<Question>,
    /// Events of the other side that were about nothing that is there any more.
    pub left_out: Vec<EventId>,
    /// Cards of which more was used on both sides together than there was.
    pub short: Vec<CardId>,
    /// The stash as the other side has it.
    pub theirs: State,
}

impl Merged {
    /// Whether a question has no answer yet.
    #[must_use]
    pub fn is_open(&self) -> bool {
        is_open(&self.questions)
    }
}

/// Brings the other record's events into ours. O((lines + cards) · log).
///
/// # Errors
/// [`MergeError`]: the records don't begin alike, one of them doesn't fit, or the outcome would break a
/// rule.
pub fn merge(
    ours: &[Line],
    theirs: &[Line],
    answers: &Answers,
    now: Timestamp,
) -> Result<Merged, MergeError> {
    let facts = Facts::of(ours, theirs)?;
    check_clock(&facts, ours, now)?;
    let mut merged = Merged {
        event: None,
        new: facts.brought().cloned().collect(),
        questions: Vec::new(),
        left_out: Vec::new(),
        short: Vec::new(),
        theirs: facts.replayed(theirs, Side::Theirs)?,
    };
    if merged.new.is_empty() {
        return Ok(merged);
    }
    let mine = facts.replayed(ours, Side::Mine)?;
    let fold = Fold::new(&facts);
    let unreadable = |error: serde_json::Error| MergeError::Unreadable(error.to_string());
    let asking = asked(&fold, answers).map_err(unreadable)?;
    merged.questions.clone_from(&asking.questions);
    if merged.is_open() {
        return Ok(merged);
    }
    let (sheet, state) = (&asking.sheet, &asking.state);
    if let Some(broken) = invariants::check_all(state).into_iter().next() {
        return Err(MergeError::Apart(broken));
    }
    let lost = merged.new.iter().filter(|fact| is_lost(&fold, sheet, fact));
    merged.left_out = lost.map(|fact| fact.id).collect();
    merged.short = short(sheet);
    let event = Event {
        changes: changes_between(&mine, state),
        act: Act::Merge {
            facts: merged.new.clone(),
            settled: asking.settled,
        },
    };
    // Two copies that both merged the other have nothing to tell each other.
    let tells = |fact: &Fact| !matches!(fact.deed, Deed::Settled(_));
    if event.changes.is_empty() && merged.questions.is_empty() && !merged.new.iter().any(tells) {
        merged.new.clear();
        return Ok(merged);
    }
    mine.clone().apply(&event).map_err(MergeError::Unfit)?;
    merged.event = Some(event);
    Ok(merged)
}

/// Refuses events that no clock could have stamped by now.
fn check_clock(facts: &Facts, ours: &[Line], now: Timestamp) -> Result<(), MergeError> {
    let newest = ours.last().map_or(Stamp::default(), |line| line.stamp);
    let horizon = Stamp::at(now).map_or(newest, |now| now.max(newest));
    let most = horizon.0.saturating_add(MOST_AHEAD);
    match facts.brought().find(|fact| fact.stamp.0 > most) {
        None => Ok(()),
        Some(fact) => {
            let micros = i64::try_from(fact.stamp.0).unwrap_or(i64::MAX);
            let clock = Timestamp::from_microsecond(micros).unwrap_or(fact.time);
            Err(MergeError::Ahead(clock))
        }
    }
}

/// Whether nothing is there any more of what an event wrote on, and it wasn't this event that took it away.
fn is_lost(fold: &Fold<'_>, sheet: &Sheet, fact: &Fact) -> bool {
    let writes = fold.facts.find(fact.id).map(|at| &fold.writes[at]);
    let takes_away = |(_, member, write): &(Thing, String, Write)| {
        member == fields::EXISTS && *write == Write::Set(false.into())
    };
    if writes.is_some_and(|writes| writes.iter().any(takes_away)) {
        return false;
    }
    let mut things = writes.into_iter().flatten().map(|(thing, _, _)| *thing);
    things.clone().next().is_some()
        && things.all(|thing| match thing {
            Thing::Event(_) | Thing::Stash => false,
            thing => !sheet.has(thing),
        })
}

/// The cards of which more was used on both sides together than there was.
fn short(sheet: &Sheet) -> Vec<CardId> {
    let cards = sheet.existing().filter_map(|(thing, members)| match thing {
        Thing::Card(id) => members.values().any(|cell| cell.fell_short).then_some(id),
        _ => None,
    });
    cards.collect()
}

/// Asks everything, round by round, until an answer is wanting.
///
/// # Errors
/// When what the events say can't be read as a stash.
fn asked<'a>(fold: &'a Fold<'a>, answers: &'a Answers) -> Result<Asking<'a>, serde_json::Error> {
    let mut asking = Asking::new(fold, answers)?;
    let first: [Round<'a>; 6] = [
        Asking::lists,
        Asking::undone,
        Asking::removed,
        Asking::one_by_name,
        Asking::namesakes,
        Asking::fields,
    ];
    // What was answered and put right may give two things one name.
    let settling: [Round<'a>; 2] = [Asking::repair, Asking::namesakes];
    let last: [Round<'a>; 4] = [
        Asking::full_hooks,
        Asking::hand,
        Asking::closed_rings,
        Asking::take_from_closed_rings,
    ];
    for rounds in [&first[..], &settling, &last] {
        asking.go_round(rounds)?;
    }
    // One thing that is put right may call for another, a few times at most.
    for _ in 0..20 {
        if is_open(&asking.questions) || !asking.go_round(&settling)? {
            break;
        }
    }
    Ok(asking)
}
