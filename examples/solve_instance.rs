//! Solves one re-hang case: fewest moves, then least distance, then most room.
//!
//! `cargo run --example solve_instance -- FILE` reads
//! `{"cap":[PLACES,...],"cards":[{"cur":HOOK|null},...]}`, with cards in wanted order and other
//! keys ignored, and prints `{"min_moves":MOVES,"new":[HOOK,...]}` with the new hook of each card.
//! A file that can't be read or solved is an error on stderr and exit code 1; bad usage is exit
//! code 2.

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;
use std::{env, fs};

use homehook::engine::fewest_moves::fewest_moves_least_distance;
use homehook::engine::instance::Instance;
use homehook::text::faults::engine_error;
use serde::{Deserialize, Serialize};

#[derive(Deserialize)]
struct Case {
    cap: Vec<u32>,
    cards: Vec<Card>,
}

#[derive(Deserialize)]
struct Card {
    cur: Option<usize>,
}

#[derive(Serialize)]
struct Answer {
    min_moves: usize,
    new: Vec<usize>,
}

/// Reads and solves the case in file `path`. Returns the answer as JSON, or the fault.
pub fn solve(path: &Path) -> Result<String, Box<dyn Error>> {
    let case: Case = serde_json::from_str(&fs::read_to_string(path)?)?;
    let cards = case.cards.iter().map(|card| card.cur).collect();
    let homes =
        Instance::new(case.cap, cards).and_then(|instance| fewest_moves_least_distance(&instance));
    let homes = homes.map_err(|error| engine_error(&error))?;
    let answer = Answer {
        min_moves: homes.moved,
        new: homes.hook,
    };
    Ok(serde_json::to_string(&answer)?)
}

fn main() -> ExitCode {
    let mut arguments = env::args_os().skip(1);
    let (Some(path), None) = (arguments.next(), arguments.next()) else {
        eprintln!("usage: solve_instance FILE");
        return ExitCode::from(2);
    };
    let path = Path::new(&path);
    match solve(path) {
        Ok(answer) => {
            println!("{answer}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{}: {error}", path.display());
            ExitCode::FAILURE
        }
    }
}
