use std::fs;
use std::time::Duration;

use jiff::ToSpan;
use jiff::civil::date;

use super::*;
use crate::journal::folder::record_in;
use crate::journal::keeper::Keeper;
use crate::journal::life::Life;
use crate::journal::restore;
use crate::journal::samples::{folder_with, line_ends};
use crate::stash::command::pin;
use crate::stash::testing::at;

const TODAY: Date = date(2026, 11, 25);

fn open(dir: &Path) -> Keeper {
    Keeper::open(dir, Duration::ZERO).unwrap().0
}

fn names(dir: &Path) -> Vec<String> {
    let there = fs::read_dir(folder_in(dir)).unwrap();
    let mut names: Vec<_> = there
        .map(|file| file.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_backup_is_made_once_a_day_by_the_writer_of_a_record_with_events() {
    let empty = tempfile::tempdir().unwrap();
    assert!(open(empty.path()).backup_due(TODAY).is_none());

    let life = Life::begun();
    let dir = folder_with(&life.bytes());
    let mut writer = open(dir.path());
    assert!(open(dir.path()).backup_due(TODAY).is_none(), "a reader");
    let due = writer.backup_due(TODAY).unwrap();
    // What is added while it is being made is not in it.
    let card = life.state.cards().next().unwrap().card.id;
    let event = pin::pin(writer.state(), &[card]).unwrap();
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
    let mut keeper = open(dir.path());
    let undone = keeper.undo(at(9));
    undone.or_else(|_| keeper.redo(at(9))).unwrap();
    drop(keeper);
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
    fs::write(folder_in(dir.path()), "a file in its place").unwrap();
    let keeper = open(dir.path());
    let error = keeper.backup_due(TODAY).unwrap().make().unwrap_err();
    assert!(
        error.to_string().contains("recorded all the same"),
        "{error}"
    );
    fs::remove_file(folder_in(dir.path())).unwrap();
    // A folder where the copy should be: all goes well up to giving it its name.
    let due = keeper.backup_due(TODAY).unwrap();
    fs::create_dir_all(path_of(dir.path(), TODAY).join("x")).unwrap();
    assert!(due.make().is_err());
    assert_eq!(names(dir.path()), ["record-2026-11-25.jsonl"]);
}

#[test]
fn old_backups_go_and_files_of_other_names_stay() {
    let dir = folder_with(&Life::begun().bytes());
    let first = TODAY - 30.days();
    for n in 0..30 {
        let keeper = open(dir.path());
        keeper.backup_due(first + n.days()).unwrap().make().unwrap();
    }
    for other in [
        "notes.txt",
        "record-2020-01-01.jsonl.old",
        "record-20200101.jsonl",
    ] {
        fs::write(folder_in(dir.path()).join(other), "").unwrap();
    }
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    let days: Vec<Date> = (0..=30).map(|n| first + n.days()).collect();
    let staying: Vec<Date> = staying(&days, TODAY).into_iter().collect();
    let there: Vec<Date> = list(dir.path()).iter().map(|backup| backup.day).collect();
    assert_eq!(there, staying);
    assert_eq!(names(dir.path()).len(), staying.len() + 3);
    for backup in list(dir.path()) {
        assert_eq!(restore::verify(&backup.path).unwrap(), Ok(2));
    }
}

#[test]
fn what_a_crash_left_of_a_copy_goes_when_it_is_a_day_old() {
    let dir = folder_with(&Life::begun().bytes());
    let writer = open(dir.path());
    fs::create_dir(folder_in(dir.path())).unwrap();
    let ago = |hours: u64| std::time::SystemTime::now() - Duration::from_secs(hours * 3_600);
    for (name, hours) in [
        ("record-aB3xYz.new", 25),
        ("record-another.new", 23),
        ("mine.new", 99),
        ("record-2026-11-24.jsonl", 99),
    ] {
        let file = fs::File::create(folder_in(dir.path()).join(name)).unwrap();
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
