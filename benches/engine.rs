//! Times of the engine, with a textbook method beside it.
//!
//! `cargo bench --bench engine`. Boards are made from a fixed seed: one place a hook, a sixth of
//! the places free here and there, one card in twenty new and one in twenty misfiled.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::hint::black_box;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use homehook::engine::chain::{fewest_moves, fewest_moves_weighted};
use homehook::engine::distance::fewest_moves_least_distance;
use homehook::engine::instance::Instance;
use homehook::engine::plans::{Wishes, plans};
use homehook::engine::work::order_of_work;

/// A row of numbers that looks random: the SplitMix64 generator.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((bits ^ (bits >> 31)) % end as u64) as usize
    }
}

/// `cards` cards on a fifth more hooks.
fn board(cards: usize) -> Instance {
    let mut numbers = Numbers(cards as u64);
    let hooks = cards * 6 / 5;
    let mut used: Vec<usize> = (0..hooks).collect();
    while used.len() > cards {
        used.remove(numbers.below(used.len()));
    }
    let mut hung: Vec<Option<usize>> = used.into_iter().map(Some).collect();
    for _ in 0..cards / 40 {
        let (a, b) = (numbers.below(cards), numbers.below(cards));
        hung.swap(a, b);
    }
    for _ in 0..cards / 20 {
        let new = numbers.below(cards);
        hung[new] = None;
    }
    Instance::new(vec![1; hooks], hung).unwrap()
}

/// The textbook longest non-decreasing subsequence in O(n^2), on the numbers of free places before
/// the cards that can stay: the same answer where every hook has one place.
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
    for cards in [100, 500, 1000, 10_000, 100_000] {
        let board = board(cards);
        group.bench_with_input(
            BenchmarkId::new("engine", cards),
            &board,
            |bencher, board| {
                bencher.iter(|| fewest_moves(black_box(board)));
            },
        );
        if cards <= 10_000 {
            let hung = board.cards().iter().flatten().count();
            assert_eq!(textbook(&board), hung - fewest_moves(&board).unwrap().moved);
            group.bench_with_input(
                BenchmarkId::new("textbook", cards),
                &board,
                |bencher, board| {
                    bencher.iter(|| textbook(black_box(board)));
                },
            );
        }
    }
    // Cards hung anyhow, lines of places so long that values are sorted first, and weights.
    let mut numbers = Numbers(7);
    let anyhow = (0..100_000).map(|_| Some(numbers.below(120_000))).collect();
    let anyhow = Instance::new(vec![1; 120_000], anyhow).unwrap();
    group.bench_function("engine/100000 anyhow", |bencher| {
        bencher.iter(|| fewest_moves(black_box(&anyhow)));
    });
    let vast = Instance::new(vec![1000; 120_000], board(100_000).cards().to_vec()).unwrap();
    group.bench_function("engine/100000 on vast hooks", |bencher| {
        bencher.iter(|| fewest_moves(black_box(&vast)));
    });
    let weight: Vec<u32> = (0..100_000).map(|_| numbers.below(9) as u32).collect();
    group.bench_function("weighted/100000 anyhow", |bencher| {
        bencher.iter(|| fewest_moves_weighted(black_box(&anyhow), &weight));
    });
    group.finish();
}

fn layouts(criterion: &mut Criterion) {
    let board = board(500);
    criterion.bench_function("least_distance/500 on 600", |bencher| {
        bencher.iter(|| fewest_moves_least_distance(black_box(&board)));
    });
    criterion.bench_function("plans/500 on 600", |bencher| {
        bencher.iter(|| plans(black_box(&board), &Wishes::default()));
    });
    let crowd = Instance::new(vec![1; 600], (0..500).map(Some).collect()).unwrap();
    criterion.bench_function("plans/500 crowded on 600", |bencher| {
        bencher.iter(|| plans(black_box(&crowd), &Wishes::default()));
    });
    let roomy = Instance::new(vec![4; 600], board.cards().to_vec()).unwrap();
    criterion.bench_function("plans/500 on 600 hooks of 4", |bencher| {
        bencher.iter(|| plans(black_box(&roomy), &Wishes::default()));
    });
}

fn work(criterion: &mut Criterion) {
    // The most work there is: every card goes to the hook of another one.
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

criterion_group! { name = benches; config = short(); targets = moves, layouts, work }
criterion_main!(benches);
