//! Times, and the power of the size that they grow with.

use std::fmt::Debug;
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Rounds, of which the shortest counts: other load on the machine only ever makes them longer.
const ROUNDS: usize = 25;
/// The minimum length of a round, so that the clock is precise enough.
const ROUND: Duration = Duration::from_millis(5);
/// No round starts after this long.
const ENOUGH: Duration = Duration::from_secs(2);

/// Seconds that a call takes: the least of several rounds, or of as many as there is time for.
pub fn seconds<T, E: Debug>(what: impl Fn() -> Result<T, E>) -> Result<f64, E> {
    let round = |times: u32| -> Result<Duration, E> {
        let start = Instant::now();
        for _ in 0..times {
            black_box(what()?);
        }
        Ok(start.elapsed())
    };
    let begun = Instant::now();
    let (mut times, mut first) = (1, round(1)?);
    while first < ROUND {
        times *= 2;
        first = round(times)?;
    }
    let (mut least, mut rounds) = (first, 1);
    while rounds < ROUNDS && begun.elapsed() < ENOUGH {
        least = least.min(round(times)?);
        rounds += 1;
    }
    Ok(least.as_secs_f64() / f64::from(times))
}

/// How the time of something grows.
pub struct Curve {
    what: String,
    of: &'static str,
    points: Vec<(f64, f64)>,
}

impl Curve {
    /// A curve without measurements; `of` is the unit of its sizes.
    pub fn new(what: impl Into<String>, of: &'static str) -> Self {
        Self {
            what: what.into(),
            of,
            points: Vec::new(),
        }
    }

    /// Adds a size and the seconds it took.
    pub fn add(&mut self, size: usize, seconds: f64) {
        self.points.push((size as f64, seconds));
    }

    /// Prints the times, and the exponent next to that of n log n for the same sizes.
    pub fn tell(&self) {
        let Self { what, of, points } = self;
        println!("{what}:");
        for (size, seconds) in points {
            let (ms, each) = (seconds * 1e3, seconds * 1e9 / size);
            println!("  {size:>9} {of}: {ms:>10.4} ms, {each:>9.1} ns each");
        }
        let sorting: Vec<_> = points.iter().map(|(n, _)| (*n, n * n.ln())).collect();
        let (power, sorting) = (exponent(points), exponent(&sorting));
        println!("  grows like {of}^{power:.2}; n log n here: {sorting:.2}\n");
    }
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
