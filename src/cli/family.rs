//! `homehook family`.

use std::path::Path;

use serde_json::json;

use super::args::FamilyCommand;
use super::failure::Failure;
use super::output::Output;
use super::pin::ids;
use super::{open, run};
use crate::language::{say, word};
use crate::stash::command::family::{self, Membership};
use crate::stash::event::Event;
use crate::stash::refusal::Refusal;
use crate::stash::state::State;
use crate::stash::words::{act_in_words, cards as cards_in_words};

/// Does what was asked of families.
pub fn run(command: FamilyCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
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
            family::assign(state, &family, &ids(state, &cards)?)
        }),
        FamilyCommand::Unassign { cards } => change(dir, output, |state| {
            family::unassign(state, &ids(state, &cards)?)
        }),
    }
}

fn change(
    dir: &Path,
    output: &mut Output,
    ask: impl Fn(&State) -> Result<Event, Refusal>,
) -> Result<(), Failure> {
    let changed = run::change(dir, output, |state, _| ask(state))?;
    let state = changed.keeper.state();
    let words = act_in_words(state, &changed.event.act);
    let order = names(state);
    output.done(&words, json!({"event": changed.seq, "families": order}))?;
    Ok(())
}

fn names(state: &State) -> Vec<&str> {
    let families = state.families().iter();
    families.map(|family| family.name.as_str()).collect()
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    let families = state.families().iter();
    let counted = families.map(|family| (family, Membership::of(state, family.id)));
    if output.is_json() {
        let counts: Vec<_> = counted
            .map(|(family, of)| {
                json!({
                    "name": family.name,
                    "cards": of.all(),
                    "chosen": of.chosen,
                    "by_range": of.by_range,
                    "by_colour": of.by_colour,
                    "pinned": family.pinned,
                })
            })
            .collect();
        output.object(&json!({"families": names(state), "counts": counts}))?;
        return Ok(());
    }
    for (family, of) in counted {
        let count = cards_in_words(u32::try_from(of.all()).unwrap_or(u32::MAX));
        let chosen = match of.chosen {
            0 => String::new(),
            n => say!(", {n} by choice", n),
        };
        output.line(format_args!("{}: {count}{chosen}", family.name))?;
    }
    if state.families().is_empty() {
        output.line(word!("There are no families yet."))?;
    }
    Ok(())
}
