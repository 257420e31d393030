//! `homehook ring pull`: the walk that fetches a project's kit, and the order of its ring.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{change, open};
use crate::exchange::export::{AmountOut, CardOut, NotionOut};
use crate::model::ids::CardId;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, Ring};
use crate::stash::command::ring;
use crate::stash::event::Act;
use crate::stash::projects::kit::{check, rings_named};
use crate::stash::projects::pull::{Pull, Splitting, pull};
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::text::export;
use crate::text::one_or_many;

/// Which kit to fetch.
#[derive(Debug, Args)]
pub(crate) struct PullArgs {
    /// The project.
    pub project: String,
    /// All cards of the walk are on the ring now.
    #[arg(long)]
    pub take: bool,
}

/// What a project has to fetch.
fn of<'a>(state: &'a State, project: &str) -> Result<(&'a Ring, Pull), Refusal> {
    let rings = rings_named(state, &[project.to_owned()])?;
    let kit = check(state, &rings);
    let found = kit.projects.first().map(|kit| (kit.ring, pull(state, kit)));
    found.ok_or(Refusal::NoKeys)
}

/// Prints the walk, or takes all of it and prints what is left.
pub(crate) fn run(args: &PullArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !args.take {
        let reading = open::reading(dir, output)?;
        let state = reading.state();
        let (ring, pull) = of(state, &args.project)?;
        return tell(state, ring, &pull, 0, output);
    }
    let changed = change::make(dir, output, |state: &State, now: Timestamp| {
        let (ring, pull) = of(state, &args.project)?;
        if pull.take.is_empty() {
            return Err(Refusal::NothingToFetch(ring.project.to_string()));
        }
        ring::take(state, ring.project.as_str(), &pull.take, now)
    })?;
    let taken = match changed.event.act {
        Act::Take { cards, .. } => cards,
        _ => 0,
    };
    let state = changed.state();
    let (ring, pull) = of(state, &args.project)?;
    tell(state, ring, &pull, taken, output)
}

/// What to fetch for a project.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct PullAnswer<'a> {
    /// The project.
    project: &'a str,
    /// How many cards were taken to the ring just now.
    taken: u32,
    /// The cards to take from the wall, along it.
    walk: Vec<CardOut>,
    /// The cards on other rings to split thread from.
    split: Vec<SplitOut>,
    /// The cards kept elsewhere, to be fetched first.
    fetch: Vec<CardOut>,
    /// The cards that are missing.
    missing: Vec<CardOut>,
    /// The order of the ring.
    order: Vec<PlaceOut>,
    /// What is sewn on besides the thread.
    notions: Vec<NotionOut>,
}

/// A card to split thread from.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct SplitOut {
    /// The card.
    #[serde(flatten)]
    card: CardOut,
    /// The project of the ring it is on.
    ring: String,
    /// How much; `null` where the key does not say.
    amount: Option<AmountOut>,
}

/// A place of the ring, in the order of the key.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct PlaceOut {
    /// The symbol; may be empty.
    symbol: String,
    /// The range's name.
    range: String,
    /// The number.
    number: String,
    /// Whether a card of the colour is on the ring.
    on_ring: bool,
}

fn tell(
    state: &State,
    ring: &Ring,
    pull: &Pull,
    taken: u32,
    output: &mut Output,
) -> Result<(), Failure> {
    if output.is_json() {
        return answer(state, ring, pull, taken, output);
    }
    if taken > 0 {
        let word = one_or_many(taken, "card", "cards");
        output.line(format!(
            "Took {taken} {word} to {project}.",
            project = ring.project
        ))?;
    }
    tell_cards(state, ring, pull, output)?;
    if *pull == Pull::default() && taken == 0 {
        output.line(format!(
            "There is nothing to fetch for {project}.",
            project = ring.project
        ))?;
    }
    tell_key(state, ring, output)
}

fn answer(
    state: &State,
    ring: &Ring,
    pull: &Pull,
    taken: u32,
    output: &mut Output,
) -> Result<(), Failure> {
    let cards = |ids: &[CardId]| -> Vec<CardOut> {
        let known = ids.iter().filter_map(|&id| state.card(id));
        known.map(|kept| CardOut::of(export(state), kept)).collect()
    };
    let split = pull.split.iter().filter_map(|of| split_out(state, of));
    output.object(&PullAnswer {
        project: ring.project.as_str(),
        taken,
        walk: cards(&pull.take),
        split: split.collect(),
        fetch: cards(&pull.fetch),
        missing: cards(&pull.missing),
        order: order(ring)
            .into_iter()
            .map(|(line, thread)| place_out(state, ring, line, thread))
            .collect(),
        notions: ring.key.iter().filter_map(NotionOut::of).collect(),
    })?;
    Ok(())
}

