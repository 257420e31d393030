//! Appends to a failing medium, compared with a plain list of acknowledged events; and records cut
//! short by a crash, whose good events are kept and whose remainder is set aside.

use std::collections::VecDeque;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use proptest::prelude::*;

use super::{
    contents, folder_with, folder_written, line_ends, new_folder, read, record_in, record_of,
    twenty, writer,
};
use crate::journal::log::LogFile;
use crate::journal::reader::{End, LogPosition, scan};
use crate::journal::{Damage, Log, News, Notice, RecordError, check};
use crate::testing::is_long;

/// The behaviour of one file operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fault {
    /// Works as usual.
    None,
    /// Fails without any effect.
    Fail,
    /// A write takes at most this many bytes; other operations work.
    Short(usize),
    /// A write takes at most this many bytes, and the next operation fails.
    ShortThenFail(usize),
    /// Interrupted by a signal, without any effect; only for writes.
    Interrupted,
}

/// The real file, with a list of faults for the next operations.
#[derive(Debug)]
pub(super) struct Faulty {
    /// Opened on first use, as it may not exist earlier.
    file: Option<fs::File>,
    path: PathBuf,
    faults: VecDeque<Fault>,
}

impl Faulty {
    pub(super) fn new(dir: &Path, faults: impl IntoIterator<Item = Fault>) -> Faulty {
        Faulty {
            file: None,
            path: record_in(dir),
            faults: faults.into_iter().collect(),
        }
    }

    fn file(&mut self) -> &mut fs::File {
        let opened = || fs::OpenOptions::new().write(true).open(&self.path).unwrap();
        self.file.get_or_insert_with(opened)
    }

    fn next(&mut self) -> io::Result<Fault> {
        match self.faults.pop_front().unwrap_or(Fault::None) {
            Fault::Fail => Err(io::ErrorKind::StorageFull.into()),
            Fault::ShortThenFail(n) => {
                self.faults.push_front(Fault::Fail);
                Ok(Fault::Short(n))
            }
            fault => Ok(fault),
        }
    }
}

impl LogFile for Faulty {
    fn write(&mut self, at: u64, bytes: &[u8]) -> io::Result<usize> {
        match self.next()? {
            Fault::Short(n) => LogFile::write(self.file(), at, &bytes[..n.min(bytes.len())]),
            Fault::Interrupted => Err(io::ErrorKind::Interrupted.into()),
            _ => LogFile::write(self.file(), at, bytes),
        }
    }

    fn sync(&mut self) -> io::Result<()> {
        // Without a power cut, syncing the real file makes no difference.
        self.next().map(drop)
    }

    fn truncate(&mut self, len: u64) -> io::Result<()> {
        self.next()?;
        self.file().truncate(len)
    }

    fn length(&mut self) -> io::Result<u64> {
        LogFile::length(self.file())
    }
}

fn append(log: &mut Log<String>, event: &str) -> Result<u64, RecordError> {
    log.append(Timestamp::UNIX_EPOCH, &event.to_owned())
}

/// The events and notices after reopening.
fn reopen(dir: &Path) -> (Vec<String>, Vec<Notice>) {
    let (log, loaded) = Log::open(dir).unwrap();
    assert_eq!(log.damage(), None);
    let entries = loaded.entries.into_iter().map(|entry| entry.event);
    (entries.collect(), loaded.notices)
}

#[test]
fn a_failed_write_leaves_the_record_unchanged_and_the_next_one_works() {
    for faults in [
        vec![Fault::Fail],
        vec![Fault::Short(0)],
        vec![Fault::ShortThenFail(9)],
        vec![Fault::Short(1), Fault::Short(50), Fault::Fail],
    ] {
        let dir = new_folder();
        let mut record = writer(dir.path());
        append(&mut record, "first").unwrap();
        let before = fs::read(record_in(dir.path())).unwrap();
        record.write_through(Faulty::new(dir.path(), faults.clone()));
        let failed = append(&mut record, "second");
        assert!(
            matches!(failed, Err(RecordError::NotSaved { .. })),
            "{faults:?}: {failed:?}"
        );
        assert_eq!(
            fs::read(record_in(dir.path())).unwrap(),
            before,
            "{faults:?}"
        );
        assert_eq!(append(&mut record, "third").unwrap(), 2);
        drop(record);
        assert_eq!(
            reopen(dir.path()),
            (vec!["first".into(), "third".into()], vec![])
        );
    }
}

