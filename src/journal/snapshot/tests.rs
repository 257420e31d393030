use std::time::Duration;

use proptest::prelude::*;

use super::super::folder::record_in;
use super::super::keeper::Keeper;
use super::super::life::{Life, bytes_of};
use super::super::samples::{folder_with, line_ends};
use super::super::{Access, Notice, Record};
use super::*;

/// A folder with the record of a life, and a snapshot that was taken after so many of its events.
fn taken_after(life: &Life, events: usize) -> tempfile::TempDir {
    let dir = folder_with(&bytes_of(&life.entries[..events]));
    let (keeper, _) = Keeper::open_whole(dir.path()).unwrap();
    assert!(keeper.is_writable());
    let mark = Record::<Event>::open(dir.path()).unwrap().record.mark();
    take(dir.path(), &mark, keeper.state(), keeper.history()).unwrap();
    fs::write(record_in(dir.path()), life.bytes()).unwrap();
    dir
}

/// Opens with and without the snapshot; they must not differ in anything.
fn opened_both_ways(dir: &Path) -> (Keeper, Vec<Notice>) {
    let (whole, notices) = Keeper::open_whole(dir).unwrap();
    assert!(whole.agrees_with_snapshot().unwrap());
    let (access, misfit) = (whole.access().clone(), whole.misfit().cloned());
    let (state, history, events) = (
        whole.state().clone(),
        whole.history().clone(),
        whole.events(),
    );
    drop(whole);
    let (keeper, told) = Keeper::open(dir, Duration::ZERO).unwrap();
    assert_eq!(keeper.state(), &state);
    assert_eq!(keeper.state().index(), state.index());
    assert_eq!(keeper.history(), &history);
    assert_eq!((keeper.access(), keeper.events()), (&access, events));
    assert_eq!((keeper.misfit().cloned(), &told), (misfit, &notices));
    assert_eq!(keeper.broken_laws(), []);
    (keeper, told)
}

/// The number of events that are read when the record is opened.
fn read_anew(dir: &Path) -> usize {
    let snapshot = Snapshot::read(dir).unwrap();
    let wanted = snapshot.wanted();
    let resume = super::super::Resume {
        mark: &snapshot.mark,
        wanted: &wanted,
    };
    let opened = Record::<Event>::resume(dir, Duration::ZERO, Some(resume)).unwrap();
    opened.entries.len()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(
        ProptestConfig::default().cases.min(10_000) / 4
    ))]
    /// Whatever was done before and after it was taken.
    #[test]
    fn a_stash_is_the_same_with_a_snapshot(
        steps in prop::collection::vec((any::<u8>(), any::<u16>()), 1..60),
        part in 0.0..=1.0_f64,
    ) {
        let mut life = Life::begun();
        for (kind, number) in steps {
            life.step(kind, number);
        }
        let events = (life.entries.len() as f64 * part) as usize;
        let dir = taken_after(&life, events);
        prop_assert_eq!(read_anew(dir.path()), life.entries.len() - events);
        let (mut keeper, notices) = opened_both_ways(dir.path());
        prop_assert_eq!(notices, []);
        prop_assert_eq!(keeper.state(), &life.state);
        // Back to the beginning, through events from before and after the snapshot.
        let mut back = 0;
        while keeper.undo(crate::stash::testing::at(1)).is_ok() {
            back += 1;
        }
        prop_assert_eq!(keeper.state(), &State::default(), "after {} undone", back);
    }
}

#[test]
fn a_snapshot_with_any_byte_changed_or_cut_off_counts_as_none() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let path = path_in(dir.path());
    let good = fs::read(&path).unwrap();
    for at in (0..good.len()).step_by(17) {
        let mut bad = good.clone();
        bad[at] ^= 1;
        fs::write(&path, &bad).unwrap();
        assert!(Snapshot::read(dir.path()).is_none(), "byte {at}");
        fs::write(&path, &good[..at]).unwrap();
        assert!(Snapshot::read(dir.path()).is_none(), "cut at {at}");
    }
    assert_eq!(opened_both_ways(dir.path()).0.state(), &life.state);
    fs::remove_file(&path).unwrap();
    assert_eq!(opened_both_ways(dir.path()).0.state(), &life.state);
}

