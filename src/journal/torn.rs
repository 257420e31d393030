//! Records that a crash cut short: the good events are kept, and what is left is set aside.

use std::fs;
use std::io;

use jiff::Timestamp;
use proptest::prelude::*;

use super::folder::record_in;
use super::samples::{folder_with, folder_written, line_ends, read, record_of, twenty};
use super::scan::{Chain, End, scan};
use super::{Access, Notice, Record, check};

#[test]
fn a_record_cut_anywhere_keeps_its_good_events_and_can_be_gone_on_with() {
    let events = twenty()[..2].to_vec();
    let written = folder_written(&events);
    let bytes = fs::read(record_in(written.path())).unwrap();
    let known_end = fs::read(written.path().join("record.end")).unwrap();
    let ends = line_ends(&bytes);
    for cut in 0..bytes.len() {
        let good = ends.partition_point(|&end| end <= cut).saturating_sub(1);
        let dir = folder_with(&bytes[..cut]);
        fs::write(dir.path().join("record.end"), &known_end).unwrap();
        assert!(
            !check::<String>(dir.path()).unwrap().problems.is_empty(),
            "cut {cut}"
        );

        let mut opened = Record::<String>::open(dir.path()).unwrap();
        assert_eq!(opened.access, Access::Writer, "cut {cut}");
        assert!(
            opened
                .entries
                .iter()
                .map(|entry| &entry.event)
                .eq(&events[..good])
        );
        let shortened = Notice::Shortened {
            recorded: 2,
            found: good as u64,
        };
        assert_eq!(opened.notices.last(), Some(&shortened), "cut {cut}");
        let start = ends.iter().rfind(|&&end| end <= cut).copied().unwrap_or(0);
        if let Some(Notice::Torn {
            bytes: length,
            kept,
            ..
        }) = opened.notices.first()
        {
            assert_eq!(*length, (cut - start) as u64);
            let piece = kept
                .as_ref()
                .map(|path| fs::read(path).unwrap())
                .unwrap_or_default();
            assert_eq!(piece, bytes[start..cut], "cut {cut}");
        } else {
            assert!(ends.contains(&cut), "cut {cut} told of no torn line");
        }

        let seq = opened
            .record
            .append(Timestamp::UNIX_EPOCH, &"after".to_owned())
            .unwrap();
        assert_eq!(seq, good as u64 + 1);
        drop(opened);
        let again = Record::<String>::open(dir.path()).unwrap();
        assert_eq!(
            (again.entries.len(), again.notices),
            (good + 1, vec![]),
            "cut {cut}"
        );
    }
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
        let found = scan::<String>(growing, &mut Chain::start(), None).unwrap();
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
