//! Measures how time grows with the size of the data.
//!
//! `cargo run --release --example growth` measures the fewest moves up to 100,000 cards, a board up
//! to 10,000 hooks, a stash up to 100,000 cards and a record up to 1,000,000 events; add
//! `-- engine`, `-- board`, `-- cards` or `-- events` for only one of them. A straight line is
//! fitted to log time against log size by least squares. Its slope is the exponent `b` of a time
//! that grows like `size^b`. The slope printed next to it is that of a time proportional to
//! `size * log(size)` on the same sizes.

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