/// What is to be fetched, and from where.
fn tell_cards(state: &State, ring: &Ring, pull: &Pull, output: &mut Output) -> Result<(), Failure> {
    let card = |id: CardId| {
        state.card(id).map_or_else(String::new, |kept| {
            format!("{}  {}", state.card_name(kept), kept.card.name)
        })
    };
    if !pull.take.is_empty() {
        output.line(format!(
            "To fetch for {project}, along the wall:",
            project = ring.project
        ))?;
        for &id in &pull.take {
            let hook = state.card(id).and_then(|kept| kept.place.at.hook());
            let hook = hook.map_or_else(|| "tray".to_owned(), |hook| state.hook_name(hook));
            output.line(format_args!("  [ ] {hook:<5} {}", card(id)))?;
        }
    }
    if !pull.split.is_empty() {
        output.line("From other rings, onto a split card (ring split):")?;
        let put_up = |card| {
            let kept = state.card(card);
            kept.map_or_else(PutUp::default, |kept| state.put_up(&kept.card))
        };
        for of in &pull.split {
            let amount = of.strands.map_or_else(
                || "some".to_owned(),
                |amount| text::thread::amount(amount, put_up(of.card)),
            );
            let from = state.ring(of.ring).map_or("", |ring| ring.project.as_str());
            output.line(format!(
                "  [ ] {card}: {amount} from '{from}'",
                card = card(of.card)
            ))?;
        }
    }
    for (ids, head) in [
        (&pull.fetch, "Kept elsewhere, to be fetched first:"),
        (&pull.missing, "Missing:"),
    ] {
        if !ids.is_empty() {
            output.line(head)?;
        }
        for kept in ids.iter().filter_map(|&id| state.card(id)) {
            let (name, place) = (card(kept.card.id), text::places::place_of(state, kept));
            output.line(format_args!("      {name}: {place}"))?;
        }
    }
    Ok(())
}

/// What comes on the ring, line by line.
fn tell_key(state: &State, ring: &Ring, output: &mut Output) -> Result<(), Failure> {
    output.line("On the ring, in the order of the key:")?;
    for (at, (line, thread)) in (1..).zip(order(ring)) {
        let place = place_out(state, ring, line, thread);
        let name = state.thread_name(thread);
        let there = if place.on_ring {
            ""
        } else {
            "   not on the ring"
        };
        output.line(format_args!(
            "  {at:>3}  {:<2} {}  {name}{there}",
            place.symbol, place.number
        ))?;
    }
    let mut notions = ring.key.iter().filter(|line| line.notion().is_some());
    if let Some(first) = notions.next() {
        output.line("Besides the thread:")?;
        for line in [first].into_iter().chain(notions) {
            let notion = text::thread::notion(line);
            output.line(format_args!("       {:<2} {notion}", line.symbol))?;
        }
    }
    Ok(())
}

/// The colours of a key in its order, each where the first line names it.
fn order(ring: &Ring) -> Vec<(&KeyLine, &KeyThread)> {
    let mut order: Vec<(&KeyLine, &KeyThread)> = Vec::new();
    for line in &ring.key {
        for thread in line.threads() {
            let known = |(_, other): &(_, &KeyThread)| other.stitched() == thread.stitched();
            if !order.iter().any(known) {
                order.push((line, thread));
            }
        }
    }
    order
}

fn split_out(state: &State, of: &Splitting) -> Option<SplitOut> {
    let kept = state.card(of.card)?;
    Some(SplitOut {
        card: CardOut::of(export(state), kept),
        ring: state.ring(of.ring)?.project.to_string(),
        amount: of
            .strands
            .map(|amount| AmountOut::of(amount, state.put_up(&kept.card))),
    })
}

fn place_out(state: &State, ring: &Ring, line: &KeyLine, thread: &KeyThread) -> PlaceOut {
    let colour: &ColourRef = thread.stitched();
    let mut cards = state.cards_of(colour);
    PlaceOut {
        symbol: line.symbol.to_string(),
        range: state
            .range(colour.range)
            .map_or_else(String::new, |range| range.name.to_string()),
        number: colour.number.to_string(),
        on_ring: cards.any(|kept| kept.place.at.ring() == Some(ring.id)),
    }
}
