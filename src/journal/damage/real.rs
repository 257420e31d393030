//! A record of sixty real events, damaged in every way there is: nothing else is ever read out of it.
//!
//! `HOMEHOOK_LONG=1` tries every other value of every byte and every cut; otherwise some of each.

use std::fs;

use super::super::format::Entry;
use super::super::life::Life;
use super::super::reader::{End, LogPosition, scan};
use super::super::samples::{folder_with, line_ends, record_in, write_end_marker};
use super::super::{Damage, Log, RecordError};
use crate::stash::event::Event;

fn long() -> bool {
    std::env::var_os("HOMEHOOK_LONG").is_some_and(|value| value != "0")
}

/// Every so manieth where only some are tried.
fn every(some: usize) -> usize {
    if long() { 1 } else { some }
}

fn told(cases: usize, of: &str) {
    if long() {
        println!("{cases} {of}: each was found, and nothing else was read");
    }
}

/// The chain as it stands at the beginning of each line, and where that line begins.
fn chains(bytes: &[u8]) -> Vec<LogPosition> {
    let ends = line_ends(bytes);
    let mut chains = vec![LogPosition::start()];
    for &end in &ends {
        let mut chain = LogPosition::start();
        let found = scan::<Event>(&bytes[..end], &mut chain, None).unwrap();
        assert_eq!(found.end, End::Clean);
        chains.push(chain);
    }
    chains
}

#[test]
fn every_value_of_every_byte_is_found_in_its_line() {
    let bytes = Life::sixty().bytes();
    let ends = line_ends(&bytes);
    let chains = chains(&bytes);
    let mut cases = 0;
    for at in (0..bytes.len()).step_by(every(13)) {
        let line = ends.partition_point(|&end| end <= at);
        let start = line.checked_sub(1).map_or(0, |before| ends[before]);
        for change in (1..=255).step_by(every(37)) {
            // The lines before are the same bytes, so reading begins where they end.
            let mut bad = bytes[start..].to_vec();
            bad[at - start] ^= change;
            let mut chain = chains[line];
            let found = scan::<Event>(&bad[..], &mut chain, None).unwrap();
            let case = format!("byte {at} changed by {change}");
            assert!(found.entries.is_empty(), "{case}");
            match found.end {
                End::Damaged(_) => {}
                End::Newer(_) => assert_eq!(line, 0, "{case}"),
                // The last line break, changed as a crash could have: the line is set aside.
                End::Torn(_) => assert_eq!(at + 1, bytes.len(), "{case}"),
                End::Clean => panic!("{case} was not found"),
            }
            cases += 1;
        }
    }
    told(cases, "changed bytes");
}

/// Opens a damaged record as a person would, and checks that nothing but the `events` it begins with
/// comes of it, that it says so, and that an append changes no byte of it.
fn open_damaged(bad: &[u8], known: Option<&[u8]>, events: &[Entry<Event>], case: &str) {
    let dir = folder_with(bad);
    if let Some(known) = known {
        fs::write(dir.path().join("record.end"), known).unwrap();
    }
    let (mut log, loaded) = match Log::<Event>::open(dir.path()) {
        Ok(opened) => opened,
        Err(RecordError::NewerFormat { .. }) => return,
        Err(error) => panic!("{case}: {error:?}"),
    };
    let good = loaded.entries.len();
    assert_eq!(loaded.entries, events[..good], "{case}");
    match log.damage() {
        Some(&Damage::Line { line, good: n, .. }) => {
            let expected = if good == 0 && line == 1 {
                1
            } else {
                good as u64 + 2
            };
            assert_eq!((line, n), (expected, good as u64), "{case}");
        }
        Some(_) => {}
        None => panic!("{case}: {good} events without a word"),
    }
    log.hold(std::time::Duration::ZERO).unwrap();
    let refused = log.append(jiff::Timestamp::UNIX_EPOCH, &events[0].event);
    assert!(matches!(refused, Err(RecordError::ReadOnly(_))), "{case}");
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), bad, "{case}");
}

