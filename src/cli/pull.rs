//! `homehook ring pull`: the walk that fetches a project's kit, and the order of its ring.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{change, open};
use crate::exchange::export::{AmountOut, CardOut, CardRef, ColourOut, NotionOut};
use crate::model::ids::CardId;
use crate::model::range::PutUp;
use crate::model::ring::{ColourRef, KeyLine, KeyThread, Ring};
use crate::model::thread::Lot;
use crate::stash::command::thread;
use crate::stash::event::{Act, Change};
use crate::stash::projects::kit::{ProjectKit, ThreadLine, check, rings_named};
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
    /// Record the whole kit as fetched: cards are on the ring, and thread to cut is cut.
    #[arg(long)]
    pub take: bool,
}

/// The cards a project has to fetch.
fn of<'a>(state: &'a State, project: &str) -> Result<(ProjectKit<'a>, Pull), Refusal> {
    let rings = rings_named(state, &[project.to_owned()])?;
    let mut kit = check(state, &rings);
    if kit.projects.is_empty() {
        return Err(Refusal::NoKeys);
    }
    let kit = kit.projects.swap_remove(0);
    let pull = pull(state, &kit);
    Ok((kit, pull))
}

/// Prints the walk, or takes all of its cards and prints the rest.
pub(crate) fn run(args: &PullArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !args.take {
        let reading = open::reading(dir, output)?;
        let state = reading.state();
        let (kit, pull) = of(state, &args.project)?;
        return tell(state, &kit, &pull, (0, false), output);
    }
    let changed = change::make(dir, output, |state: &State, now: Timestamp| {
        let (kit, pull) = of(state, &args.project)?;
        let ring = kit.ring;
        if pull.take.is_empty() && pull.cut.is_empty() {
            return Err(Refusal::NothingToFetch(ring.project.to_string()));
        }
        thread::fetch(state, ring.project.as_str(), &pull.take, &pull.cut, now)
    })?;
    let taken = match changed.event.act {
        Act::Take { cards, .. } => cards,
        _ => 0,
    };
    let mut cut = changed.event.changes.iter();
    let cut = cut.any(|change| matches!(change, Change::Thread { .. }));
    if cut && !output.is_json() {
        output.line("The cut thread is on its card.")?;
    }
    let state = changed.state();
    let (kit, pull) = of(state, &args.project)?;
    tell(state, &kit, &pull, (taken, cut), output)
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
    /// Uncut thread to cut onto cards that are on the ring or come to it.
    cut: Vec<CutOut>,
    /// The colours of which the project would mix dye lots.
    mixed: Vec<MixedOut>,
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
    /// Of which dye lots; an empty one is thread whose lot nobody noted.
    lots: Vec<String>,
    /// How much; `null` where the key does not say.
    amount: Option<AmountOut>,
}

/// Uncut thread to cut.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct CutOut {
    /// The card it is cut onto.
    card: CardRef,
    /// The dye lot; empty where none is noted.
    lot: String,
    /// How many lengths, each as long as those on the card.
    lengths: u32,
}

/// A colour of which dye lots would be mixed.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct MixedOut {
    /// The colour.
    #[serde(flatten)]
    colour: ColourOut,
    /// The lots; an empty one is thread whose lot nobody noted.
    lots: Vec<String>,
    /// Lots that are used up on the ring of the project, which used some of the colour.
    used_up: Vec<String>,
    /// One of them that there is enough of; `null` where none is.
    lasting: Option<String>,
}

impl MixedOut {
    fn all(state: &State, kit: &ProjectKit<'_>) -> Vec<Self> {
        let mixed = mixed(kit).into_iter().map(|line| Self {
            colour: ColourOut::of(state, line.thread.stitched()),
            lots: line.lots.iter().map(Lot::to_string).collect(),
            used_up: line.used_up.iter().map(Lot::to_string).collect(),
            lasting: line.lasting.as_ref().map(Lot::to_string),
        });
        mixed.collect()
    }
}

