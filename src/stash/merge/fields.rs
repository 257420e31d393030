//! The effect of an event on fields: which fields of which things it sets, and which amounts it
//! adds to.
//!
//! A field is a member of a thing, by its name in the record. The effect of an event on a thing is
//! the difference between the thing before and after, member by member. So two people may edit the
//! same card, and both edits count. [`changes_between`] finds the changes from one stash to
//! another.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::model::board::{Board, HookRef};
use crate::model::card::{Card, Family};
use crate::model::ids::{CardId, EventId};
use crate::model::matches::ColourMatch;
use crate::model::range::Range;
use crate::model::ring::{ColourRef, Ring};
use crate::model::thread::{Lot, Thread, ThreadPart};
use crate::stash::event::thread::replaced;
use crate::stash::event::{AmountChange, Change, Settled, Thing, ring_changes, without_lists};
use crate::stash::state::{CardState, State};

/// Whether a thing exists.
pub(super) const EXISTS: &str = "exists";
/// Whether an event counts.
pub(super) const STANDS: &str = "stands";
/// The thing that this one is the same as.
pub(super) const SAME_AS: &str = "same_as";
/// The re-hang underway, and how many of its steps are done.
pub(super) const UNDERWAY: &str = "underway";
pub(super) const STEPS_DONE: &str = "steps_done";
/// The families in the order of the wall.
pub(super) const FAMILIES: &str = "families";
/// The key of a ring.
pub(super) const KEY: &str = "key";
/// Prefix of the fields of imported purchases.
pub(super) const PURCHASE: &str = "purchases/";
/// Prefix of the entries in a ring's list of cards.
pub(super) const OUT: &str = "went_out/";
pub(super) const USED: &str = "used/";
/// Prefix of the matches of two colours.
pub(super) const MATCH: &str = "matches/";
pub(super) const SHADE: &str = "shades/";
pub(super) const HOOK: &str = "special/";
pub(super) const LOT: &str = "thread/";
/// The field that lists a lot.
pub(super) const KEPT_AT: &str = "kept_at";

/// How an event writes a field.
#[derive(Clone, PartialEq, Debug)]
pub(super) enum Write {
    Set(Value),
    Add(i64),
}

/// What an event writes, in order.
pub(super) type Writes = Vec<(Thing, String, Write)>;

/// What an event writes, leaving out the thread of cards that are removed for good.
pub(super) fn writes(changes: &[Change]) -> Writes {
    let gone = changes.iter().filter_map(|change| match change {
        Change::Card {
            before: Some(card),
            after: None,
        } => Some(card.id),
        _ => None,
    });
    let mut writer = Writer {
        gone: gone.collect(),
        out: 0,
        writes: Writes::new(),
    };
    for change in changes {
        writer.change(change);
    }
    writer.writes
}

/// Collects the writes of an event's changes.
struct Writer {
    /// The cards removed for good.
    gone: BTreeSet<CardId>,
    /// How many cards went out on rings so far.
    out: u64,
    writes: Writes,
}

impl Writer {
    fn put(&mut self, thing: Thing, member: impl Into<String>, write: Write) {
        self.writes.push((thing, member.into(), write));
    }

    fn change(&mut self, change: &Change) {
        let writes = &mut self.writes;
        match change {
            Change::Range { before, after } => {
                let thing = |of: &Range| Thing::Range(of.id);
                differ(thing, before.as_ref(), after.as_ref(), writes);
            }
            Change::Shade {
                range,
                number,
                after,
                ..
            } => self.put(Thing::Range(*range), format!("{SHADE}{number}"), set(after)),
            Change::Match { before, after } => {
                if let Some(of) = before.as_ref().or(after.as_ref()) {
                    self.put(Thing::Stash, match_of(of), set(after));
                }
            }
            Change::Board { before, after } => {
                let thing = |of: &Board| Thing::Board(of.id);
                differ(thing, before.as_ref(), after.as_ref(), writes);
            }
            Change::Ring { before, after } => {
                let thing = |of: &Ring| Thing::Ring(of.id);
                differ(thing, before.as_ref(), after.as_ref(), writes);
            }
            Change::Card { before, after } => {
                let thing = |of: &Card| Thing::Card(of.id);
                differ(thing, before.as_ref(), after.as_ref(), writes);
            }
            Change::Families { before, after } => families(before, after, writes),
            Change::Order { after, .. } => self.put(Thing::Stash, "order", set(after)),
            Change::Place { card, .. }
            | Change::Home { card, .. }
            | Change::Lot { card, .. }
            | Change::Thread { card, .. } => {
                if !self.gone.contains(card) {
                    self.card_change(Thing::Card(*card), change);
                }
            }
            Change::WentOut { ring, .. } | Change::Key { ring, .. } | Change::Used { ring, .. } => {
                self.ring_change(Thing::Ring(*ring), change)
            }
            Change::Purchase {
                purchase, after, ..
            } => self.put(Thing::Stash, format!("{PURCHASE}{purchase}"), set(after)),
            Change::Underway { after, .. } => {
                self.put(Thing::Stash, UNDERWAY, set(after));
                let done = after.as_ref().map_or(0, |after| after.done);
                self.put(Thing::Stash, STEPS_DONE, Write::Set(json!(done)));
            }
            Change::Progress { after, .. } => self.put(Thing::Stash, STEPS_DONE, set(after)),
        }
    }

