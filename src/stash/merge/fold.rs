//! The combined effect of all events: each field has the value of the latest event that set it, and
//! each amount is the sum of what was added since.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::facts::{Facts, Source};
use super::fields::{
    EXISTS, FAMILIES, HOOK, KEPT_AT, KEY, LOT, MATCH, OUT, PURCHASE, SAME_AS, SHADE, STANDS,
    STEPS_DONE, UNDERWAY, USED, Write, Writes, all_of, colour_used, colours_matched, lot_field,
    lot_of, match_between, of_settled, stands, writes,
};
use crate::model::card::WallOrder;
use crate::model::ids::EventId;
use crate::model::label::fold;
use crate::model::matches::ColourMatch;
use crate::model::ring::MOST_USED_CM;
use crate::stash::event::{Act, Change, Deed, Event, Fact, Settled, Thing};
use crate::stash::state::State;

/// A value and its source.
#[derive(Clone, PartialEq, Debug)]
pub(super) struct Tip {
    pub(super) source: Source,
    pub(super) value: Value,
}

/// A field after all events.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) value: Value,
    /// The latest writes that set it, none of which knew another.
    pub(super) tips: Vec<Tip>,
    /// All writes that set it, earliest first.
    pub(super) all: Vec<Tip>,
    /// Whether more was taken from it at some time than there was.
    pub(super) fell_short: bool,
}

impl Cell {
    fn new(source: Source, value: Value) -> Self {
        let tip = Tip { source, value };
        Self {
            value: tip.value.clone(),
            tips: vec![tip.clone()],
            all: vec![tip],
            fell_short: false,
        }
    }

    pub(super) fn last(&self) -> Source {
        self.tips.last().map_or(Source::Base, |tip| tip.source)
    }

    pub(super) fn is(&self, value: bool) -> bool {
        self.value == Value::Bool(value)
    }
}

pub(super) type Members = BTreeMap<String, Cell>;

/// Everything that events wrote, by thing and member.
#[derive(Clone, Default, Debug)]
pub(super) struct Sheet {
    pub(super) things: BTreeMap<Thing, Members>,
    /// The things created by events that count.
    born: BTreeSet<Thing>,
    /// The spelling of a card's lots, by the names of their fields.
    lots: BTreeMap<(Thing, String), String>,
}

impl Sheet {
    pub(super) fn cell(&self, thing: Thing, member: &str) -> Option<&Cell> {
        self.things.get(&thing)?.get(member)
    }

    pub(super) fn value(&self, thing: Thing, member: &str) -> &Value {
        self.cell(thing, member)
            .map_or(&Value::Null, |cell| &cell.value)
    }

    /// Whether a thing exists. If its creation was undone, it doesn't, whatever the answers.
    pub(super) fn has(&self, thing: Thing) -> bool {
        let exists = self.cell(thing, EXISTS).is_some_and(|cell| cell.is(true));
        exists && self.born.contains(&thing)
    }

    /// Whether an event that counts created a thing.
    pub(super) fn was_born(&self, thing: Thing) -> bool {
        self.born.contains(&thing)
    }

    /// The removed things, with the event that removed each.
    pub(super) fn gone(&self) -> impl Iterator<Item = (Thing, Source)> {
        let born = self.born.iter();
        born.filter_map(|&thing| {
            let cell = self.cell(thing, EXISTS).filter(|cell| cell.is(false))?;
            Some((thing, cell.last()))
        })
    }

    /// The existing things.
    pub(super) fn existing(&self) -> impl Iterator<Item = (Thing, &Members)> {
        let all = self.things.iter().map(|(&thing, members)| (thing, members));
        all.filter(|(thing, _)| self.has(*thing))
    }

    /// Writes a field of a lot. Different spellings mean the same lot, and the earlier spelling
    /// stays as long as the lot is listed.
    fn write_lot(
        &mut self,
        facts: &Facts,
        source: Source,
        thing: Thing,
        (part, lot): (&str, &str),
        write: Write,
    ) {
        let folded = fold(lot);
        let is_listed = |sheet: &Self| {
            let cell = sheet.cell(thing, &lot_field(KEPT_AT, &folded));
            cell.is_some_and(|cell| !cell.value.is_null())
        };
        let was_listed = is_listed(self);
        let field = lot_field(part, &folded);
        self.write(facts, source, thing, &field, write);
        let spelled = self.lots.entry((thing, folded.clone()));
        let spelled = spelled.or_insert_with(|| lot.to_owned());
        // A decision names the field itself.
        if facts.is_act(source) && spelled != lot && part == KEPT_AT {
            let lot = lot.to_owned();
            if !was_listed && is_listed(self) {
                self.lots.insert((thing, folded), lot);
            }
        }
    }

