//! Prints the history of a stash from its record, event by event, in words. Changes nothing in it.
//!
//! `cargo run --example read_record -- DIR`, where `DIR` is the folder of a stash.

use std::env;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use homehook::journal::Log;
use homehook::journal::store::Store;
use homehook::stash::event::Event;
use homehook::stash::state::State;
use homehook::text;
use homehook::text::record;

/// Prints every event with its number, its time, its effect and its author.
fn tell(dir: &Path) -> Result<(), Box<dyn Error>> {
    if !Store::is_in(dir) {
        return Err("there is no stash in this folder".into());
    }
    // Reading locks nothing and changes nothing.
    let (log, loaded) = Log::<Event>::open(dir).map_err(|error| record::record_error(&error))?;
    let mut state = State::default();
    for entry in loaded.entries {
        state.apply(&entry.event)?;
        let words = text::history::act(&state, &entry.event.act);
        let by = entry.by.map(|by| format!(", by {by}")).unwrap_or_default();
        println!("{:>5}  {:.0}  {words}{by}", entry.seq, entry.time);
    }
    println!("{} cards", state.cards().len());
    if let Some(damage) = log.damage() {
        println!("{}", record::damage(damage));
    }
    Ok(())
}

fn main() -> ExitCode {
    let Some(dir) = env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("usage: read_record DIR");
        return ExitCode::from(2);
    };
    match tell(&dir) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{}: {error}", dir.display());
            ExitCode::FAILURE
        }
    }
}
