//! The roll call: compares what the user saw on the wall with the record.
//!
//! The user walks hooks, and what hung on each is a [`Sighting`]. [`report`] compares, [`record`]
//! makes the event that brings the record in line with the wall, and [`hang_home`] puts a misplaced
//! card back. A walk that takes a while notes each row with [`confirm`], and [`underway`] is what it
//! has seen so far.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::Timestamp;

use super::import;
use crate::model::board::{HookRef, ReadingOrder};
use crate::model::ids::{BoardId, CardId};
use crate::model::label::fold;
use crate::model::whereabouts::{Place, Whereabouts};
pub use crate::stash::event::Sighting;
use crate::stash::event::{Act, Change, Event};
use crate::stash::history::History;
use crate::stash::refusal::{NotHereNext, Refusal, Rejected, RowFault};
use crate::stash::state::{CardState, State};

/// A card seen where the record doesn't have it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Misplaced {
    /// The card.
    pub card: CardId,
    /// The hook it was seen on.
    pub seen: HookRef,
    /// Where the record had it: on another hook, on a ring, to hang or in the hand, missing or
    /// elsewhere.
    pub recorded: Place,
}

/// A card that the record has on a walked hook, but that wasn't seen anywhere.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct NotSeen {
    /// The card.
    pub card: CardId,
    /// Where the record had it.
    pub recorded: Place,
}

/// The findings of a roll call. The lists are in wall order, by the hook where a card was seen or
/// should have been seen.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Report {
    /// The number of walked hooks.
    pub walked: usize,
    /// Cards where the record has them.
    pub found: Vec<CardId>,
    /// Cards on hooks where the record doesn't have them.
    pub misplaced: Vec<Misplaced>,
    /// Cards that aren't where the record has them.
    pub missing: Vec<NotSeen>,
}

/// A hook's position on the wall.
fn place_on_wall(state: &State, hook: HookRef) -> (BoardId, u32) {
    let index = state.board(hook.board).map_or(0, |b| b.reading_index(hook));
    (hook.board, index)
}

/// Checks that a walked hook exists and can hold the cards seen on it.
fn check_hook(state: &State, sighting: &Sighting) -> Result<(), Refusal> {
    let (hook, hook_name) = (sighting.hook, || state.hook_name(sighting.hook));
    let board = state.board(hook.board).filter(|board| board.has(hook));
    let Some(board) = board else {
        return Err(Refusal::UnknownHook {
            hook_name: hook_name(),
            known: state.hook_runs(),
        });
    };
    match board.blocked(hook) {
        Some(why) if !sighting.cards.is_empty() => Err(Refusal::Blocked {
            hook_name: hook_name(),
            why: why.to_string(),
        }),
        _ => Ok(()),
    }
}

/// Compares sightings with the record. Several sightings of one hook are combined. O(cards seen ·
/// log cards + cards on the hooks walked).
///
/// # Errors
/// When a hook isn't on any board or is blocked but has a card, a card isn't in the stash or is a
/// split card, or a card was seen on two hooks.
pub fn report(state: &State, sightings: &[Sighting]) -> Result<Report, Refusal> {
    let mut walked: Vec<HookRef> = Vec::new();
    let mut seen: BTreeMap<CardId, HookRef> = BTreeMap::new();
    for sighting in sightings {
        check_hook(state, sighting)?;
        walked.push(sighting.hook);
        for &card in &sighting.cards {
            let kept = known(state, card)?;
            let other = seen.insert(card, sighting.hook);
            if let Some(other) = other.filter(|&other| other != sighting.hook) {
                return Err(Refusal::SeenTwice {
                    card: state.card_name(kept),
                    first: state.hook_name(other),
                    second: state.hook_name(sighting.hook),
                });
            }
        }
    }
    walked.sort_by_key(|&hook| place_on_wall(state, hook));
    walked.dedup();
    let mut report = Report {
        walked: walked.len(),
        ..Report::default()
    };
    let mut in_order: Vec<(CardId, HookRef)> = seen.iter().map(|(&c, &hook)| (c, hook)).collect();
    in_order.sort_by_key(|&(card, hook)| (place_on_wall(state, hook), card));
    for (card, hook) in in_order {
        let recorded = &known(state, card)?.place;
        if recorded.at.hook() == Some(hook) {
            report.found.push(card);
        } else {
            let (seen, recorded) = (hook, recorded.clone());
            report.misplaced.push(Misplaced {
                card,
                seen,
                recorded,
            });
        }
    }
    let hung = walked.iter().flat_map(|&hook| state.hanging_on(hook));
    let unseen = hung.filter(|kept| !seen.contains_key(&kept.card.id));
    report.missing = unseen
        .map(|kept| NotSeen {
            card: kept.card.id,
            recorded: kept.place.clone(),
        })
        .collect();
    Ok(report)
}

