use crate::journal::folder::Folder;
use crate::journal::format::Entry;
use crate::journal::reader::LogPosition;
use crate::stash::event::Event;
use crate::stash::history::History;
use crate::stash::state::State;
use std::fs;
use std::path::Path;

use proptest::prelude::*;

use super::{Life, bytes_of};
use super::{folder_with, line_ends, new_folder, record_in};
use crate::journal::log::Log;
use crate::journal::snapshot::*;
use crate::journal::store::Store;
use crate::journal::{Damage, Notice};
use crate::stash::testing::at;
use crate::testing::is_long;

fn path_in(dir: &Path) -> std::path::PathBuf {
    dir.join(SNAPSHOT)
}

fn snapshot_in(dir: &Path) -> Option<Snapshot> {
    Snapshot::read(&Folder::open(dir).unwrap().unwrap())
}

/// Writes some events, with a snapshot after the last of them.
fn write_with_snapshot(dir: &Path, entries: &[Entry<Event>]) {
    let (mut state, mut history) = (State::default(), History::default());
    for entry in entries {
        state.apply(&entry.event).unwrap();
        history.note(entry.seq, entry.event.clone());
    }
    write_with(dir, entries, &state, &history);
}

/// Writes some events, with a snapshot of the given state and history after the last of them.
fn write_with(dir: &Path, entries: &[Entry<Event>], state: &State, history: &History) {
    let Some((last, before)) = entries.split_last() else {
        return;
    };
    fs::write(record_in(dir), bytes_of(before)).unwrap();
    let taken = Taken::of(state, history).unwrap();
    let (mut log, _) = Log::<Event>::open(dir).unwrap();
    log.hold(std::time::Duration::ZERO).unwrap();
    log.sign_as(last.by.clone());
    let events = std::slice::from_ref(&last.event);
    let composed = log
        .compose(last.time, events, Some(taken.digest()))
        .unwrap();
    log.write(composed).unwrap();
    log.in_folder(|folder, position| taken.write(folder, position))
        .unwrap();
}

/// A folder with the record of a life, and a snapshot taken after this many of its events.
fn taken_after(life: &Life, events: usize) -> tempfile::TempDir {
    let dir = new_folder();
    write_with_snapshot(dir.path(), &life.entries[..events]);
    let (mut log, _) = Log::<Event>::open(dir.path()).unwrap();
    log.hold(std::time::Duration::ZERO).unwrap();
    for entry in &life.entries[events..] {
        log.sign_as(entry.by.clone());
        log.append(entry.time, &entry.event).unwrap();
    }
    dir
}

/// Opens with and without the snapshot; the two must not differ.
fn opened_both_ways(dir: &Path) -> (Store, Vec<Notice>) {
    let (whole, notices) = Store::open_whole(dir).unwrap();
    assert!(whole.agrees_with_snapshot().unwrap());
    let (store, told) = Store::open(dir).unwrap();
    assert_eq!(store.state(), whole.state());
    assert_eq!(store.state().index(), whole.state().index());
    assert_eq!(store.history(), whole.history());
    assert_eq!(
        (store.unsound(), store.events()),
        (whole.unsound(), whole.events())
    );
    assert_eq!(told, notices);
    assert_eq!(store.broken_laws(), []);
    (store, told)
}

/// The number of events parsed when the record is opened.
fn read_anew(dir: &Path) -> usize {
    let snapshot = snapshot_in(dir).unwrap();
    let mut log = Log::<Event>::at(dir);
    log.load(Some(snapshot.resume())).unwrap().entries.len()
}

proptest! {
    #![proptest_config(crate::testing::one_case_in(16))]
    /// Whatever came before and after the snapshot.
    #[test]
    fn a_stash_is_the_same_with_a_snapshot(
        steps in prop::collection::vec((any::<u8>(), any::<u16>()), 1..60),
        part in 0.0..=1.0_f64,
    ) {
        let mut life = Life::begun();
        for (kind, number) in steps {
            life.step(kind, number);
        }
        let events = ((life.entries.len() as f64 * part) as usize).max(1);
        let dir = taken_after(&life, events);
        prop_assert_eq!(read_anew(dir.path()), life.entries.len() - events);
        let (mut store, notices) = opened_both_ways(dir.path());
        prop_assert_eq!(notices, []);
        prop_assert_eq!(store.state(), &life.state);
        // Back to the beginning, through events from before and after the snapshot.
        let mut back = 0;
        while store.undo(at(1)).is_ok() {
            back += 1;
        }
        prop_assert_eq!(store.state(), &State::default(), "after {} undone", back);
    }
}

#[test]
fn a_snapshot_with_any_byte_changed_or_cut_off_counts_as_none() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let path = path_in(dir.path());
    let good = fs::read(&path).unwrap();
    assert_eq!(read_anew(dir.path()), 20);
    for at in (0..good.len()).step_by(if is_long() { 17 } else { 61 }) {
        let mut bad = good.clone();
        bad[at] ^= 1;
        for bytes in [&bad[..], &good[..at]] {
            fs::write(&path, bytes).unwrap();
            if snapshot_in(dir.path()).is_some() {
                assert_eq!(read_anew(dir.path()), 60, "byte {at}");
            }
        }
    }
    assert_eq!(opened_both_ways(dir.path()).0.state(), &life.state);
    fs::remove_file(&path).unwrap();
    assert_eq!(opened_both_ways(dir.path()).0.state(), &life.state);
}

