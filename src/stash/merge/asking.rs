//! Questions between two records, the decisions so far, and repairs that need no question because
//! they follow from the events of both sides: dangling references, and cards where nothing can
//! hang.

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize as _;
use serde_json::{Value, json};

use super::facts::{Side, Source};
use super::fields::{EXISTS, UNDERWAY, Write, match_of, out_of, used_of};
use super::fold::{Cell, Fold, Sheet, id_of};
use crate::model::board::{Board, HookRef};
use crate::model::ids::{CardId, EventId, RingId};
use crate::model::label::Label;
use crate::model::ring::{KeyLine, RingState};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::{Settled, Thing};
use crate::stash::names::shared_hook_name;
use crate::stash::state::State;

/// Answers to questions.
#[derive(Clone, Default, Debug)]
pub struct Answers {
    /// The answer to all questions without their own.
    pub all: Option<Side>,
    /// Answers to single questions, by number.
    pub each: BTreeMap<usize, Side>,
}

impl Answers {
    fn to(&self, n: usize) -> Option<Side> {
        self.each.get(&n).copied().or(self.all)
    }
}

/// The subject of a question.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Subject {
    /// The same list was imported on both sides. It counts once.
    SameList,
    /// An event was undone on one side, and the other went on from it.
    Undone(EventId),
    /// Two cards, or two projects, have the same name. Which one stays?
    Same(Thing, Thing),
    /// A thing was removed on one side and changed on the other.
    Removed(Thing),
    /// Both sides changed the same fields of a thing differently.
    Fields(Thing, Vec<String>),
    /// More cards belong on a hook than it takes.
    FullHook(HookRef),
    /// Both sides have a card in the hand.
    Hand,
    /// A ring was closed on one side, and the other put cards on it.
    ClosedRing(RingId),
}

/// One side's position on a question.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Claim {
    /// The events behind it, latest last.
    pub events: Vec<EventId>,
    /// Whether this side is the one that undid, removed or closed.
    pub is_end: bool,
    /// The cards it is for, if any.
    pub cards: Vec<CardId>,
    /// Of two things with one name, the one that stays if this side wins.
    pub thing: Option<Thing>,
    /// Its values of the fields in question.
    pub values: Vec<Value>,
}

/// A conflict between both sides.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Question {
    /// Its number, from 1.
    pub n: usize,
    /// What it is about.
    pub subject: Subject,
    /// Our side.
    pub mine: Claim,
    /// Their side.
    pub theirs: Claim,
    /// The side with the later change.
    pub later: Side,
    /// The answer, if there is one.
    pub answer: Option<Side>,
}

impl Question {
    /// A side's position.
    #[must_use]
    pub const fn claim(&self, side: Side) -> &Claim {
        match side {
            Side::Mine => &self.mine,
            Side::Theirs => &self.theirs,
        }
    }

    /// Identifies this question in every copy: its subject, and the events involved.
    #[must_use]
    pub fn name(&self) -> String {
        let thing = |thing: &Thing| match thing {
            Thing::Event(id) => format!("event {id}"),
            thing => id_of(*thing).unwrap_or_else(|| "stash".to_owned()),
        };
        let about = match &self.subject {
            Subject::SameList => "same list".to_owned(),
            Subject::Undone(id) => format!("undone {id}"),
            Subject::Same(a, b) => format!("same {} {}", thing(a), thing(b)),
            Subject::Removed(of) => format!("removed {}", thing(of)),
            Subject::Fields(of, members) => format!("{} {}", thing(of), members.join(" ")),
            Subject::FullHook(hook) => format!("full {hook}"),
            Subject::Hand => "hand".to_owned(),
            Subject::ClosedRing(ring) => format!("closed {ring}"),
        };
        let events = self.mine.events.iter().chain(&self.theirs.events);
        let events: BTreeSet<String> = events.map(ToString::to_string).collect();
        let events: Vec<String> = events.into_iter().collect();
        format!("{about}: {}", events.join(" "))
    }
}

/// Whether any of them has no answer yet.
pub(super) fn is_open(questions: &[Question]) -> bool {
    questions.iter().any(|question| question.answer.is_none())
}

/// A decision: the value of a field.
pub(super) fn value(thing: Thing, member: &str, value: Value) -> Settled {
    Settled {
        thing,
        member: member.to_owned(),
        value,
        chosen: Vec::new(),
        over: Vec::new(),
    }
}