/// Finds a card that can hang on the wall.
fn known(state: &State, card: CardId) -> Result<&CardState, Refusal> {
    let kept = state.card(card).ok_or_else(|| Refusal::UnknownCard {
        name: card.to_string(),
        hint: None,
    })?;
    if kept.card.parent.is_some() {
        return Err(Refusal::SplitCardOnWall(state.card_name(kept)));
    }
    Ok(kept)
}

impl Report {
    /// The cards seen on other hooks than those they belong on, including cards that the record
    /// already had there. Only cards with a hook, in the order of those hooks.
    #[must_use]
    pub fn strays(&self, state: &State) -> Vec<CardId> {
        let misplaced = self.misplaced.iter().map(|m| (m.card, Some(m.seen)));
        let place = |card| state.card(card).and_then(|kept| kept.place.at.hook());
        let found = self.found.iter().map(|&card| (card, place(card)));
        let stray = |&(card, seen): &(CardId, Option<HookRef>)| {
            let home = state.card(card).and_then(|kept| kept.home);
            home.is_some() && home != seen
        };
        let strays: BTreeSet<CardId> = misplaced.chain(found).filter(stray).map(|s| s.0).collect();
        let cards = strays.into_iter().filter_map(|id| state.card(id));
        let ordered = state.in_board_order(cards);
        ordered.iter().map(|kept| kept.card.id).collect()
    }

    /// The act that records the result of the roll call.
    #[must_use]
    pub fn act(&self) -> Act {
        let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Act::RollCall {
            found: count(self.found.len()),
            misplaced: count(self.misplaced.len()),
            missing: count(self.missing.len()),
        }
    }
}

/// The event that brings the record in line with the wall: a misplaced card hangs where it was
/// seen, and an unseen one is missing from where it was. With neither, it changes nothing and
/// records that the wall was as it should be.
#[must_use]
pub fn record(report: &Report, now: Timestamp) -> Event {
    let change = |card, before: &Place, at| Change::Place {
        card,
        before: Some(before.clone()),
        after: Some(Place { at, since: now }),
    };
    let misplaced = report.misplaced.iter().map(|misplaced| {
        let at = Whereabouts::Hook {
            hook: misplaced.seen,
        };
        change(misplaced.card, &misplaced.recorded, at)
    });
    let missing = report.missing.iter().map(|missing| {
        let last_seen = missing.recorded.at.last_seen();
        let at = Whereabouts::Missing { last_seen };
        change(missing.card, &missing.recorded, at)
    });
    Event {
        act: report.act(),
        changes: misplaced.chain(missing).collect(),
    }
}

/// The event that notes a confirmed row. It moves no card before [`record`].
#[must_use]
pub fn confirm(begins: bool, hooks: Vec<Sighting>) -> Event {
    Event {
        act: Act::RollCallRow { begins, hooks },
        changes: Vec::new(),
    }
}