    fn write(&mut self, facts: &Facts, source: Source, thing: Thing, member: &str, write: Write) {
        let members = self.things.entry(thing).or_default();
        if !members.contains_key(member) {
            // The initial value: absent, with no thread.
            let nothing = match write {
                Write::Set(_) => Value::Null,
                Write::Add(_) => Value::from(0),
            };
            members.insert(member.to_owned(), Cell::new(Source::Base, nothing));
        }
        let Some(cell) = members.get_mut(member) else {
            return;
        };
        match write {
            Write::Set(value) => {
                let tip = Tip { source, value };
                cell.tips.retain(|tip| !facts.knows(source, tip.source));
                cell.value = tip.value.clone();
                cell.tips.push(tip.clone());
                cell.all.push(tip);
            }
            Write::Add(by) => {
                let sum = cell.value.as_i64().unwrap_or(0).saturating_add(by);
                cell.fell_short |= sum < 0;
                cell.value = Value::from(sum.max(0));
            }
        }
    }
}

/// The thread of a card by lot, each in its spelling. Any amount lists its lot.
fn thread<'m>(members: &'m Members, spelled: impl Fn(&'m str) -> &'m str) -> Value {
    let mut lots: BTreeMap<&str, Map<String, Value>> = BTreeMap::new();
    for (entry, cell) in entries(members, LOT) {
        let Some((part, lot)) = entry.split_once('/') else {
            continue;
        };
        let lot = spelled(lot);
        let amount = cell.value.as_u64();
        if part != KEPT_AT && amount.is_none_or(|amount| amount == 0) {
            continue;
        }
        let amount = amount.map(|amount| json!(amount.min(u32::MAX.into())));
        let value = amount.unwrap_or_else(|| cell.value.clone());
        lots.entry(lot).or_default().insert(part.to_owned(), value);
    }
    json!(lots)
}

/// The thread a ring used, by colour.
fn used(members: &Members) -> Vec<Value> {
    let amounts = members.iter().filter_map(|(member, cell)| {
        let (range, number) = colour_used(member)?;
        let cm = cell.value.as_u64()?.min(MOST_USED_CM);
        (cm > 0).then(|| json!({"range": range, "number": number, "cm": cm}))
    });
    amounts.collect()
}

/// Cleans up a key in which several ranges may have become one: a needle has each colour once, with
/// the strands of both, and no colour is its own substitute.
fn one_of_each(key: &mut Value) {
    let lines = key.as_array_mut().into_iter().flatten();
    let needles = lines.filter_map(|line| line.get_mut("threads")?.as_array_mut());
    for needle in needles {
        let mut threads: Vec<Value> = Vec::with_capacity(needle.len());
        for thread in needle.drain(..) {
            add_thread(&mut threads, thread);
        }
        *needle = threads;
    }
}

/// Adds a thread to a needle, or its strands to the thread of the same colour.
fn add_thread(threads: &mut Vec<Value>, mut thread: Value) {
    let same = |a: &Value, b: &Value| {
        let number = |of: &Value| of.get("number").and_then(Value::as_str).map(fold);
        a.get("range") == b.get("range") && number(a) == number(b)
    };
    let Some(colour) = thread.get("colour").cloned() else {
        return;
    };
    let with = thread.get("stitched_with");
    if with.is_some_and(|with| same(with, &colour))
        && let Some(of) = thread.as_object_mut()
    {
        of.remove("stitched_with");
    }
    let is_same = |other: &&mut Value| other.get("colour").is_some_and(|of| same(of, &colour));
    let Some(Value::Object(first)) = threads.iter_mut().find(is_same) else {
        threads.push(thread);
        return;
    };
    let strands = |of: Option<&Value>| of.and_then(Value::as_u64);
    match strands(first.get("strands")).zip(strands(thread.get("strands"))) {
        Some((a, b)) => {
            let sum = a.saturating_add(b).min(u8::MAX.into());
            first.insert("strands".to_owned(), json!(sum));
        }
        // The total is no longer known.
        None => drop(first.remove("strands")),
    }
}

/// Things that are the same as another. The key is treated as the value.
pub(super) type Aliases = BTreeMap<Thing, Thing>;

