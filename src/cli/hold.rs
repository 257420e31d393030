//! `homehook pin`, `unpin` and `weigh`.

use std::path::Path;

use clap::Args;
use serde_json::{Value, json};

use super::failure::Failure;
use super::number::whole;
use super::output::Output;
use super::{change, open};
use crate::exchange::export::CardRef;
use crate::model::move_cost::{MoveCost, Weight};
use crate::stash::command::pin;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// What to pin.
#[derive(Debug, Args)]
pub struct PinArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(value_name = "CARD", conflicts_with = "families")]
    pub cards: Vec<String>,
    /// Whole families: every card that has a home stays there.
    #[arg(long = "family", value_name = "NAME", num_args = 1..)]
    pub families: Vec<String>,
    /// List what is pinned, weighed and kept free.
    #[arg(long, conflicts_with_all = ["cards", "families"])]
    pub list: bool,
}

/// What to let go.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub struct UnpinArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(value_name = "CARD")]
    pub cards: Vec<String>,
    /// Whole families.
    #[arg(long = "family", value_name = "NAME", num_args = 1..)]
    pub families: Vec<String>,
    /// Every card and every family.
    #[arg(long)]
    pub all: bool,
}

/// What counts as how much.
#[derive(Debug, Args)]
pub struct WeighArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// How many plain cards each counts as, 1 to 1000; 1 makes it plain again.
    #[arg(long = "as", value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub weight: u16,
}

/// Pins cards or families, or lists what is pinned.
pub fn pin(args: &PinArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !args.families.is_empty() {
        return change(dir, output, |state| {
            pin::pin_families(state, &args.families)
        });
    }
    if args.cards.is_empty() {
        let reading = open::reading(dir, output)?;
        return list(reading.state(), output);
    }
    change(dir, output, |state| {
        pin::pin(state, &state.find_cards(&args.cards)?)
    })
}

/// Lets cards or families move again.
pub fn unpin(args: &UnpinArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.all {
        return change(dir, output, pin::unpin_all);
    }
    if !args.families.is_empty() {
        return change(dir, output, |state| {
            pin::unpin_families(state, &args.families)
        });
    }
    change(dir, output, |state| {
        pin::unpin(state, &state.find_cards(&args.cards)?)
    })
}

/// Says what touching cards counts as.
pub fn weigh(args: &WeighArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state| {
        let weight = match args.weight {
            1 => None,
            weight => Some(Weight::new(weight)?),
        };
        pin::weigh(state, &state.find_cards(&args.cards)?, weight)
    })
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    change::make_and_tell(dir, output, |state, _| ask(state), |_| json!({}))
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    let with = |touch: &dyn Fn(MoveCost) -> bool| {
        let cards = state.cards().filter(|kept| touch(kept.card.touch));
        state.in_board_order(cards)
    };
    let pinned = with(&|touch| touch == MoveCost::Pinned);
    let costly = with(&|touch| matches!(touch, MoveCost::Costly(_)));
    let families: Vec<&str> = state
        .families()
        .iter()
        .filter(|family| family.pinned)
        .map(|family| family.name.as_str())
        .collect();
    let kept_free: Vec<String> = state
        .hooks()
        .filter(|&hook| state.board(hook.board).is_some_and(|b| b.kept_free(hook)))
        .map(|hook| state.mark(hook))
        .collect();
    if output.is_json() {
        let card = |kept: &&CardState| {
            json!({
                "card": CardRef::of(state, kept),
                "home": kept.home.map(|hook| state.mark(hook)),
                "weight": kept.card.touch.weight(),
            })
        };
        let cards = |cards: &[&CardState]| cards.iter().map(card).collect::<Vec<Value>>();
        output.object(&json!({
            "pinned": cards(&pinned),
            "families": families,
            "weighed": cards(&costly),
            "kept_free": kept_free,
        }))?;
        return Ok(());
    }
    for kept in &pinned {
        let home = kept.home.map_or_else(
            || "pinned, without a home now".to_owned(),
            |hook| format!("pinned on {hook}", hook = state.mark(hook)),
        );
        output.line(format_args!("{}: {home}", state.card_name(kept)))?;
    }
    for family in &families {
        output.line(format!("{family}: the whole family is pinned"))?;
    }
    for kept in &costly {
        let weight = kept.card.touch.weight();
        output.line(format!(
            "{card}: counts as {weight} cards",
            card = state.card_name(kept)
        ))?;
    }
    for mark in &kept_free {
        output.line(format!("{mark}: kept free"))?;
    }
    if pinned.is_empty() && families.is_empty() && costly.is_empty() && kept_free.is_empty() {
        output.line("Nothing is pinned, weighed or kept free.")?;
    }
    Ok(())
}
