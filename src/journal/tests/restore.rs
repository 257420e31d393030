use crate::journal::RecordError;
use crate::journal::backup;
use crate::journal::folder::MARKER;
use crate::journal::restore::Step;
use crate::journal::restore::*;
use crate::stash::event::Event;
use jiff::civil::Date;
use std::fs;
use std::io;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use super::{Life, bytes_of};
use super::{contents, folder_with, line_ends, new_folder, record_in, write_end_marker};
use crate::journal::store::Store;
use crate::journal::{Damage, Log};

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
fn a_copy_takes_the_records_place_and_the_record_is_kept() {
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
    // And back again; what was set aside before is not replaced.
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
fn nothing_changes_where_the_copy_is_not_sound_or_another_writes() {
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
fn what_was_acknowledged_and_is_gone_is_lacking_in_a_copy_too() {
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
fn a_copy_that_went_another_way_lacks_at_least_what_was_acknowledged_last() {
    let (dir, life, _) = stash();
    // The same stash, in which something else was done last.
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

#[test]
fn a_copy_of_another_stash_is_taken_only_where_that_was_said() {
    let (dir, _, _) = stash();
    let mut other = Life::default();
    // Begun at another time.
    for entry in &mut Life::sixty().entries {
        entry.time += jiff::SignedDuration::from_secs(7);
        other.entries.push(entry.clone());
    }
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
fn what_has_no_end_or_lies_behind_a_link_in_the_folder_is_no_copy() {
    use std::os::unix::fs::symlink;
    let (dir, life, copy) = stash();
    symlink(&copy, dir.path().join("link")).unwrap();
    fs::create_dir(dir.path().join("backups")).unwrap();
    let day: Date = "2026-03-01".parse().unwrap();
    symlink(&copy, backup::path_of(dir.path(), day)).unwrap();
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

/// Stopped before each step, as by a crash: the folder as it stands then has all events of the one record
/// or all of the other, the record before is there, and a record that was damaged still counts as damaged
/// until the last step.
#[test]
fn wherever_it_is_stopped_one_of_the_two_records_is_there_whole() {
    let steps = [Step::Import, Step::SetAside, Step::Exchange, Step::Note];
    for damaged in [false, true] {
        for (number, stop) in steps.into_iter().enumerate() {
            let (dir, life, copy) = stash();
            let was = match damaged {
                // Cut short by five acknowledged events.
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
                // As a crash leaves it, without what is put right when a step only fails.
                let crashed = new_folder();
                for (path, bytes) in contents(dir.path()) {
                    fs::write(crashed.path().join(path.file_name().unwrap()), bytes).unwrap();
                }
                seen = Some(crashed);
                Err(io::ErrorKind::StorageFull.into())
            });
            assert!(matches!(stopped, Err(RestoreError::Failed { .. })));
            assert_eq!(passed, steps[..=number]);
            for place in [seen.unwrap().path(), dir.path()] {
                let (log, loaded) = Log::<Event>::open(place).unwrap();
                let events = match (stop, damaged) {
                    (Step::Note, _) => 40,
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
            // What had been brought is gone again, and the next try goes through.
            let left = contents(dir.path()).into_keys();
            let left = left.filter(|path| path.to_str().unwrap().contains("restored-"));
            assert_eq!(left.count(), 0);
            restore(dir.path(), &copy, false, NOW).unwrap();
            let (log, loaded) = Log::<Event>::open(dir.path()).unwrap();
            assert_eq!((log.damage(), loaded.entries.len()), (None, 40));
        }
    }
}
