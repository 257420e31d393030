use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::Duration;
use std::{fs, io};

use jiff::ToSpan;
use jiff::civil::{Date, Weekday, date};
use proptest::prelude::*;

use super::{
    Life, bytes_of, contents, folder_with, line_ends, new_folder, record_in, write_end_marker,
};
use crate::journal::backup::*;
use crate::journal::check::check;
use crate::journal::folder::MARKER;
use crate::journal::restore::{self, Copy, RestoreStep, *};
use crate::journal::store::Store;
use crate::journal::{AcceptError, Damage, Log, Notice, ReadOnly, RecordError, read_copy};
use crate::stash::command::hold;
use crate::stash::event::Event;
use crate::stash::merge::{Answers, Line, Side, merge};
use crate::stash::testing::at;
use crate::testing::one_case_in;

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
    // Events added while the backup is being made aren't in it.
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
fn without_a_marker_the_newest_backup_proves_what_was_recorded() {
    let bytes = Life::sixty().bytes();
    let ends = line_ends(&bytes);
    let dir = folder_with(&bytes);
    write_end_marker(dir.path());
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    fs::remove_file(dir.path().join(MARKER)).unwrap();
    // The whole record and a longer one agree with the backup.
    assert!(open(dir.path()).unsound().is_none());
    assert!(check::<Event>(dir.path()).unwrap().is_sound());
    // A shorter one lost events, which opening and checking say alike.
    fs::write(record_in(dir.path()), &bytes[..ends[29]]).unwrap();
    assert!(matches!(
        open(dir.path()).unsound(),
        Some(ReadOnly::Damaged(Damage::Shortened {
            recorded: 60,
            found: 29
        }))
    ));
    let report = check::<Event>(dir.path()).unwrap();
    assert!(
        matches!(report.loss, Some(Damage::Shortened { recorded: 60, .. })),
        "{report:?}"
    );
    // Accepting the loss leads out.
    Store::accept_loss(dir.path(), None, at(9)).unwrap();
    assert!(open(dir.path()).unsound().is_none());
}

/// A stash with a backup of sixty events, whose record and marker a sync replaced by those of a copy that went its own
/// way after thirty.
fn forked() -> tempfile::TempDir {
    let bytes = Life::sixty().bytes();
    let dir = folder_with(&bytes);
    write_end_marker(dir.path());
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    let other = folder_with(&bytes[..line_ends(&bytes)[30]]);
    let mut store = open(other.path());
    let card = store.state().cards().next().unwrap().card.id;
    let event = hold::hold(store.state(), &[card]).unwrap();
    store.commit(at(9), &event).unwrap();
    for name in ["record.jsonl", MARKER] {
        fs::copy(other.path().join(name), dir.path().join(name)).unwrap();
    }
    dir
}

fn lacks(dir: &Path) -> Option<u64> {
    let (store, notices) = Store::open(dir).unwrap();
    assert!(store.read_only().is_none());
    notices.into_iter().find_map(|notice| match notice {
        Notice::Lacks { changes, day, copy } => {
            assert_eq!((day, copy), (TODAY, path_of(dir, TODAY)));
            Some(changes)
        }
        _ => None,
    })
}

#[test]
fn a_fork_that_replaced_record_and_marker_is_told_from_the_backup_until_merged_or_accepted() {
    let dir = forked();
    // Its own events 31 to 60: merges, undos and all.
    assert_eq!(lacks(dir.path()), Some(30));
    // The next change doesn't hide it, nor does the backup of a later day.
    let mut store = open(dir.path());
    store.undo(at(99)).unwrap();
    store
        .backup_due(TODAY.tomorrow().unwrap())
        .unwrap()
        .make()
        .unwrap();
    assert_eq!(lacks(dir.path()), Some(30));

    let accepted = Store::accept_loss(dir.path(), None, at(100)).unwrap();
    assert_eq!(accepted, (Some(62), 32));
    assert_eq!(lacks(dir.path()), None);
    let again = Store::accept_loss(dir.path(), None, at(101));
    assert!(matches!(again, Err(AcceptError::NothingLost)), "{again:?}");
}

#[test]
fn a_merge_of_the_backup_brings_all_that_a_fork_lacks() {
    let dir = forked();
    let lines = |path: &Path| -> Vec<Line> {
        let entries = read_copy::<Event>(path).unwrap().into_iter();
        entries.map(Line::from).collect()
    };
    let (ours, theirs) = (lines(dir.path()), lines(&path_of(dir.path(), TODAY)));
    let answers = Answers {
        all: Some(Side::Theirs),
        ..Answers::default()
    };
    let merged = merge(&ours, &theirs, &answers, at(1_000_000)).unwrap();
    let mut store = open(dir.path());
    store.commit(at(1_000_000), &merged.event.unwrap()).unwrap();
    assert_eq!(lacks(dir.path()), None);
}

