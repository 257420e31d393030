//! Records changed behind the program's back: every change is found, and the events before it are
//! read.
//!
//! The second half damages a record of sixty real events in every way, and checks that it never
//! yields anything else. `HOMEHOOK_LONG=1` tries every other value of every byte and every cut;
//! otherwise a sample.

use std::fs;
use std::time::Duration;

use jiff::Timestamp;

use super::{
    Life, contents, folder_with, folder_written, line_ends, new_folder, read, record_in, record_of,
    twenty, write_end_marker,
};
use crate::journal::format::{Entry, MAX_LINE};
use crate::journal::reader::{End, LogPosition, scan};
use crate::journal::{Damage, LineError, Log, Problem, RecordError, check};
use crate::stash::event::Event;
use crate::testing::is_long;

#[test]
fn every_changed_byte_is_found_in_its_place() {
    let events = twenty();
    let bytes = record_of(&events);
    let ends = line_ends(&bytes);
    assert_eq!(read(&bytes), (events.clone(), End::Clean));
    for at in 0..bytes.len() {
        let good = ends.partition_point(|&end| end <= at).saturating_sub(1);
        // Flips one of the eight bits, and another bit in the next byte.
        let bits = (0..8).filter(|bit| (at + bit).is_multiple_of(every(8)));
        let flips = bits.map(|bit| bytes[at] ^ (1 << bit));
        let others = [0, b'\n', b'\r', b' ', b'"'].into_iter();
        let others = others.filter(|&other| (at + usize::from(other)).is_multiple_of(every(3)));
        for byte in flips.chain(others).filter(|&byte| byte != bytes[at]) {
            let mut bad = bytes.clone();
            bad[at] = byte;
            let (found, end) = read(&bad);
            assert_eq!(found, events[..good], "byte {at} to {byte}");
            match end {
                End::Damaged(_) => {}
                // The version itself, changed from 1 to 3, 5 or 9.
                End::Newer(_) => assert_eq!(bytes[at], b'1'),
                // The last line break changed to NUL, which a crash can cause.
                End::Torn(_) => assert_eq!((at, byte), (bytes.len() - 1, 0)),
                End::Clean => panic!("byte {at} to {byte} not found"),
            }
        }
    }
}

#[test]
fn opening_and_checking_report_every_changed_byte() {
    let events = twenty()[..6].to_vec();
    let bytes = record_of(&events);
    for at in 0..bytes.len() {
        let mut bad = bytes.clone();
        bad[at] ^= 0x15;
        let dir = folder_with(&bad);
        let report = check::<String>(dir.path()).unwrap();
        assert!(!report.problems.is_empty(), "byte {at}");
        let (log, loaded) = Log::<String>::open(dir.path()).unwrap();
        let Some(&Damage::Line { line, good, .. }) = log.damage() else {
            panic!("byte {at}: {:?}", log.damage());
        };
        assert_eq!(line, report.problems[0].line, "byte {at}");
        assert_eq!(good, loaded.entries.len() as u64);
        assert!(
            loaded
                .entries
                .iter()
                .map(|entry| &entry.event)
                .eq(&events[..good as usize])
        );
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), bad, "byte {at}");
    }
}

#[test]
fn lines_removed_moved_doubled_or_imported_are_found() {
    let bytes = record_of(&twenty());
    let lines: Vec<&[u8]> = bytes.split_inclusive(|&byte| byte == b'\n').collect();
    let foreign = record_of(&vec!["another board".to_owned(); 20]);
    let foreign: Vec<&[u8]> = foreign.split_inclusive(|&byte| byte == b'\n').collect();
    for at in 1..20 {
        let mut removed = lines.clone();
        removed.remove(at);
        let mut moved = lines.clone();
        moved.swap(at, at + 1);
        let mut doubled = lines.clone();
        doubled.insert(at, lines[at]);
        let mut imported = lines.clone();
        imported[at] = foreign[at];
        // A first event depends only on the header, so a foreign one shows in the next line.
        let before = if at == 1 { 1 } else { at - 1 };
        for (bad, good) in [
            (removed, at - 1),
            (moved, at - 1),
            (doubled, at),
            (imported, before),
        ] {
            let (found, end) = read(&bad.concat());
            assert_eq!(found.len(), good, "line {at}");
            assert_eq!(end, End::Damaged(LineError::Changed), "line {at}");
        }
    }
}

