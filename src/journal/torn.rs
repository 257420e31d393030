//! Records that a crash cut short: the good events are kept, and what is left is set aside.

use std::fs;
use std::io;
use std::time::Duration;

use jiff::Timestamp;
use proptest::prelude::*;

use super::reader::{End, LogPosition, scan};
use super::samples::{
    contents, folder_with, folder_written, line_ends, read, record_in, record_of, twenty,
};
use super::{Damage, Log, Notice, RecordError, check};

/// Where the line begins in which a record was cut, and how many events stand before it.
fn place(ends: &[usize], cut: usize) -> (usize, usize) {
    let whole = ends.partition_point(|&end| end <= cut);
    let start = whole.checked_sub(1).map_or(0, |last| ends[last]);
    (start, whole.saturating_sub(1))
}

#[test]
fn a_cut_of_what_was_never_acknowledged_is_set_aside_by_the_next_append() {
    let events = twenty()[..2].to_vec();
    let bytes = record_of(&events);
    let ends = line_ends(&bytes);
    for cut in 0..bytes.len() {
        let (start, good) = place(&ends, cut);
        let dir = folder_with(&bytes[..cut]);
        let before = contents(dir.path());
        let (mut log, loaded) = Log::<String>::open(dir.path()).unwrap();
        let torn = loaded
            .notices
            .iter()
            .find(|notice| matches!(notice, Notice::Torn { .. }));
        assert_eq!(torn.is_some(), cut > start, "cut {cut}");
        assert_eq!((log.damage(), loaded.entries.len()), (None, good));
        assert_eq!(
            check::<String>(dir.path()).unwrap().problems.is_empty(),
            cut == start,
            "cut {cut}"
        );
        log.hold(Duration::ZERO).unwrap();
        assert_eq!(
            contents(dir.path()),
            before,
            "reading and locking changed something"
        );
        let seq = log
            .append(Timestamp::UNIX_EPOCH, &"after".to_owned())
            .unwrap();
        assert_eq!(seq, good as u64 + 1);
        match &log.take_notices()[..] {
            [] => assert_eq!(cut, start),
            [
                Notice::Torn {
                    kept: Some(kept), ..
                },
            ] => assert_eq!(fs::read(kept).unwrap(), bytes[start..cut], "cut {cut}"),
            other => panic!("{other:?}"),
        }
        drop(log);
        let (_, loaded) = Log::<String>::open(dir.path()).unwrap();
        assert_eq!((loaded.entries.len(), loaded.notices), (good + 1, vec![]));
        assert_eq!(check::<String>(dir.path()).unwrap().problems, []);
    }
}

#[test]
fn a_cut_of_what_was_acknowledged_is_a_loss_that_nothing_writes_over() {
    let events = twenty()[..2].to_vec();
    let written = folder_written(&events);
    let bytes = fs::read(record_in(written.path())).unwrap();
    let marker = fs::read(written.path().join("record.end")).unwrap();
    let ends = line_ends(&bytes);
    for cut in 0..bytes.len() {
        let (_, good) = place(&ends, cut);
        let dir = folder_with(&bytes[..cut]);
        fs::write(dir.path().join("record.end"), &marker).unwrap();
        let before = contents(dir.path());
        let loss = Damage::Shortened {
            recorded: 2,
            found: good as u64,
        };
        for _ in 0..2 {
            let report = check::<String>(dir.path()).unwrap();
            assert_eq!(report.loss, Some(loss.clone()), "cut {cut}");
            let (mut log, loaded) = Log::<String>::open(dir.path()).unwrap();
            assert_eq!(log.damage(), Some(&loss), "cut {cut}");
            assert!(
                loaded
                    .entries
                    .iter()
                    .map(|entry| &entry.event)
                    .eq(&events[..good])
            );
            log.hold(Duration::ZERO).unwrap();
            let refused = log.append(Timestamp::UNIX_EPOCH, &"after".to_owned());
            assert!(matches!(refused, Err(RecordError::ReadOnly(_))));
            drop(log);
            assert_eq!(contents(dir.path()), before, "cut {cut}");
        }
        // A sync that brings the rest ends it.
        let (mut log, _) = Log::<String>::open(dir.path()).unwrap();
        fs::write(record_in(dir.path()), &bytes).unwrap();
        assert_eq!(log.look().unwrap(), super::News::Anew);
        log.load(None).unwrap();
        log.hold(Duration::ZERO).unwrap();
        let seq = log.append(Timestamp::UNIX_EPOCH, &"after".to_owned());
        assert_eq!(seq.unwrap(), 3);
    }
}