/// A card to hang, because its place became impossible.
pub(super) fn to_hang(place: &Place) -> Value {
    json!(Place {
        at: Whereabouts::Unhung,
        since: place.since,
    })
}

/// A group of questions or repairs.
pub(super) type Round<'a> = fn(&mut Asking<'a>);

/// A merge in progress.
pub(super) struct Asking<'a> {
    pub(super) fold: &'a Fold<'a>,
    answers: &'a Answers,
    pub(super) questions: Vec<Question>,
    pub(super) settled: Vec<Settled>,
    pub(super) sheet: Sheet,
    /// The state according to the sheet. Its invariants may not hold yet.
    pub(super) state: State,
}

impl<'a> Asking<'a> {
    /// A merge without any questions so far.
    pub(super) fn new(fold: &'a Fold<'a>, answers: &'a Answers) -> Result<Self, serde_json::Error> {
        let sheet = fold.sheet(&[]);
        Ok(Self {
            fold,
            answers,
            questions: Vec::new(),
            settled: Vec::new(),
            state: sheet.state()?,
            sheet,
        })
    }

    /// Asks in rounds, until an answer is missing. Returns whether anything was decided.
    pub(super) fn go_round(&mut self, rounds: &[Round<'a>]) -> Result<bool, serde_json::Error> {
        let mut any = false;
        for round in rounds {
            if is_open(&self.questions) {
                break;
            }
            let settled = self.settled.len();
            round(self);
            if !is_open(&self.questions) && self.settled.len() > settled {
                any = true;
                self.fold_again()?;
            }
        }
        Ok(any)
    }

    fn fold_again(&mut self) -> Result<(), serde_json::Error> {
        self.sheet = self.fold.sheet(&self.settled);
        self.state = self.sheet.state()?;
        Ok(())
    }

    /// The event that last set a field.
    pub(super) fn source(&self, thing: Thing, member: &str) -> Source {
        let cell = self.sheet.cell(thing, member);
        cell.map_or(Source::Base, Cell::last)
    }

    pub(super) fn id(&self, source: Source) -> Option<EventId> {
        self.fold.facts.fact(source).map(|fact| fact.id)
    }

    /// The side with an event, if only one has it.
    pub(super) fn only(&self, source: Source) -> Option<Side> {
        let facts = self.fold.facts;
        match (
            facts.is_on(source, Side::Mine),
            facts.is_on(source, Side::Theirs),
        ) {
            (true, false) => Some(Side::Mine),
            (false, true) => Some(Side::Theirs),
            _ => None,
        }
    }

    /// Assigns two values to our and their side, if each belongs to only one.
    pub(super) fn sides<T>(&self, a: (Source, T), b: (Source, T)) -> Option<[(Source, T); 2]> {
        match (self.only(a.0), self.only(b.0)) {
            (Some(Side::Mine), Some(Side::Mine)) | (Some(Side::Theirs), Some(Side::Theirs)) => None,
            (Some(Side::Mine), _) | (_, Some(Side::Theirs)) => Some([a, b]),
            (Some(Side::Theirs), _) | (_, Some(Side::Mine)) => Some([b, a]),
            (None, None) => None,
        }
    }

    pub(super) fn claim(&self, sources: impl IntoIterator<Item = Source>) -> Claim {
        let sources: BTreeSet<Source> = sources.into_iter().collect();
        Claim {
            events: sources
                .into_iter()
                .filter_map(|source| self.id(source))
                .collect(),
            ..Claim::default()
        }
    }

    pub(super) fn ask(&mut self, subject: Subject, mine: Claim, theirs: Claim) -> Option<Side> {
        let last = |claim: &Claim| {
            let last = claim.events.last()?;
            self.fold.facts.find(*last)
        };
        let later = if last(&mine) > last(&theirs) {
            Side::Mine
        } else {
            Side::Theirs
        };
        let n = self.questions.len() + 1;
        let answer = self.answers.to(n);
        self.questions.push(Question {
            n,
            subject,
            mine,
            theirs,
            later,
            answer,
        });
        answer
    }

    /// Records an answer to the last question.
    pub(super) fn settle(&mut self, answer: Side, mut settled: Settled) {
        if let Some(question) = self.questions.last() {
            let (chosen, over) = (question.claim(answer), question.claim(answer.other()));
            settled.chosen.clone_from(&chosen.events);
            settled.over.clone_from(&over.events);
        }
        self.settled.push(settled);
    }
}

/// Whether a place is one where a re-hang has cards: on a hook, or in the hand.
fn is_on_the_wall(place: &Value) -> bool {
    let place = Place::deserialize(place);
    place.is_ok_and(|place| match place.at {
        Whereabouts::Hook { .. } | Whereabouts::Hand => true,
        Whereabouts::Ring { .. }
        | Whereabouts::Missing { .. }
        | Whereabouts::Elsewhere { .. }
        | Whereabouts::Unhung => false,
    })
}

/// A board's new prefix is a number from here up to ten times that.
const PREFIXES: u64 = 100;

impl Asking<'_> {
    /// Makes all repairs possible in one pass.
    pub(super) fn repair(&mut self) {
        self.repair_cards();
        self.repair_places(false);
        self.repair_rings();
        self.repair_boards();
        self.repair_matches();
        self.end_the_rehang();
    }

