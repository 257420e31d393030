//! The questions of a merge, their answers, and why two copies can't be merged.

use serde::de::DeserializeOwned;
use serde_json::Value;

use super::faults::{apply_error, violation};
use super::{history, list, one_or_many, places, thread};
use crate::model::board::{HookRef, HookSpec};
use crate::model::card::MoveCost;
use crate::model::ids::{CardId, EventId};
use crate::model::range::Shade;
use crate::model::ring::KeyLine;
use crate::model::whereabouts::Place;
use crate::stash::event::{Deed, Fact, Thing};
use crate::stash::merge::{MergeError, Question, Side, Subject};
use crate::stash::state::State;

/// The most lines of a chart key that a question names.
const MOST_LINES: usize = 5;

/// The effect of another copy's event, as a sentence without its full stop. Names are looked up in
/// `state`, events in `find`.
#[must_use]
pub(crate) fn deed<'a>(
    state: &State,
    fact: &Fact,
    find: impl Fn(EventId) -> Option<&'a Fact>,
) -> String {
    let of = |id| match find(id).map(|fact| &fact.deed) {
        Some(Deed::Did(event)) => history::act(state, &event.act),
        _ => "an earlier change".to_owned(),
    };
    match &fact.deed {
        Deed::Did(event) => history::act(state, &event.act),
        Deed::Undid(id) => format!("Undid: {what}", what = of(*id)),
        Deed::Redid(id) => format!("Redid: {what}", what = of(*id)),
        Deed::Settled(settled) => {
            let count = settled.len();
            let word = one_or_many(count, "value", "values");
            format!("Merged two copies: {count} {word} settled")
        }
    }
}

fn card(state: &State, id: CardId) -> Option<String> {
    let name = state.card_name(state.card(id)?);
    Some(format!("card {name}"))
}

/// The name of a thing in the first state that knows it.
fn thing(states: [&State; 2], of: Thing) -> String {
    let named = |state: &State| match of {
        Thing::Range(id) => {
            let range = state.range(id)?;
            Some(format!("the range '{name}'", name = range.name))
        }
        Thing::Family(id) => {
            let family = state.family(id)?;
            Some(format!("the family '{name}'", name = family.name))
        }
        Thing::Board(id) => {
            let board = state.board(id)?;
            Some(format!("the board '{name}'", name = board.name))
        }
        Thing::Card(id) => card(state, id),
        Thing::Ring(id) => {
            let ring = state.ring(id)?;
            Some(format!("the project '{name}'", name = ring.project))
        }
        Thing::Event(_) => Some("a change".to_owned()),
        Thing::Stash => Some("the wall".to_owned()),
    };
    let name = states.into_iter().find_map(named);
    name.unwrap_or_else(|| "something that is gone".to_owned())
}

/// The name of a field.
fn member(name: &str) -> String {
    let (list, entry) = name.split_once('/').unwrap_or((name, ""));
    let word = match list {
        "place" => "where it is",
        "home" => "home",
        "key" => "chart key",
        "used" => "thread used",
        "fabric" => "fabric",
        "families" => "order of families",
        "order" => "order",
        "touch" => "what a re-hang may do with it",
        "cut_cm" => "length of a cut",
        "matches" => "a match of two colours",
        "shades" => return format!("colour {entry}"),
        "special" => "a hook",
        "put_up" => "how its thread is sold",
        "stands" => "whether it counts",
        "cards_per_hook" => "cards per hook",
        other => other,
    };
    word.replace('_', " ")
}

/// The name of a hook in the first state that knows its board.
fn hook_name(states: [&State; 2], hook: HookRef) -> String {
    let known = states
        .into_iter()
        .find(|state| state.board(hook.board).is_some());
    known.map_or_else(|| hook.to_string(), |state| state.hook_name(hook))
}

/// A field's value in words.
#[must_use]
pub(crate) fn value(states: [&State; 2], name: &str, value: &Value) -> String {
    let hook = |hook| hook_name(states, hook);
    match (name, value) {
        (_, Value::Null) => "none".to_owned(),
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
                known.then(|| places::place_of(state, &kept))
            };
            states.into_iter().find_map(of).unwrap_or_default()
        }
        ("key", of) => key(of, None),
        ("parent", of) => {
            let id = read(of);
            let named = id.and_then(|id| states.into_iter().find_map(|state| card(state, id)));
            named.unwrap_or_default()
        }
        ("range", of) => {
            let id = read(of);
            let range = id.and_then(|id| states.into_iter().find_map(|state| state.range(id)));
            range.map_or_else(String::new, |range| format!("'{}'", range.name))
        }
        ("put_up", of) => read(of).map_or_else(String::new, thread::put_up),
        ("fabric", of) => read(of).map_or_else(String::new, |of| thread::assumptions(&of)),
        ("touch", of) => match read(of) {
            None | Some(MoveCost::Plain) => "moves like any other".to_owned(),
            Some(MoveCost::Costly(effort)) => format!("effort {}", effort.get()),
            Some(MoveCost::Held) => "held".to_owned(),
        },
        (name, of) if name.starts_with("special/") => read(of).map_or_else(String::new, hook_spec),
        (name, of) if name.starts_with("shades/") => read(of).map_or_else(String::new, shade),
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
                Some("closed") => "closed".to_owned(),
                Some("hanging") => "hanging on a hook".to_owned(),
                _ => "open".to_owned(),
            }
        }
        ("stands", Value::Bool(true)) => "it counts".to_owned(),
        ("stands", Value::Bool(false)) => "undone".to_owned(),
        (_, Value::String(text)) => format!("'{text}'"),
        (_, Value::Number(number)) => number.to_string(),
        (_, Value::Bool(yes)) => if *yes { "yes" } else { "no" }.to_owned(),
        (_, Value::Array(_) | Value::Object(_)) => "as it is there".to_owned(),
    }
}