/// What the roll call underway has seen on each confirmed hook; empty if none is underway. A card
/// counts where it was seen last, and one that was moved since where it was moved to. O(events since
/// its first row · hooks confirmed).
#[must_use]
pub fn underway(history: &History) -> HashMap<HookRef, Vec<CardId>> {
    let mut seen: HashMap<HookRef, Vec<CardId>> = HashMap::new();
    let mut put = |cards: &[CardId], hook: Option<HookRef>, is_walked: bool| {
        for before in seen.values_mut() {
            before.retain(|card| !cards.contains(card));
        }
        match hook {
            Some(hook) if is_walked => {
                seen.insert(hook, cards.to_vec());
            }
            Some(hook) => {
                if let Some(here) = seen.get_mut(&hook) {
                    here.extend(cards);
                }
            }
            None => {}
        }
    };
    for past in history.roll_call() {
        if let Act::RollCallRow { hooks, .. } = &past.act {
            for sighting in hooks {
                put(&sighting.cards, Some(sighting.hook), true);
            }
        }
        for change in &past.event.changes {
            if let Change::Place { card, after, .. } = change {
                put(
                    &[*card],
                    after.as_ref().and_then(|place| place.at.hook()),
                    false,
                );
            }
        }
    }
    seen
}

/// Puts a card at hand back on its hook: from another hook, from the cards to hang or from the
/// hand.
///
/// # Errors
/// When the card isn't in the stash, has no hook, hangs there already, or is on a ring, missing or
/// elsewhere.
pub fn hang_home(state: &State, card: CardId, now: Timestamp) -> Result<Event, Refusal> {
    let kept = known(state, card)?;
    let name = || state.card_name(kept);
    let not_here = |next| Refusal::NotHere {
        card: name(),
        place: state.place_of(kept).into(),
        next,
    };
    let hook = kept.home.ok_or_else(|| Refusal::NoHomeYet(name()))?;
    let next = match NotHereNext::of(&kept.place.at) {
        None if kept.place.at.hook() == Some(hook) => Some(NotHereNext::Nothing),
        // It's in front of you.
        Some(NotHereNext::WhenItTurnsUp) => Some(NotHereNext::SayFound),
        next => next,
    };
    if let Some(next) = next {
        return Err(not_here(next));
    }
    let at = Whereabouts::Hook { hook };
    Ok(Event {
        act: Act::HangHome { card },
        changes: vec![Change::Place {
            card,
            before: Some(kept.place.clone()),
            after: Some(Place { at, since: now }),
        }],
    })
}

/// One row of a roll call list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenRow {
    /// Line of the file where the row starts, counted from 1 (the header is line 1).
    pub line: u64,
    /// The name of the hook, trimmed, never empty.
    pub hook: String,
    /// The number on a card that hung there; `None` if the hook was empty.
    pub number: Option<String>,
    /// The maker's range.
    pub range: Option<String>,
}

/// A number that no card of the stash has.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Unknown {
    /// Line of the file, counted from 1.
    pub line: u64,
    /// What was written: `NUMBER` or `RANGE:NUMBER`.
    pub text: String,
}

/// A parsed roll call list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seen {
    /// The cards on each walked hook.
    pub sightings: Vec<Sighting>,
    /// Seen numbers without a card in the stash.
    pub unknown: Vec<Unknown>,
}

/// The card of a number seen on a hook. If several ranges have that number, the card that hangs or
/// belongs on that hook is meant. `None` if no card has it.
///
/// # Errors
/// When it could be one of several cards.
pub fn card_seen(
    state: &State,
    hook: HookRef,
    number: &str,
    range: Option<&str>,
) -> Result<Option<CardId>, Refusal> {
    let name = range.map_or_else(|| number.to_owned(), |range| format!("{range}:{number}"));
    let choices = match state.find_card(&name) {
        Ok(card) => return Ok(Some(card)),
        Err(Refusal::UnknownCard { .. }) => return Ok(None),
        Err(ambiguous) => ambiguous,
    };
    let here = |kept: &&CardState| {
        let whole = kept.card.parent.is_none();
        whole && (kept.home == Some(hook) || kept.place.at.hook() == Some(hook))
    };
    let alike = state.index().numbered(&fold(number));
    let alike = alike.iter().filter_map(|&(_, id)| state.card(id));
    let mut near = alike.filter(here);
    match (near.next(), near.next()) {
        (Some(one), None) => Ok(Some(one.card.id)),
        _ => Err(choices),
    }
}

