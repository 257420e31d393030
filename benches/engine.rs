//! Times of the engine, compared with a textbook method and a general solver.
//!
//! `cargo bench --bench engine`. `tools/growth` shows how the time grows with the number of cards.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod boards;
#[path = "../tests/outside/solvers/milp.rs"]
mod milp;

use std::hint::black_box;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use homehook::engine::fewest_moves::fewest_moves_least_distance;
use homehook::engine::fewest_moves::{fewest_moves, fewest_moves_weighted};
use homehook::engine::instance::Instance;
use homehook::engine::instance::Rows;
use homehook::engine::move_nothing::move_nothing;
use homehook::engine::pareto::{PlanOptions, plan_list, plans};
use homehook::engine::room::Room;
use homehook::engine::schedule::order_of_work;

use boards::{Numbers, anyhow, board, vast};

/// The textbook longest non-decreasing subsequence in O(n^2), on the numbers of free places before
/// the cards that can stay. Gives the same answer if every hook has one place.
fn textbook(board: &Instance) -> usize {
    let free = board.free().unwrap();
    let can_stay = |(rank, hook): (usize, &Option<usize>)| {
        hook.and_then(|hook| hook.checked_sub(rank))
            .filter(|&q| q as u64 <= free)
    };
    let values: Vec<usize> = board
        .cards()
        .iter()
        .enumerate()
        .filter_map(can_stay)
        .collect();
    let mut longest = vec![1; values.len()];
    for end in 0..values.len() {
        for before in 0..end {
            if values[before] <= values[end] {
                longest[end] = longest[end].max(longest[before] + 1);
            }
        }
    }
    longest.into_iter().max().unwrap_or(0)
}

fn moves(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("fewest_moves");
    for cards in [100, 316, 500, 1000, 3162, 10_000, 31_623, 100_000] {
        for places in [1, 2, 4] {
            let name = format!("engine, hooks of {places}");
            let board = board(cards, places);
            group.bench_with_input(BenchmarkId::new(name, cards), &board, |bencher, board| {
                bencher.iter(|| fewest_moves(black_box(board)));
            });
        }
    }
    for cards in [100, 500, 1000, 10_000] {
        let board = board(cards, 1);
        let hung = board.cards().iter().flatten().count();
        assert_eq!(textbook(&board), hung - fewest_moves(&board).unwrap().moved);
        group.bench_with_input(
            BenchmarkId::new("textbook, hooks of 1", cards),
            &board,
            |bencher, board| {
                bencher.iter(|| textbook(black_box(board)));
            },
        );
    }
    // Randomly hung cards, lines of places so long that values are sorted first, and efforts.
    let anyhow = anyhow(100_000, 1);
    group.bench_function("engine/100000 anyhow", |bencher| {
        bencher.iter(|| fewest_moves(black_box(&anyhow)));
    });
    let vast = vast(100_000);
    group.bench_function("engine/100000 on vast hooks", |bencher| {
        bencher.iter(|| fewest_moves(black_box(&vast)));
    });
    let mut numbers = Numbers(7);
    let effort: Vec<u32> = (0..100_000).map(|_| numbers.below(9) as u32).collect();
    group.bench_function("weighted/100000 anyhow", |bencher| {
        bencher.iter(|| fewest_moves_weighted(black_box(&anyhow), &effort));
    });
    group.finish();
}

/// The engine and a general solver on the same small boards: the fewest moves, then the least
/// distance. The solver's time includes building its program, about a third of the whole.
fn general_solver(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("general_solver");
    for cards in [40, 60] {
        let board = board(cards, 1);
        let far = |card: usize, hook| board.cards()[card].map_or(0, |now| now.abs_diff(hook));
        let moves = |card, hook| u64::from(far(card, hook) > 0);
        let then_distance = |card, hook| moves(card, hook) * 10_000 + far(card, hook) as u64;

        let homes = fewest_moves_least_distance(&board).unwrap();
        let by_solver = milp::cheapest_homes(&board, then_distance).unwrap();
        let known: u64 = (0..cards)
            .map(|card| then_distance(card, by_solver[card]))
            .sum();
        assert_eq!(homes.moved as u64 * 10_000 + homes.distance, known);

        group.bench_function(BenchmarkId::new("moves, engine", cards), |bencher| {
            bencher.iter(|| fewest_moves(black_box(&board)));
        });
        group.bench_function(BenchmarkId::new("moves, solver", cards), |bencher| {
            bencher.iter(|| milp::cheapest_homes(black_box(&board), moves));
        });
        group.bench_function(
            BenchmarkId::new("then distance, engine", cards),
            |bencher| {
                bencher.iter(|| fewest_moves_least_distance(black_box(&board)));
            },
        );
        group.bench_function(
            BenchmarkId::new("then distance, solver", cards),
            |bencher| {
                bencher.iter(|| milp::cheapest_homes(black_box(&board), then_distance));
            },
        );
    }
    group.finish();
}

