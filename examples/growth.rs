//! How the time of the fewest moves grows with the number of cards.
//!
//! `cargo run --release --example growth` measures boards of 100 to 100,000 cards and fits a straight
//! line to log time against log cards by least squares: its slope is the exponent `b` of a time that
//! grows like `cards^b`. A time proportional to `cards * log(cards)` on the same boards fits the slope
//! that is printed beside it.

use std::error::Error;
use std::hint::black_box;
use std::time::{Duration, Instant};

use homehook::engine::chain::fewest_moves;
use homehook::engine::instance::Instance;

#[path = "../benches/boards/mod.rs"]
mod boards;

const CARDS: [usize; 7] = [100, 316, 1000, 3162, 10_000, 31_623, 100_000];

/// Seconds of one solution: the median of 25 rounds of about 10 ms each.
fn seconds(board: &Instance) -> Result<f64, Box<dyn Error>> {
    let round = |times: u32| -> Result<Duration, Box<dyn Error>> {
        let start = Instant::now();
        for _ in 0..times {
            black_box(fewest_moves(black_box(board))?);
        }
        Ok(start.elapsed())
    };
    let mut times = 1;
    while round(times)? < Duration::from_millis(10) {
        times *= 2;
    }
    let rounds: Result<Vec<Duration>, _> = (0..25).map(|_| round(times)).collect();
    let mut rounds = rounds?;
    rounds.sort_unstable();
    Ok(rounds[rounds.len() / 2].as_secs_f64() / f64::from(times))
}

/// Slope of the straight line through the points `(ln x, ln y)` with the least sum of squares.
fn exponent(points: &[(f64, f64)]) -> f64 {
    let logs: Vec<(f64, f64)> = points.iter().map(|(x, y)| (x.ln(), y.ln())).collect();
    let count = logs.len() as f64;
    let mean_x = logs.iter().map(|(x, _)| x).sum::<f64>() / count;
    let mean_y = logs.iter().map(|(_, y)| y).sum::<f64>() / count;
    let both: f64 = logs.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    let square: f64 = logs.iter().map(|(x, _)| (x - mean_x).powi(2)).sum();
    both / square
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut kinds: Vec<(String, [Instance; CARDS.len()])> = Vec::new();
    for places in [1, 2, 4] {
        let boards = CARDS.map(|cards| boards::board(cards, places));
        kinds.push((format!("nearly in order, hooks of {places}"), boards));
    }
    for places in [1, 2, 4] {
        let boards = CARDS.map(|cards| boards::anyhow(cards, places));
        kinds.push((format!("hung anyhow, hooks of {places}"), boards));
    }
    let boards = CARDS.map(boards::vast);
    kinds.push(("nearly in order, hooks of 1000".to_owned(), boards));

    println!("| board | cards | time, ms | ns a card |");
    println!("|---|---|---|---|");
    let mut slopes = Vec::new();
    for (kind, boards) in &kinds {
        let mut points = Vec::new();
        for (cards, board) in CARDS.into_iter().zip(boards) {
            let seconds = seconds(board)?;
            let (ms, ns) = (seconds * 1e3, seconds * 1e9 / cards as f64);
            println!("| {kind} | {cards} | {ms:.4} | {ns:.1} |");
            points.push((cards as f64, seconds));
        }
        slopes.push((kind, exponent(&points)));
    }
    println!();
    for (kind, slope) in slopes {
        println!("{kind}: time grows like cards^{slope:.3}");
    }
    let slope = exponent(&CARDS.map(|cards| (cards as f64, cards as f64 * (cards as f64).ln())));
    println!("cards * log(cards): like cards^{slope:.3}");
    Ok(())
}