#[test]
fn a_nul_in_place_of_the_last_line_break_is_a_loss() {
    let dir = folder_written(&twenty());
    let mut bytes = fs::read(record_in(dir.path())).unwrap();
    *bytes.last_mut().unwrap() = 0;
    fs::write(record_in(dir.path()), &bytes).unwrap();
    let (log, _) = Log::<String>::open(dir.path()).unwrap();
    let (recorded, found) = (20, 19);
    assert_eq!(log.damage(), Some(&Damage::Shortened { recorded, found }));
}

proptest! {
    #[test]
    fn any_record_cut_at_any_byte_gives_its_good_prefix(
        events in prop::collection::vec(".{0,20}", 0..5),
        zeros in 0_usize..5000,
    ) {
        let bytes = record_of(&events);
        let ends = line_ends(&bytes);
        for cut in 0..=bytes.len() {
            let good = ends.partition_point(|&end| end <= cut).saturating_sub(1);
            let start = ends.iter().rfind(|&&end| end <= cut).copied().unwrap_or(0);
            let mut torn = bytes[..cut].to_vec();
            let (found, end) = read(&torn);
            prop_assert_eq!(&found, &events[..good]);
            let whole = cut > 0 && cut == start;
            let expected = if whole { End::Clean } else { End::Torn((cut - start) as u64) };
            prop_assert_eq!(end, expected);
            // The file's length reached the disk, but the rest of its bytes did not.
            torn.resize(cut + zeros, 0);
            let (found, end) = read(&torn);
            prop_assert_eq!(&found, &events[..good]);
            let whole = whole && zeros == 0;
            let expected = if whole { End::Clean } else { End::Torn((torn.len() - start) as u64) };
            prop_assert_eq!(end, expected);
        }
    }
}

/// A file to which a writer adds the second half of a line once the first has been read.
struct Growing<'a>(Vec<&'a [u8]>);

impl io::Read for Growing<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        // An empty part is what the end of the file reads as.
        match self.0.is_empty() {
            true => Ok(0),
            false => self.0.remove(0).read(buffer),
        }
    }
}

#[test]
fn a_line_that_grows_while_it_is_read_is_unfinished_not_damaged() {
    let bytes = record_of(&twenty()[..2]);
    let start = line_ends(&bytes)[1];
    for half in start + 1..bytes.len() {
        let growing = Growing(vec![&bytes[..half], &[], &bytes[half..], &[]]);
        let found = scan::<String>(growing, &mut LogPosition::start(), None).unwrap();
        assert_eq!(found.entries.len(), 1);
        assert_eq!(found.end, End::Torn((half - start) as u64));
    }
}

#[test]
fn sectors_never_written_are_a_tear_and_other_zeros_are_damage() {
    let mut events = twenty();
    events.push("x".repeat(3000));
    let bytes = record_of(&events);
    let start = line_ends(&bytes)[20];
    let first = start.next_multiple_of(512);
    for (from, to) in [
        (first, first + 512),
        (first + 512, first + 2048),
        (start, first + 512),
    ] {
        let mut hole = bytes.clone();
        hole[from..to].fill(0);
        assert_eq!(
            read(&hole),
            (twenty(), End::Torn((bytes.len() - start) as u64))
        );
        // With a good line after it, it cannot come from a crash.
        let mut followed = hole;
        followed.extend_from_slice(b"{}\n");
        assert!(matches!(read(&followed), (_, End::Damaged(_))));
    }
    for (from, to) in [
        (first + 1, first + 512),
        (first, first + 500),
        (first + 5, first + 6),
    ] {
        let mut bad = bytes.clone();
        bad[from..to].fill(0);
        assert!(matches!(read(&bad), (_, End::Damaged(_))), "{from}..{to}");
    }
}
