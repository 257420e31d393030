//! Time to open a record, compared with only reading and parsing the same lines.
//!
//! The baseline reads the file at once and parses every line into the same values, without checking
//! checksums, as a program would that trusts its file.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use std::fs;
use std::hint::black_box;
use std::io::Write;
use std::path::Path;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use homehook::journal::{Log, check};
use homehook::model::ids::{EventId, Stamp};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

#[derive(Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum Event {
    Moved {
        card: u64,
        range: String,
        number: String,
        from: String,
        to: String,
        note: String,
    },
}

fn event(n: u64) -> Event {
    Event::Moved {
        card: n * 7919 % 500,
        range: "meadow".to_owned(),
        number: format!("{}", 100 + n % 500),
        from: format!("{}{:02}", char::from(b'A' + (n % 20) as u8), n % 30),
        to: format!("{}{:02}", char::from(b'A' + (n % 17) as u8), n % 25),
        note: "out on the ring for the second half of the border, back after that".to_owned(),
    }
}

#[derive(Deserialize)]
struct Line {
    seq: u64,
    #[serde(rename = "id")]
    _id: EventId,
    #[serde(rename = "stamp")]
    _stamp: Stamp,
    time: Timestamp,
    event: Event,
    #[serde(rename = "sum")]
    _sum: serde::de::IgnoredAny,
}

/// Writes a record in the documented format, without syncing every line.
fn write_record(dir: &Path, events: u64) -> u64 {
    let path = dir.join("record.jsonl");
    let mut bytes = b"{\"homehook\":1,\"sum\":\"60a9cdee4aa252ae\"}\n".to_vec();
    let mut sum = bytes[bytes.len() - 19..bytes.len() - 3].to_vec();
    for seq in 1..=events {
        let start = bytes.len();
        let time = Timestamp::from_second(1_772_000_000 + seq as i64).unwrap();
        let id = EventId(seq.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        let begin = format!(r#"{{"seq":{seq},"id":"{id}","stamp":{seq},"time":"{time}","event":"#);
        bytes.extend_from_slice(begin.as_bytes());
        serde_json::to_writer(&mut bytes, &event(seq)).unwrap();
        let digest = Sha256::new()
            .chain_update(&sum)
            .chain_update(&bytes[start..])
            .finalize();
        sum = digest[..8]
            .iter()
            .flat_map(|byte| format!("{byte:02x}").into_bytes())
            .collect();
        bytes.extend_from_slice(br#","sum":""#);
        bytes.extend_from_slice(&sum);
        bytes.extend_from_slice(b"\"}\n");
    }
    fs::write(path, &bytes).unwrap();
    bytes.len() as u64
}

fn opening(c: &mut Criterion) {
    let mut group = c.benchmark_group("open");
    group.sample_size(20);
    for events in [10_000_u64, 100_000] {
        let dir = tempfile::tempdir().unwrap();
        let bytes = write_record(dir.path(), events);
        println!("{events} events, {} bytes a line", bytes / events);
        assert_eq!(check::<Event>(dir.path()).unwrap().problems, []);
        group.throughput(Throughput::Elements(events));
        group.bench_function(BenchmarkId::new("record", events), |b| {
            b.iter(|| {
                let (log, loaded) = Log::<Event>::open(dir.path()).unwrap();
                assert_eq!(log.damage(), None);
                assert_eq!(loaded.entries.len() as u64, events);
                loaded.entries
            });
        });
        group.bench_function(BenchmarkId::new("check", events), |b| {
            b.iter(|| assert_eq!(check::<Event>(dir.path()).unwrap().events, events));
        });
        group.bench_function(BenchmarkId::new("parse only", events), |b| {
            b.iter(|| {
                let bytes = fs::read(dir.path().join("record.jsonl")).unwrap();
                let lines = bytes.split(|&byte| byte == b'\n').skip(1);
                let lines = lines.filter(|line| !line.is_empty());
                let entries: Vec<(u64, Timestamp, Event)> = lines
                    .map(|line| serde_json::from_slice::<Line>(line).unwrap())
                    .map(|line| (line.seq, line.time, line.event))
                    .collect();
                assert_eq!(entries.len() as u64, events);
                entries
            });
        });
    }
    group.finish();
}

fn appending(c: &mut Criterion) {
    let dir = tempfile::tempdir().unwrap();
    let (mut log, _) = Log::open(dir.path()).unwrap();
    log.hold(Duration::ZERO).unwrap();
    let mut group = c.benchmark_group("append");
    group.sample_size(20);
    group.bench_function("record", |b| {
        b.iter(|| {
            log.append(Timestamp::UNIX_EPOCH, black_box(&event(1)))
                .unwrap()
        });
    });
    // As on a screen, the lock is taken for each event.
    log.release();
    group.bench_function("lock, record, unlock", |b| {
        b.iter(|| {
            log.hold(Duration::ZERO).unwrap();
            let seq = log.append(Timestamp::UNIX_EPOCH, black_box(&event(1)));
            log.release();
            seq.unwrap()
        });
    });
    // The cost of syncing one line, whatever it contains.
    let mut file = fs::File::create(dir.path().join("plain")).unwrap();
    group.bench_function("write and sync only", |b| {
        b.iter(|| {
            file.write_all(black_box(&[b'x'; 250])).unwrap();
            file.sync_data().unwrap();
        });
    });
    group.finish();
}

criterion_group!(benches, opening, appending);
criterion_main!(benches);