#[test]
fn a_failure_that_cannot_be_undone_ends_writing() {
    for faults in [
        // Half a line, then both the rest and the cut fail.
        vec![Fault::ShortThenFail(9), Fault::Fail],
        // The cut works but doesn't reach the disk.
        vec![Fault::None, Fault::Fail, Fault::None, Fault::Fail],
    ] {
        let dir = new_folder();
        let mut record = writer(dir.path());
        append(&mut record, "first").unwrap();
        record.write_through(Faulty::new(dir.path(), faults));
        let failed = append(&mut record, "second");
        assert!(
            matches!(failed, Err(RecordError::NotUndone { .. })),
            "{failed:?}"
        );
        for _ in 0..3 {
            let refused = append(&mut record, "third");
            assert!(
                matches!(refused, Err(RecordError::InDoubt { .. })),
                "{refused:?}"
            );
        }
        drop(record);
        assert_eq!(reopen(dir.path()).0, ["first"]);
    }
}

#[test]
fn a_failed_sync_stops_the_writer() {
    let dir = new_folder();
    let mut record = writer(dir.path());
    append(&mut record, "first").unwrap();
    let before = fs::read(record_in(dir.path())).unwrap();
    // The write works, its sync fails; the cut, its sync and all later operations would work.
    record.write_through(Faulty::new(dir.path(), [Fault::None, Fault::Fail]));
    let failed = append(&mut record, "second").unwrap_err();
    assert!(
        matches!(failed, RecordError::NotSynced { .. }),
        "{failed:?}"
    );
    for _ in 0..3 {
        let refused = append(&mut record, "third").unwrap_err();
        assert!(
            matches!(refused, RecordError::InDoubt { .. }),
            "{refused:?}"
        );
    }
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), before);
    drop(record);
    let mut record = writer(dir.path());
    assert_eq!(append(&mut record, "second").unwrap(), 2);
    drop(record);
    let all = vec!["first".to_owned(), "second".to_owned()];
    assert_eq!(reopen(dir.path()), (all, vec![]));
}

#[test]
fn short_and_interrupted_writes_continue() {
    let dir = new_folder();
    let mut record = writer(dir.path());
    let faults = [
        Fault::Interrupted,
        Fault::Short(1),
        Fault::Interrupted,
        Fault::Short(3),
    ];
    record.write_through(Faulty::new(dir.path(), faults));
    append(&mut record, "first").unwrap();
    drop(record);
    assert_eq!(reopen(dir.path()), (vec!["first".into()], vec![]));
}

#[test]
fn several_events_are_written_all_or_none() {
    let row = ["second", "third", "fourth"].map(str::to_owned);
    for faults in [
        vec![Fault::Fail],
        vec![Fault::ShortThenFail(150)],
        vec![Fault::Short(100), Fault::Short(100), Fault::Fail],
    ] {
        let dir = new_folder();
        let mut record = writer(dir.path());
        append(&mut record, "first").unwrap();
        let before = fs::read(record_in(dir.path())).unwrap();
        record.write_through(Faulty::new(dir.path(), faults.clone()));
        let failed = record.append_all(Timestamp::UNIX_EPOCH, &row);
        assert!(
            matches!(failed, Err(RecordError::NotSaved { .. })),
            "{faults:?}: {failed:?}"
        );
        let after = fs::read(record_in(dir.path())).unwrap();
        assert_eq!(after, before, "{faults:?}");
        let again = record.append_all(Timestamp::UNIX_EPOCH, &row);
        assert_eq!(again.unwrap(), 4);
        assert_eq!(append(&mut record, "fifth").unwrap(), 5);
        drop(record);
        let all = ["first", "second", "third", "fourth", "fifth"];
        assert_eq!(
            reopen(dir.path()),
            (all.map(str::to_owned).to_vec(), vec![])
        );
    }
}