/// A forged or buggy snapshot that is sound in every way but one.
#[test]
fn a_snapshot_is_trusted_only_if_the_record_holds_its_digest() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let good = snapshot_in(dir.path()).unwrap();
    let place = good.resume();
    let position = LogPosition {
        events: place.events,
        bytes: place.bytes,
        sum: place.sum,
        ..LogPosition::start()
    };
    let other = Life::begun();
    let lie = Taken::of(&other.state, &History::default()).unwrap();
    let folder = Folder::open(dir.path()).unwrap().unwrap();
    lie.write(&folder, &position).unwrap();
    assert!(snapshot_in(dir.path()).is_some());
    let (mut store, _) = opened_both_ways(dir.path());
    assert_eq!(store.state(), &life.state);
    // Nor is a change based on it.
    let undone = store.undo(at(9)).or_else(|_| store.redo(at(9)));
    undone.unwrap();
    let (store, _) = Store::open_whole(dir.path()).unwrap();
    assert_eq!((store.unsound(), store.events()), (None, 61));
}

/// Somebody may have recomputed all sums of a folder. The screen then shows the forged state, but
/// no change relies on it.
#[test]
fn a_change_relies_on_the_record_even_with_a_forged_snapshot() {
    let life = Life::sixty();
    let dir = new_folder();
    let lie = Life::begun();
    write_with(dir.path(), &life.entries, &lie.state, &History::default());
    let (mut store, _) = Store::open(dir.path()).unwrap();
    assert_eq!(store.state(), &lie.state);
    assert!(
        !Store::open_whole(dir.path())
            .unwrap()
            .0
            .agrees_with_snapshot()
            .unwrap()
    );
    assert!(
        store.hold(std::time::Duration::ZERO).unwrap(),
        "that is news"
    );
    assert_eq!(store.state(), &life.state);
    let undone = store.undo(at(9)).or_else(|_| store.redo(at(9)));
    assert_eq!(undone.unwrap(), 61);
    let (store, _) = Store::open_whole(dir.path()).unwrap();
    assert_eq!((store.unsound(), store.events()), (None, 61));
}

#[test]
fn a_snapshot_of_other_rules_or_another_record_counts_as_none() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let text = fs::read_to_string(path_in(dir.path())).unwrap();
    let other = text.replacen(RULES, "0123456789abcdef", 1);
    assert_ne!(text, other);
    fs::write(path_in(dir.path()), other).unwrap();
    assert!(snapshot_in(dir.path()).is_none());
    // Another record, unknown to the snapshot.
    let dir = taken_after(&life, 40);
    let mut other = Life::begun();
    (0..80).for_each(|n| other.step(n, u16::from(n) * 11));
    assert!(other.entries.len() > 40);
    fs::write(record_in(dir.path()), other.bytes()).unwrap();
    fs::remove_file(dir.path().join("record.end")).unwrap();
    assert_eq!(opened_both_ways(dir.path()).0.state(), &other.state);
    // Or an older one, shorter than the snapshot's.
    fs::write(record_in(dir.path()), bytes_of(&life.entries[..20])).unwrap();
    let (store, _) = opened_both_ways(dir.path());
    assert_eq!(store.events(), 20);
}

/// A snapshot hides no damage in the record, not even before it.
#[test]
fn damage_before_a_snapshot_is_found_as_without_one() {
    let life = Life::sixty();
    let dir = taken_after(&life, 40);
    let bytes = fs::read(record_in(dir.path())).unwrap();
    for at in (0..bytes.len()).step_by(if is_long() { 613 } else { 7507 }) {
        let mut bad = bytes.clone();
        bad[at] ^= 0x15;
        fs::write(record_in(dir.path()), &bad).unwrap();
        let (log, _) = Log::<Event>::open(dir.path()).unwrap();
        let line = 1 + bad[..at].iter().filter(|&&byte| byte == b'\n').count() as u64;
        assert!(
            matches!(log.damage(), Some(Damage::Line { line: told, .. }) if told.abs_diff(line) <= 1),
            "byte {at} in line {line}: {:?}",
            log.damage()
        );
        opened_both_ways(dir.path());
    }
    let ends = line_ends(&bytes).into_iter();
    let ends = ends.step_by(if is_long() { 1 } else { 7 });
    for cut in ends.flat_map(|end| [end, end - 9]) {
        fs::write(record_in(dir.path()), &bytes[..cut]).unwrap();
        opened_both_ways(dir.path());
    }
}

#[test]
fn a_change_takes_a_snapshot_once_the_record_has_grown() {
    let life = Life::sixty();
    let dir = folder_with(&life.bytes());
    let change = |store: &mut Store| {
        let undone = store.undo(at(9));
        undone.or_else(|_| store.redo(at(9))).unwrap();
    };
    change(&mut Store::open(dir.path()).unwrap().0);
    assert!(!path_in(dir.path()).exists(), "too short to be worth it");
    // Made long by reporting a card missing and found.
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
    let (mut store, _) = Store::open(dir.path()).unwrap();
    assert!(!path_in(dir.path()).exists(), "who reads takes none");
    change(&mut store);
    let made = fs::read(path_in(dir.path())).unwrap();
    assert_eq!(
        snapshot_in(dir.path()).unwrap().resume().events,
        store.events()
    );
    assert_eq!(read_anew(dir.path()), 0);
    let (mut again, _) = opened_both_ways(dir.path());
    assert_eq!(again.state(), store.state());
    // But not at every later change.
    for _ in 0..4 {
        change(&mut again);
    }
    assert_eq!(fs::read(path_in(dir.path())).unwrap(), made);
    assert_eq!(read_anew(dir.path()), 4);
    opened_both_ways(dir.path());
}