/// The sightings in the rows of a list. The hooks of the rows were walked, and so were those in
/// `walked`, which were empty unless a row says otherwise. O(rows · log cards).
///
/// # Errors
/// When a row can't be understood. Then no row counts, because the card of that row would be
/// recorded as missing.
pub fn sightings(
    state: &State,
    rows: &[SeenRow],
    mut rejected: Vec<Rejected>,
    walked: impl IntoIterator<Item = HookRef>,
) -> Result<Seen, Refusal> {
    let total = rows.len() + rejected.len();
    let mut by_hook: BTreeMap<HookRef, Vec<CardId>> = BTreeMap::new();
    let mut unknown = Vec::new();
    let mut order: Vec<HookRef> = walked.into_iter().collect();
    for row in rows {
        let mut read = || -> Result<(), Refusal> {
            let hook = state.find_hook(&row.hook)?;
            order.push(hook);
            let Some(number) = &row.number else {
                return Ok(());
            };
            match card_seen(state, hook, number, row.range.as_deref())? {
                Some(card) => by_hook.entry(hook).or_default().push(card),
                None => unknown.push(Unknown {
                    line: row.line,
                    text: match &row.range {
                        Some(range) => format!("{range}:{number}"),
                        None => number.clone(),
                    },
                }),
            }
            Ok(())
        };
        match read() {
            Ok(()) => {}
            Err(Refusal::NoBoard) => return Err(Refusal::NoBoard),
            Err(refusal) => rejected.push(Rejected {
                line: row.line,
                reason: RowFault::Refused(Box::new(refusal)),
                number: None,
            }),
        }
    }
    import::settle(&mut rejected, total, true)?;
    let sightings = order.into_iter().map(|hook| Sighting {
        hook,
        cards: by_hook.remove(&hook).unwrap_or_default(),
    });
    Ok(Seen {
        sightings: sightings.collect(),
        unknown,
    })
}

/// A hook of the walk, with the record's data. Cards are in wanted order.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Stop<'a> {
    /// The hook.
    pub hook: HookRef,
    /// The cards that hang there, whether or not they belong there.
    pub hang: Vec<&'a CardState>,
    /// The cards that belong there but hang elsewhere or are away.
    pub out: Vec<&'a CardState>,
}

impl Stop<'_> {
    /// Whether no card hangs or belongs there.
    #[must_use]
    pub const fn is_free(&self) -> bool {
        self.hang.is_empty() && self.out.is_empty()
    }
}

/// Whether [`stop`] would be free, without looking at the cards.
#[must_use]
pub fn is_free(state: &State, hook: HookRef) -> bool {
    let index = state.index();
    index.hanging_on(hook).is_empty() && index.homes_on(hook).is_empty()
}

/// The record's data on a hook.
#[must_use]
pub fn stop(state: &State, hook: HookRef) -> Stop<'_> {
    let here = |kept: &&CardState| kept.place.at.hook() == Some(hook);
    Stop {
        hook,
        hang: state.in_wanted_order(state.hanging_on(hook)),
        out: state.in_wanted_order(state.homes_on(hook).filter(|kept| !here(kept))),
    }
}

/// Whether two hooks are in the same row of the walk, or in the same column if the board is read by
/// columns.
#[must_use]
pub fn same_run(state: &State, a: HookRef, b: HookRef) -> bool {
    let columns = (state.board(a.board)).is_some_and(|b| b.reading == ReadingOrder::Columns);
    a.board == b.board
        && if columns {
            a.column == b.column
        } else {
            a.row == b.row
        }
}

#[cfg(test)]
mod tests;