    fn card_change(&mut self, card: Thing, change: &Change) {
        match change {
            Change::Place { after, .. } => self.put(card, "place", set(after)),
            Change::Home { after, .. } => self.put(card, "home", set(after)),
            Change::Lot { lot, after, .. } => self.put(card, kept_at(lot), set(after)),
            Change::Thread {
                lot, part, amount, ..
            } => self.put(card, amount_of(lot, *part), of_amount(*amount)),
            _ => {}
        }
    }

    fn ring_change(&mut self, ring: Thing, change: &Change) {
        match change {
            Change::WentOut { before, after, .. } => self.went_out(ring, before, after),
            Change::Key { after, .. } => self.put(ring, KEY, set(after)),
            Change::Used { colour, amount, .. } => {
                self.put(ring, used_of(colour), of_amount(*amount));
            }
            _ => {}
        }
    }

    fn went_out(&mut self, ring: Thing, before: &[(u32, CardId)], after: &[(u32, CardId)]) {
        let comes: BTreeSet<CardId> = after.iter().map(|(_, card)| *card).collect();
        for (_, card) in before.iter().filter(|(_, card)| !comes.contains(card)) {
            self.put(ring, out_of(*card), Write::Set(Value::Null));
        }
        for (_, card) in after {
            // Its position in the list follows from its event, and its position in the event.
            self.put(ring, out_of(*card), Write::Set(json!(self.out)));
            self.out += 1;
        }
    }
}

/// Writes the change of a thing as a whole.
fn differ<T: Serialize>(
    thing: impl Fn(&T) -> Thing,
    before: Option<&T>,
    after: Option<&T>,
    writes: &mut Writes,
) {
    if let Some(of) = before.or(after) {
        differences(thing(of), before, after, writes);
    }
}

/// The members of a thing, as the record has them. Lists whose entries are separate fields are
/// split up.
fn members(thing: Thing, of: &impl Serialize) -> BTreeMap<String, Value> {
    let Ok(Value::Object(object)) = serde_json::to_value(of) else {
        return BTreeMap::new();
    };
    let mut members = BTreeMap::new();
    let mut state = Map::new();
    for (name, value) in object {
        match (thing, name.as_str(), value) {
            (_, "id", _) | (Thing::Ring(_), "key" | "went_out" | "used", _) => {}
            (Thing::Range(_), "shades", Value::Object(shades)) => {
                let shades = shades.into_iter();
                members.extend(shades.map(|(number, shade)| (format!("{SHADE}{number}"), shade)));
            }
            (Thing::Board(_), "special", Value::Array(hooks)) => {
                for hook in hooks {
                    let at = |axis: &str| hook.get(axis).and_then(Value::as_u64).unwrap_or(0);
                    members.insert(hook_at(at("row"), at("column")), hook);
                }
            }
            (Thing::Ring(_), "state" | "hook" | "since" | "at", value) => {
                state.insert(name, value);
            }
            (_, _, value) => {
                members.insert(name, value);
            }
        }
    }
    if !state.is_empty() {
        members.insert("state".to_owned(), Value::Object(state));
    }
    members
}

/// The differences from one thing to another.
fn differences<T: Serialize>(
    thing: Thing,
    before: Option<&T>,
    after: Option<&T>,
    writes: &mut Writes,
) {
    let Some(after) = after else {
        writes.push((thing, EXISTS.to_owned(), Write::Set(json!(false))));
        return;
    };
    if before.is_none() {
        writes.push((thing, EXISTS.to_owned(), Write::Set(json!(true))));
    }
    let mut old = before.map_or_else(BTreeMap::new, |before| members(thing, before));
    for (member, value) in members(thing, after) {
        if old.remove(&member).as_ref() != Some(&value) {
            writes.push((thing, member, Write::Set(value)));
        }
    }
    let gone = old.into_keys();
    writes.extend(gone.map(|member| (thing, member, Write::Set(Value::Null))));
}

