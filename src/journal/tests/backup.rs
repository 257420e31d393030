use jiff::civil::Date;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use jiff::ToSpan;
use jiff::civil::{Weekday, date};
use proptest::prelude::*;

use super::{Life, folder_with, line_ends, record_in};
use crate::journal::backup::*;
use crate::journal::restore::{self, Copy};
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

fn back(today: Date, days: i32) -> Date {
    today - i64::from(days).days()
}

#[test]
fn weeks_begin_on_a_monday() {
    for days in 0..800 {
        let day = back(date(2026, 11, 25), days);
        let next = week(day.tomorrow().unwrap()) - week(day);
        assert_eq!(next, i32::from(day.weekday() == Weekday::Sunday), "{day}");
    }
}

#[test]
fn two_years_of_days_leave_a_week_eight_sundays_and_the_ends_of_months() {
    let today = date(2026, 11, 25);
    let days: Vec<Date> = (0..730).map(|n| back(today, n)).collect();
    let expected = [
        // The last Sunday of each month that is more than eight weeks back.
        (2025, 11, 30),
        (2025, 12, 28),
        (2026, 1, 25),
        (2026, 2, 22),
        (2026, 3, 29),
        (2026, 4, 26),
        (2026, 5, 31),
        (2026, 6, 28),
        (2026, 7, 26),
        (2026, 8, 30),
        (2026, 9, 27),
        // Sundays, and the day that is the last of its week to be a week old.
        (2026, 10, 4),
        (2026, 10, 11),
        (2026, 10, 18),
        (2026, 10, 25),
        (2026, 11, 1),
        (2026, 11, 8),
        (2026, 11, 15),
        (2026, 11, 18),
        // The last seven days.
        (2026, 11, 19),
        (2026, 11, 20),
        (2026, 11, 21),
        (2026, 11, 22),
        (2026, 11, 23),
        (2026, 11, 24),
        (2026, 11, 25),
    ];
    let expected = expected.map(|(year, month, day)| date(year, month, day));
    let found: Vec<Date> = staying(&days, today).into_iter().collect();
    assert_eq!(found, expected);
}

/// The rule read out day by day: a day is dropped when a better one stands for it.
fn model(days: &[Date], today: Date) -> BTreeSet<Date> {
    let monday = |day: Date| {
        let mut at = day;
        while at.weekday() != Weekday::Monday {
            at = at.yesterday().unwrap();
        }
        at
    };
    let old = |day: Date| day <= back(today, DAYS);
    let last_of_week = |day: Date| {
        !days
            .iter()
            .any(|&other| old(other) && other > day && monday(other) == monday(day))
    };
    let eight_weeks = back(monday(today), 7 * WEEKS);
    let aged = |day: Date| monday(day) < eight_weeks;
    let same_month = |a: Date, b: Date| (a.year(), a.month()) == (b.year(), b.month());
    let last_of_month = |day: Date| {
        !days.iter().any(|&other| {
            old(other)
                && aged(other)
                && last_of_week(other)
                && other > day
                && same_month(other, day)
        })
    };
    let oldest = today.first_of_month() - i64::from(MONTHS).months();
    days.iter()
        .copied()
        .filter(|&day| {
            !old(day)
                || (last_of_week(day) && (!aged(day) || (last_of_month(day) && day >= oldest)))
        })
        .collect()
}

/// So many times fewer cases, as each takes longer.
fn fewer(times: u32) -> ProptestConfig {
    let cases = (ProptestConfig::default().cases / times).max(1);
    ProptestConfig {
        cases,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(fewer(16))]

    #[test]
    fn it_agrees_with_the_rule_read_out(
        ages in prop::collection::vec(-3_i32..460, 0..50),
        from in 0_i32..800,
    ) {
        let today = back(date(2028, 3, 2), from);
        let days: Vec<Date> = ages.iter().map(|&n| back(today, n)).collect();
        let found = staying(&days, today);
        prop_assert_eq!(&found, &model(&days, today));
        let again: Vec<Date> = found.iter().copied().collect();
        prop_assert_eq!(staying(&again, today), found);
    }

    #[test]
    fn thinning_every_day_leaves_what_thinning_once_leaves(
        used in prop::collection::vec(prop::bool::weighted(0.8), 450),
        from in 0_i32..800,
    ) {
        let first = back(date(2026, 1, 1), from);
        let mut all = Vec::new();
        let mut left: Vec<Date> = Vec::new();
        for (n, used) in (0_i64..).zip(used) {
            let today = first + n.days();
            if used {
                all.push(today);
                left.push(today);
                left = staying(&left, today).into_iter().collect();
                prop_assert!(left.len() <= 30, "{}", left.len());
            }
        }
        if let Some(&today) = all.last() {
            prop_assert_eq!(left, staying(&all, today).into_iter().collect::<Vec<_>>());
        }
    }
}