#[test]
fn changes_by_text_tools_are_found() {
    let bytes = record_of(&twenty());
    let text = String::from_utf8(bytes.clone()).unwrap();
    let reformatted = text.replacen("\"seq\":3,", "\"seq\": 3,", 1);
    for (bad, line) in [
        (text.replace('\n', "\r\n"), 1),
        (format!("\u{feff}{text}"), 1),
        (format!("{text}\n"), 22),
        (format!("{text}{{}}\n"), 22),
        (reformatted, 4),
        ("range,number\na,1\n".to_owned(), 1),
        ("a novel".to_owned(), 1),
    ] {
        let dir = folder_with(bad.as_bytes());
        let (log, _) = Log::<String>::open(dir.path()).unwrap();
        assert!(
            matches!(log.damage(), Some(Damage::Line { line: at, .. }) if *at == line),
            "{:?} in {bad}",
            log.damage()
        );
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), bad.as_bytes());
    }
}

#[test]
fn a_newer_format_is_refused_untouched() {
    for header in [
        "{\"homehook\":2}\n",
        "{\"kind\":\"new\",\"homehook\":7,\"x\":[1]}\nbinary \0",
    ] {
        let dir = folder_with(header.as_bytes());
        let refused = Log::<String>::open(dir.path()).map(drop).unwrap_err();
        assert!(
            matches!(refused, RecordError::NewerFormat { .. }),
            "{refused:?}"
        );
        assert!(check::<String>(dir.path()).is_err());
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), header.as_bytes());
        assert!(!dir.path().join("record.end").exists());
    }
}

#[test]
fn an_unknown_event_opens_read_only_up_to_there() {
    let dir = new_folder();
    let (mut newer, _) = Log::<Option<u8>>::open(dir.path()).unwrap();
    newer.hold(Duration::ZERO).unwrap();
    newer.append(Timestamp::UNIX_EPOCH, &Some(1)).unwrap();
    newer.append(Timestamp::UNIX_EPOCH, &None).unwrap();
    drop(newer);
    let (mut log, _) = Log::<u8>::open(dir.path()).unwrap();
    let Some(Damage::Line {
        line: 3,
        reason: LineError::UnknownEvent { .. },
        good: 1,
    }) = log.damage()
    else {
        panic!("{:?}", log.damage());
    };
    log.hold(Duration::ZERO).unwrap();
    let refused = log.append(Timestamp::UNIX_EPOCH, &2).unwrap_err();
    assert!(matches!(refused, RecordError::ReadOnly(_)));
}

#[test]
fn an_endless_line_is_refused_without_reading_it_whole() {
    let dir = folder_with(&record_of(&twenty()));
    let file = fs::OpenOptions::new()
        .append(true)
        .open(record_in(dir.path()))
        .unwrap();
    file.set_len(4 * MAX_LINE as u64).unwrap();
    drop(file);
    let (log, _) = Log::<String>::open(dir.path()).unwrap();
    assert_eq!(
        log.damage(),
        Some(&Damage::Line {
            line: 22,
            reason: LineError::TooLong,
            good: 20
        })
    );
    let problem = Problem {
        line: 22,
        reason: LineError::TooLong,
    };
    assert_eq!(check::<String>(dir.path()).unwrap().problems, [problem]);
}

#[test]
fn a_missing_or_exchanged_record_and_a_spoilt_marker_are_damage() {
    let dir = folder_written(&twenty());
    assert!(check::<String>(dir.path()).unwrap().is_sound());
    let good = fs::read(record_in(dir.path())).unwrap();
    let other = folder_written(&vec!["another board".to_owned(); 25]);
    fs::copy(record_in(other.path()), record_in(dir.path())).unwrap();
    let (recorded, found) = (20, 25);
    let told = |damage: Damage| {
        let before = contents(dir.path());
        let (mut log, _) = Log::<String>::open(dir.path()).unwrap();
        assert_eq!(log.damage(), Some(&damage));
        assert_eq!(check::<String>(dir.path()).unwrap().loss, Some(damage));
        log.hold(Duration::ZERO).unwrap();
        let refused = log.append(Timestamp::UNIX_EPOCH, &"no".to_owned());
        assert!(matches!(refused, Err(RecordError::ReadOnly(_))));
        assert_eq!(contents(dir.path()), before);
    };
    told(Damage::Exchanged { recorded, found });
    fs::remove_file(record_in(dir.path())).unwrap();
    told(Damage::Missing { recorded: Some(20) });
    fs::write(record_in(dir.path()), "").unwrap();
    told(Damage::Shortened { recorded, found: 0 });
    fs::write(record_in(dir.path()), good).unwrap();
    fs::write(dir.path().join("record.end"), "").unwrap();
    told(Damage::Marker { found: 20 });
    fs::remove_file(record_in(dir.path())).unwrap();
    told(Damage::Missing { recorded: None });
}