    fn put(&mut self, thing: Thing, member: &str, to: Value) {
        self.settled.push(value(thing, member, to));
    }

    /// Repairs cards whose range, family or parent is gone.
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
                // The first split card of a removed card takes its place.
                let heir = heirs.get(&parent).copied();
                heirs.entry(parent).or_insert(card.id);
                settled.push(value(thing, "parent", json!(heir)));
                // It inherits the tag of the card it was split from.
                let tag = self.sheet.value(Thing::Card(parent), "tag");
                if heir.is_none() && !tag.is_null() {
                    settled.push(value(thing, "tag", tag.clone()));
                }
            }
        }
        self.settled.extend(settled);
    }

    /// Repairs cards in impossible places; on closed rings only if requested.
    fn repair_places(&mut self, closed_too: bool) {
        let state = &self.state;
        let fits = |place: &Place| {
            let ring = place.at.ring().map(|id| state.ring(id));
            place.at.hook().is_none_or(|hook| state.capacity(hook) > 0)
                && ring.is_none_or(|ring| ring.is_some_and(|ring| !closed_too || !ring.is_closed()))
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
            // From a ring it goes back to its last place; from a hook that is gone it becomes a
            // card to hang.
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

    /// Moves cards on rings that stay closed back to where they were.
    pub(super) fn take_from_closed_rings(&mut self) {
        self.repair_places(true);
    }

    /// Repairs rings on hooks that are gone, keys with ranges that are gone, and lists that lack
    /// the cards on the ring.
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

    /// Removes matches of colours whose range is gone.
    fn repair_matches(&mut self) {
        let is_there = |range| self.state.range(range).is_some();
        let dangling = self.state.matches().iter().filter(|of| {
            let mut colours = of.colours().iter();
            colours.any(|colour| !is_there(colour.range))
        });
        let gone = dangling.map(|of| value(Thing::Stash, &match_of(&of), Value::Null));
        let gone: Vec<Settled> = gone.collect();
        self.settled.extend(gone);
    }

    /// Boards created in different copies may share hook names. The later one gets its own prefix,
    /// derived from its id, so that it is the same whichever copies merge first.
    fn repair_boards(&mut self) {
        let mut named: Vec<Board> = Vec::new();
        let mut renamed = Vec::new();
        for board in self.state.boards() {
            let mut board = board.clone();
            // Boards with the same prefix share at least the first hook.
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

    /// Ends a re-hang underway if somebody who didn't know of it changed the wall.
    fn end_the_rehang(&mut self) {
        let Some(underway) = self.state.underway() else {
            return;
        };
        let begun = self.source(Thing::Stash, UNDERWAY);
        let is_wall = |(thing, member, write): &(Thing, String, Write)| match (thing, write) {
            (Thing::Board(_), _) => true,
            (Thing::Card(_), Write::Set(to)) => {
                member == "home" || (member == "place" && is_on_the_wall(to))
            }
            _ => false,
        };
        let disturbed = self.fold.facts.all.iter().enumerate().any(|(at, fact)| {
            self.fold.facts.apart(Source::Fact(at), begun)
                && Fold::stands(&self.sheet, fact.id)
                && self.fold.event(at).is_some()
                && self.fold.writes[at].iter().any(is_wall)
        });
        // A card may be gone, or two may have become one.
        let aims: BTreeSet<CardId> = (underway.homes.iter())
            .map(|(card, _)| *card)
            .filter(|card| self.state.card(*card).is_some())
            .collect();
        if disturbed || aims.len() != underway.homes.len() {
            self.put(Thing::Stash, UNDERWAY, Value::Null);
        }
    }
}
