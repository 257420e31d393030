//! `homehook family`.

use std::path::Path;

use clap::Subcommand;
use serde::Serialize;

use super::failure::Failure;
use super::output::Output;
use super::{change, open};
use crate::stash::command::family::{self, Membership};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::text::cards as count_cards;

/// What to do with families.
#[derive(Debug, Subcommand)]
pub(crate) enum FamilyCommand {
    /// List the families in the order of the wall.
    List,
    /// Put families first, in this order, or arrange all by colour.
    Order {
        /// The families.
        #[arg(value_name = "NAME", required_unless_present = "by_colour")]
        names: Vec<String>,
        /// Whites, then round the hues by the mean colour of their cards, then greys and blacks.
        #[arg(long, alias = "by-color", conflicts_with = "names")]
        by_colour: bool,
    },
    /// Make a family without cards.
    Add {
        /// Its name.
        name: String,
    },
    /// Rename a family.
    Rename {
        /// The family.
        family: String,
        /// Its name.
        name: String,
    },
    /// Remove a family; its cards go back to that of their range or colour.
    Remove {
        /// The family.
        family: String,
    },
    /// Put cards in a family, whatever their range or colour.
    Assign {
        /// The family.
        family: String,
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
    /// Put cards back in the family of their range, else of their colour.
    Unassign {
        /// NUMBER or RANGE:NUMBER.
        #[arg(required = true, value_name = "CARD")]
        cards: Vec<String>,
    },
}

pub(crate) fn run(command: FamilyCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        FamilyCommand::List => {
            let reading = open::reading(dir, output)?;
            list(reading.state(), output)
        }
        FamilyCommand::Order {
            by_colour: true, ..
        } => change(dir, output, family::order_by_colour),
        FamilyCommand::Order { names, .. } => {
            change(dir, output, |state| family::order(state, &names))
        }
        FamilyCommand::Add { name } => change(dir, output, |state| family::add(state, &name)),
        FamilyCommand::Rename { family, name } => {
            change(dir, output, |state| family::rename(state, &family, &name))
        }
        FamilyCommand::Remove { family } => {
            change(dir, output, |state| family::remove(state, &family))
        }
        FamilyCommand::Assign { family, cards } => change(dir, output, |state| {
            family::assign(state, &family, &state.find_cards(&cards)?)
        }),
        FamilyCommand::Unassign { cards } => change(dir, output, |state| {
            family::unassign(state, &state.find_cards(&cards)?)
        }),
    }
}

/// The families after a change.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct Families {
    /// Their names, in order.
    families: Vec<String>,
}

/// The families and how many cards are in each.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(crate) struct FamilyList {
    /// Their names, in order.
    families: Vec<String>,
    /// What is in each, in the same order.
    counts: Vec<FamilyOut>,
}

/// A family and what is in it.
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct FamilyOut {
    /// Its name.
    name: String,
    /// All its cards: `chosen`, `by_range` and `by_colour` together.
    cards: usize,
    /// Cards put there by hand.
    chosen: usize,
    /// Cards whose range says so.
    by_range: usize,
    /// Cards that are there by their colour.
    by_colour: usize,
    /// Whether every re-hang leaves its cards where they hang.
    held: bool,
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    change::make_and_tell(
        dir,
        output,
        |state, _| ask(state),
        |state| Families {
            families: names(state),
        },
    )
}

fn names(state: &State) -> Vec<String> {
    let families = state.families().iter();
    families.map(|family| family.name.to_string()).collect()
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    let families = state.families().iter();
    let counted = families.map(|family| (family, Membership::of(state, family.id)));
    if output.is_json() {
        let counts = counted.map(|(family, of)| FamilyOut {
            name: family.name.to_string(),
            cards: of.all(),
            chosen: of.chosen,
            by_range: of.by_range,
            by_colour: of.by_colour,
            held: family.held,
        });
        output.object(&FamilyList {
            families: names(state),
            counts: counts.collect(),
        })?;
        return Ok(());
    }
    for (family, of) in counted {
        let count = count_cards(u32::try_from(of.all()).unwrap_or(u32::MAX));
        let chosen = match of.chosen {
            0 => String::new(),
            n => format!(", {n} by choice"),
        };
        output.line(format_args!("{}: {count}{chosen}", family.name))?;
    }
    if state.families().is_empty() {
        output.line("There are no families yet.")?;
    }
    Ok(())
}