#[test]
fn a_backup_newer_than_a_restored_one_lacks_nothing() {
    let bytes = Life::sixty().bytes();
    let dir = folder_with(&bytes[..line_ends(&bytes)[30]]);
    write_end_marker(dir.path());
    let earlier = TODAY.yesterday().unwrap();
    open(dir.path())
        .backup_due(earlier)
        .unwrap()
        .make()
        .unwrap();
    fs::write(record_in(dir.path()), &bytes).unwrap();
    write_end_marker(dir.path());
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    restore::restore(dir.path(), &Copy::Backup(earlier), false, NOW).unwrap();
    assert_eq!(lacks(dir.path()), None);
    // A damaged copy and one of another stash prove nothing.
    let dir = forked();
    let copy = path_of(dir.path(), TODAY);
    let mut bad = fs::read(&copy).unwrap();
    bad[900] ^= 4;
    fs::write(&copy, &bad).unwrap();
    assert_eq!(lacks(dir.path()), None);
    let mut other = Life::sixty();
    for entry in &mut other.entries {
        entry.id.0 += 1;
    }
    fs::write(&copy, other.bytes()).unwrap();
    assert_eq!(lacks(dir.path()), None);
}

#[test]
fn a_record_replaced_under_an_open_store_is_told_once() {
    let bytes = Life::sixty().bytes();
    let dir = folder_with(&bytes);
    write_end_marker(dir.path());
    let mut store = open(dir.path());
    fs::write(record_in(dir.path()), &bytes[..line_ends(&bytes)[40]]).unwrap();
    write_end_marker(dir.path());
    assert!(store.refresh().unwrap());
    assert_eq!(store.take_notices(), [Notice::Replaced]);
    assert_eq!(store.events(), 40);
    fs::write(record_in(dir.path()), &bytes).unwrap();
    write_end_marker(dir.path());
    assert!(store.refresh().unwrap());
    assert_eq!((store.take_notices(), store.events()), (Vec::new(), 60));
}

#[test]
fn a_record_that_does_not_verify_or_was_shortened_is_not_backed_up() {
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
    // A record changed meanwhile differs from the verified one.
    let dir = folder_with(&bytes);
    let due = open(dir.path()).backup_due(TODAY).unwrap();
    fs::write(record_in(dir.path()), &bad).unwrap();
    assert!(due.make().is_err());
    assert_eq!(names(dir.path()), [""; 0]);
}

#[test]
fn a_failed_backup_keeps_the_older_ones_and_leaves_no_partial_one() {
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
    // An existing copy stays.
    due.make().unwrap();
    let there = fs::read(path_of(dir.path(), TODAY)).unwrap();
    assert_eq!((names(dir.path()).len(), &there[..]), (1, &b"mine"[..]));
}

#[test]
fn old_backups_are_removed_and_other_files_stay() {
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
            verify(dir.path(), &Copy::Backup(backup.day)).unwrap(),
            Ok(2)
        );
    }
}