/// The events of two records, each with its writes.
pub(super) struct Fold<'a> {
    pub(super) facts: &'a Facts,
    base: Writes,
    /// The writes of each fact.
    pub(super) writes: Vec<Writes>,
}

impl<'a> Fold<'a> {
    pub(super) fn new(facts: &'a Facts) -> Self {
        let written = |fact: &Fact| match &fact.deed {
            Deed::Did(event) => writes(&event.changes),
            Deed::Undid(id) => vec![stands(*id, false)],
            Deed::Redid(id) => vec![stands(*id, true)],
            Deed::Settled(settled) => of_settled(settled),
        };
        Self {
            base: all_of(&facts.base),
            writes: facts.all.iter().map(written).collect(),
            facts,
        }
    }

    /// The event of a fact, if it can be undone.
    pub(super) fn event(&self, at: usize) -> Option<&Event> {
        match &self.facts.all.get(at)?.deed {
            Deed::Did(event) => Some(event),
            _ => None,
        }
    }

    /// Whether an event counts, according to a sheet.
    pub(super) fn stands(sheet: &Sheet, id: EventId) -> bool {
        !sheet
            .cell(Thing::Event(id), STANDS)
            .is_some_and(|cell| cell.is(false))
    }

    /// The combined effect of all events and the decisions of this merge.
    pub(super) fn sheet(&self, settled: &[Settled]) -> Sheet {
        let mut sheet = Sheet::default();
        let sources = || {
            let facts = self.writes.iter().enumerate();
            facts.map(|(at, writes)| (Source::Fact(at), writes))
        };
        let own = of_settled(settled);
        let all = || sources().chain([(Source::Merge, &own)]);
        // First find out which events count, and which things are the same.
        for (source, writes) in all() {
            for (thing, member, write) in writes.iter().filter(|write| is_about_things(write)) {
                sheet.write(self.facts, source, *thing, member, write.clone());
            }
        }
        let mut targets = Targets::of(self, &sheet);
        for (source, writes) in [(Source::Base, &self.base)].into_iter().chain(all()) {
            if let Some(fact) = self.facts.fact(source)
                && !Self::stands(&sheet, fact.id)
            {
                continue;
            }
            for write in writes.iter().filter(|write| !is_about_things(write)) {
                targets.write(&mut sheet, source, write);
            }
        }
        sheet
    }
}

/// Whether a write decides if an event counts, or makes a thing the same as another.
fn is_about_things((thing, member, _): &(Thing, String, Write)) -> bool {
    matches!(thing, Thing::Event(_)) || member == SAME_AS
}

/// The targets of writes: if a thing is the same as another, its writes go to that one.
struct Targets<'a> {
    facts: &'a Facts,
    aliases: Aliases,
    /// The ids of things to replace by the ids of others, for things that are the same.
    renamed: HashMap<String, String>,
    rejoined: BTreeMap<Thing, (Source, Thing)>,
    /// The cards that a purchase created: their thread is there whichever card stays.
    bought: BTreeSet<Thing>,
    /// The spelling of the colours of which rings used thread.
    spelled: BTreeMap<(Thing, String), String>,
}

impl<'a> Targets<'a> {
    fn of(fold: &Fold<'a>, sheet: &Sheet) -> Self {
        let aliases = aliases(sheet);
        Self {
            facts: fold.facts,
            renamed: renamed(&aliases),
            rejoined: fold.rejoined(sheet),
            bought: fold.bought(sheet),
            spelled: BTreeMap::new(),
            aliases,
        }
    }

    fn are_bought(&self, one: Thing, other: Thing) -> bool {
        self.bought.contains(&one) && self.bought.contains(&other)
    }

    /// The thing a write goes to; `None` if it doesn't count.
    fn target(&self, source: Source, thing: Thing, member: &str, write: &Write) -> Option<Thing> {
        let to = match (thing, self.aliases.get(&thing)) {
            (_, None) => thing,
            // What both sides bought is there, whichever card stays.
            (Thing::Card(_), Some(to))
                if self.are_bought(thing, *to) && lot_of(member).is_some() =>
            {
                *to
            }
            // If two cards or rings are the same, only one of them counts.
            (Thing::Card(_), Some(_)) => return None,
            (Thing::Ring(_), Some(to)) if is_listed(member) => *to,
            (Thing::Ring(_), Some(_)) => return None,
            (_, Some(to)) => *to,
        };
        Some(match (write, self.rejoined.get(&to)) {
            (Write::Add(_), Some(&(by, parent))) if self.facts.apart(source, by) => parent,
            _ => to,
        })
    }