/// A field's value, if it has the form that this version knows.
fn read<T: DeserializeOwned>(of: &Value) -> Option<T> {
    T::deserialize(of).ok()
}

/// A chart key, with the lines that the other side's key lacks: `12 lines, here alone: X 701: 340 full`.
fn key(of: &Value, other: Option<&Value>) -> String {
    let lines: Vec<KeyLine> = read(of).unwrap_or_default();
    let theirs: Vec<KeyLine> = other.and_then(read).unwrap_or_default();
    let count = lines.len();
    let all = format!("{count} {word}", word = one_or_many(count, "line", "lines"));
    let alone = lines.iter().filter(|line| !theirs.contains(line));
    let alone = alone.map(|line| {
        let (symbol, content) = (&line.symbol, thread::line_in_brief(line));
        let content = match symbol.is_empty() {
            true => content,
            false => format!("{symbol} {content}"),
        };
        match thread::stitches(line) {
            stitches if stitches.is_empty() => content,
            stitches => format!("{content}: {stitches}"),
        }
    });
    let mut alone: Vec<String> = alone.collect();
    if other.is_none() || alone.is_empty() {
        return all;
    }
    let more = alone.len().saturating_sub(MOST_LINES);
    alone.truncate(MOST_LINES);
    alone.extend((more > 0).then(|| format!("{more} more")));
    format!("{all}, here alone: {alone}", alone = alone.join("; "))
}

/// What differs about a hook: `2 cards, blocked (lamp), reserved`.
fn hook_spec(spec: HookSpec) -> String {
    let cards = spec.cards_per_hook.map(|count| {
        let word = one_or_many(count, "card", "cards");
        format!("{count} {word}")
    });
    let blocked = spec.blocked.map(|why| match why.is_empty() {
        true => "blocked".to_owned(),
        false => format!("blocked ({why})"),
    });
    let reserved = spec.reserved.then(|| "reserved".to_owned());
    let parts: Vec<String> = [cards, blocked, reserved].into_iter().flatten().collect();
    match parts.is_empty() {
        true => "like the others".to_owned(),
        false => parts.join(", "),
    }
}

/// What a range list knows of a colour: `'coal', #303030, discontinued, 2 skeins wanted`.
fn shade(shade: Shade) -> String {
    let name = (!shade.name.is_empty()).then(|| format!("'{}'", shade.name));
    let colour = shade.colour.map(|colour| colour.to_string());
    let variegated = shade.variegated.then(|| "variegated".to_owned());
    let discontinued = shade.discontinued.then(|| "discontinued".to_owned());
    let wanted = (shade.wanted > 0).then(|| format!("{} wanted", thread::skeins(shade.wanted)));
    let parts = [name, colour, variegated, discontinued, wanted];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    match parts.is_empty() {
        true => "on the list".to_owned(),
        false => parts.join(", "),
    }
}

/// The name of a thing's field: `where card 1 is`, `the note of card 1`.
#[must_use]
pub(crate) fn field(states: [&State; 2], of: Thing, name: &str) -> String {
    if (of, name) == (Thing::Stash, "order") {
        return "what the wall is ordered by".to_owned();
    }
    if let (Thing::Board(board), Some(at)) = (of, name.strip_prefix("special/"))
        && let Ok(hook) = format!("{board}/{at}").parse()
    {
        return format!("hook {name}", name = hook_name(states, hook));
    }
    let of = thing(states, of);
    match name {
        "place" => format!("where {of} is"),
        _ => format!("{of}: {member}", member = member(name)),
    }
}

