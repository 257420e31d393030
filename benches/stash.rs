//! How long it takes to open a stash of real events, beside only reading its record.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use std::path::Path;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use homehook::journal::Record;
use homehook::journal::keeper::Keeper;
use homehook::model::board::ReadingOrder;
use homehook::model::thread::Strands;
use homehook::stash::command::board::{NewBoard, new_board};
use homehook::stash::command::import::{Terms, stock};
use homehook::stash::command::{ring, thread};
use homehook::stash::event::Event;
use homehook::stash::intake::StockRow;
use jiff::Timestamp;
use sha2::{Digest, Sha256};

/// Writes a stash of 500 cards whose life has so many events: cards go out on five rings, lose a
/// strand, and come home.
fn live(dir: &Path, events: usize) {
    let (mut keeper, _) = Keeper::open(dir, Duration::ZERO).unwrap();
    let now = Timestamp::from_second(1_772_000_000).unwrap();
    let board = NewBoard {
        name: "wall".to_owned(),
        prefix: String::new(),
        rows: 20,
        columns: 30,
        places: 1,
        reading: ReadingOrder::Rows,
    };
    let up = new_board(keeper.state(), &board).unwrap();
    keeper.commit(now, &up).unwrap();
    let hooks: Vec<String> = {
        let state = keeper.state();
        state.hooks().map(|hook| state.mark(hook)).collect()
    };
    let rows: Vec<StockRow> = (0..500)
        .map(|n| StockRow {
            line: n as u64 + 2,
            range: Some("Meadow".to_owned()),
            number: (n + 1).to_string(),
            hook: Some(hooks[n].clone()),
            ..StockRow::default()
        })
        .collect();
    let list = stock(keeper.state(), &rows, Vec::new(), &Terms::default(), now).unwrap();
    keeper.commit(now, &list.event.unwrap()).unwrap();
    let cards: Vec<_> = keeper.state().cards().map(|kept| kept.card.id).collect();
    let mut written = 2;
    while written < events {
        // On a copy, so that a thousand events wait for the disk once.
        let mut ahead = keeper.state().clone();
        let mut row: Vec<Event> = Vec::with_capacity(1_000);
        while row.len() < 1_000.min(events - written) {
            let n = written + row.len();
            let (card, step) = (cards[n / 3 % cards.len()], n % 3);
            let project = format!("project {}", n / 3 % 5);
            let event = match (step, ahead.find_ring(&project)) {
                (1, Some(open)) => thread::use_thread(&ahead, Some(open), card, Strands(1)),
                (2, Some(open)) => ring::give_back(&ahead, open, &[card], now),
                _ => ring::take(&ahead, &project, &[card], now),
            };
            // A card whose thread is used up, or that is out already, has its turn later.
            let event = event
                .or_else(|_| ring::take(&ahead, &project, &[card], now))
                .or_else(|_| {
                    let open = ahead.find_ring(&project).unwrap();
                    ring::give_back_all(&ahead, open, now)
                });
            let event = event.unwrap_or_else(|wrong| panic!("event {n}: {wrong}"));
            ahead.apply(&event).unwrap();
            row.push(event);
        }
        written += row.len();
        keeper.commit_all(now, &row).unwrap();
    }
}

fn opening(c: &mut Criterion) {
    let mut group = c.benchmark_group("open a stash");
    group.sample_size(10);
    for events in [10_000, 100_000] {
        let dir = tempfile::tempdir().unwrap();
        live(dir.path(), events);
        let bytes = std::fs::metadata(dir.path().join("record.jsonl"))
            .unwrap()
            .len();
        println!("{events} events, {} bytes a line", bytes / events as u64);
        group.bench_function(BenchmarkId::new("stash", events), |b| {
            b.iter(|| {
                let (keeper, notices) = Keeper::open(dir.path(), Duration::ZERO).unwrap();
                assert_eq!((notices.len(), keeper.misfit().is_none()), (0, true));
                keeper
            });
        });
        assert!(dir.path().join("record.snapshot").exists());
        group.bench_function(
            BenchmarkId::new("stash without its snapshot", events),
            |b| {
                b.iter(|| Keeper::open_whole(dir.path()).unwrap());
            },
        );
        group.bench_function(BenchmarkId::new("bytes and checksums only", events), |b| {
            b.iter(|| Sha256::digest(std::fs::read(dir.path().join("record.jsonl")).unwrap()));
        });
        group.bench_function(BenchmarkId::new("record only", events), |b| {
            b.iter(|| {
                let opened = Record::<Event>::open(dir.path()).unwrap();
                assert_eq!(opened.entries.len(), events);
                opened.entries
            });
        });
    }
    group.finish();
}

criterion_group!(benches, opening);
criterion_main!(benches);