fn families(before: &[Family], after: &[Family], writes: &mut Writes) {
    let find =
        |list: &'_ [Family], of: &Family| list.iter().find(|other| other.id == of.id).cloned();
    for family in before {
        if find(after, family).is_none() {
            differences(Thing::Family(family.id), Some(family), None, writes);
        }
    }
    for family in after {
        let old = find(before, family);
        differences(Thing::Family(family.id), old.as_ref(), Some(family), writes);
    }
    // New families come last anyway, so only a different order is written.
    let ids = |list: &[Family]| -> Vec<_> { list.iter().map(|family| family.id).collect() };
    let (old, new) = (ids(before), ids(after));
    let kept: Vec<_> = old.iter().filter(|id| new.contains(id)).copied().collect();
    let mut by_themselves = kept.clone();
    let mut added: Vec<_> = new.iter().filter(|id| !old.contains(id)).copied().collect();
    added.sort_unstable();
    by_themselves.extend(added);
    if new != by_themselves {
        writes.push((Thing::Stash, FAMILIES.to_owned(), Write::Set(json!(new))));
    }
}

fn of_amount(amount: AmountChange) -> Write {
    match amount {
        AmountChange::Set { after, .. } => Write::Set(json!(after)),
        AmountChange::Add { by } => Write::Add(by),
    }
}

pub(super) fn lot_field(part: &str, lot: &str) -> String {
    format!("{LOT}{part}/{lot}")
}

/// The part and the lot of a card that a member refers to.
pub(super) fn lot_of(member: &str) -> Option<(&str, &str)> {
    member.strip_prefix(LOT)?.split_once('/')
}

/// The name of the field for the storage place of a lot.
fn kept_at(lot: &Lot) -> String {
    lot_field(KEPT_AT, lot.as_str())
}

/// The name of the field for an amount of a lot.
fn amount_of(lot: &Lot, part: ThreadPart) -> String {
    let part = match part {
        ThreadPart::Strands => "strands",
        ThreadPart::PartCm => "part_cm",
        ThreadPart::Skeins => "skeins",
    };
    lot_field(part, lot.as_str())
}

/// Whether a field is an amount. Among writes that set it, the stamp decides.
pub(super) fn is_amount(member: &str) -> bool {
    colour_used(member).is_some() || lot_of(member).is_some_and(|(part, _)| part != KEPT_AT)
}

pub(super) fn set(of: &impl Serialize) -> Write {
    Write::Set(serde_json::to_value(of).unwrap_or_default())
}

/// The name of the field for the thread of a colour that a ring used.
pub(super) fn used_of(colour: &ColourRef) -> String {
    format!("{USED}{}/{}", colour.range, colour.number)
}

/// The range and number in the name of such a field.
pub(super) fn colour_used(member: &str) -> Option<(&str, &str)> {
    member.strip_prefix(USED)?.split_once('/')
}

/// The name of the field for a match, ignoring the case of its numbers.
pub(super) fn match_of(of: &ColourMatch) -> String {
    let [one, other] = of.colours();
    let named = |colour: &ColourRef| (colour.range.to_string(), colour.number.key());
    let ((range, number), (other_range, other_number)) = (named(one), named(other));
    match_between([(&range, &number), (&other_range, &other_number)])
}

/// Like [`match_of`], from the texts of ranges and numbers. Numbers contain no tabs.
pub(super) fn match_between(mut colours: [(&str, &str); 2]) -> String {
    colours.sort_unstable();
    let [(range, number), (other_range, other_number)] = colours;
    format!("{MATCH}{range}/{number}\t{other_range}/{other_number}")
}

/// The ranges and numbers of the colours in the name of such a field.
pub(super) fn colours_matched(member: &str) -> Option<[(&str, &str); 2]> {
    let (one, other) = member.strip_prefix(MATCH)?.split_once('\t')?;
    Some([one.split_once('/')?, other.split_once('/')?])
}

/// Everything in a stash, as if one event had written it.
pub(super) fn all_of(state: &State) -> Writes {
    writes(&changes_between(&State::default(), state))
}

pub(super) fn of_settled(settled: &[Settled]) -> Writes {
    let writes = settled.iter();
    writes
        .map(|of| (of.thing, of.member.clone(), Write::Set(of.value.clone())))
        .collect()
}

pub(super) fn stands(id: EventId, stands: bool) -> (Thing, String, Write) {
    (Thing::Event(id), STANDS.to_owned(), set(&stands))
}

/// The name of the field for a hook's settings on its board.
pub(super) fn hook_member(hook: HookRef) -> String {
    hook_at(hook.row.into(), hook.column.into())
}

fn hook_at(row: u64, column: u64) -> String {
    format!("{HOOK}{row}.{column}")
}

/// The name of the field for a card in the list of those that were on a ring.
pub(super) fn out_of(card: CardId) -> String {
    format!("{OUT}{card}")
}

