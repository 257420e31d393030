//! `homehook hold`, `release` and `effort`.

use std::path::Path;

use clap::Args;
use serde::Serialize;

use super::failure::Failure;
use super::number::whole;
use super::output::Output;
use super::{change, open};
use crate::exchange::export::CardRef;
use crate::model::move_cost::{Effort, MoveCost};
use crate::stash::command::hold;
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::{CardState, State};

/// What re-hangs leave alone.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HoldList<'a> {
    /// The held cards, in the order of the board.
    held: Vec<HeldOut>,
    /// The names of families that are held as a whole.
    families: Vec<&'a str>,
    /// The cards that count as more than a plain one, in the order of the board.
    with_effort: Vec<HeldOut>,
    /// The reserved hooks, in reading order.
    reserved: Vec<String>,
}

/// A card that costs something to move.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct HeldOut {
    /// The card.
    card: CardRef,
    /// The hook it belongs on.
    home: Option<String>,
    /// How many plain cards touching it counts as.
    effort: u16,
}

/// What to hold.
#[derive(Debug, Args)]
pub struct HoldArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(value_name = "CARD", conflicts_with = "families")]
    pub cards: Vec<String>,
    /// Whole families: every card that has a home stays there.
    #[arg(long = "family", value_name = "NAME", num_args = 1..)]
    pub families: Vec<String>,
    /// List what is held, weighed and reserved.
    #[arg(long, conflicts_with_all = ["cards", "families"])]
    pub list: bool,
}

/// What to let go.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub struct ReleaseArgs {
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
pub struct EffortArgs {
    /// NUMBER or RANGE:NUMBER.
    #[arg(required = true, value_name = "CARD")]
    pub cards: Vec<String>,
    /// How many plain cards each counts as, 1 to 1000; 1 makes it plain again.
    #[arg(long = "as", value_name = "N", value_parser = whole(0..=u16::MAX))]
    pub effort: u16,
}

/// Holds cards or families, or lists what is held.
pub fn hold(args: &HoldArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if !args.families.is_empty() {
        return change(dir, output, |state| {
            hold::hold_families(state, &args.families)
        });
    }
    if args.cards.is_empty() {
        let reading = open::reading(dir, output)?;
        return list(reading.state(), output);
    }
    change(dir, output, |state| {
        hold::hold(state, &state.find_cards(&args.cards)?)
    })
}

/// Lets cards or families move again.
pub fn release(args: &ReleaseArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    if args.all {
        return change(dir, output, hold::release_all);
    }
    if !args.families.is_empty() {
        return change(dir, output, |state| {
            hold::release_families(state, &args.families)
        });
    }
    change(dir, output, |state| {
        hold::release(state, &state.find_cards(&args.cards)?)
    })
}

/// Says what touching cards counts as.
pub fn effort(args: &EffortArgs, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    change(dir, output, |state| {
        let effort = match args.effort {
            1 => None,
            effort => Some(Effort::new(effort)?),
        };
        hold::effort(state, &state.find_cards(&args.cards)?, effort)
    })
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    change::make_and_tell(dir, output, |state, _| ask(state), |_| change::Nothing {})
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    let with = |touch: &dyn Fn(MoveCost) -> bool| {
        let cards = state.cards().filter(|kept| touch(kept.card.touch));
        state.in_board_order(cards)
    };
    let held = with(&|touch| touch == MoveCost::Held);
    let costly = with(&|touch| matches!(touch, MoveCost::Costly(_)));
    let families: Vec<&str> = state
        .families()
        .iter()
        .filter(|family| family.held)
        .map(|family| family.name.as_str())
        .collect();
    let reserved: Vec<String> = state
        .hooks()
        .filter(|&hook| state.board(hook.board).is_some_and(|b| b.reserved(hook)))
        .map(|hook| state.hook_name(hook))
        .collect();
    if output.is_json() {
        let card = |kept: &&CardState| HeldOut {
            card: CardRef::of(state, kept),
            home: kept.home.map(|hook| state.hook_name(hook)),
            effort: kept.card.touch.effort(),
        };
        output.object(&HoldList {
            held: held.iter().map(card).collect(),
            families,
            with_effort: costly.iter().map(card).collect(),
            reserved,
        })?;
        return Ok(());
    }
    for kept in &held {
        let home = kept.home.map_or_else(
            || "held, without a home now".to_owned(),
            |hook| format!("held on {hook}", hook = state.hook_name(hook)),
        );
        output.line(format_args!("{}: {home}", state.card_name(kept)))?;
    }
    for family in &families {
        output.line(format!("{family}: the whole family is held"))?;
    }
    for kept in &costly {
        let effort = kept.card.touch.effort();
        output.line(format!(
            "{card}: counts as {effort} cards",
            card = state.card_name(kept)
        ))?;
    }
    for hook_name in &reserved {
        output.line(format!("{hook_name}: reserved"))?;
    }
    if held.is_empty() && families.is_empty() && costly.is_empty() && reserved.is_empty() {
        output.line("Nothing is held, costly or reserved.")?;
    }
    Ok(())
}