/// The subject of a question.
#[must_use]
pub(crate) fn about(states: [&State; 2], subject: &Subject) -> String {
    match subject {
        Subject::SameList => "The same list was imported on both sides; it counts once".to_owned(),
        Subject::Undone(_) => "Undone on one side, used on the other".to_owned(),
        Subject::Same(of, _) => {
            format!(
                "{of} came to be on both sides; one stays",
                of = thing(states, *of)
            )
        }
        Subject::Removed(of) => {
            format!(
                "{of}: removed on one side, changed on the other",
                of = thing(states, *of)
            )
        }
        Subject::Fields(of, members) if members.len() == 1 => field(states, *of, &members[0]),
        Subject::Fields(of, members) => {
            let members = members.iter().map(|name| member(name));
            format!(
                "{of}: {members}",
                of = thing(states, *of),
                members = list(members)
            )
        }
        Subject::FullHook(hook) => format!(
            "hook {name} has too many cards",
            name = hook_name(states, *hook)
        ),
        Subject::Hand => "a card in the hand on both sides".to_owned(),
        Subject::ClosedRing(ring) => {
            format!(
                "{of}: closed, with cards on it",
                of = thing(states, Thing::Ring(*ring))
            )
        }
    }
}

/// Details that distinguish a thing from another of the same name.
fn describe(states: [&State; 2], of: Thing) -> Option<String> {
    let described = |state: &State| match of {
        Thing::Card(id) => {
            let kept = state.card(id)?;
            let thread = state.put_up(&kept.card).show(kept.strands());
            let place = places::place_of(state, kept);
            Some(format!("the one with {thread} lengths, {place}"))
        }
        Thing::Ring(id) => {
            let ring = state.ring(id)?;
            let lines = ring.key.len();
            let cards = state.cards_on(ring).count();
            let words = one_or_many(lines, "line", "lines");
            let on = one_or_many(cards, "card", "cards");
            Some(format!(
                "the one with {lines} {words} in its chart key and {cards} {on} on it"
            ))
        }
        _ => None,
    };
    states.into_iter().find_map(described)
}

/// One side's answer to a question.
#[must_use]
pub(crate) fn claim(states: [&State; 2], question: &Question, side: Side) -> String {
    let (of, other) = (question.claim(side), question.claim(side.other()));
    let cards = || {
        let named = of.cards.iter().filter_map(|&id| {
            let known = states.into_iter().find(|state| state.card(id).is_some())?;
            Some(known.card_name(known.card(id)?))
        });
        list(named)
    };
    match &question.subject {
        Subject::SameList => "count this one".to_owned(),
        Subject::Undone(_) if of.is_end => "undone".to_owned(),
        Subject::Undone(_) => "it counts".to_owned(),
        Subject::Same(..) => {
            let described = of.thing.and_then(|thing| describe(states, thing));
            described.unwrap_or_else(|| "keep this one".to_owned())
        }
        Subject::Removed(_) if of.is_end => "removed".to_owned(),
        Subject::Removed(_) => "it stays".to_owned(),
        Subject::Fields(_, members) => {
            let values = members.iter().zip(of.values.iter().zip(&other.values));
            list(values.map(|(name, (of, other))| match name.as_str() {
                "key" => key(of, Some(other)),
                _ => value(states, name, of),
            }))
        }
        Subject::FullHook(_) if of.cards.is_empty() => "room for fewer cards".to_owned(),
        Subject::FullHook(_) => format!("keep {cards} on it", cards = cards()),
        Subject::Hand => cards(),
        Subject::ClosedRing(_) if of.is_end => "closed".to_owned(),
        Subject::ClosedRing(_) => {
            format!("open, with {cards} on it", cards = cards())
        }
    }
}

/// Why two copies of a stash can't be merged, in sentences.
#[must_use]
pub(crate) fn merge_error(error: &MergeError) -> String {
    match error {
        MergeError::Strangers => "Can't merge two different stashes. Export a card list there and \
             import it here."
            .to_owned(),
        MergeError::Empty => "The other copy is empty. Is it still being copied?".to_owned(),
        MergeError::OutOfOrder(event) => format!(
            "Event {event} of the other copy is out of order. That copy was changed by hand or damaged."
        ),
        MergeError::TooManyCopies => "The other copy says that hundreds of computers worked on it \
             apart. It was changed by hand or damaged."
            .to_owned(),
        MergeError::Altered(event) => format!(
            "Event {event} reads differently in the two copies. One of them was changed by hand or \
             damaged."
        ),
        MergeError::Ahead(clock) => format!(
            "The other copy was written on a computer whose clock is years ahead ({clock}). Set that \
             clock right, and don't merge this copy."
        ),
        MergeError::ApplyError { whose, seq, misfit } => {
            let whose = match whose {
                Side::Mine => "this",
                Side::Theirs => "the other",
            };
            format!(
                "Change {seq} of {whose} record doesn't fit ({why}). Run: homehook check",
                why = apply_error(misfit)
            )
        }
        MergeError::Unreadable(why) => format!(
            "The two copies can't be merged. An event of the other copy can't be read ({why})."
        ),
        MergeError::Apart(broken) => format!(
            "The two copies don't go together: {why}. Change that in one of them first, or answer \
             differently if something was asked.",
            why = violation(broken)
        ),
        MergeError::Unfit(why) => {
            format!(
                "The two copies can't be merged: {why}",
                why = apply_error(why)
            )
        }
    }
}
