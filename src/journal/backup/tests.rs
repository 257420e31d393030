use std::fs;

use jiff::ToSpan;
use jiff::civil::date;

use super::*;
use crate::journal::life::Life;
use crate::journal::restore::{self, Copy};
use crate::journal::samples::{folder_with, line_ends, record_in};
use crate::journal::store::Store;
use crate::stash::command::hold;
use crate::stash::testing::at;

fn backups_in(dir: &Path) -> PathBuf {
    dir.join(BACKUPS)
}

const TODAY: Date = date(2026, 11, 25);

fn open(dir: &Path) -> Store {
    Store::open(dir).unwrap().0
}

fn names(dir: &Path) -> Vec<String> {
    let there = fs::read_dir(backups_in(dir)).unwrap();
    let mut names: Vec<_> = there
        .map(|file| file.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_backup_is_made_once_a_day_of_a_record_with_events() {
    let empty = tempfile::tempdir().unwrap();
    assert!(open(empty.path()).backup_due(TODAY).is_none());

    let life = Life::begun();
    let dir = folder_with(&life.bytes());
    let mut writer = open(dir.path());
    let due = writer.backup_due(TODAY).unwrap();
    // What is added while it is being made is not in it.
    let card = life.state.cards().next().unwrap().card.id;
    let event = hold::hold(writer.state(), &[card]).unwrap();
    writer.commit(at(9), &event).unwrap();
    let made = due.make().unwrap();
    assert_eq!(fs::read(&made.path).unwrap(), life.bytes());
    assert_eq!(names(dir.path()), ["record-2026-11-25.jsonl"]);
    assert_eq!(list(dir.path()), [made]);
    assert!(writer.backup_due(TODAY).is_none());
    assert!(writer.backup_due(TODAY.tomorrow().unwrap()).is_some());
}

#[test]
fn no_backup_is_made_of_a_record_that_does_not_verify_or_was_cut_short() {
    let bytes = Life::sixty().bytes();
    let ends = line_ends(&bytes);
    let mut bad = bytes.clone();
    bad[ends[7] + 12] ^= 4;
    assert!(open(folder_with(&bad).path()).backup_due(TODAY).is_none());

    let dir = folder_with(&bytes);
    let mut store = open(dir.path());
    let undone = store.undo(at(9));
    undone.or_else(|_| store.redo(at(9))).unwrap();
    drop(store);
    fs::write(record_in(dir.path()), &bytes[..ends[30]]).unwrap();
    assert!(open(dir.path()).backup_due(TODAY).is_none());
    // One that was changed meanwhile is not what had been verified.
    let dir = folder_with(&bytes);
    let due = open(dir.path()).backup_due(TODAY).unwrap();
    fs::write(record_in(dir.path()), &bad).unwrap();
    assert!(due.make().is_err());
    assert_eq!(names(dir.path()), [""; 0]);
}

#[test]
fn a_backup_that_fails_leaves_the_older_ones_and_no_half_one() {
    let dir = folder_with(&Life::begun().bytes());
    fs::write(backups_in(dir.path()), "a file in its place").unwrap();
    let store = open(dir.path());
    let error = store.backup_due(TODAY).unwrap().make().unwrap_err();
    assert!(matches!(error.reason, NoBackup::Io(_)), "{error:?}");
    assert_eq!(error.path, backups_in(dir.path()));
    fs::remove_file(backups_in(dir.path())).unwrap();
    let due = store.backup_due(TODAY).unwrap();
    fs::create_dir(backups_in(dir.path())).unwrap();
    fs::write(
        backups_in(dir.path()).join("record-2026-11-25.jsonl"),
        "mine",
    )
    .unwrap();
    // What is there already stays.
    due.make().unwrap();
    let there = fs::read(path_of(dir.path(), TODAY)).unwrap();
    assert_eq!((names(dir.path()).len(), &there[..]), (1, &b"mine"[..]));
}

#[test]
fn old_backups_go_and_files_of_other_names_stay() {
    let dir = folder_with(&Life::begun().bytes());
    let first = TODAY - 30.days();
    for n in 0..30 {
        let store = open(dir.path());
        store.backup_due(first + n.days()).unwrap().make().unwrap();
    }
    for other in [
        "notes.txt",
        "record-2020-01-01.jsonl.old",
        "record-20200101.jsonl",
    ] {
        fs::write(backups_in(dir.path()).join(other), "").unwrap();
    }
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    let days: Vec<Date> = (0..=30).map(|n| first + n.days()).collect();
    let staying: Vec<Date> = staying(&days, TODAY).into_iter().collect();
    let there: Vec<Date> = list(dir.path()).iter().map(|backup| backup.day).collect();
    assert_eq!(there, staying);
    assert_eq!(names(dir.path()).len(), staying.len() + 3);
    for backup in list(dir.path()) {
        assert_eq!(
            restore::verify(dir.path(), &Copy::Backup(backup.day)).unwrap(),
            Ok(2)
        );
    }
}

#[test]
fn what_a_crash_left_of_a_copy_goes_when_it_is_a_day_old() {
    let dir = folder_with(&Life::begun().bytes());
    let writer = open(dir.path());
    fs::create_dir(backups_in(dir.path())).unwrap();
    let ago = |hours: u64| std::time::SystemTime::now() - Duration::from_secs(hours * 3_600);
    for (name, hours) in [
        ("record-aB3xYz.new", 25),
        ("record-another.new", 23),
        ("mine.new", 99),
        ("record-2026-11-24.jsonl", 99),
    ] {
        let file = fs::File::create(backups_in(dir.path()).join(name)).unwrap();
        file.set_modified(ago(hours)).unwrap();
    }
    writer.backup_due(TODAY).unwrap().make().unwrap();
    assert_eq!(
        names(dir.path()),
        [
            "mine.new",
            "record-2026-11-24.jsonl",
            "record-2026-11-25.jsonl",
            "record-another.new"
        ]
    );
}

#[cfg(unix)]
#[test]
fn backups_have_the_records_mode_and_are_not_put_behind_a_link() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let dir = folder_with(&Life::begun().bytes());
    for (day, mode) in [(TODAY, 0o600), (TODAY.tomorrow().unwrap(), 0o660)] {
        fs::set_permissions(record_in(dir.path()), fs::Permissions::from_mode(mode)).unwrap();
        let made = open(dir.path()).backup_due(day).unwrap().make().unwrap();
        let made = fs::metadata(made.path).unwrap().permissions();
        assert_eq!(made.mode() & 0o777, mode);
    }
    let elsewhere = tempfile::tempdir().unwrap();
    let dir = folder_with(&Life::begun().bytes());
    symlink(elsewhere.path(), backups_in(dir.path())).unwrap();
    assert!(open(dir.path()).backup_due(TODAY).unwrap().make().is_err());
    assert_eq!(list(dir.path()), []);
    assert_eq!(fs::read_dir(elsewhere.path()).unwrap().count(), 0);
}

#[test]
fn a_clock_that_runs_ahead_costs_few_of_the_older_backups() {
    let dir = folder_with(&Life::begun().bytes());
    for n in 0..20 {
        let day = TODAY - (n * 13).days();
        open(dir.path()).backup_due(day).unwrap().make().unwrap();
    }
    let before = list(dir.path());
    let ahead = TODAY + 730.days();
    open(dir.path()).backup_due(ahead).unwrap().make().unwrap();
    let after = list(dir.path());
    assert_eq!(after.len(), before.len() + 1 - MOST_THINNED);
    assert_eq!(after[after.len() - 2], before[before.len() - 1]);
}