/// One thread of each colour whose lots a project would mix.
fn mixed<'k, 'a>(kit: &'k ProjectKit<'a>) -> Vec<&'k ThreadLine<'a>> {
    let mut mixed: Vec<&ThreadLine<'a>> = Vec::new();
    for line in kit
        .threads()
        .filter(|line| text::thread::mixed_lots(line).is_some())
    {
        let same = |other: &&ThreadLine<'_>| other.thread.stitched() == line.thread.stitched();
        if !mixed.iter().any(same) {
            mixed.push(line);
        }
    }
    mixed
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
    kit: &ProjectKit<'_>,
    pull: &Pull,
    (taken, cut): (u32, bool),
    output: &mut Output,
) -> Result<(), Failure> {
    if output.is_json() {
        return answer(state, kit, pull, taken, output);
    }
    let ring = kit.ring;
    if taken > 0 {
        let word = one_or_many(taken, "card", "cards");
        output.line(format!(
            "Took {taken} {word} to {project}.",
            project = ring.project
        ))?;
    }
    tell_cards(state, ring, pull, output)?;
    for line in mixed(kit) {
        if let Some(words) = text::thread::mixed_lots(line) {
            output.line(format!(
                "Dye lots: {number} {words}. Compare them in daylight first.",
                number = line.thread.stitched().number
            ))?;
        }
    }
    if *pull == Pull::default() && taken == 0 && !cut {
        output.line(format!(
            "There is nothing to fetch for {project}.",
            project = ring.project
        ))?;
    }
    tell_key(state, ring, output)
}

fn answer(
    state: &State,
    kit: &ProjectKit<'_>,
    pull: &Pull,
    taken: u32,
    output: &mut Output,
) -> Result<(), Failure> {
    let cards = |ids: &[CardId]| -> Vec<CardOut> {
        let known = ids.iter().filter_map(|&id| state.card(id));
        known.map(|kept| CardOut::of(export(state), kept)).collect()
    };
    let ring = kit.ring;
    let split = pull
        .split
        .iter()
        .filter_map(|of| split_out(state, pull, of));
    let cut = pull.cut.iter().filter_map(|of| {
        Some(CutOut {
            card: CardRef::of(state, state.card(of.card)?),
            lot: of.lot.to_string(),
            lengths: of.lengths,
        })
    });
    output.object(&PullAnswer {
        project: ring.project.as_str(),
        taken,
        walk: cards(&pull.take),
        cut: cut.collect(),
        mixed: MixedOut::all(state, kit),
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

/// The cards to fetch, and their places.
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
            let hook = hook.map_or_else(|| "to hang".to_owned(), |hook| state.hook_name(hook));
            output.line(format_args!("  [ ] {hook:<7} {}", card(id)))?;
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
            let lots = lots_to_split(pull, of.card);
            let lots = match lots.as_slice() {
                [] => String::new(),
                [lot] if lot.is_unknown() => String::new(),
                lots => format!(
                    " of {}",
                    text::list(lots.iter().map(|lot| text::thread::lot(lot)))
                ),
            };
            output.line(format!(
                "  [ ] {card}: {amount}{lots} from '{from}'",
                card = card(of.card)
            ))?;
        }
    }
    if !pull.cut.is_empty() {
        output.line("To cut onto its card:")?;
        for of in &pull.cut {
            let word = one_or_many(of.lengths, "length", "lengths");
            let lot = if of.lot.is_unknown() {
                String::new()
            } else {
                format!(" of {}", text::thread::lot(&of.lot))
            };
            let has = state
                .card(of.card)
                .and_then(|kept| kept.thread.lot(&of.lot));
            let from = match has.map(|of| (of.part_cm, of.skeins)) {
                Some((0, _)) | None => "a skein".to_owned(),
                Some((part, _)) => {
                    format!("the {} of a part-used skein", text::thread::metres(part))
                }
            };
            output.line(format!(
                "  [ ] {card}: {lengths} {word}{lot}, from {from}",
                card = card(of.card),
                lengths = of.lengths
            ))?;
        }
    }
    for (ids, head) in [
        (&pull.fetch, "Kept elsewhere, bring first:"),
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

/// The order of the ring, line by line.
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

/// The colours of a key in its order, each at its first line.
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

/// The lots of a card to split thread from.
fn lots_to_split(pull: &Pull, card: CardId) -> Vec<&Lot> {
    let lots = pull.split_lots.iter().filter(|(of, _)| *of == card);
    lots.map(|(_, lot)| lot).collect()
}

fn split_out(state: &State, pull: &Pull, of: &Splitting) -> Option<SplitOut> {
    let kept = state.card(of.card)?;
    Some(SplitOut {
        card: CardOut::of(export(state), kept),
        ring: state.ring(of.ring)?.project.to_string(),
        lots: lots_to_split(pull, of.card)
            .into_iter()
            .map(Lot::to_string)
            .collect(),
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
