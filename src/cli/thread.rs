//! `homehook ring split`, `ring rejoin`, `use`, `cut` and `count`.

use std::path::Path;

use clap::Args;
use jiff::Timestamp;
use serde::Serialize;

use super::change;
use super::failure::Failure;
use super::output::Output;
use super::values::{metres, whole};
use crate::exchange::export::{CardOut, LowOut};
use crate::model::ids::CardId;
use crate::model::ring::ColourRef;
use crate::model::thread::{Lot, Strands};
use crate::stash::command::thread::{self, Counted, CutAmount};
use crate::stash::event::{Act, Change, Event};
use crate::stash::projects::low::low_of;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text;
use crate::text::export;

/// What is left on the cards.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct ThreadChanged {
    /// What was done, as a sentence without its full stop.
    done: String,
    /// The number of the event in the record.
    event: u64,
    /// The cards whose thread changed.
    cards: Vec<CardOut>,
    /// The colour that runs low on the ring now; `null` where none does.
    low: Option<LowOut>,
}

/// What to split.
#[derive(Debug, Args)]
pub(crate) struct SplitArgs {
    /// The project.
    pub project: String,
    /// The card: NUMBER or RANGE:NUMBER. It stays where it is.
    pub card: String,
    #[command(flatten)]
    pub amount: Amount,
    /// The dye lot; without it, the smallest that lasts.
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
    /// The text on the split card; kept as its note.
    #[arg(
        long,
        value_name = "TEXT",
        default_value = "",
        hide_default_value = true
    )]
    pub label: String,
}

/// What was used.
#[derive(Debug, Args)]
pub(crate) struct UseArgs {
    /// The card: NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
    pub card: String,
    #[command(flatten)]
    pub amount: Amount,
    /// The dye lot; without it, the smallest that lasts.
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
    /// The project: its split card of the colour, else the card itself.
    #[arg(long)]
    pub project: Option<String>,
}

/// An amount of thread.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub(crate) struct Amount {
    /// Whole lengths.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub lengths: Option<u32>,
    /// Single strands, added to the whole lengths.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub strands: Option<u32>,
}

/// What to cut.
#[derive(Debug, Args)]
pub(crate) struct CutArgs {
    /// The card: NUMBER or RANGE:NUMBER.
    pub card: String,
    /// Lengths, as long as the others on the card.
    #[arg(long, value_name = "N", required_unless_present = "skeins", conflicts_with = "skeins", value_parser = whole(1..=u32::MAX))]
    pub lengths: Option<u32>,
    /// Whole skeins.
    #[arg(long, value_name = "N", value_parser = whole(1..=u32::MAX))]
    pub skeins: Option<u32>,
    /// The dye lot; without it, the smallest that lasts.
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
}

/// What was counted; what is not given stays as it was.
#[derive(Debug, Args)]
pub(crate) struct CountArgs {
    /// The card: NUMBER, RANGE:NUMBER, or NUMBER@PROJECT for a split card.
    pub card: String,
    #[command(flatten)]
    pub counted: CountedArgs,
    /// The dye lot, which may be new; without it, the card's only one.
    #[arg(long, value_name = "LOT")]
    pub lot: Option<String>,
}

/// What was counted.
#[derive(Debug, Args)]
#[group(required = true, multiple = true)]
pub(crate) struct CountedArgs {
    /// Whole lengths on the card.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub lengths: Option<u32>,
    /// Single strands on it, added to the whole lengths.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub strands: Option<u32>,
    /// The rest of a part-used skein: 3.5m, 4yd; without a unit metres.
    #[arg(long, value_name = "LENGTH", value_parser = metres)]
    pub part: Option<u32>,
    /// Uncut skeins.
    #[arg(long, value_name = "N", value_parser = whole(0..=u32::MAX))]
    pub skeins: Option<u32>,
}

/// Cuts uncut thread onto its card.
pub(crate) fn cut(args: &CutArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, _| {
        let card = state.find_card(&args.card)?;
        let amount = match (args.lengths, args.skeins) {
            (Some(lengths), _) => CutAmount::Lengths(lengths),
            (None, skeins) => CutAmount::Skeins(skeins.unwrap_or(0)),
        };
        thread::cut(
            state,
            card,
            amount,
            lot(state, card, args.lot.as_deref())?.as_ref(),
        )
    })
}