#[test]
fn a_snapshot_of_another_version_or_record_counts_as_none() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let text = fs::read_to_string(path_in(dir.path())).unwrap();
    for (from, to) in [
        ("{\"snapshot\":1,", "{\"snapshot\":2,"),
        (env!("CARGO_PKG_VERSION"), "99.0.0"),
    ] {
        let mut line = text.replacen(from, to, 1).into_bytes();
        let body = line.len() - ",\"sum\":\"0123456789abcdef\"}\n".len();
        line.truncate(body);
        line::seal(None, &mut line);
        fs::write(path_in(dir.path()), &line).unwrap();
        assert!(Snapshot::read(dir.path()).is_none(), "{to}");
    }
    // The record is another one, as after a restore, of which the snapshot knows nothing.
    let dir = taken_after(&life, 40);
    let mut other = Life::begun();
    (0..80).for_each(|n| other.step(n, u16::from(n) * 11));
    assert!(other.entries.len() > 40);
    fs::write(record_in(dir.path()), other.bytes()).unwrap();
    assert_eq!(opened_both_ways(dir.path()).0.state(), &other.state);
    // Or an older one that has not come so far.
    fs::write(record_in(dir.path()), bytes_of(&life.entries[..20])).unwrap();
    let (keeper, _) = opened_both_ways(dir.path());
    assert_eq!(keeper.events(), 20);
}

/// With a snapshot nothing that is wrong with the record goes unseen, also before it.
#[test]
fn damage_before_a_snapshot_is_found_as_without_one() {
    let life = Life::sixty();
    let bytes = life.bytes();
    for at in (0..bytes.len()).step_by(311) {
        let dir = taken_after(&life, 40);
        let mut bad = bytes.clone();
        bad[at] ^= 0x15;
        fs::write(record_in(dir.path()), &bad).unwrap();
        let (keeper, _) = opened_both_ways(dir.path());
        let line = 1 + bad[..at].iter().filter(|&&byte| byte == b'\n').count() as u64;
        assert!(
            matches!(keeper.access(), Access::Damaged { line: told, .. } if told.abs_diff(line) <= 1),
            "byte {at} in line {line}: {:?}",
            keeper.access()
        );
    }
    for cut in line_ends(&bytes).into_iter().flat_map(|end| [end, end - 9]) {
        let dir = taken_after(&life, 40);
        fs::write(record_in(dir.path()), &bytes[..cut]).unwrap();
        let (whole, told) = Keeper::open_whole(dir.path()).unwrap();
        let (state, access) = (whole.state().clone(), whole.access().clone());
        drop(whole);
        fs::write(record_in(dir.path()), &bytes[..cut]).unwrap();
        let (keeper, notices) = Keeper::open(dir.path(), Duration::ZERO).unwrap();
        assert_eq!(
            (keeper.state(), keeper.access()),
            (&state, &access),
            "cut at {cut}"
        );
        assert_eq!(notices.len(), told.len(), "cut at {cut}");
    }
}

#[test]
fn a_snapshot_is_taken_by_the_writer_of_a_record_that_has_grown() {
    let life = Life::sixty();
    let dir = folder_with(&life.bytes());
    drop(Keeper::open(dir.path(), Duration::ZERO).unwrap());
    assert!(!path_in(dir.path()).exists(), "too short to be worth it");
    // Pinned and unpinned until it is long.
    let mut long = Life::begun();
    let mut bytes = 0;
    for n in 0_u16.. {
        if bytes > WORTH as usize {
            break;
        }
        long.step(if n % 2 == 0 { 6 } else { 7 }, 4);
        if n % 100 == 0 {
            bytes = long.bytes().len();
        }
    }
    let dir = folder_with(&long.bytes());
    let (first, _) = Keeper::open(dir.path(), Duration::ZERO).unwrap();
    let snapshot = Snapshot::read(dir.path()).unwrap();
    assert_eq!(snapshot.mark.events, long.entries.len() as u64);
    assert_eq!(&snapshot.state, first.state());
    // Who reads along takes none.
    fs::remove_file(path_in(dir.path())).unwrap();
    drop(Keeper::open(dir.path(), Duration::ZERO).unwrap());
    assert!(!path_in(dir.path()).exists());
    drop(first);
    drop(Keeper::open(dir.path(), Duration::ZERO).unwrap());
    let made = fs::read(path_in(dir.path())).unwrap();
    assert_eq!(read_anew(dir.path()), 0);
    opened_both_ways(dir.path());
    assert_eq!(fs::read(path_in(dir.path())).unwrap(), made);
}

#[test]
fn a_snapshot_that_lies_is_told() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let (whole, _) = Keeper::open_whole(dir.path()).unwrap();
    assert!(whole.agrees_with_snapshot().unwrap());
    let mark = Snapshot::read(dir.path()).unwrap().mark;
    let other = Life::begun();
    take(dir.path(), &mark, &other.state, &History::default()).unwrap();
    assert!(!whole.agrees_with_snapshot().unwrap());
}
