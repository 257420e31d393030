//! The questions of a merge, and what was settled by one, in words.

use serde_json::Value;

use crate::language::{one_or_many, say, word};
use crate::model::board::HookRef;
use crate::model::ids::CardId;
use crate::model::whereabouts::Place;
use crate::stash::event::{Deed, Fact, Thing};
use crate::stash::merge::{Claim, Subject};
use crate::stash::names::list;
use crate::stash::state::State;
use crate::stash::words::act_in_words;

/// What an event of another copy did, as a sentence without its full stop. Names are looked up in `state`,
/// events in `find`.
pub fn deed<'a>(
    state: &State,
    fact: &Fact,
    find: impl Fn(crate::model::ids::EventId) -> Option<&'a Fact>,
) -> String {
    let of = |id| match find(id).map(|fact| &fact.deed) {
        Some(Deed::Did(event)) => act_in_words(state, &event.act),
        _ => word!("an earlier change").to_owned(),
    };
    match &fact.deed {
        Deed::Did(event) => act_in_words(state, &event.act),
        Deed::Undid(id) => say!("Undid: {what}", what = of(*id)),
        Deed::Redid(id) => say!("Did again: {what}", what = of(*id)),
        Deed::Settled(settled) => {
            let count = settled.len();
            let word = one_or_many!(count, "value", "values");
            say!("Merged two copies: {count} {word} settled", count, word)
        }
    }
}

fn card(state: &State, id: CardId) -> Option<String> {
    let name = state.card_name(state.card(id)?);
    Some(say!("card {name}", name))
}

/// What a thing is called, by the first state that knows it.
fn thing(states: [&State; 2], of: Thing) -> String {
    let named = |state: &State| match of {
        Thing::Range(id) => {
            let range = state.range(id)?;
            Some(say!("the range '{name}'", name = range.name))
        }
        Thing::Family(id) => {
            let family = state.family(id)?;
            Some(say!("the family '{name}'", name = family.name))
        }
        Thing::Board(id) => {
            let board = state.board(id)?;
            Some(say!("the board '{name}'", name = board.name))
        }
        Thing::Card(id) => card(state, id),
        Thing::Ring(id) => {
            let ring = state.ring(id)?;
            Some(say!("the project '{name}'", name = ring.project))
        }
        Thing::Event(_) => Some(word!("a change").to_owned()),
        Thing::Stash => Some(word!("the wall").to_owned()),
    };
    let name = states.into_iter().find_map(named);
    name.unwrap_or_else(|| word!("something that is gone").to_owned())
}

/// What a field is called.
fn member(name: &str) -> String {
    let (list, entry) = name.split_once('/').unwrap_or((name, ""));
    let word = match list {
        "place" => word!("where it is"),
        "home" => word!("home"),
        "key" => word!("chart key"),
        "used" => word!("thread used"),
        "fabric" => word!("fabric"),
        "families" => word!("order of families"),
        "order" => word!("order"),
        "touch" => word!("what a re-hang may do with it"),
        "cut_cm" => word!("length of a cut"),
        "shades" => return say!("colour {entry}", entry),
        "special" => word!("a hook"),
        "stands" => word!("whether it counts"),
        "places" => word!("cards per hook"),
        other => other,
    };
    word.replace('_', " ")
}

/// A value of a field, for a person.
pub fn value(states: [&State; 2], name: &str, value: &Value) -> String {
    let hook = |hook: HookRef| {
        let known = states
            .into_iter()
            .find(|state| state.board(hook.board).is_some());
        known.map_or_else(|| hook.to_string(), |state| state.mark(hook))
    };
    match (name, value) {
        (_, Value::Null) => word!("none").to_owned(),
        ("home", Value::String(text)) => text.parse().map_or_else(|_| text.clone(), hook),
        ("place", value) => {
            let place: Option<Place> = serde_json::from_value(value.clone()).ok();
            let of = |state: &State| {
                let mut kept = state.cards().next()?.clone();
                (kept.home, kept.card.parent) = (None, None);
                kept.place = place.clone()?;
                let known = kept
                    .place
                    .at
                    .ring()
                    .is_none_or(|ring| state.ring(ring).is_some());
                known.then(|| state.place_in_words(&kept))
            };
            states.into_iter().find_map(of).unwrap_or_default()
        }
        ("key", Value::Array(lines)) => {
            let count = lines.len();
            let word = one_or_many!(count, "line", "lines");
            say!("{count} {word}", count, word)
        }
        ("families", Value::Array(ids)) => {
            let name = |id: &Value| {
                let id = serde_json::from_value(id.clone()).ok()?;
                let family = states.into_iter().find_map(|state| state.family(id));
                family.map(|family| family.name.to_string())
            };
            list(ids.iter().filter_map(name))
        }
        ("family", Value::Object(family)) => {
            let id = family.values().next().cloned().unwrap_or_default();
            let id = serde_json::from_value(id).ok();
            let family = id.and_then(|id| states.into_iter().find_map(|state| state.family(id)));
            family.map_or_else(String::new, |family| family.name.to_string())
        }
        ("state", Value::Object(state)) => {
            let state = state.get("state").and_then(Value::as_str);
            match state {
                Some("closed") => word!("closed").to_owned(),
                Some("parked") => word!("hanging on a hook").to_owned(),
                _ => word!("open").to_owned(),
            }
        }
        ("stands", Value::Bool(true)) => word!("it counts").to_owned(),
        ("stands", Value::Bool(false)) => word!("undone").to_owned(),
        (_, Value::String(text)) => format!("'{text}'"),
        (_, Value::Number(number)) => number.to_string(),
        (_, other) => other.to_string(),
    }
}