/// Records counted thread.
pub(crate) fn count(args: &CountArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    let ask = |state: &State, _| {
        let card = state.find_card(&args.card)?;
        let CountedArgs {
            lengths,
            strands: loose,
            part,
            skeins,
        } = args.counted;
        let on_card = lengths.is_some() || loose.is_some();
        let amount = Amount {
            lengths,
            strands: loose,
        };
        let counted = Counted {
            strands: on_card.then(|| strands(state, card, &amount)),
            part_cm: part,
            skeins,
        };
        let event = thread::count(
            state,
            card,
            counted,
            lot(state, card, args.lot.as_deref())?.as_ref(),
        )?;
        event.ok_or(Refusal::NothingToDo)
    };
    change(dir, output, ask)
}

/// The named lot.
fn lot(state: &State, card: CardId, name: Option<&str>) -> Result<Option<Lot>, Refusal> {
    name.map(|name| thread::lot_named(state, card, name))
        .transpose()
}

/// Splits thread off onto a split card on a project's ring.
pub(crate) fn split(args: &SplitArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, now| {
        let card = state.find_card(&args.card)?;
        let amount = strands(state, card, &args.amount);
        let lot = lot(state, card, args.lot.as_deref())?;
        thread::split(
            state,
            &args.project,
            card,
            amount,
            lot.as_ref(),
            &args.label,
            now,
        )
    })
}

/// Rejoins a split card with its card.
pub(crate) fn merge(
    project: &str,
    card: &str,
    dir: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    change(dir, output, |state, _| {
        thread::merge(state, state.need_ring(project)?, state.find_card(card)?)
    })
}

pub(crate) fn use_thread(args: &UseArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state, _| {
        let project = args.project.as_ref();
        let ring = project
            .map(|project| state.need_ring(project))
            .transpose()?;
        let card = state.find_card(&args.card)?;
        let amount = strands(state, card, &args.amount);
        let lot = lot(state, card, args.lot.as_deref())?;
        thread::use_thread(state, ring, card, amount, lot.as_ref())
    })
}

fn strands(state: &State, card: CardId, amount: &Amount) -> Strands {
    let put_up = state.card(card).map(|kept| state.put_up(&kept.card));
    let put_up = put_up.unwrap_or_default();
    let whole = put_up.from_lengths(amount.lengths.unwrap_or(0));
    Strands(whole.0.saturating_add(amount.strands.unwrap_or(0)))
}

/// Makes a change, and shows the thread left on the cards it touched.
fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State, Timestamp) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    let changed = change::make(dir, output, ask)?;
    let (state, words) = (changed.state(), changed.words());
    // List each card once, however many of its lots changed.
    let mut told: Vec<CardId> = Vec::new();
    for change in &changed.event.changes {
        if let Change::Thread { card, .. } = change
            && !told.contains(card)
        {
            told.push(*card);
        }
    }
    let warned = told.clone().into_iter().filter_map(|card| state.card(card));
    let touched = told.into_iter().filter_map(|card| state.card(card));
    let low = match changed.event.act {
        Act::Use { card, .. } => {
            let ring = state.card(card).and_then(|kept| kept.place.at.ring());
            let ring = ring.and_then(|ring| state.ring(ring));
            ring.and_then(|ring| low_of(state, ring, card))
        }
        _ => None,
    };
    if output.is_json() {
        output.object(&ThreadChanged {
            done: words,
            event: changed.seq,
            cards: touched
                .map(|kept| CardOut::of(export(state), kept))
                .collect(),
            low: low.map(|low| LowOut::of(export(state), &low)),
        })?;
        return Ok(());
    }
    output.line(format_args!("{words}."))?;
    for kept in touched {
        output.line(format!(
            "  {card}  {name}: {amount} left, {place}",
            card = state.card_name(kept),
            name = kept.card.name,
            amount = text::thread::by_lot(&kept.thread, state.put_up(&kept.card)),
            place = text::places::place_of(state, kept)
        ))?;
    }
    for kept in warned {
        let colour = ColourRef::new(kept.card.range, kept.card.number.clone());
        if let Some(scarce) = text::thread::scarcity(state, &colour) {
            output.line(format!("  {}: {scarce}.", state.card_name(kept)))?;
        }
    }
    if let Some(low) = low {
        output.line(format!(
            "  Low: {low}.",
            low = text::thread::low(state, &low)
        ))?;
    }
    Ok(())
}
