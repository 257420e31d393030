//! The disagreements of two records, and the effects of the answers.
//!
//! Questions come in rounds: which events count, which things are the same, which exist, what their
//! fields are, and what conflicts. The questions of a round depend on the answers to the previous
//! one. An answer is a value for a field, or that an event doesn't count. So it is the same whoever
//! gives it, and a copy that learns of it doesn't ask again.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};

use super::asking::{Asking, Claim, Subject, to_hang, value};
use super::facts::{Side, Source};
use super::fields::{
    EXISTS, FAMILIES, MATCH, OUT, PURCHASE, SAME_AS, STANDS, STEPS_DONE, UNDERWAY, Write,
    colour_used, hook_member, is_amount,
};
use super::fold::{Cell, Fold, Tip, id_of, references};
use crate::model::board::HookRef;
use crate::model::ids::{CardId, EventId, ListDigest, RangeId};
use crate::model::label::fold;
use crate::model::whereabouts::Whereabouts;
use crate::stash::event::{Act, Thing};
use crate::stash::names::written;

/// Whether two values of a field mean the same to a person.
fn agree(member: &str, a: &Value, b: &Value) -> bool {
    let bare = |value: &Value| match (member, value) {
        ("place" | "state", Value::Object(object)) => {
            let mut object = object.clone();
            object.retain(|name, _| !matches!(name.as_str(), "since" | "at"));
            Value::Object(object)
        }
        _ => value.clone(),
    };
    match (member, a, b) {
        // Lists with different families agree if they sort the common ones the same way.
        (FAMILIES, Value::Array(a), Value::Array(b)) => {
            let shared = a.iter().filter(|of| b.contains(of));
            shared.eq(b.iter().filter(|of| a.contains(of)))
        }
        // The program worked both out.
        ("family", Value::Object(a), Value::Object(b)) => {
            let worked_out = |of: &serde_json::Map<_, _>| of.contains_key("worked_out");
            (worked_out(a) && worked_out(b)) || a == b
        }
        _ => bare(a) == bare(b),
    }
}