#[test]
fn every_cut_is_told_and_nothing_is_written_over_it() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let known = known_end(&bytes);
    let ends = line_ends(&bytes);
    let mut cases = 0;
    let some = (0..bytes.len()).step_by(every(499));
    // The cuts at which nothing is left to see in the record itself.
    let mut cuts: Vec<usize> = some.chain(ends[..60].iter().copied()).collect();
    cuts.sort_unstable();
    cuts.dedup();
    for cut in cuts {
        open_damaged(
            &bytes[..cut],
            Some(&known),
            &life.entries,
            &format!("cut at {cut}"),
        );
        cases += 1;
    }
    told(cases, "cuts");
}

/// What stands in `record.end` after these events.
fn known_end(bytes: &[u8]) -> Vec<u8> {
    let dir = folder_with(bytes);
    write_end_marker(dir.path());
    fs::read(dir.path().join("record.end")).unwrap()
}

#[test]
fn lines_and_blocks_and_whole_records_in_the_wrong_place_are_told() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let known = known_end(&bytes);
    let lines: Vec<&[u8]> = bytes.split_inclusive(|&byte| byte == b'\n').collect();
    let mut other = Life::begun();
    (0..40).for_each(|n| other.step(n, u16::from(n) * 11));
    let text = String::from_utf8(bytes.clone()).unwrap();
    let mut bad: Vec<(String, Vec<u8>)> = vec![
        (
            "another record after it".into(),
            [bytes.clone(), other.bytes()].concat(),
        ),
        (
            "itself after it".into(),
            [bytes.clone(), bytes.clone()].concat(),
        ),
        (
            "another record before it".into(),
            [other.bytes(), bytes.clone()].concat(),
        ),
        (
            "line ends of another system".into(),
            text.replace('\n', "\r\n").into_bytes(),
        ),
        (
            "a byte order mark".into(),
            format!("\u{feff}{text}").into_bytes(),
        ),
        (
            "an empty line after it".into(),
            format!("{text}\n").into_bytes(),
        ),
        (
            "no last line end".into(),
            text.trim_end().as_bytes().to_vec(),
        ),
    ];
    for at in (0..lines.len()).step_by(every(4)) {
        for to in (at + 1..lines.len()).step_by(every(9)) {
            let mut swapped = lines.clone();
            swapped.swap(at, to);
            bad.push((format!("lines {at} and {to} swapped"), swapped.concat()));
        }
        let mut doubled = lines.clone();
        doubled.insert(at, lines[at]);
        let mut removed = lines.clone();
        removed.remove(at);
        bad.push((format!("line {at} doubled"), doubled.concat()));
        bad.push((format!("line {at} removed"), removed.concat()));
    }
    for size in [1, 16, 512, 4096] {
        for from in (0..bytes.len()).step_by(if long() { size.min(64) } else { 997 }) {
            let mut holed = bytes.clone();
            let to = (from + size).min(bytes.len());
            holed[from..to].fill(0);
            bad.push((format!("{size} NUL bytes from {from}"), holed));
        }
    }
    for (case, bad) in &bad {
        if *bad == bytes {
            continue;
        }
        // Another record in front is read as far as it goes, and then damaged.
        let events = match case.as_str() {
            "another record before it" => &other.entries,
            _ => &life.entries,
        };
        open_damaged(bad, Some(&known), events, case);
    }
    told(
        bad.len(),
        "lines moved, doubled or removed, holes, and text changes",
    );
}

#[test]
fn a_damaged_marker_is_damage_and_everything_is_still_read() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let known = known_end(&bytes);
    let mut cases = 0;
    for at in (0..known.len()).step_by(every(7)) {
        for change in (1..=255).step_by(every(101)) {
            let mut bad = known.clone();
            bad[at] ^= change;
            open_whole(&bytes, Some(&bad), &life);
            cases += 1;
        }
        open_whole(&bytes, Some(&known[..at]), &life);
    }
    open_whole(&bytes, None, &life);
    told(cases, "changed bytes of record.end");
}

fn open_whole(bytes: &[u8], known: Option<&[u8]>, life: &Life) {
    let dir = folder_with(bytes);
    if let Some(known) = known {
        fs::write(dir.path().join("record.end"), known).unwrap();
    }
    let (log, loaded) = Log::<Event>::open(dir.path()).unwrap();
    assert_eq!(loaded.entries, life.entries);
    let found = life.entries.len() as u64;
    let damage = known.map(|_| Damage::Marker { found });
    assert_eq!(log.damage(), damage.as_ref());
}
