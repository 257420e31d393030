//! Questions between two records, and what is settled between them so far.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use super::facts::{Side, Source};
use super::fold::{Cell, Fold, Sheet, id_of};
use crate::model::board::HookRef;
use crate::model::ids::{CardId, EventId, RingId};
use crate::model::whereabouts::{Place, Whereabouts};
use crate::stash::event::{Settled, Thing};
use crate::stash::state::State;

/// Answers to questions.
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

/// What a question is about.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Subject {
    /// The same list was imported on both sides. It counts once.
    SameList,
    /// An event was undone on one side, and the other went on from it.
    Undone(EventId),
    /// Two cards, or two projects, are called the same: the first or the second?
    Same(Thing, Thing),
    /// A thing went out of the stash on one side and was changed on the other.
    Removed(Thing),
    /// Both sides wrote something else in the same fields of a thing.
    Fields(Thing, Vec<String>),
    /// More cards belong on a hook than have room there.
    FullHook(HookRef),
    /// Both sides have a card in the hand.
    Hand,
    /// A ring was closed on one side, and the other put cards on it.
    ClosedRing(RingId),
}

/// What one side says to a question.
#[derive(Clone, PartialEq, Eq, Default, Debug)]
pub struct Claim {
    /// The events by which it says so, the latest last.
    pub events: Vec<EventId>,
    /// Whether this side is the one that undid, removed or closed.
    pub is_end: bool,
    /// The cards it speaks for, where it does.
    pub cards: Vec<CardId>,
    /// The thing that stays its way, of two of one name.
    pub thing: Option<Thing>,
    /// Its values of the fields that are asked about.
    pub values: Vec<Value>,
}

/// Something that cannot be as both sides have it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Question {
    /// Its number, from 1.
    pub n: usize,
    /// What it is about.
    pub subject: Subject,
    /// As it is here.
    pub mine: Claim,
    /// As it is there.
    pub theirs: Claim,
    /// The side that spoke later.
    pub later: Side,
    /// The answer, where there is one.
    pub answer: Option<Side>,
}

impl Question {
    /// What names this question in every copy: what it is about, and the events that speak to it.
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

/// Whether one of them has no answer yet.
pub(super) fn is_open(questions: &[Question]) -> bool {
    questions.iter().any(|question| question.answer.is_none())
}

/// Something to be settled: the value of a field.
pub(super) fn value(thing: Thing, member: &str, value: Value) -> Settled {
    Settled {
        thing,
        member: member.to_owned(),
        value,
        chosen: Vec::new(),
        over: Vec::new(),
    }
}

/// To hang, since the card came to where it can't be.
pub(super) fn to_hang(place: &Place) -> Value {
    json!(Place {
        at: Whereabouts::Unhung,
        since: place.since,
    })
}

/// Some of the questions, or of what is put right without one.
pub(super) type Round<'a> = fn(&mut Asking<'a>);

/// A merge while it asks.
pub(super) struct Asking<'a> {
    pub(super) fold: &'a Fold<'a>,
    answers: &'a Answers,
    pub(super) questions: Vec<Question>,
    pub(super) settled: Vec<Settled>,
    pub(super) sheet: Sheet,
    /// What stands on the sheet; its laws may not hold yet.
    pub(super) state: State,
}

impl<'a> Asking<'a> {
    /// Nothing asked yet.
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

    /// Asks in rounds, until an answer is wanting. Says whether anything was settled.
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

    /// The event that set a field last.
    pub(super) fn source(&self, thing: Thing, member: &str) -> Source {
        let cell = self.sheet.cell(thing, member);
        cell.map_or(Source::Base, Cell::last)
    }

    pub(super) fn id(&self, source: Source) -> Option<EventId> {
        self.fold.facts.fact(source).map(|fact| fact.id)
    }

    /// The one side that has an event, where only one has.
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

    /// Which of two is mine and which theirs, by which only one side has.
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

    /// Writes down an answer to the last question.
    pub(super) fn settle(&mut self, answer: Side, mut settled: Settled) {
        if let Some(question) = self.questions.last() {
            let (chosen, over) = match answer {
                Side::Mine => (&question.mine, &question.theirs),
                Side::Theirs => (&question.theirs, &question.mine),
            };
            settled.chosen.clone_from(&chosen.events);
            settled.over.clone_from(&over.events);
        }
        self.settled.push(settled);
    }
}