#[test]
fn a_check_lists_every_bad_line_and_changes_nothing() {
    let bytes = record_of(&twenty());
    let ends = line_ends(&bytes);
    let mut bad = bytes.clone();
    for line in [3, 9, 10] {
        bad[ends[line - 2] + 20] ^= 1;
    }
    // Line 15 has no sum left, so line 16 can only be checked on its own.
    bad[ends[14] - 2] = b')';
    bad.extend_from_slice(b"{\"seq\":21,\"ti");
    let dir = folder_with(&bad);
    let before = contents(dir.path());
    let report = check::<String>(dir.path()).unwrap();
    assert_eq!(contents(dir.path()), before);
    let expected = [
        (3, LineError::Changed),
        (9, LineError::Changed),
        (10, LineError::Changed),
        (15, LineError::Shape),
        (22, LineError::Unfinished),
    ];
    let problems = expected.map(|(line, reason)| Problem { line, reason });
    assert_eq!(report.problems, problems);
    assert_eq!((report.events, report.bytes), (16, bad.len() as u64));
}

/// The step between samples in a short run.
fn every(some: usize) -> usize {
    if is_long() { 1 } else { some }
}

fn told(cases: usize, of: &str) {
    if is_long() {
        println!("{cases} {of}: each was found, and nothing else was read");
    }
}

/// The chain at the start of each line, with that line's offset.
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
            // The previous lines are unchanged, so reading starts after them.
            let mut bad = bytes[start..].to_vec();
            bad[at - start] ^= change;
            let mut chain = chains[line];
            let found = scan::<Event>(&bad[..], &mut chain, None).unwrap();
            let case = format!("byte {at} changed by {change}");
            assert!(found.entries.is_empty(), "{case}");
            match found.end {
                End::Damaged(_) => {}
                End::Newer(_) => assert_eq!(line, 0, "{case}"),
                // The last line break, changed as a crash could: the line is set aside.
                End::Torn(_) => assert_eq!(at + 1, bytes.len(), "{case}"),
                End::Clean => panic!("{case} was not found"),
            }
            cases += 1;
        }
    }
    told(cases, "changed bytes");
}

/// Opens a damaged record as a user would, and checks that only its first `events` are read, that
/// the damage is reported, and that an append changes no byte of it.
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
fn every_cut_is_reported_and_nothing_overwrites_it() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let known = known_end(&bytes);
    let ends = line_ends(&bytes);
    let mut cases = 0;
    let some = (0..bytes.len()).step_by(every(499));
    // The cuts that leave no trace in the record itself.
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

/// The content of `record.end` after these events.
fn known_end(bytes: &[u8]) -> Vec<u8> {
    let dir = folder_with(bytes);
    write_end_marker(dir.path());
    fs::read(dir.path().join("record.end")).unwrap()
}

/// A record combined with another, or changed the way text tools do.
fn whole_in_the_wrong_place(bytes: &[u8], other: &[u8]) -> Vec<(String, Vec<u8>)> {
    let text = String::from_utf8(bytes.to_vec()).unwrap();
    vec![
        ("another record after it".into(), [bytes, other].concat()),
        ("itself after it".into(), [bytes, bytes].concat()),
        ("another record before it".into(), [other, bytes].concat()),
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
    ]
}

#[test]
fn misplaced_lines_blocks_and_whole_records_are_reported() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let known = known_end(&bytes);
    let lines: Vec<&[u8]> = bytes.split_inclusive(|&byte| byte == b'\n').collect();
    let mut other = Life::begun();
    (0..40).for_each(|n| other.step(n, u16::from(n) * 11));
    let mut bad = whole_in_the_wrong_place(&bytes, &other.bytes());
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
        for from in (0..bytes.len()).step_by(if is_long() { size.min(64) } else { 997 }) {
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
        // Another record in front is read to its end; the damage follows.
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
fn a_damaged_marker_is_damage_but_every_event_is_still_read() {
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