fn matches_between(old: &State, new: &State) -> Vec<Change> {
    let gone = old
        .matches()
        .iter()
        .filter(|of| new.matches().find(of).is_none());
    let gone = gone.map(|of| Change::Match {
        before: Some(of),
        after: None,
    });
    let come = new.matches().iter().filter_map(|of| {
        let before = old.matches().find(&of);
        (before.as_ref() != Some(&of)).then_some(Change::Match {
            before,
            after: Some(of),
        })
    });
    gone.chain(come).collect()
}

fn purchases_between(old: &State, new: &State) -> Vec<Change> {
    let all = old.purchases().keys().chain(new.purchases().keys());
    let all: BTreeSet<_> = all.copied().collect();
    let change = |purchase| {
        let [before, after] = [old, new].map(|of| of.purchases().get(&purchase).copied());
        (before != after).then_some(Change::Purchase {
            purchase,
            before,
            after,
        })
    };
    all.into_iter().filter_map(change).collect()
}

/// The changes from `old` to `new`. O(size of both).
#[must_use]
pub fn changes_between(old: &State, new: &State) -> Vec<Change> {
    let mut changes = Vec::new();
    pairs(
        old.ranges(),
        new.ranges(),
        |range| range.id,
        |before, after| {
            let (before, after) = (before.cloned(), after.cloned());
            changes.push(Change::Range { before, after });
        },
    );
    if old.families() != new.families() {
        changes.push(Change::Families {
            before: old.families().to_vec(),
            after: new.families().to_vec(),
        });
    }
    if old.order() != new.order() {
        changes.push(Change::Order {
            before: old.order(),
            after: new.order(),
        });
    }
    pairs(
        old.boards(),
        new.boards(),
        |board| board.id,
        |before, after| {
            let (before, after) = (before.cloned(), after.cloned());
            changes.push(Change::Board { before, after });
        },
    );
    pairs(
        old.rings(),
        new.rings(),
        |of| of.id,
        |before, after| {
            changes.extend(ring(before, after));
        },
    );
    pairs(
        old.cards(),
        new.cards(),
        |of| of.card.id,
        |before, after| {
            if let Some(kept) = after.or(before) {
                changes.extend(card(kept.card.id, before, after));
            }
        },
    );
    changes.extend(purchases_between(old, new));
    changes.extend(matches_between(old, new));
    if old.underway() != new.underway() {
        changes.push(Change::Underway {
            before: old.underway().cloned(),
            after: new.underway().cloned(),
        });
    }
    changes
}

/// The changes of one ring. When the ring is removed, its lists go first.
fn ring(before: Option<&Ring>, after: Option<&Ring>) -> Vec<Change> {
    match (before, after) {
        (before, Some(after)) => ring_changes(before, after),
        (Some(before), None) => {
            let bare = without_lists(before);
            let mut changes = ring_changes(Some(before), &bare);
            changes.push(Change::Ring {
                before: Some(bare),
                after: None,
            });
            changes
        }
        (None, None) => Vec::new(),
    }
}

/// Calls back for every pair that differs between two lists sorted by id.
fn pairs<'a, K: Ord, V: PartialEq + 'a>(
    old: impl Iterator<Item = &'a V>,
    new: impl Iterator<Item = &'a V>,
    key: impl Fn(&V) -> K,
    mut tell: impl FnMut(Option<&'a V>, Option<&'a V>),
) {
    let (mut old, mut new) = (old.peekable(), new.peekable());
    loop {
        let (before, after) = match (old.peek(), new.peek()) {
            (None, None) => return,
            (Some(a), Some(b)) if key(a) == key(b) => (old.next(), new.next()),
            (Some(a), Some(b)) if key(a) > key(b) => (None, new.next()),
            (Some(_), _) => (old.next(), None),
            (None, Some(_)) => (None, new.next()),
        };
        if before != after {
            tell(before, after);
        }
    }
}

/// The changes of one card, part by part.
fn card(id: CardId, before: Option<&CardState>, after: Option<&CardState>) -> Vec<Change> {
    let mut changes = Vec::new();
    let text = |of: Option<&CardState>| of.map(|of| of.card.clone());
    let place = |of: Option<&CardState>| of.map(|of| of.place.clone());
    let home = |of: Option<&CardState>| of.and_then(|of| of.home);
    let thread = |of: Option<&CardState>| of.map_or_else(Thread::default, |of| of.thread.clone());
    if text(before) != text(after) {
        changes.push(Change::Card {
            before: text(before),
            after: text(after),
        });
    }
    if place(before) != place(after) {
        changes.push(Change::Place {
            card: id,
            before: place(before),
            after: place(after),
        });
    }
    if home(before) != home(after) {
        changes.push(Change::Home {
            card: id,
            before: home(before),
            after: home(after),
        });
    }
    changes.extend(replaced(id, &thread(before), &thread(after)));
    changes
}
