//! `homehook family`.

use std::path::Path;

use serde_json::json;

use super::args::FamilyCommand;
use super::failure::Failure;
use super::output::Output;
use super::{open, run};
use crate::stash::command::family;
use crate::stash::state::State;
use crate::stash::words::act_in_words;

/// Does what was asked of families.
pub fn run(command: FamilyCommand, dir: &Path, output: &mut Output) -> Result<(), Failure> {
    match command {
        FamilyCommand::List => {
            let reading = open::reading(dir, output)?;
            list(reading.state(), output)
        }
        FamilyCommand::Order { names } => {
            let changed = run::change(dir, output, |state, _| family::order(state, &names))?;
            let state = changed.keeper.state();
            let words = act_in_words(state, &changed.event.act);
            let order = self::names(state);
            output.done(&words, json!({"event": changed.seq, "families": order}))?;
            Ok(())
        }
    }
}

fn names(state: &State) -> Vec<&str> {
    let families = state.families().iter();
    families.map(|family| family.name.as_str()).collect()
}

fn list(state: &State, output: &mut Output) -> Result<(), Failure> {
    if output.is_json() {
        output.object(&json!({"families": names(state)}))?;
        return Ok(());
    }
    for family in state.families() {
        let of = state.cards();
        let count = of
            .filter(|kept| state.family_of(kept) == Some(family.id))
            .count();
        let word = if count == 1 { "card" } else { "cards" };
        output.line(format_args!("{}: {count} {word}", family.name))?;
    }
    if state.families().is_empty() {
        output.line("There are no families yet.")?;
    }
    Ok(())
}
