//! Records changed behind the program's back: every change is found, and what stands before it
//! is read.

mod real;

use std::fs;
use std::time::Duration;

use jiff::Timestamp;

use super::format::MAX_LINE;
use super::reader::End;
use super::samples::{
    contents, folder_with, folder_written, line_ends, read, record_in, record_of, twenty,
};
use super::{Damage, LineError, Log, Problem, RecordError, check};

#[test]
fn every_changed_byte_is_found_where_it_stands() {
    let events = twenty();
    let bytes = record_of(&events);
    let ends = line_ends(&bytes);
    assert_eq!(read(&bytes), (events.clone(), End::Clean));
    for at in 0..bytes.len() {
        let good = ends.partition_point(|&end| end <= at).saturating_sub(1);
        let flips = (0..8).map(|bit| bytes[at] ^ (1 << bit));
        for byte in flips
            .chain([0, b'\n', b'\r', b' ', b'"'])
            .filter(|&byte| byte != bytes[at])
        {
            let mut bad = bytes.clone();
            bad[at] = byte;
            let (found, end) = read(&bad);
            assert_eq!(found, events[..good], "byte {at} to {byte}");
            match end {
                End::Damaged(_) => {}
                // The version itself, 1 to 3, 5 or 9.
                End::Newer(_) => assert_eq!(bytes[at], b'1'),
                // The last line break to NUL, which a crash can leave.
                End::Torn(_) => assert_eq!((at, byte), (bytes.len() - 1, 0)),
                End::Clean => panic!("byte {at} to {byte} not found"),
            }
        }
    }
}

#[test]
fn opening_and_checking_tell_of_every_changed_byte() {
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
        // A first event stands on the header alone, so a foreign one shows in the line after.
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
fn what_other_programs_do_to_text_files_is_found() {
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
    let dir = tempfile::tempdir().unwrap();
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
fn an_endless_line_is_refused_without_reading_it_in() {
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
fn a_missing_record_an_exchanged_one_and_a_spoilt_marker_are_damage() {
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
    // No sum is left in line 15, so line 16 can only be checked for itself.
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