impl Asking<'_> {
    /// Asks about lists imported on both sides.
    pub(super) fn lists(&mut self) {
        let mut lists: BTreeMap<ListDigest, Vec<usize>> = BTreeMap::new();
        for (at, fact) in self.fold.facts.all.iter().enumerate() {
            if let Some(Act::ImportCards {
                list: Some(list), ..
            }) = self.fold.event(at).map(|event| &event.act)
                && Fold::stands(&self.sheet, fact.id)
            {
                lists.entry(*list).or_default().push(at);
            }
        }
        for facts in lists.into_values() {
            let [mine, theirs] = [Side::Mine, Side::Theirs].map(|side| -> Vec<usize> {
                let on = |at: &&usize| self.only(Source::Fact(**at)) == Some(side);
                facts.iter().filter(on).copied().collect()
            });
            for (mine, theirs) in mine.into_iter().zip(theirs) {
                self.same_list(mine, theirs);
            }
        }
    }

    /// Asks which of two events that import the same list counts.
    fn same_list(&mut self, mine: usize, theirs: usize) {
        let claims = [mine, theirs].map(|at| self.claim([Source::Fact(at)]));
        let [left, right] = claims.clone();
        let Some(answer) = self.ask(Subject::SameList, left, right) else {
            return;
        };
        for (side, claim) in [Side::Mine, Side::Theirs].into_iter().zip(claims) {
            for id in claim.events {
                let counts = value(Thing::Event(id), STANDS, json!(side == answer));
                self.settle(answer, counts);
            }
        }
    }

    /// Every thing that an event wrote or refers to.
    fn uses(&self, at: usize, of: &BTreeMap<String, Thing>) -> BTreeSet<Thing> {
        let mut uses = BTreeSet::new();
        for (thing, member, write) in &self.fold.writes[at] {
            uses.insert(*thing);
            let range = colour_used(member).map(|(range, _)| range);
            uses.extend(range.and_then(|range| of.get(range)));
            if let Write::Set(value) = write {
                references(value, &mut |id| uses.extend(of.get(id)));
            }
        }
        uses
    }

    /// The events that count and use any of these things, where neither that event nor the one that
    /// ended the thing knew the other.
    fn used_apart(&self, ended: &BTreeMap<Thing, Source>) -> BTreeMap<Thing, Vec<usize>> {
        let ids = ended
            .keys()
            .filter_map(|&thing| Some((id_of(thing)?, thing)));
        let ids: BTreeMap<String, Thing> = ids.collect();
        let mut used: BTreeMap<Thing, Vec<usize>> = BTreeMap::new();
        if ended.is_empty() {
            return used;
        }
        for (at, fact) in self.fold.facts.all.iter().enumerate() {
            if self.fold.event(at).is_none() || !Fold::stands(&self.sheet, fact.id) {
                continue;
            }
            for thing in self.uses(at, &ids) {
                let by = ended.get(&thing);
                if by.is_some_and(|&by| self.fold.facts.apart(Source::Fact(at), by)) {
                    used.entry(thing).or_default().push(at);
                }
            }
        }
        used
    }

    /// Asks whether something that one side ended stays so. `None` if both sides ended it, if the
    /// same side went on with it, or without an answer.
    fn ask_end(&mut self, subject: Subject, end: Source, used: &[usize]) -> Option<(Side, bool)> {
        let ended_here = match self.only(end) {
            Some(side) => side,
            None => match used.iter().find_map(|&at| self.only(Source::Fact(at)))? {
                Side::Mine => Side::Theirs,
                Side::Theirs => Side::Mine,
            },
        };
        let end = Claim {
            is_end: true,
            ..self.claim([end])
        };
        let on = self.claim(used.iter().map(|&at| Source::Fact(at)));
        let (mine, theirs) = match ended_here {
            Side::Mine => (end, on),
            Side::Theirs => (on, end),
        };
        let answer = self.ask(subject, mine, theirs)?;
        Some((answer, answer == ended_here))
    }

    /// Asks about events that one side undid while the other built on them, and about events that
    /// one side undid and the other redid.
    pub(super) fn undone(&mut self) {
        let mut births: BTreeMap<Thing, (EventId, Source)> = BTreeMap::new();
        for (at, fact) in self.fold.facts.all.iter().enumerate() {
            let cell = self.sheet.cell(Thing::Event(fact.id), STANDS);
            let Some(cell) = cell.filter(|cell| cell.is(false)) else {
                continue;
            };
            let new = self.fold.writes[at]
                .iter()
                .filter(|(_, member, _)| member == EXISTS);
            births.extend(new.map(|(thing, _, _)| (*thing, (fact.id, cell.last()))));
        }
        let ended = births
            .iter()
            .map(|(&thing, &(_, by))| (thing, by))
            .collect();
        let mut used: BTreeMap<EventId, (Source, Vec<usize>)> = BTreeMap::new();
        for (thing, facts) in self.used_apart(&ended) {
            if let Some(&(id, by)) = births.get(&thing) {
                used.entry(id).or_insert((by, Vec::new())).1.extend(facts);
            }
        }
        for (id, (by, facts)) in used {
            if let Some((answer, ends)) = self.ask_end(Subject::Undone(id), by, &facts) {
                self.settle(answer, value(Thing::Event(id), STANDS, json!(!ends)));
            }
        }
        self.fields_of(|thing| matches!(thing, Thing::Event(_)));
    }

    /// Makes ranges, families and boards with the same name one.
    pub(super) fn one_by_name(&mut self) {
        let ranges = self
            .state
            .ranges()
            .map(|of| (0, &of.name, Thing::Range(of.id)));
        let families = self.state.families().iter();
        let families = families.map(|of| (1, &of.name, Thing::Family(of.id)));
        let boards = self
            .state
            .boards()
            .map(|of| (2, &of.name, Thing::Board(of.id)));
        let mut named: BTreeMap<(u8, String), BTreeSet<Thing>> = BTreeMap::new();
        for (kind, name, thing) in ranges.chain(families).chain(boards) {
            named
                .entry((kind, fold(name.as_str())))
                .or_default()
                .insert(thing);
        }
        for mut things in named.into_values() {
            let Some(first) = things.pop_first() else {
                continue;
            };
            let same = things
                .into_iter()
                .map(|thing| value(thing, SAME_AS, json!(first)));
            self.settled.extend(same);
        }
    }

    /// Asks which of two cards written the same, or of two rings of one project, stays.
    pub(super) fn namesakes(&mut self) {
        let mut named: BTreeMap<(String, Option<RangeId>), Vec<Thing>> = BTreeMap::new();
        for ring in self.state.rings() {
            let name = (fold(ring.project.as_str()), None);
            named.entry(name).or_default().push(Thing::Ring(ring.id));
        }
        for kept in self.state.cards().filter(|kept| kept.card.parent.is_none()) {
            let name = written(&kept.card.number, &kept.card.tag);
            let name = (fold(&name), Some(kept.card.range));
            named
                .entry(name)
                .or_default()
                .push(Thing::Card(kept.card.id));
        }
        for things in named.into_values() {
            let mut things = things.into_iter();
            let Some(mut stays) = things.next() else {
                continue;
            };
            for other in things {
                stays = self.one_of(stays, other).unwrap_or(stays);
            }
        }
    }

    /// Which of two things with one name stays; `None` without an answer.
    fn one_of(&mut self, first: Thing, second: Thing) -> Option<Thing> {
        let named = |thing: Thing| {
            let members = ["project", "range", "tag", "number", "parent", EXISTS].into_iter();
            members
                .map(|member| self.source(thing, member))
                .max()
                .unwrap_or(Source::Base)
        };
        let Some([(a, mine), (b, theirs)]) =
            self.sides((named(first), first), (named(second), second))
        else {
            self.settled.push(value(second, SAME_AS, json!(first)));
            return Some(first);
        };
        let [left, right] = [(a, mine), (b, theirs)].map(|(source, thing)| Claim {
            thing: Some(thing),
            ..self.claim([source])
        });
        let answer = self.ask(Subject::Same(first, second), left, right)?;
        let (kept, gone) = match answer {
            Side::Mine => (mine, theirs),
            Side::Theirs => (theirs, mine),
        };
        self.settle(answer, value(gone, SAME_AS, json!(kept)));
        Some(kept)
    }

    /// The latest values of a field on our and their side, if the sides set it apart and disagree.
    pub(super) fn apart(&self, member: &str, cell: &Cell) -> Option<[Tip; 2]> {
        if cell.tips.len() < 2 {
            return None;
        }
        let latest = |other| {
            let mut tips = cell.tips.iter().rev();
            tips.find(|tip| self.only(tip.source) != Some(other))
        };
        let (mine, theirs) = (latest(Side::Theirs)?, latest(Side::Mine)?);
        let differ = mine.source != theirs.source && !agree(member, &mine.value, &theirs.value);
        differ.then(|| [mine.clone(), theirs.clone()])
    }

    /// Asks about things that one side decided to keep and the other to leave removed, each in a merge that knew
    /// of the removal. Returns these things.
    fn decided_apart(&mut self) -> BTreeSet<Thing> {
        let things = self.sheet.things.iter();
        let things = things.filter(|(thing, _)| self.sheet.was_born(**thing));
        let apart = things.filter_map(|(&thing, members)| {
            let tips = self.apart(EXISTS, members.get(EXISTS)?)?;
            Some((thing, tips))
        });
        let apart: Vec<(Thing, [Tip; 2])> = apart.collect();
        for (thing, tips) in &apart {
            let [mine, theirs] = [0, 1].map(|side: usize| Claim {
                is_end: tips[side].value == json!(false),
                ..self.claim([tips[side].source])
            });
            if let Some(answer) = self.ask(Subject::Removed(*thing), mine, theirs) {
                let tip = match answer {
                    Side::Mine => &tips[0],
                    Side::Theirs => &tips[1],
                };
                self.settle(answer, value(*thing, EXISTS, tip.value.clone()));
            }
        }
        apart.into_iter().map(|(thing, _)| thing).collect()
    }

    /// Asks about things that one side removed and the other changed. A rejoined split card is gone
    /// without a question.
    pub(super) fn removed(&mut self) {
        let asked = self.decided_apart();
        let rejoined = self.fold.rejoined(&self.sheet);
        let gone = self.sheet.gone();
        let gone =
            gone.filter(|(thing, _)| !rejoined.contains_key(thing) && !asked.contains(thing));
        let gone: BTreeMap<Thing, Source> = gone.collect();
        for (thing, facts) in self.used_apart(&gone) {
            let Some(&by) = gone.get(&thing) else {
                continue;
            };
            if let Some((answer, ends)) = self.ask_end(Subject::Removed(thing), by, &facts) {
                self.settle(answer, value(thing, EXISTS, json!(!ends)));
            }
        }
    }

    /// Asks about fields that both sides changed differently.
    pub(super) fn fields(&mut self) {
        self.fields_of(|thing| !matches!(thing, Thing::Event(_)));
    }

    fn fields_of(&mut self, of: impl Fn(Thing) -> bool) {
        type Pair = (Thing, Source, Source);
        let mut asked: BTreeMap<Pair, Vec<(String, [Tip; 2])>> = BTreeMap::new();
        for (&thing, members) in &self.sheet.things {
            let counts = matches!(thing, Thing::Event(_) | Thing::Stash) || self.sheet.has(thing);
            if !of(thing) || !counts {
                continue;
            }
            for (member, cell) in members {
                let silent = [EXISTS, SAME_AS, UNDERWAY, STEPS_DONE].contains(&member.as_str())
                    || [OUT, PURCHASE, MATCH]
                        .iter()
                        .any(|of| member.starts_with(of))
                    || is_amount(member);
                if silent {
                    continue;
                }
                if let Some([mine, theirs]) = self.apart(member, cell) {
                    let pair = (thing, mine.source, theirs.source);
                    asked
                        .entry(pair)
                        .or_default()
                        .push((member.clone(), [mine, theirs]));
                }
            }
        }
        // In the same order on both sides.
        let mut asked: Vec<_> = asked.into_iter().collect();
        asked.sort_by_key(|&((thing, a, b), _)| (thing, a.min(b), a.max(b)));
        for ((thing, mine, theirs), fields) in asked {
            let names = fields.iter().map(|(member, _)| member.clone()).collect();
            let mut claims = [mine, theirs].map(|source| self.claim([source]));
            for (_, tips) in &fields {
                for (claim, tip) in claims.iter_mut().zip(tips) {
                    claim.values.push(tip.value.clone());
                }
            }
            let [left, right] = claims;
            let Some(answer) = self.ask(Subject::Fields(thing, names), left, right) else {
                continue;
            };
            for (member, [mine, theirs]) in fields {
                let tip = match answer {
                    Side::Mine => mine,
                    Side::Theirs => theirs,
                };
                self.settle(answer, value(thing, &member, tip.value));
            }
        }
    }

    /// Asks about hooks with more cards than they take.
    pub(super) fn full_hooks(&mut self) {
        let homes: BTreeMap<HookRef, Vec<CardId>> = (self.state.index().homes())
            .filter(|(hook, cards)| cards.len() > usize::from(self.state.capacity(*hook)))
            .map(|(hook, cards)| (hook, cards.to_vec()))
            .collect();
        for (hook, cards) in homes {
            let room = usize::from(self.state.capacity(hook));
            let mut cards: Vec<(Source, CardId)> = (cards.into_iter())
                .map(|id| (self.source(Thing::Card(id), "home"), id))
                .collect();
            // The earlier cards stay, unless answered otherwise.
            cards.sort_unstable();
            let [mine, theirs] = [Side::Mine, Side::Theirs].map(|side| {
                let of = |side| -> Vec<(Source, CardId)> {
                    let on = cards.iter().copied();
                    on.filter(|(source, _)| self.only(*source) == side)
                        .collect()
                };
                let own = of(Some(side));
                if !own.is_empty() {
                    return self.speaking_for(own);
                }
                // That side made less room, and its claim is for the cards that both sides had
                // there.
                Claim {
                    cards: of(None).into_iter().map(|(_, card)| card).collect(),
                    ..self.claim(self.room_made(hook, side))
                }
            });
            if !mine.events.is_empty() && !theirs.events.is_empty() {
                let Some(answer) = self.ask(Subject::FullHook(hook), mine, theirs) else {
                    continue;
                };
                cards.sort_by_key(|&(source, _)| match self.only(source) {
                    Some(side) if side == answer => 0,
                    None => 1,
                    Some(_) => 2,
                });
                // Confirms each card that stays, so that nobody asks again.
                for &(_, card) in &cards[..room] {
                    self.settle(answer, value(Thing::Card(card), "home", json!(hook)));
                }
            }
            for (_, card) in cards.split_off(room) {
                self.settled
                    .push(value(Thing::Card(card), "home", Value::Null));
                let hung = self.state.card(card).map(|kept| &kept.place);
                if let Some(place) = hung.filter(|place| place.at.hook() == Some(hook)) {
                    let place = to_hang(place);
                    self.settled.push(value(Thing::Card(card), "place", place));
                }
            }
        }
    }

    /// The event in which only one side changed how many cards a hook takes.
    fn room_made(&self, hook: HookRef, side: Side) -> Option<Source> {
        let own = hook_member(hook);
        let members = [own.as_str(), "cards_per_hook", "rows", "columns"].into_iter();
        let sources = members.map(|member| self.source(Thing::Board(hook.board), member));
        sources
            .filter(|source| self.only(*source) == Some(side))
            .max()
    }

    /// Asks about two cards in the hand, which holds one.
    pub(super) fn hand(&mut self) {
        let held = self
            .state
            .cards()
            .filter(|kept| kept.place.at == Whereabouts::Hand);
        let mut held: Vec<(Source, CardId)> = held
            .map(|kept| {
                (
                    self.source(Thing::Card(kept.card.id), "place"),
                    kept.card.id,
                )
            })
            .collect();
        if held.len() < 2 {
            return;
        }
        held.sort_unstable();
        let [mine, theirs] = [Side::Mine, Side::Theirs].map(|side| {
            let on = held
                .iter()
                .filter(|(source, _)| self.only(*source) == Some(side));
            self.speaking_for(on.copied())
        });
        if !mine.cards.is_empty() && !theirs.cards.is_empty() {
            let Some(answer) = self.ask(Subject::Hand, mine, theirs) else {
                return;
            };
            held.sort_by_key(|&(source, _)| self.only(source) == Some(answer));
        }
        held.pop();
        for (_, card) in held {
            if let Some(kept) = self.state.card(card) {
                let place = to_hang(&kept.place);
                self.settled.push(value(Thing::Card(card), "place", place));
            }
        }
    }

    /// Asks about closed rings with cards on them.
    pub(super) fn closed_rings(&mut self) {
        let closed = self.state.rings().filter(|ring| ring.is_closed());
        for ring in closed.map(|ring| ring.id).collect::<Vec<_>>() {
            let cards = self
                .state
                .cards()
                .filter(|kept| kept.place.at.ring() == Some(ring));
            let cards: Vec<(Source, CardId)> = cards
                .map(|kept| {
                    (
                        self.source(Thing::Card(kept.card.id), "place"),
                        kept.card.id,
                    )
                })
                .collect();
            let (thing, Some(last)) = (Thing::Ring(ring), cards.iter().map(|of| of.0).max()) else {
                continue;
            };
            let closing = self.source(thing, "state");
            let Some([(mine, ()), _]) = self.sides((closing, ()), (last, ())) else {
                continue;
            };
            let end = Claim {
                is_end: true,
                ..self.claim([closing])
            };
            let taking = self.speaking_for(cards);
            let closed_here = mine == closing;
            let (left, right) = if closed_here {
                (end, taking)
            } else {
                (taking, end)
            };
            let Some(answer) = self.ask(Subject::ClosedRing(ring), left, right) else {
                continue;
            };
            let stays_closed = (answer == Side::Mine) == closed_here;
            let state = match stays_closed {
                true => self.sheet.value(thing, "state").clone(),
                false => json!({"state": "live"}),
            };
            self.settle(answer, value(thing, "state", state));
        }
    }

    /// A claim for cards, with the events that put them there.
    fn speaking_for(&self, cards: impl IntoIterator<Item = (Source, CardId)>) -> Claim {
        let (sources, cards): (Vec<Source>, Vec<CardId>) = cards.into_iter().unzip();
        Claim {
            cards,
            ..self.claim(sources)
        }
    }
}
