//! Records changed behind the program's back: every change is found, and what stands before it
//! is read.

mod real;

use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::folder::record_in;
use super::line::MAX_LINE;
use super::samples::{folder_with, folder_written, line_ends, read, record_of, twenty};
use super::scan::End;
use super::{Access, Flaw, Notice, Problem, Record, RecordError, check};

fn contents(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let paths = fs::read_dir(dir).unwrap().map(|item| item.unwrap().path());
    let mut files: Vec<_> = paths
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect();
    files.sort();
    files
}

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
        let opened = Record::<String>::open(dir.path()).unwrap();
        let Access::Damaged { line, good, .. } = opened.access else {
            panic!("byte {at}: {:?}", opened.access);
        };
        assert_eq!(line, report.problems[0].line, "byte {at}");
        assert_eq!(good, opened.entries.len() as u64);
        assert!(
            opened
                .entries
                .iter()
                .map(|entry| &entry.event)
                .eq(&events[..good as usize])
        );
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), bad, "byte {at}");
    }
}

#[test]
fn lines_removed_moved_doubled_or_brought_in_are_found() {
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
        let mut brought_in = lines.clone();
        brought_in[at] = foreign[at];
        // A first event stands on the header alone, so a foreign one shows in the line after.
        let before = if at == 1 { 1 } else { at - 1 };
        for (bad, good) in [
            (removed, at - 1),
            (moved, at - 1),
            (doubled, at),
            (brought_in, before),
        ] {
            let (found, end) = read(&bad.concat());
            assert_eq!(found.len(), good, "line {at}");
            assert_eq!(end, End::Damaged(Flaw::Changed), "line {at}");
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
        let opened = Record::<String>::open(dir.path()).unwrap();
        assert!(
            matches!(opened.access, Access::Damaged { line: at, .. } if at == line),
            "{:?} in {bad}",
            opened.access
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
        let refused = Record::<String>::open(dir.path()).map(drop).unwrap_err();
        assert!(
            matches!(refused, RecordError::NewerFormat { .. }),
            "{refused}"
        );
        assert!(check::<String>(dir.path()).is_err());
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), header.as_bytes());
        assert!(!dir.path().join("record.end").exists());
    }
}

#[test]
fn an_unknown_event_opens_read_only_up_to_there() {
    let dir = tempfile::tempdir().unwrap();
    let mut newer = Record::<Option<u8>>::open(dir.path()).unwrap().record;
    newer.append(Timestamp::UNIX_EPOCH, &Some(1)).unwrap();
    newer.append(Timestamp::UNIX_EPOCH, &None).unwrap();
    drop(newer);
    let mut opened = Record::<u8>::open(dir.path()).unwrap();
    let Access::Damaged {
        line: 3,
        reason: Flaw::UnknownEvent { .. },
        good: 1,
    } = opened.access
    else {
        panic!("{:?}", opened.access);
    };
    assert!(opened.access.to_string().contains("newer Homehook"));
    let refused = opened.record.append(Timestamp::UNIX_EPOCH, &2).unwrap_err();
    assert!(matches!(refused, RecordError::NotWriter { .. }));
    // Nobody is kept from the record by a window that cannot write.
    assert_eq!(
        Record::<Option<u8>>::open(dir.path()).unwrap().access,
        Access::Writer
    );
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
    let opened = Record::<String>::open(dir.path()).unwrap();
    assert_eq!(
        opened.access,
        Access::Damaged {
            line: 22,
            reason: Flaw::TooLong,
            good: 20
        }
    );
    let problem = Problem {
        line: 22,
        reason: Flaw::TooLong,
    };
    assert_eq!(check::<String>(dir.path()).unwrap().problems, [problem]);
}

#[test]
fn a_missing_record_and_an_exchanged_one_are_noticed() {
    let dir = folder_written(&twenty());
    assert_eq!(check::<String>(dir.path()).unwrap().problems, []);
    let other = folder_written(&vec!["another board".to_owned(); 25]);
    fs::copy(record_in(other.path()), record_in(dir.path())).unwrap();
    let opened = Record::<String>::open(dir.path()).unwrap();
    assert_eq!(opened.notices, [Notice::Exchanged { seq: 20 }]);
    let problem = Problem {
        line: 21,
        reason: Flaw::Exchanged,
    };
    assert_eq!(check::<String>(dir.path()).unwrap().problems, [problem]);
    drop(opened);

    fs::remove_file(record_in(dir.path())).unwrap();
    let before = contents(dir.path());
    for refused in [
        Record::<String>::open(dir.path()).map(drop).unwrap_err(),
        check::<String>(dir.path()).map(drop).unwrap_err(),
    ] {
        assert!(
            matches!(refused, RecordError::Missing { recorded: 20, .. }),
            "{refused}"
        );
    }
    assert_eq!(contents(dir.path()), before);
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
        (3, Flaw::Changed),
        (9, Flaw::Changed),
        (10, Flaw::Changed),
        (15, Flaw::Shape),
        (22, Flaw::Unfinished),
    ];
    let problems = expected.map(|(line, reason)| Problem { line, reason });
    assert_eq!(report.problems, problems);
    assert_eq!((report.events, report.bytes), (16, bad.len() as u64));
}
