//! Time to open a stash of real events, compared with only reading its record.

#![allow(clippy::unwrap_used, missing_docs)]

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use homehook::journal::Log;
use homehook::journal::store::Store;
use homehook::stash::event::Event;
use sha2::{Digest, Sha256};

mod stashes;

fn opening(c: &mut Criterion) {
    let mut group = c.benchmark_group("open a stash");
    group.sample_size(10);
    for events in [10_000, 100_000] {
        let dir = tempfile::tempdir().unwrap();
        stashes::live(dir.path(), events);
        let bytes = std::fs::metadata(dir.path().join("record.jsonl"))
            .unwrap()
            .len();
        println!("{events} events, {} bytes a line", bytes / events as u64);
        group.bench_function(BenchmarkId::new("stash", events), |b| {
            b.iter(|| {
                let (store, notices) = Store::open(dir.path()).unwrap();
                assert_eq!((notices.len(), store.misfit().is_none()), (0, true));
                store
            });
        });
        assert!(dir.path().join("record.snapshot").exists());
        group.bench_function(
            BenchmarkId::new("stash without its snapshot", events),
            |b| {
                b.iter(|| Store::open_whole(dir.path()).unwrap());
            },
        );
        group.bench_function(BenchmarkId::new("bytes and checksums only", events), |b| {
            b.iter(|| Sha256::digest(std::fs::read(dir.path().join("record.jsonl")).unwrap()));
        });
        group.bench_function(BenchmarkId::new("record only", events), |b| {
            b.iter(|| {
                let (_, loaded) = Log::<Event>::open(dir.path()).unwrap();
                assert_eq!(loaded.entries.len(), events);
                loaded.entries
            });
        });
    }
    group.finish();
}

criterion_group!(benches, opening);
criterion_main!(benches);
