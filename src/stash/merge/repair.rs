//! What follows from the events of both sides and needs no question: what refers to something that is gone,
//! and what hangs where nothing can.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use super::asking::{Asking, to_hang, value};
use super::facts::Source;
use super::fields::{EXISTS, UNDERWAY, Write, out_of, used_of};
use super::fold::Fold;
use crate::model::board::Board;
use crate::model::ids::CardId;
use crate::model::label::Label;
use crate::model::ring::{KeyLine, RingState};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::Thing;
use crate::stash::names::shared_hook_name;

/// A board's new prefix is a number from here to ten times that.
const PREFIXES: u64 = 100;

impl Asking<'_> {
    /// Puts right what can be put right in one go.
    pub(super) fn repair(&mut self) {
        self.repair_cards();
        self.repair_places(false);
        self.repair_rings();
        self.repair_boards();
        self.end_the_rehang();
    }

    fn put(&mut self, thing: Thing, member: &str, to: Value) {
        self.settled.push(value(thing, member, to));
    }

    /// Cards whose range, family or parent is gone.
    fn repair_cards(&mut self) {
        let mut heirs: BTreeMap<CardId, CardId> = BTreeMap::new();
        let state = &self.state;
        let mut settled = Vec::new();
        for card in state.cards().map(|kept| &kept.card) {
            let thing = Thing::Card(card.id);
            if state.range(card.range).is_none() {
                settled.push(value(thing, EXISTS, json!(false)));
                continue;
            }
            if card
                .family
                .id()
                .is_some_and(|family| state.family(family).is_none())
            {
                settled.push(value(thing, "family", json!("unknown")));
            }
            if let Some(parent) = card.parent.filter(|&parent| state.card(parent).is_none()) {
                // The first of those that were split from a card is what is left of it.
                let heir = heirs.get(&parent).copied();
                heirs.entry(parent).or_insert(card.id);
                settled.push(value(thing, "parent", json!(heir)));
                // It goes by the tag of the card it was split from, which is its own now.
                let tag = self.sheet.value(Thing::Card(parent), "tag");
                if heir.is_none() && !tag.is_null() {
                    settled.push(value(thing, "tag", tag.clone()));
                }
            }
        }
        self.settled.extend(settled);
    }

    /// Cards that are, or belong, where they can't; on closed rings only if so asked.
    fn repair_places(&mut self, closed_too: bool) {
        let state = &self.state;
        let fits = |place: &Place| match place.at {
            Whereabouts::Hook { hook } => state.capacity(hook) > 0,
            Whereabouts::Ring { ring } => state
                .ring(ring)
                .is_some_and(|ring| !closed_too || !ring.is_closed()),
            _ => true,
        };
        let mut settled = Vec::new();
        for kept in state.cards() {
            let thing = Thing::Card(kept.card.id);
            if kept.home.is_some_and(|home| state.capacity(home) == 0) {
                settled.push(value(thing, "home", Value::Null));
            }
            if fits(&kept.place) {
                continue;
            }
            // From a ring it goes back to where it was last; from a hook that is gone it is to hang.
            let cell = self.sheet.cell(thing, "place");
            let mut earlier = cell.iter().flat_map(|cell| cell.all.iter().rev());
            let earlier = earlier.find_map(|tip| {
                let place: Place = serde_json::from_value(tip.value.clone()).ok()?;
                (kept.place.at.ring().is_some() && fits(&place)).then_some(place)
            });
            let place = earlier.map_or_else(|| to_hang(&kept.place), |place| json!(place));
            settled.push(value(thing, "place", place));
        }
        self.settled.extend(settled);
    }

    /// Cards on rings that stay closed go back to where they were.
    pub(super) fn take_from_closed_rings(&mut self) {
        self.repair_places(true);
    }

    /// Rings on hooks that are gone, with keys of ranges that are gone, or whose list of cards doesn't have
    /// the cards on them.
    fn repair_rings(&mut self) {
        let mut on: BTreeSet<(Thing, CardId)> = BTreeSet::new();
        for kept in self.state.cards() {
            if let Some(ring) = kept.place.at.ring() {
                on.insert((Thing::Ring(ring), kept.card.id));
            }
        }
        let mut settled = Vec::new();
        for ring in self.state.rings() {
            let thing = Thing::Ring(ring.id);
            if let RingState::Hanging { hook, .. } = ring.state
                && self.state.capacity(hook) == 0
            {
                settled.push(value(thing, "state", json!({"state": "live"})));
            }
            for &card in &ring.went_out {
                if self.state.card(card).is_none() {
                    settled.push(value(thing, &out_of(card), Value::Null));
                }
                on.remove(&(thing, card));
            }
            let is_there = |range| self.state.range(range).is_some();
            let is_whole = |line: &&KeyLine| {
                let mut threads = line.threads().iter();
                threads.all(|of| is_there(of.colour.range) && is_there(of.stitched().range))
            };
            if !ring.key.iter().all(|line| is_whole(&line)) {
                let kept = ring.key.iter().filter(is_whole);
                settled.push(value(thing, "key", json!(kept.collect::<Vec<_>>())));
            }
            let used = ring.used.keys().filter(|colour| !is_there(colour.range));
            settled.extend(used.map(|colour| value(thing, &used_of(colour), Value::Null)));
        }
        let missing = on.into_iter().filter(|(ring, _)| self.sheet.has(*ring));
        settled.extend(missing.map(|(ring, card)| value(ring, &out_of(card), json!(0))));
        self.settled.extend(settled);
    }

    /// Boards that came to be apart may have marks in common; the later one gets a prefix of its own, by its
    /// id, so that it is the same whichever copies came together first.
    fn repair_boards(&mut self) {
        let mut named: Vec<Board> = Vec::new();
        let mut renamed = Vec::new();
        for board in self.state.boards() {
            let mut board = board.clone();
            // Of the same prefix, both have a first hook.
            let clashes = |board: &Board| {
                let same = |other: &Board| other.prefix.same_as(board.prefix.as_str());
                let mut others = named.iter();
                others.any(|other| same(other) || shared_hook_name(other, board).is_some())
            };
            let was = board.prefix.clone();
            let mut tries = 0..PREFIXES;
            while clashes(&board)
                && let Some(more) = tries.next()
            {
                let number = PREFIXES + (board.id.0.wrapping_add(more)) % (9 * PREFIXES);
                board.prefix = Label::new(&format!("{number}-")).unwrap_or_default();
            }
            if board.prefix != was {
                renamed.push((board.id, board.prefix.clone()));
            }
            named.push(board);
        }
        for (id, prefix) in renamed {
            self.put(Thing::Board(id), "prefix", json!(prefix));
        }
    }

    /// A re-hang that is underway ends where somebody who did not know of it changed the wall.
    fn end_the_rehang(&mut self) {
        let Some(underway) = self.state.underway() else {
            return;
        };
        let begun = self.source(Thing::Stash, UNDERWAY);
        let is_wall = |(thing, member, write): &(Thing, String, Write)| match (thing, write) {
            (Thing::Board(_), _) => true,
            (Thing::Card(_), Write::Set(to)) => {
                let kind = to.get("kind").and_then(Value::as_str);
                member == "home" || (member == "place" && matches!(kind, Some("hook" | "hand")))
            }
            _ => false,
        };
        let disturbed = self.fold.facts.all.iter().enumerate().any(|(at, fact)| {
            self.fold.facts.apart(Source::Fact(at), begun)
                && Fold::stands(&self.sheet, fact.id)
                && self.fold.event(at).is_some()
                && self.fold.writes[at].iter().any(is_wall)
        });
        // A card may be gone, or two of them one by now.
        let aims: BTreeSet<CardId> = (underway.homes.iter())
            .map(|(card, _)| *card)
            .filter(|card| self.state.card(*card).is_some())
            .collect();
        if disturbed || aims.len() != underway.homes.len() {
            self.put(Thing::Stash, UNDERWAY, Value::Null);
        }
    }
}