fn layouts(criterion: &mut Criterion) {
    let board = board(500, 1);
    criterion.bench_function("least_distance/500 on 600", |bencher| {
        bencher.iter(|| fewest_moves_least_distance(black_box(&board)));
    });
    let mut group = criterion.benchmark_group("plans");
    group.sample_size(10);
    for cards in [500, 5000] {
        let hooks = cards * 6 / 5;
        let board = boards::board(cards, 1);
        // A range with 1.6 times as many colours, in families of about 25, on rows of 25 hooks.
        let mut numbers = Numbers(5);
        let mut possible = vec![0.0; cards + 1];
        for _ in 0..cards * 3 / 5 {
            possible[numbers.below(cards + 1)] += 1.0;
        }
        let family_start: Vec<bool> = (0..cards).map(|_| numbers.below(25) == 0).collect();
        let row_of: Vec<u32> = (0..hooks as u32).map(|hook| hook / 25).collect();
        let wishes = PlanOptions {
            room: Room {
                possible: Some(&possible),
                ..Room::default()
            },
            rows: Some(Rows {
                family_start: &family_start,
                row_of: &row_of,
            }),
            ..PlanOptions::default()
        };
        let crowd = Instance::new(vec![1; hooks], (0..cards).map(Some).collect()).unwrap();
        let on_fours = boards::board(cards, 4);
        let of_fours: Vec<u32> = (0..on_fours.capacity().len() as u32)
            .map(|hook| hook / 25)
            .collect();
        let on_fours_wishes = PlanOptions {
            rows: Some(Rows {
                family_start: &family_start,
                row_of: &of_fours,
            }),
            ..wishes
        };
        let boards = [
            ("in order", &board, wishes),
            (
                "in order, nothing known of the range",
                &board,
                PlanOptions::default(),
            ),
            ("crowded at the start", &crowd, wishes),
            ("hooks of 4", &on_fours, on_fours_wishes),
        ];
        for (name, board, wishes) in boards {
            group.bench_function(format!("{cards} on {hooks}, {name}"), |bencher| {
                bencher.iter(|| plans(black_box(board), &wishes));
            });
        }
    }
    // A full row of cards with a new one in every 19, and free hooks only at the end of the wall.
    let mut cards: Vec<_> = (0..475).map(Some).collect();
    for new in 0..25 {
        cards.insert(19 * new, None);
    }
    let board = Instance::new(vec![1; 600], cards).unwrap();
    let wishes = PlanOptions::default();
    group.bench_function("in order, 25 new of 500 on 600", |bencher| {
        bencher.iter(|| plans(black_box(&board), &wishes));
    });
    group.bench_function("all, 25 new of 500 on 600", |bencher| {
        bencher.iter(|| plan_list(black_box(&board), &wishes, &|_| true));
    });
    group.bench_function("move nothing, 25 new of 500 on 600", |bencher| {
        bencher.iter(|| move_nothing(black_box(&board)));
    });
    group.finish();
}

fn work(criterion: &mut Criterion) {
    // The most work possible: every card goes to the hook of another one.
    let mut numbers = Numbers(11);
    let from: Vec<_> = (0..500).map(Some).collect();
    let mut to = from.clone();
    for last in (1..500).rev() {
        to.swap(last, numbers.below(last));
    }
    let liftable = [true; 500];
    criterion.bench_function("order_of_work/500", |bencher| {
        bencher.iter(|| order_of_work(black_box(&[1; 500]), &from, &to, &liftable));
    });
}

fn short() -> Criterion {
    Criterion::default()
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(1))
        .sample_size(20)
}

criterion_group! { name = benches; config = short(); targets = moves, general_solver, layouts, work }
criterion_main!(benches);