    fn write(
        &mut self,
        sheet: &mut Sheet,
        source: Source,
        (thing, member, write): &(Thing, String, Write),
    ) {
        let Some(to) = self.target(source, *thing, member, write) else {
            return;
        };
        // An answer that a thing exists doesn't create it.
        if self.facts.is_act(source) && member == EXISTS && *write == Write::Set(json!(true)) {
            sheet.born.insert(to);
        }
        let mut write = write.clone();
        if let (Write::Set(value), false) = (&mut write, self.aliases.is_empty()) {
            if !is_written(member) {
                refer_to(value, &self.renamed);
            }
            if matches!(to, Thing::Ring(_)) && member == KEY {
                one_of_each(value);
            }
        }
        if let Some(lot) = lot_of(member) {
            sheet.write_lot(self.facts, source, to, lot, write);
            return;
        }
        let range_now = |range| self.renamed.get(range).map_or(range, String::as_str);
        if let Some(colours) = colours_matched(member) {
            let colours = colours.map(|(range, number)| (range_now(range), number));
            sheet.write(self.facts, source, to, &match_between(colours), write);
            return;
        }
        let Some((range, number)) = colour_used(member) else {
            sheet.write(self.facts, source, to, member, write);
            return;
        };
        let member = format!("{USED}{range}/{number}", range = range_now(range));
        // Different spellings of a number mean the same colour.
        let spelled = self.spelled.entry((to, fold(&member))).or_insert(member);
        sheet.write(self.facts, source, to, spelled, write);
    }
}

/// Whether a field is an entry in a list of a ring: a card that was on it, or thread used.
fn is_listed(member: &str) -> bool {
    member.starts_with(OUT) || member.starts_with(USED)
}

impl Fold<'_> {
    /// The cards that a purchase created.
    fn bought(&self, sheet: &Sheet) -> BTreeSet<Thing> {
        let facts = self.facts.all.iter().enumerate();
        let events = facts.filter(|(_, fact)| Self::stands(sheet, fact.id));
        let events = events.filter_map(|(at, _)| self.event(at));
        let bought = events.filter(|event| matches!(event.act, Act::Bought { .. }));
        let created = bought
            .flat_map(|event| &event.changes)
            .filter_map(|change| match change {
                Change::Card {
                    before: None,
                    after: Some(card),
                } => Some(Thing::Card(card.id)),
                _ => None,
            });
        created.collect()
    }

    /// The rejoined split cards: by which event, and with which card. Thread used from such a card
    /// by somebody who didn't know that is taken from the card that has its thread now.
    pub(super) fn rejoined(&self, sheet: &Sheet) -> BTreeMap<Thing, (Source, Thing)> {
        let mut rejoined = BTreeMap::new();
        for (at, fact) in self.facts.all.iter().enumerate() {
            let Some(event) = self.event(at).filter(|_| Self::stands(sheet, fact.id)) else {
                continue;
            };
            if !matches!(event.act, Act::Rejoin { .. } | Act::Return { .. }) {
                continue;
            }
            for change in &event.changes {
                if let Change::Card {
                    before: Some(card),
                    after: None,
                } = change
                    && let Some(parent) = card.parent
                {
                    let by = (Source::Fact(at), Thing::Card(parent));
                    rejoined.insert(Thing::Card(card.id), by);
                }
            }
        }
        rejoined
    }
}

/// Which things are the same as another, and the last of each chain. Three copies may answer in a
/// circle (a for b, b for c, c for a); then the latest answer counts, and its choice is the last.
fn aliases(sheet: &Sheet) -> Aliases {
    let mut links: Vec<(Source, Thing, Thing)> = (sheet.things.iter())
        .filter_map(|(&thing, members)| {
            let cell = members.get(SAME_AS)?;
            let to = serde_json::from_value(cell.value.clone()).ok()?;
            Some((cell.last(), thing, to))
        })
        .collect();
    links.sort_unstable();
    let mut same = Aliases::new();
    let last = |same: &Aliases, mut thing: Thing| {
        while let Some(&next) = same.get(&thing) {
            thing = next;
        }
        thing
    };
    for (_, thing, to) in links {
        if last(&same, to) == thing {
            same.remove(&to);
        }
        if thing != to {
            same.insert(thing, to);
        }
    }
    same.keys()
        .map(|&thing| (thing, last(&same, thing)))
        .collect()
}

