//! Merges two copies of a stash that were changed separately. The result doesn't depend on the
//! direction.
//!
//! **Facts.** Every event has an id that is unique across copies, and a stamp later than all its
//! writer knew. The events of two copies form one set. A merge records the other side's events
//! whole, each with what its writer knew, so that a third copy can get them from here.
//!
//! **State.** A stash is the result of all events of the set, applied in the order of (stamp, id).
//! Undone events are left out instead of reversed. Each field has the value of the latest event
//! that set it. An amount is the sum of what was added since it was last set; if more was taken
//! than there was, nothing is left. The values before, which an event states, count only in its own
//! record.
//!
//! **Questions.** The user is asked where two events set a field to different values and neither
//! knew the other, where one side changed what the other removed or undid, where two cards or
//! projects got the same name, where one list was imported twice, and where the outcome breaks a
//! rule, such as a hook with too many cards or a closed ring with cards on it. There are no
//! questions about amounts and matching colours.
//!
//! **Answers** are values of fields with a stamp of their own, so they are the same for every copy
//! that learns of them. Undoing a merge drops what it brought, in this copy alone.
//!
//! `merge/tests.rs` checks these properties over random histories:
//! - Both directions result in the same stash, given each other's answers to the same questions.
//! - Merging again, or crosswise, asks nothing and changes nothing.
//! - Three copies reach the same stash by any route if nothing is asked, and one that keeps the
//!   rules in any case.
//! - An undo restores the stash as it was.

mod asking;
mod facts;
mod fields;
mod fold;
mod questions;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use jiff::Timestamp;

use self::asking::{Asking, Round, is_open};
use self::facts::Facts;
use self::fields::{Write, changes_between, is_amount};
use self::fold::{Fold, Sheet};
use super::event::{Act, Deed, Event, Fact, Thing};
use super::invariants;
use crate::model::ids::{CardId, EventId, Stamp};
use crate::stash::state::State;

pub use self::asking::{Answers, Claim, Question, Subject};
pub use self::facts::{Line, MergeError, Side};

/// How far ahead another computer's clock may be, in microseconds: ten years. Every stamp made
/// after a merge is later than those it brought, so a stamp that no clock could show is refused.
const MOST_AHEAD: u64 = 10 * 366 * 24 * 3600 * 1_000_000;

/// The result of merging two records.
#[derive(Clone, Debug)]
pub struct Merged {
    /// The event for our record; `None` if a question is open or nothing is new.
    pub event: Option<Event>,
    /// The events of the other side that are new to ours, in the order of their stamps.
    pub new: Vec<Fact>,
    /// Every question so far, answered or not.
    pub questions: Vec<Question>,
    /// Events of the other side about things that no longer exist.
    pub left_out: Vec<EventId>,
    /// Cards whose thread somebody has to count: both sides together used more than there was, or each counted
    /// it differently and the later count stands.
    pub to_count: Vec<CardId>,
    /// Cards without a hook that had one on a side: it is blocked, gone, or was given up.
    pub without_hook: Vec<CardId>,
    /// Cards split on one side from a card that the other side split for the same project too, so that there may be one
    /// too many.
    pub split_twice: Vec<CardId>,
    /// The other side's stash.
    pub theirs: State,
}

impl Merged {
    /// Whether a question has no answer yet.
    #[must_use]
    pub fn is_open(&self) -> bool {
        is_open(&self.questions)
    }
}

/// Merges the other record's events into ours. O((lines + cards) · log).
///
/// # Errors
/// [`MergeError`]: the records begin differently, one of them doesn't fit, or the outcome would
/// break a rule.
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
        to_count: Vec::new(),
        without_hook: Vec::new(),
        split_twice: Vec::new(),
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
    merged.to_count = to_count(&asking);
    let had_hook = |id| {
        let sides = [&mine, &merged.theirs].into_iter();
        sides
            .flat_map(|side| side.card(id))
            .any(|kept| kept.home.is_some())
    };
    let without = state.cards().filter(|kept| kept.home.is_none());
    let without = without.map(|kept| kept.card.id).filter(|&id| had_hook(id));
    merged.without_hook = without.collect();
    merged.split_twice = split_twice(state, [&mine, &merged.theirs]);
    let event = Event {
        changes: changes_between(&mine, state),
        act: Act::Merge {
            facts: merged.new.clone(),
            settled: asking.settled,
        },
    };
    // Two copies that have both merged the other have no news for each other.
    let tells = |fact: &Fact| !matches!(fact.deed, Deed::Settled(_));
    if event.changes.is_empty() && merged.questions.is_empty() && !merged.new.iter().any(tells) {
        merged.new.clear();
        return Ok(merged);
    }
    mine.clone().apply(&event).map_err(MergeError::Unfit)?;
    merged.event = Some(event);
    Ok(merged)
}

/// Refuses events with stamps too far ahead of the clock.
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

/// Whether nothing that an event changed exists any more, unless the event itself removed
/// something.
fn is_lost(fold: &Fold<'_>, sheet: &Sheet, fact: &Fact) -> bool {
    let writes = fold.facts.find(fact.id).map(|at| &fold.writes[at]);
    let takes_away = |(_, member, write): &(Thing, String, Write)| {
        member == fields::EXISTS && *write == Write::Set(false.into())
    };
    if writes.is_some_and(|writes| writes.iter().any(takes_away)) {
        return false;
    }
    // What was bought went to the card that stays.
    let joined = |thing| !sheet.value(thing, fields::SAME_AS).is_null();
    let mut things = writes.into_iter().flatten().map(|(thing, _, _)| *thing);
    if let Deed::Did(event) = &fact.deed
        && matches!(event.act, Act::Bought { .. })
        && things.clone().any(joined)
    {
        return false;
    }
    things.clone().next().is_some()
        && things.all(|thing| match thing {
            Thing::Event(_) | Thing::Stash => false,
            thing => !sheet.has(thing),
        })
}

/// The cards whose thread nobody can know from the two records.
fn to_count(asking: &Asking<'_>) -> Vec<CardId> {
    let cards = asking.sheet.existing().filter_map(|(thing, members)| {
        let Thing::Card(id) = thing else { return None };
        let mut amounts = members.iter().filter(|(member, _)| is_amount(member));
        let unsure =
            amounts.any(|(member, cell)| cell.fell_short || asking.apart(member, cell).is_some());
        unsure.then_some(id)
    });
    cards.collect()
}

/// The split cards that only one side has, where each side has one of the same card for the same project.
fn split_twice(state: &State, [mine, theirs]: [&State; 2]) -> Vec<CardId> {
    let mut groups: BTreeMap<_, Vec<CardId>> = BTreeMap::new();
    for kept in state.split_cards() {
        let ring = state.ring_of_split_card(kept).map(|ring| ring.id);
        let group = groups.entry((kept.card.parent, ring)).or_default();
        group.push(kept.card.id);
    }
    let lacks = |side: &State, cards: &[CardId]| cards.iter().any(|&id| side.card(id).is_none());
    let groups = groups.into_values();
    let groups = groups.filter(|cards| lacks(mine, cards) && lacks(theirs, cards));
    groups.flatten().collect()
}

/// Asks all questions, round by round, until an answer is missing.
///
/// # Errors
/// When the result of the events can't be read as a stash.
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
    // Answers and repairs may give two things the same name.
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
    // One repair may require another, a few times at most.
    for _ in 0..20 {
        if is_open(&asking.questions) || !asking.go_round(&settling)? {
            break;
        }
    }
    Ok(asking)
}