#[test]
fn a_temporary_copy_left_by_a_crash_is_removed_after_a_day() {
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
fn backups_have_the_records_mode_and_do_not_follow_a_link() {
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
fn a_fast_clock_costs_few_of_the_older_backups() {
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
fn two_years_of_days_leave_a_week_eight_sundays_and_month_ends() {
    let today = date(2026, 11, 25);
    let days: Vec<Date> = (0..730).map(|n| back(today, n)).collect();
    let expected = [
        // The last Sunday of each month over eight weeks ago.
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
        // Sundays, and the last day of its week that is a week old.
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

/// The rule applied day by day: a day is dropped if a better one represents it.
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

proptest! {
    #![proptest_config(one_case_in(16))]

    #[test]
    fn thinning_agrees_with_the_rule_applied_day_by_day(
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
    fn daily_thinning_leaves_the_same_as_thinning_once(
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

const NOW: Duration = Duration::ZERO;

/// A stash with sixty events, its `record.end`, and a copy from when it had forty.
fn stash() -> (tempfile::TempDir, Life, PathBuf) {
    let life = Life::sixty();
    let dir = folder_with(&life.bytes());
    let copy = dir.path().join("copy.jsonl");
    fs::write(&copy, bytes_of(&life.entries[..40])).unwrap();
    write_end_marker(dir.path());
    (dir, life, copy)
}

fn restore_file(dir: &Path, file: &Path) -> Result<Restored, RestoreError> {
    restore(dir, &Copy::File(file.to_owned()), false, NOW)
}

#[test]
fn a_copy_replaces_the_record_which_is_kept() {
    let (dir, life, copy) = stash();
    let aside = dir.path().join("record.before-restore-1.jsonl");
    let restored = restore_file(dir.path(), &copy).unwrap();
    assert_eq!(
        (restored.events, restored.lacking),
        (40, Lacking::Exactly(20))
    );
    assert_eq!(restored.aside.as_ref(), Some(&aside));
    assert_eq!(fs::read(&aside).unwrap(), life.bytes());
    let (log, loaded) = Log::<Event>::open(dir.path()).unwrap();
    assert_eq!(
        (loaded.entries, loaded.notices, log.damage()),
        (life.entries[..40].to_vec(), Vec::new(), None)
    );
    // And back again; the first set-aside record isn't overwritten.
    let restored = restore_file(dir.path(), &aside).unwrap();
    assert_eq!(
        (restored.events, restored.lacking),
        (60, Lacking::Exactly(0))
    );
    assert_eq!(
        restored.aside,
        Some(dir.path().join("record.before-restore-2.jsonl"))
    );
    assert_eq!(fs::read(&aside).unwrap(), life.bytes());
    let (store, notices) = Store::open(dir.path()).unwrap();
    assert_eq!((store.events(), notices), (60, Vec::new()));
    assert_eq!(store.state(), &life.state);
}

#[test]
fn a_damaged_or_missing_record_is_restored() {
    let (dir, life, copy) = stash();
    let mut bad = life.bytes();
    let at = line_ends(&bad)[50];
    bad[at + 20] ^= 1;
    fs::write(record_in(dir.path()), &bad).unwrap();
    let restored = restore_file(dir.path(), &copy).unwrap();
    assert_eq!(restored.lacking, Lacking::Exactly(20));
    assert_eq!(fs::read(restored.aside.unwrap()).unwrap(), bad);
    fs::remove_file(record_in(dir.path())).unwrap();
    let restored = restore_file(dir.path(), &copy).unwrap();
    assert_eq!(
        (restored.events, restored.lacking, restored.aside),
        (40, Lacking::Exactly(0), None)
    );
    assert_eq!(Log::<Event>::open(dir.path()).unwrap().0.damage(), None);
}

#[test]
fn an_unsound_copy_or_a_busy_lock_changes_nothing() {
    let (dir, life, copy) = stash();
    let untouched = || {
        assert_eq!(fs::read(record_in(dir.path())).unwrap(), life.bytes());
        let files = fs::read_dir(dir.path()).unwrap();
        files
            .map(|file| file.unwrap().file_name())
            .filter(|name| name != "lock")
            .count()
    };
    let there = untouched();
    let good = fs::read(&copy).unwrap();
    let mut bad = good.clone();
    bad[good.len() / 2] ^= 1;
    let mut misfit = life.entries[..40].to_vec();
    misfit.remove(1);
    (1..)
        .zip(&mut misfit)
        .for_each(|(seq, entry)| entry.seq = seq);
    for bytes in [
        &bad[..],
        &good[..good.len() - 9],
        b"",
        b"{\"homehook\":9}\n",
        &bytes_of(&misfit),
    ] {
        fs::write(&copy, bytes).unwrap();
        let refused = restore_file(dir.path(), &copy).unwrap_err();
        assert!(
            matches!(refused, RestoreError::Unsound { .. }),
            "{refused:?}"
        );
        assert_eq!(untouched(), there);
    }
    let missing = dir.path().join("no such file");
    let refused = restore_file(dir.path(), &missing).unwrap_err();
    assert!(
        matches!(refused, RestoreError::Unreadable { .. }),
        "{refused:?}"
    );
    fs::write(&copy, good).unwrap();
    let (mut writer, _) = Log::<Event>::open(dir.path()).unwrap();
    writer.hold(NOW).unwrap();
    let refused = restore_file(dir.path(), &copy).unwrap_err();
    assert!(
        matches!(refused, RestoreError::Record(RecordError::Busy)),
        "{refused:?}"
    );
    assert_eq!(untouched(), there);
}

#[test]
fn the_best_backup_is_one_that_a_restore_takes() {
    let life = Life::sixty();
    let bytes = life.bytes();
    let ends = line_ends(&bytes);
    let dir = folder_with(&bytes[..ends[20]]);
    write_end_marker(dir.path());
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    assert_eq!(best(dir.path()), Some((TODAY, 20)));
    // A longer one of another stash would be refused.
    fs::write(
        path_of(dir.path(), TODAY.tomorrow().unwrap()),
        another().bytes(),
    )
    .unwrap();
    assert_eq!(best(dir.path()), Some((TODAY, 20)));
    fs::write(record_in(dir.path()), &bytes[..ends[3]]).unwrap();
    let (day, events) = best(dir.path()).unwrap();
    let restored = restore(
        dir.path(),
        &Copy::Backup(day),
        false,
        Duration::from_secs(5),
    )
    .unwrap();
    assert_eq!(restored.events, events);
}

#[test]
fn a_copy_lacks_only_the_changes_it_has_nowhere_however_the_record_is_damaged() {
    let bytes = Life::sixty().bytes();
    let ends = line_ends(&bytes);
    let dir = folder_with(&bytes[..ends[50]]);
    write_end_marker(dir.path());
    open(dir.path()).backup_due(TODAY).unwrap().make().unwrap();
    // The rest was recorded after the backup, and a line near the beginning is lost.
    let holed = [&bytes[..ends[3]], &bytes[ends[4]..]].concat();
    fs::write(record_in(dir.path()), holed).unwrap();
    let restored = restore(
        dir.path(),
        &Copy::Backup(TODAY),
        false,
        Duration::from_secs(5),
    )
    .unwrap();
    assert_eq!(
        (restored.events, restored.lacking),
        (50, Lacking::Exactly(10))
    );
}

#[test]
fn lost_acknowledged_events_count_as_lacking_in_a_copy_too() {
    let (dir, life, _) = stash();
    let copy = dir.path().join("twenty.jsonl");
    fs::write(&copy, bytes_of(&life.entries[..20])).unwrap();
    for cut in [
        bytes_of(&life.entries[..20]),
        bytes_of(&life.entries[..15]),
        Vec::new(),
    ] {
        fs::write(record_in(dir.path()), cut).unwrap();
        // Its marker says sixty.
        let lost = dir.path().join("record.end");
        let marker = fs::read(&lost).unwrap();
        let restored = restore_file(dir.path(), &copy).unwrap();
        assert_eq!(
            (restored.events, restored.lacking),
            (20, Lacking::Exactly(40))
        );
        fs::write(&lost, marker).unwrap();
    }
}

#[test]
fn a_diverged_copy_lacks_at_least_the_last_acknowledged_event() {
    let (dir, life, _) = stash();
    // The same stash with a different last event.
    let mut other = life.entries[..59].to_vec();
    let mut last = life.entries[59].clone();
    last.time += jiff::SignedDuration::from_secs(7);
    other.push(last);
    let copy = dir.path().join("other.jsonl");
    fs::write(&copy, bytes_of(&other)).unwrap();
    let marker = fs::read(dir.path().join("record.end")).unwrap();
    for there in [Some(life.bytes()), Some(bytes_of(&other)), None] {
        match there {
            Some(bytes) => fs::write(record_in(dir.path()), bytes).unwrap(),
            None => fs::remove_file(record_in(dir.path())).unwrap(),
        }
        fs::write(dir.path().join("record.end"), &marker).unwrap();
        let restored = restore_file(dir.path(), &copy).unwrap();
        assert_eq!(restored.lacking, Lacking::AtLeast(1));
    }
    fs::remove_file(record_in(dir.path())).unwrap();
    fs::remove_file(dir.path().join("record.end")).unwrap();
    let restored = restore_file(dir.path(), &copy).unwrap();
    assert_eq!(restored.lacking, Lacking::Unknown);
}

/// The record of a stash with the same life, created at another time.
fn another() -> Life {
    let mut other = Life::default();
    for entry in &mut Life::sixty().entries {
        entry.time += jiff::SignedDuration::from_secs(7);
        other.entries.push(entry.clone());
    }
    other
}

#[test]
fn a_copy_of_another_stash_needs_explicit_consent() {
    let (dir, _, _) = stash();
    let other = another();
    let file = dir.path().join("theirs.jsonl");
    fs::write(&file, other.bytes()).unwrap();
    let before = contents(dir.path());
    for with in ["a marker", "no marker", "an emptied record"] {
        if with == "no marker" {
            fs::remove_file(dir.path().join(MARKER)).unwrap();
        } else if with == "an emptied record" {
            write_end_marker(dir.path());
            fs::write(record_in(dir.path()), "").unwrap();
        }
        let refused = restore_file(dir.path(), &file).unwrap_err();
        assert!(
            matches!(refused, RestoreError::AnotherStash { .. }),
            "{with}: {refused:?}"
        );
    }
    assert_eq!(contents(dir.path()).len(), before.len());
    restore(dir.path(), &Copy::File(file), true, NOW).unwrap();
    let (_, loaded) = Log::<Event>::open(dir.path()).unwrap();
    assert_eq!(loaded.entries, other.entries);
}

#[cfg(unix)]
#[test]
fn an_endless_file_or_one_behind_a_link_in_the_folder_is_no_copy() {
    use std::os::unix::fs::symlink;
    let (dir, life, copy) = stash();
    symlink(&copy, dir.path().join("link")).unwrap();
    fs::create_dir(dir.path().join("backups")).unwrap();
    let day: Date = "2026-03-01".parse().unwrap();
    symlink(&copy, path_of(dir.path(), day)).unwrap();
    let before = contents(dir.path());
    for copy in [
        Copy::File("/dev/zero".into()),
        Copy::File(dir.path().to_owned()),
        Copy::Inside("link".to_owned()),
        Copy::Backup(day),
    ] {
        let refused = restore(dir.path(), &copy, true, NOW).unwrap_err();
        assert!(
            matches!(refused, RestoreError::Unreadable { .. }),
            "{copy:?}: {refused:?}"
        );
    }
    assert_eq!(contents(dir.path()), before);
    assert_eq!(fs::read(record_in(dir.path())).unwrap(), life.bytes());
}

/// The folder as a crash leaves it, without the cleanup after a failed step.
fn as_after_a_crash(dir: &Path) -> tempfile::TempDir {
    let crashed = new_folder();
    for (path, bytes) in contents(dir) {
        fs::write(crashed.path().join(path.file_name().unwrap()), bytes).unwrap();
    }
    crashed
}

/// Stops before each step, as a crash would. The folder then has all events of either the old or
/// the new record, the old record still exists, and a damaged record still counts as damaged until
/// the last step.
#[test]
fn stopping_a_restore_anywhere_leaves_one_of_the_two_records_whole() {
    let steps = [
        RestoreStep::Import,
        RestoreStep::SetAside,
        RestoreStep::Exchange,
        RestoreStep::Note,
    ];
    for damaged in [false, true] {
        for (number, stop) in steps.into_iter().enumerate() {
            let (dir, life, copy) = stash();
            let was = match damaged {
                // Lacks five acknowledged events.
                true => bytes_of(&life.entries[..55]),
                false => life.bytes(),
            };
            fs::write(record_in(dir.path()), &was).unwrap();
            let copy = Copy::File(copy);
            let mut passed = Vec::new();
            let mut seen = None;
            let stopped = carry_out(dir.path(), &copy, false, NOW, |step| {
                passed.push(step);
                if step != stop {
                    return Ok(());
                }
                seen = Some(as_after_a_crash(dir.path()));
                Err(io::ErrorKind::StorageFull.into())
            });
            assert!(matches!(stopped, Err(RestoreError::Failed { .. })));
            assert_eq!(passed, steps[..=number]);
            for place in [seen.unwrap().path(), dir.path()] {
                let (log, loaded) = Log::<Event>::open(place).unwrap();
                let events = match (stop, damaged) {
                    (RestoreStep::Note, _) => 40,
                    (_, true) => 55,
                    (_, false) => 60,
                };
                assert_eq!(loaded.entries, life.entries[..events], "{stop:?}");
                let loss = Damage::Shortened {
                    recorded: 60,
                    found: events as u64,
                };
                let loss = (events < 60).then_some(loss);
                assert_eq!(log.damage(), loss.as_ref(), "{stop:?}");
                let aside = place.join("record.before-restore-1.jsonl");
                if number >= 2 {
                    assert_eq!(fs::read(aside).unwrap(), was, "{stop:?}");
                }
            }
            // The imported copy is gone again, and the next try succeeds.
            let left = contents(dir.path()).into_keys();
            let left = left.filter(|path| path.to_str().unwrap().contains("restored-"));
            assert_eq!(left.count(), 0);
            restore(dir.path(), &copy, false, NOW).unwrap();
            let (log, loaded) = Log::<Event>::open(dir.path()).unwrap();
            assert_eq!((log.damage(), loaded.entries.len()), (None, 40));
        }
    }
}
