//! Time to find a colour, compared with a plain scan of the same cards for the same text.
#![allow(clippy::unwrap_used, missing_docs)]

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use homehook::engine::colour::{difference_in_lab, lab, nearest};
use homehook::stash::projects::supply::SHOWN;
use homehook::stash::state::State;

mod stashes;

/// The texts to search for, and what they are.
const ASKED: [(&str, &str); 7] = [
    ("a number", "417"),
    ("a digit", "4"),
    ("range and number", "meadow 417"),
    ("a name", "misty heather"),
    ("the beginning of words", "he mi"),
    ("a slip", "mitsy heahter"),
    ("nothing like that", "zanzibar"),
];

/// The cards with a text anywhere in their number or name, ignoring case: the simplest possible
/// search.
fn plain_scan(state: &State, text: &str) -> usize {
    let text = text.to_lowercase();
    let has = |part: &str| part.to_lowercase().contains(&text);
    let cards = state.cards();
    cards
        .filter(|kept| has(kept.card.number.as_str()) || has(kept.card.name.as_str()))
        .count()
}

fn finding(c: &mut Criterion) {
    for cards in [500, 10_000, 100_000] {
        let state = stashes::tray(cards);
        let mut group = c.benchmark_group(format!("find among {cards} cards"));
        for (what, text) in ASKED {
            group.bench_function(BenchmarkId::new(what, "find"), |b| {
                b.iter(|| black_box(state.find(black_box(text))));
            });
            group.bench_function(BenchmarkId::new(what, "plain scan"), |b| {
                b.iter(|| plain_scan(&state, black_box(text)));
            });
        }
        // The cost of finding a substitute, compared with a scan for the nearest colour by the same
        // measure.
        let wanted = stashes::colour(123);
        let coloured = || {
            let cards = state.cards();
            cards.filter_map(|kept| Some((kept.card.id, kept.card.colour?)))
        };
        group.bench_function("the nearest colour/nearest", |b| {
            b.iter(|| nearest(black_box(wanted), coloured(), SHOWN));
        });
        group.bench_function("the nearest colour/plain scan", |b| {
            b.iter(|| {
                let wanted = lab(black_box(wanted));
                let away = |colour| difference_in_lab(wanted, lab(colour));
                coloured()
                    .map(|(_, colour)| away(colour))
                    .min_by(f64::total_cmp)
            });
        });
        group.finish();
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .sample_size(20)
        .measurement_time(std::time::Duration::from_secs(1))
        .warm_up_time(std::time::Duration::from_millis(300));
    targets = finding
}
criterion_main!(benches);