/// The text by which the record refers to a thing.
pub(super) fn id_of(thing: Thing) -> Option<String> {
    Some(match thing {
        Thing::Range(id) => id.to_string(),
        Thing::Family(id) => id.to_string(),
        Thing::Board(id) => id.to_string(),
        Thing::Card(id) => id.to_string(),
        Thing::Ring(id) => id.to_string(),
        Thing::Event(_) | Thing::Stash => return None,
    })
}

/// The ids of things that are the same as others, with the ids of those.
fn renamed(aliases: &Aliases) -> HashMap<String, String> {
    let ids = aliases.iter();
    ids.filter_map(|(from, to)| Some((id_of(*from)?, id_of(*to)?)))
        .collect()
}

/// Whether a member holds free text by a person, which isn't a reference even if it looks like an
/// id.
fn is_written(member: &str) -> bool {
    matches!(
        member,
        "name" | "note" | "symbol" | "number" | "tag" | "project" | "prefix"
    )
}

/// Replaces references to things that are the same as others.
fn refer_to(value: &mut Value, renamed: &HashMap<String, String>) {
    match value {
        Value::String(text) => {
            let (id, rest) = text.split_at_checked(16).unwrap_or((text.as_str(), ""));
            if !rest.is_empty() && !rest.starts_with('/') {
                return;
            }
            if let Some(to) = renamed.get(id) {
                *text = format!("{to}{rest}");
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|value| refer_to(value, renamed)),
        Value::Object(object) => {
            for (name, value) in object {
                if !is_written(name) {
                    refer_to(value, renamed);
                }
            }
        }
        _ => {}
    }
}

/// Calls back for every id that a value refers to.
pub(super) fn references<'v>(value: &'v Value, each: &mut impl FnMut(&'v str)) {
    match value {
        Value::String(text) => {
            if let Some((id, rest)) = text.split_at_checked(16)
                && (rest.is_empty() || rest.starts_with('/'))
            {
                each(id);
            }
        }
        Value::Array(list) => list.iter().for_each(|value| references(value, each)),
        Value::Object(object) => object.values().for_each(|value| references(value, each)),
        _ => {}
    }
}

fn object(members: &Members) -> Map<String, Value> {
    let plain = members.iter().filter(|(name, cell)| {
        !name.contains('/') && !cell.value.is_null() && !matches!(name.as_str(), EXISTS | SAME_AS)
    });
    plain
        .map(|(name, cell)| (name.clone(), cell.value.clone()))
        .collect()
}

fn entries<'m>(
    members: &'m Members,
    list: &'static str,
) -> impl Iterator<Item = (&'m str, &'m Cell)> {
    let entries = members.iter().filter(|(_, cell)| !cell.value.is_null());
    entries.filter_map(move |(name, cell)| Some((name.strip_prefix(list)?, cell)))
}

/// The cards that were on a ring, in the order they were taken.
fn went_out(members: &Members) -> Vec<&str> {
    let mut out: Vec<(Source, Option<u64>, &str)> = entries(members, OUT)
        .map(|(card, cell)| (cell.last(), cell.value.as_u64(), card))
        .collect();
    out.sort_unstable();
    out.into_iter().map(|(_, _, card)| card).collect()
}

impl Sheet {
    /// The stash that the sheet describes. Its invariants aren't checked.
    pub(super) fn state(&self) -> Result<State, serde_json::Error> {
        let mut lists: BTreeMap<&str, Vec<Value>> = BTreeMap::new();
        let mut families: Vec<(Option<usize>, Thing, Value)> = Vec::new();
        let order = self.value(Thing::Stash, FAMILIES).as_array();
        for (thing, members) in self.existing() {
            let mut of = object(members);
            let id = json!(id_of(thing));
            of.insert("id".to_owned(), id.clone());
            let list = match thing {
                Thing::Range(_) => "ranges",
                Thing::Board(_) => "boards",
                Thing::Ring(_) => "rings",
                Thing::Card(_) => "cards",
                Thing::Family(_) => {
                    let at = order.and_then(|order| order.iter().position(|of| *of == id));
                    families.push((at, thing, Value::Object(of)));
                    continue;
                }
                Thing::Event(_) | Thing::Stash => continue,
            };
            let of = self.with_lists(thing, members, of);
            lists.entry(list).or_default().push(of);
        }
        families.sort_by_key(|&(at, thing, _)| (at.is_none(), at, thing));
        let families: Vec<Value> = families.into_iter().map(|(_, _, of)| of).collect();
        let mut list = |name: &str| lists.remove(name).unwrap_or_default();
        serde_json::from_value(json!({
            "ranges": list("ranges"),
            "families": families,
            "order": match self.value(Thing::Stash, "order") {
                Value::Null => json!(WallOrder::default()),
                order => order.clone(),
            },
            "boards": list("boards"),
            "cards": list("cards"),
            "rings": list("rings"),
            "purchases": self.purchases(),
            "matches": self.matches(),
            "underway": self.underway(),
        }))
    }