/// What a field of a thing is called: `where card 1 is`, `the note of card 1`.
pub fn field(states: [&State; 2], of: Thing, name: &str) -> String {
    if (of, name) == (Thing::Stash, "order") {
        return word!("what the wall is ordered by").to_owned();
    }
    let of = thing(states, of);
    match name {
        "place" => say!("where {of} is", of),
        _ => say!("{of}: {member}", of, member = member(name)),
    }
}

/// What a question is about.
pub fn about(states: [&State; 2], subject: &Subject) -> String {
    match subject {
        Subject::SameList => {
            word!("The same list was imported on both sides; it counts once").to_owned()
        }
        Subject::Undone(_) => word!("Undone on one side, used on the other").to_owned(),
        Subject::Same(of, _) => {
            say!(
                "{of} came to be on both sides; one stays",
                of = thing(states, *of)
            )
        }
        Subject::Removed(of) => {
            say!(
                "{of}: removed on one side, changed on the other",
                of = thing(states, *of)
            )
        }
        Subject::Fields(of, members) if members.len() == 1 => field(states, *of, &members[0]),
        Subject::Fields(of, members) => {
            let members = members.iter().map(|name| member(name));
            say!(
                "{of}: {members}",
                of = thing(states, *of),
                members = list(members)
            )
        }
        Subject::FullHook(hook) => {
            let known = states
                .into_iter()
                .find(|state| state.board(hook.board).is_some());
            let mark = known.map_or_else(|| hook.to_string(), |state| state.mark(*hook));
            say!("hook {mark} has too many cards", mark)
        }
        Subject::Hand => word!("a card in the hand on both sides").to_owned(),
        Subject::ClosedRing(ring) => {
            say!(
                "{of}: closed, with cards on it",
                of = thing(states, Thing::Ring(*ring))
            )
        }
    }
}

/// What tells one thing from another of the same name.
fn describe(states: [&State; 2], of: Thing) -> Option<String> {
    let described = |state: &State| match of {
        Thing::Card(id) => {
            let kept = state.card(id)?;
            let thread = state.put_up(&kept.card).show(kept.strands());
            let place = state.place_in_words(kept);
            Some(say!(
                "the one with {thread} lengths, {place}",
                thread,
                place
            ))
        }
        Thing::Ring(id) => {
            let ring = state.ring(id)?;
            let lines = ring.key.len();
            let cards = state.cards_on(ring).count();
            let words = one_or_many!(lines, "line", "lines");
            let on = one_or_many!(cards, "card", "cards");
            Some(say!(
                "the one with {lines} {words} in its chart key and {cards} {on} on it",
                lines,
                words,
                cards,
                on
            ))
        }
        _ => None,
    };
    states.into_iter().find_map(described)
}

/// What one side says to a question.
pub fn claim(states: [&State; 2], subject: &Subject, of: &Claim) -> String {
    let cards = || {
        let named = of.cards.iter().filter_map(|&id| {
            let known = states.into_iter().find(|state| state.card(id).is_some())?;
            Some(known.card_name(known.card(id)?))
        });
        list(named)
    };
    match subject {
        Subject::SameList => word!("count this one").to_owned(),
        Subject::Undone(_) if of.is_end => word!("undone").to_owned(),
        Subject::Undone(_) => word!("it counts").to_owned(),
        Subject::Same(..) => {
            let described = of.thing.and_then(|thing| describe(states, thing));
            described.unwrap_or_else(|| word!("keep this one").to_owned())
        }
        Subject::Removed(_) if of.is_end => word!("removed").to_owned(),
        Subject::Removed(_) => word!("it stays").to_owned(),
        Subject::Fields(_, members) => {
            let values = members.iter().zip(&of.values);
            list(values.map(|(name, of)| value(states, name, of)))
        }
        Subject::FullHook(_) if of.cards.is_empty() => word!("room for fewer cards").to_owned(),
        Subject::FullHook(_) => say!("keep {cards} on it", cards = cards()),
        Subject::Hand => cards(),
        Subject::ClosedRing(_) if of.is_end => word!("closed").to_owned(),
        Subject::ClosedRing(_) => {
            say!("open, with {cards} on it", cards = cards())
        }
    }
}
