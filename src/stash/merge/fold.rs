//! What all events together make of a stash: each field has the value of the latest event that set it,
//! and each amount is the sum of what was added to it since.

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

/// A value, and where it comes from.
#[derive(Clone, PartialEq, Debug)]
pub(super) struct Tip {
    pub(super) source: Source,
    pub(super) value: Value,
}

/// A field after all events.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) value: Value,
    /// The latest that set it: none of them knew another.
    pub(super) tips: Vec<Tip>,
    /// All that set it, the earliest first.
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

/// Everything that events wrote on, by thing and member.
#[derive(Clone, Default, Debug)]
pub(super) struct Sheet {
    pub(super) things: BTreeMap<Thing, Members>,
    /// The things that an event made which counts.
    born: BTreeSet<Thing>,
    /// How the lots of a card are spelled, by how their fields are named.
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

    /// Whether a thing is there. One whose making was undone is not, whatever was answered about it.
    pub(super) fn has(&self, thing: Thing) -> bool {
        let exists = self.cell(thing, EXISTS).is_some_and(|cell| cell.is(true));
        exists && self.born.contains(&thing)
    }

    /// The things that went out of the stash, with the event that took each.
    pub(super) fn gone(&self) -> impl Iterator<Item = (Thing, Source)> {
        let born = self.born.iter();
        born.filter_map(|&thing| {
            let cell = self.cell(thing, EXISTS).filter(|cell| cell.is(false))?;
            Some((thing, cell.last()))
        })
    }

    /// The things there are.
    pub(super) fn existing(&self) -> impl Iterator<Item = (Thing, &Members)> {
        let all = self.things.iter().map(|(&thing, members)| (thing, members));
        all.filter(|(thing, _)| self.has(*thing))
    }

    /// Writes on a field of a lot. However the lot is spelled, it is one: the earlier spelling stays while
    /// the lot is listed.
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
        // What was settled names the field.
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
            // As it is where nobody wrote before: not there, nothing of it.
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

/// The thread of a card, by lot, each in its spelling. Whatever amount there is lists its lot.
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

/// What a ring used, colour by colour.
fn used(members: &Members) -> Vec<Value> {
    let amounts = members.iter().filter_map(|(member, cell)| {
        let (range, number) = colour_used(member)?;
        let cm = cell.value.as_u64()?.min(MOST_USED_CM);
        (cm > 0).then(|| json!({"range": range, "number": number, "cm": cm}))
    });
    amounts.collect()
}

/// A key in which several ranges may have become one: a needle has each colour once, with the strands of
/// both, and no colour stands in for itself.
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

/// Adds a thread to those of a needle, or its strands to the one of the same colour.
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
        // The key no longer says how many there are in all.
        None => drop(first.remove("strands")),
    }
}

/// Which things are one and the same: the first is spoken of as the second.
pub(super) type Aliases = BTreeMap<Thing, Thing>;

/// The events of two records, each with what it wrote.
pub(super) struct Fold<'a> {
    pub(super) facts: &'a Facts,
    base: Writes,
    /// Of each fact.
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

    /// The event of a fact, if it is one that can be undone.
    pub(super) fn event(&self, at: usize) -> Option<&Event> {
        match &self.facts.all.get(at)?.deed {
            Deed::Did(event) => Some(event),
            _ => None,
        }
    }

    /// Whether an event counts, by a sheet.
    pub(super) fn stands(sheet: &Sheet, id: EventId) -> bool {
        !sheet
            .cell(Thing::Event(id), STANDS)
            .is_some_and(|cell| cell.is(false))
    }

    /// What all events make of the stash, together with what this merge settles.
    pub(super) fn sheet(&self, settled: &[Settled]) -> Sheet {
        let mut sheet = Sheet::default();
        let sources = || {
            let facts = self.writes.iter().enumerate();
            facts.map(|(at, writes)| (Source::Fact(at), writes))
        };
        let own = of_settled(settled);
        let all = || sources().chain([(Source::Merge, &own)]);
        // First which events count, and which things are the same.
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

/// Whether a write says whether an event counts, or that a thing is the same as another.
fn is_about_things((thing, member, _): &(Thing, String, Write)) -> bool {
    matches!(thing, Thing::Event(_)) || member == SAME_AS
}

/// Where writes go: what was written on a thing that is the same as another is written on that one.
struct Targets<'a> {
    facts: &'a Facts,
    aliases: Aliases,
    /// The ids of things that others are the same as, by the ids of those.
    renamed: HashMap<String, String>,
    rejoined: BTreeMap<Thing, (Source, Thing)>,
    /// How the colours are spelled of which rings used thread.
    spelled: BTreeMap<(Thing, String), String>,
}

impl<'a> Targets<'a> {
    fn of(fold: &Fold<'a>, sheet: &Sheet) -> Self {
        let aliases = aliases(sheet);
        Self {
            facts: fold.facts,
            renamed: renamed(&aliases),
            rejoined: fold.rejoined(sheet),
            spelled: BTreeMap::new(),
            aliases,
        }
    }

    /// The thing a write goes to; `None` where it counts for nothing.
    fn target(&self, source: Source, thing: Thing, member: &str, write: &Write) -> Option<Thing> {
        let to = match (thing, self.aliases.get(&thing)) {
            (_, None) => thing,
            // Of a card that is the same as another, and of a ring, only one counts.
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
        // What is only answered to be there is not made by that.
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
        // However the number is spelled, it is one colour.
        let spelled = self.spelled.entry((to, fold(&member))).or_insert(member);
        sheet.write(self.facts, source, to, spelled, write);
    }
}

/// Whether a field is an entry in a list of a ring: a card that went out on it, or what was used.
fn is_listed(member: &str) -> bool {
    member.starts_with(OUT) || member.starts_with(USED)
}

impl Fold<'_> {
    /// The split cards that were rejoined: by which event, and onto which card. What somebody who did not
    /// know used of such a card is taken from the card that has its thread now.
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

/// Which things are the same as another, and the last of each such row. Three copies may answer in a circle
/// (a for b, b for c, c for a): the latest answer stands, and what it chose is the last.
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

/// The ids of things that others are the same as, by the ids of those.
fn renamed(aliases: &Aliases) -> HashMap<String, String> {
    let ids = aliases.iter();
    ids.filter_map(|(from, to)| Some((id_of(*from)?, id_of(*to)?)))
        .collect()
}

/// Whether a member is what a person wrote, which refers to nothing even where it looks like an id.
fn is_written(member: &str) -> bool {
    matches!(
        member,
        "name" | "note" | "symbol" | "number" | "tag" | "project" | "prefix"
    )
}

/// Refers to the things that others are the same as.
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

/// Every id that a value refers to.
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

/// The cards that went out on a ring, in the order they went.
fn went_out(members: &Members) -> Vec<&str> {
    let mut out: Vec<(Source, Option<u64>, &str)> = entries(members, OUT)
        .map(|(card, cell)| (cell.last(), cell.value.as_u64(), card))
        .collect();
    out.sort_unstable();
    out.into_iter().map(|(_, _, card)| card).collect()
}

impl Sheet {
    /// The stash that holds what stands here. Its laws are not checked.
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

    /// A thing as a state has it, with the lists whose entries are fields of their own.
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

    /// The matches, but for those of colours that became one as their ranges did.
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
    fn a_needle_has_each_colour_once_where_ranges_became_one() {
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