    /// A thing as in a state, including the lists whose entries are separate fields.
    fn with_lists(&self, thing: Thing, members: &Members, mut of: Map<String, Value>) -> Value {
        match thing {
            Thing::Range(_) => {
                let shades = entries(members, SHADE);
                let shades: Map<String, Value> = shades
                    .map(|(number, cell)| (number.to_owned(), cell.value.clone()))
                    .collect();
                of.insert("shades".to_owned(), Value::Object(shades));
            }
            Thing::Board(_) => {
                let hooks = entries(members, HOOK).map(|(_, cell)| &cell.value);
                of.insert("special".to_owned(), json!(hooks.collect::<Vec<_>>()));
            }
            Thing::Ring(_) => {
                if let Some(Value::Object(state)) = of.remove("state") {
                    of.extend(state);
                }
                of.insert("went_out".to_owned(), json!(went_out(members)));
                of.insert("used".to_owned(), json!(used(members)));
            }
            Thing::Card(_) => {
                let (place, home) = (of.remove("place"), of.remove("home"));
                let spelled = |lot| {
                    let spelled = self.lots.get(&(thing, str::to_owned(lot)));
                    spelled.map_or(lot, String::as_str)
                };
                let thread = self::thread(members, spelled);
                return json!({"card": of, "place": place, "home": home, "thread": thread});
            }
            _ => {}
        }
        Value::Object(of)
    }

    fn purchases(&self) -> Map<String, Value> {
        let members = self.things.get(&Thing::Stash);
        let purchases = members.into_iter().flat_map(|of| entries(of, PURCHASE));
        purchases
            .map(|(purchase, cell)| (purchase.to_owned(), cell.value.clone()))
            .collect()
    }

    /// The matches, without those of colours that became one when their ranges did.
    fn matches(&self) -> Vec<&Value> {
        let members = self.things.get(&Thing::Stash);
        let matches = members.into_iter().flat_map(|of| entries(of, MATCH));
        let matches = matches.map(|(_, cell)| &cell.value);
        matches
            .filter(|of| ColourMatch::deserialize(*of).is_ok())
            .collect()
    }

    fn underway(&self) -> Value {
        let mut underway = self.value(Thing::Stash, UNDERWAY).clone();
        if let Value::Object(underway) = &mut underway {
            let done = self.value(Thing::Stash, STEPS_DONE).clone();
            underway.insert("done".to_owned(), done);
        }
        underway
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::ring::KeyLine;

    #[test]
    fn a_needle_has_each_colour_once_after_ranges_became_one() {
        let (range, other) = ("0000000100000001", "0000000200000002");
        let colour = |number: &str| json!({"range": range, "number": number});
        let mut key = json!([
            {"symbol": "X", "threads": [
                {"colour": colour("701"), "strands": 2, "stitched_with": colour("701")},
                {"colour": colour("b5"), "strands": 1},
                {"colour": colour("B5"), "strands": 2},
                {"colour": {"range": other, "number": "b5"}},
            ]},
            {"threads": [{"colour": colour("9"), "strands": 1}, {"colour": colour("9")}]},
            {"notion": {"name": "bead", "kind": "bead"}},
        ]);
        one_of_each(&mut key);
        assert_eq!(
            key,
            json!([
                {"symbol": "X", "threads": [
                    {"colour": colour("701"), "strands": 2},
                    {"colour": colour("b5"), "strands": 3},
                    {"colour": {"range": other, "number": "b5"}},
                ]},
                {"threads": [{"colour": colour("9")}]},
                {"notion": {"name": "bead", "kind": "bead"}},
            ])
        );
        assert!(serde_json::from_value::<Vec<KeyLine>>(key).is_ok());
    }
}