#[test]
fn several_events_need_only_one_sync() {
    let dir = new_folder();
    let mut record = writer(dir.path());
    // One write, one sync; any further operation would fail.
    let faults = [Fault::None, Fault::None, Fault::Fail];
    record.write_through(Faulty::new(dir.path(), faults));
    let row = ["first", "second", "third"].map(str::to_owned);
    assert_eq!(record.append_all(Timestamp::UNIX_EPOCH, &row).unwrap(), 3);
}

/// Appends five lines on a medium with these faults, then on a healthy one after reopening; checks
/// every guarantee.
fn five_lines(plan: &[Fault]) {
    let dir = new_folder();
    let mut record = writer(dir.path());
    record.write_through(Faulty::new(dir.path(), plan.iter().copied()));
    let (mut acknowledged, mut stopped, mut in_doubt) = (Vec::new(), false, None);
    for event in ["one", "two", "three", "four", "five"] {
        match append(&mut record, event) {
            Ok(seq) => {
                assert!(!stopped, "{plan:?}");
                acknowledged.push(event);
                assert_eq!(seq, acknowledged.len() as u64, "{plan:?}");
            }
            Err(error) => {
                assert_eq!(error.code(), "not_recorded", "{plan:?}");
                match error {
                    RecordError::NotSaved { .. } => assert!(!stopped, "{plan:?}"),
                    RecordError::NotSynced { .. } => stopped = true,
                    RecordError::NotUndone { .. } => (stopped, in_doubt) = (true, Some(event)),
                    RecordError::InDoubt { .. } => assert!(stopped, "{plan:?}"),
                    other => panic!("{plan:?}: {other:?}"),
                }
            }
        }
    }
    drop(record);
    let (mut record, loaded) = Log::<String>::open(dir.path()).unwrap();
    assert_eq!(record.damage(), None, "{plan:?}");
    let mut found: Vec<String> = (loaded.entries.into_iter())
        .map(|entry| entry.event)
        .collect();
    if found.len() > acknowledged.len() {
        assert_eq!(found.pop().as_deref(), in_doubt, "{plan:?}");
        acknowledged.extend(in_doubt);
        found.extend(in_doubt.map(str::to_owned));
    }
    assert_eq!(found, acknowledged, "{plan:?}");
    record.hold(std::time::Duration::ZERO).unwrap();
    let next = append(&mut record, "well again").unwrap();
    assert_eq!(next, found.len() as u64 + 1, "{plan:?}");
    assert_eq!(check::<String>(dir.path()).unwrap().problems, []);
}

#[test]
fn every_operation_fails_in_every_way_alone_and_in_pairs() {
    // Five appends are ten operations, and each failure causes at most two more.
    const OPERATIONS: usize = 14;
    let ways = [
        Fault::Fail,
        Fault::Short(0),
        Fault::Short(1),
        Fault::ShortThenFail(40),
    ];
    let mut cases = 0;
    for first in 0..OPERATIONS {
        for way in ways {
            let mut plan = vec![Fault::None; first];
            plan.push(way);
            five_lines(&plan);
            // The disk stays bad from here on.
            let bad = [plan.clone(), vec![Fault::Fail; OPERATIONS * 2]].concat();
            five_lines(&bad);
            cases += 2;
            for second in 0..OPERATIONS - first {
                // Soon after the first fault, try every kind; later, one kind after another.
                let near = second < 3 || is_long();
                let later = &ways[(first + second) % ways.len()..][..1];
                for &way in if near { &ways[..] } else { later } {
                    let mut plan = [plan.clone(), vec![Fault::None; second]].concat();
                    plan.push(way);
                    five_lines(&plan);
                    cases += 1;
                }
            }
        }
    }
    assert_eq!(cases, if is_long() { 1792 } else { 1000 });
}

