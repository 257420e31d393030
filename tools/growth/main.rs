//! How time grows with the size of what is kept.
//!
//! `cargo run --release --example growth` measures the fewest moves to 100,000 cards, a board to 10,000
//! hooks, a stash to 100,000 cards and a record to 1,000,000 events; `-- engine`, `-- board`, `-- cards`
//! or `-- events` one of them. A straight line is fitted to log time against log size by least squares:
//! its slope is the exponent `b` of a time that grows like `size^b`. A time proportional to
//! `size * log(size)` on the same sizes fits the slope that is printed beside it.

use std::error::Error;

#[path = "../../benches/boards/mod.rs"]
mod boards;
#[path = "../../benches/stashes/mod.rs"]
mod stashes;

mod board;
mod cards;
mod engine;
mod events;
mod fit;

type Measure = fn() -> Result<(), Box<dyn Error>>;

fn main() -> Result<(), Box<dyn Error>> {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let all: [(&str, Measure); 4] = [
        ("engine", engine::measure),
        ("board", board::measure),
        ("cards", cards::measure),
        ("events", events::measure),
    ];
    for (name, measure) in all {
        if asked.is_empty() || asked.iter().any(|one| one == name) {
            measure()?;
        }
    }
    Ok(())
}
