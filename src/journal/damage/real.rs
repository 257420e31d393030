//! A record of sixty real events, damaged in every way there is: nothing else is ever read out of it.
//!
//! `HOMEHOOK_LONG=1` tries every other value of every byte and every cut; otherwise some of each.

use std::fs;

use super::super::folder::record_in;
use super::super::life::{Life, bytes_of};
use super::super::line::Entry;
use super::super::samples::{folder_with, line_ends};
use super::super::scan::{Chain, End, scan};
use super::super::{Access, Notice, Record, RecordError};
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
fn chains(bytes: &[u8]) -> Vec<Chain> {
    let ends = line_ends(bytes);
    let mut chains = vec![Chain::start()];
    for &end in &ends {
        let mut chain = Chain::start();
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
            let mut chain = chains[line].clone();
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
/// comes of it and no byte is lost.
fn open_damaged(bad: &[u8], known: Option<&[u8]>, events: &[Entry<Event>], case: &str) {
    let dir = folder_with(bad);
    if let Some(known) = known {
        fs::write(dir.path().join("record.end"), known).unwrap();
    }
    let opened = match Record::<Event>::open(dir.path()) {
        Ok(opened) => opened,
        Err(RecordError::NewerFormat { .. }) => {
            assert_eq!(fs::read(record_in(dir.path())).unwrap(), bad, "{case}");
            return;
        }
        Err(error) => panic!("{case}: {error}"),
    };
    let good = opened.entries.len();
    assert_eq!(opened.entries, events[..good], "{case}");
    let now = fs::read(record_in(dir.path())).unwrap();
    if let Access::Damaged {
        line, good: said, ..
    } = opened.access
    {
        assert_eq!(
            (line, said),
            (
                if now == bad && line == 1 {
                    1
                } else {
                    good as u64 + 2
                },
                good as u64
            )
        );
        assert_eq!(now, bad, "{case}");
        return;
    }
    assert_eq!(opened.access, Access::Writer, "{case}");
    if now == bad && good == events.len() {
        // Not damage to the record: all is there.
        return;
    }
    let mut said = false;
    for notice in &opened.notices {
        match notice {
            Notice::Torn { kept, .. } => {
                said = true;
                let header = bytes_of(&[]);
                if let (Some(kept), true) = (kept, now != header) {
                    let kept = fs::read(kept).unwrap();
                    assert_eq!([now.clone(), kept].concat(), bad, "{case}");
                }
            }
            Notice::Shortened { found, .. } => {
                said = true;
                assert_eq!(*found, good as u64, "{case}");
            }
            Notice::Exchanged { .. } => said = true,
        }
    }
    assert!(said, "{case}: {good} events without a word");
}

#[test]
fn every_cut_is_told_and_what_it_left_of_a_line_is_set_aside() {
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
    let dir = tempfile::tempdir().unwrap();
    let mut chain = Chain::start();
    scan::<Event>(bytes, &mut chain, None).unwrap();
    let mut end = super::super::end::EndFile::open(dir.path()).unwrap();
    end.note(chain.events, chain.sum).unwrap();
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
fn a_damaged_or_missing_end_file_changes_nothing_that_is_read() {
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
    let opened = Record::<Event>::open(dir.path()).unwrap();
    assert_eq!(opened.entries, life.entries);
    assert_eq!(
        (opened.access, opened.notices),
        (Access::Writer, Vec::new())
    );
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), bytes);
}