fn any_fault() -> impl Strategy<Value = Fault> {
    prop_oneof![
        6 => Just(Fault::None),
        2 => Just(Fault::Fail),
        2 => (0_usize..120).prop_map(Fault::Short),
        1 => (0_usize..120).prop_map(Fault::ShortThenFail),
        1 => Just(Fault::Interrupted),
    ]
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(16))]

    #[test]
    fn acknowledged_events_survive_and_none_is_there_by_half(
        events in prop::collection::vec(".{0,40}", 1..20),
        faults in prop::collection::vec(any_fault(), 0..60),
    ) {
        let dir = new_folder();
        let mut record = writer(dir.path());
        record.write_through(Faulty::new(dir.path(), faults));
        let mut acknowledged = Vec::new();
        let mut in_doubt = None;
        let mut stopped = false;
        for event in &events {
            match append(&mut record, event) {
                Ok(seq) => {
                    prop_assert!(!stopped);
                    acknowledged.push(event.clone());
                    prop_assert_eq!(seq, acknowledged.len() as u64);
                }
                Err(RecordError::NotSaved { .. }) => {}
                Err(RecordError::NotSynced { .. }) => stopped = true,
                Err(RecordError::NotUndone { .. }) => {
                    stopped = true;
                    in_doubt = Some(event);
                }
                Err(RecordError::InDoubt { .. }) => prop_assert!(stopped),
                Err(error) => prop_assert!(false, "{}", error),
            }
        }
        drop(record);
        let (mut found, notices) = reopen(dir.path());
        let whole = found.len() as u64;
        // A line that could neither be finished nor undone may be complete, but never partial.
        if in_doubt.is_some() && found.len() > acknowledged.len() {
            let last = found.pop();
            prop_assert_eq!(last.as_ref(), in_doubt);
        }
        prop_assert_eq!(&found, &acknowledged);
        prop_assert!(notices.is_empty() || in_doubt.is_some(), "{:?}", notices);
        let mut record = writer(dir.path());
        let next = append(&mut record, "well again").unwrap();
        prop_assert_eq!(next, whole + 1);
        prop_assert!(check::<String>(dir.path()).unwrap().is_sound());
    }
}

/// The start of the line in which a record was cut, and the number of events before it.
fn place(ends: &[usize], cut: usize) -> (usize, usize) {
    let whole = ends.partition_point(|&end| end <= cut);
    let start = whole.checked_sub(1).map_or(0, |last| ends[last]);
    (start, whole.saturating_sub(1))
}

#[test]
fn an_unacknowledged_tail_is_set_aside_by_the_next_append() {
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
fn a_cut_of_acknowledged_events_is_a_loss_that_nothing_overwrites() {
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
        // A file sync that brings the rest ends the loss.
        let (mut log, _) = Log::<String>::open(dir.path()).unwrap();
        fs::write(record_in(dir.path()), &bytes).unwrap();
        assert_eq!(log.look().unwrap(), News::Anew);
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
    // Each case is cut at every byte.
    #![proptest_config(crate::testing::one_case_in(16))]

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
            // The file's length reached the disk, but its remaining bytes didn't.
            torn.resize(cut + zeros, 0);
            let (found, end) = read(&torn);
            prop_assert_eq!(&found, &events[..good]);
            let whole = whole && zeros == 0;
            let expected = if whole { End::Clean } else { End::Torn((torn.len() - start) as u64) };
            prop_assert_eq!(end, expected);
        }
    }
}

/// A file whose line gets its second half after the first has been read.
struct Growing<'a>(Vec<&'a [u8]>);

impl io::Read for Growing<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        // An empty part reads as the end of the file.
        match self.0.is_empty() {
            true => Ok(0),
            false => self.0.remove(0).read(buffer),
        }
    }
}

#[test]
fn a_line_that_grows_while_being_read_is_unfinished_not_damaged() {
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
        // With a good line after it, it can't come from a crash.
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
